/* `tend` and `watch` on a real kernel: interfaces that come and go, a full bus, a terminal that
 * stands still, a record that is cut, and what an ordinary user may do. Runs in the guest of
 * boot.sh. Waiting is for something to be said, with a limit. */
#include "bus/candump.h"
#include "bus/source.h"
#include "base/when.h"
#include "can/guest.h"
#include "support/check.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/can.h>
#include <linux/can/error.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <net/if.h>
#include <poll.h>
#include <pthread.h>
#include <pty.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#define PROGRAM      STOKEHOLD_PROGRAM
#define HOT_READINGS 4
#define SAID         "/run/said" /* what tend says */

static void write_file(const char *path, const char *text, mode_t mode)
{
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    fputs(text, out);
    fclose(out);
    chmod(path, mode);
}

static pid_t start_tend(const char *arguments)
{
    char command[400];
    snprintf(command, sizeof command, "%s tend --utc %s", PROGRAM, arguments);
    unlink(SAID);
    pid_t pid = guest_start(command, SAID);
    assert_true(pid > 0);
    guest_await_line(SAID, 0, "receive buffer", NULL);
    return pid;
}

/* SIGTERM ends it cleanly, with all in the record that was sent before. */
static void end_tend(pid_t pid)
{
    int status = guest_end(pid, SIGTERM);
    assert_true(status >= 0);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 128 + SIGTERM);
}

static size_t said(void)
{
    return strlen(guest_file(SAID));
}

/* 130312, cabin temperature of instance 1 in kelvin: by default no rule; the tests' own does. */
static void send_cabin(int fd, double celsius)
{
    unsigned raw = (unsigned)((celsius + 273.15) * 100 + 0.5);
    const uint8_t data[8] = {0, 1, 4, (uint8_t)raw, (uint8_t)(raw >> 8), 0xFF, 0xFF, 0xFF};
    assert_true(guest_send(fd, CAN_EFF_FLAG | 0x15FD0810, data, sizeof data));
}

/* The same of three senders, each with an instance of its own. */
static void send_three(int fd)
{
    for (uint8_t i = 0; i < 3; i++) {
        const uint8_t data[8] = {0, (uint8_t)(i + 2), 4, 0x10, 0x72, 0xFF, 0xFF, 0xFF};
        assert_true(guest_send(fd, CAN_EFF_FLAG | (0x15FD0820u + i), data, sizeof data));
    }
}

/* As many readings as it takes to believe a leap over a limit. */
static void send_hot_cabin(int fd)
{
    for (int i = 0; i < HOT_READINGS; i++)
        send_cabin(fd, 80);
}

/* An alarm on the cabin, and a hook that writes down when it ran. */
static void write_config(void)
{
    write_file("/run/ran", "#!/bin/sh\ncat /proc/uptime >/run/ran.at\n", 0755);
    write_file("/run/hot.conf",
               "[limit cabin-hot]\nchannel = cabin.*\npriority = alarm\nabove = 60 C\n"
               "hold = 0 s\nadvice = look there\n"
               "[hook note]\nrun = /run/ran\nwhen = raised\npriority = alarm\n",
               0644);
    unlink("/run/ran.at");
}

/* How long after `raised_ms` the hook ran. */
static int hook_delay_ms(int64_t raised_ms)
{
    struct stat st = {0}; /* there, and written: its writer may be slow */
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS;
         stat("/run/ran.at", &st) != 0 || st.st_size == 0;) {
        if (guest_ms() > until)
            fail_msg("the hook did not run");
        guest_sleep_ms(5);
    }
    return (int)(strtod(guest_file("/run/ran.at"), NULL) * 1000 - (double)raised_ms);
}

/* The frames of every file of a record, in order; bad lines and how many files. */
struct recorded {
    unsigned frames, files;
    uint64_t bad_lines;
    bool in_order; /* numbers of guest_flood go up by one */
    unsigned first, last;
};

