/* A bus on which nobody speaks any more: one alert of kind `bus`, not one for each sender. Times
 * are those of the shipped rules: late after 3 periods and 2 s at least, told after another 2 s. */
#include "rules/boat.h"

#include "bus/condition.h"

#define SILENT_EARLIEST 4.0 /* of the engine boxes, which speak ten times a second */

static const struct channel *channel(const struct boat *b, enum quantity q, uint8_t place)
{
    return plant_find(keeper_plant(b->keeper),
                      (struct channel_id){.quantity = (uint8_t)q, .place = place});
}

static size_t standing(const struct boat *b)
{
    size_t n = 0;
    for (size_t i = 0; i < alerts_count(boat_alerts(b)); i++)
        n += alerts_at(boat_alerts(b), i)->active;
    return n;
}

static struct boat *boat_on(const char *name, const char *text)
{
    struct boat *b = boat_new(text);
    keeper_name_iface(b->keeper, 0, name);
    return b;
}

static void quiet__five_senders_at_once__one_alert_no_later_than_the_first_silent(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    boat_run(b, 120);
    boat_wait(b, 600);
    boat_print(b);
    assert_int_equal(b->count, 1);
    const struct boat_event *e = &b->events[0];
    assert_int_equal(e->event, EVENT_RAISED);
    assert_int_equal(e->alert.kind, KIND_BUS);
    assert_int_equal(e->alert.priority, PRIORITY_WARNING);
    assert_string_equal(e->alert.channel, "");
    assert_true(e->at <= 120 + SILENT_EARLIEST + 1.25); /* looked at once a second */
    assert_non_null(strstr(e->alert.text, "can0: no frame at all for "));
    assert_non_null(strstr(e->alert.text, " s: check power and cable of the bus"));
    /* the words go on, and what is shown of the channels is their age */
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    assert_string_equal(alerts_at(boat_alerts(b), 0)->text,
                        "can0: no frame at all for 10 min: check power and cable of the bus");
    assert_int_equal(channel(b, QTY_EXHAUST, 0)->status, READING_STALE);
    assert_int_equal(channel(b, QTY_RPM, 1)->status, READING_STALE);
    assert_int_equal(channel(b, QTY_BATTERY_VOLTS, 0)->status, READING_STALE);
    boat_free(b);
}

static void quiet__bus_is_named_as_its_interface(void **state)
{
    static const char *const rows[][2] = {{"", "BUS: no frame"}, {"x", "x: no frame"}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct boat *b = boat_on(rows[i][0], NULL);
        boat_run(b, 60);
        boat_wait(b, 60);
        assert_int_equal(b->count, 1);
        assert_memory_equal(b->events[0].alert.text, rows[i][1], strlen(rows[i][1]));
        boat_free(b);
    }
}

static void quiet__same_boat_with_that_rule_off__silent_boxes_at_the_same_time(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    boat_run(b, 120);
    boat_wait(b, 60);
    double at = b->events[0].at;
    boat_free(b);
    b = boat_on("can0", "[bus trouble]\nenabled = no\n");
    boat_run(b, 120);
    boat_wait(b, 60);
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_BUS), 0);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 1); /* they fell together */
    assert_non_null(strstr(alerts_at(boat_alerts(b), 0)->text, "5 BOXES silent, "));
    assert_true(at <= b->events[0].at);
    boat_free(b);
}

static void quiet__all_come_back__normal_and_nobody_silent(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    boat_run(b, 120);
    boat_wait(b, 60);
    boat_run(b, 60);
    boat_print(b);
    assert_int_equal(b->count, 2);
    assert_int_equal(b->events[1].event, EVENT_RECTIFIED);
    assert_int_equal(b->events[1].alert.kind, KIND_BUS);
    assert_true(b->events[1].at <= 180 + 1.25);
    assert_int_equal(standing(b), 0);
    boat_free(b);
}

static void quiet__one_sender_stays_away__its_own_alert_then(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    boat_run(b, 120);
    boat_wait(b, 60);
    b->temp_box = false;
    boat_run(b, 60);
    boat_print(b);
    assert_int_equal(b->count, 3);
    assert_int_equal(b->events[1].event, EVENT_RECTIFIED);
    assert_int_equal(b->events[2].event, EVENT_RAISED);
    assert_int_equal(b->events[2].alert.kind, KIND_SILENT);
    assert_non_null(strstr(b->events[2].alert.text, "SENDER 35 silent"));
    assert_true(b->events[2].at <= 180 + 15);
    b->temp_box = true;
    boat_run(b, 30);
    assert_int_equal(standing(b), 0);
    boat_free(b);
}

