/* self: the watch's own troubles, as far as it finds them itself: rules that found no room, which
 * are limits that nobody watches, and an engine that runs without the sensors that its cooling is
 * watched by, or with one that comes too seldom. What the record, the hooks and the clock have to
 * say comes by rule_condition. */
#include "rules/kinds.h"

#include "base/text.h"
#include "bus/condition.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* So long an engine runs, or something of it speaks, before a sensor is missed: the slowest
 * temperatures come every 2 s (IEC 61162-3, from memory), some boxes take their time. */
#define PATIENCE_NS (15 * NS_PER_S)

/* A hose burns half a minute after the water is lost: a longer period shows it in two readings at
 * best when it is over (sense_blind_s of the cooling watch). */
#define SELDOM_S 25.0

enum blindness { NO_SPEED, NO_EXHAUST, TOO_SELDOM, BLINDNESSES };

struct rule_self {
    uint64_t unbound; /* as told */
    int64_t since_ns; /* an engine is under way, or may be; 0: none is */
    bool said[BLINDNESSES];
};

/* Heard, or missed by name already (rule_never.c). */
static bool is_known(const struct rules *r, enum quantity q, enum quantity or_this)
{
    struct channel *const *all = plant_channels(r->plant);
    for (size_t i = 0; i < r->settings->channel_count; i++) {
        enum quantity named = (enum quantity)r->settings->channels[i].id.quantity;
        if (named == q || named == or_this)
            return true;
    }
    for (size_t i = 0, n = plant_count(r->plant); i < n; i++) {
        const struct channel *c = all[i];
        if (c->readings > 0 && (c->id.quantity == q || c->id.quantity == or_this))
            return true;
    }
    return false;
}

/* An engine turns, or, where its speed is not on the bus, something of it is heard. */
static bool under_way(const struct rules *r)
{
    struct channel *const *all = plant_channels(r->plant);
    for (size_t i = 0, n = plant_count(r->plant); i < n; i++) {
        const struct channel *c = all[i];
        if (c->engine < 0 || c->derived || c->status != READING_OK)
            continue;
        const struct engine *e = plant_engine(r->plant, c->engine);
        if (e->state == ENGINE_RUNNING || (!e->has_rpm && c->id.quantity != QTY_EXHAUST))
            return true;
    }
    return false;
}

static void say(struct rules *r, struct rule_self *k, enum blindness b, bool blind,
                const char *text, struct stamp now)
{
    if (k->said[b] == blind)
        return;
    k->said[b] = blind;
    rule_condition(r, CONDITION_CODE(CONDITION_BLIND, b), PRIORITY_CAUTION, text, blind, now);
}

/* The longest period of a wet exhaust whose engine runs, s; 0: none is known. */
static double longest_period(const struct rules *r)
{
    struct channel *const *all = plant_channels(r->plant);
    double longest = 0.0;
    for (size_t i = 0, n = plant_count(r->plant); i < n; i++) {
        const struct channel *c = all[i];
        if (c->id.quantity == QTY_EXHAUST && !c->second && c->engine >= 0 && c->period_ns > 0 &&
            plant_engine(r->plant, c->engine)->state == ENGINE_RUNNING)
            longest = fmax(longest, when_seconds(c->period_ns));
    }
    return longest;
}

static void look_around(struct rules *r, struct rule_self *k, struct stamp now)
{
    if (!under_way(r))
        k->since_ns = 0;
    else if (k->since_ns == 0)
        k->since_ns = now.mono_ns;
    if (k->since_ns == 0 || now.mono_ns - k->since_ns < PATIENCE_NS)
        return;
    say(r, k, NO_SPEED, !is_known(r, QTY_RPM, QTY_RPM),
        "NO ENGINE SPEED on the bus, cooling is watched less closely: look for it", now);
    say(r, k, NO_EXHAUST, !is_known(r, QTY_EXHAUST, QTY_EXHAUST_GAS),
        "NO EXHAUST TEMPERATURE on the bus, lost raw water shows late: fit a sensor", now);
    char text[ALERT_TEXT_SIZE];
    double period_s = longest_period(r);
    if (k->said[TOO_SELDOM] == (period_s > SELDOM_S))
        return;
    text_format(text, sizeof text,
                "EXHAUST comes every %.0f s, too seldom for lost raw water: send it faster",
                period_s);
    say(r, k, TOO_SELDOM, period_s > SELDOM_S, text, now);
}

static void self_sweep(struct rules *r, void *own, struct stamp now)
{
    struct rule_self *k = own;
    if (r->unbound != k->unbound) {
        char text[ALERT_TEXT_SIZE];
        k->unbound = r->unbound;
        text_format(text, sizeof text, "%llu LIMITS found no room and are not watched: fewer rules",
                    (unsigned long long)r->unbound);
        rule_condition(r, CONDITION_CODE(CONDITION_UNBOUND, 0), PRIORITY_WARNING, text, true, now);
    }
    look_around(r, k, now);
}

static void self_gap(void *own, struct stamp now)
{
    struct rule_self *k = own;
    if (k->since_ns > 0)
        k->since_ns = now.mono_ns;
}

const struct rule_module rule_self_module = {
    .own_size = sizeof(struct rule_self),
    .sweep = self_sweep,
    .gap = self_gap,
};
