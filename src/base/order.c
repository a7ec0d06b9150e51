#include "base/order.h"

#include <assert.h>
#include <math.h>

#include "base/banned.h"

/* Hoare's selection: each round parts the stretch that still holds k at the value that stands at k
 * now, which of values that are sorted already is the right one. */
double order_at(double *v, int n, int k)
{
    assert(k >= 0 && k < n);
    for (int first = 0, last = n - 1; first < last;) {
        double part = v[k];
        int i = first, j = last;
        while (i <= j) {
            while (v[i] < part)
                i++;
            while (v[j] > part)
                j--;
            if (i > j)
                break;
            double t = v[i];
            v[i++] = v[j];
            v[j--] = t;
        }
        if (j < k)
            first = i;
        if (i > k)
            last = j;
    }
    return v[k];
}

double order_median(double *v, int n)
{
    if (n == 0)
        return NAN;
    double upper = order_at(v, n, n / 2);
    if (n % 2 == 1)
        return upper;
    double lower = v[0]; /* the greatest of those before it */
    for (int i = 1; i < n / 2; i++)
        lower = greater(lower, v[i]);
    return (lower + upper) / 2;
}
