/* The muster over made-up buses whose truth is known: each fault of an installation is put in alone
 * and must be found, and a sound installation must be found sound. The layouts come from the
 * catalogue's own sources; NAMEs from bit positions of SAE J1939-81. */
#include "support/check.h"

#include "report/muster/muster.h"
#include "support/name.h"

#include "config/config.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

struct boat {
    struct muster *muster;
    int64_t ms;
    uint8_t sequence;
    int engines;
    bool no_rpm, no_capacity, no_claims, exhaust_stuck, coolant_hours_back, swapped, dry;
    bool slow_dynamic, exhaust_na, both_on_0, third_tank, second_clock_off, name_moves, clash;
    bool box_stops, box_away, probe_away, holes, meters, probes_from_1, hardly;
    bool wild, oil_stops, off_when_stopped, water_flow, trouble, told_by_engine, amber;
    bool tanks_stop; /* after a minute its box sends heartbeats alone */
    double rpm[2], exhaust[2];
};

static void send_frame(struct boat *b, uint32_t id, const uint8_t *data, size_t len)
{
    struct frame f = {.flags = FRAME_EXTENDED,
                      .id = id,
                      .len = (uint8_t)len,
                      .mono_ns = b->ms * NS_PER_MS,
                      .wall_ns = INT64_C(1777900000) * NS_PER_S + b->ms * NS_PER_MS};
    memcpy(f.data, data, len);
    muster_frames(b->muster, &f, 1);
}

/* By the transport protocol of SAE J1939-21: announced, then in packets of seven bytes. */
static void send_to_all(struct boat *b, uint32_t pgn, uint8_t source, const uint8_t *data,
                        size_t len)
{
    struct wire_id id = {.pgn = 60416, .priority = 7, .source = source, .destination = 255};
    uint8_t n = 0, d[8] = {0x20, (uint8_t)len, (uint8_t)(len >> 8), (uint8_t)((len + 6) / 7),
                           0xFF, (uint8_t)pgn, (uint8_t)(pgn >> 8), (uint8_t)(pgn >> 16)};
    send_frame(b, wire_id_encode(id), d, 8);
    id.pgn = 60160;
    for (size_t at = 0; at < len; at += 7) {
        memset(d, 0xFF, sizeof d);
        d[0] = ++n;
        memcpy(d + 1, data + at, len - at < 7 ? len - at : 7);
        send_frame(b, wire_id_encode(id), d, 8);
    }
}

static void send_message(struct boat *b, uint32_t pgn, uint8_t source, const uint8_t *data,
                         size_t len)
{
    uint32_t id = wire_id_encode(
        (struct wire_id){.pgn = pgn, .priority = 6, .source = source, .destination = 255});
    if (len <= 8) {
        send_frame(b, id, data, len);
        return;
    }
    uint8_t frame[8];
    size_t at = 0;
    b->sequence = (uint8_t)((b->sequence + 1) & 7);
    for (uint8_t n = 0; at < len; n++) {
        memset(frame, 0xFF, 8);
        frame[0] = (uint8_t)(b->sequence << 5 | n);
        size_t from = 1;
        if (n == 0)
            frame[from++] = (uint8_t)len;
        for (; from < 8 && at < len; from++)
            frame[from] = data[at++];
        send_frame(b, id, frame, 8);
    }
}

static void put16(uint8_t *p, double v)
{
    long raw = lround(v);
    p[0] = (uint8_t)raw;
    p[1] = (uint8_t)(raw >> 8);
}

static void send_engine(struct boat *b, int engine, uint8_t source)
{
    uint8_t rapid[8] = {(uint8_t)engine, 0, 0, 0xFF, 0xFF, 0x7F, 0xFF, 0xFF};
    put16(rapid + 1, b->rpm[engine] / 0.25);
    if (b->no_rpm)
        rapid[1] = rapid[2] = 0xFF;
    if (b->ms % 100 == 0)
        send_message(b, 127488, source, rapid, 8);
    if (b->ms % (b->slow_dynamic ? 2000 : b->hardly ? 1000 : 500) != 0)
        return;
    uint8_t d[26];
    memset(d, 0xFF, sizeof d);
    double wave = sin((double)b->ms / 7000.0);
    d[0] = (uint8_t)engine;
    put16(d + 1, 2000 + b->rpm[engine] + 5 * wave);          /* oil, 100 Pa */
    put16(d + 3, (273.15 + 85) / 0.1 + 3 * wave);            /* oil, 0.1 K */
    put16(d + 5, (273.15 + 80) / 0.01 + 20 * wave + engine); /* coolant, 0.01 K */
    put16(d + 7, 1420 + 2 * wave);                           /* 0.01 V */
    put16(d + 9, b->rpm[engine] / 100);                      /* 0.1 L/h */
    uint32_t seconds = 3600000 + (uint32_t)(b->ms / 1000);
    if (b->coolant_hours_back && b->ms > 60000)
        seconds -= 7200;
    memcpy(d + 11, &seconds, 4);
    memset(d + 20, 0, 4);
    d[20] = b->water_flow && engine == 1 ? 0x80 : 0;
    d[24] = (uint8_t)(b->rpm[engine] / 30);
    d[25] = 0x7F;
    d[15] = d[16] = d[17] = d[18] = 0xFF;
    send_message(b, 127489, source, d, sizeof d);
}