static int by_name(const struct dirent **a, const struct dirent **b)
{
    return strcmp((*a)->d_name, (*b)->d_name);
}

static struct recorded read_record(const char *dir)
{
    struct recorded r = {.in_order = true};
    struct dirent **names;
    int n = scandir(dir, &names, NULL, by_name);
    for (int i = 0; i < n; i++) {
        char path[400];
        snprintf(path, sizeof path, "%s/%s", dir, names[i]->d_name);
        bool wanted = strncmp(names[i]->d_name, "frames-", 7) == 0;
        free(names[i]);
        struct source *s =
            wanted ? source_open_logs((const char *const[]){path}, 1, NULL, NULL) : NULL;
        if (!s)
            continue;
        static struct frame f[512];
        size_t got;
        r.files++;
        while (source_read(s, f, 512, &got, NULL) == SOURCE_READY) {
            for (size_t k = 0; k < got; k++) {
                unsigned number =
                    f[k].data[0] | (unsigned)f[k].data[1] << 8 | (unsigned)f[k].data[2] << 16;
                if (r.frames == 0)
                    r.first = number;
                else
                    r.in_order = r.in_order && number == r.last + 1;
                r.last = number;
                r.frames++;
            }
        }
        r.bad_lines += source_stats(s)->bad_lines;
        source_close(s);
    }
    if (n >= 0)
        free(names);
    return r;
}

/* A board of lines goes by the same clock as the frames: a bus that falls silent is told, though no
 * frame comes any more; and it records what it was asked to. */
static void watch__bus_falls_silent__is_told_and_recorded(void **state)
{
    (void)state;
    int fd = guest_socket("vcan0");
    unlink(SAID);
    pid_t pid = guest_start(PROGRAM " watch --plain --record /run/fell-silent vcan0", SAID);
    assert_true(pid > 0);
    guest_await_line(SAID, 0, "watching vcan0", NULL);
    for (int i = 0; i < 20; i++) {
        send_cabin(fd, 20);
        guest_sleep_ms(100);
    }
    guest_await_line(SAID, 0, "warning, raised: vcan0: no frame at all", NULL);
    end_tend(pid);
    assert_int_equal(read_record("/run/fell-silent").frames, 20);
    assert_null(strstr(guest_file(SAID), "clock of this computer")); /* not in so short a time */
    close(fd);
}

static void flood(const char *iface, double per_second, double seconds, unsigned *sent)
{
    int fd = guest_socket(iface);
    *sent = guest_flood(fd, per_second, seconds);
    close(fd);
}

static void tend__full_bus_recorded__no_frame_lost(void **state)
{
    (void)state;
    unsigned sent;
    pid_t pid = start_tend("--record /run/full vcan0");
    flood("vcan0", 1909, 5, &sent);
    end_tend(pid);
    assert_non_null(strstr(guest_file(SAID), " 0 lost"));
    struct recorded r = read_record("/run/full");
    assert_int_equal(r.frames, sent);
    assert_int_equal(r.bad_lines, 0);
    assert_true(r.in_order);
}

static void tend__interface_down_and_back__said(void **state)
{
    (void)state;
    pid_t pid = start_tend("vcan0 vcan1");
    size_t from = said();
    assert_int_equal(guest_run("ip link set vcan1 down"), 0);
    guest_await_line(SAID, from, "raised", "vcan1 is down: ip link set vcan1 up");
    from = said();
    assert_int_equal(guest_run("ip link set vcan1 up"), 0);
    guest_await_line(SAID, from, "rectified", "vcan1 is down");
    end_tend(pid);
}

