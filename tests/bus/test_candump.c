/* The grammar of both forms, line by line. The lines are of the shapes that can-utils' candump
 * writes (its lib.c prints them); times, ids and bytes are worked out by hand from the format. */
#include "bus/candump.h"

#include "support/check.h"

#include <string.h>

#define T0 INT64_C(1760000000123456000)

struct row {
    const char *line;
    struct candump_line want; /* iface is compared as text below */
    const char *iface;
};

static const struct row rows[] = {
    /* log form */
    {"(1760000000.123456) can0 09F2000A#00A916D2047FFFFF",
     {.frame = {T0, 0, 0x09F2000A, 0, 8, FRAME_EXTENDED, {0, 0xA9, 0x16, 0xD2, 4, 0x7F, 255, 255}},
      .whole = true},
     "can0"},
    {"(1760000000.123456) can0 123#DEADBEEF",
     {.frame = {T0, 0, 0x123, 0, 4, 0, {0xDE, 0xAD, 0xBE, 0xEF}}},
     "can0"},
    {"(1760000000.123456) vcan12 123#deadbeef R",
     {.frame = {T0, 0, 0x123, 0, 4, 0, {0xDE, 0xAD, 0xBE, 0xEF}}},
     "vcan12"},
    {"(1760000000.123456) can0 7FF# T", {.frame = {T0, 0, 0x7FF, 0, 0, FRAME_SENT, {0}}}, "can0"},
    {"(1760000000.123456) can0 000007FF#01",
     {.frame = {T0, 0, 0x7FF, 0, 1, FRAME_EXTENDED, {1}}},
     "can0"},
    {"(1760000000.123456) can0 18EAFFFE#R",
     {.frame = {T0, 0, 0x18EAFFFE, 0, 0, FRAME_EXTENDED | FRAME_REMOTE, {0}}},
     "can0"},
    {"(1760000000.123456) can0 123#R5", {.frame = {T0, 0, 0x123, 0, 5, FRAME_REMOTE, {0}}}, "can0"},
    {"(1760000000.123456) can0 123#R8_E T",
     {.frame = {T0, 0, 0x123, 0, 8, FRAME_REMOTE | FRAME_SENT, {0}}},
     "can0"},
    {"(1760000000.123456) can0 123##1112233",
     {.frame = {T0, 0, 0x123, 0, 3, FRAME_FD, {0x11, 0x22, 0x33}}},
     "can0"},
    {"(1760000000.123456) can0 12345678##0112233445566778899AABBCC",
     {.frame = {T0,
                0,
                0x12345678,
                0,
                8,
                FRAME_EXTENDED | FRAME_FD | FRAME_CUT,
                {0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x88}}},
     "can0"},
    {"(1760000000.123456) can0 20000004#0004000000006000",
     {.frame = {T0, 0, 4, 0, 8, FRAME_ERROR, {0, 4, 0, 0, 0, 0, 0x60, 0}}, .whole = true},
     "can0"},
    {"(1760000000.123456) can0 123#1122334455667788_E",
     {.frame = {T0, 0, 0x123, 0, 8, 0, {0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x88}},
      .whole = true},
     "can0"},
    {"(1760000000.123456789) can0 123#", {.frame = {T0 + 789, 0, 0x123, 0, 0, 0, {0}}}, "can0"},
    {"(1760000000) can0 123#",
     {.frame = {INT64_C(1760000000000000000), 0, 0x123, 0, 0, 0, {0}}},
     "can0"},
    /* a machine without a clock writes the seconds since 1970 padded to ten digits */
    {"(0000000123.000001) can0 123#",
     {.frame = {INT64_C(123000001000), 0, 0x123, 0, 0, 0, {0}}},
     "can0"},
    /* screen form */
    {"(1760000000.123456)  can0  09F2000A   [8]  00 A9 16 D2 04 7F FF FF",
     {.frame = {T0, 0, 0x09F2000A, 0, 8, FRAME_EXTENDED, {0, 0xA9, 0x16, 0xD2, 4, 0x7F, 255, 255}},
      .whole = true},
     "can0"},
    {" (1760000000.123456)  can0       123   [2]  41 42   'AB'",
     {.frame = {T0, 0, 0x123, 0, 2, 0, {0x41, 0x42}}, .whole = true},
     "can0"},
    {" (1760000000.123456)  can0  TX - -  123   [2]  11 22",
     {.frame = {T0, 0, 0x123, 0, 2, FRAME_SENT, {0x11, 0x22}}, .whole = true},
     "can0"},
    {" (1760000000.123456)  can0  RX B E  123  [02]  11 22",
     {.frame = {T0, 0, 0x123, 0, 2, FRAME_FD, {0x11, 0x22}}, .whole = true},
     "can0"},
    {" (1760000000.123456)  can0  123  [12]  01 02 03 04 05 06 07 08 09 0A 0B 0C",
     {.frame = {T0, 0, 0x123, 0, 8, FRAME_FD | FRAME_CUT, {1, 2, 3, 4, 5, 6, 7, 8}}, .whole = true},
     "can0"},
    {" (1760000000.123456)  can0  TX - -       123   [0]                            ''",
     {.frame = {T0, 0, 0x123, 0, 0, FRAME_SENT, {0}}, .whole = true},
     "can0"},
    {" (1760000000.123456)  can0  123   [0]  remote request",
     {.frame = {T0, 0, 0x123, 0, 0, FRAME_REMOTE, {0}}, .whole = true},
     "can0"},
    {" (1760000000.123456)  can0  123   [0] ",
     {.frame = {T0, 0, 0x123, 0, 0, 0, {0}}, .whole = true},
     "can0"},
    {" (1760000000.123456)  can0  123   {E}  01 02 03 04 05 06 07 08",
     {.frame = {T0, 0, 0x123, 0, 8, 0, {1, 2, 3, 4, 5, 6, 7, 8}}, .whole = true},
     "can0"},
    {" (1760000000.123456)  can0  20000004   [8]  00 04 00 00 00 00 60 00   ERRORFRAME",
     {.frame = {T0, 0, 4, 0, 8, FRAME_ERROR, {0, 4, 0, 0, 0, 0, 0x60, 0}}, .whole = true},
     "can0"},
    /* 2026-05-04 is day 20577 since 1970 (date -ud 2026-05-04 +%s gives 1777852800) */
    {" (2026-05-04 14:12:07.123456)  can0  123   [1]  0A",
     {.frame = {INT64_C(1777903927123456000), 0, 0x123, 0, 1, 0, {10}},
      .stamp = CANDUMP_LOCAL,
      .whole = true},
     "can0"},
    {" (000.000000)  can0  123   [1]  0A",
     {.frame = {0, 0, 0x123, 0, 1, 0, {10}}, .stamp = CANDUMP_RELATIVE, .whole = true},
     "can0"},
    {" (12345.000250)  can0  123   [1]  0A",
     {.frame = {INT64_C(12345000250000), 0, 0x123, 0, 1, 0, {10}},
      .stamp = CANDUMP_RELATIVE,
      .whole = true},
     "can0"},
};

