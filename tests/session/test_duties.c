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
#include <sys/socket.h>
#include <sys/stat.h>
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

/* Whatever came from the socket, after a turn. */
static const char *answer(int fd, const char *command, struct duties *d, struct stamp clock)
{
    static char text[65536];
    assert_int_equal(send(fd, command, strlen(command), MSG_NOSIGNAL), strlen(command));
    duties_turn(d, clock);
    ssize_t n = recv(fd, text, sizeof text - 1, MSG_DONTWAIT);
    text[n > 0 ? n : 0] = '\0';
    return text;
}

static void assert_file_has(const char *path, mode_t mode, const char *const *lines, size_t count)
{
    static char text[65536];
    struct stat st;
    FILE *f = fopen(path, "r");
    if (!f)
        fail_msg("no %s", path);
    text[fread(text, 1, sizeof text - 1, f)] = '\0';
    fclose(f);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(st.st_mode & 0777, mode);
    for (size_t i = 0; i < count; i++)
        if (!strstr(text, lines[i]))
            fail_msg("no '%s' in\n%s", lines[i], text);
}

/* Ten frames of two interfaces within nine seconds, and a line that is none: what an attached board
 * and the metrics are told of them; an alarm on trial, which stands for ten seconds of the rules'
 * time; the modes of the files. */
static void figures__of_a_log__reach_board_and_files(void **state)
{
    static const char *const metrics[] = {
        "\nstokehold_frames_total 10\n",
        "\nstokehold_bad_lines_total 1\n",
        "\nstokehold_interface_up{interface=\"can0\"} 1\n",
        "\nstokehold_interface_frames_total{interface=\"can0\"} 6\n"
        "stokehold_interface_frames_total{interface=\"can1\"} 4\n",
        "\nstokehold_alerts_raised_total{priority=\"alarm\"} 1\n", /* and none for the trial */
        "\nstokehold_start_timestamp_seconds 1777903000.000\n",
        "channel=\"exhaust.1\",cause=\"\",text=\"hot\"} 1\n",
    };
    static const char *const kept[] = {"exhaust.1"}, *const good[] = {"[vessel]"};
    struct config_messages *messages = NULL;
    struct settings *settings = config_load_text("t.conf", "", &messages);
    char folder[100], log[200], path[200], metrics_path[200], state_path[200], good_path[300],
        text[800] = "no frame\n";
    const char *name = log;
    struct live live;
    struct err e = {""};

    (void)state;
    config_messages_free(messages);
    snprintf(folder, sizeof folder, "%s", program_folder());
    snprintf(path, sizeof path, "%s/sock", folder);
    snprintf(metrics_path, sizeof metrics_path, "%s/boat.prom", folder);
    snprintf(state_path, sizeof state_path, "%s/state", folder);
    assert_true(duties_good_config(state_path, good_path, sizeof good_path));
    for (int i = 0; i < 10; i++)
        snprintf(text + strlen(text), sizeof text - strlen(text), "(%d.000000) can%d 09F20020#00\n",
                 1777903200 + i, i % 5 >= 3);
    snprintf(log, sizeof log, "%s", program_file("ten.log", text));
    struct duties_options o = {
        .socket = path, .metrics = metrics_path, .state = state_path, .no_hooks = true};
    struct duties *d = duties_open(&o, settings, "ten.log", &e);
    if (!d || !live_open(&live, &name, 1, NULL, settings, true, &e))
        fail_msg("%s", e.text);
    struct stamp clock = {INT64_C(1777903000) * NS_PER_S, 5000 * NS_PER_S};
    assert_true(duties_begin(d, &live, clock, &e));
    duties_keep_config(d);
    while (live_turn(&live, clock, 1000))
        ;
    assert_int_equal(live.taken, 10);
    int64_t began_ns = live.now.mono_ns;
    int fd = door_connect(path, &e);
    assert_true(fd >= 0);
    const char *said = answer(fd, "attach\n", d, clock);
    assert_memory_equal(said, "ok\t1\n", 5);
    assert_non_null(strstr(said, "\nboat\t\tten.log\t600000000000\t30000000000\toff\t1\n"));
    assert_non_null(strstr(said, "\niface\t0\tcan0\niface\t1\tcan1\n"));
    const char *time = strstr(said, "\ntime\t1777903209000000000\t");
    assert_non_null(time);
    long long mono, frames, lost, bad, errors;
    double rate;
    assert_int_equal(sscanf(time, "\ntime\t%*d\t%lld\t%lld\t%lld\t%lld\t%lld\t-1\t%lf\t0\t", &mono,
                            &frames, &lost, &bad, &errors, &rate),
                     6);
    assert_true(mono == began_ns);
    assert_true(frames == 10 && lost == 0 && bad == 1 && errors == 0);
    assert_near(rate, 10 / when_seconds(began_ns), 1e-6); /* since the rules' time began */

    claim(&live, 1, PRIORITY_ALARM, live.now);
    answer(fd, "try\n", d, clock);
    const struct alert_list *alerts = keeper_alerts(live.keeper);
    assert_int_equal(alerts_count(alerts), 2);
    live.now.mono_ns += 10 * NS_PER_S - 1;
    duties_turn(d, clock);
    assert_int_equal(alerts_count(alerts), 2);
    assert_true(alert_is_trial(alerts_at(alerts, 0)) || alert_is_trial(alerts_at(alerts, 1)));
    live.now.mono_ns += 1;
    duties_turn(d, clock);
    assert_int_equal(alerts_count(alerts), 1);
    assert_false(alert_is_trial(alerts_at(alerts, 0)));
    assert_int_equal(alerts_at(alerts, 0)->state, ALERT_UNACKNOWLEDGED);
    close(fd);
    assert_false(duties_mark(d, 0, "nothing is recorded"));
    duties_close(d);
    live_close(&live);
    settings_free(settings);
    assert_file_has(metrics_path, 0644, metrics, sizeof metrics / sizeof *metrics);
    assert_file_has(state_path, 0640, kept, 1);
    assert_file_has(good_path, 0640, good, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(size__with_and_without_its_unit),
        cmocka_unit_test(fds__each_is_open_and_none_is_too_many),
        cmocka_unit_test(record__thread_hangs__is_a_caution_until_it_answers),
        cmocka_unit_test(figures__of_a_log__reach_board_and_files),
        cmocka_unit_test(record__incident_around_every_alarm_and_no_warning),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
