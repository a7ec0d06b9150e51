/* The 29-bit identifier (SAE J1939-21 5.2, ISO 11783-3): priority, PGN, destination, source.
 * PF below 240 is PDU1: the PS byte is the destination and the PGN's low byte is 0. */
#ifndef STOKEHOLD_WIRE_ID_H
#define STOKEHOLD_WIRE_ID_H

#include <stdint.h>

#define ADDRESS_NULL   254
#define ADDRESS_GLOBAL 255

struct wire_id {
    uint32_t pgn;
    uint8_t priority, source, destination;
};

static inline struct wire_id wire_id_decode(uint32_t id)
{
    struct wire_id w;
    uint32_t pf = (id >> 16) & 0xFF;
    w.priority = (uint8_t)((id >> 26) & 7);
    w.source = (uint8_t)id;
    if (pf < 240) {
        w.pgn = (id >> 8) & 0x3FF00;
        w.destination = (uint8_t)(id >> 8);
    } else {
        w.pgn = (id >> 8) & 0x3FFFF;
        w.destination = ADDRESS_GLOBAL;
    }
    return w;
}

static inline uint32_t wire_id_encode(struct wire_id w)
{
    uint32_t id = (uint32_t)w.priority << 26 | w.pgn << 8 | w.source;
    if (((w.pgn >> 8) & 0xFF) < 240)
        id |= (uint32_t)w.destination << 8;
    return id;
}

#endif
