/* What only people know of a trial: where, when, who, which sea, how she floated, which
 * instruments. One text file of `key = value` lines that is begun by the program and filled in by
 * hand, checked like a configuration: an unknown key, or one given twice that may be given once,
 * names its line.
 *
 *   place = Example Sound
 *   people = helm R. Example
 *   people = engines S. Example
 *   instrument = laser thermometer 12, checked 2026-03-01
 *
 * Lines that begin with # are remarks to the writer. */
#ifndef STOKEHOLD_REPORT_PAPERS_PARTICULARS_H
#define STOKEHOLD_REPORT_PAPERS_PARTICULARS_H

#include "base/err.h"

#include <stdio.h>

#define PARTICULARS_LINES 80

struct particular {
    int kind; /* index for particulars_title */
    char text[200];
};
struct particulars {
    struct particular line[PARTICULARS_LINES]; /* in the order of the table, then of the file */
    int lines;
};

/* "Sea state"; NULL past the end: how many kinds there are. */
const char *particulars_title(int kind);
/* False with e (`path:line: ...`) when it cannot be read or understood. */
bool particulars_read(const char *path, struct particulars *p, struct err *e);
/* The file to fill in: every key with what is wanted there. */
void particulars_begin(FILE *out, const char *vessel);

#endif
