/* The quantities stokehold knows and the names of their channels.
 * One table (quantity.c) gives each its key, label, unit, kind of place, decimals on the screen
 * and the span a sane sensor can report. A channel key is `QUANTITY`, `QUANTITY.PLACE` or
 * `QUANTITY.PLACE.SUB`; PLACE is the instance number on the bus. */
#ifndef STOKEHOLD_BASE_QUANTITY_H
#define STOKEHOLD_BASE_QUANTITY_H

#include "base/units.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum quantity {
    QTY_NONE,
    /* engine */
    QTY_RPM,
    QTY_BOOST,
    QTY_OIL_PRESSURE,
    QTY_COOLANT_PRESSURE,
    QTY_FUEL_PRESSURE,
    QTY_GEAR_OIL_PRESSURE,
    QTY_GEAR_OIL_TEMP,
    QTY_GEAR,
    QTY_COOLANT,
    QTY_OIL_TEMP,
    QTY_FUEL_TEMP,
    QTY_EXHAUST,
    QTY_EXHAUST_GAS,
    QTY_FUEL_RATE,
    QTY_TRIP_FUEL,
    QTY_HOURS,
    QTY_ALTERNATOR,
    QTY_LOAD,
    QTY_TORQUE,
    QTY_RAIL_PRESSURE,
    QTY_TURBO_SPEED,
    QTY_GEAR_NOW, /* of a gearbox with several; below 0 astern */
    QTY_TOTAL_FUEL,
    QTY_EXHAUST_GAS_LEFT,
    QTY_EXHAUST_GAS_RIGHT,
    QTY_INTAKE_AIR, /* in the manifold */
    QTY_COOLANT_LEVEL,
    QTY_OIL_LEVEL,
    QTY_FAN,
    QTY_OIL_TEMP_2,
    QTY_EGR_TEMP,
    QTY_CHARGE_AIR, /* after its cooler */
    QTY_MANIFOLD_PRESSURE,
    QTY_MANIFOLD_PRESSURE_2, /* both absolute */
    QTY_RATED_SPEED,
    /* temperatures of the boat, in the order of the standard's source codes */
    QTY_SEA,
    QTY_OUTSIDE_AIR,
    QTY_INSIDE_AIR,
    QTY_ENGINE_SPACE,
    QTY_CABIN,
    QTY_LIVE_WELL,
    QTY_BAIT_WELL,
    QTY_REFRIGERATOR,
    QTY_HEATING,
    QTY_DEW_POINT,
    QTY_WIND_CHILL_APPARENT,
    QTY_WIND_CHILL,
    QTY_HEAT_INDEX,
    QTY_FREEZER,
    QTY_SHAFT_SEAL,
    /* tanks, in the order of the standard's fluid types */
    QTY_FUEL_TANK,
    QTY_FRESH_WATER_TANK,
    QTY_GREY_WATER_TANK,
    QTY_LIVE_WELL_TANK,
    QTY_OIL_TANK,
    QTY_BLACK_WATER_TANK,
    QTY_PETROL_TANK,
    /* electrics and the rest */
    QTY_BATTERY_VOLTS,
    QTY_BATTERY_AMPS,
    QTY_BATTERY_TEMP,
    QTY_BATTERY_CHARGE,
    QTY_BATTERY_CAPACITY,
    QTY_DC_VOLTS,
    QTY_DC_AMPS,
    QTY_CHARGER, /* state codes of the standard: quantity_state */
    QTY_INVERTER,
    QTY_CONVERTER,
    /* alternating current; the second number is the line or phase, from 1. In: from shore or a
     * generator; out: made by an inverter; neither: measured anywhere */
    QTY_AC_IN_VOLTS,
    QTY_AC_IN_AMPS,
    QTY_AC_IN_HERTZ,
    QTY_AC_IN_WATTS,
    QTY_AC_OUT_VOLTS,
    QTY_AC_OUT_AMPS,
    QTY_AC_OUT_HERTZ,
    QTY_AC_OUT_WATTS,
    QTY_AC_VOLTS,
    QTY_AC_AMPS,
    QTY_AC_HERTZ,
    QTY_AC_WATTS,
    QTY_SPEED_GROUND,
    QTY_SPEED_WATER,
    QTY_SWITCH,
    QTY_HUMIDITY,
    QTY_PRESSURE,
    /* derived from others (plant/derive.c); never on the bus */
    QTY_BURN,       /* of all engines together */
    QTY_BURN_ERROR, /* how far off a burn may be that is the difference of two meters */
    QTY_TRIP_BURN,  /* fuel rate integrated since the start */
    QTY_BURN_PER_MILE,
    QTY_ECONOMY,
    QTY_FUEL_VOLUME,     /* in one tank, slosh taken out */
    QTY_FUEL_ABOARD,     /* in all of them */
    QTY_FUEL_TO_RESERVE, /* usable before the reserve is touched */
    QTY_RANGE,
    QTY_HOURS_LEFT,
    QTY_SPACE_RISE, /* engine space over outside air */
    QTY_BLOWER,     /* a switch by its purpose: `from = switch.0.3` */
    QTY_COUNT
};

