#include "cooling/level.h"

#include "cooling/again.h"

#include <math.h>

#include "base/banned.h"

static const struct figures *figures_of(const struct exhaust_watch *x)
{
    return x->core.boat->figures;
}

const struct exhaust_watch *level_twin(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    const struct exhaust_watch *twin = x->twin;
    if (!twin)
        return NULL;
    const struct engine_run *e = x->twin_engine;
    double now_s = x->core.boat->now_s;
    if (!e->running || !e->known || twin->creep.low_s <= 0.0 || twin->core.verdict.level > 1 ||
        !twin->core.trace.count || now_s - trace_last_time(&twin->core.trace) > k->twin_held_s ||
        trace_is_stuck(&twin->core.trace) || now_s - e->since_s < k->creep_from_s)
        return NULL;
    return twin;
}

/* What a start lets the level climb, K/s: soon, and some more as iron and hose warm. */
static double start_climb(const struct figures *k, double since_start)
{
    double extra = k->start_rise_k / k->start_lag_s * exp(-since_start / k->start_lag_s) +
                   k->soak_rise_k / k->soak_lag_s * exp(-since_start / k->soak_lag_s);
    return since_start < k->soak_lags * k->soak_lag_s ? extra : 0.0;
}

static enum thermostat thermostat_now(const struct exhaust_watch *x, double since_start)
{
    const struct figures *k = figures_of(x);
    const struct engine_run *e = x->engine;
    double now_s = x->core.boat->now_s;
    if (since_start < k->start_s)
        return THERMOSTAT_RESTS;
    if (!e->has_coolant)
        return since_start > k->warm_blind_s ? THERMOSTAT_RESTS : THERMOSTAT_MAY_OPEN;
    /* What lost water does to the coolant comes after it has warmed the exhaust. */
    if (now_s - x->excursion.quiet_s >
        fmax(k->warm_held_s, k->warm_held_periods * x->core.trace.period))
        return x->creep.thermostat;
    double told_s = fmin(now_s, e->coolant_s);
    return told_s - e->opens_s <= k->warm_s     ? THERMOSTAT_OPENS
           : told_s - e->opening_s <= k->warm_s ? THERMOSTAT_MAY_OPEN
                                                : THERMOSTAT_RESTS;
}

/* K/s that a settled exhaust may climb: warmer water warms both. */
static double steady_climb(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    const struct exhaust_watch *twin = level_twin(x);
    double most = engine_is_blind(x->engine) ? k->blind_climb : k->climb;
    /* An alternator heats the exhaust of an engine that idles, but not without end. */
    if (engine_idles_blind(x->engine) &&
        forecast_level(&x->forecast) - x->creep.low > k->idle_most_k)
        most = k->climb_known;
    if (twin)
        most = fmin(most, k->climb_known + k->climb_share * twin->creep.climbed);
    if (boat_sea_known(x->core.boat))
        most = fmin(most, k->climb_known + k->climb_share * x->core.boat->sea.climbed);
    return most;
}

/* What stood lowest: a fall that does not last, of a probe that slips, does not count. */
static double follow_low(const struct figures *k, double low, double now, double dt)
{
    return now < low ? low + (1.0 - exp(-dt / k->creep_fall_s)) * (now - low) : low;
}