static void tend__interface_deleted_and_made_again__reads_on(void **state)
{
    (void)state;
    unsigned sent;
    pid_t pid = start_tend("--record /run/again vcan1");
    size_t from = said();
    assert_int_equal(guest_run("ip link del vcan1"), 0);
    guest_await_line(SAID, from, "raised", "vcan1: no such interface");
    from = said();
    assert_int_equal(guest_run("ip link add vcan1 type vcan"), 0);
    assert_int_equal(guest_run("ip link set vcan1 up"), 0);
    /* It may have been seen down before it was gone. */
    guest_await_line(SAID, from, "rectified", "vcan1: no such interface");
    guest_await_listeners("vcan1", 1);
    flood("vcan1", 200, 1, &sent);
    end_tend(pid);
    struct recorded r = read_record("/run/again");
    assert_int_equal(r.frames, sent);
}

/* Deleted and made again under the same index before anybody looks: nothing seems to have changed,
 * but the socket that was bound to it hears nothing any more. */
static void tend__interface_replaced_under_its_index__reads_on(void **state)
{
    (void)state;
    char command[100];
    unsigned sent, index = if_nametoindex("vcan1");
    pid_t pid = start_tend("--record /run/replaced vcan1");
    kill(pid, SIGSTOP);
    assert_int_equal(guest_run("ip link del vcan1"), 0);
    snprintf(command, sizeof command, "ip link add dev vcan1 index %u type vcan", index);
    assert_int_equal(guest_run(command), 0);
    assert_int_equal(guest_run("ip link set vcan1 up"), 0);
    assert_int_equal(if_nametoindex("vcan1"), index);
    assert_int_equal(guest_listeners("vcan1"), 0);
    kill(pid, SIGCONT);
    guest_await_listeners("vcan1", 1);
    flood("vcan1", 200, 1, &sent);
    end_tend(pid);
    assert_int_equal(read_record("/run/replaced").frames, sent);
}

static void tend__missing_at_start__waits(void **state)
{
    (void)state;
    pid_t pid = start_tend("vcan7");
    guest_await_line(SAID, 0, "vcan7: no such interface, waiting for it", NULL);
    size_t from = said();
    assert_int_equal(guest_run("ip link add vcan7 type vcan"), 0);
    assert_int_equal(guest_run("ip link set vcan7 up"), 0);
    guest_await_line(SAID, from, "rectified", "vcan7: no such interface");
    end_tend(pid);
    assert_int_equal(guest_run("ip link del vcan7"), 0);
}

static void tend__real_driver__passive_bus_off_unplugged_and_silent(void **state)
{
    (void)state;
    struct adapter *a = adapter_start("can0");
    pid_t pid = start_tend("can0");
    size_t from = said();
    adapter_say(a, "sp130020");
    guest_await_line(SAID, from, "can0 is error-passive", NULL);
    from = said();
    adapter_say(a, "sa000000");
    guest_await_line(SAID, from, "rectified", "can0 is error-passive");
    from = said();
    adapter_say(a, "sb000000");
    guest_await_line(SAID, from, "can0 is bus-off", NULL);
    from = said();
    assert_int_equal(guest_run("ip link set can0 down"), 0);
    assert_int_equal(guest_run("ip link set can0 up"), 0);
    guest_await_line(SAID, from, "rectified", "can0 is bus-off");
    assert_int_equal(adapter_heard(a), 0); /* nothing was sent */
    adapter_unplug(a);
    from = said();
    guest_await_line(SAID, 0, "can0: no such interface", NULL);
    end_tend(pid);
}

/* The interface stays up, its senders stop: one alert for the bus and none for each of them. */
static void tend__all_senders_stop__one_alert_for_the_bus(void **state)
{
    (void)state;
    pid_t pid = start_tend("vcan0");
    int fd = guest_socket("vcan0");
    size_t from = said();
    for (int64_t until = guest_ms() + 5000; guest_ms() < until; guest_sleep_ms(100))
        send_three(fd);
    int64_t stopped = guest_ms();
    guest_await_line(SAID, from, "vcan0: no frame at all for", NULL);
    print_message("told %lld ms after the last frame\n", (long long)(guest_ms() - stopped));
    assert_null(strstr(guest_file(SAID) + from, "is down"));
    from = said();
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS; guest_ms() < until; guest_sleep_ms(100)) {
        send_three(fd);
        if (strstr(guest_file(SAID) + from, "rectified"))
            break;
    }
    assert_non_null(strstr(guest_file(SAID) + from, "rectified"));
    end_tend(pid);
    assert_null(strstr(guest_file(SAID), "silent"));
    close(fd);
}

