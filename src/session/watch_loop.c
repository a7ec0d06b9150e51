#include "session/watch_loop.h"

#include "base/text.h"
#include "bus/clock.h"
#include "screen/trend.h"
#include "session/watch_inside.h"

#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

static void read_clocks(struct watch *w)
{
    struct stamp now = clock_now();
    w->now_ns = now.mono_ns;
    w->wall_ns = now.wall_ns;
}

/* ---- the picture ---- */

static void draw(struct watch *w)
{
    watch_fill(w);
    w->ui.flash = w->now_ns / watch_half_flash_ns(w) % 2 == 0;
    w->grid.thin = w->theme->thin;
    ui_draw(&w->grid, w->model, &w->ui);
    term_draw(w->term, &w->grid, w->theme);
    w->draw_ns = w->now_ns;
    w->dirty = w->urgent = false;
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
         * looked up again. */
        watch_fill(w);
        if (key == KEY_CODE_MOUSE)
            take_click(w);
        else if (ui_key(&w->ui, w->model, key))
            w->urgent = true;
        watch_obey(w, &w->ui.request);
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
            watch_resize(w);
            break;
        case SIGTSTP:
            term_suspend(w->term);
            read_clocks(w);
            w->last_ns = w->now_ns;
            watch_resize(w);
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
            text_copy(w->ui.notice, sizeof w->ui.notice,
                      "an alarm is active: press Ctrl-C again to quit");
            w->urgent = true;
            break;
        default:
            break;
        }
    }
}

/* ---- the loop ---- */

static void wait_for_something(struct watch *w)
{
    struct pollfd p[3] = {
        {.fd = term_fd(w->term), .events = POLLIN},
        {.fd = term_signal_fd(w->term), .events = POLLIN},
        {.fd = w->feed.kind->fd(w->feed.ctx), .events = POLLIN},
    };
    if (term_pending(w->term))
        p[0].events |= POLLOUT;
    poll(p, 3, watch_sleep_ms(w));
    w->last_ns = w->now_ns;
    read_clocks(w);
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

static void turn(struct watch *w)
{
    wait_for_something(w);
    if (w->quit)
        return;
    bool waiting = w->model->waiting != NULL;
    bool changed = w->feed.kind->turn(w->feed.ctx, (struct stamp){w->wall_ns, w->now_ns},
                                      w->now_ns - w->last_ns);
    /* Nothing of what was asked for: an empty board would only hide it. */
    w->arrived |=
        !w->feed.kind->failed(w->feed.ctx) && !waiting && !w->feed.kind->settling(w->feed.ctx);
    if (!w->arrived && w->feed.kind->failed(w->feed.ctx)) {
        w->quit = true;
        return;
    }
    if (changed) {
        w->dirty = true;
        watch_fill(w);
        /* The first values are not kept waiting for the next picture. */
        w->urgent |= waiting && !w->model->waiting;
    }
    struct sound_due due = watch_sound_due(w);
    sound_turn(&w->sounder, w->term, &due, w->now_ns);
    watch_follow_sun(w);
    if (watch_wants_picture(w))
        draw(w);
}

void watch_name_source(struct model *m, const struct watch_options *o)
{
    char names[sizeof m->source] = "";
    for (int i = 0; i < o->count; i++) {
        const char *name = strrchr(o->names[i], '/');
        name = name ? name + 1 : o->names[i];
        if (strcmp(name, "-") == 0)
            name = "standard input";
        text_append(names, sizeof names, "%s%s", i ? " " : "", name);
    }
    text_clean(m->source, sizeof m->source, names, strlen(names));
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
    struct feed_options f = {.names = o->names,
                             .count = o->count,
                             .zone = o->zone,
                             .range = o->range,
                             .speed = o->speed,
                             .attach = o->attach,
                             .settings = w->settings,
                             .duties = &o->duties,
                             .season = o->season};
    if (strcmp(w->settings->screen.sound, "run") == 0)
        horn_init(&w->sounder.horn); /* before the feed begins a thread */
    if (!feed_open_any(&w->feed, &f, e))
        return false;
    w->term = term_open(&t, e);
    if (!w->term) {
        w->status = WATCH_NO_SCREEN;
        return false;
    }
    ui_init(&w->ui);
    if (!keys_load(&w->ui.keys, &w->settings->keys, e))
        return false;
    for (int i = 0; i < trend_span_count; i++)
        if (trend_spans_ns[i] <= w->settings->screen.trend_span_ns)
            w->ui.trend.span = i;
    if (w->settings->screen.mouse)
        term_mouse(w->term, w->mouse = true);
    watch_name_source(w->model, o);
    w->model->precision = w->settings->precision;
    if (term_notice(w->term))
        text_copy(w->ui.notice, sizeof w->ui.notice, term_notice(w->term));
    if (!grid_init(&w->grid, 80, 24, term_ascii(w->term)))
        return err_set(e, "out of memory");
    w->grid.blocks = strcmp(glyphs, "blocks") == 0;
    watch_recall(w);
    watch_resize(w);
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
    text_copy(w->theme_from, sizeof w->theme_from, settings->screen.theme);
    w->status = EXIT_DONE;
    w->sounder.setting = &settings->screen;
    w->units_configured = settings->units;
    w->theme_chosen = options->theme != NULL;
    double fps = options->fps > 0           ? options->fps
                 : settings->screen.fps > 0 ? settings->screen.fps
                                            : 2;
    w->frame_ns = (int64_t)(1e9 / fps);
    bool up = begin(w, &e);
    if (up) {
        read_clocks(w);
        w->last_ns = w->begin_ns = w->now_ns;
        draw(w); /* before anything is read */
        while (!w->quit)
            turn(w);
    }
    if (up)
        watch_remember(w);
    const char *failed = up ? w->feed.kind->failed(w->feed.ctx) : e.text;
    bool keep = w->status == 128 + SIGHUP && options->keep_watch && options->is_live && !failed;
    if (keep)
        signal(SIGHUP, SIG_IGN); /* the terminal may hang up more than once */
    term_close(w->term);
    horn_fini(&w->sounder.horn);
    if (failed) {
        fprintf(stderr, "stokehold watch: %s\n", failed);
        if (w->status != WATCH_NO_SCREEN)
            w->status = EXIT_SOURCE;
    }
    if (keep) {
        *options->kept = w->feed;
        w->status = WATCH_KEPT;
    } else {
        feed_close(&w->feed);
    }
    grid_fini(&w->grid);
    model_free(w->model);
    int status = w->status;
    free(w);
    return status;
}
