#include "plant/steady.h"

#include "support/check.h"

#include "base/when.h"

static struct steady *s;
static int64_t now_ms;
static double coolant, exhaust;
static uint32_t seed;

static int setup(void **state)
{
    (void)state;
    s = steady_new(NULL);
    now_ms = 1000000;
    coolant = 80;
    exhaust = 40;
    seed = 5;
    return s == NULL;
}

static int teardown(void **state)
{
    (void)state;
    steady_free(s);
    return 0;
}

static double noise(double most)
{
    seed = seed * 1664525 + 1013904223;
    return most * ((double)(seed >> 8) / (1 << 23) - 1);
}

/* Runs twins for so many seconds; temperatures go towards their targets with a time constant. */
static void run(int seconds, double port, double starboard, double coolant_to, double exhaust_to,
                double tau_s)
{
    for (int i = 0; i < seconds * 10; i++, now_ms += 100) {
        int64_t t = now_ms * NS_PER_MS;
        coolant += (coolant_to - coolant) * 0.1 / tau_s;
        exhaust += (exhaust_to - exhaust) * 0.1 / tau_s;
        steady_rpm(s, t, 0, port + noise(5));
        steady_rpm(s, t, 1, starboard + noise(5));
        if (now_ms % 500 == 0)
            steady_temp(s, t, 0, coolant);
        if (now_ms % 2000 == 0)
            steady_temp(s, t, 1, exhaust + noise(0.5));
    }
}

static void steady__three_speeds__three_steps(void **state)
{
    (void)state;
    run(300, 1200, 1210, 80, 40, 20);
    run(10, 1500, 1510, 80, 45, 20);
    run(300, 1800, 1805, 82, 50, 20);
    run(300, 2400, 2390, 86, 60, 20);
    steady_break(s, now_ms * NS_PER_MS);
    assert_int_equal(steady_count(s), 3);
    const struct steady_step *a = steady_at(s, 0), *b = steady_at(s, 1), *c = steady_at(s, 2);
    assert_near(a->rpm[0], 1200, 3);
    assert_near(a->rpm[1], 1210, 3);
    assert_near(b->rpm[0], 1800, 3);
    assert_near(c->rpm[1], 2390, 3);
    assert_int_equal(c->engines, 3);
    assert_true(a->settled_already);
    assert_false(b->settled_already);
    /* b began at 1310 s; the exhaust has 5 K to go with 20 s: 0.5 K from half to half is met
     * where 5 * exp(-t/20) has little left, within one to two minutes. */
    assert_near(when_seconds(b->speed_from_ns), 1310, 1.5);
    assert_in_range((int)when_seconds(b->from_ns - b->speed_from_ns), 20, 100);
    assert_near(when_seconds(b->to_ns), 1610, 1.5);
    assert_null(steady_at(s, 3));
}

static void steady__temperature_still_climbing__no_step(void **state)
{
    (void)state;
    run(300, 1800, 1800, 140, 40, 600); /* coolant climbs 6 K/min to 4 K/min all along */
    steady_break(s, now_ms * NS_PER_MS);
    assert_int_equal(steady_count(s), 0);
}

static void steady__shorter_than_settle__no_step(void **state)
{
    (void)state;
    run(55, 1800, 1800, 80, 40, 20);
    run(55, 2000, 2000, 80, 40, 20);
    steady_break(s, now_ms * NS_PER_MS);
    assert_int_equal(steady_count(s), 0);
}

static void steady__one_engine_changes__ends_for_both(void **state)
{
    (void)state;
    run(120, 1800, 1800, 80, 40, 20);
    run(120, 1800, 1860, 80, 40, 20); /* 3.3 % */
    steady_break(s, now_ms * NS_PER_MS);
    assert_int_equal(steady_count(s), 2);
    assert_near(steady_at(s, 0)->rpm[1], 1800, 3);
    assert_near(steady_at(s, 1)->rpm[1], 1860, 3);
}

static void steady__within_the_band__one_step(void **state)
{
    (void)state;
    run(120, 1800, 1800, 80, 40, 20);
    run(120, 1818, 1800, 80, 40, 20); /* 1 % */
    assert_int_equal(steady_count(s), 0);
    steady_break(s, now_ms * NS_PER_MS);
    assert_int_equal(steady_count(s), 1);
    assert_near(steady_at(s, 0)->rpm[0], 1809, 3);
}

