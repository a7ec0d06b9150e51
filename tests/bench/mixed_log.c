/* Writes a made-up log of a busy boat's bus to standard output, always the same for the same
 * arguments, for the benchmarks:
 *   mixed_log FRAMES           two engines among instruments, AIS and satellite lists; about one
 *                              frame in five belongs to a channel; values stand near their normal
 *   mixed_log FRAMES CHANNELS  so many temperature channels, each every 30 s: histories fill up
 * The periods are those the standards give for each message, or near it. */
#include "bus/candump.h"

#include "base/when.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define START_NS (INT64_C(1760000000) * NS_PER_S)

struct writer {
    uint64_t wanted, written, watched;
    uint32_t random;
    int64_t last_ns;
};

static uint32_t next_random(struct writer *w)
{
    w->random = w->random * 1664525u + 1013904223u;
    return w->random >> 8;
}

static void put_frame(struct writer *w, int64_t wall_ns, uint32_t id, const uint8_t *data,
                      size_t len)
{
    if (w->written == w->wanted)
        return;
    struct frame f = {.wall_ns = wall_ns, .id = id, .len = (uint8_t)len, .flags = FRAME_EXTENDED};
    memcpy(f.data, data, len);
    char line[CANDUMP_LINE_MAX];
    fwrite(line, 1, candump_format(line, sizeof line, &f, "can0"), stdout);
    w->written++;
}

/* Fields of a payload that must hold a sane value; the rest is noise. */
struct field {
    uint8_t at, bytes;
    int32_t value, spread;
};

struct message {
    uint32_t id;
    uint16_t period_ms;
    uint8_t len; /* over 8: a fast packet */
    bool watched;
    uint8_t instance_at, instance; /* 0xFF: none */
    uint8_t kind;                  /* second fixed byte, behind the instance, 0xFF: none */
    struct field fields[6];
};

#define NO 0xFF
/* Priority, PGN and source as in SAE J1939-21. */
#define ID(priority, pgn, source) ((uint32_t)(priority) << 26 | (uint32_t)(pgn) << 8 | (source))

static const struct message messages[] = {
    /* watched: speed, engine details, gear, temperatures, tanks, batteries, speeds */
    {ID(2, 127488, 0), 100, 8, true, 0, 0, NO, {{1, 2, 7200, 80}, {3, 2, 1200, 20}}},
    {ID(2, 127488, 1), 100, 8, true, 0, 1, NO, {{1, 2, 7240, 80}, {3, 2, 1210, 20}}},
    {ID(2, 127489, 0),
     500,
     26,
     true,
     0,
     0,
     NO,
     {{1, 2, 4000, 30}, {3, 2, 3650, 10}, {5, 2, 35500, 40}, {7, 2, 1400, 5}, {9, 2, 320, 6}}},
    {ID(2, 127489, 1),
     500,
     26,
     true,
     0,
     1,
     NO,
     {{1, 2, 4010, 30}, {3, 2, 3660, 10}, {5, 2, 35510, 40}, {7, 2, 1400, 5}, {9, 2, 322, 6}}},
    {ID(2, 127493, 0),
     100,
     8,
     true,
     0,
     0,
     NO,
     {{1, 1, 0xFC, 0}, {2, 2, 15000, 90}, {4, 2, 3400, 8}}},
    {ID(2, 127493, 1),
     100,
     8,
     true,
     0,
     1,
     NO,
     {{1, 1, 0xFC, 0}, {2, 2, 15010, 90}, {4, 2, 3400, 8}}},
    {ID(5, 130312, 16), 2000, 8, true, 1, 0, 14, {{3, 2, 31800, 60}}},
    {ID(5, 130312, 16), 2000, 8, true, 1, 1, 14, {{3, 2, 31850, 60}}},
    {ID(5, 130312, 17), 2000, 8, true, 1, 0, 3, {{3, 2, 31100, 20}}},
    {ID(5, 130312, 17), 2000, 8, true, 1, 0, 0, {{3, 2, 29100, 5}}},
    {ID(6, 127505, 18), 2500, 8, true, NO, 0, NO, {{0, 1, 0x00, 0}, {1, 2, 18000, 50}}},
    {ID(6, 127505, 18), 2500, 8, true, NO, 0, NO, {{0, 1, 0x10, 0}, {1, 2, 14000, 50}}},
    {ID(6, 127508, 19),
     1500,
     8,
     true,
     0,
     0,
     NO,
     {{1, 2, 1380, 3}, {3, 2, 120, 9}, {5, 2, 29800, 5}}},
    {ID(6, 127508, 19),
     1500,
     8,
     true,
     0,
     1,
     NO,
     {{1, 2, 1375, 3}, {3, 2, 60, 9}, {5, 2, 29800, 5}}},
    {ID(2, 129026, 35), 250, 8, true, NO, 0, NO, {{2, 2, 12000, 300}, {4, 2, 520, 6}}},
    {ID(2, 128259, 36), 1000, 8, true, NO, 0, NO, {{1, 2, 500, 6}}},
    /* the rest of the boat */
    {ID(2, 127250, 37), 100, 8, false, NO, 0, NO, {{1, 2, 12000, 300}}},
    {ID(2, 127250, 35), 100, 8, false, NO, 0, NO, {{1, 2, 12000, 300}}},
    {ID(2, 127251, 37), 100, 8, false, NO, 0, NO, {{1, 2, 100, 90}}},
    {ID(3, 127257, 37), 100, 8, false, NO, 0, NO, {{1, 2, 100, 90}}},
    {ID(2, 127245, 38), 100, 8, false, NO, 0, NO, {{4, 2, 100, 90}}},
    {ID(2, 127237, 38), 250, 21, false, NO, 0, NO, {{0}}},
    {ID(2, 129025, 35), 100, 8, false, NO, 0, NO, {{0, 2, 100, 90}}},
    {ID(2, 130306, 39), 100, 8, false, NO, 0, NO, {{1, 2, 700, 90}}},
    {ID(3, 128267, 36), 1000, 8, false, NO, 0, NO, {{1, 2, 700, 90}}},
    {ID(3, 126992, 35), 1000, 8, false, NO, 0, NO, {{2, 2, 20370, 0}}},
    {ID(3, 129029, 35), 1000, 43, false, NO, 0, NO, {{0}}},
    {ID(6, 129539, 35), 1000, 8, false, NO, 0, NO, {{0}}},
    {ID(6, 129540, 35), 1000, 147, false, NO, 0, NO, {{0}}},
    {ID(3, 129284, 40), 1000, 34, false, NO, 0, NO, {{0}}},
    {ID(3, 129283, 40), 1000, 8, false, NO, 0, NO, {{0}}},
    {ID(6, 129285, 40), 5000, 120, false, NO, 0, NO, {{0}}},
    {ID(4, 129038, 43), 100, 28, false, NO, 0, NO, {{0}}},
    {ID(4, 129039, 43), 150, 27, false, NO, 0, NO, {{0}}},
    {ID(6, 129809, 43), 1000, 27, false, NO, 0, NO, {{0}}},
    {ID(7, 61184, 44) | 0xFF00, 50, 8, false, NO, 0, NO, {{0}}},
    {ID(7, 65305, 45), 100, 8, false, NO, 0, NO, {{0}}},
    {ID(3, 130850, 46), 250, 12, false, NO, 0, NO, {{0}}},
    {ID(7, 126993, 35), 60000, 8, false, NO, 0, NO, {{0}}},
};

