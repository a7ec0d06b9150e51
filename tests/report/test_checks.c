/* What the trade expects of a trial, check by check, on reports made by hand: from which figure on
 * a check passes, what it says, and when it says that nothing was shown. The limits are set here.
 */
#include "report/one_trial.h"

#include "base/text.h"

#include <stdlib.h>

/* A twin of which nothing was heard. */
static int begin(void **state)
{
    (void)state;
    configure("");
    settings->trial = (struct trial_setting){.rated_rpm = 2400,
                                             .reach = 0.95,
                                             .oil_hot_idle_kpa = 150,
                                             .charge_low_volts = 13.5,
                                             .charge_high_volts = 14.8,
                                             .crank_volts = 9.6,
                                             .twin_exhaust_k = 6,
                                             .twin_burn = 0.05,
                                             .space_rise_k = 20};
    trial_of(2);
    text_copy(r->engine_names[0], sizeof r->engine_names[0], "port");
    text_copy(r->engine_names[1], sizeof r->engine_names[1], "starboard");
    r->log_factor = r->log_error = NAN;
    r->space_moved_k = r->air_moved_k = NAN;
    return 0;
}

static struct trial_stat stat(double mean)
{
    return (struct trial_stat){.n = 300, .mean = mean, .low = mean, .high = mean, .error = 0.01};
}

static struct trial_step *add_step(double rpm)
{
    struct trial_step *s = &r->step[r->steps++];

    s->engines = 3;
    s->engine[0].rpm = s->engine[1].rpm = stat(rpm);
    return s;
}

/* Both engines alike, under way. */
static struct trial_point *add_point(double rpm)
{
    struct trial_point *p = &r->point[r->points++];

    *p = (struct trial_point){.rpm = rpm, .how = TRIAL_RECIPROCAL, .engines = 3, .space_rise = NAN};
    p->engine[0].rpm = p->engine[1].rpm = stat(rpm);
    return p;
}

static const struct trial_check *made(const char *name)
{
    r->checks = r->findings = 0;
    trial_checks_make(t);
    for (int i = 0; i < r->checks; i++)
        if (strcmp(r->check[i].name, name) == 0)
            return &r->check[i];
    return NULL;
}

static void expect(const char *name, enum trial_verdict verdict, const char *text)
{
    const struct trial_check *c = made(name);

    if (!c)
        fail_msg("no check '%s'", name);
    assert_string_equal(c->text, text);
    assert_int_equal(c->verdict, verdict);
}

static const struct trial_finding *found(const char *kind)
{
    made("");
    for (int i = 0; i < r->findings; i++)
        if (strcmp(r->finding[i].kind, kind) == 0)
            return &r->finding[i];
    return NULL;
}

/* --- each engine ----------------------------------------------------------------------------- */

static void full__revs_reached__of_what_is_rated(void **state)
{
    static const char name[] = "revs at full throttle, starboard";

    (void)state;
    expect(name, TRIAL_NOT_SHOWN, "");
    add_step(1000);
    add_step(2280); /* 95 in 100 of 2400 */
    add_step(900);
    expect(name, TRIAL_PASS, "2280 rpm, at least 2280 rpm");
    r->step[1].engine[1].rpm.mean = 2279;
    expect(name, TRIAL_FAIL, "2279 rpm, at least 2280 rpm");
    r->step[1].engines = 1; /* it did not run there */
    expect(name, TRIAL_FAIL, "1000 rpm, at least 2280 rpm");
    settings->trial.rated_rpm = 0;
    expect(name, TRIAL_NOT_SHOWN, "no rated speed in [trial], nor from the engine");
    r->rated_rpm[1] = 1000;
    expect(name, TRIAL_PASS, "1000 rpm, at least 950 rpm (rated by its own word)");
    settings->trial.rated_rpm = 2400;
    expect(name, TRIAL_FAIL, "1000 rpm, at least 2280 rpm");
}

