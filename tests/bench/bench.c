/* The cost of reading, deciding and showing, as ratios within one run:
 *   bench PROGRAM GENERATOR MIXED_LOG DRILL_LOG CHANNELS_LOG
 *   bench PROGRAM MIXED_LOG DRILL_LOG        what `sift` costs alone
 * Whole programs are timed best of several, by turns, on logs that are in the page cache. Nothing
 * is asserted: the machine is whatever it is. The goals printed beside the figures are the
 * project's own. */
#include "bus/source.h"

#include "base/when.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

#define ROUNDS         3
#define SIFT_ROUNDS    7
#define TERMINAL_MS    10000
#define FRAMES_AN_HOUR 1123200u /* what mixed_log's boat sends: 312 a second */

static int64_t now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec * NS_PER_S + t.tv_nsec;
}

/* What a run took, in seconds: on the wall, of its first thread's and of its others' processor
 * time. The latter do not depend on what else the machine does. */
struct taken {
    double wall, first, others;
};

/* Of a process that has ended and was not waited for, which the kernel still knows: its first
 * thread. -1 where it does not say. */
static double first_thread_s(pid_t pid)
{
    char name[60];
    unsigned long long ns = 0;
    snprintf(name, sizeof name, "/proc/%d/task/%d/schedstat", pid, pid);
    FILE *in = fopen(name, "r");
    bool good = in && fscanf(in, "%llu", &ns) == 1;
    if (in)
        fclose(in);
    return good ? (double)ns / 1e9 : -1;
}

static double seconds_of(struct timeval t)
{
    return (double)t.tv_sec + (double)t.tv_usec / 1e6;
}

/* Runs argv with its output thrown away; false where it did not exit with 0. */
static bool time_program(char *const argv[], struct taken *t)
{
    int64_t from = now_ns();
    pid_t pid = fork();
    if (pid == 0) {
        /* not /dev/null: grep knows it and stops at the first match */
        int sink = memfd_create("output", MFD_CLOEXEC);
        dup2(sink, STDOUT_FILENO);
        dup2(sink, STDERR_FILENO);
        setenv("LC_ALL", "C", 1);
        execvp(argv[0], argv);
        _exit(127);
    }
    int status;
    siginfo_t info;
    struct rusage all;
    if (pid < 0 || waitid(P_PID, (id_t)pid, &info, WEXITED | WNOWAIT) != 0)
        return false;
    t->wall = when_seconds(now_ns() - from);
    t->first = first_thread_s(pid);
    if (wait4(pid, &status, 0, &all) != pid || !WIFEXITED(status) || WEXITSTATUS(status))
        return false;
    t->others = seconds_of(all.ru_utime) + seconds_of(all.ru_stime) - t->first;
    return true;
}

static void keep_least(struct taken *best, const struct taken *t)
{
    best->wall = t->wall < best->wall ? t->wall : best->wall;
    best->first = t->first < best->first ? t->first : best->first;
    best->others = t->others < best->others ? t->others : best->others;
}

/* With standard input or output as given (-1: none); the other streams lead nowhere. */
static pid_t start_piped(char *const argv[], int in, int out)
{
    pid_t pid = fork();
    if (pid == 0) {
        int null = open("/dev/null", O_RDWR);
        dup2(in >= 0 ? in : null, STDIN_FILENO);
        dup2(out >= 0 ? out : null, STDOUT_FILENO);
        dup2(null, STDERR_FILENO);
        execvp(argv[0], argv);
        _exit(127);
    }
    return pid;
}

static void bench_reader(const char *path)
{
    static struct frame batch[256];
    double best = 1e9;
    uint64_t frames = 0;
    for (int i = 0; i < ROUNDS; i++) {
        struct err e;
        struct source *s = source_open_log(path, NULL, &e);
        if (!s) {
            printf("reader: %s\n", e.text);
            return;
        }
        int64_t from = now_ns();
        size_t n;
        while (source_read(s, batch, 256, &n, &e) == SOURCE_READY)
            ;
        double seconds = when_seconds(now_ns() - from);
        best = seconds < best ? seconds : best;
        frames = source_stats(s)->frames;
        source_close(s);
    }
    printf("reader alone: %.1f ns a frame over %llu frames (goal 35)\n",
           best * 1e9 / (double)frames, (unsigned long long)frames);
}

