/* Channels: appearing, status, calibration, span, wet or dry, nominal voltage, memory. */
#include "plant/plant.h"

#include "hand.h"

#include <malloc.h>
#include <unistd.h>

static void channel__first_message__appears_with_everything_known(void **state)
{
    (void)state;
    hand_start(&h);
    /* 2000 rpm, 150 kPa: decoded so by @canboat/canboatjs 3.20.0 */
    const uint8_t d[8] = {0x00, 0x40, 0x1F, 0xDC, 0x05, 0x00, 0xFF, 0xFF};
    hand_send(&h, 5, 127488, d, 8);
    struct channel *c = hand_find(&h, "rpm.0");
    assert_near(c->value, 2000, 0.01);
    assert_near(hand_find(&h, "boost.0")->value, 150, 0.01);
    assert_int_equal(c->unit, UNIT_RPM);
    assert_int_equal(c->source, 5);
    assert_int_equal(c->pgn, 127488);
    assert_int_equal(c->status, READING_OK);
    assert_int_equal(c->order, 0);
    assert_string_equal(c->label, "speed");
    assert_int_equal(h.appeared, 2);
    assert_int_equal(h.readings, 2);
    assert_ptr_equal(plant_channel(h.plant, 0), c);
}

static void channel__fields_never_filled__make_no_channel(void **state)
{
    (void)state;
    hand_start(&h);
    hand_engine_data(&h, 5, 0, 300, 80);
    assert_int_equal(plant_count(h.plant), 2);
    hand_engine_data(&h, 5, 0, -1, 80);
    assert_int_equal(hand_find(&h, "oil-pressure.0")->status, READING_NOT_AVAILABLE);
    assert_near(hand_find(&h, "oil-pressure.0")->value, 300, 0.01); /* the last good one */
    assert_int_equal(h.readings, 4);
}

