/* A log played at a chosen speed: what is due when, what pausing and going to a time do, which
 * acknowledgements are given again; and the reading ahead that finds alerts and the hottest. */
#include "session/replay.h"

#include "base/text.h"
#include "config/config.h"
#include "support/check.h"
#include "support/program.h"

#include <stdlib.h>
#include <string.h>

#define T0_NS (INT64_C(1777903200) * NS_PER_S)

static struct settings *settings;
static struct replay r;
static struct scan s;

static int begin(void **state)
{
    (void)state;
    struct config_messages *messages = NULL;
    settings = config_load(NULL, &messages);
    config_messages_free(messages);
    return settings ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    settings_free(settings);
    return 0;
}

/* A frame each half second for so many seconds; one more at `lone_s` where not 0. */
static const char *log_of(int seconds, int lone_s)
{
    static char text[1300 * 48];
    size_t len = 0;
    for (int i = 0; i < 2 * seconds; i++)
        len += (size_t)snprintf(text + len, sizeof text - len, "(%d.%d) can0 09F80226#%02X\n",
                                1777903200 + i / 2, i % 2 * 5, i & 255);
    if (lone_s)
        snprintf(text + len, sizeof text - len, "(%d.0) can0 09F80226#AA\n", 1777903200 + lone_s);
    return program_file("half-seconds.log", text);
}

static void play_log(const char *path)
{
    struct err e;
    assert_true(replay_open(&r, path, NULL, settings, &(struct log_range){0}, &e));
}

static double played_s(void)
{
    return (double)(r.now.wall_ns - T0_NS) / 1e9;
}

static void advance__at_a_speed__plays_what_is_due(void **state)
{
    (void)state;
    play_log(log_of(100, 0));
    assert_true(replay_busy(&r)); /* it has not begun */
    replay_advance(&r, 0, 1000);
    assert_near(played_s(), 0, 0);
    assert_false(replay_busy(&r));
    assert_true(replay_wait_ns(&r) == NS_PER_S / 2);
    replay_advance(&r, NS_PER_S / 4, 1000);
    assert_near(played_s(), 0.25, 1e-9); /* time goes on between frames */
    assert_true(replay_wait_ns(&r) == NS_PER_S / 4);
    assert_true(replay_advance(&r, NS_PER_S / 4, 1000));
    assert_near(played_s(), 0.5, 1e-9);
    r.speed = 8;
    replay_advance(&r, NS_PER_S / 8, 1000);
    assert_near(played_s(), 1.5, 1e-9);
    assert_true(replay_wait_ns(&r) == NS_PER_S / 16);
    r.speed = 0.5;
    assert_true(replay_wait_ns(&r) == NS_PER_S);
    /* what a slow machine owes is forgiven beyond two seconds of the speed */
    r.speed = 8;
    r.owed_ns = 15.9e9;
    replay_advance(&r, 0, 0);
    assert_near(r.owed_ns, 15.9e9, 0);
    r.owed_ns = 16.1e9;
    replay_advance(&r, 0, 0);
    assert_near(r.owed_ns, 0, 0);
    r.speed = 0.5;
    r.owed_ns = 1.9e9;
    replay_advance(&r, 0, 0);
    assert_near(r.owed_ns, 1.9e9, 0);
    r.owed_ns = 2.1e9;
    replay_advance(&r, 0, 0);
    assert_near(r.owed_ns, 0, 0);
    replay_close(&r);
}

static void advance__paused_or_over__plays_nothing(void **state)
{
    (void)state;
    play_log(log_of(10, 0));
    replay_advance(&r, NS_PER_S, 1000);
    replay_advance(&r, NS_PER_S, 1000);
    r.paused = true;
    double at = played_s();
    assert_false(replay_advance(&r, NS_PER_S, 1000));
    assert_false(replay_busy(&r));
    assert_true(replay_wait_ns(&r) == -1);
    assert_near(played_s(), at, 0);
    r.paused = false;
    r.speed = 0;
    assert_true(replay_busy(&r));
    assert_true(replay_wait_ns(&r) == -1); /* as fast as can be: never due later */
    while (!r.ended)
        replay_advance(&r, 0, 3);
    assert_near(played_s(), 9.5, 1e-9);
    assert_false(replay_busy(&r));
    assert_false(r.failed);
    assert_true(replay_wait_ns(&r) == -1);
    assert_false(replay_advance(&r, NS_PER_S, 1000));
    replay_close(&r);
}

/* At least so many frames at a time, and hardly more. */
static void advance__as_fast_as_can_be__no_more_than_asked(void **state)
{
    (void)state;
    play_log(log_of(600, 0));
    r.speed = 0;
    int turns = 0;
    for (; !r.ended; turns++)
        replay_advance(&r, 0, 1);
    assert_true(turns > 1); /* a batch at the most */
    assert_near(played_s(), 599.5, 1e-9);
    replay_close(&r);
}

