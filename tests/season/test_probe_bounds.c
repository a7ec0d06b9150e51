/* Wear or another probe: what a jump, idle and a cold morning must show, on both sides of each
 * bound. The figures follow from those at the head of src/season/probe.c and the row of the
 * exhaust (caution 4 K, a quarter of wear to be seen at idle). */
#include "support/check.h"

#include "season/probe.h"
#include "season/kept.h"

#include <math.h>

static void probe__jump_idle_and_rest__on_both_sides_of_each_bound(void **state)
{
    static const struct {
        double jump, idle, rest, error;
        bool is;
    } cases[] = {
        {10, NAN, NAN, 1, false}, /* nothing that could tell */
        {10, 10, NAN, 1, true},      {-10, -10, NAN, 1, true},  {10, -10, NAN, 1, false},
        {2.3, 2.3, NAN, 0.5, false},                           /* less than 0.6 of a caution */
        {2.5, 2.5, NAN, 0.5, true},  {10, 10, NAN, 3.6, true}, /* 2.7 errors are 9.7 */
        {10, 10, NAN, 3.8, false},   {10, 12.4, NAN, 1, true}, /* idle fits within 2.5 errors */
        {10, 12.6, NAN, 1, false},   {10, 7.6, NAN, 1, true},   {10, 7.4, NAN, 1, false},
        {10, 6.5, NAN, 3, true}, /* nearer to the jump than to a quarter of it */
        {10, 6.0, NAN, 3, false},    {10, NAN, 10, 1, true}, /* at rest: 2.5 errors of hypot(1, 0.8)
                                                                are 3.2 */
        {10, NAN, 13.1, 1, true},    {10, NAN, 13.3, 1, false}, {10, NAN, 6.9, 1, true},
        {10, NAN, 6.7, 1, false},    {10, NAN, -10, 1, false},  {-10, NAN, -10, 1, true},
        {2.5, NAN, 1.9, 0.5, false},                          /* 2.5 errors of 0.8 are 2 */
        {2.5, NAN, 2.1, 0.5, true},  {10, 10, 0.5, 1, false}, /* rest is asked before idle */
        {10, 0, 10, 1, true},
    };
    int exhaust = season_kept_row(QTY_EXHAUST), boost = season_kept_row(QTY_BOOST);

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        if (season_is_probe(exhaust, cases[i].jump, cases[i].idle, cases[i].rest, cases[i].error) !=
            cases[i].is)
            fail_msg("case %zu", i);
        assert_false(season_is_probe(boost, cases[i].jump, cases[i].idle, cases[i].rest, 0.001));
    }
}

static void probe__what_it_moved_by__is_the_weighted_mean(void **state)
{
    (void)state;
    assert_near(season_probe_moved(10, NAN, NAN, 2), 10, 1e-9);
    assert_near(season_probe_moved(10, 12, NAN, 2), 11, 1e-9);
    /* weights 1 and 1 / 0.8^2 = 1.5625 */
    assert_near(season_probe_moved(10, NAN, 8, 1), (10 + 8 * 1.5625) / 2.5625, 1e-9);
    assert_near(season_probe_moved(10, 99, 8, 1), (10 + 8 * 1.5625) / 2.5625, 1e-9);
    assert_near(season_probe_error(NAN, NAN, 2), 2, 1e-9);
    assert_near(season_probe_error(12, NAN, 2), sqrt(2), 1e-9);
    assert_near(season_probe_error(NAN, 8, 1), 1 / sqrt(2.5625), 1e-9);
    assert_near(season_probe_error(12, 8, 1), 1 / sqrt(2.5625), 1e-9);
}

static struct season_step at_rest(enum quantity q, int place, double mean)
{
    return (struct season_step){
        .id = {(uint16_t)q, (uint8_t)place, 0}, .mean = mean, .rpm = 0, .trip = 3};
}

static void rest__over_the_other_temperatures_of_a_cold_engine(void **state)
{
    const struct channel_id exhaust = {QTY_EXHAUST, 0, 0}, twin = {QTY_EXHAUST, 1, 0};
    struct season_normal n = {.mode = SEASON_MODE_OVER_TWIN, .twin = twin};
    struct season_step s[6];

    (void)state;
    s[0] = at_rest(QTY_EXHAUST, 0, 20);
    s[1] = at_rest(QTY_COOLANT, 0, 16);
    s[2] = at_rest(QTY_OIL_TEMP, 0, 17);
    s[3] = at_rest(QTY_COOLANT, 1, 16);
    s[4] = at_rest(QTY_EXHAUST, 1, 17);
    s[5] = at_rest(QTY_OIL_TEMP, 0, 90); /* running, of another trip: of no matter */
    s[5].rpm = 700;
    assert_near(season_rest(s, 6, 3, exhaust), 3.5, 1e-9);
    assert_near(season_rest(s, 6, 3, twin), 1, 1e-9);
    assert_near(season_rest_over(s, 6, 3, &n, exhaust), 2.5, 1e-9);
    n.mode = SEASON_MODE_OVER_TWIN + 1;
    assert_near(season_rest_over(s, 6, 3, &n, exhaust), 3.5, 1e-9);
    assert_true(isnan(season_rest(s, 6, 2, exhaust)));
    assert_true(isnan(season_rest(s, 1, 3, exhaust))); /* nothing beside it */
    s[5].rpm = 0;
    s[5].trip = 2;
    assert_near(season_rest(s, 6, 3, exhaust), 3.5, 1e-9);
    s[2].mean = 21.9; /* 5.9 K apart: cold */
    assert_near(season_rest(s, 6, 3, exhaust), 20 - 18.95, 1e-9);
    s[2].mean = 22.1; /* 6.1 K: warm still */
    assert_true(isnan(season_rest(s, 6, 3, exhaust)));
    s[2].mean = 16;
    s[0].mean = 30.9; /* a probe may be 15 K off */
    assert_near(season_rest(s, 6, 3, exhaust), 14.9, 1e-9);
    s[0].mean = 31.1;
    assert_true(isnan(season_rest(s, 6, 3, exhaust)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(probe__jump_idle_and_rest__on_both_sides_of_each_bound),
        cmocka_unit_test(probe__what_it_moved_by__is_the_weighted_mean),
        cmocka_unit_test(rest__over_the_other_temperatures_of_a_cold_engine),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
