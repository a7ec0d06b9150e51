#include "verbs/watch_loop.h"

#include "base/text.h"
#include "screen/model.h"
#include "screen/term.h"
#include "screen/trend.h"
#include "screen/view.h"
#include "verbs/replay.h"

#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

#define FRAMES_A_TURN 20000
#define USER_MARKS    64

struct watch {
    const struct watch_options *options;
    struct settings *settings;
    struct theme *theme;
    struct term *term;
    struct replay replay;
    struct scan scan;
    struct model *model;
    struct grid grid;
    struct ui ui;
    int64_t now_ns, last_ns; /* of the real monotonic clock, this turn and the one before */
    int64_t draw_ns;         /* when the last picture was drawn */
    int64_t bell_ns;         /* when the bell last rang */
    bool warned;             /* the short sound of the standing warnings was given */
    int64_t well_since_wall_ns;
    struct model_mark marks[MODEL_MARKS + USER_MARKS]; /* the scan's and the user's, in order */
    size_t mark_count;
    struct model_mark user_marks[USER_MARKS];
    size_t user_mark_count;
    int64_t begin_ns, memory_ns; /* when it began; when memory was read last */
    int64_t memory_kib;
    bool mouse, muted;
    bool dirty, urgent, quit;
    bool interrupted; /* one Ctrl-C came */
    int status;
};

static int64_t clock_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec * NS_PER_S + t.tv_nsec;
}

/* Resident memory of this process, in KiB; 0 where it cannot be told. */
static int64_t resident_kib(void)
{
    long long pages = 0;
    FILE *f = fopen("/proc/self/statm", "re");
    if (!f)
        return 0;
    if (fscanf(f, "%*s %lld", &pages) != 1)
        pages = 0;
    fclose(f);
    return pages * (sysconf(_SC_PAGESIZE) / 1024);
}

/* ---- marks ---- */

static int by_time(const void *a, const void *b)
{
    const struct model_mark *p = a, *q = b;
    return p->wall_ns < q->wall_ns ? -1 : p->wall_ns > q->wall_ns;
}

static void gather_marks(struct watch *w)
{
    w->mark_count = 0;
    for (size_t i = 0; w->scan.done && i < w->scan.count; i++)
        w->marks[w->mark_count++] = w->scan.marks[i];
    for (size_t i = 0; i < w->user_mark_count; i++)
        w->marks[w->mark_count++] = w->user_marks[i];
    qsort(w->marks, w->mark_count, sizeof w->marks[0], by_time);
}

static void set_mark(struct watch *w)
{
    if (w->user_mark_count == USER_MARKS) {
        text_copy(w->ui.notice, sizeof w->ui.notice, "no room for more marks");
        return;
    }
    w->user_marks[w->user_mark_count++] = (struct model_mark){w->replay.now.wall_ns, -1};
    gather_marks(w);
    text_copy(w->ui.notice, sizeof w->ui.notice, "a mark is set here");
}

/* ---- the picture ---- */

static void fill_self(struct watch *w)
{
    struct model *m = w->model;
    struct term_stats t = term_stats(w->term);
    if (w->memory_ns == 0 || w->now_ns - w->memory_ns > NS_PER_S) {
        w->memory_ns = w->now_ns;
        w->memory_kib = resident_kib();
    }
    m->self = (struct model_self){.memory_kib = w->memory_kib,
                                  .pictures = t.frames,
                                  .skipped = t.skipped,
                                  .bytes = t.bytes,
                                  .up_ns = w->now_ns - w->begin_ns,
                                  .sound = !w->muted,
                                  .mouse = w->mouse};
    m->iface_count = source_iface_count(w->replay.source);
    for (int i = 0; i < m->iface_count && i < SOURCE_IFACES; i++)
        text_copy(m->iface_names[i], sizeof m->iface_names[i],
                  source_iface_name(w->replay.source, (uint8_t)i));
}

