#include "cooling/judge.h"

#include "cooling/again.h"
#include "cooling/gulp.h"
#include "cooling/level.h"

#include <math.h>

#include "base/banned.h"

static const struct figures *figures_of(const struct exhaust_watch *x)
{
    return x->core.boat->figures;
}

/* ---- what holds ---- */

/* Whether a lifted intake may explain it: it is young, or its climb has eased since the water came
 * back. */
static bool may_be_lift(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    double climbed_s = x->core.boat->now_s - x->excursion.quiet_s;
    bool eases = x->core.verdict.rate_per_min < k->alarm_on * x->steepest;
    return climbed_s < k->alarm_climb_s || (eases && climbed_s < k->alarm_rest_s);
}

/* Whether its probe stands in water: so it was called, or it or its twin has long run far below the
 * limit. */
static bool is_wet(const struct exhaust_watch *x)
{
    return x->called_wet || x->seen_wet || (x->twin && x->twin->seen_wet);
}

/* Whether its limit is passed, or comes within moments. */
static bool is_last(const struct exhaust_watch *x)
{
    const struct cooling_verdict *v = &x->core.verdict;
    return v->value >= x->core.limit_c || v->seconds_to_limit < figures_of(x)->alarm_last_s;
}

/* A start is steep by itself: it is not an alarm before the water has had its time to come. Nor is
 * a climb that a lifted intake may explain. */
static bool is_certain(const struct exhaust_watch *x, double above, bool start)
{
    const struct figures *k = figures_of(x);
    const struct cooling_verdict *v = &x->core.verdict;
    double now_s = x->core.boat->now_s, stood_s = now_s - x->core.raised_s;
    bool past = v->value >= x->core.limit_c, last = is_last(x);
    if (start && !is_wet(x) && !exhaust_is_dry(x))
        return false; /* it may be dry gas: its limit speaks, and soon the question is asked */
    if (start && !last && (v->level < 2 || stood_s < k->start_stands_s))
        return false;
    if (!start && !last && may_be_lift(x))
        return false;
    bool climbs = v->rate_per_min / x->core.unit > k->alarm_rate;
    if (!past && !climbs && v->value < x->core.limit_c - k->flat_below_k)
        return false; /* it has come to rest far below its limit: partial, or no failure at all */
    bool near = past || v->seconds_to_limit < k->alarm_near_s;
    /* A load that nobody tells, a probe that comes and goes, look the same but near the limit. */
    bool came_and_went = x->again.times > 0 && !again_stays(x, above);
    bool doubtful = engine_is_blind(x->engine) || came_and_went || x->again.drops > 0;
    bool stands = v->level == 2 && stood_s > k->alarm_stands_s && !doubtful;
    return (near && above > k->alarm_near_k) || (stands && above > k->alarm_far_k);
}

/* Whether a start that was seen still explains heat that stays. */
static bool is_starting(const struct exhaust_watch *x)
{
    const struct engine_run *e = x->engine;
    return e->started_here && x->core.boat->now_s - e->since_s < figures_of(x)->settle_s;
}

static bool stays_over(const struct exhaust_watch *x)
{
    return x->over_s > figures_of(x)->over_s;
}

/* A shut seacock ends in boiling water: what levels off far below was a start like any other. */
static bool levelled_off(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    return x->core.verdict.cause == CAUSE_SEACOCK && x->core.boat->now_s - x->steep_s > k->flat_s &&
           x->core.verdict.value <= x->core.limit_c - k->flat_below_k;
}

/* Whether the sums speak, of what climbs fast or climbs far: what does neither waits for the slow
 * test. */
static bool rises(const struct exhaust_watch *x, double y, double above)
{
    const struct figures *k = figures_of(x);
    const struct core *c = &x->core;
    double least =
        c->trace.period < k->seldom_s || c->trace.has_leapt ? k->run_least : k->run_least - 1.0;
    return cusum_value(&c->cusum) >= k->sum_threshold && c->cusum.run >= least && above > 0.0 &&
           core_is_beyond(c) && (!c->verdict.careful || y > k->careful_hot_c) &&
           (c->verdict.rate_per_min / c->unit >= k->climb_rate || above >= k->climb_far_k);
}

/* Whether it has come back itself: a throttle that opens lets more be expected, and lost water goes
 * on climbing. */