static void steady__engines_stopped__no_step(void **state)
{
    (void)state;
    run(200, 0, 0, 60, 30, 20);
    steady_break(s, now_ms * NS_PER_MS);
    assert_int_equal(steady_count(s), 0);
}

/* One engine whose speed comes once a second, one temperature every so many seconds; told until the
 * end of a second, which is not over yet. */
static void plain(int from_s, int to_s, double rpm, double celsius, int every_s)
{
    for (int i = from_s; i <= to_s; i++) {
        steady_rpm(s, i * NS_PER_S, 0, rpm);
        if (i % every_s == 0)
            steady_temp(s, i * NS_PER_S, 0, celsius);
    }
}

static void steady__speed_not_heard_any_more__ends(void **state)
{
    (void)state;
    run(120, 1800, 1800, 80, 40, 20);
    for (int i = 0; i < 60; i++, now_ms += 500)
        steady_temp(s, now_ms * NS_PER_MS, 0, 80);
    assert_int_equal(steady_count(s), 1);
    assert_near(when_seconds(steady_at(s, 0)->to_ns), 1126, 1.5);
    assert_int_equal(steady_at(s, 0)->engines, 3); /* they ran until then */
    assert_near(steady_at(s, 0)->rpm[1], 1800, 3);
}

/* The other one runs on by itself, in a step of its own. */
static void steady__one_of_two_not_heard_any_more__the_other_goes_on(void **state)
{
    (void)state;
    for (int i = 1; i <= 400; i++) {
        if (i <= 100)
            steady_rpm(s, i * NS_PER_S, 0, 1800);
        steady_rpm(s, i * NS_PER_S, 1, 2000);
        steady_temp(s, i * NS_PER_S, 0, 80);
    }
    steady_break(s, 400 * NS_PER_S);
    assert_int_equal(steady_count(s), 2);
    assert_int_equal(steady_at(s, 0)->engines, 3);
    assert_near(steady_at(s, 0)->rpm[0], 1800, 1e-9);
    assert_int_equal(steady_at(s, 1)->engines, 2);
    assert_near(steady_at(s, 1)->rpm[1], 2000, 1e-9);
}

/* The key is turned at a steady speed, and the next second says 0: the engine ran until then. */
static void steady__stops_within_a_second__ran_in_the_step(void **state)
{
    (void)state;
    plain(1, 100, 700, 80, 1);
    plain(101, 200, 0, 80, 1);
    steady_break(s, 200 * NS_PER_S);
    assert_int_equal(steady_count(s), 1);
    assert_int_equal(steady_at(s, 0)->engines, 1);
    assert_near(steady_at(s, 0)->rpm[0], 700, 1e-9);
    assert_int_equal(steady_at(s, 0)->to_ns / NS_PER_S, 101);
}

static void steady__hole_in_the_record__ends_and_begins_again(void **state)
{
    (void)state;
    run(120, 1800, 1800, 80, 40, 20);
    steady_break(s, now_ms * NS_PER_MS);
    now_ms += 50000;
    run(50, 1800, 1800, 80, 40, 20);
    steady_break(s, now_ms * NS_PER_MS);
    assert_int_equal(steady_count(s), 1);
}

static void steady__no_temperatures__no_step(void **state)
{
    (void)state;
    for (int i = 0; i < 3000; i++, now_ms += 100)
        steady_rpm(s, now_ms * NS_PER_MS, 0, 1800);
    steady_break(s, now_ms * NS_PER_MS);
    assert_int_equal(steady_count(s), 0);
}

static void steady__out_of_range__is_not_looked_at(void **state)
{
    (void)state;
    steady_rpm(s, 1, -1, 1000);
    steady_rpm(s, 1, STEADY_ENGINES, 1000);
    steady_temp(s, 1, STEADY_TEMPS, 50);
    steady_temp(s, 1, 0, (double)NAN);
    steady_rpm(s, -5, 0, 1000);
    steady_rpm(s, INT64_MAX / 2, 0, 1000);
    steady_rpm(s, INT64_MAX / 2 + 10, 0, 1000);
    assert_int_equal(steady_count(s), 0);
    struct steady *wide = steady_new(&(struct steady_options){0.015, 0.5, 100000, 300});
    assert_non_null(wide);
    steady_free(wide);
}

