/* silent, conflict and span: what becomes of sensors and of who sends them. */
#include "rules/boat.h"

static void silent__one_sensor_stops__warning_names_it(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 30);
    boat_print(b);
    assert_int_equal(b->count, 1);
    const struct boat_event *e = &b->events[0];
    assert_int_equal(e->alert.kind, KIND_SILENT);
    assert_int_equal(e->alert.priority, PRIORITY_WARNING); /* rules depend on it */
    assert_string_equal(e->alert.channel, "exhaust.1");
    assert_string_equal(e->alert.text,
                        "STARBOARD EXHAUST silent, last 45 °C: exhaust is not watched");
    assert_true(e->at < 60 + 6 + 2 + 2); /* 3 periods of 2 s, hold 2 s */
    b->exhaust[1] = 46;
    boat_run(b, 10);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

static void silent__says_not_available__is_loss_too(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->exhaust[0] = BOAT_NONE;
    boat_run(b, 30);
    assert_int_equal(b->count, 1);
    assert_non_null(strstr(b->events[0].alert.text, "PORT EXHAUST not available, last 45 °C"));
    boat_free(b);
}

static void silent__never_there__is_no_loss(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->exhaust[0] = BOAT_NONE;
    boat_run(b, 120);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* A value that was told as lost goes with the key a moment later: it was not a loss. */
static void silent__told_and_then_switched_off__ends_as_off(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 60);
    b->coolant[0] = BOAT_NONE;
    boat_run(b, 12);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 1);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_SILENT), 0);
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    boat_run(b, 5);
    b->engine_boxes = false;
    boat_run(b, 60);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_SILENT), 1);
    assert_string_equal(boat_last(b)->alert.text, "PORT COOLANT switched off");
    boat_free(b);
}

/* The same box falls silent a second and a third time: told each time, and over each time. */
static void silent__whole_box_again__told_again(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 60);
    for (int time = 1; time <= 3; time++) {
        b->temp_box = false;
        boat_run(b, 40);
        assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), time);
        assert_non_null(
            strstr(boat_last(b)->alert.text, "SENDER 35 silent, PORT EXHAUST and 2 more gone"));
        b->temp_box = true;
        boat_run(b, 60);
        assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_SILENT), time);
    }
    assert_int_equal(b->count, 6);
    boat_free(b);
}

static void silent__one_message_lost__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    for (int i = 0; i < 10; i++) {
        b->exhaust[0] = BOAT_ABSENT;
        boat_run(b, 4);
        b->exhaust[0] = 45;
        boat_run(b, 4);
    }
    assert_int_equal(b->count, 0);
    boat_free(b);
}

static void silent__whole_box__one_alert_for_all_it_sent(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->temp_box = false; /* both exhausts and the engine space */
    boat_run(b, 60);
    boat_print(b);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.kind, KIND_SILENT);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
    assert_non_null(strstr(b->events[0].alert.text, "SENDER 35 silent"));
    assert_non_null(strstr(b->events[0].alert.text, "EXHAUST"));
    assert_non_null(strstr(b->events[0].alert.text, "2 more"));
    b->temp_box = true;
    boat_run(b, 30);
    assert_int_equal(b->count, 2);
    assert_int_equal(b->events[1].event, EVENT_RECTIFIED);
    boat_free(b);
}

static void silent__engine_switched_off_with_its_box__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 120);
    b->rpm[0] = b->rpm[1] = 700;
    boat_run(b, 20);
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    boat_run(b, 5);
    b->engine_boxes = false;
    boat_run(b, 120);
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 0);
    boat_free(b);
}

/* Both in the same second: what they share has failed. */
static void silent__both_engine_boxes_die_at_cruise__one_alert_for_both(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 120);
    b->engine_boxes = false;
    boat_run(b, 30);
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 1);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    assert_non_null(strstr(alerts_at(boat_alerts(b), 0)->text, "2 BOXES silent, "));
    boat_free(b);
}

