#include "base/quantity.h"

#include "base/text.h"

#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Spans: what the usual senders can report (common practice, no source), wide enough that nothing
 * real is called wild: a wet exhaust sensor reads up to the 382 °C that a 130312 can carry, dry
 * gas up to 900 °C. */
const struct quantity_info quantity_infos[QTY_COUNT] = {
    /* key, label, unit, place, decimals, lowest, highest, steady a minute */
    [QTY_NONE] = {"", "", UNIT_NONE, PLACE_NONE, 0, -1e9, 1e9, 1},
    [QTY_RPM] = {"rpm", "speed", UNIT_RPM, PLACE_ENGINE, 0, 0, 9000, 60},
    [QTY_BOOST] = {"boost", "boost", UNIT_KPA, PLACE_ENGINE, 0, 0, 600, 20},
    [QTY_OIL_PRESSURE] = {"oil-pressure", "oil press.", UNIT_KPA, PLACE_ENGINE, 0, 0, 1400, 30},
    [QTY_COOLANT_PRESSURE] = {"coolant-pressure", "cool. press.", UNIT_KPA, PLACE_ENGINE, 0, 0, 700,
                              15},
    [QTY_FUEL_PRESSURE] = {"fuel-pressure", "fuel press.", UNIT_KPA, PLACE_ENGINE, 0, 0, 65000, 50},
    [QTY_GEAR_OIL_PRESSURE] = {"gear-oil-pressure", "gear press.", UNIT_KPA, PLACE_ENGINE, 0, 0,
                               4000, 100},
    [QTY_GEAR_OIL_TEMP] = {"gear-oil-temp", "gear oil", UNIT_C, PLACE_ENGINE, 0, -40, 200, 2},
    [QTY_GEAR] = {"gear", "gear", UNIT_NONE, PLACE_ENGINE, 0, -1, 1, 1},
    [QTY_COOLANT] = {"coolant", "coolant", UNIT_C, PLACE_ENGINE, 0, -40, 200, 2},
    [QTY_OIL_TEMP] = {"oil-temp", "oil", UNIT_C, PLACE_ENGINE, 0, -40, 250, 2},
    [QTY_FUEL_TEMP] = {"fuel-temp", "fuel temp.", UNIT_C, PLACE_ENGINE, 0, -40, 150, 2},
    [QTY_EXHAUST] = {"exhaust", "exhaust", UNIT_C, PLACE_ENGINE, 0, -40, 700, 3},
    [QTY_EXHAUST_GAS] = {"exhaust-gas", "exh. gas", UNIT_C, PLACE_ENGINE, 0, -40, 1000, 15},
    [QTY_FUEL_RATE] = {"fuel-rate", "burn", UNIT_LPH, PLACE_ENGINE, 1, 0, 3000, 2},
    [QTY_TRIP_FUEL] = {"trip-fuel", "trip fuel", UNIT_L, PLACE_ENGINE, 0, 0, 1e6, 10},
    [QTY_HOURS] = {"hours", "hours", UNIT_H, PLACE_ENGINE, 1, 0, 1.2e6, 1},
    [QTY_ALTERNATOR] = {"alternator", "alternator", UNIT_V, PLACE_ENGINE, 1, 0, 80, 0.5},
    [QTY_LOAD] = {"load", "load", UNIT_PERCENT, PLACE_ENGINE, 0, 0, 127, 10},
    [QTY_TORQUE] = {"torque", "torque", UNIT_PERCENT, PLACE_ENGINE, 0, -125, 127, 10},
    [QTY_RAIL_PRESSURE] = {"rail-pressure", "rail press.", UNIT_KPA, PLACE_ENGINE, 0, 0, 300e3,
                           2e3},
    [QTY_TURBO_SPEED] = {"turbo-speed", "turbo", UNIT_RPM, PLACE_ENGINE, 0, 0, 257e3, 2e3},
    [QTY_GEAR_NOW] = {"gear-now", "gear now", UNIT_NONE, PLACE_ENGINE, 0, -125, 125, 1},
    [QTY_TOTAL_FUEL] = {"total-fuel", "fuel ever", UNIT_L, PLACE_ENGINE, 0, 0, 2.2e9, 10},
    [QTY_EXHAUST_GAS_LEFT] = {"exhaust-gas-left", "gas left", UNIT_C, PLACE_ENGINE, 0, -40, 1000,
                              15},
    [QTY_EXHAUST_GAS_RIGHT] = {"exhaust-gas-right", "gas right", UNIT_C, PLACE_ENGINE, 0, -40, 1000,
                               15},
    [QTY_INTAKE_AIR] = {"intake-air", "intake air", UNIT_C, PLACE_ENGINE, 0, -60, 250, 3},
    [QTY_COOLANT_LEVEL] = {"coolant-level", "coolant lvl", UNIT_PERCENT, PLACE_ENGINE, 0, 0, 110,
                           2},
    [QTY_OIL_LEVEL] = {"oil-level", "oil level", UNIT_PERCENT, PLACE_ENGINE, 0, 0, 110, 2},
    [QTY_FAN] = {"fan", "fan", UNIT_PERCENT, PLACE_ENGINE, 0, 0, 110, 20},
    [QTY_OIL_TEMP_2] = {"oil-temp-2", "oil 2", UNIT_C, PLACE_ENGINE, 0, -40, 250, 2},
    [QTY_EGR_TEMP] = {"egr-temp", "EGR", UNIT_C, PLACE_ENGINE, 0, -40, 1000, 15},
    [QTY_CHARGE_AIR] = {"charge-air", "charge air", UNIT_C, PLACE_ENGINE, 0, -60, 250, 3},
    [QTY_MANIFOLD_PRESSURE] = {"manifold-pressure", "manifold", UNIT_KPA, PLACE_ENGINE, 0, 0, 700,
                               20},
    [QTY_MANIFOLD_PRESSURE_2] = {"manifold-pressure-2", "manifold 2", UNIT_KPA, PLACE_ENGINE, 0, 0,
                                 700, 20},
    [QTY_RATED_SPEED] = {"rated-speed", "rated speed", UNIT_RPM, PLACE_ENGINE, 0, 0, 16400, 1},
    [QTY_SEA] = {"sea", "sea", UNIT_C, PLACE_INSTANCE, 1, -5, 50, 0.5},
    [QTY_OUTSIDE_AIR] = {"outside-air", "outside", UNIT_C, PLACE_INSTANCE, 1, -60, 70, 1},
    [QTY_INSIDE_AIR] = {"inside-air", "inside", UNIT_C, PLACE_INSTANCE, 1, -60, 90, 1},
    [QTY_ENGINE_SPACE] = {"engine-space", "engine space", UNIT_C, PLACE_INSTANCE, 0, -60, 300, 2},
    [QTY_CABIN] = {"cabin", "cabin", UNIT_C, PLACE_INSTANCE, 1, -60, 90, 1},
    [QTY_LIVE_WELL] = {"live-well", "live well", UNIT_C, PLACE_INSTANCE, 1, -5, 60, 1},
    [QTY_BAIT_WELL] = {"bait-well", "bait well", UNIT_C, PLACE_INSTANCE, 1, -5, 60, 1},
    [QTY_REFRIGERATOR] = {"refrigerator", "fridge", UNIT_C, PLACE_INSTANCE, 1, -40, 60, 1},
    [QTY_HEATING] = {"heating", "heating", UNIT_C, PLACE_INSTANCE, 0, -40, 150, 2},
    [QTY_DEW_POINT] = {"dew-point", "dew point", UNIT_C, PLACE_INSTANCE, 1, -70, 60, 1},
    [QTY_WIND_CHILL_APPARENT] = {"wind-chill-apparent", "chill app.", UNIT_C, PLACE_INSTANCE, 1,
                                 -90, 70, 1},
    [QTY_WIND_CHILL] = {"wind-chill", "wind chill", UNIT_C, PLACE_INSTANCE, 1, -90, 70, 1},
    [QTY_HEAT_INDEX] = {"heat-index", "heat index", UNIT_C, PLACE_INSTANCE, 1, -60, 90, 1},
    [QTY_FREEZER] = {"freezer", "freezer", UNIT_C, PLACE_INSTANCE, 1, -60, 60, 1},
    [QTY_SHAFT_SEAL] = {"shaft-seal", "shaft seal", UNIT_C, PLACE_INSTANCE, 0, -40, 200, 2},
    [QTY_FUEL_TANK] = {"fuel-tank", "fuel tank", UNIT_PERCENT, PLACE_INSTANCE, 0, 0, 110, 2},
    [QTY_FRESH_WATER_TANK] = {"fresh-water-tank", "fresh water", UNIT_PERCENT, PLACE_INSTANCE, 0, 0,
                              110, 2},
    [QTY_GREY_WATER_TANK] = {"grey-water-tank", "grey water", UNIT_PERCENT, PLACE_INSTANCE, 0, 0,
                             110, 2},
    [QTY_LIVE_WELL_TANK] = {"live-well-tank", "live well tk", UNIT_PERCENT, PLACE_INSTANCE, 0, 0,
                            110, 2},
    [QTY_OIL_TANK] = {"oil-tank", "oil tank", UNIT_PERCENT, PLACE_INSTANCE, 0, 0, 110, 2},
    [QTY_BLACK_WATER_TANK] = {"black-water-tank", "black water", UNIT_PERCENT, PLACE_INSTANCE, 0, 0,
                              110, 2},
    [QTY_PETROL_TANK] = {"petrol-tank", "petrol tank", UNIT_PERCENT, PLACE_INSTANCE, 0, 0, 110, 2},
    [QTY_BATTERY_VOLTS] = {"battery-volts", "battery", UNIT_V, PLACE_INSTANCE, 1, 0, 80, 0.3},
    [QTY_BATTERY_AMPS] = {"battery-amps", "battery", UNIT_A, PLACE_INSTANCE, 0, -3000, 3000, 10},
    [QTY_BATTERY_TEMP] = {"battery-temp", "battery", UNIT_C, PLACE_INSTANCE, 0, -40, 150, 1},
    [QTY_BATTERY_CHARGE] = {"battery-charge", "charge", UNIT_PERCENT, PLACE_INSTANCE, 0, 0, 110, 1},
    [QTY_BATTERY_CAPACITY] = {"battery-capacity", "capacity", UNIT_AH, PLACE_INSTANCE, 0, 0, 66e3,
                              1},
    [QTY_DC_VOLTS] = {"dc-volts", "DC", UNIT_V, PLACE_INSTANCE, 1, 0, 1500, 0.3},
    [QTY_DC_AMPS] = {"dc-amps", "DC", UNIT_A, PLACE_INSTANCE, 0, -84e3, 84e3, 10},
    [QTY_CHARGER] = {"charger", "charger", UNIT_NONE, PLACE_INSTANCE, 0, 0, 255, 1},
    [QTY_INVERTER] = {"inverter", "inverter", UNIT_NONE, PLACE_INSTANCE, 0, 0, 255, 1},
    [QTY_CONVERTER] = {"converter", "converter", UNIT_NONE, PLACE_INSTANCE, 0, 0, 255, 1},
    [QTY_AC_IN_VOLTS] = {"ac-in-volts", "AC in", UNIT_V, PLACE_PAIR, 0, 0, 700, 2},
    [QTY_AC_IN_AMPS] = {"ac-in-amps", "AC in", UNIT_A, PLACE_PAIR, 1, 0, 6600, 5},
    [QTY_AC_IN_HERTZ] = {"ac-in-hertz", "AC in", UNIT_HZ, PLACE_PAIR, 1, 0, 660, 0.3},
    [QTY_AC_IN_WATTS] = {"ac-in-watts", "AC in", UNIT_WATT, PLACE_PAIR, 0, -2.2e9, 4.3e9, 200},
    [QTY_AC_OUT_VOLTS] = {"ac-out-volts", "AC out", UNIT_V, PLACE_PAIR, 0, 0, 700, 2},
    [QTY_AC_OUT_AMPS] = {"ac-out-amps", "AC out", UNIT_A, PLACE_PAIR, 1, 0, 6600, 5},
    [QTY_AC_OUT_HERTZ] = {"ac-out-hertz", "AC out", UNIT_HZ, PLACE_PAIR, 1, 0, 660, 0.3},
    [QTY_AC_OUT_WATTS] = {"ac-out-watts", "AC out", UNIT_WATT, PLACE_PAIR, 0, -2.2e9, 4.3e9, 200},
    [QTY_AC_VOLTS] = {"ac-volts", "AC", UNIT_V, PLACE_PAIR, 0, 0, 64e3, 2},
    [QTY_AC_AMPS] = {"ac-amps", "AC", UNIT_A, PLACE_PAIR, 1, 0, 64e3, 5},
    [QTY_AC_HERTZ] = {"ac-hertz", "AC", UNIT_HZ, PLACE_PAIR, 1, 0, 6600, 0.3},
    [QTY_AC_WATTS] = {"ac-watts", "AC", UNIT_WATT, PLACE_PAIR, 0, -2.2e9, 2.3e9, 200},
    [QTY_SPEED_GROUND] = {"speed-ground", "over ground", UNIT_KN, PLACE_NONE, 1, 0, 150, 1},
    [QTY_SPEED_WATER] = {"speed-water", "thru water", UNIT_KN, PLACE_NONE, 1, 0, 150, 1},
    [QTY_SWITCH] = {"switch", "switch", UNIT_NONE, PLACE_PAIR, 0, 0, 1, 1},
    [QTY_HUMIDITY] = {"humidity", "humidity", UNIT_PERCENT, PLACE_INSTANCE, 0, 0, 110, 2},
    [QTY_PRESSURE] = {"pressure", "pressure", UNIT_KPA, PLACE_PAIR, 1, -200, 70000, 1},
    [QTY_BURN] = {"burn", "burn", UNIT_LPH, PLACE_NONE, 1, 0, 1e5, 3},
    [QTY_BURN_ERROR] = {"burn-error", "burn +/-", UNIT_LPH, PLACE_ENGINE, 1, 0, 3000, 5},
    [QTY_TRIP_BURN] = {"trip-burn", "burnt", UNIT_L, PLACE_ENGINE, 1, 0, 1e6, 1e3},
    [QTY_BURN_PER_MILE] = {"burn-per-mile", "per mile", UNIT_L_PER_NMI, PLACE_NONE, 2, 0, 1e4, 0.2},
    [QTY_ECONOMY] = {"economy", "economy", UNIT_NMI_PER_L, PLACE_NONE, 2, 0, 1e3, 0.2},
    [QTY_FUEL_VOLUME] = {"fuel-volume", "in tank", UNIT_L, PLACE_INSTANCE, 0, 0, 1e6, 5},
    [QTY_FUEL_ABOARD] = {"fuel-aboard", "fuel aboard", UNIT_L, PLACE_NONE, 0, 0, 1e6, 10},
    [QTY_FUEL_TO_RESERVE] = {"fuel-to-reserve", "to reserve", UNIT_L, PLACE_NONE, 0, 0, 1e6, 10},
    [QTY_RANGE] = {"range", "range", UNIT_NMI, PLACE_NONE, 0, 0, 1e5, 20},
    [QTY_HOURS_LEFT] = {"hours-left", "hours left", UNIT_H, PLACE_NONE, 1, 0, 1e5, 1},
    [QTY_SPACE_RISE] = {"space-rise", "space rise", UNIT_K_DIFF, PLACE_INSTANCE, 0, -60, 250, 2},
    [QTY_BLOWER] = {"blower", "blower", UNIT_NONE, PLACE_INSTANCE, 0, 0, 1, 1},
};

