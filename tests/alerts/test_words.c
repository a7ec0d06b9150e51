/* The line of an alert, at every length of its place. */
#include "rules/boat.h"

#include "alerts/words.h"

static struct words raw_water(const char *subject)
{
    struct words w = {.quantity = QTY_EXHAUST,
                      .value = 61.2,
                      .rate_per_min = 96.4,
                      .limit = 93.3,
                      .seconds = 20,
                      .advice = "check raw water"};
    text_copy(w.subject, sizeof w.subject, subject);
    return w;
}

static void line__of_the_design__word_for_word(void **state)
{
    (void)state;
    char text[ALERT_TEXT_SIZE];
    struct words w = raw_water("STARBOARD EXHAUST");
    words_build(text, sizeof text, &w, NULL, WORDS_COLUMNS);
    assert_string_equal(text,
                        "STARBOARD EXHAUST 61 °C rising 96 K/min, 93 °C in 20 s: check raw water");
}

/* At 80 columns a line with its state letter and a blank fits; the time goes first, then the
 * rate; place, value and the first thing to look at never. */
static void line__longer_and_longer_place__time_goes_first_then_rate(void **state)
{
    (void)state;
    char subject[96] = "", text[ALERT_TEXT_SIZE];
    bool had_time = true, had_rate = true;
    int lost_time = 0, lost_rate = 0;
    for (int n = 1; n <= 70; n++) {
        text_append(subject, sizeof subject, "%c", 'A' + n % 26);
        struct words w = raw_water(subject);
        words_build(text, sizeof text, &w, NULL, WORDS_COLUMNS);
        bool has_time = strstr(text, "93 °C in 20 s"), has_rate = strstr(text, "rising 96 K/min");
        assert_int_equal(strncmp(text, subject, strlen(subject)), 0);
        assert_non_null(strstr(text, " 61 °C"));
        assert_non_null(strstr(text, ": check raw water"));
        assert_true(has_rate || !has_time);
        assert_true(!has_time || had_time);
        assert_true(!has_rate || had_rate);
        if (has_rate || n <= 53)
            assert_in_range(text_width(text), 1, WORDS_COLUMNS);
        lost_time += had_time && !has_time;
        lost_rate += had_rate && !has_rate;
        had_time = has_time;
        had_rate = has_rate;
    }
    assert_int_equal(lost_time, 1);
    assert_int_equal(lost_rate, 1);
}

static void line__every_number_of_columns__never_longer_than_it_must(void **state)
{
    (void)state;
    struct words w = raw_water("PORT EXHAUST");
    char bare[ALERT_TEXT_SIZE], text[ALERT_TEXT_SIZE];
    words_build(bare, sizeof bare, &w, NULL, 1);
    assert_string_equal(bare, "PORT EXHAUST 61 °C: check raw water");
    for (int columns = 1; columns < 100; columns++) {
        words_build(text, sizeof text, &w, NULL, columns);
        assert_true(text_width(text) <= columns || strcmp(text, bare) == 0);
    }
}

static void line__tiny_buffers__stay_terminated(void **state)
{
    (void)state;
    struct words w = raw_water("PORT EXHAUST");
    for (size_t cap = 1; cap < 90; cap++) {
        char *text = malloc(cap);
        words_build(text, cap, &w, NULL, WORDS_COLUMNS);
        assert_true(strlen(text) < cap);
        free(text);
    }
}

static void line__falling_slow_and_steady__is_told_apart(void **state)
{
    (void)state;
    char text[ALERT_TEXT_SIZE];
    struct words w = raw_water("PORT EXHAUST");
    w.seconds = NAN;
    w.limit = NAN;
    w.rate_per_min = -4.25;
    words_build(text, sizeof text, &w, NULL, WORDS_COLUMNS);
    assert_string_equal(text, "PORT EXHAUST 61 °C falling 4.3 K/min: check raw water");
    w.rate_per_min = 1; /* below what counts as steady */
    words_build(text, sizeof text, &w, NULL, WORDS_COLUMNS);
    assert_string_equal(text, "PORT EXHAUST 61 °C: check raw water");
    w.rate_per_min = NAN;
    w.value = NAN;
    w.advice = "";
    words_build(text, sizeof text, &w, NULL, WORDS_COLUMNS);
    assert_string_equal(text, "PORT EXHAUST");
}

static void line__value_that_rounds_to_its_limit__gets_a_decimal(void **state)
{
    (void)state;
    char text[ALERT_TEXT_SIZE];
    struct words w = raw_water("PORT EXHAUST");
    w.value = 93.42;
    w.side = WORDS_ABOVE;
    w.rate_per_min = NAN;
    words_build(text, sizeof text, &w, NULL, WORDS_COLUMNS);
    assert_string_equal(text, "PORT EXHAUST 93.4 °C, above 93.3 °C: check raw water");
    w.quantity = QTY_BATTERY_VOLTS;
    w.value = 11.42;
    w.limit = 11.8;
    w.side = WORDS_BELOW;
    w.advice = "charge";
    words_build(text, sizeof text, &w, NULL, WORDS_COLUMNS);
    assert_string_equal(text, "PORT EXHAUST 11.4 V, below 11.8 V: charge");
}

