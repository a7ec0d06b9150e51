#include "screen/term.h"

#include "base/text.h"
#include "screen/keys.h"
#include "screen/restore.h"

#include <curses.h>
#include <errno.h>
#include <fcntl.h>
#include <langinfo.h>
#include <limits.h>
#include <locale.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <sys/signalfd.h>
#include <termios.h>
#include <unistd.h>
#include <wchar.h>

#include "base/banned.h"

#define ROW_CELLS 1000

struct term {
    int tty;     /* our own description of the terminal, non-blocking */
    int memory;  /* what curses writes to */
    int signals; /* signalfd */
    FILE *in, *out;
    SCREEN *screen;
    WINDOW *keys; /* keys are read through this pad: reading through stdscr would draw */
    struct termios saved;
    sigset_t saved_mask;
    struct held_stderr *stderr_held;
    bool default_colors, ascii, gone, mouse;
    enum color_level color;
    int cols, rows, fixed_cols, fixed_rows;
    int mouse_x, mouse_y, wheel;
    char notice[160];
    char theme[32]; /* whose pairs are set up */
    char *pending;
    size_t pending_len, pending_at, pending_cap;
    struct term_stats stats;
    cchar_t row[ROW_CELLS];
};

/* ---- opening ---- */

bool term_possible(void)
{
    return isatty(STDOUT_FILENO) && (isatty(STDIN_FILENO) || access("/dev/tty", R_OK | W_OK) == 0);
}

/* A description of our own, so that making it non-blocking changes nothing for a shell that shares
 * the other. */
static int open_tty(void)
{
    const int flags = O_RDWR | O_NONBLOCK | O_NOCTTY | O_CLOEXEC;
    char path[64];
    int fd = -1;
    if (ttyname_r(STDOUT_FILENO, path, sizeof path) == 0)
        fd = open(path, flags);
    if (fd < 0)
        fd = open("/dev/tty", flags);
    return fd;
}

/* The C library loads its conversion at the first use, and where memory is out just then it does
 * without for good: curses would send bytes that no UTF-8 terminal can read. */
static bool codeset_is_utf8(void)
{
    char bytes[MB_LEN_MAX];
    mbstate_t begin = {0};
    return strcmp(nl_langinfo(CODESET), "UTF-8") == 0 && wcrtomb(bytes, L'\u2588', &begin) == 3;
}

/* UTF-8 is what the locale says it is. Over ssh a locale is often named that is not there: then any
 * UTF-8 locale will do, for only the characters matter. */
static bool locale_is_utf8(void)
{
    if (codeset_is_utf8())
        return true;
    static const char *const names[] = {"LC_ALL", "LC_CTYPE", "LANG"};
    for (size_t i = 0; i < 3; i++) {
        const char *value = getenv(names[i]);
        if (!value || !*value)
            continue;
        if (!strstr(value, "UTF-8") && !strstr(value, "utf8"))
            return false;
        return setlocale(LC_CTYPE, "C.UTF-8") && codeset_is_utf8();
    }
    return false;
}

/* newterm for a name; a terminal that cannot place its cursor is none. */
static SCREEN *try_terminal(const char *name, FILE *out, FILE *in)
{
    SCREEN *s = newterm(name, out, in);
    const char *cup = s ? tigetstr("cup") : NULL;
    if (s && (!cup || cup == (char *)-1)) {
        endwin();
        delscreen(s);
        s = NULL;
    }
    return s;
}

static SCREEN *open_screen(struct term *t, struct err *e)
{
    const char *name = getenv("TERM");
    char base[64], shown[64];
    if (!name)
        name = "";
    text_clean(shown, sizeof shown, name, strlen(name));
    SCREEN *s = *name ? try_terminal(name, t->out, t->in) : NULL;
    if (s)
        return s;
    if (strcmp(name, "dumb") == 0) {
        err_set(e, "the terminal 'dumb' cannot place a cursor");
        return NULL;
    }
    text_copy(base, sizeof base, name);
    base[strcspn(base, "-")] = '\0';
    const char *modern = getenv("COLORTERM");
    const char *const names[] = {base, modern && *modern ? "xterm-256color" : "vt100", "vt100"};
    for (size_t i = 0; i < 3; i++) {
        if (!*names[i] || !(s = try_terminal(names[i], t->out, t->in)))
            continue;
        text_format(t->notice, sizeof t->notice,
                    "TERM '%s' is unknown here, using '%s'; the package ncurses-term knows more",
                    shown, names[i]);
        return s;
    }
    err_set(e, "TERM '%s' is unknown, and so is 'vt100'; install ncurses-base or set TERM", shown);
    return NULL;
}

