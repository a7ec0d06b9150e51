#include "cooling/cusum.h"

#include <math.h>

#include "base/banned.h"

static const double shift[CUSUM_SUMS] = {1.0, 2.0, 4.0, 8.0};

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

double cusum_add(struct cusum *c, double z)
{
    if (isnan(z))
        return cusum_value(c);
    for (int i = 0; i < CUSUM_SUMS; i++) {
        double ratio = shift[i] * (z - 0.5 * shift[i]);
        c->sum[i] = fmax(0.0, c->sum[i] + fmin(ratio, CUSUM_CLIP));
    }
    double top = cusum_value(c);
    c->run = top > 0.0 ? c->run + 1 : 0;
    return top;
}
