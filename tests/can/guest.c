#include "can/guest.h"

#include "support/check.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/can.h>
#include <linux/can/raw.h>
#include <linux/tty.h>
#include <net/if.h>
#include <pthread.h>
#include <signal.h>
#include <spawn.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

extern char **environ;

static void give_up(const char *what)
{
    perror(what);
    abort();
}

int64_t guest_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

void guest_sleep_ms(int ms)
{
    struct timespec t = {ms / 1000, ms % 1000 * 1000000L};
    while (nanosleep(&t, &t) != 0 && errno == EINTR)
        ;
}

pid_t guest_start(const char *command, const char *output)
{
    char words[1000];
    char *argv[40] = {0}, *rest = words;
    snprintf(words, sizeof words, "%s", command);
    for (size_t n = 0; n < 39 && (argv[n] = strtok_r(rest, " ", &rest)); n++)
        ;
    posix_spawn_file_actions_t files;
    posix_spawn_file_actions_init(&files);
    if (output) {
        posix_spawn_file_actions_addopen(&files, 1, output, O_WRONLY | O_CREAT | O_TRUNC, 0644);
        posix_spawn_file_actions_adddup2(&files, 1, 2);
    }
    pid_t pid = -1;
    /* never a process id below 1: a signal to it would go to everyone */
    if (!argv[0] || posix_spawnp(&pid, argv[0], &files, NULL, argv, environ) != 0)
        give_up(command);
    posix_spawn_file_actions_destroy(&files);
    return pid;
}

int guest_run(const char *command)
{
    int status;
    pid_t pid = guest_start(command, NULL);
    if (waitpid(pid, &status, 0) != pid)
        return -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

int guest_end(pid_t pid, int sig)
{
    int status;
    if (sig)
        kill(pid, sig);
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS; guest_ms() < until; guest_sleep_ms(10)) {
        if (waitpid(pid, &status, WNOHANG) == pid)
            return status;
    }
    kill(pid, SIGKILL);
    waitpid(pid, &status, 0);
    return -1;
}

const char *guest_file(const char *path)
{
    static char text[200000];
    FILE *in = fopen(path, "r");
    size_t n = in ? fread(text, 1, sizeof text - 1, in) : 0;
    text[n] = '\0';
    if (in)
        fclose(in);
    return text;
}

static bool line_holds(const char *line, size_t len, const char *words)
{
    const char *found = strstr(line, words);
    return found && found + strlen(words) <= line + len;
}

static bool has_line(const char *text, const char *words, const char *also)
{
    for (; *text; text += strspn(text, "\n")) {
        size_t len = strcspn(text, "\n");
        if (line_holds(text, len, words) && (!also || line_holds(text, len, also)))
            return true;
        text += len;
    }
    return false;
}

void guest_await_line(const char *path, size_t from, const char *words, const char *also)
{
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS;; guest_sleep_ms(10)) {
        const char *text = guest_file(path);
        if (strlen(text) >= from && has_line(text + from, words, also))
            return;
        if (guest_ms() > until)
            fail_msg("no line with '%s' and '%s', but:\n%s", words, also ? also : "", text);
    }
}

void guest_await_lines(const char *path, int n)
{
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS;; guest_sleep_ms(20)) {
        int lines = 0;
        for (const char *p = guest_file(path); (p = strchr(p, '\n')); p++)
            lines++;
        if (lines >= n)
            return;
        if (guest_ms() > until)
            fail_msg("%s has %d lines and not %d", path, lines, n);
    }
}

int guest_listeners(const char *iface)
{
    char line[200], name[32];
    int n = 0;
    FILE *in = fopen("/proc/net/can/rcvlist_all", "r");
    if (!in)
        give_up("rcvlist_all");
    while (fgets(line, sizeof line, in))
        n += sscanf(line, " %31s", name) == 1 && strcmp(name, iface) == 0;
    fclose(in);
    return n;
}

void guest_await_listeners(const char *iface, int n)
{
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS; guest_listeners(iface) < n;) {
        if (guest_ms() > until)
            fail_msg("%d and not %d listen to %s", guest_listeners(iface), n, iface);
        guest_sleep_ms(20);
    }
}

