/* What a season's file says, for people: each engine's channels trip by trip, what wears, since
 * when, how fast, and what to do. Stands on season/; writes text, JSON lines, CSV or one page. */
#ifndef STOKEHOLD_REPORT_SEASON_REPORT_H
#define STOKEHOLD_REPORT_SEASON_REPORT_H

#include "config/settings.h"
#include "season/model.h"

#include <stdio.h>

#define SEASON_REPORT_CHANNELS 96

struct season_line { /* one channel */
    char name[64];   /* "STARBOARD EXHAUST" */
    char key[CHANNEL_KEY_SIZE];
    char verdict[300]; /* "9.7 K above May, 6 trips in a row, ...", "as in May" */
    char advice[80];   /* "look at strainer, impeller, cooler"; "" none */
    bool told;         /* story says something; otherwise only verdict does */
    struct season_story story;
};

/* How a channel stood before work that was marked: against the reference of then. */
struct season_era {
    int line, mark; /* of lines and of season->marks */
    struct season_story story;
};

struct season_report {
    const struct season *season;
    const struct settings *settings;
    const char *file;
    struct season_line *lines;
    int count;
    struct season_era *eras; /* by line, the oldest first */
    int era_count;
};

/* NULL when out of memory. All three must outlive it. */
struct season_report *season_report_new(const struct season *s, const struct settings *settings,
                                        const char *file);
void season_report_free(struct season_report *r); /* NULL is allowed */

void season_report_text(FILE *out, const struct season_report *r, bool utc);
void season_report_json(FILE *out, const struct season_report *r);
void season_report_csv(FILE *out, const struct season_report *r);
void season_report_html(FILE *out, const struct season_report *r, bool utc);

/* ---- for the files of this folder ---- */

/* "+9.7 K", "+12 %"; "" where not known. */
void season_size(char *dst, size_t cap, const struct season_report *r, int row, double excess,
                 bool sign);
/* A difference in what people read, and its unit. */
double season_user(const struct season_report *r, int row, double excess);
const char *season_user_unit(const struct season_report *r, int row);
/* " over the sea": what the channel is taken over; "" nothing. */
const char *season_over(const struct season_line *l);
/* What one trip of a story means: "first trips", "stands out", "probe exchanged?", "not compared".
 */
const char *season_meaning(const struct season_story *story, int trip);
int64_t season_trip_ns(const struct season_report *r, const struct season_excess *e);
/* What stands where nothing stands out: where every trip is still the reference, that. */
const char *season_quiet(const struct season_report *r);
/* "2026-05-04" */
void season_day(char *dst, size_t cap, int64_t wall_ns, bool utc);

#endif