static void assert_same(const struct frame *got, const struct frame *want)
{
    assert_int_equal(got->wall_ns, want->wall_ns);
    assert_int_equal(got->id, want->id);
    assert_int_equal(got->len, want->len);
    assert_int_equal(got->flags, want->flags);
    assert_memory_equal(got->data, want->data, 8);
}

static void grammar__worked_example__gives_its_frame(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct candump_line got;
        const char *reason = candump_parse(rows[i].line, strlen(rows[i].line), &got);
        if (reason)
            fail_msg("%s: %s", rows[i].line, reason);
        assert_same(&got.frame, &rows[i].want.frame);
        assert_int_equal(got.stamp, rows[i].want.stamp);
        assert_int_equal(got.whole, rows[i].want.whole);
        assert_int_equal(got.iface_len, strlen(rows[i].iface));
        assert_memory_equal(got.iface, rows[i].iface, got.iface_len);
    }
}

static void grammar__no_frame__has_a_reason(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "hello",
        "()",
        "(.5) can0 123#",
        "(1760000000.) can0 123#",
        "(1760000000.123456 can0 123#",
        "(99999999999.0) can0 123#",
        "(9999999999.0) can0 123#",
        "(2026-13-04 14:12:07.123456)  can0  123   [1]  0A",
        "(2026-05-04 25:12:07.123456)  can0  123   [1]  0A",
        "(1760000000.123456)can0 123#",
        "(1760000000.123456) ",
        "(1760000000.123456) abcdefghijklmnop 123#",
        "(1760000000.123456) ca\x01n0 123#",
        "(1760000000.123456) can0 12#00",
        "(1760000000.123456) can0 1234#00",
        "(1760000000.123456) can0 800#00",
        "(1760000000.123456) can0 FFFFFFFF#00",
        "(1760000000.123456) can0 123456789#00",
        "(1760000000.123456) can0 123",
        "(1760000000.123456) can0 123#0",
        "(1760000000.123456) can0 123#0G",
        "(1760000000.123456) can0 123#112233445566778899",
        "(1760000000.123456) can0 123#11 X",
        "(1760000000.123456) can0 123#R9",
        "(1760000000.123456) can0 123##",
        "(1760000000.123456) can0 123##0112",
        "(1760000000.123456) can0 123#1122334455667788_3",
        "(1760000000.123456)  can0  123   [3]  11 22",
        "(1760000000.123456)  can0  123   [1]  11 22",
        "(1760000000.123456)  can0  123   [9]  01 02 03 04 05 06 07 08 09",
        "(1760000000.123456)  can0  123   [65]  00",
        "(1760000000.123456)  can0  123   {3}  00",
        "(1760000000.123456)  can0  123   [2]  11`22",
        "(1760000000.123456)  can0  123   [1]  00010001",
        "  can0  123   [1]  11",
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct candump_line got;
        const char *reason = candump_parse(bad[i], strlen(bad[i]), &got);
        if (!reason || !*reason)
            fail_msg("taken for a frame: %s", bad[i]);
    }
}

