/* Failures must be found, whatever the sensors make of them. Invented trips with fixed seeds. */
#include "cooling/cooling_case.h"

/* Loses the water now; returns the delay of the first warning, NaN if none within the time. */
static double lose_water(struct engine_case *c, int engine, double within_s)
{
    double began = c->now_s;
    assert_true(isnan(c->warned_s));
    c->engine[engine].water = 0.0;
    while (isnan(c->warned_s) && c->now_s < began + within_s)
        case_run(c, 0.25);
    return c->warned_s - began;
}

static void water_lost_at_cruise__is_found_within_14_s(void **state)
{
    (void)state;
    for (int engines = 1; engines <= 2; engines++) {
        struct engine_case c;
        case_begin(&c, engines, 1);
        case_cruise(&c);
        assert_true(lose_water(&c, 0, 60.0) <= 14.0);
        const struct cooling_verdict *v = cooling_verdict(c.cooling, 0, COOLING_EXHAUST);
        assert_int_equal(v->cause, CAUSE_RAW_WATER);
        assert_int_equal(v->kind, COOLING_RISE);
        assert_true(v->value < 93.3 && v->value > v->expected + v->allowance);
        assert_true(v->statistic >= v->threshold);
        assert_true(v->seconds_to_limit > 0.0);
        assert_int_equal(cooling_verdict(c.cooling, 1, COOLING_EXHAUST)->level, 0);
        case_end(&c);
    }
}

static void warning__grows_into_an_alarm__and_clears_when_water_is_back(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 2);
    case_cruise(&c);
    assert_true(!isnan(lose_water(&c, 0, 60.0)));
    case_run(&c, 40.0);
    assert_int_equal(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->level, 3);
    c.engine[0].water = 1.0;
    case_run(&c, 600.0);
    assert_int_equal(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->level, 0);
    case_end(&c);
}

/* The first throttle-up of a trip lets much be expected; the exhaust has not come back for that. */
static void water_lost_at_idle__throttle_opens__stays_called_till_it_is_back(void **state)
{
    (void)state;
    static const double lever_s[] = {5.0, 20.0, 60.0}, water[] = {0.0, 0.4, 0.6};
    for (int i = 0; i < 9; i++) {
        struct engine_case c;
        case_begin(&c, 1, 40 + (uint64_t)i);
        case_speed(&c, 750.0);
        case_run(&c, 400.0);
        c.engine[0].water = water[i / 3];
        while (isnan(c.warned_s) && c.now_s < 900.0)
            case_run(&c, 0.25);
        assert_true(c.warned_s < 900.0);
        case_run(&c, lever_s[i % 3]);
        const struct cooling_verdict *v = cooling_verdict(c.cooling, 0, COOLING_EXHAUST);
        double stood = v->value;
        case_speed(&c, 2200.0);
        for (int s = 0; s < 480; s++) {
            case_run(&c, 0.25);
            assert_true(v->level >= 2);
            assert_true(v->value > v->expected + v->allowance);
        }
        assert_true(v->value > stood + 10.0);
        c.engine[0].water = 1.0;
        case_run(&c, 600.0);
        assert_int_equal(v->level, 0);
        case_end(&c);
    }
}

/* Iron that is hot when the engine is started again cools within a minute, or no water comes. */
static void hot_restart__without_water__is_found_and_with_it_quiet(void **state)
{
    (void)state;
    static const double water[] = {1.0, 0.55, 0.5};
    for (int i = 0; i < 3; i++) {
        struct engine_case c;
        case_begin(&c, 1, 80 + (uint64_t)i);
        case_cruise(&c);
        case_speed(&c, 0.0);
        case_run(&c, 300.0);
        c.engine[0].wall_c = c.engine[0].shown_c = 60.0;
        case_run(&c, 10.0);
        c.engine[0].water = water[i];
        case_speed(&c, 750.0);
        case_run(&c, 130.0);
        const struct cooling_verdict *v = cooling_verdict(c.cooling, 0, COOLING_EXHAUST);
        if (water[i] == 1.0) {
            case_run(&c, 300.0);
            assert_int_equal(c.worst, 0);
        } else {
            assert_int_equal(v->cause, CAUSE_RAW_WATER);
            for (int s = 0; s < 400; s++) { /* and stands as long as it lasts */
                assert_true(v->level >= 2 && v->value > v->expected + v->allowance);
                case_run(&c, 0.25);
            }
            c.engine[0].water = 1.0;
            case_run(&c, 300.0);
            assert_int_equal(v->level, 0);
        }
        case_end(&c);
    }
}

