#include "drill/fault.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define VANES 6 /* an impeller's usual number is 6 to 12; fewer makes bigger steps */

static const char *const names[DRILL_FAULT_COUNT] = {
    [DRILL_FAULT_NONE] = "none",
    [DRILL_FAULT_IMPELLER] = "impeller",
    [DRILL_FAULT_VANES] = "vanes",
    [DRILL_FAULT_FOULED] = "fouled",
    [DRILL_FAULT_SEACOCK] = "seacock",
    [DRILL_FAULT_COOLANT_PUMP] = "coolant-pump",
    [DRILL_FAULT_FIRE] = "fire",
    [DRILL_FAULT_SENSOR_OPEN] = "sensor-open",
    [DRILL_FAULT_SENSOR_SILENT] = "sensor-silent",
    [DRILL_FAULT_TWO_BOXES] = "two-boxes",
    [DRILL_FAULT_METER_HIGH] = "meter-high",
    [DRILL_FAULT_SWAPPED] = "swapped",
    [DRILL_FAULT_STUCK_TANK] = "stuck-tank",
};

const char *drill_fault_name(enum drill_fault_kind kind)
{
    return kind < DRILL_FAULT_COUNT ? names[kind] : names[DRILL_FAULT_NONE];
}

bool drill_fault_find(const char *name, enum drill_fault_kind *out)
{
    for (int i = 0; i < DRILL_FAULT_COUNT; i++) {
        if (strcmp(names[i], name) == 0) {
            *out = (enum drill_fault_kind)i;
            return true;
        }
    }
    return false;
}

struct drill_fault drill_fault_default(enum drill_fault_kind kind, int engine, double at_s,
                                       const struct drill_trip *trip)
{
    struct drill_fault f = {.kind = kind, .engine = engine, .at_s = at_s};

    if (at_s < 0)
        f.at_s = fmin(trip->length_s * 2 / 3,
                      trip->cruise_from_s + 0.8 * (trip->cruise_to_s - trip->cruise_from_s));
    switch (kind) {
    case DRILL_FAULT_IMPELLER:
    case DRILL_FAULT_COOLANT_PUMP:
        f.length_s = 1;
        break;
    case DRILL_FAULT_VANES:
        f.length_s = 420;
        if (at_s < 0)
            f.at_s = fmax(trip->cruise_from_s, trip->cruise_to_s - 480);
        break;
    case DRILL_FAULT_FOULED:
        f.length_s = 45;
        f.amount = 0.28;
        break;
    case DRILL_FAULT_SEACOCK:
        f.at_s = trip->start_s[engine];
        break;
    case DRILL_FAULT_FIRE:
        f.amount = 20;
        break;
    case DRILL_FAULT_METER_HIGH:
        f.amount = 0.04;
        f.at_s = 0;
        break;
    case DRILL_FAULT_SWAPPED:
    case DRILL_FAULT_STUCK_TANK:
        f.at_s = 0;
        break;
    default:
        break;
    }
    return f;
}

struct drill_fault drill_fault_random(enum drill_fault_kind kind, int engine,
                                      const struct drill_trip *trip, struct rng *r)
{
    struct drill_fault f = drill_fault_default(kind, engine, -1, trip);
    double room = 150;

    switch (kind) {
    case DRILL_FAULT_IMPELLER:
    case DRILL_FAULT_COOLANT_PUMP:
        f.length_s = rng_between(r, 0.3, 2);
        break;
    case DRILL_FAULT_VANES:
        f.length_s = rng_between(
            r, 300, fmin(720, fmax(301, trip->cruise_to_s - trip->cruise_from_s - 100)));
        room = f.length_s + 90;
        break;
    case DRILL_FAULT_FOULED:
        f.length_s = rng_between(r, 20, 80);
        f.amount = rng_between(r, 0.25, 0.33);
        room = f.length_s + 150;
        break;
    case DRILL_FAULT_SEACOCK:
    case DRILL_FAULT_METER_HIGH:
    case DRILL_FAULT_SWAPPED:
    case DRILL_FAULT_STUCK_TANK:
        return f;
    case DRILL_FAULT_FIRE:
        f.amount = rng_between(r, 13, 30);
        break;
    default:
        break;
    }
    f.at_s = rng_between(r, trip->cruise_from_s,
                         fmax(trip->cruise_from_s + 1, trip->cruise_to_s - room));
    return f;
}

bool drill_fault_active(const struct drill_fault *f, double t_s)
{
    return f->kind != DRILL_FAULT_NONE && t_s >= f->at_s;
}

bool drill_fault_is_physical(enum drill_fault_kind kind)
{
    return kind >= DRILL_FAULT_IMPELLER && kind <= DRILL_FAULT_FIRE;
}

void drill_fault_apply(const struct drill_fault *f, double t_s, struct drill_inputs *in)
{
    struct drill_engine_inputs *e = &in->engine[f->engine];
    double into = t_s - f->at_s;
    double part = f->length_s > 0 ? fmin(1, fmax(0, into / f->length_s)) : into >= 0;

    /* The seacock was shut long before anyone pressed the starter. */
    if (f->kind == DRILL_FAULT_SEACOCK) {
        e->water = 0;
        return;
    }
    if (into < 0)
        return;
    switch (f->kind) {
    case DRILL_FAULT_IMPELLER:
        e->water *= 1 - part;
        break;
    case DRILL_FAULT_VANES:
        /* The first goes at once, the last at length_s. Neighbours make up for a lost vane at
         * first. */
        e->water *= pow(1 - fmin(VANES, 1 + floor(part * (VANES - 1))) / VANES, 0.8);
        break;
    case DRILL_FAULT_FOULED:
        e->water *= 1 - part * (1 - f->amount);
        break;
    case DRILL_FAULT_COOLANT_PUMP:
        e->coolant_pump *= 1 - part;
        break;
    case DRILL_FAULT_FIRE:
        in->fire_k_per_min = f->amount;
        break;
    default:
        break;
    }
}
