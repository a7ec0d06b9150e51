/* When the computer's clock is believed. The bounds are those of session/clock_trust.h; that a
 * kernel without a time server says so is adjtimex(2): TIME_ERROR. */
#include "support/check.h"

#include "session/clock_trust.h"

static struct stamp at(double mono_s, double wall_s)
{
    return (struct stamp){.wall_ns = (int64_t)(wall_s * 1e9), .mono_ns = (int64_t)(mono_s * 1e9)};
}

/* A turn in which the wall clock goes on as the other does. */
static void turn(struct clock_trust *c, double mono_s, bool kept, bool has_bus, double ahead_s)
{
    clock_trust_judge(c, at(mono_s, 1.7e9 + mono_s), kept, has_bus, (int64_t)(ahead_s * 1e9));
}

static void clock__kept_by_a_server__is_trusted_whatever_the_bus_says(void **state)
{
    (void)state;
    struct clock_trust c = {0};
    turn(&c, 100, true, false, 0);
    assert_true(c.trusted);
    turn(&c, 101, true, true, 3600);
    assert_true(c.trusted);
    assert_false(c.complain);
}

static void clock__by_the_bus_alone__is_trusted_within_two_seconds(void **state)
{
    static const struct {
        double ahead_s;
        bool trusted;
    } rows[] = {{0, true}, {1.9, true}, {-1.9, true}, {2, true}, {2.1, false}, {-2.1, false}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct clock_trust c = {0};
        turn(&c, 100, false, true, rows[i].ahead_s);
        assert_int_equal(c.trusted, rows[i].trusted);
    }
    struct clock_trust c = {0};
    turn(&c, 100, false, false, 0); /* no bus: what is ahead means nothing */
    assert_false(c.trusted);
}

static void clock__never_right__is_complained_of_after_ten_minutes(void **state)
{
    (void)state;
    struct clock_trust c = {0};
    turn(&c, 100, false, false, 0);
    assert_false(c.complain);
    turn(&c, 700, false, false, 0);
    assert_false(c.complain);
    turn(&c, 700.1, false, false, 0);
    assert_true(c.complain);
}

static void clock__right_again__is_no_more_complained_of_and_has_its_patience_again(void **state)
{
    (void)state;
    struct clock_trust c = {0};
    turn(&c, 100, false, false, 0);
    turn(&c, 1000, false, false, 0);
    assert_true(c.complain);
    turn(&c, 1001, false, true, 0.5);
    assert_true(c.trusted);
    assert_false(c.complain);
    turn(&c, 1601, false, false, 0);
    assert_false(c.trusted);
    assert_false(c.complain);
    turn(&c, 1601.1, false, false, 0);
    assert_true(c.complain);
}

static void clock__set__is_told_by_how_much_and_once(void **state)
{
    static const struct {
        double by_s;
        bool told;
    } rows[] = {{1.9, false}, {-1.9, false}, {2.5, true}, {-3600, true}, {9e8, true}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct clock_trust c = {0};
        clock_trust_judge(&c, at(100, 1e9), true, false, 0);
        assert_int_equal(c.jumped_ns, 0); /* the first look compares with nothing */
        clock_trust_judge(&c, at(101, 1e9 + 1 + rows[i].by_s), true, false, 0);
        assert_int_equal(c.jumped_ns, rows[i].told ? (int64_t)(rows[i].by_s * 1e9) : 0);
        clock_trust_judge(&c, at(102, 1e9 + 2 + rows[i].by_s), true, false, 0);
        assert_int_equal(c.jumped_ns, 0);
    }
}

/* A machine's clock slews by parts in a thousand at most (adjtime(3)): many small steps are none.
 */
static void clock__slewed__is_not_called_set(void **state)
{
    (void)state;
    struct clock_trust c = {0};
    for (int i = 0; i < 10000; i++) {
        clock_trust_judge(&c, at(100 + i, 1.7e9 + i * 1.0005), true, false, 0);
        assert_int_equal(c.jumped_ns, 0);
    }
}

/* The kernel is asked every ten seconds, not at every turn; what it says of this machine is not
 * known here, only that it is kept meanwhile. */
static void kernel__asked__every_ten_seconds(void **state)
{
    (void)state;
    struct clock_trust c = {0};
    clock_trust_turn(&c, at(100, 1.7e9), false, 0);
    assert_int_equal(c.asked_ns, at(100, 0).mono_ns);
    bool kept = c.kept;
    c.kept = !kept; /* as if it had said the other */
    clock_trust_turn(&c, at(109.9, 1.7e9 + 9.9), false, 0);
    assert_int_equal(c.asked_ns, at(100, 0).mono_ns);
    assert_int_equal(c.trusted, !kept);
    clock_trust_turn(&c, at(110, 1.7e9 + 10), false, 0);
    assert_int_equal(c.asked_ns, at(110, 0).mono_ns);
    assert_int_equal(c.trusted, kept);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clock__kept_by_a_server__is_trusted_whatever_the_bus_says),
        cmocka_unit_test(clock__by_the_bus_alone__is_trusted_within_two_seconds),
        cmocka_unit_test(clock__never_right__is_complained_of_after_ten_minutes),
        cmocka_unit_test(clock__right_again__is_no_more_complained_of_and_has_its_patience_again),
        cmocka_unit_test(clock__set__is_told_by_how_much_and_once),
        cmocka_unit_test(clock__slewed__is_not_called_set),
        cmocka_unit_test(kernel__asked__every_ten_seconds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
