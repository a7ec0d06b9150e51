/* How a log is read on: not faster than what takes its frames has room for. */
#include "session/live.h"

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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(log__no_room_for_a_batch__waits_and_loses_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
