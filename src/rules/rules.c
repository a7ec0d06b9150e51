#include "rules/rules.h"

#include "rules/kinds.h"
#include "base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Every kind of rule, in the order in which they are asked. */
static const struct rule_module *const modules[] = {
    &rule_cooling_module,  &rule_limit_module,    &rule_conflict_module, &rule_span_module,
    &rule_state_module,    &rule_bus_module,      &rule_silent_module,   &rule_never_module,
    &rule_combined_module, &rule_reported_module, &rule_told_module,     &rule_season_module,
    &rule_self_module,     &rule_blower_module,
};
enum { MODULES = sizeof modules / sizeof *modules };
_Static_assert(MODULES <= RULE_MODULES_MAX, "a slot and a bit for each module");

struct rules *rules_new(const struct settings *settings, struct plant *plant,
                        struct alert_list *alerts)
{
    struct rules *r = calloc(1, sizeof *r);
    if (!r)
        return NULL;
    r->settings = settings;
    r->plant = plant;
    r->alerts = alerts;
    r->modules = modules;
    r->module_count = MODULES;
    r->bindings = calloc(RULE_BINDINGS_MAX, sizeof *r->bindings);
    bool good = r->bindings != NULL;
    for (int i = 0; i < MODULES && good; i++) {
        if (modules[i]->own_size > 0)
            good = (r->own[i] = calloc(1, modules[i]->own_size)) != NULL;
        if (good && modules[i]->init)
            good = modules[i]->init(r, r->own[i]);
        if (modules[i]->message) {
            r->on_message[r->message_count++] = (uint8_t)i;
            for (const uint32_t *pgn = modules[i]->pgns; *pgn != 0; pgn++)
                r->message_pgns |= UINT64_C(1) << *pgn % 64;
        }
    }
    if (!good) {
        rules_free(r);
        return NULL;
    }
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->configure)
            modules[i]->configure(r, r->own[i]);
    return r;
}

void rules_free(struct rules *r)
{
    if (!r)
        return;
    for (int i = 0; i < MODULES; i++) {
        if (r->own[i] && modules[i]->fini)
            modules[i]->fini(r->own[i]);
        free(r->own[i]);
    }
    free(r->bindings);
    free(r);
}

void rules_name_iface(struct rules *r, uint8_t iface, const char *name)
{
    text_copy(r->iface_names[iface], sizeof r->iface_names[iface], name);
}

uint64_t rules_unbound(const struct rules *r)
{
    return r->unbound;
}

void rules_condition(struct rules *r, uint32_t code, enum priority p, const char *text, bool stands,
                     struct stamp at)
{
    rule_condition(r, code, p, text, stands, at);
}

struct season_watch *rules_season(const struct rules *r)
{
    return rule_season_watch(r);
}

struct cooling_sense rules_sense(const struct rules *r, int engine)
{
    return rule_cooling_sense(r, engine);
}

bool rules_careful(const struct rules *r, int engine)
{
    return rule_cooling_careful(r, engine);
}

bool rules_expected(const struct rules *r, const struct channel *c, double *value,
                    double *allowance)
{
    return rule_cooling_expected(r, c, value, allowance);
}

/* A claim is renewed a few times a second, and a sensor may send more often than that. */
bool rules_freshen(struct rules *r)
{
    bool changed = false;
    for (size_t i = 0; i < alerts_count(r->alerts); i++) {
        const struct alert *a = alerts_at(r->alerts, i);
        const struct channel *c =
            a->active && a->channel[0] ? plant_find_key(r->plant, a->channel) : NULL;
        if (c && c->status == READING_OK && !c->is_wild)
            changed |= alerts_follow(r->alerts, i, (enum quantity)c->id.quantity, c->value);
    }
    return changed;
}

/* ---- binding ---- */

static const struct rule_module *module_of(enum rule_kind kind)
{
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->binding && modules[i]->kind == kind)
            return modules[i];
    return NULL;
}