static void fill_model(struct watch *w)
{
    struct model *m = w->model;
    struct replay *r = &w->replay;
    model_fill(m, keeper_plant(r->keeper), keeper_alerts(r->keeper), r->now);
    const struct source_stats *stats = source_stats(r->source);
    m->units = w->settings->units;
    m->clock_known = stats->clock_known;
    m->waiting = r->started ? NULL : r->ended ? "frames: the log holds none" : m->source;
    m->replay.is_log = true;
    m->replay.can_seek = r->can_rewind;
    m->replay.paused = r->paused;
    m->replay.ended = r->ended;
    m->replay.speed = r->speed;
    m->replay.first_ns = w->scan.first_ns;
    m->replay.last_ns = w->scan.done ? w->scan.last_ns : 0;
    m->replay.marks = w->marks;
    m->replay.mark_count = w->mark_count;
    m->bus = (struct model_bus){.load_percent = -1,
                                .frames_per_s = -1,
                                .frames = stats->frames,
                                .lost = stats->lost_frames,
                                .bad_lines = stats->bad_lines,
                                .errors = stats->error_frames};
    meter_read(&r->meter, r->now.mono_ns, &m->bus.frames_per_s, &m->bus.load_percent);
    if (m->alert_count)
        w->well_since_wall_ns = 0;
    else if (!w->well_since_wall_ns && r->started)
        w->well_since_wall_ns = r->now.wall_ns;
    m->well_since_wall_ns = w->well_since_wall_ns;
    fill_self(w);
}

static void draw(struct watch *w)
{
    fill_model(w);
    int64_t cycle = w->settings->alerts.flash_ns > 0 ? w->settings->alerts.flash_ns : NS_PER_S;
    w->ui.flash = w->now_ns % cycle < cycle / 2;
    ui_draw(&w->grid, w->model, &w->ui);
    term_draw(w->term, &w->grid, w->theme);
    w->draw_ns = w->now_ns;
    w->dirty = w->urgent = false;
}

static void resize(struct watch *w)
{
    term_resize(w->term);
    term_size(w->term, &w->ui.cols, &w->ui.rows);
    grid_resize(&w->grid, w->ui.cols, w->ui.rows);
    w->urgent = true;
}

/* ---- what keys ask for ---- */

static void change_speed(struct replay *r, int64_t amount)
{
    if (amount == 0)
        r->speed = 0;
    else if (amount > 0)
        r->speed = r->speed <= 0 || r->speed >= 64 ? 0 : r->speed * 2;
    else
        r->speed = r->speed <= 0 ? 64 : r->speed <= 1 ? 1 : r->speed / 2;
    r->owed_ns = 0;
}

static void seek(struct watch *w, int64_t wall_ns)
{
    const struct scan *s = &w->scan;
    if (s->any && wall_ns < s->first_ns)
        wall_ns = s->first_ns;
    if (!replay_seek(&w->replay, wall_ns))
        text_copy(w->ui.notice, sizeof w->ui.notice, "this log cannot be moved back in");
    /* Moving back makes all alerts anew; the snapshot must not point at the old ones. */
    fill_model(w);
}

/* The first mark after now (ahead), or the last one before: a second of grace, so that one can go
 * back past the one just reached. */
static void seek_alert(struct watch *w, bool ahead)
{
    const struct scan *s = &w->scan;
    int64_t now = w->replay.now.wall_ns, best = 0;
    bool found = false;
    for (size_t i = 0; s->done && i < s->count; i++) {
        int64_t at = s->marks[i].wall_ns;
        if (ahead ? at > now + NS_PER_S : at < now - 3 * NS_PER_S) {
            if (ahead && found)
                break;
            best = at;
            found = true;
        }
    }
    if (found)
        seek(w, best + NS_PER_S / 4);
    else
        text_copy(w->ui.notice, sizeof w->ui.notice,
                  !s->done ? "the log is still being read"
                  : ahead  ? "no alert after this"
                           : "no alert before this");
}

static void next_theme(struct watch *w)
{
    size_t n = theme_builtin_count(), at = n - 1;
    for (size_t i = 0; i < n; i++)
        if (strcmp(theme_builtin_name(i), w->theme->name) == 0)
            at = i;
    theme_builtin(w->theme, theme_builtin_name(at + 1 < n ? at + 1 : 0));
    text_format(w->ui.notice, sizeof w->ui.notice, "theme: %s", w->theme->name);
}

static void next_units(struct watch *w)
{
    static const struct {
        const char *name;
        struct unit_choice units;
    } sets[] = {
        {"metric", {UNIT_C, UNIT_KPA, UNIT_L, UNIT_LPH, UNIT_KN}},
        {"metric, bar", {UNIT_C, UNIT_BAR, UNIT_L, UNIT_LPH, UNIT_KN}},
        {"US", {UNIT_F, UNIT_PSI, UNIT_GAL_US, UNIT_GPH_US, UNIT_KN}},
        {"imperial", {UNIT_C, UNIT_PSI, UNIT_GAL_IMP, UNIT_GPH_IMP, UNIT_KN}},
    };
    const size_t n = sizeof sets / sizeof sets[0];
    size_t at = n - 1;
    for (size_t i = 0; i < n; i++)
        if (memcmp(&sets[i].units, &w->settings->units, sizeof sets[i].units) == 0)
            at = i;
    at = (at + 1) % n;
    w->settings->units = sets[at].units;
    text_format(w->ui.notice, sizeof w->ui.notice, "units: %s", sets[at].name);
}

