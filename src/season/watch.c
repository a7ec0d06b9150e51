#include "season/watch.h"

#include "base/order.h"
#include "base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define LOOK_S       10   /* how often it is judged */
#define LIVE_SURE    4.0  /* errors: one moment says less than a trip */
#define LIVE_CREDIT  0.85 /* of a size, where the trip before stood out as well */
#define LIVE_ALONE   1.25 /* where it did not */
#define TWIN_RPM     0.04
#define TWIN_NS      (INT64_C(60) * 1000000000) /* twins are compared over the same minutes */
#define LIVE_TWIN    1.6  /* over a twin: two engines that may be loaded apart */
#define SAW_SHARE    0.75 /* of a caution, and */
#define SAW          2.5  /* errors: the last trip stood out */
#define NOTABLE      0.5  /* of a caution, and */
#define NOTABLE_SURE 2.0  /* errors: worth a figure on the board */
#define GO_BACK      0.6  /* of what raised it: lets go below */

struct opinion {      /* of one channel, by its latest minute */
    int64_t piece_ns; /* when that began; 0: there is none */
    enum season_level asked;
};

struct season_watch {
    const struct season *season;
    struct steps *steps;
    season_over *tell; /* of a trip that is over; NULL: nobody asked */
    void *tell_ctx;
    struct season_story story[STEPS_ENGINES][SEASON_KEPT];
    bool told[STEPS_ENGINES][SEASON_KEPT], asked[STEPS_ENGINES][SEASON_KEPT];
    bool told_own[STEPS_ENGINES][SEASON_KEPT]; /* the story has this trip in it */
    struct opinion opinion[STEPS_ENGINES][SEASON_KEPT];
    struct season_verdict verdict[STEPS_ENGINES][SEASON_KEPT];
    int seconds;
    double limit[STEPS_ENGINES][SEASON_KEPT], sea_c;
    uint8_t battery[STEPS_ENGINES]; /* instances of those whose starts are known */
    int battery_count;
    int own; /* the trip of the season that this one is or overlaps; -1: none */
};

struct season_watch *season_watch_new(const struct season *s)
{
    struct season_watch *w = calloc(1, sizeof *w);

    if (!w)
        return NULL;
    w->season = s;
    w->sea_c = NAN;
    for (int i = 0; i < STEPS_ENGINES * SEASON_KEPT; i++)
        w->limit[i / SEASON_KEPT][i % SEASON_KEPT] = NAN;
    w->steps = steps_new();
    if (!w->steps) {
        free(w);
        return NULL;
    }
    season_watch_begin(w);
    return w;
}

void season_watch_free(struct season_watch *w)
{
    if (!w)
        return;
    steps_free(w->steps);
    free(w);
}

void season_watch_begin(struct season_watch *w)
{
    const struct season_step *steps;
    struct season_trip trip;
    int count;

    if (w->tell && season_watch_trip(w, "", &trip, &steps, &count))
        w->tell(w->tell_ctx, &trip, steps, count);
    steps_reset(w->steps);
    w->own = -1;
    for (int e = 0; e < STEPS_ENGINES; e++)
        for (int k = 0; k < SEASON_KEPT; k++) {
            w->asked[e][k] = w->told[e][k] = w->told_own[e][k] = false;
            w->opinion[e][k] = (struct opinion){0};
            w->verdict[e][k] = (struct season_verdict){
                .excess = NAN, .error = NAN, .value = NAN, .expected = NAN, .said = NAN};
        }
}

/* This trip may be in the season: from an earlier reading, or up to its last stop. It is not
 * compared with itself. */
static void find_own(struct season_watch *w)
{
    int64_t from_ns = steps_from_ns(w->steps);
    int own = from_ns ? season_overlap(w->season, from_ns, steps_to_ns(w->steps)) : -1;

    if (own == w->own)
        return;
    w->own = own;
    memset(w->asked, 0, sizeof w->asked);
    memset(w->told_own, 0, sizeof w->told_own);
}

static void add_batteries(struct season_watch *w, const struct season_step *steps, int count)
{
    for (int i = 0; i < count && w->battery_count < STEPS_ENGINES; i++) {
        int k = 0;
        if (steps[i].id.quantity != QTY_BATTERY_VOLTS)
            continue;
        while (k < w->battery_count && w->battery[k] != steps[i].id.place)
            k++;
        if (k == w->battery_count)
            w->battery[w->battery_count++] = steps[i].id.place;
    }
}

