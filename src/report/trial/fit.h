/* Small fits for a sea trial: a line, a power law, the bottom of a curve. Pure.
 * Ordinary least squares; errors are standard errors (one sigma) of the fitted figure. */
#ifndef STOKEHOLD_REPORT_TRIAL_FIT_H
#define STOKEHOLD_REPORT_TRIAL_FIT_H

#include <stdbool.h>
#include <stddef.h>

struct fit_line {
    double offset, slope;
    double slope_error; /* NaN for two points */
    double r2;
};
/* y = offset + slope x. False with fewer than two points or without spread in x. */
bool fit_line(const double *x, const double *y, size_t n, struct fit_line *out);

struct fit_power {
    double factor, exponent;
    double exponent_error; /* NaN for two points */
    double r2;             /* of the logarithms */
};
/* y = factor x^exponent, fitted to logarithms. Points that are not positive are left out. */
bool fit_power(const double *x, const double *y, size_t n, struct fit_power *out);

/* One measured point of a curve, with the standard error of each figure. */
struct fit_point {
    double x, y, x_error, y_error;
};
struct fit_bottom {
    double x, y;
    double x_error; /* of measurement and of the curve's unknown shape, together; one sigma */
};
/* The lowest place of a curve through n points in order of rising x: the vertex of a parabola
 * through the lowest inner point and its neighbours. What the points' errors do to it is found by
 * moving each in turn; what the shape does, by a second parabola through two neighbours each side.
 * `from` says at which point to begin looking; *at gets the index of the lowest inner point, for
 * the next search. False where no inner point is lower than its neighbours. */
bool fit_bottom(const struct fit_point *p, size_t n, size_t from, struct fit_bottom *out,
                size_t *at);

#endif
