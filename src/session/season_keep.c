#include "session/season_keep.h"

#include "base/text.h"
#include "base/when.h"
#include "plant/plant.h"
#include "season/watch.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define RETRY_NS (60 * NS_PER_S)
#define WAIT_MS  5000 /* at the end a disk gets so long; what it holds up longer is left to it */
#define NO_CLOCK (INT64_C(946684800) * NS_PER_S) /* before 2000 no clock was set */

/* One trip on its way to the file. */
struct season_job {
    struct season_job *next;
    const char *path;
    struct season_trip trip;
    struct season_step *steps;
    int count;
    int64_t before_ns;   /* where its earlier part ended; 0: there is none */
    struct season after; /* what the file holds once it is written */
    bool failed;
    struct err error;
};

static void job_free(struct season_job *j)
{
    season_free(&j->after);
    free(j->steps);
    free(j);
}

bool season_keep_open(struct season_keep *k, const struct season_names *n, struct err *e)
{
    *k = (struct season_keep){0};
    if (n->season && (n->baseline || n->learn))
        return err_set(e, "--season reads and writes: it goes with neither --baseline nor --learn");
    k->path = n->season ? n->season : n->learn;
    k->read = n->season ? n->season : n->baseline;
    k->must_be = n->baseline != NULL;
    k->compares = n->season != NULL;
    return !k->read || season_read(k->read, !k->must_be, &k->season, e);
}

void season_keep_close(struct season_keep *k)
{
    for (struct season_job *j = k->first, *next; j && !k->busy; j = next) {
        next = j->next;
        job_free(j);
    }
    season_free(&k->season);
    *k = (struct season_keep){0};
}

bool season_keep_watches(const struct season_keep *k)
{
    return k->path || k->read;
}

void season_keep_settings(struct season_keep *k, struct settings *s)
{
    s->season = season_keep_watches(k) ? &k->season : NULL;
}

static bool put(struct season *s, void *ctx)
{
    const struct season_job *j = ctx;

    return season_put(s, &j->trip, j->steps, j->count, j->before_ns);
}

void season_keep_replace(struct season_keep *k, struct season *s)
{
    season_free(&k->season);
    k->season = *s;
    *s = (struct season){0};
    for (struct season_job *j = k->first; j && k->compares; j = j->next)
        put(&k->season, j);
}

/* ---- a trip ---- */

static struct season_job *job_of(struct season_keep *k, const struct season_trip *trip,
                                 const struct season_step *steps, int count)
{
    struct season_job *j = calloc(1, sizeof *j);

    if (j)
        j->steps = malloc((size_t)count * sizeof *steps);
    if (!j || !j->steps) {
        free(j);
        return NULL;
    }
    memcpy(j->steps, steps, (size_t)count * sizeof *steps);
    j->count = count;
    j->trip = *trip;
    text_copy(j->trip.log, sizeof j->trip.log, k->log);
    j->path = k->path;
    j->before_ns = k->wrote_from_ns == trip->from_ns ? k->wrote_to_ns : 0;
    k->wrote_from_ns = trip->from_ns;
    k->wrote_to_ns = trip->to_ns;
    k->kept++;
    return j;
}

/* A trip, whole or so far, goes to what waits to be written. */
static void take(void *ctx, const struct season_trip *trip, const struct season_step *steps,
                 int count)
{
    struct season_keep *k = ctx;
    struct season_job *j, **end = &k->first;

    if (trip->from_ns == k->wrote_from_ns && trip->to_ns == k->wrote_to_ns)
        return;
    if (trip->from_ns < NO_CLOCK) {
        k->undated = true;
        return;
    }
    int64_t from_ns = k->wrote_from_ns, to_ns = k->wrote_to_ns;
    j = job_of(k, trip, steps, count);
    k->season.starved = false;
    bool added = j && (!k->compares || put(&k->season, j));
    k->starved = !j || k->season.starved;
    if (k->season.starved) { /* it is tried again */
        k->wrote_from_ns = from_ns;
        k->wrote_to_ns = to_ns;
    }
    if (!added) { /* it is there already, or memory is out */
        if (j)
            job_free(j);
        return;
    }
    while (*end && ((k->busy && *end == k->first) || (*end)->trip.from_ns != j->trip.from_ns))
        end = &(*end)->next;
    if (*end) { /* its earlier part still waits: the whole goes in its place */
        j->before_ns = (*end)->before_ns;
        j->next = (*end)->next;
        job_free(*end);
    }
    *end = j;
}

