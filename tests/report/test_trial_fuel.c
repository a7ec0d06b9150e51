/* Fuel of a trial on series made up second by second: litres by a rate with gaps, by a counter, out
 * of a tank at rest and under way, and what each says of the other. Worked out beside each case. */
#include "report/one_trial.h"

#include <stdlib.h>

static int begin(void **state)
{
    (void)state;
    trial_of(1);
    t->options.running_rpm = 400;
    settings->fuel = (struct fuel_setting){0};
    return 0;
}

/* --- meters ---------------------------------------------------------------------------------- */

/* 36 L/h are a hundredth of a litre a second; a rate counts on for four seconds without a word. */
static void meter__gaps__count_on_for_four_seconds(void **state)
{
    (void)state;
    t->wall_len = 160;
    heard(QTY_FUEL_RATE, 0, 10, 60, 36);
    heard(QTY_FUEL_RATE, 0, 64, 110, 36);  /* four seconds away: all of it counts */
    heard(QTY_FUEL_RATE, 0, 120, 160, 36); /* ten: four of them */
    heard(QTY_BURN_ERROR, 0, 10, 110, 7.2);
    heard(QTY_FUEL_RATE, 2, 0, 100, 72);
    trial_fuel_add(t);
    assert_true(r->meter[0].heard);
    assert_near(r->meter[0].burnt_l, 0.01 * (100 + 4 + 40), 1e-6);
    assert_near(r->meter[0].burnt_error_l, 0.002 * 100 / 2, 1e-6);
    assert_false(r->meter[1].heard);
    assert_near(r->meter[2].burnt_l, 2, 1e-6);
    assert_near(r->meter[2].burnt_error_l, 0, 0);
    trial_fuel_finish(t);
    assert_near(r->burnt_l, 1.44 + 2, 1e-6);
    assert_true(isnan(r->used_l) && isnan(r->factor) && isnan(r->usable_l));
}

static void counter__its_change__unless_it_was_set_back(void **state)
{
    (void)state;
    t->wall_len = 100;
    heard(QTY_TRIP_FUEL, 0, 0, 50, 12);
    heard(QTY_TRIP_FUEL, 0, 50, 99, 14);
    heard(QTY_TRIP_FUEL, 0, 99, 100, 15);
    heard(QTY_TRIP_FUEL, 1, 0, 100, 12); /* nothing burnt: that is known */
    heard(QTY_TRIP_FUEL, 2, 0, 50, 12);
    heard(QTY_TRIP_FUEL, 2, 50, 100, 1);
    trial_fuel_add(t);
    assert_true(r->meter[0].has_trip);
    assert_near(r->meter[0].trip_l, 3, 1e-9);
    assert_true(r->meter[1].has_trip);
    assert_near(r->meter[1].trip_l, 0, 0);
    assert_false(r->meter[2].has_trip);
    assert_false(r->meter[3].has_trip);
}

/* --- out of a tank -----------------------------------------------------------------------------
 */

struct trip {
    int before, way, after; /* seconds at rest, under way, at rest */
    double from_pc, to_pc;  /* of 200 L */
    double lph;             /* of the meter */
    int silent;             /* seconds under way without a word of the meter */
    enum quantity tank;
};

static void sail(const struct trip *v)
{
    int over = v->before + v->way, all = over + v->after;
    struct trial_series *s;

    t->wall_len = (size_t)all;
    heard(QTY_RPM, 0, 0, v->before, 0);
    heard(QTY_RPM, 0, v->before, over, 2000);
    heard(QTY_RPM, 0, over, all, 0);
    heard(QTY_FUEL_RATE, 0, 0, v->before, 0);
    heard(QTY_FUEL_RATE, 0, v->before, over - v->silent, v->lph);
    heard(QTY_FUEL_RATE, 0, over, all, 0);
    heard(v->tank, 0, 0, v->before, v->from_pc);
    for (int i = v->before; i < over; i++)
        heard(v->tank, 0, i, i + 1,
              v->from_pc + (v->to_pc - v->from_pc) * (i - v->before) / v->way);
    s = heard(v->tank, 0, over, all, v->to_pc);
    s->capacity_l = 200;
    s->step = 0.5;
    trial_fuel_add(t);
}

static const struct trip plain = {.before = 400,
                                  .way = 1000,
                                  .after = 400,
                                  .from_pc = 50,
                                  .to_pc = 44,
                                  .lph = 36,
                                  .tank = QTY_FUEL_TANK};

/* 12 L out of the tank against 10 L metered; each level is known to half a step of 1 L, a step over
 * sqrt(12), so that the difference is to 0.4082 L. */
