/* What is said while under way with a season behind the boat: the words, figure by figure, and when
 * they come and go. */
#include "rules/seasoned.h"

static const struct alert *standing(const struct boat *b, const char *channel)
{
    for (size_t i = 0; i < alerts_count(boat_alerts(b)); i++) {
        const struct alert *a = alerts_at(boat_alerts(b), i);
        if (a->kind == KIND_SEASON && strcmp(a->channel, channel) == 0 && a->active)
            return a;
    }
    return NULL;
}

static void expect(const struct boat *b, const char *channel, const char *what)
{
    const struct alert *a = standing(b, channel);
    if (!a) {
        assert_null(what);
        return;
    }
    assert_non_null(what);
    assert_string_equal(a->what, what);
}

/* 4 K at two thirds of the highest speed are a caution and 8 K a warning, a quarter more where one
 * trip alone says so (season/kept.c); at 2200 rpm of 3000 an exhaust stands a tenth further over
 * the sea than there, 28.1 K for 25.5. */
static void exhaust__by_its_size__caution_or_warning(void **state)
{
    static const struct {
        double over_k;
        int priority; /* -1: nothing */
        const char *text;
    } rows[] = {
        {0, -1, NULL},
        {5.3, -1, NULL},
        {5.8, PRIORITY_CAUTION,
         "PORT EXHAUST 6 K above May at 2200 rpm: look at strainer, impeller, cooler"},
        {10.7, PRIORITY_CAUTION,
         "PORT EXHAUST 11 K above May at 2200 rpm: look at strainer, impeller, cooler"},
        {11.4, PRIORITY_WARNING,
         "PORT EXHAUST 11 K above May at 2200 rpm: look at strainer, impeller, cooler"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        first_trips(FIRST_NS);
        struct boat *b = boat_of_season(NO_COOLING_WATCH);
        sail(b, 60, 700, 0, 0);
        sail(b, 500, 2200, rows[i].over_k, 0);
        const struct alert *a = standing(b, "exhaust.0");
        assert_int_equal(a ? (int)a->priority : -1, rows[i].priority);
        assert_null(standing(b, "exhaust.1"));
        if (a) {
            assert_string_equal(a->text, rows[i].text);
            assert_int_equal(a->stage, rows[i].priority == PRIORITY_WARNING ? STAGE_CERTAIN
                                                                            : STAGE_SUSPECTED);
            assert_int_equal(a->situation.group, SITUATION_SEASON);
            assert_int_equal(a->unit, UNIT_C);
            assert_int_equal(a->decimals, 2);
            assert_near(a->value, exhaust_at(2200) + rows[i].over_k, 0.02);
            assert_near(a->figures.value, a->value, 0);
            assert_near(a->figures.expected, exhaust_at(2200), 0.02);
            assert_in_range(1000 * a->figures.allowance, 100,
                            1000); /* one error of a healthy boat */
            /* 90 s to settle and two minutes in a row, looked at every 10 s */
            assert_near(b->events[0].at, 60 + 90 + 120, 11);
        }
        boat_end(b);
    }
}

/* Back where it was it is over, by two minutes in a row as well; it is told once. */
static void exhaust__back_where_it_was__is_over(void **state)
{
    (void)state;
    first_trips(FIRST_NS);
    struct boat *b = boat_of_season(NO_COOLING_WATCH);
    sail(b, 60, 700, 0, 0);
    sail(b, 600, 2200, 12, 0);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SEASON), 1);
    sail(b, 50, 2200, 0, 0);
    expect(b, "exhaust.0", "PORT EXHAUST 12 K above May at 2200 rpm");
    sail(b, 250, 2200, 0, 0);
    expect(b, "exhaust.0", NULL);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SEASON), 1);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_SEASON), 1);
    boat_end(b);
}

static void month__of_another_year__with_its_year(void **state)
{
    (void)state;
    first_trips(FIRST_NS - 365 * DAY_NS);
    struct boat *b = boat_of_season(NO_COOLING_WATCH);
    sail(b, 60, 700, 0, 0);
    sail(b, 300, 2200, 12, 0);
    expect(b, "exhaust.0", "PORT EXHAUST 12 K above May 2024 at 2200 rpm");
    boat_end(b);
}

