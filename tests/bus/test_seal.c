/* The seal of a packed piece, byte for byte as seal.h lays it out (the frame is RFC 8878's, 3.1.2:
 * skippable): each byte of it counts. */
#include "bus/seal.h"

#include "support/check.h"

#include <string.h>

#define SUM "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" /* of "abc" */

static void seal__made__is_the_frame_as_written_down(void **state)
{
    (void)state;
    uint8_t seal[SEAL_SIZE + 2];
    memset(seal, 0xEE, sizeof seal);
    seal_make(seal, SUM);
    static const uint8_t head[8] = {0x50, 0x2A, 0x4D, 0x18, 89, 0, 0, 0}; /* 24 + 64 + 1 */
    assert_int_equal(SEAL_SIZE, 8 + 89);
    assert_memory_equal(seal, head, 8);
    assert_memory_equal(seal + 8, "stokehold seal 1 sha256=" SUM "\n", 89);
    assert_int_equal(seal[SEAL_SIZE], 0xEE);
}

static void seal__read__gives_the_sum_again_and_each_byte_counts(void **state)
{
    (void)state;
    uint8_t seal[SEAL_SIZE];
    char sum[SHA256_TEXT];
    seal_make(seal, SUM);
    memset(sum, 'x', sizeof sum);
    assert_true(seal_read(seal, sum));
    assert_string_equal(sum, SUM);
    for (size_t i = 0; i < SEAL_SIZE; i++) {
        bool of_the_sum = i >= 8 + 24 && i < SEAL_SIZE - 1;
        seal[i] ^= 1;
        assert_int_equal(seal_read(seal, sum), of_the_sum);
        if (of_the_sum) /* another sum, and so the lines are not those that were packed */
            assert_string_not_equal(sum, SUM);
        seal[i] ^= 1;
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(seal__made__is_the_frame_as_written_down),
        cmocka_unit_test(seal__read__gives_the_sum_again_and_each_byte_counts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
