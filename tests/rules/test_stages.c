/* The story of an alert on a boat: each case here is a way in which it once fell apart. */
#include "rules/boat.h"

#include <math.h>

static const struct alert *only(const struct boat *b)
{
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    return alerts_at(boat_alerts(b), 0);
}

/* The coolant pump lets go, the coolant stands at 128 °C, the engine is stopped and 10 s later the
 * key is turned: nothing is read any more. */
static struct boat *coolant_left_hot(void)
{
    struct boat *b = boat_new(NULL);
    boat_run(b, 400);
    boat_ramp(b, &b->coolant[1], 128, 150);
    boat_run(b, 20);
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    boat_run(b, 10);
    b->engine_boxes = false;
    return b;
}

static void coolant_left_hot__box_switched_off__alarm_stands_with_its_last_value(void **state)
{
    (void)state;
    struct boat *b = coolant_left_hot();
    boat_run(b, 600);
    boat_print(b);
    const struct alert *a = only(b);
    assert_true(a->active);
    assert_int_equal(a->stage, STAGE_STOPPED);
    assert_int_equal(a->priority, PRIORITY_ALARM);
    assert_string_equal(a->text, "STARBOARD COOLANT engine off, last 128 °C: let it cool, do not "
                                 "open the cap");
    assert_non_null(strstr(a->what, "last 128 °C at "));
    assert_near(a->worst, 128, 0.1);
    assert_true(a->limit_passed.wall_ns > a->raised.wall_ns);
    assert_true(a->stopped.wall_ns > a->limit_passed.wall_ns);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_RISE), 0);
    boat_free(b);
}

static void coolant_left_hot__read_cold_at_the_next_start__is_over(void **state)
{
    (void)state;
    struct boat *b = coolant_left_hot();
    boat_run(b, 1200);
    b->coolant[1] = b->coolant[0] = 60;
    b->engine_boxes = true;
    boat_run(b, 30);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    assert_non_null(strstr(boat_last(b)->alert.text, "STARBOARD COOLANT back to 60 °C"));
    boat_free(b);
}

/* Two hours, the time that a block needs (alerts/action.c). */
static void coolant_left_hot__dark_for_two_hours__has_had_the_time_to_cool(void **state)
{
    (void)state;
    struct boat *b = coolant_left_hot();
    boat_run(b, 7100);
    assert_true(only(b)->active);
    boat_run(b, 200);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    assert_non_null(strstr(boat_last(b)->alert.text, "has had the time to cool, last 128 °C"));
    boat_free(b);
}

/* The alarm was about to be raised: the key is turned 1 s after the limit was passed. */
static void coolant_passes_its_limit__key_turned_at_once__stands_all_the_same(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    b->rpm[0] = b->rpm[1] = 800;
    boat_run(b, 200);
    b->coolant[1] = 104;
    boat_run(b, 2);
    b->engine_boxes = false;
    boat_run(b, 30);
    boat_print(b);
    assert_non_null(strstr(only(b)->text, "STARBOARD COOLANT engine off, last 104 °C"));
    boat_free(b);
}

/* From suspicion to the stopped engine; the exhaust sensor goes on reading. */
static void impeller__suspected_certain_beyond_stopped__each_is_told_once(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 400);
    boat_ramp(b, &b->exhaust[1], 209, 140);
    boat_run(b, 60);
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    boat_run(b, 60);
    boat_print(b);
    enum alert_stage stage = STAGE_SUSPECTED;
    for (int i = 0; i < b->count; i++) {
        const struct boat_event *e = &b->events[i];
        assert_non_null(strstr(e->alert.text, "STARBOARD EXHAUST"));
        assert_non_null(strstr(e->alert.text, "check raw water"));
        assert_true(e->alert.stage >= stage);
        stage = e->alert.stage;
        bool stop = strstr(e->alert.text, ": stop engine when safe, ") != NULL;
        assert_int_equal(stop, stage == STAGE_CERTAIN || stage == STAGE_BEYOND);
    }
    const struct alert *a = only(b);
    assert_int_equal(a->stage, STAGE_STOPPED);
    assert_near(a->worst, 209, 0.1);
    assert_true(a->limit_passed.wall_ns > 0);
    assert_true(a->beyond_ns > 100 * NS_PER_S);
    boat_free(b);
}

