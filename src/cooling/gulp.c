#include "cooling/gulp.h"

#include "cooling/level.h"

#include <math.h>

#include "base/banned.h"

static const struct figures *figures_of(const struct exhaust_watch *x)
{
    return x->core.boat->figures;
}

/* The place of the sample that came so many before the newest. */
static unsigned place(const struct excursion *g, unsigned back)
{
    return (g->head + 2 * RECENT_SAMPLES - 1 - back) % RECENT_SAMPLES;
}

void gulp_remember(struct exhaust_watch *x, double t, double residual)
{
    struct excursion *g = &x->excursion;
    g->ring_above[g->head] = residual - x->forecast.level;
    g->ring_s[g->head] = t;
    g->ring_k[g->head] = residual;
    g->head = (g->head + 1) % RECENT_SAMPLES;
    if (g->count < RECENT_SAMPLES)
        g->count++;
}

/* The newest sample at least `seconds` older than sample `from`; -1: none. */
static int older(const struct excursion *g, int from, double seconds)
{
    double then = g->ring_s[place(g, (unsigned)from)] - seconds;
    for (unsigned i = (unsigned)from + 1; i < g->count; i++)
        if (g->ring_s[place(g, i)] <= then)
            return (int)i;
    return -1;
}

static double slope_between(const struct exhaust_watch *x, int newer, int old)
{
    const struct excursion *g = &x->excursion;
    unsigned a = place(g, (unsigned)newer), b = place(g, (unsigned)old);
    return (g->ring_k[a] - g->ring_k[b]) /
           fmax(g->ring_s[a] - g->ring_s[b], figures_of(x)->slope_apart_s);
}

/* Over which time a slope is taken: long enough that the noise does not decide. */
static double slope_window(const struct exhaust_watch *x, double above)
{
    const struct figures *k = figures_of(x);
    double elapsed = x->core.boat->now_s - x->excursion.quiet_s;
    double mean = fmax(above, k->slope_mean_k) / fmax(elapsed, k->slope_mean_s);
    return fmin(fmax(k->slope_sigmas * x->core.trace.sigma / mean, k->slope_least_s),
                k->slope_most_s);
}

static double slope_now(const struct exhaust_watch *x, double above)
{
    int then = older(&x->excursion, 0, slope_window(x, above));
    return then < 0 ? 0.0 : slope_between(x, 0, then);
}

/* Whether the newest sample goes on from the two before it, and is not a wild one. */
static bool goes_on(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    const struct excursion *g = &x->excursion;
    if (g->count < 3)
        return false;
    double a = g->ring_k[place(g, 0)], b = g->ring_k[place(g, 1)], c = g->ring_k[place(g, 2)];
    return a - b < k->wild_growth * fmax(b - c, 0.0) + k->wild_k +
                       k->wild_sigmas * x->core.trace.sigma + x->core.trace.step;
}

/* Where readings come seldom: two on the climb, of which the first was not noise. */
static bool two_climb(const struct exhaust_watch *x)
{
    const struct figures *k = figures_of(x);
    const struct excursion *g = &x->excursion;
    if (x->core.trace.period < k->seldom_fit_s || g->count < 2 || x->core.trace.has_leapt)
        return false;
    double newest = g->ring_above[place(g, 0)], before = g->ring_above[place(g, 1)];
    double noise = k->seldom_sigmas * x->core.trace.sigma + x->core.trace.step;
    return newest > k->seldom_sure_k && before > k->seldom_first_k + noise &&
           newest > k->seldom_growth * before;
}

void gulp_turn_back(struct exhaust_watch *x, double above)
{
    const struct figures *k = figures_of(x);
    struct excursion *g = &x->excursion;
    g->top = fmax(g->top, above);
    if (above >
        g->top - fmax(k->turn_k + k->turn_sigmas * x->core.trace.sigma, k->turn_share * g->top))
        return;
    g->gulp_k = fmin(fmax(g->gulp_k, g->top), k->gulp_most_k);
    g->quiet_s = g->turned_s = x->core.boat->now_s;
    g->quiet_k = g->ring_k[place(g, 0)];
    g->top = above;
    g->top_slope = 0.0;
}

void gulp_steepen(struct exhaust_watch *x, double above)
{
    x->excursion.top_slope = fmax(x->excursion.top_slope, slope_now(x, above));
}

