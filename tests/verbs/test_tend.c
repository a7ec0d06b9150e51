/* `tend` as a program: fed through a pipe, read, signalled and asked through its socket. Waiting is
 * for lines and ends, with a limit, never for a while. */
#include "support/check.h"
#include "support/program.h"

#include "base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#define LIMIT_MS 60000

struct tending {
    pid_t pid;
    int in, out;
    char seen[65536];
    size_t len;
};

static const char *in_scratch(const char *name)
{
    static char paths[8][160];
    static int next;
    char *path = paths[next++ % 8];
    snprintf(path, sizeof paths[0], "%s/%s", program_scratch(), name);
    return path;
}

/* Starts `stokehold tend --utc ARGUMENTS -` (several apart by blanks). */
static struct tending *start(const char *arguments)
{
    struct tending *t = calloc(1, sizeof *t);
    int in[2], out[2];
    assert_int_equal(pipe(in), 0);
    assert_int_equal(pipe(out), 0);
    t->pid = fork();
    if (t->pid == 0) {
        char copy[1024], *argv[32] = {(char *)"stokehold", (char *)"tend", (char *)"--utc"};
        int n = 3;
        text_copy(copy, sizeof copy, arguments);
        char *save;
        for (char *w = strtok_r(copy, " ", &save); w && n < 30; w = strtok_r(NULL, " ", &save))
            argv[n++] = w;
        argv[n++] = (char *)"-";
        dup2(in[0], 0);
        dup2(out[1], 1);
        dup2(out[1], 2);
        for (int fd = 3; fd < 64; fd++)
            close(fd);
        execv(STOKEHOLD_PROGRAM, argv);
        _exit(127);
    }
    close(in[0]);
    close(out[1]);
    t->in = in[1];
    t->out = out[0];
    return t;
}

/* Reads on until `words` were said. */
static void expect(struct tending *t, const char *words)
{
    while (!strstr(t->seen, words)) {
        struct pollfd p = {.fd = t->out, .events = POLLIN};
        int ready = poll(&p, 1, LIMIT_MS);
        ssize_t n = ready > 0 ? read(t->out, t->seen + t->len, sizeof t->seen - 1 - t->len) : 0;
        if (n <= 0)
            fail_msg("tend did not say '%s' but:\n%s", words, t->seen);
        t->len += (size_t)n;
        t->seen[t->len] = '\0';
    }
}

