/* Lines, the state file and the notification of the service manager. */
#include "support/check.h"

#include "base/text.h"
#include "hooks/lines.h"
#include "hooks/notify.h"
#include "hooks/replace.h"
#include "hooks/state.h"
#include "support/program.h"

#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

static const struct stamp start = {1760000000 * NS_PER_S, 5000 * NS_PER_S};

static struct stamp later(double s)
{
    return (struct stamp){start.wall_ns + (int64_t)(s * 1e9), start.mono_ns + (int64_t)(s * 1e9)};
}

static void claim(struct alert_list *l, uint32_t claimant, enum priority p, double t)
{
    struct alert_claim c = {
        .situation = {.group = SITUATION_CHANNEL, .id = {QTY_EXHAUST, (uint8_t)claimant, 0}},
        .claimant = claimant,
        .kind = KIND_LIMIT,
        .rule = "exhaust-hot",
        .priority = p,
        .channel = "exhaust.1",
        .value = 94.25,
        .unit = UNIT_C,
        .decimals = 2,
        .text = "STARBOARD EXHAUST 94 °C, above 93 °C: check raw water",
        .figures = {94.25, (double)NAN, (double)NAN, (double)NAN, (double)NAN, (double)NAN, 12.5,
                    (double)NAN, 93.3},
    };
    alerts_claim(l, &c, later(t));
}

static bool save(const char *path, const struct alert_list *l, struct err *e)
{
    size_t len;
    char *text = state_text(l, NULL, NULL, &len);
    assert_non_null(text);
    bool good = replace_file(path, text, len, 0640, true, e);
    free(text);
    return good;
}

static bool load(const char *path, struct alert_list *l, struct stamp now, int *count,
                 struct err *e)
{
    struct state_held *held = state_read(path, e);
    *count = held ? state_restore(held, l, NULL, now) : 0;
    state_free(held);
    return held != NULL;
}

static void number__of_every_size__comes_back(void **state)
{
    (void)state;
    static const double values[] = {0,        -0.0,    1,    -1,      0.1,         93.3, 1e-9,
                                    123456.5, -273.15, 1e14, 1e9 + 1, 0.3333333,   1000, 100.000001,
                                    -4.2e7,   9.99999, 10,   1e-5,    6553.4999999};
    for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
        struct line l;
        struct fields f;
        line_begin(&l, "x");
        line_number(&l, values[i]);
        line_end(&l);
        l.text[l.len - 1] = '\0';
        fields_begin(&f, l.text);
        fields_text(&f);
        assert_near(fields_number(&f), values[i], fabs(values[i]) * 1e-8 + 1e-9);
        assert_false(f.bad);
    }
}

