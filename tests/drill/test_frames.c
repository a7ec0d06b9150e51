/* Messages into frames, against frames built by hand from the published layouts and decoded by
 * canboatjs 3.20.0 to the values shown (IEC 61162-3 as in @canboat/ts-pgns 1.11.18 and the
 * NMEA2000 library 4.24.1). */
#include "drill/frames.h"

#include "bus/candump.h"

#include "support/check.h"

static struct drill_frames frames;

static void setup_frames(bool fine)
{
    static struct drill_plan plan;

    drill_plan_default(&plan, 2, 10, 1);
    plan.sensors.fine_exhaust = fine;
    drill_frames_init(&frames, &plan, INT64_C(1777903200000000000));
}

static struct drill_value some(double v)
{
    return (struct drill_value){true, v};
}

/* The one frame of m, as text. */
static const char *line_of(const struct drill_message *m)
{
    static char line[CANDUMP_LINE_MAX];
    struct frame f;

    drill_frames_add(&frames, m);
    assert_true(drill_frames_take(&frames, 1e6, &f));
    assert_int_not_equal(candump_format(line, sizeof line, &f, "can0"), 0);
    line[strlen(line) - 1] = '\0';
    return strchr(line, ')') + 7; /* behind ") can0 " */
}

static void rapid__2000_rpm__matches_hand_made_frame(void **state)
{
    struct drill_message m = {.kind = DRILL_RAPID, .sender = 0x20, .v = {some(2000), some(150)}};

    (void)state;
    setup_frames(true);
    /* trim says not-available here, 0 in the vector: byte 6 */
    assert_string_equal(line_of(&m), "09F20020#00401FDC057FFFFF");
}

static void dynamic__known_values__match_hand_made_frames(void **state)
{
    struct drill_message m = {.kind = DRILL_DYNAMIC, .sender = 0x20};
    static const char *const expected[] = {"09F20120#001A00AC0D300EBB", "09F20120#018A69057B0080EE",
                                           "09F20120#0236001A04FFFFFF"};
    struct frame f;
    char line[CANDUMP_LINE_MAX];

    (void)state;
    setup_frames(true);
    m.v[DYN_OIL_KPA] = some(350);
    m.v[DYN_OIL_C] = some(363.2 - 273.15);
    m.v[DYN_COOLANT_C] = some(355.15 - 273.15);
    m.v[DYN_ALTERNATOR_V] = some(13.85);
    m.v[DYN_FUEL_LPH] = some(12.3);
    m.v[DYN_HOURS] = some(1000);
    m.v[DYN_COOLANT_KPA] = some(105);
    m.v[DYN_LOAD] = some(65);
    m.v[DYN_TORQUE] = some(60);
    drill_frames_add(&frames, &m);
    for (int i = 0; i < 3; i++) {
        assert_true(drill_frames_take(&frames, 1e6, &f));
        candump_format(line, sizeof line, &f, "can0");
        line[strlen(line) - 1] = '\0';
        /* fuel pressure is not sent here: the third frame ends with its code */
        assert_string_equal(strchr(line, ')') + 7, expected[i]);
    }
    assert_true(drill_frames_take(&frames, 1e6, &f));
    assert_int_equal(f.data[0], 0x03);
    assert_int_equal(f.data[5], 0x41); /* load 65 % */
    assert_int_equal(f.data[6], 0x3C); /* torque 60 % */
    assert_int_equal(f.data[7], 0xFF);
    assert_false(drill_frames_take(&frames, 1e6, &f));
}

static void temperatures__known_values__match_hand_made_frames(void **state)
{
    struct drill_message space = {
        .kind = DRILL_SPACE, .sender = 0x22, .place = 2, .v = {some(318.15 - 273.15)}};
    struct drill_message exhaust = {.kind = DRILL_EXHAUST, .sender = 0x22, .v = {some(60)}};

    (void)state;
    setup_frames(true);
    /* sequence ids are not used: first byte FF where the vectors say 07, 08 */
    assert_string_equal(line_of(&space), "15FD0822#FF0203477CFFFFFF");
    assert_string_equal(line_of(&exhaust), "15FD0C22#FF000E5E1505FFFF");
    exhaust.v[0] = some(450);
    assert_string_equal(line_of(&exhaust), "15FD0C22#FF000ECE080BFFFF");
    /* 130312 ends at 382.17 °C: out of range beyond */
    setup_frames(false);
    assert_string_equal(line_of(&exhaust), "15FD0822#FF000EFEFFFFFFFF");
    exhaust.v[0].ok = false;
    assert_string_equal(line_of(&exhaust), "15FD0822#FF000EFFFFFFFFFF");
}

static void dry_gas__always_goes_as_130316(void **state)
{
    static struct drill_plan plan;
    struct drill_message m = {.kind = DRILL_EXHAUST, .sender = 0x22, .v = {some(450)}};

    (void)state;
    drill_plan_default(&plan, 1, 10, 1);
    plan.sensors.fine_exhaust = false;
    plan.params.engine[0].dry_gas = true;
    drill_frames_init(&frames, &plan, 0);
    assert_string_equal(line_of(&m), "15FD0C22#FF000ECE080BFFFF");
}

