/* What is said of the record's own troubles, each once when it begins and once when it is over: the
 * disk refuses, frames were lost, an incident was given up. Used by the record's thread; the watch
 * takes the conditions out of the queue. */
#ifndef STOKEHOLD_RECORD_TOLD_H
#define STOKEHOLD_RECORD_TOLD_H

#include "bus/condition.h"

struct told {
    struct condition_queue *conditions; /* owned */
    bool refused, lost, given;          /* what stands now */
    uint64_t lost_seen;
    int64_t lost_ns, given_ns; /* when it last happened */
};

bool told_init(struct told *t); /* false when memory is out */
void told_fini(struct told *t);
void told_refused(struct told *t, const char *why, struct stamp now);
/* After a whole turn went well: opening a file is not yet writing to it. */
void told_works(struct told *t, struct stamp now);
void told_given(struct told *t, const char *incident, struct stamp now);
/* Once a turn: how many frames were lost until now; and what is long over is. */
void told_turn(struct told *t, uint64_t lost_frames, struct stamp now);

#endif