static void set_termios(struct term *t)
{
    struct termios raw = t->saved;
    raw.c_lflag &= ~(tcflag_t)(ICANON | ECHO | IEXTEN);
    raw.c_iflag &= ~(tcflag_t)(ICRNL | INLCR | IXON);
    raw.c_cc[VMIN] = 1;
    raw.c_cc[VTIME] = 0;
    tcsetattr(t->tty, TCSADRAIN, &raw);
}

static void set_signals(struct term *t)
{
    static const int caught[] = {SIGINT, SIGTERM, SIGHUP, SIGWINCH, SIGTSTP, SIGCONT, SIGUSR1};
    sigset_t set;
    sigemptyset(&set);
    for (size_t i = 0; i < sizeof caught / sizeof caught[0]; i++)
        sigaddset(&set, caught[i]);
    sigprocmask(SIG_BLOCK, &set, &t->saved_mask);
    t->signals = signalfd(-1, &set, SFD_CLOEXEC | SFD_NONBLOCK);
}

static void set_colors(struct term *t, const char *wanted)
{
    const char *no_color = getenv("NO_COLOR");
    bool quiet = no_color && *no_color;
    int most = tigetnum("colors");
    if (!wanted || strcmp(wanted, "auto") == 0)
        most = quiet ? 0 : most;
    else if (strcmp(wanted, "never") == 0)
        most = 0;
    else if (strcmp(wanted, "8") == 0)
        most = most > 8 ? 8 : most;
    t->color = most >= 256 ? COLOR_256 : most >= 8 ? COLOR_8 : COLOR_MONO;
    /* Not even begun in monochrome: it would make the terminal's own colours explicit ones. */
    if (t->color != COLOR_MONO && start_color() != OK)
        t->color = COLOR_MONO;
    t->default_colors = t->color != COLOR_MONO && use_default_colors() == OK;
}

/* False where memory is out: a board without keys could not even acknowledge. */
static bool set_keys(struct term *t)
{
    t->keys = newpad(1, 1);
    if (!t->keys)
        return false;
    keypad(t->keys, TRUE);
    nodelay(t->keys, TRUE);
    set_escdelay(25);
    /* Some terminals send another form than their description says. */
    static const struct {
        const char *bytes;
        int key;
    } forms[] = {{"\033[A", KEY_UP},    {"\033[B", KEY_DOWN}, {"\033[C", KEY_RIGHT},
                 {"\033[D", KEY_LEFT},  {"\033OA", KEY_UP},   {"\033OB", KEY_DOWN},
                 {"\033OC", KEY_RIGHT}, {"\033OD", KEY_LEFT}, {"\033[H", KEY_HOME},
                 {"\033[F", KEY_END},   {"\033OH", KEY_HOME}, {"\033OF", KEY_END},
                 {"\033[1~", KEY_HOME}, {"\033[4~", KEY_END}, {"\033[5~", KEY_PPAGE},
                 {"\033[6~", KEY_NPAGE}};
    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++)
        define_key(forms[i].bytes, forms[i].key);
    return true;
}

static void free_parts(struct term *t)
{
    if (t->keys)
        delwin(t->keys);
    if (t->screen)
        delscreen(t->screen);
    if (t->in)
        fclose(t->in);
    if (t->out)
        fclose(t->out); /* closes memory too */
    else if (t->memory >= 0)
        close(t->memory);
    if (t->signals >= 0) {
        close(t->signals);
        sigprocmask(SIG_SETMASK, &t->saved_mask, NULL);
    }
    if (t->tty >= 0)
        close(t->tty);
    free(t->pending);
    free(t);
}

