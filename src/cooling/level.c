#include "cooling/state.h"

#include <math.h>

#include "base/banned.h"

/* What a settled exhaust may do by itself. Common practice where no other reason is given, and
 * tried on the tuning trips of tests/bench/detect. */
#define CLIMB        (5.0 / 60)  /* K/s: into water 5 K warmer within a minute */
#define CLIMB_KNOWN  (1.5 / 60)  /* K/s above what the twin or the sea itself does */
#define CLIMB_UNREST (25.0 / 60) /* K/s per unit of slow unrest */
#define CLIMB_DOWN   (2.0 / 60)  /* the same when it was asked for less, too */
#define CLIMB_COLD   (25.0 / 60) /* K/s while a thermostat may open */
#define COLD_BUDGET  15.0        /* K that an opening thermostat may add in all */
#define BUDGET_S     600.0       /* and after so long once more */
#define WARM_S       60.0        /* after the coolant has settled */
#define QUIET_S      8.0         /* an excursion this long does not change whether it is */
#define WARM_BLIND_S 1200.0      /* after the start, where no coolant is seen */
#define FALL         (30.0 / 60) /* K/s */
#define LEVEL_S      15.0
#define LEVEL_COLD_S 5.0
#define USUAL_S      25.0
#define START_RISE   10.0 /* K that wet exhaust may gain by starting, in all */
#define SOAK_RISE    4.0  /* K more, by iron and hose that warm slowly */
#define SOAK_LAG_S   100.0
#define START_LAG_S  30.0
#define START_S      90.0

/* Slow failures: how far the level creeps within one speed. */
#define ANCHOR      0.15 /* of slow unrest: more is another speed */
#define SETTLED     0.02 /* of slow unrest: the tail of a change of speed is over */
#define TAIL_S      40.0
#define LEAK_ALONE  (0.3 / 60) /* K/s: what hours may do */
#define LEAK_TWIN   (0.2 / 60)
#define LONG_FROM_S 60.0
#define LONG_ALONE  7.0   /* K: water 5 K warmer may do most of it */
#define LONG_SEA    3.0   /* K above what the sea did */
#define LONG_TWIN   3.0   /* K above what the twin did */
#define FRESH_S     900.0 /* so long after a start iron and hoses still warm up */
#define FRESH_K     3.0

/* What a change of speed may do beyond the prediction. */
#define ALLOW_DOUBT  3.0 /* standard deviations of what is not known yet */
#define ALLOW_UNREST 6.0 /* K per unit of unrest: the model is not exact */
#define ALLOW_CHANGE 0.5 /* of the change predicted */
#define ALLOW_TWIN   5.0 /* K per unit of the twin's unrest */

const struct predict_tuning cooling_exhaust_tuning = {
    .lag_s = {6.0, 25.0, 100.0},
    .speed_sd = 9.0,
    .load_sd = 9.0,
    .mismatch = 1.5,
    .span_s = 20.0,
    .offset_walk = 0.03,
    .weight_walk = 0.2,
};

/* What a start lets the level climb: START_RISE soon, and some more as iron and hose warm. */
static double start_climb(double since_start)
{
    double extra = START_RISE / START_LAG_S * exp(-since_start / START_LAG_S) +
                   SOAK_RISE / SOAK_LAG_S * exp(-since_start / SOAK_LAG_S);
    return (since_start < 4.0 * SOAK_LAG_S ? extra : 0.0);
}

/* Whether a thermostat may not open just now. */
static bool is_warm(const struct engine_watch *e, const struct watch *w, double since_start,
                    double now_s)
{
    if (!e->has_coolant)
        return since_start > WARM_BLIND_S || since_start < START_S;
    if (since_start < START_S)
        return true;
    /* What lost water does to the coolant comes after it has warmed the exhaust. */
    if (now_s - w->quiet_s > QUIET_S)
        return w->was_warm;
    return fmin(now_s, e->coolant_s) - e->opening_s > WARM_S;
}

