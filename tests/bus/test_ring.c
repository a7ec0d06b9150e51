/* The ring between two threads, and the queue of conditions. */
#include "bus/ring.h"

#include "bus/condition.h"
#include "support/check.h"

#include <pthread.h>
#include <sched.h>
#include <stdio.h>

static void ring__put_and_take__wraps_in_order(void **state)
{
    (void)state;
    struct ring r;
    assert_true(ring_init(&r, 10));
    assert_int_equal(ring_room(&r), 64);
    uint32_t put = 0, taken = 0;
    for (int round = 0; round < 1000; round++) {
        struct frame in[7] = {0}, out[5];
        for (int i = 0; i < 7; i++)
            in[i].id = put + (uint32_t)i;
        put += (uint32_t)ring_put(&r, in, 7);
        size_t n = ring_take(&r, out, 5);
        for (size_t i = 0; i < n; i++)
            assert_int_equal(out[i].id, taken++);
        assert_int_equal(ring_held(&r), put - taken);
        assert_true(ring_held(&r) <= 64);
    }
    assert_int_equal(ring_room(&r), 64 - (put - taken));
    ring_fini(&r);
}

#define MANY 200000u

static void *put_many(void *arg)
{
    struct ring *r = arg;
    for (uint32_t i = 0; i < MANY;) {
        struct frame f = {.id = i, .mono_ns = i};
        if (ring_put(r, &f, 1) == 1)
            i++;
        else
            sched_yield();
    }
    return NULL;
}

static void ring__two_threads__nothing_lost_or_torn(void **state)
{
    (void)state;
    struct ring r;
    pthread_t t;
    assert_true(ring_init(&r, 256));
    assert_int_equal(pthread_create(&t, NULL, put_many, &r), 0);
    for (uint32_t next = 0; next < MANY;) {
        struct frame f[32];
        size_t n = ring_take(&r, f, 32);
        for (size_t i = 0; i < n; i++, next++) {
            assert_int_equal(f[i].id, next);
            assert_int_equal(f[i].mono_ns, next);
        }
        if (n == 0)
            sched_yield();
    }
    pthread_join(t, NULL);
    ring_fini(&r);
}

static void conditions__more_than_fit__the_last_of_each_stays(void **state)
{
    (void)state;
    struct condition_queue *q = condition_queue_new();
    assert_non_null(q);
    struct bus_condition c = {.code = 7, .stands = true}, got;
    condition_put(q, &c);
    for (int i = 0; i < 3 * CONDITIONS_WAITING; i++) {
        c = (struct bus_condition){.code = 9, .stands = i % 2 == 0};
        condition_put(q, &c);
    }
    assert_true(condition_take(q, &got));
    assert_int_equal(got.code, 7);
    int count = 0;
    bool last = true;
    while (condition_take(q, &got)) {
        assert_int_equal(got.code, 9);
        last = got.stands;
        count++;
    }
    assert_int_equal(count, CONDITIONS_WAITING - 1);
    assert_false(last);
    condition_queue_free(q);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ring__put_and_take__wraps_in_order),
        cmocka_unit_test(ring__two_threads__nothing_lost_or_torn),
        cmocka_unit_test(conditions__more_than_fit__the_last_of_each_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
