/* How the water itself moved while a log was written: from each speed that was run both ways comes
 * one mean of the current, and through these goes a line or a curve of time. It takes what a
 * current that changes does out of the runs both ways (as the mean of means does: four runs free
 * of a parabola, ITTC 7.5-04-01-01.1), and gives one-way runs the current that they need. */
#include "report/trial/inside.h"

#include <math.h>

#include "base/banned.h"

#define HOUR_NS      (3600.0 * (double)NS_PER_S)
#define WALK_UNKNOWN 0.02 /* kn2/h: with too few pairs to tell; common practice, no source */
#define SCATTER_FEW  0.1  /* kn: the same, of a single pair */
#define TERMS        3

/* Solves by Gauss's elimination the normal equations for their inverse; false where singular. */
static bool invert(const double a[TERMS][TERMS], int n, double out[9])
{
    double w[TERMS][2 * TERMS] = {{0}};

    for (int i = 0; i < n; i++) {
        for (int k = 0; k < n; k++)
            w[i][k] = a[i][k];
        w[i][n + i] = 1;
    }
    for (int c = 0; c < n; c++) {
        int best = c;

        for (int i = c + 1; i < n; i++)
            if (fabs(w[i][c]) > fabs(w[best][c]))
                best = i;
        if (!(fabs(w[best][c]) > 1e-12))
            return false;
        for (int k = 0; k < 2 * n; k++) {
            double keep = w[c][k];

            w[c][k] = w[best][k];
            w[best][k] = keep;
        }
        for (int i = 0; i < n; i++) {
            double by = w[i][c] / w[c][c];

            for (int k = 0; k < 2 * n && i != c; k++)
                w[i][k] -= by * w[c][k];
        }
    }
    for (int i = 0; i < n; i++)
        for (int k = 0; k < n; k++)
            out[i * TERMS + k] = w[i][n + k] / w[i][i];
    return true;
}

static double hours(const struct trial_current *c, int64_t at_ns)
{
    return (double)(at_ns - c->zero_ns) / HOUR_NS;
}

static double value(const double *coef, int terms, double h)
{
    double sum = 0;

    for (int k = terms - 1; k >= 0; k--)
        sum = sum * h + coef[k];
    return sum;
}

static bool solve(struct trial_current *c, const struct trial_pair *pair, int n)
{
    double a[TERMS][TERMS] = {{0}}, north[TERMS] = {0}, east[TERMS] = {0};

    for (int i = 0; i < n; i++) {
        double power[TERMS] = {1}, h = hours(c, pair[i].at_ns);

        for (int k = 1; k < c->terms; k++)
            power[k] = power[k - 1] * h;
        for (int k = 0; k < c->terms; k++) {
            for (int m = 0; m < c->terms; m++)
                a[k][m] += power[k] * power[m];
            north[k] += power[k] * pair[i].north;
            east[k] += power[k] * pair[i].east;
        }
    }
    if (!invert((const double(*)[TERMS])a, c->terms, c->inverse))
        return false;
    for (int k = 0; k < c->terms; k++) {
        c->north[k] = c->east[k] = 0;
        for (int m = 0; m < c->terms; m++) {
            c->north[k] += c->inverse[k * TERMS + m] * north[m];
            c->east[k] += c->inverse[k * TERMS + m] * east[m];
        }
    }
    return true;
}

/* What the polynomial leaves: its size, and how much of it comes from one pair to the next beyond
 * what the runs' own errors explain. Pairs are in order of time. */
static void leftovers(struct trial_current *c, const struct trial_pair *pair, int n)
{
    double squares = 0, steps = 0, explained = 0, time = 0, before[2] = {0, 0};

    for (int i = 0; i < n; i++) {
        double h = hours(c, pair[i].at_ns);
        double rest[2] = {pair[i].north - value(c->north, c->terms, h),
                          pair[i].east - value(c->east, c->terms, h)};

        squares += rest[0] * rest[0] + rest[1] * rest[1];
        if (i > 0) {
            steps += (rest[0] - before[0]) * (rest[0] - before[0]) +
                     (rest[1] - before[1]) * (rest[1] - before[1]);
            explained +=
                2 * (pair[i].error * pair[i].error + pair[i - 1].error * pair[i - 1].error);
            time += 2 * (h - hours(c, pair[i - 1].at_ns));
        }
        before[0] = rest[0];
        before[1] = rest[1];
    }
    c->scatter_kn = SCATTER_FEW;
    c->walk_kn2_h = WALK_UNKNOWN;
    if (n > c->terms)
        c->scatter_kn = sqrt(squares / (2.0 * (n - c->terms)));
    if (n >= 4 && time > 0)
        c->walk_kn2_h = fmax(0, steps * n / (n - c->terms) - explained) / time;
}

void trial_current_fit(struct trial_current *c, const struct trial_pair *pair, int n)
{
    *c = (struct trial_current){.pairs = n};
    if (n == 0)
        return;
    c->zero_ns = pair[0].at_ns / 2 + pair[n - 1].at_ns / 2;
    for (c->terms = n >= 6 ? 3 : n >= 3 ? 2 : 1; c->terms > 0; c->terms--)
        if (solve(c, pair, n))
            break;
    if (c->terms > 0)
        leftovers(c, pair, n);
}

bool trial_current_at(const struct trial_current *c, int64_t at_ns, double *north, double *east,
                      double *error)
{
    double h, power[TERMS] = {1}, lever = 0;

    *north = *east = *error = 0;
    if (c->terms == 0)
        return false;
    h = hours(c, at_ns);
    for (int k = 1; k < c->terms; k++)
        power[k] = power[k - 1] * h;
    for (int k = 0; k < c->terms; k++)
        for (int m = 0; m < c->terms; m++)
            lever += power[k] * c->inverse[k * TERMS + m] * power[m];
    *north = value(c->north, c->terms, h);
    *east = value(c->east, c->terms, h);
    *error = c->scatter_kn * sqrt(1 + lever);
    return true;
}