static void drawn__at_rest_before_and_after__by_the_steps_of_the_level(void **state)
{
    (void)state;
    sail(&plain);
    assert_true(r->tank[0].heard);
    assert_false(r->tank[0].petrol);
    assert_near(r->tank[0].first_pc, 50, 1e-6);
    assert_near(r->tank[0].last_pc, 44, 1e-6);
    assert_near(r->tank[0].last_l, 88, 1e-4);
    assert_near(r->tank[0].used_l, 12, 1e-4);
    assert_int_equal(t->drawn[0].logs, 1);
    assert_false(t->drawn[0].moving);
    assert_near(t->drawn[0].tank_l, 12, 1e-4);
    assert_near(t->drawn[0].metered_l, 10, 1e-6);
    assert_near(sqrt(t->drawn[0].variance_l2), 0.40824829, 1e-6);
    assert_near(t->drawn[TRIAL_TANKS].tank_l, 12, 1e-4);
    assert_int_equal(t->drawn[1].logs, 0);
    trial_fuel_finish(t);
    assert_true(r->still);
    assert_near(r->burnt_l, 10, 1e-6);
    assert_near(r->meter[0].factor, 1.2, 0.002); /* by the slope of the level, the surer here */
    assert_near(r->meter[0].error, 0.001, 0.0002);
    assert_near(r->tank[0].used_l, r->meter[0].factor * 10, 1e-6);
    assert_near(r->tank[0].used_error, r->meter[0].error * 10, 1e-6);
    assert_int_equal(r->findings, 1);
    assert_string_equal(r->finding[0].kind, "meter");
    assert_string_equal(r->finding[0].text, "fuel-rate.0 reads 16.8 % (±0.2) too little against "
                                            "tank 0: gain = 1.202 would correct it");
}

/* At rest for 60 s before, and for 80 s after, of which 20 let the fuel come to rest. */
static void drawn__rest_too_short__counts_as_moving(void **state)
{
    static const struct {
        int before, after;
        bool moving;
    } rows[] = {{60, 80, false}, {59, 80, true}, {60, 79, true}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct trip v = plain;

        again(state);
        v.before = rows[i].before;
        v.after = rows[i].after;
        sail(&v);
        assert_int_equal(t->drawn[0].logs, 1);
        assert_int_equal(t->drawn[0].moving, rows[i].moving);
        /* squat: one hundredth of 200 L is one standard error */
        assert_near(t->drawn[0].variance_l2 >= 4, rows[i].moving, 0);
    }
}

static void drawn__meter_silent_under_way__says_nothing(void **state)
{
    static const struct {
        int silent, logs;
    } rows[] = {{24, 1}, {25, 0}}; /* four seconds count on, twenty are allowed */

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct trip v = plain;

        again(state);
        v.silent = rows[i].silent;
        sail(&v);
        assert_int_equal(t->drawn[0].logs, rows[i].logs);
        assert_int_equal(t->drawn[TRIAL_TANKS].logs, rows[i].logs);
        assert_int_equal(r->meter[0].partly, !rows[i].logs);
    }
}

/* Each engine's own meter by itself, and all of them together. */
static void drawn__one_of_two_meters_silent__tells_of_the_other_tank(void **state)
{
    for (int silent = 0; silent < 2; silent++) {
        struct trip v = plain;

        again(state);
        r->engines = 2;
        v.silent = silent == 0 ? 25 : 0;
        heard(QTY_RPM, 1, 0, 400, 0);
        heard(QTY_RPM, 1, 400, 1400, 2000);
        heard(QTY_RPM, 1, 1400, 1800, 0);
        heard(QTY_FUEL_RATE, 1, 0, silent == 1 ? 1375 : 1800, 36);
        heard(QTY_FUEL_RATE, 1, 1400, 1800, 0);
        heard(QTY_FUEL_TANK, 1, 0, 900, 60);
        heard(QTY_FUEL_TANK, 1, 900, 1800, 55)->capacity_l = 200;
        sail(&v);
        for (int e = 0; e < 2; e++) {
            assert_int_equal(t->drawn[e].logs, e != silent);
            assert_int_equal(t->slope[e].logs > 0, e != silent);
            assert_int_equal(r->meter[e].partly, e == silent);
        }
        assert_int_equal(t->drawn[TRIAL_TANKS].logs, 0);
    }
}

/* The first level is that of the last five minutes before the way, or of the first two minutes
 * where there was no rest; the last of the five minutes that begin 20 s after it. 40 s longer at
 * another level tell nothing. */
