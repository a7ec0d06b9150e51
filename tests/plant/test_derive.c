/* Channels that no box sends, through the plant, and keys that are filled from others. */
#include "plant/plant.h"

#include "hand.h"

static int setup_fuel(void **state)
{
    (void)setup(state);
    h.settings.fuel = (struct fuel_setting){
        .reserve_percent = 20, .average_ns = 30 * NS_PER_S, .expansion_per_k = 0.00083};
    return 0;
}

/* 127489 with the fuel rate alone; below 0: not available */
static void send_rate(uint8_t source, uint8_t engine, double lph)
{
    unsigned raw = lph < 0 ? 0x7FFF : (unsigned)(lph * 10 + 0.5);
    uint8_t d[26];
    memset(d, 0xFF, sizeof d);
    d[0] = engine;
    d[8] = 0x7F;
    d[9] = LOW(raw);
    d[10] = HIGH(raw);
    d[24] = d[25] = 0x7F;
    hand_send(&h, source, 127489, d, 26);
}

/* 130314: kPa of pressure source 7 */
static void send_pressure(uint8_t source, uint8_t instance, double kpa)
{
    int32_t raw = (int32_t)(kpa * 10000);
    uint8_t d[8] = {0xFF, instance, 7, LOW(raw), HIGH(raw), LOW(raw >> 16), HIGH(raw >> 16), 0xFF};
    hand_send(&h, source, 130314, d, 8);
}

struct boat {
    double rpm, lph[2], mps, percent[2];
};

static void run(int seconds, struct boat b)
{
    for (int i = 0; i < seconds; i++) {
        for (uint8_t e = 0; e < 2; e++) {
            hand_rpm(&h, e, e, b.rpm);
            send_rate(e, e, b.lph[e]);
            hand_tank(&h, 40, e, b.percent[e], 400);
        }
        hand_speed(&h, 10, b.mps);
        hand_tick(&h, 1000);
    }
}

static const struct boat cruising = {2000, {30, 34}, 16 * 1852 / 3600.0, {50, 60}};

static void derived__twins_at_16_knots__burn_economy_range(void **state)
{
    (void)state;
    hand_start(&h);
    run(120, cruising);
    assert_near(hand_find(&h, "burn")->value, 64, 0.01);
    assert_near(hand_find(&h, "burn-per-mile")->value, 4, 0.005);
    assert_near(hand_find(&h, "economy")->value, 0.25, 0.001);
    assert_near(hand_find(&h, "fuel-volume.0")->value, 200, 0.1);
    assert_near(hand_find(&h, "fuel-volume.1")->value, 240, 0.1);
    assert_near(hand_find(&h, "fuel-aboard")->value, 440, 0.1);
    assert_near(hand_find(&h, "fuel-to-reserve")->value, 440 - 0.2 * 800, 0.1);
    assert_near(hand_find(&h, "range")->value, 280 / 4.0, 0.2);
    assert_near(hand_find(&h, "hours-left")->value, 280 / 64.0, 0.02);
    assert_near(hand_find(&h, "trip-burn.1")->value, 34 * 119.0 / 3600, 0.02);
    struct channel *c = hand_find(&h, "range");
    assert_true(c->derived);
    assert_int_equal(c->source, 255);
    assert_false(c->repeats);
    assert_int_equal(c->unit, UNIT_NMI);
    assert_int_equal(h.conflicts, 0);
}

static void derived__one_engine_does_not_say__nothing_is_made_up(void **state)
{
    (void)state;
    hand_start(&h);
    run(60, cruising);
    struct boat b = cruising;
    b.lph[1] = -1;
    run(10, b);
    assert_int_equal(hand_find(&h, "burn")->status, READING_NOT_AVAILABLE);
    assert_int_equal(hand_find(&h, "range")->status, READING_NOT_AVAILABLE);
    assert_int_equal(hand_find(&h, "fuel-aboard")->status, READING_OK);
    run(10, cruising);
    assert_int_equal(hand_find(&h, "burn")->status, READING_OK);
}

static void derived__other_engine_stopped__it_burns_nothing(void **state)
{
    (void)state;
    hand_start(&h);
    run(60, cruising);
    for (int i = 0; i < 60; i++) {
        hand_rpm(&h, 0, 0, 2000);
        send_rate(0, 0, 30);
        hand_rpm(&h, 1, 1, 0);
        send_rate(1, 1, -1);
        hand_tick(&h, 1000);
    }
    assert_near(hand_find(&h, "burn")->value, 30, 0.01);
}

