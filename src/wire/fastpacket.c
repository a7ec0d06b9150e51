#include "wire/fastpacket.h"

#include <string.h>

#include "base/banned.h"

#define TIMEOUT_NS (750 * NS_PER_MS)

void fastpacket_reset(struct fastpacket_pool *p)
{
    for (size_t s = 0; s < FASTPACKET_SETS; s++)
        for (size_t w = 0; w < FASTPACKET_WAYS; w++)
            if (p->slots[s][w].state != FAST_FREE) /* untouched pages stay so */
                p->slots[s][w].state = FAST_FREE;
}

static struct fastpacket_slot *set_of(struct fastpacket_pool *p, const struct frame *f,
                                      struct wire_id id)
{
    uint8_t sender = (uint8_t)(id.source + 67U * f->iface); /* 67: interfaces share, if they must */
    return p->slots[4U * sender + ((id.pgn ^ id.pgn >> 2 ^ id.pgn >> 4) & 3)];
}

static void give_up(struct fastpacket_slot *slot, uint8_t state, struct wire_stats *stats)
{
    if (slot->state == FAST_FILLING)
        stats->fast_lost++;
    slot->state = state;
}

static struct fastpacket_slot *find(struct fastpacket_slot *set, const struct frame *f,
                                    struct wire_id id, uint8_t sequence, struct wire_stats *stats)
{
    for (size_t w = 0; w < FASTPACKET_WAYS; w++) {
        struct fastpacket_slot *slot = &set[w];
        if (slot->state == FAST_FREE || slot->pgn != id.pgn || slot->source != id.source ||
            slot->sequence != sequence || slot->iface != f->iface ||
            slot->destination != id.destination)
            continue;
        if (f->mono_ns - slot->last_ns <= TIMEOUT_NS)
            return slot;
        if (slot->state == FAST_FILLING)
            stats->timeouts++;
        give_up(slot, FAST_FREE, stats);
    }
    return NULL;
}

/* A slot for a new packet: a free one, one that timed out, else the oldest of the set. */
static struct fastpacket_slot *claim(struct fastpacket_slot *set, const struct frame *f,
                                     struct wire_id id, uint8_t sequence, struct wire_stats *stats)
{
    struct fastpacket_slot *best = NULL;
    for (size_t w = 0; w < FASTPACKET_WAYS; w++) {
        struct fastpacket_slot *slot = &set[w];
        if (slot->state != FAST_FREE && f->mono_ns - slot->last_ns > TIMEOUT_NS) {
            if (slot->state == FAST_FILLING)
                stats->timeouts++;
            give_up(slot, FAST_FREE, stats);
        }
        if (slot->state == FAST_FREE) {
            best = slot;
            break;
        }
        if (best == NULL || slot->last_ns < best->last_ns)
            best = slot;
    }
    if (best->state == FAST_FILLING)
        stats->evicted++;
    give_up(best, FAST_FREE, stats);
    best->last_ns = f->mono_ns;
    best->pgn = id.pgn;
    best->iface = f->iface;
    best->source = id.source;
    best->destination = id.destination;
    best->sequence = sequence;
    return best;
}

/* Adds the frame's data from byte `from`; false where the frame is too short for its part. */
static bool append(struct fastpacket_slot *slot, const struct frame *f, unsigned from)
{
    unsigned want = slot->total - slot->have;
    if (want > 8 - from)
        want = 8 - from;
    if (f->len < from + want)
        return false;
    memcpy(slot->data + slot->have, f->data + from, want);
    slot->have = (uint8_t)(slot->have + want);
    return true;
}

static const struct fastpacket_slot *finish_if_whole(struct fastpacket_slot *slot,
                                                     struct wire_stats *stats)
{
    if (slot->have < slot->total)
        return NULL;
    slot->state = FAST_FREE;
    stats->fast_done++;
    return slot;
}

static const struct fastpacket_slot *take_first(struct fastpacket_slot *set,
                                                struct fastpacket_slot *slot, const struct frame *f,
                                                struct wire_id id, uint8_t sequence,
                                                struct wire_stats *stats)
{
    uint8_t total = f->len > 1 ? f->data[1] : 0;
    if (slot != NULL && slot->state == FAST_FILLING && slot->next == 1 && slot->total == total &&
        f->len == 8 && memcmp(slot->data, f->data + 2, slot->have) == 0) {
        stats->doubled++;
        slot->last_ns = f->mono_ns;
        return NULL;
    }
    if (slot != NULL)
        give_up(slot, FAST_FREE, stats);
    slot = claim(set, f, id, sequence, stats);
    slot->state = FAST_FILLING;
    slot->next = 1;
    slot->have = 0;
    slot->total = total;
    if (total > FASTPACKET_MAX) {
        stats->oversize++;
        slot->state = FAST_GIVEN_UP;
        return NULL;
    }
    if (total == 0 || !append(slot, f, 2)) {
        give_up(slot, FAST_GIVEN_UP, stats);
        return NULL;
    }
    return finish_if_whole(slot, stats);
}

const struct fastpacket_slot *fastpacket_take(struct fastpacket_pool *p, const struct frame *f,
                                              struct wire_id id, struct wire_stats *stats)
{
    if (f->len == 0)
        return NULL;
    uint8_t sequence = f->data[0] >> 5, number = f->data[0] & 0x1F;
    struct fastpacket_slot *set = set_of(p, f, id);
    struct fastpacket_slot *slot = find(set, f, id, sequence, stats);
    if (number == 0)
        return take_first(set, slot, f, id, sequence, stats);
    if (slot == NULL) { /* its beginning was never heard: lost, and the rest of it ignored */
        slot = claim(set, f, id, sequence, stats);
        slot->state = FAST_FILLING;
        give_up(slot, FAST_GIVEN_UP, stats);
        return NULL;
    }
    slot->last_ns = f->mono_ns;
    if (slot->state == FAST_GIVEN_UP)
        return NULL;
    if (number + 1 == slot->next) {
        stats->doubled++;
        return NULL;
    }
    if (number != slot->next || !append(slot, f, 1)) {
        give_up(slot, FAST_GIVEN_UP, stats);
        return NULL;
    }
    slot->next++;
    return finish_if_whole(slot, stats);
}
