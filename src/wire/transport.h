/* The transport protocol (SAE J1939-21 5.10, ISO 11783-3): up to 1785 bytes in at most 255 packets
 * of 7, announced to all (BAM) or between two addresses (RTS/CTS), which is overheard here and
 * never answered. One transfer at a time per interface, source and destination.
 * Packets are taken in order only. After a gap a BAM is given up; in a connection the receiver
 * asks for the packet again, so the transfer waits for it. Time-outs by the frames' own time: T1
 * (750 ms) between the packets of a BAM, T2 and T3 (1250 ms) in a connection. The priority of
 * these frames is ignored: sources differ (6 or 7).
 * Memory is fixed, and shared out by sender: each of the 253 that an interface can have may send to
 * all and to three others at once; the oldest gives way. */
#ifndef STOKEHOLD_WIRE_TRANSPORT_H
#define STOKEHOLD_WIRE_TRANSPORT_H

#include "wire/wire.h"

#define TRANSPORT_SENDERS 256 /* a power of two */
#define TRANSPORT_WAYS    4

#define PGN_TP_DATA       UINT32_C(60160)
#define PGN_TP_CONNECTION UINT32_C(60416)

struct transport_slot {
    int64_t last_ns; /* mono */
    uint32_t pgn;
    bool busy;
    uint8_t iface, source, destination, priority;
    uint16_t size, have;
    uint8_t packets, next; /* next: packet number that must come, from 1 */
    uint8_t data[MESSAGE_MAX];
};

struct transport_pool {
    struct transport_slot slots[TRANSPORT_SENDERS][TRANSPORT_WAYS];
};

void transport_reset(struct transport_pool *p);
/* Takes one frame of PGN 60416 or 60160. Returns the slot that it completed, good until the next
 * call, or NULL. Counts in stats. */
const struct transport_slot *transport_take(struct transport_pool *p, const struct frame *f,
                                            struct wire_id id, struct wire_stats *stats);

#endif
