#include "cooling/state.h"

#include <math.h>

#include "base/banned.h"

/* Air drawn into an intake takes the water away for 2 to 5 s, and looks like its loss until the
 * water is back. Chosen on the tuning trips of tests/bench/detect. */
#define FIT_VIEW_S  14.0  /* samples this old are fitted, */
#define FIT_PERIODS 6.5   /* or this many, where they come seldom; */
#define FIT_LEAST   5     /* fewer tell nothing */
#define FIT_NOISE   0.3   /* lost water must fit better by so much of the noise's square, */
#define FIT_INEXACT 0.012 /* and of this share of the height: no shape is exact */
#define TURN_SHARE  0.15  /* of its height lost: a climb turned back, */
#define TURN_K      0.1   /* if it lost this much, */
#define TURN_NOISE  3.0   /* or so many deviations */
#define WILD_GROWTH 3.0   /* a climb grows no faster from sample to sample, */
#define WILD_K      1.0   /* but for this */
#define CHANGE_K    1.5   /* with so much allowed for, a change of speed is under way: */
#define CHANGE_SURE 2.0   /* what is not so many times that */
#define CHANGE_S    4.0   /* must go on steepening over two windows of this length */

#define GULP_S        2.0    /* nothing is said sooner after the last quiet sample */
#define GULP_MIN_K    1.8    /* K: smaller excursions wait, */
#define START_MIN_K   2.0    /* the same while the engine starts, */
#define DRY_MIN_K     6.0    /* and for dry gas, in its units */
#define TWIN_SHARE    0.5    /* of what is seen here, seen at the twin at once, */
#define TWIN_MOST_K   6.0    /* K: up to so much, it is both engines' load or sea */
#define GULP_LONG_S   14.0   /* a climb that goes on so long, */
#define GULP_HOLD     0.6    /* at this share of its steepest, */
#define GULP_SURE_S   22.0   /* or heat that stays so long, */
#define GULP_SURE_K   3.5    /* if it is this high, is no gulp */
#define GULP_MARGIN   1.1    /* what gulps reached before on this trip must be exceeded so far */
#define GULP_MOST_K   8.0    /* but no more than this is learned from them, */
#define GULP_FORGET_S 1800.0 /* and it fades */
#define GAIN_S        20.0   /* a climb above what is allowed for so long counts by its gain */
#define GAIN_LEAST_K  0.3
#define GAIN_SLOPE    0.06 /* K/s it still must have */
#define GAIN_TWIN     2.0  /* K, where the twin or the sea tells what the water does */
#define GAIN_ALONE    6.0  /* K, where water 5 K warmer may do it */

/* A start: the water comes within seconds, and what it does levels off. */
#define START_T      5.5  /* s since the climb began, if it grew with the square of time */
#define START_WINDOW 1.9  /* s: slopes are compared over two such windows */
#define CONVEX       1.10 /* the later slope over the earlier one: still steepening */
#define START_S      6.0  /* a climb of this length, */
#define START_K      6.0  /* this height, */
#define START_STEADY 0.8  /* still at this share of its steepest, is none */
#define START_SURE   6.0  /* K above the allowance: too much for any healthy start */

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
    return a - b < WILD_GROWTH * fmax(b - c, 0.0) + WILD_K + 6.0 * w->trace.sigma + w->trace.step;
}

/* A climb that turned back is over; what follows it is another. */
void cooling_turn_back(const struct cooling *c, struct watch *w, double above)
{
    w->top = fmax(w->top, above);
    if (above > w->top - fmax(TURN_K + TURN_NOISE * w->trace.sigma, TURN_SHARE * w->top))
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
    double window = fmax(CHANGE_S, 2.0 * w->trace.period);
    int middle = older(w, 0, window), first = middle < 0 ? -1 : older(w, middle, window);
    return first < 0 || slope_between(w, 0, middle) < slope_between(w, middle, first);
}

static double gulp_bar(const struct cooling *c, int engine, const struct watch *w, bool starting)
{
    double seen = w->gulp_k;
    if (engine < 2)
        seen = fmax(seen, c->engine[engine ^ 1].sensor[COOLING_EXHAUST].gulp_k);
    double least = starting ? START_MIN_K : w->unit > 1.0 ? DRY_MIN_K : GULP_MIN_K;
    return fmax(least, GULP_MARGIN * seen);
}

/* Whether the twin does the same at this moment: a gear put in, a wave, the sea, not lost water. Of
 * what is higher than a few kelvin nobody asks the twin. */
