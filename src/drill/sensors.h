/* What the boat's boxes make of the truth: lag, noise, resolution, period, wild samples, faults.
 * Owns the sensors' state and the schedule of messages; frames.c turns the messages into CAN.
 * Lags are first order. Noise is normal, unless a box rounds it away. */
#ifndef STOKEHOLD_DRILL_SENSORS_H
#define STOKEHOLD_DRILL_SENSORS_H

#include "base/rng.h"
#include "drill/fault.h"
#include "drill/model.h"
#include "drill/trip.h"

#include <stdbool.h>
#include <stdint.h>

/* How one temperature is measured. */
struct drill_sensor_params {
    double tau_s;    /* probe and well */
    double noise;    /* standard deviation, K */
    double step;     /* the box rounds to this; 0: not at all */
    double bias;     /* K */
    double period_s; /* of its message */
};

struct drill_sensors {
    struct drill_sensor_params exhaust[DRILL_ENGINES]; /* tau 4..12, noise 0.02..1, step 0..1,
                                                          period 0.5..5 */
    struct drill_sensor_params coolant, oil; /* in 127489, every 0.5 s whatever period_s says */
    struct drill_sensor_params space, sea, air;
    double battery_s;  /* how often a battery's volts come: the standard's 1.5 */
    bool fine_exhaust; /* 130316 (0.001 K, no ceiling) rather than 130312 */
    double rpm_noise;
    double level_noise;   /* of a tank, share of full: slosh */
    bool no_load, no_sea; /* load and torque, the sea: not on this bus */
    double wild_share;    /* chance of each exhaust sample to be nonsense, 0..0.0005 */
};

/* Good sensors, as in the demo: exhaust 5 s lag, 0.15 K noise, every 2 s. */
void drill_sensors_default(struct drill_sensors *s);
/* Any sensors within the ranges above. */
void drill_sensors_random(struct drill_sensors *s, struct rng *r);

/* A value that may be missing. */
struct drill_value {
    bool ok;
    double v;
};

enum drill_message_kind {
    DRILL_RAPID,        /* rpm, boost kPa, gear: 127488 */
    DRILL_DYNAMIC,      /* 127489, see enum drill_dynamic */
    DRILL_TRANSMISSION, /* gear, oil kPa, oil °C: 127493 */
    DRILL_TRIP_FUEL,    /* L used, L/h average, economy, instantaneous: 127497 */
    DRILL_EXHAUST,      /* °C: 130312 or 130316, source 14 */
    DRILL_SPACE,        /* °C, source 3 */
    DRILL_SEA,          /* °C, source 0 */
    DRILL_AIR,          /* °C, source 1 */
    DRILL_TANK,         /* share of full, capacity L, fluid type: 127505 */
    DRILL_BATTERY,      /* V, A, °C: 127508 */
    DRILL_GROUND,       /* kn, course °: 129026 */
    DRILL_WATER,        /* kn: 128259 */
    DRILL_SWITCHES,     /* blower, bilge pump: 127501 */
    DRILL_PRESSURE,     /* kPa: 130314 source 0 */
    DRILL_CLOCK,        /* nothing: 126992 */
    DRILL_HEARTBEAT,    /* nothing: 126993 */
    DRILL_CLAIM,        /* nothing: 60928 */
    DRILL_PRODUCT,      /* nothing: 126996 */
    /* of a full boat (electric.h) */
    DRILL_AC_IN,         /* V, A, Hz, W of one line: 127503 */
    DRILL_AC_OUT,        /* the same: 127504 */
    DRILL_CHARGER,       /* battery, state: 127507 */
    DRILL_INVERTER,      /* state: 127509 */
    DRILL_CONVERTER,     /* state: 127750 */
    DRILL_BATTERY_SETUP, /* Ah of a lithium bank: 127513 */
    DRILL_CHARGE,        /* %: 127506 */
    DRILL_DC,            /* V, A: 127751 */
    DRILL_AC_VOLTS,      /* V, Hz: 127747 */
    DRILL_AC_AMPS,       /* A, W: 127744 */
    DRILL_MESSAGE_KINDS
};

enum drill_dynamic {
    DYN_OIL_KPA,
    DYN_OIL_C,
    DYN_COOLANT_C,
    DYN_ALTERNATOR_V,
    DYN_FUEL_LPH,
    DYN_HOURS,
    DYN_COOLANT_KPA,
    DYN_LOAD,   /* % */
    DYN_TORQUE, /* % */
    DYN_VALUES
};
#define DRILL_VALUES 10

/* One message of one box. */
struct drill_message {
    double t_s; /* since the start of the log */
    enum drill_message_kind kind;
    uint8_t place;  /* instance as sent */
    int engine;     /* the engine it is truly about, -1 where none */
    uint8_t sender; /* source address */
    bool wild;      /* deliberately nonsense: no observer of the truth counts it */
    struct drill_value v[DRILL_VALUES];
};

/* What a fault shows in first (truth.h). */
enum drill_quantity {
    DRILL_Q_RPM,
    DRILL_Q_LOAD,
    DRILL_Q_COOLANT,
    DRILL_Q_OIL_TEMP,
    DRILL_Q_EXHAUST, /* dry gas too: see drill_engine_params.dry_gas */
    DRILL_Q_SPACE,
    DRILL_Q_SEA,
};
#endif