/* 61.2 °C is 142.16 °F; 96.4 K/min is 173.5 °F/min: differences have no offset. 100 kPa is
 * 1 bar and 14.504 psi (NIST SP 811). */
static void line__other_units__are_converted(void **state)
{
    (void)state;
    struct config_messages *messages = NULL;
    struct settings *s =
        config_load_text("t", "[units]\ntemperature = F\npressure = bar\n", &messages);
    config_messages_free(messages);
    assert_non_null(s);
    char text[ALERT_TEXT_SIZE];
    struct words w = raw_water("PORT EXHAUST");
    words_build(text, sizeof text, &w, s, WORDS_COLUMNS);
    assert_string_equal(text,
                        "PORT EXHAUST 142 °F rising 174 °F/min, 200 °F in 20 s: check raw water");
    words_value(text, sizeof text, s, QTY_OIL_PRESSURE, 100, 0);
    assert_string_equal(text, "1.00 bar");
    settings_free(s);
}

static struct settings *settings_of(const char *text)
{
    struct config_messages *messages = NULL;
    struct settings *s = config_load_text("t", text, &messages);
    config_messages_free(messages);
    assert_non_null(s);
    return s;
}

/* 12 K are 21.6 °F as a difference; 61.2 °C are 142.16 °F. */
static void words_kept__other_units__every_figure_follows(void **state)
{
    (void)state;
    struct settings *us = settings_of("[units]\ntemperature = F\npressure = psi\n");
    char text[ALERT_TEXT_SIZE], more[WORDS_MORE_SIZE] = ", ";
    struct words w = raw_water("PORT EXHAUST");
    w.limit = NAN;
    words_add_figure(&w, more, sizeof more, QTY_EXHAUST, 12, true);
    text_append(more, sizeof more, " above normal, oil ");
    words_add_figure(&w, more, sizeof more, QTY_OIL_PRESSURE, 400, false);
    w.more = more;
    struct words_kept kept;
    words_keep(&kept, &w);
    memset(more, 'x', sizeof more - 1); /* what was kept stands for itself */
    words_build_kept(text, sizeof text, &kept, NULL, 100);
    assert_string_equal(text, "PORT EXHAUST 61 °C, 12 K above normal, oil 400 kPa rising 96 K/min: "
                              "check raw water");
    words_build_kept(text, sizeof text, &kept, us, 100);
    assert_string_equal(text, "PORT EXHAUST 142 °F, 22 °F above normal, oil 58 psi rising "
                              "174 °F/min: check raw water");
    settings_free(us);
}

static void words_more__too_long__gives_way_from_its_end(void **state)
{
    (void)state;
    char text[ALERT_TEXT_SIZE];
    struct words w = {.value = NAN,
                      .rate_per_min = NAN,
                      .limit = NAN,
                      .more = "ENGINE RUNNING" WORDS_MORE_END ", BLOWER OFF" WORDS_MORE_END
                              ", HATCH OPEN",
                      .advice = "run the blower"};
    words_build(text, sizeof text, &w, NULL, 60);
    assert_string_equal(text, "ENGINE RUNNING, BLOWER OFF, HATCH OPEN: run the blower");
    words_build(text, sizeof text, &w, NULL, 53);
    assert_string_equal(text, "ENGINE RUNNING, BLOWER OFF: run the blower");
    words_build(text, sizeof text, &w, NULL, 1);
    assert_string_equal(text, "ENGINE RUNNING: run the blower");
}

static void words_figures__one_too_many__is_left_out(void **state)
{
    (void)state;
    char more[WORDS_MORE_SIZE] = "", text[ALERT_TEXT_SIZE];
    struct words w = {.value = NAN, .rate_per_min = NAN, .limit = NAN, .more = more};
    for (int i = 0; i <= WORDS_FIGURES; i++) {
        text_append(more, sizeof more, " ");
        words_add_figure(&w, more, sizeof more, QTY_COOLANT, i, false);
    }
    words_build(text, sizeof text, &w, NULL, 100);
    assert_string_equal(text, " 0 °C 1 °C 2 °C 3 °C 4 °C 5 °C ");
}

#define US_UNITS "[units]\ntemperature = F\npressure = psi\n"
#define HOT_SPACE                                                                                  \
    "[combined space-hot]\nwhen = engine-space.0 above 55 C and engine running\nhold = 5 s\n"

