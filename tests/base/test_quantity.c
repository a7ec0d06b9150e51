#include "support/check.h"

#include "base/json.h"
#include "base/quantity.h"
#include "base/units.h"
#include "support/golden.h"

#include <stdio.h>

static void units__exact_factors(void **state)
{
    (void)state;
    /* NIST SP 811, appendix B: US gallon 3.785411784 L, Canadian and U.K. (imperial) gallon
     * 4.54609 L, knot 1852/3600 m/s, mile 1609.344 m, psi 6.894757 kPa */
    assert_near(unit_to_base(UNIT_GAL_US, 1), 3.785411784, 1e-12);
    assert_near(unit_to_base(UNIT_GAL_IMP, 1), 4.54609, 1e-12);
    assert_near(unit_from_base(UNIT_KMH, 1), 1.852, 1e-12);
    assert_near(unit_from_base(UNIT_MPH, 1), 1852 / 1609.344, 1e-12);
    assert_near(unit_to_base(UNIT_PSI, 1), 6.894757, 1e-9);
    assert_near(unit_from_base(UNIT_BAR, 100), 1, 1e-12);
    /* 200 °F is 93.3 °C */
    assert_near(unit_to_base(UNIT_F, 200), 93.3333333, 1e-6);
    assert_near(unit_from_base(UNIT_F, 100), 212, 1e-9);
    /* 15 °F a minute is 8.33 K a minute (heat detectors; 15 * 5/9) */
    assert_near(unit_from_base_difference(UNIT_F, 8.3333333), 15, 1e-6);
}

/* A rate in gallons an hour is that many gallons; 10 K are 18 °F, and as a temperature 50. */
static void units__rates_and_differences__as_their_amounts(void **state)
{
    (void)state;
    assert_near(unit_to_base(UNIT_GPH_US, 1), 3.785411784, 1e-12);
    assert_near(unit_to_base(UNIT_GPH_IMP, 1), 4.54609, 1e-12);
    assert_near(unit_from_base_difference(UNIT_F, 10), 18, 1e-12);
    assert_near(unit_from_base(UNIT_F, 10), 50, 1e-12);
    assert_near(unit_from_base_difference(UNIT_PSI, 6.894757), 1, 1e-12);
    assert_int_equal(unit_base(UNIT_PSI), UNIT_KPA);
    assert_int_equal(unit_base(UNIT_GPH_IMP), UNIT_LPH);
    assert_int_equal(unit_base(UNIT_COUNT), UNIT_NONE); /* none of ours */
    assert_string_equal(unit_text(UNIT_F), "°F");
    assert_string_equal(unit_ascii(UNIT_F), "F");
}

/* What people write for them, in any case of letters, whole words alone. */
static void unit_parse__every_spelling(void **state)
{
    static const struct {
        const char *text;
        enum unit unit; /* UNIT_NONE: none */
    } rows[] = {
        {"rpm", UNIT_RPM},
        {"1/min", UNIT_RPM},
        {"degc", UNIT_C},
        {"CELSIUS", UNIT_C},
        {"Fahrenheit", UNIT_F},
        {"lph", UNIT_LPH},
        {"l/h", UNIT_LPH},
        {"litre", UNIT_L},
        {"liters", UNIT_L},
        {"hour", UNIT_H},
        {"hours", UNIT_H},
        {"volts", UNIT_V},
        {"amp", UNIT_A},
        {"percent", UNIT_PERCENT},
        {"knots", UNIT_KN},
        {"kt", UNIT_KN},
        {"NM", UNIT_NMI},
        {"hertz", UNIT_HZ},
        {"watts", UNIT_WATT},
        {"US gallons", UNIT_GAL_US},
        {"imperial gal", UNIT_GAL_IMP},
        {"gph", UNIT_GPH_US},
        {"US gal/h", UNIT_GPH_US},
        {"kmh", UNIT_KMH},
        {"degC|", UNIT_NONE},
        {"deg", UNIT_NONE},
        {"hour|hours", UNIT_NONE},
        {"litres of", UNIT_NONE},
        {"", UNIT_NONE},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        enum unit u = UNIT_NONE;

        if (unit_parse(rows[i].text, &u) != (rows[i].unit != UNIT_NONE) || u != rows[i].unit)
            fail_msg("'%s' is taken for unit %d", rows[i].text, (int)u);
    }
}

static void unit_parse_value__blanks_and_lengths(void **state)
{
    double v = 0;

    (void)state;
    assert_true(unit_parse_value(" \t93 \t C", UNIT_C, &v));
    assert_near(v, 93, 0);
    assert_true(unit_parse_value("-4.5  ", UNIT_C, &v));
    assert_near(v, -4.5, 0);
    assert_true(unit_parse_value("+12V", UNIT_V, &v));
    assert_near(v, 12, 0);
    assert_true(unit_parse_value("0000000000000000000000000000012", UNIT_V, &v)); /* 31 */
    assert_near(v, 12, 0);
    assert_false(unit_parse_value("00000000000000000000000000000012", UNIT_V, &v));
    assert_false(unit_parse_value("1.2.3 V", UNIT_V, &v));
    assert_false(unit_parse_value("12 V of", UNIT_V, &v));
}

static void units__there_and_back__is_the_same(void **state)
{
    (void)state;
    for (int u = 0; u < UNIT_COUNT; u++)
        assert_near(unit_to_base((enum unit)u, unit_from_base((enum unit)u, 12.5)), 12.5, 1e-9);
}

