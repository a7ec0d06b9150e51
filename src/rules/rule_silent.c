/* silent: a channel that was there has stopped, or says that it has no value. A box that falls
 * silent as a whole gives one alert that names the sender, not one for each of its values; so do
 * three or more values that a box loses together. What a rule depends on is a warning at least
 * (sensor loss must itself alert: A.1021(26) and bridge guideline MSC/Circ. 5.4.1.4).
 * A bus that is quiet as a whole is one alert of kind `bus` (rule_quiet.c), which holds these back.
 * Switched off is not silent; a value that an engine box does not have while its engine stands is
 * no loss. */
#include "rules/kinds.h"

#include "base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define GROUPS_MAX  64
#define TALLIES_MAX 64
#define TOGETHER    3 /* values lost together by a box that still speaks */

enum group_code { GROUP_WHOLE, GROUP_VALUES };

struct group {
    bool used;
    uint8_t iface, source, code;
    uint32_t claimant;
    int members, said_members;
    const struct binding *worst;
    enum priority priority;
};

struct tally { /* of one sweep: what a sender has newly lost */
    uint8_t iface, source;
    int count;
};

struct rule_silent {
    int lost; /* bindings with lost_ns */
    int group_count;
    struct group groups[GROUPS_MAX];
    struct tally tallies[TALLIES_MAX];
    int tally_count;
};

struct rule_silent *rule_silent_new(void)
{
    return calloc(1, sizeof(struct rule_silent));
}

void rule_silent_free(struct rule_silent *k)
{
    free(k);
}

static void silent_status(struct rules *r, struct binding *b, struct stamp at)
{
    const struct channel *c = b->channel;
    struct silent_state *s = &b->u.silent;
    if (c->status == READING_OK) {
        if (s->lost_ns && !s->back_ns)
            s->back_ns = at.mono_ns;
        return;
    }
    s->back_ns = 0;
    if (s->lost_ns || c->readings == 0 || !c->repeats)
        return;
    s->lost_ns = at.mono_ns;
    r->silent->lost++;
}

static void silent_gap(struct binding *b, struct stamp now)
{
    if (b->u.silent.lost_ns && b->u.silent.lost_ns < now.mono_ns)
        b->u.silent.lost_ns = now.mono_ns;
}

static void found(struct rules *r, struct binding *b, struct stamp now)
{
    b->u.silent = (struct silent_state){0};
    r->silent->lost--;
    rules_withdraw(r, b, now);
}

static bool matters(const struct rules *r, const struct binding *b, struct stamp now)
{
    const struct channel *c = b->channel;
    if (c->switched_off || !rules_may_look(r, b->rule, c, true, now.mono_ns))
        return false;
    if (c->status != READING_STALE && c->engine >= 0 &&
        plant_engine(r->plant, c->engine)->state != ENGINE_RUNNING)
        return false;
    return true;
}

static bool sender_is_silent(const struct rules *r, const struct binding *b, struct stamp now)
{
    const struct channel *c = b->channel;
    const struct source_seen *s = plant_source(r->plant, c->iface, c->source);
    int64_t least = b->rule->hold_ns > 2 * NS_PER_S ? b->rule->hold_ns : 2 * NS_PER_S;
    return c->status == READING_STALE && s && now.mono_ns - s->last_ns >= least;
}

static struct tally *tally_of(struct rule_silent *k, const struct channel *c)
{
    for (int i = 0; i < k->tally_count; i++)
        if (k->tallies[i].iface == c->iface && k->tallies[i].source == c->source)
            return &k->tallies[i];
    if (k->tally_count == TALLIES_MAX)
        return NULL;
    struct tally *t = &k->tallies[k->tally_count++];
    *t = (struct tally){c->iface, c->source, 0};
    return t;
}

