/* Engines: running or not, speed changes, names; and what is switched off. */
#include "plant/constant.h"
#include "plant/plant.h"

#include "hand.h"

/* Speed every 100 ms, exhaust every 500 ms from another box, for so long. */
static void run_for(int64_t ms, double rpm, bool speed_box, bool exhaust_box)
{
    for (int64_t t = 0; t < ms; t += 100) {
        if (speed_box)
            hand_rpm(&h, 0, 0, rpm);
        if (exhaust_box && h.ms % 500 == 0)
            hand_exhaust(&h, 30, 0, 45);
        hand_tick(&h, 100);
    }
}

static const struct engine *engine(int n)
{
    return plant_engine(h.plant, n);
}

static void engine__starts_and_stops__with_hysteresis(void **state)
{
    (void)state;
    hand_start(&h);
    assert_int_equal(engine(0)->state, ENGINE_UNKNOWN);
    assert_false(engine(0)->exists);
    run_for(500, 0, true, false);
    assert_int_equal(engine(0)->state, ENGINE_STOPPED);
    run_for(500, 220, true, false); /* cranking */
    assert_int_equal(engine(0)->state, ENGINE_STOPPED);
    run_for(500, 700, true, false);
    assert_int_equal(engine(0)->state, ENGINE_RUNNING);
    assert_true(plant_any_running(h.plant));
    run_for(500, 220, true, false);
    assert_int_equal(engine(0)->state, ENGINE_RUNNING);
    run_for(500, 100, true, false);
    assert_int_equal(engine(0)->state, ENGINE_STOPPED);
    assert_int_equal(h.engine_events, 3); /* stopped, running, stopped */
}

static void engine__one_wild_sample__neither_starts_nor_stops_it(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(2000, 0, true, false);
    hand_rpm(&h, 0, 0, 4000);
    hand_tick(&h, 100);
    run_for(1000, 0, true, false);
    run_for(2000, 1800, true, false);
    int64_t since = engine(0)->since_ns;
    run_for(20000, 1800, true, false);
    int64_t changed = engine(0)->speed_changed_ns;
    hand_rpm(&h, 0, 0, 0);
    hand_tick(&h, 100);
    run_for(1000, 1800, true, false);
    assert_int_equal(h.engine_events, 2);
    assert_int_equal(engine(0)->since_ns, since);
    assert_int_equal(engine(0)->speed_changed_ns, changed);
}

static void engine__not_available_for_a_moment__changes_nothing(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(2000, 1800, true, false);
    run_for(3000, -1, true, false);
    assert_int_equal(engine(0)->state, ENGINE_RUNNING);
    assert_near(engine(0)->rpm, 1800, 0.5);
}

static void engine__not_available_for_long__unknown_at_speed_stopped_at_idle(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(2000, 1800, true, false);
    run_for(8000, -1, true, false);
    assert_int_equal(engine(0)->state, ENGINE_UNKNOWN);
    assert_false(hand_find(&h, "rpm.0")->switched_off);
    run_for(9000, 700, true, false);
    run_for(8000, -1, true, false);
    assert_int_equal(engine(0)->state, ENGINE_STOPPED);
    assert_true(hand_find(&h, "rpm.0")->switched_off);
    run_for(500, 700, true, false);
    assert_false(hand_find(&h, "rpm.0")->switched_off);
}

static void engine__speed_change__is_the_last_moment_of_the_step(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(10000, 1500, true, false);
    int64_t before = engine(0)->speed_changed_ns;
    run_for(10000, 1550, true, false); /* 3 % */
    assert_int_equal(engine(0)->speed_changed_ns, before);
    int64_t step_began = hand_stamp(&h).mono_ns;
    for (int rpm = 1550; rpm < 2400; rpm += 85)
        run_for(200, rpm, true, false);
    int64_t step_ended = hand_stamp(&h).mono_ns;
    run_for(20000, 2400, true, false);
    assert_in_range(engine(0)->speed_changed_ns, step_began + NS_PER_S, step_ended + NS_PER_S);
}

static void engine__slow_drift__is_no_speed_change(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(10000, 1500, true, false);
    int64_t before = engine(0)->speed_changed_ns;
    for (int i = 0; i < 300; i++)
        run_for(1000, 1500 + i, true, false); /* 20 % in five minutes */
    assert_int_equal(engine(0)->speed_changed_ns, before);
}

/* Bounds of the states: 300 runs, 299 does not yet, 150 runs on, 149 stands. */
static void engine__runs_from_300_and_stands_below_150(void **state)
{
    static const struct {
        double rpm;
        enum engine_state is;
    } rows[] = {{299, ENGINE_STOPPED}, {300, ENGINE_RUNNING}, {299, ENGINE_RUNNING},
                {150, ENGINE_RUNNING}, {149, ENGINE_STOPPED}, {299, ENGINE_STOPPED}};

    (void)state;
    hand_start(&h);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        run_for(500, rows[i].rpm, true, false);
        assert_int_equal(engine(0)->state, rows[i].is);
    }
}

