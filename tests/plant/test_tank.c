/* Senders, shapes, slosh, and the steps of a calibration. */
#include "plant/calibrate.h"
#include "plant/gauge.h"
#include "plant/tank.h"

#include "support/check.h"

#include "base/when.h"

/* Trade practice (no standard's text was found): 240 ohm empty to 33 full, 10 to 180; the middle of
 * each span is half full. */
static void level__resistance__straight_between_empty_and_full(void **state)
{
    (void)state;
    double percent = -1;
    assert_int_equal(gauge_level(136.5, 240, 33, &percent), GAUGE_GOOD);
    assert_near(percent, 50, 1e-9);
    assert_int_equal(gauge_level(95, 10, 180, &percent), GAUGE_GOOD);
    assert_near(percent, 50, 1e-9);
    gauge_level(240, 240, 33, &percent);
    assert_near(percent, 0, 1e-9);
    gauge_level(33, 240, 33, &percent);
    assert_near(percent, 100, 1e-9);
    /* within its tolerance of 10 ohm it rests on its stops */
    assert_int_equal(gauge_level(250, 240, 33, &percent), GAUGE_GOOD);
    assert_near(percent, 0, 1e-9);
    assert_int_equal(gauge_level(23, 240, 33, &percent), GAUGE_GOOD);
    assert_near(percent, 100, 1e-9);
    /* the wrong pairing reads backwards */
    gauge_level(240 - 0.25 * 207, 33, 240, &percent);
    assert_near(percent, 75, 1e-9);
}

/* Common practice, no source: above 300 ohm or below 5 ohm is a fault. */
static void level__open_or_short__is_a_fault(void **state)
{
    (void)state;
    double percent = 42;
    assert_int_equal(gauge_level(301, 240, 33, &percent), GAUGE_OPEN);
    assert_int_equal(gauge_level(301, 10, 180, &percent), GAUGE_OPEN);
    assert_int_equal(gauge_level(4, 240, 33, &percent), GAUGE_SHORT);
    assert_int_equal(gauge_level(4, 10, 180, &percent), GAUGE_SHORT);
    assert_near(percent, 42, 0);
    assert_int_equal(gauge_level(1, 0, 190, &percent), GAUGE_GOOD); /* 0 ohm is its empty */
}

/* p = rho g h, g 9.80665: 1 m gives these; computed. */
static void head__of_one_metre__by_density(void **state)
{
    (void)state;
    static const double rows[][2] = {
        {820, 8.0415}, {832, 8.1591}, {840, 8.2376}, {845, 8.2866}, {850, 8.3357}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_near(gauge_head_m(rows[i][1], rows[i][0]), 1, 1e-5);
}

/* Geometry, computed: r 0.5 m, L 2 m. */
static void cylinder__lying__volume_by_height(void **state)
{
    (void)state;
    double full = tank_capacity_l(TANK_CYLINDER, 2, (double)NAN, 1);
    assert_near(full, 1570.80, 0.005);
    static const double rows[][2] = {{0.1, 81.75},  {0.2, 223.65}, {0.25, 307.09}, {0.3, 396.34},
                                     {0.4, 586.74}, {0.5, 785.40}, {0.75, 1263.70}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double l = full * tank_volume_part(TANK_CYLINDER, rows[i][0]);
        assert_near(l, rows[i][1], 0.006);
        assert_near(full * tank_volume_part(TANK_CYLINDER, 1 - rows[i][0]), full - l, 1e-6);
    }
    assert_near(tank_volume_part(TANK_CYLINDER, -0.1), 0, 1e-12);
    assert_near(tank_volume_part(TANK_CYLINDER, 1.2), 1, 1e-12);
}

static void other_shapes__by_height(void **state)
{
    (void)state;
    assert_near(tank_volume_part(TANK_BOX, 0.25), 0.25, 1e-12);
    assert_near(tank_volume_part(TANK_WEDGE, 0.5), 0.25, 1e-12); /* a triangle: the square */
    assert_near(tank_capacity_l(TANK_BOX, 2, 1, 0.5), 1000, 1e-9);
    assert_near(tank_capacity_l(TANK_WEDGE, 2, 1, 0.5), 500, 1e-9);
    assert_near(tank_capacity_l(TANK_BOX, 2, (double)NAN, 0.5), 0, 0);
    assert_near(tank_capacity_l(TANK_UNKNOWN, 2, 1, 1), 0, 0);
    assert_near(tank_capacity_l(TANK_BOX, 0.5, 0.5, 0.5), 125, 1e-9);
    static const double none[][3] = {{-2, -1, 1}, {-2, 1, -1}, {2, -1, -1}, {2, -1, 1}};
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++)
        assert_near(tank_capacity_l(TANK_BOX, none[i][0], none[i][1], none[i][2]), 0, 0);
    assert_near(tank_capacity_l(TANK_CYLINDER, -2, 1, 1), 0, 0);
}

static void calibration__steps__in_their_order(void **state)
{
    (void)state;
    double v;
    struct channel_setting s = {.gain = 1};
    assert_int_equal(calibrate(NULL, 7, &v), READING_OK);
    assert_near(v, 7, 0);
    s.gain = 2;
    s.offset = 1;
    assert_true(curve_parse("0:0, 10:20", &s.table, NULL));
    assert_int_equal(calibrate(&s, 5, &v), READING_OK);
    assert_near(v, 21, 1e-12); /* table to 10, then gain and offset */
}

/* A straight line between 0.2 and 0.3 m at 0.25 m: 309.99 L, 0.94 % above the true 307.09;
 * computed. */
