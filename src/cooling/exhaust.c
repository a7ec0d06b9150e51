#include "cooling/state.h"

#include <math.h>

#include "base/banned.h"

#define ALLOW_STEADY   0.35  /* K: what a settled exhaust wanders by itself */
#define START_S        90.0  /* this long a start may explain a climb */
#define SETTLE_S       300.0 /* this long it may leave heat that stays */
#define START_ALLOW    1.5   /* K on top, while a start explains */
#define FOUND_S        120.0 /* found running: a throttle-up may be under way */
#define FOUND_ALLOW    8.0   /* K */
#define FOUND_LAG_S    25.0
#define LEARN_FROM_S   40.0 /* after a start */
#define SAME_S         20.0 /* unchanged for so long, then a leap: it was stuck */
#define SAME_LEAP_K    4.0
#define RUN_MIN        3    /* samples: two may be wild */
#define FIRST          5    /* samples: the same, and a median of three over them */
#define CLIMB_RATE     10.0 /* K/min */
#define CLIMB_FAR      6.0  /* K above the allowance */
#define CALM_S         10.0
#define FLAT_RATE      (2.0 / 60) /* K/s: heat of a start that climbs no faster, */
#define FLAT_SHORT_S   15.0       /* by the distance of two lags, */
#define FLAT_LONG_S    45.0
#define FLAT_S         60.0  /* s long, */
#define FLAT_BELOW_K   25.0  /* this far below the limit, was a start like any other */
#define START_STANDS_S 5.0   /* a warning of a start stands before it may be an alarm */
#define OVER_K         5.0   /* K over its limit, */
#define OVER_S         10.0  /* s long */
#define OVER_DT_S      2.0   /* a sample tells of no longer than this: one may be wild */
#define DRY_START_S    300.0 /* this long after a start dry gas tells nothing, whatever it does */
#define DRY_START      60.0  /* in its units */
#define DRY_SLOW       2.0   /* and slow changes must be so many times as large */
/* Without engine speed a throttle-up looks the same as lost water. */
#define CAREFUL_RISE_C 25.0 /* K */
#define CAREFUL_HOT_C  50.0

static int level_of(const struct cooling *c, const struct watch *w, double above, bool start)
{
    const struct cooling_verdict *v = &w->verdict;
    if (v->level == 3)
        return 3;
    bool near = v->value >= w->limit_c || v->seconds_to_limit < 60.0;
    /* A start is steep by itself: it is no alarm before the water has had its time to come. */
    if (start && v->value < w->limit_c && (v->level < 2 || c->now_s - w->raised_s < START_STANDS_S))
        return 2;
    bool stands = v->level == 2 && c->now_s - w->raised_s > 15.0;
    return (near && above > 6.0) || (stands && above > 12.0) ? 3 : 2;
}

static bool starting(const struct cooling *c, const struct engine_watch *e)
{
    return e->started_here && c->now_s - e->since_s < SETTLE_S;
}

/* Lost water climbs fast or climbs far; what does neither waits for the slow test. */
static bool climbs(const struct watch *w, double above)
{
    return w->verdict.rate_per_min / w->unit >= CLIMB_RATE || above >= CLIMB_FAR;
}

/* However slowly it got there: no healthy wet exhaust stays above its limit. */
static bool stays_over(struct watch *w, double dt)
{
    bool over = w->verdict.value > w->limit_c + OVER_K;
    w->over_s = over ? w->over_s + fmin(dt, OVER_DT_S) : 0.0;
    return w->over_s > OVER_S;
}

/* A shut seacock ends in boiling water: what levels off far below was a start like any other. */
static bool levelled_off(const struct cooling *c, struct watch *w, double y, double dt)
{
    bool here = w->verdict.cause == CAUSE_SEACOCK;
    w->smooth = here ? w->smooth + (1.0 - exp(-dt / FLAT_SHORT_S)) * (y - w->smooth) : y;
    w->slower = here ? w->slower + (1.0 - exp(-dt / FLAT_LONG_S)) * (y - w->slower) : y;
    double rate = (w->smooth - w->slower) / (FLAT_LONG_S - FLAT_SHORT_S);
    if (!here || rate > FLAT_RATE || w->verdict.value > w->limit_c - FLAT_BELOW_K)
        w->steep_s = c->now_s;
    return c->now_s - w->steep_s > FLAT_S;
}