static void tend__drill_on_a_virtual_bus__raises_its_alarm_and_sends_nothing(void **state)
{
    (void)state;
    pid_t pid = start_tend("--record /run/drill vcan0");
    assert_int_equal(guest_run(PROGRAM " drill --minutes 6 --fault impeller --at +02:00 --seed 3 "
                                       "--speed 16 --to vcan0"),
                     0);
    guest_await_line(SAID, 0, "STARBOARD EXHAUST", NULL);
    end_tend(pid);
    assert_non_null(strstr(guest_file(SAID), "check raw water"));
    /* every frame of the record is the drill's: it sent what its own log holds, and no one else */
    assert_int_equal(guest_run(PROGRAM " drill --minutes 6 --fault impeller --at +02:00 --seed 3 "
                                       "-o /run/drill.log"),
                     0);
    struct source *s = source_open_log("/run/drill.log", NULL, NULL);
    assert_non_null(s);
    static struct frame f[512];
    size_t n;
    while (source_read(s, f, 512, &n, NULL) == SOURCE_READY)
        ;
    assert_int_equal(read_record("/run/drill").frames, source_stats(s)->frames);
    source_close(s);
}

/* A pipe that nobody reads and a disk: neither may hold up an alarm. */
static void tend__output_not_read_for_10_s__hook_runs_and_no_frame_is_lost(void **state)
{
    (void)state;
    unsigned sent;
    int out[2];
    write_config();
    assert_int_equal(pipe(out), 0);
    fcntl(out[1], F_SETPIPE_SZ, 4096);
    char fill[4096] = "";
    fcntl(out[1], F_SETFL, O_NONBLOCK);
    while (write(out[1], fill, sizeof fill) > 0) /* full before it starts */
        ;
    fcntl(out[1], F_SETFL, 0);
    char path[64];
    snprintf(path, sizeof path, "/proc/%ld/fd/%d", (long)getpid(), out[1]);
    pid_t pid =
        guest_start(PROGRAM " tend --config /run/hot.conf --record /run/stalled vcan0", path);
    /* it cannot say that it is ready: its socket shows it, beside ours */
    int fd = guest_socket("vcan0");
    guest_await_listeners("vcan0", 2);
    flood("vcan0", 1909, 5, &sent);
    send_cabin(fd, 20);
    int64_t raised = guest_ms();
    send_hot_cabin(fd);
    print_message("hook ran %d ms after the frame\n", hook_delay_ms(raised));
    flood("vcan0", 1909, 4, &sent);
    assert_true(guest_end(pid, SIGTERM) >= 0);
    close(fd);
    close(out[0]);
    close(out[1]);
    struct recorded r = read_record("/run/stalled");
    assert_int_equal(r.frames, 5 * 1909 + 1 + HOT_READINGS + 4 * 1909);
    assert_int_equal(r.bad_lines, 0);
}

/* Reads what is drawn on a terminal, so that it is not held up: until the words stand in the text
 * that begins at `seen` (at dst, where that is NULL), or until it ends where there are none. */
static size_t read_until(int terminal, char *dst, size_t cap, const char *seen, const char *words)
{
    size_t len = 0;
    dst[0] = '\0';
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS; guest_ms() < until;) {
        struct pollfd p = {.fd = terminal, .events = POLLIN};
        if (words && strstr(seen ? seen : dst, words))
            return len;
        if (poll(&p, 1, 50) <= 0)
            continue;
        ssize_t n = read(terminal, dst + len, cap - 1 - len);
        if (n <= 0)
            break;
        len += (size_t)n;
        dst[len] = '\0';
    }
    if (words)
        fail_msg("'%s' was not drawn", words);
    return len;
}

