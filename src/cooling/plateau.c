#include "cooling/plateau.h"

#include <math.h>

#include "base/banned.h"

void plateau_init(struct plateau_watch *p, struct boat *b, const struct engine_run *e,
                  const struct predict_figures *predict, const struct plateau_figures *own,
                  double limit_c)
{
    *p = (struct plateau_watch){.engine = e, .own = own, .even_from_s = NAN};
    core_init(&p->core, b, limit_c, 1.0);
    forecast_init(&p->forecast, b->figures, predict);
}

void plateau_recall(struct plateau_watch *p, double value_c)
{
    p->peak_c = fmax(p->peak_c, value_c);
}

void plateau_engine(struct plateau_watch *p)
{
    cusum_reset(&p->core.cusum);
    p->forecast.settled = false;
    if (!p->engine->running)
        core_withdraw(&p->core);
}

/* Nobody knows what it missed: find the plateau again. */
static void lose(struct plateau_watch *p)
{
    p->forecast.level_known = false;
    p->even_from_s = NAN;
    cusum_reset(&p->core.cusum);
}

void plateau_gap(struct plateau_watch *p)
{
    trace_gap(&p->core.trace);
    p->forecast.settled = false;
    lose(p);
}

bool plateau_is_fresh(const struct plateau_watch *p)
{
    return p->core.boat->now_s - trace_last_time(&p->core.trace) <= p->own->hole_s;
}

/* Warming up tells nothing: wait until it holds. */
static void wait_for_plateau(struct plateau_watch *p, double t, double value, double rate)
{
    const struct plateau_figures *k = p->own;
    struct forecast *f = &p->forecast;
    if (fabs(rate) > k->plateau_rate || value < k->warm_c || isnan(p->even_from_s))
        p->even_from_s = t;
    if (t - p->even_from_s < k->plateau_s)
        return;
    predict_init(&f->predict, p->core.boat->figures, f->predict.own);
    f->usual.known = false;
    f->settled = false;
    f->level = 0.0;
    f->level_known = true;
    p->peak_c = fmax(p->peak_c, value); /* what it stood at before a stop counts */
    p->age_s = 0.0;
    p->low_c = p->high_c = value;
    p->even_from_s = NAN;
}

/* What it stands at becomes what is normal, no faster than allowed. */
static void follow(struct plateau_watch *p, double value_c, double miss, double dt, bool due,
                   double sum)
{
    const struct plateau_figures *k = p->own;
    struct forecast *f = &p->forecast;
    predict_follow(&f->predict, &f->usual, dt, k->usual_s);
    double move = (1.0 - exp(-dt / k->level_s)) * (miss - f->level);
    f->level += fmax(-k->fall * dt, fmin(k->climb * dt, move));
    p->peak_c = fmax(p->peak_c - k->peak_fade * dt,
                     fmin(trace_value(&p->core.trace), p->peak_c + k->climb * dt));
    if (due && sum < k->learn_sum)
        forecast_learn(f, p->unlearned_s, value_c, p->core.trace.sigma);
    /* A climb that was allowed for is where it stands now. */
    double after = sum > 0.0 ? 0.0 : (1.0 - exp(-dt / k->low_s)) * (p->far_c - p->low_c);
    p->low_c = fmin(p->low_c + fmax(k->low_climb * dt, after), p->far_c);
}

/* How far it stands above what it should, and what it may. */
static double compare(struct plateau_watch *p, double dt, double value_c, bool good)
{
    const struct plateau_figures *k = p->own;
    struct forecast *f = &p->forecast;
    forecast_advance(f, p->engine, dt);
    if (!f->predict.known)
        predict_learn(&f->predict, dt, value_c, p->core.trace.sigma);
    double miss = value_c - predict_value(&f->predict);
    p->age_s += dt;
    p->high_c = fmax(p->high_c - k->high_fade * dt, trace_value(&p->core.trace));
    p->unlearned_s += dt;
    bool due = p->unlearned_s >= k->learn_s;
    if (due)
        p->doubt = predict_doubt(&f->predict, &f->usual);
    double young = p->age_s < k->young_s ? k->young : 1.0;
    double allowance = k->steady_k +
                       young * k->unrest_k * predict_unrest_up(&f->predict, &f->usual) +
                       k->soak_k * predict_unrest(&f->predict, &f->usual) + k->doubt * p->doubt;
    double expected = fmax(value_c - miss + f->level, p->peak_c);
    double sum = core_add(&p->core, value_c - expected - allowance);
    core_show(&p->core, expected, allowance, sum, p->core.boat->figures->sum_threshold);
    if (good && p->core.verdict.level == 0)
        follow(p, value_c, miss, dt, due, sum);
    if (due)
        p->unlearned_s = 0.0;
    return value_c - expected;
}

