/* span: readings outside what the sensor is rated for (an open or shorted wire, a wrong sensor).
 * One wild sample is noise on the wire and says nothing. */
#include "rules/kinds.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

#define STRIKES        3
#define STRIKES_WINDOW (60 * NS_PER_S)
#define CLEAR_LEAST    (10 * NS_PER_S)

struct span_watch {
    uint32_t wild_seen; /* channel.wild at the last look */
    uint32_t strikes;
    int64_t first_ns, last_ns; /* of the strikes */
};
RULE_KEPT_FITS(struct span_watch);

static bool span_binds(const struct rule_setting *rule, const struct channel *c)
{
    (void)rule;
    return c->id.quantity != QTY_SWITCH && c->id.quantity != QTY_GEAR;
}

static void say(struct rules *r, struct binding *b, struct stamp at)
{
    const struct channel *c = b->channel;
    struct words w;
    rule_words(r, &w, c, at.mono_ns);
    w.rate_per_min = NAN; /* of wild readings: means nothing */
    w.value = NAN;
    w.more = " outside the span of its sensor";
    w.advice = b->rule->advice[0] ? b->rule->advice : "check sensor and wiring";
    struct situation s = {
        .group = SITUATION_SENDER, .iface = c->iface, .source = c->source, .id = c->id};
    enum priority p = b->rule->priority;
    if (rule_channel(c)->needed && p < PRIORITY_WARNING)
        p = PRIORITY_WARNING;
    struct alert_claim claim = {
        .situation = s, .priority = p, .trouble = TROUBLE_SENSOR, .stage = STAGE_CERTAIN};
    rule_claim(r, b, &claim, &w, at);
}

static void span_reading(struct rules *r, void *own, struct binding *b, struct stamp at)
{
    (void)own;
    const struct channel *c = b->channel;
    struct span_watch *s = rule_kept(b);
    if (c->wild == s->wild_seen)
        return;
    s->wild_seen = c->wild;
    if (s->strikes == 0 || at.mono_ns - s->last_ns > STRIKES_WINDOW) {
        s->strikes = 0;
        s->first_ns = at.mono_ns;
    }
    s->last_ns = at.mono_ns;
    if (s->strikes < UINT32_MAX)
        s->strikes++;
    if (!b->claimed && s->strikes >= STRIKES && s->last_ns - s->first_ns >= b->rule->hold_ns)
        say(r, b, at);
}

static void span_look(struct rules *r, void *own, struct binding *b, struct stamp now)
{
    (void)own;
    struct span_watch *s = rule_kept(b);
    const struct channel *c = b->channel;
    int64_t clear = b->rule->clear_hold_ns;
    if (clear < CLEAR_LEAST)
        clear = CLEAR_LEAST;
    if (clear < 5 * c->period_ns)
        clear = 5 * c->period_ns;
    /* Over only when good readings came since; a silent sensor proves nothing. */
    if (c->switched_off || (now.mono_ns - s->last_ns >= clear && c->status == READING_OK &&
                            c->good.mono_ns > s->last_ns)) {
        s->strikes = 0;
        rule_end(r, b, c->status == READING_OK ? END_ANSWERS : END_OFF, now);
    }
}

const struct rule_module rule_span_module = {
    .binding = true,
    .kind = KIND_SPAN,
    .sensors_only = true,
    .binds = span_binds,
    .wild_only = true,
    .reading = span_reading,
    .look = span_look,
    .looks = LOOKS_CLAIMED,
};
