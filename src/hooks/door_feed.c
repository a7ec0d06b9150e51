#include "hooks/door_feed.h"

#include "base/text.h"
#include "cooling/cooling.h"
#include "season/kept.h"
#include "season/model.h"
#include "season/watch.h"

#include <string.h>

#include "base/banned.h"

/* Room that one channel's whole history may need: 2760 buckets in lines of at most 96 bytes would
 * be more, so history is sent in stretches; a stretch is begun only with this much room. */
#define STRETCH_ROOM (48 * 1024)
#define BUCKET_LINE  128
#define STATIONS_NS  (5 * NS_PER_S)

size_t door_feed_room(const struct door_feed *f)
{
    return FEED_BUFFER - f->used;
}

void door_feed_put(struct door_feed *f, const struct line *l)
{
    if (l->len > door_feed_room(f))
        return;
    memcpy(f->buf + f->used, l->text, l->len);
    f->used += l->len;
}

/* FNV-1a, never 0. */
static uint32_t hash(const char *s, uint32_t h)
{
    for (; *s; s++)
        h = (h ^ (uint8_t)*s) * 16777619u;
    return h ? h : 1;
}

static void put_boat(struct door_feed *f, const struct keeper *k, const struct door_info *info)
{
    const struct settings *s = keeper_settings(k);
    struct line l;
    line_begin(&l, "boat");
    line_text(&l, s->vessel);
    line_text(&l, info->source);
    line_integer(&l, s->screen.trend_span_ns);
    line_integer(&l, s->alerts.silence_ns);
    line_text(&l, info->record ? info->record : "");
    line_integer(&l, info->clock_known);
    line_end(&l);
    uint32_t h = hash(l.text, 2166136261u);
    if (h == f->boat)
        return;
    f->boat = h;
    door_feed_put(f, &l);
}

static void put_engines(struct door_feed *f, const struct keeper *k)
{
    const struct plant *p = keeper_plant(k);
    struct line lines[PLANT_ENGINES];
    uint32_t h = 2166136261u;
    char words[COOLING_SENSE_SIZE];
    int slots[PLANT_ENGINES], n = plant_engines_in_order(p, slots);
    for (int i = 0; i < n; i++) {
        const struct engine *e = plant_engine(p, slots[i]);
        line_begin(&lines[i], "engine");
        line_integer(&lines[i], slots[i]);
        line_text(&lines[i], e->name);
        line_integer(&lines[i], e->state);
        line_integer(&lines[i], i);
        line_integer(&lines[i], e->generator);
        line_integer(&lines[i], keeper_careful(k, slots[i]));
        const struct cooling_sense sense = keeper_sense(k, slots[i]);
        line_text(&lines[i],
                  cooling_sense_words(words, sizeof words, &sense, cooling_load_text(sense.load),
                                      e->state == ENGINE_RUNNING));
        line_end(&lines[i]);
        h = hash(lines[i].text, h);
    }
    if (h == f->engines)
        return;
    f->engines = h;
    for (int i = 0; i < n; i++)
        door_feed_put(f, &lines[i]);
}

/* The limit a board shows beside the unit: of the rule with the highest priority. */
static const struct rule_setting *limit_of(const struct settings *s, const struct channel *c)
{
    const struct rule_setting *best = NULL;
    for (size_t i = 0; i < s->rule_count; i++) {
        const struct rule_setting *r = &s->rules[i];
        if (r->kind != KIND_LIMIT || (best && r->priority <= best->priority) ||
            (!r->has_above && !r->has_below) || !channel_fits(c, r) ||
            !settings_rule_applies(s, r, c->id))
            continue;
        best = r;
    }
    return best;
}

/* A learned period moves a little with every message; only a move that a drawing could show is
 * worth saying. */
static int64_t said_period_ns(struct door_feed_channel *fc, const struct channel *c)
{
    int64_t moved = c->period_ns - fc->period_ns;
    if (fc->period_ns == 0 || (moved < 0 ? -moved : moved) > fc->period_ns / 8)
        fc->period_ns = c->period_ns;
    return fc->period_ns;
}

