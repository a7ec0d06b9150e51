/* The steps of one log, to the second: where a leg ends when she turns or changes gear, where the
 * next one begins, and what is taken into each. The seconds are worked out beside each case. */
#include "report/one_trial.h"

#include <stddef.h>
#include <stdlib.h>

#define BEGAN_NS (INT64_C(1777903200) * 1000000000)
#define LONGEST  1200

static int begin(void **state)
{
    (void)state;
    trial_of(2);
    r->logs = 3; /* the third of them */
    t->wall_ns = calloc(LONGEST, sizeof *t->wall_ns);
    assert_non_null(t->wall_ns);
    for (int i = 0; i < LONGEST; i++)
        t->wall_ns[i] = BEGAN_NS + i * NS_PER_S;
    t->steady = steady_new(&t->options);
    assert_non_null(t->steady);
    return 0;
}

/* The first engine at 2000 for so long, its coolant at 80 from a second on; until then it climbs.
 */
static void run(int seconds, int stands_from)
{
    t->wall_len = (size_t)seconds;
    for (int i = 0; i <= seconds; i++) { /* the last one is not over */
        steady_rpm(t->steady, i * NS_PER_S, 0, 2000);
        steady_temp(t->steady, i * NS_PER_S, 0,
                    i < stands_from ? 80 - 1.2 * (stands_from - i) : 80);
    }
    steady_break(t->steady, seconds * NS_PER_S);
    heard(QTY_RPM, 0, 0, seconds, 2000);
}

/* 8 kn on a course that turns from one second on by so many degrees a second. */
static void steer(int seconds, int turns_at, double by, double degrees_a_second)
{
    for (int i = 0; i < seconds; i++) {
        double turned = i < turns_at ? 0 : fmin(by, (i - turns_at + 1) * degrees_a_second);

        heard(QTY_NONE, TRIAL_NORTH, i, i + 1, 8 * cos(turned * 3.14159265358979 / 180));
        heard(QTY_NONE, TRIAL_EAST, i, i + 1, 8 * sin(turned * 3.14159265358979 / 180));
    }
}

static void assert_step(int i, int from, int to)
{
    assert_true(i < r->steps);
    assert_int_equal((r->step[i].wall_ns - BEGAN_NS) / NS_PER_S, from);
    assert_near(r->step[i].seconds, to - from, 0);
}

/* --- what is in a step ------------------------------------------------------------------------ */

static void step__of_one_log__has_all_that_was_heard(void **state)
{
#define FIGURE(q, f)                                                                               \
    {                                                                                              \
        q, offsetof(struct trial_engine, f)                                                        \
    }
    static const struct {
        enum quantity q;
        size_t at;
    } engine[] = {
        FIGURE(QTY_EXHAUST, exhaust),   FIGURE(QTY_EXHAUST_GAS, exhaust_gas),
        FIGURE(QTY_COOLANT, coolant),   FIGURE(QTY_OIL_PRESSURE, oil_pressure),
        FIGURE(QTY_OIL_TEMP, oil_temp), FIGURE(QTY_FUEL_RATE, fuel_rate),
        FIGURE(QTY_LOAD, load),         FIGURE(QTY_TORQUE, torque),
        FIGURE(QTY_BOOST, boost),       FIGURE(QTY_ALTERNATOR, alternator),
        FIGURE(QTY_GEAR, gear),         FIGURE(QTY_BURN_ERROR, burn_error),
    };
#undef FIGURE
#define FIGURE(q, f)                                                                               \
    {                                                                                              \
        q, offsetof(struct trial_step, f)                                                          \
    }
    static const struct {
        enum quantity q;
        size_t at;
    } boat[] = {FIGURE(QTY_SPEED_GROUND, speed_ground), FIGURE(QTY_SPEED_WATER, speed_water),
                FIGURE(QTY_ENGINE_SPACE, space), FIGURE(QTY_OUTSIDE_AIR, air),
                FIGURE(QTY_SEA, sea)};
#undef FIGURE
    const struct trial_step *s;

    (void)state;
    for (size_t i = 0; i < sizeof engine / sizeof engine[0]; i++)
        heard(engine[i].q, 0, 0, 200, 20 + (double)i);
    for (size_t i = 0; i < sizeof boat / sizeof boat[0]; i++)
        heard(boat[i].q, 0, 0, 200, 40 + (double)i);
    for (int b = 0; b < TRIAL_BATTERIES; b++)
        heard(QTY_BATTERY_VOLTS, b, 0, 200, 12 + b);
    run(200, 0);
    trial_steps_find(t);
    assert_int_equal(r->steps, 1);
    assert_step(0, 0, 200);
    s = &r->step[0];
    assert_int_equal(s->log, 2);
    assert_int_equal(s->engines, 1);
    assert_int_equal(s->point, -1);
    assert_near(s->mean_rpm, 2000, 0);
    assert_near(s->engine[0].rpm.mean, 2000, 0);
    assert_true(isnan(s->settle_s)); /* stood already */
    assert_false(s->has_course || s->neutral || s->unheard);
    for (size_t i = 0; i < sizeof engine / sizeof engine[0]; i++)
        assert_near(((const struct trial_stat *)((const char *)&s->engine[0] + engine[i].at))->mean,
                    20 + (double)i, 0);
    for (size_t i = 0; i < sizeof boat / sizeof boat[0]; i++)
        assert_near(((const struct trial_stat *)((const char *)s + boat[i].at))->mean,
                    40 + (double)i, 0);
    for (int b = 0; b < TRIAL_BATTERIES; b++)
        assert_near(s->volts[b].mean, 12 + b, 0);
    assert_int_equal(s->engine[1].rpm.n, 0);
}

