/* Fuel arithmetic and the cooling of an engine space, against published problems and made-up
 * trips with a known truth. */
#include "plant/fuel.h"
#include "plant/vent.h"

#include "support/check.h"

#include "base/when.h"

#define UNKNOWN ((double)NAN)

static void range__usable_over_burn_times_speed(void **state)
{
    (void)state;
    assert_near(fuel_hours(400, 50), 8, 1e-12);
    assert_near(fuel_range_nmi(400, 50, 17.5), 140, 1e-12);
    assert_true(isnan(fuel_hours(400, 0)));
    assert_true(isnan(fuel_range_nmi(UNKNOWN, 50, 10)));
}

static struct fuel_meter meter(double lph, double temp_c)
{
    return (struct fuel_meter){
        .lph = lph, .accuracy_percent = 1, .span_low = 20, .span_high = 1500, .temp_c = temp_c};
}

static void meters__two_large_flows__the_error_dwarfs_idle(void **state)
{
    (void)state;
    struct fuel_meter feed = meter(103, 20), back = meter(100, 20);
    struct fuel_flow net = fuel_net(&feed, &back, 0.00083);
    assert_near(net.lph, 3, 1e-9);
    assert_near(net.error_lph, sqrt(1.03 * 1.03 + 1.00 * 1.00), 1e-9); /* 1.44: half the burn */
    assert_false(net.beyond_span);
    feed = meter(160, 20);
    net = fuel_net(&feed, &back, 0.00083);
    assert_true(net.error_lph / net.lph < 0.035); /* at 60 L/h it is small */
}

static void meters__warm_return__takes_more_room(void **state)
{
    (void)state;
    /* 100 L at 20 degrees fed, 90 of them come back 30 K warmer as 92.241 L. */
    struct fuel_meter feed = meter(100, 20), back = meter(90 / (1 - 0.00083 * 30), 50);
    struct fuel_flow net = fuel_net(&feed, &back, 0.00083);
    assert_near(net.lph, 10, 1e-9);
    struct fuel_meter cold = meter(90, UNKNOWN);
    struct fuel_flow unsure = fuel_net(&feed, &cold, 0.00083);
    assert_true(unsure.error_lph > net.error_lph);
}

static void meters__outside_their_span__is_said(void **state)
{
    (void)state;
    static const struct {
        double feed, back;
        bool beyond;
    } rows[] = {{22, 15, true},      {22, 20, false},      {22, 19.9, true},    {19.9, 20, true},
                {1500, 1500, false}, {1500.1, 1500, true}, {1500, 1500.1, true}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct fuel_meter feed = meter(rows[i].feed, 20), back = meter(rows[i].back, 20);
        assert_int_equal(fuel_net(&feed, &back, 0).beyond_span, rows[i].beyond);
    }
}

/* One temperature unknown: 20 K of expansion, 0.00083 a kelvin, of the return's 90 L/h are 1.494
 * L/h; with 1 % of each meter, 1.03 and 0.9 L/h, the root of the sum of their squares. */
static void meters__temperature_unknown__twenty_kelvins_of_doubt(void **state)
{
    (void)state;
    for (int which = 0; which < 2; which++) {
        struct fuel_meter feed = meter(103, which ? UNKNOWN : 20),
                          back = meter(90, which ? 20 : UNKNOWN);
        struct fuel_flow net = fuel_net(&feed, &back, 0.00083);
        assert_near(net.lph, 13, 1e-9);
        assert_near(net.error_lph, sqrt(1.03 * 1.03 + 0.9 * 0.9 + 1.494 * 1.494), 1e-9);
    }
}