static void unit_parse_value__reads_what_people_write(void **state)
{
    (void)state;
    double v;
    assert_true(unit_parse_value("93 C", UNIT_C, &v));
    assert_near(v, 93, 0);
    assert_true(unit_parse_value("200 F", UNIT_C, &v));
    assert_near(v, 93.3333, 1e-3);
    assert_true(unit_parse_value("200 °F", UNIT_C, &v));
    assert_true(unit_parse_value("1.2bar", UNIT_KPA, &v));
    assert_near(v, 120, 1e-9);
    assert_true(unit_parse_value("90", UNIT_C, &v));
    assert_near(v, 90, 0);
    assert_false(unit_parse_value("93 kPa", UNIT_C, &v));
    assert_false(unit_parse_value("warm", UNIT_C, &v));
    assert_false(unit_parse_value("", UNIT_C, &v));
}

static void quantities__each_has_a_key_of_its_own_that_parses_back(void **state)
{
    (void)state;
    for (int q = 1; q < QTY_COUNT; q++) {
        const struct quantity_info *info = quantity_info((enum quantity)q);
        char key[CHANNEL_KEY_SIZE];
        struct channel_id id = {.quantity = (uint16_t)q}, back;
        assert_non_null(info->key);
        assert_int_equal(quantity_find(info->key, strlen(info->key)), q);
        if (info->place != PLACE_NONE)
            id.place = 252;
        if (info->place == PLACE_PAIR)
            id.sub = 28;
        channel_id_format(key, sizeof key, id);
        assert_true(channel_id_parse(key, &back, NULL));
        assert_true(channel_id_same(id, back));
        assert_true(info->lowest < info->highest);
        assert_true(unit_base(info->unit) == info->unit);
    }
}

static void channel_id_parse__malformed__is_refused(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "",           "exhaust",     "exhaust.",   "exhaust.256",    "exhaust.-1",
        "exhaust.01", "exhaust.1.2", "exhausts.1", "speed-ground.0", "switch.1",
        "exhaust.*",  "exhaust.1 "};
    struct channel_id id;
    bool any;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (channel_id_parse(bad[i], &id, NULL))
            fail_msg("'%s' was taken for a key", bad[i]);
    assert_true(channel_id_parse("exhaust.*", &id, &any));
    assert_true(any);
    assert_true(channel_id_parse("exhaust.1", &id, &any));
    assert_false(any);
}

static void json__strings_are_escaped_and_a_small_buffer_gives_null(void **state)
{
    (void)state;
    struct json j;
    char buf[200];
    json_open(&j, buf, sizeof buf);
    json_string(&j, "a", "say \"no\" \\ \n\x01°");
    json_string(&j, "b", NULL);
    json_number(&j, "c", 1.25, 2);
    json_number(&j, "d", NAN, 2);
    json_integer(&j, "e", -3);
    json_bool(&j, "f", true);
    json_time(&j, "t", INT64_C(1500000000250000000));
    /* RFC 8259 section 7: quotation mark, reverse solidus and controls are escaped */
    assert_string_equal(json_close(&j), "{\"a\":\"say \\\"no\\\" \\\\ \\u000a\\u0001°\",\"b\":null,"
                                        "\"c\":1.25,\"d\":null,\"e\":-3,\"f\":true,"
                                        "\"t\":1500000000.250000}\n");
    json_open(&j, buf, 10);
    json_string(&j, "key", "value");
    assert_null(json_close(&j));
}

/* Which reading a sane sensor can give, how it is shown and called: a table of judgement (common
 * practice, no source), so that what is compared is the table itself, read by a person once. */
static void quantities__table__is_as_kept(void **state)
{
    (void)state;
    static char text[16384];
    size_t at = 0;
    for (int q = 0; q < QTY_COUNT; q++) {
        const struct quantity_info *i = quantity_info((enum quantity)q);
        at += (size_t)snprintf(text + at, sizeof text - at,
                               "%-20s %-18s %-6s place %d, %d decimals, %g to %g, steady %g\n",
                               i->key, i->label, unit_text(i->unit), (int)i->place, i->decimals,
                               i->lowest, i->highest, i->steady_per_min);
        assert_true(at < sizeof text);
    }
    golden_check("base", "quantities", text);
}

/* Each unit by what 0 and 100 of it are in its base, and as which it is read. */
static void units__table__is_as_kept(void **state)
{
    (void)state;
    static char text[8192];
    size_t at = 0;
    for (int k = 0; k < UNIT_COUNT; k++) {
        enum unit u = (enum unit)k, read = UNIT_COUNT;
        bool reads = unit_text(u)[0] != '\0' && unit_parse(unit_text(u), &read);
        at += (size_t)snprintf(
            text + at, sizeof text - at,
            "%-8s %-6s 0 is %.9g, 100 is %.9g %s; difference %.9g; read as %s\n", unit_text(u),
            unit_ascii(u), unit_to_base(u, 0), unit_to_base(u, 100), unit_text(unit_base(u)),
            unit_from_base_difference(u, 1), reads ? unit_text(read) : "nothing");
        assert_true(at < sizeof text);
    }
    golden_check("base", "units", text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(quantities__table__is_as_kept),
        cmocka_unit_test(units__table__is_as_kept),
        cmocka_unit_test(units__exact_factors),
        cmocka_unit_test(units__rates_and_differences__as_their_amounts),
        cmocka_unit_test(unit_parse__every_spelling),
        cmocka_unit_test(unit_parse_value__blanks_and_lengths),
        cmocka_unit_test(units__there_and_back__is_the_same),
        cmocka_unit_test(unit_parse_value__reads_what_people_write),
        cmocka_unit_test(quantities__each_has_a_key_of_its_own_that_parses_back),
        cmocka_unit_test(channel_id_parse__malformed__is_refused),
        cmocka_unit_test(json__strings_are_escaped_and_a_small_buffer_gives_null),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
