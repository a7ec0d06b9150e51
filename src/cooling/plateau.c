/* Coolant and oil: temperatures that a thermostat or a load holds at a plateau. One test, a table
 * of figures for each; and what the two of them tell together. */
#include "cooling/state.h"

#include <math.h>

#include "base/banned.h"

/* What each may do by itself: common practice where no other reason is given, and tried on the
 * tuning trips of tests/bench/detect. K and K/s; "per unit" is of speed, see cooling_predict.h. */
struct plateau_tuning {
    double plateau_rate, plateau_s; /* no faster for so long: it has warmed up */
    double warm_c;                  /* and no plateau below */
    double steady;                  /* what it hunts */
    double soak;                    /* per unit: iron gives up its heat when the throttle closes */
    double unrest, young_s;         /* per unit of more speed, more so on a plateau this young */
    double climb, fall, level_s;    /* how fast the level may follow, */
    double usual_s;                 /* and what speeds are usual */
    double low_climb;               /* what it stood at lately */
    double hot_c, hot_rate;         /* speaks here, whatever came before */
    double rise_rate;               /* still climbing like this, */
    double rise_sure, sure_rate;    /* or so far above already, and so fast */
    double rise_even, even_s;       /* K over what is expected: at an even speed, for so long; */
    double rise_least;              /* the same otherwise */
    double band_c, fresh_s;         /* below this, and on a plateau this young, */
    double rise_band;               /* it may go anywhere by itself, but for so much */
    double smooth_s, slower_s;      /* two lags: their distance is the slope */
};

static const struct plateau_tuning coolant = {
    .plateau_rate = 0.9 / 60,
    .plateau_s = 40.0,
    .warm_c = 70.0, /* common practice: thermostats hold no less */
    .steady = 0.9,
    .soak = 3.0,
    .unrest = 20.0, /* a thermostat's whole span */
    .young_s = 600.0,
    .climb = 0.4 / 60,
    .fall = 6.0 / 60,
    .level_s = 90.0,
    .usual_s = 60.0,
    .low_climb = 1.0 / 60,
    .hot_c = 97.0,
    .hot_rate = 1.0 / 60,
    .rise_rate = 2.4 / 60,
    .rise_sure = 6.0,
    .sure_rate = 0.5 / 60,
    .rise_even = 1.3,
    .even_s = 120.0,
    .rise_least = 3.2,
    .band_c = 76.0,
    .fresh_s = 180.0,
    .rise_band = 9.0,
    .smooth_s = 10.0,
    .slower_s = 30.0,
};

/* Oil goes with the load and follows by minutes. */
static const struct plateau_tuning oil = {
    .plateau_rate = 0.5 / 60,
    .plateau_s = 60.0,
    .warm_c = 65.0,
    .steady = 1.5,
    .soak = 8.0,
    .unrest = 50.0,
    .young_s = 1800.0,
    .climb = 0.5 / 60,
    .fall = 3.0 / 60,
    .level_s = 180.0,
    .usual_s = 400.0,
    .low_climb = 0.5 / 60,
    .hot_c = 118.0,
    .hot_rate = 1.0 / 60,
    .rise_rate = 1.2 / 60,
    .rise_sure = 10.0,
    .sure_rate = 0.3 / 60,
    .rise_even = 6.0,
    .even_s = 300.0,
    .rise_least = 15.0,
    .band_c = 85.0,
    .fresh_s = 180.0,
    .rise_band = 15.0,
    .smooth_s = 15.0,
    .slower_s = 45.0,
};

#define COLD_C        64.0       /* common practice: no thermostat opens below */
#define OPEN_RATE     (0.8 / 60) /* K/s: the coolant climbs to its thermostat */
#define ALLOW_DOUBT   1.7        /* standard deviations of what is not known yet */
#define PEAK_FADE     (0.05 / 60)
#define HIGH_FADE     (1.0 / 60)
#define EVEN          0.03 /* of unrest: an even speed */
#define GAP_S         15.0
#define STUCK_LEAP_K  2.0
#define LEARN_EVERY_S 1.9
#define LOW_S         60.0
#define CALM_S        20.0
#define CALM_K        1.5
#define RUN_S         3.0 /* the rise must have stood this long */

/* Coolant that falls at a speed that does not, while the oil climbs: the sender hangs in air. */
#define FALLEN_K     9.0
#define FALLEN_SURE  15.0
#define FALLEN_EVEN  0.10       /* of unrest towards less */
#define FOLLOWS_RATE (1.0 / 60) /* K/s: the oil climbs */
#define OIL_EVEN     0.10       /* of its unrest: no throttle explains that */
#define FOLLOWS_S    15.0       /* for so long */

const struct predict_tuning cooling_coolant_tuning = {
    .lag_s = {15.0, 60.0, 200.0},
    .speed_sd = 4.0,
    .load_sd = 4.0,
    .mismatch = 0.7,
    .span_s = 15.0,
    .offset_walk = 0.03,
    .weight_walk = 0.2,
};