/* Ctrl-S on the board's terminal for 10 s, and an alarm at their middle: its hook runs while
 * it stands still, the record has every frame, and the board has the alarm afterwards. Its own drop
 * counter is asked at the end. */
static void watch__terminal_stopped_for_10_s__hook_runs_and_no_frame_lost(void **state)
{
    (void)state;
    unsigned sent = 0;
    struct winsize size = {.ws_row = 24, .ws_col = 80};
    int terminal;
    write_config();
    pid_t pid = forkpty(&terminal, NULL, NULL, &size);
    if (pid == 0) {
        setenv("TERM", "xterm-256color", 1);
        execl(PROGRAM, "stokehold", "watch", "--config", "/run/hot.conf", "--record",
              "/run/watched", "vcan0", (char *)NULL);
        _exit(127);
    }
    static char shown[1 << 20];
    size_t len = 0, stood_at = 0;
    bool stopped = false;
    struct pollfd first = {.fd = terminal, .events = POLLIN}; /* it listens before it draws */
    assert_int_equal(poll(&first, 1, GUEST_PATIENCE_MS), 1);
    int64_t start = guest_ms();
    int fd = guest_socket("vcan0");
    for (int second = 0; second < 13; second++) {
        if (second == 1 || second == 11) {
            char key = second == 1 ? 'S' - '@' : 'Q' - '@';
            assert_int_equal(write(terminal, &key, 1), 1);
            stopped = second == 1;
            stood_at = len;
        }
        sent += guest_flood(fd, 1909, 1);
        if (second == 6) {
            send_cabin(fd, 20);
            int64_t raised = guest_ms();
            send_hot_cabin(fd);
            print_message("hook ran %d ms after the frame\n", hook_delay_ms(raised));
            sent += 1 + HOT_READINGS;
        }
        struct pollfd p = {.fd = terminal, .events = POLLIN};
        while (!stopped && poll(&p, 1, 0) > 0) {
            ssize_t n = read(terminal, shown + len, sizeof shown - 1 - len);
            if (n <= 0)
                break;
            len += (size_t)n;
        }
    }
    print_message("%u frames in %lld ms\n", sent, (long long)(guest_ms() - start));
    len += read_until(terminal, shown + len, sizeof shown - len, shown + stood_at, "look there");
    /* it still lives, takes keys and ends as it should; the last frames wait in its socket */
    (void)!write(terminal, "qy", 2);
    len += read_until(terminal, shown + len, sizeof shown - len, NULL, NULL);
    int status = guest_end(pid, 0);
    shown[len] = '\0';
    close(fd);
    close(terminal);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    assert_true(len > 2000);                   /* a board was drawn */
    assert_null(strstr(shown, "drop frames")); /* the alert of lost frames */
    assert_non_null(strstr(shown + stood_at, "look there"));
    assert_int_equal(read_record("/run/watched").frames, sent);
}

static pid_t board(int *terminal, char *const *arguments)
{
    struct winsize size = {.ws_row = 24, .ws_col = 80};
    pid_t pid = forkpty(terminal, NULL, NULL, &size);
    if (pid == 0) {
        setenv("TERM", "xterm-256color", 1);
        execv(PROGRAM, arguments);
        _exit(127);
    }
    return pid;
}

