/* Every kind of alert through every stage: what is told at each, whether it fits, in all units. The
 * words are typed here a second time, so that nobody changes what people are told by accident.
 * 80 columns: a state letter, a blank and a margin leave 76. From 120 on what happens and what to
 * do stand in two lines; at 40 the line is wrapped. */
#include "support/check.h"

#include "alerts/alert.h"
#include "alerts/event_json.h"
#include "alerts/words.h"
#include "base/text.h"
#include "config/config.h"

#include <math.h>
#include <stdlib.h>

static struct stamp at(double s)
{
    return (struct stamp){(int64_t)(s * 1e9) + 1760000000 * NS_PER_S,
                          (int64_t)(s * 1e9) + 1000 * NS_PER_S};
}

static const struct row {
    enum trouble trouble;
    const char *subject;
    enum quantity quantity;
    double value, limit;
    const char *words[STAGE_COUNT];
} rows[] = {
    {TROUBLE_RAW_WATER,
     "STARBOARD EXHAUST",
     QTY_EXHAUST,
     209,
     93.3,
     {"check raw water", "stop engine when safe, check raw water",
      "stop engine when safe, check raw water", "keep cap shut, check raw water",
      "check raw water"}},
    {TROUBLE_SEACOCK,
     "STARBOARD EXHAUST",
     QTY_EXHAUST,
     209,
     93.3,
     {"check raw water, seacock", "stop engine when safe, check raw water",
      "stop engine when safe, check raw water", "keep cap shut, check seacock", "check raw water"}},
    {TROUBLE_BOTH_HOT,
     "STARBOARD EXHAUST",
     QTY_EXHAUST,
     209,
     93.3,
     {"both up, check raw water, load", "stop engines when safe, check raw water",
      "stop engines when safe, check raw water", "keep caps shut, check raw water",
      "check raw water"}},
    {TROUBLE_CIRCULATION,
     "STARBOARD COOLANT",
     QTY_COOLANT,
     128,
     103,
     {"check coolant pump, belt", "stop engine when safe, do not open the cap",
      "stop engine when safe, do not open the cap", "let it cool, do not open the cap",
      "open the cap only when cold"}},
    {TROUBLE_COOLANT_LOST,
     "STARBOARD COOLANT",
     QTY_COOLANT,
     128,
     103,
     {"coolant lost? do not open the cap", "stop engine when safe, do not open the cap",
      "stop engine when safe, do not open the cap", "let it cool, do not open the cap",
      "check coolant level when cold"}},
    {TROUBLE_COOLANT,
     "STARBOARD COOLANT",
     QTY_COOLANT,
     128,
     103,
     {"reduce power, check belt", "stop engine when safe, do not open the cap",
      "stop engine when safe, do not open the cap", "let it cool, do not open the cap",
      "open the cap only when cold"}},
    {TROUBLE_COOLANT_ALONE,
     "STARBOARD COOLANT",
     QTY_COOLANT,
     128,
     103,
     {"check raw water, belt", "stop engine when safe, do not open the cap",
      "stop engine when safe, do not open the cap", "let it cool, do not open the cap",
      "open the cap only when cold"}},
    {TROUBLE_COOLANT_UNCOOLED,
     "STARBOARD COOLANT",
     QTY_COOLANT,
     128,
     103,
     {"check raw water", "stop engine when safe, check raw water",
      "stop engine when safe, check raw water", "keep cap shut, check raw water",
      "check raw water"}},
    {TROUBLE_OIL_HOT,
     "STARBOARD OIL TEMPERATURE",
     QTY_OIL_TEMP,
     135,
     130,
     {"check oil level, cooler", "stop engine when safe, check oil cooler",
      "stop engine when safe, check oil cooler", "let it cool, check oil",
      "check oil level, cooler"}},
    {TROUBLE_OIL_PRESSURE,
     "STARBOARD OIL PRESSURE",
     QTY_OIL_PRESSURE,
     41,
     70,
     {"check oil level", "stop engine when safe, check oil level",
      "stop engine when safe, check oil level", "check oil level", "check oil level"}},
    {TROUBLE_GEAR_HOT,
     "STARBOARD GEAR OIL TEMPERATURE",
     QTY_GEAR_OIL_TEMP,
     115,
     110,
     {"check gear oil, its cooler", "stop engine when safe, check gear oil",
      "stop engine when safe, check gear oil", "check gear oil", "check gear oil, its cooler"}},
    {TROUBLE_GEAR_PRESSURE,
     "STARBOARD GEAR OIL PRESSURE",
     QTY_GEAR_OIL_PRESSURE,
     41,
     60,
     {"check gear oil", "stop engine when safe, check gear oil",
      "stop engine when safe, check gear oil", "check gear oil", "check gear oil"}},
    {TROUBLE_COOLING,
     "STARBOARD EXHAUST GAS",
     QTY_EXHAUST_GAS,
     719,
     700,
     {"check cooling", "stop engine when safe, check cooling",
      "stop engine when safe, check cooling", "let it cool, check cooling", "check cooling"}},
    {TROUBLE_FIRE,
     "ENGINE SPACE",
     QTY_ENGINE_SPACE,
     118,
     75,
     {"watch for fire, keep hatch shut", "FIRE? stop engines, keep hatch shut",
      "FIRE? stop engines, keep hatch shut", "FIRE? keep hatch shut, fuel off",
      "keep hatch shut until it is cold"}},
    {TROUBLE_PETROL,
     "ENGINE SPACE",
     QTY_ENGINE_SPACE,
     30,
     75,
     {"blower on, sniff for petrol", "blower on, sniff for petrol", "blower on, sniff for petrol",
      "blower on, sniff for petrol", "blower on, sniff for petrol"}},
    {TROUBLE_SPACE,
     "ENGINE SPACE",
     QTY_ENGINE_SPACE,
     118,
     75,
     {"check blower, exhaust joints", "FIRE? stop engines, keep hatch shut",
      "FIRE? stop engines, keep hatch shut", "FIRE? keep hatch shut, fuel off",
      "check blower, exhaust joints"}},
    {TROUBLE_SHAFT_SEAL,
     "STARBOARD SHAFT SEAL",
     QTY_SHAFT_SEAL,
     84,
     80,
     {"check seal water", "stop engine when safe, check seal water",
      "stop engine when safe, check seal water", "let it cool, check seal water",
      "check seal water"}},
};
enum { ROWS = sizeof rows / sizeof *rows };

