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

static void say(struct rules *r, struct binding *b, const struct channel *holder, struct stamp at)
{
    const struct channel *c = b->channel;
    struct words w;
    rule_words(r, &w, holder, at.mono_ns);
    char more[96], one[48], other[48];
    rule_sender_name(r, holder->iface, holder->source, one, sizeof one);
    rule_sender_name(r, c->iface, c->source, other, sizeof other);
    text_format(more, sizeof more, " comes from %s and %s", one, other);
    w.value = NAN;
    w.rate_per_min = NAN;
    w.more = more;
    w.advice = b->rule->advice[0] ? b->rule->advice : "check their instances";
    struct situation s = {.group = SITUATION_SENDER,
                          .iface = c->iface,
                          .source = c->source,
                          .id = c->id,
                          .code = KIND_CONFLICT};
    rule_claim(r, b, b->rule->priority, s, &w, at);
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
