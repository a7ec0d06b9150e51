#include "keeper/keeper.h"

#include "rules/rules.h"
#include "wire/decode.h"

#include <stdlib.h>

#include "base/banned.h"

#define TICK_NS (250 * NS_PER_MS)
/* Live, a watch that was stopped this long has a hole in what it heard. */
#define STOPPED_NS   (15 * NS_PER_S)
#define TAPS_MAX     4
#define BUS_CLOCK_NS (60 * NS_PER_S) /* it is sent once a second */

struct keeper {
    const struct settings *settings;
    struct wire *wire;
    struct plant *plant;
    struct rules *rules;
    struct alert_list *alerts;
    struct expectations *expected; /* NULL where nobody asked for it */
    bool started;
    int64_t started_ns;   /* mono */
    int64_t next_tick_ns; /* mono */
    int64_t bus_ahead_ns,
        bus_clock_ns;  /* how far the bus's clock is ahead; mono, when it was heard */
    int64_t offset_ns; /* wall minus mono, as of the newest frame or tick: labels time between */
    struct {
        keeper_tap *f;
        void *ctx;
    } taps[TAPS_MAX];
    int tap_count;
    uint64_t gaps;
    bool was_heard;          /* another wire than its own heard the frames: */
    struct wire_stats heard; /* what that one counted */
};

static void on_appeared(void *ctx, struct channel *c)
{
    struct keeper *k = ctx;
    rules_appeared(k->rules, c);
}

static void on_reading(void *ctx, struct channel *c, struct stamp at)
{
    struct keeper *k = ctx;
    if (c->rules)
        rules_reading(k->rules, c, at);
}

static void on_status(void *ctx, struct channel *c, enum reading_status before, struct stamp at)
{
    (void)ctx;
    (void)before;
    rules_status(c, at);
}

static void on_conflict(void *ctx, struct channel *second, struct channel *holder, struct stamp at)
{
    struct keeper *k = ctx;
    rules_conflict(k->rules, second, holder, at);
}

static void on_engine(void *ctx, int engine, enum engine_state before, struct stamp at)
{
    struct keeper *k = ctx;
    (void)before;
    rules_engine(k->rules, engine, at);
}

struct keeper *keeper_new(const struct settings *settings, const struct keeper_options *options)
{
    struct keeper *k = calloc(1, sizeof *k);
    if (!k)
        return NULL;
    k->settings = settings;
    k->wire = wire_new();
    k->plant = plant_new(settings);
    k->alerts = alerts_new(&settings->alerts, options->escalate);
    if (k->alerts) {
        alerts_reword(k->alerts, settings);
        alerts_utc(k->alerts, options->utc);
    }
    if (k->plant && k->alerts)
        k->rules = rules_new(settings, k->plant, k->alerts);
    k->expected = options->expect ? expectations_new() : NULL;
    if (!k->wire || !k->rules || (options->expect && !k->expected)) {
        keeper_free(k);
        return NULL;
    }
    struct plant_listener l = {
        .ctx = k,
        .appeared = on_appeared,
        .reading = on_reading,
        .status = on_status,
        .conflict = on_conflict,
        .engine = on_engine,
    };
    plant_listen(k->plant, l);
    return k;
}

void keeper_free(struct keeper *k)
{
    if (!k)
        return;
    rules_free(k->rules);
    alerts_free(k->alerts);
    expectations_free(k->expected);
    plant_free(k->plant);
    wire_free(k->wire);
    free(k);
}

void keeper_reconfigure(struct keeper *k, const struct settings *settings)
{
    k->settings = settings;
    plant_reconfigure(k->plant, settings);
    rules_reconfigure(k->rules, settings);
}

static void tick(struct keeper *k, int64_t mono_ns)
{
    struct stamp now = {mono_ns + k->offset_ns, mono_ns};
    plant_tick(k->plant, now);
    rules_tick(k->rules, now);
    alerts_tick(k->alerts, now);
    if (k->expected)
        expectations_note(k->expected, k->plant, k->rules, now);
}

/* Lets time go on to mono_ns in steps, so that what must happen between two frames does. */
static void run_until(struct keeper *k, int64_t mono_ns)
{
    for (; k->next_tick_ns <= mono_ns; k->next_tick_ns += TICK_NS)
        tick(k, k->next_tick_ns);
}

static void gap(struct keeper *k, struct stamp now)
{
    k->gaps++;
    wire_reset(k->wire);
    plant_gap(k->plant, now);
    rules_gap(k->rules, now);
    k->next_tick_ns = now.mono_ns + TICK_NS;
}

/* Before the time of the hole is gone through, so that nobody becomes late in it. */
static void hole(struct keeper *k, struct stamp now)
{
    k->gaps++;
    plant_hole(k->plant, now);
    rules_hole(k->rules, now);
}

static inline void pass_time(struct keeper *k, const struct frame *f)
{
    if (f->mono_ns >= k->next_tick_ns || (f->flags & FRAME_GAP)) {
        if (!k->started) {
            k->started = true;
            k->started_ns = f->mono_ns;
            k->next_tick_ns = f->mono_ns + TICK_NS;
        } else if (f->flags & FRAME_GAP) {
            gap(k, (struct stamp){f->wall_ns, f->mono_ns});
        } else {
            if (f->flags & FRAME_HOLE)
                hole(k, (struct stamp){f->wall_ns, f->mono_ns});
            run_until(k, f->mono_ns);
        }
    }
}

