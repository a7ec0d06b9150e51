/* The line of an alert, at every length of its place. */
#include "alerts/boat.h"

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
        cmocka_unit_test(length__seconds_minutes_hours__round_once),
        cmocka_unit_test(subject__configured_labels_and_second_senders__are_spelled_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
