/* Finds the stretches of a trip in which the engines ran at one speed and the temperatures had
 * settled: the steps of a sea trial. Numbers and times in, steps out; no channel, no I/O, no clock.
 *
 * Constant: every engine's speed, averaged over 1 s, stays within speed_part of its own mean since
 * the stretch began. An engine that starts, stops or is not heard for 5 s ends it.
 * Settled: for each temperature, the mean of the last half of `settle` and that of the half before
 * differ by less than drift_k. Noise averages out; a slow climb does not. A temperature that falls
 * silent is left out after `settle`. A sensor that counts in coarse steps, up to 1 K, may tip by
 * one. A step begins where the temperatures began to stand (so it is at least `settle` long and may
 * begin before it was known to), and lasts until the speed changes. Temperatures that move again
 * within it (a thermostat) end it too; the next one follows when they settle. */
#ifndef STOKEHOLD_PLANT_STEADY_H
#define STOKEHOLD_PLANT_STEADY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define STEADY_ENGINES    8
#define STEADY_TEMPS      32
#define STEADY_SETTLE_MAX 600 /* s */

struct steady_options {
    double speed_part;  /* 0.015 */
    double drift_k;     /* 0.5 K from half to half: 1 K/min at 60 s */
    int settle_s;       /* 60; an even number up to STEADY_SETTLE_MAX */
    double running_rpm; /* 300: below, an engine does not take part */
};
extern const struct steady_options steady_defaults;

struct steady_step {
    int64_t speed_from_ns;      /* mono: since when the speed was constant */
    int64_t from_ns, to_ns;     /* mono: constant and settled; from_ns - speed_from_ns is the time
                                   that the temperatures took to settle */
    double rpm[STEADY_ENGINES]; /* mean in [from, to) */
    uint8_t engines;            /* bit n: engine n ran */
    bool settled_already;       /* the temperatures stood when the speed became constant */
};

struct steady;
/* options NULL: the defaults; out of range ones are brought into it. NULL when out of memory. */
struct steady *steady_new(const struct steady_options *options);
void steady_free(struct steady *s);

/* Good readings, in order of time. index: any number below STEADY_TEMPS that stands for one
 * temperature; a higher one, and an engine out of range, is not looked at. */
void steady_rpm(struct steady *s, int64_t t_ns, int engine, double rpm);
void steady_temp(struct steady *s, int64_t t_ns, int index, double celsius);
/* A hole in the record, or the end of it: closes what is open. */
void steady_break(struct steady *s, int64_t t_ns);

/* Steps that are over, oldest first. */
size_t steady_count(const struct steady *s);
const struct steady_step *steady_at(const struct steady *s, size_t i); /* NULL out of range */

#endif