static bool open_files(struct term *t, struct err *e)
{
    t->tty = open_tty();
    if (t->tty < 0 || tcgetattr(t->tty, &t->saved) != 0)
        return err_set(e, "cannot open the terminal: %s", strerror(errno));
    int copy = fcntl(t->tty, F_DUPFD_CLOEXEC, 3);
    t->in = copy < 0 ? NULL : fdopen(copy, "r");
    t->memory = memfd_create("screen", MFD_CLOEXEC);
    t->out = t->memory < 0 ? NULL : fdopen(t->memory, "w");
    if (!t->in || !t->out)
        return err_set(e, "cannot open the terminal: %s", strerror(errno));
    return true;
}

/* What a crash must undo, in order, as this terminal's description words it. */
static void arm_restore(struct term *t)
{
    static const char *const names[] = {"sgr0", "op", "cnorm", "rmkx", "rmcup"};
    const char *strings[7];
    int n = 0;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        const char *s = tigetstr(names[i]);
        if (s && s != (char *)-1)
            strings[n++] = s;
    }
    const char *mouse = tigetstr("kmous");
    if (mouse && mouse != (char *)-1)
        strings[n++] = "\033[?1000l\033[?1002l\033[?1003l\033[?1006l";
    strings[n++] = "\r\n";
    restore_arm(t->tty, &t->saved, strings, n);
}

struct term *term_open(const struct term_options *options, struct err *e)
{
    struct term *t = calloc(1, sizeof *t);
    if (!t) {
        err_set(e, "out of memory");
        return NULL;
    }
    t->tty = t->memory = t->signals = -1;
    if (!open_files(t, e)) {
        free_parts(t);
        return NULL;
    }
    const char *name = getenv("TERM");
    bool console = name && strcmp(name, "linux") == 0;
    bool utf8 = locale_is_utf8();
    /* No font of the plain console has the blocks; asked for, they are tried. */
    t->ascii = options->glyphs == TERM_GLYPHS_ASCII || !utf8 ||
               (console && options->glyphs == TERM_GLYPHS_AUTO);
    set_signals(t);
    t->screen = open_screen(t, e);
    if (!t->screen) {
        free_parts(t);
        return NULL;
    }
    arm_restore(t);
    t->stderr_held = stderr_hold();
    set_termios(t);
    noecho();
    nonl();
    if (!set_keys(t)) {
        err_set(e, "out of memory");
        term_close(t);
        return NULL;
    }
    curs_set(0);
    set_colors(t, options->color);
    t->fixed_cols = options->cols;
    t->fixed_rows = options->rows;
    term_resize(t);
    return t;
}

/* ---- output ---- */

/* Takes what curses has written so far into the bytes that wait. */
static void collect(struct term *t)
{
    off_t size = lseek(t->memory, 0, SEEK_END);
    if (size <= 0)
        return;
    if (t->pending_at == t->pending_len)
        t->pending_at = t->pending_len = 0;
    size_t need = t->pending_len + (size_t)size;
    if (need > t->pending_cap) {
        char *more = realloc(t->pending, need * 2);
        if (!more)
            return;
        t->pending = more;
        t->pending_cap = need * 2;
    }
    ssize_t n = pread(t->memory, t->pending + t->pending_len, (size_t)size, 0);
    if (n > 0)
        t->pending_len += (size_t)n;
    if (ftruncate(t->memory, 0) != 0 || lseek(t->memory, 0, SEEK_SET) != 0)
        t->gone = true;
}

bool term_pending(const struct term *t)
{
    return t->pending_at < t->pending_len;
}

bool term_flush(struct term *t)
{
    while (!t->gone && t->pending_at < t->pending_len) {
        ssize_t n = write(t->tty, t->pending + t->pending_at, t->pending_len - t->pending_at);
        if (n > 0) {
            t->pending_at += (size_t)n;
            t->stats.bytes += (uint64_t)n;
        } else if (errno == EAGAIN) {
            break;
        } else if (errno != EINTR) {
            t->gone = true;
        }
    }
    return !t->gone;
}

