/* Conditions on their way to the watch: in the order they came; where nobody takes them for long,
 * the newest word on each code stays. */
#include "bus/condition.h"

#include "support/check.h"

static struct condition_queue *queue;

static int setup(void **state)
{
    (void)state;
    queue = condition_queue_new();
    return queue ? 0 : -1;
}

static int teardown(void **state)
{
    (void)state;
    condition_queue_free(queue);
    return 0;
}

static void put(uint32_t code, int64_t at_ns)
{
    struct bus_condition c = {.code = code, .stands = true, .at = {at_ns, at_ns}};
    condition_put(queue, &c);
}

static void taken(uint32_t code, int64_t at_ns)
{
    struct bus_condition c;
    assert_true(condition_take(queue, &c));
    assert_int_equal(c.code, code);
    assert_int_equal(c.at.mono_ns, at_ns);
}

static void none_left(void)
{
    struct bus_condition c;
    assert_false(condition_take(queue, &c));
}

static void queue__in_the_order_they_came(void **state)
{
    (void)state;
    none_left();
    put(5, 100);
    put(3, 101);
    put(5, 102); /* the same again: it came and went between */
    taken(5, 100);
    put(9, 103);
    taken(3, 101);
    taken(5, 102);
    taken(9, 103);
    none_left();
}

static void queue__full__an_older_word_on_the_same_code_gives_way(void **state)
{
    (void)state;
    for (int i = 0; i < CONDITIONS_WAITING; i++)
        put((uint32_t)i, i);
    put(40, 1000);
    put(CONDITIONS_WAITING - 1, 1001); /* the last but one by now */
    put(0, 1002);
    for (int i = 1; i < CONDITIONS_WAITING - 1; i++)
        if (i != 40)
            taken((uint32_t)i, i);
    taken(40, 1000);
    taken(CONDITIONS_WAITING - 1, 1001);
    taken(0, 1002);
    none_left();
}

static void queue__full__the_newest_gives_way_to_a_newer_word(void **state)
{
    (void)state;
    for (int i = 0; i < CONDITIONS_WAITING; i++)
        put((uint32_t)i, i);
    put(CONDITIONS_WAITING - 1, 1000);
    for (int i = 0; i < CONDITIONS_WAITING - 1; i++)
        taken((uint32_t)i, i);
    taken(CONDITIONS_WAITING - 1, 1000);
    none_left();
}

static void queue__full_of_others__the_oldest_gives_way(void **state)
{
    (void)state;
    for (int i = 0; i < CONDITIONS_WAITING; i++)
        put((uint32_t)i, i);
    put(700, 1000);
    for (int i = 1; i < CONDITIONS_WAITING; i++)
        taken((uint32_t)i, i);
    taken(700, 1000);
    none_left();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define T(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
        T(queue__in_the_order_they_came),
        T(queue__full__an_older_word_on_the_same_code_gives_way),
        T(queue__full__the_newest_gives_way_to_a_newer_word),
        T(queue__full_of_others__the_oldest_gives_way),
    };
    condition_queue_free(NULL);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
