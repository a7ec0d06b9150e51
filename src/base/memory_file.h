/* A stream into memory that says at its end whether all of it got there. open_memstream does not:
 * where memory is out for a moment in the middle, what was written then is left out, and neither
 * ferror nor fclose tells (glibc 2.36). */
#ifndef STOKEHOLD_BASE_MEMORY_FILE_H
#define STOKEHOLD_BASE_MEMORY_FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#define MEMORY_FILE_MOST ((size_t)256 << 20) /* far above any page or list */

struct memory_file {
    FILE *out; /* to write to */
    char *text;
    size_t len, cap;
    bool failed;
};

/* False when out of memory; there is then nothing to close. */
bool memory_file_open(struct memory_file *m);
/* What was written, with a NUL after its *len bytes, for the caller to free; NULL when any of it
 * was lost. */
char *memory_file_close(struct memory_file *m, size_t *len);

#endif