static void trip__rate__integrated(void **state)
{
    (void)state;
    struct fuel_trip t = {0};
    for (int i = 0; i <= 3600; i++)
        fuel_trip_rate(&t, i * NS_PER_S, 40 + 20.0 * i / 3600); /* 40 to 60 L/h in an hour */
    assert_near(t.burnt_l, 50, 1e-6);
    assert_near(t.counted_s, 3600, 1e-9);
    fuel_trip_rate(&t, 3600 * NS_PER_S, 60); /* the same moment */
    assert_near(t.burnt_l, 50, 1e-6);
    fuel_trip_rate(&t, 3700 * NS_PER_S, 60); /* 100 s of nothing: not guessed */
    assert_near(t.burnt_l, 50, 1e-6);
    fuel_trip_pause(&t);
    fuel_trip_rate(&t, 3701 * NS_PER_S, 60);
    assert_near(t.burnt_l, 50, 1e-6);
}

/* A meter that reads 4 % high beside a counter in whole litres that is right: found within the
 * error that is stated, and the error is small enough to be of use. */
static void trip__meter_reads_4_percent_high__counter_finds_it(void **state)
{
    (void)state;
    struct fuel_trip t = {0};
    for (int i = 0; i < 2 * 3600; i++) {
        double true_lph = i < 3600 ? 30 : 50;
        double true_l = i < 3600 ? i * 30.0 / 3600 : 30 + (i - 3600) * 50.0 / 3600;
        fuel_trip_rate(&t, i * NS_PER_S, 1.04 * true_lph);
        if (i % 2 == 0)
            fuel_trip_counter(&t, floor(117.3 + true_l));
    }
    struct fuel_check c = fuel_check_counter(&t);
    assert_true(c.known);
    assert_true(c.off);
    assert_near(c.factor, 1 / 1.04, c.error);
    assert_true(c.error < 0.002);
}

static void trip__good_meter__is_not_blamed(void **state)
{
    (void)state;
    struct fuel_trip t = {0};
    for (int i = 0; i < 3600; i++) {
        fuel_trip_rate(&t, i * NS_PER_S, 40);
        if (i % 5 == 0)
            fuel_trip_counter(&t, floor(i * 40.0 / 3600));
    }
    struct fuel_check c = fuel_check_counter(&t);
    assert_true(c.known);
    assert_false(c.off);
}

/* The box is away for 90 s in an hour, the rate before the counter or after it as it returns: what
 * the counter went on meanwhile is no fault of the meter. */
static void trip__box_away_under_way__meter_is_not_blamed(void **state)
{
    (void)state;
    for (int counter_first = 0; counter_first < 2; counter_first++) {
        struct fuel_trip t = {0};
        for (int i = 0; i < 3600; i++) {
            if (i == 1003)
                fuel_trip_pause(&t);
            if (i >= 1000 && i < 1090)
                continue;
            if (counter_first)
                fuel_trip_counter(&t, floor(i * 40.0 / 3600));
            fuel_trip_rate(&t, i * NS_PER_S, 40);
            if (!counter_first)
                fuel_trip_counter(&t, floor(i * 40.0 / 3600));
        }
        struct fuel_check c = fuel_check_counter(&t);
        assert_true(c.known);
        assert_false(c.off);
        assert_near(c.reference_l, 11 - 1 + 39 - 13, 0.1); /* from step 1 to 11, and 13 to 39 */
    }
}

/* 10 s between two rates are bridged, more are not; after a pause nothing is. */
static void trip__rate_again__bridged_up_to_ten_seconds(void **state)
{
    (void)state;
    struct fuel_trip t = {0};
    fuel_trip_rate(&t, 0, 36);
    assert_near(t.burnt_l, 0, 0);
    fuel_trip_rate(&t, 10 * NS_PER_S, 36); /* 36 L/h are 0.01 L/s */
    assert_near(t.burnt_l, 0.1, 1e-9);
    assert_near(t.counted_s, 10, 1e-9);
    fuel_trip_rate(&t, 20 * NS_PER_S + 1, 36);
    assert_near(t.burnt_l, 0.1, 1e-9);
    fuel_trip_rate(&t, 21 * NS_PER_S + 1, 72); /* the mean of both ends */
    assert_near(t.burnt_l, 0.115, 1e-9);
    assert_near(t.counted_s, 11, 1e-9);
    fuel_trip_pause(&t);
    fuel_trip_rate(&t, 22 * NS_PER_S, 72);
    assert_near(t.burnt_l, 0.115, 1e-9);
    fuel_trip_missing(&t, 1.5);
    fuel_trip_missing(&t, 2);
    assert_near(t.missing_s, 3.5, 1e-9);
}

