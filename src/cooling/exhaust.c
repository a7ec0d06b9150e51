#include "cooling/exhaust.h"

#include "cooling/gulp.h"
#include "cooling/level.h"

#include <math.h>

#include "base/banned.h"

static const struct figures *figures_of(const struct exhaust_watch *x)
{
    return x->core.boat->figures;
}

static bool is_dry(const struct exhaust_watch *x)
{
    return x->core.unit > 1.0;
}

void exhaust_init(struct exhaust_watch *x, struct boat *b, const struct engine_run *e,
                  double limit_c, double unit)
{
    *x = (struct exhaust_watch){.engine = e, .calm_s = NAN};
    core_init(&x->core, b, limit_c, unit);
    forecast_init(&x->forecast, b->figures, &b->figures->predict_exhaust);
}

void exhaust_pair(struct exhaust_watch *x, const struct engine_run *e,
                  const struct exhaust_watch *twin)
{
    x->twin_engine = e;
    x->twin = twin;
}

void exhaust_recall(struct exhaust_watch *x, double rpm, double value_c, double spread_k)
{
    double u = rpm / figures_of(x)->speed_unit;
    predict_recall(&x->forecast.predict, u, u * u, value_c / x->core.unit,
                   fmax(spread_k, 0.0) / x->core.unit);
}

void exhaust_engine(struct exhaust_watch *x)
{
    cusum_reset(&x->core.cusum);
    x->forecast.settled = false;
    if (!x->engine->running)
        core_withdraw(&x->core);
}

/* What was expected is of another time: begin as with an engine found running. */
void exhaust_gap(struct exhaust_watch *x, double t)
{
    trace_gap(&x->core.trace);
    cusum_reset(&x->core.cusum);
    x->forecast.level_known = x->forecast.settled = false;
    x->excursion.count = 0;
    x->excursion.quiet_s = t;
    x->calm_s = NAN;
}

/* ---- the verdict ---- */

/* Above: how far over what is allowed for. A start is steep by itself: it is no alarm before the
 * water has had its time to come. */
static int level_of(const struct exhaust_watch *x, double above, bool start)
{
    const struct figures *k = figures_of(x);
    const struct cooling_verdict *v = &x->core.verdict;
    if (v->level == 3)
        return 3;
    double stood_s = x->core.boat->now_s - x->core.raised_s;
    if (start && v->value < x->core.limit_c && (v->level < 2 || stood_s < k->start_stands_s))
        return 2;
    bool near = v->value >= x->core.limit_c || v->seconds_to_limit < k->alarm_near_s;
    bool stands = v->level == 2 && stood_s > k->alarm_stands_s;
    return (near && above > k->alarm_near_k) || (stands && above > k->alarm_far_k) ? 3 : 2;
}

/* Whether a start that was seen still explains heat that stays. */
static bool is_starting(const struct exhaust_watch *x)
{
    const struct engine_run *e = x->engine;
    return e->started_here && x->core.boat->now_s - e->since_s < figures_of(x)->settle_s;
}

/* However slowly it got there: no healthy wet exhaust stays above its limit. */
static void watch_limit(struct exhaust_watch *x, double dt)
{
    const struct figures *k = figures_of(x);
    bool over = x->core.verdict.value > x->core.limit_c + k->over_k;
    x->over_s = over ? x->over_s + fmin(dt, k->over_sample_s) : 0.0;
}

static bool stays_over(const struct exhaust_watch *x)
{
    return x->over_s > figures_of(x)->over_s;
}

/* Two lags of the heat of a start, from the moment it is called. */
static void follow_start(struct exhaust_watch *x, double y, double dt)
{
    const struct figures *k = figures_of(x);
    const struct cooling_verdict *v = &x->core.verdict;
    bool here = v->cause == CAUSE_SEACOCK;
    x->near = here ? x->near + (1.0 - exp(-dt / k->flat_short_s)) * (y - x->near) : y;
    x->far = here ? x->far + (1.0 - exp(-dt / k->flat_long_s)) * (y - x->far) : y;
    double rate = (x->near - x->far) / (k->flat_long_s - k->flat_short_s);
    if (!here || rate > k->flat_rate || v->value > x->core.limit_c - k->flat_below_k)
        x->steep_s = x->core.boat->now_s;
}

