/* One situation, one alert (MSC.302(87) 5.2): the cooling watch, fixed limits and what the engine
 * reports, together on one boat. */
#include "rules/boat.h"

/* Raw water is lost: exhaust first, coolant minutes later (as in the accident of check value 3.5),
 * the engine's own bits last. */
static void raw_water_lost__exhaust_coolant_and_bits__one_alert(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 400);
    boat_ramp(b, &b->exhaust[0], 160, 90);
    boat_ramp(b, &b->coolant[0], 110, 120);
    b->status1[0] = 1u << 1 | 1u << 7;
    boat_run(b, 30);
    boat_print(b);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    assert_int_equal(alerts_at(boat_alerts(b), 0)->priority, PRIORITY_ALARM);
    assert_string_equal(alerts_at(boat_alerts(b), 0)->channel, "exhaust.0");
    boat_free(b);
}

static void fire__rise_then_limits__one_alert_that_says_fire(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 400);
    boat_ramp(b, &b->space, 110, 240); /* 19.5 K/min; heat detectors go off at 8.3 */
    boat_run(b, 10);
    boat_print(b);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    const struct alert *a = alerts_at(boat_alerts(b), 0);
    assert_true(a->priority >= PRIORITY_ALARM);
    assert_int_equal(a->kind, KIND_RISE);
    assert_non_null(strstr(a->text, "FIRE?"));
    assert_non_null(strstr(a->text, "keep hatch shut"));
    assert_true(b->events[0].alert.value < 60); /* before the fixed limit */
    boat_free(b);
}

/* Weed in a common intake, warm shallow water, a heavy load: both exhausts together. */
static void both_exhausts__rise_together__one_alert(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 600);
    for (int i = 0; i < 120; i++) {
        b->exhaust[0] += 0.6;
        b->exhaust[1] += 0.6;
        boat_run(b, 1);
    }
    boat_run(b, 30);
    boat_print(b);
    size_t listed = 0;
    for (size_t i = 0; i < alerts_count(boat_alerts(b)); i++)
        listed += alerts_at(boat_alerts(b), i)->active;
    assert_int_equal(listed, 1);
    assert_int_equal(alerts_at(boat_alerts(b), 0)->priority, PRIORITY_ALARM);
    assert_non_null(strstr(alerts_at(boat_alerts(b), 0)->text, "check raw water"));
    boat_free(b);
}

/* Two engines that fail one after the other are two situations. */
static void both_engines__fail_apart__two_alerts(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 60);
    b->exhaust[0] = 110;
    boat_run(b, 300);
    b->exhaust[1] = 110;
    boat_run(b, 30);
    assert_int_equal(alerts_count(boat_alerts(b)), 2);
    boat_free(b);
}

static void many_limits_of_one_channel__one_alert_each_channel(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH "[channel coolant.0]\ncaution above = 85 C\n"
                                               "[channel coolant.1]\ncaution above = 85 C\n");
    boat_run(b, 120);
    for (int i = 0; i < 100; i++) {
        b->coolant[0] += 0.3;
        b->coolant[1] += 0.3;
        boat_run(b, 2);
    }
    assert_int_equal(alerts_count(boat_alerts(b)), 2);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_LIMIT), 2);
    assert_int_equal(boat_told(b, EVENT_ESCALATED, KIND_LIMIT), 4); /* warning, alarm */
    boat_free(b);
}

/* When the second engine's exhaust was first warned of, with these instances on the bus. */
static double warned_at(int first, char place[CHANNEL_KEY_SIZE])
{
    struct boat *b = boat_new(NULL);
    b->first = first;
    boat_run(b, 400);
    boat_ramp(b, &b->exhaust[1], 160, 90);
    const struct boat_event *e = boat_find(b, EVENT_RAISED, KIND_RISE);
    assert_non_null(e);
    struct boat_event first_told = *e;
    assert_non_null(strstr(first_told.alert.text, "STARBOARD EXHAUST"));
    text_copy(place, CHANNEL_KEY_SIZE, first_told.alert.channel);
    boat_free(b);
    return first_told.at;
}

static void engines__instances_11_and_12__warned_of_as_early_as_0_and_1(void **state)
{
    (void)state;
    char key[CHANNEL_KEY_SIZE];
    double at = warned_at(0, key);
    assert_string_equal(key, "exhaust.1");
    assert_near(warned_at(11, key), at, 0.001);
    assert_string_equal(key, "exhaust.12");
    assert_near(warned_at(251, key), at, 0.001);
    assert_string_equal(key, "exhaust.252");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(raw_water_lost__exhaust_coolant_and_bits__one_alert),
        cmocka_unit_test(fire__rise_then_limits__one_alert_that_says_fire),
        cmocka_unit_test(both_exhausts__rise_together__one_alert),
        cmocka_unit_test(both_engines__fail_apart__two_alerts),
        cmocka_unit_test(engines__instances_11_and_12__warned_of_as_early_as_0_and_1),
        cmocka_unit_test(many_limits_of_one_channel__one_alert_each_channel),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
