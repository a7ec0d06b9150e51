/* The feed of a log: where one may go in it, and what is said where one may not. */
#include "session/feed.h"

#include "base/text.h"
#include "config/config.h"
#include "report/papers/marks.h"
#include "support/check.h"
#include "support/program.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static struct settings *settings;
static struct feed feed;
static struct model *m;

/* Ten frames a second from 14:00:00 up to 14:10:00. */
static void open_log(bool with_clock)
{
    static char text[6000 * 48];
    static const char *names[1];
    struct err e;
    size_t len = 0;
    for (int i = 0; i < 6000; i++)
        len += (size_t)snprintf(text + len, sizeof text - len, "(%0*d.%d) can0 09F80226#%02X\n",
                                with_clock ? 10 : 3, (with_clock ? 1777903200 : 0) + i / 10, i % 10,
                                i & 255);
    names[0] = program_file("ten-minutes.log", text);
    struct feed_options o = {.names = names, .count = 1, .settings = settings, .speed = 1};
    assert_true(feed_open_log(&feed, &o, &e));
    m = model_new();
}

static void turns(int n)
{
    for (int i = 0; i < n; i++)
        feed.kind->turn(feed.ctx, (struct stamp){0}, NS_PER_MS);
    feed.kind->fill(feed.ctx, m);
}

static const char *go_to(const char *time)
{
    static char notice[96];
    struct request q = {.kind = REQUEST_GO_TO};
    notice[0] = '\0';
    assert_true(when_parse_in_log(time, &q.moment));
    feed.kind->request(feed.ctx, &q, notice, sizeof notice);
    turns(20);
    return notice;
}

static double seconds_into(void)
{
    return (double)(m->now.wall_ns - m->replay.first_ns) / 1e9;
}

static void close_log(void)
{
    feed.kind->close(feed.ctx);
    model_free(m);
}

/* A board that is laid out, at whatever moment of the first seconds, is laid out for two. */
static void feed__two_engines__are_never_shown_as_one(void **state)
{
    (void)state;
    static char path[PROGRAM_PATH];
    const char *names[1] = {path};
    struct err e;
    assert_int_equal(program_drill(path, "two.log", "--fault none --seed 9 --minutes 10"), 0);
    struct feed_options o = {.names = names, .count = 1, .settings = settings, .speed = 1};
    assert_true(feed_open_log(&feed, &o, &e));
    m = model_new();
    bool waited = false, shown = false;
    for (int i = 0; i < 150; i++) {
        feed.kind->turn(feed.ctx, (struct stamp){0}, 100 * NS_PER_MS);
        feed.kind->fill(feed.ctx, m);
        waited |= m->gathering && m->engines == 1;
        shown |= !m->gathering;
        if (!m->gathering && !m->waiting)
            assert_int_equal(m->engines, 2);
    }
    assert_true(waited && shown);
    close_log();
}

/* The row of the alert's channel and the alert's line, at many moments of one failure. */
static void feed__alert_and_row__have_one_figure(void **state)
{
    (void)state;
    static char path[PROGRAM_PATH];
    const char *names[1] = {path};
    struct err e;
    assert_int_equal(
        program_drill(path, "impeller.log", "--fault impeller --seed 6 --minutes 20 --at +10:00"),
        0);
    struct feed_options o = {.names = names, .count = 1, .settings = settings, .speed = 1};
    assert_true(feed_open_log(&feed, &o, &e));
    m = model_new();
    turns(20);
    assert_string_equal(go_to("+10:05"), "");
    int compared = 0;
    for (int i = 0; i < 2000; i++) {
        feed.kind->turn(feed.ctx, (struct stamp){0}, 130 * NS_PER_MS);
        feed.kind->fill(feed.ctx, m);
        for (size_t k = 0; k < m->alert_count; k++) {
            const struct alert *a = m->alerts[k];
            const struct model_channel *c = model_find(m, a->channel);
            char value[32], shown[48];
            if (!c || !a->active || !isfinite(a->value) || c->status != READING_OK)
                continue;
            assert_near(a->value, c->value, 0);
            text_format(shown, sizeof shown, " %s %s",
                        model_reading_text(m, c, value, sizeof value),
                        unit_text(model_unit(&m->units, c->unit)));
            if (!strstr(a->text, shown))
                fail_msg("'%s' stands in the row, not in '%s'", shown, a->text);
            compared++;
        }
    }
    assert_true(compared > 1000);
    close_log();
}