/* Nine digits that count, and no noughts after them: what a sensor sends has fewer. */
static void number__as_text__has_nine_digits(void **state)
{
    (void)state;
    static const struct {
        double value;
        const char *text;
    } cases[] = {
        {0.12345678912, "x\t0.123456789\n"},
        {0.99999999999, "x\t1\n"},
        {1, "x\t1\n"},
        {1.23456789123, "x\t1.23456789\n"},
        {9.87654321987, "x\t9.87654322\n"},
        {10, "x\t10\n"},
        {-12.3456789123, "x\t-12.3456789\n"},
        {123456.5, "x\t123456.5\n"},
        {123456789.12, "x\t123456789\n"},
        {(double)NAN, "x\t-\n"},
        {(double)INFINITY, "x\t-\n"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct line l;
        line_begin(&l, "x");
        line_number(&l, cases[i].value);
        line_end(&l);
        assert_string_equal(l.text, cases[i].text);
    }
}

static void line__hostile_text__stays_one_line(void **state)
{
    (void)state;
    struct line l;
    line_begin(&l, "x");
    line_text(&l, "a\tb\nc\033[31m");
    line_end(&l);
    assert_string_equal(l.text, "x\ta?b?c?[31m\n");
    line_begin(&l, "x");
    for (int i = 0; i < 400; i++)
        line_text(&l, "abcdefgh");
    line_end(&l);
    assert_true(l.overflow);
    assert_int_equal(l.len, 0);
}

static void read_prefix(void *ctx, const void *data, size_t len)
{
    char *copy = malloc(len + 1);
    memcpy(copy, data, len);
    copy[len] = '\0';
    struct fields f;
    struct alert a;
    fields_begin(&f, copy);
    fields_text(&f);
    if (fields_alert(&f, &a))
        *(int *)ctx += 1;
    free(copy);
}

static void alert_line__every_beginning__only_texts_may_be_cut(void **state)
{
    (void)state;
    struct alert_list *l = alerts_new(NULL, false);
    claim(l, 1, PRIORITY_ALARM, 0);
    struct line line;
    line_alert(&line, "alert", alerts_at(l, 0));
    line.len--;
    int taken = 0;
    for_every_prefix(line.text, line.len, read_prefix, &taken);
    /* An older line ends with the text; or with what to do, which is empty here; or with whose
     * steps to take; one of today with whether its limit was seen to be passed. */
    assert_in_range(taken, 1, (int)strlen(alerts_at(l, 0)->text) + 4);
    alerts_free(l);
}

static void path_in(char *dst, size_t cap, const char *name)
{
    text_format(dst, cap, "%s/%s", program_folder(), name);
}

/* MSC.302(87) 13.2.2; what was not acknowledged is listed again. */
static void state__restart__unacknowledged_are_listed_again(void **state)
{
    (void)state;
    char path[80];
    struct err e;
    int count;
    path_in(path, sizeof path, "state");
    struct alert_list *l = alerts_new(NULL, false);
    claim(l, 1, PRIORITY_ALARM, 0);
    claim(l, 2, PRIORITY_WARNING, 1);
    claim(l, 3, PRIORITY_ALARM, 2);
    claim(l, 4, PRIORITY_CAUTION, 3);
    alerts_acknowledge(l, 3, later(4));
    alerts_withdraw(l, 2, later(5));
    assert_true(save(path, l, &e));
    alerts_free(l);

    l = alerts_new(NULL, false);
    struct stamp reboot = {start.wall_ns + 60 * NS_PER_S, 1010 * NS_PER_S};
    assert_true(load(path, l, reboot, &count, &e));
    assert_int_equal(count, 2);
    assert_int_equal(alerts_count(l), 2);
    const struct alert *a = alerts_at(l, 0);
    assert_int_equal(a->id, 1);
    assert_int_equal(a->state, ALERT_RECTIFIED);
    assert_int_equal(a->priority, PRIORITY_ALARM);
    assert_string_equal(a->text, "STARBOARD EXHAUST 94 °C, above 93 °C: check raw water");
    assert_near(a->figures.rate_per_min, 12.5, 0);
    assert_true(isnan(a->figures.expected));
    assert_true(reboot.mono_ns - a->raised.mono_ns == 60 * NS_PER_S);
    /* The condition is seen again: the same alert, sounding. Ids go on. */
    claim(l, 1, PRIORITY_ALARM, 61);
    assert_int_equal(alerts_count(l), 2);
    assert_int_equal(alerts_by_id(l, 1)->state, ALERT_UNACKNOWLEDGED);
    claim(l, 9, PRIORITY_ALARM, 62);
    assert_non_null(alerts_by_id(l, 3));
    assert_true(alerts_acknowledge(l, 2, later(63)));
    alerts_free(l);
    unlink(path);
}

static void state__no_file__is_no_failure(void **state)
{
    (void)state;
    struct err e;
    int count = 9;
    struct alert_list *l = alerts_new(NULL, false);
    assert_true(load("/tmp/no-such-directory/state", l, start, &count, &e));
    assert_int_equal(count, 0);
    assert_false(save("/tmp/no-such-directory/state", l, &e));
    assert_non_null(strstr(e.text, "No such file"));
    alerts_free(l);
}

static void state__damaged__nothing_is_taken(void **state)
{
    (void)state;
    char path[80], text[4096];
    struct err e;
    int count;
    path_in(path, sizeof path, "state");
    struct alert_list *l = alerts_new(NULL, false);
    claim(l, 1, PRIORITY_ALARM, 0);
    claim(l, 2, PRIORITY_ALARM, 0);
    assert_true(save(path, l, &e));
    alerts_free(l);
    FILE *f = fopen(path, "r");
    size_t len = fread(text, 1, sizeof text, f);
    fclose(f);
    for (size_t cut = 0; cut < len; cut += 7) {
        f = fopen(path, "w");
        fwrite(text, 1, cut, f);
        fclose(f);
        l = alerts_new(NULL, false);
        assert_false(load(path, l, start, &count, &e));
        assert_int_equal(alerts_count(l), 0);
        alerts_free(l);
    }
    unlink(path);
}

/* A file of an earlier version, which had no runs of hooks. */
static void state__version_1__is_read(void **state)
{
    (void)state;
    char path[80];
    struct err e;
    size_t len;
    int count;
    path_in(path, sizeof path, "state");
    struct alert_list *l = alerts_new(NULL, false);
    claim(l, 1, PRIORITY_ALARM, 0);
    char *text = state_text(l, NULL, NULL, &len);
    char *version = strstr(text, "stokehold state 2\n");
    assert_non_null(version);
    version[16] = '1';
    assert_true(replace_file(path, text, len, 0640, false, &e));
    free(text);
    alerts_free(l);
    l = alerts_new(NULL, false);
    assert_true(load(path, l, start, &count, &e));
    assert_int_equal(count, 1);
    alerts_free(l);
    unlink(path);
}

static void state__pipe_in_its_place__is_refused_and_holds_up_nobody(void **state)
{
    (void)state;
    char path[80];
    struct err e;
    path_in(path, sizeof path, "state");
    assert_int_equal(mkfifo(path, 0600), 0);
    assert_null(state_read(path, &e));
    assert_non_null(strstr(e.text, "it is not a file"));
    assert_false(replace_file(path, "x", 1, 0640, true, &e));
    assert_non_null(strstr(e.text, "is not a file"));
    struct stat st;
    assert_int_equal(lstat(path, &st), 0);
    assert_true(S_ISFIFO(st.st_mode)); /* left alone */
    unlink(path);
}

/* A run of a hook that failed is kept over a restart, with the time at which it happened. */
static void state__hook_failed__is_tried_again_after_a_restart(void **state)
{
    (void)state;
    char path[80];
    struct err e;
    size_t len;
    path_in(path, sizeof path, "state");
    static struct settings settings = {.hook_count = 2};
    text_copy(settings.hooks[1].name, sizeof settings.hooks[1].name, "message");
    struct alert_list *l = alerts_new(NULL, false);
    claim(l, 1, PRIORITY_ALARM, 0);
    struct hook_run run = {
        .event = EVENT_ESCALATED, .attempts = 3, .at = start, .alert = *alerts_at(l, 0)};
    struct hooks *h = hooks_new(&settings);
    assert_true(hooks_restore(h, "message", &run));
    assert_false(hooks_restore(h, "no such hook", &run));
    char *text = state_text(l, h, &settings, &len);
    assert_true(replace_file(path, text, len, 0640, false, &e));
    free(text);
    hooks_free(h);
    alerts_free(l);

    h = hooks_new(&settings);
    l = alerts_new(NULL, false);
    struct state_held *held = state_read(path, &e);
    assert_non_null(held);
    struct stamp reboot = {start.wall_ns + 60 * NS_PER_S, 1010 * NS_PER_S};
    assert_int_equal(state_restore(held, l, h, reboot), 1);
    state_free(held);
    const struct hook_run *again = hooks_failed(h, 0);
    assert_non_null(again);
    assert_null(hooks_failed(h, 1));
    assert_int_equal(again->hook, 1);
    assert_int_equal(again->attempts, 3);
    assert_true(again->due_ns == reboot.mono_ns + 5 * NS_PER_S); /* not all at once at the start */
    assert_int_equal(again->event, EVENT_ESCALATED);
    assert_true(again->at.wall_ns == start.wall_ns);
    assert_true(reboot.mono_ns - again->at.mono_ns == 60 * NS_PER_S);
    assert_string_equal(again->alert.text, "STARBOARD EXHAUST 94 °C, above 93 °C: check raw water");
    hooks_free(h);
    alerts_free(l);
    unlink(path);
}

/* How often a run was tried, as a file may say it: beyond reason the run is left out. */
static void state__attempts_of_a_hook__within_reason(void **state)
{
    static const struct {
        int attempts;
        bool taken;
    } rows[] = {{1, true}, {10000, true}, {10001, false}, {0, false}};
    (void)state;
    static struct settings settings = {.hook_count = 1};
    text_copy(settings.hooks[0].name, sizeof settings.hooks[0].name, "message");
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char path[80], text[2000], run[2000], *at;
        struct err e;
        size_t len;
        path_in(path, sizeof path, "state");
        struct alert_list *l = alerts_new(NULL, false);
        claim(l, 1, PRIORITY_ALARM, 0);
        struct hooks *h = hooks_new(&settings);
        struct hook_run failed = {
            .event = EVENT_RAISED, .attempts = 7777, .at = start, .alert = *alerts_at(l, 0)};
        assert_true(hooks_restore(h, "message", &failed));
        char *all = state_text(l, h, &settings, &len);
        text_copy(text, sizeof text, all);
        free(all);
        hooks_free(h);
        at = strstr(text, "\t7777\t");
        assert_non_null(at);
        snprintf(run, sizeof run, "%.*s\t%d%s", (int)(at - text), text, rows[i].attempts, at + 5);
        assert_true(replace_file(path, run, strlen(run), 0640, false, &e));
        h = hooks_new(&settings);
        struct alert_list *again = alerts_new(NULL, false);
        struct state_held *held = state_read(path, &e);
        assert_int_equal(held != NULL, rows[i].taken);
        if (held)
            state_restore(held, again, h, start);
        state_free(held);
        assert_int_equal(hooks_failed(h, 0) != NULL, rows[i].taken);
        if (rows[i].taken)
            assert_int_equal(hooks_failed(h, 0)->attempts, rows[i].attempts);
        hooks_free(h);
        alerts_free(again);
        alerts_free(l);
    }
}