static bool twin_does_too(const struct cooling *c, int engine, double above, double allowance)
{
    const struct watch *twin = engine < 2 ? cooling_twin(c, engine) : NULL;
    if (!twin || twin->ring_count == 0 || above > TWIN_MOST_K)
        return false;
    double its = twin->ring_above[(twin->ring_head + WATCH_RING - 1) % WATCH_RING];
    return its > TWIN_SHARE * (above + allowance);
}

/* Whether the climb since the last quiet sample is more than the water alone may do. */
static bool has_gained(const struct cooling *c, int engine, const struct watch *w)
{
    unsigned newest = (w->ring_head + WATCH_RING - 1) % WATCH_RING;
    double gain = w->ring_k[newest] - w->quiet_k;
    return gain > (cooling_twin(c, engine) || cooling_sea_known(c) ? GAIN_TWIN : GAIN_ALONE);
}

/* Whether water that stays away explains the last samples better than any gulp does. */
static bool no_gulp_explains(const struct cooling *c, const struct watch *w, double above)
{
    double age[WATCH_RING], x[WATCH_RING], sigma = w->trace.sigma;
    double view = fmax(FIT_VIEW_S, FIT_PERIODS * w->trace.period);
    unsigned newest = w->ring_head + WATCH_RING - 1;
    int n = 0;
    for (unsigned k = 0; k < w->ring_count; k++) {
        unsigned i = (newest - k) % WATCH_RING;
        if (c->now_s - w->ring_s[i] > view || w->ring_s[i] < w->turned_s)
            break;
        age[n] = c->now_s - w->ring_s[i];
        x[n++] = w->ring_above[i];
    }
    if (n < FIT_LEAST)
        return false;
    double inexact = FIT_INEXACT * above;
    return lost_water_fits(&c->answers, age, x, n) > FIT_NOISE * sigma * sigma + inexact * inexact;
}

static bool start_is_over(const struct cooling *c, struct watch *w, double above, double allowance)
{
    double elapsed = c->now_s - w->quiet_s, sigma = w->trace.sigma;
    /* Long enough that the noise does not decide. */
    double mean = fmax(above, 0.1) / fmax(elapsed, 1.0);
    double window = fmin(fmax(4.0 * sigma / mean, START_WINDOW), 6.0);
    int middle = older(w, 0, window), first = middle < 0 ? -1 : older(w, middle, window);
    if (first < 0)
        return elapsed > GULP_LONG_S && above > START_SURE;
    double late = slope_between(w, 0, middle), early = slope_between(w, middle, first);
    /* Since when, if it grew with the square of time from nothing. */
    double quiet_k = allowance + 2.0 * sigma;
    double since = elapsed / (1.0 - sqrt(quiet_k / (above + quiet_k)));
    bool steady = early > -2.0 * sigma / window && late > above / elapsed;
    if (since > START_T && steady && late >= CONVEX * early && late >= 0.9 * w->top_slope)
        return true;
    if (elapsed > START_S && above > START_K && late > START_STEADY * w->top_slope)
        return true;
    return above > START_SURE;
}

/* A gulp of air lasts 2 to 5 s. What no gulp explains, or goes on climbing long after, or stays, is
 * none. What gulps did before on this trip must be exceeded. */
bool cooling_gulp_is_over(const struct cooling *c, int engine, struct watch *w, double above,
                          double allowance, bool starting)
{
    double elapsed = c->now_s - w->quiet_s;
    /* Long enough that the noise does not decide. */
    double mean = fmax(above, 0.1) / fmax(elapsed, 1.0);
    int then = older(w, 0, fmin(fmax(4.0 * w->trace.sigma / mean, START_WINDOW), 6.0));
    double slope = then < 0 ? 0.0 : slope_between(w, 0, then);
    w->top_slope = fmax(w->top_slope, slope);
    if (!goes_on(w))
        return false;
    if (starting)
        return elapsed >= GULP_S && above >= gulp_bar(c, engine, w, true) &&
               start_is_over(c, w, above, allowance);
    if (levels_off(w, above, allowance) || twin_does_too(c, engine, above, allowance))
        return false;
    if (w->was_warm && !w->verdict.careful && elapsed > GAIN_S && above > GAIN_LEAST_K &&
        slope > GAIN_SLOPE && has_gained(c, engine, w) && !cooling_together(c, engine, w))
        return true;
    if (elapsed < GULP_S || above < gulp_bar(c, engine, w, false))
        return false;
    if (no_gulp_explains(c, w, above + allowance))
        return true;
    if (above <= GULP_SURE_K)
        return false;
    if (elapsed > GULP_LONG_S && slope > GULP_HOLD * w->top_slope && slope > 0.5 * above / elapsed)
        return true;
    return elapsed > GULP_SURE_S && above > 0.92 * w->top && slope > 0.0;
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
