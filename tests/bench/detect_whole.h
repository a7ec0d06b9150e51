/* The whole way for the detection bench: readings packed as frames by the drill's packers, then
 * decoded, kept and judged by a keeper with the shipped configuration, as `watch` and `tend` do.
 * What it says of a sensor is the highest alert that stands on its channel, of the kinds that speak
 * of heat: `silent`, `conflict`, `span` and `bus` are not counted. */
#ifndef STOKEHOLD_BENCH_DETECT_WHOLE_H
#define STOKEHOLD_BENCH_DETECT_WHOLE_H

#include "cooling/cooling.h"

#include <stdbool.h>

struct whole;
/* NULL when out of memory. dry_gas: the exhaust sensors are configured as dry. */
struct whole *whole_new(int engines, bool dry_gas);
void whole_free(struct whole *w); /* NULL is allowed */
/* A reading, at any order within a step. intruder: sent by another box under the same instance. */
void whole_reading(struct whole *w, double t, int place, enum cooling_sensor s, bool good,
                   double value, bool intruder);
/* The end of a step: everything sent up to t_s is heard. */
void whole_step(struct whole *w, double t);
/* 0 none, 1 caution, 2 warning, 3 alarm (or worse). */
int whole_level(const struct whole *w, int place, enum cooling_sensor s);
/* The words of that alert; "" where none. */
const char *whole_words(const struct whole *w, int place, enum cooling_sensor s);
/* COOLING_AGAIN or COOLING_ASKS where that is what it says, by its words; otherwise any other. */
enum cooling_kind whole_kind(const struct whole *w, int place, enum cooling_sensor s);
/* Whether it is a fixed limit's. */
bool whole_is_limit(const struct whole *w, int place, enum cooling_sensor s);
/* Conflicts that were seen. */
int whole_conflicts(const struct whole *w);

#endif