/* No prefix is read past its end, and one that calls itself whole has all of the data. */
static void check_prefix(void *ctx, const void *data, size_t len)
{
    const struct frame *want = ctx;
    struct candump_line got;
    if (!candump_parse(data, len, &got) && got.whole) {
        assert_int_equal(got.frame.len, want->len);
        assert_memory_equal(got.frame.data, want->data, 8);
    }
}

static void grammar__every_prefix__stays_within(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct frame want = rows[i].want.frame;
        for_every_prefix(rows[i].line, strlen(rows[i].line), check_prefix, &want);
    }
}

/* Where a disk lost a block there are NULs: they are no stamp, before one was read or after it. */
static void quick__nuls_for_a_stamp__are_declined(void **state)
{
    (void)state;
    static const char rest[] = "123456) can0 09F2000A#00FF\n",
                      whole[] = "(1760000000.123456) can0 ";
    char room[CANDUMP_QUICK_ROOM] = {0};
    struct frame f;
    struct candump_quick q = {0};
    candump_quick_learn(&q, 0, "can0");
    memcpy(room + 12, rest, sizeof rest);
    assert_int_equal(candump_quick_read(&q, room, &f), 0);
    memcpy(room, whole, 12);
    assert_int_equal(candump_quick_read(&q, room, &f), 12 + strlen(rest));
    memset(room, 0, 12);
    assert_int_equal(candump_quick_read(&q, room, &f), 0);
}

/* The quick reader takes what it takes exactly as the careful one does, or leaves it. */
static void quick__any_line__agrees_or_declines(void **state)
{
    (void)state;
    struct candump_quick q = {0};
    candump_quick_learn(&q, 3, "vcan12");
    candump_quick_learn(&q, 0, "can0");
    int taken = 0;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        for (int crlf = 0; crlf < 2; crlf++) {
            char room[CANDUMP_QUICK_ROOM + 100] = {0};
            size_t len = strlen(rows[i].line);
            memcpy(room, rows[i].line, len);
            memcpy(room + len, crlf ? "\r\n(" : "\n(", crlf ? 3 : 2);
            struct frame f = {0};
            size_t used = candump_quick_read(&q, room, &f);
            if (used == 0)
                continue;
            taken++;
            assert_int_equal(used, len + (crlf ? 2 : 1));
            assert_int_equal(f.iface, 0);
            assert_same(&f, &rows[i].want.frame);
        }
    }
    assert_true(taken >= 4);
}

static void quick__every_character_in_every_place__agrees_or_declines(void **state)
{
    (void)state;
    static const char line[] = "(1760000000.123456) can0 09F2000A#00A916D2047FFFFF\n";
    struct candump_quick q = {0};
    candump_quick_learn(&q, 0, "can0");
    for (size_t at = 0; at < sizeof line - 1; at++) {
        for (int c = 0; c < 256; c++) {
            char room[CANDUMP_QUICK_ROOM] = {0};
            memcpy(room, line, sizeof line - 1);
            room[at] = (char)c;
            struct frame f = {0};
            size_t used = candump_quick_read(&q, room, &f);
            if (used == 0)
                continue;
            struct candump_line want;
            size_t len = used - 1 - (room[used - 2] == '\r');
            assert_null(candump_parse(room, len, &want));
            assert_same(&f, &want.frame);
        }
    }
}

