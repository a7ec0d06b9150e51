/* Small fits for a sea trial: a power law, the speed of the cheapest mile. Pure. Errors are
 * standard errors (one sigma) of the fitted figure. */
#ifndef STOKEHOLD_REPORT_TRIAL_FIT_H
#define STOKEHOLD_REPORT_TRIAL_FIT_H

#include <stdbool.h>
#include <stddef.h>

struct fit_power {
    double factor, exponent;
    double exponent_error; /* from the shares */
};
/* y = factor x^exponent through the logarithms, each y known to a share of itself (one sigma) and
 * weighted by it. False with fewer than two points, without spread in x, or where a figure is not
 * positive. */
bool fit_power(const double *x, const double *y, const double *share, size_t n,
               struct fit_power *out);

/* One speed that was run. Errors are one sigma; those that all points have in common are left out,
 * as they move no minimum. */
enum { FIT_BEST_RUNS = 4 }; /* at fewer speeds no best one can be told */
struct fit_run {
    double rpm, speed, speed_error, burn, burn_error;
};
struct fit_best {
    double x, y;    /* speed, and burn over speed there */
    double x_error; /* of measurement and of the curve's unknown shape, together; one sigma */
};
/* The speed at which a mile costs least: the lowest place of burn over speed between the first and
 * the last of n runs in order of rising rpm, each curve a natural cubic spline over engine speed.
 * What the runs' errors do to it is found by moving each in turn; what the shape does, from a
 * parabola through the three runs around it. False where none is lower than both its sides by more
 * than three standard errors. */
bool fit_best(const struct fit_run *p, size_t n, struct fit_best *out);

#endif