/* A dead ssh link: the board's terminal is torn away, the alarm that comes later runs its hook. */
static void watch__terminal_goes_away__keeps_the_watch(void **state)
{
    (void)state;
    static char shown[1 << 18];
    static char *const arguments[] = {"stokehold",     "watch",    "--keep-watch", "--config",
                                      "/run/hot.conf", "--forget", "--record",     "/run/kept",
                                      "vcan0",         NULL};
    int terminal;
    write_config();
    pid_t pid = board(&terminal, arguments);
    int fd = guest_socket("vcan0");
    guest_await_listeners("vcan0", 2);
    send_cabin(fd, 20);
    read_until(terminal, shown, sizeof shown, NULL, "vcan0");
    close(terminal);
    send_hot_cabin(fd);
    hook_delay_ms(guest_ms());
    assert_int_equal(kill(pid, 0), 0);
    int status = guest_end(pid, SIGTERM);
    assert_int_equal(WEXITSTATUS(status), 128 + SIGTERM);
    assert_int_equal(read_record("/run/kept").frames, 1 + HOT_READINGS);
    close(fd);
}

/* Without --keep-watch it ends, and says so by its status. */
static void watch__terminal_goes_away__ends(void **state)
{
    (void)state;
    static char shown[1 << 18];
    static char *const arguments[] = {"stokehold", "watch", "--forget", "vcan0", NULL};
    int terminal;
    pid_t pid = board(&terminal, arguments);
    read_until(terminal, shown, sizeof shown, NULL, "vcan0");
    close(terminal);
    int status = guest_end(pid, 0);
    assert_int_equal(WEXITSTATUS(status), 128 + SIGHUP);
}

/* A look is not a watch: it shows the alarm, and no siren starts. One that stays starts it. */
static void watch__once__starts_no_hook(void **state)
{
    (void)state;
    write_config();
    pid_t pid = guest_start(PROGRAM " watch --once --config /run/hot.conf vcan0", SAID);
    int fd = guest_socket("vcan0");
    guest_await_listeners("vcan0", 2);
    send_hot_cabin(fd);
    int status = guest_end(pid, 0);
    assert_int_equal(WEXITSTATUS(status), 0);
    assert_non_null(strstr(guest_file(SAID), "look there"));
    pid = guest_start(PROGRAM " watch --plain --config /run/hot.conf vcan0", SAID);
    guest_await_listeners("vcan0", 2);
    assert_int_not_equal(access("/run/ran.at", F_OK), 0);
    send_hot_cabin(fd);
    hook_delay_ms(guest_ms());
    guest_end(pid, SIGTERM);
    close(fd);
}

static void watch__attached_to_a_live_tend__shows_and_acknowledges(void **state)
{
    (void)state;
    static char shown[1 << 18];
    static char *const arguments[] = {"stokehold", "watch",     "--forget",
                                      "--attach",  "/run/door", NULL};
    int terminal;
    write_config();
    unlink(SAID);
    pid_t tend = guest_start(PROGRAM " tend --config /run/hot.conf --socket /run/door vcan0", SAID);
    int fd = guest_socket("vcan0");
    guest_await_line(SAID, 0, "receive buffer", NULL);
    send_cabin(fd, 20);
    send_hot_cabin(fd);
    guest_await_line(SAID, 0, "A raised #", NULL);
    pid_t pid = board(&terminal, arguments);
    read_until(terminal, shown, sizeof shown, NULL, "look there");
    (void)!write(terminal, "a", 1);
    guest_await_line(SAID, 0, "A acknowledged #", NULL);
    (void)!write(terminal, "qy", 2);
    read_until(terminal, shown, sizeof shown, NULL, NULL);
    int status = guest_end(pid, 0);
    assert_int_equal(WEXITSTATUS(status), 0);
    guest_end(tend, SIGTERM);
    close(terminal);
    close(fd);
}

static void record__killed_and_started_again__goes_on_behind_whole_lines(void **state)
{
    (void)state;
    pid_t pid = start_tend("--record /run/killed vcan0");
    unsigned first, sent;
    flood("vcan0", 1000, 2, &first);
    struct recorded r = {0};
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS; r.frames < first && guest_ms() < until;)
        r = read_record("/run/killed");
    assert_int_equal(r.frames, first);
    assert_true(r.in_order);
    flood("vcan0", 1000, 1, &sent);
    kill(pid, SIGKILL);
    assert_true(WIFSIGNALED(guest_end(pid, 0)));
    r = read_record("/run/killed");
    print_message("%u of %u frames on the disk after the kill\n", r.frames, first + sent);
    assert_in_range(r.frames, first, first + sent);
    assert_int_equal(r.bad_lines, 0);
    pid = start_tend("--record /run/killed vcan0");
    flood("vcan0", 1000, 1, &sent);
    end_tend(pid);
    struct recorded again = read_record("/run/killed");
    assert_int_equal(again.frames, r.frames + sent);
    assert_int_equal(again.bad_lines, 0);
}

