/* What a healthy engine does, and what sensors do, that is no cooling failure. Each case is an
 * invented trip with a fixed seed; the random trips are in tests/bench. */
#include "cooling/cooling_case.h"

static void quiet(struct engine_case *c)
{
    if (c->worst >= 2)
        print_error("warned at %.1f s\n", c->warned_s);
    assert_true(c->worst < 2);
    case_end(c);
}

static void warm_up_from_cold__and_throttle_up__says_nothing(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 1);
    case_cruise(&c);
    quiet(&c);
}

static void harbour__orders_every_25_to_120_s__says_nothing(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 2, 2);
    case_run(&c, 20.0);
    case_speed(&c, 700.0);
    case_run(&c, 120.0);
    static const double hold[] = {25, 40, 120, 33, 60, 28, 90, 45, 25, 70, 110, 30};
    static const double rpm[] = {1500, 700, 1200, 700, 1800, 900, 700, 1400, 700, 1100, 1600, 700};
    for (int round = 0; round < 4; round++)
        for (int k = 0; k < 12; k++) {
            if (k % 3 == 0) /* one lever at a time */
                c.engine[k % 2].rpm = rpm[k];
            else
                case_speed(&c, rpm[k]);
            case_run(&c, hold[(k + round) % 12]);
        }
    quiet(&c);
}

static void stop__heat_soak_and_warm_restart__says_nothing(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 3);
    case_cruise(&c);
    case_speed(&c, 0.0);
    c.engine[0].wall_c += 20.0; /* the manifold's heat comes when the water stops */
    case_run(&c, 900.0);
    case_speed(&c, 700.0);
    case_run(&c, 300.0);
    quiet(&c);
}

static void sea_5_k_warmer_within_2_min__says_nothing(void **state)
{
    (void)state;
    for (int engines = 1; engines <= 2; engines++) {
        struct engine_case c;
        case_begin(&c, engines, 4);
        case_cruise(&c);
        for (int s = 0; s < 120; s++) {
            c.sea_c += 5.0 / 120.0;
            case_run(&c, 1.0);
        }
        case_run(&c, 900.0);
        quiet(&c);
    }
}

static void air_drawn_in_for_2_to_5_s__in_turns__says_nothing(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 2, 5);
    case_cruise(&c);
    for (int k = 0; k < 8; k++) {
        c.engine[k % 2].water = 0.3;
        case_run(&c, 2.0 + k % 4);
        c.engine[k % 2].water = 1.0;
        case_run(&c, 50.0);
    }
    quiet(&c);
}

static void second_engine_started_minutes_later__says_nothing(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 2, 6);
    case_run(&c, 10.0);
    c.engine[0].rpm = 700.0;
    case_run(&c, 240.0);
    c.engine[1].rpm = 700.0;
    case_run(&c, 200.0);
    case_speed(&c, 1800.0);
    case_run(&c, 900.0);
    quiet(&c);
}

/* --- bad data ---------------------------------------------------------------------------- */

static void wild_single(long i, double now_s, bool *good, double *value)
{
    (void)now_s;
    (void)good;
    if (i % 97 == 50)
        *value += i % 2 ? 80.0 : -60.0;
}

static void wild_double(long i, double now_s, bool *good, double *value)
{
    (void)now_s;
    (void)good;
    if (i % 113 == 50)
        *value += 45.0;
    if (i % 113 == 51)
        *value += i % 2 ? 70.0 : 46.0;
}

static void not_available(long i, double now_s, bool *good, double *value)
{
    (void)now_s;
    if (i % 5 < 2) {
        *good = false;
        *value = 655.0;
    }
}

/* Open and shorted wires read at the ends of the sender's span; the plant marks them bad, but the
 * watch must not alarm on the two that come before it does. */
static void open_circuit(long i, double now_s, bool *good, double *value)
{
    (void)now_s;
    if (i >= 400 && i < 500) {
        *value = 250.0;
        *good = i < 402;
    }
}