/* The level lags five seconds behind a drift: 22 rpm a second make 110 of it in the end, less than
 * 5 % of a speed that has grown meanwhile; of 30 a second, 150, they are passed on the way. From
 * 300 rpm down the part is that of 300. */
static void engine__drift__is_a_change_beyond_a_twentieth_of_its_level(void **state)
{
    static const struct {
        double from, a_second;
        bool changed;
    } rows[] = {{2000, 22, false}, {2000, 30, true}, {200, 2.8, false}, {200, -3.4, true}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (i > 0) {
            hand_end(&h);
            hand_init(&h);
        }
        hand_start(&h);
        run_for(10000, rows[i].from, true, false);
        int64_t before = engine(0)->speed_changed_ns;
        for (int t = 0; t < 200; t++) {
            hand_rpm(&h, 0, 0, rows[i].from + rows[i].a_second * t / 10);
            hand_tick(&h, 100);
        }
        assert_int_equal(engine(0)->speed_changed_ns != before, rows[i].changed);
    }
}

/* At one step: 5 % of 2000 are allowed, and of less than 300 what is of 300. */
static void engine__step__is_a_change_beyond_a_twentieth(void **state)
{
    static const struct {
        double from, to;
        bool changed;
    } rows[] = {{2000, 2099, false}, {2000, 2101, true}, {2000, 1901, false}, {2000, 1899, true},
                {200, 214, false},   {200, 216, true},   {0, 14, false},      {0, 16, true}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (i > 0) {
            hand_end(&h);
            hand_init(&h);
        }
        hand_start(&h);
        run_for(10000, rows[i].from, true, false);
        int64_t before = engine(0)->speed_changed_ns;
        run_for(500, rows[i].to, true, false);
        assert_int_equal(engine(0)->speed_changed_ns != before, rows[i].changed);
    }
}

static void engine__names__follow_how_many_there_are(void **state)
{
    (void)state;
    hand_start(&h);
    hand_rpm(&h, 0, 0, 700);
    assert_string_equal(engine(0)->name, "ENGINE");
    assert_int_equal(plant_engine_count(h.plant), 1);
    hand_rpm(&h, 1, 1, 700);
    assert_string_equal(engine(0)->name, "PORT");
    assert_string_equal(engine(1)->name, "STARBOARD");
    hand_exhaust(&h, 30, 1, 40);
    assert_string_equal(plant_place(h.plant, hand_find(&h, "exhaust.1")), "STARBOARD");
    hand_rpm(&h, 2, 2, 700);
    assert_string_equal(engine(0)->name, "ENGINE 1");
    assert_string_equal(engine(2)->name, "ENGINE 3");
    assert_int_equal(plant_engine_count(h.plant), 3);
    assert_string_equal(engine(-1)->name, "");
    assert_false(engine(PLANT_ENGINES)->exists);
}

static void engine__configured__named_from_the_start_and_no_stray_ones(void **state)
{
    (void)state;
    h.settings.engines = 2;
    h.settings.engine[0] = (struct engine_setting){.instance = 1, .name = "RIGHT"};
    h.settings.engine_count = 1;
    hand_start(&h);
    assert_string_equal(engine(0)->name, "PORT");
    assert_string_equal(engine(1)->name, "RIGHT");
    hand_exhaust(&h, 30, 4, 40);
    assert_int_equal(plant_engine_count(h.plant), 2);
    assert_false(engine(4)->exists);
    assert_string_equal(engine(4)->name,
                        "ENGINE 5"); /* no engine of hers, and called by its number */
    hand_rpm(&h, 0, 4, 700);         /* the one of the two that the configuration does not name */
    assert_int_equal(plant_engine_count(h.plant), 2);
    assert_string_equal(engine(1)->name, "RIGHT");
    assert_string_equal(engine(4)->name, "STARBOARD");
    hand_rpm(&h, 0, 0, 700);
    hand_rpm(&h, 0, 1, 700);
    assert_int_equal(plant_engine_count(h.plant), 3);
}

static const struct engine *numbered(int instance)
{
    return engine(plant_engine_slot(h.plant, (uint8_t)instance));
}

static void slots__any_two_numbers__are_port_and_starboard(void **state)
{
    (void)state;
    static const int pairs[][2] = {{0, 1}, {1, 2}, {11, 12}, {252, 0}, {3, 77}, {12, 11}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        int a = pairs[i][0], b = pairs[i][1];
        hand_start(&h);
        hand_rpm(&h, 0, (uint8_t)a, 700);
        assert_string_equal(numbered(a)->name, "ENGINE");
        hand_rpm(&h, 1, (uint8_t)b, 2000);
        assert_string_equal(numbered(a)->name, a < b ? "PORT" : "STARBOARD");
        assert_string_equal(numbered(b)->name, a < b ? "STARBOARD" : "PORT");
        assert_int_equal(numbered(a)->instance, a);
        assert_near(numbered(b)->rpm, 2000, 0.5);
        int slots[PLANT_ENGINES];
        assert_int_equal(plant_engines_in_order(h.plant, slots), 2);
        assert_int_equal(engine(slots[0])->instance, a < b ? a : b);
        assert_int_equal(engine(slots[1])->instance, a < b ? b : a);
        assert_int_equal(plant_engine_slot(h.plant, 200), -1);
        if (i + 1 < sizeof pairs / sizeof pairs[0])
            hand_end(&h);
    }
}

