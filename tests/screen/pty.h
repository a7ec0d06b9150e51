/* The built program on a terminal of its own: a pseudo-terminal behind it, and a terminal emulator
 * (libvterm) that shows what a user would see. No sleeps: everything waits for what it wants to
 * see, with a deadline. */
#ifndef STOKEHOLD_TESTS_PTY_H
#define STOKEHOLD_TESTS_PTY_H

#include "support/check.h"
#include "support/program.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>
#include <vterm.h>

#define PTY_DEADLINE_MS 60000 /* for a busy machine; nobody asserts how long it took */

struct pty {
    pid_t pid;
    int master;
    int cols, rows;
    struct termios before;
    VTerm *vt;
    VTermScreen *screen;
    bool altscreen, cursor_hidden, mouse;
    bool ended;
    int status; /* as waitpid gave it */
    uint64_t bytes, high_bytes, escapes;
    char tail[4096]; /* the last bytes that came */
    size_t tail_len;
    char part[4]; /* of a character that has not come whole */
    size_t part_len;
};

static inline int64_t pty_now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static inline int pty_property(VTermProp prop, VTermValue *value, void *user)
{
    struct pty *p = user;
    if (prop == VTERM_PROP_ALTSCREEN)
        p->altscreen = value->boolean;
    if (prop == VTERM_PROP_CURSORVISIBLE)
        p->cursor_hidden = !value->boolean;
    if (prop == VTERM_PROP_MOUSE)
        p->mouse = value->number != 0;
    return 1;
}

static const VTermScreenCallbacks pty_callbacks = {.settermprop = pty_property};

/* Runs `command` in a shell on a terminal of that size, in the scratch directory; "$PROGRAM" in it
 * stands for the program. variables: NAME=VALUE words before it, for env. */
static inline void pty_start(struct pty *p, int cols, int rows, const char *variables,
                             const char *command)
{
    char line[4096], *program = realpath(STOKEHOLD_PROGRAM, NULL);
    *p = (struct pty){.cols = cols, .rows = rows};
    assert_non_null(program);
    snprintf(line, sizeof line,
             "PROGRAM='%s'; cd '%s' && exec env -i PATH=\"$PATH\" HOME=\"$PWD\" TZ=UTC %s %s",
             program, program_scratch(), variables, command);
    free(program);
    struct winsize w = {.ws_col = (unsigned short)cols, .ws_row = (unsigned short)rows};
    /* Both ends are ours for a moment, so that the modes before are known. */
    int slave;
    assert_int_equal(openpty(&p->master, &slave, NULL, NULL, &w), 0);
    assert_int_equal(tcgetattr(slave, &p->before), 0);
    p->pid = fork();
    assert_true(p->pid >= 0);
    if (p->pid == 0) {
        close(p->master);
        if (setsid() < 0 || ioctl(slave, TIOCSCTTY, 0) != 0 || dup2(slave, 0) < 0 ||
            dup2(slave, 1) < 0 || dup2(slave, 2) < 0)
            _exit(126);
        close(slave);
        execl("/bin/sh", "sh", "-c", line, (char *)NULL);
        _exit(127);
    }
    close(slave);
    fcntl(p->master, F_SETFL, O_NONBLOCK);
    p->vt = vterm_new(rows, cols);
    vterm_set_utf8(p->vt, 1);
    p->screen = vterm_obtain_screen(p->vt);
    vterm_screen_enable_altscreen(p->screen, 1);
    vterm_screen_set_callbacks(p->screen, &pty_callbacks, p);
    vterm_screen_reset(p->screen, 1);
}

/* What the emulator is given; the beginning of a character waits for the rest of it, for the
 * emulator makes two of what it gets in two pieces. */
static inline void pty_show(struct pty *p, const char *buf, size_t len)
{
    size_t part = 0;
    while (part < 3 && part < len && ((unsigned char)buf[len - 1 - part] & 0xC0) == 0x80)
        part++;
    if (part < len) {
        unsigned char first = (unsigned char)buf[len - 1 - part];
        size_t whole = first >= 0xF0 ? 4 : first >= 0xE0 ? 3 : first >= 0xC0 ? 2 : 1;
        part = whole > part + 1 ? part + 1 : 0;
    }
    vterm_input_write(p->vt, buf, len - part);
    memcpy(p->part, buf + len - part, part);
    p->part_len = part;
}

/* Takes what came; waits for it at most so long. False at the end of it. */
static inline bool pty_pump(struct pty *p, int wait_ms)
{
    struct pollfd f = {.fd = p->master, .events = POLLIN};
    char buf[8192];
    poll(&f, 1, wait_ms);
    for (;;) {
        memcpy(buf, p->part, p->part_len);
        ssize_t n = read(p->master, buf + p->part_len, sizeof buf - p->part_len);
        if (n < 0 && errno == EAGAIN)
            return true;
        if (n <= 0)
            return false;
        p->bytes += (uint64_t)n;
        for (ssize_t i = (ssize_t)p->part_len; i < n + (ssize_t)p->part_len; i++) {
            p->high_bytes += (unsigned char)buf[i] >= 0x80;
            p->escapes += buf[i] == 27;
            if (p->tail_len == sizeof p->tail) {
                memmove(p->tail, p->tail + 1, sizeof p->tail - 1);
                p->tail_len--;
            }
            p->tail[p->tail_len++] = buf[i];
        }
        pty_show(p, buf, (size_t)n + p->part_len);
    }
}

