/* What the record says of its own troubles: each once when it begins, once when it is over, and not
 * before its time. */
#include "record/told.h"

#include "support/check.h"

#define S        NS_PER_S
#define SORT(c)  ((c).code & 0xFF)
#define BEGAN    (5000 * S) /* long after the machine's start: nothing has happened for an hour */
#define A_MINUTE (60 * S)
#define AN_HOUR  (3600 * S)

static struct told told;

static struct stamp at(int64_t ns)
{
    return (struct stamp){INT64_C(1760000400) * S + ns, BEGAN + ns};
}

static int set_up(void **state)
{
    (void)state;
    told = (struct told){0};
    return told_init(&told) ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    told_fini(&told);
    return 0;
}

static void expect(enum condition_sort sort, bool stands, const char *text, struct stamp when)
{
    struct bus_condition c;
    assert_true(condition_take(told.conditions, &c));
    assert_int_equal(SORT(c), sort);
    assert_int_equal(c.code >> 8, 0);
    assert_int_equal(c.stands, stands);
    assert_int_equal(c.priority, PRIORITY_CAUTION);
    assert_string_equal(c.text, text);
    assert_int_equal(c.at.mono_ns, when.mono_ns);
    assert_int_equal(c.at.wall_ns, when.wall_ns);
}

static void expect_nothing(void)
{
    struct bus_condition c;
    if (condition_take(told.conditions, &c))
        fail_msg("said: %s", c.text);
}

static void refused__again_and_again__is_said_once_and_once_over(void **state)
{
    (void)state;
    told_works(&told, at(0)); /* nothing was wrong */
    expect_nothing();
    told_refused(&told, "no space", at(1));
    expect(CONDITION_RECORD, true, "no space", at(1));
    told_refused(&told, "no space", at(2));
    expect_nothing();
    told_works(&told, at(3));
    expect(CONDITION_RECORD, false, "recording goes on", at(3));
    told_works(&told, at(4));
    expect_nothing();
    told_refused(&told, "gone", at(5));
    expect(CONDITION_RECORD, true, "gone", at(5));
}

static void lost__more_frames__stands_until_more_than_a_minute_without(void **state)
{
    (void)state;
    told_turn(&told, 0, at(0));
    expect_nothing();
    told_turn(&told, 3, at(S));
    expect(CONDITION_RECORD_LOST, true, "the record misses frames: the disk is too slow", at(S));
    told_turn(&told, 4, at(2 * S)); /* said already; the minute begins again */
    expect_nothing();
    told_turn(&told, 4, at(2 * S + A_MINUTE));
    expect_nothing();
    told_turn(&told, 4, at(2 * S + A_MINUTE + 1));
    expect(CONDITION_RECORD_LOST, false, "the record is complete again", at(2 * S + A_MINUTE + 1));
    told_turn(&told, 4, at(3 * A_MINUTE));
    expect_nothing();
    told_turn(&told, 5, at(4 * A_MINUTE));
    expect(CONDITION_RECORD_LOST, true, "the record misses frames: the disk is too slow",
           at(4 * A_MINUTE));
}

static void given__each_by_its_name__over_an_hour_after_the_last(void **state)
{
    (void)state;
    told_turn(&told, 0, at(0));
    expect_nothing();
    told_given(&told, "20251009-exhaust", at(0));
    expect(CONDITION_RECORD_GIVEN, true, "no room: the incident 20251009-exhaust was given up",
           at(0));
    told_given(&told, "20251010-coolant", at(S));
    expect(CONDITION_RECORD_GIVEN, true, "no room: the incident 20251010-coolant was given up",
           at(S));
    told_turn(&told, 0, at(S + AN_HOUR - 1));
    expect_nothing();
    told_turn(&told, 0, at(S + AN_HOUR));
    expect(CONDITION_RECORD_GIVEN, false, "no incident was given up in the last hour",
           at(S + AN_HOUR));
    told_turn(&told, 0, at(2 * AN_HOUR));
    expect_nothing();
}

/* One trouble does not end or hide another. */
static void troubles__together__are_told_apart(void **state)
{
    (void)state;
    told_refused(&told, "no space", at(0));
    expect(CONDITION_RECORD, true, "no space", at(0));
    told_turn(&told, 1, at(1));
    expect(CONDITION_RECORD_LOST, true, "the record misses frames: the disk is too slow", at(1));
    told_given(&told, "a", at(2));
    expect(CONDITION_RECORD_GIVEN, true, "no room: the incident a was given up", at(2));
    told_works(&told, at(3));
    expect(CONDITION_RECORD, false, "recording goes on", at(3));
    told_turn(&told, 1, at(4));
    expect_nothing();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(refused__again_and_again__is_said_once_and_once_over,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(lost__more_frames__stands_until_more_than_a_minute_without,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(given__each_by_its_name__over_an_hour_after_the_last,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(troubles__together__are_told_apart, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