static void slots__eight_at_once_whatever_their_numbers__and_no_ninth(void **state)
{
    (void)state;
    static const uint8_t numbers[] = {252, 0, 11, 12, 100, 7, 33, 1, 90};
    hand_start(&h);
    for (int i = 0; i < 9; i++)
        hand_rpm(&h, (uint8_t)i, numbers[i], 700 + 100 * i);
    assert_int_equal(plant_engine_count(h.plant), 8);
    assert_int_equal(plant_dropped(h.plant), 1);
    for (int i = 0; i < 8; i++)
        assert_near(numbered(numbers[i])->rpm, 700 + 100 * i, 0.5);
    assert_int_equal(hand_find(&h, "rpm.90")->engine, -1);
    assert_string_equal(plant_place(h.plant, hand_find(&h, "rpm.90")), "90");
    int slots[PLANT_ENGINES];
    assert_int_equal(plant_engines_in_order(h.plant, slots), 8);
    for (int i = 1; i < 8; i++)
        assert_true(engine(slots[i - 1])->instance < engine(slots[i])->instance);
}

/* Number 0 too keeps the slot that the configuration gave it. */
static void slots__configured_as_0_and_silent__is_not_taken_by_others(void **state)
{
    (void)state;
    h.settings.engine[0] = (struct engine_setting){.instance = 0, .name = "MIDDLE"};
    h.settings.engine_count = 1;
    hand_start(&h);
    for (int i = 0; i < 8; i++)
        hand_rpm(&h, (uint8_t)i, (uint8_t)(10 + i), 700);
    assert_int_equal(plant_engine_slot(h.plant, 17), -1);
    assert_int_equal(plant_dropped(h.plant), 1);
    hand_rpm(&h, 20, 0, 900);
    assert_string_equal(numbered(0)->name, "MIDDLE");
    assert_near(numbered(0)->rpm, 900, 0.5);
}

/* All eight may be named; and where seven are, the count is still filled up with the last free one.
 */
static void slots__configured__as_many_as_there_are(void **state)
{
    static const struct {
        int named, first, count, engines;
    } rows[] = {{8, 10, 8, 8}, {7, 0, 8, 8}, {7, 10, 8, 8}, {8, 10, 0, 0}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (i > 0) {
            hand_end(&h);
            hand_init(&h);
        }
        for (int n = 0; n < rows[i].named; n++)
            h.settings.engine[n].instance = (uint8_t)(rows[i].first + n);
        h.settings.engine_count = (size_t)rows[i].named;
        h.settings.engines = rows[i].count;
        hand_start(&h);
        assert_int_equal(plant_engine_count(h.plant), rows[i].engines);
        for (int n = 0; n < rows[i].named; n++)
            assert_true(plant_engine_slot(h.plant, (uint8_t)(rows[i].first + n)) >= 0);
    }
}

/* A rule or a channel of the configuration keeps a slot for its engine; what holds at any place, or
 * is no engine's, keeps none. */
static void slots__rules_and_channels__keep_theirs(void **state)
{
    struct rule_setting rules[] = {{.id = {QTY_EXHAUST, 40, 0}},
                                   {.id = {QTY_EXHAUST, 41, 0}, .any_place = true},
                                   {.id = {QTY_BATTERY_VOLTS, 42, 0}},
                                   {.id = {QTY_OIL_PRESSURE, 43, 0}}};
    static const bool kept[] = {true, false, false, true, true, false};

    (void)state;
    hand_channel(&h, QTY_COOLANT, 44);
    hand_channel(&h, QTY_FUEL_TANK, 45);
    h.settings.rules = rules;
    h.settings.rule_count = sizeof rules / sizeof rules[0];
    hand_start(&h);
    for (int i = 0; i < 6; i++)
        assert_int_equal(plant_engine_slot(h.plant, (uint8_t)(40 + i)) >= 0, kept[i]);
    for (int i = 0; i < 8; i++) /* five slots are left */
        hand_rpm(&h, (uint8_t)i, (uint8_t)(10 + i), 700);
    assert_int_equal(plant_engine_count(h.plant), 5);
    assert_int_equal(plant_dropped(h.plant), 3);
}

/* Counted as one, it is the one that has a name; counted as none, both go by their numbers. */
static void slots__counted_otherwise_later__named_anew(void **state)
{
    (void)state;
    h.settings.engines = 2;
    hand_start(&h);
    assert_string_equal(engine(0)->name, "PORT");
    assert_string_equal(engine(1)->name, "STARBOARD");
    struct settings one = h.settings;
    one.engines = 1;
    plant_reconfigure(h.plant, &one);
    assert_int_equal(plant_engine_count(h.plant), 1);
    assert_string_equal(engine(0)->name, "ENGINE");
    assert_string_equal(engine(1)->name, "ENGINE 2");
    one.engine[0] = (struct engine_setting){.instance = 1, .name = "WING"};
    one.engine_count = 1;
    plant_reconfigure(h.plant, &one);
    assert_false(engine(0)->exists);
    assert_true(engine(1)->exists);
    assert_string_equal(engine(0)->name, "ENGINE 1");
    assert_string_equal(engine(1)->name, "WING");
}

