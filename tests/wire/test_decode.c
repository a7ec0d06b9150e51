/* Messages to values. Sources beside each vector:
 *   worked     frames made from the layouts and decoded by the open-source library canboatjs
 *              3.20.0 to the values shown
 *   j1939 rs   unit tests of the Rust crate j1939 0.1.33; where they truncate, the value is
 * computed from the resolutions of SAE J1939DA (October 2020) computed   from those resolutions */
#include "wire/frames.h"

#include "wire/bits.h"
#include "wire/catalogue.h"
#include "wire/decode.h"

#include <stdio.h>

#include "base/banned.h"

static struct message message_of(uint32_t pgn, uint8_t source, const char *hex, uint8_t *buf,
                                 size_t cap)
{
    return (struct message){
        .pgn = pgn, .source = source, .len = (uint16_t)hex_bytes(hex, buf, cap), .data = buf};
}

/* The value with this key; fails the test where there is none. */
static const struct wire_value *pick(const struct wire_value *v, size_t n, const char *key)
{
    for (size_t i = 0; i < n; i++) {
        char text[CHANNEL_KEY_SIZE];
        channel_id_format(text, sizeof text, v[i].id);
        if (strcmp(text, key) == 0)
            return &v[i];
    }
    fail_msg("no value for %s", key);
    return NULL;
}

struct expected {
    const char *key; /* NULL ends the list */
    enum reading_status status;
    double value, tolerance;
};

static void check_values(const struct message *m, const struct expected *e, size_t count)
{
    struct wire_value v[DECODE_VALUES_MAX];
    size_t n = decode_values(m, v);
    assert_int_equal(n, count);
    for (; e->key != NULL; e++) {
        const struct wire_value *got = pick(v, n, e->key);
        if (got->status != e->status)
            print_error("%s\n", e->key);
        assert_int_equal(got->status, e->status);
        if (e->status == READING_OK)
            assert_near(got->value, e->value, e->tolerance);
        else
            assert_near(got->value, 0.0, 0.0);
    }
}

static void decode_frames(const char *const *frames, const struct expected *e, size_t count)
{
    struct wire *w = wire_new();
    struct message m;
    bool done = false;
    for (; *frames != NULL; frames++)
        done = feed(w, *frames, 0, &m);
    assert_true(done);
    check_values(&m, e, count);
    wire_free(w);
}

