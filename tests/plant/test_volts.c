/* The system a voltage belongs to: 12, 24, 36 or 48 V, 120 or 230 V, 50 or 60 Hz. It is guessed
 * from readings and stands behind what the configuration and the battery say; the limits of the
 * rules follow it. The bounds are common practice, no source; IEC 60038 names the pairs of
 * alternating current. */
#include "plant/plant.h"

#include "hand.h"

static void battery(double volts, int times)
{
    for (int i = 0; i < times; i++) {
        hand_tick(&h, 1500);
        hand_volts(&h, 60, 0, volts);
    }
}

static int nominal(void)
{
    return hand_find(&h, "battery-volts.0")->nominal_volts;
}

/* 65027: the first phase of a generator, line to neutral, whole volts, 1/128 Hz. */
static void alternating(double volts, double hertz, int times)
{
    unsigned v = (unsigned)volts, f = (unsigned)(hertz * 128);
    uint8_t d[8] = {0xFF, 0xFF, LOW(v), HIGH(v), LOW(f), HIGH(f), 0xFF, 0xFF};
    for (int i = 0; i < times; i++) {
        hand_tick(&h, 1000);
        hand_send(&h, 40, 65027, d, 8);
    }
}

static int ac_system(enum quantity q)
{
    for (size_t i = 0; i < plant_count(h.plant); i++) {
        const struct channel *c = plant_channel(h.plant, i);
        if (c->id.quantity == q)
            return c->system;
    }
    fail_msg("no channel of alternating current");
    return -1;
}

/* Each bound of the first guess, a hundredth of a volt to either side. */
static void first_guess__at_its_bounds(void **state)
{
    (void)state;
    static const struct {
        double volts;
        int nominal;
    } rows[] = {{5.99, 0},   {6, 0},   {6.01, 12},  {17.49, 12}, {17.5, 12}, {17.51, 24},
                {32.99, 24}, {33, 24}, {33.01, 36}, {44.49, 36}, {44.5, 36}, {44.51, 48},
                {69.99, 48}, {70, 0},  {70.01, 0},  {90, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        hand_start(&h);
        battery(rows[i].volts, 10);
        if (nominal() != rows[i].nominal)
            print_error("at %.2f V\n", rows[i].volts);
        assert_int_equal(nominal(), rows[i].nominal);
        hand_end(&h);
    }
    hand_start(&h);
}

static void first_guess__tenth_reading_in_a_row(void **state)
{
    (void)state;
    hand_start(&h);
    battery(12.6, 9);
    assert_int_equal(nominal(), 0);
    battery(3, 1); /* of no system: it begins again */
    battery(12.6, 9);
    assert_int_equal(nominal(), 0);
    battery(25, 9); /* another system: these ten must agree among themselves */
    assert_int_equal(nominal(), 0);
    battery(25, 1);
    assert_int_equal(nominal(), 24);
}

/* An alternator holds the voltage where it belongs: three are enough while any engine runs. */
static void first_guess__engine_runs__third_reading(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 3; i++)
        hand_rpm(&h, 0, 1, 800);
    battery(14.2, 2);
    assert_int_equal(nominal(), 0);
    battery(14.2, 1);
    assert_int_equal(nominal(), 12);
}

/* What an engine's own controller says of its alternator goes by that engine, not by the others. */
static void first_guess__of_an_engine__goes_by_its_own_state(void **state)
{
    (void)state;
    uint8_t d[26];
    memset(d, 0xFF, sizeof d);
    d[0] = 0;
    d[7] = LOW(1420); /* 127489: alternator, 0.01 V */
    d[8] = HIGH(1420);
    d[9] = d[24] = d[25] = 0x7F;
    hand_start(&h);
    for (int i = 0; i < 4; i++) {
        hand_rpm(&h, 0, 0, 0);
        hand_rpm(&h, 1, 1, 800);
    }
    for (int i = 0; i < 9; i++)
        hand_send(&h, 0, 127489, d, 26);
    const struct channel *c = hand_find(&h, "alternator.0");
    assert_near(c->value, 14.2, 0.001);
    assert_int_equal(c->nominal_volts, 0);
    hand_send(&h, 0, 127489, d, 26);
    assert_int_equal(c->nominal_volts, 12);
}

/* Known once, it is only ever corrected upwards, far beyond what a runaway charger gives, by the
 * thirtieth reading in a row. */
static void correction__upwards_only_at_its_bounds(void **state)
{
    (void)state;
    static const struct {
        double first, later;
        int nominal;
    } rows[] = {{12.6, 20.49, 12}, {12.6, 20.5, 12}, {12.6, 20.51, 24}, {12.6, 69.99, 48},
                {12.6, 70, 12},    {25, 34.49, 24},  {25, 34.5, 24},    {25, 34.51, 36},
                {37, 46.49, 36},   {37, 46.5, 36},   {37, 46.51, 48},   {25, 6.5, 24},
                {50, 25, 48},      {37, 12.6, 36},   {12.6, 5, 12}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        hand_start(&h);
        battery(rows[i].first, 10);
        int known = nominal();
        battery(rows[i].later, 29);
        assert_int_equal(nominal(), known);
        battery(rows[i].later, 1);
        if (nominal() != rows[i].nominal)
            print_error("%.2f V, then %.2f V\n", rows[i].first, rows[i].later);
        assert_int_equal(nominal(), rows[i].nominal);
        battery(rows[i].later, 40); /* and that is that */
        assert_int_equal(nominal(), rows[i].nominal);
        hand_end(&h);
    }
    hand_start(&h);
}

