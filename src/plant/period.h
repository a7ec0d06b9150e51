/* The period of one repeating channel, learned from when its messages come: an estimate that each
 * interval may move by an eighth at most, so that jitter averages out and one lost or late message
 * hardly matters. Doubled frames are passed over; two long intervals in a row mean that the sender
 * is slower than it first looked, and it is learned afresh.
 * Only one PGN counts: a box that sends the same field in two messages has two rhythms. */
#ifndef STOKEHOLD_PLANT_PERIOD_H
#define STOKEHOLD_PLANT_PERIOD_H

#include <stdbool.h>
#include <stdint.h>

struct period {
    int64_t counted_ns;  /* mono: the last message that counted */
    int64_t estimate_ns; /* 0: not known yet */
    int64_t early_ns[3]; /* the first intervals; the estimate starts as their median */
    int64_t late_ns;     /* the last interval, where it was far too long */
    uint32_t pgn;
    uint8_t early;
    bool going; /* counted_ns is good */
};

void period_heard(struct period *p, int64_t t_ns, uint32_t pgn);
/* The interval under way says nothing: a hole in the record. */
void period_pause(struct period *p);
/* How long nothing may be heard before the channel is stale: 3 periods, at least 2 s. One that
 * spoke too seldom to have a period gets 60 s. */
int64_t period_patience(const struct period *p);

#endif
