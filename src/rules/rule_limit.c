/* limit: a value beyond a fixed limit for the hold time, deadband on the way back. Readings that
 * are not available, in error or wild neither raise nor clear; a channel that goes stale leaves
 * its alert standing with the last that was read, and `silent` tells of the loss. */
#include "rules/kinds.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

/* Above this no water-cooled exhaust stands: dry-gas sensors read 300 to 600 °C (30 CFR
 * 7.102(b)(2) stops a dry exhaust conditioner at 302 °F, 150 °C). */
#define DRY_GAS_C 150.0

/* Further than dry gas, asked about, has stood before: told of once more. */
#define WORSE_K 25.0

/* Probes in iron, water or hose do not leap by themselves. */
#define LEAP_K       10.0
#define LEAP_K_PER_S 6.0
#define LEAP_LONG_NS (10 * NS_PER_S) /* after a longer pause anything may be so */
#define LEAP_SAMPLES 4 /* up to three wild ones in a row are no alarm, as in the cooling watch */

/* A value at the very end of what its field holds is as often an input that nothing hangs on, or a
 * wire that is off, as it is true: it is looked at twice as long, with so many readings. Where it
 * never was anywhere else it is no alarm but a question. Common practice, no source. */
#define END_LOOKS 6

/* Who read it within its limit so lately has seen it pass. Common practice, no source. */
#define SEEN_NS (10 * NS_PER_S)

/* The last reading within is the binding's calm.value, and when calm.at_ns. */
struct limit_watch {
    struct held outside, inside;
    uint8_t side;     /* enum words_side that is claimed or being held */
    bool been_inside; /* some good reading was within the limit: */
    bool leapt;       /* what is outside came there by a leap no temperature makes */
    bool question;    /* claimed as "wet or dry?" */
    bool ends;        /* all that is outside now was at the end of the field */
    bool doubt;       /* claimed as a sensor that shows nothing but the end of its field */
    bool seen;        /* a reading within is the last that was heard of it, but for those outside */
    bool already;     /* what is outside now was not seen to pass the limit */
    struct stamp passed; /* the first that was outside, of those now */
    bool dark;           /* claimed, and its value is the last that was heard: no reading now */
    bool off;            /* as told: its box is switched off */
    int64_t said_ns;
    double said_worst; /* the worst that was said since it was claimed */
};
RULE_KEPT_FITS(struct limit_watch);

static bool limit_binds(const struct rule_setting *rule, const struct channel *c)
{
    (void)c;
    return rule->has_above || rule->has_below;
}

static enum words_side side_of(const struct rule_setting *rule, const struct channel *c, double v)
{
    if (rule->has_above && v > rule_nominal(rule, c, rule->above))
        return WORDS_ABOVE;
    if (rule->has_below && v < rule_nominal(rule, c, rule->below))
        return WORDS_BELOW;
    return WORDS_NO_LIMIT;
}

static double limit_of(const struct binding *b, enum words_side side)
{
    const struct rule_setting *rule = b->rule;
    return rule_nominal(rule, b->channel, side == WORDS_ABOVE ? rule->above : rule->below);
}

/* A source-14 sensor that nobody spoke of and that was never seen within the limit: it may sit in
 * dry gas. One that rose through the wet range on its way here is a failure. */
static bool may_be_dry(const struct binding *b)
{
    const struct channel *c = b->channel;
    const struct limit_watch *s = rule_kept(b);
    return c->id.quantity == QTY_EXHAUST && !(c->setting && c->setting->wet) && !s->been_inside &&
           c->value > DRY_GAS_C;
}

/* While it is asked whether a channel stands in dry gas its limit stays: but gas goes with the
 * load, and what it has already told of, it tells again only of something worse. */
static bool has_been_said(const struct binding *b)
{
    const struct limit_watch *s = rule_kept(b);
    if (s->question)
        return true;
    return !b->claimed && (may_be_dry(b) || b->channel->value <= s->said_worst + WORSE_K);
}

static bool leaps(const struct binding *b, int64_t now_ns)
{
    const struct channel *c = b->channel;
    const struct limit_watch *s = rule_kept(b);
    int64_t since_ns = now_ns - b->calm.at_ns;
    if (c->unit != UNIT_C || !s->been_inside || since_ns < 0 || since_ns > LEAP_LONG_NS)
        return false;
    return fabs(c->value - b->calm.value) > LEAP_K + LEAP_K_PER_S * when_seconds(since_ns);
}

static bool is_raised(const struct binding *b)
{
    const struct limit_watch *s = rule_kept(b);
    if (s->ends && s->outside.samples < END_LOOKS)
        return false;
    return held_long_enough(&s->outside, b->channel, b->rule->hold_ns * (s->ends ? 2 : 1)) &&
           (!s->leapt || s->outside.samples >= LEAP_SAMPLES);
}

static struct situation situation_of(const struct rules *r, const struct channel *c)
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

/* Whether this is the limit that counts: an alarm, or the only one there is on this side. */
static bool is_last(const struct binding *b, bool above)
{
    const struct channel_rules *of = rule_channel(b->channel);
    return b->rule->priority >= PRIORITY_ALARM ||
           !(above ? of->has_alarm_above : of->has_alarm_below);
}

