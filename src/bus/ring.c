#include "bus/ring.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

bool ring_init(struct ring *r, size_t wanted)
{
    size_t slots = 64;
    while (slots < wanted)
        slots *= 2;
    *r = (struct ring){.mask = slots - 1};
    r->slots = calloc(slots, sizeof *r->slots);
    return r->slots != NULL;
}

void ring_fini(struct ring *r)
{
    free(r->slots);
    r->slots = NULL;
}

size_t ring_put(struct ring *r, const struct frame *f, size_t n)
{
    size_t put = atomic_load_explicit(&r->put, memory_order_relaxed);
    size_t take = atomic_load_explicit(&r->take, memory_order_acquire);
    size_t room = r->mask + 1 - (put - take);
    n = n < room ? n : room;
    for (size_t i = 0; i < n; i++)
        r->slots[(put + i) & r->mask] = f[i];
    atomic_store_explicit(&r->put, put + n, memory_order_release);
    return n;
}

size_t ring_take(struct ring *r, struct frame *out, size_t max)
{
    size_t take = atomic_load_explicit(&r->take, memory_order_relaxed);
    size_t held = atomic_load_explicit(&r->put, memory_order_acquire) - take;
    size_t n = max < held ? max : held;
    for (size_t i = 0; i < n; i++)
        out[i] = r->slots[(take + i) & r->mask];
    atomic_store_explicit(&r->take, take + n, memory_order_release);
    return n;
}

size_t ring_held(const struct ring *r)
{
    size_t take = atomic_load_explicit(&r->take, memory_order_acquire);
    return atomic_load_explicit(&r->put, memory_order_acquire) - take;
}

size_t ring_room(const struct ring *r)
{
    return r->mask + 1 - ring_held(r);
}
