#include "plant/table.h"

#include "support/check.h"

#include <stdlib.h>

static struct channel_id id_of(unsigned n)
{
    return (struct channel_id){(uint16_t)(1 + n % 40), (uint8_t)(n / 40), (uint8_t)(n / 7)};
}

static void table__full__refuses_and_still_finds_all(void **state)
{
    (void)state;
    struct table *t = calloc(1, sizeof *t);
    assert_non_null(t);
    unsigned n = 0;
    while (n < TABLE_ENTRIES && table_put(t, id_of(n), (uint16_t)(n * 3), (uint16_t)(n & 1023)))
        n++;
    assert_int_equal(n, TABLE_ENTRIES);
    assert_false(table_put(t, id_of(1), 9, 1));
    assert_true(table_put(t, id_of(5), 15, 77)); /* replacing needs no room */
    assert_int_equal(table_get(t, id_of(5), 15), 77);
    for (unsigned i = 6; i < n; i++)
        assert_int_equal(table_get(t, id_of(i), (uint16_t)(i * 3)), i & 1023);
    assert_int_equal(table_get(t, id_of(1), 9), -1);
    free(t);
}

static void table__no_quantity__is_refused(void **state)
{
    (void)state;
    struct table *t = calloc(1, sizeof *t);
    assert_non_null(t);
    assert_false(table_put(t, (struct channel_id){QTY_NONE, 0, 0}, 0, 1));
    free(t);
}

static void table__renamed__others_behind_it_are_still_found(void **state)
{
    (void)state;
    struct table *t = calloc(1, sizeof *t);
    assert_non_null(t);
    for (unsigned i = 0; i < 3000; i++)
        assert_true(table_put(t, id_of(i), 4, (uint16_t)(i & 1023)));
    struct channel_id to = {90, 200, 200};
    for (unsigned i = 0; i < 5; i++) {
        to.sub = (uint8_t)i;
        table_rename(t, id_of(i * 500), to);
        assert_int_equal(table_get(t, id_of(i * 500), 4), -1);
        assert_int_equal(table_get(t, to, 4), (i * 500) & 1023);
    }
    for (unsigned i = 0; i < 3000; i++) {
        if (i % 500 != 0 || i / 500 >= 5)
            assert_int_equal(table_get(t, id_of(i), 4), i & 1023);
    }
    assert_int_equal(t->entries, 3000);
    int taken = 0;
    for (size_t i = 0; i < TABLE_SLOTS; i++)
        taken += t->slots[i] != 0;
    assert_int_equal(taken, 3000); /* nothing is left where they were */
    free(t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(table__full__refuses_and_still_finds_all),
        cmocka_unit_test(table__no_quantity__is_refused),
        cmocka_unit_test(table__renamed__others_behind_it_are_still_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
