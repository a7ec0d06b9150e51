/* The k-th of n numbers, against the C library's sort: every length up to that of a tank's window,
 * many of them equal, sorted, and sorted backwards. */
#include "base/order.h"
#include "base/rng.h"
#include "support/check.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define MOST 120

static int compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The same numbers, the k-th in its place, none greater before it and none less after it. */
static void assert_kth(const double *v, int n, int k)
{
    double mine[MOST], sorted[MOST];
    size_t bytes = (size_t)n * sizeof *v;
    memcpy(mine, v, bytes);
    memcpy(sorted, v, bytes);
    qsort(sorted, (size_t)n, sizeof *sorted, compare);
    assert_near(order_at(mine, n, k), sorted[k], 0);
    assert_near(mine[k], sorted[k], 0);
    for (int i = 0; i < n; i++)
        assert_true(i < k ? mine[i] <= mine[k] : mine[i] >= mine[k]);
    qsort(mine, (size_t)n, sizeof *mine, compare);
    assert_memory_equal(mine, sorted, bytes);
}

static void kth__any_numbers__as_the_library_sorts_them(void **state)
{
    (void)state;
    struct rng r;
    rng_seed(&r, 11);
    for (int n = 1; n <= MOST; n++) {
        for (int round = 0; round < 12; round++) {
            double v[MOST];
            for (int i = 0; i < n; i++)
                v[i] = round < 6 ? (double)rng_below(&r, 5) : (double)rng_below(&r, 100000) / 7;
            if (round % 3 == 1)
                qsort(v, (size_t)n, sizeof *v, compare);
            for (int i = 0; round % 6 == 4 && i < n / 2; i++) {
                double t = v[i];
                v[i] = v[n - 1 - i];
                v[n - 1 - i] = t;
            }
            assert_kth(v, n, n / 2);
            assert_kth(v, n, 0);
            assert_kth(v, n, n - 1);
            assert_kth(v, n, (int)rng_below(&r, (uint32_t)n));
        }
    }
}

static void median__odd_even_one_and_none__as_by_definition(void **state)
{
    (void)state;
    double v[MOST], mine[MOST], sorted[MOST];
    struct rng r;
    rng_seed(&r, 12);
    assert_true(isnan(order_median(v, 0)));
    for (int n = 1; n <= MOST; n++) {
        for (int i = 0; i < n; i++)
            v[i] = n % 3 ? (double)rng_below(&r, 100000) / 7 : (double)rng_below(&r, 4);
        memcpy(mine, v, (size_t)n * sizeof *v);
        memcpy(sorted, v, (size_t)n * sizeof *v);
        qsort(sorted, (size_t)n, sizeof *sorted, compare);
        double want = n % 2 ? sorted[n / 2] : (sorted[n / 2 - 1] + sorted[n / 2]) / 2;
        assert_near(order_median(mine, n), want, 0);
    }
}

static void middle__of_three_in_any_order__is_the_second(void **state)
{
    (void)state;
    static const double all[6][3] = {{1, 2, 3}, {1, 3, 2}, {2, 1, 3},
                                     {2, 3, 1}, {3, 1, 2}, {3, 2, 1}};
    for (int i = 0; i < 6; i++)
        assert_near(middle_of(all[i][0], all[i][1], all[i][2]), 2, 0);
    assert_near(middle_of(2, 2, 1), 2, 0);
    assert_near(middle_of(1, 2, 2), 2, 0);
    assert_near(lesser(1, 2), 1, 0);
    assert_near(greater(1, 2), 2, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kth__any_numbers__as_the_library_sorts_them),
        cmocka_unit_test(median__odd_even_one_and_none__as_by_definition),
        cmocka_unit_test(middle__of_three_in_any_order__is_the_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
