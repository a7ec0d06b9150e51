#include "rules/rule.h"

#include "base/text.h"
#include "bus/condition.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#include "base/banned.h"

#define LOST_NS (10 * NS_PER_S) /* what is wild for longer is more than noise */
/* Claimants of conditions, apart from those that rule_new_claimant counts up from 1. */
#define CONDITION_CLAIMANT 0xF0000000u

uint32_t rule_new_claimant(struct rules *r)
{
    return ++r->last_claimant;
}

void rule_find_all(const struct rules *r, const struct channel *c, struct channel_rules *out)
{
    for (int k = 0; k < KIND_COUNT; k++)
        out->of_kind[k] = NULL;
    out->alarm_above = NAN;
    out->has_alarm_above = out->has_alarm_below = false;
    for (size_t i = 0; i < r->settings->rule_count; i++) {
        const struct rule_setting *rule = &r->settings->rules[i];
        if (!settings_rule_applies(r->settings, rule, c->id))
            continue;
        if (!out->of_kind[rule->kind])
            out->of_kind[rule->kind] = rule;
        if (rule->kind != KIND_LIMIT || rule->priority < PRIORITY_ALARM)
            continue;
        if (rule->has_above && !(rule->above >= out->alarm_above))
            out->alarm_above = rule->above;
        out->has_alarm_above = out->has_alarm_above || rule->has_above;
        out->has_alarm_below = out->has_alarm_below || rule->has_below;
    }
}

const struct rule_setting *rule_find(const struct rules *r, enum rule_kind kind,
                                     const struct channel *c)
{
    if (c)
        return rule_channel(c)->of_kind[kind];
    for (size_t i = 0; i < r->settings->rule_count; i++) {
        const struct rule_setting *rule = &r->settings->rules[i];
        if (rule->kind == kind && rule->enabled)
            return rule;
    }
    return NULL;
}

bool rule_of_boat(const struct rules *r, enum rule_kind kind, const struct rule_setting **rule)
{
    *rule = NULL;
    for (size_t i = 0; i < r->settings->rule_count; i++)
        if (r->settings->rules[i].kind == kind) {
            *rule = &r->settings->rules[i];
            return (*rule)->enabled;
        }
    return true;
}

void rule_condition(struct rules *r, uint32_t code, enum priority p, const char *text, bool stands,
                    struct stamp at)
{
    uint32_t claimant = CONDITION_CLAIMANT + (code & 0x0FFFFFFF);
    enum rule_kind kind = condition_is_own(code) ? KIND_SELF : KIND_BUS;
    const struct rule_setting *rule;
    if (!rule_of_boat(r, kind, &rule) || !stands) {
        alerts_withdraw(r->alerts, claimant, at);
        return;
    }
    struct alert_claim c = {
        .situation = {.group = SITUATION_BUS, .code = code},
        .claimant = claimant,
        .kind = kind,
        .rule = rule ? rule->name : kind_text(kind),
        .priority = rule && rule->priority < p ? rule->priority : p,
        .value = NAN,
        .text = text,
        .trouble = kind == KIND_SELF ? TROUBLE_SELF : TROUBLE_BUS,
        .stage = STAGE_CERTAIN,
        .figures = ALERT_NO_FIGURES,
    };
    alerts_claim(r->alerts, &c, at);
}

bool rule_watched(const struct rules *r, enum rule_kind kind, enum priority least,
                  const struct channel *c)
{
    for (size_t i = 0; i < r->settings->rule_count; i++) {
        const struct rule_setting *rule = &r->settings->rules[i];
        if (rule->kind == kind && rule->priority >= least &&
            settings_rule_applies(r->settings, rule, c->id))
            return true;
    }
    return false;
}

/* Longest time that some engine has run; -1 where none does. */
static int64_t any_running_ns(const struct rules *r, int64_t now_ns)
{
    int64_t longest = -1;
    for (int i = 0; i < PLANT_ENGINES; i++) {
        const struct engine *e = plant_engine(r->plant, i);
        if (e->exists && e->state == ENGINE_RUNNING && now_ns - e->since_ns > longest)
            longest = now_ns - e->since_ns;
    }
    return longest;
}

/* Shortest time that every engine has stood; -1 where one runs or none is known to stand. */
static int64_t all_stopped_ns(const struct rules *r, int64_t now_ns)
{
    int64_t shortest = -1;
    for (int i = 0; i < PLANT_ENGINES; i++) {
        const struct engine *e = plant_engine(r->plant, i);
        if (!e->exists)
            continue;
        if (e->state != ENGINE_STOPPED)
            return -1;
        if (shortest < 0 || now_ns - e->since_ns < shortest)
            shortest = now_ns - e->since_ns;
    }
    return shortest;
}

bool rule_may_look(const struct rules *r, const struct rule_setting *rule, const struct channel *c,
                   bool upper, int64_t now_ns)
{
    if (rule->while_state == WHILE_ALWAYS)
        return true;
    bool running = rule->while_state == WHILE_RUNNING;
    if (!c || c->engine < 0) {
        int64_t ns = running ? any_running_ns(r, now_ns) : all_stopped_ns(r, now_ns);
        return ns >= 0 && ns >= rule->settle_ns;
    }
    const struct engine *e = plant_engine(r->plant, c->engine);
    if (e->state == ENGINE_UNKNOWN)
        return running && upper;
    return e->state == (running ? ENGINE_RUNNING : ENGINE_STOPPED) &&
           now_ns - e->since_ns >= rule->settle_ns;
}

