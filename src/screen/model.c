#include "screen/model.h"

#include "base/text.h"
#include "season/watch.h"
#include "wire/name.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define RATE_SLOW_NS (60 * NS_PER_S)
#define RATE_FAST_NS (15 * NS_PER_S)

struct model *model_new(void)
{
    struct model *m = calloc(1, sizeof *m);
    if (m) {
        m->channels = calloc(MODEL_CHANNELS, sizeof *m->channels);
        m->shown = calloc(MODEL_CHANNELS, sizeof *m->shown);
    }
    if (m && (!m->channels || !m->shown)) {
        model_free(m);
        return NULL;
    }
    return m;
}

void model_free(struct model *m)
{
    if (m) {
        free(m->channels);
        free(m->shown);
    }
    free(m);
}

/* The fixed limit shown beside the unit: of the rules that bind this channel, the one with the
 * highest priority. */
static void find_limit(struct model_channel *c, const struct channel *of, const struct settings *s)
{
    int best = -1;
    for (size_t i = 0; i < s->rule_count; i++) {
        const struct rule_setting *r = &s->rules[i];
        if (r->kind != KIND_LIMIT || (int)r->priority <= best || (!r->has_above && !r->has_below) ||
            !settings_rule_matches(r, c->id) || !channel_fits(of, r) ||
            !settings_rule_applies(s, r, c->id))
            continue;
        best = (int)r->priority;
        c->has_limit = true;
        c->limit_above = r->has_above;
        c->limit_priority = r->priority;
        c->limit = (r->has_above ? r->above : r->below) *
                   (r->per_12v ? (double)c->nominal_volts / 12.0 : 1.0);
    }
}

bool model_is_beyond(const struct model *m, const struct model_channel *c)
{
    if (!c->has_limit || c->status == READING_NEVER || !isfinite(c->value))
        return false;
    if (c->limit_above)
        return c->value > c->limit;
    bool stands = c->engine >= 0 && m->engine_states[c->engine] != ENGINE_RUNNING;
    return !stands && c->status == READING_OK && c->value < c->limit;
}

/* Over a minute, so that noise moves no arrow; over a quarter of one where it is fast. */
void model_find_rate(struct model_channel *c, struct stamp now)
{
    double fast;
    c->has_extremes = history_extremes(c->history, &c->low, &c->high);
    /* A gear or a state has no rate: it is one or another. */
    if (c->status != READING_OK || c->unit == UNIT_NONE)
        return;
    c->has_rate = history_rate_per_min(c->history, now.mono_ns, RATE_SLOW_NS, &c->rate_per_min);
    if (history_rate_per_min(c->history, now.mono_ns, RATE_FAST_NS, &fast) &&
        fabs(fast) > 4 * c->steady_per_min) {
        c->has_rate = true;
        c->rate_per_min = fast;
    }
}

/* One rate on the screen: where a standing alert speaks of one, the row says the same. */
static void follow_alert(struct model_channel *m, const struct alert *a)
{
    if (a->active && m->status == READING_OK && isfinite(a->figures.rate_per_min)) {
        m->has_rate = true;
        m->rate_per_min = a->figures.rate_per_min;
    }
}

static void fill_channel(struct model_channel *m, const struct plant *p, const struct channel *c,
                         struct stamp now)
{
    const struct quantity_info *info = quantity_info((enum quantity)c->id.quantity);
    *m = (struct model_channel){
        .id = c->id,
        .key = c->key,
        .label = c->label[0] ? c->label : info->label,
        .place = plant_place(p, c),
        .unit = c->unit,
        .decimals = (uint8_t)info->decimals,
        .second = c->second,
        .off = c->switched_off,
        .source = c->source,
        .iface = c->iface,
        .pgn = c->pgn,
        .status = c->status,
        .value = c->value,
        .age_ns = now.mono_ns - c->good.mono_ns,
        .period_ns = c->period_ns,
        .steady_per_min = info->steady_per_min,
        .nominal_volts = c->nominal_volts,
        .history = c->history,
        .alert = -1,
    };
    model_find_rate(m, now);
    find_limit(m, c, plant_settings(p));
}

/* In steps, and not from one to the next and back because of a little noise: it stays where it is
 * until the value has gone three quarters of a step. */
