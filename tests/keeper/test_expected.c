/* What the keeper says that the cooling watch expects of a channel: now, and as a band behind its
 * curve; nothing of an engine that stands, of a sensor without a reading, or where it is not asked
 * to take it down. */
#include "rules/boat.h"

static size_t index_of(const struct boat *b, const char *key)
{
    const struct plant *p = keeper_plant(b->keeper);
    for (size_t i = 0; i < plant_count(p); i++)
        if (strcmp(plant_channel(p, i)->key, key) == 0)
            return i;
    fail_msg("no %s", key);
    return 0;
}

static void expected__running_engine__value_and_band(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 300);
    int64_t now_ns = plant_now(keeper_plant(b->keeper)).mono_ns;
    for (int e = 0; e < 2; e++) {
        struct expected x = keeper_expected(b->keeper, index_of(b, e ? "exhaust.1" : "exhaust.0"));
        struct history_bucket low, high;
        assert_true(x.now);
        assert_near(x.value, 45, 5); /* as it has been all the time */
        assert_true(x.allowance > 0);
        assert_non_null(x.low);
        assert_non_null(x.high);
        assert_ptr_not_equal(x.low, x.high);
        /* looked at once a second; the last two seconds touch three buckets */
        assert_true(history_span(x.low, now_ns - 2 * NS_PER_S, now_ns + 1, &low));
        assert_true(history_span(x.high, now_ns - 2 * NS_PER_S, now_ns + 1, &high));
        assert_near(low.mean, x.value - x.allowance, 0.2);
        assert_near(high.mean, x.value + x.allowance, 0.2);
        assert_in_range(low.count, 2, 3);
        assert_int_equal(high.count, low.count);
    }
    struct expected none = keeper_expected(b->keeper, index_of(b, "oil-pressure.0"));
    assert_false(none.now);
    assert_null(none.low);
    none = keeper_expected(b->keeper, PLANT_CHANNELS);
    assert_false(none.now);
    assert_null(none.low);
    assert_null(none.high);
    boat_free(b);
}

static void expected__no_reading_or_standing__nothing_now(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 300);
    size_t port = index_of(b, "exhaust.0"), starboard = index_of(b, "exhaust.1");
    b->exhaust[0] = BOAT_NONE;
    b->rpm[1] = 0;
    boat_run(b, 30);
    assert_false(keeper_expected(b->keeper, port).now);
    assert_non_null(keeper_expected(b->keeper, port).low); /* what was expected before stays */
    assert_false(keeper_expected(b->keeper, starboard).now);
    boat_free(b);
}

static void expected__not_asked_for__never(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    keeper_free(b->keeper);
    b->keeper = keeper_new(b->settings, &(struct keeper_options){.escalate = false});
    assert_non_null(b->keeper);
    boat_run(b, 300);
    struct expected x = keeper_expected(b->keeper, index_of(b, "exhaust.0"));
    assert_false(x.now);
    assert_null(x.low);
    assert_null(x.high);
    boat_free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(expected__running_engine__value_and_band),
        cmocka_unit_test(expected__no_reading_or_standing__nothing_now),
        cmocka_unit_test(expected__not_asked_for__never),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
