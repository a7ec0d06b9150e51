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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(power__e3_points__gives_the_cube),
        cmocka_unit_test(power__e4_points__gives_its_exponent),
        cmocka_unit_test(power__known_shares__give_the_error_and_the_weight),
        cmocka_unit_test(power__nothing_to_fit__is_refused),
        cmocka_unit_test(best__exam_ship__is_found_within_stated_error),
        cmocka_unit_test(best__larger_errors__make_a_larger_error),
        cmocka_unit_test(best__dip_within_the_errors__is_none),
        cmocka_unit_test(best__only_rising_or_falling__or_too_few__is_none),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
