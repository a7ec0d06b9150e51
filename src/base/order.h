/* fmin and fmax without their care for NaN: one comparison where they are a call, which counts
 * where a reading passes a dozen of them. For numbers alone: of a NaN, the second one is the
 * answer. */
#ifndef STOKEHOLD_BASE_ORDER_H
#define STOKEHOLD_BASE_ORDER_H

static inline double lesser(double a, double b)
{
    return a < b ? a : b;
}

static inline double greater(double a, double b)
{
    return a > b ? a : b;
}

/* The middle one of three. */
static inline double middle_of(double a, double b, double c)
{
    return greater(lesser(a, b), lesser(greater(a, b), c));
}

/* The k-th from below, from 0, of n numbers, none of them NaN: v is put into another order, in
 * which nothing before k is greater and nothing after it less. */
double order_at(double *v, int n, int k);
/* The middle one, of an even number the mean of the two; NaN of none. */
double order_median(double *v, int n);

#endif