/* Half an hour of nothing is not waited for. */
static void advance__hole_in_the_log__is_passed_over(void **state)
{
    (void)state;
    static const int after_s[] = {8, 20, 1800}; /* a hole, a gap, one longer than is shown */
    for (size_t k = 0; k < sizeof after_s / sizeof after_s[0]; k++) {
        play_log(log_of(5, after_s[k]));
        for (int i = 0; i < 46; i++)
            replay_advance(&r, NS_PER_S / 10, 1000);
        assert_near(played_s(), after_s[k], 1e-6);
        replay_close(&r);
        /* a turn that ends before it does not wait for it either */
        play_log(log_of(5, after_s[k]));
        for (int i = 0; i < 45; i++)
            replay_advance(&r, NS_PER_S / 10, 1);
        assert_near(played_s(), 4.5, 1e-6);
        assert_true(replay_wait_ns(&r) == 0);
        replay_close(&r);
    }
}

static void seek__on_and_back__comes_to_the_moment(void **state)
{
    (void)state;
    play_log(log_of(100, 0));
    assert_false(replay_seek(&r, T0_NS + 50 * NS_PER_S)); /* not begun */
    replay_advance(&r, 0, 1000);
    assert_true(replay_seek(&r, T0_NS + 50 * NS_PER_S));
    r.paused = true; /* goes there all the same */
    assert_true(replay_busy(&r));
    for (int i = 0; i < 50 && r.seeking; i++)
        assert_true(replay_advance(&r, NS_PER_S, 1000));
    assert_false(r.seeking);
    assert_near(played_s(), 49.5, 1e-9); /* the frame of that moment is the next */
    assert_near(r.owed_ns, 0, 0);
    assert_true(replay_seek(&r, T0_NS + 20 * NS_PER_S));
    for (int i = 0; i < 50 && r.seeking; i++)
        replay_advance(&r, NS_PER_S, 1000);
    assert_near(played_s(), 19.5, 1e-9);
    /* beyond the end: there it stays, and from there back */
    assert_true(replay_seek(&r, T0_NS + 500 * NS_PER_S));
    for (int i = 0; i < 50 && !r.ended; i++)
        replay_advance(&r, NS_PER_S, 1000);
    assert_false(r.seeking);
    assert_near(played_s(), 99.5, 1e-9);
    assert_true(replay_seek(&r, T0_NS + 99 * NS_PER_S));
    assert_false(r.ended);
    for (int i = 0; i < 50 && r.seeking; i++)
        replay_advance(&r, NS_PER_S, 1000);
    assert_near(played_s(), 98.5, 1e-9);
    /* to where it stands: nothing is read again */
    assert_true(replay_seek(&r, r.now.wall_ns));
    replay_advance(&r, 0, 1000);
    assert_near(played_s(), 98.5, 1e-9);
    replay_close(&r);
}

/* From a time in the middle on: what came before is played at once, so that rules know it. */
static void open__from_a_time__begins_there(void **state)
{
    (void)state;
    struct err e;
    struct log_range range = {.has_from = true};
    assert_true(when_parse_in_log("+00:30", &range.from));
    assert_true(replay_open(&r, log_of(100, 0), NULL, settings, &range, &e));
    for (int i = 0; i < 50 && (!r.started || r.seeking); i++)
        replay_advance(&r, 0, 1000);
    assert_near(played_s(), 29.5, 1e-9);
    replay_close(&r);
    assert_false(replay_open(&r, "/no/such/place.log", NULL, settings, &range, &e));
    assert_non_null(strstr(e.text, "place.log"));
}

static int heard;

static void on_event(void *ctx, const struct alert_event *ev)
{
    (void)ctx;
    (void)ev;
    heard++;
}

static const char *impeller(void)
{
    static char path[PROGRAM_PATH];
    if (!path[0])
        assert_int_equal(
            program_drill(path, "impeller.log",
                          "--fault impeller --at +06:00 --minutes 10 --seed 3 --engines 1"),
            0);
    return path;
}

/* Goes to a moment of the log and says in which state its first alert then stands; -1: none. */
static int state_at(double seconds)
{
    assert_true(replay_seek(&r, T0_NS + (int64_t)(seconds * 1e9)));
    for (int i = 0; i < 5000 && r.seeking; i++)
        replay_advance(&r, 0, 1000);
    const struct alert_list *l = keeper_alerts(r.keeper);
    return alerts_count(l) > 0 ? (int)alerts_at(l, 0)->state : -1;
}

static uint32_t first_alert(void)
{
    return alerts_at(keeper_alerts(r.keeper), 0)->id;
}

