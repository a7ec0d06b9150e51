#include "alerts/cooling_state.h"

#include <math.h>

#include "base/banned.h"

/* Air drawn into an intake takes the water away for 2 to 5 s, and looks like its loss until the
 * water is back. Chosen on the tuning trips of tests/bench/detect. */
#ifndef GULP_RATIO
#define GULP_RATIO 1.5
#endif
#ifndef GULP_NOISE
#define GULP_NOISE 0.3
#endif
#ifndef GULP_MODEL
#define GULP_MODEL 0.01
#endif
#ifndef GULP_LONGEST_S
#define GULP_LONGEST_S 5.0
#endif
#ifndef GULP_VIEW_S
#define GULP_VIEW_S 14.0
#endif
#define ONSET_FIRST_S 3.0
#define ONSET_LAST_S 16.0
#ifndef CHANGE_K
#define CHANGE_K 1.5
#endif
#ifndef CHANGE_SURE
#define CHANGE_SURE 2.0
#endif
#ifndef CHANGE_WINDOW
#define CHANGE_WINDOW 4.0
#endif
#ifndef CHANGE_STEEPER
#define CHANGE_STEEPER 1.0
#endif
#ifndef VALLEY_N
#define VALLEY_N 3.0
#endif
#ifndef LOST_FIRST_S
#define LOST_FIRST_S 3.0
#endif
#ifndef VALLEY
#define VALLEY 0.15
#endif
#ifndef VALLEY_K
#define VALLEY_K 0.1
#endif
#define DRY_MIN 6.0 /* the same for dry gas, in its units */
#define GULP_S        2.0    /* nothing is said sooner after the last quiet sample */
#ifndef GULP_T
#define GULP_T        7.0    /* s since the climb began, if it grew with the square of time */
#endif
#ifndef GULP_WINDOW
#define GULP_WINDOW   1.9    /* s: slopes are compared over two such windows */
#endif
#ifndef CONVEX
#define CONVEX        1.15   /* the later slope over the earlier one: still steepening */
#endif
#ifndef GULP_MIN_K
#define GULP_MIN_K    2.2    /* K: smaller excursions wait */
#endif
#ifndef START_MIN_K
#define START_MIN_K   2.0    /* the same while the engine starts */
#endif
#ifndef GULP_QUICK_S
#define GULP_QUICK_S  7.5    /* a climb of this length, */
#endif
#ifndef GULP_QUICK_K
#define GULP_QUICK_K  6.0    /* this height, */
#endif
#define GULP_STEADY   0.8    /* still at this share of its steepest, is none */
#ifndef GULP_LONG_S
#define GULP_LONG_S   14.0   /* a climb that goes on so long, */
#endif
#define GULP_HOLD     0.6    /* at this share of its steepest, */
#ifndef GULP_SURE_S
#define GULP_SURE_S   22.0   /* or heat that stays so long, */
#endif
#define GULP_SURE_K   3.5    /* if it is this high, is no gulp */
#ifndef GULP_MARGIN
#define GULP_MARGIN   1.1    /* what gulps reached before on this trip must be exceeded so far */
#endif
#define GULP_MOST_K   8.0    /* but no more than this is learned from them, */
#define GULP_FORGET_S 1800.0 /* and it fades */
#define GAIN_S        20.0   /* a climb above what is allowed for so long counts by its gain */
#define GAIN_SLOPE    0.06   /* K/s it still must have */
#ifndef GAIN_TWIN
#define GAIN_TWIN     2.0    /* K, where the twin or the sea tells what the water does */
#endif
#ifndef GAIN_ALONE
#define GAIN_ALONE    6.0    /* K, where water 5 K warmer may do it */
#endif
#ifndef START_SURE
#define START_SURE    10.0   /* K above the allowance: too much for any healthy start */
#endif

/* Keeps the residual of this sample for the slopes, and what of it the level does not explain. */
void cooling_remember(struct watch *w, double t, double residual)
{
    w->ring_above[w->ring_head] = residual - w->level;
    w->ring_s[w->ring_head] = t;
    w->ring_k[w->ring_head] = residual;
    w->ring_head = (w->ring_head + 1) % WATCH_RING;
    if (w->ring_count < WATCH_RING)
        w->ring_count++;
}

/* The newest sample at least `seconds` older than sample `from`; -1: none. */
static int older(const struct watch *w, int from, double seconds)
{
    unsigned newest = w->ring_head + WATCH_RING - 1;
    double then = w->ring_s[(newest - (unsigned)from) % WATCH_RING] - seconds;
    for (unsigned k = (unsigned)from + 1; k < w->ring_count; k++)
        if (w->ring_s[(newest - k) % WATCH_RING] <= then)
            return (int)k;
    return -1;
}

static double slope_between(const struct watch *w, int newer, int old)
{
    unsigned newest = w->ring_head + WATCH_RING - 1;
    unsigned a = (newest - (unsigned)newer) % WATCH_RING, b = (newest - (unsigned)old) % WATCH_RING;
    return (w->ring_k[a] - w->ring_k[b]) / fmax(w->ring_s[a] - w->ring_s[b], 0.05);
}