static int end_with(struct tending *t, int signal_number)
{
    int status;
    if (signal_number)
        kill(t->pid, signal_number);
    else
        close(t->in);
    for (;;) { /* to the end of its output, then its status */
        struct pollfd p = {.fd = t->out, .events = POLLIN};
        if (poll(&p, 1, LIMIT_MS) <= 0)
            fail_msg("tend does not end; it said:\n%s", t->seen);
        ssize_t n = read(t->out, t->seen + t->len, sizeof t->seen - 1 - t->len);
        if (n <= 0)
            break;
        t->len += (size_t)n;
        t->seen[t->len] = '\0';
    }
    assert_int_equal(waitpid(t->pid, &status, 0), t->pid);
    close(t->out);
    if (signal_number)
        close(t->in);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

static void feed(struct tending *t, const char *text, size_t len)
{
    while (len > 0) {
        ssize_t n = write(t->in, text, len);
        assert_true(n > 0);
        text += n;
        len -= (size_t)n;
    }
}

/* A few minutes of a drill with a lost impeller, made once. */
static const char *trip(size_t *len)
{
    static char *text;
    static size_t size;
    if (!text) {
        char arguments[256];
        snprintf(arguments, sizeof arguments,
                 "drill --fault impeller --at +08:00 --seed 3 --minutes 14 -o %s",
                 in_scratch("trip.log"));
        struct outcome o = program_run(arguments, NULL);
        assert_int_equal(o.status, 0);
        outcome_free(&o);
        FILE *f = fopen(in_scratch("trip.log"), "r");
        assert_non_null(f);
        fseek(f, 0, SEEK_END);
        size = (size_t)ftell(f);
        rewind(f);
        text = malloc(size + 1);
        assert_int_equal(fread(text, 1, size, f), size);
        text[size] = '\0';
        fclose(f);
    }
    *len = size;
    return text;
}

/* The part of the trip up to about `seconds`, on a whole line. */
static size_t until(const char *text, size_t len, double seconds)
{
    double first = strtod(text + 1, NULL);
    for (size_t at = 0; at < len;) {
        if (strtod(text + at + 1, NULL) - first > seconds)
            return at;
        const char *end = memchr(text + at, '\n', len - at);
        at = end ? (size_t)(end - text) + 1 : len;
    }
    return len;
}

static struct outcome ask(const char *what)
{
    char arguments[256];
    snprintf(arguments, sizeof arguments, "tend --socket %s %s", in_scratch("sock"), what);
    return program_run(arguments, NULL);
}

static void log__whole__lines_with_levels_and_a_status_line(void **state)
{
    (void)state;
    size_t len;
    trip(&len);
    char arguments[256];
    snprintf(arguments, sizeof arguments, "tend --utc %s", in_scratch("trip.log"));
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    /* levels as sd-daemon(3) reads them: 2 critical, 4 warning, 6 information */
    assert_non_null(strstr(o.out, "A escalated #1 STARBOARD EXHAUST"));
    assert_non_null(strstr(o.out, "\n<2>2026-"));
    assert_non_null(strstr(o.out, "<6>2026-"));
    for (char *line = o.out; *line; line = strchr(line, '\n') + 1) {
        assert_int_equal(line[0], '<');
        assert_true(line[1] >= '1' && line[1] <= '6' && line[2] == '>');
    }
    outcome_free(&o);
}

static void socket__acknowledge_from_a_script__is_done_and_said(void **state)
{
    (void)state;
    size_t len;
    const char *text = trip(&len);
    char arguments[256];
    snprintf(arguments, sizeof arguments, "--socket %s", in_scratch("sock"));
    struct tending *t = start(arguments);
    feed(t, text, until(text, len, 540));
    expect(t, "A escalated #1");
    struct outcome o = ask("--acknowledge 99");
    assert_int_equal(o.status, 3);
    assert_string_equal(o.err, "stokehold tend: there is no alert of that number\n");
    outcome_free(&o);
    o = ask("--silence");
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    expect(t, "A silenced #1");
    o = ask("--acknowledge 1");
    assert_int_equal(o.status, 0);
    assert_string_equal(o.err, "");
    outcome_free(&o);
    expect(t, "A acknowledged #1");
    o = ask("--acknowledge 1");
    assert_int_equal(o.status, 3);
    assert_string_equal(o.err, "stokehold tend: that alert needs no acknowledgement\n");
    outcome_free(&o);
    assert_int_equal(end_with(t, 0), 0); /* end of its input */
    free(t);
    o = ask("--silence");
    assert_int_equal(o.status, 3);
    assert_non_null(strstr(o.err, "nobody tends at"));
    outcome_free(&o);
}

static void socket__second_tend__is_refused_and_a_dead_socket_is_not(void **state)
{
    (void)state;
    char arguments[256];
    snprintf(arguments, sizeof arguments, "--socket %s", in_scratch("sock"));
    struct tending *t = start(arguments);
    size_t len;
    const char *text = trip(&len);
    feed(t, text, until(text, len, 540));
    expect(t, "W raised #1");
    struct outcome o = ask(in_scratch("trip.log"));
    assert_int_equal(o.status, 3);
    assert_non_null(strstr(o.err, "another `tend` is at"));
    outcome_free(&o);
    assert_int_equal(end_with(t, SIGKILL), 128 + SIGKILL); /* leaves its socket behind */
    free(t);
    o = ask(in_scratch("trip.log"));
    assert_int_equal(o.status, 0);
    outcome_free(&o);
}

static void signal__term__ends_cleanly_and_keeps_what_waits(void **state)
{
    (void)state;
    size_t len;
    const char *text = trip(&len);
    char arguments[512];
    snprintf(arguments, sizeof arguments, "--state %s --record %s", in_scratch("state"),
             in_scratch("record"));
    struct tending *t = start(arguments);
    feed(t, text, until(text, len, 540));
    expect(t, "A escalated #1");
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    free(t);
    snprintf(arguments, sizeof arguments, "test -s %s && grep -c check.raw.water %s/alerts-*.jsonl",
             in_scratch("state"), in_scratch("record"));
    assert_int_equal(system(arguments), 0);
    snprintf(arguments, sizeof arguments, "--state %s", in_scratch("state"));
    t = start(arguments);
    expect(t, "A resumed #1, not acknowledged: STARBOARD EXHAUST");
    assert_int_equal(end_with(t, 0), 0);
    free(t);
}

static void signal__usr1__bad_configuration_is_said_and_the_old_one_stays(void **state)
{
    (void)state;
    size_t len;
    const char *text = trip(&len);
    char path[160], arguments[256];
    text_copy(path, sizeof path, program_file("t.conf", "[vessel]\nname = Tern Point\n"));
    snprintf(arguments, sizeof arguments, "--config %s", path);
    struct tending *t = start(arguments);
    feed(t, text, until(text, len, 540));
    expect(t, "A escalated #1");
    program_file("t.conf", "[limit exhaust-hot]\nabove = nonsense\n");
    kill(t->pid, SIGUSR1);
    expect(t, "t.conf:2: [limit exhaust-hot] above");
    expect(t, "the configuration is wrong: the old one stays");
    program_file("t.conf", "[rise exhaust]\nenabled = no\n[departure exhaust]\nenabled = no\n"
                           "[split exhaust]\nenabled = no\n[limit exhaust-hot]\nenabled = no\n");
    kill(t->pid, SIGUSR1);
    expect(t, "the configuration was read anew");
    feed(t, text + until(text, len, 540), until(text, len, 600) - until(text, len, 540));
    expect(t, "A rectified #1");
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    free(t);
}

/* Nobody reads its output: the hook comes all the same, and the whole log is read. */
static void output__not_read__never_stalls_the_watch(void **state)
{
    (void)state;
    size_t len;
    const char *text = trip(&len);
    char conf[512], arguments[512];
    snprintf(conf, sizeof conf,
             "[hook note]\nrun = /bin/sh -c \"echo $STOKEHOLD_CHANNEL > %s\"\nwhen = escalated\n",
             in_scratch("hooked"));
    mkfifo(in_scratch("hooked"), 0600);
    snprintf(arguments, sizeof arguments, "--config %s", program_file("h.conf", conf));
    struct tending *t = start(arguments);
    /* its pipe is made as small as can be and filled */
    fcntl(t->out, F_SETPIPE_SZ, 4096);
    feed(t, text, len);
    int hooked = open(in_scratch("hooked"), O_RDONLY); /* waits for the hook to open it */
    char got[64] = "";
    ssize_t n = read(hooked, got, sizeof got - 1);
    close(hooked);
    assert_true(n > 0);
    assert_string_equal(got, "exhaust.1\n");
    assert_int_equal(end_with(t, 0), 0);
    free(t);
}

static void manager__notify_socket__is_told_ready_and_stopping(void **state)
{
    (void)state;
    struct sockaddr_un a = {.sun_family = AF_UNIX};
    text_copy(a.sun_path, sizeof a.sun_path, in_scratch("notify"));
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&a, sizeof a), 0);
    setenv("NOTIFY_SOCKET", a.sun_path, 1);
    setenv("WATCHDOG_USEC", "200000", 1);
    struct tending *t = start("");
    unsetenv("NOTIFY_SOCKET");
    unsetenv("WATCHDOG_USEC");
    bool ready = false, petted = false, stopping = false;
    for (int i = 0; i < 50 && !stopping; i++) {
        char got[512] = "";
        struct pollfd p = {.fd = fd, .events = POLLIN};
        assert_true(poll(&p, 1, LIMIT_MS) > 0);
        assert_true(recv(fd, got, sizeof got - 1, 0) > 0);
        ready |= strcmp(got, "READY=1") == 0;
        stopping |= strcmp(got, "STOPPING=1") == 0;
        if (strcmp(got, "WATCHDOG=1") == 0 && !petted) {
            petted = true;
            kill(t->pid, SIGTERM);
        }
    }
    assert_true(ready && petted && stopping);
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    close(fd);
    free(t);
}

