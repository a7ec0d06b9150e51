/* conflict: two senders claim one key. The second one's values are kept apart and watched too; it
 * may be the real other elbow, with two boxes left on one instance. Where the second one's box has
 * left another place for this one, that place is what is lost, and named first. */
#include "rules/kinds.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* Over when one of the two has not been heard for this long. */
#define OVER_NS (10 * NS_PER_S)

struct conflict_watch {
    const struct channel *left; /* as told: the place that the second one's box has left */
    bool gone;                  /* as told: one of the two is silent now */
};
RULE_KEPT_FITS(struct conflict_watch);

static bool heard(const struct channel *c, struct stamp now)
{
    return c->status != READING_NEVER && now.mono_ns - c->at.mono_ns < OVER_NS + 3 * c->period_ns;
}

/* One address that two boxes use is another trouble than one instance that two boxes use. */
static void find_words(const struct rules *r, const struct channel *c, const struct channel *holder,
                       struct words *w, char *more, size_t cap)
{
    char one[48], other[48];
    w->value = w->rate_per_min = NAN;
    w->more = more;
    rule_sender_name(r, holder->iface, holder->source, one, sizeof one);
    rule_sender_name(r, c->iface, c->source, other, sizeof other);
    if (strcmp(one, other) != 0) {
        text_format(more, cap, " comes from %s and %s", one, other);
        return;
    }
    text_format(more, cap, " from two boxes at address %d", c->source);
    w->advice = "one needs another address";
}

/* The place that the second one's box sent before, and sends no more; NULL where there is none. */
static const struct channel *left_by(const struct rules *r, const struct channel *second)
{
    for (size_t i = 0; i < plant_count(r->plant); i++) {
        const struct channel *c = plant_channel(r->plant, i);
        if (c != second && !c->second && c->id.quantity == second->id.quantity &&
            c->iface == second->iface && c->source == second->source &&
            c->status == READING_STALE && c->good.mono_ns < second->at.mono_ns)
            return c;
    }
    return NULL;
}

/* "STARBOARD EXHAUST lost, sender 33 calls it PORT" */
static void find_lost_words(const struct rules *r, const struct channel *left,
                            const struct channel *holder, struct words *w, char *more, size_t cap)
{
    char sender[48];
    const char *place = plant_place(r->plant, holder);
    rule_sender_name(r, left->iface, left->source, sender, sizeof sender);
    text_format(more, cap, " lost, %s calls it %s", sender, place[0] ? place : holder->key);
    w->value = w->rate_per_min = NAN;
    w->more = more;
}

static void say(struct rules *r, struct binding *b, const struct channel *holder, struct stamp at)
{
    const struct channel *c = b->channel;
    struct conflict_watch *s = rule_kept(b);
    struct words w;
    char more[160];
    rule_words(r, &w, s->left ? s->left : holder, at.mono_ns);
    w.advice = b->rule->advice[0] ? b->rule->advice : "check their instances";
    if (s->left)
        find_lost_words(r, s->left, holder, &w, more, sizeof more);
    else
        find_words(r, c, holder, &w, more, sizeof more);
    struct alert_claim claim = {
        .situation = rule_conflict_situation(c),
        .priority = b->rule->priority,
        .trouble = TROUBLE_CONFLICT,
        .stage = STAGE_CERTAIN,
        .cause = !s->gone, /* then who is gone speaks, rule_silent.c */
    };
    rule_claim(r, b, &claim, &w, at);
}

struct situation rule_conflict_situation(const struct channel *second)
{
    return (struct situation){.group = SITUATION_SENDER,
                              .iface = second->iface,
                              .source = second->source,
                              .id = second->id,
                              .code = KIND_CONFLICT};
}

const struct channel *rule_conflict_of(const struct rules *r, const struct channel *c)
{
    for (size_t i = 0; i < plant_count(r->plant); i++) {
        const struct channel *second = plant_channel(r->plant, i);
        struct situation s = rule_conflict_situation(second);
        if (second->second && channel_id_same(second->id, c->id) && alerts_standing(r->alerts, &s))
            return second;
    }
    return NULL;
}

static struct binding *binding_of(const struct channel *c)
{
    const struct channel_rules *cr = rule_channel(c);
    struct binding *b = cr ? cr->first : NULL;
    while (b && b->rule->kind != KIND_CONFLICT)
        b = b->next;
    return b;
}

static void conflict_told(struct rules *r, struct channel *second, struct channel *holder,
                          struct stamp at)
{
    struct binding *b = binding_of(second);
    if (b && !b->claimed && heard(holder, at))
        say(r, b, holder, at);
}

static void conflict_look(struct rules *r, void *own, struct binding *b, struct stamp now)
{
    (void)own;
    const struct channel *c = b->channel;
    const struct channel *holder = plant_find(r->plant, c->id);
    bool both = c->second && holder && holder != c && heard(c, now) && heard(holder, now);
    struct conflict_watch *s = rule_kept(b);
    const struct channel *left = both ? left_by(r, c) : NULL;
    bool gone = both && (c->status == READING_STALE || holder->status == READING_STALE);
    bool news = left != s->left || gone != s->gone;
    s->left = left;
    s->gone = gone;
    if (!both)
        rule_withdraw(r, b, now);
    else if (!b->claimed || news)
        say(r, b, holder, now);
}

const struct rule_module rule_conflict_module = {
    .binding = true,
    .kind = KIND_CONFLICT,
    .sensors_only = true,
    .look = conflict_look,
    .looks = LOOKS_SECOND,
    .conflict = conflict_told,
};
