/* What oil temperature and engine load add to the diagnosis, fed value by value. Figures invented;
 * that a coolant sender left in air reads low is common practice, no source. */
#include "cooling/cooling_case.h"

struct bench {
    struct cooling *c;
    uint64_t seed;
    double t_s;
    double speed, load, exhaust, coolant, oil; /* NaN: not on the bus */
    int worst[COOLING_SENSORS];
    double warned_s; /* first of any */
};

static void begin(struct bench *b)
{
    *b =
        (struct bench){.c = cooling_new(), .seed = 7, .load = NAN, .exhaust = NAN, .warned_s = NAN};
    assert_non_null(b->c);
}

static void tell(struct bench *b, enum cooling_sensor s, double value, double noise)
{
    if (!isnan(value))
        cooling_reading(b->c, llround(b->t_s * 1e9), 0, s, true,
                        value + noise * case_normal(&b->seed));
}

static void second(struct bench *b)
{
    tell(b, COOLING_RPM, b->speed, 0.0);
    cooling_engine(b->c, llround(b->t_s * 1e9), 0, b->speed >= 300.0);
    tell(b, COOLING_LOAD, b->load, 0.5);
    tell(b, COOLING_EXHAUST, b->exhaust, 0.05);
    tell(b, COOLING_COOLANT, b->coolant, 0.05);
    tell(b, COOLING_OIL_TEMP, b->oil, 0.1);
    for (int s = 0; s < COOLING_SENSORS; s++) {
        int level = cooling_verdict(b->c, 0, (enum cooling_sensor)s)->level;
        b->worst[s] = level > b->worst[s] ? level : b->worst[s];
        if (level >= 2 && isnan(b->warned_s))
            b->warned_s = b->t_s;
    }
    b->t_s += 1.0;
}

/* Cold to a plateau at 2400 rpm: coolant within 5 min, oil by a lag of 300 s. */
static void warm_up(struct bench *b)
{
    b->speed = 2400.0;
    b->oil = 20.0;
    for (int i = 0; i < 2700; i++) {
        b->coolant = fmin(82.0, 40.0 + i * 42.0 / 300.0);
        b->oil = case_lag(b->oil, b->coolant + 14.0, 300.0, 1.0);
        second(b);
    }
    for (int s = 0; s < COOLING_SENSORS; s++)
        assert_int_equal(b->worst[s], 0);
}

static void
coolant_lost__its_sender_cools_in_air_and_oil_climbs__is_named_and_an_alarm(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    warm_up(&b);
    double lost_s = b.t_s;
    for (int i = 0; i < 180; i++) {
        b.coolant = case_lag(b.coolant, 45.0, 80.0, 1.0);
        b.oil = case_lag(b.oil, 130.0, 300.0, 1.0);
        second(&b);
    }
    assert_in_range((long)(b.warned_s - lost_s), 10, 60);
    assert_int_equal(cooling_verdict(b.c, 0, COOLING_OIL_TEMP)->cause, CAUSE_COOLANT_LOST);
    assert_int_equal(b.worst[COOLING_OIL_TEMP], 3);
    assert_int_equal(b.worst[COOLING_COOLANT], 0); /* a fixed limit there would never speak */
    cooling_free(b.c);
}

static void throttle_closes__coolant_and_oil_fall__say_nothing(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    warm_up(&b);
    b.speed = 800.0;
    for (int i = 0; i < 600; i++) {
        b.coolant = case_lag(b.coolant, 71.0, 80.0, 1.0);
        b.oil = case_lag(b.oil, 78.0, 300.0, 1.0);
        second(&b);
    }
    assert_int_equal(b.worst[COOLING_OIL_TEMP], 0);
    assert_int_equal(b.worst[COOLING_COOLANT], 0);
    cooling_free(b.c);
}

/* The sea falls through an open thermostat: cold water alone is no lost coolant. */
static void coolant_falls__oil_does_not_climb__says_nothing(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    warm_up(&b);
    for (int i = 0; i < 300; i++) {
        b.coolant = case_lag(b.coolant, 60.0, 80.0, 1.0);
        second(&b);
    }
    assert_int_equal(b.worst[COOLING_OIL_TEMP], 0);
    cooling_free(b.c);
}

static void oil_climbs_alone__at_an_even_speed__is_oil(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    warm_up(&b);
    double fault_s = b.t_s;
    for (int i = 0; i < 480; i++) {
        b.oil = case_lag(b.oil, 125.0, 300.0, 1.0);
        second(&b);
    }
    assert_in_range((long)(b.warned_s - fault_s), 20, 240);
    assert_int_equal(cooling_verdict(b.c, 0, COOLING_OIL_TEMP)->cause, CAUSE_OIL);
    cooling_free(b.c);
}

