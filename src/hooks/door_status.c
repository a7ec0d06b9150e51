#include "hooks/door_status.h"

#include "season/watch.h"

#include "base/banned.h"

static void put(struct door_feed *f, struct line *l)
{
    line_end(l);
    door_feed_put(f, l);
}

static void put_watch(struct door_feed *f, const struct settings *settings,
                      const struct watch_status *s)
{
    struct line l;
    line_begin(&l, "watch");
    line_integer(&l, s->started_wall_ns);
    line_integer(&l, s->now.wall_ns);
    line_text(&l, s->source);
    line_text(&l, settings->vessel);
    line_text(&l, STOKEHOLD_VERSION);
    line_integer(&l, s->sounding);
    line_integer(&l, s->clock_trusted);
    put(f, &l);
    line_begin(&l, "config");
    line_integer(&l, s->loaded_wall_ns);
    line_integer(&l, s->load_failed);
    put(f, &l);
    line_begin(&l, "counts");
    const uint64_t counts[] = {s->frames,         s->lost_frames,       s->error_frames,
                               s->bad_lines,      s->losses.incomplete, s->losses.gaps,
                               s->losses.dropped, s->losses.unbound,    s->losses.alerts_lost};
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++)
        line_integer(&l, (int64_t)counts[i]);
    put(f, &l);
}

static void put_bus(struct door_feed *f, const struct status_iface *i)
{
    struct line l;
    line_begin(&l, "bus");
    line_text(&l, i->name);
    line_integer(&l, i->up);
    line_text(&l, i->controller ? i->controller : "");
    line_number(&l, i->load_percent);
    line_integer(&l, (int64_t)i->frames);
    line_integer(&l, (int64_t)i->error_frames);
    line_integer(&l, (int64_t)i->lost_frames);
    line_integer(&l, i->last_wall_ns);
    put(f, &l);
}

static void put_record(struct door_feed *f, const struct watch_status *s)
{
    struct line l;
    line_begin(&l, "record");
    line_integer(&l, s->record_writing);
    line_integer(&l, (int64_t)s->record_bytes);
    line_integer(&l, (int64_t)s->record_lost_frames);
    line_integer(&l, s->record_free_bytes);
    put(f, &l);
}

static void put_hook(struct door_feed *f, const char *name, const struct hook_stats *st)
{
    struct line l;
    line_begin(&l, "hook");
    line_text(&l, name);
    line_integer(&l, st->failed);
    line_integer(&l, (int64_t)st->runs);
    line_integer(&l, (int64_t)st->failures);
    line_integer(&l, st->good_wall_ns);
    line_integer(&l, st->waiting);
    put(f, &l);
}

static void put_cooling(struct door_feed *f, const struct engine *engine, struct cooling_sense s)
{
    struct line l;
    line_begin(&l, "cooling");
    line_integer(&l, engine->instance);
    line_text(&l, engine->name);
    line_integer(&l, engine->state == ENGINE_RUNNING);
    line_integer(&l, s.exhaust);
    line_integer(&l, s.speed);
    line_text(&l, cooling_load_text(s.load));
    line_integer(&l, s.twin);
    line_integer(&l, s.sea);
    line_number(&l, s.period_s);
    line_number(&l, s.delay_s);
    line_integer(&l, s.blind);
    put(f, &l);
}

static void put_engines(struct door_feed *f, const struct keeper *k)
{
    const struct plant *p = keeper_plant(k);
    int slots[PLANT_ENGINES], n = plant_engines_in_order(p, slots);
    for (int i = 0; i < n; i++)
        put_cooling(f, plant_engine(p, slots[i]), keeper_sense(k, slots[i]));
}

/* How far each channel stands from the season's first trips. */
static void put_season(struct door_feed *f, const struct keeper *k)
{
    struct season_watch *w = keeper_season(k);
    struct season_standing s;
    for (int i = 0; w && i < PLANT_ENGINES * SEASON_KEPT; i++) {
        int row = i % SEASON_KEPT, slot = i / SEASON_KEPT;
        const struct engine *e = plant_engine(keeper_plant(k), slot);
        char key[CHANNEL_KEY_SIZE];
        struct line l;
        if (!e->exists || !season_watch_standing(w, slot, e->instance, row, &s))
            continue;
        channel_id_format(key, sizeof key, s.id);
        line_begin(&l, "season");
        line_text(&l, key);
        line_number(&l, s.excess);
        line_number(&l, s.error);
        line_text(&l, season_kept[row].share                        ? "share"
                      : season_kept[row].quantity == QTY_ALTERNATOR ? "V"
                                                                    : "K");
        line_text(&l, season_level_word(s.level));
        line_integer(&l, s.now);
        line_integer(&l, s.since_ns);
        put(f, &l);
    }
}

void door_status(struct door_feed *f, const struct keeper *k, const struct door_info *info)
{
    const struct watch_status *s = info->status;
    const struct settings *settings = keeper_settings(k);
    const struct alert_list *alerts = keeper_alerts(k);
    if (s) {
        put_watch(f, settings, s);
        for (int i = 0; i < s->iface_count; i++)
            put_bus(f, &s->ifaces[i]);
        if (s->records)
            put_record(f, s);
        for (size_t i = 0; s->hooks && i < settings->hook_count; i++) {
            struct hook_stats st;
            hooks_stats(s->hooks, i, &st);
            put_hook(f, settings->hooks[i].name, &st);
        }
    }
    put_engines(f, k);
    put_season(f, k);
    for (size_t i = 0; i < alerts_count(alerts); i++) {
        struct line l;
        line_alert(&l, "alert", alerts_at(alerts, i));
        door_feed_put(f, &l);
    }
}
