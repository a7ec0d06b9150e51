#include "rules/rules.h"

#include "rules/kinds.h"
#include "base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Kinds whose rules bind to channels one by one. rise, departure and split are one watch
 * (rule_cooling.c); reported, combined and bus look at messages, the whole boat, frames. */
static const struct rule_ops *const kinds[KIND_COUNT] = {
    [KIND_LIMIT] = &rule_limit_ops,       [KIND_SILENT] = &rule_silent_ops,
    [KIND_CONFLICT] = &rule_conflict_ops, [KIND_SPAN] = &rule_span_ops,
    [KIND_STATE] = &rule_state_ops,
};

struct rules *rules_new(const struct settings *settings, struct plant *plant,
                        struct alert_list *alerts)
{
    struct rules *r = calloc(1, sizeof *r);
    if (!r)
        return NULL;
    r->settings = settings;
    r->plant = plant;
    r->alerts = alerts;
    r->bindings = calloc(RULES_BINDINGS_MAX, sizeof *r->bindings);
    r->cooling = rule_cooling_new(r);
    r->reported = rule_reported_new();
    r->combined = rule_combined_new();
    r->silent = rule_silent_new();
    r->never = rule_never_new();
    r->quiet = rule_quiet_new();
    r->states = rule_state_new();
    if (!r->bindings || !r->cooling || !r->reported || !r->combined || !r->silent || !r->never ||
        !r->quiet || !r->states) {
        rules_free(r);
        return NULL;
    }
    rule_combined_configure(r);
    rule_never_configure(r);
    return r;
}

void rules_free(struct rules *r)
{
    if (!r)
        return;
    rule_cooling_free(r->cooling);
    rule_reported_free(r->reported);
    rule_combined_free(r->combined);
    rule_silent_free(r->silent);
    rule_never_free(r->never);
    rule_quiet_free(r->quiet);
    rule_state_free(r->states);
    free(r->bindings);
    free(r);
}

void rules_name_iface(struct rules *r, uint8_t iface, const char *name)
{
    text_copy(r->iface_names[iface], sizeof r->iface_names[iface], name);
}

/* ---- binding ---- */

static struct channel_rules *of(const struct channel *c)
{
    return c->rules;
}

static struct binding *free_binding(struct rules *r)
{
    for (size_t i = 0; i < r->binding_top; i++)
        if (!r->bindings[i].used)
            return &r->bindings[i];
    if (r->binding_top == RULES_BINDINGS_MAX)
        return NULL;
    return &r->bindings[r->binding_top++];
}

static void bind(struct rules *r, const struct rule_setting *rule, struct channel *c)
{
    struct binding *b = free_binding(r);
    if (!b) {
        r->unbound++;
        return;
    }
    memset(b, 0, sizeof *b);
    b->used = true;
    b->rule = rule;
    b->ops = kinds[rule->kind];
    b->channel = c;
    b->claimant = rules_new_claimant(r);
    if (rule->kind == KIND_STATE)
        rule_state_bound(r, b);
    struct binding **where = &of(c)->first;
    if (!b->ops->reading)
        while (*where)
            where = &(*where)->next;
    b->next = *where;
    *where = b;
}

static void unbind(struct rules *r, struct binding *b, struct stamp at)
{
    rules_withdraw(r, b, at);
    struct binding **where = &of(b->channel)->first;
    while (*where != b)
        where = &(*where)->next;
    *where = b->next;
    if (b->rule->kind == KIND_STATE)
        rule_state_unbound(r, b);
    b->used = false;
}

static bool takes(const struct rules *r, const struct rule_setting *rule, const struct channel *c)
{
    const struct rule_ops *ops = kinds[rule->kind];
    /* What is worked out has no sensor of its own. */
    if (c->derived &&
        (rule->kind == KIND_SILENT || rule->kind == KIND_CONFLICT || rule->kind == KIND_SPAN))
        return false;
    return ops && settings_rule_applies(r->settings, rule, c->id) &&
           (!ops->binds || ops->binds(rule, c));
}

/* What the loss of this channel would cost. */
static bool depended(const struct rules *r, const struct channel *c)
{
    if (of(c)->cooling >= 0 && of(c)->cooling != COOLING_SEA)
        return true;
    for (const struct binding *b = of(c)->first; b; b = b->next)
        if (b->rule->kind == KIND_STATE ||
            (b->rule->kind == KIND_LIMIT && b->rule->priority >= PRIORITY_ALARM))
            return true;
    return rule_combined_uses(r, c);
}

