#include "wire/transport.h"

#include <string.h>

#include "base/banned.h"

#define T1_NS (750 * NS_PER_MS)
#define T3_NS (1250 * NS_PER_MS)

enum control {
    CONTROL_RTS = 16,
    CONTROL_CTS = 17,
    CONTROL_END = 19,
    CONTROL_BAM = 32,
    CONTROL_ABORT = 255,
};

void transport_reset(struct transport_pool *p)
{
    for (size_t s = 0; s < TRANSPORT_SENDERS; s++)
        for (size_t w = 0; w < TRANSPORT_WAYS; w++)
            if (p->slots[s][w].busy) /* untouched pages stay so */
                p->slots[s][w].busy = false;
}

static struct transport_slot *set_of(struct transport_pool *p, const struct frame *f,
                                     uint8_t source)
{
    return p->slots[(source + 67U * f->iface) % TRANSPORT_SENDERS];
}

static bool expired(const struct transport_slot *slot, int64_t now_ns)
{
    int64_t limit = slot->destination == ADDRESS_GLOBAL ? T1_NS : T3_NS;
    return now_ns - slot->last_ns > limit;
}

static void lose(struct transport_slot *slot, struct wire_stats *stats)
{
    if (slot->busy)
        stats->tp_lost++;
    slot->busy = false;
}

static struct transport_slot *find(struct transport_pool *p, const struct frame *f, uint8_t source,
                                   uint8_t destination, struct wire_stats *stats)
{
    struct transport_slot *set = set_of(p, f, source);
    for (size_t i = 0; i < TRANSPORT_WAYS; i++) {
        struct transport_slot *slot = &set[i];
        if (!slot->busy || slot->source != source || slot->destination != destination ||
            slot->iface != f->iface)
            continue;
        if (!expired(slot, f->mono_ns))
            return slot;
        stats->timeouts++;
        lose(slot, stats);
    }
    return NULL;
}

static struct transport_slot *claim(struct transport_slot *set, int64_t now_ns,
                                    struct wire_stats *stats)
{
    struct transport_slot *oldest = &set[0];
    for (size_t i = 0; i < TRANSPORT_WAYS; i++) {
        struct transport_slot *slot = &set[i];
        if (slot->busy && expired(slot, now_ns)) {
            stats->timeouts++;
            lose(slot, stats);
        }
        if (!slot->busy)
            return slot;
        if (slot->last_ns < oldest->last_ns)
            oldest = slot;
    }
    stats->evicted++;
    lose(oldest, stats);
    return oldest;
}

static uint32_t pgn_of(const uint8_t *d)
{
    return (uint32_t)d[5] | (uint32_t)d[6] << 8 | (uint32_t)(d[7] & 3) << 16;
}

/* BAM or RTS: a transfer begins. */
static void begin(struct transport_pool *p, const struct frame *f, struct wire_id id,
                  struct wire_stats *stats)
{
    unsigned size = f->data[1] | (unsigned)f->data[2] << 8, packets = f->data[3];
    uint32_t pgn = pgn_of(f->data);
    struct transport_slot *slot = find(p, f, id.source, id.destination, stats);
    if (slot != NULL && slot->next == 1 && slot->size == size && slot->pgn == pgn) {
        stats->doubled++;
        slot->last_ns = f->mono_ns;
        return;
    }
    if (slot != NULL)
        lose(slot, stats);
    if (size > MESSAGE_MAX) {
        stats->oversize++;
        return;
    }
    if (size == 0 || packets != (size + 6) / 7) {
        stats->tp_lost++;
        return;
    }
    slot = claim(set_of(p, f, id.source), f->mono_ns, stats);
    slot->busy = true;
    slot->last_ns = f->mono_ns;
    slot->pgn = pgn;
    slot->iface = f->iface;
    slot->source = id.source;
    slot->destination = id.destination;
    slot->priority = id.priority;
    slot->size = (uint16_t)size;
    slot->have = 0;
    slot->packets = (uint8_t)packets;
    slot->next = 1;
}

static void take_connection(struct transport_pool *p, const struct frame *f, struct wire_id id,
                            struct wire_stats *stats)
{
    if (f->len < 8)
        return;
    struct transport_slot *slot;
    switch (f->data[0]) {
    case CONTROL_BAM:
        if (id.destination == ADDRESS_GLOBAL)
            begin(p, f, id, stats);
        return;
    case CONTROL_RTS:
        if (id.destination != ADDRESS_GLOBAL)
            begin(p, f, id, stats);
        return;
    case CONTROL_CTS: /* from the receiver */
        slot = find(p, f, id.destination, id.source, stats);
        if (slot == NULL || slot->pgn != pgn_of(f->data))
            return;
        slot->last_ns = f->mono_ns;
        if (f->data[1] != 0 && f->data[2] > slot->next)
            lose(slot, stats); /* the receiver has packets that were not heard here */
        return;
    case CONTROL_END: /* it has them all, and we do not */
        slot = find(p, f, id.destination, id.source, stats);
        if (slot != NULL && slot->pgn == pgn_of(f->data))
            lose(slot, stats);
        return;
    case CONTROL_ABORT: /* from either side */
        slot = find(p, f, id.source, id.destination, stats);
        if (slot == NULL || slot->pgn != pgn_of(f->data))
            slot = find(p, f, id.destination, id.source, stats);
        if (slot != NULL && slot->pgn == pgn_of(f->data)) {
            stats->tp_aborted++;
            slot->busy = false;
        }
        return;
    default:
        return;
    }
}

static const struct transport_slot *take_data(struct transport_pool *p, const struct frame *f,
                                              struct wire_id id, struct wire_stats *stats)
{
    if (f->len < 2)
        return NULL;
    unsigned number = f->data[0];
    struct transport_slot *slot = find(p, f, id.source, id.destination, stats);
    if (slot == NULL) {
        if (number == 1) /* its announcement was not heard; counted once a transfer */
            stats->tp_lost++;
        return NULL;
    }
    bool to_all = id.destination == ADDRESS_GLOBAL;
    slot->last_ns = f->mono_ns;
    if (number + 1 == slot->next || (!to_all && number < slot->next)) {
        stats->doubled++;
        return NULL;
    }
    if (number != slot->next) {
        if (to_all)
            lose(slot, stats);
        return NULL;
    }
    unsigned want = slot->size - slot->have;
    if (want > 7)
        want = 7;
    if (f->len < 1 + want) {
        lose(slot, stats);
        return NULL;
    }
    memcpy(slot->data + slot->have, f->data + 1, want);
    slot->have = (uint16_t)(slot->have + want);
    if (slot->next == slot->packets) {
        slot->busy = false;
        stats->tp_done++;
        return slot;
    }
    slot->next++;
    return NULL;
}

const struct transport_slot *transport_take(struct transport_pool *p, const struct frame *f,
                                            struct wire_id id, struct wire_stats *stats)
{
    if (id.pgn == PGN_TP_DATA)
        return take_data(p, f, id, stats);
    take_connection(p, f, id, stats);
    return NULL;
}