static void derived__moored__no_burn_a_mile(void **state)
{
    (void)state;
    hand_start(&h);
    run(60, cruising);
    struct boat b = cruising;
    b.mps = 0.05;
    run(60, b);
    assert_int_equal(hand_find(&h, "burn-per-mile")->status, READING_NOT_AVAILABLE);
    assert_int_equal(hand_find(&h, "range")->status, READING_NOT_AVAILABLE);
    assert_int_equal(hand_find(&h, "hours-left")->status, READING_OK);
    b.rpm = b.lph[0] = b.lph[1] = 0;
    run(60, b);
    assert_int_equal(hand_find(&h, "hours-left")->status, READING_NOT_AVAILABLE);
    assert_near(hand_find(&h, "burn")->value, 0, 1e-9);
}

static void derived__tank_without_capacity__no_volume(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 10; i++) {
        uint8_t d[8] = {0, LOW(12500), HIGH(12500), 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
        hand_send(&h, 40, 127505, d, 8);
        hand_tank(&h, 40, 1, 50, 400);
        hand_tick(&h, 2500);
    }
    assert_null(plant_find_key(h.plant, "fuel-volume.0"));
    assert_near(hand_find(&h, "fuel-volume.1")->value, 200, 0.1);
    assert_null(plant_find_key(h.plant, "fuel-aboard"));
}

/* A tank below what cannot be drawn gives nothing, and takes nothing from the other. */
static void derived__tank_below_its_unusable_rest__gives_nothing(void **state)
{
    (void)state;
    hand_channel(&h, QTY_FUEL_TANK, 0)->unusable_l = 15;
    h.settings.fuel.reserve_l = 20;
    hand_start(&h);
    hand_tank(&h, 40, 0, 2, 400); /* 8 L of 400 */
    hand_tank(&h, 40, 1, 60, 400);
    hand_tick(&h, 3000);
    assert_near(hand_find(&h, "fuel-to-reserve")->value, 240 - 20, 0.1);
}

static void derived__reserve_and_unusable__from_the_configuration(void **state)
{
    (void)state;
    hand_channel(&h, QTY_FUEL_TANK, 0)->unusable_l = 15;
    h.settings.fuel.reserve_l = 100;
    hand_start(&h);
    run(30, cruising);
    assert_near(hand_find(&h, "fuel-to-reserve")->value, 200 - 15 + 240 - 100, 0.1);
    struct boat b = cruising;
    b.percent[0] = b.percent[1] = 2;
    run(120, b);
    assert_near(hand_find(&h, "fuel-to-reserve")->value, 0, 1e-9);
    assert_near(hand_find(&h, "range")->value, 0, 1e-9);
}

static void derived__slosh__does_not_reach_the_volume(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 200; i++) {
        hand_tank(&h, 40, 0, 50 + 12 * sin(i * 0.9), 400);
        hand_tick(&h, 1000);
    }
    double low, high;
    struct history_bucket b;
    int64_t now = hand_stamp(&h).mono_ns;
    assert_true(history_extremes(hand_find(&h, "fuel-tank.0")->history, &low, &high));
    assert_true(high - low > 20);
    assert_true(
        history_span(hand_find(&h, "fuel-volume.0")->history, now - 100 * NS_PER_S, now, &b));
    /* 48 L of slosh either way leave 12 at most: a swing is the hardest case for a median */
    assert_near(b.low, 200, 12);
    assert_near(b.high, 200, 12);
}

/* Two engines that their boxes call 11 and 12 burn as well as 0 and 1 do; what else has a high
 * number and no speed is a meter. */
static void burn__engines_of_high_numbers__count_under_their_own(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 60; i++) {
        for (uint8_t n = 11; n <= 12; n++) {
            hand_rpm(&h, n, n, 2000);
            send_rate(n, n, n == 11 ? 18 : 36);
        }
        send_rate(50, 20, 100);
        hand_tick(&h, 1000);
    }
    assert_near(hand_find(&h, "burn")->value, 54, 0.01);
    assert_near(hand_find(&h, "trip-burn.11")->value, 18 * 59 / 3600.0, 0.011);
    assert_near(hand_find(&h, "trip-burn.12")->value, 36 * 59 / 3600.0, 0.011);
    assert_null(plant_find_key(h.plant, "trip-burn.20"));
    for (int place = 0; place < PLANT_ENGINES; place++)
        assert_null(plant_find(h.plant, (struct channel_id){QTY_TRIP_BURN, (uint8_t)place, 0}));
}