/* A plug that makes contact for a moment brings no flood behind it. */
/* One that sends every 5 s gets three of its periods to come back, then its hold of 2 s. */
static void quiet__a_slow_sender_stays_away__gets_three_of_its_periods(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    b->temp_period_s = 5;
    boat_run(b, 300);
    boat_wait(b, 60);
    b->temp_box = false;
    boat_run(b, 60);
    boat_print(b);
    assert_int_equal(b->events[b->count - 1].event, EVENT_RAISED);
    assert_int_equal(b->events[b->count - 1].alert.kind, KIND_SILENT);
    assert_near(b->events[b->count - 1].at, 360 + 15 + 2, 1.3);
    boat_free(b);
}

static void quiet__traffic_for_two_seconds__the_same_alert_again(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    boat_run(b, 120);
    boat_wait(b, 30);
    boat_run(b, 2);
    boat_wait(b, 60);
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 0);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    assert_int_equal(standing(b), 1);
    boat_free(b);
}

static void quiet__sensor_was_missed_before__its_alert_stays(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    boat_run(b, 120);
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 30);
    boat_wait(b, 30);
    boat_print(b);
    assert_int_equal(b->count, 2);
    assert_string_equal(b->events[0].alert.channel, "exhaust.1");
    assert_int_equal(b->events[1].alert.kind, KIND_BUS);
    assert_int_equal(standing(b), 2);
    boat_free(b);
}

/* A box among others that go on: no matter how seldom those speak. */
static void quiet__one_box_dies_beside_slow_ones__is_that_box(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    b->engines = 1;
    b->temp_period_s = 5;
    b->fuel = BOAT_ABSENT;
    boat_run(b, 120);
    b->engine_boxes = false;
    boat_run(b, 60);
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_BUS), 0);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 1);
    assert_non_null(strstr(b->events[0].alert.text, "SENDER 10 silent"));
    boat_free(b);
}

static void send_cabin(struct boat *b)
{
    boat_temp(b, 50, 0, 4, 21);
}

static void quiet__one_sender_every_5_s__nothing_until_it_stops(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    for (int i = 0; i < 120; i++) {
        send_cabin(b);
        boat_wait(b, i % 10 == 9 ? 9.5 : 5); /* and now and then one is lost */
    }
    assert_int_equal(b->count, 0);
    boat_wait(b, 60);
    boat_print(b);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.kind, KIND_BUS);
    boat_free(b);
}

/* Nothing was ever there that could be missed. */
static void quiet__no_traffic_since_the_start__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    boat_wait(b, 600);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* Engines, tanks and batteries on can0; the temperature box speaks by can1. */
static void run_two(struct boat *b, int seconds, bool first, bool second)
{
    for (int i = 0; i < 4 * seconds; i++) {
        b->iface = 0;
        if (first)
            boat_run(b, 0.25);
        else
            boat_wait(b, 0.25);
        b->iface = 1;
        if (second && i % 4 == 0)
            send_cabin(b);
        if (second && i % 8 == 1)
            boat_temp(b, 51, 0, 14, 45);
    }
}

static void quiet__one_of_two_interfaces__names_it_and_the_other_goes_on(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    keeper_name_iface(b->keeper, 1, "can1");
    b->temp_box = false;
    run_two(b, 120, true, true);
    assert_int_equal(b->count, 0);
    run_two(b, 60, true, false);
    boat_print(b);
    assert_int_equal(b->count, 1);
    assert_non_null(strstr(b->events[0].alert.text, "can1: no frame at all"));
    run_two(b, 60, false, false);
    assert_int_equal(b->count, 2);
    assert_non_null(strstr(b->events[1].alert.text, "can0: no frame at all"));
    run_two(b, 60, true, false);
    boat_print(b);
    assert_int_equal(b->count, 3);
    assert_int_equal(b->events[2].event, EVENT_RECTIFIED);
    assert_non_null(strstr(b->events[2].alert.text, "can0"));
    assert_int_equal(standing(b), 1);
    run_two(b, 60, true, true);
    assert_int_equal(standing(b), 0);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 0);
    boat_free(b);
}