/* Hot by the first reading, or by the first after a gap: nobody saw it pass its limit. */
static void coolant_hot__when_first_read_and_after_a_gap__not_said_to_have_passed(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    b->rpm[0] = b->rpm[1] = 800;
    b->coolant[1] = 112;
    boat_run(b, 30);
    assert_true(only(b)->already);
    assert_true(only(b)->limit_passed.mono_ns < TIMELINE_START + 2 * NS_PER_S);
    b->coolant[1] = 80;
    boat_run(b, 200);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    b->coolant[1] = 112; /* now it is seen to pass */
    boat_run(b, 30);
    assert_int_equal(boat_last(b)->event, EVENT_RAISED);
    assert_false(boat_last(b)->alert.already);
    b->coolant[1] = 80;
    boat_run(b, 200);
    b->ms += 600 * 1000;
    b->coolant[1] = 112;
    boat_run(b, 30);
    assert_int_equal(boat_last(b)->event, EVENT_RAISED);
    assert_true(boat_last(b)->alert.already);
    boat_free(b);
}

/* Cool before a gap in the record, and read as cool after it. */
static void coolant_hot__read_cool_since_a_gap__is_said_to_have_passed(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    uint8_t quiet[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    boat_run(b, 60);
    b->ms += 20000;
    boat_frame(b, 127488, 99, quiet, FRAME_GAP);
    boat_run(b, 60);
    b->coolant[1] = 112;
    boat_run(b, 30);
    assert_int_equal(boat_last(b)->event, EVENT_RAISED);
    assert_false(boat_last(b)->alert.already);
    boat_free(b);
}

static void battery_comes_back__end_tells_the_voltage(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->volts = 11.5;
    boat_run(b, 600);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_LIMIT), 1);
    b->volts = 14.1;
    boat_run(b, 120);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    assert_string_equal(boat_last(b)->alert.text, "BATTERY back to 14.1 V");
    assert_int_equal(boat_last(b)->alert.stage, STAGE_OVER);
    assert_near(boat_last(b)->alert.worst, 11.5, 0.01);
    boat_free(b);
}

static void dead_sensor__engine_stops__does_not_end_before_it_answers(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 200);
    b->exhaust[1] = BOAT_NONE;
    boat_run(b, 120);
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    boat_run(b, 120);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_SILENT), 0);
    b->exhaust[1] = 35;
    boat_run(b, 60);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    assert_string_equal(boat_last(b)->alert.text, "STARBOARD EXHAUST answers again, 35 °C");
    boat_free(b);
}

static void oil_pressure_low__engine_stops__end_says_so(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 120);
    b->oil_kpa[0] = 30;
    boat_run(b, 20);
    assert_non_null(strstr(only(b)->text, "PORT OIL PRESSURE 30 kPa"));
    assert_non_null(strstr(only(b)->text, "stop engine when safe, check oil level"));
    b->rpm[0] = 0;
    b->oil_kpa[0] = 0;
    boat_run(b, 20);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    assert_non_null(strstr(boat_last(b)->alert.text, "0 kPa, engine stopped"));
    boat_free(b);
}

/* The starboard box was set to instance 0: it now sends what port sends, and starboard is gone. */
static void
two_boxes_on_one_instance__second_place_lost__one_alert_that_names_the_cause(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->engines = 1;
    boat_run(b, 60);
    for (int i = 0; i < 30; i++) { /* a box of its own for starboard */
        boat_temp(b, 36, 1, 14, 44);
        boat_run(b, 2);
    }
    b->second_exhaust = 44; /* from address 36, as instance 0 */
    boat_run(b, 60);
    boat_print(b);
    const struct alert *a = only(b);
    assert_int_equal(a->kind, KIND_CONFLICT);
    assert_int_equal(a->priority, PRIORITY_WARNING); /* as the loss that comes of it */
    assert_non_null(strstr(a->text, "STARBOARD EXHAUST lost, sender 36 calls it PORT"));
    boat_free(b);
}

static void frame_of_name(struct boat *b, uint8_t source, uint8_t identity)
{
    uint8_t d[8] = {identity, 0, 0x20, 0x10, 0, 130, 0x96, 0xC0};
    boat_frame(b, 60928, source, d, 0);
}

static void one_address_two_names__said_as_that(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->temp_box = false;
    for (int i = 0; i < 60; i++) {
        frame_of_name(b, 75, 1);
        boat_temp(b, 75, 0, 14, 40);
        boat_run(b, 0.5);
        frame_of_name(b, 75, 2);
        boat_temp(b, 75, 0, 14, 48);
        boat_run(b, 0.5);
    }
    boat_print(b);
    for (int i = 0; i < b->count; i++)
        assert_null(strstr(b->events[i].alert.text, "sender 75 and sender 75"));
    assert_true(boat_told(b, EVENT_RAISED, KIND_CONFLICT) >= 1);
    const struct boat_event *e = boat_find(b, EVENT_RAISED, KIND_CONFLICT);
    if (e)
        assert_non_null(strstr(e->alert.text, "two boxes at address 75"));
    boat_free(b);
}

