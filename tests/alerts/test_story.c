/* How an alert went, told in one line and as JSON: worst, limit, engine, end, and whether somebody
 * acknowledged it. */
#include "support/check.h"

#include "alerts/alert.h"
#include "alerts/event_json.h"
#include "alerts/story.h"
#include "config/config.h"

#include <string.h>

static struct stamp at(int s)
{
    return (struct stamp){(1760000000 + s) * NS_PER_S, (1000 + s) * NS_PER_S};
}

static struct alert_claim coolant(double value, bool beyond, int passed)
{
    return (struct alert_claim){
        .situation = {.group = SITUATION_CHANNEL, .id = {QTY_COOLANT, 0, 0}},
        .claimant = 1,
        .kind = KIND_LIMIT,
        .rule = "coolant-hot",
        .priority = PRIORITY_ALARM,
        .channel = "coolant.0",
        .value = value,
        .unit = UNIT_C,
        .text = "PORT COOLANT",
        .trouble = TROUBLE_COOLANT,
        .stage = beyond ? STAGE_BEYOND : STAGE_CERTAIN,
        .engine = 1,
        .beyond = beyond,
        .passed = passed >= 0 ? at(passed) : (struct stamp){0},
        .worse = 1,
        .figures = ALERT_NO_FIGURES,
        .decimals = 1,
    };
}

static void claim(struct alert_list *l, double value, bool beyond, int t)
{
    struct alert_claim c = coolant(value, beyond, beyond ? 10 : -1);
    alerts_claim(l, &c, at(t));
}

static void keep(void *ctx, const struct alert_event *ev)
{
    struct alert_event *last = ctx;
    static struct alert copy;
    copy = *ev->alert;
    *last = *ev;
    last->alert = &copy;
}

/* 1760000000 is 2025-10-09 08:53:20 UTC. */
static void story__whole_life__tells_when_how_bad_and_how_it_ended(void **state)
{
    (void)state;
    char line[ALERT_STORY_SIZE], json[EVENT_JSON_SIZE];
    struct alert_event last = {0};
    struct alert_list *l = alerts_new(NULL, false);
    alerts_listen(l, keep, &last);
    alerts_engine(l, 0, false, at(0));
    claim(l, 99, false, 5);
    claim(l, 108, true, 10);
    claim(l, 128, true, 40);
    alert_story(line, sizeof line, alerts_at(l, 0), NULL, true, true);
    assert_string_equal(line, "raised 08:53:25, limit passed 08:53:30 for 30 s, highest 128.0 °C "
                              "08:54:00, still standing at the end, not acknowledged");
    assert_true(alerts_acknowledge(l, alerts_at(l, 0)->id, at(45)));
    alerts_engine(l, 0, true, at(50));
    claim(l, 90, false, 70);
    alerts_end(l, 1, END_BACK, 90, at(80));
    assert_int_equal(last.event, EVENT_RECTIFIED);
    alert_story(line, sizeof line, last.alert, NULL, true, true);
    assert_string_equal(line, "raised 08:53:25, limit passed 08:53:30 for 60 s, highest 128.0 °C "
                              "08:54:00, engine stopped 08:54:10, over 08:54:40, acknowledged "
                              "08:54:05");
    /* nobody is there who could, in a log */
    alert_story(line, sizeof line, last.alert, NULL, true, false);
    assert_null(strstr(line, "acknowledged"));
    assert_non_null(alert_event_json(json, sizeof json, &last));
    assert_non_null(strstr(json, "\"worst\":128.0,"));
    assert_non_null(strstr(json, "\"beyond_seconds\":60.0,\"already_beyond\":false,"
                                 "\"also\":null,\"acknowledged\":true"));
    alerts_free(l);
}

/* A log may begin where the limit has been passed for who knows how long. */
static void story__beyond_from_the_first_reading__nobody_saw_it_pass(void **state)
{
    (void)state;
    char line[ALERT_STORY_SIZE], json[EVENT_JSON_SIZE];
    struct alert_event last = {0};
    struct alert_list *l = alerts_new(NULL, false);
    alerts_listen(l, keep, &last);
    struct alert_claim c = coolant(108, true, 0);
    c.already = true;
    alerts_claim(l, &c, at(3));
    c.value = 111;
    alerts_claim(l, &c, at(30));
    alerts_end(l, 1, END_BACK, 90, at(60));
    alert_story(line, sizeof line, last.alert, NULL, true, false);
    assert_string_equal(line, "raised 08:53:23, already past its limit 08:53:20 for 60 s, highest "
                              "111.0 °C 08:53:50, over 08:54:20");
    assert_non_null(alert_event_json(json, sizeof json, &last));
    assert_non_null(strstr(json, "\"beyond_seconds\":60.0,\"already_beyond\":true,"));
    /* when it comes again it is seen to */
    claim(l, 108, true, 70);
    assert_non_null(alert_event_json(json, sizeof json, &last));
    assert_non_null(strstr(json, "\"already_beyond\":false,"));
    alerts_free(l);
}

