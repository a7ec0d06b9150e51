/* Linear regression that forgives outliers and may lean on what is known beforehand. Pure.
 *
 * y = sum of beta[j] x[j]; each observation has a weight (1 / variance, up to a factor); each
 * coefficient may have a prior mean and standard error, in units of the residual's own. Outliers
 * are weighed down by Tukey's biweight (Beaton and Tukey 1974, tuning 4.685 for 95 % efficiency at
 * the normal), scale by the median absolute deviation (x 1.4826), iterated to rest. */
#ifndef STOKEHOLD_SEASON_REGRESS_H
#define STOKEHOLD_SEASON_REGRESS_H

#include <stdbool.h>

#define REGRESS_TERMS 8
#define REGRESS_MOST  4096 /* observations */

struct regress_row {
    double x[REGRESS_TERMS];
    double y, weight;
};

struct regress_prior {
    double mean, error; /* error INFINITY: nothing is known */
};

struct regress_fit {
    int terms;
    double beta[REGRESS_TERMS];
    double cov[REGRESS_TERMS][REGRESS_TERMS]; /* of beta, scaled by the residual's variance */
    double scale;                             /* standard deviation of a residual of weight 1 */
    double freedom;
};

/* prior NULL: none. scale_floor: the residual's standard deviation is never taken for less. robust
 * false is plain least squares. False where the terms cannot be told apart or there are too few
 * rows. */
bool regress(const struct regress_row *rows, int count, int terms,
             const struct regress_prior *prior, double scale_floor, bool robust,
             struct regress_fit *out);
double regress_value(const struct regress_fit *f, const double *x);
/* Standard error of that value (of the curve, not of a single reading). */
double regress_error(const struct regress_fit *f, const double *x);

#endif