static const struct row *row_of(enum trouble t)
{
    for (int i = 0; i < ROWS; i++)
        if (rows[i].trouble == t)
            return &rows[i];
    fail_msg("no row of trouble %d", (int)t);
    return NULL;
}

static const char *const systems[] = {"", "[units]\ntemperature = F\npressure = psi\n",
                                      "[units]\npressure = bar\n",
                                      "[units]\npressure = psi\n"}; /* as `u` goes through them */

static struct settings *units(const char *text)
{
    struct config_messages *messages = NULL;
    struct settings *s = config_load_text("test", text, &messages);
    config_messages_free(messages);
    assert_non_null(s);
    return s;
}

static struct alert_claim claim_of(const struct row *row, enum rule_kind kind,
                                   enum alert_stage stage, const struct words *w)
{
    return (struct alert_claim){
        .situation = {.group = SITUATION_CHANNEL, .id = {(uint16_t)row->quantity, 1, 0}},
        .claimant = 1,
        .kind = kind,
        .rule = "rule",
        .priority = stage == STAGE_SUSPECTED ? PRIORITY_WARNING : PRIORITY_ALARM,
        .channel = "channel.1",
        .value = row->value,
        .unit = quantity_info(row->quantity)->unit,
        .decimals = 1,
        .words = w,
        .trouble = row->trouble,
        .stage = stage,
        .engine = 2,
        .beyond = stage == STAGE_BEYOND,
        .worse = row->value > row->limit ? 1 : -1,
        .figures = ALERT_NO_FIGURES,
    };
}

