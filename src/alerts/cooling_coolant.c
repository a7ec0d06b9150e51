#include "alerts/cooling_state.h"

#include <math.h>

#include "base/banned.h"

#define PLATEAU_RATE  (0.9 / 60) /* K/s: slower than this is not warming up */
#define COLD_C        64.0       /* common practice: no thermostat opens below */
#define OPEN_RATE     (0.8 / 60) /* K/s: the coolant climbs to its thermostat */
#define PLATEAU_S     40.0
#define ALLOW_STEADY  0.9  /* K: what a thermostat hunts */
#define WARM_C        70.0 /* common practice: thermostats hold no less */
#define ALLOW_SOAK    6.0  /* K per unit: iron gives up its heat when the throttle closes */
#define ALLOW_DOUBT   2.0
#define ALLOW_UNREST  30.0       /* K per unit of more speed: a thermostat's whole span */
#define CLIMB         (0.4 / 60) /* K/s: how fast the level may follow upwards */
#define FALL          (6.0 / 60)
#define LEVEL_S       90.0
#define USUAL_S       60.0
#define LOW_CLIMB     (1.0 / 60) /* K/s: what it stood at lately */
#define PEAK_FADE     (0.05 / 60)
#define HOT_C         97.0
#define HOT_RATE      (1.0 / 60)
#define RISE_RATE     (2.4 / 60)
#define RISE_SURE     6.0        /* K above what it may: counts */
#define SURE_RATE     (0.5 / 60) /* at this rate too */
#define RISE_EVEN     1.3        /* K over what is expected, */
#define EVEN          0.03       /* of unrest: an even speed, */
#define EVEN_S        120.0      /* once the plateau is this old */
#define RISE_LEAST    3.2        /* the same otherwise */
#define WARM_BAND_C   78.0       /* below this every coolant may stand by itself, */
#define RISE_COOL     6.0        /* unless it rose by this much */
#define GAP_S         15.0
#define STUCK_LEAP_K  2.0
#define YOUNG_S       900.0
#define LEARN_EVERY_S 1.9
#define CALM_S        20.0
#define CALM_K        1.5
#define RUN_S         3.0 /* the rise must have stood this long */

const struct predict_tuning cooling_coolant_tuning = {
    .lag_s = {15.0, 60.0, 200.0},
    .speed_sd = 4.0,
    .mismatch = 0.7,
    .span_s = 15.0,
    .offset_walk = 0.03,
    .weight_walk = 0.2,
};

/* Warming up tells nothing of the pump: wait until the thermostat holds. */
static void wait_for_plateau(struct watch *w, double t, double value, double rate)
{
    if (fabs(rate) > PLATEAU_RATE || value < WARM_C || isnan(w->calm_s))
        w->calm_s = t;
    if (t - w->calm_s < PLATEAU_S)
        return;
    predict_init(&w->predict, w->predict.tuning);
    w->usual.known = false;
    w->settled = false;
    w->level = 0.0;
    w->peak = fmax(w->peak, value); /* what it stood at before a stop counts */
    w->long_s = 0.0;
    w->low = value;
    w->level_known = true;
    w->calm_s = NAN;
}

/* How far the coolant stands above what it should, and what it may. */
static double judge_plateau(struct cooling *c, struct engine_watch *e, struct watch *w, double dt,
                            double y, bool good)
{
    cooling_advance(c, e, w, dt);
    if (!w->predict.known)
        predict_learn(&w->predict, dt, y, w->trace.sigma);
    double miss = y - predict_value(&w->predict);
    w->long_s += dt;
    w->unlearned_s += dt;
    bool due = w->unlearned_s >= LEARN_EVERY_S; /* coolant comes twice a second: no news in that */
    if (due)
        w->doubt = predict_doubt(&w->predict, &w->usual);
    double young = w->long_s < YOUNG_S ? 1.7 : 1.0; /* a plateau of idling says little of load */
    double allowance = ALLOW_STEADY +
                       young * ALLOW_UNREST * predict_unrest_up(&w->predict, &w->usual) +
                       ALLOW_SOAK * predict_unrest(&w->predict, &w->usual) + ALLOW_DOUBT * w->doubt;
    double expected = fmax(y - miss + w->level, w->peak);
    double top = cusum_add(&w->cusum, (y - expected - allowance) / w->trace.sigma);
    cooling_show(w, expected, allowance, top, CUSUM_THRESHOLD);
    if (good && w->verdict.level == 0) {
        predict_follow(&w->predict, &w->usual, dt, USUAL_S);
        double move = (1.0 - exp(-dt / LEVEL_S)) * (miss - w->level);
        w->level += fmax(-FALL * dt, fmin(CLIMB * dt, move));
        w->peak =
            fmax(w->peak - PEAK_FADE * dt, fmin(trace_value(&w->trace), w->peak + CLIMB * dt));
        if (due && top < 4.0)
            cooling_learn(w, w->unlearned_s, y);
        w->low = fmin(w->low + LOW_CLIMB * dt, w->slower);
    }
    if (due)
        w->unlearned_s = 0.0;
    return y - expected;
}

