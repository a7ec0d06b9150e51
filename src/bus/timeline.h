/* Maps the stamps of a log onto a clock that never goes back, for the rules.
 *   - time standing still or going back (two interfaces merged, a clock set back): mono stays
 *   - a step forward of more than TIMELINE_GAP between two neighbouring frames: the record says
 *     nothing about that time, or the clock was set. The frame gets FRAME_GAP and mono goes on by
 *     at most TIMELINE_GAP_SHOWN, so that a step of a year makes no year of history.
 *   - a shorter one that is still far longer than any pause of the last minute: the whole bus was
 *     quiet, the logger stalled, or the clock was set; a log does not tell which. The frame gets
 *     FRAME_HOLE, mono goes on by the step, and nobody is silent because of it. What counts as far
 *     is learned from the log itself, because on a sparse bus long pauses are normal; a pause that
 *     comes again within the minute is one of those.
 * mono starts at TIMELINE_START so that small ages can be subtracted from it. */
#ifndef STOKEHOLD_BUS_TIMELINE_H
#define STOKEHOLD_BUS_TIMELINE_H

#include "base/when.h"
#include "bus/frame.h"

#include <stdbool.h>

#define TIMELINE_GAP       (10 * NS_PER_S)
#define TIMELINE_GAP_SHOWN (600 * NS_PER_S)
#define TIMELINE_START     (1000 * NS_PER_S)
/* A sender is late after three of its periods and never before 2 s (plant/period.h); no shorter
 * pause makes anybody silent. Some are late before it, so a little less than that. */
#define TIMELINE_HOLE_MIN   (3 * NS_PER_S / 2)
#define TIMELINE_HOLE_TIMES 3
#define TIMELINE_LEARN      (30 * NS_PER_S) /* pauses are remembered one to two of these */
#define TIMELINE_KNOWN      (2 * NS_PER_S)  /* so much of a log before a hole can be told */

struct timeline {
    bool started;
    int64_t wall_ns, mono_ns;
    int64_t learned_ns;        /* mono: when pause_ns[0] was begun */
    int64_t pause_ns[2];       /* longest pause since then, and in the stretch before */
    uint64_t steps_back, gaps; /* counted for the totals; gaps with the holes */
};

static inline void timeline_learn(struct timeline *t, int64_t step)
{
    if (step > t->pause_ns[0])
        t->pause_ns[0] = step;
    if (t->mono_ns - t->learned_ns < TIMELINE_LEARN)
        return;
    t->pause_ns[1] = t->pause_ns[0];
    t->pause_ns[0] = 0;
    t->learned_ns = t->mono_ns;
}

static inline bool timeline_is_hole(const struct timeline *t, int64_t step)
{
    int64_t usual = t->pause_ns[0] > t->pause_ns[1] ? t->pause_ns[0] : t->pause_ns[1];
    return step > TIMELINE_HOLE_MIN && step > TIMELINE_HOLE_TIMES * usual &&
           t->mono_ns - TIMELINE_START >= TIMELINE_KNOWN;
}

/* Returns the mono time of a frame stamped wall_ns; adds FRAME_GAP or FRAME_HOLE to *flags where
 * they belong to it. */
static inline int64_t timeline_map(struct timeline *t, int64_t wall_ns, uint8_t *flags)
{
    if (!t->started) {
        t->started = true;
        t->wall_ns = wall_ns;
        t->mono_ns = t->learned_ns = TIMELINE_START;
        return t->mono_ns;
    }
    int64_t step = wall_ns - t->wall_ns;
    t->wall_ns = wall_ns;
    if (step < 0) {
        t->steps_back++;
    } else if (step > TIMELINE_GAP) {
        *flags |= FRAME_GAP;
        t->gaps++;
        t->mono_ns += step < TIMELINE_GAP_SHOWN ? step : TIMELINE_GAP_SHOWN;
    } else {
        if (timeline_is_hole(t, step)) {
            *flags |= FRAME_HOLE;
            t->gaps++;
        }
        t->mono_ns += step;
        timeline_learn(t, step);
    }
    return t->mono_ns;
}

#endif