/* One line, at 76, 118 and 38 columns. */
static void check_line(const struct row *row, const struct alert *a, const struct settings *s,
                       enum alert_stage stage)
{
    char value[48], line[ALERT_TEXT_SIZE];
    words_value(value, sizeof value, s, row->quantity, row->value, 0);
    assert_int_equal(a->stage, stage);
    assert_string_equal(a->action, row->words[stage]);
    assert_int_equal(strncmp(a->text, row->subject, strlen(row->subject)), 0);
    assert_non_null(strstr(a->text, value));
    text_format(line, sizeof line, ": %s", row->words[stage]);
    assert_non_null(strstr(a->text, line));
    if (text_width(a->text) > 76)
        fail_msg("%d columns: %s", text_width(a->text), a->text);
    assert_int_equal(strncmp(a->what, row->subject, strlen(row->subject)), 0);
    assert_non_null(strstr(a->what, value));
    assert_null(strstr(a->what, row->words[stage]));
    assert_in_range(text_width(a->what), 10, 118);
    int steps = text_width(a->action);
    for (int i = 0; action_step(row->trouble, i); i++)
        steps += 4 + text_width(action_step(row->trouble, i)); /* "  1 " */
    if (steps > 114 || steps < 60)                             /* with margins: what fits on 120 */
        fail_msg("%d columns of steps: %s, %s ...", steps, a->action, action_step(row->trouble, 0));
    assert_in_range(text_width(a->text), 20, 3 * 36); /* three lines of a small window */
}

static void walk(const struct row *row, enum rule_kind kind, const struct settings *s)
{
    struct alert_list *l = alerts_new(NULL, false);
    struct words w = {.quantity = row->quantity,
                      .value = row->value,
                      .rate_per_min = row->value > row->limit ? 54 : -54,
                      .limit = row->limit,
                      .seconds = NAN};
    text_copy(w.subject, sizeof w.subject, row->subject);
    alerts_reword(l, s);
    for (int stage = STAGE_SUSPECTED; stage <= STAGE_BEYOND; stage++) {
        struct alert_claim c = claim_of(row, kind, (enum alert_stage)stage, &w);
        alerts_claim(l, &c, at(stage));
        check_line(row, alerts_at(l, 0), s, (enum alert_stage)stage);
    }
    assert_int_equal(alerts_count(l), 1);
    assert_true(alerts_at(l, 0)->limit_passed.wall_ns == at(STAGE_BEYOND).wall_ns);
    alerts_engine(l, 1, true, at(10));
    check_line(row, alerts_at(l, 0), s, STAGE_STOPPED);
    alerts_engine(l, 1, false, at(11)); /* and is started again */
    check_line(row, alerts_at(l, 0), s, STAGE_BEYOND);
    alerts_end(l, 1, END_BACK, row->value, at(20));
    check_line(row, alerts_at(l, 0), s, STAGE_OVER);
    alerts_free(l);
}

static void every_trouble__through_every_stage__says_what_to_do_and_fits(void **state)
{
    (void)state;
    for (size_t u = 0; u < sizeof systems / sizeof *systems; u++) {
        struct settings *s = units(systems[u]);
        for (int i = 0; i < ROWS; i++)
            for (int kind = 0; kind < KIND_COUNT; kind++)
                walk(&rows[i], (enum rule_kind)kind, s);
        settings_free(s);
    }
}

