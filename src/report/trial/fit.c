#include "report/trial/fit.h"

#include <math.h>

#include "base/banned.h"

bool fit_power(const double *x, const double *y, const double *share, size_t n,
               struct fit_power *out)
{
    double w = 0, mx = 0, my = 0, sxx = 0, sxy = 0;

    for (size_t i = 0; i < n; i++) {
        double weight = 1 / (share[i] * share[i]);

        if (!(x[i] > 0 && y[i] > 0 && share[i] > 0))
            return false;
        w += weight;
        mx += weight * log(x[i]);
        my += weight * log(y[i]);
    }
    if (n < 2)
        return false;
    mx /= w;
    my /= w;
    for (size_t i = 0; i < n; i++) {
        double weight = 1 / (share[i] * share[i]);

        sxx += weight * (log(x[i]) - mx) * (log(x[i]) - mx);
        sxy += weight * (log(x[i]) - mx) * (log(y[i]) - my);
    }
    if (!(sxx > 0))
        return false;
    out->exponent = sxy / sxx;
    out->factor = exp(my - out->exponent * mx);
    out->exponent_error = sqrt(1 / sxx);
    return true;
}

/* --- the cheapest mile ------------------------------------------------------------------ */

#define RUNS_MAX   64
#define FINE       24   /* places looked at between two runs */
#define SURE       3    /* with ten runs chance alone often makes two */
#define GAP_PART   0.04 /* of the gap between the runs on either side; the same */
#define SURE_PART  0.85 /* a dip that is sure lies nearer than its runs' errors say; the same */
#define SHAPE_PART 0.08 /* of what a parabola says otherwise; held against simulated trials */

struct splines {
    size_t n;
    double x[RUNS_MAX], speed[RUNS_MAX], burn[RUNS_MAX]; /* burn: its logarithm */
    double speed_bend[RUNS_MAX], burn_bend[RUNS_MAX];    /* second derivatives */
};

/* Natural cubic spline: the tridiagonal equations of the second derivatives. */
static void bend(const double *x, const double *y, size_t n, double *out)
{
    double upper[RUNS_MAX] = {0}, right[RUNS_MAX] = {0};

    out[0] = out[n - 1] = 0;
    for (size_t i = 1; i + 1 < n; i++) {
        double h0 = x[i] - x[i - 1], h1 = x[i + 1] - x[i];
        double d = 2 * (h0 + h1) - h0 * upper[i - 1];
        double r = 6 * ((y[i + 1] - y[i]) / h1 - (y[i] - y[i - 1]) / h0);

        upper[i] = h1 / d;
        right[i] = (r - h0 * right[i - 1]) / d;
    }
    for (size_t i = n - 1; i-- > 1;)
        out[i] = right[i] - upper[i] * out[i + 1];
}

static double spline_at(const double *x, const double *y, const double *b, size_t i, double at)
{
    double h = x[i + 1] - x[i], left = (x[i + 1] - at) / h, right = (at - x[i]) / h;

    return left * y[i] + right * y[i + 1] +
           ((left * left * left - left) * b[i] + (right * right * right - right) * b[i + 1]) * h *
               h / 6;
}

static void make_splines(struct splines *s, const struct fit_run *p, size_t n)
{
    s->n = n;
    for (size_t i = 0; i < n; i++) {
        s->x[i] = p[i].rpm;
        s->speed[i] = p[i].speed;
        s->burn[i] = log(p[i].burn);
    }
    bend(s->x, s->speed, n, s->speed_bend);
    bend(s->x, s->burn, n, s->burn_bend);
}

struct place {
    double speed, cost;
    size_t run; /* the run below it */
    double rpm;
};

static struct place place_at(const struct splines *s, size_t i, double rpm)
{
    struct place v = {.run = i, .rpm = rpm};

    v.speed = spline_at(s->x, s->speed, s->speed_bend, i, rpm);
    v.cost = exp(spline_at(s->x, s->burn, s->burn_bend, i, rpm)) / v.speed;
    return v;
}