/* A sensor that counts in steps tips once from one to the next within the minute that must stand
 * still: at steps of up to 1 K that is no climb, with coarser ones, or with two such steps, it is.
 */
static void steady__coarse_sensor__one_step_is_no_climb(void **state)
{
    (void)state;
    static const struct {
        double step;
        int steps;
        bool found;
    } rows[] = {{0.3, 1, true},    {0.5, 1, true},  {0.875, 1, true}, {1.0, 1, true},
                {1.125, 1, false}, {2.0, 1, false}, {1.0, 2, false}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct steady *own = steady_new(NULL);
        assert_non_null(own);
        for (int t = 0; t <= 60; t++) { /* the sixtieth second is over as the next begins */
            int64_t now = (1000 + t) * NS_PER_S;
            double up = t < 30 ? 0 : rows[i].step * (t < 31 ? 1 : rows[i].steps);
            steady_rpm(own, now, 0, 1800);
            steady_temp(own, now, 0, 80 + up);
        }
        steady_break(own, 1060 * NS_PER_S);
        if ((steady_count(own) > 0) != rows[i].found)
            print_error("%d steps of %.3f K\n", rows[i].steps, rows[i].step);
        assert_int_equal(steady_count(own) > 0, rows[i].found);
        steady_free(own);
    }
}

/* A temperature that comes once in each half of the time to settle is enough; once in all is not.
 */
static void temperature__once_in_each_half__is_enough(void **state)
{
    (void)state;
    for (int every = 30; every <= 60; every += 30) {
        steady_free(s);
        s = steady_new(NULL);
        plain(1, 200, 2000, 80, every);
        steady_break(s, 200 * NS_PER_S);
        assert_int_equal(steady_count(s) > 0, every == 30);
    }
}

/* The very next second at another speed begins a new stretch: 1.5 % are within it, 1.6 are not. */
static void speed__that_moved_after_a_second__begins_then(void **state)
{
    static const struct {
        double then;
        int64_t from_s;
    } rows[] = {{2030, 100}, {2031, 101}, {1970, 100}, {1969, 101}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        steady_free(s);
        s = steady_new(NULL);
        plain(1, 99, 1000, 80, 1);
        plain(100, 100, 2000, 80, 1);
        plain(101, 300, rows[i].then, 80, 1);
        steady_break(s, 300 * NS_PER_S);
        assert_int_equal(steady_count(s), 2);
        assert_int_equal(steady_at(s, 1)->speed_from_ns / NS_PER_S, rows[i].from_s);
        assert_int_equal(steady_at(s, 0)->to_ns / NS_PER_S, 100);
        assert_int_equal(steady_at(s, 1)->to_ns / NS_PER_S, 300);
        assert_true(steady_at(s, 1)->settled_already);
        assert_near(steady_at(s, 0)->rpm[0], 1000, 1e-9);
    }
}

/* What is no number, or before the beginning, is not looked at, whatever stands beside it. */
static void readings__of_no_number__change_nothing(void **state)
{
    (void)state;
    for (int i = 1; i <= 100; i++) {
        plain(i, i, 2000, 80, 1);
        steady_rpm(s, i * NS_PER_S, 0, NAN);
        steady_temp(s, i * NS_PER_S, 0, NAN);
        steady_rpm(s, -i * NS_PER_S, 0, 100);
        steady_temp(s, -i * NS_PER_S, 0, 0);
    }
    steady_break(s, 100 * NS_PER_S);
    assert_int_equal(steady_count(s), 1);
    assert_near(steady_at(s, 0)->rpm[0], 2000, 1e-9);
}

/* From 300 rpm on an engine takes part. */
static void engine__from_300_rpm__takes_part(void **state)
{
    (void)state;
    for (double rpm = 299; rpm <= 300; rpm++) {
        steady_free(s);
        s = steady_new(NULL);
        plain(1, 100, rpm, 80, 1);
        steady_break(s, 100 * NS_PER_S);
        assert_int_equal(steady_count(s), rpm < 300 ? 0 : 1);
    }
}