static int group_of(struct rules *r, const struct channel *c, enum group_code code)
{
    struct rule_silent *k = r->silent;
    int empty = -1;
    for (int i = 0; i < GROUPS_MAX; i++) {
        struct group *g = &k->groups[i];
        if (!g->used)
            empty = empty < 0 ? i : empty;
        else if (g->iface == c->iface && g->source == c->source && g->code == code)
            return i;
    }
    if (empty < 0)
        return -1;
    k->groups[empty] = (struct group){.used = true,
                                      .iface = c->iface,
                                      .source = c->source,
                                      .code = (uint8_t)code,
                                      .claimant = rules_new_claimant(r)};
    k->group_count++;
    return empty;
}

static bool has_group(const struct rule_silent *k, const struct channel *c)
{
    for (int i = 0; i < GROUPS_MAX; i++)
        if (k->groups[i].used && k->groups[i].code == GROUP_WHOLE &&
            k->groups[i].iface == c->iface && k->groups[i].source == c->source)
            return true;
    return false;
}

static enum priority weight(const struct binding *b)
{
    enum priority p = b->rule->priority;
    return rules_depends(b->channel) && p < PRIORITY_WARNING ? PRIORITY_WARNING : p;
}

/* Which of two lost values to name: the heavier, exhaust before all. */
static bool worse(const struct binding *a, const struct binding *b)
{
    if (!b)
        return true;
    bool ea = a->channel->id.quantity == QTY_EXHAUST, eb = b->channel->id.quantity == QTY_EXHAUST;
    if (ea != eb)
        return ea;
    return weight(a) > weight(b);
}

static void join(struct group *g, const struct binding *b)
{
    g->members++;
    if (worse(b, g->worst))
        g->worst = b;
    if (weight(b) > g->priority)
        g->priority = weight(b);
}

static void say_one(struct rules *r, struct binding *b, struct stamp now)
{
    const struct channel *c = b->channel;
    struct words w;
    char more[96];
    rules_words(r, &w, c, now.mono_ns);
    text_format(more, sizeof more, " %s, last ",
                c->status == READING_STALE   ? "silent"
                : c->status == READING_ERROR ? "in error"
                                             : "not available");
    words_add_figure(&w, more, sizeof more, (enum quantity)c->id.quantity, c->value, false);
    w.value = NAN;
    w.rate_per_min = NAN;
    w.more = more;
    w.advice = b->rule->advice[0] ? b->rule->advice : "check sensor and wiring";
    struct situation s = {
        .group = SITUATION_SENDER, .iface = c->iface, .source = c->source, .id = c->id};
    rules_claim(r, b, weight(b), s, &w, now);
}

static void say_group(struct rules *r, struct group *g, struct stamp now)
{
    const struct binding *b = g->worst;
    struct words w = {.quantity = QTY_NONE, .value = NAN, .limit = NAN, .rate_per_min = NAN};
    char name[48], what[96], more[160], text[ALERT_TEXT_SIZE];
    rules_sender_name(r, g->iface, g->source, name, sizeof name);
    text_copy(w.subject, sizeof w.subject, "SENDER");
    text_append(w.subject, sizeof w.subject, "%s", name + strlen("sender"));
    words_subject(what, sizeof what, r->plant, b->channel);
    text_format(more, sizeof more, g->code == GROUP_WHOLE ? " silent, %s" : " has lost %s", what);
    if (g->members > 1)
        text_append(more, sizeof more, " and %d more", g->members - 1);
    if (g->code == GROUP_WHOLE)
        text_append(more, sizeof more, " gone");
    w.more = more;
    w.advice = g->code == GROUP_WHOLE ? "check its power and plug" : "check what feeds it";
    words_build(text, sizeof text, &w, r->settings, WORDS_COLUMNS);
    struct alert_claim claim = {
        .situation = {.group = SITUATION_SENDER,
                      .iface = g->iface,
                      .source = g->source,
                      .code = g->code},
        .claimant = g->claimant,
        .kind = KIND_SILENT,
        .rule = b->rule->name,
        .priority = g->priority,
        .channel = b->channel->key,
        .value = NAN,
        .unit = b->channel->unit,
        .text = text,
        .words = &w,
        .figures = {NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN},
    };
    g->said_members = g->members;
    alerts_claim(r->alerts, &claim, now);
}

