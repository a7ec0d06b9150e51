/* silent, of what is configured and was never heard. */
#include "rules/boat.h"
#include "alerts/words.h"

#define STARBOARD "[channel exhaust.1]\nlabel = elbow\n"

static void never__configured_exhaust_not_there__warning_says_where_and_what(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.1]\nhidden = no\n");
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 115);
    assert_int_equal(b->count, 0);
    boat_run(b, 15);
    boat_print(b);
    assert_int_equal(b->count, 1);
    const struct alert *a = &b->events[0].alert;
    assert_int_equal(a->kind, KIND_SILENT);
    assert_int_equal(a->priority, PRIORITY_WARNING);
    assert_string_equal(a->channel, "exhaust.1");
    assert_string_equal(a->rule, "exhaust");
    assert_string_equal(
        a->text, "STARBOARD EXHAUST never heard as exhaust.1: check power, plug and instance");
    assert_true(isnan(a->value)); /* missing is never zero */
    assert_true(text_width(a->text) <= WORDS_COLUMNS);
    b->exhaust[1] = 45;
    boat_run(b, 10);
    assert_int_equal(b->count, 2);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

static void never__all_there_or_nothing_configured__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new(STARBOARD "[channel fuel-tank.0]\ncapacity = 400 L\n");
    boat_run(b, 300);
    assert_int_equal(b->count, 0);
    boat_free(b);
    b = boat_new(NULL);
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 300);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* A plug that is pulled and a generator that was not needed are no missing sensors. */
static void never__alternating_current__is_switched_off_more_often_than_not(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel ac-volts.1.1]\nhidden = no\n[channel ac-watts.1.1]\n"
                              "hidden = no\n[channel ac-in-hertz.0.1]\nhidden = no\n");
    boat_run(b, 300);
    assert_int_equal(b->count, 0);
    boat_free(b);
    b = boat_new("[channel ac-out-volts.0.1]\nhidden = no\n"); /* an inverter is there */
    boat_run(b, 300);
    assert_int_equal(b->count, 1);
    boat_free(b);
}

static void never__configured_sender__named_and_told_whether_it_speaks(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.1]\nsource = 35\n[channel oil-tank.0]\n"
                              "source = 77\n");
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 130);
    boat_print(b);
    assert_int_equal(b->count, 2);
    assert_string_equal(b->events[0].alert.text,
                        "STARBOARD EXHAUST never heard from sender 35: check its sensor");
    assert_string_equal(b->events[1].alert.text,
                        "OIL TANK never heard from sender 77: check its power and plug");
    assert_int_equal(b->events[1].alert.priority, PRIORITY_CAUTION);
    boat_free(b);
}

/* A sender speaks where it was heard on the interface that was named, on any where none was. */
static void never__configured_sender__on_its_interface(void **state)
{
    static const struct {
        const char *source, *text;
    } rows[] = {
        {"35", "STARBOARD EXHAUST never heard from sender 35: check its sensor"},
        {"x:35", "STARBOARD EXHAUST never heard from sender 35 on x: check its sensor"},
        {"y:35", "STARBOARD EXHAUST never heard from sender 35 on y: check its power and plug"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[80];
        snprintf(text, sizeof text, "[channel exhaust.1]\nsource = %s\n", rows[i].source);
        struct boat *b = boat_new(text);
        keeper_name_iface(b->keeper, 0, "x");
        b->exhaust[1] = BOAT_ABSENT;
        boat_run(b, 130);
        assert_int_equal(b->count, 1);
        assert_string_equal(b->events[0].alert.text, rows[i].text);
        boat_free(b);
    }
}

static void never__many_of_one_sender__one_alert(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.0]\nsource = 35\n[channel exhaust.1]\n"
                              "source = 35\n[channel engine-space.0]\nsource = 35\n");
    b->temp_box = false;
    boat_run(b, 150);
    boat_print(b);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
    assert_string_equal(b->events[0].alert.text, "SENDER 35 never heard, PORT EXHAUST and 2 more: "
                                                 "check its power and plug");
    b->temp_box = true;
    boat_run(b, 10);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

/* A bank of switches on the wrong number is one mistake, however many senders are missing too. */
static void never__hundreds__few_alerts(void **state)
{
    (void)state;
    char *text = calloc(1, 40000);
    size_t at = 0;
    for (int i = 0; i < 160; i++)
        at += (size_t)snprintf(text + at, 40000 - at, "[channel %s.%d]\nsource = %d\n",
                               i % 4 == 0   ? "cabin"
                               : i % 4 == 1 ? "humidity"
                               : i % 4 == 2 ? "sea"
                                            : "freezer",
                               i / 4, 100 + i / 4);
    for (int i = 1; i <= 28; i++)
        at +=
            (size_t)snprintf(text + at, 40000 - at,
                             "[state s%d]\nchannel = switch.9.%d\non longer than = 5 min\n", i, i);
    struct boat *b = boat_new(text);
    boat_run(b, 150);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 41);
    assert_non_null(strstr(boat_last(b)->alert.text, "SWITCH 9.1 and 27 more never heard"));
    boat_free(b);
    free(text);
}

static void never__engine_off__not_missed_until_it_runs(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.1]\nhidden = no\n");
    b->exhaust[1] = BOAT_ABSENT;
    b->rpm[1] = 0;
    b->oil_kpa[1] = 0;
    boat_run(b, 300);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 0);
    b->rpm[1] = 2200;
    b->oil_kpa[1] = 400;
    boat_run(b, 100);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 0);
    boat_run(b, 30);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 1);
    /* what is told stands through every stop, and is told once */
    for (int i = 0; i < 3; i++) {
        b->rpm[1] = 0;
        b->oil_kpa[1] = 0;
        boat_run(b, 200);
        b->rpm[1] = 2200;
        b->oil_kpa[1] = 400;
        boat_run(b, 200);
    }
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_SILENT), 0);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 1);
    b->exhaust[1] = 45;
    boat_run(b, 10);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_SILENT), 1);
    boat_free(b);
}

