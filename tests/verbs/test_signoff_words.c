/* The words of a confirmation as figures: heights, pressures, spans and references in every unit
 * that is taken. A foot is 0.3048 m, a span of 9 °F is one of 5 K: by GNU units. */
#include "support/check.h"

#include "verbs/muster_signoff.h"

#include <stdio.h>

static const struct signoff_words whole = {
    .file = "boat.sign", .confirm = "sea.0", .check = "boiling-water", .by = "R. Example"};

static void altitude__in_metres_feet_or_as_a_pressure(void **state)
{
    static const struct {
        const char *words;
        bool good;
        double altitude_m, pressure_kpa;
    } cases[] = {
        {"300 m", true, 300, 0},     {"1000 ft", true, 304.8, 0},    {"-500 m", true, -500, 0},
        {"-500.5 m", false, 0, 0},   {"5000 m", true, 5000, 0},      {"5000.5 m", false, 0, 0},
        {"16405 ft", false, 0, 0},   {"16404 ft", true, 4999.94, 0}, {"1.2.3 m", false, 0, 0},
        {"98.5 kPa", true, 0, 98.5}, {"0.985 bar", true, 0, 98.5},   {"50 kPa", false, 0, 0},
        {"50.1 kPa", true, 0, 50.1}, {"110 kPa", false, 0, 0},       {"109.9 kPa", true, 0, 109.9},
        {"98.5", false, 0, 0},       {"98.5 K", false, 0, 0},        {"high", false, 0, 0},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct signoff_words w = whole;
        struct signoff_request r;

        w.altitude = cases[i].words;
        if (signoff_words_parse(&w, &r) != cases[i].good)
            fail_msg("'%s' is %s", cases[i].words, cases[i].good ? "refused" : "taken");
        if (!cases[i].good)
            continue;
        assert_near(r.altitude_m, cases[i].altitude_m, 0.01);
        assert_int_equal(r.has_pressure, cases[i].pressure_kpa > 0);
        if (r.has_pressure)
            assert_near(r.pressure_kpa, cases[i].pressure_kpa, 1e-6);
    }
}

static void tolerance_and_reference__in_every_unit_of_the_channel(void **state)
{
    static const struct {
        const char *channel, *tolerance, *reference;
        double tolerance_is, reference_is; /* 0: refused */
    } cases[] = {
        {"sea.0", "1.5 K", "61.5 C", 1.5, 61.5},
        {"sea.0", "9 F", "212 F", 5, 100},
        {"sea.0", "1.5", "61.5", 1.5, 61.5},
        {"sea.0", "0 K", "61.5", 0, 61.5},
        {"sea.0", "2 %", "3 V", 0, 0},
        {"fuel-tank.0", "2 %", "61 %", 2, 61},
        {"fuel-tank.0", "2 %", "240 L", 2, 240},
        {"fuel-tank.0", "2 K", "61 C", 0, 0},
        {"oil-pressure.0", "0.1 bar", "4 bar", 10, 400},
        {"battery-volts.0", "0.1 V", "12.6", 0.1, 12.6},
        {"sea.0", "-1 K", "x", 0, 0},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct signoff_words w = whole;
        struct signoff_request r;

        w.confirm = cases[i].channel;
        w.tolerance = cases[i].tolerance;
        if (signoff_words_parse(&w, &r) != (cases[i].tolerance_is > 0))
            fail_msg("tolerance '%s' of %s", w.tolerance, w.confirm);
        if (cases[i].tolerance_is > 0) {
            assert_true(r.has_tolerance);
            assert_near(r.tolerance, cases[i].tolerance_is, 1e-6);
        }
        w.tolerance = NULL;
        w.reference = cases[i].reference;
        if (signoff_words_parse(&w, &r) != (cases[i].reference_is > 0))
            fail_msg("reference '%s' of %s", w.reference, w.confirm);
        if (cases[i].reference_is > 0) {
            assert_true(r.has_reference);
            assert_false(r.has_tolerance);
            assert_int_equal(r.reference_is_litres, strchr(w.reference, 'L') != NULL);
            assert_near(r.reference, cases[i].reference_is, 1e-6);
        }
    }
}

static void what_is_missing__is_asked_for(void **state)
{
    struct signoff_words w = whole;
    struct signoff_request r;

    (void)state;
    assert_true(signoff_words_parse(&w, &r));
    assert_string_equal(r.by, "R. Example");
    assert_int_equal(r.check, SIGNOFF_BOILING);
    w.by = "";
    assert_false(signoff_words_parse(&w, &r));
    w = whole, w.by = NULL;
    assert_false(signoff_words_parse(&w, &r));
    w = whole, w.check = NULL;
    assert_false(signoff_words_parse(&w, &r));
    w = whole, w.file = NULL;
    assert_false(signoff_words_parse(&w, &r));
    w = (struct signoff_words){.file = "boat.sign"}; /* only to be read */
    assert_true(signoff_words_parse(&w, &r));
    w.note = "x";
    assert_false(signoff_words_parse(&w, &r));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(altitude__in_metres_feet_or_as_a_pressure),
        cmocka_unit_test(tolerance_and_reference__in_every_unit_of_the_channel),
        cmocka_unit_test(what_is_missing__is_asked_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
