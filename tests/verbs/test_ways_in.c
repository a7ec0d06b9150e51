/* The same log in every way that a log can come in, through every verb: as a file, redirected,
 * through a pipe, through a pipe that pauses. What comes out is the same, byte for byte. */
#include "support/check.h"
#include "support/program.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <sched.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <unistd.h>

/* The log has the name by which standard input is called, so that it changes nothing. */
#define LOG_NAME "standard input"

static char *trip;
static size_t trip_len;

static char *read_file(const char *path, size_t *len)
{
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    fseek(f, 0, SEEK_END);
    *len = (size_t)ftell(f);
    rewind(f);
    char *text = test_malloc(*len + 1);
    assert_int_equal(fread(text, 1, *len, f), *len);
    text[*len] = '\0';
    fclose(f);
    return text;
}

static int make_trip(void **state)
{
    (void)state;
    char path[PROGRAM_PATH];
    int status = program_drill(path, LOG_NAME, "--fault impeller --at +06:00 --minutes 9 --seed 3");
    if (status != 0)
        return status;
    /* then an hour and more of a plotter's speed alone: cheap, and `tend` has its hourly line */
    FILE *f = fopen(path, "a");
    for (long s = 545; s < 75 * 60; s += 5)
        fprintf(f, "(%ld.000000) can0 09F80226#01FC5C3D0000FFFF\n", 1777903200 + s);
    fclose(f);
    trip = read_file(path, &trip_len);
    return 0;
}

static int free_trip(void **state)
{
    (void)state;
    test_free(trip);
    return 0;
}

enum way { AS_FILE, REDIRECTED, THROUGH_A_PIPE, THROUGH_A_PIPE_THAT_PAUSES, WAYS };

static const char *const way_names[WAYS] = {"file", "redirected", "pipe", "pipe that pauses"};

/* In the child. */
static void become(enum way way, const char *verb, int input)
{
    char program[4096], command[4600];
    if (!realpath(STOKEHOLD_PROGRAM, program) || chdir(program_scratch()) != 0)
        _exit(99);
    if (input >= 0)
        dup2(input, 0);
    snprintf(command, sizeof command, "TZ=UTC exec '%s' %s %s >out 2>err", program, verb,
             way == AS_FILE      ? "'" LOG_NAME "' </dev/null"
             : way == REDIRECTED ? "- <'" LOG_NAME "'"
                                 : "-");
    execl("/bin/sh", "sh", "-c", command, (char *)NULL);
    _exit(99);
}

/* Waits until the reader has taken all that was written, and waits for more; or has gone. */
static void let_it_drain(int fd)
{
    struct pollfd p = {.fd = fd, .events = POLLOUT};
    int held = 1;
    while (ioctl(fd, FIONREAD, &held) == 0 && held > 0 && poll(&p, 1, 0) >= 0 &&
           !(p.revents & POLLERR))
        sched_yield();
}

static void feed(int fd, bool pauses)
{
    /* in the middle of the first stamp, of a line, and of the log */
    const size_t stops[] = {3, 100003, trip_len / 2, trip_len};
    size_t at = 0;
    for (size_t i = 0; i < sizeof stops / sizeof *stops; i++) {
        while (at < stops[i]) {
            ssize_t n = write(fd, trip + at, stops[i] - at);
            if (n < 0 && errno == EPIPE)
                return;
            assert_true(n > 0);
            at += (size_t)n;
        }
        if (pauses)
            let_it_drain(fd);
    }
}

static struct outcome run(enum way way, const char *verb)
{
    int ends[2] = {-1, -1}, status;
    char path[200];
    bool piped = way >= THROUGH_A_PIPE;
    struct outcome o = {0};
    program_scratch();
    if (piped)
        assert_int_equal(pipe2(ends, O_CLOEXEC), 0);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0)
        become(way, verb, ends[0]);
    if (piped) {
        close(ends[0]);
        signal(SIGPIPE, SIG_IGN);
        feed(ends[1], way == THROUGH_A_PIPE_THAT_PAUSES);
        close(ends[1]);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    o.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    snprintf(path, sizeof path, "%s/out", program_scratch());
    o.out = read_file(path, &o.out_len);
    size_t len;
    snprintf(path, sizeof path, "%s/err", program_scratch());
    o.err = read_file(path, &len);
    return o;
}

static void forget(struct outcome *o)
{
    test_free(o->out);
    test_free(o->err);
}