static void channel__configured_or_alone_in_its_message__appears_even_without_value(void **state)
{
    (void)state;
    hand_channel(&h, QTY_OIL_PRESSURE, 0);
    hand_start(&h);
    hand_engine_data(&h, 5, 0, -1, -300);
    assert_int_equal(plant_count(h.plant), 1);
    assert_int_equal(hand_find(&h, "oil-pressure.0")->status, READING_NOT_AVAILABLE);
    assert_int_equal(hand_find(&h, "oil-pressure.0")->readings, 0);
    hand_exhaust(&h, 30, 0, -300);
    assert_int_equal(hand_find(&h, "exhaust.0")->status, READING_NOT_AVAILABLE);
    /* 127505: fuel, no level; 130316: instance 2, sea water, no temperature */
    hand_send(&h, 40, 127505, (const uint8_t[]){5, 0xFF, 0x7F, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, 8);
    assert_int_equal(hand_find(&h, "fuel-tank.5")->status, READING_NOT_AVAILABLE);
    hand_send(&h, 41, 130316, (const uint8_t[]){0, 2, 0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, 8);
    assert_int_equal(hand_find(&h, "sea.2")->status, READING_NOT_AVAILABLE);
    hand_volts(&h, 42, 0, 655.35); /* 127508 */
    assert_int_equal(plant_count(h.plant), 4);
}

static void channel__stops__stale_after_three_periods(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 10; i++) {
        hand_exhaust(&h, 30, 0, 40);
        hand_tick(&h, 2000);
    }
    struct channel *c = hand_find(&h, "exhaust.0");
    hand_tick(&h, 3900); /* 5.9 s since the last one */
    assert_int_equal(c->status, READING_OK);
    hand_tick(&h, 250);
    assert_int_equal(c->status, READING_STALE);
    hand_exhaust(&h, 30, 0, 41);
    assert_int_equal(c->status, READING_OK);
    assert_string_equal(h.log, "ok:exhaust.0 stale:exhaust.0 ok:exhaust.0 ");
}

/* Whatever of a box falls silent at one time is one gap. */
static void box__falls_silent__is_one_gap_each_time(void **state)
{
    (void)state;
    hand_start(&h);
    for (int gap = 0; gap < 3; gap++) {
        for (int i = 0; i < 10; i++) {
            hand_exhaust(&h, 30, 0, 40);
            hand_exhaust(&h, 30, 1, 42);
            hand_tick(&h, 2000);
        }
        assert_int_equal(plant_source(h.plant, 0, 30)->gaps, gap);
        for (int i = 0; i < 10; i++)
            hand_tick(&h, 1000);
        assert_int_equal(plant_source(h.plant, 0, 30)->gaps, gap + 1);
    }
    assert_int_equal(plant_source(h.plant, 0, 31)->gaps, 0);
}

static void channel__sent_on_change_only__is_never_stale(void **state)
{
    (void)state;
    hand_start(&h);
    /* 127501, bank 2: indicator 1 on, 2 off, others not available. Whether it repeats is for the
     * catalogue to say; this holds for what it calls sent on change. */
    const uint8_t d[8] = {2, 0xF1, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    for (int i = 0; i < 4; i++) {
        hand_send(&h, 50, 127501, d, 8);
        hand_tick(&h, 1000);
    }
    struct channel *c = hand_find(&h, "switch.2.1");
    assert_near(c->value, 1, 0);
    assert_near(hand_find(&h, "switch.2.2")->value, 0, 0);
    for (int i = 0; i < 100; i++)
        hand_tick(&h, 1000);
    assert_int_equal(c->status, c->repeats ? READING_STALE : READING_OK);
}

static void channel__same_moment_twice__both_count(void **state)
{
    (void)state;
    hand_start(&h);
    hand_exhaust(&h, 30, 0, 40);
    hand_exhaust(&h, 30, 0, 42);
    struct channel *c = hand_find(&h, "exhaust.0");
    assert_int_equal(c->readings, 2);
    struct history_bucket b;
    int64_t now = hand_stamp(&h).mono_ns;
    assert_true(history_span(c->history, now, now + 1, &b));
    assert_int_equal(b.count, 2);
    assert_near(b.mean, 41, 0.01);
    hand_tick(&h, 0);
    assert_int_equal(c->status, READING_OK);
}

static void channel__calibrated__offset_and_gain(void **state)
{
    (void)state;
    struct channel_setting *s = hand_channel(&h, QTY_EXHAUST, 0);
    s->gain = 1.1;
    s->offset = -2;
    text_copy(s->label, sizeof s->label, "elbow");
    hand_start(&h);
    hand_exhaust(&h, 30, 0, 40);
    hand_exhaust(&h, 30, 1, 40);
    hand_exhaust(&h, 31, 0, 40);
    assert_near(hand_find(&h, "exhaust.0")->value, 42, 0.01);
    assert_string_equal(hand_find(&h, "exhaust.0")->label, "elbow");
    assert_near(hand_find(&h, "exhaust.1")->value, 40, 0.01);
    assert_near(hand_find(&h, "exhaust.0@31")->value, 40, 0.01); /* another sensor */
}

static void channel__beyond_its_span__counted_and_delivered(void **state)
{
    (void)state;
    struct channel_setting *s = hand_channel(&h, QTY_ENGINE_SPACE, 0);
    s->has_span = true;
    s->span_low = 0;
    s->span_high = 80;
    hand_start(&h);
    hand_temp_on(&h, 0, 30, 0, 3, 40);
    hand_temp_on(&h, 0, 30, 0, 3, 90);
    struct channel *c = hand_find(&h, "engine-space.0");
    assert_int_equal(c->wild, 1);
    assert_int_equal(c->status, READING_OK);
    assert_near(c->value, 90, 0.01);
    assert_int_equal(h.readings, 2);
    double low, high;
    assert_true(history_extremes(c->history, &low, &high));
    assert_near(high, 90, 0.01);
    hand_temp_on(&h, 0, 30, 0, 3, 350); /* no engine space: kept out of the graph */
    assert_int_equal(c->wild, 2);
    assert_near(c->value, 350, 0.01);
    assert_true(history_extremes(c->history, &low, &high));
    assert_near(high, 90, 0.01);
}

static void channel__dry_exhaust__is_exhaust_gas(void **state)
{
    (void)state;
    hand_channel(&h, QTY_EXHAUST, 1)->dry = true;
    hand_start(&h);
    hand_exhaust(&h, 30, 0, 45);
    hand_exhaust(&h, 30, 1, 350);
    assert_near(hand_find(&h, "exhaust-gas.1")->value, 350, 0.01);
    assert_int_equal(hand_find(&h, "exhaust-gas.1")->engine, 1);
    assert_null(plant_find_key(h.plant, "exhaust.1"));
    assert_near(hand_find(&h, "exhaust.0")->value, 45, 0.01);
}

static void reconfigure__said_to_be_dry__keeps_its_history_under_the_new_key(void **state)
{
    (void)state;
    hand_start(&h);
    hand_exhaust(&h, 30, 0, 310);
    struct channel *c = hand_find(&h, "exhaust.0");
    struct settings settings = h.settings;
    struct channel_setting dry = {.id = {QTY_EXHAUST, 0, 0}, .gain = 1, .dry = true};
    settings.channels = &dry;
    settings.channel_count = 1;
    plant_reconfigure(h.plant, &settings);
    assert_string_equal(c->key, "exhaust-gas.0");
    hand_exhaust(&h, 30, 0, 320);
    assert_int_equal(plant_count(h.plant), 1);
    assert_int_equal(c->readings, 2);
    plant_reconfigure(h.plant, &h.settings);
    assert_string_equal(c->key, "exhaust.0");
    hand_exhaust(&h, 30, 0, 330);
    assert_int_equal(c->readings, 3);
}

/* J1939 65270 tells of dry gas by a name of its own: a wet sensor that is said to be dry then keeps
 * its key. */
static void reconfigure__said_to_be_dry_beside_one_that_is__keeps_its_key(void **state)
{
    (void)state;
    hand_start(&h);
    unsigned gas = (320 + 273) * 32; /* bytes 6 and 7, 1/32 degree */
    hand_exhaust(&h, 30, 0, 45);
    hand_send(&h, 0, 65270, (const uint8_t[]){255, 255, 255, 255, 255, LOW(gas), HIGH(gas), 255},
              8);
    hand_send(&h, 1, 65270, (const uint8_t[]){255, 255, 255, 255, 255, LOW(gas), HIGH(gas), 255},
              8);
    struct channel *wet = hand_find(&h, "exhaust.0"), *dry = hand_find(&h, "exhaust-gas.0");
    struct channel_setting said = {.id = {QTY_EXHAUST, 0, 0}, .gain = 1, .dry = true};
    struct settings settings = h.settings;
    settings.channels = &said;
    settings.channel_count = 1;
    plant_reconfigure(h.plant, &settings);
    assert_string_equal(wet->key, "exhaust.0");
    assert_ptr_equal(hand_find(&h, "exhaust-gas.0"), dry);
    hand_send(&h, 0, 65270, (const uint8_t[]){255, 255, 255, 255, 255, LOW(gas), HIGH(gas), 255},
              8);
    assert_int_equal(dry->readings, 2);
    assert_non_null(plant_find_key(h.plant, "exhaust-gas.1")); /* of which nothing was said */
}

/* A key that is filled from another one since a new configuration, and no longer after the next. */
static void reconfigure__from_another_key__follows(void **state)
{
    (void)state;
    hand_start(&h);
    hand_tank(&h, 40, 1, 50, 400);
    struct channel_setting from = {
        .id = {QTY_FUEL_TANK, 2, 0}, .gain = 1, .from = {QTY_FUEL_TANK, 1, 0}};
    struct settings settings = h.settings;
    settings.channels = &from;
    settings.channel_count = 1;
    plant_reconfigure(h.plant, &settings);
    hand_tank(&h, 40, 1, 60, 400);
    assert_near(hand_find(&h, "fuel-tank.1")->value, 60, 0.01);
    assert_near(hand_find(&h, "fuel-tank.2")->value, 60, 0.01);
    assert_near(hand_find(&h, "fuel-tank.1")->capacity_l, 400, 0.1);
    assert_near(hand_find(&h, "fuel-tank.2")->capacity_l, 0, 0); /* that is of the other tank */
    plant_reconfigure(h.plant, &h.settings);
    hand_tank(&h, 40, 1, 70, 400);
    assert_near(hand_find(&h, "fuel-tank.1")->value, 70, 0.01);
    assert_near(hand_find(&h, "fuel-tank.2")->value, 60, 0.01);
}

/* One tank needs no number; two have theirs, whichever came first, and so has a third. A tank of
 * another kind is none of them. */
static void place__numbers__once_there_are_two(void **state)
{
    (void)state;
    hand_start(&h);
    hand_tank(&h, 40, 3, 50, 400);
    hand_volts(&h, 41, 0, 12.6);
    hand_tick(&h, 1000);
    assert_string_equal(plant_place(h.plant, hand_find(&h, "fuel-tank.3")), "");
    hand_tank(&h, 40, 1, 50, 400);
    hand_tick(&h, 1000);
    assert_string_equal(plant_place(h.plant, hand_find(&h, "fuel-tank.3")), "3");
    assert_string_equal(plant_place(h.plant, hand_find(&h, "fuel-tank.1")), "1");
    hand_tank(&h, 40, 7, 50, 400);
    hand_tick(&h, 1000);
    assert_string_equal(plant_place(h.plant, hand_find(&h, "fuel-tank.7")), "7");
    assert_string_equal(plant_place(h.plant, hand_find(&h, "battery-volts.0")), "");
}

static void tank__capacity__from_the_bus_or_configured(void **state)
{
    (void)state;
    hand_channel(&h, QTY_FUEL_TANK, 1)->capacity_l = 612;
    hand_start(&h);
    hand_tank(&h, 40, 0, 50, 400);
    hand_tank(&h, 40, 1, 25, 400);
    assert_near(hand_find(&h, "fuel-tank.0")->capacity_l, 400, 0.1);
    assert_near(hand_find(&h, "fuel-tank.1")->capacity_l, 612, 0.1);
    assert_near(hand_find(&h, "fuel-tank.1")->value, 25, 0.01);
    assert_string_equal(plant_place(h.plant, hand_find(&h, "fuel-tank.1")), "1");
    assert_int_equal(hand_find(&h, "fuel-tank.1")->engine, -1);
}

static void volts__nominal__found_from_readings(void **state)
{
    (void)state;
    hand_start(&h);
    const struct {
        double volts;
        int nominal;
    } cases[] = {{12.6, 12}, {14.4, 12}, {25.2, 24}, {28.8, 24},
                 {37.5, 36}, {50.4, 48}, {57.6, 48}};
    for (int i = 0; i < 10; i++) {
        for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++)
            hand_volts(&h, 60, (uint8_t)k, cases[k].volts);
        if (i == 5)
            assert_int_equal(hand_find(&h, "battery-volts.0")->nominal_volts, 0);
        hand_tick(&h, 1500);
    }
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct channel_id id = {QTY_BATTERY_VOLTS, (uint8_t)k, 0};
        assert_int_equal(plant_find(h.plant, id)->nominal_volts, cases[k].nominal);
    }
}

