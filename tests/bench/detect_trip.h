/* One randomised trip of the detection bench: what is asked of the engines, what goes wrong, what
 * the sensors make of it, and what each observer says: the watch under test, the reference
 * observer (who runs a healthy shadow of the same boat), a fixed limit and plain rate rules. */
#ifndef STOKEHOLD_BENCH_DETECT_TRIP_H
#define STOKEHOLD_BENCH_DETECT_TRIP_H

#include "cooling/figures.h"
#include "detect_boat.h"

#include <stdio.h>

enum trip_fault {
    FAULT_NONE,
    FAULT_IMPELLER,
    FAULT_IMPELLER_NOISY,
    FAULT_IMPELLER_IDLE,
    FAULT_SEACOCK,
    FAULT_FOULED,
    FAULT_VANES,
    FAULT_COOLANT,
    FAULT_FIRE,
    FAULT_LOST_COOLANT, /* the coolant is gone, and its sender stands in air */
    FAULTS
};

/* The set that a trip is of: the one of detect_plan.c, or one of those of detect_kinds.c. */
enum trip_kind {
    KIND_PLAN,
    KIND_ORDINARY,
    KIND_GENERATOR,
    KIND_DRY,
    KIND_LIFTED,
    KIND_ANCHOR,
    KIND_START,
    KIND_UNDER_WAY,
    KIND_SLOW,
    KIND_FOUR,
    KIND_COARSE,
    KIND_GULPS,
    KIND_LOOSE,
    KIND_WEED,
    KIND_SWELL,
    KIND_SAIL_DRIVE,
    KIND_BASELINE,  /* the same healthy trip twice, the second with what the first found normal */
    KIND_BASELINES, /* two trips of one boat, then the second again with what both found normal */
    KIND_PETROL,
    KIND_THREE_ENGINES,
    KIND_FOUR_ENGINES,
    KINDS
};

enum {
    WITHOUT_GULPS = 1,
    WITHOUT_WILD = 2,
    WITHOUT_SEA = 4,
    WITHOUT_LOSS = 8,
    WITHOUT_CONFLICT = 16
};
enum { RATE_8, RATE_20, RATE_40, RATES };

struct trip_options {
    enum boat_model model;
    enum trip_fault fault;
    enum trip_kind kind;
    uint64_t seed;
    bool wide;        /* the held-out ranges */
    bool direct;      /* readings straight into the watch; otherwise frames into a keeper */
    FILE *trace;      /* CSV of all readings and verdicts, or NULL */
    bool explain;     /* print each warning as it comes */
    unsigned without; /* WITHOUT_..., to see what one disturbance costs */
    const struct figures *figures; /* of the watch, where it is fed directly; NULL: as shipped */
};

/* ideal_s is a cumulative sum that knows what the healthy engine shows and the sensor's noise, at
 * about one false alarm in 20 h of white noise: what theory could do with that knowledge.
 * gulp_s is the reference observer who also knows that air may have been drawn in for 5 s, and
 * waits until the reading stands as far above what that would show by now. Delays in seconds from
 * the beginning of the fault; NaN where it never came. */
struct trip_result {
    enum trip_fault fault;
    int engines;
    double hours; /* engine hours run */
    double watch_s, reference_s, ideal_s, gulp_s, limit_s, rate_s[RATES];
    double second_s;                  /* of the reference: its second reading */
    double alarm_s;                   /* the watch's first alarm */
    int cause;                        /* of the first true warning */
    int false_warnings, false_alarms; /* before the fault, or on what did not fail */
    int alarms_past; /* the alarms among them where the probe truly passed its limit at the time */
    int false_exhaust, false_coolant, false_space; /* the warnings among them */
    int false_oil, false_limit; /* limit: of a fixed limit of the shipped configuration */
    int cautions, conflicts;
    int told; /* warnings that say truly what happened: that air is drawn or a probe slips
               * again and again, up to two a trip; one question a channel of dry gas */
    int rate_false[RATES]; /* times a plain rate rule cried without a fault */
    int limit_false;
};

struct trip_result trip_run(const struct trip_options *o);

#endif
