/* A ring of frames between one thread that puts and one that takes, without a lock. */
#ifndef STOKEHOLD_BUS_RING_H
#define STOKEHOLD_BUS_RING_H

#include "bus/frame.h"

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>

struct ring {
    struct frame *slots;
    size_t mask; /* slots - 1, a power of two */
    /* Counters that never wrap in practice, apart so that the threads share no cache line. */
    _Atomic size_t put;
    char apart[64];
    _Atomic size_t take;
};

/* Room for at least `wanted` frames. False when memory is out. */
bool ring_init(struct ring *r, size_t wanted);
void ring_fini(struct ring *r);
/* Return how many of n were put or taken. */
size_t ring_put(struct ring *r, const struct frame *f, size_t n);
size_t ring_take(struct ring *r, struct frame *out, size_t max);
size_t ring_held(const struct ring *r);
size_t ring_room(const struct ring *r);

#endif