static void slots__many_exhaust_sensors__leave_room_for_engines(void **state)
{
    (void)state;
    hand_start(&h);
    for (int n = 20; n < 32; n++)
        hand_exhaust(&h, 30, (uint8_t)n, 40);
    assert_int_equal(plant_engine_count(h.plant), 6);
    hand_rpm(&h, 0, 0, 700);
    hand_rpm(&h, 1, 1, 700);
    assert_true(numbered(0)->has_rpm && numbered(1)->has_rpm);
    assert_int_equal(plant_dropped(h.plant), 0);
}

static void slots__engine_beyond_eight__is_switched_off_as_any_other(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 200; i++) {
        hand_rpm(&h, 0, 11, 700);
        hand_exhaust(&h, 30, 11, 45);
        hand_tick(&h, 100);
    }
    assert_int_equal(numbered(11)->state, ENGINE_RUNNING);
    hand_tick(&h, 20000);
    assert_true(hand_find(&h, "exhaust.11")->switched_off);
    assert_int_equal(numbered(11)->state, ENGINE_STOPPED);
}

/* From standing straight to 1500 rpm, with the droop of an unloaded governor at first. */
static void run_generator(uint8_t instance, int seconds)
{
    hand_rpm(&h, 5, instance, 0);
    hand_tick(&h, 1000);
    hand_rpm(&h, 5, instance, 0);
    hand_tick(&h, 1000);
    hand_rpm(&h, 5, instance, 0);
    for (int i = 0; i < seconds; i++) {
        hand_tick(&h, 1000);
        hand_rpm(&h, 5, instance, i < 3 ? 400 * (i + 1) : i < 60 ? 1560 : 1500 + i % 7);
    }
}

static void generator__constant_speed_from_the_start__stands_apart(void **state)
{
    (void)state;
    hand_start(&h);
    hand_rpm(&h, 0, 0, 700);
    hand_rpm(&h, 1, 1, 700);
    run_generator(2, 170);
    assert_false(numbered(2)->generator);
    assert_string_equal(numbered(0)->name, "ENGINE 1");
    run_generator(2, 200);
    assert_true(numbered(2)->generator);
    assert_string_equal(numbered(2)->name, "GENERATOR");
    assert_string_equal(numbered(0)->name, "PORT");
    assert_string_equal(numbered(1)->name, "STARBOARD");
    int slots[PLANT_ENGINES];
    assert_int_equal(plant_engines_in_order(h.plant, slots), 3);
    assert_int_equal(slots[2], plant_engine_slot(h.plant, 2));
    for (int i = 0; i < 60; i++) { /* but not what then goes at any speed */
        hand_tick(&h, 1000);
        hand_rpm(&h, 5, 2, 1500 + 20 * i);
    }
    assert_false(numbered(2)->generator);
}

/* Two generators are counted by themselves, after the engines. */
static void generators__two__are_numbered_after_the_engines(void **state)
{
    static const char *const names[] = {"PORT", "STARBOARD", "GENERATOR 1", "GENERATOR 2"};

    (void)state;
    for (uint8_t i = 2; i < 4; i++)
        h.settings.engine[i - 2] = (struct engine_setting){.instance = i, .kind = ENGINE_GENERATOR};
    h.settings.engine_count = 2;
    hand_start(&h);
    for (uint8_t i = 0; i < 4; i++)
        hand_rpm(&h, i, i, 700);
    hand_tick(&h, 1000);
    for (int i = 0; i < 4; i++)
        assert_string_equal(numbered(i)->name, names[i]);
}

/* 120 f / p rpm: four and two poles at 50 and 60 Hz, within 6 %; no others. */
static void generator__at_the_speeds_of_50_and_60_hertz(void **state)
{
    static const struct {
        double rpm;
        bool generator;
    } rows[] = {{1500, true}, {1800, true}, {3000, true},  {3600, true},  {3175, true},
                {2825, true}, {3815, true}, {1200, false}, {2400, false}, {3275, false}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (i > 0) {
            hand_end(&h);
            hand_init(&h);
        }
        hand_start(&h);
        hand_rpm(&h, 0, 0, 700);
        hand_rpm(&h, 1, 1, 700);
        for (int k = 0; k < 250; k++) {
            hand_rpm(&h, 5, 2, k < 5 ? 0 : rows[i].rpm);
            hand_tick(&h, 1000);
        }
        if (numbered(2)->generator != rows[i].generator)
            fail_msg("at %.0f rpm", rows[i].rpm);
    }
}

/* What constant.h says, to the nanosecond: 20 s from standing to within 6 % of a synchronous speed,
 * three minutes of it, never 10 s away from it nor 15 % above. Each row: standing at 0 s, turning
 * at 1 s, then up to five speeds; and whether it is one after the last of them. */