static void describe(struct line *l, size_t i, const struct plant *p, const struct channel *c,
                     int64_t period_ns)
{
    const struct rule_setting *r = limit_of(plant_settings(p), c);
    double limit = r ? (r->has_above ? r->above : r->below) : 0;
    if (r && r->per_12v)
        limit *= c->nominal_volts / 12.0;
    line_begin(l, "channel");
    line_integer(l, (int64_t)i);
    line_integer(l, c->id.quantity);
    line_integer(l, c->id.place);
    line_integer(l, c->id.sub);
    line_integer(l, c->engine);
    line_integer(l, c->second);
    line_integer(l, c->setting && c->setting->hidden);
    line_integer(l, c->iface);
    line_integer(l, c->source);
    line_integer(l, c->pgn);
    line_integer(l, c->nominal_volts);
    line_integer(l, r != NULL);
    line_integer(l, r && r->has_above);
    line_number(l, limit);
    line_text(l, c->key);
    line_text(l, c->label);
    line_text(l, plant_place(p, c));
    line_integer(l, period_ns);
    line_integer(l, r ? r->priority : PRIORITY_CAUTION);
    line_end(l);
}

static void put_numbers(struct line *l, const struct history_bucket *b)
{
    line_number(l, (double)b->low);
    line_number(l, (double)b->high);
    line_number(l, (double)b->mean);
}

/* One bucket: of a channel, or, with an upper edge, of the band in which it was expected. */
static void put_bucket(struct door_feed *f, size_t i, int64_t start_ns, int64_t width_ns,
                       const struct history_bucket *b, const struct history_bucket *upper)
{
    struct line l;
    line_begin(&l, upper ? "band" : "past");
    line_integer(&l, (int64_t)i);
    line_integer(&l, start_ns);
    line_integer(&l, width_ns);
    put_numbers(&l, b);
    line_integer(&l, b->count);
    if (upper)
        put_numbers(&l, upper);
    line_end(&l);
    door_feed_put(f, &l);
}

/* The level that holds a moment: fine for the last minutes, coarse for long ago. One step less
 * than each level's length, so that the bucket is whole. */
static int level_at(int64_t start_ns, int64_t now_ns)
{
    for (int level = 0; level < HISTORY_LEVELS - 1; level++) {
        const struct history_level_info *info = &history_levels[level];
        if (now_ns - start_ns <
            info->width_ns * (info->buckets - 1) - history_levels[level + 1].width_ns)
            return level;
    }
    return HISTORY_LEVELS - 1;
}

/* Sends history from *sent_ns up to the bucket that is still open, moving it on; false when there
 * was no room for all of it. upper: NULL, or the other edge of a band. */
static bool put_past(struct door_feed *f, size_t i, const struct history *h,
                     const struct history *upper, int64_t *sent_ns, int64_t now_ns)
{
    const struct history_level_info *last = &history_levels[HISTORY_LEVELS - 1];
    if (*sent_ns == 0) {
        int64_t from = now_ns - last->width_ns * (last->buckets - 1);
        *sent_ns = (from > 0 ? from : 0) / last->width_ns * last->width_ns;
    }
    for (;;) {
        int level = level_at(*sent_ns, now_ns);
        while (level > 0 && *sent_ns % history_levels[level].width_ns)
            level--;
        int64_t width = history_levels[level].width_ns;
        if (*sent_ns + width > now_ns)
            return true;
        if (door_feed_room(f) < BUCKET_LINE)
            return false;
        struct history_bucket b, u;
        if (history_span(h, *sent_ns, *sent_ns + width, &b) &&
            (!upper || history_span(upper, *sent_ns, *sent_ns + width, &u)))
            put_bucket(f, i, *sent_ns, width, &b, upper ? &u : NULL);
        *sent_ns += width;
    }
}

/* What the cooling watch expects of it, and expected before. */
static void put_expected(struct door_feed *f, size_t i, const struct expected *x, int64_t now_ns)
{
    struct door_feed_channel *fc = &f->channels[i];
    struct line l;
    if (!x->low || !x->high)
        return;
    line_begin(&l, "expect");
    line_integer(&l, (int64_t)i);
    line_integer(&l, x->now);
    line_number(&l, x->now ? x->value : 0);
    line_number(&l, x->now ? x->allowance : 0);
    line_end(&l);
    uint32_t h = hash(l.text, 2166136261u);
    if (h != fc->expected && door_feed_room(f) >= l.len) {
        door_feed_put(f, &l);
        fc->expected = h;
    }
    put_past(f, i, x->low, x->high, &fc->band_ns, now_ns);
}

