#include "base/thermistor.h"

#include "support/check.h"

/* Beta form, computed: 1/T = 1/298.15 + ln(R/10000)/B. */
static void thermistor__beta__meets_the_computed_table(void **state)
{
    (void)state;
    static const double betas[4] = {3380, 3435, 3950, 3977};
    static const struct {
        double celsius, ohm[4];
    } rows[] = {
        {0, {28223.7, 28704.3, 33620.6, 33900.4}}, {25, {10000, 10000, 10000, 10000}},
        {50, {4160.1, 4101.2, 3588.2, 3563.1}},    {60, {3039.2, 2980.9, 2486.2, 2462.6}},
        {74, {2018.7, 1966.8, 1541.2, 1521.7}},    {85, {1496.9, 1451.3, 1086.7, 1070.3}},
        {100, {1024.3, 987.0, 697.5, 684.9}},
    };
    for (int b = 0; b < 4; b++) {
        struct thermistor t = thermistor_from_beta(betas[b], 10000, 25);
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
            assert_near(thermistor_celsius(&t, rows[i].ohm[b]), rows[i].celsius, 0.005);
    }
}

/* A set of coefficients from a public module note, and the five resistances of a widely printed
 * 10 kohm table, B25/85 about 3977 (the table from memory; the temperatures computed). */
