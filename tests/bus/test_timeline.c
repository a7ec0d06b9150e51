/* The clock of a log: what is a pause, what a hole. Times in milliseconds. */
#include "support/check.h"

#include "bus/timeline.h"

struct hand {
    struct timeline t;
    int64_t ms;
    int holes, gaps;
};

static void frame_after(struct hand *h, int64_t ms)
{
    uint8_t flags = 0;
    h->ms += ms;
    int64_t before = h->t.mono_ns;
    int64_t mono_ns = timeline_map(&h->t, h->ms * NS_PER_MS, &flags);
    if (before > 0)
        assert_true(mono_ns >= before);
    h->holes += (flags & FRAME_HOLE) != 0;
    h->gaps += (flags & FRAME_GAP) != 0;
    assert_int_equal(flags & ~(FRAME_HOLE | FRAME_GAP), 0);
}

static void frames_every(struct hand *h, int64_t ms, int n)
{
    for (int i = 0; i < n; i++)
        frame_after(h, ms);
}

static void timeline__dense_log__pause_of_seconds_is_a_hole(void **state)
{
    (void)state;
    static const int64_t pauses_ms[] = {1600, 2000, 5000, 10000};
    for (size_t i = 0; i < 4; i++) {
        struct hand h = {.ms = 1};
        frames_every(&h, 20, 1000);
        int64_t before = h.t.mono_ns;
        frame_after(&h, pauses_ms[i]);
        assert_int_equal(h.holes, 1);
        assert_int_equal(h.gaps, 0);
        assert_int_equal(h.t.gaps, 1);
        assert_int_equal(h.t.mono_ns - before, pauses_ms[i] * NS_PER_MS);
        frames_every(&h, 20, 1000);
        assert_int_equal(h.holes, 1);
    }
}

static void timeline__dense_log__short_pause_is_none(void **state)
{
    (void)state;
    struct hand h = {.ms = 1};
    frames_every(&h, 20, 1000);
    frame_after(&h, 1400);
    assert_int_equal(h.holes, 0);
}

/* One sender every 2.5 s (tanks, IEC 61162-3) and nothing else: two of them lost is a pause. */
static void timeline__sparse_log__long_pauses_are_normal(void **state)
{
    (void)state;
    struct hand h = {.ms = 1};
    frames_every(&h, 2500, 100);
    frame_after(&h, 5000);
    frame_after(&h, 7400);
    assert_int_equal(h.holes, 0);
    frames_every(&h, 2500, 100);
    frame_after(&h, 9000);
    assert_int_equal(h.holes, 1);
}

static void timeline__bursts__their_pauses_are_normal(void **state)
{
    (void)state;
    struct hand h = {.ms = 1};
    for (int i = 0; i < 50; i++) {
        frames_every(&h, 2, 40);
        frame_after(&h, 3000);
    }
    assert_int_equal(h.holes, 0); /* the first comes before anything is known */
}

static void timeline__long_ago__is_forgotten(void **state)
{
    (void)state;
    struct hand h = {.ms = 1};
    frames_every(&h, 20, 1000);
    frame_after(&h, 4000);
    frames_every(&h, 20, 500);
    frame_after(&h, 4000); /* again within the minute: normal here */
    assert_int_equal(h.holes, 1);
    frames_every(&h, 20, 4000); /* 80 s */
    frame_after(&h, 4000);
    assert_int_equal(h.holes, 2);
}

static void timeline__first_seconds__nothing_is_known(void **state)
{
    (void)state;
    struct hand h = {.ms = 1};
    frames_every(&h, 20, 20);
    frame_after(&h, 6000);
    assert_int_equal(h.holes, 0);
}

static void timeline__beyond_ten_seconds__is_a_gap_and_no_hole(void **state)
{
    (void)state;
    struct hand h = {.ms = 1};
    frames_every(&h, 20, 1000);
    frame_after(&h, 10001);
    frame_after(&h, INT64_C(31536000000));
    frame_after(&h, -INT64_C(31536000000));
    assert_int_equal(h.holes, 0);
    assert_int_equal(h.gaps, 2);
    assert_int_equal(h.t.steps_back, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(timeline__dense_log__pause_of_seconds_is_a_hole),
        cmocka_unit_test(timeline__dense_log__short_pause_is_none),
        cmocka_unit_test(timeline__sparse_log__long_pauses_are_normal),
        cmocka_unit_test(timeline__bursts__their_pauses_are_normal),
        cmocka_unit_test(timeline__long_ago__is_forgotten),
        cmocka_unit_test(timeline__first_seconds__nothing_is_known),
        cmocka_unit_test(timeline__beyond_ten_seconds__is_a_gap_and_no_hole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
