#include "plant/period.h"

#include "support/check.h"

#include "base/when.h"

#define MS NS_PER_MS

static void feed(struct period *p, int64_t *t_ms, const int *gaps_ms, int n)
{
    for (int i = 0; i < n; i++) {
        *t_ms += gaps_ms[i];
        period_heard(p, *t_ms * MS, 130312);
    }
}

static void period__fewer_than_three_messages__not_known(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    feed(&p, &t, (int[]){0, 2000}, 2);
    assert_int_equal(p.estimate_ns, 0);
    assert_int_equal(period_patience(&p), 60 * NS_PER_S);
    feed(&p, &t, (int[]){2000}, 1);
    assert_int_equal(p.estimate_ns, 2000 * MS);
    assert_int_equal(period_patience(&p), 6 * NS_PER_S);
}

static void period__fast_sender__patience_is_two_seconds(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    for (int i = 0; i < 20; i++)
        feed(&p, &t, (int[]){100}, 1);
    assert_near(p.estimate_ns, 100 * MS, 1);
    assert_int_equal(period_patience(&p), 2 * NS_PER_S);
}

static void period__jitter__averages_out(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    uint32_t seed = 7;
    for (int i = 0; i < 500; i++) {
        seed = seed * 1664525 + 1013904223;
        feed(&p, &t, (int[]){1700 + (int)(seed >> 16) % 600}, 1);
        if (i > 20)
            assert_near(p.estimate_ns, 2000 * MS, 300 * MS);
    }
}

static void period__every_frame_doubled__the_double_does_not_count(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    for (int i = 0; i < 50; i++)
        feed(&p, &t, (int[]){1999, 1}, 2);
    assert_near(p.estimate_ns, 2000 * MS, 2 * MS);
}

static void period__doubles_some_milliseconds_late__do_not_count(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    feed(&p, &t, (int[]){0, 2000, 2000, 2000}, 4);
    for (int i = 0; i < 50; i++)
        feed(&p, &t, (int[]){1970, 30}, 2);
    assert_near(p.estimate_ns, 2000 * MS, 40 * MS);
}

static void period__time_stands_still__nothing_learned(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    feed(&p, &t, (int[]){0, 0, 0, 0, 0}, 5);
    assert_int_equal(p.estimate_ns, 0);
}

static void period__one_message_lost__hardly_matters(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    for (int i = 0; i < 10; i++)
        feed(&p, &t, (int[]){1000}, 1);
    feed(&p, &t, (int[]){2000}, 1);
    assert_in_range(p.estimate_ns, 1000 * MS, 1125 * MS);
    feed(&p, &t, (int[]){9000}, 1); /* eight lost: not believed at all */
    assert_in_range(p.estimate_ns, 1000 * MS, 1125 * MS);
}

static void period__first_interval_long__recovers_with_the_third(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    feed(&p, &t, (int[]){0, 9000, 1000, 1000}, 4);
    assert_int_equal(p.estimate_ns, 1000 * MS);
}

static void period__burst_then_slow__learned_afresh_after_two(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    feed(&p, &t, (int[]){0, 20, 20, 20, 10000, 10000}, 6);
    assert_int_equal(p.estimate_ns, 10000 * MS);
}

static void period__sender_becomes_faster__follows(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    for (int i = 0; i < 10; i++)
        feed(&p, &t, (int[]){1000}, 1);
    for (int i = 0; i < 120; i++)
        feed(&p, &t, (int[]){100}, 1);
    assert_near(p.estimate_ns, 100 * MS, 20 * MS);
}

static void period__pause__the_hole_is_no_interval(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    feed(&p, &t, (int[]){0, 1000, 1000, 1000}, 4);
    period_pause(&p);
    feed(&p, &t, (int[]){2500, 1000}, 2);
    assert_int_equal(p.estimate_ns, 1000 * MS);
}

static void period__same_field_in_two_messages__one_rhythm_counts(void **state)
{
    (void)state;
    struct period p = {0};
    for (int i = 0; i < 30; i++) {
        period_heard(&p, (1000000 + i * 2000) * MS, 130312);
        period_heard(&p, (1000000 + i * 2000 + 900) * MS, 130316);
    }
    assert_near(p.estimate_ns, 2000 * MS, 1);
    /* The first ends: the other takes its place. */
    for (int i = 30; i < 60; i++)
        period_heard(&p, (1000000 + i * 2000 + 900) * MS, 130316);
    assert_int_equal(p.pgn, 130316);
    assert_near(p.estimate_ns, 2000 * MS, 1);
}

