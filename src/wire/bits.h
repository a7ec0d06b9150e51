/* Bits of a payload, and what the codes of IEC 61162-3 at the top of a width mean. */
#ifndef STOKEHOLD_WIRE_BITS_H
#define STOKEHOLD_WIRE_BITS_H

#include "base/reading.h"
#include "wire/wire.h"

#include <assert.h>
#include <endian.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

/* Bits of the payload, little endian; the caller has checked that they are within it. At most 56
 * bits, so that any start within a byte fits. One load of 8 bytes that end within the payload. */
static inline uint64_t bits_at(const uint8_t *data, size_t len, unsigned bit, unsigned bits)
{
    size_t start = bit / 8;
    uint64_t v = 0;
    if (len >= 8) {
        if (start > len - 8)
            start = len - 8;
        memcpy(&v, data + start, 8);
        v = le64toh(v);
    } else {
        start = 0;
        for (size_t i = len; i-- > 0;)
            v = v << 8 | data[i];
    }
    return (v >> (bit - 8 * start)) & ((UINT64_C(1) << bits) - 1);
}

static inline bool holds(const struct message *m, unsigned bit, unsigned bits)
{
    return bit + bits <= 8U * m->len;
}

static inline enum reading_status status_iec(uint64_t raw, unsigned bits, bool is_signed)
{
    assert(bits > 0 && bits <= 64);
    uint64_t top = (UINT64_C(1) << (is_signed ? bits - 1 : bits)) - 1;
    if (raw == top)
        return READING_NOT_AVAILABLE;
    if (bits == 1)
        return READING_OK;
    if (raw == top - 1)
        return READING_ERROR;
    return bits >= 8 && raw == top - 2 ? READING_ERROR : READING_OK;
}

#endif
