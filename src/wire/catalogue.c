#include "wire/catalogue.h"

#include <assert.h>

#include "base/banned.h"

/* Conversion from the unit as sent into the base unit: base = sent * FACTOR + ZERO. */
#define NONE_FACTOR     1.0
#define NONE_ZERO       0.0
#define RPM_FACTOR      1.0
#define RPM_ZERO        0.0
#define K_FACTOR        1.0
#define K_ZERO          (-273.15)
#define C_FACTOR        1.0
#define C_ZERO          0.0
#define PA_FACTOR       0.001
#define PA_ZERO         0.0
#define KPA_FACTOR      1.0
#define KPA_ZERO        0.0
#define V_FACTOR        1.0
#define V_ZERO          0.0
#define A_FACTOR        1.0
#define A_ZERO          0.0
#define PERCENT_FACTOR  1.0
#define PERCENT_ZERO    0.0
#define S_FACTOR        1.0
#define S_ZERO          0.0
#define RUN_S_FACTOR    (1.0 / 3600.0)
#define RUN_S_ZERO      0.0
#define H_FACTOR        1.0
#define H_ZERO          0.0
#define L_FACTOR        1.0
#define L_ZERO          0.0
#define LPH_FACTOR      1.0
#define LPH_ZERO        0.0
#define MPS_FACTOR      (3600.0 / 1852.0)
#define MPS_ZERO        0.0
#define RAD_FACTOR      1.0
#define RAD_ZERO        0.0
#define DAY_FACTOR      1.0
#define DAY_ZERO        0.0
#define AH_FACTOR       1.0
#define AH_ZERO         0.0
#define MIN_FACTOR      1.0
#define MIN_ZERO        0.0
#define KM_PER_L_FACTOR 1.0
#define KM_PER_L_ZERO   0.0
#define REV_FACTOR      1.0
#define REV_ZERO        0.0

#define DECIMALS(step)                                                                             \
    ((step) >= 5.0     ? 0                                                                         \
     : (step) >= 0.5   ? 1                                                                         \
     : (step) >= 0.05  ? 2                                                                         \
     : (step) >= 0.005 ? 3                                                                         \
     : (step) >= 5e-4  ? 4                                                                         \
     : (step) >= 5e-5  ? 5                                                                         \
     : (step) >= 5e-6  ? 6                                                                         \
                       : 7)

/* raw * scale_ + offset_ in the unit as sent, and the same in the base unit. */
#define SENT(scale_, offset_, unit_)                                                               \
    .scale = (scale_), .offset = (offset_), .sent = SENT_##unit_, .gain = (scale_)*unit_##_FACTOR, \
    .zero = (offset_)*unit_##_FACTOR + unit_##_ZERO, .decimals = DECIMALS((scale_)*unit_##_FACTOR)

/* A state rather than a measure: exact without decimals. */
#define STATE(scale_, offset_)                                                                     \
    .scale = (scale_), .offset = (offset_), .sent = SENT_NONE, .gain = (scale_), .zero = (offset_)

#define FIELDS(...)                                                                                \
    .fields = (const struct field_info[]){__VA_ARGS__},                                            \
    .field_count = sizeof((const struct field_info[]){__VA_ARGS__}) / sizeof(struct field_info)

#define FIXED(n_)                                                                                  \
    {                                                                                              \
        .how = AT_FIXED, .n = (n_)                                                                 \
    }
#define FROM_BITS(b_, w_)                                                                          \
    {                                                                                              \
        .how = AT_BITS, .bit = (b_), .bits = (w_)                                                  \
    }
#define BY_ENGINE                                                                                  \
    {                                                                                              \
        .how = AT_ENGINE                                                                           \
    }
#define BY_GEARBOX                                                                                 \
    {                                                                                              \
        .how = AT_GEARBOX                                                                          \
    }
#define COUNTED_FROM(n_)                                                                           \
    {                                                                                              \
        .how = AT_COUNTED, .n = (n_)                                                               \
    }

/* Temperature source codes 0 to 15. */
static const uint16_t temperature_sources[] = {
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
    QTY_EXHAUST,
    QTY_SHAFT_SEAL,
};
/* The three of them that 130311 fills in where nothing better is heard. */
static const uint16_t weather_sources[] = {QTY_SEA, QTY_OUTSIDE_AIR, QTY_INSIDE_AIR};
/* Fluid types 0 to 6; 6 is in one open library only and harmless where unused. */
static const uint16_t fluid_types[] = {
    QTY_FUEL_TANK, QTY_FRESH_WATER_TANK, QTY_GREY_WATER_TANK, QTY_LIVE_WELL_TANK,
    QTY_OIL_TANK,  QTY_BLACK_WATER_TANK, QTY_PETROL_TANK,
};

#define CHOICE(b_, w_, list_)                                                                      \
    {                                                                                              \
        .bit = (b_), .bits = (w_), .count = sizeof(list_) / sizeof((list_)[0]),                    \
        .quantities = (list_)                                                                      \
    }

