/* `tend` on a disk, a terminal and a configuration that fail it: each test bears the name of what
 * must never happen again. */
#include "support/check.h"
#include "support/program.h"
#include "verbs/tending.h"

#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>

/* A program is run at the alarm that makes this file. */
static const char *hook_conf(const char *name)
{
    char conf[700];
    snprintf(conf, sizeof conf,
             "[hook note]\nrun = /bin/sh -c \"echo $STOKEHOLD_EVENT >> %s\"\n"
             "when = raised, escalated\npriority = alarm\n",
             in_scratch(name));
    return program_file("hook.conf", conf);
}

static void await_file(const char *path)
{
    for (int i = 0; access(path, F_OK) != 0; i++) {
        if (i > LIMIT_MS / 5)
            fail_msg("%s does not come", path);
        poll(NULL, 0, 5);
    }
}

static size_t read_file(const char *path, char *dst, size_t cap)
{
    FILE *f = fopen(path, "r");
    size_t n = f ? fread(dst, 1, cap - 1, f) : 0;
    dst[n] = '\0';
    if (f)
        fclose(f);
    return n;
}

static void preload(const char *hold, const char *gate, const char *trace)
{
    /* A sanitizer wants to be first; what it intercepts goes on to the shim behind it. */
    char first[400] = "";
    void *sanitizer = dlsym(RTLD_DEFAULT, "__asan_init");
    Dl_info where;
    if (sanitizer && dladdr(sanitizer, &where) && strstr(where.dli_fname, ".so"))
        snprintf(first, sizeof first, "%s:", where.dli_fname);
    text_append(first, sizeof first, "%s", STOKEHOLD_SHIM);
    setenv("LD_PRELOAD", first, 1);
    if (hold)
        setenv("SHIM_HOLD", hold, 1);
    if (gate)
        setenv("SHIM_GATE", gate, 1);
    if (trace)
        setenv("SHIM_TRACE", trace, 1);
}

static void no_preload(void)
{
    unsetenv("LD_PRELOAD");
    unsetenv("SHIM_HOLD");
    unsetenv("SHIM_GATE");
    unsetenv("SHIM_TRACE");
}

/* Every call that touches the disk of record, state, metrics and standard output is held until the
 * hook of the alarm has run: whoever decides and touches one waits for himself. */
static void alarm__disk_held_until_the_hook_has_run__comes_all_the_same(void **state)
{
    (void)state;
    size_t len;
    char arguments[900], text[20000];
    const char *log = trip(&len);
    mkdir(in_scratch("held"), 0755);
    snprintf(arguments, sizeof arguments,
             "--config %s --record %s/rec --state %s/state --metrics %s/boat.prom",
             hook_conf("ran"), in_scratch("held"), in_scratch("held"), in_scratch("held"));
    preload(in_scratch("held"), in_scratch("ran"), NULL);
    struct tending *t = start_into(arguments, in_scratch("held/out"));
    no_preload();
    feed(t, log, until(log, len, 540));
    await_file(in_scratch("ran"));
    feed(t, log + until(log, len, 540), until(log, len, 600) - until(log, len, 540));
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    free(t);
    read_file(in_scratch("held/out"), text, sizeof text);
    assert_non_null(strstr(text, "A escalated #1"));
    read_file(in_scratch("held/state"), text, sizeof text);
    assert_non_null(strstr(text, "check raw water"));
    read_file(in_scratch("held/boat.prom"), text, sizeof text);
    assert_non_null(strstr(text, "stokehold_alert{"));
    snprintf(arguments, sizeof arguments, "grep -q check.raw.water %s/rec/alerts-*.jsonl",
             in_scratch("held"));
    assert_int_equal(system(arguments), 0);
}

/* The same disk never comes back: SIGTERM ends the watch all the same, in seconds. */
static void signal__disk_stands_still_for_ever__ends_all_the_same(void **state)
{
    (void)state;
    size_t len;
    char arguments[900];
    const char *log = trip(&len);
    mkdir(in_scratch("dead"), 0755);
    snprintf(arguments, sizeof arguments, "--record %s/rec --state %s/state --metrics %s/boat.prom",
             in_scratch("dead"), in_scratch("dead"), in_scratch("dead"));
    preload(in_scratch("dead"), in_scratch("never"), NULL);
    struct tending *t = start(arguments);
    no_preload();
    feed(t, log, until(log, len, 540));
    expect(t, "A escalated #1");
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    free(t);
}

/* The service manager restarts a watch that does not say it is alive: one whose disk stands still
 * is alive. */