/* A shut seacock ends in boiling water: what levels off far below was a start like any other. */
static bool levelled_off(const struct exhaust_watch *x)
{
    return x->core.boat->now_s - x->steep_s > figures_of(x)->flat_s;
}

/* Whether the sums speak, of what climbs fast or climbs far: what does neither waits for the slow
 * test. */
static bool rises(const struct exhaust_watch *x, double y, double above)
{
    const struct figures *k = figures_of(x);
    const struct core *c = &x->core;
    return cusum_value(&c->cusum) >= k->sum_threshold && c->cusum.run >= k->run_least &&
           above > 0.0 && (!c->verdict.careful || y > k->careful_hot_c) &&
           (c->verdict.rate_per_min / c->unit >= k->climb_rate || above >= k->climb_far_k);
}

/* Something stands from now on. */
static void begin(struct exhaust_watch *x, enum cooling_kind kind, bool slow)
{
    x->slow = slow;
    x->core.raised_s = x->core.boat->now_s;
    x->core.verdict.kind = kind;
    x->peak = 0.0;
    x->calm_s = NAN;
}

/* Nothing stands yet. False: and nothing shall. */
static bool judge_quiet(struct exhaust_watch *x, double y, double *above, double allowance)
{
    const struct figures *k = figures_of(x);
    bool fast = false;
    if (rises(x, y, *above)) {
        gulp_steepen(x, *above);
        fast = gulp_is_none(x, *above, allowance, is_starting(x));
    }
    if (fast || stays_over(x)) {
        begin(x, COOLING_RISE, false);
        return true;
    }
    enum cooling_kind kind;
    double may, crept = level_creep(x, &kind, &may);
    if (is_dry(x)) /* dry gas goes with the load of the hour */
        may *= k->dry_slow;
    bool far = crept >= may && !x->core.verdict.careful;
    if (!far || level_together(x)) {
        bool stays = x->core.verdict.level == 1 && crept > k->creep_stays * may;
        core_decide(&x->core, far || stays ? 1 : 0, COOLING_DEPARTURE, CAUSE_SEA_OR_LOAD);
        return false;
    }
    core_show(&x->core, y - crept, may, crept * x->core.unit, may * x->core.unit);
    begin(x, kind, true);
    *above = crept;
    return true;
}

/* It is over; the next of its kind must be larger. */
static void release(struct exhaust_watch *x, double residual)
{
    cusum_reset(&x->core.cusum);
    gulp_quiet(x, x->core.boat->now_s, residual);
    core_withdraw(&x->core);
}

/* Something stands. */
static void judge_raised(struct exhaust_watch *x, double residual, double above)
{
    const struct figures *k = figures_of(x);
    double now_s = x->core.boat->now_s;
    x->peak = fmax(x->peak, above);
    if (above > k->calm_share * x->peak || stays_over(x)) {
        const struct engine_run *e = x->engine;
        bool start = e->started_here && x->core.raised_s - e->since_s < k->start_s;
        x->calm_s = NAN;
        core_decide(&x->core, level_of(x, above, start), x->core.verdict.kind,
                    start ? CAUSE_SEACOCK : CAUSE_RAW_WATER);
    } else if (isnan(x->calm_s)) {
        x->calm_s = now_s;
    } else if (now_s - x->calm_s > k->calm_s && x->core.verdict.value < x->core.limit_c) {
        x->excursion.top =
            fmax(x->excursion.top, x->peak); /* it went back by itself, like a gulp */
        release(x, residual);
    }
}

static void judge(struct exhaust_watch *x, double y, double residual, double allowance, double dt)
{
    const struct figures *k = figures_of(x);
    double above = residual - x->forecast.level - allowance;
    core_show(&x->core, y - (residual - x->forecast.level), allowance, cusum_value(&x->core.cusum),
              k->sum_threshold);
    watch_limit(x, dt);
    if (above <= k->gulp_quiet_sigmas * x->core.trace.sigma)
        gulp_quiet(x, x->core.boat->now_s, residual);
    else if (!is_starting(x))
        gulp_turn_back(x, above);
    if (x->core.verdict.level < 2) {
        if (!judge_quiet(x, y, &above, allowance))
            return;
    } else if (x->slow) {
        above = level_crept(x);
    }
    follow_start(x, y, dt);
    if (levelled_off(x)) {
        x->forecast.level = residual;
        x->excursion.top = 0.0; /* and no gulp that the next one must exceed */
        release(x, residual);
        return;
    }
    judge_raised(x, residual, above);
}

