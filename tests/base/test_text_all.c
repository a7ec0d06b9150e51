/* Numbers against the C library's, characters one by one through the whole of Unicode. */
#include "base/text.h"

#include "support/check.h"
#include "support/golden.h"

#include <stdio.h>
#include <stdlib.h>

static uint64_t next(uint64_t *x)
{
    *x = *x * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return *x >> 11;
}

/* printf rounds the exact value to even at a tie; ties are left out here and tried below. */
static void number__any_value__as_printf_writes_it(void **state)
{
    (void)state;
    uint64_t x = 5;
    for (int i = 0; i < 200000; i++) {
        int decimals = (int)(next(&x) % 10);
        double size[] = {1e-9, 1e-3, 1, 1e3, 1e6, 1e5};
        double v = ((double)next(&x) / 9007199254740992.0 - 0.5) * size[next(&x) % 6];
        char got[40], want[40];
        size_t n = text_number(got, sizeof got, v, decimals);
        snprintf(want, sizeof want, "%.*f", decimals, v);
        if (strtod(want, NULL) == 0.0) /* no minus before a zero */
            snprintf(want, sizeof want, "%.*f", decimals, 0.0);
        assert_int_equal(n, strlen(got));
        if (strcmp(got, want) != 0)
            fail_msg("%s and not %s for %.17g", got, want, v);
    }
}

static void number__edges__to_the_last_that_fits(void **state)
{
    (void)state;
    char buf[40];
    assert_int_equal(text_number(buf, sizeof buf, 0.5, 0), 1);
    assert_string_equal(buf, "1"); /* half away from zero */
    text_number(buf, sizeof buf, -2.5, 0);
    assert_string_equal(buf, "-3");
    text_number(buf, sizeof buf, 0.125, 2);
    assert_string_equal(buf, "0.13");
    text_number(buf, sizeof buf, 9.96, 1);
    assert_string_equal(buf, "10.0");
    assert_int_equal(text_number(buf, sizeof buf, 999999999999999.0, 0), 15);
    assert_int_equal(text_number(buf, sizeof buf, 1e15, 0), 0);
    assert_string_equal(buf, "");
    assert_int_equal(text_number(buf, sizeof buf, 1.0, 10), 0);
    assert_int_equal(text_number(buf, sizeof buf, 1.0, -1), 0);
    assert_int_equal(text_number(buf, sizeof buf, NAN, 1), 0);
    assert_int_equal(text_number(buf, 5, 12.25, 2), 0);
    assert_int_equal(text_number(buf, 6, 12.25, 2), 5);
    buf[0] = 'x';
    assert_int_equal(text_number(buf, 1, 1.0, 0), 0);
    assert_string_equal(buf, "");
    buf[0] = 'x';
    assert_int_equal(text_number(buf, 0, 1.0, 0), 0);
    assert_int_equal(buf[0], 'x');
}

static void to_double__whatever_is_written__as_strtod_reads_it(void **state)
{
    (void)state;
    static const char alphabet[] = "0123456789.+-eE 5519";
    uint64_t x = 3;
    int taken = 0;
    for (int i = 0; i < 400000; i++) {
        char text[12];
        size_t len = 1 + next(&x) % 9;
        for (size_t k = 0; k < len; k++)
            text[k] = alphabet[next(&x) % (sizeof alphabet - 1)];
        text[len] = '\0';
        char *end;
        double want = strtod(text, &end), got;
        while (*end == ' ')
            end++;
        bool is_number = *end == '\0' && end != text && isfinite(want) && strspn(text, " ") != len;
        if (text_to_double(text, &got) != is_number) {
            /* a power past 300 is out of range for either, but not for both alike */
            if (strpbrk(text, "eE") != NULL && atoi(strpbrk(text, "eE") + 1) > 290)
                continue;
            fail_msg("'%s' was %s", text, is_number ? "refused" : "taken");
        }
        if (is_number) {
            taken++;
            assert_near(got, want, fabs(want) * 4e-15 + 1e-290);
        }
    }
    assert_true(taken > 20000);
}

