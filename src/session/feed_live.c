/* The feed of a live bus: one or several interfaces, the clock of this machine. */
#include "session/feed.h"

#include "base/text.h"
#include "bus/clock.h"
#include "bus/socketcan.h"
#include "session/live.h"
#include "session/marks_set.h"
#include "session/season_keep.h"

#include <stdlib.h>

#include "base/banned.h"

#define TICK_NS (250 * NS_PER_MS) /* what is stale is found without frames too */

struct live_feed {
    struct live *live;
    struct duties *duties;
    struct season_keep *season; /* NULL: none is kept */
    const char *name;           /* of what is watched: a trip's log */
    int64_t turned_ns, now_ns;  /* mono: the last tick; this turn */
    bool heard;
    struct marks_set marks;
};

static bool live_feed_turn(void *ctx, struct stamp clock, int64_t elapsed_ns)
{
    struct live_feed *l = ctx;
    (void)elapsed_ns;
    l->now_ns = clock.mono_ns;
    bool changed = live_turn(l->live, clock, LIVE_FRAMES_A_TURN);
    duties_turn(l->duties, clock);
    if (l->season)
        season_keep_watch(l->season, l->live, l->duties, l->name);
    l->heard |= source_stats(l->live->source)->frames > 0;
    if (clock.mono_ns - l->turned_ns >= TICK_NS) {
        l->turned_ns = clock.mono_ns;
        changed = true; /* ages, rates and the clock have moved on */
    }
    return changed;
}

static int64_t live_feed_wait_ns(void *ctx)
{
    struct live_feed *l = ctx;
    int64_t wait = l->turned_ns + TICK_NS - l->now_ns;
    int ms = duties_wait_ms(l->duties);
    if (ms >= 0 && ms * NS_PER_MS < wait)
        wait = ms * NS_PER_MS;
    return wait > NS_PER_MS ? wait : NS_PER_MS;
}

static int live_feed_fd(void *ctx)
{
    struct live_feed *l = ctx;
    return live_fd(l->live);
}

static bool live_feed_settling(void *ctx)
{
    (void)ctx;
    return false;
}

static void fill_bus(struct live_feed *l, struct model *m)
{
    const struct source_stats *stats = source_stats(l->live->source);
    struct socketcan_iface iface;
    m->bus = (struct model_bus){.load_percent = -1,
                                .frames = stats->frames,
                                .lost = stats->lost_frames,
                                .bad_lines = stats->bad_lines,
                                .errors = stats->error_frames,
                                .losses = keeper_losses(l->live->keeper)};
    m->iface_count = 0;
    /* The busiest interface is the one that matters. */
    for (int i = 0; i < SOURCE_IFACES && socketcan_iface_get(l->live->source, i, &iface); i++) {
        text_copy(m->iface_names[m->iface_count++], sizeof m->iface_names[0], iface.name);
        m->bus.frames_per_s += iface.frames_per_s;
        if (iface.load_percent > m->bus.load_percent)
            m->bus.load_percent = iface.load_percent;
    }
}

static void live_feed_fill(void *ctx, struct model *m)
{
    struct live_feed *l = ctx;
    keeper_freshen(l->live->keeper);
    model_fill(m, l->live->keeper, l->live->now);
    m->clock_known = true;
    m->record = duties_record_text(l->duties);
    m->waiting = l->heard ? NULL : m->source;
    m->replay = (struct model_replay){0};
    marks_set_show(&l->marks, m);
    fill_bus(l, m);
}

static void live_feed_request(void *ctx, const struct request *q, char *notice, size_t cap)
{
    struct live_feed *l = ctx;
    struct alert_list *alerts = keeper_alerts(l->live->keeper);
    if (q->kind == REQUEST_ACKNOWLEDGE)
        alerts_acknowledge(alerts, q->id, l->live->now);
    else if (q->kind == REQUEST_SILENCE)
        alerts_silence(alerts, l->live->now);
    else if (q->kind == REQUEST_UNITS) /* the settings have them already */
        alerts_reword(alerts, keeper_settings(l->live->keeper));
    else if (q->kind == REQUEST_MARK && !duties_mark(l->duties, q->amount, q->words))
        text_copy(notice, cap, "nothing is recorded: --record DIR");
    else if (q->kind == REQUEST_MARK) {
        marks_set_add(&l->marks, q->amount, q->words);
        text_copy(notice, cap, "marked; ten minutes before and after are set aside");
    }
}

static void live_feed_listen(void *ctx, alert_listener *f, void *listener_ctx)
{
    struct live_feed *l = ctx;
    alerts_listen(keeper_alerts(l->live->keeper), f, listener_ctx);
}

static enum alert_sound live_feed_sound(void *ctx)
{
    struct live_feed *l = ctx;
    return alerts_sound(keeper_alerts(l->live->keeper), l->live->now);
}

static const char *live_feed_failed(void *ctx)
{
    struct live_feed *l = ctx;
    return l->live->failed ? l->live->error.text : NULL;
}

static void live_feed_close(void *ctx)
{
    struct live_feed *l = ctx;
    struct err e;
    if (l->live && l->live->keeper)
        duties_turn(l->duties, live_drain(l->live));
    if (l->season && l->live && l->live->keeper &&
        !season_keep_end(l->season, l->live->keeper, l->duties, l->name, &e))
        fprintf(stderr, "stokehold watch: %s\n", e.text);
    duties_close(l->duties);
    if (l->live)
        live_close(l->live);
    free(l->live);
    free(l);
}

static const struct feed_kind live_kind = {.turn = live_feed_turn,
                                           .wait_ns = live_feed_wait_ns,
                                           .fd = live_feed_fd,
                                           .settling = live_feed_settling,
                                           .fill = live_feed_fill,
                                           .request = live_feed_request,
                                           .sound = live_feed_sound,
                                           .listen = live_feed_listen,
                                           .failed = live_feed_failed,
                                           .close = live_feed_close};

static bool begin(struct live_feed *l, const struct feed_options *o, struct err *e)
{
    static const struct duties_options none = {.no_hooks = true};
    char source[48] = "";
    for (int i = 0; i < o->count; i++)
        text_append(source, sizeof source, "%s%s", i ? " " : "", o->names[i]);
    l->name = o->names[0];
    l->season = o->season;
    l->duties = duties_open(o->duties ? o->duties : &none, o->settings, source, e);
    l->live = calloc(1, sizeof *l->live);
    if (!l->duties)
        return false;
    if (!l->live)
        return err_set(e, "out of memory");
    if (!live_open(l->live, o->names, o->count, o->zone, o->settings, true, e))
        return false;
    struct stamp clock = clock_now();
    l->live->now = clock;
    /* A damaged state file was said to the one who wrote it; here it is only begun again. */
    duties_begin(l->duties, l->live, clock, NULL);
    return true;
}

bool feed_open_live(struct feed *f, const struct feed_options *o, struct err *e)
{
    struct live_feed *l = calloc(1, sizeof *l);
    *f = (struct feed){0};
    if (!l)
        return err_set(e, "out of memory");
    if (!begin(l, o, e)) {
        live_feed_close(l);
        return false;
    }
    *f = (struct feed){&live_kind, l};
    return true;
}

bool feed_release_live(struct feed *f, struct live **live, struct duties **duties)
{
    struct live_feed *l = f->ctx;
    if (!l || f->kind != &live_kind)
        return false;
    *live = l->live;
    *duties = l->duties;
    free(l);
    f->ctx = NULL;
    return true;
}