/* At anchor the gas is cool, and heats slowly: no alternator heats an exhaust so far. */
static void water_lost_at_anchor__climbing_slowly__is_found(void **state)
{
    (void)state;
    static const double water[] = {0.40, 0.50, 0.55};
    for (int i = 0; i < 3; i++) {
        struct engine_case c;
        case_begin(&c, 1, 60 + (uint64_t)i);
        case_speed(&c, 750.0);
        case_run(&c, 1800.0);
        assert_true(isnan(c.warned_s));
        double began = c.now_s;
        c.engine[0].water = water[i];
        while (isnan(c.warned_s) && c.now_s < began + 110.0)
            case_run(&c, 0.25);
        assert_true(c.warned_s < began + 110.0);
        const struct cooling_verdict *v = cooling_verdict(c.cooling, 0, COOLING_EXHAUST);
        assert_int_equal(v->cause, CAUSE_RAW_WATER);
        assert_true(v->value < 70.0);
        case_end(&c);
    }
}

/* Fouled to a third: the exhaust settles higher, and stays called until something is done. */
static void heat_that_stays__stays_called(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 6);
    case_cruise(&c);
    for (int s = 0; s < 40; s++) {
        c.engine[0].water -= 0.7 / 40.0;
        case_run(&c, 1.0);
    }
    case_run(&c, 60.0);
    assert_true(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->level >= 2);
    uint32_t version = cooling_version(c.cooling);
    case_run(&c, 900.0);
    assert_true(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->level >= 2);
    assert_true(cooling_version(c.cooling) - version <= 2);
    case_end(&c);
}

static void stopping_the_engine__ends_the_verdict(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 3);
    case_cruise(&c);
    assert_true(!isnan(lose_water(&c, 0, 60.0)));
    uint32_t version = cooling_version(c.cooling);
    case_speed(&c, 0.0);
    case_run(&c, 10.0);
    assert_int_equal(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->level, 0);
    assert_true(cooling_version(c.cooling) != version);
    case_end(&c);
}

static void seacock_shut_at_start__is_found_and_named(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 4);
    case_run(&c, 60.0);
    case_speed(&c, 700.0);
    assert_true(lose_water(&c, 0, 60.0) <= 30.0);
    assert_int_equal(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->cause, CAUSE_SEACOCK);
    case_end(&c);
}

static void slow_loss__over_8_min__is_found_before_93_c(void **state)
{
    (void)state;
    for (int engines = 1; engines <= 2; engines++) {
        struct engine_case c;
        case_begin(&c, engines, 5);
        case_cruise(&c);
        for (int s = 0; s < 480 && isnan(c.warned_s); s++) {
            c.engine[0].water = 1.0 - s / 480.0;
            case_run(&c, 1.0);
        }
        assert_true(!isnan(c.warned_s));
        assert_true(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->value < 93.3);
        case_end(&c);
    }
}

static void coarse_noisy_slow_sensors__do_not_hide_heat(void **state)
{
    (void)state;
    static const struct {
        double period_s, noise_k, step_k, within_s;
    } sensors[] = {{0.5, 0.1, 0.01, 14}, {1, 0.1, 0.01, 14}, {5, 0.1, 0.01, 30},
                   {2, 1.0, 0.01, 30},   {2, 0.1, 1.0, 20},  {2, 0.5, 1.0, 30}};
    for (size_t k = 0; k < sizeof sensors / sizeof sensors[0]; k++) {
        struct engine_case c;
        case_begin(&c, 1, 20 + k);
        c.period_s = sensors[k].period_s;
        c.noise_k = sensors[k].noise_k;
        c.step_k = sensors[k].step_k;
        case_cruise(&c);
        double delay = lose_water(&c, 0, 90.0);
        if (!(delay <= sensors[k].within_s))
            print_error("sensor %zu: %.1f s\n", k, delay);
        assert_true(delay <= sensors[k].within_s);
        case_end(&c);
    }
}

static double began;
static void dropout_over_the_failure(long i, double now_s, bool *good, double *value)
{
    (void)i;
    (void)good;
    if (now_s > began - 5.0 && now_s < began + 35.0)
        *value = NAN;
}

static void water_lost_within_a_40_s_dropout__is_found_when_the_sensor_is_back(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 30);
    began = 1e9;
    c.spoil = dropout_over_the_failure;
    case_cruise(&c);
    began = c.now_s + 5.0;
    case_run(&c, 5.0);
    double delay = lose_water(&c, 0, 120.0);
    assert_true(delay > 34.0 && delay <= 50.0);
    case_end(&c);
}