bool rule_excluded(const struct rules *r, const struct rule_setting *rule, const struct channel *c,
                   int64_t now_ns)
{
    if (rule->while_state == WHILE_ALWAYS)
        return false;
    enum engine_state other = rule->while_state == WHILE_RUNNING ? ENGINE_STOPPED : ENGINE_RUNNING;
    if (c->engine >= 0)
        return plant_engine(r->plant, c->engine)->state == other;
    return other == ENGINE_STOPPED ? all_stopped_ns(r, now_ns) >= 0
                                   : any_running_ns(r, now_ns) >= 0;
}

void held_add(struct held *h, const struct channel *c, int64_t t_ns)
{
    int64_t hole = 3 * c->period_ns > 5 * NS_PER_S ? 3 * c->period_ns : 5 * NS_PER_S;
    if (h->samples == 0 || t_ns - h->last_ns > hole || t_ns < h->since_ns) {
        h->samples = 0;
        h->since_ns = t_ns;
    }
    h->samples++;
    h->last_ns = t_ns;
}

bool held_long_enough(const struct held *h, const struct channel *c, int64_t hold_ns)
{
    uint32_t samples = c->period_ns >= NS_PER_S ? 2 : 3;
    return h->samples >= samples && h->last_ns - h->since_ns >= hold_ns;
}

void rule_words(const struct rules *r, struct words *w, const struct channel *c, int64_t now_ns)
{
    memset(w, 0, sizeof *w);
    words_subject(w->subject, sizeof w->subject, r->plant, c);
    w->quantity = (enum quantity)c->id.quantity;
    w->value = c->value;
    w->limit = NAN;
    w->seconds = NAN;
    /* Only for the words: about the last 15 s, or what slow senders need for three points. */
    int64_t over = 5 * c->period_ns > 15 * NS_PER_S ? 5 * c->period_ns : 15 * NS_PER_S;
    if (!history_rate_per_min(c->history, now_ns, over, &w->rate_per_min))
        w->rate_per_min = NAN;
}

void rule_claim(struct rules *r, struct binding *b, struct alert_claim *c, const struct words *w,
                struct stamp at)
{
    const struct channel *ch = b->channel;
    c->claimant = b->claimant;
    c->kind = b->rule->kind;
    c->rule = b->rule->name;
    c->channel = ch->key;
    c->value = c->dark ? ch->value : w->value;
    c->unit = ch->unit;
    c->decimals = ch->decimals < 2 ? ch->decimals : 2;
    c->words = w;
    c->figures = (struct alert_figures)ALERT_NO_FIGURES;
    c->figures.value = c->value;
    c->figures.rate_per_min = w->rate_per_min;
    c->figures.seconds_to_limit = w->seconds;
    c->figures.limit = w->limit;
    b->claimed = true;
    alerts_claim(r->alerts, c, at);
}

void rule_end(struct rules *r, struct binding *b, enum alert_end why, struct stamp at)
{
    const struct channel *c = b->channel;
    if (!b->claimed)
        return;
    b->claimed = false;
    alerts_end(r->alerts, b->claimant, why, c->readings > 0 ? c->value : NAN, at);
}

void rule_withdraw(struct rules *r, struct binding *b, struct stamp at)
{
    rule_end(r, b, END_GONE, at);
}

bool rule_needs(const struct rules *r, const struct channel *c)
{
    for (int i = 0; i < r->module_count; i++) {
        const struct rule_module *m = r->modules[i];
        if (m->needs && m->needs(r, r->own[i], c))
            return true;
    }
    return false;
}

bool rule_wild_for_long(const struct channel *c, int64_t now_ns)
{
    int64_t patience = 3 * c->period_ns > LOST_NS ? 3 * c->period_ns : LOST_NS;
    return now_ns - c->sane_at.mono_ns > patience;
}

void rule_words_last(struct words *w, const struct channel *c, char *more, size_t cap)
{
    text_format(more, cap, " %s, last ",
                c->switched_off              ? "engine off"
                : c->status == READING_OK    ? "outside its span"
                : c->status == READING_STALE ? "silent"
                : c->status == READING_ERROR ? "in error"
                                             : "not available");
    words_add_figure(w, more, cap, w->quantity, c->sane, false);
    text_append(more, cap, WORDS_MORE_END " at ");
    words_add_clock(w, more, cap, c->sane_at.wall_ns);
    w->value = w->rate_per_min = w->limit = w->seconds = NAN;
    w->more = more;
}

const char *rule_on_iface(const struct rules *r, uint8_t iface, char *dst, size_t cap)
{
    int named = 0;
    for (int i = 0; i < 256; i++)
        named += r->iface_names[i][0] != '\0';
    text_format(dst, cap, "%s%s", named > 1 ? " on " : "", named > 1 ? r->iface_names[iface] : "");
    return dst;
}

void rule_sender_name(const struct rules *r, uint8_t iface, uint8_t source, char *dst, size_t cap)
{
    char on[32];
    text_format(dst, cap, "sender %d%s", source, rule_on_iface(r, iface, on, sizeof on));
}

void rule_engine_name(const struct engine *e, char *dst, size_t cap)
{
    bool says = strncasecmp(e->name, "ENGINE", 6) == 0 || strncasecmp(e->name, "GENERATOR", 9) == 0;
    text_format(dst, cap, "%s%s", e->name, says ? "" : " ENGINE");
}
