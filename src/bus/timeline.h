/* Maps the stamps of a log onto a clock that never goes back, for the rules.
 *   - time standing still or going back (two interfaces merged, a clock set back): mono stays
 *   - a step forward of more than TIMELINE_GAP between two neighbouring frames: the record says
 *     nothing about that time, or the clock was set. The frame gets FRAME_GAP and mono goes on by
 *     at most TIMELINE_GAP_SHOWN, so that a step of a year makes no year of history.
 * mono starts at TIMELINE_START so that small ages can be subtracted from it. */
#ifndef STOKEHOLD_BUS_TIMELINE_H
#define STOKEHOLD_BUS_TIMELINE_H

#include "base/when.h"

#include <stdbool.h>

#define TIMELINE_GAP       (10 * NS_PER_S)
#define TIMELINE_GAP_SHOWN (600 * NS_PER_S)
#define TIMELINE_START     (1000 * NS_PER_S)

struct timeline {
    bool started;
    int64_t wall_ns, mono_ns;
    uint64_t steps_back, gaps; /* counted for the totals */
};

/* Returns the mono time of a frame stamped wall_ns; *gap is set when FRAME_GAP belongs to it. */
static inline int64_t timeline_map(struct timeline *t, int64_t wall_ns, bool *gap)
{
    *gap = false;
    if (!t->started) {
        t->started = true;
        t->wall_ns = wall_ns;
        t->mono_ns = TIMELINE_START;
        return t->mono_ns;
    }
    int64_t step = wall_ns - t->wall_ns;
    t->wall_ns = wall_ns;
    if (step < 0) {
        t->steps_back++;
    } else if (step > TIMELINE_GAP) {
        *gap = true;
        t->gaps++;
        t->mono_ns += step < TIMELINE_GAP_SHOWN ? step : TIMELINE_GAP_SHOWN;
    } else {
        t->mono_ns += step;
    }
    return t->mono_ns;
}

#endif