static void idle__warm_oil_and_a_slow_step__tell_its_pressure(void **state)
{
    static const char name[] = "oil pressure hot at idle, port",
                      none[] = "no steady idle with warm oil",
                      dead[] = "its pressure did not move between standing and running";
    struct trial_engine *m;

    (void)state;
    r->oil_moved_kpa[0] = 29.9;
    m = &add_step(999)->engine[0];
    add_step(2000);
    m->oil_pressure = stat(150);
    m->oil_temp = stat(60);
    expect(name, TRIAL_NOT_SHOWN, dead);
    r->oil_moved_kpa[0] = 30;
    expect(name, TRIAL_PASS, "150 kPa, at least 150 kPa");
    m->oil_pressure.low = 149;
    expect(name, TRIAL_FAIL, "149 kPa, at least 150 kPa");
    m->rpm.mean = 1000; /* half of the fastest is no idle */
    expect(name, TRIAL_NOT_SHOWN, none);
    m->rpm.mean = 999;
    m->oil_temp.mean = 59.9;
    expect(name, TRIAL_NOT_SHOWN, none);
    m->coolant = stat(90); /* the oil's own sensor knows better */
    expect(name, TRIAL_NOT_SHOWN, none);
    m->oil_temp.n = 0;
    expect(name, TRIAL_FAIL, "149 kPa, at least 150 kPa");
    m->coolant.mean = 65;
    expect(name, TRIAL_FAIL, "149 kPa, at least 150 kPa");
    m->coolant.mean = 64.9;
    expect(name, TRIAL_NOT_SHOWN, none);
    m->coolant.mean = 65;
    m->oil_pressure.n = 0;
    expect(name, TRIAL_NOT_SHOWN, none);
}

/* The slowest of them, and of two alike the first. */
static void idle__several__the_slowest(void **state)
{
    static const struct {
        double rpm;
        const char *text;
    } rows[] = {{780, "160 kPa, at least 150 kPa"}, {770, "170 kPa, at least 150 kPa"}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        r->oil_moved_kpa[0] = 100;
        add_step(2000);
        for (int k = 0; k < 2; k++) {
            struct trial_engine *m = &add_step(k ? rows[i].rpm : 800)->engine[0];

            m->coolant = stat(80);
            m->oil_pressure = stat(k ? 170 : 160);
        }
        expect("oil pressure hot at idle, port", TRIAL_PASS, rows[i].text);
    }
}

/* Volts of 12, 24, 36 and 48: told apart at 18, 30 and 40. */
static void charge__under_way__within_the_limits_of_its_system(void **state)
{
    static const struct {
        double low, high;
        enum trial_verdict verdict;
        const char *text;
    } rows[] = {
        {13.5, 14.8, TRIAL_PASS, "13.50 to 14.80 V under way, 13.5 to 14.8 V wanted"},
        {13.49, 14.8, TRIAL_FAIL, "13.49 to 14.80 V under way, 13.5 to 14.8 V wanted"},
        {13.5, 14.81, TRIAL_FAIL, "13.50 to 14.81 V under way, 13.5 to 14.8 V wanted"},
        {13.5, 18, TRIAL_FAIL, "13.50 to 18.00 V under way, 13.5 to 14.8 V wanted"},
        {13.5, 18.1, TRIAL_FAIL, "13.50 to 18.10 V under way, 27.0 to 29.6 V wanted"},
        {27.2, 29.4, TRIAL_PASS, "27.20 to 29.40 V under way, 27.0 to 29.6 V wanted"},
        {28, 30, TRIAL_FAIL, "28.00 to 30.00 V under way, 27.0 to 29.6 V wanted"},
        {40, 40, TRIAL_FAIL, "40.00 to 40.00 V under way, 40.5 to 44.4 V wanted"},
        {54, 58, TRIAL_PASS, "54.00 to 58.00 V under way, 54.0 to 59.2 V wanted"},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        add_point(1000)->engine[1].alternator = stat(rows[i].high);
        add_point(1500)->engine[1].alternator = stat(rows[i].low);
        add_point(600)->engine[1].alternator = stat(5); /* not under way */
        r->point[2].how = TRIAL_NO_SPEED;
        expect("charging voltage, starboard", rows[i].verdict, rows[i].text);
        expect("charging voltage, port", TRIAL_NOT_SHOWN, "not heard on a steady step under way");
    }
}