static void watchdog__disk_stands_still__is_told_all_the_same(void **state)
{
    (void)state;
    char arguments[300];
    struct sockaddr_un a = {.sun_family = AF_UNIX};
    text_copy(a.sun_path, sizeof a.sun_path, in_scratch("notify"));
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&a, sizeof a), 0);
    mkdir(in_scratch("still"), 0755);
    snprintf(arguments, sizeof arguments, "--record %s/rec --state %s/state", in_scratch("still"),
             in_scratch("still"));
    setenv("NOTIFY_SOCKET", a.sun_path, 1);
    setenv("WATCHDOG_USEC", "200000", 1);
    preload(in_scratch("still"), in_scratch("never"), NULL);
    struct tending *t = start(arguments);
    no_preload();
    unsetenv("NOTIFY_SOCKET");
    unsetenv("WATCHDOG_USEC");
    for (int told = 0; told < 3;) {
        char got[512] = "";
        struct pollfd p = {.fd = fd, .events = POLLIN};
        assert_true(poll(&p, 1, LIMIT_MS) > 0);
        assert_true(recv(fd, got, sizeof got - 1, 0) > 0);
        told += strcmp(got, "WATCHDOG=1") == 0;
    }
    assert_int_not_equal(access(in_scratch("still/rec"), F_OK), 0); /* it does stand still */
    assert_int_equal(end_with(t, SIGKILL), 128 + SIGKILL); /* without its seconds of grace */
    close(fd);
    free(t);
}

/* A log comes as fast as it is read, many times what the record holds in memory, while one write
 * takes half a second: a log can wait, so the record has every frame of it, byte for byte. */
static void record__log_at_full_speed_on_a_slow_disk__has_every_frame(void **state)
{
    (void)state;
    char path[PROGRAM_PATH], arguments[400], command[700];
    assert_int_equal(program_drill(path, "hour.log", "--fault none --seed 3 --minutes 60"), 0);
    snprintf(arguments, sizeof arguments, "--record %s", in_scratch("whole"));
    preload(NULL, NULL, NULL);
    setenv("SHIM_FAIL", "write:5:stall", 1);
    struct tending *t = start(arguments);
    no_preload();
    unsetenv("SHIM_FAIL");
    pid_t feeder = fork(); /* what tend does not take yet holds it up */
    if (feeder == 0) {
        dup2(t->in, 1);
        execlp("cat", "cat", path, (char *)NULL);
        _exit(127);
    }
    int fed;
    assert_int_equal(waitpid(feeder, &fed, 0), feeder);
    assert_int_equal(fed, 0);
    assert_int_equal(end_with(t, 0), 0);
    free(t);
    snprintf(command, sizeof command, "grep -hv '^#' %s/frames-*.log | cmp - %s",
             in_scratch("whole"), path);
    assert_int_equal(system(command), 0);
}

/* What the thread that decides calls once it watches: no file at all, but for its own input. */
static void watch__under_way__touches_no_file_where_it_decides(void **state)
{
    (void)state;
    size_t len;
    char arguments[900], text[20000];
    const char *log = trip(&len);
    snprintf(arguments, sizeof arguments,
             "--config %s --record %s --state %s --metrics %s --socket %s", hook_conf("noted"),
             in_scratch("traced"), in_scratch("traced.state"), in_scratch("traced.prom"),
             in_scratch("traced.sock"));
    preload(NULL, NULL, in_scratch("trace"));
    struct tending *t = start_into(arguments, in_scratch("traced.out"));
    no_preload();
    feed(t, log, until(log, len, 540));
    await_file(in_scratch("noted"));
    kill(t->pid, SIGUSR1); /* the configuration is read again */
    for (int i = 0; i < LIMIT_MS / 5; i++) {
        read_file(in_scratch("traced.out"), text, sizeof text);
        if (strstr(text, "was read again"))
            break;
        poll(NULL, 0, 5);
    }
    assert_non_null(strstr(text, "was read again"));
    read_file(in_scratch("trace"), text, sizeof text);
    assert_string_equal(text, "");
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    free(t);
    /* at its end it does, so the trace would have shown it */
    assert_true(read_file(in_scratch("trace"), text, sizeof text) > 0);
}

/* As the shipped unit has it: UMask=0027, and the collector is another user. */
static void metrics__mask_of_the_unit__collector_reads_them(void **state)
{
    (void)state;
    size_t len;
    struct stat st;
    char arguments[400];
    trip(&len);
    snprintf(arguments, sizeof arguments, "tend --metrics %s --state %s %s",
             in_scratch("masked.prom"), in_scratch("masked.state"), in_scratch("trip.log"));
    mode_t before = umask(0027);
    struct outcome o = program_run(arguments, NULL);
    umask(before);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    assert_int_equal(stat(in_scratch("masked.prom"), &st), 0);
    assert_int_equal(st.st_mode & 07777, 0644);
    assert_int_equal(stat(in_scratch("masked.state"), &st), 0);
    assert_int_equal(st.st_mode & 07777, 0640);
}

/* A dropped ssh link hangs up; nohup ignores the signal before the program begins. */
static void signal__hang_up__the_watch_goes_on(void **state)
{
    (void)state;
    size_t len;
    const char *log = trip(&len);
    for (int nohup = 0; nohup < 2; nohup++) {
        signal(SIGHUP, nohup ? SIG_IGN : SIG_DFL);
        struct tending *t = start("");
        signal(SIGHUP, SIG_DFL);
        feed(t, log, until(log, len, 515));
        expect(t, "W raised #1");
        kill(t->pid, SIGHUP);
        feed(t, log + until(log, len, 515), until(log, len, 540) - until(log, len, 515));
        expect(t, "A escalated #1");
        assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
        free(t);
    }
}