static void send_temperature(struct boat *b, uint8_t source, uint8_t instance, uint8_t what,
                             double c)
{
    uint8_t t[8] = {0xFF, instance, what, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    if (isnan(c))
        t[3] = t[4] = 0xFF;
    else if (c > 382.17)
        t[3] = 0xFE;
    else
        put16(t + 3, (c + 273.15) / 0.01);
    send_message(b, 130312, source, t, 8);
}

/* Feed and return of engine 0 as the rates of two engines that are none. */
static void send_meters(struct boat *b)
{
    for (int i = 0; i < 2; i++) {
        uint8_t d[26];
        memset(d, 0xFF, sizeof d);
        d[0] = (uint8_t)(3 + i);
        d[8] = d[10] = d[24] = d[25] = 0x7F;
        put16(d + 9, (b->rpm[0] / 100 * (i ? 3 : 4) + 0.3 * sin((double)b->ms / 900)) / 0.1);
        send_message(b, 127489, 0x28, d, sizeof d);
    }
}

static void send_exhaust(struct boat *b, int engine)
{
    double c = b->exhaust[b->swapped ? 1 - engine : engine] + 0.05 * sin((double)b->ms / 3000.0);
    if (b->exhaust_stuck && engine == 0)
        c = 47.3;
    if (b->exhaust_na && engine == 0)
        c = NAN;
    bool away = b->ms > 150000 && b->ms <= 194000 && engine == 1;
    if (b->box_away && away)
        return;
    if (b->probe_away && away)
        c = NAN;
    if (b->dry && engine == 0)
        c = b->ms < 60000 ? 320 : 395;
    if (b->wild && engine == 0 && b->ms == 40000)
        c = 300;
    uint8_t instance = b->both_on_0 ? 0 : (uint8_t)engine;
    send_temperature(b, (uint8_t)(0x20 + engine), instance, 14, c);
}

static void send_tank(struct boat *b, uint8_t instance)
{
    uint8_t t[8] = {instance, 0, 0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    put16(t + 1, (70 + 0.2 * sin((double)b->ms / 5000.0)) / 0.004);
    uint32_t tenths = b->no_capacity && instance == 0 ? UINT32_MAX : 4000;
    memcpy(t + 3, &tenths, 4);
    send_message(b, 127505, 0x24, t, 8);
}

static void send_clock(struct boat *b, uint8_t source, int64_t off_s)
{
    uint8_t t[8] = {0xFF, 0xF0};
    int64_t s = INT64_C(1777900000) + b->ms / 1000 + off_s;
    put16(t + 2, (double)(s / 86400));
    uint32_t tenths = (uint32_t)(s % 86400 * 10000 + b->ms % 1000 * 10);
    memcpy(t + 4, &tenths, 4);
    send_message(b, 126992, source, t, 8);
}

static void send_claim(struct boat *b, uint8_t source, uint32_t identity)
{
    uint64_t name = name_encode((struct name_fields){.identity = identity,
                                                     .manufacturer = 2000,
                                                     .function = 130,
                                                     .vehicle_class = 75,
                                                     .industry_group = 4,
                                                     .arbitrary_address = true});
    uint8_t d[8];
    for (int i = 0; i < 8; i++)
        d[i] = (uint8_t)(name >> (8 * i));
    send_message(b, 60928, source, d, 8);
}

/* Levers are moved one at a time, as a technician does on a trial. */
static void move(struct boat *b)
{
    int phase = (int)(b->ms / 60000) % 4;
    double want[2] = {phase == 1 || phase == 2 ? 2200 : 900, phase == 2 || phase == 3 ? 2200 : 900};
    for (int e = 0; e < 2; e++) {
        b->rpm[e] += (want[e] - b->rpm[e]) * 0.05;
        double target = 28 + b->rpm[e] / 100 + 3 * e;
        b->exhaust[e] += (target - b->exhaust[e]) * (0.1 / 20);
    }
}

static void sail(struct boat *b, int seconds)
{
    b->rpm[0] = b->rpm[1] = 900;
    b->exhaust[0] = b->exhaust[1] = 37;
    for (b->ms = 0; b->ms < seconds * 1000; b->ms += 100) {
        move(b);
        if (b->holes && b->ms % 60000 > 40000)
            continue;
        if (b->meters && b->ms % 500 == 0)
            send_meters(b);
        if (b->probes_from_1 && b->ms % 2000 == 0)
            for (uint8_t i = 1; i < 4; i++)
                send_temperature(b, 0x24, i, 13, -18 + 0.05 * sin((double)b->ms / 4000));
        bool off = b->off_when_stopped && b->ms > 60000 && b->ms < 100000;
        for (int e = 0; e < b->engines && !off; e++) {
            send_engine(b, e, (uint8_t)(0x10 + e));
            if (b->ms % 2000 == 0 && !(b->oil_stops && e == 1 && b->ms > 90000) &&
                !(b->box_stops && e == 1 && b->ms > 150000))
                send_exhaust(b, e);
        }
        if (b->ms % 10000 == 0) {
            static const uint8_t heartbeat[8] = {0xE8, 0x03, 0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
            send_message(b, 126993, 0x24, heartbeat, 8);
        }
        if (b->ms % 2500 == 0 && !(b->tanks_stop && b->ms > 60000)) {
            send_tank(b, 0);
            send_tank(b, 1);
            if (b->third_tank)
                send_tank(b, 3);
        }
        if (b->ms % 1000 == 0) {
            send_clock(b, 0x26, 0);
            if (b->second_clock_off)
                send_clock(b, 0x27, 300);
        }
        if (b->ms == 0 && !b->no_claims) {
            static const uint8_t all[] = {0x10, 0x11, 0x20, 0x21, 0x24, 0x26, 0x27};
            for (size_t i = 0; i < sizeof all; i++)
                if (i < 6 || b->second_clock_off)
                    send_claim(b, all[i], 100 + all[i]);
        }
        if (b->ms % 1000 == 0 && b->trouble) {
            /* lamp on, SPN 110 FMI 0: computed from the layout of SAE J1939-73 */
            static const uint8_t dm1[8] = {0x04, 0xFF, 0x6E, 0x00, 0x00, 0x01, 0xFF, 0xFF};
            send_message(b, 65226, 0x10, dm1, 8);
        }
        if (b->ms == 20000 && b->told_by_engine) {
            /* SPN 110 FMI 0 three times, SPN 100 FMI 1 once (SAE J1939-73), and 127498 */
            static const uint8_t dm2[10] = {0x00, 0xFF, 0x6E, 0x00, 0x00,
                                            0x03, 0x64, 0x00, 0x01, 0x01};
            static const uint8_t fixed[16] = {0x00, 0x40, 0x38, 0x08, 0x01, 0x54, 0x45, 0x53,
                                              0x54, 0x30, 0x31, 0x05, 0x01, 0x31, 0x2E, 0x30};
            send_to_all(b, 65227, 0x10, dm2, sizeof dm2);
            send_message(b, 127498, 0x10, fixed, sizeof fixed);
        }
        if (b->ms % 5000 == 0 && b->told_by_engine) {
            uint8_t ec1[40];
            memset(ec1, 0xFF, sizeof ec1);
            ec1[0] = 0x50, ec1[1] = 0x14; /* 650 rpm */
            send_to_all(b, 65251, 0x10, ec1, sizeof ec1);
        }
        if (b->ms % 1000 == 0 && b->amber) {
            static const uint8_t dm1[8] = {0x44, 0xF7, 0, 0, 0, 0, 0xFF, 0xFF};
            send_message(b, 65226, 0x10, dm1, 8);
        }
        if (b->ms == 30000 && b->name_moves)
            send_claim(b, 0x31, 100 + 0x20);
        if (b->ms == 30000 && b->clash)
            send_claim(b, 0x20, 777);
        if (b->oil_stops && b->ms % 1000 == 0)
            send_temperature(b, 0x21, 5, 3, 40); /* its box goes on */
    }
}

static void launch(struct boat *b, const struct settings *settings)
{
    if (b->engines == 0)
        b->engines = 2;
    b->muster = muster_new(settings);
    assert_non_null(b->muster);
    muster_name_iface(b->muster, 0, "can0");
}

static const struct muster_finding *find(const struct boat *b, const char *kind,
                                         const char *channel)
{
    for (size_t i = 0; i < b->muster->finding_count; i++) {
        const struct muster_finding *f = &b->muster->findings[i];
        if (strcmp(f->kind, kind) == 0 && (channel == NULL || strcmp(f->channel, channel) == 0))
            return f;
    }
    return NULL;
}

/* Sails, closes and checks that this is the one finding. */
static void one_finding(struct boat *b, int seconds, const char *kind, const char *channel)
{
    launch(b, NULL);
    sail(b, seconds);
    muster_close(b->muster);
    const struct muster_finding *f = find(b, kind, channel);
    int total = muster_finding_total(b->muster);
    if (f == NULL || total != 1)
        for (size_t i = 0; i < b->muster->finding_count; i++)
            if (b->muster->findings[i].weight == MUSTER_FINDING)
                print_error("%s: %s\n", b->muster->findings[i].kind, b->muster->findings[i].text);
    assert_non_null(f);
    assert_int_equal(total, 1);
    muster_free(b->muster);
}

static void sound_boat__no_finding(void **state)
{
    (void)state;
    for (int engines = 1; engines <= 2; engines++) {
        struct boat b = {.engines = engines};
        launch(&b, NULL);
        sail(&b, 300);
        muster_close(b.muster);
        for (size_t i = 0; i < b.muster->finding_count; i++)
            if (b.muster->findings[i].weight == MUSTER_FINDING)
                print_error("%s\n", b.muster->findings[i].text);
        assert_int_equal(muster_finding_total(b.muster), 0);
        muster_free(b.muster);
    }
}

static void engine_boxes_off_for_a_while__no_finding(void **state)
{
    (void)state;
    struct boat b = {.off_when_stopped = true};
    launch(&b, NULL);
    sail(&b, 300);
    muster_close(b.muster);
    assert_int_equal(muster_finding_total(b.muster), 0);
    muster_free(b.muster);
}

static void two_exhausts_on_one_instance__is_found(void **state)
{
    (void)state;
    one_finding(&(struct boat){.both_on_0 = true}, 120, "two senders", "exhaust.0");
}

static void tank_2_missing__is_found(void **state)
{
    (void)state;
    one_finding(&(struct boat){.third_tank = true}, 120, "instance missing", "fuel-tank.2");
}

static void engine_without_speed__is_found(void **state)
{
    (void)state;
    one_finding(&(struct boat){.engines = 1, .no_rpm = true}, 120, "no engine speed", "rpm.0");
}

static void tank_without_capacity__is_found(void **state)
{
    (void)state;
    one_finding(&(struct boat){.no_capacity = true}, 120, "no capacity", "fuel-tank.0");
}

static void message_too_rare__is_found(void **state)
{
    (void)state;
    one_finding(&(struct boat){.engines = 1, .slow_dynamic = true}, 120, "slow", NULL);
}

static void sensor_never_available__is_found(void **state)
{
    (void)state;
    one_finding(&(struct boat){.exhaust_na = true}, 120, "not available", "exhaust.0");
}

static void sensor_stuck__is_found(void **state)
{
    (void)state;
    one_finding(&(struct boat){.exhaust_stuck = true}, 400, "stuck", "exhaust.0");
}

static void swapped_exhausts__are_found(void **state)
{
    (void)state;
    one_finding(&(struct boat){.swapped = true}, 600, "swapped", "exhaust.0");
    struct boat b = {.swapped = true};
    launch(&b, NULL);
    sail(&b, 600);
    b.muster->cooling[b.muster->cooling_count++] =
        (struct muster_cooling){.name = "GENERATOR", .instance = 1, .generator = true};
    muster_close(b.muster);
    assert_null(find(&b, "swapped", NULL));
    muster_free(b.muster);
}

static void sensor_stops_and_its_box_goes_on__is_found(void **state)
{
    (void)state;
    struct boat b = {.oil_stops = true};
    launch(&b, NULL);
    sail(&b, 200);
    muster_close(b.muster);
    assert_non_null(find(&b, "stopped", "exhaust.1"));
    muster_free(b.muster);
}

static void dry_sensor_on_130312__is_asked_about_and_overflows(void **state)
{
    (void)state;
    struct boat b = {.dry = true};
    launch(&b, NULL);
    sail(&b, 120);
    muster_close(b.muster);
    assert_non_null(find(&b, "wet or dry", "exhaust.0"));
    assert_non_null(find(&b, "overflow", "exhaust.0")); /* 382.17 °C: check of both open tables */
    assert_non_null(find(&b, "error", "exhaust.0"));
    muster_free(b.muster);
}

static void wild_sample_and_hours_going_back__are_found(void **state)
{
    (void)state;
    struct boat b = {.wild = true};
    launch(&b, NULL);
    sail(&b, 120);
    muster_close(b.muster);
    const struct muster_finding *f = find(&b, "beyond physics", "exhaust.0");
    assert_non_null(f);
    assert_non_null(strstr(f->text, " K within a reading"));
    assert_null(find(&b, "wet or dry", NULL)); /* one sample is no dry sensor */
    muster_free(b.muster);
    struct boat hours = {.engines = 1, .coolant_hours_back = true};
    one_finding(&hours, 120, "beyond physics", "hours.0");
}

static void engines_that_report_a_fault__are_named(void **state)
{
    (void)state;
    struct boat b = {.water_flow = true};
    launch(&b, NULL);
    sail(&b, 60);
    muster_close(b.muster);
    const struct muster_finding *f = find(&b, "reported", NULL);
    assert_non_null(f);
    assert_non_null(strstr(f->text, "engine 1 itself reports: water flow"));
    assert_int_equal(muster_finding_total(b.muster), 1);
    muster_free(b.muster);
    struct boat c = {.trouble = true};
    launch(&c, NULL);
    sail(&c, 60);
    muster_close(c.muster);
    f = find(&c, "reported", NULL);
    assert_non_null(f);
    assert_non_null(strstr(f->text, "address 16 has 1 active trouble code, first SPN 110 coolant "
                                    "temperature: above normal, most severe"));
    assert_int_equal(muster_finding_total(c.muster), 1);
    muster_free(c.muster);
}

static void clocks__five_minutes_apart__are_found(void **state)
{
    (void)state;
    one_finding(&(struct boat){.second_clock_off = true}, 60, "clocks apart", NULL);
}

static void names__moved_or_clashing__are_found(void **state)
{
    (void)state;
    one_finding(&(struct boat){.name_moves = true}, 60, "address change", NULL);
    one_finding(&(struct boat){.clash = true}, 60, "address clash", NULL);
}

static void names__none_heard__is_a_note(void **state)
{
    (void)state;
    struct boat b = {.no_claims = true};
    launch(&b, NULL);
    sail(&b, 60);
    muster_close(b.muster);
    assert_int_equal(muster_finding_total(b.muster), 0);
    assert_non_null(find(&b, "no claim", NULL));
    muster_free(b.muster);
}

static struct settings *settings_of(const char *text)
{
    struct config_messages *messages = NULL;
    struct settings *s = config_load_text("test.conf", text, &messages);
    for (size_t i = 0; i < config_message_count(messages); i++)
        print_error("%s\n", config_message(messages, i));
    config_messages_free(messages);
    assert_non_null(s);
    return s;
}

static void configuration__missing_and_from_another_sender__is_found(void **state)
{
    (void)state;
    struct settings *s = settings_of("[vessel]\nengines = 2\n"
                                     "[channel exhaust.0]\nsource = 32\n"
                                     "[channel exhaust.1]\nsource = 99\n"
                                     "[channel range]\nlabel = range\n" /* not on the bus */
                                     "[channel engine-space.0]\nlabel = engine space\n");
    struct boat b = {0};
    launch(&b, s);
    sail(&b, 60);
    muster_close(b.muster);
    assert_non_null(find(&b, "missing", "engine-space.0"));
    assert_non_null(find(&b, "other sender", "exhaust.1"));
    assert_int_equal(muster_finding_total(b.muster), 2);
    muster_free(b.muster);
    settings_free(s);
}

static void configuration__says_dry_and_capacity__no_longer_asked(void **state)
{
    (void)state;
    struct settings *s = settings_of("[channel exhaust.0]\nsensor = dry\n"
                                     "[channel fuel-tank.0]\ncapacity = 400 L\n");
    struct boat b = {.dry = true, .no_capacity = true};
    launch(&b, s);
    sail(&b, 60);
    muster_close(b.muster);
    assert_null(find(&b, "wet or dry", NULL));
    assert_null(find(&b, "no capacity", NULL));
    muster_free(b.muster);
    settings_free(s);
}

static char *written(void (*f)(const struct muster *m, const char *title, FILE *out),
                     const struct muster *m)
{
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);
    f(m, "a made-up boat", out);
    fclose(out);
    return text;
}

static void print_utc(const struct muster *m, const char *title, FILE *out)
{
    muster_print(m, title, &(struct papers){0}, true, out);
}

static const struct channel_setting *setting_of(const struct settings *s, const char *key)
{
    struct channel_id id;
    assert_true(channel_id_parse(key, &id, NULL));
    return settings_channel(s, id);
}

static void written_configuration__is_taken_and_leaves_the_choice_open(void **state)
{
    (void)state;
    struct boat b = {.both_on_0 = true};
    launch(&b, NULL);
    sail(&b, 60);
    muster_close(b.muster);
    char *text = written(muster_write_config, b.muster);
    struct settings *s = settings_of(text);
    assert_int_equal(s->engines, 2);
    assert_non_null(setting_of(s, "exhaust.0"));
    /* two speak, and which one is the intruder is for the owner to say */
    assert_false(setting_of(s, "exhaust.0")->sender.set);
    assert_non_null(strstr(text, "# source = 32   # 1 other sender of this key was heard: choose"));
    muster_free(b.muster);

    struct boat again = {.both_on_0 = true};
    launch(&again, s);
    sail(&again, 60);
    muster_close(again.muster);
    assert_int_equal(muster_finding_total(again.muster), 1); /* still the conflict */
    assert_null(find(&again, "missing", NULL));
    muster_free(again.muster);
    settings_free(s);
    free(text);
}

static void feed_and_return_meters__are_no_engines(void **state)
{
    (void)state;
    struct settings *s = settings_of("[vessel]\nengines = 2\n"
                                     "[channel fuel-rate.0]\nfeed = fuel-rate.3\n"
                                     "return = fuel-rate.4\n"
                                     "[channel fuel-rate.3]\nspan = 20 L/h to 1500 L/h\n");
    struct boat b = {.meters = true};
    launch(&b, s);
    sail(&b, 200);
    muster_close(b.muster);
    for (size_t i = 0; i < b.muster->finding_count; i++)
        if (b.muster->findings[i].weight == MUSTER_FINDING)
            print_error("%s\n", b.muster->findings[i].text);
    assert_int_equal(muster_finding_total(b.muster), 0);
    char *text = written(muster_write_config, b.muster);
    struct settings *again = settings_of(text); /* config check has nothing against it */
    assert_int_equal(again->engines, 2);
    settings_free(again);
    free(text);
    muster_free(b.muster);
    settings_free(s);
}

static void box_silent_for_good__is_found_while_an_engine_runs(void **state)
{
    (void)state;
    struct boat b = {.box_stops = true};
    one_finding(&b, 300, "silent", NULL);
}

/* Away for 44 s at 2200 rpm and back again: too short for a share of the messages, and long enough
 * to burn a hose. The box itself, or what is plugged into it. */
static void exhaust__away_for_44_s_under_way__is_found(void **state)
{
    (void)state;
    for (int probe = 0; probe < 2; probe++) {
        struct boat b = {.box_away = !probe, .probe_away = probe};
        launch(&b, NULL);
        sail(&b, 1800);
        muster_close(b.muster);
        const char *kind = probe ? "not available" : "dropout";
        assert_int_equal(muster_finding_total(b.muster), 1);
        assert_non_null(find(&b, kind, "exhaust.1"));
        assert_non_null(strstr(find(&b, kind, "exhaust.1")->text,
                               probe ? "not available for up to 46 s, its engine at speed"
                                     : "away 1 time, for up to 46 s, its engine at speed"));
        muster_free(b.muster);
    }
}

static struct frame tank_frame(double at_s, int source)
{
    return (struct frame){.flags = FRAME_EXTENDED,
                          .id = 0x19F21100U | (unsigned)source,
                          .len = 8,
                          .mono_ns = (int64_t)(at_s * 1e9),
                          .wall_ns = (int64_t)((1777903200 + at_s) * 1e9),
                          .data = {0x01, 0x09, 0x3D, 0xA0, 0x0F, 0x00, 0x00, 0xFF}};
}

/* The box that tells of an engine falls silent: nobody can say that the engine stopped. */
static void engine_box__dark_at_speed__is_found_and_at_idle_only_noted(void **state)
{
    (void)state;
    for (int idle = 0; idle < 2; idle++) {
        struct muster *m = muster_new(NULL);
        for (int i = 0; i < 1200; i++) {
            struct frame f = tank_frame(1000 + 0.1 * i, 36);
            muster_frames(m, &f, 1);
            f.id = 0x09F20010U; /* 127488: 2300 rpm, or 700 */
            memcpy(f.data, (uint8_t[]){0, 0xF0, 0x23, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, 8);
            if (idle)
                memcpy(f.data + 1, (uint8_t[]){0xF0, 0x0A}, 2);
            if (i < 500)
                muster_frames(m, &f, 1);
        }
        muster_close(m);
        const struct muster_finding *f = NULL;
        for (size_t i = 0; i < m->finding_count; i++)
            if (strcmp(m->findings[i].kind, "silent") == 0)
                f = &m->findings[i];
        assert_non_null(f);
        assert_int_equal(f->weight, idle ? MUSTER_NOTE : MUSTER_FINDING);
        assert_non_null(
            strstr(f->text, idle ? ", its engine stopped" : ", its engine at 2300 rpm then: "));
        muster_free(m);
    }
}

/* The whole bus but the receiver goes dark at cruise: nobody can say that the engine stopped. */
static void bus__dark_at_speed__no_box_is_said_to_have_had_its_engine_stopped(void **state)
{
    struct muster *m = muster_new(NULL);

    (void)state;
    for (int i = 0; i < 2400; i++) {
        struct frame f = tank_frame(1000 + 0.1 * i, 38), tank = tank_frame(1000.05 + 0.1 * i, 36);
        muster_frames(m, &f, 1);
        f.id = 0x09F20010U; /* 127488: 2300 rpm */
        memcpy(f.data, (uint8_t[]){0, 0xF0, 0x23, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, 8);
        if (i < 1200)
            muster_frames(m, &f, 1);
        if (i < 1201)
            muster_frames(m, &tank, 1);
    }
    muster_close(m);
    int silent = 0;
    for (size_t i = 0; i < m->finding_count; i++) {
        const struct muster_finding *f = &m->findings[i];
        assert_null(strstr(f->text, "stopped"));
        if (strcmp(f->kind, "silent") != 0)
            continue;
        silent++;
        assert_int_equal(f->weight, MUSTER_FINDING);
        assert_non_null(strstr(f->text, " engine at 2300 rpm then: check its power and plug"));
    }
    assert_int_equal(silent, 2);
    muster_free(m);
}

static void holes__are_counted(void **state)
{
    (void)state;
    struct boat b = {.holes = true};
    launch(&b, NULL);
    sail(&b, 300);
    muster_close(b.muster);
    assert_int_equal(b.muster->holes, 4); /* the fifth is the end */
    assert_near(when_seconds(b.muster->hole_ns), 80, 1);
    assert_non_null(find(&b, "holes", NULL));
    muster_free(b.muster);
}

static void instances_that_begin_at_1__are_no_finding(void **state)
{
    (void)state;
    struct boat b = {.probes_from_1 = true};
    launch(&b, NULL);
    sail(&b, 120);
    muster_close(b.muster);
    assert_null(find(&b, "instance missing", NULL));
    assert_int_equal(muster_finding_total(b.muster), 0);
    muster_free(b.muster);
}

/* A level every 2.5 s (the standard's period) for 250 s of 1000: from 100 to 200, and from 400 to
 * 550; a second box speaks throughout, and sends a temperature only in those times. */
static void share__of_each_box_and_message__last_and_gaps(void **state)
{
    struct muster *m = muster_new(NULL);
    char *text = NULL;
    size_t len = 0;

    (void)state;
    for (int i = 0; i <= 400; i++) {
        double at = 1000 + 2.5 * i;
        struct frame f[2] = {tank_frame(at, 36), tank_frame(at, 37)};
        bool speaks = (i >= 40 && i <= 80) || (i >= 160 && i <= 220);

        muster_frames(m, f, 1);
        if (speaks)
            muster_frames(m, f + 1, 1);
        f[0].id = 0x15FD0824U; /* 130312: bath of 20 C at instance 0 */
        memcpy(f[0].data, (uint8_t[]){0xFF, 0, 0, 0x83, 0x72, 0xFF, 0xFF, 0xFF}, 8);
        if (speaks)
            muster_frames(m, f, 1);
    }
    muster_close(m);
    assert_int_equal(m->sender_count, 2);
    assert_near(muster_sender_share(m, &m->senders[0]), 1, 1e-9);
    assert_near(muster_sender_share(m, &m->senders[1]), 0.25, 1e-9);
    assert_int_equal(m->senders[1].pauses, 1);
    assert_int_equal(m->messages[0].gaps, 0);
    assert_near(muster_message_share(m, &m->messages[0]), 1, 1e-9);
    for (int i = 1; i < 3; i++) {
        assert_int_equal(m->messages[i].gaps, 1);
        assert_near(when_seconds(m->messages[i].gap_longest_ns), 200, 1e-9);
        assert_near(muster_message_share(m, &m->messages[i]), 0.25, 1e-9);
    }
    FILE *out = open_memstream(&text, &len);
    muster_print(m, "x", &(struct papers){0}, true, out);
    fclose(out);
    /* 14:00:00 + 1000 s + 550 s */
    assert_non_null(strstr(text, "last heard 14:25:50, heard 25 % of the time, 1 gap\n"));
    assert_non_null(strstr(text, "25 % of the time, last heard 14:25:50, 1 gap, longest 200 s\n"));
    assert_non_null(strstr(text, "last heard 14:33:20, heard 100 % of the time\n"));
    free(text);
    muster_free(m);
}

static void share__of_what_came_once__is_none(void **state)
{
    struct muster *m = muster_new(NULL);
    struct frame f[2] = {tank_frame(1, 36), tank_frame(90, 37)};

    (void)state;
    muster_frames(m, f, 2);
    muster_close(m);
    assert_true(isnan(muster_message_share(m, &m->messages[0])));
    muster_free(m);
    m = muster_new(NULL);
    muster_frames(m, f, 1); /* no time at all */
    muster_close(m);
    assert_true(isnan(muster_sender_share(m, &m->senders[0])));
    muster_free(m);
}

/* 126992 with a day and a time of day; the layout is the one of test_catalogue's vectors. */
static struct frame time_frame(double at_s, double told_s)
{
    uint16_t day = (uint16_t)(told_s / 86400);
    uint32_t part = (uint32_t)((told_s - day * 86400.0) * 1e4);
    struct frame f = tank_frame(at_s, 3);

    f.id = 0x0DF01003U;
    memcpy(f.data,
           (uint8_t[]){1, 0xF0, (uint8_t)day, (uint8_t)(day >> 8), (uint8_t)part,
                       (uint8_t)(part >> 8), (uint8_t)(part >> 16), (uint8_t)(part >> 24)},
           8);
    return f;
}

static int count_kind(const struct muster *m, const char *kind)
{
    int n = 0;

    for (size_t i = 0; i < m->finding_count; i++)
        n += strcmp(m->findings[i].kind, kind) == 0;
    return n;
}

/* A minute; at its middle the label steps by `step`, and so does the time that the bus tells by
 * `bus_step`. */
static struct muster *clocks(double step, double bus_step, bool told)
{
    struct muster *m = muster_new(NULL);

    for (int i = 0; i < 60; i++) {
        struct frame f = tank_frame(i, 36), t = time_frame(i, 1777903200 + i);

        if (i >= 30) {
            f.wall_ns += (int64_t)(step * 1e9);
            t = time_frame(i, 1777903200 + i + bus_step);
            t.wall_ns += (int64_t)(step * 1e9);
        }
        muster_frames(m, &f, 1);
        if (told)
            muster_frames(m, &t, 1);
    }
    muster_close(m);
    return m;
}

static void clock__set_or_told_by_nobody__is_said(void **state)
{
    static const struct {
        double step, bus_step;
        bool told;
        int set, none;
    } cases[] = {
        {0, 0, true, 0, 0},  {0, 0, false, 0, 1},  {3600, 3600, true, 1, 0}, {-3600, 0, true, 1, 0},
        {3, 3, false, 1, 1}, {0, -40, true, 1, 0}, {1, 1, true, 0, 0},       {0, 1.5, true, 0, 0},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct muster *m = clocks(cases[i].step, cases[i].bus_step, cases[i].told);

        assert_int_equal(count_kind(m, "clock set"), cases[i].set);
        assert_int_equal(count_kind(m, "no clock"), cases[i].none);
        muster_free(m);
    }
    struct muster *m = clocks(-3600, 0, false);
    const char *said = "";
    for (size_t i = 0; i < m->finding_count; i++)
        if (strcmp(m->findings[i].kind, "clock set") == 0)
            said = m->findings[i].text;
    assert_non_null(strstr(said, "was set 1 time, last by -3600 s to 13:00:30 UTC"));
    muster_free(m);
}

static void cooling__words__say_what_it_has_and_lacks(void **state)
{
    static const struct {
        struct cooling_sense sense;
        bool ran;
        const char *words;
    } cases[] = {
        {{true, true, true, true, COOLING_LOAD, false, 2, 14.4, false},
         true,
         "exhaust every 2.0 s, has speed, load, twin, sea; lost water warns in about 14 s as it "
         "last "
         "ran"},
        {{true, true, false, false, COOLING_FUEL_RATE, false, 0.5, 20, false},
         true,
         "exhaust every 0.5 s, has speed, fuel rate, lacks twin, sea; lost water warns in about 20 "
         "s "
         "as it last ran"},
        {{true, true, true, true, COOLING_SENSORS, false, 2, 14, false},
         false,
         "exhaust every 2.0 s, has speed, twin, sea, lacks load; it did not run"},
        {{true, false, false, false, COOLING_SENSORS, false, 2, (double)NAN, true},
         true,
         "exhaust every 2.0 s, has nothing else, lacks speed, load, twin, sea: BLIND to lost water "
         "before the fixed limit (no speed)"},
        {{false, true, true, false, COOLING_LOAD, false, (double)NAN, (double)NAN, true},
         true,
         "BLIND to lost water: no exhaust temperature is heard"},
    };
    struct muster m = {.cooling_count = 2};
    char words[240];

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct muster_cooling c = {.sense = cases[i].sense, .ran = cases[i].ran};

        assert_string_equal(muster_cooling_words(words, sizeof words, &m, &c), cases[i].words);
    }
}

static void half_the_standard_rate__is_not_slow(void **state)
{
    (void)state;
    struct boat b = {.hardly = true};
    launch(&b, NULL);
    sail(&b, 120);
    muster_close(b.muster);
    assert_null(find(&b, "slow", NULL));
    muster_free(b.muster);
}

/* SAE J1939-71 gives the engine controllers' messages a repetition that may depend on the engine's
 * speed: once a second is no fault of either, while an engine's temperatures, which the standard
 * sends every second, are slow every ten. */
static void j1939_engine__at_rates_of_its_own__is_not_slow(void **state)
{
    static const struct {
        uint32_t pgn;
        int every_ms;
        bool slow;
    } rows[] = {{61443, 1000, false}, {61444, 1000, false}, {65262, 10000, true}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t d[8];
        struct boat b = {0};
        launch(&b, NULL);
        memset(d, 0xFF, sizeof d);
        for (b.ms = 0; b.ms < 200000; b.ms += rows[i].every_ms)
            send_message(&b, rows[i].pgn, 0, d, 8);
        muster_close(b.muster);
        assert_int_equal(find(&b, "slow", NULL) != NULL, rows[i].slow);
        muster_free(b.muster);
    }
}

/* A box that never has any of its values: one line for all of them. */
static void one_cause__is_one_finding(void **state)
{
    (void)state;
    struct boat b = {0};
    launch(&b, NULL);
    for (b.ms = 0; b.ms < 60000; b.ms += 2000)
        for (uint8_t i = 0; i < 6; i++)
            send_temperature(&b, 0x23, i, 13, NAN);
    muster_close(b.muster);
    assert_int_equal(muster_finding_total(b.muster), 1);
    assert_non_null(
        strstr(find(&b, "not available", NULL)->text, "(and 5 more like it from there)"));
    muster_free(b.muster);
}

static void rate__counts_what_a_message_tells_of(void **state)
{
    (void)state;
    struct boat b = {0};
    launch(&b, NULL);
    sail(&b, 120);
    muster_close(b.muster);
    bool seen = false;
    for (size_t i = 0; i < b.muster->message_count; i++) {
        const struct muster_message *x = &b.muster->messages[i];
        if (x->pgn != 127505)
            continue;
        seen = true;
        assert_int_equal(x->places, 2); /* two tanks from one box */
        assert_near(muster_rate_standard(x), 0.8, 1e-9);
        assert_near(muster_rate(x), 0.8, 0.02);
    }
    assert_true(seen);
    muster_free(b.muster);
}

static void text__names_who_what_and_the_verdict(void **state)
{
    (void)state;
    struct boat b = {.no_capacity = true};
    launch(&b, NULL);
    sail(&b, 60);
    muster_close(b.muster);
    char *text = written(print_utc, b.muster);
    assert_non_null(strstr(text, "MUSTER of a made-up boat: "));
    assert_non_null(strstr(text, "manufacturer 2000"));
    assert_non_null(strstr(text, "temperature (sensors)"));
    assert_non_null(strstr(text, "127489  engine, dynamic"));
    assert_non_null(strstr(text, "fuel-tank.1"));
    assert_non_null(strstr(text, "of 400 L"));
    assert_non_null(strstr(text, "\n1 finding\n"));
    free(text);
    muster_free(b.muster);
}

static void nothing_heard__says_so(void **state)
{
    (void)state;
    struct boat b = {0};
    launch(&b, NULL);
    muster_close(b.muster);
    char *text = written(print_utc, b.muster);
    assert_non_null(strstr(text, "nothing was heard"));
    free(text);
    text = written(muster_write_config, b.muster);
    settings_free(settings_of(text));
    free(text);
    muster_free(b.muster);
}

static char *whole_file(const char *path)
{
    FILE *f = fopen(path, "r");
    if (f == NULL)
        fail_msg("cannot open %s: run the tests from the top of the project", path);
    char *text = calloc(1, 200000);
    assert_non_null(text);
    assert_true(fread(text, 1, 199999, f) > 0);
    fclose(f);
    return text;
}

/* Every kind that the checks use is explained in docs/commissioning.md. */
static void docs__every_kind_of_finding__is_explained(void **state)
{
    (void)state;
    static const char *const sources[] = {"src/report/muster/boxes.c",
                                          "src/report/muster/readings.c"};
    char *docs = whole_file("docs/commissioning.md");
    int kinds = 0;
    for (size_t i = 0; i < 2; i++) {
        char *text = whole_file(sources[i]);
        for (char *at = text; (at = strstr(at, "MUSTER_")) != NULL; at++) {
            char kind[40];
            if (sscanf(at, "MUSTER_%*[A-Z], \"%39[^\"]\"", kind) != 1)
                continue;
            if (strstr(docs, kind) == NULL)
                fail_msg("'%s' is not in docs/commissioning.md", kind);
            kinds++;
        }
        free(text);
    }
    assert_true(kinds >= 25);
    free(docs);
}

static void crowded_bus__lists_stay_bounded(void **state)
{
    (void)state;
    struct boat b = {0};
    launch(&b, NULL);
    uint8_t data[8] = {0};
    for (unsigned iface = 0; iface < 4; iface++)
        for (unsigned source = 0; source < 256; source++)
            for (unsigned n = 0; n < 20; n++) {
                struct frame f = {.flags = FRAME_EXTENDED,
                                  .id = 0x15FD0800U + source,
                                  .iface = (uint8_t)iface,
                                  .len = 8};
                memcpy(f.data, data, 8);
                f.data[1] = (uint8_t)n;
                f.id += n << 8;
                f.mono_ns = f.wall_ns = ++b.ms * NS_PER_MS;
                muster_frames(b.muster, &f, 1);
            }
    muster_close(b.muster);
    assert_int_equal(b.muster->sender_count, MUSTER_SENDERS);
    assert_true(b.muster->message_count <= MUSTER_MESSAGES);
    assert_true(b.muster->dropped > 0);
    muster_free(b.muster);
}

/* What an engine says of its maker and of trouble before now stands beside its box, as words and as
 * records; it is no finding. A lamp that is lit without a code is one. */
static void engine_tells_of_itself__is_listed_with_its_box(void **state)
{
    (void)state;
    struct boat b = {.told_by_engine = true};
    launch(&b, NULL);
    sail(&b, 120);
    muster_close(b.muster);
    assert_int_equal(muster_finding_total(b.muster), 0);
    char *text = NULL;
    size_t len;
    for (int form = 0; form < 2; form++) {
        FILE *out = open_memstream(&text, &len);
        if (form == 0)
            muster_print(b.muster, "a made-up boat", &(struct papers){0}, true, out);
        else
            muster_print_json(b.muster, &(struct papers){0}, out);
        fclose(out);
        if (form == 1) {
            assert_non_null(strstr(text, "\"record\":\"engine\""));
            assert_non_null(strstr(text, "\"rated_rpm\":3600"));
            assert_non_null(strstr(text, "\"idle_rpm\":650"));
            assert_non_null(strstr(text, "\"high_idle_rpm\":null"));
            assert_non_null(strstr(text, "\"vin\":\"TEST01\",\"software\":\"1.0\""));
            assert_non_null(strstr(text, "\"codes\":2,\"spn\":110,\"fmi\":0"));
        } else {
            assert_non_null(strstr(text, "engine: rated speed 3600 rpm, idle 650 rpm, VIN TEST01, "
                                         "software 1.0"));
            assert_non_null(strstr(text, "2 trouble codes from before, first SPN 110 coolant "
                                         "temperature: above normal, most severe, 3 times"));
        }
        free(text);
    }
    muster_free(b.muster);
    b = (struct boat){.amber = true};
    launch(&b, NULL);
    sail(&b, 120);
    muster_close(b.muster);
    assert_int_equal(muster_finding_total(b.muster), 1);
    assert_non_null(strstr(find(&b, "reported", NULL)->text,
                           "shows without a code: amber warning "
                           "lamp flashing fast, malfunction lamp"));
    muster_free(b.muster);
}

/* Instance 14 of 127505 is an error and no tank; 13 is one. */
static void tank__number_is_an_error__is_found(void **state)
{
    (void)state;
    for (int error = 0; error < 2; error++) {
        struct muster *m = muster_new(NULL);
        for (int i = 0; i < 40; i++) {
            struct frame f = tank_frame(2.5 * i, 0x24);
            f.data[0] = error ? 0x0E : 0x0D;
            muster_frames(m, &f, 1);
        }
        muster_close(m);
        int found = 0;
        for (size_t i = 0; i < m->finding_count; i++)
            found += strstr(m->findings[i].text, "whose tank number is an error") != NULL;
        assert_int_equal(found, error);
        assert_int_equal(m->value_count, !error);
        muster_free(m);
    }
}

/* A heartbeat is no reading: a box that goes on with it alone has stopped. */
static void box__heartbeat_alone__is_found(void **state)
{
    (void)state;
    struct boat b = {.tanks_stop = true};
    launch(&b, NULL);
    sail(&b, 300);
    muster_close(b.muster);
    assert_int_equal(muster_finding_total(b.muster), 1);
    const struct muster_finding *f = find(&b, "silent", NULL);
    assert_non_null(f);
    assert_non_null(strstr(f->text, "sent no reading in the last 24"));
    muster_free(b.muster);
}

/* A gateway whose generator runs for two minutes of ten was there all the time, its heartbeats say
 * so; a box that misses them was not. */
static void box__idle_between_heartbeats__has_no_gap(void **state)
{
    (void)state;
    for (int lost = 0; lost < 2; lost++) {
        struct muster *m = muster_new(NULL);
        for (int s = 0; s <= 600; s++) {
            struct frame f = tank_frame(1000 + s, 36);
            if (s >= 200 && s < 320)
                muster_frames(m, &f, 1);
            f.id = 0x1DF01124U; /* 126993: every 60 s */
            memcpy(f.data, (uint8_t[]){0x70, 0x17, 0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, 8);
            if (s % 60 == 30 && !(lost && s > 400 && s < 500))
                muster_frames(m, &f, 1);
        }
        muster_close(m);
        assert_int_equal(m->senders[0].pauses, lost);
        if (!lost)
            assert_near(muster_sender_share(m, &m->senders[0]), 1, 1e-9);
        else /* 120 of the 540 s from the first heartbeat to the last */
            assert_near(muster_sender_share(m, &m->senders[0]), 1 - 120 / 540.0, 1e-9);
        muster_free(m);
    }
}

/* What only says who a box is and that it lives (ISO management, NAME, product, configuration,
 * heartbeat, lists of messages) tells nothing; everything else does. */
static void told__who_a_box_is__is_not_what_it_is_there_for(void **state)
{
    static const uint32_t management[] = {59392, 59904, 60928, 126464, 126993, 126996, 126998};
    static const uint32_t telling[] = {61184, 126208, 126992, 127488};
    uint8_t d[8] = {0, 6, 1, 2, 3, 4, 5, 6};

    (void)state;
    for (int tells = 0; tells < 2; tells++) {
        size_t n =
            tells ? sizeof telling / sizeof telling[0] : sizeof management / sizeof management[0];
        for (size_t i = 0; i < n; i++) {
            struct boat b = {.muster = muster_new(NULL), .ms = 5000};
            assert_non_null(b.muster);
            d[0] = (uint8_t)(b.sequence << 5);
            send_message(&b, tells ? telling[i] : management[i], 40, d, 8);
            assert_int_equal(b.muster->sender_count, 1);
            if (b.muster->message_count != 1)
                fail_msg("%u is no message", tells ? telling[i] : management[i]);
            assert_true(b.muster->senders[0].told_ns == (tells ? 5000 * NS_PER_MS : 0));
            muster_free(b.muster);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(told__who_a_box_is__is_not_what_it_is_there_for),
        cmocka_unit_test(tank__number_is_an_error__is_found),
        cmocka_unit_test(box__heartbeat_alone__is_found),
        cmocka_unit_test(box__idle_between_heartbeats__has_no_gap),
        cmocka_unit_test(engine_tells_of_itself__is_listed_with_its_box),
        cmocka_unit_test(sound_boat__no_finding),
        cmocka_unit_test(engine_boxes_off_for_a_while__no_finding),
        cmocka_unit_test(two_exhausts_on_one_instance__is_found),
        cmocka_unit_test(tank_2_missing__is_found),
        cmocka_unit_test(engine_without_speed__is_found),
        cmocka_unit_test(tank_without_capacity__is_found),
        cmocka_unit_test(message_too_rare__is_found),
        cmocka_unit_test(sensor_never_available__is_found),
        cmocka_unit_test(sensor_stuck__is_found),
        cmocka_unit_test(swapped_exhausts__are_found),
        cmocka_unit_test(sensor_stops_and_its_box_goes_on__is_found),
        cmocka_unit_test(dry_sensor_on_130312__is_asked_about_and_overflows),
        cmocka_unit_test(wild_sample_and_hours_going_back__are_found),
        cmocka_unit_test(engines_that_report_a_fault__are_named),
        cmocka_unit_test(clocks__five_minutes_apart__are_found),
        cmocka_unit_test(names__moved_or_clashing__are_found),
        cmocka_unit_test(names__none_heard__is_a_note),
        cmocka_unit_test(configuration__missing_and_from_another_sender__is_found),
        cmocka_unit_test(configuration__says_dry_and_capacity__no_longer_asked),
        cmocka_unit_test(written_configuration__is_taken_and_leaves_the_choice_open),
        cmocka_unit_test(feed_and_return_meters__are_no_engines),
        cmocka_unit_test(box_silent_for_good__is_found_while_an_engine_runs),
        cmocka_unit_test(engine_box__dark_at_speed__is_found_and_at_idle_only_noted),
        cmocka_unit_test(exhaust__away_for_44_s_under_way__is_found),
        cmocka_unit_test(bus__dark_at_speed__no_box_is_said_to_have_had_its_engine_stopped),
        cmocka_unit_test(holes__are_counted),
        cmocka_unit_test(instances_that_begin_at_1__are_no_finding),
        cmocka_unit_test(share__of_each_box_and_message__last_and_gaps),
        cmocka_unit_test(share__of_what_came_once__is_none),
        cmocka_unit_test(clock__set_or_told_by_nobody__is_said),
        cmocka_unit_test(cooling__words__say_what_it_has_and_lacks),
        cmocka_unit_test(half_the_standard_rate__is_not_slow),
        cmocka_unit_test(j1939_engine__at_rates_of_its_own__is_not_slow),
        cmocka_unit_test(one_cause__is_one_finding),
        cmocka_unit_test(rate__counts_what_a_message_tells_of),
        cmocka_unit_test(text__names_who_what_and_the_verdict),
        cmocka_unit_test(nothing_heard__says_so),
        cmocka_unit_test(docs__every_kind_of_finding__is_explained),
        cmocka_unit_test(crowded_bus__lists_stay_bounded),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
