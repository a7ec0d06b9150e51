/* Words that somebody kept while watching: "smell of rubber", "helm hard over". A text file beside
 * the log, one mark a line, only added to, to be edited by hand:
 *
 *   # stokehold marks 1
 *   2026-05-04T14:12:07.250Z smell of rubber
 *
 * The marks of trip.log are in trip.log.marks; those of a record in the file `marks` of its
 * directory, and of the incident that was under way. A mark without words is a time alone. */
#ifndef STOKEHOLD_REPORT_PAPERS_MARKS_H
#define STOKEHOLD_REPORT_PAPERS_MARKS_H

#include "base/err.h"
#include "base/when.h"

#include <stddef.h>

#define MARKS_MAX  256
#define MARK_WORDS 100

struct mark {
    int64_t wall_ns;
    char words[MARK_WORDS]; /* "" where none were given */
};
struct marks {
    struct mark mark[MARKS_MAX]; /* in order of time */
    int count;
    int lost; /* that found no room */
};

/* Where the marks of a log, or of a record's directory, are kept. False where the name is too
 * long. */
bool marks_of_log(char *dst, size_t cap, const char *log);
bool marks_of_record(char *dst, size_t cap, const char *dir);

/* In its place; false where there is no room. words are made printable. */
bool marks_add(struct marks *m, int64_t wall_ns, const char *words);
/* Adds those in a file to m, none where it is absent. False with e (`path:line: ...`). */
bool marks_read(const char *path, struct marks *m, struct err *e);
/* All that belong to a log, a directory of logs, an hour of a record or an incident. */
bool marks_read_all(const char *log, struct marks *m, struct err *e);
/* Adds one at the end of a file, and has it on the disk. */
bool marks_append(const char *path, const struct mark *mark, struct err *e);
/* The line of one, and the one before all, each with its '\n': for those who write the file by
 * other ways. */
void marks_format(char *dst, size_t cap, const struct mark *mark);
void marks_head(char *dst, size_t cap);

#endif