enum place_kind {
    PLACE_NONE,     /* speed-ground */
    PLACE_ENGINE,   /* exhaust.1: port, starboard, ENGINE */
    PLACE_INSTANCE, /* fuel-tank.0 */
    PLACE_PAIR,     /* switch.BANK.N, pressure.SOURCE.N, ac-volts.N.PHASE */
};

struct quantity_info {
    const char *key;   /* "exhaust" */
    const char *label; /* "exhaust", for the screen */
    enum unit unit;    /* base unit */
    enum place_kind place;
    int decimals;           /* on the screen, in the base unit */
    double lowest, highest; /* what physics and the usual senders allow; outside is kind `span` */
    double steady_per_min;  /* a rate below this is "steady" on the screen, base unit a minute */
};

/* Never NULL; QTY_NONE for anything out of range. */
extern const struct quantity_info quantity_infos[QTY_COUNT];
static inline const struct quantity_info *quantity_info(enum quantity q)
{
    return &quantity_infos[(unsigned)q < QTY_COUNT ? q : QTY_NONE];
}
/* On or off: switches and what stands for one. */
static inline bool quantity_is_switch(enum quantity q)
{
    return q == QTY_SWITCH || q == QTY_BLOWER;
}

/* Volts and hertz of alternating current. */
static inline bool quantity_is_ac(enum quantity q)
{
    return q == QTY_AC_IN_VOLTS || q == QTY_AC_OUT_VOLTS || q == QTY_AC_VOLTS ||
           q == QTY_AC_IN_HERTZ || q == QTY_AC_OUT_HERTZ || q == QTY_AC_HERTZ;
}

/* The word for a state code of a charger, inverter or converter; NULL where the quantity has no
 * states or the standard has no word for this one. */
const char *quantity_state(enum quantity q, double value);

/* QTY_NONE where the word is unknown. len bytes of s are looked at. */
enum quantity quantity_find(const char *s, size_t len);

/* What a channel is about; who sends it is a separate matter (plant/channel.h). */
struct channel_id {
    uint16_t quantity; /* enum quantity */
    uint8_t place;     /* instance; 0 where there is none */
    uint8_t sub;       /* switch.BANK.N: N */
};

static inline bool channel_id_same(struct channel_id a, struct channel_id b)
{
    return a.quantity == b.quantity && a.place == b.place && a.sub == b.sub;
}

#define CHANNEL_KEY_SIZE 40 /* "wind-chill-apparent.252@can15:253" fits */

/* "exhaust.1", "speed-ground", "switch.0.3" into dst; returns the length. */
size_t channel_id_format(char *dst, size_t cap, struct channel_id id);
/* The reverse; false when it is not a key. `any_place` may be NULL; where it is not, `exhaust.*`
 * and a bare `exhaust` are accepted for quantities with places and set *any_place. */
bool channel_id_parse(const char *s, struct channel_id *out, bool *any_place);

#endif
