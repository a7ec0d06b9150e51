/* The drawing end of a terminal in a process of its own, with an emulator behind it. No clock is
 * read: pictures are counted. */
#ifndef STOKEHOLD_TESTS_DESK_H
#define STOKEHOLD_TESTS_DESK_H

#include "pty.h"
#include "scene.h"
#include "screen/term.h"

#include <locale.h>

#define COLS 80
#define ROWS 24

/* Both ends of a terminal in one process, which has it as its own. */
struct desk {
    struct pty p;
    struct term *term;
    struct grid grid;
    struct theme theme;
    struct scene scene;
    int answer;
};

struct answer {
    bool done;
    uint64_t numbers[16];
    char text[1 << 16];
};

static inline void desk_size(struct desk *d, int cols, int rows)
{
    pty_resize(&d->p, cols, rows);
    term_resize(d->term);
    grid_resize(&d->grid, cols, rows);
    d->scene.ui.cols = cols;
    d->scene.ui.rows = rows;
}

/* Draws the scene; the bytes that curses made of it. Reads them where the far end listens. */
static inline uint64_t desk_draw(struct desk *d, bool listens)
{
    uint64_t before = term_stats(d->term).bytes;
    ui_draw(&d->grid, d->scene.m, &d->scene.ui);
    term_draw(d->term, &d->grid, &d->theme);
    while (listens && (pty_pump(&d->p, 0), term_pending(d->term)))
        term_flush(d->term);
    if (listens)
        pty_pump(&d->p, 0);
    return term_stats(d->term).bytes - before;
}

static inline void desk_open(struct desk *d, const char *name, const char *color, const char *theme)
{
    struct winsize w = {.ws_col = COLS, .ws_row = ROWS};
    struct term_options options = {.color = color};
    struct err e;
    int slave;
    if (setsid() < 0 || openpty(&d->p.master, &slave, NULL, NULL, &w) != 0 ||
        ioctl(slave, TIOCSCTTY, 0) != 0 || dup2(slave, 0) < 0 || dup2(slave, 1) < 0)
        _exit(125);
    close(slave);
    fcntl(d->p.master, F_SETFL, O_NONBLOCK);
    d->p.cols = COLS;
    d->p.rows = ROWS;
    d->p.vt = vterm_new(ROWS, COLS);
    vterm_set_utf8(d->p.vt, 1);
    d->p.screen = vterm_obtain_screen(d->p.vt);
    vterm_screen_enable_altscreen(d->p.screen, 1);
    vterm_screen_set_callbacks(d->p.screen, &pty_callbacks, &d->p);
    vterm_screen_reset(d->p.screen, 1);
    setenv("TERM", name, 1);
    unsetenv("NO_COLOR");
    setlocale(LC_CTYPE, "C.UTF-8");
    scene_trouble(&d->scene, 2);
    d->scene.ui.cols = COLS;
    d->scene.ui.rows = ROWS;
    d->term = term_open(&options, &e);
    if (!d->term || !theme_builtin(&d->theme, theme) ||
        !grid_init(&d->grid, COLS, ROWS, term_ascii(d->term)))
        _exit(124);
}

/* Does `what` in a process of its own, whose terminal is the desk's, and hands back what it wrote
 * down. */
static inline struct answer *desk_run(void (*what)(struct desk *, struct answer *),
                                      const char *name, const char *color, const char *theme)
{
    static struct answer got;
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0) {
        static struct desk d;
        static struct answer mine;
        desk_open(&d, name, color, theme);
        what(&d, &mine);
        mine.done = true;
        for (size_t at = 0; at < sizeof mine;) {
            ssize_t n = write(ends[1], (char *)&mine + at, sizeof mine - at);
            if (n <= 0)
                _exit(123);
            at += (size_t)n;
        }
        _exit(0);
    }
    close(ends[1]);
    got = (struct answer){0};
    ssize_t n;
    for (size_t at = 0; (n = read(ends[0], (char *)&got + at, sizeof got - at)) > 0;)
        at += (size_t)n;
    close(ends[0]);
    int status;
    assert_int_equal(waitpid(pid, &status, 0), pid);
    assert_int_equal(status, 0);
    assert_true(got.done);
    return &got;
}

#endif
