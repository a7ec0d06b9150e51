/* The bench's second set: trips of other boats (detect_kinds.h), kind by kind. */
#ifndef STOKEHOLD_BENCH_DETECT_OTHER_H
#define STOKEHOLD_BENCH_DETECT_OTHER_H

#include "detect_trip.h"

struct other_run {
    uint64_t seed;
    int trips;             /* with a fault, of each kind */
    double hours;          /* benign engine hours of each kind */
    enum boat_model model; /* that one alone; BOAT_MODELS: the first two */
    bool direct, verbose;
    int only; /* a kind, or 0 */
    const struct figures *figures;
};

/* Prints the table; whether all goals are met. */
bool other_boats(const struct other_run *run);

#endif