/* The last line of a board is the bar of the log's length, which a pipe does not tell. */
static void drop_last_line(char *text)
{
    size_t len = strlen(text);
    if (len > 0)
        len--;
    while (len > 0 && text[len - 1] != '\n')
        len--;
    text[len] = '\0';
}

static const char *const verbs[] = {
    "sift",
    "sift --json --escalate",
    "sift --explain --from 14:06:17 --to 14:30",
    "export",
    "export --json --derived --all --to +10:00",
    "muster",
    "muster --json --from +01:00",
    "trial",
    "trial --json --from +05:00",
    "watch --once",
    "watch --once --to 14:06:30",
    "watch --plain --speed max",
    "watch --plain --speed max --from 14:06:17",
    "watch",
    "tend",
};

static void every_verb__in_every_way__says_the_same(void **state)
{
    (void)state;
    for (size_t v = 0; v < sizeof verbs / sizeof *verbs; v++) {
        struct outcome file = run(AS_FILE, verbs[v]);
        assert_true(file.status <= 1);
        assert_true(file.out_len > 80);
        for (int way = REDIRECTED; way < WAYS; way++) {
            struct outcome o = run((enum way)way, verbs[v]);
            char *expected = strdup(file.out);
            if (strncmp(verbs[v], "watch --once", 12) == 0 && way >= THROUGH_A_PIPE) {
                drop_last_line(expected);
                drop_last_line(o.out);
            }
            if (strcmp(o.out, expected) != 0 || strcmp(o.err, file.err) != 0 ||
                o.status != file.status)
                fail_msg("%s, %s: status %d, not %d\n%.2000s\n--- not\n%.2000s\n%s", verbs[v],
                         way_names[way], o.status, file.status, o.out, expected, o.err);
            free(expected);
            forget(&o);
        }
        forget(&file);
    }
}

/* ---- a log that holds nothing ---- */

static void check_nothing(const char *verb, const char *file, const char *says)
{
    char arguments[300];
    snprintf(arguments, sizeof arguments, "%s '%s/%s'", verb, program_scratch(), file);
    struct outcome o = program_run(arguments, NULL);
    const char *end = strchr(o.err, '\n');
    bool plain = strstr(verb, "--plain") != NULL; /* greets first */
    if (o.status != 3 || !end || end[1] != '\0' || !strstr(o.err, says) ||
        (o.out_len > 0 && !plain))
        fail_msg("%s: status %d\n%s\n%s", arguments, o.status, o.err, o.out);
    outcome_free(&o);
}

static void every_verb__on_a_log_without_a_frame__says_what_it_is(void **state)
{
    (void)state;
    static const char *const all[] = {
        "sift",  "sift --json", "export", "muster",       "muster --json",
        "trial", "tend",        "watch",  "watch --once", "watch --plain --speed max"};
    program_file("empty", "");
    program_file("notes", "dear diary\nthe bilge is dry\n");
    program_file("blank", "\n \n");
    program_file("binary", "\x7f"
                           "ELF\x02\x01\x01\n\x03\x04\n");
    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        check_nothing(all[i], "empty", "empty: no frame in it: it is empty");
        check_nothing(all[i], "notes",
                      "2 lines of text, but not of candump (line 1 does not begin");
        check_nothing(all[i], "blank", "nothing but blanks");
        check_nothing(all[i], "binary", "binary data");
    }
}

static void every_verb__on_a_part_that_the_log_has_not__says_what_it_has(void **state)
{
    (void)state;
    static const char *const all[] = {"sift",   "sift --json",   "export",
                                      "muster", "muster --json", "trial",
                                      "watch",  "watch --once",  "watch --plain --speed max"};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        char verb[100];
        snprintf(verb, sizeof verb, "%s --from +9:00:00", all[i]);
        check_nothing(verb, LOG_NAME, "it has 2026-05-04 14:00:00 to 2026-05-04 1");
        snprintf(verb, sizeof verb, "%s --to 2020-01-01", all[i]);
        check_nothing(verb, LOG_NAME, "it begins at 2026-05-04 14:00:00, after --to");
        snprintf(verb, sizeof verb, "%s --from 14:20 --to 14:10:00", all[i]);
        check_nothing(verb, LOG_NAME, "--from is after --to");
    }
}

/* ---- several logs ---- */

