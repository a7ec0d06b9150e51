/* A boat on a made-up bus for the tests of rules: values that are sent with the standard's periods
 * as real frames through the whole path, and a list of what was told. Layouts as in docs/pgns.md
 * (IEC 61162-3). Two engines unless said otherwise; times in seconds from the start. */
#ifndef STOKEHOLD_TESTS_BOAT_H
#define STOKEHOLD_TESTS_BOAT_H

#include "support/check.h"

#include "keeper/keeper.h"
#include "base/text.h"
#include "bus/timeline.h"
#include "config/config.h"

#include <stdio.h>
#include <stdlib.h>

#define BOAT_NONE     (-1000.0) /* "not available" on the bus */
#define BOAT_ABSENT   (-2000.0) /* nothing is sent */
#define BOAT_WALL_NS  (INT64_C(1760000000) * NS_PER_S)
#define BOAT_EVENTS   512
#define BOAT_SWITCHES 4

struct boat_event {
    double at;
    enum alert_event_kind event;
    struct alert alert;
};

struct boat {
    struct settings *settings;
    struct keeper *keeper;
    int64_t ms;
    uint8_t iface;      /* what is sent comes by this one */
    int engines, first; /* how many, and the instance of the first */
    double rpm[2], exhaust[2], coolant[2], oil_kpa[2], space, volts, fuel;
    uint16_t status1[2], status2[2];
    double second_exhaust; /* of instance 0, from address 36 */
    double temp_period_s;
    int switches[BOAT_SWITCHES]; /* 1 on, 0 off, 3 not available, -1 the bank is not sent */
    bool engine_boxes, temp_box; /* speak at all */
    uint8_t sequence;
    struct boat_event events[BOAT_EVENTS];
    int count;
};

static inline void boat_note(void *ctx, const struct alert_event *ev)
{
    struct boat *b = ctx;
    if (ev->event == EVENT_UPDATED)
        return;
    assert_true(b->count < BOAT_EVENTS);
    b->events[b->count++] = (struct boat_event){
        when_seconds(ev->at.mono_ns - TIMELINE_START),
        ev->event,
        *ev->alert,
    };
    assert_true(ev->at.wall_ns - ev->at.mono_ns == BOAT_WALL_NS - TIMELINE_START);
}

/* text is laid over the shipped defaults; a healthy boat at cruise. */
static inline struct boat *boat_new(const char *text)
{
    struct boat *b = calloc(1, sizeof *b);
    struct config_messages *messages = NULL;
    b->settings = config_load_text("test", text ? text : "", &messages);
    for (size_t i = 0; messages && i < config_message_count(messages); i++)
        print_error("%s\n", config_message(messages, i));
    config_messages_free(messages);
    assert_non_null(b->settings);
    struct keeper_options o = {.escalate = false, .expect = true};
    b->keeper = keeper_new(b->settings, &o);
    assert_non_null(b->keeper);
    alerts_listen(keeper_alerts(b->keeper), boat_note, b);
    b->engines = 2;
    for (int i = 0; i < 2; i++) {
        b->rpm[i] = 2200;
        b->exhaust[i] = 45;
        b->coolant[i] = 80;
        b->oil_kpa[i] = 400;
    }
    b->space = 32;
    b->volts = 13.8;
    b->fuel = 70;
    b->second_exhaust = BOAT_ABSENT;
    b->temp_period_s = 2;
    b->engine_boxes = b->temp_box = true;
    for (int i = 0; i < BOAT_SWITCHES; i++)
        b->switches[i] = -1;
    return b;
}

static inline void boat_free(struct boat *b)
{
    keeper_free(b->keeper);
    settings_free(b->settings);
    free(b);
}