/* Whether the twin runs evenly enough to be compared with, and its watch. */
const struct watch *cooling_twin(const struct cooling *c, int engine)
{
    if (engine > 1)
        return NULL;
    const struct engine_watch *o = &c->engine[engine ^ 1];
    const struct watch *twin = &o->sensor[COOLING_EXHAUST];
    if (!o->running || !o->known || twin->long_s <= 0.0 || twin->verdict.level > 1 ||
        !twin->trace.count || c->now_s - trace_last_time(&twin->trace) > 10.0 ||
        trace_is_stuck(&twin->trace) || c->now_s - o->since_s < LONG_FROM_S)
        return NULL;
    return twin;
}

/* K/s that a settled exhaust may climb: warmer water warms both. */
static double steady_climb(const struct cooling *c, int engine)
{
    const struct watch *twin = cooling_twin(c, engine);
    double most = CLIMB;
    if (twin)
        most = fmin(most, CLIMB_KNOWN + 1.3 * twin->climbed);
    if (cooling_sea_known(c))
        most = fmin(most, CLIMB_KNOWN + 1.3 * c->sea_climbed);
    return most;
}

static void follow_creep(const struct cooling *c, int engine, struct watch *w, double dt,
                         double since_start)
{
    double slow = predict_slow_unrest(&w->predict);
    /* Slow failures are looked for within one speed, and from a thermostat's opening on. */
    bool warm = is_warm(&c->engine[engine], w, since_start, c->now_s);
    w->long_s += dt;
    if (slow > ANCHOR || warm != w->was_warm || since_start < START_S)
        w->long_s = 0.0;
    w->was_warm = warm;
    double level = cooling_level(w), pull = 0.0;
    if (slow > SETTLED) /* the tail of a change of speed is not creep */
        pull = 1.0 - exp(-dt * slow / ANCHOR / TAIL_S);
    w->low = w->long_s <= 0.0 ? level : w->low + pull * (level - w->low);
    w->low = fmin(w->low + LEAK_ALONE * dt, level);
    w->sea_low = w->long_s <= 0.0 ? c->sea_level : w->sea_low + pull * (c->sea_level - w->sea_low);
    w->sea_low = fmin(w->sea_low, c->sea_level);
    const struct watch *twin = cooling_twin(c, engine);
    w->apart = twin ? level - cooling_level(twin) : 0.0;
    if (!twin || w->long_s <= 0.0)
        w->apart_s = 0.0;
    else
        w->apart_s += dt;
    w->apart_low = w->apart_s <= 0.0 ? w->apart : w->apart_low + pull * (w->apart - w->apart_low);
    w->apart_low = fmin(w->apart_low + LEAK_TWIN * dt, w->apart);
}

void cooling_follow(const struct cooling *c, int engine, struct watch *w, double residual,
                    double dt, double since_start)
{
    const struct engine_watch *e = &c->engine[engine];
    double slow = predict_slow_unrest(&w->predict);
    if (!w->level_known) {
        w->level = residual;
        w->long_s = 0.0;
        w->cold_budget = COLD_BUDGET;
        w->level_known = true;
        w->usual.known = false;
    } else {
        bool hot = is_warm(e, w, since_start, c->now_s);
        double lag = hot && since_start > 3.0 * SOAK_LAG_S ? LEVEL_S : LEVEL_COLD_S;
        lag = fmin(lag, fmax(LEVEL_COLD_S, 1.0 / fmax(slow, 1e-3)));
        double move = (1.0 - exp(-dt / lag)) * (residual - w->level);
        double usual_climb = (steady_climb(c, engine) + start_climb(since_start) +
                              CLIMB_UNREST * predict_slow_up(&w->predict) + CLIMB_DOWN * slow) *
                             dt;
        double most = hot ? usual_climb : fmin(CLIMB_COLD * dt, usual_climb + w->cold_budget);
        if (w->verdict.level >= 2) /* what is called heat must not become what is normal */
            most = LEAK_ALONE * dt;
        move = fmax(-FALL * dt, fmin(most, move));
        w->cold_budget -= fmax(0.0, move - usual_climb);
        if (hot && w->cold_budget < COLD_BUDGET && since_start > START_S)
            w->cold_budget = fmin(COLD_BUDGET, w->cold_budget + dt * COLD_BUDGET / BUDGET_S);
        w->level += move;
        /* The twin's test asks how fast this one climbs, and did within the last minute. */
        w->rate += (1.0 - exp(-dt / 8.0)) * (move / dt - w->rate);
        w->climbed = fmax(w->rate, w->climbed * exp(-dt / 60.0));
    }
    if (since_start < COOLING_RUN_UP_S) /* the lags are being settled: no speed is usual yet */
        w->usual.known = false;
    predict_follow(&w->predict, &w->usual, dt, USUAL_S);
    follow_creep(c, engine, w, dt, since_start);
}