static void coolant__either_way__what_to_look_at(void **state)
{
    (void)state;
    first_trips(FIRST_NS);
    struct boat *b = boat_of_season(NO_COOLING_WATCH);
    b->coolant[0] = 72;
    b->coolant[1] = 88;
    sail(b, 60, 700, 0, 0);
    sail(b, 800, 2200, 0, 0);
    expect(b, "coolant.0", "PORT COOLANT 8 K below May at 2200 rpm");
    assert_string_equal(standing(b, "coolant.0")->action, "look at thermostat");
    expect(b, "coolant.1", "STARBOARD COOLANT 8 K above May at 2200 rpm");
    assert_string_equal(standing(b, "coolant.1")->action,
                        "look at coolant level, cooler, thermostat");
    boat_end(b);
}

/* Two trips before that stood out on both engines: no probe, and no one cooler. Three trips two
 * days apart of 0, 8 and 8 K, and this one five months later, say when the limit comes. */
static void both_engines__trips_in_a_row__hull_and_load(void **state)
{
    (void)state;
    first_trips(FIRST_NS);
    keep_trip(FIRST_NS + 20 * DAY_NS, 8, 8);
    keep_trip(FIRST_NS + 22 * DAY_NS, 8, 8);
    struct boat *b = boat_of_season(NO_COOLING_WATCH);
    sail(b, 60, 700, 0, 0);
    sail(b, 300, 2200, 8, 8);
    const char *in_row = "8 K above May at 2200 rpm, 3 trips in a row";
    assert_non_null(strstr(standing(b, "exhaust.0")->what, in_row));
    assert_non_null(strstr(standing(b, "exhaust.1")->what, in_row));
    assert_string_equal(standing(b, "exhaust.0")->action, "both engines: hull, load, intakes");
    boat_end(b);
}

/* 54 °C at full speed when new, and 7 K of 28.1 over the sea are 10.5 of 42 there: past a limit of
 * 64 °C, and a warning for that; of one of 65 °C nothing is said. */
static void reserve__used_up__is_said_before_all_else(void **state)
{
    (void)state;
    first_trips(FIRST_NS);
    struct boat *b = boat_of_season(NO_COOLING_WATCH "[limit exhaust-hot]\nabove = 64 C\n");
    sail(b, 60, 700, 0, 0);
    sail(b, 300, 2200, 7, 0);
    expect(b, "exhaust.0", "PORT EXHAUST 7 K above May, past 64 °C at 3000 rpm, found at 2200 rpm");
    assert_int_equal(standing(b, "exhaust.0")->priority, PRIORITY_WARNING);
    boat_end(b);
    first_trips(FIRST_NS);
    b = boat_of_season(NO_COOLING_WATCH "[limit exhaust-hot]\nabove = 65 C\n");
    sail(b, 60, 700, 0, 0);
    sail(b, 300, 2200, 7, 0);
    expect(b, "exhaust.0", "PORT EXHAUST 7 K above May at 2200 rpm");
    assert_int_equal(standing(b, "exhaust.0")->priority, PRIORITY_CAUTION);
    boat_end(b);
    /* At that speed itself it stands at 54 + 9 °C, and no higher. */
    for (int limit = 62; limit <= 64; limit += 2) {
        char text[400];
        text_format(text, sizeof text, NO_COOLING_WATCH "[limit exhaust-hot]\nabove = %d C\n",
                    limit);
        first_trips(FIRST_NS);
        b = boat_of_season(text);
        sail(b, 60, 700, 0, 0);
        sail(b, 300, 2990, 9, 0);
        assert_int_equal(strstr(standing(b, "exhaust.0")->what, "past") != NULL, limit == 62);
        boat_end(b);
    }
}

/* 2 K more each week of five trips; 10 K now are 15 of 54 + 15 °C at full speed. The
 * line through the last six, of 0, 0, 2, 4, 6 and 8 K, climbs 1.76 K a week, 2.9 K at full speed.
 */