/* How far it stands from what the season's first trips were, where that is of a size; and that it
 * no longer does. */
static void put_season(struct door_feed *f, size_t i, const struct channel *c,
                       const struct keeper *k)
{
    struct door_feed_channel *fc = &f->channels[i];
    const struct season_watch *w = keeper_season(k);
    int row = season_kept_row((enum quantity)c->id.quantity);
    const struct season_verdict *v = NULL;
    struct line l;
    if (w && row >= 0 && !c->second)
        v = season_watch_verdict(w, c->engine >= 0 ? c->engine : 0, row);
    bool told = v && season_watch_notable(v, row) && channel_id_same(v->story->id, c->id);
    if (!told && fc->season == 0)
        return;
    line_begin(&l, "season");
    line_integer(&l, (int64_t)i);
    line_integer(&l, told);
    line_number(&l, told ? v->excess : 0);
    line_integer(&l, told && season_kept[row].share);
    line_integer(&l, told ? v->story->since_ns : 0);
    line_end(&l);
    uint32_t h = hash(l.text, 2166136261u);
    if (h == fc->season || door_feed_room(f) < l.len)
        return;
    door_feed_put(f, &l);
    fc->season = told ? h : 0;
}

static void put_value(struct door_feed *f, size_t i, const struct channel *c)
{
    struct door_feed_channel *fc = &f->channels[i];
    uint8_t status = (uint8_t)(c->status | (c->switched_off ? 0x80 : 0));
    if (fc->said_ns == c->at.mono_ns && fc->status == status)
        return;
    struct line l;
    line_begin(&l, "value");
    line_integer(&l, (int64_t)i);
    line_integer(&l, c->status);
    line_integer(&l, c->switched_off);
    line_number(&l, c->value);
    line_integer(&l, c->good.mono_ns);
    line_end(&l);
    if (l.len > door_feed_room(f))
        return;
    door_feed_put(f, &l);
    fc->said_ns = c->at.mono_ns;
    fc->status = status;
}

static void put_channel(struct door_feed *f, size_t i, const struct keeper *k, int64_t now_ns)
{
    const struct plant *p = keeper_plant(k);
    const struct expected x = keeper_expected(k, i);
    const struct channel *c = plant_channel(p, i);
    struct door_feed_channel *fc = &f->channels[i];
    struct line l;
    if (c->status == READING_NEVER || door_feed_room(f) < LINE_SIZE)
        return;
    /* What it is called seldom changes: looked at by turns. */
    if (!fc->described || (now_ns / DOOR_UPDATE_NS + (int64_t)i) % 10 == 0) {
        describe(&l, i, p, c, said_period_ns(fc, c));
        uint32_t h = hash(l.text, 2166136261u);
        if (h != fc->described)
            door_feed_put(f, &l);
        fc->described = h;
    }
    put_value(f, i, c);
    put_past(f, i, c->history, NULL, &fc->past_ns, now_ns);
    put_expected(f, i, &x, now_ns);
    put_season(f, i, c, k);
}

/* True where they were sent. */
static bool put_alerts(struct door_feed *f, const struct alert_list *alerts, uint64_t version)
{
    size_t n = alerts_count(alerts), ended = alerts_history_count(alerts);
    if (ended > 64)
        ended = 64;
    if ((f->alerts_said && version == f->alerts_version) ||
        door_feed_room(f) < (n + ended + 1) * LINE_SIZE)
        return false;
    struct line l;
    for (size_t i = 0; i < n + ended; i++) {
        line_alert(&l, "alert", i < n ? alerts_at(alerts, i) : alerts_history_at(alerts, i - n));
        door_feed_put(f, &l);
    }
    line_begin(&l, "alerts");
    line_integer(&l, (int64_t)n);
    line_integer(&l, (int64_t)ended);
    line_end(&l);
    door_feed_put(f, &l);
    f->alerts_said = true;
    f->alerts_version = version;
    return true;
}