static void tend__ordinary_user__reads_and_records(void **state)
{
    (void)state;
    assert_int_equal(mkdir("/run/nobody", 0755), 0);
    assert_int_equal(chown("/run/nobody", 65534, 65534), 0);
    unsigned sent;
    unlink(SAID);
    pid_t pid =
        guest_start("setpriv --reuid 65534 --regid 65534 --clear-groups --no-new-privs "
                    "--bounding-set=-all " PROGRAM " tend --record /run/nobody/record vcan0",
                    SAID);
    guest_await_line(SAID, 0, "receive buffer", NULL);
    flood("vcan0", 500, 1, &sent);
    end_tend(pid);
    assert_int_equal(read_record("/run/nobody/record").frames, sent);
}

/* As under RestrictAddressFamilies=AF_UNIX: socket(AF_CAN) gives EAFNOSUPPORT. */
static void tend__socket_family_refused__says_so_and_ends(void **state)
{
    (void)state;
    pid_t pid = fork();
    if (pid == 0) {
        struct sock_filter code[] = {
            BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
            BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_socket, 0, 3),
            BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, args[0])),
            BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, AF_CAN, 0, 1),
            BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ERRNO | EAFNOSUPPORT),
            BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
        };
        struct sock_fprog program = {.len = sizeof code / sizeof code[0], .filter = code};
        int fd = open("/run/refused", O_WRONLY | O_CREAT | O_TRUNC, 0644);
        dup2(fd, STDOUT_FILENO);
        dup2(fd, STDERR_FILENO);
        if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0 ||
            prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program) != 0)
            _exit(99);
        execl(PROGRAM, "stokehold", "tend", "vcan0", (char *)NULL);
        _exit(127);
    }
    int status = guest_end(pid, 0);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 3);
    assert_non_null(strstr(guest_file("/run/refused"), "AF_CAN"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tend__full_bus_recorded__no_frame_lost),
        cmocka_unit_test(watch__bus_falls_silent__is_told_and_recorded),
        cmocka_unit_test(tend__interface_down_and_back__said),
        cmocka_unit_test(tend__interface_deleted_and_made_again__reads_on),
        cmocka_unit_test(tend__interface_replaced_under_its_index__reads_on),
        cmocka_unit_test(tend__missing_at_start__waits),
        cmocka_unit_test(tend__real_driver__passive_bus_off_unplugged_and_silent),
        cmocka_unit_test(tend__all_senders_stop__one_alert_for_the_bus),
        cmocka_unit_test(tend__drill_on_a_virtual_bus__raises_its_alarm_and_sends_nothing),
        cmocka_unit_test(tend__output_not_read_for_10_s__hook_runs_and_no_frame_is_lost),
        cmocka_unit_test(watch__terminal_stopped_for_10_s__hook_runs_and_no_frame_lost),
        cmocka_unit_test(watch__terminal_goes_away__keeps_the_watch),
        cmocka_unit_test(watch__terminal_goes_away__ends),
        cmocka_unit_test(watch__once__starts_no_hook),
        cmocka_unit_test(watch__attached_to_a_live_tend__shows_and_acknowledges),
        cmocka_unit_test(record__killed_and_started_again__goes_on_behind_whole_lines),
        cmocka_unit_test(tend__ordinary_user__reads_and_records),
        cmocka_unit_test(tend__socket_family_refused__says_so_and_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