static void generator__its_bounds(void **state)
{
    static const struct {
        struct {
            double s, rpm;
        } at[5];
        bool found;
    } rows[] = {
        {{{21, 1500}, {200.999999999, 1500}}, false},
        {{{21, 1500}, {201, 1500}}, true},
        {{{21, 1590}, {201, 1590}}, true},
        {{{21, 1591}, {22, 1500}, {202, 1500}}, true},
        {{{21.000000001, 1591}, {22, 1500}, {202, 1500}}, false},
        {{{21, 1500}, {191, 1500}, {200, 1300}, {201, 1300}}, false},
        {{{21, 1500}, {191, 1500}, {201, 1300}, {202, 1500}}, true},
        {{{21, 1500}, {191, 1500}, {201.000000001, 1300}, {202, 1500}}, false},
        {{{21, 1500}, {200, 1500}, {200.5, 1724}, {201, 1500}}, true},
        {{{21, 1500}, {200, 1500}, {200.5, 1726}, {201, 1500}}, false},
    };

    (void)state;
    hand_start(&h);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct constant c = {0};
        bool changed = constant_heard(&c, 0, 0, true);
        changed |= constant_heard(&c, NS_PER_S, 400, false);
        assert_false(changed);
        for (size_t k = 0; k < 5 && rows[i].at[k].s > 0; k++)
            changed = constant_heard(&c, llround(rows[i].at[k].s * 1e9), rows[i].at[k].rpm, false);
        if (c.found != rows[i].found || changed != rows[i].found)
            fail_msg("row %zu", i);
    }
}

static void generator__under_way_or_geared_or_idling_first__is_none(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 600; i++) { /* under way when the record begins */
        hand_rpm(&h, 0, 0, 1800);
        hand_tick(&h, 1000);
    }
    assert_false(numbered(0)->generator);
    uint8_t gear[8] = {1, 0xFC, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}; /* 127493: forward */
    hand_send(&h, 9, 127493, gear, 8);
    run_generator(1, 400);
    assert_false(numbered(1)->generator);
    for (int i = 0; i < 600; i++) {
        hand_rpm(&h, 5, 3, i < 5 ? 0 : i < 60 ? 700 : 1800);
        hand_tick(&h, 1000);
    }
    assert_false(numbered(3)->generator);
}

/* Whoever cruises at a synchronous speed drives the boat where nothing else would: the only engine,
 * and twins that both go straight to it. A generator beside them is one still. */
static void generator__cruise_at_1500_straight_from_the_start__drives_the_boat(void **state)
{
    (void)state;
    hand_start(&h);
    run_generator(0, 4 * 3600);
    assert_false(numbered(0)->generator);
    assert_string_equal(numbered(0)->name, "ENGINE");
    hand_exhaust(&h, 30, 1, 40); /* another appears: now it may be one */
    assert_true(numbered(0)->generator);
    run_generator(1, 400); /* which does the same */
    assert_false(numbered(0)->generator);
    assert_false(numbered(1)->generator);
    assert_string_equal(numbered(0)->name, "PORT");
}

/* What was taken for one and proves otherwise is none from that moment on. */
static void generator__gearbox_or_another_speed__is_none_at_once(void **state)
{
    (void)state;
    uint8_t oil[8] = {2, 0xFF, 0xFF, 0xFF, 0x80, 0x7C, 0xFF, 0xFF}; /* 127493: oil at 46 °C */
    hand_start(&h);
    hand_rpm(&h, 0, 0, 700);
    run_generator(2, 400);
    assert_true(numbered(2)->generator);
    hand_send(&h, 9, 127493, oil, 8);
    assert_false(numbered(2)->generator);
    run_generator(3, 400);
    assert_true(numbered(3)->generator);
    for (int i = 0; i < 3; i++) { /* the middle one of three counts */
        hand_tick(&h, 1000);
        hand_rpm(&h, 5, 3, 1900);
    }
    assert_false(numbered(3)->generator);
    run_generator(4, 400);
    assert_true(numbered(4)->generator);
    for (int i = 0; i < 14; i++) {
        hand_tick(&h, 1000);
        hand_rpm(&h, 5, 4, 1100);
    }
    assert_false(numbered(4)->generator);
    assert_string_equal(numbered(0)->name, "ENGINE 1");
}

/* SAE J1939-75 beside the engine's own messages, from one address. */
static void generator__its_box_sends_alternating_current__known_at_once(void **state)
{
    (void)state;
    uint8_t speed[8] = {0xFF, 0xFF, 0xFF, 0xE0, 0x2E, 0xFF, 0xFF, 0xFF}; /* 61444: 1500 rpm */
    uint8_t phase[8] = {0x90, 0x01, 0xE7, 0x00, 0x00, 0x19, 0x20, 0x00}; /* 65027: 231 V */
    hand_start(&h);
    hand_rpm(&h, 40, 2, 700);
    hand_send(&h, 0, 61444, speed, 8);
    assert_false(numbered(0)->generator);
    hand_send(&h, 0, 65027, phase, 8);
    assert_true(numbered(0)->generator);
    assert_string_equal(numbered(0)->name, "GENERATOR");
    assert_string_equal(numbered(2)->name, "ENGINE");
    hand_send(&h, 40, 127747, (const uint8_t[]){0, 1, 1, 9, 0xFF, 0xFF, 0xF4, 1}, 8);
    assert_true(numbered(2)->generator);
    hand_send(&h, 50, 127747, (const uint8_t[]){0, 1, 1, 9, 0xFF, 0xFF, 0xF4, 1}, 8);
    hand_rpm(&h, 50, 3, 1500); /* in whichever order */
    assert_true(numbered(3)->generator);
}