/* A battery monitor of one message loses its power: one alert. */
static void battery_box_without_power__volts_and_amperes_are_one_alert(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->volts = BOAT_ABSENT;
    uint8_t d[8] = {3, 0x64, 0x05, 0x32, 0, 0xFF, 0xFF, 0xFF};
    uint8_t other[8] = {0, 0x64, 0x05, 0x32, 0, 0xFF, 0xFF, 0xFF};
    for (int i = 0; i < 60; i++) {
        boat_frame(b, 127508, 44, d, 0);
        boat_run(b, 1);
    }
    for (int i = 0; i < 60; i++) { /* the box lives on for another battery */
        boat_frame(b, 127508, 44, other, 0);
        boat_run(b, 1);
    }
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 1);
    boat_free(b);
}

/* An intake that lifts out of the water in a sea: one alert. */
static void plug_is_loose__exhaust_comes_and_goes__one_alert_that_counts(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 200);
    for (int i = 0; i < 12; i++) {
        b->exhaust[1] = BOAT_NONE;
        boat_run(b, 15);
        b->exhaust[1] = 45;
        boat_run(b, 15);
    }
    boat_print(b);
    assert_in_range(boat_told(b, EVENT_RAISED, KIND_SILENT), 1, 4);
    const struct alert *a = only(b);
    assert_non_null(strstr(a->text, " times since "));
    boat_free(b);
}

static const struct alert *about(struct boat *b, const char *subject, enum rule_kind kind)
{
    const struct alert_list *l = keeper_alerts(b->keeper);
    for (size_t i = 0; i < alerts_count(l); i++) {
        const struct alert *a = alerts_at(l, i);
        if (a->kind == kind && strncmp(a->text, subject, strlen(subject)) == 0)
            return a;
    }
    fail_msg("no alert about %s", subject);
    return NULL;
}

/* The fire takes its sensor past what it can tell. What stands says what was read last and when; no
 * other alert sends anybody to look; and the fire stays on top of all of them. */
static void fire__burns_its_sensor__says_the_last_and_nobody_is_sent_in(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 400);
    b->oil_kpa[0] = 50;
    boat_run(b, 30);
    assert_string_equal(about(b, "PORT OIL PRESSURE", KIND_LIMIT)->action,
                        "stop engine when safe, check oil level");
    boat_ramp(b, &b->space, 290, 400);
    assert_string_equal(about(b, "PORT OIL PRESSURE", KIND_LIMIT)->action,
                        "stop engine when safe, keep hatch shut");
    assert_int_equal(about(b, "PORT OIL PRESSURE", KIND_LIMIT)->steps, TROUBLE_FIRE);
    b->space = 330;
    boat_run(b, 8); /* not yet: may be noise */
    assert_null(strstr(alerts_at(keeper_alerts(b->keeper), 0)->text, "last"));
    boat_run(b, 60);
    const struct alert *fire = alerts_at(keeper_alerts(b->keeper), 0);
    assert_int_equal(fire->trouble, TROUBLE_FIRE);
    assert_true(fire->active);
    assert_int_equal(strncmp(fire->text, "ENGINE SPACE outside its span, last 289 °C", 40), 0);
    assert_null(strstr(fire->text, "rising"));
    assert_near(fire->worst, 289, 0.6);
    assert_string_equal(about(b, "ENGINE SPACE", KIND_SPAN)->action,
                        "keep hatch shut, FIRE? first");
    b->space = 35;
    boat_run(b, 120);
    assert_false(fire->active);
    assert_string_equal(about(b, "PORT OIL PRESSURE", KIND_LIMIT)->action, /* over, but not seen */
                        "stop engine when safe, keep hatch shut");
    assert_true(alerts_acknowledge(keeper_alerts(b->keeper), fire->id, b->events[0].alert.raised));
    assert_string_equal(about(b, "PORT OIL PRESSURE", KIND_LIMIT)->action,
                        "stop engine when safe, check oil level");
    boat_free(b);
}

/* Coolant that was called before the exhaust, and is beyond its limit as the engine stops, has not
 * come to an end: the alert of the exhaust goes on telling of it. */
static void coolant_called_first__engine_stops__is_told_with_the_exhaust(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 400);
    boat_ramp(b, &b->coolant[1], 95, 60);
    assert_string_equal(about(b, "STARBOARD COOLANT", KIND_RISE)->action,
                        "check coolant pump, belt");
    for (int i = 0; i < 60; i++) {
        b->exhaust[1] += 1.5;
        b->coolant[1] += 0.4;
        boat_run(b, 1);
    }
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    boat_run(b, 30);
    boat_print(b);
    bool joined = false;
    for (int i = 0; i < b->count; i++)
        if (b->events[i].event == EVENT_RECTIFIED) {
            joined = strstr(b->events[i].alert.text, "STARBOARD COOLANT 119 °C, told with the "
                                                     "exhaust") != NULL;
            assert_true(joined);
        }
    assert_true(joined);
    assert_string_equal(about(b, "STARBOARD EXHAUST 135 °C", KIND_LIMIT)->action,
                        "keep cap shut, check raw water");
    boat_free(b);
}