static struct binding *free_binding(struct rules *r)
{
    for (size_t i = 0; i < r->binding_top; i++)
        if (!r->bindings[i].used)
            return &r->bindings[i];
    if (r->binding_top == RULE_BINDINGS_MAX)
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
    b->module = module_of(rule->kind);
    b->own = rule_own(r, b->module);
    b->channel = c;
    b->calm.low = NAN;
    b->claimant = rule_new_claimant(r);
    if (b->module->bound)
        b->module->bound(b->own, b);
    b->looks = (uint8_t)b->module->looks;
    b->heeds = !b->module->reading ? HEEDS_NONE : b->module->wild_only ? HEEDS_WILD : HEEDS_ALL;
    struct binding **where = &rule_channel(c)->first;
    while (*where && ((*where)->heeds > b->heeds || b->heeds == HEEDS_NONE))
        where = &(*where)->next;
    b->next = *where;
    *where = b;
}

static void unbind(struct rules *r, struct binding *b, struct stamp at)
{
    rule_withdraw(r, b, at);
    struct binding **where = &rule_channel(b->channel)->first;
    while (*where != b)
        where = &(*where)->next;
    *where = b->next;
    if (b->module->unbound)
        b->module->unbound(b->own, b);
    b->used = false;
    b->looks = LOOKS_NEVER;
}

static bool takes(const struct rules *r, const struct rule_setting *rule, const struct channel *c)
{
    const struct rule_module *m = module_of(rule->kind);
    return m && !(c->derived && m->sensors_only) &&
           settings_rule_applies(r->settings, rule, c->id) && (!m->binds || m->binds(rule, c));
}

static void find_wanted(const struct rules *r, const struct channel *c)
{
    struct channel_rules *cr = rule_channel(c);
    rule_find_all(r, c, cr);
    cr->wanted = 0;
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->wants && modules[i]->wants(c))
            cr->wanted |= UINT32_C(1) << i;
}

void rules_appeared(struct rules *r, struct channel *c)
{
    if (r->channel_count == PLANT_CHANNELS)
        return;
    c->rules = &r->channels[r->channel_count++];
    find_wanted(r, c);
    for (size_t i = 0; i < r->settings->rule_count; i++)
        if (takes(r, &r->settings->rules[i], c))
            bind(r, &r->settings->rules[i], c);
    rule_channel(c)->needed = rule_needs(r, c);
}

static struct binding *find_binding(const struct channel *c, const struct rule_setting *rule)
{
    for (struct binding *b = rule_channel(c)->first; b; b = b->next)
        if (b->rule->kind == rule->kind && strcmp(b->rule->name, rule->name) == 0)
            return b;
    return NULL;
}

static void mark_and_sweep(struct rules *r)
{
    for (size_t i = 0; i < r->binding_top; i++)
        r->bindings[i].marked = false;
    for (size_t k = 0; k < plant_count(r->plant); k++) {
        const struct channel *c = plant_channel(r->plant, k);
        for (size_t i = 0; c->rules && i < r->settings->rule_count; i++) {
            const struct rule_setting *rule = &r->settings->rules[i];
            struct binding *b = takes(r, rule, c) ? find_binding(c, rule) : NULL;
            if (b) {
                b->rule = rule;
                b->calm.low = NAN;
                b->marked = true;
            }
        }
    }
    for (size_t i = 0; i < r->binding_top; i++)
        if (r->bindings[i].used && !r->bindings[i].marked)
            unbind(r, &r->bindings[i], plant_now(r->plant));
}

void rules_reconfigure(struct rules *r, const struct settings *settings)
{
    r->settings = settings;
    alerts_set(r->alerts, &settings->alerts);
    alerts_reword(r->alerts, settings);
    mark_and_sweep(r);
    size_t n = plant_count(r->plant);
    for (size_t k = 0; k < n; k++) {
        struct channel *c = plant_channel(r->plant, k);
        if (!c->rules)
            continue;
        find_wanted(r, c); /* it may have become a dry one */
        for (size_t i = 0; i < settings->rule_count; i++)
            if (takes(r, &settings->rules[i], c) && !find_binding(c, &settings->rules[i]))
                bind(r, &settings->rules[i], c);
    }
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->configure)
            modules[i]->configure(r, r->own[i]);
    for (size_t k = 0; k < n; k++) {
        const struct channel *c = plant_channel(r->plant, k);
        if (c->rules)
            rule_channel(c)->needed = rule_needs(r, c);
    }
}

/* ---- what the plant tells ---- */

static inline bool take_calm(struct binding *b, double value, int64_t at_ns)
{
    if (!(value >= b->calm.low && value <= b->calm.high))
        return false;
    b->calm.value = value;
    b->calm.at_ns = at_ns;
    return true;
}

