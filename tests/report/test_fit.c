/* Fits against known curves. */
#include "report/trial/fit.h"

#include "support/check.h"

static const double alike[8] = {0.01, 0.01, 0.01, 0.01, 0.01, 0.01, 0.01, 0.01};

/* 40 CFR 1042 App. II, cycle E3: 100/91/80/63 % speed for 100/75/50/25 % power: the cube. */
static void power__e3_points__gives_the_cube(void **state)
{
    static const double n[] = {100, 91, 80, 63}, p[] = {100, 75, 50, 25};
    struct fit_power f;

    (void)state;
    assert_true(fit_power(n, p, alike, 4, &f));
    assert_near(f.exponent, 3, 0.03);
}

/* 40 CFR 1045 App. II, cycle E4: torque 71.6/46.5/25.3 % at 80/60/40 % speed: n^1.5. */
static void power__e4_points__gives_its_exponent(void **state)
{
    static const double n[] = {1, 0.8, 0.6, 0.4}, t[] = {1, 0.716, 0.465, 0.253};
    struct fit_power f;

    (void)state;
    assert_true(fit_power(n, t, alike, 4, &f));
    assert_near(f.exponent, 1.5, 0.005);
    assert_near(f.factor, 1, 0.003);
}

/* Worked by hand: at x = 1, e, e^2 the logarithms are 0, 1, 2; with shares alike s the error of the
 * slope is s / sqrt(2). A point four times worse counts a sixteenth. */
static void power__known_shares__give_the_error_and_the_weight(void **state)
{
    const double x[] = {1, exp(1), exp(2)}, y[] = {1, exp(3), exp(6)};
    const double bent[] = {1, exp(3), exp(7)}, share[] = {0.02, 0.02, 0.08};
    struct fit_power f;

    (void)state;
    assert_true(fit_power(x, y, alike, 3, &f));
    assert_near(f.exponent, 3, 1e-12);
    assert_near(f.factor, 1, 1e-12);
    assert_near(f.exponent_error, 0.01 / sqrt(2), 1e-12);
    assert_true(fit_power(x, bent, share, 3, &f));
    /* weights 1, 1, 1/16: mean x (1 + 1/8)/2.0625, slope by the textbook sums */
    double w[] = {1, 1, 0.0625}, mx = (1 + 0.125) / 2.0625, my = (3 + 7 * 0.0625) / 2.0625;
    double sxx = 0, sxy = 0, ly[] = {0, 3, 7};
    for (int i = 0; i < 3; i++) {
        sxx += w[i] * (i - mx) * (i - mx);
        sxy += w[i] * (i - mx) * (ly[i] - my);
    }
    assert_near(f.exponent, sxy / sxx, 1e-9);
    assert_near(f.exponent_error, 0.02 / sqrt(sxx), 1e-9);
}

static void power__nothing_to_fit__is_refused(void **state)
{
    static const double x[] = {2, 2, 2}, y[] = {1, 2, 3}, zero[] = {1, 0, 3}, far[] = {1, 2, 3};
    struct fit_power f;

    (void)state;
    assert_false(fit_power(x, y, alike, 0, &f));
    assert_false(fit_power(far, y, alike, 1, &f));
    assert_false(fit_power(x, y, alike, 3, &f));
    assert_false(fit_power(far, zero, alike, 3, &f));
    assert_false(fit_power(zero, y, alike, 3, &f));
    assert_false(fit_power(far, y, zero, 3, &f));
}

/* Fuel in t/h of 0.136 + 0.001 V^3 (a marine exam's ship): a mile is cheapest where its
 * derivative is zero, V = (0.136 / 0.002)^(1/3) = 4.0817 kn. Speed goes with the turns. */
static void best__exam_ship__is_found_within_stated_error(void **state)
{
    (void)state;
    for (int shift = 0; shift < 10; shift++) {
        struct fit_run p[12];
        struct fit_best b;
        size_t n = 0;

        for (double v = 1.5 + 0.1 * shift; v < 9; v += 1)
            p[n++] = (struct fit_run){100 * v, v, 0.01, 0.136 + 0.001 * v * v * v, 0.0002};
        assert_true(fit_best(p, n, &b));
        assert_near(b.x, cbrt(0.136 / 0.002), 2 * b.x_error);
        assert_true(b.x_error < 0.2);
        assert_near(b.y, 0.136 / b.x + 0.001 * b.x * b.x, 2e-4);
    }
}