/* Slow failures are looked for within one speed, and from a thermostat's opening on. */
static void follow_creep(struct exhaust_watch *x, double dt, double since_start)
{
    const struct figures *k = figures_of(x);
    struct creep *c = &x->creep;
    double slow = predict_slow_unrest(&x->forecast.predict), sea_c = x->core.boat->sea.level_c;
    c->low_s += dt;
    if (slow > k->creep_anchor || since_start < k->start_s || c->leapt)
        c->low_s = 0.0;
    c->leapt = false;
    double level = forecast_level(&x->forecast), pull = 0.0;
    if (slow > k->creep_settled) /* the tail of a change of speed is not creep */
        pull = 1.0 - exp(-dt * slow / k->creep_anchor / k->creep_tail_s);
    c->low = c->low_s <= 0.0 ? level : c->low + pull * (level - c->low);
    c->low = follow_low(k, c->low + k->creep_leak_alone * dt, level, dt);
    c->sea_low = c->low_s <= 0.0 ? sea_c : c->sea_low + pull * (sea_c - c->sea_low);
    c->sea_low = fmin(c->sea_low, sea_c);
    const struct exhaust_watch *twin = level_twin(x);
    c->apart = twin ? level - forecast_level(&twin->forecast) : 0.0;
    if (!twin || c->low_s <= 0.0)
        c->apart_s = 0.0;
    else
        c->apart_s += dt;
    c->apart_low = c->apart_s <= 0.0 ? c->apart : c->apart_low + pull * (c->apart - c->apart_low);
    c->apart_low = follow_low(k, c->apart_low + k->creep_leak_twin * dt, c->apart, dt);
}

/* Moves a level that is known. */
static void climb(struct exhaust_watch *x, double residual, double dt, double since_start)
{
    const struct figures *k = figures_of(x);
    struct forecast *f = &x->forecast;
    struct creep *c = &x->creep;
    double slow = predict_slow_unrest(&f->predict);
    bool rests = c->thermostat == THERMOSTAT_RESTS;
    double lag =
        rests && since_start > k->level_settled_lags * k->soak_lag_s ? k->level_s : k->level_cold_s;
    lag = fmin(lag, fmax(k->level_cold_s, 1.0 / fmax(slow, 1e-3)));
    double move = (1.0 - exp(-dt / lag)) * (residual - f->level);
    double usual_climb = (steady_climb(x) + start_climb(k, since_start) +
                          k->climb_unrest * predict_slow_up(&f->predict) + k->climb_down * slow) *
                         dt;
    double cold = k->climb_cold * dt;
    if (c->thermostat == THERMOSTAT_OPENS)
        cold = fmax(cold, k->climb_opens * fmin(dt, k->opens_step_s));
    double most = rests ? usual_climb : fmin(cold, usual_climb + c->cold_budget);
    if (x->core.verdict.level >= 2) /* what is called heat must not become what is normal */
        most = k->creep_leak_alone * dt;
    move = fmax(-k->level_fall * dt, fmin(most, move));
    double beyond = fmax(0.0, move - usual_climb);
    c->cold_budget -= beyond;
    c->given = c->given * exp(-dt / k->given_s) + beyond;
    if (rests && c->cold_budget < k->cold_budget_k && since_start > k->start_s)
        c->cold_budget =
            fmin(k->cold_budget_k, c->cold_budget + dt * k->cold_budget_k / k->cold_budget_s);
    f->level += move;
    /* The twin's test asks how fast this one climbs, and did within the last minute. */
    c->rate += (1.0 - exp(-dt / k->level_rate_s)) * (move / dt - c->rate);
    c->climbed = fmax(c->rate, c->climbed * exp(-dt / k->level_climbed_s));
}

void level_anchor(struct exhaust_watch *x)
{
    x->creep.leapt = true;
}

void level_follow(struct exhaust_watch *x, double residual, double dt, double since_start)
{
    const struct figures *k = figures_of(x);
    struct forecast *f = &x->forecast;
    enum thermostat now = thermostat_now(x, since_start);
    if ((now == THERMOSTAT_RESTS) != (x->creep.thermostat == THERMOSTAT_RESTS))
        level_anchor(x);
    x->creep.thermostat = now;
    double back_to = fmin(residual, again_back_to(x));
    if (f->level_known && back_to > f->level) /* where it stood lately is not heat */
        f->level = back_to;
    if (f->level_known && !again_waits(x)) {
        climb(x, residual, dt, since_start);
    } else if (!f->level_known) {
        f->level = residual;
        f->level_known = true;
        f->usual.known = false;
        level_anchor(x);
        x->creep.cold_budget = k->cold_budget_k;
    }
    if (since_start < k->run_up_s) /* the lags are being settled: no speed is usual yet */
        f->usual.known = false;
    predict_follow(&f->predict, &f->usual, dt, k->level_usual_s);
    follow_creep(x, dt, since_start);
}