/* A boat on which every kind of text with figures stands, or stood and has ended. */
static struct boat *boat_in_trouble(const char *text)
{
    struct boat *b = boat_new(text);
    boat_run(b, 400);
    b->coolant[1] = 112; /* ends again, unacknowledged */
    boat_run(b, 30);
    b->coolant[1] = 80;
    boat_run(b, 60);
    boat_ramp(b, &b->exhaust[0], 110, 90);
    b->oil_kpa[1] = 20;
    b->space = 58;
    boat_run(b, 30);
    b->exhaust[1] = BOAT_NONE;
    boat_run(b, 60);
    boat_ramp(b, &b->exhaust[0], 140, 30);
    return b;
}

/* Whether any alert's text, listed or ended, holds the words. */
static bool said(struct boat *b, const char *words)
{
    struct alert_list *l = boat_alerts(b);
    for (size_t i = 0; i < alerts_count(l); i++)
        if (strstr(alerts_at(l, i)->text, words) || strstr(alerts_at(l, i)->what, words))
            return true;
    for (size_t i = 0; i < alerts_history_count(l); i++)
        if (strstr(alerts_history_at(l, i)->text, words) ||
            strstr(alerts_history_at(l, i)->what, words))
            return true;
    return false;
}

static void acknowledge_ended(struct boat *b)
{
    struct alert_list *l = boat_alerts(b);
    for (size_t i = 0; i < alerts_count(l); i++)
        if (!alerts_at(l, i)->active) {
            alerts_acknowledge(l, alerts_at(l, i)->id, plant_now(keeper_plant(b->keeper)));
            return;
        }
}

/* The same trip in other units from its start is what the words must become. */
static void reword__boat_in_trouble__says_what_those_units_would_have_said(void **state)
{
    (void)state;
    struct boat *b = boat_in_trouble(HOT_SPACE), *us = boat_in_trouble(HOT_SPACE US_UNITS);
    acknowledge_ended(b);
    acknowledge_ended(us);
    struct alert_list *l = boat_alerts(b), *of_us = boat_alerts(us);
    boat_print(b);
    assert_true(said(b, " °C") && said(b, " K/min") && said(b, " kPa"));
    assert_true(said(b, "last ") && said(b, "ENGINE SPACE 58 °C, engine running"));
    assert_true(alerts_count(l) >= 3);
    assert_true(alerts_history_count(l) >= 1);
    int events = b->count;
    alerts_reword(l, us->settings);
    assert_int_equal(b->count, events);
    assert_false(said(b, " °C") || said(b, " K") || said(b, " kPa"));
    assert_int_equal(alerts_count(l), alerts_count(of_us));
    for (size_t i = 0; i < alerts_count(l); i++)
        assert_string_equal(alerts_at(l, i)->text, alerts_at(of_us, i)->text);
    assert_int_equal(alerts_history_count(l), alerts_history_count(of_us));
    for (size_t i = 0; i < alerts_history_count(l); i++)
        assert_string_equal(alerts_history_at(l, i)->text, alerts_history_at(of_us, i)->text);
    boat_free(b);
    boat_free(us);
}

static void length__seconds_minutes_hours__round_once(void **state)
{
    (void)state;
    static const struct {
        double s;
        const char *text;
    } rows[] = {{0, "0 s"},      {-3, "0 s"},        {NAN, "0 s"},     {20.4, "20 s"},
                {99.4, "99 s"},  {99.6, "2 min"},    {5940, "99 min"}, {5980, "2 h"},
                {86400, "24 h"}, {1e12, "1000000 h"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[32];
        words_length(text, sizeof text, rows[i].s);
        assert_string_equal(text, rows[i].text);
    }
}

static void subject__configured_labels_and_second_senders__are_spelled_out(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel battery-volts.0]\nlabel = häuser\n"
                              "[engine 1]\nname = RECHTS\n");
    b->second_exhaust = 50;
    b->switches[2] = 1;
    boat_run(b, 10);
    static const char *const rows[][2] = {
        {"exhaust.0", "PORT EXHAUST"},
        {"exhaust.1", "RECHTS EXHAUST"},
        {"exhaust.0@36", "PORT EXHAUST @36"},
        {"oil-pressure.0", "PORT OIL PRESSURE"},
        {"rpm.1", "RECHTS SPEED"},
        {"engine-space.0", "ENGINE SPACE"},
        {"battery-volts.0", "HÄUSER"},
        {"fuel-tank.0", "FUEL TANK"},
        {"switch.0.3", "SWITCH 0.3"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const struct channel *c = plant_find_key(keeper_plant(b->keeper), rows[i][0]);
        if (!c)
            print_error("no channel %s\n", rows[i][0]);
        assert_non_null(c);
        char text[96];
        words_subject(text, sizeof text, keeper_plant(b->keeper), c);
        assert_string_equal(text, rows[i][1]);
    }
    boat_free(b);
}

