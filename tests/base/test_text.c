#include "support/check.h"

#include "base/text.h"

#include <locale.h>
#include <stdio.h>

static const char *number(double v, int decimals)
{
    static char buf[40];
    buf[0] = '?';
    text_number(buf, sizeof buf, v, decimals);
    return buf;
}

static void text_copy__cut_inside_a_character__drops_the_whole_character(void **state)
{
    (void)state;
    char buf[6];
    assert_true(text_copy(buf, sizeof buf, "abcde"));
    assert_string_equal(buf, "abcde");
    assert_false(text_copy(buf, sizeof buf, "abcd°C"));
    assert_string_equal(buf, "abcd");
    assert_false(text_copy(buf, 1, "x"));
    assert_string_equal(buf, "");
}

static void text_append__full__says_so_and_stays_terminated(void **state)
{
    (void)state;
    char buf[8] = "abc";
    assert_true(text_append(buf, sizeof buf, "%d", 12));
    assert_string_equal(buf, "abc12");
    assert_false(text_append(buf, sizeof buf, "%s", "6°"));
    assert_string_equal(buf, "abc126");
    assert_false(text_append(buf, sizeof buf, "%s", "zzz"));
    assert_string_equal(buf, "abc126z");
}

static void text_clean__escape_codes_and_controls__become_question_marks(void **state)
{
    (void)state;
    char buf[64];
    text_clean(buf, sizeof buf, "\033[2Jred\007\177", 9);
    assert_string_equal(buf, "?[2Jred??");
    /* C1 CSI as one byte and as UTF-8, a right-to-left override, a zero-width space */
    text_clean(buf, sizeof buf,
               "a\x9b"
               "b\xc2\x9b"
               "c\xe2\x80\xae"
               "d\xe2\x80\x8b"
               "e",
               14);
    assert_string_equal(buf, "a?b?c?d?e");
    text_clean(buf, sizeof buf, "\xc0\xafx\xed\xa0\x80\xf5y", 8);
    assert_null(strchr(buf, (char)0xc0));
    assert_non_null(strchr(buf, 'x'));
}

static void text_clean__padding__is_dropped(void **state)
{
    (void)state;
    char buf[64];
    text_clean(buf, sizeof buf, "Tern\xff\xff\xff", 7);
    assert_string_equal(buf, "Tern");
    text_clean(buf, sizeof buf, "Tern  @@@", 9);
    assert_string_equal(buf, "Tern");
    text_clean(buf, sizeof buf, "ab\0cd", 5);
    assert_string_equal(buf, "ab");
    text_clean(buf, sizeof buf, "Mañana °", 10);
    assert_string_equal(buf, "Mañana °");
    text_clean(buf, 6, "Tern Point", 10); /* what is cut ends as what is whole */
    assert_string_equal(buf, "Tern");
    text_clean(buf, 6, "Tern@Point", 10);
    assert_string_equal(buf, "Tern");
}

static void clean_prefix(void *ctx, const void *data, size_t len)
{
    char *buf = ctx;
    text_clean(buf, 12, data, len);
    for (const char *p = buf; *p; p++)
        assert_true((unsigned char)*p >= 0x20 && *p != 0x7f);
}

static void text_clean__every_prefix_of_mixed_bytes__stays_printable(void **state)
{
    (void)state;
    char buf[12];
    static const char mixed[] = "\xf0\x9f\x9a\xa2\x1b]0;x\x07 \xe2\x82\xac\xc3\xa9\xff\xfe\x80 end";
    for_every_prefix(mixed, sizeof mixed - 1, clean_prefix, buf);
}

static void text_number__rounds_half_away_and_never_writes_minus_zero(void **state)
{
    (void)state;
    assert_string_equal(number(1.5, 0), "2");
    assert_string_equal(number(-1.5, 0), "-2");
    assert_string_equal(number(0.125, 2), "0.13");
    assert_string_equal(number(-0.004, 2), "0.00");
    assert_string_equal(number(9.996, 2), "10.00");
    assert_string_equal(number(333.15 - 273.15, 3), "60.000");
    assert_string_equal(number(0, 3), "0.000");
    assert_string_equal(number(4294967293.0, 1), "4294967293.0");
    assert_string_equal(number(1e15, 0), "");
    assert_string_equal(number(NAN, 2), "");
    assert_string_equal(number(-INFINITY, 2), "");
}