void rules_appeared(struct rules *r, struct channel *c)
{
    if (r->channel_count == PLANT_CHANNELS)
        return;
    struct channel_rules *cr = &r->channels[r->channel_count++];
    c->rules = cr;
    cr->cooling = (int8_t)rule_cooling_sensor(c);
    for (size_t i = 0; i < r->settings->rule_count; i++)
        if (takes(r, &r->settings->rules[i], c))
            bind(r, &r->settings->rules[i], c);
    cr->depended = depended(r, c);
}

static struct binding *find_binding(const struct channel *c, const struct rule_setting *rule)
{
    for (struct binding *b = of(c)->first; b; b = b->next)
        if (b->rule->kind == rule->kind && strcmp(b->rule->name, rule->name) == 0)
            return b;
    return NULL;
}

void rules_baseline(struct rules *r, const struct baseline *b)
{
    rule_cooling_baseline(r, b);
}

void rules_reconfigure(struct rules *r, const struct settings *settings)
{
    struct stamp now = plant_now(r->plant);
    r->settings = settings;
    alerts_set(r->alerts, &settings->alerts);
    alerts_reword(r->alerts, settings);
    for (size_t i = 0; i < r->binding_top; i++)
        r->bindings[i].marked = false;
    size_t n = plant_count(r->plant);
    for (size_t k = 0; k < n; k++) {
        struct channel *c = plant_channel(r->plant, k);
        if (!c->rules)
            continue;
        of(c)->cooling = (int8_t)rule_cooling_sensor(c); /* it may have become a dry one */
        for (size_t i = 0; i < settings->rule_count; i++) {
            const struct rule_setting *rule = &settings->rules[i];
            if (!takes(r, rule, c))
                continue;
            struct binding *b = find_binding(c, rule);
            if (b) {
                b->rule = rule;
                b->marked = true;
            }
        }
    }
    for (size_t i = 0; i < r->binding_top; i++)
        if (r->bindings[i].used && !r->bindings[i].marked)
            unbind(r, &r->bindings[i], now);
    rule_combined_configure(r);
    for (size_t k = 0; k < n; k++) {
        struct channel *c = plant_channel(r->plant, k);
        if (!c->rules)
            continue;
        for (size_t i = 0; i < settings->rule_count; i++)
            if (takes(r, &settings->rules[i], c) && !find_binding(c, &settings->rules[i]))
                bind(r, &settings->rules[i], c);
        of(c)->depended = depended(r, c);
    }
    rule_cooling_configure(r);
    rule_never_configure(r);
}

uint64_t rules_unbound(const struct rules *r)
{
    return r->unbound;
}

/* ---- what the plant tells ---- */

void rules_reading(struct rules *r, struct channel *c, struct stamp at)
{
    struct channel_rules *cr = of(c);
    if (!cr)
        return;
    for (struct binding *b = cr->first; b && b->ops->reading; b = b->next)
        b->ops->reading(r, b, at);
    if (cr->cooling >= 0)
        rule_cooling_reading(r, c, cr->cooling, at);
}

void rules_status(struct rules *r, struct channel *c, struct stamp at)
{
    struct channel_rules *cr = of(c);
    if (!cr)
        return;
    for (struct binding *b = cr->first; b; b = b->next)
        if (b->ops->status)
            b->ops->status(r, b, at);
}

void rules_conflict(struct rules *r, struct channel *second, struct channel *holder,
                    struct stamp at)
{
    rule_conflict_raise(r, second, holder, at);
}

void rules_engine(struct rules *r, int engine, struct stamp at)
{
    rule_cooling_engine(r, engine, at);
}

void rules_frame(struct rules *r, const struct frame *f)
{
    r->heard_ns = f->mono_ns;
    rule_quiet_frame(r, f);
}

void rules_message(struct rules *r, const struct message *m)
{
    rule_reported_message(r, m);
}

void rules_tick(struct rules *r, struct stamp now)
{
    rule_cooling_tick(r, now);
    if (now.mono_ns - r->swept_ns < NS_PER_S)
        return;
    r->swept_ns = now.mono_ns;
    for (size_t i = 0; i < r->binding_top; i++) {
        struct binding *b = &r->bindings[i];
        if (b->used && b->ops->sweep)
            b->ops->sweep(r, b, now);
    }
    rule_quiet_begin(r, now);
    rule_silent_sweep(r, now);
    rule_quiet_end(r, now);
    rule_never_sweep(r, now);
    rule_combined_sweep(r, now);
    rule_reported_sweep(r, now);
}