/* Two lots of words are the same where every line made of them is: each of what they hold counts,
 * and nothing to tell is the same as itself. */
static void words_same__each_of_what_they_hold__counts(void **state)
{
    struct words plain = {.subject = "PORT EXHAUST",
                          .quantity = QTY_EXHAUST,
                          .value = 60,
                          .rate_per_min = NAN,
                          .limit = 93,
                          .seconds = NAN,
                          .side = WORDS_ABOVE,
                          .advice = "check raw water"};
    enum {
        SAME,
        SUBJECT,
        QUANTITY,
        VALUE,
        RATE,
        LIMIT,
        SECONDS,
        SIDE,
        MORE,
        ADVICE,
        FIGURES,
        KINDS
    };
    char more[96] = " for ";
    struct words_kept a, b;

    (void)state;
    plain.more = more;
    words_add_figure(&plain, more, sizeof more, QTY_EXHAUST, 50, false);
    words_add_clock(&plain, more, sizeof more, INT64_C(1777903200) * NS_PER_S);
    words_keep(&a, &plain);
    for (int i = 0; i < KINDS; i++) {
        struct words w = plain;

        if (i == SUBJECT)
            text_copy(w.subject, sizeof w.subject, "PORT COOLANT");
        w.quantity = i == QUANTITY ? QTY_COOLANT : w.quantity;
        w.value = i == VALUE ? 61 : w.value;
        w.rate_per_min = i == RATE ? 2 : w.rate_per_min;
        w.limit = i == LIMIT ? NAN : w.limit;
        w.seconds = i == SECONDS ? 20 : w.seconds;
        w.side = i == SIDE ? WORDS_BELOW : w.side;
        w.more = i == MORE ? " since" : w.more;
        w.advice = i == ADVICE ? NULL : w.advice;
        w.figure_count -= i == FIGURES;
        words_keep(&b, &w);
        assert_int_equal(words_same(&a, &b), i == SAME);
        assert_int_equal(words_same(&b, &a), i == SAME);
    }
    for (int i = 0; i < 6; i++) {
        struct words w = plain;

        w.figures[0].quantity = i == 1 ? QTY_COOLANT : QTY_EXHAUST;
        w.figures[0].difference = i == 2;
        w.figures[0].value = i == 3 ? 51 : 50;
        w.figures[1].clock = i != 4;
        w.figures[1].wall_ns += i == 5;
        words_keep(&b, &w);
        assert_int_equal(words_same(&a, &b), i == 0);
    }
}

/* How something ended: with the value where the phrase has a place for it, or as it was last told.
 */
static void over__phrase_with_and_without_a_value(void **state)
{
    static const struct {
        const char *phrase, *advice, *text;
        double value;
    } rows[] = {
        {"back at " WORDS_VALUE " now", "", "PORT EXHAUST back at 55 °C now", 55},
        {"back at " WORDS_VALUE, "look again", "PORT EXHAUST back at 60 °C: look again", NAN},
        {"answers again", "", "PORT EXHAUST answers again", 55},
        {"", "keep watch", "PORT EXHAUST: keep watch", 55},
    };
    struct words w = {.subject = "PORT EXHAUST",
                      .quantity = QTY_EXHAUST,
                      .value = 60,
                      .rate_per_min = 5,
                      .limit = NAN,
                      .seconds = NAN};
    struct words_kept kept;

    (void)state;
    words_keep(&kept, &w);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[96];

        words_build_over(text, sizeof text, &kept, NULL, rows[i].phrase, rows[i].value,
                         rows[i].advice);
        assert_string_equal(text, rows[i].text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(line__of_the_design__word_for_word),
        cmocka_unit_test(line__longer_and_longer_place__time_goes_first_then_rate),
        cmocka_unit_test(line__every_number_of_columns__never_longer_than_it_must),
        cmocka_unit_test(line__tiny_buffers__stay_terminated),
        cmocka_unit_test(line__falling_slow_and_steady__is_told_apart),
        cmocka_unit_test(line__value_that_rounds_to_its_limit__gets_a_decimal),
        cmocka_unit_test(line__other_units__are_converted),
        cmocka_unit_test(words_kept__other_units__every_figure_follows),
        cmocka_unit_test(words_more__too_long__gives_way_from_its_end),
        cmocka_unit_test(words_figures__one_too_many__is_left_out),
        cmocka_unit_test(reword__boat_in_trouble__says_what_those_units_would_have_said),
        cmocka_unit_test(length__seconds_minutes_hours__round_once),
        cmocka_unit_test(words_same__each_of_what_they_hold__counts),
        cmocka_unit_test(over__phrase_with_and_without_a_value),
        cmocka_unit_test(subject__configured_labels_and_second_senders__are_spelled_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
