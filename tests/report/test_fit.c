/* Fits against known curves. */
#include "report/trial/fit.h"

#include "support/check.h"

static void line__exact_points__gives_slope_without_error(void **state)
{
    static const double x[] = {1, 2, 4, 7}, y[] = {5, 7, 11, 17};
    struct fit_line f;

    (void)state;
    assert_true(fit_line(x, y, 4, &f));
    assert_near(f.slope, 2, 1e-12);
    assert_near(f.offset, 3, 1e-12);
    assert_near(f.slope_error, 0, 1e-9);
    assert_near(f.r2, 1, 1e-12);
}

/* Worked by hand: x 0,1,2, y 0,1,1: slope 0.5, residuals -1/6, 1/3, -1/6, error sqrt(1/6/2). */
static void line__scattered_points__gives_standard_error(void **state)
{
    static const double x[] = {0, 1, 2}, y[] = {0, 1, 1};
    struct fit_line f;

    (void)state;
    assert_true(fit_line(x, y, 3, &f));
    assert_near(f.slope, 0.5, 1e-12);
    assert_near(f.slope_error, sqrt(1.0 / 6 / 2), 1e-9);
}

static void line__too_little__is_refused(void **state)
{
    static const double x[] = {2, 2, 2}, y[] = {1, 2, 3};
    struct fit_line f;

    (void)state;
    assert_false(fit_line(x, y, 0, &f));
    assert_false(fit_line(x, y, 1, &f));
    assert_false(fit_line(x, y, 3, &f));
}

/* 40 CFR 1042 App. II, cycle E3: 100/91/80/63 % speed for 100/75/50/25 % power: the cube. */
static void power__e3_points__gives_the_cube(void **state)
{
    static const double n[] = {100, 91, 80, 63}, p[] = {100, 75, 50, 25};
    struct fit_power f;

    (void)state;
    assert_true(fit_power(n, p, 4, &f));
    assert_near(f.exponent, 3, 0.03);
    assert_true(fabs(f.exponent - 3) < 3 * f.exponent_error + 0.01);
}

/* 40 CFR 1045 App. II, cycle E4: torque 71.6/46.5/25.3 % at 80/60/40 % speed: n^1.5. */
static void power__e4_points__gives_its_exponent(void **state)
{
    static const double n[] = {1, 0.8, 0.6, 0.4}, t[] = {1, 0.716, 0.465, 0.253};
    struct fit_power f;

    (void)state;
    assert_true(fit_power(n, t, 4, &f));
    assert_near(f.exponent, 1.5, 0.005);
}

static void power__points_that_are_not_positive__are_left_out(void **state)
{
    static const double x[] = {0, 1, 2, 4, -3}, y[] = {7, 2, 4, 8, 1};
    struct fit_power f;

    (void)state;
    assert_true(fit_power(x, y, 5, &f));
    assert_near(f.exponent, 1, 1e-12);
    assert_near(f.factor, 2, 1e-12);
    assert_false(fit_power(x, y, 2, &f));
}

static void bottom__parabola__is_found_to_the_point(void **state)
{
    struct fit_point p[5];
    struct fit_bottom b;
    size_t at;

    (void)state;
    for (int i = 0; i < 5; i++)
        p[i] = (struct fit_point){i, 2 + 3 * (i - 1.7) * (i - 1.7), 0, 0};
    assert_true(fit_bottom(p, 5, 1, &b, &at));
    assert_int_equal(at, 2);
    assert_near(b.x, 1.7, 1e-9);
    assert_near(b.y, 2, 1e-9);
}

/* Fuel in t/h of 0.136 + 0.001 V^3 (a marine exam's ship): a mile is cheapest where its
 * derivative is zero, V = (0.136 / 0.002)^(1/3) = 4.0817 kn. */
static void bottom__exam_ship__is_found_within_stated_error(void **state)
{
    (void)state;
    for (int shift = 0; shift < 10; shift++) {
        struct fit_point p[12];
        struct fit_bottom b;
        size_t n = 0, at;

        for (double v = 1.5 + 0.1 * shift; v < 9; v += 1)
            p[n++] = (struct fit_point){v, (0.136 + 0.001 * v * v * v) / v, 0.01, 0.0002};
        assert_true(fit_bottom(p, n, 1, &b, &at));
        assert_near(b.x, cbrt(0.136 / 0.002), 2 * b.x_error);
        assert_true(b.x_error < 0.5);
    }
}

static void bottom__only_rising_or_falling__is_none(void **state)
{
    static const struct fit_point up[] = {{1, 1, 0, 0}, {2, 2, 0, 0}, {3, 3, 0, 0}};
    static const struct fit_point down[] = {{1, 3, 0, 0}, {2, 2, 0, 0}, {3, 1, 0, 0}};
    struct fit_bottom b;
    size_t at;

    (void)state;
    assert_false(fit_bottom(up, 3, 1, &b, &at));
    assert_false(fit_bottom(down, 3, 1, &b, &at));
    assert_false(fit_bottom(up, 2, 1, &b, &at));
    assert_false(fit_bottom(up, 0, 1, &b, &at));
}

static void bottom__two_valleys__are_both_found(void **state)
{
    static const double y[] = {5, 3, 4, 6, 4, 2, 3, 7};
    struct fit_point p[8];
    struct fit_bottom b;
    size_t at;

    (void)state;
    for (int i = 0; i < 8; i++)
        p[i] = (struct fit_point){i, y[i], 0, 0};
    assert_true(fit_bottom(p, 8, 1, &b, &at));
    assert_int_equal(at, 1);
    assert_true(fit_bottom(p, 8, at + 1, &b, &at));
    assert_int_equal(at, 5);
    assert_false(fit_bottom(p, 8, at + 1, &b, &at));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(line__exact_points__gives_slope_without_error),
        cmocka_unit_test(line__scattered_points__gives_standard_error),
        cmocka_unit_test(line__too_little__is_refused),
        cmocka_unit_test(power__e3_points__gives_the_cube),
        cmocka_unit_test(power__e4_points__gives_its_exponent),
        cmocka_unit_test(power__points_that_are_not_positive__are_left_out),
        cmocka_unit_test(bottom__parabola__is_found_to_the_point),
        cmocka_unit_test(bottom__exam_ship__is_found_within_stated_error),
        cmocka_unit_test(bottom__only_rising_or_falling__is_none),
        cmocka_unit_test(bottom__two_valleys__are_both_found),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
