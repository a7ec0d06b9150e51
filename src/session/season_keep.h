/* The season's file in the life of a verb: read at its start, each trip added once at its end. The
 * file is written by whoever calls season_keep_write, which may be another thread. */
#ifndef STOKEHOLD_SESSION_SEASON_KEEP_H
#define STOKEHOLD_SESSION_SEASON_KEEP_H

#include "base/err.h"
#include "keeper/keeper.h"
#include "season/season.h"

struct season_keep {
    const char *path;     /* NULL: no season is kept */
    struct season season; /* as read, and the trips added since */
};

/* A path that is not there begins a season. False and e where it cannot be read. */
bool season_keep_open(struct season_keep *k, const char *path, struct err *e);
void season_keep_close(struct season_keep *k);

/* One trip on its way to the file. */
struct season_job {
    const char *path;
    struct season_trip trip;
    struct season_step *steps;
    int count;
    bool failed;
    struct err error;
};
/* Takes the trip out of the watch and adds it to what is held; NULL where no engine held a speed,
 * or the trip is in the season already. Free with season_job_free. */
struct season_job *season_keep_take(struct season_keep *k, const struct keeper *keeper,
                                    const char *log);
/* Writes it: a desk_work. A trip that began at the same moment is replaced, as it goes on. */
void season_job_write(void *job);
void season_job_free(struct season_job *job); /* NULL is allowed */

#endif
