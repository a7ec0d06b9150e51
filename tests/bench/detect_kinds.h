/* Trips of boats unlike those of detect_plan.c, as a set of their own: generators, dry gas that
 * nobody called dry, lifted intakes, anchorages, warm starts, slow and coarse sensors, loose
 * probes. What is drawn, and how much of it, is invented; how often it happens is common practice.
 */
#ifndef STOKEHOLD_BENCH_DETECT_KINDS_H
#define STOKEHOLD_BENCH_DETECT_KINDS_H

#include "detect_trip.h"

struct trip;

struct kind_info {
    const char *name;
    bool second;           /* needs more than the drill's model: a brake, other engines */
    enum trip_fault fault; /* what it is failed with beside benign trips; FAULT_NONE: nothing */
    double ratio_goal;     /* NaN: none */
};
extern const struct kind_info trip_kinds[KINDS];

/* Draws the whole trip from p->o and p->dice. */
void plan_kind(struct trip *p);

#endif