static void boat__known_values__match_hand_made_frames(void **state)
{
    struct drill_message tank = {
        .kind = DRILL_TANK, .sender = 0x21, .place = 1, .v = {some(0.625), some(400), some(0)}};
    struct drill_message battery = {
        .kind = DRILL_BATTERY, .sender = 0x23, .v = {some(12.65), some(-3.2), some(20)}};
    struct drill_message ground = {
        .kind = DRILL_GROUND, .sender = 0x25, .v = {some(3.60 * 3600 / 1852), some(90)}};
    struct drill_message water = {
        .kind = DRILL_WATER, .sender = 0x24, .v = {some(3.09 * 3600 / 1852)}};
    struct drill_message gear = {.kind = DRILL_TRANSMISSION,
                                 .sender = 0x20,
                                 .v = {some(0), some(1500), some(333.1 - 273.15)}};

    (void)state;
    setup_frames(true);
    assert_string_equal(line_of(&tank), "19F21121#01093DA00F0000FF");
    assert_string_equal(line_of(&battery), "19F21423#00F104E0FF8372FF");
    assert_string_equal(line_of(&ground), "09F80225#FFFC5C3D6801FFFF");
    assert_string_equal(line_of(&water), "09F50324#FF3501FFFF00FFFF");
    assert_string_equal(line_of(&gear), "09F20520#00FD983A030D00FF");
}

static void trip_fuel__known_values__match_hand_made_frames(void **state)
{
    struct drill_message m = {.kind = DRILL_TRIP_FUEL,
                              .sender = 0x20,
                              .v = {some(45), some(11.8), some(9.5), some(10.2)}};
    struct frame f;

    (void)state;
    setup_frames(true);
    /* priority 5 (the vector's encoder says 2: its library and table differ) */
    assert_string_equal(line_of(&m), "15F20920#0009002D0076005F");
    assert_true(drill_frames_take(&frames, 1e6, &f));
    assert_memory_equal(f.data, "\x01\x00\x66\x00\xff\xff\xff\xff", 8);
}

static void heartbeat__sixty_seconds__matches_hand_made_frame(void **state)
{
    struct drill_message m = {.kind = DRILL_HEARTBEAT, .sender = 0x20};

    (void)state;
    setup_frames(true);
    for (int i = 0; i < 5; i++)
        line_of(&m);
    assert_string_equal(line_of(&m), "1DF01120#701705FFFFFFFFFF");
    for (int i = 6; i < 253; i++)
        line_of(&m);
    /* the counter ends at 252 */
    assert_string_equal(line_of(&m), "1DF01120#701700FFFFFFFFFF");
}

/* 2024-10-04 12:00:00.5 */
static void clock__known_moment__matches_hand_made_frame(void **state)
{
    struct drill_message m = {.kind = DRILL_CLOCK, .sender = 0x25};

    (void)state;
    setup_frames(true);
    frames.epoch_ns = INT64_C(1728043200500000000);
    assert_string_equal(line_of(&m), "0DF01025#FFF0204E88DFBF19");
}

static void product__fast_packet__has_twenty_frames_of_134_bytes(void **state)
{
    struct drill_message m = {.kind = DRILL_PRODUCT, .sender = 0x10};
    struct frame f;
    int n = 0;
    int64_t last = 0;

    (void)state;
    setup_frames(true);
    drill_frames_add(&frames, &m);
    while (drill_frames_take(&frames, 1e6, &f)) {
        assert_int_equal(f.data[0] & 31, n);
        assert_true(f.wall_ns > last);
        last = f.wall_ns;
        if (n == 0)
            assert_int_equal(f.data[1], 134);
        n++;
    }
    assert_int_equal(n, 20); /* 6 + 19 * 7 = 139 >= 134 */
}

static void take__later_frames__wait_and_come_in_order(void **state)
{
    struct drill_message fuel = {.t_s = 1.0, .kind = DRILL_TRIP_FUEL};
    struct drill_message rapid = {.t_s = 1.0003, .kind = DRILL_RAPID};
    struct frame f;

    (void)state;
    setup_frames(true);
    drill_frames_add(&frames, &fuel);
    drill_frames_add(&frames, &rapid);
    assert_false(drill_frames_take(&frames, 0.9, &f));
    assert_true(drill_frames_take(&frames, 2, &f));
    assert_int_equal(f.id >> 8 & 0x1FFFF, 127497);
    assert_true(drill_frames_take(&frames, 2, &f));
    assert_int_equal(f.id >> 8 & 0x1FFFF, 127488);
    assert_true(drill_frames_take(&frames, 2, &f));
    assert_int_equal(f.id >> 8 & 0x1FFFF, 127497);
}

static void pack__beyond_range__says_out_of_range(void **state)
{
    struct drill_message m = {.kind = DRILL_RAPID, .sender = 1, .v = {some(99999), some(-5)}};

    (void)state;
    setup_frames(true);
    /* one below all ones: out of range, for both */
    assert_string_equal(line_of(&m), "09F20001#00FEFFFEFF7FFFFF");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rapid__2000_rpm__matches_hand_made_frame),
        cmocka_unit_test(dynamic__known_values__match_hand_made_frames),
        cmocka_unit_test(temperatures__known_values__match_hand_made_frames),
        cmocka_unit_test(dry_gas__always_goes_as_130316),
        cmocka_unit_test(boat__known_values__match_hand_made_frames),
        cmocka_unit_test(trip_fuel__known_values__match_hand_made_frames),
        cmocka_unit_test(heartbeat__sixty_seconds__matches_hand_made_frame),
        cmocka_unit_test(clock__known_moment__matches_hand_made_frame),
        cmocka_unit_test(product__fast_packet__has_twenty_frames_of_134_bytes),
        cmocka_unit_test(take__later_frames__wait_and_come_in_order),
        cmocka_unit_test(pack__beyond_range__says_out_of_range),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
