/* How many bits a frame takes on the bus, interframe space included: the load of a bus.
 * Facts: ISO 11898-1 (frame layout, bit stuffing after five equal bits, CRC-15); the closed forms
 * 67 + 8n and 80 + 10n for 29-bit ids are those of Real-Time Systems 35:239-272 (2007). */
#ifndef STOKEHOLD_BUS_BITS_H
#define STOKEHOLD_BUS_BITS_H

#include "bus/frame.h"

unsigned bits_plain(const struct frame *f); /* without stuffing */
unsigned bits_worst(const struct frame *f); /* stuffed as badly as its length allows */
unsigned bits_exact(const struct frame *f); /* stuffed as its own bits are */

#endif