/* Two engines 2000 and 2010: their mean. */
static void step__two_engines__by_their_mean(void **state)
{
    (void)state;
    t->wall_len = 100;
    for (int i = 0; i <= 100; i++) {
        steady_rpm(t->steady, i * NS_PER_S, 0, 2000);
        steady_rpm(t->steady, i * NS_PER_S, 7, 2010);
        steady_temp(t->steady, i * NS_PER_S, 0, 80);
    }
    steady_break(t->steady, 100 * NS_PER_S);
    heard(QTY_RPM, 0, 0, 100, 2000);
    heard(QTY_RPM, 7, 0, 100, 2010);
    trial_steps_find(t);
    assert_int_equal(r->steps, 1);
    assert_int_equal(r->step[0].engines, 0x81);
    assert_near(r->step[0].mean_rpm, 2005, 0);
    assert_near(r->step[0].engine[7].rpm.mean, 2010, 0);
}

/* A course is one from 0.7 kn on, north 0, east 90; it goes up to 360. */
static void course__of_the_mean_velocity(void **state)
{
    static const struct {
        double north, east, degrees;
        bool has;
    } rows[] = {
        {0.71, 0, 0, true}, {0.69, 0, 0, false}, {0, 5, 90, true},
        {-5, 0, 180, true}, {0, -5, 270, true},  {-3, -3, 225, true},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        run(100, 0);
        heard(QTY_NONE, TRIAL_NORTH, 0, 100, rows[i].north);
        heard(QTY_NONE, TRIAL_EAST, 0, 100, rows[i].east);
        trial_steps_find(t);
        assert_int_equal(r->steps, 1);
        assert_int_equal(r->step[0].has_course, rows[i].has);
        assert_near(r->step[0].course_deg, rows[i].degrees, 1e-4);
    }
    again(state); /* one part alone is no velocity */
    run(100, 0);
    heard(QTY_NONE, TRIAL_NORTH, 0, 100, 5);
    trial_steps_find(t);
    assert_false(r->step[0].has_course);
}

/* Neutral is what every gearbox says that is heard of an engine that runs, all the time. */
static void neutral__by_every_gearbox_of_an_engine_that_runs(void **state)
{
    static const struct {
        int of, first, then; /* -2: not heard */
        bool neutral;
    } rows[] = {{0, -2, -2, false}, {0, 0, 0, true},  {0, 1, 1, false}, {0, -1, -1, false},
                {0, 0, 1, false},   {1, 0, 0, false}, {1, 1, 1, false}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        run(100, 0);
        if (rows[i].first > -2) {
            heard(QTY_GEAR, rows[i].of, 0, 98, rows[i].first);
            heard(QTY_GEAR, rows[i].of, 99, 100, rows[i].then);
        }
        trial_steps_find(t);
        assert_int_equal(r->step[0].neutral, rows[i].neutral);
    }
}