static void volts__faults_later__do_not_change_the_system(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 200; i++) {
        hand_volts(&h, 60, 0, i < 20 ? 25 : 15);   /* a dying 24 V battery */
        hand_volts(&h, 60, 1, i < 20 ? 13 : 18.5); /* a runaway charger */
        hand_volts(&h, 60, 2, i < 20 ? 16.5 : 26); /* was flat, is charged */
        hand_tick(&h, 1500);
    }
    assert_int_equal(hand_find(&h, "battery-volts.0")->nominal_volts, 24);
    assert_int_equal(hand_find(&h, "battery-volts.1")->nominal_volts, 12);
    assert_int_equal(hand_find(&h, "battery-volts.2")->nominal_volts, 24);
}

/* Said in the configuration of one channel, or by the bus (127513: type in the low half of the
 * second byte, 1 gel, 2 AGM; volts in the low half of the third, 1 for 12, 2 for 24), it is so of
 * all the battery's channels and of no other battery's; the configuration stands before the bus. */
static void chemistry__of_one_channel__is_the_batterys(void **state)
{
    (void)state;
    static const uint8_t gel[8] = {0, 0xC1, 0x02, 0x6E, 0, 0xFF, 0x7D, 0x5F};
    static const uint8_t agm[8] = {1, 0xC2, 0x02, 0x6E, 0, 0xFF, 0x7D, 0x5F};
    struct channel_setting *s = hand_channel(&h, QTY_BATTERY_CAPACITY, 1);
    s->chemistry = BATTERY_LITHIUM;
    s->nominal_volts = 12;
    hand_start(&h);
    for (uint8_t b = 0; b < 3; b++)
        hand_volts(&h, 60, b, 25);
    assert_int_equal(hand_find(&h, "battery-volts.0")->chemistry, BATTERY_UNKNOWN);
    assert_int_equal(hand_find(&h, "battery-volts.1")->chemistry, BATTERY_LITHIUM);
    assert_int_equal(hand_find(&h, "battery-volts.2")->chemistry, BATTERY_UNKNOWN);
    hand_send(&h, 60, 127513, gel, 8);
    hand_send(&h, 60, 127513, agm, 8);
    assert_int_equal(hand_find(&h, "battery-volts.0")->chemistry, BATTERY_GEL);
    assert_int_equal(hand_find(&h, "battery-volts.0")->nominal_volts, 24);
    assert_int_equal(hand_find(&h, "battery-volts.1")->chemistry, BATTERY_LITHIUM);
    assert_int_equal(hand_find(&h, "battery-capacity.1")->nominal_volts, 12);
    assert_int_equal(hand_find(&h, "battery-volts.2")->chemistry, BATTERY_UNKNOWN);
    static const uint8_t untold[8] = {2, 0xC1, 0xF2, 0x6E, 0, 0xFF, 0x7D, 0x5F}; /* lead or not */
    hand_send(&h, 60, 127513, untold, 8);
    assert_int_equal(hand_find(&h, "battery-volts.2")->chemistry, BATTERY_GEL);
    hand_exhaust(&h, 5, 0, 40); /* of the same number, and no battery */
    assert_int_equal(hand_find(&h, "exhaust.0")->chemistry, BATTERY_UNKNOWN);
    assert_int_equal(hand_find(&h, "exhaust.0")->nominal_volts, 0);
}