static void crank__volts_of_the_battery_that_cranks(void **state)
{
    static const char name[] = "volts while cranking, battery 1";

    (void)state;
    r->crank_rest[1] = 12.6;
    assert_null(made(name));
    r->crank_volts[1] = 9.6;
    expect(name, TRIAL_PASS, "9.6 V, at least 9.6 V");
    r->crank_volts[1] = 9.5;
    expect(name, TRIAL_FAIL, "9.5 V, at least 9.6 V");
    r->crank_volts[1] = 12.2; /* 0.4 V less: no starter hangs on it */
    assert_null(made(name));
    r->crank_volts[1] = 12.0;
    expect(name, TRIAL_PASS, "12.0 V, at least 9.6 V");
    r->crank_rest[1] = 25.2; /* of 24 V, a volt */
    r->crank_volts[1] = 24.3;
    assert_null(made(name));
    r->crank_volts[1] = 19.1;
    expect(name, TRIAL_FAIL, "19.1 V, at least 19.2 V");
    r->crank_rest[0] = r->crank_rest[TRIAL_BATTERIES - 1] = 12.6;
    r->crank_volts[0] = r->crank_volts[TRIAL_BATTERIES - 1] = 10;
    expect("volts while cranking, battery 0", TRIAL_PASS, "10.0 V, at least 9.6 V");
    expect("volts while cranking, battery 7", TRIAL_PASS, "10.0 V, at least 9.6 V");
}

/* --- the two of them ------------------------------------------------------------------------- */

static void twins__exhaust__the_largest_difference_at_one_speed(void **state)
{
    static const char name[] = "exhaust alike";
    struct trial_point *p;

    (void)state;
    expect(name, TRIAL_NOT_SHOWN, "at no speed did both engines send it");
    for (int i = 0; i < 3; i++) {
        p = add_point(1000 + 500 * i);
        p->engine[0].exhaust = stat(40);
        p->engine[1].exhaust = stat(i == 1 ? 46 : 38);
    }
    expect(name, TRIAL_NOT_SHOWN, "port's exhaust did not move with its work");
    r->exhaust_moved_k[0] = 1;
    expect(name, TRIAL_NOT_SHOWN, "starboard's exhaust did not move with its work");
    r->exhaust_moved_k[1] = 0.99;
    expect(name, TRIAL_NOT_SHOWN, "starboard's exhaust did not move with its work");
    r->exhaust_moved_k[1] = 1;
    expect(name, TRIAL_PASS, "starboard is 6.0 K hotter at 1500 rpm, at most 6.0 K");
    r->point[1].engine[1].exhaust.mean = 46.1;
    expect(name, TRIAL_FAIL, "starboard is 6.1 K hotter at 1500 rpm, at most 6.0 K");
    r->point[1].apart = 0.03;
    expect(name, TRIAL_FAIL, "starboard is 6.1 K hotter at 1500 rpm, at most 6.0 K");
    r->point[1].apart = 0.031; /* not at one speed */
    expect(name, TRIAL_PASS, "port is 2.0 K hotter at 1000 rpm, at most 6.0 K");
    r->point[0].engines = 1;
    expect(name, TRIAL_PASS, "port is 2.0 K hotter at 2000 rpm, at most 6.0 K");
    r->generator[1] = true; /* then there are no twins */
    assert_null(made(name));
}

/* Meters known to 2 %: at 20 L/h together, 10 and 10, one standard error of the difference is
 * 0.1414 of them, 2.8 % at two of the burn of one. */
static void twins__burn__only_where_the_meters_can_tell(void **state)
{
    static const struct {
        double port, starboard, error;
        enum trial_verdict verdict;
        const char *text;
    } rows[] = {
        {10.1, 9.9, 0, TRIAL_PASS, "port burns 2.0 % (±2.8) more at 1500 rpm, at most 5.0 %"},
        {9.85, 10.15, 0, TRIAL_NOT_SHOWN,
         "starboard burns 3.0 % (±2.8) more at 1500 rpm, at most 5.0 %: the meters cannot tell"},
        {10.45, 9.55, 0, TRIAL_FAIL, "port burns 9.0 % (±2.8) more at 1500 rpm, at most 5.0 %"},
        {10.45, 9.55, 0.2, TRIAL_NOT_SHOWN,
         "port burns 9.0 % (±6.3) more at 1500 rpm, at most 5.0 %: the meters cannot tell"},
        {4.2, 3.81, 0, TRIAL_FAIL, "port burns 9.7 % (±2.8) more at 1500 rpm, at most 5.0 %"},
        {4.2, 3.8, 0, TRIAL_NOT_SHOWN, "at no speed above idle did both engines send it"},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct trial_point *p;

        again(state);
        p = add_point(1500);
        p->engine[0].fuel_rate = stat(rows[i].port);
        p->engine[1].fuel_rate = stat(rows[i].starboard);
        p->engine[0].fuel_rate.error = p->engine[1].fuel_rate.error = rows[i].error;
        p->burn_lph = rows[i].port + rows[i].starboard;
        expect("burn alike", rows[i].verdict, rows[i].text);
        for (int e = 0; e < 2; e++) {
            p->engine[e].fuel_rate.n = 1;
            expect("burn alike", rows[i].verdict, rows[i].text);
            p->engine[e].fuel_rate.n = 0;
            expect("burn alike", TRIAL_NOT_SHOWN,
                   "at no speed above idle did both engines send it");
            p->engine[e].fuel_rate.n = 300;
        }
    }
}