/* Whether the newest sample goes on from the two before it, and is no wild one. */
static bool goes_on(const struct watch *w)
{
    if (w->ring_count < 3)
        return false;
    unsigned newest = w->ring_head + WATCH_RING - 1;
    double a = w->ring_k[newest % WATCH_RING], b = w->ring_k[(newest - 1) % WATCH_RING],
           c = w->ring_k[(newest - 2) % WATCH_RING];
    return a - b < 3.0 * fmax(b - c, 0.0) + 1.0 + 6.0 * w->trace.sigma + w->trace.step;
}

/* A climb that turned back is over; what follows it is another. */
void cooling_turn_back(const struct cooling *c, struct watch *w, double above)
{
    w->top = fmax(w->top, above);
    if (above > w->top - fmax(VALLEY_K + VALLEY_N * w->trace.sigma, VALLEY * w->top))
        return;
    unsigned newest = (w->ring_head + WATCH_RING - 1) % WATCH_RING;
    w->gulp_k = fmin(fmax(w->gulp_k, w->top), GULP_MOST_K);
    w->quiet_s = w->turned_s = c->now_s;
    w->quiet_k = w->ring_k[newest];
    w->top = above;
    w->top_slope = 0.0;
}

/* After a change of speed a healthy exhaust goes to where it belongs, ever slower. */
static bool levels_off(const struct watch *w, double above, double allowance)
{
    if (allowance < CHANGE_K || above > CHANGE_SURE * allowance)
        return false;
    double window = fmax(CHANGE_WINDOW, 2.0 * w->trace.period);
    int middle = older(w, 0, window), first = middle < 0 ? -1 : older(w, middle, window);
    return first < 0 || slope_between(w, 0, middle) < CHANGE_STEEPER * slope_between(w, middle, first);
}

static double gulp_bar(const struct cooling *c, int engine, const struct watch *w, bool starting)
{
    double seen = w->gulp_k;
    if (engine < 2)
        seen = fmax(seen, c->engine[engine ^ 1].sensor[COOLING_EXHAUST].gulp_k);
    double least = starting ? START_MIN_K : w->unit > 1.0 ? DRY_MIN : GULP_MIN_K;
    return fmax(least, GULP_MARGIN * seen);
}

/* Whether the climb since the last quiet sample is more than the water alone may do. */
static bool has_gained(const struct cooling *c, int engine, const struct watch *w)
{
    unsigned newest = (w->ring_head + WATCH_RING - 1) % WATCH_RING;
    double gain = w->ring_k[newest] - w->quiet_k;
    return gain > (cooling_twin(c, engine) || cooling_sea_known(c) ? GAIN_TWIN : GAIN_ALONE);
}

/* --- how a sensor answers to lost water, in general: three lags in series, none known */

#ifndef DRAIN
#define DRAIN 1.2
#endif
static const double lags[GULP_SHAPES][2] = {{2.0, 8.0}, {2.0, 20.0}, {2.0, 60.0}, {4.0, 8.0},
                                            {4.0, 20.0}, {4.0, 60.0}, {8.0, 8.0},  {8.0, 20.0},
                                            {8.0, 60.0}, {14.0, 8.0}, {14.0, 20.0}, {14.0, 60.0}};

void gulp_init(struct gulp_bank *b)
{
    const double dt = 0.05;
    for (int k = 0; k < GULP_SHAPES; k++) {
        double x = 0.0, y = 0.0, z = 0.0;
        for (int i = 0; i < GULP_STEPS; i++) {
            b->answer[k][i] = (float)z;
            for (double u = 0.0; u < GULP_STEP_S - 1e-9; u += dt) {
                x += dt / DRAIN * (1.0 - x);
                y += dt / lags[k][0] * (x - y);
                z += dt / lags[k][1] * (y - z);
            }
        }
    }
}

static double answer(const float *a, double u)
{
    if (u <= 0.0)
        return 0.0;
    double at = fmin(u / GULP_STEP_S, GULP_STEPS - 2.0);
    int i = (int)at;
    return (double)a[i] + (at - i) * (double)(a[i + 1] - a[i]);
}

/* What is left of the samples when a shape is fitted to them, K^2. */
static double left_over(const double *x, const double *g, int n, double total, double mean)
{
    double sum = 0.0, cross = 0.0, square = 0.0;
    for (int i = 0; i < n; i++) {
        sum += g[i];
        cross += g[i] * (x[i] - mean);
        square += g[i] * g[i];
    }
    square -= sum * sum / n;
    return cross > 0.0 && square > 1e-12 ? total - cross * cross / square : total;
}

