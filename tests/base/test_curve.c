#include "base/curve.h"

#include "support/check.h"

#include <stdio.h>

static void curve__between_and_beyond__straight_lines(void **state)
{
    (void)state;
    struct curve c;
    assert_true(curve_parse("0:0, 50:40,100:100", &c, NULL));
    assert_int_equal(c.count, 3);
    assert_near(curve_at(&c, 25), 20, 1e-12);
    assert_near(curve_at(&c, 75), 70, 1e-12);
    assert_near(curve_at(&c, 50), 40, 1e-12);
    /* below the first entry by the first slope (common practice, no source), above likewise */
    assert_near(curve_at(&c, -10), -8, 1e-12);
    assert_near(curve_at(&c, 110), 112, 1e-12);
    assert_true(curve_rises(&c));
}

static void curve__empty__gives_back(void **state)
{
    (void)state;
    struct curve c = {.count = 0};
    assert_near(curve_at(&c, 12.5), 12.5, 0);
}

static void curve__falling_outputs__are_allowed_and_said(void **state)
{
    (void)state;
    struct curve c;
    assert_true(curve_parse("33:100, 240:0", &c, NULL));
    assert_false(curve_rises(&c));
    assert_near(curve_at(&c, 136.5), 50, 1e-9);
}

static void curve__bad_text__is_refused_with_a_reason(void **state)
{
    (void)state;
    static const char *const bad[] = {"",         "0:0",      "0:0,",     "0:0,,1:1", "0;0,1;1",
                                      "1:0, 0:1", "0:0, 0:1", "a:b, c:d", "0:0, 1",   "0:nan, 1:1"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct curve c = {.count = -7};
        struct err e = {""};
        assert_false(curve_parse(bad[i], &c, &e));
        assert_int_equal(c.count, -7);
        assert_true(e.text[0] != '\0');
    }
    char many[CURVE_POINTS * 8 + 16] = "";
    for (int i = 0; i <= CURVE_POINTS; i++)
        snprintf(many + strlen(many), 10, "%s%d:%d", i ? "," : "", i, i);
    struct curve c;
    assert_false(curve_parse(many, &c, NULL));
}

static void curve__written_and_read__the_same(void **state)
{
    (void)state;
    struct curve a, b;
    char text[240];
    assert_true(curve_parse("0:-1.5, 12.25:0.001, 100:99", &a, NULL));
    assert_true(curve_format(text, sizeof text, &a));
    assert_string_equal(text, "0:-1.5, 12.25:0.001, 100:99");
    assert_true(curve_parse(text, &b, NULL));
    assert_near(curve_at(&b, 7), curve_at(&a, 7), 1e-12);
    assert_false(curve_format(text, 10, &a));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(curve__between_and_beyond__straight_lines),
        cmocka_unit_test(curve__empty__gives_back),
        cmocka_unit_test(curve__falling_outputs__are_allowed_and_said),
        cmocka_unit_test(curve__bad_text__is_refused_with_a_reason),
        cmocka_unit_test(curve__written_and_read__the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