static void judge(struct cooling *c, int engine, struct watch *w, double y, double residual,
                  double allowance, double dt)
{
    const struct engine_watch *e = &c->engine[engine];
    double above = residual - w->level - allowance;
    double top = cusum_value(&w->cusum);
    enum cooling_kind kind = COOLING_RISE;
    cooling_show(w, y - (residual - w->level), allowance, top, CUSUM_THRESHOLD);
    bool over = stays_over(w, dt);
    if (above <= 2.0 * w->trace.sigma)
        cooling_quiet(w, c->now_s, residual);
    else if (!starting(c, e))
        cooling_turn_back(c, w, above);
    if (w->verdict.level < 2) {
        bool fast = top >= CUSUM_THRESHOLD && w->cusum.run >= RUN_MIN && above > 0.0 &&
                    (!w->verdict.careful || y > CAREFUL_HOT_C) && climbs(w, above) &&
                    cooling_gulp_is_over(c, engine, w, above, allowance, starting(c, e));
        if (!fast && !over) {
            double slow_allowance, slow = cooling_creep(c, engine, w, &kind, &slow_allowance);
            if (w->unit > 1.0) /* dry gas goes with the load of the hour */
                slow_allowance *= DRY_SLOW;
            bool crept = slow >= slow_allowance && !w->verdict.careful;
            if (!crept || cooling_together(c, engine, w)) {
                bool stays = w->verdict.level == 1 && slow > 0.5 * slow_allowance;
                cooling_decide(c, w, crept || stays ? 1 : 0, COOLING_DEPARTURE, CAUSE_SEA_OR_LOAD);
                return;
            }
            above = slow;
            w->slow = true;
            cooling_show(w, y - slow, slow_allowance, slow * w->unit, slow_allowance * w->unit);
        } else {
            w->slow = false;
        }
        w->raised_s = c->now_s;
        w->peak = 0.0;
        w->calm_s = NAN;
        w->verdict.kind = kind;
    } else if (w->slow) {
        above =
            w->verdict.kind == COOLING_SPLIT ? w->apart - w->apart_low : cooling_level(w) - w->low;
    }
    if (levelled_off(c, w, y, dt)) {
        cusum_reset(&w->cusum);
        w->level = residual;
        w->top = 0.0; /* and no gulp that the next one must exceed */
        cooling_quiet(w, c->now_s, residual);
        cooling_decide(c, w, 0, COOLING_RISE, CAUSE_NONE);
        return;
    }
    w->peak = fmax(w->peak, above);
    bool start = e->started_here && w->raised_s - e->since_s < START_S;
    if (above > 0.4 * w->peak || over) {
        w->calm_s = NAN;
        cooling_decide(c, w, level_of(c, w, above, start), w->verdict.kind,
                       start ? CAUSE_SEACOCK : CAUSE_RAW_WATER);
    } else if (isnan(w->calm_s)) {
        w->calm_s = c->now_s;
    } else if (c->now_s - w->calm_s > CALM_S && w->verdict.value < w->limit_c) {
        cusum_reset(&w->cusum);
        w->top = fmax(w->top, w->peak); /* it went back by itself, like a gulp */
        cooling_quiet(w, c->now_s, residual);
        cooling_decide(c, w, 0, COOLING_RISE, CAUSE_NONE);
    }
}

void cooling_exhaust_reading(struct cooling *c, int engine, struct watch *w, double t, double y)
{
    struct engine_watch *e = &c->engine[engine];
    double dt = t - trace_last_time(&w->trace);
    y /= w->unit;
    double before = trace_last(&w->trace);
    int was_same = w->trace.same;
    enum trace_taken taken = trace_add(&w->trace, t, y);
    if (taken != TRACE_GOOD) /* a wild one neither makes heat nor hides it */
        return;
    bool has_rpm = cooling_has_rpm(c, e);
    dt = isnan(dt) ? 1.0 : fmin(dt, 120.0);
    w->verdict.careful = !has_rpm;
    if (has_rpm && !e->running) { /* heat soak is no cooling failure */
        cusum_reset(&w->cusum);
        w->level_known = false;
        w->ring_count = 0;
        w->quiet_s = w->found_s = w->steep_s = t;
        w->over_s = 0.0;
        cooling_show(w, y, 0.0, 0.0, CUSUM_THRESHOLD);
        return;
    }
    cooling_advance(c, e, w, dt);
    double since_start = e->known && e->started_here ? t - e->since_s : INFINITY;
    if (!w->level_known)
        w->found_s = t;
    bool young = w->trace.count <= FIRST;
    if (!w->predict.known && !young)
        cooling_learn(w, dt, y);
    double predicted = predict_value(&w->predict), residual = y - predicted;
    double allowance = ALLOW_STEADY + cooling_transient(c, engine, w);
    if (since_start < START_S)
        allowance += START_ALLOW;
    else if (t - w->found_s < FOUND_S)
        allowance += FOUND_ALLOW * exp(-(t - w->found_s) / FOUND_LAG_S);
    if (!has_rpm)
        allowance = CAREFUL_RISE_C;
    if (trace_is_stuck(&w->trace)) { /* it tells nothing, neither heat nor calm */
        cusum_reset(&w->cusum);
        return;
    }
    bool dry = w->unit > 1.0;
    if (dry && since_start < DRY_START_S) { /* gas that was cold gets hot: that is a start */
        w->level = residual;
        w->level_known = true;
        w->long_s = -dt; /* nor does it creep: that is looked for from the next sample on */
        cooling_quiet(w, t, residual);
        allowance = DRY_START;
    }
    if (was_same * w->trace.period > SAME_S &&
        fabs(y - before) > SAME_LEAP_K + 4.0 * w->trace.sigma + 2.0 * w->trace.step) {
        w->level_known = false; /* it was stuck, and nobody knows what it missed */
        cusum_reset(&w->cusum);
        cooling_quiet(w, t, residual);
    }
    if (w->level_known && w->predicted > predicted)
        w->level += fmax(0.0, fmin(w->predicted - predicted, residual - w->level));
    w->predicted = predicted;
    if (young) /* of a record, or behind a hole: one of them may be wild, and tells no level */
        w->level_known = false;
    cooling_follow(c, engine, w, fmax(y, trace_value(&w->trace)) - predicted, dt, since_start);
    cooling_remember(w, t, residual);
    double z = (residual - w->level - allowance) / w->trace.sigma;
    double top = cusum_add(&w->cusum, z);
    judge(c, engine, w, y, residual, allowance, dt);
    if (top < 4.0 && w->verdict.level < 2 && since_start > LEARN_FROM_S && !young)
        cooling_learn(w, dt, y);
    w->predicted = predict_value(&w->predict);
}