/* The box away at idle, when an engine burns less than a litre an hour: what the counter went on
 * meanwhile belongs to no rate, however little it is. An engine that stood meanwhile burnt nothing,
 * and its counter's next litre belongs to both. */
static void trip__box_away_at_idle__what_was_burnt_meanwhile_is_not_compared(void **state)
{
    (void)state;
    static const struct {
        double before, after;
        bool broken;
    } rows[] = {{0.8, 0.8, true}, {0, 0.8, false}, {0.8, 0, false}, {0, 0, false}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct fuel_trip t = {0};
        for (int s = 0; s <= 3600; s += 5)
            fuel_trip_rate(&t, s * NS_PER_S, s < 3600 ? 8 : rows[i].before);
        fuel_trip_counter(&t, 100);
        fuel_trip_counter(&t, 101);
        fuel_trip_rate(&t, 9000 * NS_PER_S, rows[i].after);
        assert_int_equal(t.has_counter, !rows[i].broken);
        assert_int_equal(t.has_step, !rows[i].broken);
    }
}

static void trip__counter_reset_under_way__both_parts_count(void **state)
{
    (void)state;
    struct fuel_trip t = {0};
    for (int i = 0; i < 2 * 3600; i++) {
        fuel_trip_rate(&t, i * NS_PER_S, 40 * 1.04);
        fuel_trip_counter(&t, floor((i % 3600) * 40.0 / 3600));
    }
    struct fuel_check c = fuel_check_counter(&t);
    assert_true(c.known);
    assert_near(c.reference_l, 76, 0.1); /* 1 to 39 L, twice: 38 each */
    assert_near(c.factor, 1 / 1.04, c.error + 1e-9);
    /* each part is known as its first and last step are: a second's burn each */
    assert_near(c.error * c.metered_l, 4 * 1.04 * 40 / 3600, 1e-6);
    fuel_trip_counter(&t, 0); /* once more, with nothing after it */
    struct fuel_check again = fuel_check_counter(&t);
    assert_near(again.reference_l, c.reference_l, 1e-9);
    assert_near(again.metered_l, c.metered_l, 1e-9);
    assert_near(again.error, c.error, 1e-12);
}

static void trip__counter_that_never_steps__says_nothing(void **state)
{
    (void)state;
    struct fuel_trip t = {0};
    for (int i = 0; i < 60; i++) {
        fuel_trip_rate(&t, i * NS_PER_S, 40);
        fuel_trip_counter(&t, 7);
    }
    assert_false(fuel_check_counter(&t).known);
    for (int i = 0; i < 60; i++) { /* 0.01 L a second: half a litre is enough */
        fuel_trip_rate(&t, (100 + i) * NS_PER_S, 36);
        fuel_trip_counter(&t, 7 + i / 100.0);
    }
    assert_true(fuel_check_counter(&t).known);
    t = (struct fuel_trip){0};
    for (int i = 0; i < 60; i++) { /* nor does one beside a meter that measures nothing */
        fuel_trip_rate(&t, i * NS_PER_S, 0);
        fuel_trip_counter(&t, i);
    }
    assert_false(fuel_check_counter(&t).known);
}

