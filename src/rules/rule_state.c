/* state: a switch that is on, or off, for too long, or goes on too often: a bilge pump that runs
 * five times an hour, a blower that is off. A position that is not known stops the count and
 * neither raises nor clears. */
#include "rules/kinds.h"

#include "base/text.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define RINGS_MAX 128 /* rules of "more than N times" on switches at once */
#define NO_RING   UINT16_MAX

struct ring {
    bool used;
    uint16_t next, count;
    int64_t on_ns[RULES_SWITCH_ONS];
};

struct rule_state {
    struct ring rings[RINGS_MAX];
};

struct rule_state *rule_state_new(void)
{
    return calloc(1, sizeof(struct rule_state));
}

void rule_state_free(struct rule_state *k)
{
    free(k);
}

void rule_state_bound(struct rules *r, struct binding *b)
{
    b->u.state = (struct state_state){.position = -1, .ring = NO_RING};
    for (uint16_t i = 0; b->rule->times > 0 && i < RINGS_MAX; i++)
        if (!r->states->rings[i].used) {
            r->states->rings[i] = (struct ring){.used = true};
            b->u.state.ring = i;
            return;
        }
}

void rule_state_unbound(struct rules *r, struct binding *b)
{
    if (b->u.state.ring != NO_RING)
        r->states->rings[b->u.state.ring].used = false;
}

static void count_on(struct rules *r, struct binding *b, int64_t t_ns)
{
    if (b->u.state.ring == NO_RING)
        return;
    struct ring *ring = &r->states->rings[b->u.state.ring];
    ring->on_ns[ring->next] = t_ns;
    ring->next = (uint16_t)((ring->next + 1) % RULES_SWITCH_ONS);
    if (ring->count < RULES_SWITCH_ONS)
        ring->count++;
}

static int ons_within(const struct rules *r, const struct binding *b, int64_t now_ns)
{
    if (b->u.state.ring == NO_RING)
        return 0;
    const struct ring *ring = &r->states->rings[b->u.state.ring];
    int n = 0;
    for (int i = 0; i < ring->count; i++)
        n += now_ns - ring->on_ns[i] < b->rule->window_ns;
    return n;
}

static void judge(struct rules *r, struct binding *b, struct stamp now)
{
    const struct rule_setting *rule = b->rule;
    const struct state_state *s = &b->u.state;
    int64_t lasted = s->position >= 0 ? now.mono_ns - s->since_ns : 0;
    int ons = ons_within(r, b, now.mono_ns);
    bool too_long = s->position == 1 && rule->on_longest_ns > 0 && lasted >= rule->on_longest_ns;
    bool too_off = s->position == 0 && rule->off_longest_ns > 0 && lasted >= rule->off_longest_ns;
    /* A ring that is full of them counts as more than any number it cannot hold. */
    bool too_often = rule->times > 0 && (ons > rule->times || ons == RULES_SWITCH_ONS);
    if (!too_long && !too_off && !too_often) {
        if (s->position >= 0)
            rules_withdraw(r, b, now);
        return;
    }
    if (b->claimed && now.mono_ns - b->said_ns < 60 * NS_PER_S)
        return;
    struct words w;
    char more[64], length[32];
    rules_words(r, &w, b->channel, now.mono_ns);
    if (too_often) {
        words_length(length, sizeof length, when_seconds(rule->window_ns));
        text_format(more, sizeof more, " on %d times in %s", ons, length);
    } else {
        words_length(length, sizeof length, when_seconds(lasted));
        text_format(more, sizeof more, " %s for %s", too_long ? "on" : "off", length);
    }
    w.value = NAN;
    w.rate_per_min = NAN;
    w.more = more;
    w.advice = rule->advice;
    struct situation where = {.group = SITUATION_CHANNEL, .id = b->channel->id};
    rules_claim(r, b, rule->priority, where, &w, now);
}

static void state_reading(struct rules *r, struct binding *b, struct stamp at)
{
    const struct channel *c = b->channel;
    struct state_state *s = &b->u.state;
    if (c->status != READING_OK) {
        s->position = -1;
        return;
    }
    int8_t position = c->value >= 0.5;
    if (position == s->position)
        return;
    if (position == 1 && s->position == 0)
        count_on(r, b, at.mono_ns);
    s->position = position;
    s->since_ns = at.mono_ns;
    judge(r, b, at);
}

static void state_status(struct rules *r, struct binding *b, struct stamp at)
{
    (void)r;
    (void)at;
    if (b->channel->status != READING_OK)
        b->u.state.position = -1;
}

static void state_gap(struct binding *b, struct stamp now)
{
    (void)now;
    b->u.state.position = -1;
}

const struct rule_ops rule_state_ops = {
    .reading = state_reading,
    .status = state_status,
    .sweep = judge,
    .gap = state_gap,
};
