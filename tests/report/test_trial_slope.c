/* Litres out of a tank for each that was metered, by its level in every minute under way and at
 * rest: held against the least squares of an independent library, numpy 1.24 (Debian 12), which
 * tests/vectors/level-slope.py prints from the table below. */
#include "report/one_trial.h"

#include <stdlib.h>

#define MINUTES      24
#define SQUAT_FACTOR 1.159912533 /* and its error */
#define SQUAT_ERROR  0.015720053

/* Each minute: L/h by the meter, knots, and the level of 200 L in hundredths; it sloshes, and
 * squats under way. */
static const double minutes[MINUTES][3] = {
    {0, 0, 60},      {0, 0, 60.0625},  {0, 0, 59.9375}, {0, 0, 60.125},  {0, 0, 60},
    {0, 0, 59.875},  {12, 4, 60.5},    {12, 4, 60.25},  {24, 6, 60.625}, {24, 6, 60.5},
    {60, 8, 61},     {60, 8, 60.25},   {60, 8, 59.625}, {18, 5, 58.125}, {18, 5, 57.75},
    {48, 7.5, 58.5}, {48, 7.5, 58.25}, {6, 3, 56.625},  {0, 0, 56.25},   {0, 0, 56.375},
    {0, 0, 56.1875}, {0, 0, 56.25},    {0, 0, 56.3125}, {0, 0, 56.125},
};

static int begin(void **state)
{
    (void)state;
    trial_of(1);
    return 0;
}

/* One log of the first so many minutes; the level coarse enough that its two ends tell less. */
static void log_of(int from, int count, enum quantity speed, bool any_speed)
{
    for (int i = 0; i < count; i++) {
        const double *m = minutes[from + i];

        heard(QTY_RPM, 0, 60 * i, 60 * i + 60, m[0] > 0 ? 1500 : 0);
        heard(QTY_FUEL_RATE, 0, 60 * i, 60 * i + 60, m[0]);
        if (any_speed)
            heard(speed, 0, 60 * i, 60 * i + 60, m[1]);
        struct trial_series *s = heard(QTY_FUEL_TANK, 0, 60 * i, 60 * i + 60, m[2]);
        s->capacity_l = 200;
        s->step = 8;
    }
    t->wall_len = 60 * (size_t)count;
    trial_fuel_add(t);
    trial_series_free(t);
}

static void assert_factor(double factor, double error)
{
    trial_fuel_finish(t);
    assert_near(r->meter[0].factor, factor, 1e-6);
    assert_near(r->meter[0].error, error, 1e-6);
    assert_near(r->factor, factor, 1e-6);
}

static void slope__with_squat__as_least_squares_have_it(void **state)
{
    (void)state;
    for (int i = 0; i < 2; i++) { /* by the log, or else over the ground */
        end(state);
        begin(state);
        log_of(0, MINUTES, i ? QTY_SPEED_GROUND : QTY_SPEED_WATER, true);
        assert_near(t->slope[0].n, MINUTES, 0);
        assert_factor(SQUAT_FACTOR, SQUAT_ERROR);
    }
}

/* The log through the water is asked first. */
static void slope__two_speeds__by_the_one_through_the_water(void **state)
{
    (void)state;
    heard(QTY_SPEED_GROUND, 0, 0, MINUTES * 60, 3);
    log_of(0, MINUTES, QTY_SPEED_WATER, true);
    assert_factor(SQUAT_FACTOR, SQUAT_ERROR);
}

static void slope__no_speed__has_no_squat(void **state)
{
    (void)state;
    log_of(0, MINUTES, QTY_SPEED_WATER, false);
    assert_factor(1.153771412, 0.197177309);
}

/* Each log about its own means: between two of them the tank may have been filled. */
static void slope__two_logs__each_about_its_own_means(void **state)
{
    (void)state;
    log_of(0, 12, QTY_SPEED_WATER, true);
    log_of(10, 14, QTY_SPEED_WATER, true);
    assert_near(t->slope[0].logs, 2, 0);
    assert_factor(1.139749900, 0.113274259);
}

/* What two meters doubt of their difference is added: 3 L/h of each 24, 95 in 100, for the way. */
static void slope__two_meters__with_what_they_doubt(void **state)
{
    double burnt = 0, doubt = 0;

    (void)state;
    for (int i = 0; i < MINUTES; i++)
        burnt += minutes[i][0] / 60;
    for (int i = 8; i < 10; i++) {
        heard(QTY_BURN_ERROR, 0, 60 * i, 60 * i + 60, 3);
        doubt += 3.0 / 60 / 2;
    }
    heard(QTY_BURN_ERROR, 0, 600, 604, 0);
    log_of(0, MINUTES, QTY_SPEED_WATER, true);
    assert_near(r->meter[0].burnt_error_l, doubt, 1e-6);
    assert_factor(SQUAT_FACTOR, hypot(SQUAT_ERROR, doubt / burnt));
}

/* Ten minutes are the least. */
static void slope__nine_minutes__say_nothing(void **state)
{
    for (int n = 9; n <= 10; n++) {
        end(state);
        begin(state);
        log_of(4, n, QTY_SPEED_WATER, true);
        assert_near(t->slope[0].n, n < 10 ? 0 : 10, 0);
        assert_near(t->slope[0].products, n < 10 ? 0 : 9, 0);
    }
}

#define WITH_TRIAL(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_TRIAL(slope__with_squat__as_least_squares_have_it),
        WITH_TRIAL(slope__two_speeds__by_the_one_through_the_water),
        WITH_TRIAL(slope__no_speed__has_no_squat),
        WITH_TRIAL(slope__two_logs__each_about_its_own_means),
        WITH_TRIAL(slope__two_meters__with_what_they_doubt),
        WITH_TRIAL(slope__nine_minutes__say_nothing),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