static void twins__coolant_and_oil__within_what_twins_differ_by(void **state)
{
    static const struct {
        const char *name;
        size_t offset;
        double port, starboard;
        enum trial_verdict verdict;
        const char *text;
    } rows[] = {
        {"coolant alike", offsetof(struct trial_engine, coolant), 85, 80, TRIAL_PASS,
         "port stands 5.0 K higher at 1500 rpm, at most 5.0 K"},
        {"coolant alike", offsetof(struct trial_engine, coolant), 80, 85.1, TRIAL_FAIL,
         "starboard stands 5.1 K higher at 1500 rpm, at most 5.0 K"},
        {"oil temperature alike", offsetof(struct trial_engine, oil_temp), 98, 90, TRIAL_PASS,
         "port stands 8.0 K higher at 1500 rpm, at most 8.0 K"},
        {"oil temperature alike", offsetof(struct trial_engine, oil_temp), 90, 98.1, TRIAL_FAIL,
         "starboard stands 8.1 K higher at 1500 rpm, at most 8.0 K"},
        {"oil pressure alike", offsetof(struct trial_engine, oil_pressure), 439, 361, TRIAL_PASS,
         "port stands 19.5 % higher at 1500 rpm, at most 20 %"},
        {"oil pressure alike", offsetof(struct trial_engine, oil_pressure), 359, 441, TRIAL_FAIL,
         "starboard stands 20.5 % higher at 1500 rpm, at most 20 %"},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        expect(rows[i].name, TRIAL_NOT_SHOWN, "at no speed did both engines send it");
        for (int k = 0; k < 2; k++) {
            struct trial_point *p = add_point(1000 + 500 * k);
            double middle = (rows[i].port + rows[i].starboard) / 2;

            for (int e = 0; e < 2; e++)
                *(struct trial_stat *)((char *)&p->engine[e] + rows[i].offset) =
                    stat(k == 0 ? middle
                         : e    ? rows[i].starboard
                                : rows[i].port);
        }
        expect(rows[i].name, rows[i].verdict, rows[i].text);
        r->point[1].apart = 0.031;
        assert_int_equal(made(rows[i].name)->verdict, TRIAL_PASS);
        for (int e = 0; e < 2; e++) { /* nor where one of them does not send it */
            for (int k = 0; k < 2; k++)
                ((struct trial_stat *)((char *)&r->point[k].engine[e] + rows[i].offset))->n = 0;
            expect(rows[i].name, TRIAL_NOT_SHOWN, "at no speed did both engines send it");
            for (int k = 0; k < 2; k++)
                ((struct trial_stat *)((char *)&r->point[k].engine[e] + rows[i].offset))->n = 1;
            assert_int_equal(made(rows[i].name)->verdict, TRIAL_PASS);
        }
        r->point[0].engines = r->point[1].engines = 2;
        expect(rows[i].name, TRIAL_NOT_SHOWN, "at no speed did both engines send it");
    }
}

static void apart__more_than_three_in_a_hundred__is_found_at_the_fastest(void **state)
{
    (void)state;
    for (int i = 0; i < 3; i++) {
        struct trial_point *p = add_point(1000 + 500 * i);

        p->apart = i < 2 ? 0.031 : 0.03;
        p->engine[0].rpm.mean -= 20;
        p->engine[1].rpm.mean += 20;
    }
    assert_string_equal(found("apart")->text,
                        "at 1500 rpm the engines turned apart: port 1480, starboard 1520");
    assert_string_equal(found("apart")->channel, "rpm.0");
    assert_near(found("apart")->value, 0.031, 0);
    r->point[1].engine[1].rpm.n = 0;
    assert_non_null(strstr(found("apart")->text, "at 1000 rpm"));
    r->point[0].apart = 0.03;
    assert_null(found("apart"));
}