static void thermistor__published_coefficients__meet_the_printed_table(void **state)
{
    (void)state;
    struct thermistor t;
    assert_true(thermistor_parse("0.001129148 0.000234125 8.76741e-8", &t, NULL));
    static const double rows[][2] = {
        {32650, 0}, {10000, 25}, {3603, 49.99}, {1070, 85.01}, {680, 99.92}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_near(thermistor_celsius(&t, rows[i][0]), rows[i][1], 0.006);
}

/* Three points of the ESPHome NTC documentation; coefficients computed from them; the check table
 * is the printed one of the same part (from memory), with the errors computed. */
static void thermistor__three_points__good_between_them_and_not_far_beyond(void **state)
{
    (void)state;
    struct thermistor t;
    assert_true(thermistor_parse("27219 at 0, 14674 at 15, 10000 at 25", &t, NULL));
    assert_near(t.a, 8.40791949e-4, 1e-11);
    assert_near(t.b, 2.58456535e-4, 1e-11);
    assert_near(t.c, 1.69907864e-7, 1e-14);
    static const double rows[][3] = {/* ohm, celsius, error */
                                     {17926, 10, 0.00}, {12081, 20, 0.00}, {8315, 30, 0.02},
                                     {5834, 40, 0.06},  {4161, 50, 0.16},  {3014, 60, 0.33},
                                     {1451, 85, 0.54},  {974, 100, 0.72}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_near(fabs(thermistor_celsius(&t, rows[i][0]) - rows[i][1]), rows[i][2], 0.03);
}

/* The same part refitted at 0, 25 and 100 °C: computed. */
static void thermistor__points_over_the_range__good_all_over_it(void **state)
{
    (void)state;
    struct thermistor t;
    assert_true(thermistor_parse("27219 at 0, 10000 at 25, 974 at 100", &t, NULL));
    assert_near(t.a, 8.87204525e-4, 2e-8);
    assert_near(t.b, 2.51261990e-4, 5e-9);
    assert_near(t.c, 1.95315777e-7, 5e-11);
    static const double rows[][2] = {{17926, 10}, {12081, 20}, {8315, 30}, {5834, 40},
                                     {4161, 50},  {3014, 60},  {1451, 85}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_near(thermistor_celsius(&t, rows[i][0]), rows[i][1], 0.14);
}

/* A common hobby set is no 25 °C, 10 kohm fit: computed. */
static void thermistor__hobby_set__is_a_third_of_a_kelvin_off(void **state)
{
    (void)state;
    struct thermistor t;
    assert_true(thermistor_parse("1.009249522e-3 2.378405444e-4 2.019202697e-7", &t, NULL));
    assert_near(thermistor_celsius(&t, 10000), 24.68, 0.005);
}

static void thermistor__no_resistance__no_temperature(void **state)
{
    (void)state;
    struct thermistor t = thermistor_from_beta(3950, 10000, 25), none = {.set = false};
    assert_true(isnan(thermistor_celsius(&t, 0)));
    assert_true(isnan(thermistor_celsius(&t, -5)));
    assert_true(isnan(thermistor_celsius(&t, (double)NAN)));
    assert_true(isnan(thermistor_celsius(&t, 1e-300)));
    assert_true(isnan(thermistor_celsius(&none, 10000)));
}

static void thermistor__bad_text__is_refused_with_a_reason(void **state)
{
    (void)state;
    static const char *const bad[] = {"",
                                      "3950",
                                      "beta",
                                      "beta x",
                                      "beta 0",
                                      "beta 3950, 10000",
                                      "beta 3950, 0 at 25",
                                      "1 2",
                                      "1 2 3 4",
                                      "1e-3 -2e-4 0",
                                      "10000 at 25",
                                      "1 at 2, 3 at 4",
                                      "100 at 0, 200 at 10, 300 at 20",
                                      "100 at 0, 100 at 0, 100 at 0",
                                      "0 at 0, 1 at 1, 2 at 2",
                                      "27219 at 0, 14674 at 15, 10000 at 25, 1 at 90"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct thermistor t = {.a = 7};
        struct err e = {""};
        assert_false(thermistor_parse(bad[i], &t, &e));
        assert_near(t.a, 7, 0);
        assert_true(e.text[0] != '\0');
    }
}

static void thermistor__written_and_read__the_same_temperatures(void **state)
{
    (void)state;
    struct thermistor a = thermistor_from_beta(3435, 10000, 25), b;
    char text[120];
    assert_true(thermistor_format(text, sizeof text, &a));
    assert_true(thermistor_parse(text, &b, NULL));
    for (double ohm = 100; ohm < 1e5; ohm *= 1.7)
        assert_near(thermistor_celsius(&b, ohm), thermistor_celsius(&a, ohm), 1e-4);
    assert_false(thermistor_format(text, 20, &a));
}

/* Each shorter than the one before; and as long as a number may be, 39 bytes, and one more. */
static void parse__three_coefficients__each_of_its_own_length(void **state)
{
    (void)state;
    struct thermistor t;
    struct err e;
    assert_true(thermistor_parse("1.129148000e-3 2.34125e-4 8.8e-8", &t, &e));
    assert_near(t.a, 1.129148e-3, 1e-12);
    assert_near(t.b, 2.34125e-4, 1e-12);
    assert_near(t.c, 8.8e-8, 1e-16);
    assert_true(thermistor_parse("0.0010000000000000000000000000000000000 0.000234 0", &t, &e));
    assert_near(t.a, 0.001, 1e-15);
    assert_false(thermistor_parse("0.00100000000000000000000000000000000000 0.000234 0", &t, &e));
    assert_false(thermistor_parse("0.001 0 0.1", &t, &e));
    assert_false(thermistor_parse("0.001 0.000234", &t, &e));
    assert_false(thermistor_parse("0.001 0.000234 0 0", &t, &e));
}

/* By definition: beta B of R at T gives T at R, and at half the resistance 1 / (1/T + ln(1/2) / B).
 */
static void parse__beta__of_its_point(void **state)
{
    static const struct {
        const char *text;
        double beta, ohm, at_c;
    } rows[] = {
        {"beta 3950", 3950, 10000, 25},
        {"beta 3435, 5000 at 20", 3435, 5000, 20},
        {"beta 500", 500, 10000, 25},
        {"beta 10000", 10000, 10000, 25},
    };
    struct thermistor t;

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double half_k = 1 / (1 / (rows[i].at_c + 273.15) + log(0.5) / rows[i].beta);

        assert_true(thermistor_parse(rows[i].text, &t, NULL));
        assert_true(t.set);
        assert_near(thermistor_celsius(&t, rows[i].ohm), rows[i].at_c, 1e-9);
        assert_near(thermistor_celsius(&t, rows[i].ohm / 2), half_k - 273.15, 1e-9);
    }
    assert_false(thermistor_parse("beta 499", &t, NULL));
    assert_false(thermistor_parse("beta 10001", &t, NULL));
    assert_false(thermistor_parse("beta 3950, 0 at 25", &t, NULL));
    assert_false(thermistor_parse("beta 3950, 100 at -273.15", &t, NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(parse__beta__of_its_point),
        cmocka_unit_test(parse__three_coefficients__each_of_its_own_length),
        cmocka_unit_test(thermistor__beta__meets_the_computed_table),
        cmocka_unit_test(thermistor__published_coefficients__meet_the_printed_table),
        cmocka_unit_test(thermistor__three_points__good_between_them_and_not_far_beyond),
        cmocka_unit_test(thermistor__points_over_the_range__good_all_over_it),
        cmocka_unit_test(thermistor__hobby_set__is_a_third_of_a_kelvin_off),
        cmocka_unit_test(thermistor__no_resistance__no_temperature),
        cmocka_unit_test(thermistor__bad_text__is_refused_with_a_reason),
        cmocka_unit_test(thermistor__written_and_read__the_same_temperatures),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