/* ---- one reading ---- */

/* Heat soak is no cooling failure. */
static void rest(struct exhaust_watch *x, double t, double y)
{
    cusum_reset(&x->core.cusum);
    x->forecast.level_known = false;
    x->excursion.count = 0;
    x->excursion.quiet_s = x->found_s = x->steep_s = t;
    x->over_s = 0.0;
    core_show(&x->core, y, 0.0, 0.0, figures_of(x)->sum_threshold);
}

static double allowance_of(const struct exhaust_watch *x, double t, double since_start)
{
    const struct figures *k = figures_of(x);
    if (x->core.verdict.careful)
        return k->careful_rise_k;
    double allowed = k->allow_steady_k + level_transient(x);
    if (since_start < k->start_s)
        allowed += k->start_allow_k;
    else if (t - x->found_s < k->found_s)
        allowed += k->found_allow_k * exp(-(t - x->found_s) / k->found_lag_s);
    return allowed;
}

/* Whether it was stuck until this sample, and nobody knows what it missed. */
static bool was_stuck(const struct exhaust_watch *x, int same, double leap)
{
    const struct figures *k = figures_of(x);
    const struct trace *tr = &x->core.trace;
    return same * tr->period > k->same_s && fabs(leap) > k->same_leap_k +
                                                             k->same_leap_sigmas * tr->sigma +
                                                             k->same_leap_steps * tr->step;
}

/* A sample of a running engine, dt after the last one. */
static void judge_running(struct exhaust_watch *x, double t, double y, double dt, int same,
                          double leap)
{
    const struct figures *k = figures_of(x);
    struct forecast *f = &x->forecast;
    double sigma = x->core.trace.sigma;
    forecast_advance(f, x->engine, dt);
    double since_start = engine_since_start(x->engine, t);
    if (!f->level_known)
        x->found_s = t;
    bool young = x->core.trace.count <= k->first_samples;
    if (!f->predict.known && !young)
        forecast_learn(f, dt, y, sigma);
    double predicted = predict_value(&f->predict), residual = y - predicted;
    double allowance = allowance_of(x, t, since_start);
    if (trace_is_stuck(&x->core.trace)) { /* it tells nothing, neither heat nor calm */
        cusum_reset(&x->core.cusum);
        return;
    }
    if (is_dry(x) && since_start < k->dry_start_s) { /* gas that was cold gets hot: a start */
        f->level = residual;
        f->level_known = true;
        x->creep.low_s = -dt; /* nor does it creep: that is looked for from the next sample on */
        gulp_quiet(x, t, residual);
        allowance = k->dry_start_allow;
    }
    if (was_stuck(x, same, leap)) {
        f->level_known = false;
        cusum_reset(&x->core.cusum);
        gulp_quiet(x, t, residual);
    }
    if (f->level_known && x->predicted > predicted)
        f->level += fmax(0.0, fmin(x->predicted - predicted, residual - f->level));
    x->predicted = predicted;
    if (young) /* of a record, or after a hole: one of them may be wild, and tells no level */
        f->level_known = false;
    level_follow(x, fmax(y, trace_value(&x->core.trace)) - predicted, dt, since_start);
    gulp_remember(x, t, residual);
    double top = core_add(&x->core, residual - f->level - allowance);
    judge(x, y, residual, allowance, dt);
    if (top < k->learn_sum && x->core.verdict.level < 2 && since_start > k->learn_from_s && !young)
        forecast_learn(f, dt, y, sigma);
    x->predicted = predict_value(&f->predict);
}

void exhaust_reading(struct exhaust_watch *x, double t, double value_c)
{
    const struct figures *k = figures_of(x);
    struct trace *tr = &x->core.trace;
    double dt = t - trace_last_time(tr), y = value_c / x->core.unit, leap = y - trace_last(tr);
    int same = tr->same;
    if (trace_add(tr, t, y) != TRACE_GOOD) /* a wild one neither makes heat nor hides it */
        return;
    dt = isnan(dt) ? k->exhaust_first_s : fmin(dt, k->exhaust_hole_s);
    bool has_rpm = engine_has_rpm(x->engine);
    x->core.verdict.careful = !has_rpm;
    if (has_rpm && !x->engine->running)
        rest(x, t, y);
    else
        judge_running(x, t, y, dt, same, leap);
}