/* Where it is in the log, in whole seconds, after going to the next alert, or the one before. */
static int to_alert(enum request_kind kind, const char **said)
{
    static char notice[96];
    struct request q = {.kind = kind};
    for (int i = 0; i < 5000; i++) { /* until the log was read ahead */
        notice[0] = '\0';
        feed.kind->request(feed.ctx, &q, notice, sizeof notice);
        turns(2);
        if (strcmp(notice, "the log is still being read") != 0)
            break;
    }
    *said = notice;
    return (int)seconds_into();
}

/* The impeller lets go at +06:00: a warning, an alarm, its limit. From one to the next, and back.
 */
static void next_alert__from_the_start__comes_to_each_and_no_further(void **state)
{
    (void)state;
    static char path[PROGRAM_PATH];
    const char *names[1] = {path}, *said;
    struct err e;
    assert_int_equal(
        program_drill(path, "impeller.log",
                      "--fault impeller --at +06:00 --minutes 10 --seed 3 --engines 1"),
        0);
    struct feed_options o = {.names = names, .count = 1, .settings = settings, .speed = 1};
    assert_true(feed_open_log(&feed, &o, &e));
    m = model_new();
    int at[8], count = 0;
    for (; count < 8; count++) {
        at[count] = to_alert(REQUEST_NEXT_ALERT, &said);
        if (*said)
            break;
        assert_true(count == 0 || at[count] > at[count - 1]);
    }
    assert_string_equal(said, "no alert after this");
    assert_in_range(count, 2, 7);
    assert_in_range(at[0], 365, 390); /* the first of them is not passed over */
    while (count-- > 1)
        assert_int_equal(to_alert(REQUEST_PREVIOUS_ALERT, &said), at[count - 1]);
    to_alert(REQUEST_PREVIOUS_ALERT, &said);
    assert_string_equal(said, "no alert before this");
    close_log();
}

static void go_to__outside_the_log__says_which_times_it_has_and_stays(void **state)
{
    (void)state;
    open_log(true);
    turns(20);
    assert_string_equal(go_to("+02:00"), "");
    double at = seconds_into();
    assert_near(at, 120, 1.1);
    assert_string_equal(go_to("15:00"), "the log has 14:00:00 to 14:09:59");
    assert_string_equal(go_to("13:59"), "the log has 14:00:00 to 14:09:59");
    assert_string_equal(go_to("+10:00"), "the log has 14:00:00 to 14:09:59");
    assert_string_equal(go_to("2020-01-01"), "the log has 14:00:00 to 14:09:59");
    assert_near(seconds_into(), at, 1.1);
    assert_string_equal(go_to("14:08:00"), "");
    assert_near(seconds_into(), 480, 1.1);
    assert_string_equal(go_to("14:00"), "");
    assert_near(seconds_into(), 0, 1.1);
    close_log();
}

static void go_to__log_without_a_clock__counts_from_its_start(void **state)
{
    (void)state;
    open_log(false);
    turns(20);
    assert_string_equal(go_to("+10:30"), "the log has +00:00 to +09:59");
    assert_string_equal(go_to("+05:00"), "");
    assert_near(seconds_into(), 300, 1.1);
    close_log();
}

static const char *ask(enum request_kind kind, int64_t amount, const char *words)
{
    static char notice[96];
    struct request q = {.kind = kind, .amount = amount, .words = words};
    notice[0] = '\0';
    feed.kind->request(feed.ctx, &q, notice, sizeof notice);
    turns(20);
    return notice;
}

/* Up to 64 times, and then as fast as can be; never slower than the boat. */
static void speed__doubles_and_halves(void **state)
{
    static const struct {
        int amount;
        double speed;
    } rows[] = {{2, 2},  {2, 4},   {2, 8},   {2, 16},  {2, 32}, {2, 64}, {2, 0},
                {2, 0},  {-2, 64}, {-2, 32}, {-2, 16}, {-2, 8}, {-2, 4}, {-2, 2},
                {-2, 1}, {-2, 1},  {0, 0},   {-2, 64}, {0, 0},  {2, 0},  {-2, 64}};

    (void)state;
    open_log(true);
    turns(20);
    ask(REQUEST_PAUSE, 0, NULL);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        ask(REQUEST_SPEED, rows[i].amount, NULL);
        assert_near(m->replay.speed, rows[i].speed, 1e-9);
    }
    close_log();
}

/* Each step is a second of the log, and then it stands; a move is as long as it was asked for, and
 * ends where the log begins. */
