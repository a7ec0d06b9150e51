/* Whether an engine's speed is that of a generator: from a start it goes straight to a synchronous
 * speed (50 or 60 Hz with four or two poles: 1500, 1800, 3000 or 3600 rpm) and keeps to it. One
 * that drives a boat idles first. Pure; no channel, no clock.
 * Only a start that was seen says so: a twin under way at 1800 rpm is not a generator because the
 * record begins there. And not alone: slots.c asks for another engine that may drive the boat. */
#ifndef STOKEHOLD_PLANT_CONSTANT_H
#define STOKEHOLD_PLANT_CONSTANT_H

#include <stdbool.h>
#include <stdint.h>

struct constant {
    bool found;         /* it is one */
    bool varies;        /* it ran at some other speed: none, for good */
    bool stood;         /* it was last seen to stand, */
    bool turning;       /* and turns since, */
    int64_t turning_ns; /* from here on */
    double rpm;         /* the synchronous speed that it reached; 0: none yet */
    int64_t reached_ns; /* since when it keeps to it */
    int64_t kept_ns;    /* when it was last seen to */
};

/* A good speed; stands: below what a turning engine has. True where `found` has changed. */
bool constant_heard(struct constant *c, int64_t t_ns, double rpm, bool stands);
/* Speed is no longer heard, or was not for a while. */
void constant_lost(struct constant *c);

#endif