static void settle(struct model_channel *c, const struct precision_setting *p, bool shown_before,
                   double before)
{
    if (c->alert >= 0) { /* as its alert says it */
        c->shown = c->value;
        return;
    }
    double step = c->unit == UNIT_RPM   ? p->rpm
                  : c->unit == UNIT_C   ? p->temperature
                  : c->unit == UNIT_KPA ? p->pressure
                  : c->unit == UNIT_LPH ? p->flow
                                        : 0;
    double least = pow(10, -c->decimals);
    if (step < least)
        step = least;
    c->shown = shown_before && fabs(c->value - before) < 0.75 * step
                   ? before
                   : round(c->value / step) * step;
}

void model_settle(struct model *m, bool fresh)
{
    for (size_t i = 0; i < m->channel_count; i++) {
        struct model_channel *c = &m->channels[i];
        bool same = !fresh && strcmp(m->shown[i].key, c->key) == 0;
        settle(c, &m->precision, same, m->shown[i].value);
        text_copy(m->shown[i].key, sizeof m->shown[i].key, c->key);
        m->shown[i].value = c->shown;
    }
}

static void fill_alerts(struct model *m, const struct alert_list *l, struct stamp now)
{
    m->alert_count = alerts_count(l);
    if (m->alert_count > ALERTS_MAX)
        m->alert_count = ALERTS_MAX;
    for (size_t i = 0; i < m->alert_count; i++)
        m->alerts[i] = alerts_at(l, i);
    m->ended_count = alerts_history_count(l);
    if (m->ended_count > ALERTS_HISTORY)
        m->ended_count = ALERTS_HISTORY;
    for (size_t i = 0; i < m->ended_count; i++)
        m->ended[i] = alerts_history_at(l, i);
    m->sounding = alerts_sound(l, now) == SOUND_ALARM;
}

void model_decode_name(struct model_source *s)
{
    struct name_fields f = name_decode(s->name);
    s->function = name_function_text(f.industry_group, f.vehicle_class, f.function);
    s->function_code = f.function;
    s->class_code = f.vehicle_class;
    s->instance = f.function_instance;
    s->maker = f.manufacturer;
}

static void fill_sources(struct model *m, const struct plant *p, struct stamp now)
{
    m->source_count = m->sources_more = 0;
    for (int i = 0; i < SOURCE_IFACES; i++)
        for (int a = 0; a < 256; a++) {
            const struct source_seen *s = plant_source(p, (uint8_t)i, (uint8_t)a);
            if (!s || !s->seen)
                continue;
            if (m->source_count == MODEL_SOURCES) {
                m->sources_more++;
                continue;
            }
            m->sources[m->source_count++] =
                (struct model_source){.iface = (uint8_t)i,
                                      .address = (uint8_t)a,
                                      .name = s->name,
                                      .frames = s->frames,
                                      .age_ns = now.mono_ns - s->last_ns,
                                      .name_changes = s->name_changes,
                                      .gaps = s->gaps,
                                      .earlier = s->earlier,
                                      .earlier_fmi = s->earlier_fmi,
                                      .earlier_spn = s->earlier_spn};
            model_decode_name(&m->sources[m->source_count - 1]);
        }
    for (int i = 0; i < m->source_count; i++)
        for (size_t c = 0; c < m->channel_count; c++)
            m->sources[i].channels += m->channels[c].source == m->sources[i].address &&
                                      m->channels[c].iface == m->sources[i].iface;
}

void model_link_alerts(struct model *m)
{
    m->unacknowledged = 0;
    memset(m->counts, 0, sizeof m->counts);
    for (size_t i = 0; i < m->alert_count; i++) {
        const struct alert *a = m->alerts[i];
        m->counts[a->priority]++;
        if (a->state != ALERT_ACKNOWLEDGED && a->priority != PRIORITY_CAUTION)
            m->unacknowledged++;
    }
    for (size_t i = 0; i < m->channel_count; i++) {
        struct model_channel *c = &m->channels[i];
        for (size_t a = 0; a < m->alert_count && c->alert < 0; a++)
            if (strcmp(m->alerts[a]->channel, c->key) == 0)
                c->alert = (int)a;
        if (c->alert >= 0)
            follow_alert(c, m->alerts[c->alert]);
    }
}