/* Values of two boxes fall due one after the other: the one that is named first stays, but for an
 * exhaust. */
static void silent__more_falls_due__the_named_one_stays(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    char named[CHANNEL_KEY_SIZE] = "";
    int changes = 0;
    boat_run(b, 120);
    b->engine_boxes = false;
    for (int i = 0; i < 240; i++) {
        boat_run(b, 0.25);
        if (alerts_count(boat_alerts(b)) == 0)
            continue;
        const struct alert *a = alerts_at(boat_alerts(b), 0);
        changes += named[0] && strcmp(named, a->channel) != 0;
        text_copy(named, sizeof named, a->channel);
    }
    assert_true(named[0] != '\0');
    assert_int_equal(changes, 0);
    boat_free(b);
}

static void silent__gap_in_the_record__nobody_is_late(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    uint8_t quiet[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    b->ms += 400000;
    boat_frame(b, 127488, 99, quiet, FRAME_GAP);
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* A clock set forward by 6 s: the record goes on, but nobody was silent for it. Who does not come
 * back is told all the same. */
static void silent__hole_in_the_record__only_who_stays_away(void **state)
{
    (void)state;
    uint8_t quiet[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->ms += 6000;
    boat_frame(b, 127488, 99, quiet, FRAME_HOLE);
    boat_run(b, 30);
    assert_int_equal(b->count, 0);
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 4);
    b->ms += 6000;
    boat_frame(b, 127488, 99, quiet, FRAME_HOLE);
    boat_run(b, 5);
    assert_int_equal(b->count, 0);
    boat_run(b, 10);
    assert_int_equal(b->count, 1);
    assert_string_equal(b->events[0].alert.channel, "exhaust.1");
    boat_free(b);
}

/* Acknowledging the loss of one sensor never hides the loss of the next. */
static void silent__second_sensor_of_one_box__second_alert(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->exhaust[0] = BOAT_NONE;
    boat_run(b, 20);
    alerts_acknowledge(boat_alerts(b), b->events[0].alert.id, plant_now(keeper_plant(b->keeper)));
    b->exhaust[1] = BOAT_NONE;
    boat_run(b, 20);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 2);
    boat_free(b);
}

static void conflict__two_boxes_on_one_instance__caution_names_both(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->second_exhaust = 51;
    boat_run(b, 30);
    boat_print(b);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.kind, KIND_CONFLICT);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_CAUTION);
    assert_non_null(strstr(b->events[0].alert.text, "PORT EXHAUST"));
    assert_non_null(strstr(b->events[0].alert.text, "35"));
    assert_non_null(strstr(b->events[0].alert.text, "36"));
    assert_string_equal(b->events[0].alert.channel, "exhaust.0@36");
    b->second_exhaust = BOAT_ABSENT;
    boat_run(b, 60);
    /* one of the two is gone: no conflict any more, and a sensor that is missed */
    assert_int_equal(alerts_at(boat_alerts(b), 0)->kind, KIND_SILENT);
    boat_free(b);
}

/* The starboard box was given the port one's instance: what is lost is named, and who calls it
 * what.
 */
static void conflict__box_takes_the_others_place__the_lost_place_is_named(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->exhaust[1] = BOAT_ABSENT;
    for (int i = 0; i < 30; i++) {
        boat_temp(b, 36, 1, 14, 45);
        boat_run(b, 2);
    }
    for (int i = 0; i < 30; i++) {
        boat_temp(b, 36, 0, 14, 45);
        boat_run(b, 2);
    }
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 0);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    assert_string_equal(alerts_at(boat_alerts(b), 0)->text,
                        "STARBOARD EXHAUST lost, sender 36 calls it PORT: give each its own "
                        "instance");
    boat_free(b);
}