/* The time to settle is four seconds at least, and even. */
static void settle__of_few_seconds__is_four_at_least_and_even(void **state)
{
    static const struct {
        int asked, last_s, steps; /* told from second 1 on; the last one is not over */
    } rows[] = {{1, 5, 1}, {1, 4, 0}, {4, 5, 1}, {4, 4, 0}, {5, 5, 1}, {6, 7, 1}, {6, 6, 0}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct steady_options o = steady_defaults;

        o.settle_s = rows[i].asked;
        steady_free(s);
        s = steady_new(&o);
        plain(1, rows[i].last_s, 2000, 80, 1);
        steady_break(s, rows[i].last_s * NS_PER_S);
        assert_int_equal(steady_count(s), rows[i].steps);
    }
}

/* 512 steps are kept; what comes later is not. */
static void steps__more_than_fit__the_first_ones_are_kept(void **state)
{
    struct steady_options o = steady_defaults;

    (void)state;
    o.settle_s = 4;
    steady_free(s);
    s = steady_new(&o);
    for (int i = 0; i < 514; i++)
        plain(1 + 6 * i, 6 + 6 * i, 1000 + 100 * (i % 2) + i, 80, 1);
    steady_break(s, 4000 * NS_PER_S);
    assert_int_equal(steady_count(s), 512);
    assert_near(steady_at(s, 511)->rpm[0], 1000 + 100 + 511, 1e-9);
    assert_null(steady_at(s, 512));
}

/* Up to 20 minutes of silence go by as seconds, of which the sixth ends the step; a longer one is a
 * hole, and the step ended when it was last heard. */
static void hole__nobody_told_of_it__ends_the_step_where_it_began(void **state)
{
    (void)state;
    for (int gap_s = 1200; gap_s <= 1201; gap_s++) {
        steady_free(s);
        s = steady_new(NULL);
        plain(1, 200, 2000, 80, 1);
        steady_rpm(s, (200 + gap_s) * NS_PER_S, 0, 2000);
        steady_break(s, (200 + gap_s) * NS_PER_S);
        assert_int_equal(steady_count(s), 1);
        assert_int_equal(steady_at(s, 0)->to_ns / NS_PER_S, gap_s == 1200 ? 206 : 200);
    }
}

/* After a hole nothing that was read before it counts: without a temperature there is no step. */
static void hole__temperatures_before_it__are_forgotten(void **state)
{
    (void)state;
    plain(1, 100, 2000, 80, 1);
    steady_break(s, 100 * NS_PER_S);
    for (int i = 101; i <= 159; i++)
        steady_rpm(s, i * NS_PER_S, 0, 2000);
    for (int i = 160; i <= 165; i++)
        steady_rpm(s, i * NS_PER_S, 0, 2000);
    steady_break(s, 165 * NS_PER_S);
    assert_int_equal(steady_count(s), 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define T(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
        T(steady__three_speeds__three_steps),
        T(steady__temperature_still_climbing__no_step),
        T(steady__shorter_than_settle__no_step),
        T(steady__one_engine_changes__ends_for_both),
        T(steady__within_the_band__one_step),
        T(steady__engines_stopped__no_step),
        T(steady__speed_not_heard_any_more__ends),
        T(steady__one_of_two_not_heard_any_more__the_other_goes_on),
        T(steady__stops_within_a_second__ran_in_the_step),
        T(steady__hole_in_the_record__ends_and_begins_again),
        T(steady__no_temperatures__no_step),
        T(steady__coarse_sensor__one_step_is_no_climb),
        T(temperature__once_in_each_half__is_enough),
        T(speed__that_moved_after_a_second__begins_then),
        T(readings__of_no_number__change_nothing),
        T(engine__from_300_rpm__takes_part),
        T(settle__of_few_seconds__is_four_at_least_and_even),
        T(steps__more_than_fit__the_first_ones_are_kept),
        T(hole__nobody_told_of_it__ends_the_step_where_it_began),
        T(hole__temperatures_before_it__are_forgotten),
        T(steady__out_of_range__is_not_looked_at),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
