/* The cooling watch on the plainest traces; the trips are in tests/bench. */
#include "cooling/cooling.h"
#include "cooling/cusum.h"
#include "support/check.h"

#include <math.h>
#include <stdint.h>

#define SECOND INT64_C(1000000000)

/* Deterministic noise, about normal: the sum of 12 uniform numbers. */
static double noise(uint64_t *state)
{
    double sum = 0.0;
    for (int i = 0; i < 12; i++) {
        *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        sum += (double)(*state >> 40) / 16777216.0;
    }
    return sum - 6.0;
}

/* Runs seconds [from, to) at 2200 rpm with exhaust a + b t after `from`; returns the worst level.
 */
static int run(struct cooling *c, uint64_t *seed, int from, int to, double a, double b)
{
    int worst = 0;
    for (int t = from; t < to; t++) {
        cooling_reading(c, t * SECOND, 0, COOLING_RPM, true, 2200.0);
        cooling_reading(c, t * SECOND, 0, COOLING_EXHAUST, true,
                        a + b * (t - from) + 0.1 * noise(seed));
        int level = cooling_verdict(c, 0, COOLING_EXHAUST)->level;
        worst = level > worst ? level : worst;
    }
    return worst;
}

static void cooling__steady_exhaust__says_nothing(void **state)
{
    (void)state;
    uint64_t seed = 1;
    struct cooling *c = cooling_new();
    cooling_engine(c, 0, 0, true);
    assert_int_equal(run(c, &seed, 0, 3600, 50.0, 0.0), 0);
    cooling_free(c);
}

/* check-values.md 10.2, slowest case: 53 K/min. */
static void cooling__exhaust_climbing_53_k_per_min__warns_within_8_s(void **state)
{
    (void)state;
    uint64_t seed = 2;
    struct cooling *c = cooling_new();
    cooling_engine(c, 0, 0, true);
    assert_int_equal(run(c, &seed, 0, 600, 50.0, 0.0), 0);
    assert_true(run(c, &seed, 600, 608, 50.0, 53.0 / 60.0) >= 2);
    assert_int_equal(cooling_verdict(c, 0, COOLING_EXHAUST)->cause, CAUSE_RAW_WATER);
    cooling_free(c);
}

static void cusum__one_wild_sample__stays_below_threshold(void **state)
{
    (void)state;
    struct cusum s;
    cusum_reset(&s);
    assert_true(cusum_add(&s, &cooling_figures, 1000.0) < cooling_figures.sum_threshold);
    assert_true(cusum_add(&s, &cooling_figures, 1000.0) > cooling_figures.sum_threshold);
    cusum_reset(&s);
    assert_near(cusum_add(&s, &cooling_figures, NAN), 0.0, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cooling__steady_exhaust__says_nothing),
        cmocka_unit_test(cooling__exhaust_climbing_53_k_per_min__warns_within_8_s),
        cmocka_unit_test(cusum__one_wild_sample__stays_below_threshold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
