/* What a watch has to do besides: sizes as they are written, what its loop waits for, and what it
 * says of a disk that does not answer. */
#include "session/duties.h"

#include "bus/clock.h"
#include "config/config.h"
#include "support/check.h"
#include "support/program.h"

#include <dirent.h>
#include <poll.h>
#include <pthread.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* The disk: what is synced waits while it is held, here in place of the C library's. */
static pthread_mutex_t disk = PTHREAD_MUTEX_INITIALIZER;

int fsync(int fd)
{
    (void)fd;
    pthread_mutex_lock(&disk);
    pthread_mutex_unlock(&disk);
    return 0;
}

static void size__with_and_without_its_unit(void **state)
{
    static const struct {
        const char *text;
        uint64_t bytes; /* 0: refused */
    } sizes[] = {
        {"500M", UINT64_C(500) << 20},
        {"4G", UINT64_C(4) << 30},
        {"4 G", UINT64_C(4) << 30},
        {"1M", UINT64_C(1) << 20},
        {"1000000G", UINT64_C(1000000) << 30},
        {"1000001M", 0},
        {"0G", 0},
        {"-5G", 0},
        {"", 0},
        {"M", 0},
        {"4X", 0},
        {"400", 0},
        {"G4", 0},
        {"00000000000000004G", 0}, /* longer than any size */
    };

    (void)state;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        uint64_t bytes = 0;

        if (duties_size(sizes[i].text, &bytes) != (sizes[i].bytes > 0))
            fail_msg("'%s'", sizes[i].text);
        if (sizes[i].bytes > 0)
            assert_true(bytes == sizes[i].bytes);
    }
}

/* The hooks, the desk, and the door where there is one; never more than there is room for. */
static void fds__each_is_open_and_none_is_too_many(void **state)
{
    struct config_messages *messages = NULL;
    struct settings *settings = config_load_text("t.conf", "", &messages);
    char path[200];

    (void)state;
    assert_non_null(settings);
    config_messages_free(messages);
    snprintf(path, sizeof path, "%s/door", program_scratch());
    for (int door = 0; door < 2; door++) {
        struct duties_options o = {.socket = door ? path : NULL, .no_hooks = true};
        struct err e = {""};
        struct duties *d = duties_open(&o, settings, "can0", &e);

        if (!d)
            fail_msg("%s", e.text);
        for (int max = 0; max < 8; max++) {
            struct pollfd p[8];
            int n = duties_fds(d, p, max), most = 2 + door;

            assert_int_equal(n, max < most ? max : most);
            for (int i = 0; i < n; i++)
                assert_true(p[i].events & POLLIN);
        }
        duties_close(d);
    }
    settings_free(settings);
}

/* The alerts of kind self that stand; the text of the last into text. */
static int self_alerts(const struct live *l, char text[ALERT_TEXT_SIZE])
{
    const struct alert_list *alerts = keeper_alerts(l->keeper);
    int n = 0;
    for (size_t i = 0; i < alerts_count(alerts); i++) {
        const struct alert *a = alerts_at(alerts, i);
        if (a->kind != KIND_SELF)
            continue;
        n++;
        assert_int_equal(a->priority, PRIORITY_CAUTION);
        snprintf(text, ALERT_TEXT_SIZE, "%s", a->text);
    }
    return n;
}

/* The record's thread stands still from its first turn on: nothing for ten seconds of the clock
 * that is handed in, then a caution, and none once the disk has answered. */
static void record__thread_hangs__is_a_caution_until_it_answers(void **state)
{
    struct config_messages *messages = NULL;
    struct settings *settings = config_load_text("t.conf", "", &messages);
    char dir[200], log[200], text[ALERT_TEXT_SIZE] = "";
    const char *path = log;
    static struct frame frames[65536]; /* as many as the record holds */
    struct live live;
    struct err e = {""};

    (void)state;
    config_messages_free(messages);
    snprintf(dir, sizeof dir, "%s/rec", program_scratch());
    snprintf(log, sizeof log, "%s",
             program_file("t.log", "(1777903200.000000) can0 09F20020#00\n"));
    pthread_mutex_lock(&disk);
    struct duties_options o = {.record = dir, .no_hooks = true};
    struct duties *d = duties_open(&o, settings, "t.log", &e);
    if (!d || !live_open(&live, &path, 1, NULL, settings, true, &e))
        fail_msg("%s", e.text);
    struct stamp now = clock_now(), later = now;
    assert_true(duties_begin(d, &live, now, &e));
    assert_string_equal(duties_record_text(d), "halted");

    live.tap(live.ctx, frames, sizeof frames / sizeof frames[0]);
    duties_turn(d, now);
    assert_int_equal(self_alerts(&live, text), 0);
    assert_false(live.may_read(live.ctx, 1)); /* a log waits for it */
    later.mono_ns += 10 * NS_PER_S;
    duties_turn(d, later);
    assert_true(live.may_read(live.ctx, 1));
    assert_int_equal(self_alerts(&live, text), 1);
    assert_string_equal(text, "the disk of the record has not answered for 10 s");

    pthread_mutex_unlock(&disk);
    for (int i = 0; self_alerts(&live, text) > 0; i++) {
        assert_true(i < 60000);
        poll(NULL, 0, 1); /* until its thread has come on */
        duties_turn(d, clock_now());
    }
    duties_close(d);
    live_close(&live);
    settings_free(settings);
}