/* The lowest inner place whose rpm lies within [low, high]; false where there is none. */
static bool lowest(const struct splines *s, double low, double high, struct place *out)
{
    struct place before = {0}, middle = {0};
    bool found = false;
    int seen = 0;

    for (size_t i = 0; i + 1 < s->n; i++) {
        for (int k = i == 0 ? 0 : 1; k <= FINE; k++) {
            struct place v = place_at(s, i, s->x[i] + (s->x[i + 1] - s->x[i]) * k / FINE);

            if (seen++ >= 2 && middle.cost < before.cost && middle.cost <= v.cost &&
                middle.speed > 0 && middle.rpm >= low && middle.rpm <= high &&
                (!found || middle.cost < out->cost)) {
                *out = middle;
                found = true;
            }
            before = middle;
            middle = v;
        }
    }
    return found;
}

/* Some run on each side costs more by more than SURE standard errors of the difference. */
static bool is_sure(const struct fit_run *p, size_t n, const struct place *best)
{
    bool left = false, right = false;
    size_t near = best->run;

    if (best->rpm - p[near].rpm > p[near + 1].rpm - best->rpm)
        near++;
    double own =
        best->cost * hypot(p[near].speed_error / p[near].speed, p[near].burn_error / p[near].burn);

    for (size_t i = 0; i < n; i++) {
        double cost = p[i].burn / p[i].speed;
        double error = cost * hypot(p[i].speed_error / p[i].speed, p[i].burn_error / p[i].burn);

        if (cost - best->cost < SURE * hypot(error, own))
            continue;
        left |= p[i].rpm < best->rpm;
        right |= p[i].rpm > best->rpm;
    }
    return left && right;
}

/* Vertex of the parabola of cost over speed through the three runs around a place. */
static double vertex(const struct fit_run *p, size_t n, const struct place *best)
{
    size_t m =
        best->rpm - p[best->run].rpm < p[best->run + 1].rpm - best->rpm ? best->run : best->run + 1;

    m = m < 1 ? 1 : m + 2 > n ? n - 2 : m;
    double x0 = p[m - 1].speed, x1 = p[m].speed, x2 = p[m + 1].speed;
    double y0 = p[m - 1].burn / x0, y1 = p[m].burn / x1, y2 = p[m + 1].burn / x2;
    double s0 = (y1 - y0) / (x1 - x0), s1 = (y2 - y1) / (x2 - x1);

    if (!(s1 > s0))
        return NAN;
    return (x0 + x1) / 2 - s0 * (x2 - x0) / (2 * (s1 - s0));
}

bool fit_best(const struct fit_run *p, size_t n, struct fit_best *out)
{
    struct fit_run moved[RUNS_MAX];
    struct splines s;
    struct place best, other;
    double sum = 0, span;

    if (n < FIT_BEST_RUNS || n > RUNS_MAX)
        return false;
    for (size_t i = 0; i < n; i++)
        if (!(p[i].speed > 0 && p[i].burn > 0) || (i > 0 && !(p[i].rpm > p[i - 1].rpm)))
            return false;
    make_splines(&s, p, n);
    if (!lowest(&s, 0, INFINITY, &best) || !is_sure(p, n, &best))
        return false;
    span = p[best.run + 1].speed - p[best.run].speed;
    for (size_t i = 0; i < 2 * n; i++) {
        for (size_t k = 0; k < n; k++)
            moved[k] = p[k];
        if (i < n)
            moved[i].speed += p[i].speed_error;
        else
            moved[i - n].burn += p[i - n].burn_error;
        make_splines(&s, moved, n);
        if (!lowest(&s, best.rpm * 0.85, best.rpm * 1.15, &other))
            other.speed = best.speed + fabs(span) / 2;
        sum += (other.speed - best.speed) * (other.speed - best.speed);
    }
    double shape = vertex(p, n, &best) - best.speed;

    if (!(fabs(shape) < 2 * fabs(span)))
        shape = 2 * fabs(span);
    shape = fmax(SHAPE_PART * fabs(shape), GAP_PART * fabs(span));
    *out = (struct fit_best){best.speed, best.cost, hypot(SURE_PART * sqrt(sum), shape)};
    return true;
}