/* Three boxes of each of two buses, of other addresses than the boat's, and one that goes on. */
static void run_branches(struct boat *b, int seconds, int gone)
{
    for (int i = 0; i < 4 * seconds; i++) {
        for (uint8_t bus = 0; bus < 2; bus++) {
            b->iface = bus;
            for (uint8_t box = 0; box < 4; box++)
                if (i % 4 == box && (box == 3 || box >= gone))
                    boat_temp(b, (uint8_t)(60 + 10 * bus + box), (uint8_t)(20 + 10 * bus + box), 7,
                              5 + box);
        }
        boat_wait(b, 0.25);
    }
    b->iface = 0;
}

/* A feed or a branch of the cable is lost: somebody else still speaks on either bus. */
static void quiet__boxes_of_two_buses_gone_together__one_alert_a_bus(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    keeper_name_iface(b->keeper, 1, "can1");
    run_branches(b, 60, 0);
    assert_int_equal(b->count, 0);
    run_branches(b, 60, 3);
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 2);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_BUS), 0);
    assert_int_equal(standing(b), 2);
    const char *first = alerts_at(boat_alerts(b), 0)->text;
    const char *second = alerts_at(boat_alerts(b), 1)->text;
    assert_non_null(strstr(first, "3 BOXES on can"));
    assert_non_null(strstr(second, "3 BOXES on can"));
    assert_string_not_equal(first, second);
    run_branches(b, 60, 1); /* two of each are back */
    assert_int_equal(standing(b), 2);
    run_branches(b, 60, 0);
    assert_int_equal(standing(b), 0);
    boat_free(b);
}

static void quiet__boxes_of_one_bus_gone_a_minute_apart__an_alert_each(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    keeper_name_iface(b->keeper, 1, "can1");
    run_branches(b, 60, 0);
    run_branches(b, 60, 1);
    assert_int_equal(standing(b), 2); /* one of either bus */
    run_branches(b, 60, 2);
    boat_print(b);
    assert_int_equal(standing(b), 4);
    boat_free(b);
}

/* Of two boxes whose last frames lie so far apart: no more than three seconds is one loss. */
static void quiet__last_frames_three_seconds_apart__is_one_loss(void **state)
{
    static const struct {
        int apart_ms, alerts;
    } rows[] = {{2900, 1}, {3000, 1}, {3100, 2}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct boat *b = boat_on("can0", NULL);

        for (int ms = 0; ms < 120000; ms += 100) {
            if (ms % 1000 == 0 && ms <= 60000)
                boat_temp(b, 60, 20, 7, 5);
            if (ms % 1000 == rows[i].apart_ms % 1000 && ms <= 60000 + rows[i].apart_ms)
                boat_temp(b, 61, 21, 7, 6);
            if (ms % 1000 == 500)
                boat_temp(b, 62, 22, 7, 7);
            b->ms += 100;
        }
        assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), rows[i].alerts);
        assert_int_equal(standing(b), rows[i].alerts);
        boat_free(b);
    }
}

/* The first box had one value that was due at once and another that comes seldom: when that is due
 * too, its box is one of several already, and no alert of its own is made of it. */
static void quiet__more_of_the_first_box__joins_the_others(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    for (int ms = 0; ms < 160000; ms += 100) {
        if (ms % 1000 == 0 && ms <= 100000)
            boat_temp(b, 60, 20, 7, 5);
        if (ms % 5000 == 0 && ms <= 100000)
            boat_temp(b, 60, 23, 7, 5);
        if (ms % 1000 == 600 && ms <= 102600)
            boat_temp(b, 61, 21, 7, 6);
        if (ms % 1000 == 500)
            boat_temp(b, 62, 22, 7, 7);
        b->ms += 100;
    }
    boat_print(b);
    assert_int_equal(standing(b), 1);
    assert_non_null(strstr(alerts_at(boat_alerts(b), 0)->text, "2 BOXES"));
    boat_free(b);
}

/* Error frames are of no sender: a controller alone on its cable makes them. */
static void quiet__nothing_but_error_frames__is_quiet(void **state)
{
    (void)state;
    uint8_t none[8] = {0};
    struct boat *b = boat_on("can0", NULL);
    boat_run(b, 120);
    for (int i = 0; i < 100; i++) {
        boat_frame(b, 0, 0, none, FRAME_ERROR);
        boat_wait(b, 0.25);
    }
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.kind, KIND_BUS);
    boat_free(b);
}