/* Another engine that was under way when it was last heard, by then. */
static void unheard__another_that_ran_when_last_heard(void **state)
{
    static const struct {
        int from, to;
        double rpm;
        int later; /* from this second on it turns at 1000; 0: never */
        bool generator, unheard;
    } rows[] = {
        {0, 50, 1500, 0, false, true}, {0, 50, 300, 0, false, true},  {0, 50, 299, 0, false, false},
        {0, 1, 1500, 0, false, true},  {0, 50, 0, 0, false, false},   {0, 50, 0, 99, false, true},
        {0, 50, 0, 100, false, false}, {0, 50, 1500, 0, true, false},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        run(100, 0);
        t->wall_len = 120;
        heard(QTY_RPM, 1, rows[i].from, rows[i].to, rows[i].rpm);
        if (rows[i].later)
            heard(QTY_RPM, 1, rows[i].later, 120, 1000);
        r->generator[1] = rows[i].generator;
        trial_steps_find(t);
        assert_step(0, 0, 100);
        assert_int_equal(r->step[0].unheard, rows[i].unheard);
    }
}

/* --- where it begins and ends ------------------------------------------------------------------
 */

/* Temperatures climb for 150 s by 1.2 K a second: the step begins as they stand, and so long it
 * took. The first half minute may hold four seconds of the climb, (1.2 + 2.4 + 3.6 + 4.8) / 30 =
 * 0.4 K; a fifth would make it 0.6. */
static void settled__begins_as_temperatures_stand(void **state)
{
    const struct trial_step *s = &r->step[0];

    (void)state;
    run(400, 150);
    trial_steps_find(t);
    assert_int_equal(r->steps, 1);
    assert_step(0, 146, 400);
    assert_near(s->settle_s, 146, 0);
}

/* At once from 0 to 90 degrees at second 200. Headings are means of five seconds: at 197 she still
 * holds her course, at 199 she is 34 degrees off; at 202 she holds the new one, and 20 seconds
 * later she has gathered way. */
static void turn__parts_two_legs(void **state)
{
    static const struct {
        double by;
        int steps, first_ends, second_begins;
    } rows[] = {
        {90, 2, 197, 222}, {180, 2, 199, 220}, /* means of both ways point one way or the other */
        {20, 1, 400, 0},                       /* some of it is in the mean by then: less than 20 */
        {21, 2, 198, 222},                     /* 4.2 off at 198 */
        {24, 2, 198, 222},                     /* 4.7: still within 5 */
        {28, 2, 197, 222},                     /* 5.5 */
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        run(400, 0);
        steer(400, 200, rows[i].by, 1000);
        trial_steps_find(t);
        assert_int_equal(r->steps, rows[i].steps);
        assert_step(0, 0, rows[i].first_ends);
        if (rows[i].steps == 2)
            assert_step(1, rows[i].second_begins, 400);
    }
}

/* By 0.9 degrees a second to 90: over at second 300. At 297 she heads 87.3 and five seconds later
 * 90; at 296 it is 86.4 and 89.8. */
static void turn__slow__is_over_when_she_no_longer_swings(void **state)
{
    (void)state;
    run(600, 0);
    steer(600, 200, 90, 0.9);
    trial_steps_find(t);
    assert_int_equal(r->steps, 2);
    assert_step(1, 296 + 20, 600);
}

/* Below 0.7 kn she has no course to turn from. */
static void turn__of_a_boat_that_stands__is_none(void **state)
{
    (void)state;
    run(400, 0);
    for (int i = 0; i < 400; i++) {
        heard(QTY_NONE, TRIAL_NORTH, i, i + 1, i < 200 ? 0.6 : 0);
        heard(QTY_NONE, TRIAL_EAST, i, i + 1, i < 200 ? 0 : 0.6);
    }
    trial_steps_find(t);
    assert_int_equal(r->steps, 1);
    assert_step(0, 0, 400);
}

/* A gearbox that changes ends a leg there; the next begins 20 s later. One heard for the first
 * time, or again, has not changed. */
static void gear__changed__parts_two_legs(void **state)
{
    (void)state;
    run(300, 0);
    heard(QTY_GEAR, 1, 0, 120, 0);
    heard(QTY_GEAR, 1, 120, 300, 1);
    trial_steps_find(t);
    assert_int_equal(r->steps, 2);
    assert_step(0, 0, 120);
    assert_step(1, 140, 300);
    assert_true(isnan(r->step[1].settle_s));
    again(state);
    run(300, 0);
    heard(QTY_GEAR, 0, 50, 120, 0);
    heard(QTY_GEAR, 0, 121, 300, 1); /* a second away */
    trial_steps_find(t);
    assert_int_equal(r->steps, 1);
}