/* What an engine's row is about; false where that is nothing. */
static bool place_of(const struct season_watch *w, int engine, int kept, uint8_t instance,
                     uint8_t *place)
{
    if (season_kept[kept].boat) {
        *place = 0;
        return true;
    }
    *place = season_kept[kept].start ? w->battery[engine] : instance;
    return !season_kept[kept].start || engine < w->battery_count;
}

/* What the season knows of a channel is worked out once a trip, when it is first heard. */
static const struct season_story *story_of(struct season_watch *w, int engine, int kept,
                                           uint8_t instance)
{
    struct channel_id id = {.quantity = (uint16_t)season_kept[kept].quantity};

    if (!w->asked[engine][kept]) {
        w->asked[engine][kept] = true;
        add_batteries(w, w->season->steps, season_kept[kept].start ? w->season->step_count : 0);
        w->told[engine][kept] = false;
        if (!place_of(w, engine, kept, instance, &id.place))
            return NULL;
        w->told[engine][kept] = season_tell(w->season, id, w->own, NULL, 0, steps_from_ns(w->steps),
                                            &w->story[engine][kept]);
    }
    return w->told[engine][kept] ? &w->story[engine][kept] : NULL;
}

static double worse(const struct season_kept *k, double excess)
{
    return k->up && k->down ? fabs(excess) : k->up ? excess : -excess;
}

void season_watch_limit(struct season_watch *w, int engine, int kept, double limit)
{
    w->limit[engine][kept] = limit;
}

/* The level that a size asks for, or a warning where it uses the reserve up by itself. */
static enum season_level with_reserve(struct season_watch *w, int engine, int kept, double excess,
                                      enum season_level level)
{
    struct season_verdict *v = &w->verdict[engine][kept];

    v->has_reserve = season_kept[kept].up && season_reserve(v->story, w->sea_c, excess,
                                                            w->limit[engine][kept], &v->reserve);
    return v->has_reserve && v->reserve.used_up && level >= SEASON_CAUTION ? SEASON_WARNING : level;
}

/* Whether the trips before this one stood out already. */
static bool stood_out(const struct season_kept *k, const struct season_story *s)
{
    return worse(k, s->excess) > SAW_SHARE * k->caution && worse(k, s->excess) > SAW * s->error;
}

/* Sizes are those at two thirds of the highest speed, whatever it is now. */
static double live_scale(const struct season_verdict *v)
{
    return fmax(season_at_speed(v->story, v->rpm), 1);
}

static enum season_level live_level(const struct season_kept *k, const struct season_verdict *v)
{
    bool twin = v->story->normal.mode == SEASON_MODE_OVER_TWIN;
    double share = stood_out(k, v->story) ? LIVE_CREDIT : twin ? LIVE_TWIN : LIVE_ALONE;
    double scale = live_scale(v);
    double size = worse(k, v->excess) / scale, error = v->error / scale, back = 1;

    if (size < LIVE_SURE * error)
        return v->level > SEASON_QUESTION && size > GO_BACK * LIVE_SURE * error &&
                       size > GO_BACK * share * k->caution
                   ? SEASON_CAUTION
                   : SEASON_QUIET;
    back = v->level == SEASON_WARNING ? GO_BACK : 1;
    if (size > back * share * k->warning)
        return SEASON_WARNING;
    back = v->level == SEASON_CAUTION ? GO_BACK : 1;
    return size > back * share * k->caution ? SEASON_CAUTION : SEASON_QUIET;
}

/* The twin's reading at the same speed in the same minutes, where it is as warm. */
static double twin_now(const struct season_watch *w, const struct season_story *s, int kept,
                       const struct season_step *own, const struct steps_second *engines, int count)
{
    struct steps_latest twin;

    for (int i = 0; i < count && i < STEPS_ENGINES; i++)
        if (engines[i].instance == s->normal.twin.place && steps_now(w->steps, i, kept, &twin) &&
            twin.at_rest && fabs(twin.step.rpm - own->rpm) < TWIN_RPM * own->rpm &&
            season_twins_alike(&twin.step, own) &&
            llabs(twin.step.wall_ns - own->wall_ns) < TWIN_NS)
            return twin.step.mean;
    return NAN;
}

