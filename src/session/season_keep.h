/* The season's file in the life of a verb: read at its start, and each trip written to it, once, at
 * each stop of the engines and at the end. What could not be written is held and tried again. */
#ifndef STOKEHOLD_SESSION_SEASON_KEEP_H
#define STOKEHOLD_SESSION_SEASON_KEEP_H

#include "base/err.h"
#include "config/settings.h"
#include "keeper/keeper.h"
#include "season/season.h"
#include "session/duties.h"

/* What the options say; NULL: not given. */
struct season_names {
    const char *season;   /* read where it is there, and written */
    const char *baseline; /* read alone, and must be there */
    const char *learn;    /* written alone */
};

struct season_job;
struct season_keep {
    const char *path;         /* that trips are written to; NULL: none */
    const char *read;         /* that the season came from; NULL: it began empty */
    bool must_be, compares;   /* read must be there; trips added are compared with as well */
    struct season season;     /* as read, and the trips added since */
    struct season_job *first; /* trips on their way to the file, oldest first */
    bool due, busy, failing, undated, said_undated, trouble;
    bool starved;                                 /* memory was out when the last trip was taken */
    char log[80];                                 /* that a trip taken now comes from */
    int kept;                                     /* trips that were taken */
    int64_t retry_ns, wrote_from_ns, wrote_to_ns; /* mono; wall, of the trip that was taken last */
};

/* False and e where it cannot be read, or the options contradict each other. */
bool season_keep_open(struct season_keep *k, const struct season_names *names, struct err *e);
void season_keep_close(struct season_keep *k);
/* Whether the settings must name the season, and names it in them. */
bool season_keep_watches(const struct season_keep *k);
void season_keep_settings(struct season_keep *k, struct settings *s);
/* Takes another season in place of the one held, as read from `read` again; what waits to be
 * written stays added to it. */
void season_keep_replace(struct season_keep *k, struct season *s);

/* Once a turn, at now_ns (mono). With duties the file is written on the desk's thread, else here.
 * log is the name a trip gets. False and e where a trip could not be written for the first time. */
bool season_keep_turn(struct season_keep *k, const struct keeper *keeper, struct duties *d,
                      const char *log, int64_t now_ns, struct err *e);
/* The same for a watch that goes on: what cannot be kept is a condition of the watch until it can.
 */
void season_keep_watch(struct season_keep *k, struct live *live, struct duties *d, const char *log);
/* The watch is over: writes the trip and all that waits, here; waits a while for a disk that is
 * busy. False and e where something is not written and that was not said before. keeper may be
 * NULL. */
bool season_keep_end(struct season_keep *k, const struct keeper *keeper, struct duties *d,
                     const char *log, struct err *e);

#endif