static bool has_come_back(const struct exhaust_watch *x)
{
    double value = x->core.verdict.value;
    double fallen = figures_of(x)->back_share * x->peak * x->core.unit;
    bool rests = x->core.boat->now_s - fmax(x->steep_s, x->beyond_s) > figures_of(x)->flat_s;
    return value <= x->held + x->held_allowance || value < x->hottest - fallen || rests;
}

/* ---- what is followed ---- */

/* However slowly it got there: no healthy wet exhaust stays above its limit. */
static void watch_limit(struct exhaust_watch *x, double dt)
{
    const struct figures *k = figures_of(x);
    bool over = x->core.verdict.value > x->core.limit_c + k->over_k;
    x->over_s = over ? x->over_s + fmin(dt, k->over_sample_s) : 0.0;
}

/* Two lags of heat, from the moment it is called. */
static void follow_heat(struct exhaust_watch *x, double y, double dt)
{
    const struct figures *k = figures_of(x);
    bool here = x->core.verdict.level >= 2;
    x->near = here ? x->near + (1.0 - exp(-dt / k->flat_short_s)) * (y - x->near) : y;
    x->far = here ? x->far + (1.0 - exp(-dt / k->flat_long_s)) * (y - x->far) : y;
    double rate = (x->near - x->far) / (k->flat_long_s - k->flat_short_s);
    if (!here || rate > k->flat_rate)
        x->steep_s = x->core.boat->now_s;
}

/* Shows what a slow verdict stands on: how far the level has crept, of what it may. */
static void show_creep(struct exhaust_watch *x, double crept, double may)
{
    double unit = x->core.unit;
    core_show(&x->core, trace_value(&x->core.trace) - crept, may, crept * unit, may * unit);
}

/* Shows what fast heat is judged by. What a thermostat was thought to have given is not expected of
 * an exhaust that has lost its water. */
static void show_rise(struct exhaust_watch *x, double expected, double allowance)
{
    core_show(&x->core, expected - x->mistaken, allowance, cusum_value(&x->core.cusum),
              figures_of(x)->sum_threshold);
}

/* Shows the limit as what was expected, where it has stood above it. */
static void show_limit(struct exhaust_watch *x)
{
    double unit = x->core.unit;
    core_show(&x->core, x->core.limit_c / unit, figures_of(x)->over_k / unit, x->over_s,
              figures_of(x)->over_s);
}

/* ---- raised ---- */

/* What it stands on, should more be expected of it later. */
static void keep_shown(struct exhaust_watch *x)
{
    x->held = x->core.verdict.expected;
    x->held_allowance = x->core.verdict.allowance;
}

/* Something stands from now on. */
static void begin(struct exhaust_watch *x, enum cooling_kind kind, bool slow)
{
    x->slow = slow;
    x->core.raised_s = x->core.boat->now_s;
    x->core.verdict.kind = kind;
    x->peak = 0.0;
    x->calm_s = NAN;
    x->of_again = false;
    x->hottest = x->core.verdict.value;
    x->beyond_s = x->core.boat->now_s;
    keep_shown(x);
}

/* It is over; the next of its kind must be larger. */
static void release(struct exhaust_watch *x, double residual)
{
    cusum_reset(&x->core.cusum);
    gulp_quiet(x, x->core.boat->now_s, residual);
    core_withdraw(&x->core);
}

/* How often it has come and gone. */
static void say_again(struct exhaust_watch *x, int level)
{
    struct cooling_verdict *v = &x->core.verdict;
    if (level > 0 && v->times != x->again.times)
        x->core.boat->version++;
    v->times = x->again.times;
    v->every_s = again_every_s(x);
    core_decide(&x->core, level, COOLING_AGAIN, CAUSE_COMES_AND_GOES);
}

/* Whether the limit comes within moments: whatever came and went before. */
static bool presses(const struct exhaust_watch *x, double above)
{
    const struct figures *k = figures_of(x);
    const struct cooling_verdict *v = &x->core.verdict;
    bool near = v->value >= v->limit_c || v->seconds_to_limit < k->again_last_s;
    return x->again.out && !x->again.dropped &&
           above > fmax(k->alarm_near_k, k->again_over * x->again.highest) && near;
}

