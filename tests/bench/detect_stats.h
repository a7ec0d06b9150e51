/* Quantiles for the detection bench. */
#ifndef STOKEHOLD_BENCH_DETECT_STATS_H
#define STOKEHOLD_BENCH_DETECT_STATS_H

/* NaN counts as never: infinity. Sorts v. NaN where n is 0. */
double stats_quantile(double *v, int n, double q);

#endif
