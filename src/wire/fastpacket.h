/* Fast packets (IEC 61162-3): up to 223 bytes in at most 32 frames. The first byte of each frame
 * holds a 3-bit sequence and a 5-bit frame number; frame 0 tells the length and carries 6 bytes,
 * each later one 7. Put together per interface, source, destination, PGN and sequence.
 * Frames must come in order: a gap gives the packet up, for taking a late frame could mix two
 * packets of a sender that never changes its sequence. What is given up is counted once.
 * A packet that stands still for 750 ms is given up (the figure is common practice; the
 * standard's own was not seen).
 * Memory is fixed, and shared out by sender: each of the 253 that an interface can have may send
 * four packets at once, and sixteen as a rule, whatever the others do; the oldest gives way. */
#ifndef STOKEHOLD_WIRE_FASTPACKET_H
#define STOKEHOLD_WIRE_FASTPACKET_H

#include "wire/wire.h"

#define FASTPACKET_MAX  223
#define FASTPACKET_SETS 1024 /* four for each sender: by PGN */
#define FASTPACKET_WAYS 4

enum fastpacket_state { FAST_FREE, FAST_FILLING, FAST_GIVEN_UP };

struct fastpacket_slot {
    int64_t last_ns; /* mono, of its latest frame */
    uint32_t pgn;
    uint8_t iface, source, destination, sequence;
    uint8_t state; /* GIVEN_UP swallows the rest of a packet that was counted as lost */
    uint8_t next;  /* frame number that must come next */
    uint8_t total, have;
    uint8_t data[FASTPACKET_MAX];
};

struct fastpacket_pool {
    struct fastpacket_slot slots[FASTPACKET_SETS][FASTPACKET_WAYS];
};

void fastpacket_reset(struct fastpacket_pool *p);
/* Takes one frame of a fast-packet PGN. Returns the slot that it completed, good until the next
 * call, or NULL. Counts in stats. */
const struct fastpacket_slot *fastpacket_take(struct fastpacket_pool *p, const struct frame *f,
                                              struct wire_id id, struct wire_stats *stats);

#endif