static void wild_in_the_climb(long i, double now_s, bool *good, double *value)
{
    (void)now_s;
    (void)good;
    if (i % 4 == 0)
        *value -= 60.0;
}

static void wild_samples_within_the_climb__do_not_hide_it(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 31);
    c.period_s = 1.0;
    case_cruise(&c);
    c.spoil = wild_in_the_climb;
    assert_true(lose_water(&c, 0, 90.0) <= 40.0);
    case_end(&c);
}

/* The record begins 10 s after the water was lost: nothing is known of this engine. */
static void record_that_starts_in_mid_failure__is_found(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 32);
    c.engine[0].wall_c = c.engine[0].shown_c = 34.0;
    c.engine[0].coolant_c = 83.0;
    c.engine[0].rpm = 2200.0;
    assert_true(lose_water(&c, 0, 120.0) <= 40.0);
    assert_true(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->value < 200.0);
    case_end(&c);
}

static void no_engine_speed__water_lost__is_found_later(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 33);
    c.has_rpm = false;
    case_cruise(&c);
    double delay = lose_water(&c, 0, 120.0);
    assert_true(delay <= 40.0);
    assert_true(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->careful);
    case_end(&c);
}

/* The coolant climbs by 8 K/min after three minutes in which the exhaust was there, or was not. */
static void coolant_climbs(bool exhaust, enum cooling_cause cause)
{
    struct engine_case c;
    case_begin(&c, 1, 34);
    c.period_s = 0.5;
    case_cruise(&c);
    const struct cooling_verdict *v = cooling_verdict(c.cooling, 0, COOLING_COOLANT);
    assert_int_equal(v->level, 0);
    int64_t ns = (int64_t)llround(c.now_s * 1e9);
    int found_s = 0;
    double coolant = c.engine[0].coolant_c;
    for (int s = -180; s <= 120 && found_s == 0; s++) {
        for (int k = 0; k < 2; k++) {
            ns += INT64_C(500000000);
            coolant += s > 0 ? 0.5 * 8.0 / 60.0 : 0.0; /* 8 K/min */
            cooling_reading(c.cooling, ns, 0, COOLING_RPM, true, 2200.0);
            if (exhaust)
                cooling_reading(c.cooling, ns, 0, COOLING_EXHAUST, true,
                                c.engine[0].shown_c + 0.05 * case_normal(&c.seed));
            cooling_reading(c.cooling, ns, 0, COOLING_COOLANT, true,
                            coolant + 0.05 * case_normal(&c.seed));
        }
        assert_true(s > 0 || v->level == 0);
        if (v->level >= 2)
            found_s = s;
    }
    assert_in_range(found_s, 1, 40);
    assert_true(v->value < 105.0);
    assert_int_equal(v->cause, cause);
    case_end(&c);
}

static void coolant_alone_climbing__is_circulation(void **state)
{
    (void)state;
    coolant_climbs(true, CAUSE_CIRCULATION);
}

/* Lost raw water would look the same. */
static void coolant_climbing__no_exhaust_to_ask__names_no_circulation(void **state)
{
    (void)state;
    coolant_climbs(false, CAUSE_COOLANT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(water_lost_at_cruise__is_found_within_14_s),
        cmocka_unit_test(warning__grows_into_an_alarm__and_clears_when_water_is_back),
        cmocka_unit_test(water_lost_at_idle__throttle_opens__stays_called_till_it_is_back),
        cmocka_unit_test(hot_restart__without_water__is_found_and_with_it_quiet),
        cmocka_unit_test(water_lost_at_anchor__climbing_slowly__is_found),
        cmocka_unit_test(heat_that_stays__stays_called),
        cmocka_unit_test(stopping_the_engine__ends_the_verdict),
        cmocka_unit_test(seacock_shut_at_start__is_found_and_named),
        cmocka_unit_test(slow_loss__over_8_min__is_found_before_93_c),
        cmocka_unit_test(coarse_noisy_slow_sensors__do_not_hide_heat),
        cmocka_unit_test(water_lost_within_a_40_s_dropout__is_found_when_the_sensor_is_back),
        cmocka_unit_test(wild_samples_within_the_climb__do_not_hide_it),
        cmocka_unit_test(record_that_starts_in_mid_failure__is_found),
        cmocka_unit_test(no_engine_speed__water_lost__is_found_later),
        cmocka_unit_test(coolant_alone_climbing__is_circulation),
        cmocka_unit_test(coolant_climbing__no_exhaust_to_ask__names_no_circulation),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