static void growth__by_the_week__says_when_the_limit_comes(void **state)
{
    static const struct {
        int limit;
        const char *what;
    } rows[] = {
        {68, "PORT EXHAUST 10 K above May, past 68 °C at 3000 rpm, growing 2 K a week, found at "
             "2200 rpm, 4 trips in a row"},
        {70, "PORT EXHAUST 10 K above May at 2200 rpm, 4 trips in a row, 70 °C at 3000 rpm within "
             "a week, growing 2 K a week"},
        {77, "PORT EXHAUST 10 K above May at 2200 rpm, 4 trips in a row, 77 °C at 3000 rpm in 3 "
             "weeks, growing 2 K a week"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[400];
        text_format(text, sizeof text, NO_COOLING_WATCH "[limit exhaust-hot]\nabove = %d C\n",
                    rows[i].limit);
        first_trips(FIRST_NS);
        for (int k = 0; k < 5; k++)
            keep_trip(FIRST_NS + (10 + 7 * k) * DAY_NS, 2 * k, 0);
        struct boat *b = boat_of_season(text);
        sail(b, 60, 700, 0, 0);
        sail(b, 300, 2200, 10, 0);
        expect(b, "exhaust.0", rows[i].what);
        expect(b, "exhaust.1", NULL);
        boat_end(b);
    }
}

/* This trip alone, five months after the first ones: less than half a kelvin a week is no figure.
 */
static void growth__too_little_for_a_figure__is_left_out(void **state)
{
    (void)state;
    first_trips(FIRST_NS);
    struct boat *b = boat_of_season(NO_COOLING_WATCH);
    sail(b, 60, 700, 0, 0);
    sail(b, 300, 2200, 12, 0);
    sail(b, 12, 0, 0, 0); /* judged as a whole */
    const struct alert *a = standing(b, "exhaust.0");
    assert_non_null(strstr(a->what, "PORT EXHAUST 12 K above May at 2200 rpm"));
    assert_null(strstr(a->what, "growing"));
    boat_end(b);
}

/* Work that was done begins another reference, and is named. */
static void mark__of_work__is_named(void **state)
{
    (void)state;
    first_trips(FIRST_NS);
    struct season_mark m = {.wall_ns = FIRST_NS + 8 * DAY_NS, .all = true, .words = "new impeller"};
    assert_true(season_mark(&season, &m));
    for (int i = 0; i < 3; i++)
        keep_trip(FIRST_NS + (10 + 2 * i) * DAY_NS, 0, 0);
    struct boat *b = boat_of_season(NO_COOLING_WATCH);
    sail(b, 60, 700, 0, 0);
    sail(b, 300, 2200, 9, 0);
    expect(b, "exhaust.0", "PORT EXHAUST 9 K above May at 2200 rpm, since new impeller");
    boat_end(b);
}

/* Engines off for four hours end the trip; what was said of it goes as the next one begins. */
static void trip__over__what_was_said_goes_as_the_next_begins(void **state)
{
    (void)state;
    for (int apart = 0; apart < 2; apart++) {
        first_trips(FIRST_NS);
        struct boat *b = boat_of_season(NO_COOLING_WATCH);
        sail(b, 60, 700, 0, 0);
        sail(b, 300, 2200, 12, 0);
        sail(b, 10, 0, 0, 0);
        boat_wait(b, 4 * 3600 - (apart ? 0 : 60));
        sail(b, 5, 0, 0, 0);
        assert_non_null(standing(b, "exhaust.0"));
        sail(b, 5, 700, 0, 0);
        assert_int_equal(standing(b, "exhaust.0") == NULL, apart);
        boat_end(b);
    }
}

/* The rule's `at most` holds it down, and a rule that is off says nothing. */
static void rule__at_most_and_off(void **state)
{
    static const char *const texts[] = {NO_COOLING_WATCH "[season engines]\nat most = caution\n",
                                        NO_COOLING_WATCH "[season engines]\nenabled = no\n"};
    (void)state;
    for (int i = 0; i < 2; i++) {
        first_trips(FIRST_NS);
        struct boat *b = boat_of_season(texts[i]);
        sail(b, 60, 700, 0, 0);
        sail(b, 300, 2200, 12, 0);
        const struct alert *a = standing(b, "exhaust.0");
        assert_int_equal(a ? (int)a->priority : -1, i == 0 ? PRIORITY_CAUTION : -1);
        boat_end(b);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exhaust__by_its_size__caution_or_warning),
        cmocka_unit_test(exhaust__back_where_it_was__is_over),
        cmocka_unit_test(month__of_another_year__with_its_year),
        cmocka_unit_test(coolant__either_way__what_to_look_at),
        cmocka_unit_test(both_engines__trips_in_a_row__hull_and_load),
        cmocka_unit_test(reserve__used_up__is_said_before_all_else),
        cmocka_unit_test(growth__by_the_week__says_when_the_limit_comes),
        cmocka_unit_test(growth__too_little_for_a_figure__is_left_out),
        cmocka_unit_test(mark__of_work__is_named),
        cmocka_unit_test(trip__over__what_was_said_goes_as_the_next_begins),
        cmocka_unit_test(rule__at_most_and_off),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
