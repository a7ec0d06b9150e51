/* Messages of a drill as CAN frames (IEC 61162-3 layouts), in order of time. Its own small packers,
 * on purpose not those of wire/: a mistake in the one is then seen by the other. Values that are
 * missing, or do not fit, go out as the standard's not-available or out-of-range codes. Names and
 * products in it are invented. */
#ifndef STOKEHOLD_DRILL_FRAMES_H
#define STOKEHOLD_DRILL_FRAMES_H

#include "bus/frame.h"
#include "drill/run.h"

#define DRILL_FRAMES_PENDING 512

/* Frames of a few messages, waiting for those before them. */
struct drill_frames {
    int64_t epoch_ns;
    bool fine_exhaust; /* exhaust as 130316; always so for dry gas, which 130312 cannot hold */
    int count;
    struct frame pending[DRILL_FRAMES_PENDING];
    uint8_t sequence[DRILL_MESSAGE_KINDS][256]; /* of fast packets, by kind and sender */
    uint8_t heartbeat[256];                     /* counter by sender */
    bool overflow;                              /* a frame was dropped: never in a drill */
};

void drill_frames_init(struct drill_frames *f, const struct drill_plan *plan, int64_t epoch_ns);
/* Adds m's frames. */
void drill_frames_add(struct drill_frames *f, const struct drill_message *m);
/* Takes the earliest frame not later than until_s; false when there is none. */
bool drill_frames_take(struct drill_frames *f, double until_s, struct frame *out);

#endif
