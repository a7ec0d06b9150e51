/* state: a switch that is on, or off, for too long, or goes on too often: a bilge pump that runs
 * five times an hour, a blower that is off. A position that is not known stops the count and
 * neither raises nor clears. */
#include "rules/kinds.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

#define RINGS_MAX 128 /* rules of "more than N times" on switches at once */
#define NO_RING   UINT16_MAX
#define SAY_NS    (60 * NS_PER_S) /* words are renewed so often: they count minutes */

#define SWITCH_ONS 64 /* switch-ons remembered for "too often" */

struct ring {
    bool used;
    uint16_t next, count;
    int64_t on_ns[SWITCH_ONS];
};

struct rule_state {
    struct ring rings[RINGS_MAX];
};

struct state_watch {
    int64_t since_ns; /* the switch has its present position since; 0: not known */
    int8_t position;  /* 1 on, 0 off, -1 not known */
    uint16_t ring;    /* index of switch-on times, NO_RING */
    int64_t said_ns;
};
RULE_KEPT_FITS(struct state_watch);

static void state_bound(void *own, struct binding *b)
{
    struct rule_state *k = own;
    struct state_watch *s = rule_kept(b);
    *s = (struct state_watch){.position = -1, .ring = NO_RING};
    for (uint16_t i = 0; b->rule->times > 0 && i < RINGS_MAX; i++)
        if (!k->rings[i].used) {
            k->rings[i] = (struct ring){.used = true};
            s->ring = i;
            return;
        }
}

static void state_unbound(void *own, struct binding *b)
{
    struct rule_state *k = own;
    const struct state_watch *s = rule_kept(b);
    if (s->ring != NO_RING)
        k->rings[s->ring].used = false;
}

static void count_on(struct rule_state *k, const struct state_watch *s, int64_t t_ns)
{
    if (s->ring == NO_RING)
        return;
    struct ring *ring = &k->rings[s->ring];
    ring->on_ns[ring->next] = t_ns;
    ring->next = (uint16_t)((ring->next + 1) % SWITCH_ONS);
    if (ring->count < SWITCH_ONS)
        ring->count++;
}

static int ons_within(const struct rule_state *k, const struct binding *b, int64_t now_ns)
{
    const struct state_watch *s = rule_kept(b);
    if (s->ring == NO_RING)
        return 0;
    const struct ring *ring = &k->rings[s->ring];
    int n = 0;
    for (int i = 0; i < ring->count; i++)
        n += now_ns - ring->on_ns[i] < b->rule->window_ns;
    return n;
}

static void judge(struct rules *r, void *own, struct binding *b, struct stamp now)
{
    const struct rule_setting *rule = b->rule;
    struct state_watch *s = rule_kept(b);
    int64_t lasted = s->position >= 0 ? now.mono_ns - s->since_ns : 0;
    int ons = ons_within(own, b, now.mono_ns);
    bool too_long = s->position == 1 && rule->on_longest_ns > 0 && lasted >= rule->on_longest_ns;
    bool too_off = s->position == 0 && rule->off_longest_ns > 0 && lasted >= rule->off_longest_ns;
    /* A ring that is full of them counts as more than any number it cannot hold. */
    bool too_often = rule->times > 0 && (ons > rule->times || ons == SWITCH_ONS);
    if (!too_long && !too_off && !too_often) {
        if (s->position >= 0)
            rule_withdraw(r, b, now);
        return;
    }
    if (b->claimed && now.mono_ns - s->said_ns < SAY_NS)
        return;
    s->said_ns = now.mono_ns;
    struct words w;
    char more[64], length[32];
    rule_words(r, &w, b->channel, now.mono_ns);
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
    struct alert_claim claim = {
        .situation = {.group = SITUATION_CHANNEL, .id = b->channel->id},
        .priority = rule->priority,
        .stage = STAGE_CERTAIN,
    };
    rule_claim(r, b, &claim, &w, now);
}

/* A bank sends when it likes: it never falls silent, so that readings alone tell of it. */
static void state_reading(struct rules *r, void *own, struct binding *b, struct stamp at)
{
    const struct channel *c = b->channel;
    struct state_watch *s = rule_kept(b);
    if (c->status != READING_OK) {
        s->position = -1;
        return;
    }
    int8_t position = c->value >= 0.5;
    if (position == s->position)
        return;
    if (position == 1 && s->position == 0)
        count_on(own, s, at.mono_ns);
    s->position = position;
    s->since_ns = at.mono_ns;
    judge(r, own, b, at);
}

static void state_gap(struct binding *b, struct stamp now)
{
    struct state_watch *s = rule_kept(b);
    (void)now;
    s->position = -1;
}

static bool state_needs(const struct rules *r, const void *own, const struct channel *c)
{
    (void)own;
    return rule_watched(r, KIND_STATE, PRIORITY_CAUTION, c);
}

const struct rule_module rule_state_module = {
    .own_size = sizeof(struct rule_state),
    .binding = true,
    .kind = KIND_STATE,
    .bound = state_bound,
    .unbound = state_unbound,
    .reading = state_reading,
    .look = judge,
    .looks = LOOKS_ALWAYS,
    .binding_gap = state_gap,
    .needs = state_needs,
};
