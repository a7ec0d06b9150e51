/* Finds the steady steps of a trip while it goes on: stretches in which an engine held its speed
 * and what hangs on it had come to rest. Once a second it is told what the channels read then;
 * nothing of it is paid per frame. On base/ alone: numbers and times in, steps out.
 *
 * An engine's stretch lasts while its speed stays within 2.5 % of its own mean. What reacts at once
 * (burn, boost, volts, exhaust) is gathered from SETTLE_S on, slow masses (coolant, oil, spaces)
 * later; a channel whose two halves differ by more than it may drift is not kept. Steps of nearly
 * the same speed within a trip become one. */
#ifndef STOKEHOLD_SEASON_STEPS_H
#define STOKEHOLD_SEASON_STEPS_H

#include "season/crank.h"
#include "season/season.h"

#define STEPS_ENGINES 8
#define STEPS_MOST    600 /* of one trip; a day of changing speeds has some hundred */

/* What an engine's channels read in this second; NaN where not known or not good. */
struct steps_second {
    uint8_t instance;
    bool running;
    double rpm;
    double load[SEASON_LOADS];
    double value[16]; /* in the order of season_kept (kept.h); of what is `start` unused */
};

/* What stands best for the load where this quantity is compared with other trips, of what is known
 * (NaN: unknown); *value is NaN where nothing does. */
enum season_load season_load_best(enum quantity q, const double load[SEASON_LOADS], double *value);

struct steps;
struct steps *steps_new(void); /* NULL when out of memory */
void steps_free(struct steps *s);
/* The second that began at wall_ns. Seconds may be missing; a gap of more than 5 s ends stretches.
 * sea_c, air_c: NaN where not known. */
void steps_second(struct steps *s, int64_t wall_ns, double sea_c, double air_c,
                  const struct steps_second *engines, int count);
/* The same second's batteries (crank.h): each start that is over becomes a step. */
void steps_starts(struct steps *s, int64_t wall_ns, double air_c,
                  const struct steps_second *engines, int count,
                  const struct crank_battery *batteries, int battery_count);
/* Ends what is under way: the engines stopped, the log ended. */
void steps_close(struct steps *s);
/* A new trip: forgets all steps, and keeps what was read since the engines stopped. */
void steps_reset(struct steps *s);

/* Steps found so far, those of like speed joined; oldest first. Valid until the next call. */
const struct season_step *steps_found(const struct steps *s, int *count);
/* What an engine did in the latest minutes. */
struct steps_latest {
    struct season_step step;
    double held_s; /* it has held its speed, beyond the time to settle */
    bool at_rest;  /* neither drifting nor still cold: it counts as a step, too */
    bool rising;   /* drifting, upwards */
    bool warm;     /* its engine is */
};
/* The latest of engine i (as given in steps_second); false where it does not hold its speed, or not
 * for long enough to settle. `kept` indexes season_kept. */
bool steps_now(const struct steps *s, int engine, int kept, struct steps_latest *out);
/* First and last second with an engine running; 0 where none ran. */
int64_t steps_from_ns(const struct steps *s);
int64_t steps_to_ns(const struct steps *s);

#endif