static void throttle_opens__oil_gains_18_k__says_nothing(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    warm_up(&b);
    b.speed = 3400.0;
    for (int i = 0; i < 1800; i++) {
        b.oil = case_lag(b.oil, 114.0, 300.0, 1.0);
        second(&b);
    }
    assert_int_equal(b.worst[COOLING_OIL_TEMP], 0);
    cooling_free(b.c);
}

/* The coolant pump stops; oil that climbs at an even speed makes the warning certain. */
static int coolant_pump_stops(bool with_oil, double *alarm_s)
{
    struct bench b;
    begin(&b);
    warm_up(&b);
    *alarm_s = NAN;
    double stopped_s = b.t_s;
    for (int i = 0; i < 150; i++) {
        b.coolant += 5.0 / 60.0;
        b.oil = with_oil ? case_lag(b.oil, 130.0, 300.0, 1.0) : NAN;
        second(&b);
        if (isnan(*alarm_s) && cooling_verdict(b.c, 0, COOLING_COOLANT)->level == 3)
            *alarm_s = b.t_s - stopped_s;
    }
    int worst = b.worst[COOLING_COOLANT];
    cooling_free(b.c);
    return worst;
}

static void coolant_pump_stops__oil_follows__alarm_before_the_limit(void **state)
{
    (void)state;
    double with_s, without_s;
    assert_int_equal(coolant_pump_stops(true, &with_s), 3);
    assert_int_equal(coolant_pump_stops(false, &without_s), 2);
    assert_true(with_s > 30.0 && with_s < 120.0);
    assert_true(isnan(without_s)); /* 94.5 °C at the end: no limit is near */
}

/* An even speed under a load that comes and goes (a tow, a headwind): exhaust goes with it. */
static int worst_of_a_changing_load(bool load_on_the_bus)
{
    struct bench b;
    begin(&b);
    b.coolant = b.oil = NAN;
    b.speed = 2200.0;
    double exhaust = 30.0;
    for (int i = 0; i < 7200; i++) {
        double load = i / 480 % 2 ? 85.0 : 45.0;
        exhaust = case_lag(exhaust, 20.0 + 0.35 * load, 25.0, 1.0);
        b.exhaust = exhaust;
        b.load = load_on_the_bus ? load : NAN;
        second(&b);
        if (i == 3600)
            b.worst[COOLING_EXHAUST] = 0; /* it had an hour to learn */
    }
    int worst = b.worst[COOLING_EXHAUST];
    cooling_free(b.c);
    return worst;
}

static void load_changes_at_an_even_speed__on_the_bus__explains_the_exhaust(void **state)
{
    (void)state;
    assert_int_equal(worst_of_a_changing_load(true), 0);
    assert_int_equal(worst_of_a_changing_load(false), 2); /* nothing else could tell it from heat */
}

static void water_lost__with_load_on_the_bus__is_found_as_before(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    b.coolant = b.oil = NAN;
    b.speed = 2200.0;
    b.load = 60.0;
    b.exhaust = 40.0;
    for (int i = 0; i < 900; i++)
        second(&b);
    double lost_s = b.t_s;
    for (int i = 0; i < 40; i++) {
        b.exhaust = case_lag(b.exhaust, 300.0, 90.0, 1.0);
        second(&b);
    }
    assert_in_range((long)(b.warned_s - lost_s), 2, 14);
    assert_int_equal(cooling_verdict(b.c, 0, COOLING_EXHAUST)->cause, CAUSE_RAW_WATER);
    cooling_free(b.c);
}

static void odd_loads__are_passed_over(void **state)
{
    (void)state;
    static const double odd[] = {-40.0, 126.0, 1e9, INFINITY};
    struct bench b;
    begin(&b);
    b.coolant = b.oil = NAN;
    b.speed = 2200.0;
    b.exhaust = 40.0;
    for (int i = 0; i < 1200; i++) {
        b.load = i % 5 == 0 ? odd[i / 5 % 4] : 60.0;
        second(&b);
    }
    assert_int_equal(b.worst[COOLING_EXHAUST], 0);
    assert_near(cooling_verdict(b.c, 0, COOLING_EXHAUST)->expected, 40.0, 0.5);
    cooling_free(b.c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(
            coolant_lost__its_sender_cools_in_air_and_oil_climbs__is_named_and_an_alarm),
        cmocka_unit_test(throttle_closes__coolant_and_oil_fall__say_nothing),
        cmocka_unit_test(coolant_falls__oil_does_not_climb__says_nothing),
        cmocka_unit_test(oil_climbs_alone__at_an_even_speed__is_oil),
        cmocka_unit_test(throttle_opens__oil_gains_18_k__says_nothing),
        cmocka_unit_test(coolant_pump_stops__oil_follows__alarm_before_the_limit),
        cmocka_unit_test(load_changes_at_an_even_speed__on_the_bus__explains_the_exhaust),
        cmocka_unit_test(water_lost__with_load_on_the_bus__is_found_as_before),
        cmocka_unit_test(odd_loads__are_passed_over),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