/* Three quarters of the time to settle, 45 s of 60, are the least of a leg. */
static void leg__of_44_s__is_too_short(void **state)
{
    static const struct {
        int at, steps, from;
    } rows[] = {{45, 2, 0}, {44, 1, 64}, {235, 2, 0}, {236, 1, 0}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        run(300, 0);
        heard(QTY_GEAR, 0, 0, rows[i].at, 0);
        heard(QTY_GEAR, 0, rows[i].at, 300, 1);
        trial_steps_find(t);
        assert_int_equal(r->steps, rows[i].steps);
        assert_int_equal((r->step[0].wall_ns - BEGAN_NS) / NS_PER_S, rows[i].from);
    }
}

/* How long temperatures took is told with the first leg that there is. */
static void settle__goes_with_the_first_leg(void **state)
{
    (void)state;
    run(400, 150);
    heard(QTY_GEAR, 0, 0, 160, 0); /* 14 s into it */
    heard(QTY_GEAR, 0, 160, 300, 1);
    heard(QTY_GEAR, 0, 300, 400, 0);
    trial_steps_find(t);
    assert_int_equal(r->steps, 2);
    assert_step(0, 180, 300);
    assert_near(r->step[0].settle_s, 146, 0);
    assert_true(isnan(r->step[1].settle_s));
}

/* A thermostat opens: the second stretch stands from before the first one was known to be over. No
 * second counts twice. */
static void stretches__that_lap__share_no_second(void **state)
{
    const struct trial_step *s = r->step;

    (void)state;
    t->wall_len = 500;
    for (int i = 0; i <= 500; i++) {
        steady_rpm(t->steady, i * NS_PER_S, 0, 2000);
        steady_temp(t->steady, i * NS_PER_S, 0, i < 200 ? 80 : 81.5);
    }
    steady_break(t->steady, 500 * NS_PER_S);
    heard(QTY_RPM, 0, 0, 500, 2000);
    assert_int_equal(steady_count(t->steady), 2);
    assert_true(steady_at(t->steady, 1)->from_ns < steady_at(t->steady, 0)->to_ns);
    trial_steps_find(t);
    assert_int_equal(r->steps, 2);
    assert_true(s[1].wall_ns == s[0].wall_ns + (int64_t)s[0].seconds * NS_PER_S);
    assert_near(s[0].seconds + s[1].seconds, 500, 0);
}

/* The log's first second is not the clock's. */
static void seconds__count_from_the_first_of_the_log(void **state)
{
    (void)state;
    t->base_s = 1000;
    t->wall_len = 200;
    for (int i = 0; i <= 200; i++) {
        steady_rpm(t->steady, (1000 + i) * NS_PER_S, 0, 2000);
        steady_temp(t->steady, (1000 + i) * NS_PER_S, 0, 80);
    }
    steady_break(t->steady, 1200 * NS_PER_S);
    heard(QTY_RPM, 0, 0, 200, 2000);
    trial_steps_find(t);
    assert_int_equal(r->steps, 1);
    assert_step(0, 0, 200);
}

/* More than there is room for are left out. */
static void steps__no_more_than_there_is_room(void **state)
{
    (void)state;
    r->steps = TRIAL_STEPS - 1;
    run(300, 0);
    heard(QTY_GEAR, 0, 0, 100, 0);
    heard(QTY_GEAR, 0, 100, 300, 1);
    trial_steps_find(t);
    assert_int_equal(r->steps, TRIAL_STEPS);
    assert_step(TRIAL_STEPS - 1, 0, 100);
}

#define WITH_TRIAL(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_TRIAL(step__of_one_log__has_all_that_was_heard),
        WITH_TRIAL(step__two_engines__by_their_mean),
        WITH_TRIAL(course__of_the_mean_velocity),
        WITH_TRIAL(neutral__by_every_gearbox_of_an_engine_that_runs),
        WITH_TRIAL(unheard__another_that_ran_when_last_heard),
        WITH_TRIAL(settled__begins_as_temperatures_stand),
        WITH_TRIAL(turn__parts_two_legs),
        WITH_TRIAL(turn__slow__is_over_when_she_no_longer_swings),
        WITH_TRIAL(turn__of_a_boat_that_stands__is_none),
        WITH_TRIAL(gear__changed__parts_two_legs),
        WITH_TRIAL(leg__of_44_s__is_too_short),
        WITH_TRIAL(settle__goes_with_the_first_leg),
        WITH_TRIAL(stretches__that_lap__share_no_second),
        WITH_TRIAL(seconds__count_from_the_first_of_the_log),
        WITH_TRIAL(steps__no_more_than_there_is_room),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
