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

/* Two samples that fall on one line pass for a slope: none says what the engine space is like. */
static void engine_space__first_samples_wildly_low__is_no_fire(void **state)
{
    (void)state;
    static const double wild_c[][8] = {
        {8.72, 8.67, 8.71, 8.83, 8.72, 128.05, -3.87, -24.30},
        {27.9, 27.9, 27.5, 27.6, 27.6, 27.5, 17.56, 1.15},
        {-30.0, -35.0, 20.0, 20.1, 20.0, 19.9, 20.0, 20.1},
        {-30.0, 20.0, 20.1, 20.0, 19.9, 20.0, 20.1, 20.0},
    };
    for (size_t n = 0; n < sizeof wild_c / sizeof *wild_c; n++) {
        struct cooling *c = cooling_new();
        assert_non_null(c);
        double normal_c = n == 0 ? 8.7 : n == 1 ? 27.7 : 20.0;
        for (int k = 0; k < 120; k++) {
            double y = k < 8 ? wild_c[n][k] : normal_c + 0.1 * (k % 3);
            cooling_reading(c, (int64_t)k * 1000000000, 0, COOLING_SPACE, true, y);
            assert_int_equal(cooling_verdict(c, 0, COOLING_SPACE)->level, 0);
        }
        cooling_free(c);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(engine_space__first_samples_wildly_low__is_no_fire),
        cmocka_unit_test(cooling__steady_exhaust__says_nothing),
        cmocka_unit_test(cooling__exhaust_climbing_53_k_per_min__warns_within_8_s),
        cmocka_unit_test(cusum__one_wild_sample__stays_below_threshold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