const struct predict_tuning cooling_oil_tuning = {
    .lag_s = {60.0, 200.0, 500.0},
    .speed_sd = 8.0,
    .load_sd = 8.0,
    .mismatch = 1.0,
    .span_s = 30.0,
    .offset_walk = 0.03,
    .weight_walk = 0.2,
};

/* Warming up tells nothing: wait until it holds. */
static void wait_for_plateau(const struct plateau_tuning *k, struct watch *w, double t,
                             double value, double rate)
{
    if (fabs(rate) > k->plateau_rate || value < k->warm_c || isnan(w->calm_s))
        w->calm_s = t;
    if (t - w->calm_s < k->plateau_s)
        return;
    predict_init(&w->predict, w->predict.tuning);
    w->usual.known = false;
    w->settled = false;
    w->level = 0.0;
    w->peak = fmax(w->peak, value); /* what it stood at before a stop counts */
    w->long_s = 0.0;
    w->low = w->high = value;
    w->level_known = true;
    w->calm_s = NAN;
}

/* How far it stands above what it should, and what it may. */
static double judge_plateau(struct cooling *c, const struct plateau_tuning *k,
                            struct engine_watch *e, struct watch *w, double dt, double y, bool good)
{
    cooling_advance(c, e, w, dt);
    if (!w->predict.known)
        predict_learn(&w->predict, dt, y, w->trace.sigma);
    double miss = y - predict_value(&w->predict);
    w->long_s += dt;
    w->high = fmax(w->high - HIGH_FADE * dt, trace_value(&w->trace));
    w->unlearned_s += dt;
    bool due = w->unlearned_s >= LEARN_EVERY_S; /* it comes twice a second: no news in that */
    if (due)
        w->doubt = predict_doubt(&w->predict, &w->usual);
    double young = w->long_s < k->young_s ? 1.7 : 1.0; /* a plateau of idling says little of load */
    double allowance = k->steady + young * k->unrest * predict_unrest_up(&w->predict, &w->usual) +
                       k->soak * predict_unrest(&w->predict, &w->usual) + ALLOW_DOUBT * w->doubt;
    double expected = fmax(y - miss + w->level, w->peak);
    double top = cusum_add(&w->cusum, (y - expected - allowance) / w->trace.sigma);
    cooling_show(w, expected, allowance, top, CUSUM_THRESHOLD);
    if (good && w->verdict.level == 0) {
        predict_follow(&w->predict, &w->usual, dt, k->usual_s);
        double move = (1.0 - exp(-dt / k->level_s)) * (miss - w->level);
        w->level += fmax(-k->fall * dt, fmin(k->climb * dt, move));
        w->peak =
            fmax(w->peak - PEAK_FADE * dt, fmin(trace_value(&w->trace), w->peak + k->climb * dt));
        if (due && top < 4.0)
            cooling_learn(w, w->unlearned_s, y);
        /* A climb that was allowed for is where it stands now. */
        double after = top > 0.0 ? 0.0 : (1.0 - exp(-dt / LOW_S)) * (w->slower - w->low);
        w->low = fmin(w->low + fmax(k->low_climb * dt, after), w->slower);
    }
    if (due)
        w->unlearned_s = 0.0;
    return y - expected;
}

/* K/s: steps of 1 K must not pass for slopes. */
static double slope(const struct plateau_tuning *k, struct watch *w, double dt, double y, bool good)
{
    if (w->trace.count == 1)
        w->smooth = w->slower = y;
    if (good) {
        w->smooth += (1.0 - exp(-dt / k->smooth_s)) * (y - w->smooth);
        w->slower += (1.0 - exp(-dt / k->slower_s)) * (y - w->slower);
    }
    return (w->smooth - w->slower) / (k->slower_s - k->smooth_s);
}

/* Whether it stands as far above what is expected as its figures ask, and still climbs. */
static bool is_over(const struct plateau_tuning *k, const struct watch *w, double y, double above,
                    double rate)
{
    double value = trace_value(&w->trace);
    double stood = fmax(w->verdict.expected, w->low), gain = fmin(y, value) - stood;
    double unrest = predict_unrest_up(&w->predict, &w->usual);
    double least = unrest < EVEN && w->long_s > k->even_s ? k->rise_even : k->rise_least;
    bool fresh = w->long_s < k->fresh_s || stood < k->band_c;
    bool enough = gain >= least && (!fresh || gain >= k->rise_band);
    return w->level_known && enough &&
           (rate > k->rise_rate || (above > k->rise_sure && rate > k->sure_rate)) &&
           w->verdict.statistic >= CUSUM_THRESHOLD && w->cusum.run * w->trace.period >= RUN_S &&
           w->cusum.run > 3;
}

