/* Made-up messages, built by hand byte for byte, and a plant that listens to them and writes down
 * what it is told. Layouts: check-values of the message tables in docs/pgns.md. Times in ms. */
#ifndef STOKEHOLD_TESTS_HAND_H
#define STOKEHOLD_TESTS_HAND_H

#include "support/check.h"

#include "base/text.h"
#include "plant/plant.h"

#include <stdio.h>

#define HAND_START_MS 1000000

struct hand {
    struct settings settings;
    struct channel_setting channels[4];
    struct plant *plant;
    int64_t ms; /* now */
    int appeared, readings, conflicts, engine_events;
    char log[4096]; /* one word an event, blank between: "stale:exhaust.0" */
};

static inline struct stamp hand_stamp(const struct hand *h)
{
    int64_t ns = (HAND_START_MS + h->ms) * NS_PER_MS;
    return (struct stamp){ns, ns};
}

static inline void hand_note(struct hand *h, const char *what, const char *key)
{
    text_append(h->log, sizeof h->log, "%s:%s ", what, key);
}

static inline void hand_appeared(void *ctx, struct channel *c)
{
    struct hand *h = ctx;
    h->appeared++;
    assert_int_equal(c->status, READING_NEVER);
}

static inline void hand_reading(void *ctx, struct channel *c, struct stamp at)
{
    struct hand *h = ctx;
    h->readings++;
    assert_int_not_equal(c->status, READING_NEVER);
    assert_int_equal(c->at.mono_ns, at.mono_ns);
}

static inline void hand_status(void *ctx, struct channel *c, enum reading_status before,
                               struct stamp at)
{
    static const char *const words[] = {"never", "ok", "na", "error", "stale"};
    (void)at;
    (void)before;
    hand_note(ctx, c->switched_off ? "off" : words[c->status], c->key);
}

static inline void hand_conflict(void *ctx, struct channel *second, struct channel *holder,
                                 struct stamp at)
{
    struct hand *h = ctx;
    (void)at;
    h->conflicts++;
    assert_true(second->second);
    assert_false(holder->second);
    hand_note(h, "conflict", second->key);
}

static inline void hand_engine(void *ctx, int engine, enum engine_state before, struct stamp at)
{
    static const char *const words[] = {"unknown", "stopped", "running"};
    struct hand *h = ctx;
    char n[12];
    (void)before;
    (void)at;
    h->engine_events++;
    snprintf(n, sizeof n, "%d", engine);
    hand_note(h, words[plant_engine(h->plant, engine)->state], n);
}

/* Call hand_channel before hand_start. */
static inline void hand_init(struct hand *h)
{
    *h = (struct hand){0};
    h->settings.channels = h->channels;
}

static inline struct channel_setting *hand_channel(struct hand *h, enum quantity q, uint8_t place)
{
    struct channel_setting *s = &h->channels[h->settings.channel_count++];
    *s = (struct channel_setting){.id = {(uint16_t)q, place, 0}, .gain = 1};
    return s;
}

static inline void hand_start(struct hand *h)
{
    h->plant = plant_new(&h->settings);
    assert_non_null(h->plant);
    assert_true(
        plant_listen(h->plant, (struct plant_listener){h, hand_appeared, hand_reading, hand_status,
                                                       hand_conflict, hand_engine}));
}

static inline void hand_end(struct hand *h)
{
    plant_free(h->plant);
}

static inline void hand_send_on(struct hand *h, uint8_t iface, uint8_t source, uint32_t pgn,
                                const uint8_t *data, uint16_t len)
{
    struct message m = {.at = hand_stamp(h),
                        .pgn = pgn,
                        .iface = iface,
                        .source = source,
                        .destination = ADDRESS_GLOBAL,
                        .priority = 6,
                        .len = len,
                        .data = data};
    plant_message(h->plant, &m);
}

static inline void hand_send(struct hand *h, uint8_t source, uint32_t pgn, const uint8_t *data,
                             uint16_t len)
{
    hand_send_on(h, 0, source, pgn, data, len);
}

#define LOW(x)  ((uint8_t)((unsigned)(x)&0xFF))
#define HIGH(x) ((uint8_t)((unsigned)(x) >> 8 & 0xFF))

static inline unsigned hand_kelvin(double celsius)
{
    return (unsigned)((celsius + 273.15) * 100 + 0.5);
}

/* 127488; rpm < 0: not available */
static inline void hand_rpm(struct hand *h, uint8_t source, uint8_t engine, double rpm)
{
    unsigned raw = rpm < 0 ? 0xFFFF : (unsigned)(rpm * 4 + 0.5);
    uint8_t d[8] = {engine, LOW(raw), HIGH(raw), 0xFF, 0xFF, 0x7F, 0xFF, 0xFF};
    hand_send(h, source, 127488, d, 8);
}