static inline void boat_frame(struct boat *b, uint32_t pgn, uint8_t source, const uint8_t *data,
                              uint8_t flags)
{
    struct wire_id id = {pgn, 3, source, ADDRESS_GLOBAL};
    struct frame f = {.wall_ns = BOAT_WALL_NS + b->ms * NS_PER_MS,
                      .mono_ns = TIMELINE_START + b->ms * NS_PER_MS,
                      .id = wire_id_encode(id),
                      .iface = b->iface,
                      .len = 8,
                      .flags = (uint8_t)(FRAME_EXTENDED | flags)};
    memcpy(f.data, data, 8);
    keeper_frames(b->keeper, &f, 1);
}

static inline void boat_fast(struct boat *b, uint32_t pgn, uint8_t source, const uint8_t *data,
                             int len)
{
    uint8_t order = (uint8_t)(b->sequence++ << 5);
    for (int at = 0, n = 0; at < len; n++) {
        uint8_t d[8];
        memset(d, 0xFF, sizeof d);
        d[0] = (uint8_t)(order | n);
        int room = n == 0 ? 6 : 7, take = len - at < room ? len - at : room;
        if (n == 0)
            d[1] = (uint8_t)len;
        memcpy(d + 8 - room, data + at, (size_t)take);
        at += take;
        boat_frame(b, pgn, source, d, 0);
    }
}

static inline void boat_put16(uint8_t *d, double v, double step, double offset)
{
    unsigned raw = v == BOAT_NONE ? 0xFFFF : (unsigned)((v + offset) / step + 0.5);
    d[0] = (uint8_t)raw;
    d[1] = (uint8_t)(raw >> 8);
}