/* After a change of speed a healthy exhaust goes to where it belongs, ever slower. */
static bool levels_off(const struct exhaust_watch *x, double above, double allowance)
{
    const struct figures *k = figures_of(x);
    if (allowance < k->change_k || above > k->change_sure * allowance)
        return false;
    double window = fmax(k->change_s, k->change_periods * x->core.trace.period);
    int middle = older(&x->excursion, 0, window),
        first = middle < 0 ? -1 : older(&x->excursion, middle, window);
    return first < 0 || slope_between(x, 0, middle) < slope_between(x, middle, first);
}

/* How high a climb must be that is not a gulp like those before, here or at the twin. */
static double bar(const struct exhaust_watch *x, bool starting, double elapsed)
{
    const struct figures *k = figures_of(x);
    double seen = x->excursion.gulp_k;
    if (x->twin)
        seen = fmax(seen, x->twin->excursion.gulp_k);
    bool young =
        seen > k->gulp_seen_k && elapsed < k->gulped_s && x->core.trace.period < k->seldom_fit_s;
    double least = starting             ? k->gulp_start_min_k
                   : x->core.unit > 1.0 ? k->gulp_dry_min_k
                   : young              ? k->gulped_k
                                        : k->gulp_min_k;
    return fmax(least, k->gulp_margin * seen);
}

/* Whether the twin does the same at this moment: a gear put in, a wave, the sea, not lost water. Of
 * what is higher than a few kelvin nobody asks the twin. */
static bool twin_does_too(const struct exhaust_watch *x, double above, double allowance)
{
    const struct figures *k = figures_of(x);
    const struct exhaust_watch *twin = level_twin(x);
    if (!twin || twin->excursion.count == 0 || above > k->gulp_twin_most_k)
        return false;
    double its = twin->excursion.ring_above[place(&twin->excursion, 0)];
    return its > k->gulp_twin_share * (above + allowance);
}

/* Whether the climb since the last quiet sample is more than the water alone may do. */
static bool has_gained(const struct exhaust_watch *x, double above, double slope)
{
    const struct figures *k = figures_of(x);
    const struct excursion *g = &x->excursion;
    if (x->creep.thermostat != THERMOSTAT_RESTS || x->core.verdict.careful ||
        x->core.boat->now_s - g->quiet_s <= k->gain_s || above <= k->gain_least_k ||
        slope <= k->gain_slope)
        return false;
    bool came_before = x->again.times > 0 || x->again.drops > 0;
    if (came_before && !(x->core.verdict.seconds_to_limit < k->gain_far_s))
        return false; /* where a probe sits, or its level, is anyone's guess */
    double gain = g->ring_k[place(g, 0)] - g->quiet_k;
    bool known = level_twin(x) || boat_sea_known(x->core.boat);
    return gain > (known ? k->gain_twin_k : k->gain_alone_k) && !level_together(x);
}

/* Whether water that stays away explains the last samples better than any gulp does. */
static bool no_gulp_explains(const struct exhaust_watch *x, double above)
{
    const struct figures *k = figures_of(x);
    const struct excursion *g = &x->excursion;
    double age[RECENT_SAMPLES], height[RECENT_SAMPLES], sigma = x->core.trace.sigma;
    double now_s = x->core.boat->now_s;
    double view = fmax(k->fit_view_s, k->fit_periods * x->core.trace.period);
    int n = 0;
    for (unsigned back = 0; back < g->count; back++) {
        unsigned i = place(g, back);
        if (now_s - g->ring_s[i] > view || g->ring_s[i] < g->turned_s)
            break;
        age[n] = now_s - g->ring_s[i];
        height[n++] = g->ring_above[i];
    }
    if (n < k->fit_least)
        return false;
    double inexact = k->fit_inexact * above;
    return lost_water_fits(&x->core.boat->answers, age, height, n) >
           k->fit_noise * sigma * sigma + inexact * inexact;
}

/* Whether a climb of the start, K/s, comes to its limit so soon that it does not wait: the longer
 * ago the start, the surer has the water had its time to come. */
static bool is_pressing(const struct exhaust_watch *x, double slope)
{
    const struct figures *k = figures_of(x);
    double after_s =
        fmax(engine_since_start(x->engine, x->core.boat->now_s) - k->begin_from_s, 0.0);
    double reach_s =
        fmin(k->begin_hot_s + k->begin_ramp * after_s, k->begin_reach_s + k->begin_grow * after_s);
    return x->core.limit_c - x->core.verdict.value < slope * reach_s;
}

