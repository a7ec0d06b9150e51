/* One thing a line, its fields apart by tabs: the form of the state file and of the local socket
 * between `tend` and those who attach to it. Numbers are written with a point whatever the
 * locale; "-" stands for a number that is not there. Text never holds a tab or a control
 * character. */
#ifndef STOKEHOLD_HOOKS_LINES_H
#define STOKEHOLD_HOOKS_LINES_H

#include "alerts/alert.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define LINE_SIZE 1536
/* Times are believed no further than this (the year 2116), so that any two can be subtracted; what
 * is beyond is a wrong field. */
#define LINE_TIME_MOST (INT64_MAX / 2)

struct line {
    char text[LINE_SIZE];
    size_t len;
    bool overflow; /* did not fit: the line must not be used */
};

void line_begin(struct line *l, const char *word);
void line_text(struct line *l, const char *value);
void line_integer(struct line *l, int64_t value);
void line_number(struct line *l, double value); /* 9 significant digits; "-" unless finite */
void line_end(struct line *l);                  /* '\n' and NUL */

/* Reads a line (without its '\n') field by field, changing it. */
struct fields {
    char *at; /* NULL after the last one */
    bool bad; /* some field was missing or wrong */
};
void fields_begin(struct fields *f, char *line);
const char *fields_text(struct fields *f);                           /* "" when bad */
int64_t fields_integer(struct fields *f, int64_t low, int64_t high); /* low when bad */
double fields_number(struct fields *f);                              /* NaN for "-" */

/* The word, then all of an alert. */
void line_alert(struct line *l, const char *word, const struct alert *a);
/* The reverse, after the word; false where a field is wrong. An older line without the story of the
 * alert (stage, worst, limit passed) is taken: what is not in it is not known. */
bool fields_alert(struct fields *f, struct alert *a);

#endif
