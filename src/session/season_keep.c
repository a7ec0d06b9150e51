#include "session/season_keep.h"

#include "season/watch.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

bool season_keep_open(struct season_keep *k, const char *path, struct err *e)
{
    *k = (struct season_keep){.path = path};
    return !path || season_read(path, true, &k->season, e);
}

void season_keep_close(struct season_keep *k)
{
    season_free(&k->season);
    k->path = NULL;
}

/* Adds the trip, in place of its own beginning where that is there. False: another overlaps it. */
static bool put(struct season *s, void *ctx)
{
    const struct season_job *j = ctx;
    int overlaps = season_overlap(s, j->trip.from_ns, j->trip.to_ns);

    if (overlaps >= 0 &&
        s->trips[overlaps].from_ns / INT64_C(1000000000) == j->trip.from_ns / INT64_C(1000000000) &&
        s->trips[overlaps].to_ns < j->trip.to_ns)
        season_take_out(s, overlaps);
    return season_add(s, &j->trip, j->steps, j->count, &overlaps);
}

struct season_job *season_keep_take(struct season_keep *k, const struct keeper *keeper,
                                    const char *log)
{
    struct season_watch *watch = keeper_season(keeper);
    struct season_job *j = calloc(1, sizeof *j);
    const struct season_step *steps;

    if (!j || !watch || !season_watch_trip(watch, log, &j->trip, &steps, &j->count)) {
        free(j);
        return NULL;
    }
    j->path = k->path;
    j->steps = malloc((size_t)j->count * sizeof *j->steps);
    if (!j->steps) {
        free(j);
        return NULL;
    }
    memcpy(j->steps, steps, (size_t)j->count * sizeof *j->steps);
    if (!put(&k->season, j)) {
        season_job_free(j);
        return NULL;
    }
    return j;
}

void season_job_write(void *job)
{
    struct season_job *j = job;

    j->failed = !season_update(j->path, put, j, &j->error);
}

void season_job_free(struct season_job *j)
{
    if (!j)
        return;
    free(j->steps);
    free(j);
}