/* How much better lost water explains the last samples than any gulp of air does, K^2. */
static double beyond_gulps(const struct gulp_bank *b, const double *t, const double *x, int n)
{
    static const double spans[] = {2.0, 3.5, GULP_LONGEST_S};
    double mean = 0.0, total = 0.0, lost = INFINITY, gulp = INFINITY;
    double now[WATCH_RING], g[WATCH_RING];
    for (int i = 0; i < n; i++)
        mean += x[i] / n;
    for (int i = 0; i < n; i++)
        total += (x[i] - mean) * (x[i] - mean);
    for (double age = ONSET_FIRST_S; age <= ONSET_LAST_S; age += age < 10.0 ? 0.5 : 1.0) {
        for (int k = 0; k < GULP_SHAPES; k++) {
            for (int i = 0; i < n; i++)
                now[i] = answer(b->answer[k], t[i] + age);
            if (age >= LOST_FIRST_S)
                lost = fmin(lost, left_over(x, now, n, total, mean));
            for (size_t d = 0; d < sizeof spans / sizeof *spans; d++) {
                for (int i = 0; i < n; i++)
                    g[i] = now[i] - answer(b->answer[k], t[i] + age - spans[d]);
                gulp = fmin(gulp, left_over(x, g, n, total, mean));
            }
        }
    }
    return gulp - lost;
}

static bool no_gulp_explains(const struct cooling *c, struct watch *w, double above)
{
    double t[WATCH_RING], x[WATCH_RING];
    unsigned newest = w->ring_head + WATCH_RING - 1;
    int n = 0;
    for (unsigned k = 0; k < w->ring_count; k++) {
        unsigned i = (newest - k) % WATCH_RING;
        if (c->now_s - w->ring_s[i] > fmax(GULP_VIEW_S, 6.5 * w->trace.period) ||
            w->ring_s[i] < w->turned_s)
            break;
        t[n] = w->ring_s[i] - c->now_s;
        x[n++] = w->ring_above[i];
    }
    if (n < 5)
        return false;
    double sure = GULP_NOISE * w->trace.sigma * w->trace.sigma +
                  GULP_RATIO * GULP_MODEL * above * GULP_MODEL * above;
    return beyond_gulps(&c->gulps, t, x, n) > sure;
}

/* A gulp of air lasts 2 to 5 s. While the climb goes on steepening after that, or goes on long
 * after, or the heat stays, no gulp explains it. What gulps did before on this trip must be
 * exceeded. */
bool cooling_gulp_is_over(const struct cooling *c, int engine, struct watch *w, double above,
                          double allowance, bool starting)
{
    double elapsed = c->now_s - w->quiet_s;
    double bar = gulp_bar(c, engine, w, starting);
    /* Long enough that the noise does not decide. */
    double mean = fmax(above, 0.1) / fmax(elapsed, 1.0);
    double window = fmin(fmax(4.0 * w->trace.sigma / mean, GULP_WINDOW), 6.0);
    int middle = older(w, 0, window), first = middle < 0 ? -1 : older(w, middle, window);
    double late = 0.0, early = 0.0;
    if (middle >= 0)
        late = slope_between(w, 0, middle);
    if (first >= 0)
        early = slope_between(w, middle, first);
    w->top_slope = fmax(w->top_slope, late);
    if (!starting && levels_off(w, above, allowance))
        return false;
    if (!starting && w->was_warm && !w->verdict.careful && goes_on(w) && elapsed > GAIN_S && above > 0.3 && late > GAIN_SLOPE &&
        has_gained(c, engine, w) && !cooling_together(c, engine, w))
        return true;
    if (elapsed < GULP_S || above < bar || !goes_on(w))
        return false;
    if (!starting && no_gulp_explains(c, w, above + allowance))
        return true;
    if (first < 0)
        return elapsed > GULP_LONG_S && above > (starting ? START_SURE : GULP_SURE_K);
    if (starting) {
    /* Since when, if it grew with the square of time from nothing. */
    double quiet_k = allowance + 2.0 * w->trace.sigma;
    double since = elapsed / (1.0 - sqrt(quiet_k / (above + allowance + 2.0 * w->trace.sigma)));
    bool steady = early > -2.0 * w->trace.sigma / window && late > above / elapsed;
    if (since > GULP_T && steady && late >= CONVEX * early && late >= 0.9 * w->top_slope)
        return true;
    /* With a quick sensor a gulp's climb ends with the gulp. */
    if (elapsed > GULP_QUICK_S && above > GULP_QUICK_K && late > GULP_STEADY * w->top_slope)
        return true;
    }
    if (starting) /* water that has come levels the climb off */
        return above > START_SURE;
    if (elapsed > GULP_LONG_S && above > GULP_SURE_K && late > GULP_HOLD * w->top_slope &&
        late > 0.5 * above / elapsed)
        return true;
    return elapsed > GULP_SURE_S && above > GULP_SURE_K && above > 0.92 * w->top && late > 0.0;
}

/* An excursion that went back by itself: the next of its kind must be larger to count. */
void cooling_quiet(struct watch *w, double t, double residual)
{
    if (w->top > 0.3)
        w->gulp_k = fmin(fmax(w->gulp_k, w->top), GULP_MOST_K);
    w->gulp_k *= exp(-(t - w->quiet_s) / GULP_FORGET_S);
    w->quiet_s = t;
    w->quiet_k = residual;
    w->top = w->top_slope = 0.0;
}