/* --- the boat --------------------------------------------------------------------------------- */

static void cold__one_that_stands_apart__is_named(void **state)
{
    static const char name[] = "temperatures alike before the start";

    (void)state;
    expect(name, TRIAL_NOT_SHOWN, "fewer than four were heard before the first start");
    r->cold_heard = 5;
    r->cold_c = 18;
    r->cold_spread_k = -3.5;
    text_copy(r->cold_off, sizeof r->cold_off, "coolant.1");
    expect(name, TRIAL_PASS,
           "5 of them, 3.5 K from the middle one of 18.0 °C at most, 4.0 K allowed");
    r->cold_apart = 1;
    expect(name, TRIAL_FAIL,
           "5 of them, 3.5 K from the middle one of 18.0 °C at most: look at coolant.1, 4.0 K "
           "allowed");
    r->cold_apart = 2;
    expect(name, TRIAL_NOT_SHOWN, "2 of 5 stand apart: the boat was not cold");
}

static void space__hottest_over_outside_air(void **state)
{
    static const char name[] = "engine space over outside air";

    (void)state;
    expect(name, TRIAL_NOT_SHOWN, "no steady step on which both were heard");
    add_point(1000)->space_rise = 12;
    add_point(1500)->space_rise = 20;
    add_point(2000)->space_rise = 20;
    expect(name, TRIAL_NOT_SHOWN, "its sensor did not move by 1.0 K all day: is it dead?");
    r->space_moved_k = 1;
    expect(name, TRIAL_NOT_SHOWN, "the outside sensor never moved at all: is it dead?");
    r->air_moved_k = 0;
    expect(name, TRIAL_NOT_SHOWN, "the outside sensor never moved at all: is it dead?");
    r->air_moved_k = 0.1;
    expect(name, TRIAL_PASS, "20.0 K at 1500 rpm, at most 20.0 K");
    r->point[2].space_rise = 20.1;
    expect(name, TRIAL_FAIL, "20.1 K at 2000 rpm, at most 20.0 K");
    r->point[0].space_rise = 20.2;
    expect(name, TRIAL_FAIL, "20.2 K at 1000 rpm, at most 20.0 K");
}

static void blower__cools_sooner_than_without(void **state)
{
    static const char name[] = "blower cools the engine space";

    (void)state;
    assert_null(made(name));
    r->space_half_s[VENT_OFF] = 1800;
    assert_null(made(name));
    r->space_half_s[VENT_ON] = 600;
    expect(name, TRIAL_PASS, "half of its rise goes in 10 min with the blower, in 30 min without");
    r->space_half_s[VENT_ON] = 1800;
    expect(name, TRIAL_FAIL, "half of its rise goes in 30 min with the blower, in 30 min without");
    r->space_half_s[VENT_OFF] = NAN;
    expect(name, TRIAL_NOT_SHOWN, "half of its rise goes in 30 min with the blower");
}

static void alerts__warnings_and_graver__fail(void **state)
{
    static const char name[] = "no alarm or warning during the trial";

    (void)state;
    expect(name, TRIAL_NOT_SHOWN, "no engine was heard running");
    r->incidents_lost = 1;
    expect(name, TRIAL_FAIL, "1");
    r->incidents_lost = 0;
    r->running_s = 1;
    expect(name, TRIAL_PASS, "0");
    r->incidents = 3;
    r->incident[0].priority = PRIORITY_CAUTION;
    r->incident[1].priority = PRIORITY_CAUTION;
    r->incident[2].priority = PRIORITY_CAUTION;
    expect(name, TRIAL_PASS, "0");
    r->incident[1].priority = PRIORITY_WARNING;
    r->incident[2].priority = PRIORITY_ALARM;
    expect(name, TRIAL_FAIL, "2");
    r->incidents = 0;
    r->incidents_lost = 1;
    expect(name, TRIAL_FAIL, "1");
}

/* --- findings --------------------------------------------------------------------------------- */

