/* What every watch on board shares: the time, the figures, the sea, how lost water is answered, and
 * the count of verdicts that changed. Times are in seconds since the watch began. */
#ifndef STOKEHOLD_COOLING_BOAT_H
#define STOKEHOLD_COOLING_BOAT_H

#include "cooling/answer.h"
#include "cooling/trace.h"

#include <stdint.h>

#define BOAT_SPACES 8

struct sea {
    struct trace trace;
    double level_c; /* followed */
    double rate;    /* K/s, now, */
    double climbed; /* and the most of the last minute */
};

/* The air of an engine space, as it was last told. */
struct space_air {
    double last_c, last_s; /* NaN: never */
};

struct boat {
    const struct figures *figures;
    double now_s;
    uint32_t version;
    struct sea sea;
    struct space_air air[BOAT_SPACES];
    struct answers answers;
};

void boat_init(struct boat *b, const struct figures *figures); /* which outlive it */
void boat_sea_reading(struct boat *b, double t, double value_c);
/* Whether the sea's temperature is on the bus, and good. */
bool boat_sea_known(const struct boat *b);
void boat_space_reading(struct boat *b, int space, double t, double value_c);
/* Whether a value is that of the air of some engine space: where a probe hangs that has left its
 * place. */
bool boat_is_space_air(const struct boat *b, double value_c);

#endif