/* Bytes of memory that this process really takes. */
static size_t resident(void)
{
    size_t all, pages = 0;
    FILE *f = fopen("/proc/self/statm", "r");
    assert_non_null(f);
    assert_int_equal(fscanf(f, "%zu %zu", &all, &pages), 2);
    fclose(f);
    return pages * (size_t)sysconf(_SC_PAGESIZE);
}

static void memory__two_hundred_channels__well_under_12_mib(void **state)
{
    (void)state;
    size_t before = resident();
    hand_start(&h);
    size_t heap = mallinfo2().uordblks + mallinfo2().hblkhd;
    for (int n = 0; n < 40 * 60; n++) { /* histories are full after 36 h */
        for (int i = 0; i < 200; i++)
            hand_temp_on(&h, 0, 30, (uint8_t)i, 4, 20 + n % 7);
        hand_tick(&h, 60000);
    }
    assert_int_equal(plant_count(h.plant), 200);
    assert_true(resident() - before < (size_t)12 * 1024 * 1024);
    assert_int_equal(mallinfo2().uordblks + mallinfo2().hblkhd, heap); /* nothing was allocated */
}

static void plant__random_messages__stay_within_bounds(void **state)
{
    (void)state;
    static const uint32_t pgns[] = {127488, 127489, 127493, 127497, 127501, 127505, 127506, 127508,
                                    128259, 129026, 130310, 130311, 130312, 130313, 130314, 130316,
                                    60928,  61443,  61444,  65253,  65262,  65263,  65270,  65276};
    hand_start(&h);
    uint32_t x = 12345;
    for (int i = 0; i < 60000; i++) {
        uint8_t d[32];
        for (size_t k = 0; k < sizeof d; k++) {
            x = x * 1664525 + 1013904223;
            d[k] = (uint8_t)(x >> 24);
        }
        uint32_t pgn = pgns[(x >> 8) % (sizeof pgns / sizeof pgns[0])];
        hand_send_on(&h, d[31] & 3, d[30], pgn, d, (uint16_t)(d[29] % 29));
        if (d[28] < 40)
            hand_tick(&h, d[27]);
        if (d[28] == 40)
            plant_gap(h.plant, hand_stamp(&h));
    }
    assert_true(plant_count(h.plant) <= PLANT_CHANNELS);
    for (size_t i = 0; i < plant_count(h.plant); i++) {
        struct channel *c = plant_channel(h.plant, i);
        assert_true(isfinite(c->value));
        assert_int_not_equal(c->status, READING_NEVER);
        assert_int_equal(c->order, i);
        if (!c->second)
            assert_ptr_equal(plant_find(h.plant, c->id), c);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define T(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
        T(channel__first_message__appears_with_everything_known),
        T(channel__fields_never_filled__make_no_channel),
        T(channel__configured_or_alone_in_its_message__appears_even_without_value),
        T(channel__stops__stale_after_three_periods),
        T(box__falls_silent__is_one_gap_each_time),
        T(channel__sent_on_change_only__is_never_stale),
        T(channel__same_moment_twice__both_count),
        T(channel__calibrated__offset_and_gain),
        T(channel__beyond_its_span__counted_and_delivered),
        T(channel__dry_exhaust__is_exhaust_gas),
        T(reconfigure__from_another_key__follows),
        T(reconfigure__said_to_be_dry_beside_one_that_is__keeps_its_key),
        T(reconfigure__said_to_be_dry__keeps_its_history_under_the_new_key),
        T(place__numbers__once_there_are_two),
        T(tank__capacity__from_the_bus_or_configured),
        T(volts__nominal__found_from_readings),
        T(chemistry__of_one_channel__is_the_batterys),
        T(volts__faults_later__do_not_change_the_system),
        T(plant__random_messages__stay_within_bounds),
        T(memory__two_hundred_channels__well_under_12_mib),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
