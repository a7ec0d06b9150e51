/* A whole drill: boat, trip, fault and sensors, walked through in steps of 0.1 s, beside a healthy
 * shadow of the same boat on the same trip. Gives messages as the boxes would send them and keeps
 * the truth. Deterministic: the same struct drill_plan gives the same messages.
 *
 *   struct drill_plan *plan = ...;               fill params, sensors, trip, fault, seed
 *   struct drill_run *run = drill_run_new(plan); copies the plan
 *   while (drill_run_step(run, sink, ctx)) {}
 *   const struct drill_truth *t = drill_run_truth(run);
 *   drill_run_free(run); */
#ifndef STOKEHOLD_DRILL_RUN_H
#define STOKEHOLD_DRILL_RUN_H

#include "drill/fault.h"
#include "drill/model.h"
#include "drill/sensors.h"
#include "drill/trip.h"

#include <stdbool.h>
#include <stdint.h>

#define DRILL_STEP_S 0.1
/* The usual fixed limits: exhaust 93.3 °C (200 °F), coolant 105 °C, engine space 60 °C. */
#define DRILL_LIMIT_EXHAUST_C 93.3
#define DRILL_LIMIT_COOLANT_C 105.0
#define DRILL_LIMIT_SPACE_C   60.0

struct drill_plan {
    uint64_t seed; /* of noise and jitter; a random boat and trip are drawn by the caller */
    struct drill_params params;
    struct drill_sensors sensors;
    struct drill_trip trip;
    struct drill_fault fault;
    bool full; /* with generator, shore power, inverter and lithium bank (electric.h) */
    uint8_t first_instance; /* of the engines, as sent: 0, and on other boats 1 or 11 */
};

/* Times in seconds since the start of the log; NaN: never. */
struct drill_truth {
    enum drill_fault_kind fault;
    int engine;
    double began_s;
    enum drill_quantity quantity; /* the channel that shows the fault first */
    double limit_c;               /* the fixed limit of that channel */
    double limit_passed_s;        /* first reading at or above it after the fault began */
    /* When one who knows what the healthy engine would have shown at each moment speaks: at the
     * first reading 5 standard deviations of the noise plus 0.5 K (and half the sensor's step)
     * above it. */
    double reference_s;
};

typedef void (*drill_sink)(void *ctx, const struct drill_message *m);

/* The default boat, sensors and trip. */
void drill_plan_default(struct drill_plan *plan, int engines, double minutes, uint64_t seed);
/* A sea trial (drill_trip_trial) of a boat that lifts late, so that a mile is cheapest at an inner
 * speed: see drill_economical_share. */
void drill_plan_trial(struct drill_plan *plan, int engines, uint64_t seed);
/* Any boat, sensors and helmsman within the documented ranges; fault none. engines 0: either. */
void drill_plan_random(struct drill_plan *plan, int engines, uint64_t seed);

/* Makes any of these a full boat. Of random ones the engines then begin at 0, 1 or 11. */
void drill_plan_full(struct drill_plan *plan, bool random);

/* NULL when out of memory. The plan is copied. */
struct drill_run *drill_run_new(const struct drill_plan *plan);
void drill_run_free(struct drill_run *run); /* NULL is fine */
/* One step; messages of the step go to sink in order of time. False when the trip is over. */
bool drill_run_step(struct drill_run *run, drill_sink sink, void *ctx);
const struct drill_truth *drill_run_truth(const struct drill_run *run);
/* What is really so right now. */
const struct drill_world *drill_run_world(const struct drill_run *run);

#endif