/* Lets time go on to the first of n frames, and says how many of them come before it goes on
 * again: rules that hear every frame are told of these at once, as nobody asks them between. */
static inline size_t pass_to(struct keeper *k, const struct frame *f, size_t n)
{
    size_t count = 1;
    pass_time(k, f);
    while (count < n && f[count].mono_ns < k->next_tick_ns && !(f[count].flags & FRAME_GAP))
        count++;
    k->offset_ns = f[count - 1].wall_ns - f[count - 1].mono_ns;
    rules_frames(k->rules, f, count);
    return count;
}

/* A message that the plant has taken. */
static inline void take_message(struct keeper *k, const struct message *m)
{
    rules_message(k->rules, m);
    int64_t bus_wall_ns;
    if (m->pgn == 126992 && decode_system_time(m, &bus_wall_ns)) {
        k->bus_ahead_ns = bus_wall_ns - m->at.wall_ns;
        k->bus_clock_ns = m->at.mono_ns;
    }
    for (int i = 0; i < k->tap_count; i++)
        k->taps[i].f(k->taps[i].ctx, m);
}

void keeper_frames(struct keeper *k, const struct frame *f, size_t n)
{
    struct message m;
    for (size_t i = 0, due = 0; i < n; i++) {
        if (i == due)
            due += pass_to(k, &f[i], n - i);
        if (!wire_frame(k->wire, &f[i], &m))
            continue;
        plant_message(k->plant, &m);
        take_message(k, &m);
    }
}

void keeper_heard(struct keeper *k, const struct frame *f, size_t n, const struct heard *h,
                  size_t from)
{
    for (size_t i = 0, due = 0; i < n; i++) {
        if (i == due)
            due += pass_to(k, &f[i], n - i);
        if (h->ends[from + i] == 0)
            continue;
        const struct heard_message *m = &h->messages[h->ends[from + i] - 1];
        plant_values(k->plant, &m->message, h->values + m->first, m->count);
        take_message(k, &m->message);
    }
    k->was_heard = true;
    k->heard = h->stats;
}

void keeper_tick(struct keeper *k, struct stamp now)
{
    if (!k->started) {
        k->started = true;
        k->started_ns = now.mono_ns;
        k->next_tick_ns = now.mono_ns;
    }
    if (now.mono_ns - k->next_tick_ns > STOPPED_NS)
        gap(k, now);
    k->offset_ns = now.wall_ns - now.mono_ns;
    run_until(k, now.mono_ns);
}

void keeper_bus(struct keeper *k, uint32_t code, enum priority p, const char *text, bool stands,
                struct stamp at)
{
    rules_condition(k->rules, code, p, text, stands, at);
}

void keeper_name_iface(struct keeper *k, uint8_t iface, const char *name)
{
    plant_name_iface(k->plant, iface, name);
    rules_name_iface(k->rules, iface, name);
}

void keeper_tap_messages(struct keeper *k, keeper_tap *f, void *ctx)
{
    if (k->tap_count == TAPS_MAX)
        return;
    k->taps[k->tap_count].f = f;
    k->taps[k->tap_count++].ctx = ctx;
}

struct plant *keeper_plant(const struct keeper *k)
{
    return k->plant;
}

struct alert_list *keeper_alerts(const struct keeper *k)
{
    return k->alerts;
}

struct losses keeper_losses(const struct keeper *k)
{
    const struct wire_stats *w = keeper_wire_stats(k);
    return (struct losses){
        .incomplete = w->fast_lost + w->tp_lost,
        .gaps = k->gaps,
        .dropped = plant_dropped(k->plant),
        .unbound = rules_unbound(k->rules),
        .alerts_lost = alerts_lost(k->alerts),
    };
}

const struct wire_stats *keeper_wire_stats(const struct keeper *k)
{
    return k->was_heard ? &k->heard : wire_stats(k->wire);
}

const struct settings *keeper_settings(const struct keeper *k)
{
    return k->settings;
}

bool keeper_bus_clock(const struct keeper *k, int64_t *ahead_ns)
{
    *ahead_ns = k->bus_ahead_ns;
    return k->bus_clock_ns > 0 && plant_now(k->plant).mono_ns - k->bus_clock_ns < BUS_CLOCK_NS;
}

struct season_watch *keeper_season(const struct keeper *k)
{
    return rules_season(k->rules);
}

int64_t keeper_listened_ns(const struct keeper *k)
{
    return k->started ? plant_now(k->plant).mono_ns - k->started_ns : 0;
}

bool keeper_freshen(struct keeper *k)
{
    return rules_freshen(k->rules);
}

bool keeper_careful(const struct keeper *k, int engine)
{
    return rules_careful(k->rules, engine);
}

struct cooling_sense keeper_sense(const struct keeper *k, int engine)
{
    return rules_sense(k->rules, engine);
}

struct expected keeper_expected(const struct keeper *k, size_t i)
{
    return k->expected ? expectations_at(k->expected, i) : (struct expected){0};
}
