/* Text files of what only people know: begun and added to by the program, edited by hand. Their
 * first line names what they are and in which version:
 *
 *   # stokehold sign-off 1
 *
 * One without such a line is from before there was one and is read as version 1; a later version
 * than the program knows is refused, since half of it would be misread. Blank lines and those that
 * begin with # are passed over. No clock. */
#ifndef STOKEHOLD_REPORT_PAPERS_LINES_H
#define STOKEHOLD_REPORT_PAPERS_LINES_H

#include "base/err.h"

#include <stdio.h>

struct lines_kind {
    const char *name;  /* "sign-off" */
    int version;       /* the one that is written */
    const char *about; /* remarks that a new file begins with; NULL: none */
    bool may_lack;     /* an absent file is an empty one */
    /* One line, without blanks at its ends, to be changed at will: NULL, or what is wrong. */
    const char *(*take)(void *ctx, char *line);
};

/* The first line, with its '\n'; and that with what stands below it in a new file. */
void lines_first(char *dst, size_t cap, const struct lines_kind *kind);
void lines_begin(FILE *out, const struct lines_kind *kind);
/* False with e (`path:line: ...`) when it cannot be read or understood. */
bool lines_read(const char *path, const struct lines_kind *kind, void *ctx, struct err *e);
/* Adds what `write` writes at the end of the file, after a first line where there is none yet, and
 * has it on the disk; nothing of it stays where that failed. A last line that was torn off is ended
 * first. */
bool lines_append(const char *path, const struct lines_kind *kind,
                  void (*write)(FILE *out, const void *ctx), const void *ctx, struct err *e);
/* s without blanks at its ends; cut in place. */
char *lines_trim(char *s);

#endif
