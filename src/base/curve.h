/* A table of pairs read as a broken straight line: a calibration, a strapping table.
 * The inputs rise strictly. Between two entries the straight line; beyond the ends the first and
 * the last slope go on (common practice, no source). */
#ifndef STOKEHOLD_BASE_CURVE_H
#define STOKEHOLD_BASE_CURVE_H

#include "base/err.h"

#include <stdbool.h>
#include <stddef.h>

#define CURVE_POINTS 24 /* a line of the configuration holds no more */

struct curve {
    int count; /* 0: none; otherwise at least 2 */
    double x[CURVE_POINTS], y[CURVE_POINTS];
};

/* Reads "0:0, 50:48.5, 100:96" (IN:OUT). False with the reason in e, *out then unchanged. */
bool curve_parse(const char *text, struct curve *out, struct err *e);
/* The reverse; false when it does not fit. */
bool curve_format(char *dst, size_t cap, const struct curve *c);
/* x itself where the curve is empty. */
double curve_at(const struct curve *c, double x);
/* Whether the outputs rise (or stay) all along. */
bool curve_rises(const struct curve *c);

#endif