int guest_socket(const char *iface)
{
    int fd = socket(PF_CAN, SOCK_RAW | SOCK_CLOEXEC, CAN_RAW);
    struct sockaddr_can a = {.can_family = AF_CAN, .can_ifindex = (int)if_nametoindex(iface)};
    if (fd < 0 || !a.can_ifindex || bind(fd, (struct sockaddr *)&a, sizeof a) != 0)
        give_up(iface);
    return fd;
}

bool guest_send(int fd, uint32_t id, const void *data, size_t len)
{
    struct can_frame f = {.can_id = id, .len = (uint8_t)len};
    if (len > 0)
        memcpy(f.data, data, len);
    return write(fd, &f, sizeof f) == (ssize_t)sizeof f;
}

unsigned guest_flood(int fd, double per_second, double seconds)
{
    int64_t from = guest_ms();
    unsigned sent = 0, wanted = (unsigned)(per_second * seconds);
    while (sent < wanted) {
        unsigned due = (unsigned)((double)(guest_ms() - from) * per_second / 1000);
        for (; sent < due && sent < wanted; sent++) {
            uint8_t data[8] = {(uint8_t)sent, (uint8_t)(sent >> 8), (uint8_t)(sent >> 16), 0, 1, 2};
            while (!guest_send(fd, 0x89F20000u, data, 8)) {
                if (errno != ENOBUFS)
                    give_up("flood");
                guest_sleep_ms(1);
            }
        }
        guest_sleep_ms(2);
    }
    return sent;
}

/* ---- the adapter ---------------------------------------------------------------------------- */

struct adapter {
    int master, line;
    char name[IFNAMSIZ];
    pthread_t thread;
    _Atomic unsigned heard;
};

/* Takes what the driver writes: its commands unanswered, frames counted. It must be reading before
 * the interface goes up, as the driver waits for its commands to be taken. */
static void *listen_to_driver(void *arg)
{
    struct adapter *a = arg;
    char c, first = 0;
    while (read(a->master, &c, 1) == 1) {
        if (first == 0)
            first = c;
        if (c != '\r')
            continue;
        if (first == 'T' || first == 't' || first == 'R' || first == 'r')
            a->heard++;
        first = 0;
    }
    return NULL;
}

struct adapter *adapter_start(const char *name)
{
    struct adapter *a = calloc(1, sizeof *a);
    struct termios t;
    int discipline = N_SLCAN;
    char given[IFNAMSIZ], command[200];
    if (!a)
        give_up("adapter");
    a->master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (a->master < 0 || grantpt(a->master) != 0 || unlockpt(a->master) != 0)
        give_up("terminal for the adapter");
    a->line = open(ptsname(a->master), O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (a->line < 0 || tcgetattr(a->line, &t) != 0)
        give_up("line of the adapter");
    cfmakeraw(&t);
    tcsetattr(a->line, TCSANOW, &t);
    if (ioctl(a->line, TIOCSETD, &discipline) != 0 || ioctl(a->line, SIOCGIFNAME, given) != 0)
        give_up("slcan line discipline");
    snprintf(a->name, sizeof a->name, "%s", name);
    if (pthread_create(&a->thread, NULL, listen_to_driver, a) != 0)
        give_up("thread of the adapter");
    snprintf(command, sizeof command, "ip link set %s name %s", given, name);
    if (guest_run(command) != 0)
        give_up(command);
    snprintf(command, sizeof command, "ip link set %s up type can bitrate 250000", name);
    if (guest_run(command) != 0)
        give_up(command);
    return a;
}

void adapter_say(struct adapter *a, const char *words)
{
    char line[100];
    int n = snprintf(line, sizeof line, "%s\r", words);
    if (write(a->master, line, (size_t)n) != n)
        give_up("adapter");
}

unsigned adapter_heard(const struct adapter *a)
{
    return a->heard;
}

void adapter_unplug(struct adapter *a)
{
    close(a->line);
    pthread_cancel(a->thread);
    pthread_join(a->thread, NULL);
    close(a->master);
    free(a);
}