/* Another box has taken over what it never had a value for: it tells of one engine alone then. */
static void generator__its_box_has_lost_another_engine__known_too(void **state)
{
    (void)state;
    hand_channel(&h, QTY_RPM, 1);
    hand_start(&h);
    hand_claim(&h, 41, 0xC000000000000041);
    hand_rpm(&h, 40, 1, -1);
    hand_rpm(&h, 41, 1, 700);
    assert_int_equal(hand_find(&h, "rpm.1")->source, 41);
    assert_true(hand_find(&h, "rpm.1")->name == 0xC000000000000041);
    hand_rpm(&h, 40, 0, 1500);
    hand_send(&h, 40, 127747, (const uint8_t[]){0, 1, 1, 9, 0xFF, 0xFF, 0xF4, 1}, 8);
    assert_true(numbered(0)->generator);
    assert_false(numbered(1)->generator);
}

static void generator__gateway_of_two_engines__says_nothing(void **state)
{
    (void)state;
    hand_start(&h);
    hand_rpm(&h, 40, 0, 700);
    hand_rpm(&h, 40, 1, 700);
    hand_send(&h, 40, 127747, (const uint8_t[]){0, 1, 1, 9, 0xFF, 0xFF, 0xF4, 1}, 8);
    assert_false(numbered(0)->generator || numbered(1)->generator);
}

static void generator__configured__is_what_it_says(void **state)
{
    (void)state;
    h.settings.engine[0] = (struct engine_setting){.instance = 2, .kind = ENGINE_GENERATOR};
    h.settings.engine[1] = (struct engine_setting){.instance = 7, .kind = ENGINE_PROPULSION};
    h.settings.engine_count = 2;
    hand_start(&h);
    hand_rpm(&h, 0, 2, 900);
    run_generator(7, 400);
    assert_true(numbered(2)->generator);
    assert_string_equal(numbered(2)->name, "GENERATOR");
    assert_false(numbered(7)->generator);
    assert_string_equal(numbered(7)->name, "ENGINE");
}

static void engine__temperatures_only__exists_without_speed(void **state)
{
    (void)state;
    hand_start(&h);
    hand_exhaust(&h, 30, 0, 40);
    assert_true(engine(0)->exists);
    assert_false(engine(0)->has_rpm);
    assert_int_equal(engine(0)->state, ENGINE_UNKNOWN);
    assert_string_equal(plant_place(h.plant, hand_find(&h, "exhaust.0")), "ENGINE");
}

static void off__key_turned_at_idle__all_switched_off_and_engine_stopped(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(20000, 700, true, true);
    run_for(20000, 0, false, false);
    assert_int_equal(hand_find(&h, "rpm.0")->status, READING_STALE);
    assert_true(hand_find(&h, "rpm.0")->switched_off);
    assert_true(hand_find(&h, "exhaust.0")->switched_off);
    assert_int_equal(engine(0)->state, ENGINE_STOPPED);
    assert_false(hand_heard(&h, "stale:exhaust.0"));
    assert_false(hand_heard(&h, "stale:rpm.0"));
}

