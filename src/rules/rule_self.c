/* self: the watch's own troubles, as far as it finds them itself: rules that found no room, which
 * are limits that nobody watches, and an engine that runs without the sensors that its cooling is
 * watched by. What the record, the hooks and the clock have to say comes by rule_condition. */
#include "rules/kinds.h"

#include "base/text.h"
#include "bus/condition.h"

#include <string.h>

#include "base/banned.h"

/* So long an engine runs, or something of it speaks, before a sensor is missed: the slowest
 * temperatures come every 2 s (IEC 61162-3, from memory), some boxes take their time. */
#define PATIENCE_NS (15 * NS_PER_S)

enum blindness { NO_SPEED, NO_EXHAUST, BLINDNESSES };

struct rule_self {
    uint64_t unbound; /* as told */
    int64_t since_ns; /* an engine is under way, or may be; 0: none is */
    bool said[BLINDNESSES];
};

/* Heard, or missed by name already (rule_never.c). */
static bool is_known(const struct rules *r, enum quantity q, enum quantity or_this)
{
    for (size_t i = 0; i < r->settings->channel_count; i++) {
        enum quantity named = (enum quantity)r->settings->channels[i].id.quantity;
        if (named == q || named == or_this)
            return true;
    }
    for (size_t i = 0; i < plant_count(r->plant); i++) {
        const struct channel *c = plant_channel(r->plant, i);
        if (c->readings > 0 && (c->id.quantity == q || c->id.quantity == or_this))
            return true;
    }
    return false;
}

/* An engine turns, or, where its speed is not on the bus, something of it is heard. */
static bool under_way(const struct rules *r)
{
    for (size_t i = 0; i < plant_count(r->plant); i++) {
        const struct channel *c = plant_channel(r->plant, i);
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