/* The boxes of both engines are off with the key: neither speed nor anything else of them. */
static void never__engine_boxes_off__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel rpm.0]\nlabel = speed\n[channel coolant.0]\nlabel = c\n");
    b->engine_boxes = false;
    boat_run(b, 600);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

static void never__speed_missing_while_the_box_speaks__told(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel rpm.0]\nhidden = no\n");
    b->rpm[0] = BOAT_ABSENT;
    boat_run(b, 130);
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 1);
    assert_non_null(strstr(b->events[0].alert.text, "PORT SPEED never heard as rpm.0"));
    assert_int_equal(b->events[0].alert.priority,
                     PRIORITY_WARNING); /* the cooling watch needs it */
    boat_free(b);
}

static void never__only_not_available__told_as_such(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.0]\nhidden = no\n");
    b->exhaust[0] = BOAT_NONE;
    boat_run(b, 130);
    assert_int_equal(b->count, 1);
    assert_string_equal(b->events[0].alert.text,
                        "PORT EXHAUST never heard with a value: check sensor and wiring");
    boat_free(b);
}

/* A rule on a switch that does not exist watches nothing. */
static void never__named_by_a_rule_alone__told(void **state)
{
    (void)state;
    struct boat *b = boat_new("[state bilge]\nchannel = switch.0.2\non longer than = 5 min\n"
                              "[combined hot]\nwhen = oil-tank.3 above 90 % and engine running\n");
    boat_run(b, 130);
    boat_print(b);
    assert_int_equal(b->count, 2);
    assert_string_equal(b->events[0].alert.channel, "switch.0.2");
    assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
    assert_string_equal(b->events[1].alert.channel, "oil-tank.3");
    boat_free(b);
}

/* Nothing at all is heard: that is no sensor's fault. Time goes on by ticks, as live. */
static void never__quiet_bus__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.1]\nhidden = no\n");
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 100);
    for (int i = 0; i < 4 * 600; i++) {
        b->ms += 250;
        keeper_tick(b->keeper, (struct stamp){BOAT_WALL_NS + b->ms * NS_PER_MS,
                                              TIMELINE_START + b->ms * NS_PER_MS});
    }
    for (int i = 0; i < b->count; i++)
        assert_null(strstr(b->events[i].alert.text, "never heard"));
    int before = b->count;
    boat_run(b, 5); /* quiet time has not counted */
    for (int i = before; i < b->count; i++)
        assert_null(strstr(b->events[i].alert.text, "never heard"));
    boat_free(b);
}

static void never__figure_in_the_configuration__obeyed(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.1]\nhidden = no\n[silent exhaust]\n"
                              "never heard after = 20 s\n[channel oil-tank.0]\nlabel = oil\n"
                              "[silent other]\nnever heard after = never\n");
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 15);
    assert_int_equal(b->count, 0);
    boat_run(b, 585);
    assert_int_equal(b->count, 1);
    assert_true(b->events[0].at < 25);
    boat_free(b);
}

static void never__new_configuration__mark_and_sweep(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.1]\nhidden = no\n");
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 130);
    assert_int_equal(b->count, 1);
    struct config_messages *m = NULL;
    struct settings *s = config_load_text("test", "[channel oil-tank.0]\nhidden = no\n", &m);
    config_messages_free(m);
    assert_non_null(s);
    keeper_reconfigure(b->keeper, s);
    settings_free(b->settings);
    b->settings = s;
    boat_run(b, 5);
    boat_print(b);
    assert_int_equal(b->count, 3);
    assert_int_equal(b->events[1].event, EVENT_RECTIFIED);
    assert_string_equal(b->events[2].alert.channel, "oil-tank.0");
    boat_free(b);
}

/* A dry sensor arrives under another key; a worked-out value arrives not at all. */
static void never__dry_or_derived__not_missed(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.0]\nsensor = dry\n[limit econ]\n"
                              "channel = economy\nbelow = 0.1 nmi/L\n");
    b->exhaust[0] = 310;
    boat_run(b, 200);
    boat_print(b);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 0);
    boat_free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(never__configured_sender__on_its_interface),
        cmocka_unit_test(never__configured_exhaust_not_there__warning_says_where_and_what),
        cmocka_unit_test(never__all_there_or_nothing_configured__nothing),
        cmocka_unit_test(never__alternating_current__is_switched_off_more_often_than_not),
        cmocka_unit_test(never__configured_sender__named_and_told_whether_it_speaks),
        cmocka_unit_test(never__many_of_one_sender__one_alert),
        cmocka_unit_test(never__hundreds__few_alerts),
        cmocka_unit_test(never__engine_off__not_missed_until_it_runs),
        cmocka_unit_test(never__engine_boxes_off__nothing),
        cmocka_unit_test(never__speed_missing_while_the_box_speaks__told),
        cmocka_unit_test(never__only_not_available__told_as_such),
        cmocka_unit_test(never__named_by_a_rule_alone__told),
        cmocka_unit_test(never__quiet_bus__nothing),
        cmocka_unit_test(never__figure_in_the_configuration__obeyed),
        cmocka_unit_test(never__new_configuration__mark_and_sweep),
        cmocka_unit_test(never__dry_or_derived__not_missed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