static void counter__off_by_half_a_per_cent__is_found(void **state)
{
    struct fuel_check *c = &r->meter[1].counter;

    (void)state;
    r->instance[1] = 3; /* as the bus calls it */
    *c = (struct fuel_check){.known = true, .off = true, .factor = 0.9, .error = 0.01};
    assert_string_equal(found("meter")->text,
                        "fuel-rate.3 reads 11.1 % too much against its trip counter: gain = 0.900 "
                        "(±0.010) would correct it");
    assert_string_equal(found("meter")->channel, "fuel-rate.3");
    c->factor = 1.0051;
    assert_string_equal(found("meter")->text,
                        "fuel-rate.3 reads 0.5 % too little against its trip counter: gain = 1.005 "
                        "(±0.010) would correct it");
    c->factor = 1.0049;
    assert_null(found("meter"));
    c->factor = 0.9;
    c->off = false;
    assert_null(found("meter"));
    c->off = true;
    c->known = false;
    assert_null(found("meter"));
}

/* By 2 % and by two and a half of its standard errors. */
static void log__off_by_more_than_chance__is_found(void **state)
{
    static const struct {
        double factor, error;
        const char *text; /* NULL: none */
    } rows[] = {
        {1.021, 0.001,
         "speed-water reads 2.1 % (±0.2) too little against the runs both ways: gain = 1.021 would "
         "correct it"},
        {1.019, 0.001, NULL},
        {0.93, 0.0279,
         "speed-water reads 7.5 % (±5.6) too much against the runs both ways: gain = 0.930 would "
         "correct it"},
        {0.93, 0.0281, NULL},
        {NAN, NAN, NULL},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        r->log_factor = rows[i].factor;
        r->log_error = rows[i].error;
        if (!rows[i].text)
            assert_null(found("log"));
        else
            assert_string_equal(found("log")->text, rows[i].text);
    }
}

static void holes__of_the_whole_bus__are_told(void **state)
{
    (void)state;
    assert_null(found("holes"));
    r->holes = 1;
    r->hole_s = 40;
    assert_non_null(strstr(found("holes")->text, "40 s in all, 0.0 % of the log"));
    r->last_ns = INT64_C(1000) * 1000000000;
    assert_string_equal(found("holes")->text,
                        "nothing at all was heard 1 time of more than 10 s: "
                        "40 s in all, 4.0 % of the log, unless its clock was set "
                        "forward");
    r->holes = 2;
    assert_non_null(strstr(found("holes")->text, "2 times of"));
}

/* 1777881661 s are 2026-05-04 08:01:01 UTC, as `date -u` has it. */
static void clock__that_was_set_back__is_told(void **state)
{
    (void)state;
    assert_null(found("clock"));
    r->clock_steps = 1;
    r->clock_step_s = -3600.4;
    r->clock_step_ns = INT64_C(1777881661) * 1000000000;
    assert_string_equal(found("clock")->text,
                        "the clock of the log was set back 1 time, last by 3600 s to 08:01:01 UTC: "
                        "times before and after do not go together");
    assert_near(found("clock")->value, -3600.4, 0);
    r->clock_steps = 2;
    assert_non_null(strstr(found("clock")->text, "set back 2 times, last by"));
}

#define WITH_TRIAL(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_TRIAL(full__revs_reached__of_what_is_rated),
        WITH_TRIAL(idle__warm_oil_and_a_slow_step__tell_its_pressure),
        WITH_TRIAL(idle__several__the_slowest),
        WITH_TRIAL(charge__under_way__within_the_limits_of_its_system),
        WITH_TRIAL(crank__volts_of_the_battery_that_cranks),
        WITH_TRIAL(twins__exhaust__the_largest_difference_at_one_speed),
        WITH_TRIAL(twins__burn__only_where_the_meters_can_tell),
        WITH_TRIAL(twins__coolant_and_oil__within_what_twins_differ_by),
        WITH_TRIAL(apart__more_than_three_in_a_hundred__is_found_at_the_fastest),
        WITH_TRIAL(cold__one_that_stands_apart__is_named),
        WITH_TRIAL(space__hottest_over_outside_air),
        WITH_TRIAL(blower__cools_sooner_than_without),
        WITH_TRIAL(alerts__warnings_and_graver__fail),
        WITH_TRIAL(counter__off_by_half_a_per_cent__is_found),
        WITH_TRIAL(log__off_by_more_than_chance__is_found),
        WITH_TRIAL(holes__of_the_whole_bus__are_told),
        WITH_TRIAL(clock__that_was_set_back__is_told),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