static void drawn__levels__of_which_seconds(void **state)
{
    static const struct {
        int before, after, from, to; /* 1 % more in these seconds */
        double tank_l;
    } rows[] = {
        {340, 400, 0, 40, 12},      {340, 400, 40, 340, 14},    {340, 400, 1340, 1360, 12},
        {340, 400, 1360, 1660, 10}, {340, 400, 1660, 1740, 12}, {340, 79, 0, 40, 12},
        {340, 79, 40, 340, 14},     {59, 400, 0, 120, 14},      {59, 400, 120, 300, 12},
        {340, 79, 1299, 1419, 10},  {340, 79, 1200, 1299, 12},  {340, 81, 1360, 1421, 10},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int over = rows[i].before + 1000, all = over + rows[i].after;

        again(state);
        heard(QTY_RPM, 0, 0, rows[i].before, 0);
        heard(QTY_RPM, 0, rows[i].before, over, 2000);
        heard(QTY_RPM, 0, over, all, 0);
        heard(QTY_FUEL_RATE, 0, 0, all, 36);
        for (int k = 0; k < all; k++)
            heard(QTY_FUEL_TANK, 0, k, k + 1,
                  (k < 600 ? 50 : 44) + (k >= rows[i].from && k < rows[i].to))
                ->capacity_l = 200;
        t->wall_len = (size_t)all;
        trial_fuel_add(t);
        assert_int_equal(t->drawn[0].logs, 1);
        assert_near(t->drawn[0].tank_l, rows[i].tank_l, 1e-4);
    }
}

/* A tank alone: what all meters say together is not known, and not zero. */
static void meters__none_heard__their_sum_is_not_known(void **state)
{
    (void)state;
    t->wall_len = 400;
    heard(QTY_FUEL_TANK, 0, 0, 400, 50)->capacity_l = 200;
    trial_fuel_add(t);
    trial_fuel_finish(t);
    assert_true(r->tank[0].heard);
    assert_true(isnan(r->burnt_l));
}

static void drawn__log_of_four_minutes__is_the_least(void **state)
{
    for (int less = 0; less < 2; less++) {
        struct trip v = plain;

        again(state);
        v.before = v.after = 80;
        v.way = 80 - less;
        sail(&v);
        assert_int_equal(t->drawn[0].logs, 1 - less);
    }
}

/* At rest is: no engine in gear, and less than 0.7 kn by the log and over the ground. */
static void drawn__in_neutral_or_drifting__is_at_rest(void **state)
{
    static const struct {
        double gear, kn;
        bool moving;
    } rows[] = {{0, 0, false}, {1, 0, true}, {0, 0.69, false}, {0, 0.71, true}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        heard(QTY_RPM, 0, 0, 400, 600); /* at idle alongside */
        heard(QTY_GEAR, 0, 0, 400, rows[i].gear);
        heard(QTY_GEAR, 0, 400, 1400, 1);
        heard(QTY_SPEED_WATER, 0, 0, 400, rows[i].kn);
        heard(QTY_SPEED_GROUND, 0, 0, 400, 0);
        t->wall_len = 1800;
        heard(QTY_RPM, 0, 400, 1400, 2000);
        heard(QTY_RPM, 0, 1400, 1800, 0);
        heard(QTY_FUEL_RATE, 0, 0, 1800, 36);
        heard(QTY_FUEL_TANK, 0, 0, 900, 50);
        heard(QTY_FUEL_TANK, 0, 900, 1800, 44)->capacity_l = 200;
        trial_fuel_add(t);
        assert_int_equal(t->drawn[0].logs, 1);
        assert_int_equal(t->drawn[0].moving, rows[i].moving);
    }
}

static void tank__petrol__is_one_too(void **state)
{
    struct trip v = plain;

    (void)state;
    v.tank = QTY_PETROL_TANK;
    sail(&v);
    assert_true(r->tank[0].petrol);
    assert_near(t->drawn[0].tank_l, 12, 1e-4);
}

/* --- senders that hang, totals ------------------------------------------------------------------
 */

/* More than 3 L burnt, and no less than a hundredth of the tank. */
static void stuck__level_that_never_moved__is_found(void **state)
{
    static const struct {
        double lph, to_pc, capacity_l;
        const char *text; /* NULL: none */
    } rows[] = {
        {11, 50, 200, "fuel-tank.0 did not move at all while about 3 L were burnt: sender stuck?"},
        {10.7, 50, 200, NULL},
        {11, 49.5, 200, NULL},
        {18, 50, 499, "fuel-tank.0 did not move at all while about 5 L were burnt: sender stuck?"},
        {18, 50, 501, NULL},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct trip v = plain;
        const char *text = NULL;

        again(state);
        v.lph = rows[i].lph;
        v.to_pc = rows[i].to_pc;
        sail(&v);
        r->tank[0].capacity_l = rows[i].capacity_l;
        trial_fuel_finish(t);
        for (int k = 0; k < r->findings; k++)
            if (strcmp(r->finding[k].kind, "stuck") == 0)
                text = r->finding[k].text;
        assert_int_equal(text != NULL, rows[i].text != NULL);
        if (rows[i].text)
            assert_string_equal(text, rows[i].text);
        assert_int_equal(r->tank[0].stuck, text != NULL);
        assert_int_equal(isnan(r->factor), text != NULL);
        assert_int_equal(isnan(r->used_l), text != NULL);
    }
}

