#include "cooling/exhaust.h"

#include "cooling/again.h"
#include "cooling/gulp.h"
#include "cooling/judge.h"
#include "cooling/level.h"

#include <math.h>

#include "base/banned.h"

static const struct figures *figures_of(const struct exhaust_watch *x)
{
    return x->core.boat->figures;
}

void exhaust_init(struct exhaust_watch *x, struct boat *b, const struct engine_run *e,
                  double limit_c, double unit)
{
    *x = (struct exhaust_watch){.engine = e, .calm_s = NAN, .ran = NAN};
    again_init(&x->again);
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
    x->hot_s = x->core.boat->now_s;
    if (!x->engine->running && !x->asks)
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
    x->hot_s = t;
    again_init(&x->again);
}

/* Heat soak is not a cooling failure. */
static void rest(struct exhaust_watch *x, double t, double y)
{
    cusum_reset(&x->core.cusum);
    x->forecast.level_known = false;
    x->excursion.count = 0;
    x->excursion.quiet_s = x->found_s = x->steep_s = t;
    x->over_s = 0.0;
    x->hot_s = t;
    again_init(&x->again);
    core_show(&x->core, y, 0.0, 0.0, figures_of(x)->sum_threshold);
    if (!x->asks)
        core_withdraw(&x->core);
}

static double allowance_of(const struct exhaust_watch *x, double t, double since_start)
{
    const struct figures *k = figures_of(x);
    if (x->core.verdict.careful)
        return k->careful_rise_k;
    double allowed = k->allow_steady_k + level_seldom(x) + level_transient(x);
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
    if (exhaust_is_dry(x) &&
        since_start < k->dry_start_s) { /* gas that was cold gets hot: a start */
        f->level = residual;
        f->level_known = true;
        x->creep.low_s = -dt; /* nor does it creep: that is looked for from the next sample on */
        gulp_quiet(x, t, residual);
        allowance = k->dry_start_allow;
    }
    if (was_stuck(x, same, leap)) { /* the first samples after it may be wild, too */
        f->level_known = false;
        x->core.trace.count = 1;
        young = true;
        cusum_reset(&x->core.cusum);
        gulp_quiet(x, t, residual);
    }
    if (!f->level_known && since_start < k->start_s)
        x->soaked = fmax(0.0, judge_soak(x, residual));
    if (f->level_known && x->predicted > predicted)
        f->level += fmax(0.0, fmin(x->predicted - predicted, residual - f->level));
    x->predicted = predicted;
    if (young) /* of a record, or after a hole: one of them may be wild, and tells no level */
        f->level_known = false;
    level_follow(x, fmax(y, trace_value(&x->core.trace)) - predicted, dt, since_start);
    gulp_remember(x, t, residual);
    double above = residual - f->level - allowance, top = core_add(&x->core, above);
    again_follow(x, above, residual, dt, allowance);
    judge_exhaust(x, y, residual, allowance, dt);
    if (t - x->found_s > k->seen_wet_s && x->core.verdict.level < 2 && !x->core.verdict.careful)
        x->ran = forecast_level(f);
    if (top < k->learn_sum && x->core.verdict.level < 2 && since_start > k->learn_from_s && !young)
        forecast_learn(f, dt, y, sigma);
    x->predicted = predict_value(&f->predict);
}

void exhaust_reading(struct exhaust_watch *x, double t, double value_c)
{
    const struct figures *k = figures_of(x);
    struct trace *tr = &x->core.trace;
    double dt = t - trace_last_time(tr), y = value_c / x->core.unit, leap = y - trace_last(tr);
    int same = trace_is_stuck(tr) ? tr->same : 0;
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