void rules_hole(struct rules *r, struct stamp now)
{
    for (size_t i = 0; i < r->binding_top; i++)
        if (r->bindings[i].used && r->bindings[i].rule->kind == KIND_SILENT)
            r->bindings[i].ops->gap(&r->bindings[i], now);
    rule_quiet_gap(r, now);
}

void rules_gap(struct rules *r, struct stamp now)
{
    for (size_t i = 0; i < r->binding_top; i++) {
        struct binding *b = &r->bindings[i];
        if (b->used && b->ops->gap)
            b->ops->gap(b, now);
    }
    rule_cooling_gap(r, now);
    rule_combined_gap(r);
    rule_never_gap(r, now);
    rule_quiet_gap(r, now);
    r->swept_ns = now.mono_ns;
}

/* ---- for the kinds ---- */

uint32_t rules_new_claimant(struct rules *r)
{
    return ++r->last_claimant;
}

const struct rule_setting *rules_find(const struct rules *r, enum rule_kind kind,
                                      const struct channel *c)
{
    for (size_t i = 0; i < r->settings->rule_count; i++) {
        const struct rule_setting *rule = &r->settings->rules[i];
        if (rule->kind != kind || !rule->enabled)
            continue;
        if (!c || settings_rule_applies(r->settings, rule, c->id))
            return rule;
    }
    return NULL;
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

bool rules_may_look(const struct rules *r, const struct rule_setting *rule, const struct channel *c,
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

bool rules_excluded(const struct rules *r, const struct rule_setting *rule, const struct channel *c,
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

void rules_words(const struct rules *r, struct words *w, const struct channel *c, int64_t now_ns)
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

struct situation rules_situation(const struct rules *r, const struct channel *c)
{
    struct situation s = {.group = SITUATION_CHANNEL, .id = c->id};
    if (c->second) { /* it may be another place altogether */
        s.iface = c->iface;
        s.source = c->source;
        s.code = 1;
        return s;
    }
    rule_cooling_situation(r, c, &s);
    return s;
}

void rules_claim(struct rules *r, struct binding *b, enum priority p, struct situation s,
                 const struct words *w, struct stamp at)
{
    const struct channel *c = b->channel;
    char text[ALERT_TEXT_SIZE];
    words_build(text, sizeof text, w, r->settings, WORDS_COLUMNS);
    struct alert_claim claim = {
        .situation = s,
        .claimant = b->claimant,
        .kind = b->rule->kind,
        .rule = b->rule->name,
        .priority = p,
        .channel = c->key,
        .value = w->value,
        .unit = c->unit,
        .decimals = c->decimals < 2 ? c->decimals : 2,
        .text = text,
        .words = w,
        .advice = w->advice,
        .figures = {.value = w->value,
                    .expected = NAN,
                    .allowance = NAN,
                    .noise = NAN,
                    .statistic = NAN,
                    .threshold = NAN,
                    .rate_per_min = w->rate_per_min,
                    .seconds_to_limit = w->seconds,
                    .limit = w->limit},
    };
    b->claimed = true;
    b->said_ns = at.mono_ns;
    alerts_claim(r->alerts, &claim, at);
}

void rules_withdraw(struct rules *r, struct binding *b, struct stamp at)
{
    if (!b->claimed)
        return;
    b->claimed = false;
    alerts_withdraw(r->alerts, b->claimant, at);
}

bool rules_depends(const struct channel *c)
{
    return c->rules && of(c)->depended;
}

double rules_nominal(const struct rule_setting *rule, const struct channel *c, double v)
{
    return rule->per_12v ? v * c->nominal_volts / 12.0 : v;
}

bool rules_wild(const struct channel *c, double value)
{
    const struct quantity_info *info = quantity_info((enum quantity)c->id.quantity);
    if (c->setting && c->setting->has_span)
        return value < c->setting->span_low || value > c->setting->span_high;
    return value < info->lowest || value > info->highest;
}

void rules_sender_name(const struct rules *r, uint8_t iface, uint8_t source, char *dst, size_t cap)
{
    int named = 0;
    for (int i = 0; i < 256; i++)
        named += r->iface_names[i][0] != '\0';
    if (named > 1)
        text_format(dst, cap, "sender %d on %s", source, r->iface_names[iface]);
    else
        text_format(dst, cap, "sender %d", source);
}