static void to_long__range__both_ends_belong_to_it(void **state)
{
    (void)state;
    long v = 7;
    assert_true(text_to_long(" 10 ", 1, 10, &v));
    assert_int_equal(v, 10);
    assert_true(text_to_long("+1", 1, 10, &v));
    assert_int_equal(v, 1);
    assert_true(text_to_long("-5", -5, 10, &v));
    assert_int_equal(v, -5);
    assert_true(text_to_long("9000000000000000", 0, 9000000000000000, &v));
    static const char *const bad[] = {"0", "11", "1.0", "1e1", "", "+", "x", "1x", "0x1"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_false(text_to_long(bad[i], 1, 10, &v));
    assert_int_equal(v, INT64_C(9000000000000000)); /* untouched */
}

static void utf8__every_code_point__goes_there_and_back(void **state)
{
    (void)state;
    for (uint32_t cp = 1; cp < 0x110000; cp++) {
        char bytes[4];
        uint32_t back;
        size_t n = text_utf8_put(bytes, cp);
        if (cp >= 0xD800 && cp < 0xE000) /* halves of a pair are no characters */
            continue;
        assert_int_equal(n, cp < 0x80 ? 1 : cp < 0x800 ? 2 : cp < 0x10000 ? 3 : 4);
        assert_int_equal(text_utf8_next(bytes, n, &back), n);
        assert_int_equal(back, cp);
        if (n > 1) {
            assert_int_equal(text_utf8_next(bytes, n - 1, &back), 1);
            assert_int_equal(back, 0xFFFD);
        }
    }
    /* too long, a half, past the end, a tail without a head */
    static const char *const bad[] = {"\xC0\x80",     "\xE0\x80\x80",     "\xF0\x80\x80\x80",
                                      "\xED\xA0\x80", "\xF4\x90\x80\x80", "\x80",
                                      "\xFF"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        uint32_t cp;
        assert_int_equal(text_utf8_next(bad[i], strlen(bad[i]), &cp), 1);
        assert_int_equal(cp, 0xFFFD);
    }
}

/* Runs of code points that are alike: columns, and whether text_clean lets them through. The
 * columns follow Unicode's East Asian Width, the rest what a terminal may be told to do. */
static void unicode__columns_and_what_is_let_through__are_as_kept(void **state)
{
    (void)state;
    static char text[32768];
    size_t at = 0;
    uint32_t from = 1;
    int was = -1;
    for (uint32_t cp = 1; cp <= 0x110000; cp++) {
        int is = -2;
        if (cp < 0x110000) {
            char bytes[5] = "", clean[8];
            size_t n = text_utf8_put(bytes, cp);
            bytes[n] = '.'; /* blanks at the end are cut */
            text_clean(clean, sizeof clean, bytes, n + 1);
            is = text_cp_width(cp) * 2 + (strncmp(clean, bytes, n) == 0);
        }
        if (is != was && was >= 0)
            at += (size_t)snprintf(text + at, sizeof text - at, "%04X to %04X: %d columns, %s\n",
                                   from, cp - 1, was / 2, was % 2 ? "let through" : "replaced");
        if (is != was)
            from = cp;
        was = is;
        assert_true(at + 100 < sizeof text);
    }
    golden_check("base", "unicode", text);
}

static void distance__worked_examples(void **state)
{
    (void)state;
    /* the textbook's pair, and each single change */
    assert_int_equal(text_distance("kitten", "sitting"), 3);
    assert_int_equal(text_distance("", ""), 0);
    assert_int_equal(text_distance("", "abc"), 3);
    assert_int_equal(text_distance("abc", ""), 3);
    assert_int_equal(text_distance("watch", "wtach"), 2);
    assert_int_equal(text_distance("sift", "shift"), 1);
    assert_int_equal(text_distance("muster", "muste"), 1);
    assert_int_equal(text_distance("abc", "xyz"), 3);
    char longest[60];
    memset(longest, 'a', sizeof longest);
    longest[49] = '\0';
    assert_int_equal(text_distance(longest, "a"), 48);
    longest[48] = '\0';
    assert_int_equal(text_distance(longest, "a"), 47);
    assert_int_equal(text_distance("b", longest), 48);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(number__any_value__as_printf_writes_it),
        cmocka_unit_test(number__edges__to_the_last_that_fits),
        cmocka_unit_test(to_double__whatever_is_written__as_strtod_reads_it),
        cmocka_unit_test(to_long__range__both_ends_belong_to_it),
        cmocka_unit_test(utf8__every_code_point__goes_there_and_back),
        cmocka_unit_test(unicode__columns_and_what_is_let_through__are_as_kept),
        cmocka_unit_test(distance__worked_examples),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