/* Whether a climb from the start is too much for a start, or still steepens. */
static bool is_no_start(const struct exhaust_watch *x, double above, double allowance)
{
    const struct figures *k = figures_of(x);
    const struct excursion *g = &x->excursion;
    double elapsed = x->core.boat->now_s - g->quiet_s, sigma = x->core.trace.sigma;
    double window = slope_window(x, above);
    int middle = older(g, 0, window), first = middle < 0 ? -1 : older(g, middle, window);
    if (first < 0)
        return elapsed > k->gulp_long_s && above > k->begin_sure_k;
    double late = slope_between(x, 0, middle), early = slope_between(x, middle, first);
    if (!is_pressing(x, late * x->core.unit))
        return false; /* water that came late levels off, like any healthy start */
    /* Since when, if it grew with the square of time from nothing. */
    double quiet_k = allowance + k->begin_quiet_sigmas * sigma;
    double since = elapsed / (1.0 - sqrt(quiet_k / (above + quiet_k)));
    bool steady = early > -k->begin_fall_sigmas * sigma / window && late > above / elapsed;
    if (since > k->begin_s && steady && late >= k->begin_convex * early &&
        late >= k->begin_hold * g->top_slope)
        return true;
    if (elapsed > k->begin_long_s && above > k->begin_high_k &&
        late > k->begin_steady * g->top_slope)
        return true;
    /* Water that came late leaves a hump, which levels off and falls. */
    double on = elapsed < k->begin_late_s && above < k->begin_far_k ? k->begin_on : 0.0;
    return above > k->begin_sure_k && late > on * g->top_slope;
}

/* Whether a generator may just have taken load: its speed has fallen, or its limit is far off. */
static bool may_be_step(const struct exhaust_watch *x, double elapsed)
{
    const struct figures *k = figures_of(x);
    bool far = !(x->core.verdict.seconds_to_limit < k->blind_reach_s);
    return x->engine->rpm.last >= k->constant_rpm &&
           ((far && elapsed < k->blind_wait_s) || engine_sags(x->engine));
}

bool gulp_is_none(const struct exhaust_watch *x, double above, double allowance, bool starting)
{
    const struct figures *k = figures_of(x);
    const struct excursion *g = &x->excursion;
    double elapsed = x->core.boat->now_s - g->quiet_s, slope = slope_now(x, above);
    bool blind = engine_is_blind(x->engine);
    double blind_k = k->blind_k * (may_be_step(x, elapsed) ? k->blind_more : 1.0);
    double blind_slope = engine_idles_blind(x->engine) ? k->idle_slope : k->blind_slope;
    bool two = two_climb(x);
    if ((!two && !goes_on(x)) || (blind && (above < blind_k || slope < blind_slope)))
        return false;
    if (starting)
        return elapsed >= k->gulp_s && above >= bar(x, true, elapsed) &&
               is_no_start(x, above, allowance);
    if (levels_off(x, above, allowance) || twin_does_too(x, above, allowance))
        return false;
    if (!blind && has_gained(x, above, slope))
        return true;
    if (elapsed < k->gulp_s || above < bar(x, false, elapsed))
        return false;
    if (two || no_gulp_explains(x, above + allowance))
        return true;
    if (above <= k->gulp_sure_k)
        return false;
    if (elapsed > k->gulp_long_s && slope > k->gulp_hold * g->top_slope &&
        slope > k->gulp_mean * above / elapsed)
        return true;
    return elapsed > k->gulp_sure_s && above > k->gulp_top * g->top &&
           slope > k->gulp_flat * g->top_slope;
}

void gulp_quiet(struct exhaust_watch *x, double t, double residual)
{
    const struct figures *k = figures_of(x);
    struct excursion *g = &x->excursion;
    if (g->top > k->gulp_seen_k)
        g->gulp_k = fmin(fmax(g->gulp_k, g->top), k->gulp_most_k);
    g->gulp_k *= exp(-(t - g->quiet_s) / k->gulp_forget_s);
    g->quiet_s = t;
    g->quiet_k = residual;
    g->top = g->top_slope = 0.0;
}