/* Blocks, braille, ASCII; where the terminal has but ASCII there is nothing to choose. */
static void next_glyphs(struct watch *w)
{
    const char *name;
    if (term_ascii(w->term)) {
        name = "this terminal has ASCII only";
    } else if (w->grid.ascii) {
        w->grid.ascii = w->ui.braille = false;
        name = "drawing with blocks";
    } else if (!w->ui.braille) {
        w->ui.braille = true;
        name = "trends in braille";
    } else {
        w->ui.braille = false;
        w->grid.ascii = true;
        name = "drawing with ASCII";
    }
    text_copy(w->ui.notice, sizeof w->ui.notice, name);
}

/* The user's mark after this moment, or the first one. */
static void next_mark(struct watch *w)
{
    const struct model_mark *first = NULL, *next = NULL;
    for (size_t i = 0; i < w->mark_count; i++) {
        const struct model_mark *k = &w->marks[i];
        if (k->priority >= 0)
            continue;
        first = first ? first : k;
        next = !next && k->wall_ns > w->replay.now.wall_ns + NS_PER_S ? k : next;
    }
    if (next || first)
        seek(w, (next ? next : first)->wall_ns);
}

static void step(struct replay *r)
{
    if (r->ended || !r->started)
        return;
    r->paused = true;
    r->seeking = true;
    r->seek_wall_ns = r->now.wall_ns + NS_PER_S;
}

static void obey(struct watch *w, const struct request *q)
{
    struct replay *r = &w->replay;
    switch (q->kind) {
    case REQUEST_ACKNOWLEDGE:
        replay_acknowledge(r, q->id);
        break;
    case REQUEST_SILENCE:
        replay_silence(r);
        break;
    case REQUEST_PAUSE:
        r->paused = !r->paused && !r->ended;
        r->owed_ns = 0;
        break;
    case REQUEST_STEP:
        step(r);
        break;
    case REQUEST_SPEED:
        change_speed(r, q->amount);
        break;
    case REQUEST_MOVE:
        seek(w, r->now.wall_ns + q->amount);
        break;
    case REQUEST_GO_TO:
        seek(w, q->moment.relative ? r->first_wall_ns + q->moment.ns : q->moment.ns);
        break;
    case REQUEST_NEXT_ALERT:
    case REQUEST_PREVIOUS_ALERT:
        seek_alert(w, q->kind == REQUEST_NEXT_ALERT);
        break;
    case REQUEST_MARK:
        set_mark(w);
        break;
    case REQUEST_NEXT_MARK:
        next_mark(w);
        break;
    case REQUEST_GLYPHS:
        next_glyphs(w);
        break;
    case REQUEST_SOUND:
        w->muted = !w->muted;
        text_copy(w->ui.notice, sizeof w->ui.notice, w->muted ? "sound off" : "sound on");
        break;
    case REQUEST_MOUSE:
        w->mouse = !w->mouse;
        term_mouse(w->term, w->mouse);
        text_copy(w->ui.notice, sizeof w->ui.notice,
                  w->mouse ? "the mouse chooses rows" : "the mouse selects text");
        break;
    case REQUEST_UNITS:
        next_units(w);
        break;
    case REQUEST_THEME:
        next_theme(w);
        break;
    case REQUEST_REDRAW:
        term_redraw(w->term);
        resize(w);
        break;
    case REQUEST_QUIT:
        w->quit = true;
        break;
    default:
        break;
    }
}

static void take_click(struct watch *w)
{
    int x, y, wheel;
    term_mouse_at(w->term, &x, &y, &wheel);
    w->ui.request = (struct request){0};
    if (wheel)
        ui_key(&w->ui, w->model, wheel < 0 ? KEY_CODE_UP : KEY_CODE_DOWN);
    else
        ui_click(&w->ui, w->model, x, y);
    w->urgent = true;
}