/* 130312; celsius below -273: not available */
static inline void hand_temp_on(struct hand *h, uint8_t iface, uint8_t source, uint8_t instance,
                                uint8_t kind, double celsius)
{
    unsigned raw = celsius < -273.15 ? 0xFFFF : hand_kelvin(celsius);
    uint8_t d[8] = {0xFF, instance, kind, LOW(raw), HIGH(raw), 0xFF, 0xFF, 0xFF};
    hand_send_on(h, iface, source, 130312, d, 8);
}

static inline void hand_exhaust(struct hand *h, uint8_t source, uint8_t instance, double celsius)
{
    hand_temp_on(h, 0, source, instance, 14, celsius);
}

/* 127489 with oil pressure and coolant; kpa < 0: not available */
static inline void hand_engine_data(struct hand *h, uint8_t source, uint8_t engine, double kpa,
                                    double coolant_c)
{
    unsigned p = kpa < 0 ? 0xFFFF : (unsigned)(kpa * 10 + 0.5);
    unsigned t = coolant_c < -273.15 ? 0xFFFF : hand_kelvin(coolant_c);
    uint8_t d[26];
    memset(d, 0xFF, sizeof d);
    d[0] = engine;
    d[1] = LOW(p);
    d[2] = HIGH(p);
    d[5] = LOW(t);
    d[6] = HIGH(t);
    d[8] = 0x7F; /* alternator and fuel rate are signed: 7FFF is their "not available" */
    d[10] = 0x7F;
    d[24] = 0x7F;
    d[25] = 0x7F;
    hand_send(h, source, 127489, d, 26);
}

/* 127508 */
static inline void hand_volts(struct hand *h, uint8_t source, uint8_t battery, double volts)
{
    unsigned raw = (unsigned)(volts * 100 + 0.5);
    uint8_t d[8] = {battery, LOW(raw), HIGH(raw), 0xFF, 0x7F, 0xFF, 0xFF, 0xFF};
    hand_send(h, source, 127508, d, 8);
}

/* 129026 over ground, in m/s; below 0: not available */
static inline void hand_speed(struct hand *h, uint8_t source, double mps)
{
    unsigned raw = mps < 0 ? 0xFFFF : (unsigned)(mps * 100 + 0.5);
    uint8_t d[8] = {0xFF, 0xFC, 0xFF, 0xFF, LOW(raw), HIGH(raw), 0xFF, 0xFF};
    hand_send(h, source, 129026, d, 8);
}

/* 130310: sea and outside air */
static inline void hand_environment(struct hand *h, uint8_t source, double sea_c)
{
    unsigned raw = hand_kelvin(sea_c);
    uint8_t d[8] = {0xFF, LOW(raw), HIGH(raw), 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    hand_send(h, source, 130310, d, 8);
}

/* 127505: fuel, level in %, capacity in L */
static inline void hand_tank(struct hand *h, uint8_t source, uint8_t tank, double percent,
                             double capacity_l)
{
    int raw = (int)(percent / 0.004 + 0.5);
    uint32_t c = (uint32_t)(capacity_l * 10 + 0.5);
    uint8_t d[8] = {tank, LOW(raw), HIGH(raw), LOW(c), HIGH(c), LOW(c >> 16), HIGH(c >> 16), 0xFF};
    hand_send(h, source, 127505, d, 8);
}

/* 60928 */
static inline void hand_claim(struct hand *h, uint8_t source, uint64_t name)
{
    uint8_t d[8];
    for (int i = 0; i < 8; i++)
        d[i] = (uint8_t)(name >> (8 * i));
    hand_send(h, source, 60928, d, 8);
}

static inline void hand_tick(struct hand *h, int64_t ms)
{
    h->ms += ms;
    plant_tick(h->plant, hand_stamp(h));
}

static inline struct channel *hand_find(const struct hand *h, const char *key)
{
    struct channel *c = plant_find_key(h->plant, key);
    if (c == NULL)
        print_error("no channel '%s'\n", key);
    assert_non_null(c);
    return c;
}

static inline bool hand_heard(const struct hand *h, const char *event)
{
    char word[64];
    snprintf(word, sizeof word, "%s ", event);
    return strstr(h->log, word) != NULL;
}

/* The one of the test under way. */
static struct hand h;

static inline int setup(void **state)
{
    (void)state;
    hand_init(&h);
    return 0;
}

static inline int teardown(void **state)
{
    (void)state;
    hand_end(&h);
    return 0;
}

#endif