/* Again and again: it stands until it has long been calm, or one does not come back. */
static void hold_again(struct exhaust_watch *x, double residual, double above)
{
    struct cooling_verdict *v = &x->core.verdict;
    if (again_stays(x, above) || presses(x, above)) {
        begin(x, COOLING_RISE, false);
        x->of_again = true;
        core_decide(&x->core, 2, COOLING_RISE, CAUSE_RAW_WATER);
        return;
    }
    if (again_is_over(x)) {
        release(x, residual);
        return;
    }
    say_again(x, v->level);
}

double judge_soak(const struct exhaust_watch *x, double residual)
{
    return isnan(x->ran) ? 0.0 : residual - (x->ran - x->forecast.shifted);
}

/* Whether iron that was hot at the start is as hot still though it idles: water would have cooled
 * it. */
static bool stays_soaked(const struct exhaust_watch *x, double residual)
{
    const struct figures *k = figures_of(x);
    double since_start = engine_since_start(x->engine, x->core.boat->now_s);
    return x->soaked > k->soaked_k && since_start > k->soaked_s && since_start < k->settle_s &&
           x->engine->rpm.last < k->constant_rpm &&
           judge_soak(x, residual) > k->soaked_share * x->soaked;
}

/* Whether what stands is over. Where more is merely expected of it now, it stands on what it stood
 * on. */
static bool is_over(struct exhaust_watch *x, bool small)
{
    const struct figures *k = figures_of(x);
    double now_s = x->core.boat->now_s;
    bool calm = small && now_s - x->calm_s > k->calm_s && x->core.verdict.value < x->core.limit_c;
    bool beyond = core_is_beyond(&x->core);
    if (beyond && !small)
        keep_shown(x);
    if (beyond && !calm) {
        x->beyond_s = now_s;
        return false;
    }
    if (has_come_back(x))
        return true;
    core_show(&x->core, x->held / x->core.unit, x->held_allowance / x->core.unit,
              x->core.verdict.statistic, x->core.verdict.threshold);
    if (is_last(x))
        core_decide(&x->core, 3, x->core.verdict.kind, x->core.verdict.cause);
    return false;
}

/* Something of the present stands. */
static void hold(struct exhaust_watch *x, double residual, double above)
{
    const struct figures *k = figures_of(x);
    double now_s = x->core.boat->now_s;
    x->peak = fmax(x->peak, above);
    x->hottest = fmax(x->hottest, x->core.verdict.value);
    bool small = above <= k->calm_share * x->peak && !stays_over(x);
    if (!small) {
        x->calm_s = NAN;
    } else if (isnan(x->calm_s)) {
        x->calm_s = now_s;
    }
    if (is_over(x, small)) {
        x->excursion.top = fmax(x->excursion.top, x->peak); /* it went back, like a gulp */
        if (x->of_again) { /* like those before it: the same alert */
            cusum_reset(&x->core.cusum);
            gulp_quiet(x, now_s, residual);
            say_again(x, 2);
        } else {
            release(x, residual);
        }
        return;
    }
    if (small)
        return;
    const struct engine_run *e = x->engine;
    bool start = e->started_here && x->core.raised_s - e->since_s < k->start_s;
    int level = x->core.verdict.level == 3 || is_certain(x, above, start) ? 3 : 2;
    core_decide(&x->core, level, x->core.verdict.kind, start ? CAUSE_SEACOCK : CAUSE_RAW_WATER);
}

/* ---- quiet ---- */

/* Whether the level has crept too far, of which it may be the sea or the load; says so. */
static bool creeps(struct exhaust_watch *x, double *crept)
{
    const struct figures *k = figures_of(x);
    enum cooling_kind kind;
    double may;
    *crept = level_creep(x, &kind, &may);
    if (exhaust_is_dry(x)) /* dry gas goes with the load of the hour */
        may *= k->dry_slow;
    if (x->again.drops > 0 ||
        again_is(x)) /* where its probe sits, or its level, is anyone's guess */
        may *= k->drop_slow;
    bool far = *crept >= may && *crept > 0.0 && !x->core.verdict.careful;
    if (far && !level_together(x)) {
        show_creep(x, *crept, may);
        begin(x, kind, true);
        return true;
    }
    double stays = k->creep_stays * may;
    if (far || (x->core.verdict.level == 1 && *crept > stays && *crept > 0.0)) {
        show_creep(x, *crept, fmin(may, stays));
        core_decide(&x->core, 1, COOLING_DEPARTURE, CAUSE_SEA_OR_LOAD);
    } else {
        say_again(x, again_is_loose(x) ? 1 : 0);
    }
    return false;
}