static int count_incidents(const char *dir, const char *ending)
{
    char path[300];
    snprintf(path, sizeof path, "%s/incidents", dir);
    DIR *d = opendir(path);
    int n = 0;
    for (struct dirent *entry; d && (entry = readdir(d));) {
        const char *at = strstr(entry->d_name, ending);
        n += at && at[strlen(ending)] == '\0';
    }
    if (d)
        closedir(d);
    return n;
}

static void claim(struct live *live, uint8_t place, enum priority p, struct stamp at)
{
    struct alert_claim c = {
        .situation = {.group = SITUATION_CHANNEL, .id = {QTY_EXHAUST, place, 0}},
        .claimant = 900u + place,
        .kind = KIND_LIMIT,
        .rule = place == 3 ? "no-channel" : "exhaust-hot",
        .priority = p,
        .channel = place == 0   ? "exhaust.0"
                   : place == 1 ? "exhaust.1"
                   : place == 2 ? "exhaust.2"
                                : "",
        .value = 94,
        .unit = UNIT_C,
        .text = "hot",
        .figures = ALERT_NO_FIGURES,
    };
    alerts_claim(keeper_alerts(live->keeper), &c, at);
}

/* An alarm is set aside with the time around it, as it is raised or as a warning grows to one; a
 * warning alone is not. */
static void record__incident_around_every_alarm_and_no_warning(void **state)
{
    struct config_messages *messages = NULL;
    struct settings *settings = config_load_text("t.conf", "", &messages);
    char dir[200];
    const char *path = program_file("t2.log", "(1777903200.000000) can0 09F20020#00\n");
    struct live live;
    struct err e = {""};

    (void)state;
    config_messages_free(messages);
    snprintf(dir, sizeof dir, "%s/alarms", program_scratch());
    struct duties_options o = {.record = dir, .no_hooks = true};
    struct duties *d = duties_open(&o, settings, "t2.log", &e);
    if (!d || !live_open(&live, &path, 1, NULL, settings, true, &e))
        fail_msg("%s", e.text);
    struct stamp now = clock_now();
    assert_true(duties_begin(d, &live, now, &e));
    claim(&live, 0, PRIORITY_ALARM, now);
    claim(&live, 1, PRIORITY_WARNING, now);
    claim(&live, 2, PRIORITY_WARNING, now);
    claim(&live, 2, PRIORITY_ALARM, now);
    duties_turn(d, now);
    duties_close(d);
    live_close(&live);
    settings_free(settings);
    /* One goes on while the next comes: what lies within it is one incident, by its first name. */
    assert_int_equal(count_incidents(dir, "-exhaust-0-exhaust-hot"), 1);
    assert_int_equal(count_incidents(dir, "-exhaust-1-exhaust-hot"), 0);

    settings = config_load_text("t.conf", "", &messages);
    config_messages_free(messages);
    snprintf(dir, sizeof dir, "%s/grown", program_scratch());
    d = duties_open(&o, settings, "t2.log", &e);
    if (!d || !live_open(&live, &path, 1, NULL, settings, true, &e))
        fail_msg("%s", e.text);
    assert_true(duties_begin(d, &live, now, &e));
    claim(&live, 3, PRIORITY_WARNING, now);
    duties_turn(d, now);
    claim(&live, 3, PRIORITY_ALARM, now);
    duties_turn(d, now);
    duties_close(d);
    live_close(&live);
    settings_free(settings);
    assert_int_equal(count_incidents(dir, "-boat-no-channel"), 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(size__with_and_without_its_unit),
        cmocka_unit_test(fds__each_is_open_and_none_is_too_many),
        cmocka_unit_test(record__thread_hangs__is_a_caution_until_it_answers),
        cmocka_unit_test(record__incident_around_every_alarm_and_no_warning),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
