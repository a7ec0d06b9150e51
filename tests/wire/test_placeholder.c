/* Values that boxes send for inputs that nothing hangs on, as recorded on real buses (an idle boat
 * with engine instances 11 and 12: nine alerts came of nothing else). */
#include "frames.h"

#include "wire/placeholder.h"

#include <math.h>

/* The values of a message with these bytes. */
static size_t values(uint32_t pgn, const uint8_t *data, uint16_t len, struct wire_value *v)
{
    struct message m = {.pgn = pgn, .len = len, .data = data};
    return decode_values(&m, v);
}

static void battery__all_zeros__is_no_reading(void **state)
{
    (void)state;
    static const uint8_t zeros[8] = {3, 0, 0, 0, 0, 0, 0, 0xFF};
    static const uint8_t flat[8] = {3, 0, 0, 0, 0, 0x94, 0x72, 0xFF}; /* 0 V, 0 A, 20 °C: read */
    struct wire_value v[DECODE_VALUES_MAX];
    size_t n = values(127508, zeros, 8, v);
    assert_int_equal(n, 3);
    for (size_t i = 0; i < n; i++)
        assert_int_equal(v[i].status, READING_NOT_AVAILABLE);
    n = values(127508, flat, 8, v);
    assert_int_equal(v[0].status, READING_OK);
    assert_int_equal(v[1].status, READING_OK);
    assert_int_equal(v[2].status, READING_OK);
}

static void battery__zero_kelvin__is_no_temperature(void **state)
{
    (void)state;
    static const uint8_t d[8] = {0, 0x64, 0x05, 0x32, 0, 0, 0, 0xFF}; /* 13.80 V, 5.0 A, 0 K */
    struct wire_value v[DECODE_VALUES_MAX];
    assert_int_equal(values(127508, d, 8, v), 3);
    assert_int_equal(v[0].status, READING_OK);
    assert_int_equal(v[1].status, READING_OK);
    assert_int_equal(v[2].status, READING_NOT_AVAILABLE);
}

