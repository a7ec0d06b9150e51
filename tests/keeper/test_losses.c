/* What the keeper says was left out. */
#include "rules/boat.h"

static struct losses losses(const struct boat *b)
{
    return keeper_losses(b->keeper);
}

static void losses__healthy_boat__none(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 20);
    struct losses l = losses(b);
    assert_int_equal(l.incomplete + l.gaps + l.dropped + l.unbound + l.alerts_lost, 0);
    boat_free(b);
}

static void losses__hole_in_the_record__counted_as_gap(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 5);
    const uint8_t quiet[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    b->ms += 3600 * 1000;
    boat_frame(b, 127488, 99, quiet, FRAME_GAP);
    boat_run(b, 5);
    assert_int_equal(losses(b).gaps, 1);
    boat_free(b);
}

/* A watch that was stopped, live: SIGSTOP, a suspended laptop. */
static void losses__watch_that_was_stopped__counted_as_gap(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 5);
    boat_wait(b, 1);
    b->ms += 60 * 1000;
    boat_wait(b, 1);
    assert_int_equal(losses(b).gaps, 1);
    boat_free(b);
}

static void losses__fast_packet_without_its_end__counted_as_incomplete(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    uint8_t first[8] = {0x00, 26, 0, 0, 0, 0, 0, 0};
    boat_frame(b, 127489, 50, first, 0);
    first[0] = 0x02; /* the second of its frames never came */
    boat_frame(b, 127489, 50, first, 0);
    assert_int_equal(losses(b).incomplete, 1);
    boat_free(b);
}

static void losses__more_rules_than_room__counted_as_unbound(void **state)
{
    (void)state;
    enum { RULES = 60, TANKS = 120 };
    char text[RULES * 80], *at = text;
    for (int i = 0; i < RULES; i++)
        at += snprintf(at, (size_t)(text + sizeof text - at),
                       "[limit extra-%d]\nchannel = fuel-tank.*\nbelow = %d %%\n", i, 1 + i);
    struct boat *b = boat_new(text);
    uint8_t tank[8] = {0, 0x10, 0x27, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    for (int i = 0; i < TANKS; i++) {
        tank[0] = (uint8_t)(i % 14);
        boat_frame(b, 127505, (uint8_t)(60 + i / 14), tank, 0);
    }
    assert_true(losses(b).unbound > 0);
    boat_run(b, 3);
    /* A limit that nobody watches is a warning. */
    const struct boat_event *e = boat_find(b, EVENT_RAISED, KIND_SELF);
    assert_non_null(e);
    assert_int_equal(e->alert.priority, PRIORITY_WARNING);
    assert_non_null(strstr(e->alert.text, "not watched"));
    assert_int_equal(losses(b).dropped, 0);
    boat_free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(losses__healthy_boat__none),
        cmocka_unit_test(losses__hole_in_the_record__counted_as_gap),
        cmocka_unit_test(losses__watch_that_was_stopped__counted_as_gap),
        cmocka_unit_test(losses__fast_packet_without_its_end__counted_as_incomplete),
        cmocka_unit_test(losses__more_rules_than_room__counted_as_unbound),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