#define MESSAGES (sizeof messages / sizeof messages[0])

static void put_message(struct writer *w, const struct message *m, int64_t wall_ns,
                        unsigned sequence)
{
    uint8_t payload[223];
    memset(payload, 0xFF, sizeof payload);
    for (size_t i = 0; i < m->len; i++)
        payload[i] = m->watched ? 0xFF : (uint8_t)next_random(w);
    if (m->instance_at != NO)
        payload[m->instance_at] = m->instance;
    if (m->kind != NO)
        payload[m->instance_at + 1] = m->kind;
    for (size_t i = 0; i < 6 && m->fields[i].bytes; i++) {
        const struct field *f = &m->fields[i];
        int32_t v = f->value;
        if (f->spread)
            v += (int32_t)(next_random(w) % (uint32_t)(2 * f->spread + 1)) - f->spread;
        for (int b = 0; b < f->bytes; b++)
            payload[f->at + b] = (uint8_t)((uint32_t)v >> 8 * b);
    }
    /* the engine details' status words report nothing; load and torque are not available */
    if (m->watched && m->len == 26)
        memcpy(payload + 20, "\0\0\0\0\x7F\x7F", 6);
    uint64_t before = w->written;
    if (m->len <= 8) {
        put_frame(w, wall_ns, m->id, payload, m->len);
    } else { /* IEC 61162-3: 6 bytes in the first frame, 7 in each that follows */
        size_t done = 0;
        for (unsigned i = 0; done < m->len; i++, wall_ns += 560 * NS_PER_US) {
            uint8_t data[8] = {(uint8_t)((sequence & 7) << 5 | i), m->len};
            size_t head = i == 0 ? 2 : 1;
            memcpy(data + head, payload + done, 8 - head);
            done += 8 - head;
            put_frame(w, wall_ns, m->id, data, 8);
        }
    }
    if (m->watched)
        w->watched += w->written - before;
}

static void write_boat(struct writer *w)
{
    unsigned sequence[MESSAGES] = {0};
    for (int64_t ms = 0; w->written < w->wanted; ms++) {
        for (size_t i = 0; i < MESSAGES; i++) {
            /* each with its own phase, so that the frames spread over the time */
            if ((ms + (int64_t)i * 37) % messages[i].period_ms == 0) {
                int64_t jitter = next_random(w) % 400;
                put_message(w, &messages[i], START_NS + ms * NS_PER_MS + jitter * NS_PER_US,
                            sequence[i]++);
            }
        }
    }
}

static void write_channels(struct writer *w, unsigned channels)
{
    for (int64_t round = 0; w->written < w->wanted; round++) {
        for (unsigned i = 0; i < channels; i++) {
            /* cabin temperatures near 20 degrees, instance by instance */
            unsigned raw = 29315 + next_random(w) % 100;
            uint8_t data[8] = {(uint8_t)round,      (uint8_t)i, 4,    (uint8_t)raw,
                               (uint8_t)(raw >> 8), 0xFF,       0xFF, 0xFF};
            int64_t at = START_NS + round * 30 * NS_PER_S + i * (30 * NS_PER_S / channels);
            put_frame(w, at, ID(5, 130312, 16), data, 8);
        }
    }
    w->watched = w->written;
}

int main(int argc, char **argv)
{
    struct writer w = {.random = 1};
    unsigned long channels = argc > 2 ? strtoul(argv[2], NULL, 10) : 0;
    if (argc > 1)
        w.wanted = strtoull(argv[1], NULL, 10);
    if (w.wanted == 0 || channels > 250) {
        fprintf(stderr, "usage: mixed_log FRAMES [CHANNELS, at most 250] >LOG\n");
        return 2;
    }
    if (channels > 0)
        write_channels(&w, (unsigned)channels);
    else
        write_boat(&w);
    fprintf(stderr, "%llu frames, %.1f %% of them watched\n", (unsigned long long)w.written,
            100.0 * (double)w.watched / (double)w.written);
    return fflush(stdout) == 0 && !ferror(stdout) ? 0 : 1;
}