static void signed_fields__all_ones__are_no_readings(void **state)
{
    (void)state;
    static const uint8_t empty[8] = {7, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    static const uint8_t draws[8] = {7, 0x64, 0x05, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    struct wire_value v[DECODE_VALUES_MAX];
    size_t n = values(127508, empty, 8, v);
    for (size_t i = 0; i < n; i++) {
        assert_int_not_equal(v[i].status, READING_OK);
        assert_true(v[i].value == 0.0); /* what is missing has no number */
    }
    values(127508, draws, 8, v); /* 13.8 V and -0.1 A: a battery that gives a little */
    assert_int_equal(v[1].status, READING_OK);
    assert_near(v[1].value, -0.1, 1e-9);
}

/* 127489 of an engine box without alternator and fuel meter: -0.01 V and -0.1 L/h. */
static void engine__all_ones__no_alternator_and_no_burn(void **state)
{
    (void)state;
    uint8_t d[26];
    memset(d, 0xFF, sizeof d);
    d[0] = 11;
    struct wire_value v[DECODE_VALUES_MAX];
    size_t n = values(127489, d, sizeof d, v);
    assert_true(n > 0);
    for (size_t i = 0; i < n; i++)
        assert_int_not_equal(v[i].status, READING_OK);
}

/* Whichever byte of it says something, a tank has a capacity. */
static void tank__capacity_in_any_byte__is_one(void **state)
{
    (void)state;
    for (int byte = 3; byte <= 6; byte++) {
        uint8_t d[8] = {0, 0, 0, 0, 0, 0, 0, 0xFF};
        struct wire_value v[DECODE_VALUES_MAX];
        d[byte] = 1;
        assert_int_equal(values(127505, d, 8, v), 1);
        assert_int_equal(v[0].status, READING_OK);
        d[byte] = 0;
        values(127505, d, 8, v);
        assert_int_not_equal(v[0].status, READING_OK);
    }
}

static void tank__capacity_zero__is_no_tank(void **state)
{
    (void)state;
    uint8_t d[8] = {0x01, 0, 0, 0, 0, 0, 0, 0xFF};
    struct wire_value v[DECODE_VALUES_MAX];
    assert_int_equal(values(127505, d, 8, v), 1);
    assert_int_equal(v[0].status, READING_NOT_AVAILABLE);
    memset(d + 3, 0xFF, 4); /* capacity not known: an empty tank */
    assert_int_equal(values(127505, d, 8, v), 1);
    assert_int_equal(v[0].status, READING_OK);
    d[1] = d[2] = 0xFF;
    values(127505, d, 8, v);
    assert_int_equal(v[0].status, READING_NOT_AVAILABLE);
}

/* Minus one step of each signed field; steps of IEC 61162-3 from memory: 0.01 V, 0.1 A, 0.1 L/h,
 * 1 % of load and torque, 0.004 % of a tank. Minus two steps is a reading. */
static void signed_fields__minus_one_step__of_each_quantity(void **state)
{
    (void)state;
    static const struct {
        enum quantity quantity;
        double step;
        bool may_be;
    } rows[] = {
        {QTY_BATTERY_VOLTS, 0.01, false},
        {QTY_ALTERNATOR, 0.01, false},
        {QTY_FUEL_RATE, 0.1, false},
        {QTY_FUEL_TANK, 0.004, false},
        {QTY_FRESH_WATER_TANK, 0.004, false},
        {QTY_GREY_WATER_TANK, 0.004, false},
        {QTY_LIVE_WELL_TANK, 0.004, false},
        {QTY_OIL_TANK, 0.004, false},
        {QTY_BLACK_WATER_TANK, 0.004, false},
        {QTY_PETROL_TANK, 0.004, false},
        {QTY_LOAD, 1, false},
        {QTY_BATTERY_AMPS, 0.1, true},
        {QTY_TORQUE, 1, true},
    };
    const struct message m = {.pgn = 127489};
    for (int q = QTY_NONE + 1; q < QTY_COUNT; q++) {
        double step = 0.01;
        bool listed = false, may_be = false;
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
            if (rows[i].quantity == (enum quantity)q) {
                step = rows[i].step;
                may_be = rows[i].may_be;
                listed = true;
            }
        const struct wire_value one = {
            .id = {(uint16_t)q, 0, 0}, .status = READING_OK, .value = -step};
        const struct wire_value other = {
            .id = {QTY_BOOST, 0, 0}, .status = READING_OK, .value = 100};
        struct wire_value v[2] = {one, other};
        placeholder_mark(&m, v, 2);
        assert_int_equal(v[0].status != READING_OK, listed && !may_be);
        assert_int_equal(v[1].status, READING_OK);
        v[0] = one;
        placeholder_mark(&m, v, 1); /* alone */
        assert_int_equal(v[0].status != READING_OK, listed);
        v[0] = one;
        v[0].value = -2 * step;
        placeholder_mark(&m, v, 1);
        assert_int_equal(v[0].status, READING_OK);
        v[0] = one;
        v[1] = other;
        v[1].status = READING_NOT_AVAILABLE; /* leaves it alone */
        placeholder_mark(&m, v, 2);
        assert_int_equal(v[0].status != READING_OK, listed);
        v[0].status = READING_OK; /* 0 K, whatever the step of the field */
        v[0].value = -273.15;
        placeholder_mark(&m, v, 1);
        assert_int_equal(v[0].status != READING_OK,
                         quantity_info((enum quantity)q)->unit == UNIT_C);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(battery__all_zeros__is_no_reading),
        cmocka_unit_test(battery__zero_kelvin__is_no_temperature),
        cmocka_unit_test(signed_fields__all_ones__are_no_readings),
        cmocka_unit_test(signed_fields__minus_one_step__of_each_quantity),
        cmocka_unit_test(engine__all_ones__no_alternator_and_no_burn),
        cmocka_unit_test(tank__capacity_in_any_byte__is_one),
        cmocka_unit_test(tank__capacity_zero__is_no_tank),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