/* 88 L are in the tank at the end. */
static void usable__above_the_reserve__in_litres_or_as_a_share(void **state)
{
    static const struct {
        double reserve_l, reserve_percent, usable_l;
    } rows[] = {{0, 0, 88}, {30, 0, 58}, {0, 10, 68}, {30, 10, 58}, {100, 0, 0}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        settings->fuel.reserve_l = rows[i].reserve_l;
        settings->fuel.reserve_percent = rows[i].reserve_percent;
        sail(&plain);
        trial_fuel_finish(t);
        assert_near(r->usable_l, rows[i].usable_l, 1e-4);
    }
}

/* What cannot be drawn of this tank is none of it; of another it is nothing. */
static void usable__above_what_cannot_be_drawn(void **state)
{
    static const struct {
        const char *text;
        double usable_l;
    } rows[] = {{"[channel fuel-tank.0]\nunusable = 10 L\n", 78},
                {"[channel fuel-tank.1]\nunusable = 10 L\n", 88},
                {"[channel fuel-tank.0]\nunusable = 100 L\n", 0}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct config_messages *messages = NULL;
        struct settings *own = config_load_text("test", rows[i].text, &messages);

        config_messages_free(messages);
        assert_non_null(own);
        own->fuel = (struct fuel_setting){0};
        again(state);
        r->settings = own;
        sail(&plain);
        trial_fuel_finish(t);
        assert_near(r->usable_l, rows[i].usable_l, 1e-4);
        settings_free(own);
    }
}

/* Two engines and tanks of the same numbers; with a third tank nobody knows which feeds which. */
static void meters__tank_of_the_same_number__only_where_each_has_one(void **state)
{
    for (int third = 0; third < 2; third++) {
        again(state);
        r->engines = 2;
        heard(QTY_FUEL_RATE, 1, 0, 400, 0);
        heard(QTY_FUEL_RATE, 1, 400, 1400, 36);
        heard(QTY_FUEL_RATE, 1, 1400, 1800, 0);
        heard(QTY_FUEL_TANK, 1, 0, 900, 60);
        heard(QTY_FUEL_TANK, 1, 900, 1800, 55)->capacity_l = 200;
        if (third) {
            heard(QTY_FUEL_TANK, 2, 0, 900, 60);
            heard(QTY_FUEL_TANK, 2, 900, 1800, 59)->capacity_l = 200;
        }
        sail(&plain);
        trial_fuel_finish(t);
        assert_int_equal(isfinite(r->meter[0].factor), !third);
        assert_int_equal(isfinite(r->meter[1].factor), !third);
        assert_near(r->used_l, third ? 24 : r->tank[0].used_l + r->tank[1].used_l, 1e-3);
        assert_near(r->used_error,
                    hypot(hypot(r->tank[0].used_error, r->tank[1].used_error),
                          third ? r->tank[2].used_error : 0),
                    1e-9);
        assert_true(third || r->used_error > 0);
        assert_near(r->burnt_l, 20, 1e-6);
    }
}

#define WITH_TRIAL(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_TRIAL(meter__gaps__count_on_for_four_seconds),
        WITH_TRIAL(counter__its_change__unless_it_was_set_back),
        WITH_TRIAL(drawn__at_rest_before_and_after__by_the_steps_of_the_level),
        WITH_TRIAL(drawn__rest_too_short__counts_as_moving),
        WITH_TRIAL(drawn__meter_silent_under_way__says_nothing),
        WITH_TRIAL(drawn__one_of_two_meters_silent__tells_of_the_other_tank),
        WITH_TRIAL(drawn__levels__of_which_seconds),
        WITH_TRIAL(meters__none_heard__their_sum_is_not_known),
        WITH_TRIAL(drawn__log_of_four_minutes__is_the_least),
        WITH_TRIAL(drawn__in_neutral_or_drifting__is_at_rest),
        WITH_TRIAL(tank__petrol__is_one_too),
        WITH_TRIAL(stuck__level_that_never_moved__is_found),
        WITH_TRIAL(usable__above_the_reserve__in_litres_or_as_a_share),
        WITH_TRIAL(usable__above_what_cannot_be_drawn),
        WITH_TRIAL(meters__tank_of_the_same_number__only_where_each_has_one),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
