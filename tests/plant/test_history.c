#include "plant/history.h"

#include "support/check.h"

#include "base/when.h"

#define S NS_PER_S

static struct history *h;

static int setup(void **state)
{
    (void)state;
    h = history_new();
    return h == NULL;
}

static int teardown(void **state)
{
    (void)state;
    history_free(h);
    return 0;
}

static void history__nothing_heard__says_so(void **state)
{
    (void)state;
    struct history_bucket b;
    double x, y;
    assert_false(history_span(h, 0, 1000 * S, &b));
    assert_int_equal(b.count, 0);
    assert_false(history_extremes(h, &x, &y));
    assert_false(history_rate_per_min(h, 1000 * S, 60 * S, &x));
}

static void history__one_second__low_high_mean_count(void **state)
{
    (void)state;
    history_add(h, 1000 * S, 4);
    history_add(h, 1000 * S, 10); /* dt = 0 */
    history_add(h, 1000 * S + S / 2, 1);
    struct history_bucket b;
    assert_true(history_span(h, 1000 * S, 1001 * S, &b));
    assert_near(b.low, 1, 0);
    assert_near(b.high, 10, 0);
    assert_near(b.mean, 5, 1e-6);
    assert_int_equal(b.count, 3);
    assert_false(history_span(h, 1001 * S, 1002 * S, &b));
    assert_false(history_span(h, 1000 * S, 1000 * S, &b));
}

/* A history kept elsewhere, put back bucket by bucket, is what it was: lows, highs and the mean of
 * all readings; an empty bucket is a gap. */
static void history__put_back__is_what_it_was(void **state)
{
    const struct history_bucket first = {2, 9, 5, 4}, second = {3, 12, 10, 1}, third = {4, 6, 5, 1};
    const struct history_bucket gap = {-100, 100, 0, 0};
    struct history_bucket b;
    double low, high;

    (void)state;
    history_put(h, 90 * S, &gap);
    assert_false(history_extremes(h, &low, &high));
    history_put(h, 100 * S, &first);
    history_put(h, 101 * S, &second);
    history_put(h, 102 * S, &gap);
    history_put(h, 103 * S, &third);
    assert_true(history_span(h, 100 * S, 102 * S, &b));
    assert_near(b.low, 2, 0);
    assert_near(b.high, 12, 0);
    assert_near(b.mean, 6, 1e-6); /* (4 * 5 + 10) / 5 */
    assert_int_equal(b.count, 5);
    assert_false(history_span(h, 102 * S, 103 * S, &b));
    assert_true(history_span(h, 103 * S, 104 * S, &b));
    assert_int_equal(b.count, 1);
    assert_true(history_extremes(h, &low, &high));
    assert_near(low, 2, 0);
    assert_near(high, 12, 0);
    assert_true(history_glance(h, 99 * S, 104 * S, &b));
    assert_int_equal(b.count, 6);
    assert_false(history_glance(h, 104 * S, 104 * S, &b));
    assert_int_equal(b.count, 0);
}

static void history__gap__stays_a_gap(void **state)
{
    (void)state;
    history_add(h, 100 * S, 5);
    history_add(h, 110 * S, 7);
    struct history_bucket b;
    assert_false(history_span(h, 101 * S, 110 * S, &b));
    assert_true(history_span(h, 100 * S, 111 * S, &b));
    assert_int_equal(b.count, 2);
}

static void history__each_third_second__the_seconds_between_are_gaps(void **state)
{
    (void)state;
    for (int i = 0; i < 1800; i += 3) /* three times round the finest ring */
        history_add(h, (1000 + i) * S, i);
    struct history_bucket b;
    for (int i = 1800 - 600 + 3; i < 1800; i++) {
        assert_int_equal(history_span(h, (1000 + i) * S, (1001 + i) * S, &b), i % 3 == 0);
        assert_near(b.mean, i % 3 == 0 ? i : 0, 1e-6);
    }
    assert_true(history_span(h, 1000 * S, 1600 * S, &b)); /* from the 10 s level */
    assert_int_equal(b.count, 200);
}

static void history__longer_gap_than_a_ring__old_slots_are_empty(void **state)
{
    (void)state;
    for (int i = 0; i < 600; i++)
        history_add(h, (1000 + i) * S, 5);
    history_add(h, 2900 * S, 7); /* 1301 s later: more than twice round the finest ring */
    struct history_bucket b;
    assert_false(history_span(h, 2301 * S, 2900 * S, &b));
    assert_true(history_span(h, 1000 * S, 1600 * S, &b)); /* from the 10 s level */
    assert_int_equal(b.count, 600);
    assert_near(b.mean, 5, 1e-6);
}

static void history__reading_from_the_past__counted_into_the_newest(void **state)
{
    (void)state;
    history_add(h, 100 * S, 5);
    history_add(h, 90 * S, 9);
    struct history_bucket b;
    assert_false(history_span(h, 90 * S, 91 * S, &b));
    assert_true(history_span(h, 100 * S, 101 * S, &b));
    assert_int_equal(b.count, 2);
    assert_near(b.high, 9, 0);
}

