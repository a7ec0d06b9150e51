/* conflict: two senders claim one key. The second one's values are kept apart and watched too; it
 * may be the real other elbow, with two boxes left on one instance. */
#include "rules/kinds.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* Over when one of the two has not been heard for this long. */
#define OVER_NS (10 * NS_PER_S)

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

static void say(struct rules *r, struct binding *b, const struct channel *holder, struct stamp at)
{
    const struct channel *c = b->channel;
    struct words w;
    char more[96];
    rule_words(r, &w, holder, at.mono_ns);
    w.advice = b->rule->advice[0] ? b->rule->advice : "check their instances";
    find_words(r, c, holder, &w, more, sizeof more);
    struct alert_claim claim = {
        .situation = rule_conflict_situation(c),
        .priority = b->rule->priority,
        .trouble = TROUBLE_CONFLICT,
        .stage = STAGE_CERTAIN,
        .cause = true,
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
    if (!c->second && !b->claimed)
        return;
    const struct channel *holder = plant_find(r->plant, c->id);
    bool both = c->second && holder && holder != c && heard(c, now) && heard(holder, now);
    if (!both)
        rule_withdraw(r, b, now);
    else if (!b->claimed)
        say(r, b, holder, now);
}

const struct rule_module rule_conflict_module = {
    .binding = true,
    .kind = KIND_CONFLICT,
    .sensors_only = true,
    .look = conflict_look,
    .conflict = conflict_told,
};
