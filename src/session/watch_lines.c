#include "session/watch_lines.h"

#include "base/text.h"
#include "bus/clock.h"
#include "screen/bars.h"
#include "screen/glyphs.h"
#include "screen/model.h"
#include "screen/rows.h"
#include "screen/view.h"
#include "session/feed.h"

#include <langinfo.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "base/banned.h"

#define LIVE_ONCE_NS (3 * NS_PER_S) /* a slow box sends every two and a half seconds */
#define TOLD_MAX     (2 * ALERTS_MAX)

struct told { /* what was said of an alert, where only snapshots come */
    uint32_t id;
    enum priority priority;
    enum alert_state state;
    enum alert_stage stage;
    bool active;
};

struct lines {
    const struct watch_options *options;
    struct settings *settings;
    struct feed feed;
    struct model *model;
    struct stamp clock, before;
    struct told told[TOLD_MAX];
    int told_count;
    bool ascii, input_ended, quit;
    int signal_fd;
    int signal_number; /* the one that ends it; 0: none has come */
    bool settled;      /* at the time that was asked for, or on from there */
};

static void read_clocks(struct lines *l)
{
    l->before = l->clock;
    l->clock = clock_now();
}

static void fill(struct lines *l)
{
    /* A feed that began has a kind. NOLINTNEXTLINE(clang-analyzer-core.NullDereference) */
    l->feed.kind->fill(l->feed.ctx, l->model);
    l->model->units = l->settings->units;
}

static bool open_lines(struct lines *l, const struct watch_options *o, struct settings *settings,
                       double speed, struct err *e)
{
    struct feed_options f = {.names = o->names,
                             .count = o->count,
                             .zone = o->zone,
                             .range = o->range,
                             .speed = speed,
                             .attach = o->attach,
                             .settings = settings,
                             .season = o->season,
                             .duties = o->once ? NULL : &o->duties};
    l->options = o;
    l->settings = settings;
    l->ascii = o->ascii || strcmp(nl_langinfo(CODESET), "UTF-8") != 0;
    l->model = model_new();
    if (!l->model)
        return err_set(e, "out of memory");
    watch_name_source(l->model, o);
    read_clocks(l);
    l->before = l->clock;
    return feed_open_any(&l->feed, &f, e);
}

static int close_lines(struct lines *l, const char *failed)
{
    if (failed)
        fprintf(stderr, "stokehold watch: %s\n", failed);
    int status = failed ? EXIT_SOURCE : EXIT_DONE;
    feed_close(&l->feed);
    model_free(l->model);
    return status;
}

static int no_memory(void)
{
    fputs("stokehold watch: out of memory\n", stderr);
    return EXIT_SOURCE;
}

/* ---- once ---- */

static void size_of_output(const struct watch_options *o, int *cols, int *rows)
{
    struct winsize w;
    *cols = o->cols;
    *rows = o->rows;
    if (*cols > 0 && *rows > 0)
        return;
    *cols = 80;
    *rows = 24;
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &w) == 0 && w.ws_col > 0 && w.ws_row > 1) {
        *cols = w.ws_col;
        *rows = w.ws_row - 1; /* the shell's prompt has a line too */
    }
}

static bool print_board(struct lines *l)
{
    struct grid g;
    struct ui ui;
    char text[8192];
    int cols, rows;
    size_of_output(l->options, &cols, &rows);
    ui_init(&ui);
    ui.cols = cols;
    /* A picture that nobody can press a key at has no footer: drawn one line lower and left out. */
    ui.rows = rows + 1;
    if (!grid_init(&g, cols, rows + 1, l->ascii))
        return false;
    if (!l->model->replay.is_log)
        l->model->gathering = false; /* LIVE_ONCE_NS was for that */
    model_settle(l->model, true);    /* one picture has no other before it */
    ui_draw(&g, l->model, &ui);
    for (int y = 0; y < rows; y++) {
        grid_row_text(&g, y, text, sizeof text);
        puts(text);
    }
    grid_fini(&g);
    return true;
}