/* Text of a row as the user sees it; good until the next call. */
static inline const char *pty_row(struct pty *p, int y)
{
    static char text[4096];
    size_t n = 0;
    for (int x = 0; x < p->cols && n + 40 < sizeof text; x++) {
        VTermScreenCell c;
        vterm_screen_get_cell(p->screen, (VTermPos){y, x}, &c);
        uint32_t ch = c.chars[0] ? c.chars[0] : ' ';
        if (ch < 0x80)
            text[n++] = (char)ch;
        else
            n += (size_t)snprintf(text + n, 12, "<%x>", ch);
    }
    text[n] = '\0';
    return text;
}

static inline bool pty_shows(struct pty *p, const char *words)
{
    for (int y = 0; y < p->rows; y++)
        if (strstr(pty_row(p, y), words))
            return true;
    return false;
}

/* The number behind a word on the screen; -1 where the word is not there. */
static inline long pty_number(struct pty *p, const char *word)
{
    for (int y = 0; y < p->rows; y++) {
        const char *at = strstr(pty_row(p, y), word);
        if (at)
            return strtol(at + strlen(word), NULL, 10);
    }
    return -1;
}

static inline void pty_dump(struct pty *p)
{
    for (int y = 0; y < p->rows; y++)
        print_error("|%s|\n", pty_row(p, y));
}

/* Waits until the words stand on the screen; fails with a picture of it otherwise. */
static inline void pty_expect(struct pty *p, const char *words)
{
    int64_t end = pty_now_ms() + PTY_DEADLINE_MS;
    while (!pty_shows(p, words)) {
        bool more = pty_pump(p, 20);
        if ((!more && !pty_shows(p, words)) || pty_now_ms() > end) {
            print_error("never saw '%s' on\n", words);
            pty_dump(p);
            fail();
        }
    }
}

static inline void pty_expect_gone(struct pty *p, const char *words)
{
    int64_t end = pty_now_ms() + PTY_DEADLINE_MS;
    while (pty_shows(p, words)) {
        if (!pty_pump(p, 20) || pty_now_ms() > end) {
            print_error("still saw '%s' on\n", words);
            pty_dump(p);
            fail();
        }
    }
}

static inline void pty_send(struct pty *p, const char *keys)
{
    size_t len = strlen(keys), at = 0;
    int64_t end = pty_now_ms() + PTY_DEADLINE_MS;
    while (at < len && pty_now_ms() < end) {
        ssize_t n = write(p->master, keys + at, len - at);
        if (n > 0)
            at += (size_t)n;
        else
            pty_pump(p, 10);
    }
    assert_int_equal(at, len);
}

static inline void pty_resize(struct pty *p, int cols, int rows)
{
    struct winsize w = {.ws_col = (unsigned short)cols, .ws_row = (unsigned short)rows};
    ioctl(p->master, TIOCSWINSZ, &w);
    vterm_set_size(p->vt, rows, cols);
    p->cols = cols;
    p->rows = rows;
}

/* Waits for the end, at most so long; returns the exit status, 128 + n for a signal, -1 where it
 * has not ended. */
static inline int pty_wait(struct pty *p, int most_ms)
{
    int64_t end = pty_now_ms() + most_ms;
    while (!p->ended) {
        pty_pump(p, 10);
        if (waitpid(p->pid, &p->status, WNOHANG) == p->pid)
            p->ended = true;
        else if (pty_now_ms() > end)
            return -1;
    }
    while (pty_pump(p, 0) && pty_now_ms() < end) {
        struct pollfd f = {.fd = p->master, .events = POLLIN};
        if (poll(&f, 1, 0) <= 0 || !(f.revents & POLLIN))
            break;
    }
    return WIFEXITED(p->status) ? WEXITSTATUS(p->status) : 128 + WTERMSIG(p->status);
}

/* The modes of the line are what they were before the program began. */
static inline void pty_check_restored(struct pty *p)
{
    struct termios now;
    assert_int_equal(tcgetattr(p->master, &now), 0);
    assert_int_equal(now.c_lflag, p->before.c_lflag);
    assert_int_equal(now.c_iflag, p->before.c_iflag);
    assert_int_equal(now.c_oflag, p->before.c_oflag);
    assert_memory_equal(now.c_cc, p->before.c_cc, sizeof now.c_cc);
    assert_false(p->altscreen);
    assert_false(p->cursor_hidden);
    assert_false(p->mouse);
}

/* Processor time of the program so far, in ms. */
static inline long pty_cpu_ms(const struct pty *p)
{
    char path[64], text[1024];
    long user = -1, system_time = 0;
    snprintf(path, sizeof path, "/proc/%d/stat", (int)p->pid);
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    size_t n = fread(text, 1, sizeof text - 1, f);
    fclose(f);
    text[n] = '\0';
    const char *after = strrchr(text, ')');
    assert_non_null(after);
    assert_int_equal(
        sscanf(after, ") %*c %*d %*d %*d %*d %*d %*u %*u %*u %*u %*u %ld %ld", &user, &system_time),
        2);
    return (user + system_time) * 1000 / sysconf(_SC_CLK_TCK);
}

static inline void pty_stop(struct pty *p)
{
    if (!p->ended) {
        kill(p->pid, SIGKILL);
        waitpid(p->pid, &p->status, 0);
    }
    if (p->master >= 0)
        close(p->master);
    vterm_free(p->vt);
}

/* Whether the cell stands out without colour. */
static inline bool pty_is_marked(struct pty *p, int x, int y)
{
    VTermScreenCell c;
    vterm_screen_get_cell(p->screen, (VTermPos){y, x}, &c);
    return c.attrs.bold || c.attrs.reverse || c.attrs.underline;
}

#endif