static void shorted(long i, double now_s, bool *good, double *value)
{
    (void)now_s;
    if (i >= 400 && i < 500) {
        *value = -40.0;
        *good = i < 402;
    }
}

static void dropout_40_s(long i, double now_s, bool *good, double *value)
{
    (void)i;
    (void)good;
    if (fmod(now_s, 200.0) < 40.0)
        *value = NAN;
}

static double held;
static void stuck(long i, double now_s, bool *good, double *value)
{
    (void)now_s;
    (void)good;
    if (i % 300 > 200)
        *value = held;
    else
        held = *value;
}

static void bad_data__on_a_healthy_engine__never_alarms_as_heat(void **state)
{
    (void)state;
    static void (*const spoilers[])(long, double, bool *, double *) = {
        wild_single, wild_double, not_available, open_circuit, shorted, dropout_40_s, stuck};
    for (size_t k = 0; k < sizeof spoilers / sizeof spoilers[0]; k++) {
        struct engine_case c;
        case_begin(&c, 1, 10 + k);
        c.spoil = spoilers[k];
        case_cruise(&c);
        case_speed(&c, 900.0);
        case_run(&c, 300.0);
        case_speed(&c, 2000.0);
        case_run(&c, 600.0);
        if (c.worst >= 2)
            print_error("spoiler %zu\n", k);
        quiet(&c);
    }
}

static void coarse_noisy_slow_sensors__on_a_healthy_engine__say_nothing(void **state)
{
    (void)state;
    static const double period[] = {0.5, 1.0, 2.0, 5.0};
    for (int k = 0; k < 12; k++) {
        struct engine_case c;
        case_begin(&c, 1, 30 + (uint64_t)k);
        c.period_s = period[k % 4];
        c.noise_k = k < 4 ? 1.0 : 0.1;
        c.step_k = k < 8 ? 0.01 : 1.0;
        case_cruise(&c);
        quiet(&c);
    }
}

static void time_that_stands_or_goes_back__is_ignored(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 50);
    case_cruise(&c);
    int64_t now = (int64_t)llround(c.now_s * 1e9);
    for (int k = 0; k < 50; k++) {
        cooling_reading(c.cooling, now - k * INT64_C(3600000000000), 0, COOLING_EXHAUST, true,
                        90.0);
        cooling_reading(c.cooling, now - 1, 0, COOLING_EXHAUST, true, 90.0);
    }
    assert_true(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->level < 2);
    case_run(&c, 300.0);
    quiet(&c);
}

static void hole_in_the_record__and_another_speed_after_it__says_nothing(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 51);
    case_cruise(&c);
    c.engine[0].wall_c = c.engine[0].shown_c = 47.0;
    c.now_s += 3600.0;
    cooling_gap(c.cooling, (int64_t)llround(c.now_s * 1e9));
    case_speed(&c, 2900.0);
    case_run(&c, 600.0);
    quiet(&c);
}

static void no_engine_speed__healthy_trip__says_nothing_and_says_careful(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 52);
    c.has_rpm = false;
    case_cruise(&c);
    assert_true(cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->careful);
    quiet(&c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(warm_up_from_cold__and_throttle_up__says_nothing),
        cmocka_unit_test(harbour__orders_every_25_to_120_s__says_nothing),
        cmocka_unit_test(stop__heat_soak_and_warm_restart__says_nothing),
        cmocka_unit_test(sea_5_k_warmer_within_2_min__says_nothing),
        cmocka_unit_test(air_drawn_in_for_2_to_5_s__in_turns__says_nothing),
        cmocka_unit_test(second_engine_started_minutes_later__says_nothing),
        cmocka_unit_test(bad_data__on_a_healthy_engine__never_alarms_as_heat),
        cmocka_unit_test(coarse_noisy_slow_sensors__on_a_healthy_engine__say_nothing),
        cmocka_unit_test(time_that_stands_or_goes_back__is_ignored),
        cmocka_unit_test(hole_in_the_record__and_another_speed_after_it__says_nothing),
        cmocka_unit_test(no_engine_speed__healthy_trip__says_nothing_and_says_careful),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
