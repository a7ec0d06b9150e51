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
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(jump__by_what_idle_and_rest_show__is_a_probe_or_is_not),
        cmocka_unit_test(jump__of_what_has_no_rest__is_no_probe),
        cmocka_unit_test(moved__of_speed_and_rest__each_for_what_it_is_worth),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
