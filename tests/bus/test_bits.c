/* Bits of a frame on the bus. */
#include "bus/bits.h"

#include "support/check.h"

static struct frame extended(uint32_t id, uint8_t len, uint8_t fill)
{
    struct frame f = {.id = id, .len = len, .flags = FRAME_EXTENDED};
    for (int i = 0; i < len; i++)
        f.data[i] = fill;
    return f;
}

/* 67 + 8n and 80 + 10n bits for n bytes and a 29-bit id: Real-Time Systems 35:239-272 (2007),
 * the figures that can-utils' canframelen.h cites. */
static void bits__extended__follow_the_closed_forms(void **state)
{
    (void)state;
    for (uint8_t n = 0; n <= 8; n++) {
        struct frame f = extended(0x09F2000A, n, 0x5A);
        assert_int_equal(bits_plain(&f), 67 + 8 * n);
        assert_int_equal(bits_worst(&f), 80 + 10 * n);
    }
}

/* 47 + 8n and 55 + 10n for 11 bits, same source. */
static void bits__standard__follow_the_closed_forms(void **state)
{
    (void)state;
    for (uint8_t n = 0; n <= 8; n++) {
        struct frame f = {.id = 0x123, .len = n};
        assert_int_equal(bits_plain(&f), 47 + 8 * n);
        assert_int_equal(bits_worst(&f), 55 + 10 * n);
    }
}

static void bits__remote__carries_no_data(void **state)
{
    (void)state;
    struct frame f = {.id = 0x123, .len = 8, .flags = FRAME_REMOTE};
    assert_int_equal(bits_plain(&f), 47);
}

static void bits__exact__lies_between_plain_and_worst(void **state)
{
    (void)state;
    uint32_t random = 1;
    for (int i = 0; i < 2000; i++) {
        struct frame f = extended(0, (uint8_t)(i % 9), 0);
        random = random * 1664525u + 1013904223u;
        f.id = random >> 3;
        for (int k = 0; k < f.len; k++) {
            random = random * 1664525u + 1013904223u;
            f.data[k] = (uint8_t)(random >> 24);
        }
        assert_in_range(bits_exact(&f), bits_plain(&f), bits_worst(&f));
    }
}

/* Worked by hand: id 0, no data, 11 bits. 19 dominant bits from the start of frame to the length
 * code; a checksum over zeros is zero, so that 34 equal bits stand in a row. A stuff bit comes
 * after the first five and then, being recessive, after every further five: 6 of them. */
static void bits__all_zero__stuffs_every_fifth(void **state)
{
    (void)state;
    struct frame f = {.id = 0, .len = 0};
    assert_int_equal(bits_exact(&f), 47 + 6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bits__extended__follow_the_closed_forms),
        cmocka_unit_test(bits__standard__follow_the_closed_forms),
        cmocka_unit_test(bits__remote__carries_no_data),
        cmocka_unit_test(bits__exact__lies_between_plain_and_worst),
        cmocka_unit_test(bits__all_zero__stuffs_every_fifth),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