/* What logs are full of must not be left to the careful one: it would be right, and slow. */
static void quick__what_logs_are_full_of__is_taken(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        int64_t ns;
        uint32_t id;
        uint8_t iface, len, flags, first;
    } taken[] = {
        {"(1760000000.123456) can0 09F2000A#00A916D2047FFFFF\n", 123456000, 0x09F2000A, 0, 8, 0, 0},
        {"(1760000000.123456) can0 09F2000A#a0a916\n", 123456000, 0x09F2000A, 0, 3, 0, 0xA0},
        {"(1760000000.123456789) can0 1FFFFFFF#0102030405060708\r\n", 123456789, 0x1FFFFFFF, 0, 8,
         0, 1},
        {"(1760000000.000001) vcan12 00000000#FF\n", 1000, 0, 3, 1, 0, 0xFF},
        {"(1760000000.999999) can0 18EA00FE#\n", 999999000, 0x18EA00FE, 0, 0, 0, 0},
        {"(1760000000.500000) can0 18EA00FE#00EE00\r\n", 500000000, 0x18EA00FE, 0, 3, 0, 0},
        {"(1760000000.500000) can0 18EA00FE#07EE00 R\n", 500000000, 0x18EA00FE, 0, 3, 0, 7},
        {"(1760000000.500000) can0 18EA00FE#07EE0002 T\r\n", 500000000, 0x18EA00FE, 0, 4,
         FRAME_SENT, 7},
        {"(1760000000.500000) engineroom 18EA00FE#0701020304050607 T\n", 500000000, 0x18EA00FE, 5,
         8, FRAME_SENT, 7},
    };
    struct candump_quick q = {0};
    candump_quick_learn(&q, 3, "vcan12");
    candump_quick_learn(&q, 5, "engineroom");
    candump_quick_learn(&q, 0, "can0");
    for (size_t i = 0; i < sizeof taken / sizeof taken[0]; i++) {
        char room[CANDUMP_QUICK_ROOM] = {0};
        struct frame f = {0};
        memcpy(room, taken[i].line, strlen(taken[i].line));
        assert_int_equal(candump_quick_read(&q, room, &f), strlen(taken[i].line));
        assert_true(f.wall_ns == INT64_C(1760000000000000000) + taken[i].ns);
        assert_int_equal(f.id, taken[i].id);
        assert_int_equal(f.iface, taken[i].iface);
        assert_int_equal(f.len, taken[i].len);
        assert_int_equal(f.flags, FRAME_EXTENDED | taken[i].flags);
        assert_int_equal(f.data[0], taken[i].first);
    }
    static const char *const left[] = {
        "(1760000000.123456) can0 20000000#00\n",   /* not a 29-bit id */
        "(1760000000.123456) can9 09F2000A#00\n",   /* a name that is not known */
        "(1760000000.123456) can0 09F2000A#00 X\n", /* no direction */
        "(1760000000.123456) can0 09F2000A#0\n",    /* half a byte */
        "(1760000000.123456) can0 09F2000A##00\n",  /* CAN FD */
    };
    for (size_t i = 0; i < sizeof left / sizeof left[0]; i++) {
        char room[CANDUMP_QUICK_ROOM] = {0};
        struct frame f = {0};
        memcpy(room, left[i], strlen(left[i]));
        assert_int_equal(candump_quick_read(&q, room, &f), 0);
    }
}

static void format__frame__reads_back_the_same(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (rows[i].want.stamp == CANDUMP_RELATIVE)
            continue;
        char text[CANDUMP_LINE_MAX];
        size_t len = candump_format(text, sizeof text, &rows[i].want.frame, rows[i].iface);
        assert_int_equal(len, strlen(text));
        assert_int_equal(text[len - 1], '\n');
        struct candump_line got;
        assert_null(candump_parse(text, len - 1, &got));
        struct frame want = rows[i].want.frame;
        want.wall_ns -= want.wall_ns % 1000; /* microseconds are written */
        want.flags &= (uint8_t)~FRAME_CUT;   /* what was cut is all there is to write */
        assert_same(&got.frame, &want);
    }
}

static void format__plain_frame__is_the_line_candump_writes(void **state)
{
    (void)state;
    char text[CANDUMP_LINE_MAX];
    assert_true(candump_format(text, sizeof text, &rows[0].want.frame, "can0") > 0);
    assert_string_equal(text, "(1760000000.123456) can0 09F2000A#00A916D2047FFFFF\n");
    assert_true(candump_format(text, sizeof text, &rows[12].want.frame, "can0") > 0);
    assert_string_equal(text, "(1760000000.123456) can0 123#\n");
}

static void format__too_little_room__writes_nothing(void **state)
{
    (void)state;
    char text[CANDUMP_LINE_MAX] = "kept";
    assert_int_equal(candump_format(text, 20, &rows[0].want.frame, "can0"), 0);
    assert_string_equal(text, "kept");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(grammar__worked_example__gives_its_frame),
        cmocka_unit_test(grammar__no_frame__has_a_reason),
        cmocka_unit_test(grammar__every_prefix__stays_within),
        cmocka_unit_test(quick__any_line__agrees_or_declines),
        cmocka_unit_test(quick__nuls_for_a_stamp__are_declined),
        cmocka_unit_test(quick__what_logs_are_full_of__is_taken),
        cmocka_unit_test(quick__every_character_in_every_place__agrees_or_declines),
        cmocka_unit_test(format__frame__reads_back_the_same),
        cmocka_unit_test(format__plain_frame__is_the_line_candump_writes),
        cmocka_unit_test(format__too_little_room__writes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