/* One reading as before, and the thirty begin again; an engine that runs does not shorten them. */
static void correction__thirty_in_a_row(void **state)
{
    (void)state;
    hand_start(&h);
    battery(12.6, 10);
    battery(25, 29);
    battery(14, 1);
    for (int i = 0; i < 3; i++)
        hand_rpm(&h, 0, 0, 800);
    battery(25, 29);
    assert_int_equal(nominal(), 12);
    battery(25, 1);
    assert_int_equal(nominal(), 24);
}

static void configured__no_reading_moves_it(void **state)
{
    (void)state;
    static const double volts[] = {1, 12, 12.4}; /* in whole volts */
    for (size_t i = 0; i < sizeof volts / sizeof volts[0]; i++) {
        hand_end(&h);
        hand_init(&h);
        hand_channel(&h, QTY_BATTERY_VOLTS, 0)->nominal_volts = volts[i];
        hand_start(&h);
        battery(25, 40);
        assert_int_equal(nominal(), (int)volts[i]);
    }
}

/* 127513: the low half of the third byte is 0 for 6 V, then 12, 24, 32, 36, 42 and 48 V. Those we
 * have limits for are known; by the others the readings decide. */
static void told_by_the_battery__known_where_it_is_one_of_ours(void **state)
{
    (void)state;
    static const struct {
        uint8_t code;
        int at_once, after_ten;
    } rows[] = {{0, 0, 24},  {1, 12, 12}, {2, 24, 24}, {3, 0, 24},
                {4, 36, 36}, {5, 0, 24},  {6, 48, 48}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t d[8] = {0, 0xC0, (uint8_t)(0xF0 | rows[i].code), 0x6E, 0, 0xFF, 0x7D, 0x5F};
        hand_start(&h);
        battery(25, 1);
        hand_send(&h, 60, 127513, d, 8);
        assert_int_equal(nominal(), rows[i].at_once);
        battery(25, 9);
        assert_int_equal(nominal(), rows[i].after_ten);
        battery(40, 40); /* what the battery says, no reading moves */
        assert_int_equal(nominal(), rows[i].at_once ? rows[i].at_once : 36);
        hand_end(&h);
    }
    hand_start(&h);
}

static void alternating__volts_at_their_bounds(void **state)
{
    (void)state;
    static const struct {
        int volts, system;
    } rows[] = {{94, 0},    {95, 120},  {145, 120}, {146, 0}, {179, 0},
                {180, 230}, {265, 230}, {266, 0},   {0, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        hand_start(&h);
        alternating(rows[i].volts, 50, 9);
        assert_int_equal(ac_system(QTY_AC_VOLTS), 0);
        alternating(rows[i].volts, 50, 1);
        if (ac_system(QTY_AC_VOLTS) != rows[i].system)
            print_error("at %d V\n", rows[i].volts);
        assert_int_equal(ac_system(QTY_AC_VOLTS), rows[i].system);
        hand_end(&h);
    }
    hand_start(&h);
}

static void alternating__hertz_at_their_bounds(void **state)
{
    (void)state;
    static const struct {
        double hertz;
        int system;
    } rows[] = {{44.99, 0}, {45, 50}, {54.89, 50}, {54.95, 0},
                {55, 60},   {66, 60}, {66.01, 0},  {0, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        hand_start(&h);
        alternating(230, rows[i].hertz, 9);
        assert_int_equal(ac_system(QTY_AC_HERTZ), 0);
        alternating(230, rows[i].hertz, 1);
        if (ac_system(QTY_AC_HERTZ) != rows[i].system)
            print_error("at %.2f Hz\n", rows[i].hertz);
        assert_int_equal(ac_system(QTY_AC_HERTZ), rows[i].system);
        hand_end(&h);
    }
    hand_start(&h);
}

/* Shore power of 230 V that sags or fails for hours is still 230 V; another shore, of 120 V, is
 * believed after thirty readings in a row. */
static void alternating__known_once__only_thirty_in_a_row_change_it(void **state)
{
    (void)state;
    hand_start(&h);
    alternating(230, 50, 10);
    alternating(160, 40, 300); /* of neither */
    assert_int_equal(ac_system(QTY_AC_VOLTS), 230);
    assert_int_equal(ac_system(QTY_AC_HERTZ), 50);
    alternating(120, 60, 29);
    alternating(160, 40, 1);
    alternating(120, 60, 29);
    alternating(230, 50, 1);
    alternating(120, 60, 29);
    assert_int_equal(ac_system(QTY_AC_VOLTS), 230);
    assert_int_equal(ac_system(QTY_AC_HERTZ), 50);
    alternating(120, 60, 1);
    assert_int_equal(ac_system(QTY_AC_VOLTS), 120);
    assert_int_equal(ac_system(QTY_AC_HERTZ), 60);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define T(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
        T(first_guess__at_its_bounds),
        T(first_guess__tenth_reading_in_a_row),
        T(first_guess__engine_runs__third_reading),
        T(first_guess__of_an_engine__goes_by_its_own_state),
        T(correction__upwards_only_at_its_bounds),
        T(correction__thirty_in_a_row),
        T(configured__no_reading_moves_it),
        T(told_by_the_battery__known_where_it_is_one_of_ours),
        T(alternating__volts_at_their_bounds),
        T(alternating__hertz_at_their_bounds),
        T(alternating__known_once__only_thirty_in_a_row_change_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
