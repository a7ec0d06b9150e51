/* A log that a test composes: frames of any message of the catalogue, as candump writes them. */
#ifndef STOKEHOLD_TESTS_COMPOSED_H
#define STOKEHOLD_TESTS_COMPOSED_H

#include "support/check.h"
#include "wire/catalogue.h"
#include "wire/id.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define PAYLOAD 223

struct composed {
    FILE *out;
    int64_t ms;
    uint8_t data[PAYLOAD];
    unsigned len, sequence;
    const struct pgn_info *row;
};

static inline void compose_frame(struct composed *c, uint32_t pgn, uint8_t source,
                                 const uint8_t *data, unsigned len)
{
    struct wire_id id = {pgn, 6, source, ADDRESS_GLOBAL};
    fprintf(c->out, "(%" PRId64 ".%06d) can0 %08" PRIX32 "#", c->ms / 1000,
            (int)(c->ms % 1000) * 1000, wire_id_encode(id));
    for (unsigned i = 0; i < len; i++)
        fprintf(c->out, "%02X", data[i]);
    fputc('\n', c->out);
    c->ms++;
}

/* IEC 61162-3 fast packet: 6 bytes in the first frame, 7 in each of the others. */
static inline void compose_fast(struct composed *c, uint8_t source)
{
    uint8_t f[8];
    unsigned at = 0;
    for (unsigned n = 0; at < c->len; n++) {
        unsigned k = 0;
        f[k++] = (uint8_t)((c->sequence & 7) << 5 | n);
        if (n == 0)
            f[k++] = (uint8_t)c->len;
        while (k < 8)
            f[k++] = at < c->len ? c->data[at++] : 0xFF;
        compose_frame(c, c->row->pgn, source, f, 8);
    }
    c->sequence++;
}

/* SAE J1939-21 5.10: announced to all, then 7 bytes a packet. */
static inline void compose_announced(struct composed *c, uint8_t source)
{
    unsigned packets = (c->len + 6) / 7;
    uint32_t pgn = c->row->pgn;
    uint8_t f[8] = {32,   (uint8_t)c->len, (uint8_t)(c->len >> 8), (uint8_t)packets,
                    0xFF, (uint8_t)pgn,    (uint8_t)(pgn >> 8),    (uint8_t)(pgn >> 16)};
    compose_frame(c, 60416, source, f, 8);
    for (unsigned n = 0; n < packets; n++) {
        f[0] = (uint8_t)(n + 1);
        for (unsigned i = 0; i < 7; i++)
            f[1 + i] = 7 * n + i < c->len ? c->data[7 * n + i] : 0xFF;
        compose_frame(c, 60160, source, f, 8);
    }
}

static inline void compose_end(struct composed *c, uint8_t source)
{
    if (c->row->kind == PGN_FAST)
        compose_fast(c, source);
    else if (c->len > 8)
        compose_announced(c, source);
    else
        compose_frame(c, c->row->pgn, source, c->data, c->len);
}

static inline void compose_bits(struct composed *c, unsigned bit, unsigned bits, uint64_t raw)
{
    for (unsigned i = 0; i < bits && (bit + i) / 8 < c->len; i++) {
        uint8_t mask = (uint8_t)(1u << (bit + i) % 8);
        uint8_t *at = &c->data[(bit + i) / 8];
        *at = (uint8_t)(raw >> i & 1 ? *at | mask : *at & ~mask);
    }
}

/* The codes at the top of the field's width: all ones, less `below`. */
static inline uint64_t compose_top(const struct field_info *f, unsigned below)
{
    return (UINT64_C(1) << (f->bits - f->is_signed)) - 1 - below;
}

/* Nothing in it is available yet. */
static inline void compose(struct composed *c, const struct pgn_info *row)
{
    unsigned bits = 8u * row->length;
    c->row = row;
    for (unsigned i = 0; i < row->field_count; i++) {
        const struct field_info *f = &row->fields[i];
        unsigned times = f->repeat ? f->repeat : 1, stride = f->stride ? f->stride : f->bits;
        unsigned end = f->bit + (times - 1) * stride + f->bits;
        if (!row->length && end > bits && end <= 8 * PAYLOAD)
            bits = end;
    }
    c->len = (bits + 7) / 8;
    assert_true(c->len > 0 && c->len <= PAYLOAD);
    memset(c->data, 0xFF, sizeof c->data);
    for (unsigned i = 0; i < row->field_count; i++)
        if (row->fields[i].is_signed)
            compose_bits(c, row->fields[i].bit, row->fields[i].bits,
                         compose_top(&row->fields[i], 0));
}

static inline void compose_value(struct composed *c, const struct field_info *f, double value)
{
    double raw = floor((value - f->zero) / f->gain + 0.5), most = (double)compose_top(f, 3);
    double least = f->is_signed ? -most : 0;
    raw = raw > most ? most : raw < least ? least : raw;
    compose_bits(c, f->bit, f->bits, (uint64_t)(int64_t)raw);
}

#endif