/* The states of the standard's lists (127507, 127509, 127750), in the trade's words. */
static const char *const charger_states[] = {"not charging", "bulk",  "absorption", "overcharge",
                                             "equalise",     "float", "no float",   "constant",
                                             "disabled",     "fault"};
static const char *const inverter_states[] = {"inverting", "pass-through", "load sense", "fault",
                                              "disabled"};
static const char *const converter_states[] = {"off",          "low power", "fault",    "bulk",
                                               "absorption",   "float",     "storage",  "equalise",
                                               "pass-through", "inverting", "assisting"};

const char *quantity_state(enum quantity q, double value)
{
    const char *const *words = q == QTY_CHARGER     ? charger_states
                               : q == QTY_INVERTER  ? inverter_states
                               : q == QTY_CONVERTER ? converter_states
                                                    : NULL;
    size_t count = q == QTY_CHARGER    ? sizeof charger_states / sizeof *charger_states
                   : q == QTY_INVERTER ? sizeof inverter_states / sizeof *inverter_states
                                       : sizeof converter_states / sizeof *converter_states;
    return words != NULL && value >= 0 && value < (double)count ? words[(size_t)value] : NULL;
}

enum quantity quantity_find(const char *s, size_t len)
{
    for (unsigned q = 1; q < QTY_COUNT; q++)
        if (strlen(quantity_infos[q].key) == len && memcmp(quantity_infos[q].key, s, len) == 0)
            return (enum quantity)q;
    return QTY_NONE;
}

