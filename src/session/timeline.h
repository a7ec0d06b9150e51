/* What happened in a log and when: the whole of `sift`, and what `watch` prints where there is no
 * terminal. The rules run from the log's first frame, so that they know what came before; --from
 * and --to choose which events are printed and which frames are counted. */
#ifndef STOKEHOLD_SESSION_TIMELINE_H
#define STOKEHOLD_SESSION_TIMELINE_H

#include "session/options.h"

struct season_keep; /* session/season_keep.h */

struct timeline_options {
    const char *verb; /* for messages */
    const char *zone; /* of a log with local dates; NULL: TZ */
    struct log_range range;
    const char *html;   /* writes what happened on the last trip as one page there, or NULL */
    const char *config; /* path of the configuration in force, for that page; NULL: none */
    struct season_keep *season; /* each trip goes to it; NULL: none is kept */
    bool json, utc, escalate, explain;
    bool fail; /* status EXIT_FINDINGS when an alert of fail_on or above was raised */
    enum priority fail_on;
};

/* Reads the logs ("-" for standard input) and writes to stdout. Returns an exit status. */
int timeline_run(const char *const *paths, int count, const struct settings *settings,
                 const struct timeline_options *options);

/* "emergency alarm" or "emergency", "alarm", "warning", "caution". */
bool priority_parse(const char *s, enum priority *out);

#endif