/* Troubles that have no words of their own take those of the rule, at every stage but the last. */
static void every_other_trouble__through_every_stage__says_its_advice(void **state)
{
    (void)state;
    static const enum trouble troubles[] = {TROUBLE_OTHER, TROUBLE_SENSOR, TROUBLE_CONFLICT,
                                            TROUBLE_BUS, TROUBLE_SELF};
    static const struct row like = {TROUBLE_OTHER, "HOUSE", QTY_BATTERY_VOLTS, 11.2, 11.8, {NULL}};
    for (size_t u = 0; u < sizeof systems / sizeof *systems; u++) {
        struct settings *s = units(systems[u]);
        for (int i = 0; i < 5 * KIND_COUNT; i++) {
            struct alert_list *l = alerts_new(NULL, false);
            struct words w = {.quantity = QTY_BATTERY_VOLTS,
                              .value = 11.2,
                              .rate_per_min = NAN,
                              .limit = NAN,
                              .seconds = NAN,
                              .advice = "charge, or switch loads off"};
            text_copy(w.subject, sizeof w.subject, "HOUSE");
            alerts_reword(l, s);
            for (int stage = STAGE_SUSPECTED; stage <= STAGE_BEYOND; stage++) {
                struct alert_claim c =
                    claim_of(&like, (enum rule_kind)(i / 5), (enum alert_stage)stage, &w);
                c.trouble = troubles[i % 5];
                alerts_claim(l, &c, at(stage));
                const struct alert *a = alerts_at(l, 0);
                assert_int_equal(a->stage, stage);
                assert_string_equal(a->text, "HOUSE 11.2 V: charge, or switch loads off");
                assert_string_equal(a->what, "HOUSE 11.2 V");
                assert_string_equal(a->action, "charge, or switch loads off");
            }
            alerts_end(l, 1, END_BACK, 12.4, at(20));
            assert_string_equal(alerts_at(l, 0)->text, "HOUSE back to 12.4 V");
            alerts_free(l);
        }
        settings_free(s);
    }
}

static void every_trouble__has_a_row_here(void **state)
{
    (void)state;
    for (int t = TROUBLE_RAW_WATER; t <= TROUBLE_SHAFT_SEAL; t++) {
        bool found = false;
        for (int i = 0; i < ROWS; i++)
            found |= rows[i].trouble == (enum trouble)t;
        assert_true(found);
    }
}

/* The longest: its box is off, and only the last value is known. */
static void box_switched_off__last_value__fits(void **state)
{
    (void)state;
    for (int i = 0; i < ROWS; i++) {
        const struct row *row = &rows[i];
        if (action_cooling_ns(row->quantity) == 0)
            continue;
        struct alert_list *l = alerts_new(NULL, false);
        struct words w = {.quantity = row->quantity,
                          .value = NAN,
                          .rate_per_min = NAN,
                          .limit = NAN,
                          .seconds = NAN};
        char more[96];
        text_copy(w.subject, sizeof w.subject, row->subject);
        text_copy(more, sizeof more, " engine off, last ");
        words_add_figure(&w, more, sizeof more, row->quantity, row->value, false);
        text_append(more, sizeof more, WORDS_MORE_END " at ");
        words_add_clock(&w, more, sizeof more, at(0).wall_ns);
        w.more = more;
        struct alert_claim c = claim_of(row, KIND_LIMIT, STAGE_BEYOND, &w);
        alerts_utc(l, true);
        alerts_engine(l, 1, true, at(0));
        alerts_claim(l, &c, at(1));
        const struct alert *a = alerts_at(l, 0);
        if (text_width(a->text) > 76)
            fail_msg("%d columns: %s", text_width(a->text), a->text);
        assert_non_null(strstr(a->what, " at 08:53")); /* date -u -d @1760000000 */
        alerts_free(l);
    }
}

static void advice_of_the_configuration__comes_after_the_engine(void **state)
{
    (void)state;
    char text[96];
    action_words(text, sizeof text, TROUBLE_COOLANT, STAGE_SUSPECTED, "call the mate");
    assert_string_equal(text, "call the mate");
    action_words(text, sizeof text, TROUBLE_COOLANT, STAGE_BEYOND, "call the mate");
    assert_string_equal(text, "stop engine when safe, call the mate");
    action_words(text, sizeof text, TROUBLE_COOLANT, STAGE_STOPPED, "call the mate");
    assert_string_equal(text, "let it cool, do not open the cap");
    action_words(text, sizeof text, TROUBLE_OTHER, STAGE_BEYOND, "charge");
    assert_string_equal(text, "charge");
    action_words(text, sizeof text, TROUBLE_OTHER, STAGE_OVER, "charge");
    assert_string_equal(text, "");
}

static void no_word_of_the_table__opens_what_is_hot(void **state)
{
    (void)state;
    for (int t = 0; t < TROUBLE_COUNT; t++)
        for (int s = STAGE_SUSPECTED; s <= STAGE_STOPPED; s++) {
            char text[96];
            action_words(text, sizeof text, (enum trouble)t, (enum alert_stage)s, NULL);
            const char *open = strstr(text, "open ");
            if (open)
                assert_true(open - text >= 7 && strncmp(open - 7, "do not open", 11) == 0);
        }
}

