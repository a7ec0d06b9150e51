#include "cooling/cusum.h"

#include <math.h>

#include "base/banned.h"

void cusum_reset(struct cusum *c)
{
    *c = (struct cusum){0};
}

double cusum_value(const struct cusum *c)
{
    double top = 0.0;
    for (int i = 0; i < CUSUM_SUMS; i++)
        top = fmax(top, c->sum[i]);
    return top;
}

double cusum_add(struct cusum *c, const struct figures *k, double z)
{
    if (isnan(z))
        return cusum_value(c);
    const double shift[CUSUM_SUMS] = {k->sum_shift_1, k->sum_shift_2, k->sum_shift_3,
                                      k->sum_shift_4};
    for (int i = 0; i < CUSUM_SUMS; i++) {
        double ratio = shift[i] * (z - 0.5 * shift[i]);
        c->sum[i] = fmax(0.0, c->sum[i] + fmin(ratio, k->sum_clip));
    }
    double top = cusum_value(c);
    c->run = top > 0.0 ? c->run + 1 : 0;
    return top;
}