static void record__second_writer__is_refused(void **state)
{
    (void)state;
    size_t len;
    const char *text = trip(&len);
    char arguments[256];
    snprintf(arguments, sizeof arguments, "--record %s", in_scratch("locked"));
    struct tending *t = start(arguments);
    feed(t, text, until(text, len, 540));
    expect(t, "W raised #1");
    snprintf(arguments, sizeof arguments, "tend --record %s %s", in_scratch("locked"),
             in_scratch("trip.log"));
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 3);
    assert_non_null(strstr(o.err, in_scratch("locked")));
    outcome_free(&o);
    end_with(t, SIGTERM);
    free(t);
}

/* Read by the OpenMetrics parser of the client library for Python (Debian 12: 0.16.0). */
static void metrics__of_a_whole_trip__are_read_by_an_independent_parser(void **state)
{
    (void)state;
    size_t len;
    trip(&len);
    char arguments[512], command[256];
    snprintf(arguments, sizeof arguments, "tend --metrics %s %s", in_scratch("boat.prom"),
             in_scratch("trip.log"));
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    snprintf(command, sizeof command, "/usr/bin/python3 tests/hooks/openmetrics.py %s",
             in_scratch("boat.prom"));
    int status = system(command);
    if (WEXITSTATUS(status) == 77 || WEXITSTATUS(status) == 127)
        skip();
    assert_int_equal(status, 0);
}

