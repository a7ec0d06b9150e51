/* The log form against a second reading of the same grammar by the C library's regular expressions:
 * every line that differs from a good one in one character (any character in any place, one left
 * out, one doubled) is taken by both or by neither. */
#include "bus/candump.h"

#include "support/check.h"

#include <regex.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

#define HEX "[0-9A-Fa-f]"
#define STAMP                                                                                      \
    "^ *\\(([0-9]{1,10}|[0-9]{4}-[0-9]{2}-[0-9]{2} [0-9]{2}:[0-9]{2}:[0-9]{2})(\\.[0-9]+)?\\)"
#define NAME  " +[!-~]{1,15}"
#define ID    " +(" HEX "{3}|" HEX "{8})#"
#define WHOSE " *[TR]? *$"

static regex_t forms[5];

static void compile(void)
{
    static const char *const bodies[] = {
        "R([0-7]?|8(_[9A-Fa-f])?)",
        "(" HEX HEX "){0,8}",
        "(" HEX HEX "){8}_[9A-Fa-f]",
        "#" HEX "(" HEX HEX "){0,64}",
        "#" HEX "(" HEX HEX "){8,64}_[9A-Fa-f]",
    };
    for (int i = 0; i < 5; i++) {
        char text[400];
        snprintf(text, sizeof text, "%s%s%s%s%s", STAMP, NAME, ID, bodies[i], WHOSE);
        assert_int_equal(regcomp(&forms[i], text, REG_EXTENDED), 0);
    }
}

static long digits_at(const char *line, regoff_t from, int n)
{
    char text[8] = "";
    memcpy(text, line + from, (size_t)n);
    return strtol(text, NULL, 10);
}

static bool date_is_real(const char *line, regoff_t s)
{
    long year = digits_at(line, s, 4), month = digits_at(line, s + 5, 2);
    long day = digits_at(line, s + 8, 2);
    return year >= 1970 && year <= 2250 && month >= 1 && month <= 12 && day >= 1 && day <= 31 &&
           digits_at(line, s + 11, 2) <= 23 && digits_at(line, s + 14, 2) <= 59 &&
           digits_at(line, s + 17, 2) <= 60;
}

static bool expected(const char *line)
{
    regmatch_t m[4];
    bool fits = false;
    for (int i = 0; i < 5 && !fits; i++)
        fits = regexec(&forms[i], line, 4, m, 0) == 0;
    if (!fits)
        return false;
    regoff_t s = m[1].rm_so, length = m[1].rm_eo - s;
    if (length > 10 ? !date_is_real(line, s) : strtoll(line + s, NULL, 10) > 9000000000)
        return false;
    unsigned long id = strtoul(line + m[3].rm_so, NULL, 16);
    return m[3].rm_eo - m[3].rm_so == 3 ? id <= 0x7FF : id <= 0x3FFFFFFF;
}

static int compared, taken;

/* The extra words of `candump -x` and the screen form have grammars of their own. */
static bool other_form(const char *line)
{
    return strstr(line, " TX ") != NULL || strstr(line, " RX ") != NULL ||
           strchr(line, '#') == NULL;
}

static void compare(const char *line)
{
    struct candump_line out;
    if (other_form(line))
        return;
    bool got = candump_parse(line, strlen(line), &out) == NULL;
    if (got != expected(line))
        fail_msg("%s but should %s: %s", got ? "taken" : "refused", got ? "not be" : "be", line);
    compared++;
    taken += got;
}

static void log_form__one_character_away__is_taken_as_by_regular_expressions(void **state)
{
    (void)state;
    static const char *const good[] = {
        "(1760000000.123456) can0 09F2000A#00A916D2047FFFFF",
        "(1760000000.123456) vcan12 123#deadbeef R",
        "(9000000000.1) can0 7FF# T",
        "(0000000002.000001) can0 3FFFFFFF#R",
        "(1760000000) abcdefghijklmno 123#R5",
        "(1760000000.123456) can0 123#R8_9 T",
        "(1760000000.5) can0 123##1112233",
        "(1760000000.5) can0 12345678##F0011223344556677_F",
        " (1760000000.5)  can0  123#1122334455667788_E ",
        "(2026-05-04 14:12:07.123456) can0 123#11",
        "(1970-01-01 00:00:00) can0 123#11",
        "(2250-12-31 23:59:60) can0 123#11",
        "(002.000123) can0 123#0011",
    };
    compile();
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        size_t len = strlen(good[i]);
        char line[200];
        compare(good[i]);
        for (size_t at = 0; at < len; at++) {
            for (int c = 1; c < 128; c++) {
                if (c == '\n' || c == '\r')
                    continue;
                memcpy(line, good[i], len + 1);
                line[at] = (char)c;
                compare(line);
            }
            snprintf(line, sizeof line, "%.*s%s", (int)at, good[i], good[i] + at + 1);
            compare(line);
            snprintf(line, sizeof line, "%.*s%s", (int)at + 1, good[i], good[i] + at);
            compare(line);
        }
    }
    for (int i = 0; i < 5; i++)
        regfree(&forms[i]);
    print_message("%d lines, %d of them taken\n", compared, taken);
    assert_true(compared > 50000 && taken > 3000);
}

static void hexadecimal__every_character__is_its_value_or_refused(void **state)
{
    (void)state;
    for (int c = 1; c < 256; c++) {
        char line[] = "(1760000000.1) can0 123#1?", digit[2] = {(char)c, '\0'}, *end;
        struct candump_line out;
        line[sizeof line - 2] = (char)c;
        unsigned long v = strtoul(digit, &end, 16);
        bool is_digit = *end == '\0' && c != '+' && c != '-' && c != ' ';
        const char *reason = candump_parse(line, strlen(line), &out);
        if (is_digit && v < 16)
            assert_int_equal(out.frame.data[0], 0x10 + v);
        else
            assert_non_null(reason);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(log_form__one_character_away__is_taken_as_by_regular_expressions),
        cmocka_unit_test(hexadecimal__every_character__is_its_value_or_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