/* A box that lives on and says so while all that it measures has stopped with the engine. */
static void off__heartbeat_goes_on__switched_off_all_the_same(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(20000, 700, true, true);
    uint8_t heartbeat[8] = {0x70, 0x17, 1, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    hand_tick(&h, 1000);
    hand_send(&h, 0, 126993, heartbeat, 8);
    hand_send(&h, 30, 126993, heartbeat, 8);
    run_for(20000, 0, false, false);
    assert_true(hand_find(&h, "rpm.0")->switched_off);
    assert_true(hand_find(&h, "exhaust.0")->switched_off);
    assert_false(hand_heard(&h, "stale:exhaust.0"));
}

static void off__speed_runs_down_before_the_box_dies__switched_off(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(20000, 1900, true, true);
    for (int rpm = 1800; rpm >= 1100; rpm -= 100)
        run_for(100, rpm, true, true);
    run_for(10000, 0, false, false);
    assert_true(hand_find(&h, "rpm.0")->switched_off);
    assert_int_equal(engine(0)->state, ENGINE_STOPPED);
}

/* From 2000 to less than three quarters of it is on the way down, as long as the 2000 are of the
 * last seconds: before a pause of five they are another story. */
static void off__after_a_pause__only_what_was_just_heard_is_on_its_way_down(void **state)
{
    static const struct {
        int64_t pause_ms;
        double then;
        bool off;
    } rows[] = {{1500, 1400, true}, {5000, 1400, false}, {1500, 1490, true}, {1500, 1510, false}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (i > 0) {
            hand_end(&h);
            hand_init(&h);
        }
        hand_start(&h);
        run_for(10000, 2000, true, true);
        run_for(rows[i].pause_ms, 0, false, true);
        run_for(1000, rows[i].then, true, true);
        run_for(5000, 0, false, true);
        assert_int_equal(hand_find(&h, "rpm.0")->status, READING_STALE);
        assert_int_equal(hand_find(&h, "rpm.0")->switched_off, rows[i].off);
        assert_int_equal(engine(0)->state, rows[i].off ? ENGINE_STOPPED : ENGINE_UNKNOWN);
    }
}

/* At 1000 rpm or less, or below three quarters of what it did two to four seconds before, it was on
 * its way down when its box died. */
static void off__box_dies__stopped_where_the_speed_was_low_or_falling(void **state)
{
    static const struct {
        double from, to;
        int ms; /* so long at the second speed */
        enum engine_state is;
    } rows[] = {
        {2000, 1490, 2500, ENGINE_STOPPED}, {2000, 1510, 2500, ENGINE_UNKNOWN},
        {2000, 1490, 4500, ENGINE_UNKNOWN}, {1000, 1000, 5000, ENGINE_STOPPED},
        {1001, 1001, 5000, ENGINE_UNKNOWN},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (i > 0) {
            hand_end(&h);
            hand_init(&h);
        }
        hand_start(&h);
        run_for(10000, rows[i].from, true, false);
        run_for(rows[i].ms, rows[i].to, true, false);
        for (int k = 0; k < 20; k++)
            hand_tick(&h, 1000);
        if (engine(0)->state != rows[i].is)
            fail_msg("row %zu", i);
    }
}

static void off__exhaust_box_dies_at_speed__silent(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(20000, 1800, true, true);
    run_for(20000, 1800, true, false);
    assert_int_equal(hand_find(&h, "exhaust.0")->status, READING_STALE);
    assert_false(hand_find(&h, "exhaust.0")->switched_off);
    assert_true(hand_heard(&h, "stale:exhaust.0"));
    assert_int_equal(engine(0)->state, ENGINE_RUNNING);
}

static void off__exhaust_box_dies_at_idle__silent(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(20000, 700, true, true);
    run_for(60000, 700, true, false);
    assert_false(hand_find(&h, "exhaust.0")->switched_off);
    run_for(60000, 0, true, false); /* stopped a minute later: that was not the key */
    assert_false(hand_find(&h, "exhaust.0")->switched_off);
}

static void off__box_dies_seconds_before_the_engine_stands__verdict_corrected(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(20000, 700, true, true);
    run_for(4000, 500, true, false); /* running down, its box already without power */
    run_for(10000, 0, true, false);
    assert_true(hand_heard(&h, "stale:exhaust.0"));
    assert_true(hand_heard(&h, "off:exhaust.0"));
    assert_true(hand_find(&h, "exhaust.0")->switched_off);
}

static void off__speed_box_dies_at_speed__silent_and_state_unknown(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(20000, 1800, true, true);
    run_for(20000, 0, false, true);
    assert_false(hand_find(&h, "rpm.0")->switched_off);
    assert_int_equal(engine(0)->state, ENGINE_UNKNOWN);
    assert_true(engine(0)->has_rpm);
    assert_int_equal(hand_find(&h, "exhaust.0")->status, READING_OK);
}

static void off__one_channel_of_a_living_box__silent_even_with_the_engine_stopped(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 40; i++) {
        run_for(500, 0, true, false);
        hand_exhaust(&h, 30, 0, 20);
        if (i < 20)
            hand_temp_on(&h, 0, 30, 0, 3, 25);
    }
    assert_int_equal(hand_find(&h, "engine-space.0")->status, READING_STALE);
    assert_false(hand_find(&h, "engine-space.0")->switched_off);
}

static void off__engine_starts_again_without_its_box__silent_after_a_while(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(20000, 700, true, true);
    run_for(20000, 0, false, false);
    run_for(5000, 700, true, false);
    assert_true(hand_find(&h, "exhaust.0")->switched_off); /* it may still be starting */
    run_for(8000, 700, true, false);
    assert_false(hand_find(&h, "exhaust.0")->switched_off);
    run_for(1000, 700, true, true);
    assert_int_equal(hand_find(&h, "exhaust.0")->status, READING_OK);
}

static void off__not_available_from_a_living_box__is_without_power_too(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 200; i++) {
        bool on = i < 100;
        hand_rpm(&h, 0, 0, on ? 700 : -1);
        if (i % 5 == 0)
            hand_engine_data(&h, 0, 0, on ? 300 : -1, on ? 80 : -300);
        hand_tick(&h, 100);
    }
    assert_int_equal(engine(0)->state, ENGINE_STOPPED);
    assert_int_equal(hand_find(&h, "oil-pressure.0")->status, READING_NOT_AVAILABLE);
    assert_true(hand_find(&h, "oil-pressure.0")->switched_off);
}

static void off__tank_box_without_engine__silent(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 60; i++) {
        run_for(1000, 0, true, false);
        if (i < 20)
            hand_tank(&h, 40, 0, 50, 400);
    }
    assert_int_equal(hand_find(&h, "fuel-tank.0")->status, READING_STALE);
    assert_false(hand_find(&h, "fuel-tank.0")->switched_off);
}