static void replace__short_and_long__whole(void **state)
{
    static char text[70000], got[70001];
    (void)state;
    memset(text, 'x', sizeof text);
    for (size_t len = 0; len <= sizeof text; len = len ? len * 70000 : 1) {
        char path[80];
        struct err e;
        path_in(path, sizeof path, "file");
        assert_true(replace_file(path, text, len, 0640, false, &e));
        FILE *f = fopen(path, "r");
        assert_non_null(f);
        assert_int_equal(fread(got, 1, sizeof got, f), len);
        fclose(f);
    }
}

/* A collector's user reads the metrics, whatever mask the service runs under. */
static void replace__mask_of_the_service__mode_is_as_asked(void **state)
{
    (void)state;
    char path[80], beside[90];
    struct err e;
    struct stat st;
    path_in(path, sizeof path, "boat.prom");
    mode_t before = umask(0077);
    assert_true(replace_file(path, "x\n", 2, 0644, false, &e));
    umask(before);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(st.st_mode & 07777, 0644);
    /* what somebody put in the way of the new file is removed, a pipe without opening it */
    text_format(beside, sizeof beside, "%s.new", path);
    assert_int_equal(mkfifo(beside, 0600), 0);
    assert_true(replace_file(path, "y\n", 2, 0644, false, &e));
    assert_int_not_equal(lstat(beside, &st), 0);
    /* where none is asked the mask decides */
    before = umask(0027);
    assert_true(replace_file(path, "z\n", 2, 0, false, &e));
    umask(before);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(st.st_mode & 07777, 0640);
    unlink(path);
}

