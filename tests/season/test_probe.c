/* Wear, or a probe that was exchanged: wear shows nothing on a cold morning and a quarter at idle,
 * a probe shows the same everywhere (by construction of the two; sizes in K, of an exhaust). */
#include "season/probe.h"

#include "support/check.h"

static const struct {
    const char *what;
    double jump, idle, rest, error;
    bool probe;
} cases[] = {
    {"a probe, seen at idle and cold", 5, 5, 5, 0.9, true},
    {"a probe that reads lower", -5, -5, -5, 0.9, true},
    {"a probe, no idle and no cold morning known of", 5, NAN, NAN, 0.9, false},
    {"a probe, seen at idle alone", 5, 5, NAN, 0.9, true},
    {"a probe of 3 K that a warm day hides a part of at speed", 2.3, 4, 3.3, 1.5, true},
    {"wear: nothing cold", 8, 2, 0, 0.9, false},
    {"wear: nothing cold known of, a quarter at idle", 8, 2, NAN, 0.9, false},
    {"a cold morning that is odd, and nothing at speed", 0.5, 0, 4, 0.9, false},
    {"a cold morning that says the opposite", 4, 4, -4, 0.9, false},
    {"a cold morning too small to tell", 2.5, 2.5, 1.8, 0.9, false},
    {"a jump far beyond what rest shows", 12, 6, 3, 0.9, false},
    {"nothing", 0.2, 0.1, 0.3, 0.9, false},
    /* Both sides of each bound, of 4 K a caution and 0.8 K that a cold morning may mislead by. */
    {"rest, 2.5 of its errors", 3, NAN, 2.01, 0.6, true},
    {"rest, not quite", 3, NAN, 1.99, 0.6, false},
    {"speed, 0.3 of a caution", 1.21, NAN, 3, 2, true},
    {"speed, not quite", 1.19, NAN, 3, 2, false},
    {"both together, 0.6 of it: (2 / 4 + 2.47 / 0.64) / (1 / 4 + 1 / 0.64)", 2, NAN, 2.47, 2, true},
    {"both together, not quite", 2, NAN, 2.45, 2, false},
    {"apart by 2.5 of hypot(0.6, 0.8)", 6, NAN, 3.51, 0.6, true},
    {"apart, by more", 6, NAN, 3.49, 0.6, false},
    {"opposite, though the errors are large", 3, NAN, -3, 4, false},
    {"no morning: 0.6 of a caution", 2.4, 2.4, NAN, 0.5, true},
    {"no morning: not quite", 2.39, 2.39, NAN, 0.5, false},
    {"no morning: 2.7 errors", 2.44, 2.44, NAN, 0.9, true},
    {"no morning: not quite 2.7", 2.42, 2.42, NAN, 0.9, false},
    {"no morning: idle off by 2.5 errors", 4, 2.76, NAN, 0.5, true},
    {"no morning: idle off by more", 4, 2.74, NAN, 0.5, false},
    {"no morning: idle nearer to all of it than to a quarter", 3, 1.89, NAN, 0.5, true},
    {"no morning: nearer to a quarter", 3, 1.86, NAN, 0.5, false},
};

static void jump__by_what_idle_and_rest_show__is_a_probe_or_is_not(void **state)
{
    int row = season_kept_row(QTY_EXHAUST);
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        if (season_is_probe(row, cases[i].jump, cases[i].idle, cases[i].rest, cases[i].error) !=
            cases[i].probe)
            fail_msg("%s: %staken for a probe", cases[i].what, cases[i].probe ? "not " : "");
}

/* Burn and pressure have no rest to compare with: what jumps there is never a probe's. */
static void jump__of_what_has_no_rest__is_no_probe(void **state)
{
    (void)state;
    assert_false(season_is_probe(season_kept_row(QTY_FUEL_RATE), 0.3, 0.3, NAN, 0.02));
    assert_false(season_is_probe(season_kept_row(QTY_BATTERY_VOLTS), -0.1, NAN, NAN, 0.01));
}