/* The trip cut into files of about a third each, named out of order; one more is empty. */
static void cut_trip(const char *dir)
{
    static const char *const names[] = {"c.log", "a.log", "b.log"};
    char path[300];
    size_t at = 0;
    snprintf(path, sizeof path, "mkdir -p '%s'", dir);
    assert_int_equal(system(path), 0);
    for (int i = 0; i < 3; i++) {
        size_t end = i < 2 ? trip_len * (size_t)(i + 1) / 3 : trip_len;
        while (trip[end - 1] != '\n')
            end++;
        snprintf(path, sizeof path, "%s/%s", dir, names[i]);
        FILE *out = fopen(path, "w");
        assert_non_null(out);
        assert_int_equal(fwrite(trip + at, 1, end - at, out), end - at);
        fclose(out);
        at = end;
    }
    snprintf(path, sizeof path, "%s/empty.log", dir);
    fclose(fopen(path, "w"));
}

static void several_logs__of_one_trip__read_as_the_whole(void **state)
{
    (void)state;
    static const char *const all[] = {"sift", "sift --json --from 14:06:17", "export --derived"};
    char dir[200], arguments[900];
    snprintf(dir, sizeof dir, "%s/hours", program_scratch());
    cut_trip(dir);
    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        snprintf(arguments, sizeof arguments, "%s '%s/" LOG_NAME "'", all[i], program_scratch());
        struct outcome whole = program_run(arguments, NULL);
        snprintf(arguments, sizeof arguments, "%s '%s'", all[i], dir);
        struct outcome folder = program_run(arguments, NULL);
        snprintf(arguments, sizeof arguments, "%s '%s/a.log' '%s/b.log' '%s/c.log'", all[i], dir,
                 dir, dir);
        struct outcome files = program_run(arguments, NULL);
        assert_int_equal(whole.status, 0);
        assert_int_equal(folder.status, 0);
        assert_string_equal(whole.out, folder.out);
        assert_string_equal(whole.out, files.out);
        assert_string_equal(files.err, whole.err);
        /* one line more, for the one that holds nothing */
        const char *line = strstr(folder.err, "/empty.log: no frame in it: it is empty\n");
        assert_non_null(line);
        assert_string_equal(strchr(line, '\n') + 1, whole.err);
        outcome_free(&whole);
        outcome_free(&folder);
        outcome_free(&files);
    }
}

static void several_logs__all_empty__is_no_log(void **state)
{
    (void)state;
    char arguments[500];
    program_file("empty", "");
    program_file("notes", "dear diary\n");
    snprintf(arguments, sizeof arguments, "sift '%s/empty' '%s/notes'", program_scratch(),
             program_scratch());
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 3);
    assert_string_equal(o.out, "");
    assert_non_null(strstr(o.err, "/empty: no frame in it"));
    assert_non_null(strstr(o.err, "/notes: no frame in it"));
    outcome_free(&o);
}

/* The same trip again, so many seconds later: how often the impeller goes. */
static int alarms_of_two_trips(long later_s)
{
    char path[200], arguments[500];
    snprintf(path, sizeof path, "%s/later.log", program_scratch());
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    for (const char *p = trip; *p;) {
        char *rest;
        long long s = strtoll(p + 1, &rest, 10);
        const char *end = strchr(rest, '\n') + 1;
        fprintf(out, "(%lld%.*s", s + later_s, (int)(end - rest), rest);
        p = end;
    }
    fclose(out);
    snprintf(arguments, sizeof arguments, "sift '%s' '%s/" LOG_NAME "'", path, program_scratch());
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    int trips = strstr(o.out, "another trip, ") != NULL, alarms = 0;
    for (const char *p = o.out; (p = strstr(p, "A escalated  STARBOARD EXHAUST")); p++)
        alarms++;
    outcome_free(&o);
    return trips ? 10 * alarms : alarms;
}

static void several_logs__hours_apart__are_trips_of_their_own(void **state)
{
    (void)state;
    /* The trip is 75 minutes long and its alarm stands at the end. Four hours and more after it
     * another trip begins, which is warned of again; three hours after it the watch goes on. */
    assert_int_equal(alarms_of_two_trips(6 * 3600), 20);
    assert_in_range(alarms_of_two_trips(3 * 3600), 0, 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_verb__in_every_way__says_the_same),
        cmocka_unit_test(every_verb__on_a_log_without_a_frame__says_what_it_is),
        cmocka_unit_test(every_verb__on_a_part_that_the_log_has_not__says_what_it_has),
        cmocka_unit_test(several_logs__of_one_trip__read_as_the_whole),
        cmocka_unit_test(several_logs__all_empty__is_no_log),
        cmocka_unit_test(several_logs__hours_apart__are_trips_of_their_own),
    };
    return cmocka_run_group_tests(tests, make_trip, free_trip);
}