static void history__two_hours__a_one_second_peak_is_still_there(void **state)
{
    (void)state;
    for (int i = 0; i < 7200; i++)
        history_add(h, (1000 + i) * S, i == 1234 ? 99 : 40);
    struct history_bucket b;
    assert_true(history_span(h, (1000 + 1200) * S, (1000 + 1260) * S, &b));
    /* kept to 0.1 % of its distance from the mean, never less than it was */
    assert_near(b.high, 99, 0.06);
    assert_true(b.high >= 99);
    assert_near(b.low, 40, 0.06);
    assert_true(b.low <= 40);
    assert_int_equal(b.count, 60);
    assert_near(b.mean, 40 + 59.0 / 60, 1e-4);
    assert_true(history_span(h, 1000 * S, 8200 * S, &b));
    assert_int_equal(b.count, 7200); /* nothing lost, nothing counted twice, across the levels */
}

static void history__thirty_hours__still_reaches_back_and_older_is_gone(void **state)
{
    (void)state;
    for (int i = 0; i < 40 * 3600 / 5; i++)
        history_add(h, (1000 + (int64_t)i * 5) * S, i);
    int64_t end = 1000 + 40 * 3600;
    struct history_bucket b;
    assert_true(history_span(h, (end - 30 * 3600) * S, (end - 29 * 3600) * S, &b));
    /* Buckets of 120 s that touch the hour: 30 or 31 of them, 24 readings each. */
    assert_in_range(b.count, 720, 744);
    assert_false(history_span(h, (end - 39 * 3600) * S, (end - 38 * 3600) * S, &b));
    double low, high;
    assert_true(history_extremes(h, &low, &high));
    assert_near(low, 0, 0);
    assert_near(high, 28799, 0);
}

static void history__values_of_any_size__low_and_high_enclose_them(void **state)
{
    (void)state;
    static const double sizes[] = {1e-7, 0.003, 1, 47.7, 658.2214, 8000, 1e6, 3e8};
    struct history_bucket b;
    int64_t t = 1000;
    for (size_t k = 0; k < sizeof sizes / sizeof sizes[0]; k++, t += 4000) {
        double v = sizes[k]; /* 14/9 of 658.2214 are just below 1024 */
        history_add(h, t * S, -v);
        history_add(h, (t + 1) * S, v / 3);
        history_add(h, (t + 2) * S, 2 * v);
        history_add(h, (t + 3000) * S, 0);
        assert_true(history_span(h, t * S, (t + 3) * S, &b)); /* from a coarser level by now */
        assert_true(b.low <= -v * (1 - 1e-6) && b.low >= -v * 1.002);
        assert_true(b.high >= 2 * v * (1 - 1e-6) && b.high <= 2 * v * 1.002);
        assert_int_equal(b.count, 3);
        if (k == 0)
            continue;
        assert_true(history_span(h, (t - 1000) * S, (t - 999) * S, &b)); /* the 0 before */
        assert_true(b.low == 0 && b.high == 0);
    }
}

static void history__straight_line__its_slope(void **state)
{
    (void)state;
    for (int i = 0; i < 120; i++)
        history_add(h, (1000 + i) * S, 20 + 1.6 * i); /* 96 K/min */
    double rate;
    assert_true(history_rate_per_min(h, 1119 * S, 60 * S, &rate));
    assert_near(rate, 96, 1e-3);
}

static void history__two_points__no_slope(void **state)
{
    (void)state;
    double rate;
    history_add(h, 1000 * S, 1);
    history_add(h, 1001 * S, 2);
    assert_false(history_rate_per_min(h, 1001 * S, 60 * S, &rate));
    history_add(h, 1002 * S, 3);
    assert_true(history_rate_per_min(h, 1002 * S, 60 * S, &rate));
    assert_near(rate, 60, 1e-6);
    assert_false(history_rate_per_min(h, 1002 * S, 0, &rate));
}

static void history__time_before_zero__works_the_same(void **state)
{
    (void)state;
    for (int i = -700; i < 0; i++)
        history_add(h, i * S, i);
    struct history_bucket b;
    assert_true(history_span(h, -10 * S, 0, &b));
    assert_int_equal(b.count, 10);
    assert_near(b.low, -10, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define T(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
        T(history__nothing_heard__says_so),
        T(history__one_second__low_high_mean_count),
        T(history__put_back__is_what_it_was),
        T(history__gap__stays_a_gap),
        T(history__each_third_second__the_seconds_between_are_gaps),
        T(history__longer_gap_than_a_ring__old_slots_are_empty),
        T(history__reading_from_the_past__counted_into_the_newest),
        T(history__two_hours__a_one_second_peak_is_still_there),
        T(history__thirty_hours__still_reaches_back_and_older_is_gone),
        T(history__values_of_any_size__low_and_high_enclose_them),
        T(history__straight_line__its_slope),
        T(history__two_points__no_slope),
        T(history__time_before_zero__works_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