/* `sift` and the simplest program that reads the same bytes, by turns. */
static void bench_sift(char *program, char *path, char *const simple[], const char *what,
                       double goal)
{
    char *sift[] = {program, "sift", path, NULL};
    struct taken g, s, best_simple = {1e9, 1e9, 1e9}, best_sift = best_simple;
    for (int i = 0; i < SIFT_ROUNDS; i++) {
        bool good = time_program(simple, &g);
        if (!good || !time_program(sift, &s)) {
            printf("sift, %s: %s failed\n", what, good ? "sift" : simple[0]);
            return;
        }
        keep_least(&best_simple, &g);
        keep_least(&best_sift, &s);
    }
    printf("sift, %s: %.3f s, %s %s %.3f s: ratio %.2f (goal at most %.1f)\n", what, best_sift.wall,
           simple[0], simple[1], best_simple.wall, best_sift.wall / best_simple.wall, goal);
    double simply = best_simple.first + best_simple.others; /* zstd has more than one thread too */
    double longer = best_sift.first > best_sift.others ? best_sift.first : best_sift.others;
    if (best_sift.first >= 0)
        printf("    processor time: decides %.3f s, reads %.3f s, %s %.3f s: longer one %.2f\n",
               best_sift.first, best_sift.others, simple[0], simply, longer / simply);
}

/* A log of mixed traffic, of which a fifth is read, and one of which all is; the same packed. */
static void bench_sifts(char *program, char *mixed, char *drill)
{
    char *logs[] = {mixed, drill}, *const names[] = {"mixed traffic", "all of it read"};
    const double goals[] = {2.3, 6};
    printf("processors: %ld\n", sysconf(_SC_NPROCESSORS_ONLN));
    for (int i = 0; i < 2; i++) {
        char packed[400], what[40];
        char *grep[] = {"grep", "-c", "#", logs[i], NULL};
        bench_sift(program, logs[i], grep, names[i], goals[i]);
        snprintf(packed, sizeof packed, "%s.zst", logs[i]);
        snprintf(what, sizeof what, "%s, packed", names[i]);
        char *zstd[] = {"zstd", "-dc", packed, NULL};
        bench_sift(program, packed, zstd, what, 1.5);
    }
}

/* The Anonymous line of a process's memory, in KiB; -1 where there is none. */
static long anonymous_kib(pid_t pid)
{
    char path[64], line[200];
    snprintf(path, sizeof path, "/proc/%ld/smaps_rollup", (long)pid);
    FILE *in = fopen(path, "re");
    long kib = -1;
    while (in && fgets(line, sizeof line, in)) {
        if (strncmp(line, "Anonymous:", 10) == 0)
            kib = strtol(line + 10, NULL, 10);
    }
    if (in)
        fclose(in);
    return kib;
}

static pid_t start_board(char *const argv[], int *terminal)
{
    struct winsize size = {.ws_row = 24, .ws_col = 80};
    pid_t pid = forkpty(terminal, NULL, NULL, &size);
    if (pid == 0) {
        setenv("TERM", "xterm-256color", 1);
        setenv("LANG", "C.UTF-8", 1);
        execv(argv[0], argv);
        _exit(127);
    }
    return pid;
}

/* Reads what the board writes for up to ms; the bytes, and when the first `enough` were there. */
static size_t drain(int terminal, int ms, size_t enough, int64_t *enough_at)
{
    static char junk[65536];
    size_t total = 0;
    int64_t until = now_ns() + ms * NS_PER_MS;
    for (;;) {
        int left = (int)((until - now_ns()) / NS_PER_MS);
        struct pollfd p = {.fd = terminal, .events = POLLIN};
        if (left <= 0 || poll(&p, 1, left) <= 0)
            return total;
        ssize_t n = read(terminal, junk, sizeof junk);
        if (n <= 0)
            return total;
        if (total < enough && total + (size_t)n >= enough && enough_at)
            *enough_at = now_ns();
        total += (size_t)n;
        if (enough_at && total >= enough)
            return total;
    }
}

static void end_board(pid_t pid, int terminal)
{
    (void)!write(terminal, "qy", 2);
    drain(terminal, 300, 0, NULL);
    kill(pid, SIGTERM);
    close(terminal);
    waitpid(pid, NULL, 0);
}

/* A first screen is a whole 80x24 board; its text alone is more than this many bytes. */
#define FIRST_SCREEN_BYTES 500

static void bench_first_screen(char *program, char *path)
{
    char *argv[] = {program, "watch", path, NULL};
    double best = 1e9;
    for (int i = 0; i < ROUNDS; i++) {
        int terminal;
        int64_t from = now_ns(), at = 0;
        pid_t pid = start_board(argv, &terminal);
        if (pid < 0)
            return;
        drain(terminal, 3000, FIRST_SCREEN_BYTES, &at);
        end_board(pid, terminal);
        if (at && when_seconds(at - from) < best)
            best = when_seconds(at - from);
    }
    if (best < 1e9)
        printf("watch, first screen: %.1f ms from start (goal 50)\n", best * 1e3);
    else
        printf("watch, first screen: none within 3 s\n");
}

