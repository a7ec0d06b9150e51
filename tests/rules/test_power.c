/* Limits of alternating current and of an engine's levels, each passed a little and not quite,
 * through the whole path. 207 to 253 V: IEC 60038 (230 V and 10 %), and the same share of 120 V;
 * 47 Hz: EN 50160 (from memory); the rest has its reason beside it in configs/stokehold.conf.
 * Layouts: open definitions of IEC 61162-3, SAE J1939DA. */
#include "rules/boat.h"

enum from { SHORE, GENSET };

/* 127503, one line good; or 65027 of the generator at address 234. */
static void supply(struct boat *b, enum from from, double volts, double hertz, int seconds)
{
    for (int i = 0; i < seconds; i++) {
        uint8_t line[20] = {0, 1, 0xFC, 0, 0, 124, 0, 0, 0, 0x40, 0x01}, phase[8];
        memset(phase, 0xFF, sizeof phase);
        boat_put16(line + 3, volts, 0.01, 0);
        boat_put16(line + 7, hertz, 0.01, 0);
        boat_put16(phase + 2, volts, 1, 0);
        boat_put16(phase + 4, hertz, 1.0 / 128, 0);
        if (from == SHORE)
            boat_fast(b, 127503, 70, line, 20);
        else
            boat_frame(b, 65027, 234, phase, 0);
        boat_run(b, 1);
    }
}

static void supply__out_of_its_limits__warning_of_the_right_rule(void **state)
{
    (void)state;
    static const struct {
        enum from from;
        double volts, hertz; /* of a good supply */
        double bad_volts, bad_hertz;
        const char *rule; /* NULL: still good */
    } rows[] = {
        {SHORE, 230, 50, 208, 50, NULL},
        {SHORE, 230, 50, 206, 50, "shore-low-230"},
        {SHORE, 230, 50, 252, 50, NULL},
        {SHORE, 230, 50, 254, 50, "shore-high-230"},
        {SHORE, 120, 60, 109, 60, NULL},
        {SHORE, 120, 60, 107, 60, "shore-low-120"},
        {SHORE, 120, 60, 131, 60, NULL},
        {SHORE, 120, 60, 133, 60, "shore-high-120"},
        {SHORE, 230, 50, 230, 47.1, NULL},
        {SHORE, 230, 50, 230, 46.9, "shore-hertz-low-50"},
        {SHORE, 230, 50, 230, 53.2, NULL},
        {SHORE, 230, 50, 230, 53.4, "shore-hertz-high-50"},
        {SHORE, 120, 60, 120, 56.5, NULL},
        {SHORE, 120, 60, 120, 56.3, "shore-hertz-low-60"},
        {SHORE, 120, 60, 120, 63.9, NULL},
        {SHORE, 120, 60, 120, 64.1, "shore-hertz-high-60"},
        {GENSET, 230, 50, 208, 50, NULL},
        {GENSET, 230, 50, 206, 50, "generator-low-230"},
        {GENSET, 230, 50, 252, 50, NULL},
        {GENSET, 230, 50, 254, 50, "generator-high-230"},
        {GENSET, 120, 60, 109, 60, NULL},
        {GENSET, 120, 60, 107, 60, "generator-low-120"},
        {GENSET, 120, 60, 131, 60, NULL},
        {GENSET, 120, 60, 133, 60, "generator-high-120"},
        {GENSET, 230, 50, 230, 47.6, NULL},
        {GENSET, 230, 50, 230, 47.4, "generator-hertz-low-50"},
        {GENSET, 230, 50, 230, 52.5, NULL}, /* 5 % fast without load: class G2 of ISO 8528-5 */
        {GENSET, 230, 50, 230, 53.4, "generator-hertz-high-50"},
        {GENSET, 120, 60, 120, 57.1, NULL},
        {GENSET, 120, 60, 120, 56.9, "generator-hertz-low-60"},
        {GENSET, 120, 60, 120, 63.0, NULL},
        {GENSET, 120, 60, 120, 64.1, "generator-hertz-high-60"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct boat *b = boat_new(NULL);
        supply(b, rows[i].from, rows[i].volts, rows[i].hertz, 30);
        assert_int_equal(b->count, 0);
        supply(b, rows[i].from, rows[i].bad_volts, rows[i].bad_hertz, 30);
        if ((b->count == 1) != (rows[i].rule != NULL) || b->count > 1)
            fail_msg("row %zu: %d alerts", i, b->count);
        if (rows[i].rule) {
            assert_string_equal(b->events[0].alert.rule, rows[i].rule);
            assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
            supply(b, rows[i].from, rows[i].volts, rows[i].hertz, 30);
            assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
        }
        boat_free(b);
    }
}

/* A voltage that no system has is a fault of the one that was there, however long it lasts. */
static void supply__of_no_system__stays_what_it_was(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    supply(b, SHORE, 230, 50, 30);
    supply(b, SHORE, 300, 50, 90);
    assert_int_equal(b->count, 1);
    assert_string_equal(b->events[0].alert.rule, "shore-high-230");
    boat_free(b);
}

/* Only who asks for it is told that shore power went: a plug that is pulled looks the same. */
static void shore__lost__is_told_where_it_is_switched_on(void **state)
{
    (void)state;
    for (int on = 0; on < 2; on++) {
        struct boat *b = boat_new(on ? "[limit shore-lost]\nenabled = yes\n" : NULL);
        supply(b, SHORE, 230, 50, 30);
        supply(b, SHORE, 0, 0, 50);
        assert_int_equal(b->count, 0);
        supply(b, SHORE, 0, 0, 20);
        assert_int_equal(b->count, on);
        if (on)
            assert_string_equal(b->events[0].alert.rule, "shore-lost");
        boat_free(b);
    }
}

/* 65263 of the starboard engine: SPN 98 oil level, SPN 111 coolant level, 0.4 % a bit. */
static void levels__low__warn_after_their_hold(void **state)
{
    (void)state;
    static const struct {
        double oil, coolant;
        const char *rule;
    } rows[] = {
        {21.2, 41.2, NULL},
        {18.8, 100, "oil-level-low"},
        {100, 38.8, "coolant-level-low"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct boat *b = boat_new(NULL);
        for (int t = 0; t < 120; t++) {
            bool low = t >= 30;
            uint8_t d[8];
            memset(d, 0xFF, sizeof d);
            d[2] = (uint8_t)((low ? rows[i].oil : 80) / 0.4 + 0.5);
            d[7] = (uint8_t)((low ? rows[i].coolant : 80) / 0.4 + 0.5);
            boat_frame(b, 65263, 1, d, 0);
            boat_run(b, 1);
            if (t == 55)
                assert_int_equal(b->count, 0); /* both hold longer: senders slop */
        }
        assert_int_equal(b->count, rows[i].rule != NULL);
        if (rows[i].rule) {
            assert_string_equal(b->events[0].alert.rule, rows[i].rule);
            assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
            assert_int_equal(strncmp(b->events[0].alert.text, "STARBOARD ", 10), 0);
        }
        boat_free(b);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(supply__of_no_system__stays_what_it_was),
        cmocka_unit_test(supply__out_of_its_limits__warning_of_the_right_rule),
        cmocka_unit_test(shore__lost__is_told_where_it_is_switched_on),
        cmocka_unit_test(levels__low__warn_after_their_hold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