int watch_once(const struct watch_options *options, struct settings *settings)
{
    struct err e;
    struct lines *l = calloc(1, sizeof *l);
    if (!l)
        return no_memory();
    const char *failed = NULL;
    if (!open_lines(l, options, settings, 0, &e)) {
        failed = e.text;
    } else {
        int64_t end = l->clock.mono_ns + LIVE_ONCE_NS;
        for (;;) {
            read_clocks(l);
            /* A feed that began has a kind. NOLINTNEXTLINE(clang-analyzer-core.NullDereference) */
            l->feed.kind->turn(l->feed.ctx, l->clock, l->clock.mono_ns - l->before.mono_ns);
            fill(l);
            failed = l->feed.kind->failed(l->feed.ctx);
            bool over = l->model->replay.is_log ? l->model->replay.ended : l->clock.mono_ns >= end;
            int64_t wait = l->feed.kind->wait_ns(l->feed.ctx);
            if (over && wait != 0)
                break;
            struct pollfd p = {.fd = l->feed.kind->fd(l->feed.ctx), .events = POLLIN};
            if (wait != 0)
                poll(&p, 1, wait > 0 && wait < 250 * NS_PER_MS ? (int)(wait / NS_PER_MS) : 250);
        }
        if (!failed && !print_board(l))
            failed = "out of memory";
    }
    int status = close_lines(l, failed);
    free(l);
    return status;
}

/* ---- line by line ---- */

/* Says a line in the terminal's characters. */
static void say(const struct lines *l, const char *text)
{
    char out[400];
    size_t n = 0;
    while (*text && n + 5 < sizeof out) {
        uint32_t ch = utf8_next(&text);
        if (char_width(ch) < 0)
            ch = '?';
        if (l->ascii && (ch = glyph_ascii(ch)) == 0)
            continue;
        n += (size_t)utf8_put(out + n, ch);
    }
    out[n] = '\0';
    puts(out);
    fflush(stdout);
}

static void clock_text(const struct lines *l, int64_t wall_ns, char *dst, size_t cap)
{
    const struct model *m = l->model;
    if (m->clock_known)
        when_clock(dst, cap, wall_ns, false);
    else
        when_elapsed(dst, cap, wall_ns - m->replay.first_ns);
}

static void say_alert(const struct lines *l, const struct alert *a, int64_t wall_ns,
                      const char *what)
{
    char line[ALERT_TEXT_SIZE + 80], clock[24];
    clock_text(l, wall_ns, clock, sizeof clock);
    text_format(line, sizeof line, "%s %s, %s: %s", clock, priority_text(a->priority), what,
                a->text);
    say(l, line);
}

static const char *stage_words(enum alert_stage s)
{
    return s == STAGE_BEYOND    ? "beyond its limit"
           : s == STAGE_STOPPED ? "engine stopped"
                                : stage_text(s);
}

static const char *change_text(enum alert_event_kind e, const struct alert *a)
{
    switch (e) {
    case EVENT_RAISED:
        return "raised";
    case EVENT_ESCALATED:
        return "grown worse";
    case EVENT_RECTIFIED:
        return a->state == ALERT_RECTIFIED ? "over, not acknowledged" : "over";
    case EVENT_ACKNOWLEDGED:
        return "acknowledged";
    case EVENT_CHANGED: /* what to do is another thing now */
        return stage_words(a->stage);
    default:
        return NULL;
    }
}

/* Said when it happens, at the time and in the words of then. */
static void on_event(void *ctx, const struct alert_event *ev)
{
    struct lines *l = ctx;
    const char *what = change_text(ev->event, ev->alert);
    if (!what || l->feed.kind->settling(l->feed.ctx))
        return;
    if (!l->model->clock_known && l->model->replay.first_ns == 0)
        fill(l);
    say_alert(l, ev->alert, ev->at.wall_ns, what);
}

