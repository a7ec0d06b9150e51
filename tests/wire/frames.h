/* Frames written as candump writes them, for the tests of the wire. */
#ifndef STOKEHOLD_TESTS_FRAMES_H
#define STOKEHOLD_TESTS_FRAMES_H

#include "support/check.h"

#include "bus/frame.h"
#include "wire/wire.h"

#include <stdlib.h>

static inline size_t hex_bytes(const char *hex, uint8_t *out, size_t cap)
{
    size_t n = 0;
    while (*hex != '\0') {
        if (*hex == ' ') {
            hex++;
            continue;
        }
        char pair[3] = {hex[0], hex[1], '\0'}, *end;
        unsigned long v = strtoul(pair, &end, 16);
        if (end != pair + 2 || n == cap)
            fail_msg("bad hex in the test: %s", hex);
        out[n++] = (uint8_t)v;
        hex += 2;
    }
    return n;
}

/* "09F20020#00401FDC0500FFFF" at ms milliseconds. */
static inline struct frame frame_of(const char *text, int64_t ms)
{
    struct frame f = {.flags = FRAME_EXTENDED};
    char *end;
    f.id = (uint32_t)strtoul(text, &end, 16);
    if (*end != '#')
        fail_msg("bad frame in the test: %s", text);
    f.len = (uint8_t)hex_bytes(end + 1, f.data, 8);
    f.mono_ns = ms * 1000000;
    f.wall_ns = INT64_C(1760000000000000000) + f.mono_ns;
    return f;
}

/* Feeds one frame; true when it completes a message. */
static inline bool feed(struct wire *w, const char *text, int64_t ms, struct message *m)
{
    struct frame f = frame_of(text, ms);
    /* The message of a single frame points into the frame: keep that where the test can see it. */
    static struct frame kept;
    kept = f;
    return wire_frame(w, &kept, m);
}

#endif