/* A service started without standard input gets 0 as the number of the new file. */
static void replace__standard_input_closed__is_written_all_the_same(void **state)
{
    (void)state;
    char path[80];
    struct err e;
    struct stat st;
    path_in(path, sizeof path, "boat.prom");
    int kept = dup(STDIN_FILENO);
    mode_t before = umask(0077);
    close(STDIN_FILENO);
    bool good = replace_file(path, "xyz\n", 4, 0644, true, &e);
    if (kept >= 0) {
        assert_int_equal(dup2(kept, STDIN_FILENO), STDIN_FILENO);
        close(kept);
    }
    umask(before);
    assert_true(good);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(st.st_size, 4);
    assert_int_equal(st.st_mode & 07777, 0644);
    unlink(path);
}

/* Cards wear: a burst of warnings is one write in ten seconds, an alarm is written at once. */
static void pace__events__alarms_at_once_and_warnings_seldom(void **state)
{
    (void)state;
    struct state_pace p = {.saved_ns = start.mono_ns};
    struct alert a = {.priority = PRIORITY_WARNING};
    struct alert_event ev = {.event = EVENT_RAISED, .at = start, .alert = &a};
    assert_false(state_due(&p, later(100).mono_ns));
    state_event(&p, &ev);
    assert_false(state_due(&p, later(9.9).mono_ns));
    assert_true(state_due(&p, later(10).mono_ns));
    a.priority = PRIORITY_ALARM;
    ev.event = EVENT_UPDATED;
    p = (struct state_pace){.saved_ns = start.mono_ns};
    state_event(&p, &ev);
    assert_false(state_due(&p, later(100).mono_ns));
    ev.event = EVENT_ESCALATED;
    state_event(&p, &ev);
    assert_true(state_due(&p, start.mono_ns));
}