static void acknowledge__passed_again__is_given_again(void **state)
{
    (void)state;
    play_log(impeller());
    replay_listen(&r, on_event, NULL);
    heard = 0;
    replay_advance(&r, 0, 1000);
    int64_t began_ns = r.now.wall_ns, off_ns = began_ns - T0_NS;
    double off = (double)off_ns / 1e9;
    assert_int_equal(state_at(off + 360), -1);
    assert_int_equal(heard, 0);
    int raised = state_at(off + 420);
    assert_int_not_equal(raised, -1);
    assert_true(heard > 0);
    replay_acknowledge(&r, first_alert());
    assert_int_equal(r.ack_count, 1);
    int acknowledged = state_at(off + 421);
    assert_int_not_equal(acknowledged, raised);
    replay_acknowledge(&r, first_alert()); /* once is enough */
    assert_int_equal(r.ack_count, 1);
    assert_int_equal(state_at(off + 360), -1);
    assert_int_equal(r.ack_next, 0);
    int before = heard;
    assert_int_equal(state_at(off + 415), raised);
    assert_true(heard > before); /* who listened still does */
    assert_int_equal(state_at(off + 421), acknowledged);
    assert_int_equal(r.ack_next, 1);
    /* silence, earlier than that: kept in order of time */
    assert_int_equal(state_at(off + 415), raised);
    replay_silence(&r);
    assert_int_equal(r.ack_count, 2);
    assert_true(r.acks[0].silence);
    assert_false(r.acks[1].silence);
    assert_true(r.acks[0].mono_ns < r.acks[1].mono_ns);
    assert_int_equal(r.ack_next, 1);
    replay_close(&r);
}

static void acknowledge__more_than_are_kept__changes_nothing(void **state)
{
    (void)state;
    play_log(log_of(5, 0));
    replay_advance(&r, 0, 1000);
    for (int i = 0; i < REPLAY_ACKS + 3; i++)
        replay_silence(&r);
    assert_int_equal(r.ack_count, REPLAY_ACKS);
    assert_int_equal(r.ack_next, REPLAY_ACKS);
    replay_close(&r);
}

/* ---- reading ahead ---- */

static void scan__whole_log__finds_its_alerts_and_its_hottest(void **state)
{
    (void)state;
    float most = 0, first = NAN;
    int64_t peak_ns = 0;
    assert_true(scan_open(&s, impeller(), NULL, settings));
    int steps = 0;
    while (scan_step(&s, 500))
        steps++;
    assert_true(steps > 5); /* a piece at each call */
    assert_true(s.done);
    assert_false(scan_step(&s, 500));
    assert_near((double)(s.last_ns - s.first_ns) / 1e9, 600, 2);
    assert_true(s.count >= 2);
    for (size_t i = 0; i < s.count; i++) {
        assert_true(s.marks[i].wall_ns > s.first_ns + 360 * NS_PER_S);
        assert_true(s.marks[i].wall_ns < s.first_ns + 480 * NS_PER_S);
    }
    assert_int_equal(s.marks[0].priority, PRIORITY_WARNING);
    assert_int_equal(s.hottest_count, SCAN_HOTTEST);
    for (int i = 0; i < SCAN_HOTTEST; i++) {
        if (isnan(first))
            first = s.hottest[i];
        if (s.hottest[i] > most) {
            most = s.hottest[i];
            peak_ns = s.first_ns + (s.last_ns - s.first_ns) / SCAN_HOTTEST * i;
        }
    }
    assert_true(first < 70);
    assert_true(most > 93.3f);
    assert_true(peak_ns > s.marks[0].wall_ns && peak_ns < s.last_ns);
    assert_near(s.limit, 93.3, 1e-9); /* 200 degrees Fahrenheit */
    scan_close(&s);
}

/* Below a quarter of a second for each column there is nothing to draw. */
static void scan__short_log_or_none__has_no_hottest(void **state)
{
    (void)state;
    assert_true(scan_open(&s, log_of(100, 0), NULL, settings));
    while (scan_step(&s, 1000))
        ;
    assert_true(s.done);
    assert_int_equal(s.hottest_count, 0);
    assert_int_equal(s.count, 0);
    assert_near((double)(s.last_ns - s.first_ns) / 1e9, 99.5, 1e-6);
    scan_close(&s);
    assert_false(scan_open(&s, "/no/such/place.log", NULL, settings));
    assert_true(scan_open(&s, program_file("empty.log", ""), NULL, settings));
    assert_false(scan_step(&s, 1000));
    assert_false(s.done);
    scan_close(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(advance__at_a_speed__plays_what_is_due),
        cmocka_unit_test(advance__paused_or_over__plays_nothing),
        cmocka_unit_test(advance__as_fast_as_can_be__no_more_than_asked),
        cmocka_unit_test(advance__hole_in_the_log__is_passed_over),
        cmocka_unit_test(seek__on_and_back__comes_to_the_moment),
        cmocka_unit_test(open__from_a_time__begins_there),
        cmocka_unit_test(acknowledge__passed_again__is_given_again),
        cmocka_unit_test(acknowledge__more_than_are_kept__changes_nothing),
        cmocka_unit_test(scan__whole_log__finds_its_alerts_and_its_hottest),
        cmocka_unit_test(scan__short_log_or_none__has_no_hottest),
    };
    return cmocka_run_group_tests(tests, begin, end);
}
