/* The feed of a log: where one may go in it, and what is said where one may not. */
#include "session/feed.h"

#include "base/text.h"
#include "config/config.h"
#include "support/check.h"
#include "support/program.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

static struct settings *settings;
static struct feed feed;
static struct model *m;

/* A frame a second from 14:00:00 to 14:09:59. */
static void open_log(bool with_clock)
{
    static char text[600 * 48];
    static const char *names[1];
    struct err e;
    size_t len = 0;
    for (int i = 0; i < 600; i++)
        len += (size_t)snprintf(text + len, sizeof text - len, "(%0*d.0) can0 09F80226#%02X\n",
                                with_clock ? 10 : 3, (with_clock ? 1777903200 : 0) + i, i & 255);
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
    };
    return cmocka_run_group_tests(tests, begin, end);
}