/* What this trip's idle stands over normal so far; NaN where not known. */
static double idle_now(const struct season_watch *w, const struct season_story *s, int kept)
{
    double weight = 0, sum = 0;
    int count;
    const struct season_step *found = steps_found(w->steps, &count);

    for (int i = 0; i < count; i++) {
        const struct season_step *f = &found[i];
        double expected, error;
        if (!channel_id_same(f->id, s->id) || f->rpm <= 0 ||
            f->rpm >= SEASON_WORKING * s->normal.rpm_unit ||
            s->normal.mode == SEASON_MODE_OVER_TWIN || season_kept[kept].share ||
            !season_expected(s, f->rpm, f->load_kind, f->load, f->sea_c, f->air_c, NAN, &expected,
                             &error))
            continue;
        sum += (f->mean - expected) * f->minutes;
        weight += f->minutes;
    }
    return weight > 0 ? sum / weight : NAN;
}

/* Whether what is read now differs from the last trip by what an exchanged probe does. */
static bool looks_exchanged(const struct season_watch *w, const struct season_verdict *v, int kept)
{
    const struct season_story *s = v->story;
    int count;
    const struct season_step *found = steps_found(w->steps, &count);
    double rest = season_rest_over(found, count, 0, &s->normal, s->id) - s->rest;
    double jump = v->excess - s->excess;

    return season_is_probe(kept, jump, idle_now(w, s, kept), rest,
                           sqrt(v->error * v->error + s->error * s->error));
}

/* One minute proves nothing: air in the intake, a probe that breaks away for seconds. A level is
 * raised, or lowered, by what two minutes in a row ask for. */
static void judge(struct season_watch *w, int engine, int kept, int64_t piece_ns)
{
    struct season_verdict *v = &w->verdict[engine][kept];
    struct opinion *o = &w->opinion[engine][kept];
    const struct season_kept *k = &season_kept[kept];
    enum season_level level, before = o->asked;
    bool few = v->story->normal.trips < SEASON_FIRST_TRIPS;

    if (piece_ns == o->piece_ns)
        return;
    level = with_reserve(w, engine, kept, v->excess / live_scale(v), live_level(k, v));
    /* Of one or two trips only the gravest is taken for granted. */
    if (few && (level == SEASON_CAUTION || k->quantity != QTY_EXHAUST))
        level = SEASON_QUIET;
    o->asked = level;
    if (o->piece_ns == 0)
        before = v->level;
    o->piece_ns = piece_ns;
    level = (enum season_level)middle_of(v->level, before, level);
    if (level > SEASON_QUESTION && looks_exchanged(w, v, kept))
        level = SEASON_QUESTION;
    v->level = level;
    if (o->asked >= v->level) {
        v->said = v->excess;
        v->said_rpm = v->rpm;
    }
}

static void look(struct season_watch *w, int engine, int kept, const struct steps_second *engines,
                 int count)
{
    struct season_verdict *v = &w->verdict[engine][kept];
    const struct season_kept *k = &season_kept[kept];
    struct steps_latest latest;
    const struct season_step *now = &latest.step;

    v->story = story_of(w, engine, kept, engines[engine].instance);
    v->live =
        v->story && steps_now(w->steps, engine, kept, &latest) &&
        now->rpm >= SEASON_WORKING * v->story->normal.rpm_unit &&
        season_expected(v->story, now->rpm, now->load_kind, now->load, now->sea_c, now->air_c,
                        twin_now(w, v->story, kept, now, engines, count), &v->expected, &v->error);
    /* What cools after a faster speed says nothing by being high, what warms nothing by being low.
     */
    bool twin = v->story && v->story->normal.mode == SEASON_MODE_OVER_TWIN;
    v->live = v->live && (latest.at_rest ||
                          (latest.rising && now->mean > v->expected && (latest.warm || !twin)));
    if (!v->story) /* this trip proves to be the one it was compared with */
        v->level = SEASON_QUIET;
    if (!v->live) {
        v->excess = v->error = v->value = v->expected = NAN;
        return; /* what was said at a steady speed stands until another steady speed denies it */
    }
    v->rpm = now->rpm;
    v->in_row = v->story->in_row > 0 ? v->story->in_row + !w->told_own[engine][kept] : 0;
    v->value = now->mean;
    v->excess = now->mean - v->expected;
    if (k->share) {
        v->excess /= v->expected;
        v->error /= v->expected;
    }
    if (!k->live)
        return;
    judge(w, engine, kept, now->wall_ns);
}