static void iec__worked_frames__give_the_values(void **state)
{
    (void)state;
    static const struct {
        const char *frames[5];
        struct expected e[12];
        size_t count;
    } cases[] = {
        {{"09F20020#00401FDC0500FFFF"},
         {{"rpm.0", READING_OK, 2000.0, 1e-9}, {"boost.0", READING_OK, 150.0, 1e-9}},
         2},
        {{"09F20120#401A00AC0D300EBB", "09F20120#418A69057B0080EE", "09F20120#4236001A042C01FF",
          "09F20120#4382000000413CFF"},
         {{"oil-pressure.0", READING_OK, 350.0, 1e-9},
          {"oil-temp.0", READING_OK, 363.2 - 273.15, 1e-9},
          {"coolant.0", READING_OK, 355.15 - 273.15, 1e-9},
          {"alternator.0", READING_OK, 13.85, 1e-9},
          {"fuel-rate.0", READING_OK, 12.3, 1e-9},
          {"hours.0", READING_OK, 1000.0, 1e-9},
          {"coolant-pressure.0", READING_OK, 105.0, 1e-9},
          {"fuel-pressure.0", READING_OK, 300.0, 1e-9},
          {"load.0", READING_OK, 65.0, 1e-9},
          {"torque.0", READING_OK, 60.0, 1e-9}},
         10},
        {{"19F21121#01093DA00F0000FF"}, {{"fuel-tank.1", READING_OK, 62.5, 1e-3}}, 1},
        {{"15FD0822#070203477CFFFFFF"}, {{"engine-space.2", READING_OK, 45.0, 1e-9}}, 1},
        {{"15FD0C22#07000E5E1505FFFF"}, {{"exhaust.0", READING_OK, 60.0, 1e-9}}, 1},
        {{"15FD0C22#08000ECE080BFFFF"}, {{"exhaust.0", READING_OK, 450.0, 1e-9}}, 1},
        {{"15FD0822#08000EFEFFFFFFFF"}, {{"exhaust.0", READING_ERROR, 0, 0}}, 1},
        {{"19F21423#00F104E0FF837209"},
         {{"battery-volts.0", READING_OK, 12.65, 1e-9},
          {"battery-amps.0", READING_OK, -3.2, 1e-9},
          {"battery-temp.0", READING_OK, 20.0, 1e-9}},
         3},
        {{"09F50324#013501FFFF00FFFF"}, {{"speed-water", READING_OK, 3.09 * 3600 / 1852, 1e-9}}, 1},
        {{"09F80225#01FC5C3D6801FFFF"},
         {{"speed-ground", READING_OK, 3.60 * 3600 / 1852, 1e-9}},
         1},
        {{"09F20520#00FD983A030D00FF"},
         {{"gear.0", READING_OK, 0.0, 0.0},
          {"gear-oil-pressure.0", READING_OK, 1500.0, 1e-9},
          {"gear-oil-temp.0", READING_OK, 333.1 - 273.15, 1e-9}},
         3},
        {{"15F20920#0009002D0076005F", "15F20920#01006600FFFFFFFF"},
         {{"trip-fuel.0", READING_OK, 45.0, 1e-9}},
         1},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        decode_frames(cases[i].frames, cases[i].e, cases[i].count);
}

static void tank__capacity__comes_with_the_level(void **state)
{
    (void)state;
    uint8_t buf[8];
    struct wire_value v[DECODE_VALUES_MAX];
    struct message m = message_of(127505, 0x21, "01093DA00F0000FF", buf, sizeof buf);
    assert_int_equal(decode_values(&m, v), 1);
    assert_near(v[0].capacity_l, 400.0, 1e-9); /* worked */
    m = message_of(127505, 0x21, "01093DFFFFFFFFFF", buf, sizeof buf);
    assert_int_equal(decode_values(&m, v), 1);
    assert_near(v[0].capacity_l, 0.0, 0.0);
}

static void tank__every_fluid__has_its_quantity(void **state)
{
    (void)state;
    static const char *const keys[] = {
        "fuel-tank.2", "fresh-water-tank.2", "grey-water-tank.2", "live-well-tank.2",
        "oil-tank.2",  "black-water-tank.2", "petrol-tank.2"};
    for (unsigned type = 0; type < 16; type++) {
        uint8_t buf[8] = {(uint8_t)(type << 4 | 2), 0x09, 0x3D, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
        struct message m = {.pgn = 127505, .len = 8, .data = buf};
        struct wire_value v[DECODE_VALUES_MAX];
        size_t n = decode_values(&m, v);
        assert_int_equal(n, type < 7 ? 1 : 0);
        if (n == 1)
            pick(v, n, keys[type]);
    }
}

static void temperature__every_source__has_its_quantity(void **state)
{
    (void)state;
    /* Source codes: both open definitions agree on them. */
    static const char *const keys[] = {"sea.7",
                                       "outside-air.7",
                                       "inside-air.7",
                                       "engine-space.7",
                                       "cabin.7",
                                       "live-well.7",
                                       "bait-well.7",
                                       "refrigerator.7",
                                       "heating.7",
                                       "dew-point.7",
                                       "wind-chill-apparent.7",
                                       "wind-chill.7",
                                       "heat-index.7",
                                       "freezer.7",
                                       "exhaust.7",
                                       "shaft-seal.7"};
    for (unsigned pgn = 130312; pgn <= 130316; pgn += 4)
        for (unsigned source = 0; source < 256; source++) {
            uint8_t buf[8] = {0, 7, (uint8_t)source, 0x47, 0x7C, 0x04, 0xFF, 0xFF};
            struct message m = {.pgn = pgn, .len = 8, .data = buf};
            struct wire_value v[DECODE_VALUES_MAX];
            size_t n = decode_values(&m, v);
            assert_int_equal(n, source < 16 ? 1 : 0);
            if (n == 1)
                assert_int_equal(pick(v, n, keys[source])->field_rank, 0);
        }
}

static void environment__fills_in__with_rank_1(void **state)
{
    (void)state;
    uint8_t buf[8];
    struct wire_value v[DECODE_VALUES_MAX];
    /* 130310: water 288.15 K, air 293.15 K, 101300 Pa (computed) */
    struct message m = message_of(130310, 1, "008F7083 72F503FF", buf, sizeof buf);
    size_t n = decode_values(&m, v);
    assert_int_equal(n, 2);
    assert_near(pick(v, n, "sea.0")->value, 15.0, 1e-9);
    assert_near(pick(v, n, "outside-air.0")->value, 20.0, 1e-9);
    assert_int_equal(v[0].field_rank, 1);
    assert_int_equal(v[1].field_rank, 1);
    static const char *const keys[] = {"sea.0", "outside-air.0", "inside-air.0"};
    for (unsigned source = 0; source < 64; source++) {
        m = message_of(130311, 1, "00008F70 FF7FF503", buf, sizeof buf);
        buf[1] = (uint8_t)(0xC0 | source); /* humidity source in the two high bits */
        n = decode_values(&m, v);
        assert_int_equal(n, source < 3 ? 1 : 0);
        if (n == 1) {
            assert_near(pick(v, n, keys[source])->value, 15.0, 1e-9);
            assert_int_equal(v[0].field_rank, 1);
        }
    }
}

static void switches__28_indicators__count_from_1(void **state)
{
    (void)state;
    uint8_t buf[8];
    /* indicators 1 on, 2 off, 3 error, 4 not available, 28 on */
    struct message m = message_of(127501, 1, "05E1FFFFFFFFFF7F", buf, sizeof buf);
    static const struct expected e[] = {
        {"switch.5.1", READING_OK, 1, 0},    {"switch.5.2", READING_OK, 0, 0},
        {"switch.5.3", READING_ERROR, 0, 0}, {"switch.5.4", READING_NOT_AVAILABLE, 0, 0},
        {"switch.5.28", READING_OK, 1, 0},   {NULL, READING_NEVER, 0, 0}};
    check_values(&m, e, 28);
    struct wire_value v[DECODE_VALUES_MAX];
    decode_values(&m, v);
    assert_false(v[0].repeats); /* sent on change: it cannot fall silent */
    m.pgn = 127502;             /* an order is no state */
    assert_int_equal(decode_values(&m, v), 0);
}

static void humidity_and_pressure(void **state)
{
    (void)state;
    uint8_t buf[8];
    /* computed: 55 % is 13750 steps of 0.004; 101325 Pa is 1013250 steps of 0.1 */
    struct message m = message_of(130313, 1, "000201B635FFFFFF", buf, sizeof buf);
    static const struct expected humidity[] = {{"humidity.2", READING_OK, 55.0, 1e-9},
                                               {NULL, READING_NEVER, 0, 0}};
    check_values(&m, humidity, 1);
    m = message_of(130314, 1, "0003000276 0F00FF", buf, sizeof buf);
    static const struct expected pressure[] = {{"pressure.0.3", READING_OK, 101.325, 1e-9},
                                               {NULL, READING_NEVER, 0, 0}};
    check_values(&m, pressure, 1);
    m = message_of(130314, 1, "000300F0D8FFFFFF", buf, sizeof buf); /* -10000 steps: -1 kPa */
    static const struct expected below[] = {{"pressure.0.3", READING_OK, -1.0, 1e-9},
                                            {NULL, READING_NEVER, 0, 0}};
    check_values(&m, below, 1);
}

static void j1939__published_and_computed__give_the_values(void **state)
{
    (void)state;
    static const struct {
        uint32_t pgn;
        const char *hex;
        struct expected e[5];
        size_t count;
    } cases[] = {
        /* j1939 rs; 789.25 computed, the crate's test truncates to 789 */
        {61444,
         "F39191AA1800F3FF",
         {{"rpm.0", READING_OK, 789.25, 1e-9}, {"torque.0", READING_OK, 20.0, 1e-9}},
         2},
        {61444,
         "F0EA7D000000F0FF", /* j1939 rs */
         {{"rpm.0", READING_OK, 0.0, 0.0}, {"torque.0", READING_OK, 0.0, 1e-9}},
         2},
        {61444,
         "FFFFFFE02EFFFFFF", /* computed */
         {{"rpm.0", READING_OK, 1500.0, 1e-9}, {"torque.0", READING_NOT_AVAILABLE, 0, 0}},
         2},
        {65262,
         "423BFFFFFFFFFFFF", /* j1939 rs */
         {{"coolant.0", READING_OK, 26.0, 1e-9},
          {"fuel-temp.0", READING_OK, 19.0, 1e-9},
          {"oil-temp.0", READING_NOT_AVAILABLE, 0, 0}},
         3},
        {65262,
         "FFFF002EFFFFFFFF", /* computed */
         {{"oil-temp.0", READING_OK, 95.0, 1e-9}, {"coolant.0", READING_NOT_AVAILABLE, 0, 0}},
         3},
        {65270,
         "D4303E32410B0A00", /* j1939 rs and computed: implausible, and a number all the same */
         {{"boost.0", READING_OK, 96.0, 1e-9},
          {"intake-air.0", READING_OK, 22.0, 1e-9},
          {"exhaust-gas.0", READING_OK, 0x0A0B * 0.03125 - 273, 1e-9}},
         3},
        {65270, "FFFFFFFFFFA029FF", {{"exhaust-gas.0", READING_OK, 60.0, 1e-9}}, 3},  /* computed */
        {65270, "FFFFFFFFFF605AFF", {{"exhaust-gas.0", READING_OK, 450.0, 1e-9}}, 3}, /* computed */
        {65263,
         "1AFFFF01FFFF0000", /* j1939 rs */
         {{"fuel-pressure.0", READING_OK, 104.0, 1e-9},
          {"oil-pressure.0", READING_OK, 4.0, 1e-9},
          {"coolant-pressure.0", READING_OK, 0.0, 0.0},
          {"coolant-level.0", READING_OK, 0.0, 0.0}},
         5},
        {65271,
         "FFFFFFFFE301E701", /* j1939 rs and computed */
         {{"battery-volts.0", READING_OK, 24.15, 1e-9},
          {"alternator.0", READING_NOT_AVAILABLE, 0, 0}},
         2},
        {65257, "FAD80200FFFFFFFF", {{"trip-fuel.0", READING_OK, 93309.0, 1e-9}}, 2}, /* j1939 rs */
        {65266, "F600FFFFFFFFFFFF", {{"fuel-rate.0", READING_OK, 12.3, 1e-9}}, 1},    /* computed */
        {65253, "204E0000FFFFFFFF", {{"hours.0", READING_OK, 1000.0, 1e-9}}, 1},      /* computed */
        {61443, "FFFF55FFFFFFFFFF", {{"load.0", READING_OK, 85.0, 1e-9}}, 1},         /* computed */
        {65272,
         "FFFFFF4B002DFFFF", /* computed */
         {{"gear-oil-pressure.0", READING_OK, 1200.0, 1e-9},
          {"gear-oil-temp.0", READING_OK, 87.0, 1e-9}},
         2},
        {65276,
         "FF7DFFFFFFFFC8FF", /* computed */
         {{"fuel-tank.0", READING_OK, 50.0, 1e-9}, {"fuel-tank.1", READING_OK, 80.0, 1e-9}},
         2},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        uint8_t buf[8];
        struct message m = message_of(cases[i].pgn, 0, cases[i].hex, buf, sizeof buf);
        check_values(&m, cases[i].e, cases[i].count);
    }
}

/* 127503 and 127504: one stretch of bytes for each line; a line says which one it is, and the
 * message how many there are. Payloads decoded by an independent library to these values. */
static void ac_lines__each_for_itself(void **state)
{
    (void)state;
    uint8_t buf[64];
    struct message m = message_of(127503, 7,
                                  "0102FCEA2E31016E17F401980D00001A0400005F"
                                  "FDAE2EB4006E17F4012A080000F401000061",
                                  buf, sizeof buf);
    static const struct expected e[] = {{"ac-in-volts.1.1", READING_OK, 120.10, 1e-9},
                                        {"ac-in-volts.1.2", READING_OK, 119.5, 1e-9},
                                        {"ac-in-amps.1.1", READING_OK, 30.5, 1e-9},
                                        {"ac-in-amps.1.2", READING_OK, 18.0, 1e-9},
                                        {"ac-in-hertz.1.1", READING_OK, 59.98, 1e-9},
                                        {"ac-in-hertz.1.2", READING_OK, 59.98, 1e-9},
                                        {"ac-in-watts.1.1", READING_OK, 3480, 1e-9},
                                        {"ac-in-watts.1.2", READING_OK, 2090, 1e-9},
                                        {NULL, READING_NEVER, 0, 0}};
    check_values(&m, e, 8);
    buf[1] = 1; /* what it does not count is not there */
    check_values(&m, (struct expected[]){e[0], e[2], e[4], e[6], {NULL, READING_NEVER, 0, 0}}, 4);
    buf[1] = 3; /* and what it counts and does not hold neither */
    check_values(&m, e, 8);
    buf[1] = 2;
    buf[20] = 0x02; /* bits 0 and 1 of the second line's first byte: line 3 */
    struct wire_value v[DECODE_VALUES_MAX];
    size_t n = decode_values(&m, v);
    assert_near(pick(v, n, "ac-in-volts.1.3")->value, 119.5, 1e-9);
    buf[20] = 0x03; /* no line at all */
    check_values(&m, (struct expected[]){e[0], e[2], e[4], e[6], {NULL, READING_NEVER, 0, 0}}, 4);
}

/* The states of what charges and inverts, and their words. */
static void states__are_codes_with_words(void **state)
{
    (void)state;
    static const struct {
        uint32_t pgn;
        const char *hex, *key, *word;
    } cases[] = {
        {127507, "000001F1FFFF", "charger.0", "bulk"},
        {127507, "020112F55A00", "charger.2", "absorption"},
        {127507, "010029F0FFFF", "charger.1", "fault"},
        {127509, "000001D0", "inverter.0", "inverting"},
        {127509, "010200C3", "inverter.1", "fault"},
        {127750, "FF010500FFFFFFFF", "converter.1", "float"},
        {127750, "FF010919FFFFFFFF", "converter.1", "inverting"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        uint8_t buf[8];
        struct message m = message_of(cases[i].pgn, 7, cases[i].hex, buf, sizeof buf);
        struct wire_value v[DECODE_VALUES_MAX];
        size_t n = decode_values(&m, v);
        const struct wire_value *got = pick(v, n, cases[i].key);
        assert_int_equal(got->status, READING_OK);
        assert_string_equal(quantity_state(got->id.quantity, got->value), cases[i].word);
    }
    assert_null(quantity_state(QTY_CHARGER, 10)); /* beyond the standard's list */
    assert_null(quantity_state(QTY_INVERTER, 5));
    assert_null(quantity_state(QTY_CONVERTER, 11));
    assert_null(quantity_state(QTY_CONVERTER, -1));
    assert_null(quantity_state(QTY_CONVERTER, (double)NAN));
    assert_null(quantity_state(QTY_GEAR, 1));
}

/* Fields without a channel, through the same interpreter. */
static void field__of_no_channel__can_be_read(void **state)
{
    (void)state;
    static const struct {
        uint32_t pgn;
        const char *hex, *field;
        double value;
    } cases[] = {
        {65269, "C0FFFFFFFF35FFFF", "barometric pressure", 96.0},   /* j1939 rs */
        {65269, "C0FFFFFFFF35FFFF", "air inlet temperature", 13.0}, /* j1939 rs */
        {65270, "D4303E32410B0A00", "intake manifold temperature", 22.0},
        {65271, "FFFFFFFFE301E701", "key switch voltage", 24.35},
        {61444, "F39191AA1800F3FF", "torque demanded", 20.0},
        {61444, "F0EA7D000000F0FF", "torque demanded", 109.0},
        {127497, "002D0076005F006600", "average fuel rate", 11.8}, /* worked */
        {127497, "002D0076005F006600", "fuel rate for economy", 9.5},
        {127497, "002D0076005F006600", "fuel rate now", 10.2},
        {129026, "01FC5C3D6801FFFF", "course over ground", 1.5708},
        /* 1 + 0.002 a count, where libraries differ (one adds nothing, one adds 1 for each) */
        {127513, "00C2016E00FF7D5F", "Peukert exponent", 1.25},
        {127513, "01CF12C800001963", "Peukert exponent", 1.05},
        {127513, "00C2016E00FF7D5F", "charge efficiency", 95},
        {127513, "02D006A401FCFF7F", "temperature coefficient", -4},
        {127507, "020112F55A00", "equalisation time left", 90},
        {127503, "0001FC0A5A7C008A1340010E0B00003601000063", "breaker", 32},
        {127503, "0001FC0A5A7C008A1340010E0B00003601000063", "reactive power", 310},
        {127503, "0001FC0A5A7C008A1340010E0B00003601000063", "power factor", 0.99},
        {127504, "0001E0E25941008813A000AA050000C800000062", "power factor", 0.98},
        {127747, "05020609A10FF401", "line-line voltage", 400.1},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        uint8_t buf[32];
        struct message m = message_of(cases[i].pgn, 0, cases[i].hex, buf, sizeof buf);
        const struct pgn_info *row = catalogue_find(cases[i].pgn);
        assert_non_null(row);
        bool found = false;
        for (unsigned k = 0; k < row->field_count; k++)
            if (strcmp(row->fields[k].name, cases[i].field) == 0) {
                double v = -1.0;
                assert_int_equal(decode_field(&m, &row->fields[k], 0, &v), READING_OK);
                assert_near(v, cases[i].value, 1e-9);
                found = true;
            }
        assert_true(found);
    }
}

static void j1939__source_address__names_the_engine(void **state)
{
    (void)state;
    uint8_t buf[8];
    struct wire_value v[DECODE_VALUES_MAX];
    for (unsigned source = 0; source < 256; source++) {
        struct message m = message_of(61444, (uint8_t)source, "FFFFFFE02EFFFFFF", buf, sizeof buf);
        size_t n = decode_values(&m, v);
        assert_int_equal(n, source < 2 ? 2 : 0);
        if (n > 0)
            assert_int_equal(v[0].id.place, source);
        m = message_of(65272, (uint8_t)source, "FFFFFF4B002DFFFF", buf, sizeof buf);
        n = decode_values(&m, v);
        /* preferred addresses 3 and 4 are the two transmissions (from memory) */
        assert_int_equal(n, source < 2 || source == 3 || source == 4 ? 2 : 0);
        if (n > 0)
            assert_int_equal(v[0].id.place, source < 2 ? source : source - 3);
    }
}

static void instance__not_available__gives_no_value(void **state)
{
    (void)state;
    uint8_t buf[8];
    struct wire_value v[DECODE_VALUES_MAX];
    for (unsigned instance = 0; instance < 256; instance++) {
        struct message m = message_of(127488, 0, "00401FDC0500FFFF", buf, sizeof buf);
        buf[0] = (uint8_t)instance;
        assert_int_equal(decode_values(&m, v), instance <= 252 ? 2 : 0);
    }
    struct message m = message_of(127505, 0, "0F093DA00F0000FF", buf, sizeof buf);
    assert_int_equal(decode_values(&m, v), 0);
    buf[0] = 0x0E; /* an error code */
    assert_int_equal(decode_values(&m, v), 0);
    buf[0] = 0x0D;
    assert_int_equal(decode_values(&m, v), 1);
}

/* Special values of IEC 61162-3: both open definitions agree on the two highest codes of each
 * width; they differ on the third, which is taken as no number. */
static void iec__codes_of_every_width__are_no_numbers(void **state)
{
    (void)state;
    static const struct {
        uint16_t bits;
        bool is_signed;
        uint64_t not_available;
    } cases[] = {
        {8, false, 0xFF}, {16, false, 0xFFFF}, {24, false, 0xFFFFFF},  {32, false, 0xFFFFFFFF},
        {8, true, 0x7F},  {16, true, 0x7FFF},  {32, true, 0x7FFFFFFF},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct field_info f = {.bit = 8,
                                     .bits = cases[i].bits,
                                     .is_signed = cases[i].is_signed,
                                     .family = FAMILY_IEC,
                                     .gain = 1.0};
        for (unsigned below = 0; below < 4; below++) {
            uint64_t raw = cases[i].not_available - below;
            uint8_t buf[5] = {0, (uint8_t)raw, (uint8_t)(raw >> 8), (uint8_t)(raw >> 16),
                              (uint8_t)(raw >> 24)};
            struct message m = {.len = (uint16_t)(1 + cases[i].bits / 8), .data = buf};
            double v = -7.0;
            enum reading_status s = decode_field(&m, &f, 0, &v);
            if (below == 3) {
                assert_int_equal(s, READING_OK);
                assert_near(v, (double)raw, 0.0);
            } else {
                assert_int_equal(s, below == 0 ? READING_NOT_AVAILABLE : READING_ERROR);
                assert_near(v, -7.0, 0.0);
            }
        }
        if (cases[i].is_signed) { /* all ones is -1, a number */
            uint8_t buf[5] = {0, 0xFF, 0xFF, 0xFF, 0xFF};
            struct message m = {.len = 5, .data = buf};
            double v = 0.0;
            assert_int_equal(decode_field(&m, &f, 0, &v), READING_OK);
            assert_near(v, -1.0, 0.0);
        }
    }
}

/* Table of SAE J1939-71 value ranges; two bits 10 and 11: open tests of pretty_j1939. */
static void j1939__codes_of_every_width__are_no_numbers(void **state)
{
    (void)state;
    static const struct {
        uint16_t bits;
        uint64_t raw;
        enum reading_status status;
    } cases[] = {
        {2, 0, READING_OK},
        {2, 1, READING_OK},
        {2, 2, READING_ERROR},
        {2, 3, READING_NOT_AVAILABLE},
        {4, 0xD, READING_OK},
        {4, 0xE, READING_ERROR},
        {4, 0xF, READING_NOT_AVAILABLE},
        {8, 0xFA, READING_OK},
        {8, 0xFB, READING_NOT_AVAILABLE},
        {8, 0xFC, READING_ERROR},
        {8, 0xFD, READING_ERROR},
        {8, 0xFE, READING_ERROR},
        {8, 0xFF, READING_NOT_AVAILABLE},
        {16, 0xFAFF, READING_OK},
        {16, 0xFB00, READING_NOT_AVAILABLE},
        {16, 0xFC00, READING_ERROR},
        {16, 0xFDFF, READING_ERROR},
        {16, 0xFE00, READING_ERROR}, /* decided by the high byte alone */
        {16, 0xFEFF, READING_ERROR},
        {16, 0xFF00, READING_NOT_AVAILABLE},
        {16, 0xFFFF, READING_NOT_AVAILABLE},
        {32, 0xFAFFFFFF, READING_OK},
        {32, 0xFB000000, READING_NOT_AVAILABLE},
        {32, 0xFC000000, READING_ERROR},
        {32, 0xFE123456, READING_ERROR},
        {32, 0xFF000000, READING_NOT_AVAILABLE},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct field_info f = {
            .bit = 0, .bits = cases[i].bits, .family = FAMILY_J1939, .gain = 1.0};
        uint64_t raw = cases[i].raw;
        uint8_t buf[4] = {(uint8_t)raw, (uint8_t)(raw >> 8), (uint8_t)(raw >> 16),
                          (uint8_t)(raw >> 24)};
        struct message m = {.len = 4, .data = buf};
        double v = 0.0;
        assert_int_equal(decode_field(&m, &f, 0, &v), cases[i].status);
        if (cases[i].status == READING_OK)
            assert_near(v, (double)raw, 0.0);
    }
    /* Tops of the ranges, computed. */
    static const struct {
        uint32_t pgn;
        const char *hex, *key;
        double value;
    } tops[] = {{61444, "FFFFFFFFFAFFFFFF", "rpm.0", 8031.875},
                {65270, "FFFFFFFFFFFFFAFF", "exhaust-gas.0", 1734.96875},
                {65266, "FFFAFFFFFFFFFFFF", "fuel-rate.0", 3212.75},
                {65262, "FAFFFFFFFFFFFFFF", "coolant.0", 210.0},
                {65276, "FFFAFFFFFFFFFFFF", "fuel-tank.0", 100.0}};
    for (size_t i = 0; i < sizeof tops / sizeof tops[0]; i++) {
        uint8_t buf[8];
        struct message m = message_of(tops[i].pgn, 0, tops[i].hex, buf, sizeof buf);
        struct wire_value v[DECODE_VALUES_MAX];
        size_t n = decode_values(&m, v);
        const struct wire_value *got = pick(v, n, tops[i].key);
        assert_int_equal(got->status, READING_OK);
        assert_near(got->value, tops[i].value, 1e-9);
    }
}

static void gear__ahead_neutral_astern__and_2_is_no_error(void **state)
{
    (void)state;
    static const double want[] = {1.0, 0.0, -1.0};
    for (unsigned code = 0; code < 4; code++) {
        uint8_t buf[8] = {0, (uint8_t)(0xFC | code), 0xFF, 0xFF, 0xFF, 0xFF, 0, 0xFF};
        struct message m = {.pgn = 127493, .len = 8, .data = buf};
        struct wire_value v[DECODE_VALUES_MAX];
        const struct wire_value *g = pick(v, decode_values(&m, v), "gear.0");
        assert_int_equal(g->status, code < 3 ? READING_OK : READING_NOT_AVAILABLE);
        if (code < 3)
            assert_near(g->value, want[code], 0.0);
        assert_int_equal(g->decimals, 0);
    }
}

static void engine_status__words_of_the_standard(void **state)
{
    (void)state;
    uint8_t buf[26], engine;
    uint16_t one, two;
    struct message m =
        message_of(127489, 0, "00AC0D300EBB8A69057B0080EE36001A042C01FF820000 00413C", buf, 26);
    assert_true(decode_engine_status(&m, &engine, &one, &two)); /* worked */
    assert_int_equal(engine, 0);
    assert_int_equal(one, 0x0082);
    assert_int_equal(two, 0);
    assert_string_equal(decode_engine_status_text(1, 1), "over temperature");
    assert_string_equal(decode_engine_status_text(1, 7), "water flow");
    assert_string_equal(decode_engine_status_text(1, 15), "emergency stop");
    assert_string_equal(decode_engine_status_text(2, 7), "engine shutting down");
    assert_null(decode_engine_status_text(2, 8));
    assert_null(decode_engine_status_text(0, 0));
    assert_null(decode_engine_status_text(1, 16));
    memset(buf + 20, 0xFF, 4); /* not available reports nothing */
    assert_true(decode_engine_status(&m, &engine, &one, &two));
    assert_int_equal(one, 0);
    assert_int_equal(two, 0);
    buf[0] = 0xFF;
    assert_false(decode_engine_status(&m, &engine, &one, &two));
}

static void system_time__worked_frame_and_codes(void **state)
{
    (void)state;
    uint8_t buf[8];
    int64_t ns = 0;
    struct message m = message_of(126992, 0x25, "01F0204E88DFBF19", buf, sizeof buf);
    assert_true(decode_system_time(&m, &ns)); /* worked: 2024-10-04 12:00:00.5 */
    assert_int_equal(ns, INT64_C(1728043200500000000));
    static const char *const none[] = {"01F0FFFF88DFBF19", "01F0204EFFFFFFFF", "01F0FEFF88DFBF19",
                                       "01F0204EFEFFFFFF", "01F0204E00000070", "01F0204E88DFBF"};
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++) {
        m = message_of(126992, 0x25, none[i], buf, sizeof buf);
        assert_false(decode_system_time(&m, &ns));
    }
}

static void heartbeat__worked_frame(void **state)
{
    (void)state;
    uint8_t buf[8];
    struct heartbeat h;
    struct message m = message_of(126993, 0x20, "701705FFFFFFFFFF", buf, sizeof buf);
    assert_true(decode_heartbeat(&m, &h));
    assert_near(h.interval_s, 60.0, 1e-9);
    assert_int_equal(h.sequence, 5);
    assert_int_equal(h.controller1, 3);
    m = message_of(126993, 0x20, "FFFFFF12FFFFFFFF", buf, sizeof buf);
    assert_true(decode_heartbeat(&m, &h));
    assert_near(h.interval_s, 0.0, 0.0);
    assert_int_equal(h.sequence, -1);
    assert_int_equal(h.controller1, 2);
    assert_int_equal(h.controller2, 0);
    assert_int_equal(h.equipment, 1);
}

/* A code by its name in the catalogue. */
static long code_named(const struct message *m, const char *name)
{
    const struct pgn_info *row = catalogue_find(m->pgn);
    for (unsigned i = 0; row != NULL && i < row->field_count; i++)
        if (strcmp(row->fields[i].name, name) == 0)
            return (long)bits_at(m->data, m->len, row->fields[i].bit, row->fields[i].bits);
    return -1;
}

static void request__published_examples(void **state)
{
    (void)state;
    uint8_t buf[8];
    struct message m = message_of(59904, 0xAB, "CAFE00", buf, sizeof buf); /* AgIsoStack++ */
    assert_int_equal(code_named(&m, "PGN asked for"), 65226);
    m = message_of(59904, 254, "00EE00", buf, sizeof buf);
    assert_int_equal(code_named(&m, "PGN asked for"), 60928);
}

static void acknowledgement__published_example(void **state)
{
    (void)state;
    struct wire *w = wire_new();
    struct message m;
    assert_true(feed(w, "18E8FFAA#00FFFFFFABD3FE00", 0, &m)); /* AgIsoStack++ */
    assert_int_equal(code_named(&m, "control"), 0);
    assert_int_equal(code_named(&m, "address acknowledged"), 0xAB);
    assert_int_equal(code_named(&m, "PGN acknowledged"), 0xFED3);
    wire_free(w);
}

static void product_info__text_is_cleaned_and_codes_are_minus_1(void **state)
{
    (void)state;
    uint8_t buf[134];
    memset(buf, 0xFF, sizeof buf);
    buf[0] = 0x34, buf[1] = 0x08; /* 2.100 */
    memcpy(buf + 4, "Boiler\033[2J watch\0\0", 18);
    memset(buf + 36, '@', 32);
    memcpy(buf + 68, "A2   ", 5);
    buf[132] = 1, buf[133] = 2;
    struct message m = {.pgn = 126996, .len = 134, .data = buf};
    struct product_info p;
    assert_true(decode_product_info(&m, &p));
    assert_near(p.version, 2.1, 1e-9);
    assert_int_equal(p.code, -1);
    assert_null(strchr(p.model, '\033'));
    assert_memory_equal(p.model, "Boiler", 6);
    assert_string_equal(p.software, "");
    assert_string_equal(p.serial, "");
    assert_int_equal(p.certification, 1);
    assert_int_equal(p.load_equivalency, 2);
    m.len = 133;
    assert_false(decode_product_info(&m, &p));
}

/* 127498: a worked payload, 3600 rpm, "TEST01", "1.0". 65251 by the layout of SAE J1939-71 (EC1):
 * idle 650 rpm, high idle 2450.5, reference torque 1200 Nm; FB00 and more are no numbers. */
static void engine_maker__both_messages__figures_and_texts(void **state)
{
    (void)state;
    static uint8_t fixed[] = {0x00, 0x40, 0x38, 0x08, 0x01, 0x54, 0x45, 0x53,
                              0x54, 0x30, 0x31, 0x05, 0x01, 0x31, 0x2E, 0x30};
    struct message m = {.pgn = 127498, .len = sizeof fixed, .data = fixed};
    struct engine_maker e;
    assert_true(decode_engine_maker(&m, &e));
    assert_near(e.rated_rpm, 3600, 1e-9);
    assert_string_equal(e.vin, "TEST01");
    assert_string_equal(e.software, "1.0");
    assert_true(isnan(e.idle_rpm) && isnan(e.high_idle_rpm) && isnan(e.torque_nm));
    for (uint16_t len = 0; len < sizeof fixed; len++) { /* whatever is cut off */
        m.len = len;
        assert_int_equal(decode_engine_maker(&m, &e), len >= 3);
        assert_string_equal(e.vin, len >= 11 ? "TEST01" : "");
        assert_string_equal(e.software, "");
    }
    m.len = sizeof fixed;
    fixed[1] = 0xFD, fixed[2] = 0xFF; /* reserved */
    assert_true(decode_engine_maker(&m, &e) && isnan(e.rated_rpm));
    fixed[1] = 0xFC;
    assert_true(decode_engine_maker(&m, &e));
    assert_near(e.rated_rpm, 16383, 1e-9);
    fixed[0] = 253;
    assert_false(decode_engine_maker(&m, &e));

    uint8_t ec1[40];
    memset(ec1, 0xFF, sizeof ec1);
    m = (struct message){.pgn = 65251, .len = sizeof ec1, .data = ec1};
    assert_true(decode_engine_maker(&m, &e));
    assert_true(isnan(e.idle_rpm) && isnan(e.high_idle_rpm) && isnan(e.torque_nm));
    ec1[0] = 0x50, ec1[1] = 0x14;   /* 5200 */
    ec1[15] = 0x94, ec1[16] = 0x4C; /* 19604 */
    ec1[19] = 0xB0, ec1[20] = 0x04;
    assert_true(decode_engine_maker(&m, &e));
    assert_near(e.idle_rpm, 650, 1e-9);
    assert_near(e.high_idle_rpm, 2450.5, 1e-9);
    assert_near(e.torque_nm, 1200, 1e-9);
    assert_true(isnan(e.rated_rpm));
    ec1[0] = 0xFF, ec1[1] = 0xFA;
    assert_true(decode_engine_maker(&m, &e));
    assert_near(e.idle_rpm, 8031.875, 1e-9);
    ec1[0] = 0x00, ec1[1] = 0xFB;
    assert_true(decode_engine_maker(&m, &e) && isnan(e.idle_rpm));
    m.len = 20;
    assert_false(decode_engine_maker(&m, &e));
}

struct prefix_of {
    uint32_t pgn;
    size_t whole; /* values of the whole message */
};

static void decode_prefix(void *ctx, const void *data, size_t len)
{
    const struct prefix_of *p = ctx;
    struct message m = {.pgn = p->pgn, .len = (uint16_t)len, .data = data};
    struct wire_value v[DECODE_VALUES_MAX];
    assert_true(decode_values(&m, v) <= p->whole);
    uint8_t engine;
    uint16_t one, two;
    int64_t ns;
    struct heartbeat h;
    struct product_info info;
    const struct pgn_info *row = catalogue_find(p->pgn);
    bool whole = row->length == 0 || len >= row->length;
    if (!whole) {
        assert_false(decode_system_time(&m, &ns));
        assert_false(decode_product_info(&m, &info));
    }
    (void)decode_heartbeat(&m, &h);
    (void)decode_engine_status(&m, &engine, &one, &two);
}

static void every_pgn__every_prefix__never_reads_past_the_end(void **state)
{
    (void)state;
    for (size_t i = 0; i < catalogue_count(); i++) {
        const struct pgn_info *row = catalogue_row(i);
        for (unsigned fill = 0; fill < 3; fill++) {
            uint8_t data[223];
            memset(data, fill == 0 ? 0x00 : fill == 1 ? 0xFF : 0x11, sizeof data);
            size_t len = row->length != 0 ? row->length : 40;
            struct message m = {.pgn = row->pgn, .len = (uint16_t)len, .data = data};
            struct wire_value v[DECODE_VALUES_MAX];
            struct prefix_of p = {row->pgn, decode_values(&m, v)};
            for_every_prefix(data, len, decode_prefix, &p);
        }
    }
}

static const struct field_info *field_of(uint32_t pgn, unsigned bit)
{
    const struct pgn_info *row = catalogue_find(pgn);
    for (unsigned i = 0; i < row->field_count; i++)
        if (row->fields[i].bit == bit)
            return &row->fields[i];
    fail_msg("PGN %u has no field at bit %u", (unsigned)pgn, bit);
    return NULL;
}

/* Ends of real fields. IEC 61162-3: the three highest codes of a width are none of them a number,
 * so that 0xFFFC, 655.32 K, is the highest temperature of 130312. J1939-71: 0xFA is the highest of
 * a byte, 210 °C of SPN 110 and 1000 kPa of SPN 100. Nought and a full tank are no end. */
static void field_ends__of_both_standards__are_known(void **state)
{
    (void)state;
    static const struct {
        uint32_t pgn;
        unsigned bit;
        uint64_t raw;
        bool end;
    } rows[] = {
        {130312, 24, 0xFFFC, true}, {130312, 24, 0xFFFB, false}, {130312, 24, 0, true},
        {130312, 24, 1, false},     {65262, 0, 0xFA, true},      {65262, 0, 0xF9, false},
        {65262, 0, 0, true}, /* -40 °C */
        {65263, 24, 0xFA, true},    {65263, 24, 0, false},       {65276, 8, 0xFA, false},
        {127489, 8, 0xFFFC, true},  {127489, 8, 0, false},       {127508, 24, 0x7FFC, true},
        {127508, 24, 0x8000, true}, {127508, 24, 0, false},      {127508, 24, 0x8001, false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (decode_at_end(field_of(rows[i].pgn, rows[i].bit), rows[i].raw) != rows[i].end)
            fail_msg("%u, bit %u, 0x%llx", (unsigned)rows[i].pgn, rows[i].bit,
                     (unsigned long long)rows[i].raw);
}

static void value__at_the_end_of_its_field__is_marked(void **state)
{
    (void)state;
    uint8_t buf[8];
    struct wire_value v[DECODE_VALUES_MAX];
    struct message m = message_of(130312, 1, "FF000EFCFFFFFFFF", buf, sizeof buf);
    assert_int_equal(decode_values(&m, v), 1);
    assert_int_equal(v[0].status, READING_OK);
    assert_near(v[0].value, 655.32 - 273.15, 1e-9);
    assert_true(v[0].at_end);
    m = message_of(130312, 1, "FF000EFBFFFFFFFF", buf, sizeof buf);
    assert_int_equal(decode_values(&m, v), 1);
    assert_false(v[0].at_end);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(iec__worked_frames__give_the_values),
        cmocka_unit_test(tank__capacity__comes_with_the_level),
        cmocka_unit_test(tank__every_fluid__has_its_quantity),
        cmocka_unit_test(temperature__every_source__has_its_quantity),
        cmocka_unit_test(environment__fills_in__with_rank_1),
        cmocka_unit_test(switches__28_indicators__count_from_1),
        cmocka_unit_test(humidity_and_pressure),
        cmocka_unit_test(j1939__published_and_computed__give_the_values),
        cmocka_unit_test(ac_lines__each_for_itself),
        cmocka_unit_test(states__are_codes_with_words),
        cmocka_unit_test(field__of_no_channel__can_be_read),
        cmocka_unit_test(j1939__source_address__names_the_engine),
        cmocka_unit_test(instance__not_available__gives_no_value),
        cmocka_unit_test(iec__codes_of_every_width__are_no_numbers),
        cmocka_unit_test(j1939__codes_of_every_width__are_no_numbers),
        cmocka_unit_test(gear__ahead_neutral_astern__and_2_is_no_error),
        cmocka_unit_test(engine_status__words_of_the_standard),
        cmocka_unit_test(system_time__worked_frame_and_codes),
        cmocka_unit_test(heartbeat__worked_frame),
        cmocka_unit_test(request__published_examples),
        cmocka_unit_test(acknowledgement__published_example),
        cmocka_unit_test(engine_maker__both_messages__figures_and_texts),
        cmocka_unit_test(product_info__text_is_cleaned_and_codes_are_minus_1),
        cmocka_unit_test(field_ends__of_both_standards__are_known),
        cmocka_unit_test(value__at_the_end_of_its_field__is_marked),
        cmocka_unit_test(every_pgn__every_prefix__never_reads_past_the_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