static void space__cools__half_time_with_and_without_blower(void **state)
{
    (void)state;
    struct vent_space v = {0};
    double space = 55, seconds, outside = 20;
    int t = 0;
    for (; t < 200; t++, space += 0.01) /* heat soak: says nothing */
        vent_heard(&v, t * NS_PER_S, space, outside, VENT_OFF, true);
    assert_false(vent_half_s(&v, VENT_OFF, &seconds));
    for (; t < 1400; t++, space -= (space - outside) * log(2) / 2400)
        vent_heard(&v, t * NS_PER_S, space, outside, VENT_OFF, true);
    for (; t < 2600; t++, space -= (space - outside) * log(2) / 600)
        vent_heard(&v, t * NS_PER_S, space, outside, VENT_ON, true);
    assert_true(vent_half_s(&v, VENT_OFF, &seconds));
    assert_near(seconds, 2400, 100); /* one stretch holds the turn from warming to cooling */
    assert_true(vent_half_s(&v, VENT_ON, &seconds));
    assert_near(seconds, 600, 15);
}

static void space__engines_run_or_blower_unknown__says_nothing(void **state)
{
    (void)state;
    struct vent_space v = {0};
    double seconds;
    for (int t = 0; t < 1000; t++) {
        vent_heard(&v, t * NS_PER_S, 60 - 0.02 * t, 20, VENT_ON, false);
        vent_heard(&v, t * NS_PER_S, 60 - 0.02 * t, 20, VENT_UNKNOWN, true);
    }
    assert_false(vent_half_s(&v, VENT_ON, &seconds));
    assert_false(vent_half_s(&v, VENT_UNKNOWN, &seconds));
}

/* A space that loses a hundredth of its rise a second, for so long: three whole minutes tell, from
 * more than 3 K, with the engines stopped and the blower known to be so all the while. ln 2 / 0.01
 * s is the half time. */
static void space__what_must_be_so_for_three_minutes(void **state)
{
    static const struct {
        double from_k;
        int seconds, every_s;
        bool stopped, turns, tells;
    } rows[] = {
        {60, 180, 1, true, false, true},    {60, 179, 1, true, false, false},
        {60, 180, 1, false, false, false},  {60, 180, 1, true, true, false},
        {18.2, 181, 1, true, false, true},  {18.0, 181, 1, true, false, false},
        {150, 360, 120, true, false, true}, {150, 363, 121, true, false, false},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct vent_space v = {0};
        double half_s = 0;
        for (int t = 0; t <= rows[i].seconds; t += rows[i].every_s) {
            bool on = rows[i].turns && t == 90;
            vent_heard(&v, t * NS_PER_S, 20 + rows[i].from_k * exp(-0.01 * t), 20,
                       on ? VENT_ON : VENT_OFF, rows[i].stopped);
        }
        bool told = vent_half_s(&v, VENT_OFF, &half_s);
        if (told != rows[i].tells || vent_half_s(&v, VENT_ON, &half_s))
            fail_msg("row %zu", i);
        if (told)
            assert_near(half_s, log(2) / 0.01, 1e-6);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(range__usable_over_burn_times_speed),
        cmocka_unit_test(meters__two_large_flows__the_error_dwarfs_idle),
        cmocka_unit_test(meters__warm_return__takes_more_room),
        cmocka_unit_test(meters__outside_their_span__is_said),
        cmocka_unit_test(meters__temperature_unknown__twenty_kelvins_of_doubt),
        cmocka_unit_test(trip__rate__integrated),
        cmocka_unit_test(trip__meter_reads_4_percent_high__counter_finds_it),
        cmocka_unit_test(trip__good_meter__is_not_blamed),
        cmocka_unit_test(trip__box_away_under_way__meter_is_not_blamed),
        cmocka_unit_test(trip__rate_again__bridged_up_to_ten_seconds),
        cmocka_unit_test(trip__box_away_at_idle__what_was_burnt_meanwhile_is_not_compared),
        cmocka_unit_test(trip__counter_reset_under_way__both_parts_count),
        cmocka_unit_test(trip__counter_that_never_steps__says_nothing),
        cmocka_unit_test(space__cools__half_time_with_and_without_blower),
        cmocka_unit_test(space__what_must_be_so_for_three_minutes),
        cmocka_unit_test(space__engines_run_or_blower_unknown__says_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
