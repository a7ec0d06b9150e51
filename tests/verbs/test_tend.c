/* `tend` as a program: fed through a pipe, read, signalled and asked through its socket. Waiting is
 * for lines and ends, with a limit, never for a while. */
#include "support/check.h"
#include "support/program.h"
#include "verbs/tending.h"

#include "base/text.h"
#include "hooks/door.h"

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

static void log__of_more_than_an_hour__says_its_status_on_the_hour(void **state)
{
    (void)state;
    static char text[40 * 400];
    size_t len = 0;
    for (int s = 0; s <= 3700; s += 10) /* from 14:00:00 on; a frame of no reading each */
        len += (size_t)snprintf(text + len, sizeof text - len, "(%d.000000) can0 09F80226#00\n",
                                1777903200 + s);
    char arguments[256];
    snprintf(arguments, sizeof arguments, "tend --utc %s", program_file("long.log", text));
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    const char *hour = strstr(o.out, "<6>2026-05-04 15:00:00 watching ");
    assert_non_null(hour);
    const char *frames = strstr(hour, ": 360 frames, 0 lost, "); /* those before the hour */
    assert_true(frames != NULL && frames < strchr(hour, '\n'));
    assert_non_null(strstr(hour, "<6>2026-05-04 15:01:40 watching ")); /* and at its end */
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
    assert_non_null(strstr(o.err, "no stokehold tend is listening at"));
    outcome_free(&o);
}

/* Read by jq, an independent reader of JSON. */
static bool jq_says(const struct outcome *o, const char *filter)
{
    char command[600];
    snprintf(command, sizeof command, "jq -e '%s' <%s >/dev/null", filter,
             program_file("status.json", o->out));
    return system(command) == 0;
}

static void status__of_a_running_watch__for_people_and_for_scripts(void **state)
{
    (void)state;
    size_t len;
    const char *text = trip(&len);
    char arguments[700], conf[160];
    text_copy(conf, sizeof conf,
              program_file("s.conf", "[vessel]\nname = Tern Point\n[hook bad]\nrun = /no/such\n"
                                     "when = raised\npriority = warning\ntry again for = 0 s\n"));
    snprintf(arguments, sizeof arguments, "--config %s --record %s --socket %s", conf,
             in_scratch("asked"), in_scratch("sock"));
    struct tending *t = start(arguments);
    feed(t, text, until(text, len, 540));
    expect(t, "A escalated #1");
    expect(t, "hook bad cannot be run");
    struct outcome o = {.status = 0};
    bool written = false;
    while (!written) { /* the record is opened and written aside */
        o = ask("--status --json");
        assert_int_equal(o.status, 0);
        written = jq_says(&o, ".record.writing and .record.bytes > 0 and .record.free_bytes > 0");
        outcome_free(&o);
    }
    o = ask("--status --utc");
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "watching standard input of Tern Point since "));
    assert_non_null(strstr(o.out, "bus      can0 up, last frame 2026-05-04 14:0"));
    assert_non_null(strstr(o.out, "record   on, "));
    assert_non_null(
        strstr(o.out, "hook     bad FAILED: 1 runs, 1 failed, last good never, 0 waiting"));
    assert_non_null(strstr(o.out, "cooling  PORT: lost water told in "));
    assert_non_null(strstr(o.out, ": lost water told in "));
    assert_non_null(strstr(o.out, " s, speed, load, "));
    assert_non_null(strstr(o.out, "A #1 2026-05-04 14:08:"));
    assert_non_null(strstr(o.out, ", unacknowledged: STARBOARD EXHAUST"));
    outcome_free(&o);
    o = ask("--status --json");
    assert_int_equal(o.status, 0);
    assert_true(jq_says(&o, ".format == \"stokehold status\" and .version == 1"));
    assert_true(jq_says(&o, ".watch.vessel == \"Tern Point\" and .watch.sounding"));
    assert_true(jq_says(&o, ".counts.frames > 30000 and .counts.lost_frames == 0"));
    assert_true(jq_says(&o, ".bus == [.bus[0]] and .bus[0].name == \"can0\" and .bus[0].up"));
    assert_true(
        jq_says(&o, ".bus[0].last_frame > .alerts[0].raised and .bus[0].load_percent == null"));
    assert_true(jq_says(&o, ".record.writing and .record.lost_frames == 0"));
    assert_true(jq_says(&o, ".hook[0].failed and .hook[0].last_good == null"));
    assert_true(jq_says(&o, "[.cooling[].place] == [\"PORT\", \"STARBOARD\"]"));
    assert_true(jq_says(&o, "all(.cooling[]; .running and .exhaust and .speed and .sea "
                            "and .load_from == \"load\" and (.blind | not))"));
    /* the drill sends source 14 every two seconds */
    assert_true(jq_says(&o, "all(.cooling[]; .period_s == 2 and .delay_s > 5 and .delay_s < 30)"));
    assert_true(jq_says(&o, ".alerts[0].channel == \"exhaust.1\" and .alerts[0].test == null"));
    outcome_free(&o);
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    free(t);
    o = ask("--status");
    assert_int_equal(o.status, 3); /* nobody listens */
    assert_string_equal(o.out, "");
    outcome_free(&o);
}

