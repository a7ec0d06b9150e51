/* Frames in, messages out: the id is split, fast packets and transport-protocol transfers are put
 * together per interface, source, destination, PGN and sequence. No I/O, no clock, no allocation
 * after wire_new; memory is bounded and the oldest unfinished transfer gives way.
 * Sources: IEC 61162-3 (fast packet), SAE J1939-21 5.10 and ISO 11783-3 (transport protocol). */
#ifndef STOKEHOLD_WIRE_WIRE_H
#define STOKEHOLD_WIRE_WIRE_H

#include "base/when.h"
#include "bus/frame.h"
#include "wire/id.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define MESSAGE_MAX 1785 /* bytes: 255 packets of 7 */

/* One PGN's payload. data points into the frame or into the assembler and is good until the next
 * call of wire_frame. */
struct pgn_info; /* wire/catalogue.h */
struct plan;     /* wire/plan.h */
struct message {
    struct stamp at; /* of its last frame */
    uint32_t pgn;
    uint8_t iface, source, destination, priority;
    uint8_t multi; /* 0 single frame, 1 fast packet, 2 transport protocol */
    uint16_t len;
    const uint8_t *data;
    const struct pgn_info *row; /* of the catalogue; NULL: not known, or not looked up yet */
    const struct plan *plan;    /* how decode.c goes through it; NULL: to be worked out */
};

struct wire_stats {
    uint64_t frames, messages;
    uint64_t ignored;              /* 11-bit, remote, error, FD frames */
    uint64_t unknown;              /* frames of a PGN that the catalogue does not hold */
    uint64_t fast_done, fast_lost; /* packets put together, given up (lost or out-of-order frame) */
    uint64_t tp_done, tp_lost, tp_aborted;
    uint64_t timeouts, evicted; /* of fast_lost and tp_lost: given up for these reasons */
    uint64_t doubled;           /* frames heard twice and taken once */
    uint64_t oversize;          /* transfers that announced more than the protocol allows */
};

struct wire;
struct wire *wire_new(void); /* NULL when out of memory */
void wire_free(struct wire *w);

/* Takes one frame; true when it completes a message of a PGN in the catalogue, in *out. Messages
 * of unknown PGNs are handed out only after wire_want_all(w, true) (muster), single frames each.
 * A frame marked FRAME_GAP forgets the transfers under way first. */
bool wire_frame(struct wire *w, const struct frame *f, struct message *out);
void wire_want_all(struct wire *w, bool all);
/* Forgets transfers under way, e.g. after a gap. */
void wire_reset(struct wire *w);
const struct wire_stats *wire_stats(const struct wire *w);

#endif