/* What a mile costs is of the time that the configuration says, or of half a minute: after 15 s at
 * 16 kn, of a burn of 64 L/h before and 96 since. */
static void average__over_the_time_configured_or_half_a_minute(void **state)
{
    (void)state;
    for (int configured = 0; configured < 2; configured++) {
        struct boat b = cruising;

        if (configured)
            hand_end(&h);
        hand_init(&h);
        h.settings.fuel.average_ns = configured ? 10 * NS_PER_S : 0;
        hand_start(&h);
        run(60, b);
        b.lph[0] = 45;
        b.lph[1] = 51;
        run(15, b);
        assert_near(hand_find(&h, "burn-per-mile")->value, configured ? 96 / 16.0 : 80 / 16.0,
                    0.15);
    }
}

static void two_meters__net_burn_with_its_error(void **state)
{
    (void)state;
    struct channel_setting *net = hand_channel(&h, QTY_FUEL_RATE, 0);
    net->feed = (struct channel_id){QTY_FUEL_RATE, 10, 0};
    net->returned = (struct channel_id){QTY_FUEL_RATE, 11, 0};
    for (uint8_t n = 10; n < 12; n++)
        hand_channel(&h, QTY_FUEL_RATE, n)->accuracy_percent = 1;
    hand_start(&h);
    for (int i = 0; i < 20; i++) {
        hand_rpm(&h, 0, 0, 700);
        send_rate(50, 10, 103);
        send_rate(51, 11, 100);
        hand_tick(&h, 1000);
    }
    assert_near(hand_find(&h, "fuel-rate.0")->value, 3, 0.01);
    assert_true(hand_find(&h, "fuel-rate.0")->derived);
    /* two places more than are shown, for what is reckoned from it */
    assert_int_equal(hand_find(&h, "fuel-rate.0")->decimals,
                     quantity_info(QTY_FUEL_RATE)->decimals + 2);
    /* the temperatures are not known: 20 K of expansion of the return on top */
    assert_near(hand_find(&h, "burn-error.0")->value,
                sqrt(1.03 * 1.03 + 1 + 100 * 0.00083 * 20 * 100 * 0.00083 * 20), 0.01);
    assert_near(hand_find(&h, "burn")->value, 3, 0.01);
    assert_near(plant_fuel(h.plant)->engines[0].burnt_l, 3 * 18 / 3600.0, 0.001);
    /* The engine's own idea of its burn is kept apart. */
    send_rate(0, 0, 5);
    assert_int_equal(h.conflicts, 1);
    assert_near(hand_find(&h, "fuel-rate.0@0")->value, 5, 0.01);
    for (int i = 0; i < 20; i++)
        hand_tick(&h, 1000); /* both meters fall silent */
    assert_int_equal(hand_find(&h, "fuel-rate.0")->status, READING_NOT_AVAILABLE);
}

/* The engine's own idea may be the first that was heard of the key: the conflict is told of as soon
 * as the meters are. */
static void two_meters__after_the_engine_s_own_idea__conflict(void **state)
{
    (void)state;
    struct channel_setting *net = hand_channel(&h, QTY_FUEL_RATE, 0);
    net->feed = (struct channel_id){QTY_FUEL_RATE, 10, 0};
    net->returned = (struct channel_id){QTY_FUEL_RATE, 11, 0};
    hand_start(&h);
    send_rate(0, 0, 5);
    hand_tick(&h, 1000);
    assert_int_equal(h.conflicts, 0);
    send_rate(50, 10, 103);
    send_rate(51, 11, 100);
    hand_tick(&h, 1000);
    assert_int_equal(h.conflicts, 1);
    assert_near(hand_find(&h, "fuel-rate.0")->value, 3, 0.01);
    assert_near(hand_find(&h, "fuel-rate.0@0")->value, 5, 0.01);
}