static void best__larger_errors__make_a_larger_error(void **state)
{
    struct fit_run p[9];
    struct fit_best fine, rough, burnt;

    (void)state;
    for (int i = 0; i < 9; i++)
        p[i] = (struct fit_run){100 + 100 * i, 1 + i, 0.001, 0.5 + 0.004 * pow(1 + i, 3), 0.0001};
    assert_true(fit_best(p, 9, &fine));
    for (int i = 0; i < 9; i++)
        p[i].speed_error = 0.1;
    assert_true(fit_best(p, 9, &rough));
    assert_true(rough.x_error > 2 * fine.x_error);
    for (int i = 0; i < 9; i++) {
        p[i].speed_error = 0.001;
        p[i].burn_error = 0.02 * p[i].burn;
    }
    assert_true(fit_best(p, 9, &burnt));
    assert_true(burnt.x_error > 2 * fine.x_error);
}

/* A dip no deeper than its errors is chance. */
static void best__dip_within_the_errors__is_none(void **state)
{
    static const double cost[] = {2, 1.99, 2.03, 2.3, 2.7};
    struct fit_run p[5];
    struct fit_best b;

    (void)state;
    for (int i = 0; i < 5; i++)
        p[i] = (struct fit_run){1000 + 200 * i, 5 + i, 0.05, cost[i] * (5 + i), 0.02};
    assert_false(fit_best(p, 5, &b));
    for (int i = 0; i < 5; i++)
        p[i].speed_error = p[i].burn_error = 0.0005;
    assert_true(fit_best(p, 5, &b));
}

static void best__only_rising_or_falling__or_too_few__is_none(void **state)
{
    struct fit_run up[6], down[6], twice[6];
    struct fit_best b;

    (void)state;
    for (int i = 0; i < 6; i++) {
        up[i] = (struct fit_run){1000 + 100 * i, 5 + i, 0.01, (5 + i) * (1 + 0.2 * i), 0.01};
        down[i] = (struct fit_run){1000 + 100 * i, 5 + i, 0.01, (5 + i) * (3 - 0.2 * i), 0.01};
        twice[i] = (struct fit_run){1000, 5 + i, 0.01, 5 + pow(i - 2, 2), 0.01};
    }
    assert_false(fit_best(up, 6, &b));
    assert_false(fit_best(down, 6, &b));
    assert_false(fit_best(twice, 6, &b));
    assert_false(fit_best(up, 3, &b));
    assert_false(fit_best(up, 0, &b));
    up[2].burn = 0;
    assert_false(fit_best(up, 6, &b));
}

/* Boats with a dip, or with two, as scipy 1.10.1 (Debian 12) has them:
 * tests/vectors/cheapest-mile.py prints the figures from this table. */