/* What a board that is attached sends with `k`: the words are with the record and with the incident
 * that was set aside, and on the page of the record. */
static void mark__from_a_board__is_kept_with_record_and_incident(void **state)
{
    (void)state;
    size_t len;
    const char *text = trip(&len);
    char arguments[700], path[300], command[200], said[40] = "";
    struct err e;
    snprintf(arguments, sizeof arguments, "--record %s --socket %s", in_scratch("marked"),
             in_scratch("sock"));
    struct tending *t = start(arguments);
    feed(t, text, until(text, len, 300));
    struct outcome o = ask("--status --json"); /* it is up */
    outcome_free(&o);
    int fd = door_connect(in_scratch("sock"), &e);
    assert_true(fd >= 0);
    /* 14:04:10 of the drill's day */
    snprintf(command, sizeof command, "mark\t%lld\tsmell \033 of rubber\n",
             (long long)(1777903200 + 250) * 1000000000);
    assert_int_equal(write(fd, command, strlen(command)), strlen(command));
    for (size_t n = 0; !strchr(said, '\n') && n < sizeof said - 1;) {
        ssize_t got = read(fd, said + n, sizeof said - 1 - n);
        assert_true(got > 0);
        n += (size_t)got;
    }
    assert_string_equal(said, "ok\n");
    close(fd);
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    free(t);
    snprintf(path, sizeof path, "%s/marks", in_scratch("marked"));
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    char line[200];
    assert_non_null(fgets(line, sizeof line, f));
    assert_string_equal(line, "# stokehold marks 1\n");
    assert_non_null(fgets(line, sizeof line, f));
    assert_string_equal(line, "2026-05-04T14:04:10.000Z smell ? of rubber\n");
    fclose(f);
    snprintf(arguments, sizeof arguments,
             "sift --html '%s' '%s' >/dev/null; cat '%s'/incidents/*-mark/marks; "
             "grep -c 'smell ? of rubber' '%s'",
             in_scratch("marked.html"), in_scratch("marked"), in_scratch("marked"),
             in_scratch("marked.html"));
    o = program_run(arguments, NULL);
    assert_string_equal(o.out,
                        "# stokehold marks 1\n2026-05-04T14:04:10.000Z smell ? of rubber\n1\n");
    outcome_free(&o);
}

/* The installer proves the chain: hook, record, lines and boards; and it is taken back by itself.
 */
