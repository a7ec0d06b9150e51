/* Resistance of a thermistor to temperature, by Steinhart and Hart:
 *     1/T = a + b ln R + c (ln R)^3,   T in kelvin, R in ohm.
 * The beta form 1/T = 1/T0 + ln(R/R0)/B is the same with c = 0. A fit is good between its points
 * and little beyond: three points from 0 to 25 °C are half a kelvin off at 85 °C. */
#ifndef STOKEHOLD_BASE_THERMISTOR_H
#define STOKEHOLD_BASE_THERMISTOR_H

#include "base/err.h"

#include <stdbool.h>
#include <stddef.h>

struct thermistor {
    bool set;
    double a, b, c;
};

struct thermistor thermistor_from_beta(double beta_k, double ohm, double at_c);
/* Through three points. False where they do not give a falling curve. */
bool thermistor_from_points(const double ohm[3], const double at_c[3], struct thermistor *out);
/* NaN where R or the result is not a temperature. */
double thermistor_celsius(const struct thermistor *t, double ohm);

/* Reads "beta 3950", "beta 3950, 10000 at 25", "27219 at 0, 14674 at 15, 10000 at 25" or the three
 * coefficients "1.129148e-3 2.34125e-4 8.76741e-8". False with the reason; *out then unchanged. */
bool thermistor_parse(const char *text, struct thermistor *out, struct err *e);
/* The three coefficients, in digits enough to read back the same curve. */
bool thermistor_format(char *dst, size_t cap, const struct thermistor *t);

#endif