/* What stands where the part asked for begins. */
static void say_standing(const struct lines *l)
{
    const struct model *m = l->model;
    for (size_t i = 0; i < m->alert_count; i++)
        say_alert(l, m->alerts[i], m->now.wall_ns, alert_state_text(m->alerts[i]->state));
}

static struct told *told_of(struct lines *l, uint32_t id)
{
    for (int i = 0; i < l->told_count; i++)
        if (l->told[i].id == id)
            return &l->told[i];
    return NULL;
}

/* Of a feed that brings snapshots: what has changed from the one before to this one. */
static void say_changes(struct lines *l)
{
    const struct model *m = l->model;
    int64_t now_ns = m->now.wall_ns;
    struct told next[TOLD_MAX];
    int n = 0;
    for (size_t i = 0; i < m->alert_count && n < TOLD_MAX; i++) {
        const struct alert *a = m->alerts[i];
        const struct told *t = told_of(l, a->id);
        if (!t)
            say_alert(l, a, now_ns, "raised");
        else if (a->priority > t->priority)
            say_alert(l, a, now_ns, "grown worse");
        else if (t->active && !a->active)
            say_alert(l, a, now_ns, "over, not acknowledged");
        else if (t->state != ALERT_ACKNOWLEDGED && a->state == ALERT_ACKNOWLEDGED)
            say_alert(l, a, now_ns, "acknowledged");
        else if (a->stage != t->stage)
            say_alert(l, a, now_ns, stage_words(a->stage));
        next[n++] = (struct told){a->id, a->priority, a->state, a->stage, a->active};
    }
    for (int k = 0; k < l->told_count; k++) {
        bool listed = false;
        for (int i = 0; i < n; i++)
            listed |= next[i].id == l->told[k].id;
        for (size_t i = 0; i < m->ended_count && !listed; i++)
            if (m->ended[i]->id == l->told[k].id) {
                say_alert(l, m->ended[i], now_ns, "ended");
                break;
            }
    }
    memcpy(l->told, next, (size_t)n * sizeof next[0]);
    l->told_count = n;
}

static void say_readings(const struct lines *l)
{
    static const char *const moves[] = {", falling fast", ", falling", "", ", rising",
                                        ", rising fast"};
    const struct model *m = l->model;
    struct board_rows rows;
    char line[300], label[64], value[32], clock[24];
    rows_fill(&rows, m, "");
    clock_text(l, m->now.wall_ns, clock, sizeof clock);
    say(l, clock);
    for (int i = 0; i < rows.twin_count + rows.plain_count; i++) {
        const struct board_row *row =
            i < rows.twin_count ? &rows.twins[i] : &rows.plains[i - rows.twin_count];
        for (int s = 0; s < ROW_CELLS; s++) {
            const struct model_channel *c = row->side[s];
            if (!c)
                continue;
            text_format(line, sizeof line, "%s %s %s%s%s%s",
                        rows_plain_label(m, c, label, sizeof label),
                        model_reading_text(m, c, value, sizeof value),
                        unit_text(model_unit(&m->units, c->unit)), moves[model_rate_step(c) + 2],
                        c->off                       ? ", off"
                        : c->status == READING_STALE ? ", stale"
                                                     : "",
                        c->alert >= 0 ? ", alert" : "");
            say(l, line);
        }
    }
    say_standing(l);
    if (m->alert_count == 0)
        say(l, bars_calm(m, line, sizeof line));
}

static void take_line(struct lines *l, char letter)
{
    struct request q = {0};
    char notice[96] = "";
    if (letter == 'q') {
        l->quit = true;
        return;
    }
    if (letter == 's')
        q.kind = REQUEST_SILENCE;
    for (size_t i = 0; letter == 'a' && i < l->model->alert_count && !q.kind; i++)
        if (l->model->alerts[i]->state != ALERT_ACKNOWLEDGED)
            q = (struct request){.kind = REQUEST_ACKNOWLEDGE, .id = l->model->alerts[i]->id};
    if (q.kind)
        l->feed.kind->request(l->feed.ctx, &q, notice, sizeof notice);
    else
        say_readings(l);
    if (notice[0])
        say(l, notice);
}