/* Its box is off, and the claim is not renewed: it is beyond its limit all the same. */
static void story__claim_stands_unrenewed__time_beyond_goes_on(void **state)
{
    (void)state;
    struct alert_list *l = alerts_new(NULL, false);
    claim(l, 128, true, 10);
    alerts_tick(l, at(40));
    assert_int_equal(alerts_at(l, 0)->beyond_ns, 30 * NS_PER_S);
    alerts_tick(l, at(70));
    assert_int_equal(alerts_at(l, 0)->beyond_ns, 60 * NS_PER_S);
    assert_near(alerts_at(l, 0)->worst, 128, 0);
    alerts_free(l);
}

/* Raw water is lost: the exhaust is first, and the coolant has the last word. */
static void story__two_channels_of_one_situation__both_are_told(void **state)
{
    (void)state;
    char line[ALERT_STORY_SIZE], json[EVENT_JSON_SIZE];
    struct alert_event last = {0};
    struct alert_list *l = alerts_new(NULL, false);
    alerts_listen(l, keep, &last);
    struct alert_claim exhaust = coolant(120, true, 3);
    exhaust.situation = (struct situation){.group = SITUATION_COOLING};
    exhaust.channel = "exhaust.0";
    alerts_claim(l, &exhaust, at(5));
    exhaust.value = 312;
    alerts_claim(l, &exhaust, at(20));
    struct alert_claim second = coolant(128, true, 30);
    second.situation = exhaust.situation;
    second.claimant = 2;
    alerts_claim(l, &second, at(31));
    alerts_end(l, 1, END_BACK, 60, at(40));
    assert_string_equal(alerts_at(l, 0)->channel, "coolant.0");
    alerts_finish(l, at(61));
    alert_story(line, sizeof line, last.alert, NULL, true, false);
    assert_string_equal(line, "raised 08:53:25, limit passed 08:53:50 for 31 s, highest 128.0 °C "
                              "08:53:51, still standing at the end; exhaust.0 limit passed "
                              "08:53:23 for 37 s, highest 312.0 °C 08:53:40");
    assert_non_null(alert_event_json(json, sizeof json, &last));
    assert_non_null(strstr(json, "\"also\":[{\"channel\":\"exhaust.0\",\"worst\":312.0,"));
    alerts_free(l);
}

/* Units are those of who reads: 128 °C are 262.4 °F. */
static void story__units_chosen__are_followed(void **state)
{
    (void)state;
    char line[ALERT_STORY_SIZE];
    struct config_messages *messages;
    struct settings *s = config_load_text("t", "[units]\ntemperature = F\n", &messages);
    config_messages_free(messages);
    assert_non_null(s);
    struct alert_list *l = alerts_new(NULL, false);
    claim(l, 128, true, 10);
    alert_story(line, sizeof line, alerts_at(l, 0), s, true, false);
    assert_non_null(strstr(line, "highest 262.4 °F"));
    alerts_free(l);
    settings_free(s);
}

static void json__not_acknowledged__says_so_and_null_for_a_caution(void **state)
{
    (void)state;
    char json[EVENT_JSON_SIZE];
    struct alert_event last = {0};
    struct alert_list *l = alerts_new(NULL, false);
    alerts_listen(l, keep, &last);
    claim(l, 99, false, 5);
    assert_non_null(alert_event_json(json, sizeof json, &last));
    assert_non_null(strstr(json, "\"limit_passed\":null,\"beyond_seconds\":null,"
                                 "\"already_beyond\":null,"
                                 "\"also\":null,\"acknowledged\":false"));
    struct alert_claim c = coolant(99, false, -1);
    c.claimant = 2;
    c.situation.id.place = 1;
    c.priority = PRIORITY_CAUTION;
    alerts_claim(l, &c, at(6));
    assert_non_null(alert_event_json(json, sizeof json, &last));
    assert_non_null(strstr(json, "\"acknowledged\":null"));
    alerts_free(l);
}

/* Who acknowledged the warning has not seen the alarm that it became. */
static void story__grown_after_acknowledging__is_not_acknowledged(void **state)
{
    (void)state;
    struct alert_list *l = alerts_new(NULL, false);
    struct alert_claim c = coolant(99, false, -1);
    c.priority = PRIORITY_WARNING;
    alerts_claim(l, &c, at(5));
    assert_true(alerts_acknowledge(l, alerts_at(l, 0)->id, at(6)));
    claim(l, 108, true, 10);
    assert_int_equal(alerts_at(l, 0)->state, ALERT_UNACKNOWLEDGED);
    assert_true(alerts_at(l, 0)->acknowledged.wall_ns == 0);
    alerts_free(l);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(story__whole_life__tells_when_how_bad_and_how_it_ended),
        cmocka_unit_test(story__two_channels_of_one_situation__both_are_told),
        cmocka_unit_test(story__beyond_from_the_first_reading__nobody_saw_it_pass),
        cmocka_unit_test(story__claim_stands_unrenewed__time_beyond_goes_on),
        cmocka_unit_test(story__units_chosen__are_followed),
        cmocka_unit_test(json__not_acknowledged__says_so_and_null_for_a_caution),
        cmocka_unit_test(story__grown_after_acknowledging__is_not_acknowledged),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