/* b: the first rule of the channel that is not calm. Apart, so that the others need no room for
 * it. */
__attribute__((noinline)) static void give_reading(struct rules *r, const struct channel *c,
                                                   struct binding *b, struct stamp at)
{
    const struct channel_rules *cr = rule_channel(c);
    uint8_t least = c->is_wild ? HEEDS_WILD : HEEDS_ALL;
    bool good = c->status == READING_OK && !c->is_wild;
    for (; b && b->heeds >= least; b = b->next)
        if (!good || !take_calm(b, c->value, at.mono_ns))
            b->module->reading(r, b->own, b, at);
    for (uint32_t left = cr->wanted; left; left &= left - 1) {
        int i = __builtin_ctz(left);
        modules[i]->heard(r, r->own[i], c, at);
    }
}

/* Nearly always everybody is calm, or only one is not. */
void rules_reading(struct rules *r, struct channel *c, struct stamp at)
{
    const struct channel_rules *cr = rule_channel(c);
    struct binding *b = cr->first;
    if (c->status == READING_OK && !c->is_wild)
        while (b && take_calm(b, c->value, at.mono_ns))
            b = b->next;
    if ((b && b->heeds >= (c->is_wild ? HEEDS_WILD : HEEDS_ALL)) || cr->wanted)
        give_reading(r, c, b, at);
}

void rules_status(struct channel *c, struct stamp at)
{
    if (!c->rules)
        return;
    for (struct binding *b = rule_channel(c)->first; b; b = b->next)
        if (b->module->status)
            b->module->status(b->own, b, at);
}

void rules_conflict(struct rules *r, struct channel *second, struct channel *holder,
                    struct stamp at)
{
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->conflict)
            modules[i]->conflict(r, second, holder, at);
}

void rules_engine(struct rules *r, int engine, struct stamp at)
{
    enum engine_state state = plant_engine(r->plant, engine)->state;
    if (state != ENGINE_UNKNOWN)
        alerts_engine(r->alerts, engine, state == ENGINE_STOPPED, at);
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->engine)
            modules[i]->engine(r, r->own[i], engine, at);
}

void rules_frames(struct rules *r, const struct frame *f, size_t n)
{
    r->heard_ns = f[n - 1].mono_ns;
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->frames)
            modules[i]->frames(r->own[i], f, n);
}

void rules_message(struct rules *r, const struct message *m)
{
    if ((r->message_pgns >> m->pgn % 64 & 1) == 0)
        return;
    for (int i = 0; i < r->message_count; i++)
        modules[r->on_message[i]]->message(r, r->own[r->on_message[i]], m);
}

static inline bool is_looked_at(const struct binding *b)
{
    const struct channel *c = b->channel;
    if (b->claimed || b->looks == LOOKS_ALWAYS)
        return true;
    return b->looks == LOOKS_LOST ? c->status != READING_OK || c->is_wild
                                  : b->looks == LOOKS_SECOND && c->second;
}

void rules_tick(struct rules *r, struct stamp now)
{
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->tick)
            modules[i]->tick(r, r->own[i], now);
    if (now.mono_ns - r->swept_ns < NS_PER_S)
        return;
    r->swept_ns = now.mono_ns;
    for (struct binding *b = r->bindings, *end = b + r->binding_top; b < end; b++)
        if (b->looks != LOOKS_NEVER && is_looked_at(b))
            b->module->look(r, b->own, b, now);
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->sweep)
            modules[i]->sweep(r, r->own[i], now);
}

void rules_gap(struct rules *r, struct stamp now)
{
    for (size_t i = 0; i < r->binding_top; i++) {
        struct binding *b = &r->bindings[i];
        if (b->used && b->module->binding_gap)
            b->module->binding_gap(b, now);
    }
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->gap)
            modules[i]->gap(r->own[i], now);
    r->swept_ns = now.mono_ns;
}

void rules_hole(struct rules *r, struct stamp now)
{
    for (size_t i = 0; i < r->binding_top; i++) {
        struct binding *b = &r->bindings[i];
        if (b->used && b->module->binding_hole)
            b->module->binding_hole(b, now);
    }
    for (int i = 0; i < MODULES; i++)
        if (modules[i]->hole)
            modules[i]->hole(r->own[i], now);
}