/* 127503 and 127504, one line: volts or watts, nothing else. Who sends no more than that may be fed
 * by it, and goes with the shore power. */
static void off__box_with_nothing_but_alternating_current__may_be_fed_by_it(void **state)
{
    static const struct {
        uint32_t pgn;
        bool tank, off;
    } rows[] = {{127503, false, true}, {127503, true, false}, {127504, false, true}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t d[20];
        if (i > 0) {
            hand_end(&h);
            hand_init(&h);
        }
        hand_start(&h);
        memset(d, 0xFF, sizeof d);
        d[0] = 0;
        d[1] = 1; /* line */
        d[2] = 0xFC;
        if (rows[i].pgn == 127503) { /* 230 V */
            d[3] = LOW(23000);
            d[4] = HIGH(23000);
        } else { /* 500 W */
            d[11] = LOW(500);
            d[12] = HIGH(500);
            d[13] = d[14] = 0;
        }
        for (int k = 0; k < 10; k++) {
            hand_send(&h, 60, rows[i].pgn, d, sizeof d);
            if (rows[i].tank)
                hand_tank(&h, 60, 0, 50, 400);
            hand_tick(&h, 1500);
        }
        hand_tick(&h, 20000);
        const struct channel *c = plant_channel(h.plant, 0);
        assert_non_null(c);
        assert_int_equal(c->status, READING_STALE);
        if (c->switched_off != rows[i].off)
            fail_msg("row %zu", i);
    }
}

static void off__gap_in_the_record__nobody_is_late(void **state)
{
    (void)state;
    hand_start(&h);
    run_for(20000, 1800, true, true);
    h.ms += 300000;
    plant_gap(h.plant, hand_stamp(&h));
    plant_tick(h.plant, hand_stamp(&h));
    run_for(3000, 1800, true, true);
    assert_null(strstr(h.log, "stale"));
    assert_near((double)hand_find(&h, "rpm.0")->period_ns, 1e8, 1e6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define T(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
        T(engine__starts_and_stops__with_hysteresis),
        T(engine__one_wild_sample__neither_starts_nor_stops_it),
        T(engine__not_available_for_a_moment__changes_nothing),
        T(engine__not_available_for_long__unknown_at_speed_stopped_at_idle),
        T(engine__speed_change__is_the_last_moment_of_the_step),
        T(engine__slow_drift__is_no_speed_change),
        T(engine__runs_from_300_and_stands_below_150),
        T(engine__drift__is_a_change_beyond_a_twentieth_of_its_level),
        T(engine__step__is_a_change_beyond_a_twentieth),
        T(engine__names__follow_how_many_there_are),
        T(engine__configured__named_from_the_start_and_no_stray_ones),
        T(slots__any_two_numbers__are_port_and_starboard),
        T(slots__eight_at_once_whatever_their_numbers__and_no_ninth),
        T(slots__configured_as_0_and_silent__is_not_taken_by_others),
        T(slots__configured__as_many_as_there_are),
        T(slots__rules_and_channels__keep_theirs),
        T(slots__counted_otherwise_later__named_anew),
        T(slots__many_exhaust_sensors__leave_room_for_engines),
        T(slots__engine_beyond_eight__is_switched_off_as_any_other),
        T(generator__constant_speed_from_the_start__stands_apart),
        T(generators__two__are_numbered_after_the_engines),
        T(generator__at_the_speeds_of_50_and_60_hertz),
        T(generator__its_bounds),
        T(generator__under_way_or_geared_or_idling_first__is_none),
        T(generator__cruise_at_1500_straight_from_the_start__drives_the_boat),
        T(generator__gearbox_or_another_speed__is_none_at_once),
        T(generator__its_box_sends_alternating_current__known_at_once),
        T(generator__its_box_has_lost_another_engine__known_too),
        T(generator__gateway_of_two_engines__says_nothing),
        T(generator__configured__is_what_it_says),
        T(engine__temperatures_only__exists_without_speed),
        T(off__key_turned_at_idle__all_switched_off_and_engine_stopped),
        T(off__heartbeat_goes_on__switched_off_all_the_same),
        T(off__speed_runs_down_before_the_box_dies__switched_off),
        T(off__after_a_pause__only_what_was_just_heard_is_on_its_way_down),
        T(off__box_dies__stopped_where_the_speed_was_low_or_falling),
        T(off__exhaust_box_dies_at_speed__silent),
        T(off__exhaust_box_dies_at_idle__silent),
        T(off__box_dies_seconds_before_the_engine_stands__verdict_corrected),
        T(off__speed_box_dies_at_speed__silent_and_state_unknown),
        T(off__one_channel_of_a_living_box__silent_even_with_the_engine_stopped),
        T(off__engine_starts_again_without_its_box__silent_after_a_while),
        T(off__not_available_from_a_living_box__is_without_power_too),
        T(off__tank_box_without_engine__silent),
        T(off__box_with_nothing_but_alternating_current__may_be_fed_by_it),
        T(off__gap_in_the_record__nobody_is_late),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