static void bench_memory(char *program, char *path)
{
    char *argv[] = {program, "watch", "--speed", "max", path, NULL};
    int terminal;
    pid_t pid = start_board(argv, &terminal);
    if (pid < 0)
        return;
    long kib = -1, before = -2;
    /* the board stays at the end of the log: wait until memory stands still */
    for (int i = 0; i < 60 && (before != kib || i < 4); i++) {
        drain(terminal, 500, 0, NULL);
        before = kib;
        kib = anonymous_kib(pid);
    }
    end_board(pid, terminal);
    if (kib < 0)
        printf("watch, 200 channels, full history: could not be measured\n");
    else
        printf("watch, 200 channels, full history: %.1f MiB anonymous (goal under 16)\n",
               (double)kib / 1024);
}

/* Processor time of another process so far, in ns. */
static int64_t cpu_ns(pid_t pid)
{
    clockid_t clock;
    struct timespec t = {0};
    if (clock_getcpuclockid(pid, &clock) != 0 || clock_gettime(clock, &t) != 0)
        return 0;
    return t.tv_sec * NS_PER_S + t.tv_nsec;
}

/* Bytes a second that the board sends to an 80x24 terminal, after the first pictures, and the work
 * that it makes. */
static void bench_terminal(char *program, char *path, char *speed, const char *keys,
                           const char *what, double goal)
{
    char *argv[] = {program, "watch", "--forget", "--speed", speed, path, NULL};
    int terminal;
    pid_t pid = start_board(argv, &terminal);
    if (pid < 0)
        return;
    drain(terminal, 3000, 0, NULL);
    (void)!write(terminal, keys, strlen(keys));
    drain(terminal, 2000, 0, NULL);
    int64_t cpu = cpu_ns(pid);
    size_t bytes = drain(terminal, TERMINAL_MS, 0, NULL);
    double percent = (double)(cpu_ns(pid) - cpu) / (TERMINAL_MS * 1e4);
    end_board(pid, terminal);
    printf("watch, %s, 80x24, %u frames a second: %.2f kB/s to the terminal (goal under %.0f), "
           "%.2f %% of a core (goal under 1)\n",
           what, (unsigned)(FRAMES_AN_HOUR / 3600 * strtod(speed, NULL)),
           (double)bytes / TERMINAL_MS, goal, percent);
}

/* `tend` fed with so many frames by the generator: what it took, and how large it ever was. */
static void bench_tend(char *program, char *generator, unsigned hours)
{
    char frames[32], *make[] = {generator, frames, NULL}, *tend[] = {program, "tend", "-", NULL};
    snprintf(frames, sizeof frames, "%u", hours * FRAMES_AN_HOUR);
    int ends[2];
    if (pipe2(ends, O_CLOEXEC) != 0)
        return;
    pid_t maker = start_piped(make, -1, ends[1]), pid = start_piped(tend, ends[0], -1);
    close(ends[0]);
    close(ends[1]);
    struct rusage used;
    int status = -1;
    wait4(pid, &status, 0, &used);
    waitpid(maker, NULL, 0);
    double cpu = (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
                 (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec) / 1e6;
    if (status != 0)
        printf("tend: failed\n");
    else
        printf("tend, %u simulated hours of %u frames a second: %.3f ms of processor time for "
               "1000 frames, %.1f MiB resident at most\n",
               hours, FRAMES_AN_HOUR / 3600, cpu * 1e6 / (hours * (double)FRAMES_AN_HOUR),
               (double)used.ru_maxrss / 1024);
}

int main(int argc, char **argv)
{
    if (argc != 4 && argc != 6) {
        fprintf(stderr, "usage: bench PROGRAM [GENERATOR] MIXED_LOG DRILL_LOG [CHANNELS_LOG]\n");
        return 2;
    }
    setvbuf(stdout, NULL, _IOLBF, 0);
    if (argc == 4) {
        bench_sifts(argv[1], argv[2], argv[3]);
        return 0;
    }
    bench_reader(argv[3]);
    bench_sifts(argv[1], argv[3], argv[4]);
    bench_first_screen(argv[1], argv[3]);
    bench_memory(argv[1], argv[5]);
    bench_terminal(argv[1], argv[3], "1", "", "board", 1);
    bench_terminal(argv[1], argv[3], "1", "t", "trend", 2);
    bench_terminal(argv[1], argv[3], "3.21", "", "board", 3); /* its seconds pass faster */
    bench_tend(argv[1], argv[2], 1);
    bench_tend(argv[1], argv[2], 24);
    return 0;
}