static void say(struct rules *r, struct binding *b, struct stamp at)
{
    const struct channel *c = b->channel;
    struct limit_watch *s = rule_kept(b);
    bool above = s->side == WORDS_ABOVE;
    struct words w;
    char more[96];
    rule_words(r, &w, c, at.mono_ns);
    w.limit = limit_of(b, (enum words_side)s->side);
    struct alert_claim claim = {
        .situation = situation_of(r, c),
        .priority = b->rule->priority,
        .trouble = action_of_limit((enum quantity)c->id.quantity, above),
        .stage = is_last(b, above) ? STAGE_BEYOND : STAGE_SUSPECTED,
        .engine = c->engine + 1,
        .worse = above ? 1 : -1,
        .passed = s->passed,
        .already = s->already,
        .dark = s->dark,
    };
    claim.beyond = claim.stage == STAGE_BEYOND && s->outside.samples > 0;
    if (s->doubt) {
        w.rate_per_min = NAN;
        w.advice = "end of its range, check sensor";
        claim.priority = PRIORITY_CAUTION;
        claim.trouble = TROUBLE_SENSOR;
        claim.stage = STAGE_SUSPECTED;
        claim.beyond = false;
    } else if (s->question) {
        /* The full question, longer than other lines: its first half fits everywhere. */
        w.rate_per_min = NAN;
        w.advice = "no cooling water, or a dry-gas sensor? Say which in the configuration";
        claim.priority = PRIORITY_WARNING;
        claim.trouble = TROUBLE_OTHER;
        claim.stage = STAGE_SUSPECTED;
    } else {
        w.side = (enum words_side)s->side;
        w.advice = b->rule->advice;
        if (claim.situation.group == SITUATION_COOLING)
            claim.trouble = claim.situation.id.place >= PLANT_ENGINES ? TROUBLE_BOTH_HOT
                            : c->id.quantity == QTY_COOLANT           ? TROUBLE_COOLANT_UNCOOLED
                                                                      : TROUBLE_RAW_WATER;
    }
    if (s->dark)
        rule_words_last(&w, c, more, sizeof more);
    s->said_ns = at.mono_ns;
    if (!b->claimed || (above ? c->value > s->said_worst : c->value < s->said_worst))
        s->said_worst = c->value;
    rule_claim(r, b, &claim, &w, at);
}

static void beyond(struct rules *r, struct binding *b, enum words_side side, struct stamp at)
{
    const struct channel *c = b->channel;
    struct limit_watch *s = rule_kept(b);
    s->inside.samples = 0;
    if (side == WORDS_ABOVE && rule_cooling_asks(r, c) && has_been_said(b)) {
        s->outside.samples = 0;
        if (s->question) /* the same one stands */
            rule_withdraw(r, b, at);
        return;
    }
    if (!b->claimed && !rule_may_look(r, b->rule, c, side == WORDS_ABOVE, at.mono_ns)) {
        s->outside.samples = 0;
        return;
    }
    if (s->side != side)
        s->outside.samples = 0;
    s->side = (uint8_t)side;
    if (s->outside.samples == 0) {
        s->leapt = leaps(b, at.mono_ns);
        s->passed = at;
        s->already = !s->seen || at.mono_ns - b->calm.at_ns > SEEN_NS + 3 * c->period_ns;
        s->ends = true;
    }
    s->ends = s->ends && c->at_end;
    held_add(&s->outside, c, at.mono_ns);
    bool question = may_be_dry(b), doubt = s->ends && !c->elsewhere;
    if (b->claimed) {
        /* An alarm never turns into a question; a question that falls into the wet range and
         * rises again has become an alarm by been_inside. */
        bool changes = (s->question && !question) || (s->doubt && !doubt);
        s->question = s->question && question;
        s->doubt = s->doubt && doubt;
        bool worse = side == WORDS_ABOVE ? c->value > s->said_worst : c->value < s->said_worst;
        if (changes || worse || s->dark || at.mono_ns - s->said_ns >= RULE_SAY_NS)
            say(r, b, at);
    } else if (is_raised(b)) {
        s->question = question;
        s->doubt = doubt;
        say(r, b, at);
    }
}

static inline void note_inside(struct binding *b, struct stamp at)
{
    struct limit_watch *s = rule_kept(b);
    s->outside.samples = 0;
    b->calm.value = b->channel->value;
    b->calm.at_ns = at.mono_ns;
    s->seen = true;
}

/* Where nothing is claimed and nothing was outside, more readings within change nothing. What
 * follows the kind of battery or of current may come to fit, or no longer do, between two. */
static void find_calm(struct binding *b)
{
    const struct rule_setting *rule = b->rule;
    if (rule->per_12v || rule->system > 0 || rule->battery != FOR_ANY)
        return;
    b->calm.low = rule->has_below ? rule->below : -INFINITY;
    if (rule->off_below > 0)
        b->calm.low = fmax(b->calm.low, rule->off_below);
    b->calm.high = rule->has_above ? rule->above : INFINITY;
}

