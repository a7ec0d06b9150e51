/* limit: a value beyond a fixed limit for the hold time, deadband on the way back. Readings that
 * are not available, in error or wild neither raise nor clear; a channel that goes stale leaves
 * its alert standing, and `silent` tells of the loss. */
#include "rules/rules.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

/* Above this no water-cooled exhaust stands: dry-gas sensors read 300 to 600 °C (30 CFR
 * 7.102(b)(2) stops a dry exhaust conditioner at 302 °F, 150 °C). */
#define DRY_GAS_C 150.0

/* Probes in iron, water or hose do not leap by themselves. */
#define LEAP_K       10.0
#define LEAP_K_PER_S 6.0
#define LEAP_LONG_NS (10 * NS_PER_S) /* behind a longer pause anything may be so */
#define LEAP_SAMPLES 4 /* up to three wild ones in a row are no alarm, as in cooling_trace.c */

static bool limit_binds(const struct rule_setting *rule, const struct channel *c)
{
    (void)c;
    return rule->has_above || rule->has_below;
}

static enum words_side side_of(const struct rule_setting *rule, const struct channel *c, double v)
{
    if (rule->has_above && v > rules_nominal(rule, c, rule->above))
        return WORDS_ABOVE;
    if (rule->has_below && v < rules_nominal(rule, c, rule->below))
        return WORDS_BELOW;
    return WORDS_NO_LIMIT;
}

static double limit_of(const struct binding *b, enum words_side side)
{
    const struct rule_setting *rule = b->rule;
    return rules_nominal(rule, b->channel, side == WORDS_ABOVE ? rule->above : rule->below);
}

/* A source-14 sensor that nobody spoke of and that was never seen within the limit: it may sit in
 * dry gas. One that rose through the wet range on its way here is a failure. */
static bool may_be_dry(const struct binding *b)
{
    const struct channel *c = b->channel;
    return c->id.quantity == QTY_EXHAUST && !(c->setting && c->setting->wet) &&
           !b->u.limit.been_inside && c->value > DRY_GAS_C;
}

static bool leaps(const struct limit_state *s, const struct channel *c, int64_t now_ns)
{
    int64_t since_ns = now_ns - s->inside_ns;
    if (c->unit != UNIT_C || !s->been_inside || since_ns < 0 || since_ns > LEAP_LONG_NS)
        return false;
    return fabs(c->value - s->inside_c) > LEAP_K + LEAP_K_PER_S * when_seconds(since_ns);
}

static bool is_raised(const struct binding *b)
{
    const struct limit_state *s = &b->u.limit;
    return held_long_enough(&s->outside, b->channel, b->rule->hold_ns) &&
           (!s->leapt || s->outside.samples >= LEAP_SAMPLES);
}

static void say(struct rules *r, struct binding *b, struct stamp at)
{
    struct words w;
    struct limit_state *s = &b->u.limit;
    rules_words(r, &w, b->channel, at.mono_ns);
    struct situation where = rules_situation(r, b->channel);
    w.limit = limit_of(b, (enum words_side)s->side);
    if (s->question) {
        /* The full question, longer than other lines: its first half fits everywhere. */
        w.rate_per_min = NAN;
        w.advice = "no cooling water, or a dry-gas sensor? Say which in the configuration";
        rules_claim(r, b, PRIORITY_WARNING, where, &w, at);
        return;
    }
    w.side = (enum words_side)s->side;
    w.advice = b->rule->advice;
    rules_claim(r, b, b->rule->priority, where, &w, at);
}

static void beyond(struct rules *r, struct binding *b, enum words_side side, struct stamp at)
{
    const struct channel *c = b->channel;
    struct limit_state *s = &b->u.limit;
    s->inside.samples = 0;
    if (rules_wild(c, c->value))
        return;
    if (!rules_may_look(r, b->rule, c, side == WORDS_ABOVE, at.mono_ns)) {
        s->outside.samples = 0;
        return;
    }
    if (s->side != side)
        s->outside.samples = 0;
    s->side = (uint8_t)side;
    if (s->outside.samples == 0)
        s->leapt = leaps(s, c, at.mono_ns);
    held_add(&s->outside, c, at.mono_ns);
    bool question = may_be_dry(b);
    if (b->claimed) {
        /* An alarm never turns into a question; a question that falls into the wet range and
         * rises again has become an alarm by been_inside. */
        if (s->question && !question) {
            s->question = false;
            say(r, b, at);
        } else if (!SAID_LATER(b, at)) {
            say(r, b, at);
        }
    } else if (is_raised(b)) {
        s->question = question;
        say(r, b, at);
    }
}

static void within(struct rules *r, struct binding *b, struct stamp at)
{
    const struct channel *c = b->channel;
    struct limit_state *s = &b->u.limit;
    s->outside.samples = 0;
    s->inside_c = c->value;
    s->inside_ns = at.mono_ns;
    if (!b->claimed) {
        s->been_inside = true;
        return;
    }
    double limit = limit_of(b, (enum words_side)s->side);
    double back = rules_nominal(b->rule, c, b->rule->deadband);
    bool clear = s->side == WORDS_ABOVE ? c->value <= limit - back : c->value >= limit + back;
    if (!clear) {
        s->inside.samples = 0;
        return;
    }
    held_add(&s->inside, c, at.mono_ns);
    if (held_long_enough(&s->inside, c, b->rule->clear_hold_ns)) {
        s->been_inside = true;
        s->question = false;
        rules_withdraw(r, b, at);
    } else if (!SAID_LATER(b, at)) {
        say(r, b, at);
    }
}

static void limit_reading(struct rules *r, struct binding *b, struct stamp at)
{
    const struct channel *c = b->channel;
    if (c->status != READING_OK || (b->rule->per_12v && c->nominal_volts == 0))
        return;
    enum words_side side = side_of(b->rule, c, c->value);
    if (side != WORDS_NO_LIMIT)
        beyond(r, b, side, at);
    else
        within(r, b, at);
}

/* An engine that stopped takes its lower limits along: oil pressure is gone and may be. What was
 * too hot stays so until it is read within its limit again, or its box is switched off. */
static void limit_sweep(struct rules *r, struct binding *b, struct stamp now)
{
    if (!b->claimed)
        return;
    bool lower = b->u.limit.side == WORDS_BELOW;
    if (b->channel->switched_off ||
        (lower && rules_excluded(r, b->rule, b->channel, now.mono_ns))) {
        b->u.limit.outside.samples = 0;
        rules_withdraw(r, b, now);
    }
}

static void limit_gap(struct binding *b, struct stamp now)
{
    (void)now;
    b->u.limit.outside.samples = 0;
    b->u.limit.inside.samples = 0;
}

const struct rule_ops rule_limit_ops = {
    .binds = limit_binds,
    .reading = limit_reading,
    .sweep = limit_sweep,
    .gap = limit_gap,
};