/* The hole of a log: nobody was silent in it. */
static void quiet__hole_and_gap_in_a_log__nothing(void **state)
{
    (void)state;
    uint8_t none[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    struct boat *b = boat_on("can0", NULL);
    boat_run(b, 120);
    b->ms += 8000;
    boat_frame(b, 127488, 99, none, FRAME_HOLE);
    boat_run(b, 60);
    b->ms += 400000;
    boat_frame(b, 127488, 99, none, FRAME_GAP);
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* The interface's own alert speaks for all of it, and for a while after it is up again. */
static void quiet__interface_known_to_be_down__no_second_alert(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    boat_run(b, 120);
    uint32_t code = CONDITION_CODE(CONDITION_DOWN, 0);
    keeper_bus(b->keeper, code, PRIORITY_WARNING, "can0 is down", true,
               plant_now(keeper_plant(b->keeper)));
    boat_wait(b, 60);
    assert_int_equal(b->count, 1);
    keeper_bus(b->keeper, code, PRIORITY_WARNING, "", false, plant_now(keeper_plant(b->keeper)));
    boat_wait(b, 2);
    boat_run(b, 60);
    boat_print(b);
    assert_int_equal(b->count, 2);
    assert_int_equal(standing(b), 0);
    boat_free(b);
}

static void quiet__up_again_but_nobody_speaks__is_told(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    boat_run(b, 120);
    uint32_t code = CONDITION_CODE(CONDITION_DOWN, 0);
    keeper_bus(b->keeper, code, PRIORITY_WARNING, "can0 is down", true,
               plant_now(keeper_plant(b->keeper)));
    boat_wait(b, 60);
    keeper_bus(b->keeper, code, PRIORITY_WARNING, "", false, plant_now(keeper_plant(b->keeper)));
    boat_wait(b, 10);
    assert_int_equal(b->count, 3);
    assert_non_null(strstr(boat_last(b)->alert.text, "can0: no frame at all"));
    boat_free(b);
}

/* What was asked for as an alarm is not said as less because all are gone. */
static void quiet__silence_of_one_is_an_alarm__the_bus_is_one(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", "[silent exhaust]\npriority = alarm\n[bus trouble]\n"
                                     "at most = caution\n");
    boat_run(b, 120);
    boat_wait(b, 60);
    boat_print(b);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    assert_int_equal(alerts_at(boat_alerts(b), 0)->priority, PRIORITY_ALARM);
    boat_free(b);
}

/* Engines stopped and their boxes gone with the key, on a bus that is theirs alone. */
static void quiet__switched_off_with_the_key__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_on("can0", NULL);
    keeper_name_iface(b->keeper, 1, "can1");
    b->temp_box = false;
    b->volts = b->fuel = BOAT_ABSENT;
    run_two(b, 120, true, true);
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    run_two(b, 10, true, true);
    b->engine_boxes = false;
    run_two(b, 60, false, true);
    boat_print(b);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(quiet__bus_is_named_as_its_interface),
        cmocka_unit_test(quiet__five_senders_at_once__one_alert_no_later_than_the_first_silent),
        cmocka_unit_test(quiet__same_boat_with_that_rule_off__silent_boxes_at_the_same_time),
        cmocka_unit_test(quiet__boxes_of_two_buses_gone_together__one_alert_a_bus),
        cmocka_unit_test(quiet__boxes_of_one_bus_gone_a_minute_apart__an_alert_each),
        cmocka_unit_test(quiet__all_come_back__normal_and_nobody_silent),
        cmocka_unit_test(quiet__one_sender_stays_away__its_own_alert_then),
        cmocka_unit_test(quiet__a_slow_sender_stays_away__gets_three_of_its_periods),
        cmocka_unit_test(quiet__traffic_for_two_seconds__the_same_alert_again),
        cmocka_unit_test(quiet__sensor_was_missed_before__its_alert_stays),
        cmocka_unit_test(quiet__one_box_dies_beside_slow_ones__is_that_box),
        cmocka_unit_test(quiet__one_sender_every_5_s__nothing_until_it_stops),
        cmocka_unit_test(quiet__no_traffic_since_the_start__nothing),
        cmocka_unit_test(quiet__one_of_two_interfaces__names_it_and_the_other_goes_on),
        cmocka_unit_test(quiet__more_of_the_first_box__joins_the_others),
        cmocka_unit_test(quiet__last_frames_three_seconds_apart__is_one_loss),
        cmocka_unit_test(quiet__nothing_but_error_frames__is_quiet),
        cmocka_unit_test(quiet__hole_and_gap_in_a_log__nothing),
        cmocka_unit_test(quiet__interface_known_to_be_down__no_second_alert),
        cmocka_unit_test(quiet__up_again_but_nobody_speaks__is_told),
        cmocka_unit_test(quiet__silence_of_one_is_an_alarm__the_bus_is_one),
        cmocka_unit_test(quiet__switched_off_with_the_key__nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