/* For ways out: waits for the terminal, but not for ever. */
static void flush_at_end(struct term *t)
{
    for (int tries = 0; tries < 20 && term_flush(t) && term_pending(t); tries++) {
        struct pollfd p = {.fd = t->tty, .events = POLLOUT};
        poll(&p, 1, 50);
    }
}

void term_close(struct term *t)
{
    if (!t)
        return;
    if (t->mouse)
        term_mouse(t, false);
    curs_set(1);
    endwin();
    fflush(t->out);
    collect(t);
    flush_at_end(t);
    /* A terminal that does not take bytes must not keep us: NOW, not DRAIN. */
    tcsetattr(t->tty, TCSANOW, &t->saved);
    restore_disarm();
    stderr_release(t->stderr_held);
    free_parts(t);
}

static attr_t attrs_of(struct look look)
{
    attr_t a = A_NORMAL;
    if (look.attr & LOOK_BOLD)
        a |= A_BOLD;
    if (look.attr & LOOK_DIM)
        a |= A_DIM;
    if (look.attr & LOOK_UNDERLINE)
        a |= A_UNDERLINE;
    if (look.attr & LOOK_REVERSE)
        a |= A_REVERSE;
    return a;
}

/* All pairs once per theme: a role has the pair of its number plus one. */
static void set_pairs(struct term *t, const struct theme *theme)
{
    if (t->color == COLOR_MONO || strcmp(t->theme, theme->name) == 0)
        return;
    text_copy(t->theme, sizeof t->theme, theme->name);
    for (int r = 0; r < ROLE_COUNT; r++) {
        struct look look = theme->looks[r][t->color];
        int fg = look.fg, bg = look.bg;
        if (!t->default_colors) {
            fg = fg < 0 ? COLOR_WHITE : fg;
            bg = bg < 0 ? COLOR_BLACK : bg;
        }
        init_pair((short)(r + 1), (short)fg, (short)bg);
    }
    clearok(curscr, TRUE);
}

static void draw_row(struct term *t, const struct grid *g, const struct theme *theme, int y)
{
    int n = 0;
    for (int x = 0; x < g->cols && x < t->cols && n < ROW_CELLS; x++) {
        const struct cell *c = grid_at(g, x, y);
        if (c->width == 0)
            continue;
        wchar_t text[4] = {(wchar_t)c->ch, (wchar_t)c->mark[0], (wchar_t)c->mark[1], 0};
        short pair = t->color == COLOR_MONO ? 0 : (short)(c->role + 1);
        attr_t attrs = attrs_of(theme_look(theme, t->color, c));
        /* The C library may know less of Unicode than we do. */
        bool known = setcchar(&t->row[n], text, attrs, pair, NULL) == OK &&
                     (c->width == 1 || wcwidth((wchar_t)c->ch) == 2);
        for (int i = 0; !known && i < c->width && n + i < ROW_CELLS; i++)
            setcchar(&t->row[n + i], L"?", attrs, pair, NULL);
        n += known ? 1 : c->width;
    }
    mvadd_wchnstr(y, 0, t->row, n);
}

bool term_draw(struct term *t, const struct grid *g, const struct theme *theme)
{
    if (!term_flush(t))
        return false;
    if (term_pending(t)) {
        t->stats.skipped++;
        return true;
    }
    set_pairs(t, theme);
    erase();
    for (int y = 0; y < g->rows && y < t->rows; y++)
        draw_row(t, g, theme, y);
    wnoutrefresh(stdscr);
    doupdate();
    t->stats.frames++;
    collect(t);
    return term_flush(t);
}

void term_redraw(struct term *t)
{
    (void)t;
    clearok(curscr, TRUE);
}

void term_bell(struct term *t)
{
    if (term_pending(t)) /* nor may what waits for a stalled terminal grow without end */
        return;
    beep();
    fflush(t->out);
    collect(t);
    term_flush(t);
}

/* ---- size, suspension ---- */

void term_size(const struct term *t, int *cols, int *rows)
{
    *cols = t->cols;
    *rows = t->rows;
}