static void text_number__too_small_a_buffer__gives_nothing(void **state)
{
    (void)state;
    char buf[4];
    assert_int_equal(text_number(buf, sizeof buf, 123.4, 1), 0);
    assert_string_equal(buf, "");
    assert_int_equal(text_number(buf, sizeof buf, 123, 0), 3);
}

static void text_to_double__accepts_numbers_whole_and_only(void **state)
{
    (void)state;
    double v = -1;
    assert_true(text_to_double(" 93.3 ", &v));
    assert_near(v, 93.3, 1e-12);
    assert_true(text_to_double("-1e-3", &v));
    assert_near(v, -0.001, 1e-15);
    assert_true(text_to_double(".5", &v));
    assert_near(v, 0.5, 0);
    static const char *const bad[] = {"",    "-",   ".",  "1,5", "0x10",
                                      "nan", "inf", "1e", "1 2", "1e999"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_false(text_to_double(bad[i], &v));
    assert_near(v, 0.5, 0); /* untouched by the failures */
}

static void text_to_long__outside_its_bounds__is_refused(void **state)
{
    (void)state;
    long n = 7;
    assert_true(text_to_long("252", 0, 252, &n));
    assert_int_equal(n, 252);
    assert_false(text_to_long("253", 0, 252, &n));
    assert_false(text_to_long("1.0", 0, 252, &n));
    assert_false(text_to_long("99999999999999999999", 0, 252, &n));
    assert_int_equal(n, 252);
}

static void text_width__counts_columns_not_bytes(void **state)
{
    (void)state;
    assert_int_equal(text_width("61 °C"), 5);
    assert_int_equal(text_width("e\xcc\x81"), 1);    /* combining acute */
    assert_int_equal(text_width("\xe6\xa9\x9f"), 2); /* U+6A5F, East Asian Wide (UAX #11) */
    assert_int_equal(text_width("\xff"), 1);
    assert_int_equal(text_width(""), 0);
}

static void text_distance__is_levenshteins(void **state)
{
    (void)state;
    /* the usual worked example of edit distance */
    assert_int_equal(text_distance("kitten", "sitting"), 3);
    assert_int_equal(text_distance("", "abc"), 3);
    assert_int_equal(text_distance("scale", "sclae"), 2);
    assert_int_equal(text_distance("same", "same"), 0);
    /* as long as it compares, and one more */
    const char *long_text = "0123456789abcdef0123456789abcdef0123456789abcdefX";
    char a[50], b[50];
    for (int n = 47; n <= 49; n++) {
        snprintf(a, sizeof a, "%.*s", n, long_text);
        snprintf(b, sizeof b, "%.*s", n, long_text);
        b[0] = 'Y';
        assert_int_equal(text_distance(a, b), n <= 48 ? 1 : 48);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_copy__cut_inside_a_character__drops_the_whole_character),
        cmocka_unit_test(text_append__full__says_so_and_stays_terminated),
        cmocka_unit_test(text_clean__escape_codes_and_controls__become_question_marks),
        cmocka_unit_test(text_clean__padding__is_dropped),
        cmocka_unit_test(text_clean__every_prefix_of_mixed_bytes__stays_printable),
        cmocka_unit_test(text_number__rounds_half_away_and_never_writes_minus_zero),
        cmocka_unit_test(text_number__too_small_a_buffer__gives_nothing),
        cmocka_unit_test(text_to_double__accepts_numbers_whole_and_only),
        cmocka_unit_test(text_to_long__outside_its_bounds__is_refused),
        cmocka_unit_test(text_width__counts_columns_not_bytes),
        cmocka_unit_test(text_distance__is_levenshteins),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
