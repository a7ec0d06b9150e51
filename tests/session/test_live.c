/* How a log is read on: not faster than what takes its frames has room for. */
#include "session/live.h"

#include "bus/condition.h"
#include "config/config.h"
#include "support/check.h"
#include "support/program.h"

#define FRAMES 5000

struct taker {
    size_t room, taken;
    uint32_t asked; /* how often */
};

static bool may_read(void *ctx, size_t n)
{
    struct taker *t = ctx;
    t->asked++;
    return t->room >= n;
}

static void take(void *ctx, const struct frame *f, size_t n)
{
    struct taker *t = ctx;
    (void)f;
    assert_true(n <= t->room);
    t->room -= n;
    t->taken += n;
}

static const char *log_file(void)
{
    static char text[FRAMES * 60];
    size_t len = 0;
    for (int i = 0; i < FRAMES; i++)
        len += (size_t)snprintf(text + len, sizeof text - len,
                                "(1777903200.%06d) can0 09F20020#0000000000000000\n", i);
    return program_file("live.log", text);
}

static void log__no_room_for_a_batch__waits_and_loses_nothing(void **state)
{
    (void)state;
    struct config_messages *messages = NULL;
    struct settings *settings = config_load_text("t.conf", "", &messages);
    struct taker t = {.room = 1200};
    struct stamp clock = {0};
    struct live l;
    struct err e = {""};
    const char *path = log_file();
    config_messages_free(messages);
    if (!live_open(&l, &path, 1, NULL, settings, true, &e))
        fail_msg("%s", e.text);
    l.tap = take;
    l.may_read = may_read;
    l.ctx = &t;
    assert_true(live_turn(&l, clock, LIVE_FRAMES_A_TURN));
    assert_true(l.waits && !l.ended);
    assert_int_equal(t.taken, 1200 / SOURCE_BATCH * SOURCE_BATCH);
    assert_int_equal(live_fd(&l), -1); /* that it can be read is no reason to try again */
    uint32_t asked = t.asked;
    assert_false(live_turn(&l, clock, LIVE_FRAMES_A_TURN));
    assert_true(l.waits);
    assert_int_equal(t.asked, asked + 1);
    t.room = 2 * FRAMES;
    assert_true(live_turn(&l, clock, LIVE_FRAMES_A_TURN));
    assert_true(!l.waits && l.ended);
    assert_int_equal(t.taken, FRAMES);
    assert_int_equal(l.taken, FRAMES);
    live_close(&l);
    settings_free(settings);
}

/* ---- every so often ---- */

struct beats {
    struct live *live;
    int count;
    int64_t mono_s[20];
    uint64_t taken[20]; /* frames before it */
};

static void on_beat(void *ctx, struct stamp at)
{
    struct beats *b = ctx;
    assert_true(b->count < 20);
    assert_true(at.mono_ns % NS_PER_S == 0);
    assert_true(at.wall_ns - at.mono_ns == (INT64_C(1777903200) - 1000) * NS_PER_S);
    b->taken[b->count] = b->live->taken;
    b->mono_s[b->count++] = at.mono_ns / NS_PER_S - 1000; /* the log's own seconds */
}

/* Every ten seconds from the first frame on, however far frames are apart; on the second itself
 * before the frame is taken. */
static void log__every_ten_seconds__is_told(void **state)
{
    static const int64_t wanted[] = {10, 20, 30, 40, 50};
    static const uint64_t taken[] = {2, 3, 3, 3, 4};
    (void)state;
    struct config_messages *messages = NULL;
    struct settings *settings = config_load_text("t.conf", "", &messages);
    const char *path = program_file("beats.log", "(1777903200.0) can0 09F20020#00\n"
                                                 "(1777903209.9) can0 09F20020#00\n"
                                                 "(1777903210.0) can0 09F20020#00\n"
                                                 "(1777903249.9) can0 09F20020#00\n"
                                                 "(1777903250.0) can0 09F20020#00\n"
                                                 "(1777903259.9) can1 09F20020#00\n");
    struct stamp clock = {0};
    struct live l;
    struct err e = {""};
    struct beats b = {.live = &l};
    config_messages_free(messages);
    if (!live_open(&l, &path, 1, NULL, settings, true, &e))
        fail_msg("%s", e.text);
    assert_false(l.is_live);
    l.every_ns = 10 * NS_PER_S;
    l.on_every = on_beat;
    l.every_ctx = &b;
    while (live_turn(&l, clock, 1000))
        ;
    assert_true(l.ended && !l.failed);
    assert_int_equal(l.taken, 6);
    assert_int_equal(b.count, 5);
    for (int i = 0; i < 5; i++) {
        assert_int_equal(b.mono_s[i], wanted[i]);
        assert_int_equal(b.taken[i], taken[i]);
    }
    assert_true(l.now.wall_ns == INT64_C(1777903259900000000));
    assert_true(l.next_ns == 1060 * NS_PER_S);
    assert_int_equal(live_fd(&l), -1); /* over */
    /* a condition is of the log's time */
    struct bus_condition c = {.code = CONDITION_CODE(CONDITION_RECORD, 0),
                              .priority = PRIORITY_CAUTION,
                              .stands = true,
                              .text = "the record is halted",
                              .at = {5, 5}};
    live_condition(&l, &c);
    const struct alert_list *alerts = keeper_alerts(l.keeper);
    assert_true(alerts_count(alerts) > 0);
    for (size_t i = 0; i < alerts_count(alerts); i++)
        if (strcmp(alerts_at(alerts, i)->text, "the record is halted") == 0)
            assert_true(alerts_at(alerts, i)->raised.wall_ns == l.now.wall_ns);
    live_close(&l);
    settings_free(settings);
}

static void open__what_cannot_be__is_said(void **state)
{
    (void)state;
    struct config_messages *messages = NULL;
    struct settings *settings = config_load_text("t.conf", "", &messages);
    const char *two[] = {"one.log", "two.log"};
    struct live l;
    struct err e = {""};
    config_messages_free(messages);
    assert_false(live_open(&l, two, 2, NULL, settings, true, &e));
    assert_string_equal(e.text, "'one.log' is neither a log nor an interface that is there now: "
                                "name one log or several interfaces, not both");
    live_close(&l);
    assert_false(live_open(&l, two, 1, NULL, settings, true, &e));
    assert_non_null(strstr(e.text, "one.log"));
    live_close(&l);
    settings_free(settings);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(log__every_ten_seconds__is_told),
        cmocka_unit_test(open__what_cannot_be__is_said),
        cmocka_unit_test(log__no_room_for_a_batch__waits_and_loses_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