/* Air was drawn in again and again; then the impeller lets go. Whatever the climb is called, while
 * it is up its words ask for the raw water, and beyond the limit for the engine to be stopped. */
static void air_drawn_before__water_lost__asks_for_raw_water(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.1]\nsensor = wet\n");
    b->temp_period_s = 0.5;
    boat_run(b, 400);
    for (int i = 0; i < 4; i++) {
        boat_ramp(b, &b->exhaust[1], 60, 6);
        boat_ramp(b, &b->exhaust[1], 45, 12);
        boat_run(b, 60);
    }
    int called = 0, up = 0;
    for (int i = 0; i < 80; i++) {
        b->exhaust[1] += 1.0;
        boat_run(b, 0.5);
        const struct alert_list *l = keeper_alerts(b->keeper);
        const struct alert *a = alerts_count(l) > 0 ? alerts_at(l, 0) : NULL;
        if (!a || strcmp(a->channel, "exhaust.1") != 0 || !a->active)
            continue;
        called += strstr(a->text, "again") || strstr(a->text, "times");
        if (b->exhaust[1] > 64) /* beyond what it came to before */
            up++, assert_non_null(strstr(a->action, "check raw water"));
        if (b->exhaust[1] > 95)
            assert_string_equal(a->action, "stop engine when safe, check raw water");
    }
    assert_true(called > 0);
    assert_true(up > 30);
    boat_free(b);
}

/* A wire that breaks does not cool what was hot. */
static void exhaust_hot__its_wire_breaks__stands_with_its_last_value(void **state)
{
    (void)state;
    static const char *const texts[] = {NULL, NO_COOLING_WATCH};
    for (int i = 0; i < 2; i++) {
        struct boat *b = boat_new(texts[i]);
        boat_run(b, 400);
        boat_ramp(b, &b->exhaust[1], 128, 100);
        boat_run(b, 20);
        b->exhaust[1] = -180;
        boat_run(b, 60);
        const struct alert *a = about(b, "STARBOARD EXHAUST", i ? KIND_LIMIT : KIND_RISE);
        assert_true(a->active);
        assert_int_equal(a->priority, PRIORITY_ALARM);
        assert_int_equal(strncmp(a->text, "STARBOARD EXHAUST outside its span, last 128 °C", 45),
                         0);
        assert_int_equal(boat_told(b, EVENT_RECTIFIED, a->kind), 0);
        b->exhaust[1] = 130;
        boat_run(b, 10);
        assert_null(strstr(alerts_by_id(keeper_alerts(b->keeper), a->id)->text, "last"));
        boat_free(b);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coolant_hot__read_cool_since_a_gap__is_said_to_have_passed),
        cmocka_unit_test(coolant_hot__when_first_read_and_after_a_gap__not_said_to_have_passed),
        cmocka_unit_test(fire__burns_its_sensor__says_the_last_and_nobody_is_sent_in),
        cmocka_unit_test(coolant_called_first__engine_stops__is_told_with_the_exhaust),
        cmocka_unit_test(air_drawn_before__water_lost__asks_for_raw_water),
        cmocka_unit_test(exhaust_hot__its_wire_breaks__stands_with_its_last_value),
        cmocka_unit_test(coolant_left_hot__box_switched_off__alarm_stands_with_its_last_value),
        cmocka_unit_test(coolant_left_hot__read_cold_at_the_next_start__is_over),
        cmocka_unit_test(coolant_left_hot__dark_for_two_hours__has_had_the_time_to_cool),
        cmocka_unit_test(coolant_passes_its_limit__key_turned_at_once__stands_all_the_same),
        cmocka_unit_test(impeller__suspected_certain_beyond_stopped__each_is_told_once),
        cmocka_unit_test(battery_comes_back__end_tells_the_voltage),
        cmocka_unit_test(dead_sensor__engine_stops__does_not_end_before_it_answers),
        cmocka_unit_test(oil_pressure_low__engine_stops__end_says_so),
        cmocka_unit_test(
            two_boxes_on_one_instance__second_place_lost__one_alert_that_names_the_cause),
        cmocka_unit_test(one_address_two_names__said_as_that),
        cmocka_unit_test(battery_box_without_power__volts_and_amperes_are_one_alert),
        cmocka_unit_test(plug_is_loose__exhaust_comes_and_goes__one_alert_that_counts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