size_t channel_id_format(char *dst, size_t cap, struct channel_id id)
{
    const struct quantity_info *info = quantity_info((enum quantity)id.quantity);
    if (info->place == PLACE_NONE)
        text_copy(dst, cap, info->key);
    else if (info->place == PLACE_PAIR)
        text_format(dst, cap, "%s.%d.%d", info->key, id.place, id.sub);
    else
        text_format(dst, cap, "%s.%d", info->key, id.place);
    return strlen(dst);
}

/* Reads ".N" with N from 0 to 255 and no leading zeros or signs. */
static const char *read_part(const char *s, uint8_t *out)
{
    if (*s++ != '.' || *s < '0' || *s > '9' || (s[0] == '0' && s[1] >= '0' && s[1] <= '9'))
        return NULL;
    int v = 0;
    for (; *s >= '0' && *s <= '9'; s++) {
        v = v * 10 + (*s - '0');
        if (v > 255)
            return NULL;
    }
    *out = (uint8_t)v;
    return s;
}

bool channel_id_parse(const char *s, struct channel_id *out, bool *any_place)
{
    size_t len = strcspn(s, ".");
    enum quantity q = quantity_find(s, len);
    if (q == QTY_NONE)
        return false;
    struct channel_id id = {.quantity = (uint16_t)q};
    enum place_kind place = quantity_info(q)->place;
    const char *rest = s + len;
    if (any_place)
        *any_place = false;
    if (any_place && place != PLACE_NONE && (strcmp(rest, "") == 0 || strcmp(rest, ".*") == 0)) {
        *any_place = true;
        *out = id;
        return true;
    }
    if (place != PLACE_NONE && !(rest = read_part(rest, &id.place)))
        return false;
    if (place == PLACE_PAIR && !(rest = read_part(rest, &id.sub)))
        return false;
    if (*rest != '\0')
        return false;
    *out = id;
    return true;
}