static void usage__mistakes__are_said(void **state)
{
    (void)state;
    static const struct {
        const char *arguments, *says;
        int status;
    } rows[] = {
        {"tend", "name one or several interfaces, or a log", 2},
        {"tend --acknowledge 1", "name the socket", 2},
        {"tend --acknowledge x --socket /nowhere", "takes the number of an alert", 2},
        {"tend --record-cap 5 -", "takes a size such as", 2},
        {"tend --socket /nowhere --acknowledge 1", "nobody tends at '/nowhere'", 3},
        {"tend --socket /nowhere/sock -", "cannot open the socket '/nowhere/sock'", 3},
        {"tend /nowhere.log", "nowhere.log", 3},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct outcome o = program_run(rows[i].arguments, NULL);
        if (!strstr(o.err, rows[i].says) || o.status != rows[i].status)
            print_error("'%s' gives %d and %s\n", rows[i].arguments, o.status, o.err);
        assert_non_null(strstr(o.err, rows[i].says));
        assert_int_equal(o.status, rows[i].status);
        outcome_free(&o);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(log__whole__lines_with_levels_and_a_status_line),
        cmocka_unit_test(socket__acknowledge_from_a_script__is_done_and_said),
        cmocka_unit_test(socket__second_tend__is_refused_and_a_dead_socket_is_not),
        cmocka_unit_test(signal__term__ends_cleanly_and_keeps_what_waits),
        cmocka_unit_test(signal__usr1__bad_configuration_is_said_and_the_old_one_stays),
        cmocka_unit_test(output__not_read__never_stalls_the_watch),
        cmocka_unit_test(manager__notify_socket__is_told_ready_and_stopping),
        cmocka_unit_test(record__second_writer__is_refused),
        cmocka_unit_test(metrics__of_a_whole_trip__are_read_by_an_independent_parser),
        cmocka_unit_test(usage__mistakes__are_said),
    };
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
