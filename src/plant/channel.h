/* One channel: what it is about, who sends it, its latest reading and its history.
 * Made and owned by the plant; the struct may be read by every layer above, and is written only
 * by plant/. A value is worth reading only while status is READING_OK. */
#ifndef STOKEHOLD_PLANT_CHANNEL_H
#define STOKEHOLD_PLANT_CHANNEL_H

#include "base/battery.h"
#include "base/quantity.h"
#include "base/reading.h"
#include "base/when.h"
#include "config/settings.h"
#include "plant/history.h"

struct channel {
    struct channel_id id;
    char key[CHANNEL_KEY_SIZE]; /* with @SOURCE for a second sender */
    char label[32];             /* "exhaust", or the configured one */
    enum unit unit;             /* base unit */
    uint8_t iface, source;      /* who sends it now */
    uint64_t name;              /* the sender's NAME, 0 where not heard */
    uint32_t pgn;               /* the message it last came from */
    bool second;                /* another sender holds this key: kept apart, key has @SOURCE */
    bool derived;               /* worked out from others; source is 255 */
    bool repeats;               /* can fall silent */
    bool switched_off;          /* stale or not available because its engine was stopped */
    uint8_t decimals;           /* of the wire, for export */
    bool at_end;                /* the last good reading was at the end of what its field holds */
    bool elsewhere;             /* some good reading was not */

    enum reading_status status;
    double value;         /* after calibration; the last good one */
    struct stamp at;      /* of the last message that carried the field, good or not */
    struct stamp good;    /* of the last good reading */
    int64_t period_ns;    /* learned; 0 before three messages */
    double sane;          /* the last good one within the span; NaN: none */
    struct stamp sane_at; /* and when */
    uint64_t readings;    /* good ones */
    uint32_t wild;        /* beyond the span, */
    bool is_wild;         /* as the last good one was */

    double capacity_l; /* tanks; 0 where unknown */
    int engine;        /* slot of the engine it belongs to, -1 for the boat's own */
    int system;        /* AC: nominal 120 or 230 V, 50 or 60 Hz; 0 before it is known */
    enum battery_chemistry chemistry;      /* of the battery; unknown is taken for flooded lead */
    int nominal_volts;                     /* 12, 24, 36, 48; 0 before it is known, or no voltage */
    struct history *history;               /* never NULL */
    const struct channel_setting *setting; /* NULL where not configured */
    void *rules;    /* of alerts/: what it keeps per channel; plant/ never looks */
    uint32_t order; /* by first appearance, from 0 */
};

/* Whether a limit is for what hangs on this channel: the kind of battery, the nominal volts or
 * hertz of its alternating current, a nominal voltage that is known where the limit follows it. */
static inline bool channel_fits(const struct channel *c, const struct rule_setting *rule)
{
    if (rule->per_12v && c->nominal_volts == 0)
        return false;
    if (rule->system > 0 && c->system != (int)(rule->system + 0.5))
        return false;
    return rule->battery == FOR_ANY || settings_for_battery(rule, c->chemistry);
}

#endif