/* The twin's changes count too: it takes the boat's way off, or gives it, and with it this engine's
 * load. */
double level_seldom(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    double period = x->core.trace.period;
    return k->seldom_allow * fmax(0.0, period - k->seldom_s) +
           k->seldom_more * fmax(0.0, period - k->seldom_long_s);
}

double level_transient(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    const struct predict *p = &x->forecast.predict;
    const struct usual *u = &x->forecast.usual;
    double allowed = k->allow_unrest_k * predict_unrest(p, u) +
                     k->allow_down_k * predict_unrest_down(p, u) +
                     k->allow_doubt * fmin(k->allow_doubt_most_k, predict_doubt(p, u)) +
                     k->allow_change * fabs(predict_change(p, u));
    if (x->twin && x->twin_engine->running)
        allowed +=
            k->allow_twin_k * predict_unrest(&x->twin->forecast.predict, &x->twin->forecast.usual);
    return allowed;
}

bool level_together(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    const struct boat *b = x->core.boat;
    double own = forecast_level(&x->forecast) - x->creep.low;
    const struct exhaust_watch *twin = level_twin(x);
    const struct creep *c = &x->creep;
    if (twin && forecast_level(&twin->forecast) - twin->creep.low > k->together_share * own)
        return true;
    /* Nor need the twin have been looked at for as long: what its distance has not gained is
     * both's. */
    if (twin && c->apart_s > k->creep_from_s && c->apart_s >= c->low_s &&
        own - (c->apart - c->apart_low) > k->together_share * own)
        return true;
    return boat_sea_known(b) && b->sea.level_c - x->creep.sea_low > k->together_share * own;
}

/* Deviations of the level itself. */
static double level_noise(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    return k->level_sigmas * x->core.trace.sigma *
           sqrt(fmin(x->core.trace.period / (2.0 * k->level_s), 1.0));
}

double level_creep(const struct exhaust_watch *x, enum cooling_kind *kind, double *allowance)
{
    const struct figures *k = figures_of(x);
    const struct boat *b = x->core.boat;
    const struct creep *c = &x->creep;
    double fresh =
        engine_since_start(x->engine, b->now_s) < k->creep_fresh_s ? k->creep_fresh_k : 0.0;
    double own = fresh + level_transient(x) + k->creep_seldom * level_seldom(x) + level_noise(x) +
                 (c->thermostat == THERMOSTAT_RESTS ? 0.0 : k->cold_budget_k);
    double gain = c->low_s < k->creep_from_s ? 0.0 : forecast_level(&x->forecast) - c->low;
    *kind = COOLING_DEPARTURE;
    if (engine_is_blind(x->engine))
        own += k->blind_k;
    *allowance =
        own + (boat_sea_known(b) ? k->creep_sea_k + k->climb_share * (b->sea.level_c - c->sea_low)
                                 : k->creep_alone_k);
    const struct exhaust_watch *twin = level_twin(x);
    if (!twin || c->apart_s < k->creep_from_s)
        return gain;
    /* A twin that cools is not heat here. */
    double split = fmin(c->apart - c->apart_low, gain);
    double allow = k->creep_twin_k + own + level_noise(twin) + level_transient(twin) +
                   (twin->creep.thermostat == THERMOSTAT_RESTS ? 0.0 : k->cold_budget_k);
    if (split - allow < gain - *allowance)
        return gain;
    *kind = COOLING_SPLIT;
    *allowance = allow;
    return split;
}

double level_crept(const struct exhaust_watch *x)
{
    if (x->core.verdict.kind == COOLING_SPLIT)
        return x->creep.apart - x->creep.apart_low;
    return forecast_level(&x->forecast) - x->creep.low;
}

double level_may_stay(const struct exhaust_watch *x)
{
    enum cooling_kind kind;
    double may;
    level_creep(x, &kind, &may);
    return figures_of(x)->creep_stays * may;
}