static void account__meter_4_percent_high__found_by_the_counter(void **state)
{
    (void)state;
    hand_start(&h);
    double burnt_l = 0;
    for (int i = 0; i < 3 * 3600; i++) {
        burnt_l += 60.0 / 3600;
        hand_rpm(&h, 0, 0, 2000);
        send_rate(0, 0, 60 * 1.04);
        uint8_t d[9] = {
            0, LOW((unsigned)burnt_l), HIGH((unsigned)burnt_l), 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
        hand_send(&h, 0, 127497, d, 9);
        hand_tick(&h, 1000);
    }
    const struct fuel_account *a = plant_fuel(h.plant);
    struct fuel_check counter = fuel_check_counter(&a->engines[0]);
    assert_true(counter.known && counter.off);
    assert_near(counter.factor, 1 / 1.04, counter.error);
}

static void from__another_channel__fills_the_key_alone(void **state)
{
    (void)state;
    struct channel_setting *tank = hand_channel(&h, QTY_FUEL_TANK, 0);
    tank->from = (struct channel_id){QTY_PRESSURE, 7, 3};
    tank->head_density = 840;
    tank->height_m = 1;
    tank->capacity_l = 600;
    hand_start(&h);
    /* Head of 0.5 m of 840 kg/m3: half of 8.2376 kPa, computed with g 9.80665 */
    send_pressure(60, 3, 8.2376 / 2);
    hand_tank(&h, 40, 0, 99, 400); /* does not count any more */
    assert_near(hand_find(&h, "fuel-tank.0")->value, 50, 0.01);
    assert_near(hand_find(&h, "fuel-tank.0")->capacity_l, 600, 1e-9);
    assert_int_equal(hand_find(&h, "fuel-tank.0")->source, 60);
    assert_int_equal(h.conflicts, 0);
    assert_int_equal(plant_count(h.plant), 2);
}

static void from__switch__is_the_blower(void **state)
{
    (void)state;
    hand_channel(&h, QTY_BLOWER, 0)->from = (struct channel_id){QTY_SWITCH, 2, 1};
    hand_start(&h);
    const uint8_t on[8] = {2, 0xFD, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    const uint8_t off[8] = {2, 0xFC, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    hand_send(&h, 50, 127501, on, 8);
    assert_near(hand_find(&h, "blower.0")->value, 1, 0);
    hand_send(&h, 50, 127501, off, 8);
    assert_near(hand_find(&h, "blower.0")->value, 0, 0);
    assert_near(hand_find(&h, "switch.2.1")->value, 0, 0);
}

static void space__rise_over_outside_air(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 10; i++) {
        hand_temp_on(&h, 0, 30, 0, 3, 41);
        hand_temp_on(&h, 0, 30, 0, 1, 22);
        hand_tick(&h, 1000);
    }
    struct channel *c = hand_find(&h, "space-rise.0");
    assert_near(c->value, 19, 0.02);
    assert_int_equal(c->unit, UNIT_K_DIFF);
    for (int i = 0; i < 20; i++) {
        hand_temp_on(&h, 0, 30, 0, 3, 41);
        hand_tick(&h, 1000);
    }
    assert_int_equal(c->status, READING_NOT_AVAILABLE); /* the air outside is not known */
    assert_null(plant_space(h.plant, PLANT_SPACES));
    assert_non_null(plant_space(h.plant, 0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define T(f) cmocka_unit_test_setup_teardown(f, setup_fuel, teardown)
        T(derived__twins_at_16_knots__burn_economy_range),
        T(derived__one_engine_does_not_say__nothing_is_made_up),
        T(derived__other_engine_stopped__it_burns_nothing),
        T(derived__moored__no_burn_a_mile),
        T(derived__tank_without_capacity__no_volume),
        T(derived__tank_below_its_unusable_rest__gives_nothing),
        T(derived__reserve_and_unusable__from_the_configuration),
        T(derived__slosh__does_not_reach_the_volume),
        T(burn__engines_of_high_numbers__count_under_their_own),
        T(average__over_the_time_configured_or_half_a_minute),
        T(two_meters__net_burn_with_its_error),
        T(two_meters__after_the_engine_s_own_idea__conflict),
        T(account__meter_4_percent_high__found_by_the_counter),
        T(from__another_channel__fills_the_key_alone),
        T(from__switch__is_the_blower),
        T(space__rise_over_outside_air),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