/* A trip that another followed. What was read before the clock was set belongs to the one that goes
 * on, and is left out. */
static void take_over(void *ctx, const struct season_trip *trip, const struct season_step *steps,
                      int count)
{
    if (trip->from_ns >= NO_CLOCK)
        take(ctx, trip, steps, count);
}

static void take_so_far(struct season_keep *k, const struct keeper *keeper)
{
    struct season_watch *w = keeper_season(keeper);
    const struct season_step *steps;
    struct season_trip trip;
    int count;

    if (w && season_watch_trip(w, k->log, &trip, &steps, &count))
        take(k, &trip, steps, count);
}

/* What a trip is called that is taken from now on; and those that a batch of frames ends and
 * another begins are not lost. */
static void attend(struct season_keep *k, const struct keeper *keeper, const char *log)
{
    const char *slash = strrchr(log, '/');

    text_clean(k->log, sizeof k->log, slash ? slash + 1 : log, strlen(slash ? slash + 1 : log));
    if (keeper_season(keeper))
        season_watch_tell(keeper_season(keeper), take_over, k);
}

static void write_job(void *ctx)
{
    struct season_job *j = ctx;

    j->failed = !season_update(j->path, put, j, &j->after, &j->error);
}

/* Why the trip last taken could not be. */
static bool untaken(struct season_keep *k, struct err *e)
{
    bool new = k->undated && !k->said_undated;

    if (k->starved)
        return !err_set(e, "out of memory: the trip is not kept");
    k->said_undated |= k->undated;
    return new && !err_set(e, "the trip has no date, for no clock was set: it is not kept");
}

/* The first job was tried. False and e where it failed and none before it did. */
static bool tried(struct season_keep *k, int64_t now_ns, struct err *e)
{
    struct season_job *j = k->first;
    bool new = j->failed && !k->failing;

    k->failing = j->failed;
    if (j->failed) {
        k->retry_ns = now_ns + RETRY_NS;
        *e = j->error;
        return !new;
    }
    k->first = j->next;
    if (k->compares)
        season_keep_replace(k, &j->after);
    job_free(j);
    return true;
}

bool season_keep_turn(struct season_keep *k, const struct keeper *keeper, struct duties *d,
                      const char *log, int64_t now_ns, struct err *e)
{
    if (!k->path)
        return true;
    attend(k, keeper, log);
    if (k->busy) {
        if (!duties_done(d))
            return true;
        k->busy = false;
        return tried(k, now_ns, e);
    }
    if (plant_any_running(keeper_plant(keeper))) {
        k->due = true;
    } else if (k->due) {
        k->due = false;
        take_so_far(k, keeper);
        if (untaken(k, e))
            return false;
    }
    if (!k->first || (k->failing && now_ns < k->retry_ns))
        return true;
    if (d) {
        k->busy = duties_ask(d, write_job, k->first);
        return true;
    }
    write_job(k->first);
    return tried(k, now_ns, e);
}

void season_keep_watch(struct season_keep *k, struct live *live, struct duties *d, const char *log)
{
    char text[200];
    struct err e;

    if (!season_keep_turn(k, live->keeper, d, log, live->now.mono_ns, &e)) {
        text_format(text, sizeof text, "season not kept: %.150s", e.text);
        duties_say(d, CONDITION_CODE(CONDITION_SEASON, 0), true, text);
        k->trouble = true;
    } else if (k->trouble && !k->failing && !k->first && !k->starved) {
        duties_say(d, CONDITION_CODE(CONDITION_SEASON, 0), false, "the season is kept again");
        k->trouble = false;
    }
}

bool season_keep_end(struct season_keep *k, const struct keeper *keeper, struct duties *d,
                     const char *log, struct err *e)
{
    bool good = true;

    if (!k->path)
        return true;
    if (k->busy && !duties_await(d, WAIT_MS))
        return err_set(e, "cannot write '%s': the disk does not answer", k->path);
    if (k->busy)
        good = tried(k, 0, e);
    k->busy = false;
    if (keeper) {
        attend(k, keeper, log);
        take_so_far(k, keeper);
    }
    k->due = false;
    good = !untaken(k, e) && good;
    while (k->first) {
        write_job(k->first);
        if (!tried(k, 0, e))
            return false;
        if (k->failing) /* said already */
            break;
    }
    return good;
}