static void judge_trip(struct season_watch *w, int engine, int kept, struct channel_id id)
{
    struct season_verdict *v = &w->verdict[engine][kept];
    struct season_story *s = &w->story[engine][kept];
    int count;
    const struct season_step *found = steps_found(w->steps, &count);

    w->asked[engine][kept] = true;
    w->told[engine][kept] =
        season_tell(w->season, id, w->own, found, count, steps_from_ns(w->steps), s);
    v->story = w->told[engine][kept] ? s : NULL;
    v->live = false;
    v->value = v->expected = NAN;
    if (!v->story) {
        v->level = SEASON_QUIET;
        w->told_own[engine][kept] = false;
        return;
    }
    const struct season_excess *last = s->trips > 0 ? &s->trip[s->trips - 1] : NULL;
    enum season_level level = with_reserve(w, engine, kept, s->excess, s->level);
    w->told_own[engine][kept] = last && last->trip == w->season->trip_count && last->known;
    if (!w->told_own[engine][kept] || level <= v->level)
        return; /* what was said of a minute stands beside what is said of the trip */
    /* Of a probe that moved, what it reads is said, not what is left when that is taken off. */
    v->excess = level == SEASON_QUESTION ? s->excess + s->offset : s->excess;
    v->error = s->error;
    v->rpm = last->rpm;
    v->said = season_kept_size(kept, v->excess);
    v->said_rpm = last->rpm;
    v->in_row = s->in_row;
    v->level = level;
}

void season_watch_stopped(struct season_watch *w, const struct steps_second *engines, int count)
{
    int found;

    steps_close(w->steps);
    find_own(w);
    add_batteries(w, w->season->steps, w->season->step_count);
    const struct season_step *steps = steps_found(w->steps, &found);
    add_batteries(w, steps, found);
    for (int e = 0; e < count && e < STEPS_ENGINES && w->season->trip_count > 0; e++)
        for (int k = 0; k < SEASON_KEPT; k++) {
            struct channel_id id = {.quantity = (uint16_t)season_kept[k].quantity};
            if ((!season_kept[k].boat || e == 0) &&
                place_of(w, e, k, engines[e].instance, &id.place))
                judge_trip(w, e, k, id);
        }
}

void season_watch_second(struct season_watch *w, int64_t wall_ns, double sea_c, double air_c,
                         const struct steps_second *engines, int count)
{
    if (isfinite(sea_c))
        w->sea_c = sea_c;
    steps_second(w->steps, wall_ns, sea_c, air_c, engines, count);
    find_own(w);
    if (++w->seconds % LOOK_S != 0 || w->season->trip_count == 0)
        return;
    for (int e = 0; e < count && e < STEPS_ENGINES; e++)
        for (int k = 0; k < SEASON_KEPT && engines[e].running; k++)
            look(w, e, k, engines, count);
}

void season_watch_starts(struct season_watch *w, int64_t wall_ns, double air_c,
                         const struct steps_second *engines, int count,
                         const struct crank_battery *batteries, int battery_count)
{
    steps_starts(w->steps, wall_ns, air_c, engines, count, batteries, battery_count);
}

const struct season_verdict *season_watch_verdict(const struct season_watch *w, int engine,
                                                  int kept)
{
    return &w->verdict[engine][kept];
}

bool season_watch_standing(struct season_watch *w, int engine, uint8_t instance, int kept,
                           struct season_standing *out)
{
    const struct season_verdict *v = &w->verdict[engine][kept];
    const struct season_story *s = story_of(w, engine, kept, instance);

    if (!s || (season_kept[kept].boat && engine > 0) || (!v->live && !isfinite(s->excess)))
        return false;
    *out =
        (struct season_standing){.id = s->id,
                                 .excess = v->live ? v->excess : season_kept_size(kept, s->excess),
                                 .error = v->live ? v->error : s->error,
                                 .now = v->live,
                                 .level = v->level > s->level ? v->level : s->level,
                                 .since_ns = s->since_ns};
    return true;
}

bool season_watch_notable(const struct season_verdict *v, int kept)
{
    /* Over a twin, being low only says that the twin is high. */
    bool twin = v->story && v->story->normal.mode == SEASON_MODE_OVER_TWIN;

    return v->live && (!twin || v->excess > 0) &&
           fabs(v->excess) > NOTABLE * season_kept[kept].caution &&
           fabs(v->excess) > NOTABLE_SURE * v->error;
}

bool season_watch_trip(struct season_watch *w, const char *log, struct season_trip *trip,
                       const struct season_step **steps, int *count)
{
    steps_close(w->steps);
    *steps = steps_found(w->steps, count);
    *trip =
        (struct season_trip){.from_ns = steps_from_ns(w->steps), .to_ns = steps_to_ns(w->steps)};
    text_clean(trip->log, sizeof trip->log, log, strlen(log));
    return *count > 0;
}

void season_watch_tell(struct season_watch *w, season_over *tell, void *ctx)
{
    w->tell = tell;
    w->tell_ctx = ctx;
}