bool term_resize(struct term *t)
{
    struct winsize w;
    int cols = t->fixed_cols, rows = t->fixed_rows;
    if (cols <= 0 || rows <= 0) {
        /* A serial line knows no size: then what its description says. */
        bool known = ioctl(t->tty, TIOCGWINSZ, &w) == 0 && w.ws_col > 0 && w.ws_row > 0;
        cols = known ? w.ws_col : t->cols > 0 ? t->cols : COLS > 0 ? COLS : 80;
        rows = known ? w.ws_row : t->rows > 0 ? t->rows : LINES > 0 ? LINES : 24;
    }
    cols = cols > ROW_CELLS ? ROW_CELLS : cols;
    rows = rows > ROW_CELLS ? ROW_CELLS : rows;
    bool changed = cols != t->cols || rows != t->rows;
    t->cols = cols;
    t->rows = rows;
    if (changed) {
        resize_term(rows, cols);
        clearok(curscr, TRUE);
    }
    return changed;
}

void term_suspend(struct term *t)
{
    endwin();
    fflush(t->out);
    collect(t);
    flush_at_end(t);
    tcsetattr(t->tty, TCSANOW, &t->saved);
    kill(getpid(), SIGSTOP);
    /* Here again after SIGCONT. */
    set_termios(t);
    clearok(curscr, TRUE);
    term_resize(t);
}

/* ---- input ---- */

int term_fd(const struct term *t)
{
    return t->tty;
}

int term_signal_fd(const struct term *t)
{
    return t->signals;
}

int term_signal(struct term *t)
{
    struct signalfd_siginfo info;
    if (read(t->signals, &info, sizeof info) != (ssize_t)sizeof info)
        return 0;
    return (int)info.ssi_signo;
}

static int mouse_event(struct term *t)
{
    MEVENT m;
    if (getmouse(&m) != OK)
        return KEY_CODE_NONE;
    t->mouse_x = m.x;
    t->mouse_y = m.y;
    t->wheel = m.bstate & BUTTON4_PRESSED ? -1 : m.bstate & BUTTON5_PRESSED ? 1 : 0;
    return KEY_CODE_MOUSE;
}

int term_key(struct term *t)
{
    static const struct {
        wint_t curses;
        int code;
    } codes[] = {{KEY_UP, KEY_CODE_UP},
                 {KEY_DOWN, KEY_CODE_DOWN},
                 {KEY_LEFT, KEY_CODE_LEFT},
                 {KEY_RIGHT, KEY_CODE_RIGHT},
                 {KEY_PPAGE, KEY_CODE_PAGE_UP},
                 {KEY_NPAGE, KEY_CODE_PAGE_DOWN},
                 {KEY_HOME, KEY_CODE_HOME},
                 {KEY_END, KEY_CODE_END},
                 {KEY_BACKSPACE, KEY_CODE_BACKSPACE},
                 {KEY_BTAB, KEY_CODE_BACK_TAB},
                 {KEY_ENTER, KEY_ENTER_CODE}};
    for (;;) {
        wint_t ch;
        int got = wget_wch(t->keys, &ch);
        if (got == ERR)
            return KEY_CODE_NONE;
        if (got == OK)
            return ch == 127 || ch == 8 ? KEY_CODE_BACKSPACE : (int)ch;
        if (ch == KEY_MOUSE)
            return mouse_event(t);
        for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++)
            if (codes[i].curses == ch)
                return codes[i].code;
    }
}

void term_mouse_at(const struct term *t, int *x, int *y, int *wheel)
{
    *x = t->mouse_x;
    *y = t->mouse_y;
    *wheel = t->wheel;
}

void term_mouse(struct term *t, bool on)
{
    t->mouse = on;
    mousemask(on ? BUTTON1_PRESSED | BUTTON4_PRESSED | BUTTON5_PRESSED : 0, NULL);
    mouseinterval(0); /* sent with the next picture */
}

/* ---- what it is ---- */

bool term_ascii(const struct term *t)
{
    return t->ascii;
}

const char *term_notice(const struct term *t)
{
    return t->notice[0] ? t->notice : NULL;
}

bool term_gone(const struct term *t)
{
    return t->gone;
}

void term_hang_up(struct term *t)
{
    t->gone = true;
}

struct term_stats term_stats(const struct term *t)
{
    return t->stats;
}