static void fire__all_engines_stopped__is_the_stage_stopped(void **state)
{
    (void)state;
    struct alert_list *l = alerts_new(NULL, false);
    struct words w = {.quantity = QTY_ENGINE_SPACE,
                      .value = 60,
                      .rate_per_min = 20,
                      .limit = NAN,
                      .seconds = NAN};
    text_copy(w.subject, sizeof w.subject, "ENGINE SPACE");
    struct alert_claim c = claim_of(row_of(TROUBLE_FIRE), KIND_RISE, STAGE_CERTAIN, &w);
    alerts_engine(l, 0, false, at(0));
    alerts_engine(l, 1, false, at(0));
    alerts_claim(l, &c, at(1));
    alerts_engine(l, 1, true, at(2));
    assert_int_equal(alerts_at(l, 0)->stage, STAGE_CERTAIN);
    alerts_engine(l, 0, true, at(3));
    assert_int_equal(alerts_at(l, 0)->stage, STAGE_STOPPED);
    assert_true(alerts_at(l, 0)->stopped.wall_ns == at(3).wall_ns);
    alerts_free(l);
}

static void event_as_json__has_the_story(void **state)
{
    (void)state;
    struct alert_list *l = alerts_new(NULL, false);
    struct words w = {
        .quantity = QTY_EXHAUST, .value = 209, .rate_per_min = NAN, .limit = NAN, .seconds = NAN};
    text_copy(w.subject, sizeof w.subject, "PORT EXHAUST");
    struct alert_claim c = claim_of(&rows[0], KIND_LIMIT, STAGE_BEYOND, &w);
    c.passed = at(1);
    alerts_claim(l, &c, at(2));
    c.value = 150;
    alerts_claim(l, &c, at(3));
    char line[EVENT_JSON_SIZE];
    struct alert_event ev = {EVENT_ENDED, at(9), alerts_at(l, 0), PRIORITY_ALARM};
    assert_non_null(alert_event_json(line, sizeof line, &ev));
    assert_non_null(strstr(line, "\"event\":\"ended\""));
    assert_non_null(strstr(line, "\"stage\":\"beyond\""));
    assert_non_null(strstr(line, "\"worst\":209.0,\"worst_time\":1760000002.000000,"
                                 "\"limit_passed\":1760000001.000000"));
    alerts_free(l);
}

/* ---- what comes and goes ---- */

static void put(struct alert_list *l, double t, bool stands)
{
    struct alert_claim c = {.situation = {.group = SITUATION_BUS, .code = 7},
                            .claimant = 9,
                            .kind = KIND_BUS,
                            .rule = "bus",
                            .priority = PRIORITY_WARNING,
                            .value = NAN,
                            .text = "can0 is down: check the plug",
                            .figures = ALERT_NO_FIGURES};
    if (stands)
        alerts_claim(l, &c, at(t));
    else
        alerts_withdraw(l, 9, at(t));
}

struct tally {
    int raised, rectified;
};

static void count(void *ctx, const struct alert_event *ev)
{
    struct tally *t = ctx;
    t->raised += ev->event == EVENT_RAISED;
    t->rectified += ev->event == EVENT_RECTIFIED;
}

/* A loose plug: 30 link changes in a minute were 30 alerts. */
static void flapping__thirty_times_a_minute__one_alert_that_says_how_often(void **state)
{
    (void)state;
    struct alert_list *l = alerts_new(NULL, false);
    struct tally t = {0};
    alerts_utc(l, true);
    alerts_listen(l, count, &t);
    for (int i = 0; i < 30; i++) {
        put(l, 2 * i, true);
        put(l, 2 * i + 1, false);
        alerts_tick(l, at(2 * i + 1.5));
    }
    assert_int_equal(t.raised, 4);
    assert_int_equal(alerts_count(l), 1);
    assert_true(alerts_at(l, 0)->active);
    assert_int_equal(alerts_at(l, 0)->repeats, 29);
    assert_non_null(strstr(alerts_at(l, 0)->text, ", 30 times since 08:53"));
    assert_true(alerts_at(l, 0)->first.wall_ns == at(0).wall_ns);
    alerts_tick(l, at(59 + 59));
    assert_true(alerts_at(l, 0)->active);
    alerts_tick(l, at(59 + 61));
    assert_false(alerts_at(l, 0)->active);
    assert_int_equal(t.rectified, 4);
    alerts_free(l);
}