/* The weighted mean of independent figures, and its error: 4 ± 1 and 3 ± 0.8 give 3.39 ± 0.62. */
static void moved__of_speed_and_rest__each_for_what_it_is_worth(void **state)
{
    (void)state;
    assert_near(season_probe_moved(4, NAN, 3, 1), (4 + 3 / 0.64) / (1 + 1 / 0.64), 1e-9);
    assert_near(season_probe_moved(4, NAN, 3, 1), 3.39, 0.005);
    assert_near(season_probe_error(NAN, 3, 1), 0.62, 0.005);
    assert_near(season_probe_moved(4, 2, NAN, 1), 3, 1e-9);
    assert_near(season_probe_moved(4, NAN, NAN, 0.5), 4, 1e-9);
    assert_near(season_probe_error(2, NAN, 1), 1 / sqrt(2), 1e-9);
    assert_near(season_probe_error(NAN, NAN, 0.5), 0.5, 1e-9);
}

static struct season_step rest_of(enum quantity q, int place, int trip, double rpm, double mean)
{
    return (struct season_step){.id = {.quantity = (uint16_t)q, .place = (uint8_t)place},
                                .rpm = rpm,
                                .trip = trip,
                                .mean = mean};
}

/* A probe's reading over the mean of its engine's others on a cold morning: of one engine, one
 * trip, and at rest; where they agree within 6 K, and it with them within 15. */
static void rest__over_the_others_of_its_engine(void **state)
{
    static const struct {
        double own, other, third, rest; /* NaN: none */
    } rows[] = {
        {20, 16, 18, 3},  {20, 16, NAN, 4},    {20, NAN, NAN, NAN}, {NAN, 16, 18, NAN},
        {20, 16, 22, 1},  {20, 16, 22.1, NAN}, {32, 16, 18, 15},    {32.1, 16, 18, NAN},
        {2, 16, 18, -15}, {1.9, 16, 18, NAN},
    };
    const struct channel_id exhaust = {.quantity = QTY_EXHAUST, .place = 1};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct season_step s[8];
        int n = 0;

        s[n++] = rest_of(QTY_COOLANT, 0, 3, 0, 90); /* the other engine's */
        s[n++] = rest_of(QTY_COOLANT, 1, 2, 0, 90); /* another trip's */
        s[n++] = rest_of(QTY_COOLANT, 1, 3, 700, 90);
        if (isfinite(rows[i].own))
            s[n++] = rest_of(QTY_EXHAUST, 1, 3, 0, rows[i].own);
        if (isfinite(rows[i].other))
            s[n++] = rest_of(QTY_COOLANT, 1, 3, 0, rows[i].other);
        if (isfinite(rows[i].third))
            s[n++] = rest_of(QTY_OIL_TEMP, 1, 3, 0, rows[i].third);
        double rest = season_rest(s, n, 3, exhaust);
        if (isnan(rows[i].rest))
            assert_true(isnan(rest));
        else
            assert_near(rest, rows[i].rest, 1e-9);
    }
}

/* Over a twin, its probe's own rest counts as well: 20 over 16, and 19 over 17. */
static void rest__over_a_twin__less_the_twins(void **state)
{
    const struct season_step s[] = {
        rest_of(QTY_EXHAUST, 0, 0, 0, 20), rest_of(QTY_COOLANT, 0, 0, 0, 16),
        rest_of(QTY_EXHAUST, 1, 0, 0, 19), rest_of(QTY_COOLANT, 1, 0, 0, 17)};
    const struct channel_id exhaust = {.quantity = QTY_EXHAUST};
    struct season_normal n = {.mode = SEASON_MODE_OVER_TWIN,
                              .twin = {.quantity = QTY_EXHAUST, .place = 1}};

    (void)state;
    assert_near(season_rest_over(s, 4, 0, &n, exhaust), 2, 1e-9);
    n.mode = SEASON_MODE_OVER_SEA;
    assert_near(season_rest_over(s, 4, 0, &n, exhaust), 4, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(jump__by_what_idle_and_rest_show__is_a_probe_or_is_not),
        cmocka_unit_test(jump__of_what_has_no_rest__is_no_probe),
        cmocka_unit_test(rest__over_the_others_of_its_engine),
        cmocka_unit_test(rest__over_a_twin__less_the_twins),
        cmocka_unit_test(moved__of_speed_and_rest__each_for_what_it_is_worth),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