/* K/s, over about half a minute: steps of 1 K must not pass for slopes. */
static double slope(struct watch *w, double dt, double y, bool good)
{
    if (w->trace.count == 1)
        w->smooth = w->slower = y;
    if (good) {
        w->smooth += (1.0 - exp(-dt / 10.0)) * (y - w->smooth);
        w->slower += (1.0 - exp(-dt / 30.0)) * (y - w->slower);
    }
    return (w->smooth - w->slower) / 20.0;
}

void cooling_coolant_reading(struct cooling *c, int engine, struct watch *w, double t, double y)
{
    struct engine_watch *e = &c->engine[engine];
    double dt = t - trace_last_time(&w->trace);
    double before = trace_last(&w->trace);
    bool was_stuck = trace_is_stuck(&w->trace);
    enum trace_taken taken = trace_add(&w->trace, t, y);
    if (taken == TRACE_OLD || trace_is_stuck(&w->trace))
        return;
    if (dt > GAP_S || (was_stuck && fabs(y - before) > STUCK_LEAP_K)) {
        w->level_known = false; /* nobody knows what it missed: find the plateau again */
        w->calm_s = NAN;
        cusum_reset(&w->cusum);
    }
    dt = isnan(dt) ? 0.5 : fmin(dt, 30.0);
    e->has_coolant = true;
    double value = trace_value(&w->trace), rate = slope(w, dt, y, taken == TRACE_GOOD);
    /* A thermostat opens while the coolant rises to it. */
    if (value > COLD_C && rate > OPEN_RATE)
        e->opening_s = t;
    e->coolant_s = t;
    bool has_rpm = cooling_has_rpm(c, e);
    w->verdict.careful = !has_rpm;
    if (has_rpm && !e->running) {
        w->level_known = false;
        w->calm_s = NAN;
        cusum_reset(&w->cusum);
        cooling_show(w, value, 0.0, 0.0, CUSUM_THRESHOLD);
        return;
    }
    double above = 0.0;
    if (!w->level_known) {
        wait_for_plateau(w, t, value, rate);
        cooling_show(w, value, 0.0, 0.0, CUSUM_THRESHOLD);
    } else {
        above = judge_plateau(c, e, w, dt, y, taken == TRACE_GOOD);
    }
    double gain = fmin(y, value) - fmax(w->verdict.expected, w->low);
    double unrest = predict_unrest_up(&w->predict, &w->usual);
    double least = unrest < EVEN && w->long_s > EVEN_S ? RISE_EVEN : RISE_LEAST;
    bool enough = gain >= least && (value >= WARM_BAND_C || gain >= RISE_COOL);
    bool over = w->level_known && enough &&
                (rate > RISE_RATE || (above > RISE_SURE && rate > SURE_RATE)) &&
                w->verdict.statistic >= CUSUM_THRESHOLD &&
                w->cusum.run * w->trace.period >= RUN_S && w->cusum.run > 3;
    bool hot = value > HOT_C && rate > HOT_RATE && w->trace.count > 8;
    if (w->verdict.level == 0 && !over && !hot)
        return;
    if (w->verdict.level == 0) {
        w->raised_s = t;
        w->top = 0.0;
    }
    w->top = fmax(w->top, above);
    if (w->verdict.level > 0 && value < HOT_C && t - w->raised_s > CALM_S &&
        above < fmax(CALM_K, 0.3 * w->top)) {
        cusum_reset(&w->cusum);
        w->level += fmax(0.0, above); /* that is how it stands now */
        cooling_decide(c, w, 0, COOLING_RISE, CAUSE_NONE);
        return;
    }
    const struct cooling_verdict *x = &e->sensor[COOLING_EXHAUST].verdict;
    enum cooling_cause cause = x->level >= 2 ? CAUSE_RAW_WATER : CAUSE_CIRCULATION;
    int level = w->verdict.level == 3 || value > w->limit_c || value > HOT_C + 3.0 ? 3 : 2;
    cooling_decide(c, w, level, COOLING_RISE, cause);
}