/* Two boxes on one instance, and then one of them is gone: one alert, which says who. */
static void conflict__one_of_the_two_disappears__same_alert_names_it(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->second_exhaust = 51;
    boat_run(b, 30);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    uint32_t id = alerts_at(boat_alerts(b), 0)->id;
    b->second_exhaust = BOAT_ABSENT;
    boat_run(b, 12);
    boat_print(b);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    assert_int_equal(alerts_at(boat_alerts(b), 0)->id, id);
    assert_non_null(strstr(alerts_at(boat_alerts(b), 0)->text, "PORT EXHAUST @36 silent"));
    boat_run(b, 60);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    assert_int_equal(alerts_at(boat_alerts(b), 0)->id, id);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 0);
    boat_free(b);
}

/* It may be the real starboard elbow: limits run on it, as an alert of its own. */
static void conflict__second_sender_too_hot__limit_holds_for_it(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->second_exhaust = 51;
    boat_run(b, 60);
    b->second_exhaust = 120;
    boat_run(b, 20);
    const struct boat_event *e = boat_find(b, EVENT_RAISED, KIND_LIMIT);
    assert_non_null(e);
    assert_string_equal(e->alert.channel, "exhaust.0@36");
    assert_non_null(strstr(e->alert.text, "PORT EXHAUST @36 120 °C"));
    boat_free(b);
}

static void span__single_wild_samples__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.0]\nspan = -10 C to 150 C\n");
    boat_run(b, 60);
    for (int i = 0; i < 5; i++) {
        b->exhaust[0] = 300;
        boat_run(b, 2);
        b->exhaust[0] = 45;
        boat_run(b, 90);
    }
    boat_print(b);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

static void span__sensor_reads_nonsense__warning_and_no_limit_alarm(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.0]\nspan = -10 C to 150 C\n");
    boat_run(b, 60);
    b->exhaust[0] = 300;
    boat_run(b, 30);
    boat_print(b);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.kind, KIND_SPAN);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
    assert_string_equal(b->events[0].alert.channel, "exhaust.0");
    b->exhaust[0] = 45;
    boat_run(b, 30);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

/* Two values of a box that goes on sending others are two losses, not a silent box. */
static void silent__two_values_of_a_box_that_speaks__are_told_each(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->exhaust[0] = b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 30);
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 2);
    for (int i = 0; i < b->count; i++)
        if (b->events[i].event == EVENT_RAISED)
            assert_null(strstr(b->events[i].alert.text, "SENDER"));
    boat_free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(silent__whole_box_again__told_again),
        cmocka_unit_test(silent__told_and_then_switched_off__ends_as_off),
        cmocka_unit_test(silent__two_values_of_a_box_that_speaks__are_told_each),
        cmocka_unit_test(silent__one_sensor_stops__warning_names_it),
        cmocka_unit_test(silent__says_not_available__is_loss_too),
        cmocka_unit_test(silent__never_there__is_no_loss),
        cmocka_unit_test(silent__one_message_lost__nothing),
        cmocka_unit_test(silent__whole_box__one_alert_for_all_it_sent),
        cmocka_unit_test(silent__engine_switched_off_with_its_box__nothing),
        cmocka_unit_test(silent__both_engine_boxes_die_at_cruise__one_alert_for_both),
        cmocka_unit_test(silent__more_falls_due__the_named_one_stays),
        cmocka_unit_test(silent__gap_in_the_record__nobody_is_late),
        cmocka_unit_test(silent__hole_in_the_record__only_who_stays_away),
        cmocka_unit_test(silent__second_sensor_of_one_box__second_alert),
        cmocka_unit_test(conflict__two_boxes_on_one_instance__caution_names_both),
        cmocka_unit_test(conflict__box_takes_the_others_place__the_lost_place_is_named),
        cmocka_unit_test(conflict__one_of_the_two_disappears__same_alert_names_it),
        cmocka_unit_test(conflict__second_sender_too_hot__limit_holds_for_it),
        cmocka_unit_test(span__single_wild_samples__nothing),
        cmocka_unit_test(span__sensor_reads_nonsense__warning_and_no_limit_alarm),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
