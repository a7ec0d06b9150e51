/* Engines: running or not, speed changes, names; and what is switched off. */
#include "plant/plant.h"

#include "hand.h"

static struct hand h;

static int setup(void **state)
{
    (void)state;
    hand_init(&h);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    hand_end(&h);
    return 0;
}

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
    text_copy(h.settings.engine_names[1], sizeof h.settings.engine_names[1], "RIGHT");
    hand_start(&h);
    assert_string_equal(engine(0)->name, "PORT");
    assert_string_equal(engine(1)->name, "RIGHT");
    hand_exhaust(&h, 30, 4, 40);
    assert_int_equal(plant_engine_count(h.plant), 2);
    hand_rpm(&h, 0, 4, 700);
    assert_int_equal(plant_engine_count(h.plant), 3);
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
        T(engine__names__follow_how_many_there_are),
        T(engine__configured__named_from_the_start_and_no_stray_ones),
        T(engine__temperatures_only__exists_without_speed),
        T(off__key_turned_at_idle__all_switched_off_and_engine_stopped),
        T(off__speed_runs_down_before_the_box_dies__switched_off),
        T(off__exhaust_box_dies_at_speed__silent),
        T(off__exhaust_box_dies_at_idle__silent),
        T(off__box_dies_seconds_before_the_engine_stands__verdict_corrected),
        T(off__speed_box_dies_at_speed__silent_and_state_unknown),
        T(off__one_channel_of_a_living_box__silent_even_with_the_engine_stopped),
        T(off__engine_starts_again_without_its_box__silent_after_a_while),
        T(off__not_available_from_a_living_box__is_without_power_too),
        T(off__tank_box_without_engine__silent),
        T(off__gap_in_the_record__nobody_is_late),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