/* Calls it, or lets go of what was called. */
static void decide(struct cooling *c, const struct plateau_tuning *k, struct watch *w, double above,
                   bool over, bool certain, enum cooling_cause cause)
{
    double value = trace_value(&w->trace);
    if (w->verdict.level == 0 && !over)
        return;
    if (w->verdict.level == 0) {
        w->raised_s = c->now_s;
        w->top = 0.0;
    }
    w->top = fmax(w->top, above);
    if (w->verdict.level > 0 && !over && value < k->hot_c && c->now_s - w->raised_s > CALM_S &&
        above < fmax(CALM_K, 0.3 * w->top)) {
        cusum_reset(&w->cusum);
        w->level += fmax(0.0, above); /* that is how it stands now */
        cooling_decide(c, w, 0, COOLING_RISE, CAUSE_NONE);
        return;
    }
    bool hot = value > w->limit_c || value > k->hot_c + 3.0;
    cooling_decide(c, w, w->verdict.level == 3 || hot || certain ? 3 : 2, COOLING_RISE, cause);
}

/* Whether the coolant has fallen though the engine was asked for no less, and how far. */
static double fallen(const struct cooling *c, const struct engine_watch *e)
{
    const struct watch *w = &e->sensor[COOLING_COOLANT];
    if (!w->level_known || c->now_s - trace_last_time(&w->trace) > GAP_S ||
        trace_is_stuck(&w->trace) || predict_unrest_down(&w->predict, &w->usual) > FALLEN_EVEN)
        return 0.0;
    return w->high - trace_value(&w->trace);
}

static void judge_coolant(struct cooling *c, struct engine_watch *e, struct watch *w, double above,
                          bool over)
{
    const struct cooling_verdict *x = &e->sensor[COOLING_EXHAUST].verdict;
    const struct watch *o = &e->sensor[COOLING_OIL_TEMP];
    bool oil_follows = o->trace.count > 0 && c->now_s - trace_last_time(&o->trace) < GAP_S &&
                       c->now_s - o->calm_since_s > FOLLOWS_S && above > coolant.rise_sure &&
                       o->level_known && predict_unrest_up(&o->predict, &o->usual) < OIL_EVEN;
    decide(c, &coolant, w, above, over, oil_follows,
           x->level >= 2 ? CAUSE_RAW_WATER : CAUSE_CIRCULATION);
}

static void judge_oil(struct cooling *c, struct engine_watch *e, struct watch *w, double above,
                      bool over)
{
    const struct cooling_verdict *of_coolant = &e->sensor[COOLING_COOLANT].verdict;
    double k = fallen(c, e);
    bool dry = k > FALLEN_K && c->now_s - w->calm_since_s > FOLLOWS_S;
    enum cooling_cause cause = of_coolant->level > 0  ? of_coolant->cause
                               : dry                  ? CAUSE_COOLANT_LOST
                               : w->verdict.level > 0 ? w->verdict.cause
                                                      : CAUSE_OIL;
    decide(c, &oil, w, above, over || dry, dry && k > FALLEN_SURE, cause);
}

void cooling_plateau_reading(struct cooling *c, int engine, enum cooling_sensor s, double t,
                             double y)
{
    struct engine_watch *e = &c->engine[engine];
    struct watch *w = &e->sensor[s];
    bool is_oil = s == COOLING_OIL_TEMP;
    const struct plateau_tuning *k = is_oil ? &oil : &coolant;
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
    double value = trace_value(&w->trace), rate = slope(k, w, dt, y, taken == TRACE_GOOD);
    if (rate < FOLLOWS_RATE)
        w->calm_since_s = t;
    if (!is_oil) {
        e->has_coolant = true;
        /* A thermostat opens while the coolant rises to it. */
        if (value > COLD_C && rate > OPEN_RATE)
            e->opening_s = t;
        e->coolant_s = t;
    }
    bool has_rpm = cooling_has_rpm(c, e);
    w->verdict.careful = !has_rpm;
    if (has_rpm && !e->running) {
        w->level_known = false;
        w->calm_s = NAN;
        w->calm_since_s = t;
        cusum_reset(&w->cusum);
        cooling_show(w, value, 0.0, 0.0, CUSUM_THRESHOLD);
        return;
    }
    double above = 0.0;
    if (!w->level_known) {
        wait_for_plateau(k, w, t, value, rate);
        cooling_show(w, value, 0.0, 0.0, CUSUM_THRESHOLD);
    } else {
        above = judge_plateau(c, k, e, w, dt, y, taken == TRACE_GOOD);
    }
    bool hot = value > k->hot_c && rate > k->hot_rate && w->trace.count > 8;
    bool over = hot || is_over(k, w, y, above, rate);
    if (is_oil)
        judge_oil(c, e, w, above, over);
    else
        judge_coolant(c, e, w, above, over);
}