/* The plant's slots in the order in which they are shown; those without an engine are -1. */
static void fill_engines(struct model *m, const struct keeper *k, int shown_as[PLANT_ENGINES])
{
    const struct plant *p = keeper_plant(k);
    int slots[PLANT_ENGINES], n = plant_engines_in_order(p, slots);
    m->engines = 0;
    for (int i = 0; i < PLANT_ENGINES; i++) {
        shown_as[i] = -1;
        m->sense[i][0] = '\0';
    }
    for (int i = 0; i < n; i++) {
        const struct engine *engine = plant_engine(p, slots[i]);
        shown_as[slots[i]] = i;
        m->engines += !engine->generator;
        text_copy(m->engine_names[i], sizeof m->engine_names[i], engine->name);
        m->engine_states[i] = engine->state;
        m->careful[i] = keeper_careful(k, slots[i]);
        const struct cooling_sense sense = keeper_sense(k, slots[i]);
        cooling_sense_words(m->sense[i], sizeof m->sense[i], &sense, cooling_load_text(sense.load),
                            engine->state == ENGINE_RUNNING);
    }
    m->listening = keeper_listened_ns(k) < MODEL_LISTEN_NS;
    m->gathering = keeper_listened_ns(k) < MODEL_GATHER_NS;
}

static struct model_channel *find_own(struct model *m, struct channel_id id)
{
    for (size_t i = 0; i < m->channel_count; i++)
        if (channel_id_same(m->channels[i].id, id) && !m->channels[i].second)
            return &m->channels[i];
    return NULL;
}

static void fill_season(struct model *m, const struct keeper *k)
{
    const struct season_watch *w = keeper_season(k);
    for (int i = 0; w && i < PLANT_ENGINES * SEASON_KEPT; i++) {
        int row = i % SEASON_KEPT, slot = i / SEASON_KEPT;
        const struct season_verdict *v = season_watch_verdict(w, slot, row);
        if (!season_watch_notable(v, row))
            continue;
        struct model_channel *c = find_own(m, v->story->id);
        if (!c)
            continue;
        c->has_season = true;
        c->season_is_share = season_kept[row].share;
        c->season = v->excess;
        c->season_since = season_month(v->story->since_ns);
    }
}

void model_fill(struct model *m, const struct keeper *k, struct stamp now)
{
    const struct plant *p = keeper_plant(k);
    const struct settings *s = keeper_settings(k);
    int shown_as[PLANT_ENGINES];
    m->now = now;
    text_copy(m->vessel, sizeof m->vessel, s->vessel);
    m->trend_span_ns = s->screen.trend_span_ns;
    m->silence_ns = s->alerts.silence_ns;
    m->panes = s->panes;
    m->pane_count = s->pane_count;
    m->has_bus_clock = keeper_bus_clock(k, &m->bus_ahead_ns);
    fill_engines(m, k, shown_as);
    fill_alerts(m, keeper_alerts(k), now);
    m->channel_count = 0;
    for (size_t i = 0; i < plant_count(p) && m->channel_count < MODEL_CHANNELS; i++) {
        const struct channel *c = plant_channel(p, i);
        if (c->status == READING_NEVER || (c->setting && c->setting->hidden))
            continue;
        struct model_channel *mc = &m->channels[m->channel_count++];
        struct expected x = keeper_expected(k, i);
        fill_channel(mc, p, c, now);
        mc->engine = c->engine >= 0 ? shown_as[c->engine] : -1;
        mc->has_expected = x.now;
        mc->expected = x.value;
        mc->allowance = x.allowance;
        mc->expected_low = x.low;
        mc->expected_high = x.high;
    }
    fill_season(m, k);
    m->precision = s->precision;
    model_link_alerts(m);
    model_settle(m, false);
    fill_sources(m, p, now);
}

const struct model_channel *model_find(const struct model *m, const char *key)
{
    for (size_t i = 0; i < m->channel_count; i++)
        if (strcmp(m->channels[i].key, key) == 0)
            return &m->channels[i];
    return NULL;
}

bool model_alarm_stands(const struct model *m)
{
    return m->counts[PRIORITY_ALARM] + m->counts[PRIORITY_EMERGENCY] > 0;
}

enum unit model_unit(const struct unit_choice *u, enum unit base)
{
    switch (base) {
    case UNIT_C:
        return u->temperature;
    case UNIT_KPA:
        return u->pressure;
    case UNIT_L:
        return u->volume;
    case UNIT_LPH:
        return u->flow;
    case UNIT_KN:
        return u->speed;
    default:
        return base;
    }
}

/* Fixed places for each quantity and unit, so that digits stay where they are: bar needs two more
 * than kPa, psi none more. */
