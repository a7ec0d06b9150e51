/* The two text forms that candump writes, one line at a time, and the log form written back.
 * A pure grammar: no files, no clock, no zone. What a line means in time is bus/log.c's business.
 *
 *   log form      (1760000000.123456) can0 09F2000A#00A916D2047FFFFF     29-bit id: 8 digits
 *                 (1760000000.123456) can0 123#DEADBEEF T                11-bit id: 3; then R or T
 *                 (1760000000.123456) can0 18EAFFFE#R                    remote; #R5 asks for 5
 * bytes (1760000000.123456) can0 123##1112233                  CAN FD, flags digit, data
 *                 (1760000000.123456) can0 20000004#0004000000006000     error frame: id bit 29
 *                 (1760000000.123456) can0 123#1122334455667788_E        8 bytes, raw length code
 *   screen form   (1760000000.123456)  can0  09F2000A   [8]  00 A9 16 D2 04 7F FF FF
 *                 (1760000000.123456)  can0  TX - -  123   [2]  11 22   '."'
 *                 (1760000000.123456)  can0  123   [0]  remote request
 *                 (1760000000.123456)  can0  123  [02]  11 22            CAN FD: two digits
 *                 (1760000000.123456)  can0  123   {E}  11 22 33 44 55 66 77 88
 *                 (1760000000.123456)  can0  20000004   [8]  00 04 ... 60 00   ERRORFRAME
 *   stamps        (1760000000.123456)           epoch seconds, ten digits or more, 0 to 9 decimals
 *                 (2026-05-04 14:12:07.123456)  local date and time
 *                 (002.000123)                  from zero, or a difference
 *
 * The same lines are the table of tests/bus/test_candump.c. */
#ifndef STOKEHOLD_BUS_CANDUMP_H
#define STOKEHOLD_BUS_CANDUMP_H

#include "bus/frame.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define CANDUMP_NAME_MAX 15  /* bytes of an interface name, as in the kernel */
#define CANDUMP_LINE_MAX 200 /* room for what candump_format writes */

enum candump_stamp {
    CANDUMP_EPOCH,
    CANDUMP_LOCAL,   /* wall_ns is the date and time read as if it were UTC */
    CANDUMP_RELATIVE /* wall_ns counts from zero or from the frame before */
};

struct candump_line {
    struct frame frame; /* iface and mono_ns are not set */
    enum candump_stamp stamp;
    const char *iface; /* into the line; printable ASCII */
    size_t iface_len;
    bool whole; /* a frame that cannot have lost its tail: matters on a line without an end */
};

/* Reads one line without its end ("\n" or "\r\n"). NULL when *out holds a frame, otherwise the
 * reason why it does not, a constant string. */
const char *candump_parse(const char *line, size_t len, struct candump_line *out);

/* What the quick reader remembers from line to line. Zeroed to start. */
struct candump_quick {
    char head[12]; /* "(1760000000." */
    int64_t head_ns;
    char names[16][CANDUMP_NAME_MAX + 2]; /* with the blank after it */
    uint8_t lengths[16];
    int count, last;
    uint64_t last_name, last_mask; /* of the last name, where it is short; mask 0 where not */
};

/* Bytes that candump_quick_read may look at from `p` on. */
#define CANDUMP_QUICK_ROOM 128

/* Reads a plain line of the log form whose interface is remembered and whose digits are upper
 * case: the one that logs consist of. Sets all of *out but mono_ns. Returns the bytes used, its
 * end included, or 0 for every other line, which is then candump_parse's.
 * CANDUMP_QUICK_ROOM bytes must be readable at p. */
size_t candump_quick_read(struct candump_quick *q, const char *p, struct frame *out);

/* Makes the quick reader know interface `index`; the name must be at most CANDUMP_NAME_MAX long. */
void candump_quick_learn(struct candump_quick *q, uint8_t index, const char *name);

/* Writes f as one line of the log form with '\n' and a NUL after it. Microseconds, as candump does:
 * canplayer refuses any other number of decimals. T for a frame marked as sent; of CAN FD the
 * bytes there are, so that of one that was cut the line does not show it.
 * Returns the length without the NUL, 0 if it did not fit. A stamp before 1970 is written as 0. */
size_t candump_format(char *dst, size_t cap, const struct frame *f, const char *iface);

#endif