static inline void boat_temp(struct boat *b, uint8_t source, uint8_t instance, uint8_t kind,
                             double c)
{
    if (c == BOAT_ABSENT)
        return;
    uint8_t d[8] = {0xFF, instance, kind, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    if (c > 382.17) { /* past what 130312 holds: 130316: 24 bits of 0.001 K */
        unsigned raw = (unsigned)((c + 273.15) * 1000 + 0.5);
        d[3] = (uint8_t)raw;
        d[4] = (uint8_t)(raw >> 8);
        d[5] = (uint8_t)(raw >> 16);
        boat_frame(b, 130316, source, d, 0);
        return;
    }
    boat_put16(d + 3, c, 0.01, 273.15);
    boat_frame(b, 130312, source, d, 0);
}

static inline void boat_engine(struct boat *b, int e)
{
    uint8_t d[26];
    memset(d, 0xFF, sizeof d);
    d[0] = (uint8_t)(b->first + e);
    boat_put16(d + 1, b->oil_kpa[e], 0.1, 0);
    boat_put16(d + 5, b->coolant[e], 0.01, 273.15);
    d[8] = d[10] = 0x7F;
    d[20] = (uint8_t)b->status1[e];
    d[21] = (uint8_t)(b->status1[e] >> 8);
    d[22] = (uint8_t)b->status2[e];
    d[23] = (uint8_t)(b->status2[e] >> 8);
    d[24] = d[25] = 0x7F;
    boat_fast(b, 127489, (uint8_t)(10 + e), d, 26);
}

static inline void boat_rpm(struct boat *b, int e)
{
    if (b->rpm[e] == BOAT_ABSENT)
        return;
    uint8_t d[8] = {(uint8_t)(b->first + e), 0, 0, 0xFF, 0xFF, 0x7F, 0xFF, 0xFF};
    boat_put16(d + 1, b->rpm[e], 0.25, 0);
    boat_frame(b, 127488, (uint8_t)(10 + e), d, 0);
}

static inline void boat_rest(struct boat *b)
{
    uint8_t battery[8] = {0, 0, 0, 0xFF, 0x7F, 0xFF, 0xFF, 0xFF};
    if (b->volts != BOAT_ABSENT) {
        boat_put16(battery + 1, b->volts, 0.01, 0);
        boat_frame(b, 127508, 40, battery, 0);
    }
    if (b->fuel == BOAT_ABSENT)
        return;
    uint8_t tank[8] = {0, 0, 0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    boat_put16(tank + 1, b->fuel, 0.004, 0);
    boat_frame(b, 127505, 41, tank, 0);
}

static inline void boat_bank(struct boat *b)
{
    uint8_t d[8] = {0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    bool any = false;
    d[1] = 0;
    for (int i = 0; i < BOAT_SWITCHES; i++) {
        any |= b->switches[i] >= 0;
        d[1] |= (uint8_t)((b->switches[i] >= 0 ? b->switches[i] : 3) << (2 * i));
    }
    if (any)
        boat_frame(b, 127501, 42, d, 0);
}

/* Lets `seconds` go by; what is due at the very end is not sent any more. */
static inline void boat_run(struct boat *b, double seconds)
{
    int64_t end = b->ms + (int64_t)(seconds * 1000 + 0.5);
    int64_t temp = (int64_t)(b->temp_period_s * 1000);
    for (; b->ms < end; b->ms++) {
        for (int e = 0; b->engine_boxes && e < b->engines; e++) {
            if (b->ms % 100 == e)
                boat_rpm(b, e);
            if (b->ms % 500 == 30 + e)
                boat_engine(b, e);
        }
        if (b->temp_box && b->ms % temp == 50) {
            for (int e = 0; e < b->engines; e++)
                boat_temp(b, 35, (uint8_t)(b->first + e), 14, b->exhaust[e]);
            boat_temp(b, 35, 0, 3, b->space);
        }
        if (b->ms % temp == 60)
            boat_temp(b, 36, 0, 14, b->second_exhaust);
        if (b->ms % 1500 == 70)
            boat_rest(b);
        if (b->ms % 1000 == 80)
            boat_bank(b);
    }
}

/* Seconds in which no frame comes of anybody; time goes on by ticks, as live. */
static inline void boat_wait(struct boat *b, double seconds)
{
    for (int64_t end = b->ms + (int64_t)(seconds * 1000 + 0.5); b->ms < end;) {
        b->ms += 250;
        keeper_tick(b->keeper, (struct stamp){BOAT_WALL_NS + b->ms * NS_PER_MS,
                                              TIMELINE_START + b->ms * NS_PER_MS});
    }
}

/* Moves *value evenly to `to` within `seconds`. */
static inline void boat_ramp(struct boat *b, double *value, double to, double seconds)
{
    double from = *value;
    int steps = (int)(seconds * 2 + 0.5);
    for (int i = 1; i <= steps; i++) {
        *value = from + (to - from) * i / steps;
        boat_run(b, seconds / steps);
    }
}

static inline struct alert_list *boat_alerts(const struct boat *b)
{
    return keeper_alerts(b->keeper);
}

static inline const struct boat_event *boat_last(const struct boat *b)
{
    assert_true(b->count > 0);
    return &b->events[b->count - 1];
}

/* How many events of this kind of rule there were. */
static inline int boat_told(const struct boat *b, enum alert_event_kind event, enum rule_kind kind)
{
    int n = 0;
    for (int i = 0; i < b->count; i++)
        n += b->events[i].event == event && b->events[i].alert.kind == kind;
    return n;
}

static inline const struct boat_event *boat_find(const struct boat *b, enum alert_event_kind event,
                                                 enum rule_kind kind)
{
    for (int i = 0; i < b->count; i++)
        if (b->events[i].event == event && b->events[i].alert.kind == kind)
            return &b->events[i];
    return NULL;
}

static inline void boat_print(const struct boat *b)
{
    for (int i = 0; i < b->count; i++)
        print_message("%8.2f %d %c %s\n", b->events[i].at, (int)b->events[i].event,
                      alert_priority_letter(b->events[i].alert.priority), b->events[i].alert.text);
}

/* The cooling watch has tests of its own; off where only limits are looked at. */
#define NO_COOLING_WATCH                                                                           \
    "[rise exhaust]\nenabled = no\n[departure exhaust]\nenabled = no\n"                            \
    "[split exhaust]\nenabled = no\n[rise coolant]\nenabled = no\n"                                \
    "[departure coolant]\nenabled = no\n[split coolant]\nenabled = no\n"                           \
    "[rise engine-space]\nenabled = no\n"

#endif
