/* Whether the wall clock is to be believed. Rules go by a clock that never jumps; but the lines,
 * the record and an incident are labelled with this one, and a computer without a battery begins at
 * whatever time it was switched off. It is believed while a time server keeps it (the kernel says
 * so) or while the bus (PGN 126992) says the same. */
#ifndef STOKEHOLD_SESSION_CLOCK_TRUST_H
#define STOKEHOLD_SESSION_CLOCK_TRUST_H

#include "base/when.h"

#include <stdbool.h>

#define CLOCK_OFF_NS   (2 * NS_PER_S)   /* that a clock may be off and still be called right */
#define CLOCK_PATIENCE (600 * NS_PER_S) /* for the first fix or the first server */

struct clock_trust {
    bool trusted;
    bool complain;      /* not for longer than CLOCK_PATIENCE */
    int64_t jumped_ns;  /* by how much it was set in this turn; 0: it was not */
    int64_t good_ns;    /* mono: when it was last trusted, or the watch began */
    int64_t between_ns; /* wall less mono, at the last turn */
    int64_t asked_ns;   /* mono: when the kernel was asked */
    bool kept;          /* by a time server */
};

/* has_bus: the bus tells the time, which is ahead_ns ahead of ours. */
void clock_trust_turn(struct clock_trust *c, struct stamp clock, bool has_bus, int64_t ahead_ns);
/* The same without asking the kernel: kept says what it would have said. */
void clock_trust_judge(struct clock_trust *c, struct stamp clock, bool kept, bool has_bus,
                       int64_t ahead_ns);

#endif