static void pipe__in_place_of_state_or_metrics__holds_up_nothing(void **state)
{
    (void)state;
    size_t len;
    char arguments[400];
    const char *log = trip(&len);
    assert_int_equal(mkfifo(in_scratch("pipe"), 0600), 0);
    assert_int_equal(mkfifo(in_scratch("p.prom.new"), 0600), 0);
    snprintf(arguments, sizeof arguments, "--state %s --metrics %s", in_scratch("pipe"),
             in_scratch("p.prom"));
    struct tending *t = start(arguments);
    expect(t, "cannot read the state file");
    feed(t, log, until(log, len, 540));
    expect(t, "A escalated #1");
    expect(t, "is there and is not a file");
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    free(t);
    assert_int_equal(access(in_scratch("p.prom"), R_OK), 0);
}

/* A hook whose last line has no end: the level of our next line stays at the start of a line. */
static void hook__output_without_a_last_newline__swallows_no_level(void **state)
{
    (void)state;
    size_t len;
    const char *log = trip(&len);
    char arguments[300];
    snprintf(arguments, sizeof arguments, "--config %s",
             program_file("says.conf", "[hook says]\nrun = /bin/sh -c \"printf 'no end'\"\n"
                                       "when = raised\npriority = warning\n"));
    struct tending *t = start(arguments);
    feed(t, log, until(log, len, 540));
    expect(t, "hook says: no end\n");
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    for (const char *line = t->seen; *line; line = strchr(line, '\n') + 1)
        assert_int_equal(line[0], '<');
    free(t);
}

static void permission__of_a_directory_above__is_named_so(void **state)
{
    (void)state;
    char command[600];
    if (getuid() != 0)
        skip(); /* becomes somebody who may not */
    mkdir(in_scratch("private"), 0700);
    size_t len;
    trip(&len);
    chmod(program_scratch(), 0755);
    snprintf(command, sizeof command,
             "setpriv --reuid 65534 --regid 65534 --clear-groups %s tend --record %s/a/b %s 2>&1 | "
             "grep -q 'cannot record to .*Permission denied'",
             STOKEHOLD_PROGRAM, in_scratch("private"), in_scratch("trip.log"));
    assert_int_equal(system(command), 0);
}

/* At boot nobody is there to mend it: with --state the last good one is gone by, or the defaults.
 */
static void configuration__wrong_at_the_start__last_good_one_or_defaults(void **state)
{
    (void)state;
    size_t len;
    const char *log = trip(&len);
    char arguments[500], path[160];
    text_copy(path, sizeof path,
              program_file("boot.conf", "[limit exhaust-hot]\nabove = nonsense\n"));
    snprintf(arguments, sizeof arguments, "tend --config %s %s", path, in_scratch("trip.log"));
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 2); /* without --state as ever */
    outcome_free(&o);
    snprintf(arguments, sizeof arguments, "--config %s --state %s", path, in_scratch("boot.state"));
    struct tending *t = start(arguments);
    feed(t, log, until(log, len, 540));
    expect(t, "boot.conf:2: [limit exhaust-hot] above");
    expect(t, "C raised #1 the configuration is wrong: watching by the defaults");
    expect(t, "A escalated #2");
    /* mended while it runs */
    program_file("boot.conf", "[vessel]\nname = Tern Point\n[rise exhaust]\nenabled = no\n"
                              "[departure exhaust]\nenabled = no\n[split exhaust]\nenabled = no\n");
    kill(t->pid, SIGUSR1);
    expect(t, "C rectified #1");
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    free(t);
    unlink(in_scratch("boot.state"));
    /* wrong again: that one is remembered, and its rules with it */
    program_file("boot.conf", "[vessel]\nname = Tern Point\nnonsense\n");
    t = start(arguments);
    expect(t, "C raised #1 the configuration is wrong: watching by the last good one");
    feed(t, log, until(log, len, 600));
    assert_int_equal(end_with(t, 0), 0);
    assert_null(strstr(t->seen, "W raised")); /* by the rules that it switched off */
    assert_non_null(strstr(t->seen, "A raised"));
    free(t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(alarm__disk_held_until_the_hook_has_run__comes_all_the_same),
        cmocka_unit_test(signal__disk_stands_still_for_ever__ends_all_the_same),
        cmocka_unit_test(watchdog__disk_stands_still__is_told_all_the_same),
        cmocka_unit_test(record__log_at_full_speed_on_a_slow_disk__has_every_frame),
        cmocka_unit_test(watch__under_way__touches_no_file_where_it_decides),
        cmocka_unit_test(metrics__mask_of_the_unit__collector_reads_them),
        cmocka_unit_test(signal__hang_up__the_watch_goes_on),
        cmocka_unit_test(pipe__in_place_of_state_or_metrics__holds_up_nothing),
        cmocka_unit_test(hook__output_without_a_last_newline__swallows_no_level),
        cmocka_unit_test(permission__of_a_directory_above__is_named_so),
        cmocka_unit_test(configuration__wrong_at_the_start__last_good_one_or_defaults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