static void period__late_twice_by_different_times__the_shorter_is_believed(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    feed(&p, &t, (int[]){0, 20, 20, 20, 10000, 7000}, 6);
    assert_int_equal(p.estimate_ns, 7000 * MS);
    p = (struct period){0};
    feed(&p, &t, (int[]){0, 20, 20, 20, 7000, 10000}, 6);
    assert_int_equal(p.estimate_ns, 7000 * MS);
    /* one in time between them: neither is */
    p = (struct period){0};
    feed(&p, &t, (int[]){0, 1000, 1000, 1000, 9000, 1000, 9000}, 7);
    assert_int_equal(p.estimate_ns, 1000 * MS);
}

static void period__three_times_as_long__is_late_only_beyond(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    feed(&p, &t, (int[]){0, 1000, 1000, 1000, 3000}, 5);
    assert_int_equal(p.late_ns, 0);
    assert_int_equal(p.estimate_ns, 1125 * MS); /* moved by an eighth, no more */
    feed(&p, &t, (int[]){3376}, 1);
    assert_int_equal(p.late_ns, 3376 * MS);
    assert_int_equal(p.estimate_ns, 1125 * MS);
    p = (struct period){0};
    feed(&p, &t, (int[]){0, 1000, 1000, 1000, 1200}, 5);
    assert_int_equal(p.estimate_ns, 1050 * MS); /* by a quarter of the difference */
    p = (struct period){0};
    feed(&p, &t, (int[]){0, 1000, 1000, 1000, 400}, 5);
    assert_int_equal(p.estimate_ns, 875 * MS);
    p = (struct period){0};
    feed(&p, &t, (int[]){0, 1000, 1000, 1000, 250}, 5);
    assert_int_equal(p.counted_ns, t * MS); /* a quarter counts, */
    feed(&p, &t, (int[]){200}, 1);
    assert_int_equal(p.counted_ns, (t - 200) * MS); /* less is a double */
}

static void period__another_message__takes_over_only_after_patience(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    feed(&p, &t, (int[]){0, 1000, 1000, 1000}, 4);
    assert_int_equal(period_patience(&p), 3 * NS_PER_S);
    period_heard(&p, t * MS + 3 * NS_PER_S, 130316);
    assert_int_equal(p.pgn, 130312);
    period_heard(&p, t * MS + 3 * NS_PER_S + 1, 130316);
    assert_int_equal(p.pgn, 130316);
    assert_int_equal(p.estimate_ns, 1000 * MS); /* until it has a rhythm of its own */
}

static void period__two_intervals__mean_or_the_longer_where_one_may_be_a_double(void **state)
{
    (void)state;
    struct period p = {0};
    int64_t t = 1000000;
    feed(&p, &t, (int[]){0, 1000, 2000}, 3);
    assert_int_equal(p.estimate_ns, 1500 * MS);
    p = (struct period){0};
    feed(&p, &t, (int[]){0, 2000, 500}, 3);
    assert_int_equal(p.estimate_ns, 1250 * MS); /* just a quarter */
    p = (struct period){0};
    feed(&p, &t, (int[]){0, 499, 2000}, 3);
    assert_int_equal(p.estimate_ns, 2000 * MS);
    p = (struct period){0};
    feed(&p, &t, (int[]){0, 1000, 3000, 2000}, 4);
    assert_int_equal(p.estimate_ns, 2000 * MS); /* the median of three */
    p = (struct period){0};
    feed(&p, &t, (int[]){0, 3000, 2000, 1000}, 4);
    assert_int_equal(p.estimate_ns, 2000 * MS);
    p = (struct period){0};
    feed(&p, &t, (int[]){0, 2000, 1000, 3000}, 4);
    assert_int_equal(p.estimate_ns, 2000 * MS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(period__fewer_than_three_messages__not_known),
        cmocka_unit_test(period__fast_sender__patience_is_two_seconds),
        cmocka_unit_test(period__jitter__averages_out),
        cmocka_unit_test(period__every_frame_doubled__the_double_does_not_count),
        cmocka_unit_test(period__doubles_some_milliseconds_late__do_not_count),
        cmocka_unit_test(period__time_stands_still__nothing_learned),
        cmocka_unit_test(period__one_message_lost__hardly_matters),
        cmocka_unit_test(period__first_interval_long__recovers_with_the_third),
        cmocka_unit_test(period__burst_then_slow__learned_afresh_after_two),
        cmocka_unit_test(period__sender_becomes_faster__follows),
        cmocka_unit_test(period__pause__the_hole_is_no_interval),
        cmocka_unit_test(period__same_field_in_two_messages__one_rhythm_counts),
        cmocka_unit_test(period__late_twice_by_different_times__the_shorter_is_believed),
        cmocka_unit_test(period__three_times_as_long__is_late_only_beyond),
        cmocka_unit_test(period__another_message__takes_over_only_after_patience),
        cmocka_unit_test(period__two_intervals__mean_or_the_longer_where_one_may_be_a_double),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