/* sd_notify(3): lines to a datagram socket, '@' for the abstract name space. */
static void notify__datagram_socket__gets_the_words(void **state)
{
    (void)state;
    char path[80], got[64] = "";
    path_in(path, sizeof path, "notify");
    for (int abstract = 0; abstract < 2; abstract++) {
        struct sockaddr_un a = {.sun_family = AF_UNIX};
        text_copy(a.sun_path, sizeof a.sun_path, path);
        char address[80];
        text_copy(address, sizeof address, path);
        socklen_t size = (socklen_t)(offsetof(struct sockaddr_un, sun_path) + strlen(path));
        if (abstract) {
            a.sun_path[0] = '\0';
            address[0] = '@';
        }
        int fd = socket(AF_UNIX, SOCK_DGRAM, 0);
        assert_int_equal(bind(fd, (struct sockaddr *)&a, size), 0);
        struct notify n;
        assert_true(notify_init(&n, address));
        assert_true(notify_send(&n, "READY=1"));
        ssize_t len = recv(fd, got, sizeof got - 1, 0);
        assert_int_equal(len, 7);
        got[len] = '\0';
        assert_string_equal(got, "READY=1");
        notify_fini(&n);
        close(fd);
    }
    unlink(path);
}

static void notify__nobody__is_quiet(void **state)
{
    (void)state;
    struct notify n;
    assert_true(notify_init(&n, NULL));
    assert_true(notify_send(&n, "READY=1"));
    assert_true(notify_init(&n, (const char[2]){'\0', 'x'})); /* empty, whatever is after it */
    assert_true(notify_send(&n, "READY=1"));
    assert_false(notify_init(&n, "/")); /* there, and no socket */
    assert_false(notify_init(&n, "relative/path"));
    assert_false(notify_init(&n, "/no/such/socket"));
    assert_true(notify_watchdog_ns("30000000", NULL, 5) == 15 * NS_PER_S);
    assert_true(notify_watchdog_ns("30000000", "5", 5) == 15 * NS_PER_S);
    assert_true(notify_watchdog_ns("30000000", "6", 5) == 0);
    assert_true(notify_watchdog_ns("x", "5", 5) == 0);
    assert_true(notify_watchdog_ns(NULL, NULL, 5) == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(state__attempts_of_a_hook__within_reason),
        cmocka_unit_test(replace__short_and_long__whole),
        cmocka_unit_test(number__of_every_size__comes_back),
        cmocka_unit_test(number__as_text__has_nine_digits),
        cmocka_unit_test(line__hostile_text__stays_one_line),
        cmocka_unit_test(alert_line__every_beginning__only_texts_may_be_cut),
        cmocka_unit_test(state__restart__unacknowledged_are_listed_again),
        cmocka_unit_test(state__no_file__is_no_failure),
        cmocka_unit_test(state__damaged__nothing_is_taken),
        cmocka_unit_test(state__version_1__is_read),
        cmocka_unit_test(state__pipe_in_its_place__is_refused_and_holds_up_nobody),
        cmocka_unit_test(state__hook_failed__is_tried_again_after_a_restart),
        cmocka_unit_test(replace__mask_of_the_service__mode_is_as_asked),
        cmocka_unit_test(replace__standard_input_closed__is_written_all_the_same),
        cmocka_unit_test(pace__events__alarms_at_once_and_warnings_seldom),
        cmocka_unit_test(notify__datagram_socket__gets_the_words),
        cmocka_unit_test(notify__nobody__is_quiet),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