static const struct {
    const char *what;
    size_t n;
    struct fit_run run[6];
    double x, y, x_error;
} cheapest[] = {
    {
        "a dip between the runs",
        6,
        .run = {{1000, 4, 0.05, 9, 0.08},
                {1300, 5.1, 0.03, 10.6, 0.05},
                {1500, 5.9, 0.04, 11.9, 0.06},
                {1900, 7.2, 0.02, 15.4, 0.09},
                {2200, 8, 0.03, 21, 0.07},
                {2600, 8.9, 0.05, 30, 0.1}},
        .x = 6.265401373,
        .y = 2.007305239,
        .x_error = 0.1037360361,
    },
    {
        "three errors to either side",
        4,
        .run = {{1000, 4, 0.01, 10, 0.02},
                {1500, 6, 0.01, 12, 0.02},
                {2000, 8, 0.01, 18, 0.02},
                {2500, 10, 0.02, 30, 0.03}},
        .x = 6.25,
        .y = 1.994949965,
        .x_error = 0.08041326042,
    },
    {
        "two dips: the lower",
        6,
        .run = {{1000, 4, 0.01, 10, 0.02},
                {1400, 5.5, 0.01, 11.3, 0.02},
                {1800, 6.8, 0.01, 16, 0.02},
                {2200, 9.2, 0.02, 19.5, 0.03},
                {2600, 10.6, 0.02, 27, 0.03},
                {3000, 11.4, 0.02, 36, 0.03}},
        .x = 5.396786672,
        .y = 2.050339491,
        .x_error = 0.06061007497,
    },
    {
        "a parabola that says otherwise",
        5,
        .run = {{900, 3.5, 0.2, 11.5, 0.4},
                {1300, 4.3, 0.2, 8.5, 0.02},
                {1500, 5.4, 0.05, 14.7, 0.05},
                {1900, 6.9, 0.02, 23, 0.4},
                {2100, 9.1, 0.01, 15.5, 0.1}},
        .x = 4.079158266,
        .y = 1.954638576,
        .x_error = 0.2312619019,
    },
    {
        "the same at the upper end",
        5,
        .run = {{800, 3.7, 0.05, 11.2, 0.05},
                {1300, 4.6, 0.02, 8.1, 0.4},
                {1500, 5.5, 0.05, 15.1, 0.02},
                {1700, 7, 0.01, 12.2, 0.1},
                {2200, 7.6, 0.01, 11.6, 0.1}},
        .x = 7.785233516,
        .y = 1.312320854,
        .x_error = 0.06478844315,
    },
    {
        "and at the lower",
        4,
        .run = {{1000, 4.6, 0.01, 12.3, 0.02},
                {1400, 5.3, 0.05, 15.4, 0.02},
                {1600, 6.1, 0.05, 21.1, 0.05},
                {1800, 6.8, 0.01, 21.1, 0.05}},
        .x = 4.756012228,
        .y = 2.641709724,
        .x_error = 0.07681513243,
    },
    {
        "one whose lowest place is far away",
        4,
        .run = {{800, 4.5, 0.02, 7.5, 0.02},
                {1000, 5.9, 0.2, 18.7, 0.1},
                {1500, 8.1, 0.01, 26.6, 0.1},
                {1900, 8.8, 0.02, 30.3, 0.1}},
        .x = 8.396247349,
        .y = 3.189837337,
        .x_error = 0.1246034881,
    },
    {
        "one that has none, at the upper end",
        5,
        .run = {{1100, 5, 0.01, 7.8, 0.02},
                {1500, 6.6, 0.05, 14.5, 0.05},
                {1700, 8.7, 0.01, 29.8, 0.02},
                {2100, 10.5, 0.01, 33.8, 0.05},
                {2500, 12, 0.02, 36.2, 0.02}},
        .x = 11.37833405,
        .y = 2.982682138,
        .x_error = 0.240251141,
    },
    {
        "and at the lower",
        4,
        .run = {{900, 5.2, 0.01, 15.5, 0.02},
                {1400, 6.5, 0.02, 19.4, 0.02},
                {1900, 7.1, 0.02, 16.9, 0.1},
                {2100, 8.7, 0.02, 13.8, 0.4}},
        .x = 5.986087849,
        .y = 2.936441983,
        .x_error = 0.2298269661,
    },
};

static void best__known_boats__as_scipy_has_them(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof cheapest / sizeof cheapest[0]; i++) {
        struct fit_best b;

        if (!fit_best(cheapest[i].run, cheapest[i].n, &b))
            fail_msg("%s: no cheapest mile", cheapest[i].what);
        assert_near(b.x, cheapest[i].x, 1e-8);
        assert_near(b.y, cheapest[i].y, 1e-8);
        assert_near(b.x_error, cheapest[i].x_error, 1e-8);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(power__e3_points__gives_the_cube),
        cmocka_unit_test(power__e4_points__gives_its_exponent),
        cmocka_unit_test(power__known_shares__give_the_error_and_the_weight),
        cmocka_unit_test(power__nothing_to_fit__is_refused),
        cmocka_unit_test(best__exam_ship__is_found_within_stated_error),
        cmocka_unit_test(best__known_boats__as_scipy_has_them),
        cmocka_unit_test(best__larger_errors__make_a_larger_error),
        cmocka_unit_test(best__dip_within_the_errors__is_none),
        cmocka_unit_test(best__only_rising_or_falling__or_too_few__is_none),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