/* First look: what is due, what came back, how many each sender has lost. */
static bool due(struct rules *r, struct binding *b, struct stamp now)
{
    struct silent_state *s = &b->u.silent;
    s->held = false;
    if (s->back_ns && (!b->claimed || now.mono_ns - s->back_ns >= b->rule->clear_hold_ns)) {
        found(r, b, now);
        return false;
    }
    if (!matters(r, b, now)) {
        s->group = 0;
        rules_withdraw(r, b, now);
        return false;
    }
    return !s->back_ns && now.mono_ns - s->lost_ns >= b->rule->hold_ns;
}

static bool is_lost(const struct binding *b)
{
    return b->used && b->rule->kind == KIND_SILENT && b->u.silent.lost_ns;
}

static void place_in_groups(struct rules *r, struct stamp now)
{
    struct rule_silent *k = r->silent;
    for (size_t i = 0; i < r->binding_top; i++) {
        struct binding *b = &r->bindings[i];
        if (!is_lost(b) || b->claimed || b->u.silent.group || b->u.silent.held ||
            b->u.silent.back_ns || !matters(r, b, now) ||
            now.mono_ns - b->u.silent.lost_ns < b->rule->hold_ns)
            continue;
        bool whole = sender_is_silent(r, b, now);
        const struct tally *t = tally_of(k, b->channel);
        int g = -1;
        /* What follows later (a slower value, a longer hold) joins the alert that stands. */
        if ((t && t->count >= (whole ? 2 : TOGETHER)) || (whole && has_group(k, b->channel)))
            g = group_of(r, b->channel, whole ? GROUP_WHOLE : GROUP_VALUES);
        if (g < 0) {
            say_one(r, b, now);
            continue;
        }
        b->u.silent.group = (uint8_t)(g + 1);
        join(&k->groups[g], b);
    }
}

void rule_silent_allow(struct rules *r, uint8_t iface, int64_t ns, struct stamp now)
{
    for (size_t i = 0; i < r->binding_top; i++) {
        struct binding *b = &r->bindings[i];
        const struct channel *c = b->channel;
        if (!is_lost(b) || !b->u.silent.held || c->iface != iface)
            continue;
        int64_t patience_ns = 3 * c->period_ns > ns ? 3 * c->period_ns : ns;
        b->u.silent.lost_ns = now.mono_ns + patience_ns;
        b->u.silent.held = false;
    }
}

void rule_silent_sweep(struct rules *r, struct stamp now)
{
    struct rule_silent *k = r->silent;
    if (k->lost == 0 && k->group_count == 0)
        return;
    for (int i = 0; i < GROUPS_MAX; i++) {
        k->groups[i].members = 0;
        k->groups[i].worst = NULL;
        k->groups[i].priority = PRIORITY_CAUTION;
    }
    k->tally_count = 0;
    for (size_t i = 0; i < r->binding_top; i++) {
        struct binding *b = &r->bindings[i];
        if (!is_lost(b) || !due(r, b, now))
            continue;
        if (b->u.silent.group) {
            join(&k->groups[b->u.silent.group - 1], b);
            continue;
        }
        b->u.silent.held = !b->claimed && rule_quiet_holds(r, b->channel, weight(b), now);
        if (b->u.silent.held)
            continue;
        struct tally *t = b->claimed ? NULL : tally_of(k, b->channel);
        if (t)
            t->count++;
    }
    place_in_groups(r, now);
    for (int i = 0; i < GROUPS_MAX; i++) {
        struct group *g = &k->groups[i];
        if (!g->used)
            continue;
        if (g->members == 0) {
            alerts_withdraw(r->alerts, g->claimant, now);
            g->used = false;
            k->group_count--;
        } else if (g->members != g->said_members) {
            say_group(r, g, now);
        }
    }
}

const struct rule_ops rule_silent_ops = {
    .status = silent_status,
    .gap = silent_gap,
};