static void moves__steps_and_minutes(void **state)
{
    (void)state;
    open_log(true);
    turns(20);
    assert_string_equal(go_to("+02:00"), "");
    assert_false(m->replay.paused);
    ask(REQUEST_STEP, 0, NULL);
    assert_true(m->replay.paused);
    double at = seconds_into();
    assert_near(at, 121, 0.5);
    ask(REQUEST_STEP, 0, NULL);
    assert_near(seconds_into(), at + 1, 0.5);
    ask(REQUEST_MOVE, 60 * NS_PER_S, NULL);
    assert_near(seconds_into(), at + 61, 0.5);
    ask(REQUEST_MOVE, -60 * NS_PER_S, NULL);
    assert_near(seconds_into(), at + 1, 0.5);
    ask(REQUEST_MOVE, -180 * NS_PER_S, NULL);
    assert_near(seconds_into(), 0, 0.5);
    ask(REQUEST_PAUSE, 0, NULL);
    assert_false(m->replay.paused);
    ask(REQUEST_PAUSE, 0, NULL);
    assert_true(m->replay.paused);
    ask(REQUEST_PAUSE, 0, NULL);
    assert_string_equal(go_to("14:10:00"), "the log has 14:00:00 to 14:09:59");
    assert_string_equal(go_to("14:09:59"), "");
    turns(2000);
    assert_true(m->replay.ended);
    ask(REQUEST_PAUSE, 0, NULL); /* what has ended has nothing to pause, nor to step into */
    ask(REQUEST_STEP, 0, NULL);
    assert_true(m->replay.ended && !m->replay.paused);
    close_log();
}

/* Where it goes as fast as can be, what was asked for is held to be seen. */
static void moves__at_full_speed__stand_where_they_went(void **state)
{
    (void)state;
    open_log(true);
    ask(REQUEST_PAUSE, 0, NULL);
    ask(REQUEST_SPEED, 0, NULL);
    ask(REQUEST_PAUSE, 0, NULL);
    assert_false(m->replay.paused);
    go_to("+03:00");
    assert_true(m->replay.paused);
    assert_near(seconds_into(), 180, 0.25);
    close_log();
}

/* From mark to mark in their order, whichever was set first, and from the last to the first; one
 * less than a second ahead is where one is. */
static void marks__one_after_the_other(void **state)
{
    static const int set[] = {60, 180, 120};
    char path[PROGRAM_PATH + 32];

    (void)state;
    open_log(true);
    turns(20);
    assert_true(marks_of_log(path, sizeof path, program_file("ten-minutes.log", "")));
    close_log();
    unlink(path);
    open_log(true);
    turns(20);
    ask(REQUEST_PAUSE, 0, NULL);
    assert_string_equal(ask(REQUEST_NEXT_MARK, 0, NULL), "");
    double at = seconds_into(); /* no mark: no move */
    assert_near(at, 0, 0.25);
    for (size_t i = 0; i < 3; i++)
        assert_string_equal(
            ask(REQUEST_MARK, m->replay.first_ns + set[i] * NS_PER_S, i ? "lock" : "weed"),
            "marked, and kept beside the log");
    assert_int_equal(m->replay.mark_count, 3);
    for (size_t i = 0; i < 3; i++) {
        assert_true(m->replay.marks[i].wall_ns ==
                    m->replay.first_ns + (int64_t)(60 * (i + 1)) * NS_PER_S);
        assert_int_equal(m->replay.marks[i].priority, -1);
    }
    assert_string_equal(m->replay.marks[0].words, "weed");
    for (int i = 0; i < 4; i++) {
        ask(REQUEST_NEXT_MARK, 0, NULL);
        assert_near(seconds_into(), 60 * (i % 3 + 1), 0.25);
    }
    go_to("+01:58.7");
    ask(REQUEST_NEXT_MARK, 0, NULL);
    assert_near(seconds_into(), 120, 0.25);
    go_to("+01:59.3");
    ask(REQUEST_NEXT_MARK, 0, NULL);
    assert_near(seconds_into(), 180, 0.25);
    close_log();
    open_log(true); /* they are there again */
    turns(20);
    assert_int_equal(m->replay.mark_count, 3);
    close_log();
    assert_int_equal(unlink(path), 0);
}

static int begin(void **state)
{
    (void)state;
    struct config_messages *messages = NULL;
    setenv("TZ", "UTC", 1);
    tzset();
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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(next_alert__from_the_start__comes_to_each_and_no_further),
        cmocka_unit_test(feed__two_engines__are_never_shown_as_one),
        cmocka_unit_test(feed__alert_and_row__have_one_figure),
        cmocka_unit_test(go_to__outside_the_log__says_which_times_it_has_and_stays),
        cmocka_unit_test(go_to__log_without_a_clock__counts_from_its_start),
        cmocka_unit_test(speed__doubles_and_halves),
        cmocka_unit_test(moves__steps_and_minutes),
        cmocka_unit_test(moves__at_full_speed__stand_where_they_went),
        cmocka_unit_test(marks__one_after_the_other),
    };
    return cmocka_run_group_tests(tests, begin, end);
}