/* What is claimed, and is within its limit now. */
static void within(struct rules *r, struct binding *b, struct stamp at)
{
    const struct channel *c = b->channel;
    struct limit_watch *s = rule_kept(b);
    note_inside(b, at);
    double limit = limit_of(b, (enum words_side)s->side);
    double back = rule_nominal(b->rule, c, b->rule->deadband);
    bool clear = s->side == WORDS_ABOVE ? c->value <= limit - back : c->value >= limit + back;
    if (!clear)
        s->inside.samples = 0;
    else
        held_add(&s->inside, c, at.mono_ns);
    if (clear && held_long_enough(&s->inside, c, b->rule->clear_hold_ns)) {
        s->been_inside = true;
        s->question = false;
        rule_end(r, b, END_BACK, at);
    } else {
        say(r, b, at);
    }
}

/* It is switched off, or of another kind than it seemed. */
static void no_case(struct rules *r, struct binding *b, struct stamp at)
{
    struct limit_watch *s = rule_kept(b);
    s->outside.samples = s->inside.samples = 0;
    if (b->claimed)
        rule_end(r, b, END_OFF, at);
}

static void limit_reading(struct rules *r, void *own, struct binding *b, struct stamp at)
{
    (void)own;
    const struct channel *c = b->channel;
    struct limit_watch *s = rule_kept(b);
    if (c->status != READING_OK || c->is_wild)
        return;
    s->dark = false;
    b->calm.low = NAN;
    if (!channel_fits(c, b->rule) || (b->rule->off_below > 0 && c->value < b->rule->off_below)) {
        no_case(r, b, at);
        return;
    }
    enum words_side side = side_of(b->rule, c, c->value);
    if (side != WORDS_NO_LIMIT) {
        beyond(r, b, side, at);
    } else if (b->claimed) {
        within(r, b, at);
    } else { /* nearly always */
        note_inside(b, at);
        s->been_inside = true;
        find_calm(b);
    }
}

/* A temperature that was beyond its limit when its box went dark, claimed by then or about to be:
 * heat does not end because nobody reads it. */
static bool is_left_hot(const struct rules *r, const struct binding *b)
{
    const struct channel *c = b->channel;
    const struct limit_watch *s = rule_kept(b);
    if (action_cooling_ns((enum quantity)c->id.quantity) == 0 ||
        side_of(b->rule, c, c->sane) != WORDS_ABOVE)
        return false;
    struct situation here = situation_of(r, c);
    return b->claimed || (c->switched_off && s->outside.samples > 0 &&
                          (s->outside.samples > 1 || alerts_standing(r->alerts, &here)));
}

/* No reading now. What is hot stays so until it is read within its limit again, or it was off for
 * as long as it needs to cool; what is not a temperature, or too low, ends with its box. */
static void look_dark(struct rules *r, struct binding *b, struct stamp now)
{
    const struct channel *c = b->channel;
    struct limit_watch *s = rule_kept(b);
    bool lower = s->side == WORDS_BELOW;
    if (!is_left_hot(r, b)) {
        if (c->switched_off || (lower && rule_excluded(r, b->rule, c, now.mono_ns))) {
            s->outside.samples = 0;
            rule_end(r, b, c->engine >= 0 ? END_STOPPED : END_OFF, now);
        }
        return;
    }
    if (c->switched_off &&
        now.mono_ns - c->sane_at.mono_ns >= action_cooling_ns((enum quantity)c->id.quantity)) {
        s->outside.samples = 0;
        s->dark = false;
        rule_end(r, b, END_COOLED, now);
        return;
    }
    if (s->dark && s->off == c->switched_off && b->claimed)
        return;
    s->dark = true;
    s->off = c->switched_off;
    say(r, b, now);
}

/* An engine that stopped takes its lower limits along: oil pressure is gone and may be. */
static void limit_look(struct rules *r, void *own, struct binding *b, struct stamp now)
{
    struct limit_watch *s = rule_kept(b);
    (void)own;
    if (rule_lost(b->channel, now.mono_ns)) {
        if (b->claimed || b->channel->switched_off)
            look_dark(r, b, now);
    } else if (b->claimed && s->side == WORDS_BELOW &&
               rule_excluded(r, b->rule, b->channel, now.mono_ns)) {
        s->outside.samples = 0;
        rule_end(r, b, END_STOPPED, now);
    }
}

static void limit_gap(struct binding *b, struct stamp now)
{
    struct limit_watch *s = rule_kept(b);
    (void)now;
    s->outside.samples = s->inside.samples = 0;
    s->seen = false;
    b->calm.low = NAN;
}

/* A limit of alarm priority cannot do without its channel. */
static bool limit_needs(const struct rules *r, const void *own, const struct channel *c)
{
    (void)own;
    return rule_watched(r, KIND_LIMIT, PRIORITY_ALARM, c);
}

const struct rule_module rule_limit_module = {
    .binding = true,
    .kind = KIND_LIMIT,
    .binds = limit_binds,
    .reading = limit_reading,
    .look = limit_look,
    .looks = LOOKS_LOST,
    .binding_gap = limit_gap,
    .needs = limit_needs,
};