#define SEQUENCE_ID(b_)                                                                            \
    {                                                                                              \
        .name = "sequence id", .bit = (b_), .bits = 8, .family = FAMILY_CODE                       \
    }

/* clang-format off */
static const struct pgn_info rows[] = {
    {.pgn = 59392, .name = "acknowledgement", .priority = 6, .kind = PGN_SINGLE, .length = 8,
     FIELDS({.name = "control", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "group function", .bit = 8, .bits = 8, .family = FAMILY_CODE},
            {.name = "address acknowledged", .bit = 32, .bits = 8, .family = FAMILY_CODE},
            {.name = "PGN acknowledged", .bit = 40, .bits = 24, .family = FAMILY_CODE})},
    {.pgn = 59904, .name = "request", .priority = 6, .kind = PGN_SINGLE, .length = 3,
     FIELDS({.name = "PGN asked for", .bit = 0, .bits = 24, .family = FAMILY_CODE})},
    {.pgn = 60160, .name = "transport protocol, data", .priority = 7, .kind = PGN_TRANSPORT,
     .length = 8,
     FIELDS({.name = "packet number", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "data", .bit = 8, .bits = 56, .family = FAMILY_TEXT})},
    {.pgn = 60416, .name = "transport protocol, connection", .priority = 7, .kind = PGN_TRANSPORT,
     .length = 8,
     FIELDS({.name = "control", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "PGN carried", .bit = 40, .bits = 24, .family = FAMILY_CODE})},
    {.pgn = 60928, .name = "address claim", .priority = 6, .kind = PGN_SINGLE, .length = 8,
     FIELDS({.name = "identity number", .bit = 0, .bits = 21, .family = FAMILY_CODE},
            {.name = "manufacturer code", .bit = 21, .bits = 11, .family = FAMILY_CODE},
            {.name = "unit instance", .bit = 32, .bits = 3, .family = FAMILY_CODE},
            {.name = "function instance", .bit = 35, .bits = 5, .family = FAMILY_CODE},
            {.name = "function", .bit = 40, .bits = 8, .family = FAMILY_CODE},
            {.name = "device class", .bit = 49, .bits = 7, .family = FAMILY_CODE},
            {.name = "class instance", .bit = 56, .bits = 4, .family = FAMILY_CODE},
            {.name = "industry group", .bit = 60, .bits = 3, .family = FAMILY_CODE},
            {.name = "arbitrary address", .bit = 63, .bits = 1, .family = FAMILY_BITS})},

    /* SAE J1939-71. EEC1 and EEC2 come every 10 to 50 ms or with engine speed: the slowest. */
    {.pgn = 61443, .name = "electronic engine controller 2", .priority = 3, .kind = PGN_SINGLE,
     .period_ms = 50, .length = 8,
     FIELDS({.name = "accelerator pedal 1", .bit = 8, .bits = 8, .family = FAMILY_J1939, .spn = 91,
             SENT(0.4, 0, PERCENT)},
            {.name = "load at current speed", .bit = 16, .bits = 8, .family = FAMILY_J1939,
             .spn = 92, SENT(1, 0, PERCENT), .quantity = QTY_LOAD, .place = BY_ENGINE})},
    {.pgn = 61444, .name = "electronic engine controller 1", .priority = 3, .kind = PGN_SINGLE,
     .period_ms = 50, .length = 8,
     FIELDS({.name = "torque mode", .bit = 0, .bits = 4, .family = FAMILY_CODE},
            {.name = "torque demanded", .bit = 8, .bits = 8, .family = FAMILY_J1939, .spn = 512,
             SENT(1, -125, PERCENT)},
            {.name = "actual torque", .bit = 16, .bits = 8, .family = FAMILY_J1939, .spn = 513,
             SENT(1, -125, PERCENT), .quantity = QTY_TORQUE, .place = BY_ENGINE},
            {.name = "engine speed", .bit = 24, .bits = 16, .family = FAMILY_J1939, .spn = 190,
             SENT(0.125, 0, RPM), .quantity = QTY_RPM, .place = BY_ENGINE},
            {.name = "controlling address", .bit = 40, .bits = 8, .family = FAMILY_CODE},
            {.name = "starter mode", .bit = 48, .bits = 4, .family = FAMILY_CODE})},
    {.pgn = 65226, .name = "active trouble codes (DM1)", .priority = 6, .kind = PGN_SINGLE,
     .period_ms = 1000, .length = 0,
     FIELDS({.name = "protect lamp", .bit = 0, .bits = 2, .family = FAMILY_CODE},
            {.name = "amber warning lamp", .bit = 2, .bits = 2, .family = FAMILY_CODE},
            {.name = "red stop lamp", .bit = 4, .bits = 2, .family = FAMILY_CODE},
            {.name = "malfunction lamp", .bit = 6, .bits = 2, .family = FAMILY_CODE},
            {.name = "flashing of the lamps", .bit = 8, .bits = 8, .family = FAMILY_CODE},
            {.name = "first trouble code", .bit = 16, .bits = 32, .family = FAMILY_BITS})},
    {.pgn = 65253, .name = "engine hours", .priority = 6, .kind = PGN_SINGLE, .length = 8,
     FIELDS({.name = "total hours", .bit = 0, .bits = 32, .family = FAMILY_J1939, .spn = 247,
             SENT(0.05, 0, H), .quantity = QTY_HOURS, .place = BY_ENGINE},
            {.name = "total revolutions", .bit = 32, .bits = 32, .family = FAMILY_J1939,
             .spn = 249, SENT(1000, 0, REV)})},
    {.pgn = 65257, .name = "fuel used", .priority = 6, .kind = PGN_SINGLE, .length = 8,
     FIELDS({.name = "trip fuel", .bit = 0, .bits = 32, .family = FAMILY_J1939, .spn = 182,
             SENT(0.5, 0, L), .quantity = QTY_TRIP_FUEL, .place = BY_ENGINE},
            {.name = "total fuel used", .bit = 32, .bits = 32, .family = FAMILY_J1939, .spn = 250,
             SENT(0.5, 0, L)})},
    {.pgn = 65262, .name = "engine temperatures", .priority = 6, .kind = PGN_SINGLE,
     .period_ms = 1000, .length = 8,
     FIELDS({.name = "coolant temperature", .bit = 0, .bits = 8, .family = FAMILY_J1939,
             .spn = 110, SENT(1, -40, C), .quantity = QTY_COOLANT, .place = BY_ENGINE},
            {.name = "fuel temperature", .bit = 8, .bits = 8, .family = FAMILY_J1939, .spn = 174,
             SENT(1, -40, C), .quantity = QTY_FUEL_TEMP, .place = BY_ENGINE},
            {.name = "oil temperature", .bit = 16, .bits = 16, .family = FAMILY_J1939, .spn = 175,
             SENT(0.03125, -273, C), .quantity = QTY_OIL_TEMP, .place = BY_ENGINE},
            {.name = "turbocharger oil temperature", .bit = 32, .bits = 16,
             .family = FAMILY_J1939, .spn = 176, SENT(0.03125, -273, C)},
            {.name = "intercooler temperature", .bit = 48, .bits = 8, .family = FAMILY_J1939,
             .spn = 52, SENT(1, -40, C)},
            {.name = "intercooler thermostat opening", .bit = 56, .bits = 8,
             .family = FAMILY_J1939, .spn = 1134, SENT(0.4, 0, PERCENT)})},
    {.pgn = 65263, .name = "engine fluid levels and pressures", .priority = 6, .kind = PGN_SINGLE,
     .period_ms = 500, .length = 8,
     FIELDS({.name = "fuel delivery pressure", .bit = 0, .bits = 8, .family = FAMILY_J1939,
             .spn = 94, SENT(4, 0, KPA), .quantity = QTY_FUEL_PRESSURE, .place = BY_ENGINE},
            {.name = "crankcase blow-by pressure", .bit = 8, .bits = 8, .family = FAMILY_J1939,
             .spn = 22, SENT(0.05, 0, KPA)},
            {.name = "oil level", .bit = 16, .bits = 8, .family = FAMILY_J1939, .spn = 98,
             SENT(0.4, 0, PERCENT)},
            {.name = "oil pressure", .bit = 24, .bits = 8, .family = FAMILY_J1939, .spn = 100,
             SENT(4, 0, KPA), .quantity = QTY_OIL_PRESSURE, .place = BY_ENGINE},
            {.name = "crankcase pressure", .bit = 32, .bits = 16, .family = FAMILY_J1939,
             .spn = 101, SENT(0.0078125, -250, KPA)},
            {.name = "coolant pressure", .bit = 48, .bits = 8, .family = FAMILY_J1939, .spn = 109,
             SENT(2, 0, KPA), .quantity = QTY_COOLANT_PRESSURE, .place = BY_ENGINE},
            {.name = "coolant level", .bit = 56, .bits = 8, .family = FAMILY_J1939, .spn = 111,
             SENT(0.4, 0, PERCENT)})},
    {.pgn = 65266, .name = "fuel economy", .priority = 6, .kind = PGN_SINGLE, .period_ms = 100,
     .length = 8,
     FIELDS({.name = "fuel rate", .bit = 0, .bits = 16, .family = FAMILY_J1939, .spn = 183,
             SENT(0.05, 0, LPH), .quantity = QTY_FUEL_RATE, .place = BY_ENGINE},
            {.name = "economy now", .bit = 16, .bits = 16, .family = FAMILY_J1939, .spn = 184,
             SENT(0.001953125, 0, KM_PER_L)},
            {.name = "average economy", .bit = 32, .bits = 16, .family = FAMILY_J1939, .spn = 185,
             SENT(0.001953125, 0, KM_PER_L)},
            {.name = "throttle position", .bit = 48, .bits = 8, .family = FAMILY_J1939, .spn = 51,
             SENT(0.4, 0, PERCENT)})},
    {.pgn = 65269, .name = "ambient conditions", .priority = 6, .kind = PGN_SINGLE,
     .period_ms = 1000, .length = 8,
     FIELDS({.name = "barometric pressure", .bit = 0, .bits = 8, .family = FAMILY_J1939,
             .spn = 108, SENT(0.5, 0, KPA)},
            {.name = "cab temperature", .bit = 8, .bits = 16, .family = FAMILY_J1939, .spn = 170,
             SENT(0.03125, -273, C)},
            {.name = "ambient air temperature", .bit = 24, .bits = 16, .family = FAMILY_J1939,
             .spn = 171, SENT(0.03125, -273, C)},
            {.name = "air inlet temperature", .bit = 40, .bits = 8, .family = FAMILY_J1939,
             .spn = 172, SENT(1, -40, C)})},
    {.pgn = 65270, .name = "intake and exhaust conditions", .priority = 6, .kind = PGN_SINGLE,
     .period_ms = 500, .length = 8,
     FIELDS({.name = "particulate trap inlet pressure", .bit = 0, .bits = 8,
             .family = FAMILY_J1939, .spn = 81, SENT(0.5, 0, KPA)},
            {.name = "boost pressure", .bit = 8, .bits = 8, .family = FAMILY_J1939, .spn = 102,
             SENT(2, 0, KPA), .quantity = QTY_BOOST, .place = BY_ENGINE},
            {.name = "intake manifold temperature", .bit = 16, .bits = 8, .family = FAMILY_J1939,
             .spn = 105, SENT(1, -40, C)},
            {.name = "air inlet pressure", .bit = 24, .bits = 8, .family = FAMILY_J1939,
             .spn = 106, SENT(2, 0, KPA)},
            {.name = "air filter differential pressure", .bit = 32, .bits = 8,
             .family = FAMILY_J1939, .spn = 107, SENT(0.05, 0, KPA)},
            {.name = "exhaust gas temperature", .bit = 40, .bits = 16, .family = FAMILY_J1939,
             .spn = 173, SENT(0.03125, -273, C), .quantity = QTY_EXHAUST_GAS, .place = BY_ENGINE},
            {.name = "coolant filter differential pressure", .bit = 56, .bits = 8,
             .family = FAMILY_J1939, .spn = 112, SENT(0.5, 0, KPA)})},
    /* SPN 168 has no instance: it fills in for battery 0 where no 127508 is heard. */
    {.pgn = 65271, .name = "vehicle electrical power", .priority = 6, .kind = PGN_SINGLE,
     .period_ms = 1000, .length = 8,
     FIELDS({.name = "net battery current", .bit = 0, .bits = 8, .family = FAMILY_J1939,
             .spn = 114, SENT(1, -125, A)},
            {.name = "alternator current", .bit = 8, .bits = 8, .family = FAMILY_J1939,
             .spn = 115, SENT(1, 0, A)},
            {.name = "charging voltage", .bit = 16, .bits = 16, .family = FAMILY_J1939,
             .spn = 167, SENT(0.05, 0, V), .quantity = QTY_ALTERNATOR, .place = BY_ENGINE},
            {.name = "battery voltage", .bit = 32, .bits = 16, .family = FAMILY_J1939, .spn = 168,
             SENT(0.05, 0, V), .quantity = QTY_BATTERY_VOLTS, .place = FIXED(0), .rank = 1},
            {.name = "key switch voltage", .bit = 48, .bits = 16, .family = FAMILY_J1939,
             .spn = 158, SENT(0.05, 0, V)})},
    {.pgn = 65272, .name = "transmission fluids", .priority = 6, .kind = PGN_SINGLE,
     .period_ms = 1000, .length = 8,
     FIELDS({.name = "clutch pressure", .bit = 0, .bits = 8, .family = FAMILY_J1939, .spn = 123,
             SENT(16, 0, KPA)},
            {.name = "oil level", .bit = 8, .bits = 8, .family = FAMILY_J1939, .spn = 124,
             SENT(0.4, 0, PERCENT)},
            {.name = "filter differential pressure", .bit = 16, .bits = 8,
             .family = FAMILY_J1939, .spn = 126, SENT(2, 0, KPA)},
            {.name = "gear oil pressure", .bit = 24, .bits = 8, .family = FAMILY_J1939,
             .spn = 127, SENT(16, 0, KPA), .quantity = QTY_GEAR_OIL_PRESSURE, .place = BY_GEARBOX},
            {.name = "gear oil temperature", .bit = 32, .bits = 16, .family = FAMILY_J1939,
             .spn = 177, SENT(0.03125, -273, C), .quantity = QTY_GEAR_OIL_TEMP,
             .place = BY_GEARBOX})},
    /* Levels without an instance: they fill in where no 127505 is heard. */
    {.pgn = 65276, .name = "dash display", .priority = 6, .kind = PGN_SINGLE, .period_ms = 1000,
     .length = 8,
     FIELDS({.name = "washer fluid level", .bit = 0, .bits = 8, .family = FAMILY_J1939, .spn = 80,
             SENT(0.4, 0, PERCENT)},
            {.name = "fuel level 1", .bit = 8, .bits = 8, .family = FAMILY_J1939, .spn = 96,
             SENT(0.4, 0, PERCENT), .quantity = QTY_FUEL_TANK, .place = FIXED(0), .rank = 1},
            {.name = "fuel filter differential pressure", .bit = 16, .bits = 8,
             .family = FAMILY_J1939, .spn = 95, SENT(2, 0, KPA)},
            {.name = "fuel level 2", .bit = 48, .bits = 8, .family = FAMILY_J1939, .spn = 38,
             SENT(0.4, 0, PERCENT), .quantity = QTY_FUEL_TANK, .place = FIXED(1), .rank = 1})},

    /* IEC 61162-3 */
    {.pgn = 126992, .name = "system time", .priority = 3, .kind = PGN_SINGLE, .period_ms = 1000,
     .length = 8,
     FIELDS(SEQUENCE_ID(0),
            {.name = "time source", .bit = 8, .bits = 4, .family = FAMILY_CODE},
            {.name = "date", .bit = 16, .bits = 16, .family = FAMILY_IEC, SENT(1, 0, DAY)},
            {.name = "time of day", .bit = 32, .bits = 32, .family = FAMILY_IEC,
             SENT(0.0001, 0, S)})},
    {.pgn = 126993, .name = "heartbeat", .priority = 7, .kind = PGN_SINGLE, .period_ms = 60000,
     .length = 8,
     FIELDS({.name = "interval", .bit = 0, .bits = 16, .family = FAMILY_IEC, SENT(0.01, 0, S)},
            {.name = "sequence", .bit = 16, .bits = 8, .family = FAMILY_IEC, STATE(1, 0)},
            {.name = "controller 1", .bit = 24, .bits = 2, .family = FAMILY_CODE},
            {.name = "controller 2", .bit = 26, .bits = 2, .family = FAMILY_CODE},
            {.name = "equipment", .bit = 28, .bits = 2, .family = FAMILY_CODE})},
    {.pgn = 126996, .name = "product information", .priority = 6, .kind = PGN_FAST, .length = 134,
     FIELDS({.name = "version of the standard", .bit = 0, .bits = 16, .family = FAMILY_IEC,
             SENT(0.001, 0, NONE)},
            {.name = "product code", .bit = 16, .bits = 16, .family = FAMILY_IEC,
             STATE(1, 0)},
            {.name = "model", .bit = 32, .bits = 256, .family = FAMILY_TEXT},
            {.name = "software version", .bit = 288, .bits = 256, .family = FAMILY_TEXT},
            {.name = "model version", .bit = 544, .bits = 256, .family = FAMILY_TEXT},
            {.name = "serial number", .bit = 800, .bits = 256, .family = FAMILY_TEXT},
            {.name = "certification level", .bit = 1056, .bits = 8, .family = FAMILY_CODE},
            {.name = "load equivalency", .bit = 1064, .bits = 8, .family = FAMILY_CODE})},
    {.pgn = 127488, .name = "engine, rapid", .priority = 2, .kind = PGN_SINGLE, .period_ms = 100,
     .length = 8,
     FIELDS({.name = "engine instance", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "engine speed", .bit = 8, .bits = 16, .family = FAMILY_IEC,
             SENT(0.25, 0, RPM), .quantity = QTY_RPM, .place = FROM_BITS(0, 8)},
            {.name = "boost pressure", .bit = 24, .bits = 16, .family = FAMILY_IEC,
             SENT(100, 0, PA), .quantity = QTY_BOOST, .place = FROM_BITS(0, 8)},
            {.name = "tilt or trim", .bit = 40, .bits = 8, .is_signed = true,
             .family = FAMILY_IEC, SENT(1, 0, PERCENT)})},
    /* Oil in steps of 0.1 K, coolant in steps of 0.01 K: easily swapped. */
    {.pgn = 127489, .name = "engine, dynamic", .priority = 2, .kind = PGN_FAST, .period_ms = 500,
     .length = 26,
     FIELDS({.name = "engine instance", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "oil pressure", .bit = 8, .bits = 16, .family = FAMILY_IEC,
             SENT(100, 0, PA), .quantity = QTY_OIL_PRESSURE, .place = FROM_BITS(0, 8)},
            {.name = "oil temperature", .bit = 24, .bits = 16, .family = FAMILY_IEC,
             SENT(0.1, 0, K), .quantity = QTY_OIL_TEMP, .place = FROM_BITS(0, 8)},
            {.name = "coolant temperature", .bit = 40, .bits = 16, .family = FAMILY_IEC,
             SENT(0.01, 0, K), .quantity = QTY_COOLANT, .place = FROM_BITS(0, 8)},
            {.name = "alternator voltage", .bit = 56, .bits = 16, .is_signed = true,
             .family = FAMILY_IEC, SENT(0.01, 0, V), .quantity = QTY_ALTERNATOR,
             .place = FROM_BITS(0, 8)},
            {.name = "fuel rate", .bit = 72, .bits = 16, .is_signed = true, .family = FAMILY_IEC,
             SENT(0.1, 0, LPH), .quantity = QTY_FUEL_RATE, .place = FROM_BITS(0, 8)},
            {.name = "total hours", .bit = 88, .bits = 32, .family = FAMILY_IEC,
             SENT(1, 0, RUN_S), .quantity = QTY_HOURS, .place = FROM_BITS(0, 8)},
            {.name = "coolant pressure", .bit = 120, .bits = 16, .family = FAMILY_IEC,
             SENT(100, 0, PA), .quantity = QTY_COOLANT_PRESSURE, .place = FROM_BITS(0, 8)},
            {.name = "fuel pressure", .bit = 136, .bits = 16, .family = FAMILY_IEC,
             SENT(1000, 0, PA), .quantity = QTY_FUEL_PRESSURE, .place = FROM_BITS(0, 8)},
            {.name = "status word 1", .bit = 160, .bits = 16, .family = FAMILY_BITS},
            {.name = "status word 2", .bit = 176, .bits = 16, .family = FAMILY_BITS},
            {.name = "load", .bit = 192, .bits = 8, .is_signed = true, .family = FAMILY_IEC,
             SENT(1, 0, PERCENT), .quantity = QTY_LOAD, .place = FROM_BITS(0, 8)},
            {.name = "torque", .bit = 200, .bits = 8, .is_signed = true, .family = FAMILY_IEC,
             SENT(1, 0, PERCENT), .quantity = QTY_TORQUE, .place = FROM_BITS(0, 8)})},
    /* Gear: 0 ahead, 1 neutral, 2 astern as sent; 1, 0, -1 as kept. */
    {.pgn = 127493, .name = "transmission, dynamic", .priority = 2, .kind = PGN_SINGLE,
     .period_ms = 100, .length = 8,
     FIELDS({.name = "engine instance", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "gear", .bit = 8, .bits = 2, .family = FAMILY_CODE, STATE(-1, 1),
             .quantity = QTY_GEAR, .place = FROM_BITS(0, 8)},
            {.name = "gear oil pressure", .bit = 16, .bits = 16, .family = FAMILY_IEC,
             SENT(100, 0, PA), .quantity = QTY_GEAR_OIL_PRESSURE, .place = FROM_BITS(0, 8)},
            {.name = "gear oil temperature", .bit = 32, .bits = 16, .family = FAMILY_IEC,
             SENT(0.1, 0, K), .quantity = QTY_GEAR_OIL_TEMP, .place = FROM_BITS(0, 8)},
            {.name = "status", .bit = 48, .bits = 8, .family = FAMILY_BITS})},
    /* Priority 5 in two tables, 2 in the encoder of one of them. */
    {.pgn = 127497, .name = "engine trip", .priority = 5, .kind = PGN_FAST, .period_ms = 1000,
     .length = 9,
     FIELDS({.name = "engine instance", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "trip fuel", .bit = 8, .bits = 16, .family = FAMILY_IEC, SENT(1, 0, L),
             .quantity = QTY_TRIP_FUEL, .place = FROM_BITS(0, 8)},
            {.name = "average fuel rate", .bit = 24, .bits = 16, .is_signed = true,
             .family = FAMILY_IEC, SENT(0.1, 0, LPH)},
            {.name = "fuel rate for economy", .bit = 40, .bits = 16, .is_signed = true,
             .family = FAMILY_IEC, SENT(0.1, 0, LPH)},
            {.name = "fuel rate now", .bit = 56, .bits = 16, .is_signed = true,
             .family = FAMILY_IEC, SENT(0.1, 0, LPH)})},
    {.pgn = 127498, .name = "engine, fixed data", .priority = 5, .kind = PGN_FAST, .length = 0,
     FIELDS({.name = "engine instance", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "rated speed", .bit = 8, .bits = 16, .family = FAMILY_IEC,
             SENT(0.25, 0, RPM)})},
    {.pgn = 127501, .name = "switch bank, state", .priority = 3, .kind = PGN_SINGLE, .length = 8,
     FIELDS({.name = "bank instance", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "indicator", .bit = 8, .bits = 2, .repeat = 28, .family = FAMILY_IEC,
             STATE(1, 0), .quantity = QTY_SWITCH, .place = FROM_BITS(0, 8),
             .sub = COUNTED_FROM(1)})},
    {.pgn = 127502, .name = "switch bank, order", .priority = 3, .kind = PGN_SINGLE, .length = 8,
     FIELDS({.name = "bank instance", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "switch", .bit = 8, .bits = 2, .repeat = 28, .family = FAMILY_IEC,
             STATE(1, 0)})},
    {.pgn = 127505, .name = "fluid level", .priority = 6, .kind = PGN_SINGLE, .period_ms = 2500,
     .length = 8,
     FIELDS({.name = "tank instance", .bit = 0, .bits = 4, .family = FAMILY_CODE},
            {.name = "fluid type", .bit = 4, .bits = 4, .family = FAMILY_CODE},
            {.name = "level", .bit = 8, .bits = 16, .is_signed = true, .family = FAMILY_IEC,
             SENT(0.004, 0, PERCENT), .choice = CHOICE(4, 4, fluid_types),
             .place = FROM_BITS(0, 4)},
            {.name = "capacity", .bit = 24, .bits = 32, .family = FAMILY_IEC, SENT(0.1, 0, L),
             .is_capacity = true})},
    {.pgn = 127506, .name = "DC detail", .priority = 6, .kind = PGN_FAST, .period_ms = 1500,
     .length = 11,
     FIELDS(SEQUENCE_ID(0),
            {.name = "battery instance", .bit = 8, .bits = 8, .family = FAMILY_CODE},
            {.name = "DC type", .bit = 16, .bits = 8, .family = FAMILY_CODE},
            {.name = "state of charge", .bit = 24, .bits = 8, .family = FAMILY_IEC,
             SENT(1, 0, PERCENT), .quantity = QTY_BATTERY_CHARGE, .place = FROM_BITS(8, 8)},
            {.name = "state of health", .bit = 32, .bits = 8, .family = FAMILY_IEC,
             SENT(1, 0, PERCENT)},
            {.name = "time remaining", .bit = 40, .bits = 16, .family = FAMILY_IEC,
             SENT(1, 0, MIN)},
            {.name = "ripple voltage", .bit = 56, .bits = 16, .family = FAMILY_IEC,
             SENT(0.001, 0, V)},
            {.name = "capacity", .bit = 72, .bits = 16, .family = FAMILY_IEC, SENT(1, 0, AH)})},
    {.pgn = 127508, .name = "battery", .priority = 6, .kind = PGN_SINGLE, .period_ms = 1500,
     .length = 8,
     FIELDS({.name = "battery instance", .bit = 0, .bits = 8, .family = FAMILY_CODE},
            {.name = "voltage", .bit = 8, .bits = 16, .is_signed = true, .family = FAMILY_IEC,
             SENT(0.01, 0, V), .quantity = QTY_BATTERY_VOLTS, .place = FROM_BITS(0, 8)},
            {.name = "current", .bit = 24, .bits = 16, .is_signed = true, .family = FAMILY_IEC,
             SENT(0.1, 0, A), .quantity = QTY_BATTERY_AMPS, .place = FROM_BITS(0, 8)},
            {.name = "temperature", .bit = 40, .bits = 16, .family = FAMILY_IEC,
             SENT(0.01, 0, K), .quantity = QTY_BATTERY_TEMP, .place = FROM_BITS(0, 8)},
            SEQUENCE_ID(56))},
    {.pgn = 128259, .name = "speed through the water", .priority = 2, .kind = PGN_SINGLE,
     .period_ms = 1000, .length = 8,
     FIELDS(SEQUENCE_ID(0),
            {.name = "speed through the water", .bit = 8, .bits = 16, .family = FAMILY_IEC,
             SENT(0.01, 0, MPS), .quantity = QTY_SPEED_WATER},
            {.name = "speed over ground", .bit = 24, .bits = 16, .family = FAMILY_IEC,
             SENT(0.01, 0, MPS)},
            {.name = "kind of sensor", .bit = 40, .bits = 8, .family = FAMILY_CODE})},
    {.pgn = 129026, .name = "course and speed over ground", .priority = 2, .kind = PGN_SINGLE,
     .period_ms = 250, .length = 8,
     FIELDS(SEQUENCE_ID(0),
            {.name = "course reference", .bit = 8, .bits = 2, .family = FAMILY_CODE},
            {.name = "course over ground", .bit = 16, .bits = 16, .family = FAMILY_IEC,
             SENT(0.0001, 0, RAD)},
            {.name = "speed over ground", .bit = 32, .bits = 16, .family = FAMILY_IEC,
             SENT(0.01, 0, MPS), .quantity = QTY_SPEED_GROUND})},
    {.pgn = 130310, .name = "water and air (old)", .priority = 5, .kind = PGN_SINGLE,
     .period_ms = 500, .length = 8,
     FIELDS(SEQUENCE_ID(0),
            {.name = "water temperature", .bit = 8, .bits = 16, .family = FAMILY_IEC,
             SENT(0.01, 0, K), .quantity = QTY_SEA, .place = FIXED(0), .rank = 1},
            {.name = "outside air temperature", .bit = 24, .bits = 16, .family = FAMILY_IEC,
             SENT(0.01, 0, K), .quantity = QTY_OUTSIDE_AIR, .place = FIXED(0), .rank = 1},
            {.name = "barometric pressure", .bit = 40, .bits = 16, .family = FAMILY_IEC,
             SENT(100, 0, PA)})},
    {.pgn = 130311, .name = "environment", .priority = 5, .kind = PGN_SINGLE, .period_ms = 500,
     .length = 8,
     FIELDS(SEQUENCE_ID(0),
            {.name = "temperature source", .bit = 8, .bits = 6, .family = FAMILY_CODE},
            {.name = "humidity source", .bit = 14, .bits = 2, .family = FAMILY_CODE},
            {.name = "temperature", .bit = 16, .bits = 16, .family = FAMILY_IEC, SENT(0.01, 0, K),
             .choice = CHOICE(8, 6, weather_sources), .place = FIXED(0), .rank = 1},
            {.name = "humidity", .bit = 32, .bits = 16, .is_signed = true, .family = FAMILY_IEC,
             SENT(0.004, 0, PERCENT)},
            {.name = "barometric pressure", .bit = 48, .bits = 16, .family = FAMILY_IEC,
             SENT(100, 0, PA)})},
    /* 16 bits of 0.01 K end at 382.17 degrees C: hotter gas needs 130316. */
    {.pgn = 130312, .name = "temperature", .priority = 5, .kind = PGN_SINGLE, .period_ms = 2000,
     .length = 8,
     FIELDS(SEQUENCE_ID(0),
            {.name = "temperature instance", .bit = 8, .bits = 8, .family = FAMILY_CODE},
            {.name = "temperature source", .bit = 16, .bits = 8, .family = FAMILY_CODE},
            {.name = "temperature", .bit = 24, .bits = 16, .family = FAMILY_IEC, SENT(0.01, 0, K),
             .choice = CHOICE(16, 8, temperature_sources), .place = FROM_BITS(8, 8)},
            {.name = "set temperature", .bit = 40, .bits = 16, .family = FAMILY_IEC,
             SENT(0.01, 0, K)})},
    {.pgn = 130313, .name = "humidity", .priority = 5, .kind = PGN_SINGLE, .period_ms = 2000,
     .length = 8,
     FIELDS(SEQUENCE_ID(0),
            {.name = "humidity instance", .bit = 8, .bits = 8, .family = FAMILY_CODE},
            {.name = "humidity source", .bit = 16, .bits = 8, .family = FAMILY_CODE},
            {.name = "humidity", .bit = 24, .bits = 16, .is_signed = true, .family = FAMILY_IEC,
             SENT(0.004, 0, PERCENT), .quantity = QTY_HUMIDITY, .place = FROM_BITS(8, 8)},
            {.name = "set humidity", .bit = 40, .bits = 16, .is_signed = true,
             .family = FAMILY_IEC, SENT(0.004, 0, PERCENT)})},
    {.pgn = 130314, .name = "pressure", .priority = 5, .kind = PGN_SINGLE, .period_ms = 2000,
     .length = 8,
     FIELDS(SEQUENCE_ID(0),
            {.name = "pressure instance", .bit = 8, .bits = 8, .family = FAMILY_CODE},
            {.name = "pressure source", .bit = 16, .bits = 8, .family = FAMILY_CODE},
            {.name = "pressure", .bit = 24, .bits = 32, .is_signed = true, .family = FAMILY_IEC,
             SENT(0.1, 0, PA), .quantity = QTY_PRESSURE, .place = FROM_BITS(16, 8),
             .sub = FROM_BITS(8, 8)})},
    {.pgn = 130316, .name = "temperature, extended range", .priority = 5, .kind = PGN_SINGLE,
     .period_ms = 2000, .length = 8,
     FIELDS(SEQUENCE_ID(0),
            {.name = "temperature instance", .bit = 8, .bits = 8, .family = FAMILY_CODE},
            {.name = "temperature source", .bit = 16, .bits = 8, .family = FAMILY_CODE},
            {.name = "temperature", .bit = 24, .bits = 24, .family = FAMILY_IEC,
             SENT(0.001, 0, K), .choice = CHOICE(16, 8, temperature_sources),
             .place = FROM_BITS(8, 8)},
            {.name = "set temperature", .bit = 48, .bits = 16, .family = FAMILY_IEC,
             SENT(0.1, 0, K)})},
};
/* clang-format on */

#define ROW_COUNT (sizeof(rows) / sizeof(rows[0]))

size_t catalogue_count(void)
{
    return ROW_COUNT;
}

const struct pgn_info *catalogue_row(size_t i)
{
    return i < ROW_COUNT ? &rows[i] : NULL;
}

const struct pgn_info *catalogue_find(uint32_t pgn)
{
    size_t low = 0, high = ROW_COUNT;
    while (low < high) {
        size_t mid = (low + high) / 2;
        if (rows[mid].pgn < pgn)
            low = mid + 1;
        else
            high = mid;
    }
    return low < ROW_COUNT && rows[low].pgn == pgn ? &rows[low] : NULL;
}

void catalogue_index_build(struct catalogue_index *x)
{
    *x = (struct catalogue_index){0};
    unsigned pages = 0; /* page 0 of row[] stays empty: it is where unknown PGNs land */
    for (size_t i = 0; i < ROW_COUNT; i++) {
        uint8_t *page = &x->page[rows[i].pgn >> 8];
        if (*page == 0)
            *page = (uint8_t)++pages;
        assert(pages < CATALOGUE_PAGES);
        x->row[*page][rows[i].pgn & 0xFF] = (uint8_t)(i + 1);
    }
}