static void coming_back_after_a_quarter_of_an_hour__is_no_flapping(void **state)
{
    (void)state;
    struct alert_list *l = alerts_new(NULL, false);
    struct tally t = {0};
    alerts_listen(l, count, &t);
    for (int i = 0; i < 10; i++) {
        put(l, 900 * i, true);
        put(l, 900 * i + 5, false);
    }
    assert_int_equal(t.raised, 10);
    assert_int_equal(t.rectified, 10);
    alerts_free(l);
}

/* Which trouble a limit of a quantity is about, and for how long what passed it stays a danger: the
 * times of the table, an hour of any other temperature, none of what is no temperature. */
static void limits__of_each_quantity__their_trouble_and_how_long_it_lasts(void **state)
{
    static const struct {
        enum quantity q;
        enum trouble above, below;
        int minutes;
    } limits[] = {
        {QTY_EXHAUST, TROUBLE_RAW_WATER, TROUBLE_OTHER, 30},
        {QTY_EXHAUST_GAS, TROUBLE_COOLING, TROUBLE_OTHER, 30},
        {QTY_COOLANT, TROUBLE_COOLANT, TROUBLE_OTHER, 120},
        {QTY_OIL_TEMP, TROUBLE_OIL_HOT, TROUBLE_OTHER, 120},
        {QTY_GEAR_OIL_TEMP, TROUBLE_GEAR_HOT, TROUBLE_OTHER, 120},
        {QTY_ENGINE_SPACE, TROUBLE_SPACE, TROUBLE_OTHER, 60},
        {QTY_SHAFT_SEAL, TROUBLE_SHAFT_SEAL, TROUBLE_OTHER, 30},
        {QTY_OIL_PRESSURE, TROUBLE_OTHER, TROUBLE_OIL_PRESSURE, 0},
        {QTY_GEAR_OIL_PRESSURE, TROUBLE_OTHER, TROUBLE_GEAR_PRESSURE, 0},
        {QTY_SEA, TROUBLE_OTHER, TROUBLE_OTHER, 60},
        {QTY_BATTERY_VOLTS, TROUBLE_OTHER, TROUBLE_OTHER, 0},
    };

    (void)state;
    for (size_t i = 0; i < sizeof limits / sizeof limits[0]; i++) {
        assert_int_equal(action_of_limit(limits[i].q, true), limits[i].above);
        assert_int_equal(action_of_limit(limits[i].q, false), limits[i].below);
        assert_true(action_cooling_ns(limits[i].q) == limits[i].minutes * 60 * NS_PER_S);
    }
    assert_false(action_all_engines(TROUBLE_COUNT)); /* no trouble of ours */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_trouble__through_every_stage__says_what_to_do_and_fits),
        cmocka_unit_test(every_other_trouble__through_every_stage__says_its_advice),
        cmocka_unit_test(every_trouble__has_a_row_here),
        cmocka_unit_test(box_switched_off__last_value__fits),
        cmocka_unit_test(advice_of_the_configuration__comes_after_the_engine),
        cmocka_unit_test(no_word_of_the_table__opens_what_is_hot),
        cmocka_unit_test(fire__all_engines_stopped__is_the_stage_stopped),
        cmocka_unit_test(event_as_json__has_the_story),
        cmocka_unit_test(limits__of_each_quantity__their_trouble_and_how_long_it_lasts),
        cmocka_unit_test(flapping__thirty_times_a_minute__one_alert_that_says_how_often),
        cmocka_unit_test(coming_back_after_a_quarter_of_an_hour__is_no_flapping),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
