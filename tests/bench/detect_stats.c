#include "detect_stats.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double stats_quantile(double *v, int n, double q)
{
    for (int i = 0; i < n; i++)
        if (isnan(v[i]))
            v[i] = INFINITY;
    if (n == 0)
        return NAN;
    qsort(v, (size_t)n, sizeof *v, by_value);
    return v[(int)(q * (n - 1) + 0.5)];
}