static int decimals_in(const struct model_channel *c, enum unit u)
{
    int d = c->decimals;
    if (u == UNIT_BAR)
        d += 2;
    if (u == UNIT_F && d > 0)
        d--;
    return d;
}

/* Blanks between thousands, in place. */
static void group(char *s, size_t cap)
{
    size_t len = strlen(s), digits = 0, start = s[0] == '-' || s[0] == '+';
    while (s[start + digits] >= '0' && s[start + digits] <= '9')
        digits++;
    for (size_t at = digits; at > 3 && len + 2 <= cap;) {
        at -= 3;
        memmove(s + start + at + 1, s + start + at, len - start - at + 1);
        s[start + at] = ' ';
        len++;
    }
}

const char *model_number_text(const struct model *m, const struct model_channel *c, double value,
                              int decimals, char *dst, size_t cap)
{
    enum unit u = model_unit(&m->units, c->unit);
    if (!text_number(dst, cap, unit_from_base(u, value), decimals))
        text_copy(dst, cap, "--");
    group(dst, cap);
    return dst;
}

void model_span_text(int64_t ns, char *dst, size_t cap)
{
    long long s = ns / NS_PER_S;
    if (s % 3600 == 0)
        text_format(dst, cap, "%lld h", s / 3600);
    else if (s % 60 == 0)
        text_format(dst, cap, "%lld min", s / 60);
    else
        text_format(dst, cap, "%lld s", s);
}

const char *model_value_text(const struct model *m, const struct model_channel *c, double value,
                             char *dst, size_t cap)
{
    return model_number_text(m, c, value, decimals_in(c, model_unit(&m->units, c->unit)), dst, cap);
}

const char *model_rate_text(const struct model *m, const struct model_channel *c, char *dst,
                            size_t cap)
{
    dst[0] = '\0';
    if (!c->has_rate || model_rate_step(c) == 0)
        return dst;
    enum unit u = model_unit(&m->units, c->unit);
    double rate = unit_from_base_difference(u, c->rate_per_min);
    char number[32];
    int decimals = fabs(rate) < 9.95 ? 1 : 0;
    if (!text_number(number, sizeof number, rate, decimals))
        return dst;
    text_format(dst, cap, "%s%s", rate > 0 ? "+" : "", number);
    return dst;
}

static const char *word_for(const struct model_channel *c)
{
    if (c->id.quantity == QTY_GEAR)
        return c->value > 0.5 ? "ahead" : c->value < -0.5 ? "astern" : "neutral";
    if (c->id.quantity == QTY_SWITCH)
        return c->value > 0.5 ? "on" : "off";
    return quantity_state((enum quantity)c->id.quantity, c->value);
}

const char *model_reading_text(const struct model *m, const struct model_channel *c, char *dst,
                               size_t cap)
{
    if (c->status == READING_ERROR) {
        text_copy(dst, cap, "err");
    } else if (c->status == READING_OK || c->status == READING_STALE) {
        const char *word = word_for(c);
        if (!word)
            return model_value_text(m, c, c->shown, dst, cap);
        text_copy(dst, cap, word);
    } else {
        text_copy(dst, cap, "--");
    }
    return dst;
}

int model_rate_step(const struct model_channel *c)
{
    if (!c->has_rate || c->status != READING_OK)
        return 0;
    double r = c->rate_per_min, steady = c->steady_per_min;
    int step = fabs(r) < steady ? 0 : fabs(r) < 4 * steady ? 1 : 2;
    return r < 0 ? -step : step;
}

/* In the largest unit of which there are two. */
static char age_of(const struct model_channel *c, int *n)
{
    int64_t s = c->age_ns / NS_PER_S;
    char unit = s < 120 ? 's' : s < 7200 ? 'm' : 'h';
    *n = (int)(unit == 's' ? s : unit == 'm' ? s / 60 : s / 3600);
    return unit;
}

const char *model_age_text(const struct model_channel *c, char *dst, size_t cap)
{
    int n;
    char unit = age_of(c, &n);
    if (c->off)
        text_copy(dst, cap, "off");
    else
        text_format(dst, cap, "%d %c%s old", n, unit, unit == 'm' ? "in" : "");
    return dst;
}

void model_age_short(const struct model_channel *c, char *dst, size_t cap)
{
    int n;
    char unit = age_of(c, &n);
    text_format(dst, cap, "%d%c old", n, unit);
}