static void calibration__strapping__straight_between_its_entries(void **state)
{
    (void)state;
    struct channel_setting s = {.gain = 1};
    assert_true(curve_parse("0:0, 20:223.65, 30:396.34, 50:785.4, 100:1570.8", &s.strapping, NULL));
    double v;
    assert_int_equal(calibrate(&s, 25, &v), READING_OK);
    assert_near(v / 100 * tank_configured_l(&s), 309.995, 0.01);
    assert_int_equal(calibrate(&s, -3, &v), READING_OK);
    assert_near(v, 0, 0); /* never less than nothing */
    s.capacity_l = 1600;  /* the plate says more than the table: per cent of that */
    calibrate(&s, 100, &v);
    assert_near(v, 100 * 1570.8 / 1600, 1e-9);
    s.capacity_l = 0;
    assert_true(curve_parse("0:0, 50:0.2, 100:0.8", &s.strapping, NULL)); /* one of less than 1 L */
    calibrate(&s, 50, &v);
    assert_near(v, 25, 1e-9);
    assert_true(curve_parse("0:0, 100:0", &s.strapping, NULL)); /* one that holds nothing */
    calibrate(&s, 100, &v);
    assert_near(v, 0, 0);
}

/* A sender that overshoots its table reads a full tank; far beyond, no tank at all. */
static void calibration__strapping__does_not_run_on_past_full(void **state)
{
    (void)state;
    struct channel_setting s = {.gain = 1};
    assert_true(curve_parse("0:0, 50:190.5, 100:400", &s.strapping, NULL));
    double v;
    for (int level = 100; level <= 110; level += 5) {
        assert_int_equal(calibrate(&s, level, &v), READING_OK);
        assert_near(v, 100, 1e-9);
    }
    assert_int_equal(calibrate(&s, 111, &v), READING_ERROR);
    assert_int_equal(calibrate(&s, 607, &v), READING_ERROR);
}

static void calibration__head__to_height_to_volume(void **state)
{
    (void)state;
    struct channel_setting s = {
        .gain = 1, .head_density = 840, .height_m = 1, .shape = TANK_CYLINDER, .length_m = 2};
    double v;
    assert_int_equal(calibrate(&s, 8.2376 * 0.25, &v), READING_OK);
    assert_near(v / 100 * tank_configured_l(&s), 307.09, 0.02);
    /* a little over is full; 50 kPa over 1 m is no level of this tank */
    assert_int_equal(calibrate(&s, 8.2376 * 1.05, &v), READING_OK);
    assert_near(v, 100, 1e-9);
    assert_int_equal(calibrate(&s, 50, &v), READING_ERROR);
}

static void calibration__broken_sender__is_an_error(void **state)
{
    (void)state;
    struct channel_setting level = {
        .gain = 1, .has_ohms = true, .ohms_empty = 240, .ohms_full = 33};
    struct channel_setting temp = {.gain = 1, .thermistor = thermistor_from_beta(3950, 10000, 25)};
    double v = 9;
    assert_int_equal(calibrate(&level, 400, &v), READING_ERROR);
    assert_int_equal(calibrate(&level, 2, &v), READING_ERROR);
    assert_int_equal(calibrate(&temp, 5e7, &v), READING_ERROR); /* open */
    assert_int_equal(calibrate(&temp, 0.5, &v), READING_ERROR); /* short */
    assert_int_equal(calibrate(&temp, 0, &v), READING_ERROR);
    assert_near(v, 9, 0);
    assert_int_equal(calibrate(&temp, 1086.7, &v), READING_OK);
    assert_near(v, 85, 0.01);
}

static void slosh__waves__the_median_stands_still(void **state)
{
    (void)state;
    struct tank_slosh s = {.window_ns = 60 * NS_PER_S};
    double level;
    assert_false(tank_slosh_median(&s, 0, &level));
    for (int i = 0; i < 120; i++)
        tank_slosh_add(&s, i * NS_PER_S, 50 + 8 * sin(i * 1.3) + (i % 30 == 0 ? 40 : 0));
    assert_true(tank_slosh_median(&s, 119 * NS_PER_S, &level));
    assert_near(level, 50, 1.5);
    assert_false(tank_slosh_median(&s, 400 * NS_PER_S, &level)); /* too old */
}

static void slosh__fast_samples__still_cover_the_window(void **state)
{
    (void)state;
    struct tank_slosh s = {.window_ns = 60 * NS_PER_S};
    double level;
    for (int i = 0; i < 6000; i++) /* ten a second for 100 s, 0 and then 100 for the last 25 s */
        tank_slosh_add(&s, i * (NS_PER_S / 60), i < 4500 ? 0 : 100);
    assert_true(tank_slosh_median(&s, 100 * NS_PER_S, &level));
    assert_near(level, 0, 0);
    tank_slosh_add(&s, 100 * NS_PER_S, 100);
    tank_slosh_add(&s, 100 * NS_PER_S, 100); /* the same moment: one is enough */
    assert_true(s.count <= TANK_SAMPLES);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(level__resistance__straight_between_empty_and_full),
        cmocka_unit_test(level__open_or_short__is_a_fault),
        cmocka_unit_test(head__of_one_metre__by_density),
        cmocka_unit_test(cylinder__lying__volume_by_height),
        cmocka_unit_test(other_shapes__by_height),
        cmocka_unit_test(calibration__steps__in_their_order),
        cmocka_unit_test(calibration__strapping__straight_between_its_entries),
        cmocka_unit_test(calibration__strapping__does_not_run_on_past_full),
        cmocka_unit_test(calibration__head__to_height_to_volume),
        cmocka_unit_test(calibration__broken_sender__is_an_error),
        cmocka_unit_test(slosh__waves__the_median_stands_still),
        cmocka_unit_test(slosh__fast_samples__still_cover_the_window),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