static void take_keys(struct watch *w)
{
    int key, n = 0;
    while ((key = term_key(w->term)) != KEY_CODE_NONE && !w->quit) {
        n++;
        w->interrupted = false;
        /* The key speaks of what is on the screen: the model of the last picture, its alerts
         * looked up anew. */
        fill_model(w);
        if (key == KEY_CODE_MOUSE)
            take_click(w);
        else if (ui_key(&w->ui, w->model, key))
            w->urgent = true;
        obey(w, &w->ui.request);
    }
    if (n == 0) {
        /* Readable, and yet nothing to read: hung up. */
        struct pollfd p = {.fd = term_fd(w->term), .events = POLLIN};
        if (poll(&p, 1, 0) > 0 && (p.revents & (POLLHUP | POLLERR)))
            term_hang_up(w->term);
    }
}

static void take_signals(struct watch *w)
{
    int number;
    while ((number = term_signal(w->term)) != 0) {
        switch (number) {
        case SIGWINCH:
        case SIGCONT:
            resize(w);
            break;
        case SIGTSTP:
            term_suspend(w->term);
            w->last_ns = w->now_ns = clock_ns();
            resize(w);
            break;
        case SIGHUP:
            w->quit = true;
            w->status = 128 + SIGHUP;
            break;
        case SIGTERM:
            w->quit = true;
            w->status = 128 + SIGTERM;
            break;
        case SIGINT:
            if (w->interrupted || !model_alarm_stands(w->model)) {
                w->quit = true;
                w->status = 128 + SIGINT;
            }
            w->interrupted = true;
            text_copy(w->ui.notice, sizeof w->ui.notice, "an alarm stands: Ctrl-C once more ends");
            w->urgent = true;
            break;
        default:
            break;
        }
    }
}

/* ---- sound ---- */

/* The bell of the terminal: again and again for an alarm, once for a warning. */
static void sound(struct watch *w)
{
    if (w->muted || strcmp(w->settings->screen.sound, "bell") != 0)
        return;
    enum alert_sound s = alerts_sound(keeper_alerts(w->replay.keeper), w->replay.now);
    if (s == SOUND_ALARM && w->now_ns - w->bell_ns >= 2 * NS_PER_S && !w->replay.seeking) {
        w->bell_ns = w->now_ns;
        term_bell(w->term);
    } else if (s == SOUND_WARNING && !w->warned && !w->replay.seeking) {
        term_bell(w->term);
    }
    w->warned = s == SOUND_WARNING;
}

/* ---- the loop ---- */

static bool flashes(const struct model *m)
{
    for (size_t i = 0; i < m->alert_count; i++)
        if (m->alerts[i]->state != ALERT_ACKNOWLEDGED)
            return true;
    return false;
}

/* How long poll may sleep, in ms; -1 for as long as nothing happens. */
static int timeout_ms(const struct watch *w, int64_t frame_ns)
{
    if (w->urgent || replay_busy(&w->replay) || w->scan.source)
        return 0;
    int64_t wait = replay_wait_ns(&w->replay);
    int64_t next_draw = w->draw_ns + frame_ns - w->now_ns;
    if (next_draw < 0)
        next_draw = 0;
    /* A picture cannot be due before its time; a frame is worth waking for no sooner than that. */
    if (wait >= 0 && wait < next_draw)
        wait = next_draw;
    if (w->dirty && (wait < 0 || next_draw < wait))
        wait = next_draw;
    if (flashes(w->model)) {
        int64_t half =
            (w->settings->alerts.flash_ns > 0 ? w->settings->alerts.flash_ns : NS_PER_S) / 2;
        int64_t turn = half - w->now_ns % half;
        if (wait < 0 || turn < wait)
            wait = turn;
    }
    if (wait < 0)
        return -1;
    return (int)((wait + NS_PER_MS - 1) / NS_PER_MS);
}

static void wait_for_something(struct watch *w, int64_t frame_ns)
{
    struct pollfd p[3] = {
        {.fd = term_fd(w->term), .events = POLLIN},
        {.fd = term_signal_fd(w->term), .events = POLLIN},
        {.fd = w->replay.ended ? -1 : source_fd(w->replay.source), .events = POLLIN},
    };
    bool starved = w->replay.at >= w->replay.count && !w->replay.paused && !w->replay.ended;
    if (!starved)
        p[2].fd = -1;
    if (term_pending(w->term))
        p[0].events |= POLLOUT;
    poll(p, 3, timeout_ms(w, frame_ns));
    w->last_ns = w->now_ns;
    w->now_ns = clock_ns();
    if (p[1].revents)
        take_signals(w);
    if (p[0].revents & (POLLHUP | POLLERR))
        term_hang_up(w->term);
    if (p[0].revents & POLLOUT)
        term_flush(w->term);
    if (p[0].revents & POLLIN)
        take_keys(w);
    if (term_gone(w->term)) {
        w->quit = true;
        w->status = 128 + SIGHUP;
    }
}

