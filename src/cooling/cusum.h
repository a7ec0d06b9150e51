/* One-sided cumulative sums (Page 1954) against a rise of unknown size: a few sums run side by
 * side, each tuned to one size of shift in units of the noise, and the largest speaks. A sum of
 * log-likelihood ratios restarted at zero is the optimal test for a known shift (Moustakides
 * 1986; Lorden 1971 for long times between false alarms).
 * One sample may add at most sum_clip, so that no wild sample alone reaches the threshold. */
#ifndef STOKEHOLD_COOLING_CUSUM_H
#define STOKEHOLD_COOLING_CUSUM_H

#include "cooling/figures.h"

#define CUSUM_SUMS 4

struct cusum {
    double sum[CUSUM_SUMS];
    int run; /* samples in a row since the largest sum left zero */
};

void cusum_reset(struct cusum *c);
/* z: the residual in units of the noise, its allowance already taken off. Returns the largest
 * sum. NaN counts as no sample. */
double cusum_add(struct cusum *c, const struct figures *k, double z);
double cusum_value(const struct cusum *c);

#endif