/* K/s: steps of 1 K must not pass for slopes. */
static double slope(struct plateau_watch *p, double dt, double value_c, bool good)
{
    const struct plateau_figures *k = p->own;
    if (p->core.trace.count == 1)
        p->near_c = p->far_c = value_c;
    if (good) {
        p->near_c += (1.0 - exp(-dt / k->smooth_s)) * (value_c - p->near_c);
        p->far_c += (1.0 - exp(-dt / k->slower_s)) * (value_c - p->far_c);
    }
    return (p->near_c - p->far_c) / (k->slower_s - k->smooth_s);
}

/* Whether it stands as far above what is expected as its figures ask, and still climbs. */
static bool is_over(const struct plateau_watch *p, double value_c, const struct plateau_reading *r)
{
    const struct plateau_figures *k = p->own;
    const struct core *c = &p->core;
    if (!p->forecast.level_known || c->verdict.statistic < c->boat->figures->sum_threshold ||
        c->cusum.run * c->trace.period < k->run_s || c->cusum.run <= k->run_least)
        return false;
    if (!(r->rate > k->rise_rate || (r->above > k->rise_sure_k && r->rate > k->sure_rate)))
        return false;
    double stood = fmax(c->verdict.expected, p->low_c);
    double gain = fmin(value_c, trace_value(&c->trace)) - stood;
    double unrest = predict_unrest_up(&p->forecast.predict, &p->forecast.usual);
    double least = unrest < k->even && p->age_s > k->even_s ? k->rise_even_k : k->rise_least_k;
    bool fresh = p->age_s < k->fresh_s || stood < k->band_c || engine_is_blind(p->engine);
    return gain >= least && (!fresh || gain >= k->rise_band_k);
}

/* So hot that it speaks whatever came before. */
static bool is_hot(const struct plateau_watch *p, double rate)
{
    const struct trace *t = &p->core.trace;
    return rate > p->own->hot_rate && trace_value(t) > p->own->hot_c + p->own->hot_over_k &&
           t->count > p->own->hot_count;
}

bool plateau_take(struct plateau_watch *p, double t, double value_c, struct plateau_reading *r,
                  double *dt)
{
    const struct plateau_figures *k = p->own;
    struct trace *tr = &p->core.trace;
    *dt = t - trace_last_time(tr);
    double before = trace_last(tr);
    bool was_stuck = trace_is_stuck(tr);
    enum trace_taken taken = trace_add(tr, t, value_c);
    if (taken == TRACE_OLD || trace_is_stuck(tr))
        return false;
    if (*dt > k->hole_s || (was_stuck && fabs(value_c - before) > k->stuck_leap_k))
        lose(p);
    *dt = isnan(*dt) ? k->first_s : fmin(*dt, k->hole_most_s);
    *r = (struct plateau_reading){.good = taken == TRACE_GOOD};
    r->rate = slope(p, *dt, value_c, r->good);
    if (r->rate < p->core.boat->figures->follows_rate)
        p->flat_s = t;
    return true;
}

void plateau_judge(struct plateau_watch *p, double t, double value_c, double dt,
                   struct plateau_reading *r)
{
    double value = trace_value(&p->core.trace), threshold = p->core.boat->figures->sum_threshold;
    bool has_rpm = engine_has_rpm(p->engine);
    p->core.verdict.careful = !has_rpm;
    if (has_rpm && !p->engine->running) {
        lose(p);
        p->flat_s = t;
        core_show(&p->core, value, 0.0, 0.0, threshold);
        core_withdraw(&p->core);
        return;
    }
    r->known = true;
    if (p->forecast.level_known) {
        r->above = compare(p, dt, value_c, r->good);
    } else {
        wait_for_plateau(p, t, value, r->rate);
        core_show(&p->core, value, 0.0, 0.0, threshold);
    }
    bool hot = is_hot(p, r->rate);
    r->over = hot || is_over(p, value_c, r);
    if ((hot || p->core.verdict.level > 0) && value > p->own->hot_c && !core_is_beyond(&p->core))
        core_show(&p->core, p->own->hot_c, 0.0, 0.0, threshold);
}

void plateau_decide(struct plateau_watch *p, double above, bool over, bool certain,
                    enum cooling_cause cause)
{
    const struct plateau_figures *k = p->own;
    struct core *c = &p->core;
    int level = c->verdict.level;
    double value = trace_value(&c->trace), now_s = c->boat->now_s;
    bool beyond = core_is_beyond(c);
    if (level == 0 && !(over && beyond))
        return;
    if (level == 0) {
        c->raised_s = now_s;
        p->top = 0.0;
    }
    p->top = fmax(p->top, above);
    bool small = above < fmax(k->calm_k, k->calm_share * p->top);
    if (!beyond ||
        (level > 0 && !over && value < k->hot_c && now_s - c->raised_s > k->calm_s && small)) {
        cusum_reset(&c->cusum);
        p->forecast.level += fmax(0.0, above); /* that is how it stands now */
        core_withdraw(c);
        return;
    }
    bool hot = value > c->limit_c || value > k->hot_c + k->hot_sure_k;
    core_decide(c, level == 3 || hot || certain ? 3 : 2, COOLING_RISE, cause);
}
