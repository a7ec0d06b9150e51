/* Whole seasons of drilled boats, fixed seeds: wear is said in time, healthy boats are left in
 * peace. `make bench-season` has the figures over many. */
#include "bench/season_sail.h"

#include "support/check.h"

static struct season_outcome sail(enum drill_season_kind kind, uint64_t seed, int count)
{
    struct season_outcome o = {0};

    for (int i = 0; i < count; i++) {
        static struct drill_season s;
        drill_season_make(&s, kind, seed + (uint64_t)i, 0, 0);
        season_sail(&s, &o, false);
    }
    return o;
}

static void healthy_boats__a_summer_of_warming_sea_and_fouling_hull__quiet(void **state)
{
    struct season_outcome o = sail(DRILL_SEASON_HEALTHY, 310, 4);

    (void)state;
    assert_int_equal(o.cautions, 0);
    assert_int_equal(o.warnings, 0);
}

static void impeller_that_wears__said_before_6_k_and_warned_before_12(void **state)
{
    struct season_outcome o = sail(DRILL_SEASON_IMPELLER, 320, 4);

    (void)state;
    assert_true(o.due6 >= 3);
    assert_int_equal(o.early, o.due6);
    assert_int_equal(o.warned, o.due12);
    assert_int_equal(o.warnings, 0);
}

static void cooler_that_scales__said_before_6_k(void **state)
{
    struct season_outcome o = sail(DRILL_SEASON_SCALE, 330, 3);

    (void)state;
    assert_true(o.due6 >= 2);
    assert_int_equal(o.early, o.due6);
    assert_int_equal(o.warned, o.due12);
}

static void weed_in_the_strainer__said_within_its_trip(void **state)
{
    struct season_outcome o = sail(DRILL_SEASON_STRAINER, 340, 3);

    (void)state;
    assert_int_equal(o.strainer, 3);
    assert_int_equal(o.warnings, 0);
}

static void exchanged_probe__at_most_a_question(void **state)
{
    struct season_outcome o = sail(DRILL_SEASON_PROBE, 350, 4);

    (void)state;
    assert_int_equal(o.cautions, 0);
    assert_int_equal(o.warnings, 0);
    assert_true(o.questions >= 3);
}

static void worn_from_the_first_trip__quiet(void **state)
{
    struct season_outcome o = sail(DRILL_SEASON_WORN, 360, 3);

    (void)state;
    assert_int_equal(o.cautions, 0);
    assert_int_equal(o.warnings, 0);
}

static void battery_that_ages__said_before_it_cranks_at_9_per_cent_less(void **state)
{
    struct season_outcome o = sail(DRILL_SEASON_BATTERY, 370, 3);

    (void)state;
    assert_true(o.due9 >= 2);
    assert_int_equal(o.battery, o.due9);
    assert_int_equal(o.cautions, 0);
    assert_int_equal(o.warnings, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(healthy_boats__a_summer_of_warming_sea_and_fouling_hull__quiet),
        cmocka_unit_test(impeller_that_wears__said_before_6_k_and_warned_before_12),
        cmocka_unit_test(cooler_that_scales__said_before_6_k),
        cmocka_unit_test(weed_in_the_strainer__said_within_its_trip),
        cmocka_unit_test(exchanged_probe__at_most_a_question),
        cmocka_unit_test(worn_from_the_first_trip__quiet),
        cmocka_unit_test(battery_that_ages__said_before_it_cranks_at_9_per_cent_less),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
