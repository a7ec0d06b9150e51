/* The queue of what the record's thread is to do: order, bound, and who owns the text. */
#include "record/orders.h"

#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void put(struct orders *o, int i)
{
    char text[16];
    snprintf(text, sizeof text, "line %d", i);
    orders_put(o, ORDER_ALERT, text, (uint32_t)i, (struct stamp){i, 10 * i});
}

/* The first one is number i; it goes. */
static void take(struct orders *o, int i)
{
    struct order first;
    char text[16];
    snprintf(text, sizeof text, "line %d", i);
    assert_true(orders_first(o, &first));
    assert_string_equal(first.text, text);
    assert_int_equal(first.alert, i);
    orders_done(o);
    free(first.text);
}

static void first__put_in_order__stays_until_it_is_done(void **state)
{
    (void)state;
    static struct orders o;
    struct order first, again;
    char text[] = "an alert";
    orders_init(&o);
    assert_false(orders_first(&o, &first));
    orders_put(&o, ORDER_INCIDENT, text, 7, (struct stamp){1, 2});
    put(&o, 8);
    memset(text, 'x', sizeof text - 1); /* it was copied */
    assert_true(orders_first(&o, &first));
    assert_true(orders_first(&o, &again));
    assert_ptr_equal(first.text, again.text);
    assert_string_equal(first.text, "an alert");
    assert_int_equal(first.sort, ORDER_INCIDENT);
    assert_int_equal(first.alert, 7);
    assert_int_equal(first.at.wall_ns, 1);
    assert_int_equal(first.at.mono_ns, 2);
    orders_done(&o);
    free(first.text);
    take(&o, 8);
    assert_false(orders_first(&o, &first));
    orders_fini(&o);
}

/* The one in front may be in the other thread's hands: the second gives way, then the third. */
static void put__as_many_as_fit_and_more__oldest_that_nobody_holds_goes(void **state)
{
    (void)state;
    static struct orders o;
    struct order held, first;
    orders_init(&o);
    for (int i = 0; i < ORDERS_MAX; i++)
        put(&o, i);
    assert_int_equal(o.count, ORDERS_MAX);
    assert_true(orders_first(&o, &held));
    put(&o, ORDERS_MAX);
    put(&o, ORDERS_MAX + 1);
    assert_int_equal(o.count, ORDERS_MAX);
    assert_string_equal(held.text, "line 0"); /* not freed under its holder */
    take(&o, 0);
    for (int i = 3; i < ORDERS_MAX + 2; i++)
        take(&o, i);
    assert_false(orders_first(&o, &first));
    orders_fini(&o);
}

/* What still waits at the end is freed; the sanitizer and valgrind look for the rest. */
static void fini__some_wait__leaves_none(void **state)
{
    (void)state;
    static struct orders o;
    orders_init(&o);
    put(&o, 1);
    put(&o, 2);
    orders_fini(&o);
    assert_int_equal(o.count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(first__put_in_order__stays_until_it_is_done),
        cmocka_unit_test(put__as_many_as_fit_and_more__oldest_that_nobody_holds_goes),
        cmocka_unit_test(fini__some_wait__leaves_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
