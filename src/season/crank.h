/* Finds the starts of a trip and how far the battery that turned the starter fell in each: the
 * lowest volts between a standing engine and a running one, beside what it stood at before. Told
 * once a second; on base/ alone.
 *
 * The dip lasts a second or two, so that volts every half second or faster are asked for: a slower
 * bus misses it, and nothing is claimed. Nor of a battery that is being charged, which hides it,
 * nor where the engine was not seen standing. */
#ifndef STOKEHOLD_SEASON_CRANK_H
#define STOKEHOLD_SEASON_CRANK_H

#include "season/season.h"

#define CRANK_ENGINES   8
#define CRANK_BATTERIES 8
#define CRANK_RPM       300 /* the start is over: the engine runs. A step of it has this speed */

/* One battery in this second; NaN: not known. */
struct crank_battery {
    uint8_t instance;
    double volts;    /* latest */
    double lowest;   /* of what was read in this second */
    double temp_c;   /* its own */
    double period_s; /* how often its volts come; 0: not known yet */
};

/* One engine in this second. */
struct crank_engine {
    bool running;
    double rpm; /* NaN: not known */
};

struct crank_rest { /* one battery beside one engine */
    double sum, count;
    double waiting; /* of the last second: counts once the engine stands in the next one too */
    double lowest;  /* since it last stood */
};

struct crank {
    int64_t stood_ns[CRANK_ENGINES]; /* the last second in which it stood; 0: it was not seen to */
    struct crank_rest rest[CRANK_ENGINES][CRANK_BATTERIES];
};

/* The second that began at wall_ns. air_c stands in where a battery's own temperature is not known
 * (NaN: neither). Writes a step for each start that ended in it, at most CRANK_ENGINES, and returns
 * how many. Batteries and engines keep their places in the arrays. All zero begins. */
int crank_second(struct crank *c, int64_t wall_ns, double air_c, const struct crank_engine *engines,
                 int count, const struct crank_battery *batteries, int battery_count,
                 struct season_step *out);

#endif
