#include "bus/bits.h"

#include <stdbool.h>

#include "base/banned.h"

/* Behind the checksum nothing is stuffed: delimiter 1, acknowledge 2, end of frame 7, space 3. */
#define TAIL_BITS 13
#define CRC_BITS  15
#define CRC_POLY  0x4599u

static unsigned data_bits(const struct frame *f)
{
    return f->flags & FRAME_REMOTE ? 0 : 8u * f->len;
}

/* Start of frame up to the length code: 1 + 11 + 3 + 4, or 1 + 11 + 2 + 18 + 3 + 4. */
static unsigned head_bits(const struct frame *f)
{
    return f->flags & FRAME_EXTENDED ? 39 : 19;
}

unsigned bits_plain(const struct frame *f)
{
    return head_bits(f) + data_bits(f) + CRC_BITS + TAIL_BITS;
}

unsigned bits_worst(const struct frame *f)
{
    /* the first run needs five equal bits, each stuff bit then starts the next run: one in four */
    unsigned stuffed = head_bits(f) + data_bits(f) + CRC_BITS;
    return bits_plain(f) + (stuffed - 1) / 4;
}

struct wire_bits {
    unsigned crc, run, stuff;
    int last; /* -1 before the first bit */
};

static void put_bit(struct wire_bits *w, unsigned bit)
{
    unsigned top = w->crc >> (CRC_BITS - 1) & 1;
    w->crc = w->crc << 1 & 0x7FFF;
    if (top != bit)
        w->crc ^= CRC_POLY;
    if ((int)bit == w->last) {
        w->run++;
    } else {
        w->run = 1;
        w->last = (int)bit;
    }
    if (w->run == 5) { /* the stuff bit is the opposite one and begins a run of its own */
        w->stuff++;
        w->last = !bit;
        w->run = 1;
    }
}

static void put_bits(struct wire_bits *w, uint32_t value, int count)
{
    for (int i = count - 1; i >= 0; i--)
        put_bit(w, value >> i & 1);
}

unsigned bits_exact(const struct frame *f)
{
    struct wire_bits w = {.last = -1};
    bool remote = f->flags & FRAME_REMOTE;
    put_bits(&w, 0, 1); /* start of frame */
    if (f->flags & FRAME_EXTENDED) {
        put_bits(&w, f->id >> 18, 11);
        put_bits(&w, 3, 2); /* substitute remote request, identifier extension */
        put_bits(&w, f->id & 0x3FFFF, 18);
        put_bits(&w, remote, 1);
        put_bits(&w, 0, 2); /* reserved */
    } else {
        put_bits(&w, f->id, 11);
        put_bits(&w, remote, 1);
        put_bits(&w, 0, 2); /* identifier extension, reserved */
    }
    put_bits(&w, f->len, 4);
    for (unsigned i = 0; i < data_bits(f) / 8; i++)
        put_bits(&w, f->data[i], 8);
    unsigned crc = w.crc;
    put_bits(&w, crc, CRC_BITS);
    return bits_plain(f) + w.stuff;
}