/* Whether a probe's coming back explains it: not so far, and never near the limit. */
static bool may_be_probe(const struct exhaust_watch *x, double above)
{
    const struct figures *k = figures_of(x);
    const struct cooling_verdict *v = &x->core.verdict;
    return above < k->probe_most_k && v->value < v->limit_c &&
           !(v->seconds_to_limit < k->alarm_near_s);
}

/* Nothing stands yet. False: and nothing shall. */
static bool wakes(struct exhaust_watch *x, double y, double residual, double *above,
                  double allowance)
{
    bool fast = false, over = stays_over(x);
    if (rises(x, y, *above)) {
        gulp_steepen(x, *above);
        fast = gulp_is_none(x, *above, allowance, is_starting(x));
    }
    if (!fast && !over && stays_soaked(x, residual)) {
        x->forecast.level = x->ran - x->forecast.shifted;
        x->again.stood_known = false; /* nor is where it stood lately what is usual */
        *above = residual - x->forecast.level - allowance;
        fast = *above > 0.0;
    }
    if (!fast && !over)
        return creeps(x, above);
    bool again = fast && !over && again_is(x) && !is_starting(x);
    if (again && again_is_probe(x) && !again_stays(x, *above) &&
        may_be_probe(x, *above)) { /* it has come back before */
        say_again(x, 1);
        return false;
    }
    x->mistaken = x->creep.given;
    show_rise(x, y - *above - allowance, allowance);
    if (over && !core_is_beyond(&x->core))
        show_limit(x);
    begin(x, COOLING_RISE, false);
    if (again && !again_is_probe(x))
        say_again(x, 2);
    return true;
}

/* Whether its probe stands in dry gas: it has long been hotter than any wet one, and nothing else
 * says that cooling is lost. A shut seacock heats the coolant, too, before it has stood so long. */
static bool asks(struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    double now_s = x->core.boat->now_s;
    if (x->called_wet || exhaust_is_dry(x))
        return x->asks = false;
    if (x->asks)
        return true;
    /* Coolant that climbs tells of lost water long before it is hot. */
    bool warms = now_s - x->engine->opening_s < k->ask_still_s;
    if (x->core.verdict.value < k->ask_c || !engine_is_cool(x->engine) || warms)
        x->hot_s = now_s;
    x->asks = now_s - x->hot_s > k->ask_s;
    return x->asks;
}

void judge_exhaust(struct exhaust_watch *x, double y, double residual, double allowance, double dt)
{
    const struct figures *k = figures_of(x);
    double above = residual - x->forecast.level - allowance;
    if (x->core.verdict.level < 2)
        x->mistaken = 0.0;
    show_rise(x, y - (residual - x->forecast.level), allowance);
    if (asks(x)) {
        core_decide(&x->core, 2, COOLING_ASKS, CAUSE_DRY_OR_WET);
        return;
    }
    if (x->core.verdict.value < x->core.limit_c - k->flat_below_k &&
        engine_since_start(x->engine, x->core.boat->now_s) > k->seen_wet_s)
        x->seen_wet = true;
    watch_limit(x, dt);
    bool quiet = above <= k->gulp_quiet_sigmas * x->core.trace.sigma;
    x->steepest = quiet ? 0.0 : fmax(x->steepest, x->core.verdict.rate_per_min);
    if (quiet)
        gulp_quiet(x, x->core.boat->now_s, residual);
    else if (!is_starting(x))
        gulp_turn_back(x, above);
    if (x->core.verdict.level < 2) {
        if (!wakes(x, y, residual, &above, allowance))
            return;
    } else if (stays_over(x) && !core_is_beyond(&x->core)) {
        show_limit(x);
    } else if (x->slow && x->core.verdict.kind != COOLING_AGAIN) {
        above = level_crept(x);
        show_creep(x, above, level_may_stay(x));
    }
    if (x->core.verdict.kind == COOLING_AGAIN && x->core.verdict.level == 2) {
        hold_again(x, residual, above);
        return;
    }
    follow_heat(x, y, dt);
    if (levelled_off(x)) {
        x->forecast.level = residual;
        level_anchor(x);
        x->excursion.top = 0.0; /* and no gulp that the next one must exceed */
        release(x, residual);
        return;
    }
    hold(x, residual, above);
}