static void alarm__on_trial__goes_the_whole_way_and_is_taken_back(void **state)
{
    (void)state;
    size_t len;
    const char *text = trip(&len);
    char conf[400], arguments[700], command[400];
    snprintf(conf, sizeof conf,
             "[hook try]\nrun = /bin/sh -c \"echo test=$STOKEHOLD_TEST $STOKEHOLD_TEXT\"\n");
    snprintf(arguments, sizeof arguments, "--config %s --record %s --socket %s",
             program_file("y.conf", conf), in_scratch("tried"), in_scratch("sock"));
    struct tending *t = start(arguments);
    feed(t, text, until(text, len, 60));
    struct outcome o;
    do { /* until it has begun to listen */
        o = ask("--try-alarm");
        outcome_free(&o);
    } while (o.status != 0);
    expect(t, "A raised #1 TEST ALARM");
    expect(t, "hook try: test=1 TEST ALARM, nothing is wrong");
    o = ask("--status --json");
    assert_true(jq_says(&o, ".alerts[0].test and .watch.sounding"));
    outcome_free(&o);
    feed(t, text + until(text, len, 60), until(text, len, 90) - until(text, len, 60));
    expect(t, "A rectified #1");
    expect(t, "A acknowledged #1");
    o = ask("--status --json");
    assert_true(jq_says(&o, ".alerts == []"));
    outcome_free(&o);
    assert_int_equal(end_with(t, SIGTERM), 128 + SIGTERM);
    free(t);
    snprintf(command, sizeof command,
             "grep -q 'raised.*TEST ALARM.*\"test\":true' %s/alerts-*.jsonl", in_scratch("tried"));
    assert_int_equal(system(command), 0);
    snprintf(command, sizeof command, "%s/incidents", in_scratch("tried"));
    assert_int_not_equal(access(command, F_OK), 0); /* nothing is set aside for it */
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
    assert_int_equal(end_with(t, 0), 3); /* the log that followed was empty */
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
    expect(t, "the configuration was read again");
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

/* By promtool of the collector itself (Debian 12: prometheus 2.42), which also says what is not
 * good manners; and by the parser of its client library for Python. */
static void metrics__of_a_whole_trip__pass_promtool(void **state)
{
    (void)state;
    size_t len;
    trip(&len);
    char arguments[512], command[512];
    snprintf(arguments, sizeof arguments, "tend --metrics %s --record %s %s",
             in_scratch("boat.prom"), in_scratch("measured"), in_scratch("trip.log"));
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    snprintf(command, sizeof command, "promtool check metrics <%s", in_scratch("boat.prom"));
    if (system("command -v promtool >/dev/null") == 0)
        assert_int_equal(system(command), 0);
    else
        skip();
}

static void metrics__of_a_whole_trip__are_read_by_an_independent_parser(void **state)
{
    (void)state;
    char command[256];
    snprintf(command, sizeof command, "/usr/bin/python3 tests/hooks/exposition.py %s",
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
        {"tend --socket /nowhere --acknowledge 1", "no stokehold tend is listening at '/nowhere'",
         3},
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
        cmocka_unit_test(log__of_more_than_an_hour__says_its_status_on_the_hour),
        cmocka_unit_test(socket__acknowledge_from_a_script__is_done_and_said),
        cmocka_unit_test(status__of_a_running_watch__for_people_and_for_scripts),
        cmocka_unit_test(alarm__on_trial__goes_the_whole_way_and_is_taken_back),
        cmocka_unit_test(mark__from_a_board__is_kept_with_record_and_incident),
        cmocka_unit_test(socket__second_tend__is_refused_and_a_dead_socket_is_not),
        cmocka_unit_test(signal__term__ends_cleanly_and_keeps_what_waits),
        cmocka_unit_test(signal__usr1__bad_configuration_is_said_and_the_old_one_stays),
        cmocka_unit_test(output__not_read__never_stalls_the_watch),
        cmocka_unit_test(manager__notify_socket__is_told_ready_and_stopping),
        cmocka_unit_test(record__second_writer__is_refused),
        cmocka_unit_test(metrics__of_a_whole_trip__pass_promtool),
        cmocka_unit_test(metrics__of_a_whole_trip__are_read_by_an_independent_parser),
        cmocka_unit_test(usage__mistakes__are_said),
    };
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