/* What the last changes of speed may have done that the prediction has not learned. The twin's
 * count too: it takes the boat's way off, or gives it, and with it this engine's load. */
double cooling_transient(const struct cooling *c, int engine, const struct watch *w)
{
    double k = ALLOW_UNREST * predict_unrest(&w->predict, &w->usual) +
               ALLOW_DOUBT * fmin(20.0, predict_doubt(&w->predict, &w->usual)) +
               ALLOW_CHANGE * fabs(predict_change(&w->predict, &w->usual));
    const struct engine_watch *twin = &c->engine[engine ^ 1];
    if (engine < 2 && twin->running)
        k += ALLOW_TWIN * predict_unrest(&twin->sensor[COOLING_EXHAUST].predict,
                                         &twin->sensor[COOLING_EXHAUST].usual);
    return k;
}

bool cooling_together(const struct cooling *c, int engine, const struct watch *w)
{
    double own = cooling_level(w) - w->low;
    const struct watch *twin = cooling_twin(c, engine);
    if (twin && cooling_level(twin) - twin->low > 0.5 * own)
        return true;
    return cooling_sea_known(c) && c->sea_level - w->sea_low > 0.5 * own;
}

/* Four deviations of the level itself. */
static double level_noise(const struct watch *w)
{
    return 4.0 * w->trace.sigma * sqrt(fmin(w->trace.period / (2.0 * LEVEL_S), 1.0));
}

/* How far the level has crept up within this speed, or away from the twin's: a cumulative sum in
 * kelvin, with a leak for what hours may do. */
double cooling_creep(const struct cooling *c, int engine, const struct watch *w,
                     enum cooling_kind *kind, double *allowance)
{
    const struct engine_watch *e = &c->engine[engine];
    double fresh = e->started_here && c->now_s - e->since_s < FRESH_S ? FRESH_K : 0.0;
    double own = fresh + cooling_transient(c, engine, w) + level_noise(w) +
                 (w->was_warm ? 0.0 : COLD_BUDGET);
    double gain = w->long_s < LONG_FROM_S ? 0.0 : cooling_level(w) - w->low;
    *kind = COOLING_DEPARTURE;
    *allowance =
        own + (cooling_sea_known(c) ? LONG_SEA + 1.3 * (c->sea_level - w->sea_low) : LONG_ALONE);
    const struct watch *twin = cooling_twin(c, engine);
    if (!twin || w->apart_s < LONG_FROM_S)
        return gain;
    /* A twin that cools is no heat here. */
    double split = fmin(w->apart - w->apart_low, gain);
    double allow = LONG_TWIN + own + level_noise(twin) + cooling_transient(c, engine ^ 1, twin) +
                   (twin->was_warm ? 0.0 : COLD_BUDGET);
    if (split - allow < gain - *allowance)
        return gain;
    *kind = COOLING_SPLIT;
    *allowance = allow;
    return split;
}
