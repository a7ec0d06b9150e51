/* What goes wrong on a drill, and how it comes on. A fault acts on water, coolant flow or heat
 * (the inputs of the model) or on a sensor (sensors.c asks drill_fault_active). */
#ifndef STOKEHOLD_DRILL_FAULT_H
#define STOKEHOLD_DRILL_FAULT_H

#include "base/rng.h"
#include "drill/trip.h"

#include <stdbool.h>

enum drill_fault_kind {
    DRILL_FAULT_NONE,
    DRILL_FAULT_IMPELLER,      /* all vanes within a second or two: no raw water */
    DRILL_FAULT_VANES,         /* six vanes, one by one, over length_s */
    DRILL_FAULT_FOULED,        /* intake closes to `amount` of the flow within length_s */
    DRILL_FAULT_SEACOCK,       /* shut when the engine is started */
    DRILL_FAULT_COOLANT_PUMP,  /* coolant stops, raw water goes on */
    DRILL_FAULT_FIRE,          /* engine-space air climbs at `amount` K/min */
    DRILL_FAULT_SENSOR_OPEN,   /* exhaust sensor's wire: not-available from then on */
    DRILL_FAULT_SENSOR_SILENT, /* exhaust box stops sending */
    DRILL_FAULT_TWO_BOXES,     /* this engine's exhaust box takes the other's instance */
    /* faults of the installation, there from the beginning; `sea trial` finds them */
    DRILL_FAULT_METER_HIGH, /* this engine's fuel meter reads `amount` too much: 0.04 */
    DRILL_FAULT_SWAPPED,    /* the exhaust probes of the two engines are exchanged */
    DRILL_FAULT_STUCK_TANK, /* this engine's tank sender hangs */
    DRILL_FAULT_COUNT
};

struct drill_fault {
    enum drill_fault_kind kind;
    int engine;
    double at_s; /* from the start of the log */
    double length_s, amount;
};

/* "impeller", as on the command line. Never NULL. */
const char *drill_fault_name(enum drill_fault_kind kind);
/* False where the word is unknown. */
bool drill_fault_find(const char *name, enum drill_fault_kind *out);

/* The usual case of a kind: at_s < 0 takes two thirds into the trip, always within the cruise; a
 * shut seacock always begins with its engine. */
struct drill_fault drill_fault_default(enum drill_fault_kind kind, int engine, double at_s,
                                       const struct drill_trip *trip);
/* Any case: impeller 0.3-2 s; vanes 5-12 min; fouled to 0.25-0.33 within 20-80 s; fire 13-30
 * K/min; at a time of the cruise that leaves room for it. */
struct drill_fault drill_fault_random(enum drill_fault_kind kind, int engine,
                                      const struct drill_trip *trip, struct rng *r);

bool drill_fault_active(const struct drill_fault *f, double t_s);
/* True where it changes what the boat does, not only what a sensor says. */
bool drill_fault_is_physical(enum drill_fault_kind kind);
/* Lays the fault over healthy inputs. */
void drill_fault_apply(const struct drill_fault *f, double t_s, struct drill_inputs *in);

#endif