static void turn(struct watch *w, int64_t frame_ns)
{
    wait_for_something(w, frame_ns);
    if (w->quit)
        return;
    if (replay_advance(&w->replay, w->now_ns - w->last_ns, FRAMES_A_TURN)) {
        w->dirty = true;
        /* The first values are not kept waiting for the next picture. */
        if (w->model->waiting && w->replay.started)
            w->urgent = true;
    }
    if (w->scan.source && !scan_step(&w->scan, FRAMES_A_TURN)) {
        gather_marks(w);
        w->dirty = true;
    }
    sound(w);
    bool due = w->now_ns - w->draw_ns >= frame_ns;
    int64_t half = w->settings->alerts.flash_ns / 2 > 0 ? w->settings->alerts.flash_ns / 2 : 1;
    bool turned = w->now_ns / half != w->draw_ns / half && flashes(w->model);
    /* What a key asked for is seen at once; a move in the log when it has arrived. */
    if ((w->urgent && !w->replay.seeking) || turned || (due && (w->dirty || w->urgent)))
        draw(w);
}

static bool begin(struct watch *w, struct err *e)
{
    const struct watch_options *o = w->options;
    const char *glyphs = w->settings->screen.glyphs;
    struct term_options t = {.color = o->color,
                             .glyphs = o->ascii || strcmp(glyphs, "ascii") == 0 ? TERM_GLYPHS_ASCII
                                       : strcmp(glyphs, "auto") == 0            ? TERM_GLYPHS_AUTO
                                                                                : TERM_GLYPHS_ON,
                             .cols = o->cols,
                             .rows = o->rows};
    w->model = model_new();
    if (!w->model)
        return err_set(e, "out of memory");
    if (!replay_open(&w->replay, o->path, o->zone, w->settings, &o->range, e))
        return false;
    w->replay.speed = o->speed;
    w->term = term_open(&t, e);
    if (!w->term) {
        w->status = WATCH_NO_SCREEN;
        return false;
    }
    ui_init(&w->ui);
    w->ui.braille = strcmp(glyphs, "braille") == 0;
    for (int i = 0; i < trend_span_count; i++)
        if (trend_spans_ns[i] <= w->settings->screen.trend_span_ns)
            w->ui.trend.span = i;
    if (w->settings->screen.mouse)
        term_mouse(w->term, w->mouse = true);
    const char *name = strrchr(o->path, '/');
    name = name ? name + 1 : o->path;
    if (strcmp(o->path, "-") == 0)
        name = "standard input";
    text_clean(w->model->source, sizeof w->model->source, name, strlen(name));
    if (term_notice(w->term))
        text_copy(w->ui.notice, sizeof w->ui.notice, term_notice(w->term));
    if (!grid_init(&w->grid, 80, 24, term_ascii(w->term)))
        return err_set(e, "out of memory");
    resize(w);
    return true;
}

int watch_loop(const struct watch_options *options, struct settings *settings, struct theme *theme)
{
    struct err e;
    struct watch *w = calloc(1, sizeof *w);
    if (!w) {
        fprintf(stderr, "stokehold watch: out of memory\n");
        return EXIT_SOURCE;
    }
    w->options = options;
    w->settings = settings;
    w->theme = theme;
    w->status = EXIT_DONE;
    double fps = options->fps > 0           ? options->fps
                 : settings->screen.fps > 0 ? settings->screen.fps
                                            : 2;
    int64_t frame_ns = (int64_t)(1e9 / fps);
    bool up = begin(w, &e);
    if (up) {
        w->now_ns = w->last_ns = w->begin_ns = clock_ns();
        draw(w); /* before anything is read */
        if (w->replay.can_rewind)
            scan_open(&w->scan, options->path, options->zone, settings);
        while (!w->quit)
            turn(w, frame_ns);
    }
    bool failed = w->replay.failed;
    if (failed)
        e = w->replay.error;
    scan_close(&w->scan);
    term_close(w->term);
    if (!up || failed) {
        fprintf(stderr, "stokehold watch: %s\n", e.text);
        if (w->status != WATCH_NO_SCREEN)
            w->status = EXIT_SOURCE;
    }
    replay_close(&w->replay);
    grid_fini(&w->grid);
    model_free(w->model);
    int status = w->status;
    free(w);
    return status;
}