static void take_input(struct lines *l)
{
    char text[256];
    ssize_t n = read(STDIN_FILENO, text, sizeof text);
    if (n <= 0)
        l->input_ended = true;
    char first = '\n';
    for (ssize_t i = 0; i < n && !l->quit; i++) {
        if (text[i] == '\n') {
            take_line(l, first);
            first = '\n';
        } else if (first == '\n') {
            first = text[i];
        }
    }
}

/* Before any thread is begun: a signal ends the watch with all that is held written. */
static int catch_signals(void)
{
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGHUP);
    sigprocmask(SIG_BLOCK, &set, NULL);
    return signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
}

static void take_signal(struct lines *l)
{
    struct signalfd_siginfo info;
    if (read(l->signal_fd, &info, sizeof info) != (ssize_t)sizeof info)
        return;
    l->signal_number = (int)info.ssi_signo;
    l->quit = true;
}

/* After a turn: what is said of the state that was reached. */
static void look(struct lines *l)
{
    bool settling = l->feed.kind->settling(l->feed.ctx);
    fill(l);
    if (!l->feed.kind->listen)
        say_changes(l);
    else if (l->settled != !settling && l->options->range.has_from &&
             !l->feed.kind->failed(l->feed.ctx))
        say_standing(l);
    l->settled = !settling;
}

static void plain_turn(struct lines *l)
{
    int64_t wait = l->feed.kind->wait_ns(l->feed.ctx);
    /* An alert is said within half a second; more often nobody needs to look. */
    int ms = wait == 0 ? 0 : wait > 0 && wait < 500 * NS_PER_MS ? (int)(wait / NS_PER_MS) + 1 : 500;
    bool from_input = strcmp(l->options->names[0], "-") == 0;
    struct pollfd p[3] = {
        {.fd = l->input_ended || from_input ? -1 : STDIN_FILENO, .events = POLLIN},
        {.fd = l->feed.kind->fd(l->feed.ctx), .events = POLLIN},
        {.fd = l->signal_fd, .events = POLLIN},
    };
    poll(p, 3, ms);
    take_signal(l);
    read_clocks(l);
    /* A feed that began has a kind. NOLINTNEXTLINE(clang-analyzer-core.NullDereference) */
    if (l->feed.kind->turn(l->feed.ctx, l->clock, l->clock.mono_ns - l->before.mono_ns))
        look(l);
    if (p[0].revents) {
        fill(l);
        take_input(l);
        look(l);
    }
}

int watch_plain(const struct watch_options *options, struct settings *settings)
{
    struct err e;
    struct lines *l = calloc(1, sizeof *l);
    if (!l)
        return no_memory();
    const char *failed = NULL;
    l->signal_fd = catch_signals();
    if (!open_lines(l, options, settings, options->speed, &e)) {
        failed = e.text;
    } else {
        char line[200];
        text_format(line, sizeof line,
                    "watching %s; Enter lists all readings, a acknowledges, s silences, q quits",
                    l->model->source);
        say(l, line);
        fill(l);
        if (l->feed.kind->listen)
            l->feed.kind->listen(l->feed.ctx, on_event, l);
        while (!l->quit && !failed && !(l->model->replay.is_log && l->model->replay.ended)) {
            plain_turn(l);
            failed = l->feed.kind->failed(l->feed.ctx);
        }
        if (!l->quit && !failed)
            say(l, "the log has ended");
    }
    int status = close_lines(l, failed);
    if (l->signal_fd >= 0)
        close(l->signal_fd);
    if (l->signal_number)
        status = 128 + l->signal_number;
    free(l);
    return status;
}