static void put_ifaces(struct door_feed *f, const struct door_info *info)
{
    int n = info->ifaces ? source_iface_count(info->ifaces) : 0;
    for (; f->ifaces < n; f->ifaces++) {
        struct line l;
        line_begin(&l, "iface");
        line_integer(&l, f->ifaces);
        line_text(&l, source_iface_name(info->ifaces, (uint8_t)f->ifaces));
        line_end(&l);
        door_feed_put(f, &l);
    }
}

/* Who is on the bus, every few seconds. */
static void put_stations(struct door_feed *f, const struct plant *p, int64_t now_ns)
{
    if (f->stations_ns && now_ns - f->stations_ns < STATIONS_NS)
        return;
    f->stations_ns = now_ns;
    for (int i = 0; i < SOURCE_IFACES; i++)
        for (int a = 0; a < 256 && door_feed_room(f) > FEED_BUFFER / 4; a++) {
            const struct source_seen *s = plant_source(p, (uint8_t)i, (uint8_t)a);
            if (!s || !s->seen)
                continue;
            struct line l;
            line_begin(&l, "station");
            line_integer(&l, i);
            line_integer(&l, a);
            line_integer(&l, (int64_t)s->name);
            line_integer(&l, (int64_t)s->frames);
            line_integer(&l, s->last_ns);
            line_integer(&l, s->name_changes);
            line_integer(&l, s->gaps);
            line_integer(&l, s->earlier);
            line_integer(&l, s->earlier_spn);
            line_integer(&l, s->earlier_fmi);
            line_end(&l);
            door_feed_put(f, &l);
        }
}

static void put_time(struct door_feed *f, const struct keeper *k, const struct door_info *info)
{
    struct line l;
    line_begin(&l, "time");
    line_integer(&l, info->now.wall_ns);
    line_integer(&l, info->now.mono_ns);
    line_integer(&l, (int64_t)info->frames);
    line_integer(&l, (int64_t)info->lost_frames);
    line_integer(&l, (int64_t)info->bad_lines);
    line_integer(&l, (int64_t)info->error_frames);
    line_number(&l, info->load_percent);
    line_number(&l, info->frames_per_s);
    line_integer(&l, alerts_sound(keeper_alerts(k), info->now));
    int64_t ahead_ns;
    line_integer(&l, keeper_bus_clock(k, &ahead_ns));
    line_integer(&l, ahead_ns);
    line_integer(&l, keeper_listened_ns(k));
    const struct losses lost = keeper_losses(k);
    line_integer(&l, (int64_t)lost.incomplete);
    line_integer(&l, (int64_t)lost.gaps);
    line_integer(&l, (int64_t)lost.dropped);
    line_integer(&l, (int64_t)lost.unbound);
    line_integer(&l, (int64_t)lost.alerts_lost);
    line_end(&l);
    door_feed_put(f, &l);
}

bool door_feed_due(const struct door_feed *f, const struct door_info *info)
{
    return info->now.mono_ns - f->updated_ns >= DOOR_UPDATE_NS && f->used < FEED_BUFFER / 2;
}

void door_feed_turn(struct door_feed *f, struct keeper *k, const struct door_info *info,
                    uint64_t alerts_version)
{
    const struct plant *p = keeper_plant(k);
    size_t n = plant_count(p);
    int64_t now_ns = info->now.mono_ns;
    bool due = door_feed_due(f, info);
    if (due) {
        f->updated_ns = now_ns;
        put_boat(f, k, info);
        put_engines(f, k);
    }
    bool told = put_alerts(f, keeper_alerts(k), alerts_version);
    /* Histories one after the other as there is room, so that a turn stays short. */
    for (; f->next < n && door_feed_room(f) >= STRETCH_ROOM; f->next++) {
        put_channel(f, f->next, k, now_ns);
        const struct door_feed_channel *fc = &f->channels[f->next];
        if (fc->past_ns && fc->past_ns + history_levels[0].width_ns <= now_ns)
            break;
    }
    /* What an alert says of a channel and what the channel's row says come together. */
    for (size_t i = 0; (due || told) && i < f->next; i++)
        put_channel(f, i, k, now_ns);
    if (!due)
        return;
    put_ifaces(f, info);
    put_stations(f, p, now_ns);
    put_time(f, k, info);
}
