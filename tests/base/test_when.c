#include "support/check.h"

#include "base/when.h"

#include <stdlib.h>
#include <stdio.h>
#include <time.h>

static int set_zone(void **state)
{
    (void)state;
    setenv("TZ", "UTC-2", 1); /* POSIX form: two hours east of UTC, no daylight saving */
    tzset();
    return 0;
}

static int64_t parsed(const char *s)
{
    struct moment m;
    assert_true(when_parse(s, &m));
    assert_false(m.relative);
    return m.ns;
}

static void when_epoch__keeps_every_digit(void **state)
{
    (void)state;
    char buf[40];
    when_epoch(buf, sizeof buf, INT64_C(1760000000123456000));
    assert_string_equal(buf, "1760000000.123456");
    when_epoch(buf, sizeof buf, INT64_C(1760000000123456789));
    assert_string_equal(buf, "1760000000.123456789");
    when_epoch(buf, sizeof buf, 0);
    assert_string_equal(buf, "0.000000");
    when_epoch(buf, sizeof buf, INT64_C(-1500000000));
    assert_string_equal(buf, "-1.500000");
}

static void when_clock__follows_the_zone_or_utc(void **state)
{
    (void)state;
    char buf[40];
    /* 2024-10-04 12:00:00.5 UTC, the worked 126992 frame of the reference decoder
     * (npm @canboat/canboatjs 3.20.0): 20000 days after the epoch is 2024-10-04 */
    int64_t ns = (INT64_C(20000) * 86400 + 43200) * NS_PER_S + NS_PER_S / 2;
    when_date(buf, sizeof buf, ns, true);
    assert_string_equal(buf, "2024-10-04 12:00:00");
    when_clock(buf, sizeof buf, ns, false);
    assert_string_equal(buf, "14:00:00");
    when_date(buf, sizeof buf, -1, true);
    assert_string_equal(buf, "1969-12-31 23:59:59");
}

static void when_elapsed__counts_minutes_then_hours(void **state)
{
    (void)state;
    char buf[40];
    when_elapsed(buf, sizeof buf, 725 * NS_PER_S);
    assert_string_equal(buf, "+12:05");
    when_elapsed(buf, sizeof buf, 3661 * NS_PER_S);
    assert_string_equal(buf, "+1:01:01");
    when_elapsed(buf, sizeof buf, -5 * NS_PER_S);
    assert_string_equal(buf, "-00:05");
}

static void when_parse__each_form__gives_the_same_moment(void **state)
{
    (void)state;
    /* ISO 8601; 1714831927 is 2024-05-04 14:12:07 UTC (`date -u -d @1714831927`) */
    int64_t ns = INT64_C(1714831927) * NS_PER_S;
    assert_int_equal(parsed("1714831927"), ns);
    assert_int_equal(parsed("1714831927.25"), ns + NS_PER_S / 4);
    assert_int_equal(parsed("2024-05-04T14:12:07Z"), ns);
    assert_int_equal(parsed("2024-05-04T16:12:07+02:00"), ns);
    assert_int_equal(parsed("2024-05-04T12:12:07-0200"), ns);
    assert_int_equal(parsed("2024-05-04 16:12:07"), ns); /* zone of TZ, two hours east */
    assert_int_equal(parsed("2024-05-04T14:12:07.5Z"), ns + NS_PER_S / 2);
}

/* Against the C library's calendar. */
static void when_parse__every_day_of_five_centuries__as_timegm_has_it(void **state)
{
    (void)state;
    int64_t from = INT64_C(-9100000000) / 86400,
            to = INT64_C(9100000000) / 86400; /* 1681 to 2258 */
    for (int64_t day = from; day < to; day++) {
        time_t t = (time_t)(day * 86400 + 45296);
        struct tm tm;
        char text[40];
        gmtime_r(&t, &tm);
        strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &tm);
        assert_int_equal(parsed(text), (int64_t)t * NS_PER_S);
    }
}

static void when_parse__into_the_log__is_relative(void **state)
{
    (void)state;
    struct moment m;
    assert_true(when_parse("+12:05", &m));
    assert_true(m.relative);
    assert_int_equal(m.ns, 725 * NS_PER_S);
    assert_true(when_parse("+1:00:00.5", &m));
    assert_int_equal(m.ns, 3600 * NS_PER_S + NS_PER_S / 2);
    assert_true(when_parse("+90", &m));
    assert_int_equal(m.ns, 90 * NS_PER_S);
}

static void when_parse__nonsense__is_refused(void **state)
{
    (void)state;
    static const char *const bad[] = {"",
                                      "+",
                                      "+1:99",
                                      "+1:2:3:4",
                                      "noon",
                                      "2024-13-01",
                                      "2024-04-31",
                                      "2024-05-04T25:00",
                                      "12:00",
                                      "1e9",
                                      "2024-05-04T14:12:07Q",
                                      "-5",
                                      "99999999999999999999",
                                      "2263-01-01",
                                      "1677-01-01",
                                      "0000-01-01",
                                      "9999-12-31T23:59:59Z",
                                      "+9000000000:00",
                                      "+9000000000:00:00"};
    struct moment m;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (when_parse(bad[i], &m))
            fail_msg("'%s' was taken for a time", bad[i]);
}

/* Every day and clock time is taken where the C library's calendar has it, and no other. */
static void when_parse__every_number_in_every_place__as_the_calendar_has_it(void **state)
{
    (void)state;
    for (int place = 0; place < 6; place++)
        for (int v = 0; v < 100; v++) {
            int n[6] = {2024, 2, 28, 14, 12, 7};
            n[place] = place == 0 ? 1970 + v : v;
            struct tm tm = {.tm_year = n[0] - 1900,
                            .tm_mon = n[1] - 1,
                            .tm_mday = n[2],
                            .tm_hour = n[3],
                            .tm_min = n[4],
                            .tm_sec = n[5]};
            time_t t = timegm(&tm);
            /* second 60 is a leap second's */
            bool real = tm.tm_mon == n[1] - 1 && tm.tm_mday == n[2] && tm.tm_hour == n[3] &&
                        (tm.tm_min == n[4] || n[5] == 60) && (tm.tm_sec == n[5] || n[5] == 60);
            char text[64];
            struct moment m;
            snprintf(text, sizeof text, "%04d-%02d-%02dT%02d:%02d:%02dZ", n[0], n[1], n[2], n[3],
                     n[4], n[5]);
            if (when_parse(text, &m) != real)
                fail_msg("'%s' was %s", text, real ? "refused" : "taken");
            if (real) {
                assert_int_equal(m.ns, (int64_t)t * NS_PER_S);
                assert_false(m.relative);
            }
        }
}

static void when_parse__offset_from_utc__to_its_edges(void **state)
{
    (void)state;
    int64_t ns = INT64_C(1714831927) * NS_PER_S; /* 2024-05-04 14:12:07 UTC */
    static const struct {
        const char *offset;
        int minutes; /* east; 9999: refused */
    } cases[] = {{"Z", 0},          {"z", 0},      {"+00", 0},      {"-01", -60},
                 {"+01:59", 119},   {"-0001", -1}, {"+15:59", 959}, {"+16", 9999},
                 {"+01:60", 9999},  {"+1", 9999},  {"+01:5", 9999}, {"Zx", 9999},
                 {"+01:00x", 9999}, {"+01:", 60},  {"01", 9999}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char text[64];
        struct moment m;
        snprintf(text, sizeof text, "2024-05-04T14:12:07%s", cases[i].offset);
        bool taken = when_parse(text, &m);
        if (taken != (cases[i].minutes != 9999))
            fail_msg("'%s' was %s", text, taken ? "taken" : "refused");
        if (taken)
            assert_int_equal(m.ns, ns - (int64_t)cases[i].minutes * 60 * NS_PER_S);
    }
}

static void when__moments_before_1970__and_the_last_that_fits(void **state)
{
    (void)state;
    char buf[40];
    when_epoch(buf, sizeof buf, -1500 * NS_PER_MS);
    assert_string_equal(buf, "-1.500000");
    when_epoch(buf, sizeof buf, -1);
    assert_string_equal(buf, "-0.000000001");
    when_date(buf, sizeof buf, -1, true);
    assert_string_equal(buf, "1969-12-31 23:59:59");
    when_date(buf, sizeof buf, -NS_PER_S, true);
    assert_string_equal(buf, "1969-12-31 23:59:59");
    when_date(buf, sizeof buf, -NS_PER_S - 1, true);
    assert_string_equal(buf, "1969-12-31 23:59:58");
    when_elapsed(buf, sizeof buf, 3599 * NS_PER_S);
    assert_string_equal(buf, "+59:59");
    when_elapsed(buf, sizeof buf, 3600 * NS_PER_S);
    assert_string_equal(buf, "+1:00:00");
    struct moment m;
    assert_true(when_parse("9000000000", &m));
    assert_int_equal(m.ns, INT64_C(9000000000) * NS_PER_S);
    assert_false(when_parse("9223372037", &m));
    assert_true(when_parse("0", &m));
    assert_int_equal(m.ns, 0);
    assert_true(when_parse("+0:59", &m));
    assert_int_equal(m.ns, 59 * NS_PER_S);
    assert_false(when_parse("+0:60", &m));
    assert_false(when_parse("+0.5:30", &m));
}

static int64_t in_log(const char *s, const char *first, bool utc)
{
    struct moment m, start;
    assert_true(when_parse_in_log(s, &m));
    assert_true(when_parse(first, &start));
    return when_resolve(m, start.ns, utc);
}

static void when_parse_in_log__a_clock_time__is_the_first_after_the_start(void **state)
{
    (void)state;
    static const struct {
        const char *s, *first, *is;
    } rows[] = {
        {"14:20", "2026-05-04T14:00:00Z", "2026-05-04T14:20:00Z"},
        {"14:20:05.5", "2026-05-04T14:00:00Z", "2026-05-04T14:20:05.5Z"},
        {"00:10", "2026-05-04T23:50:00Z", "2026-05-05T00:10:00Z"},
        {"13:59", "2026-05-04T14:00:00Z", "2026-05-05T13:59:00Z"},
        /* what sift prints of the first second and minute means these */
        {"14:00:00", "2026-05-04T14:00:00.7Z", "2026-05-04T14:00:00Z"},
        {"14:00", "2026-05-04T14:00:40Z", "2026-05-04T14:00:00Z"},
        {"14:00:39", "2026-05-04T14:00:40Z", "2026-05-05T14:00:39Z"},
        {"+01:30", "2026-05-04T14:00:00Z", "2026-05-04T14:01:30Z"},
        {"2026-05-04T14:02:00Z", "2026-05-04T14:00:00Z", "2026-05-04T14:02:00Z"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        assert_int_equal(in_log(rows[i].s, rows[i].first, true), in_log(rows[i].is, "0", true));
    setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3", 1); /* clocks go back at 01:00 UTC of 2026-10-25 */
    tzset();
    assert_int_equal(in_log("14:20", "2026-10-24T18:00:00Z", false),
                     in_log("2026-10-25T13:20:00Z", "0", true));
    setenv("TZ", "UTC", 1);
    tzset();
    struct moment m;
    assert_false(when_parse_in_log("24:00", &m));
    assert_false(when_parse_in_log("14:60", &m));
    assert_false(when_parse_in_log("14:20:60", &m));
    assert_false(when_parse_in_log("14:20x", &m));
    /* as far as it can be said */
    assert_int_equal(when_resolve((struct moment){.relative = true, .ns = INT64_MAX - 5}, 10, true),
                     INT64_MAX);
}

static void when_parse_length__units(void **state)
{
    (void)state;
    int64_t ns;
    assert_true(when_parse_length("500 ms", &ns));
    assert_int_equal(ns, 500 * NS_PER_MS);
    assert_true(when_parse_length("1.5 min", &ns));
    assert_int_equal(ns, 90 * NS_PER_S);
    assert_true(when_parse_length("2", &ns));
    assert_int_equal(ns, 2 * NS_PER_S);
    assert_true(when_parse_length("36h", &ns));
    assert_int_equal(ns, 36 * 3600 * NS_PER_S);
    assert_false(when_parse_length("-2 s", &ns));
    assert_false(when_parse_length("2 parsecs", &ns));
    assert_false(when_parse_length("", &ns));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(when_epoch__keeps_every_digit),
        cmocka_unit_test(when_clock__follows_the_zone_or_utc),
        cmocka_unit_test(when_elapsed__counts_minutes_then_hours),
        cmocka_unit_test(when_parse__each_form__gives_the_same_moment),
        cmocka_unit_test(when_parse__every_day_of_five_centuries__as_timegm_has_it),
        cmocka_unit_test(when_parse__into_the_log__is_relative),
        cmocka_unit_test(when_parse__nonsense__is_refused),
        cmocka_unit_test(when_parse__every_number_in_every_place__as_the_calendar_has_it),
        cmocka_unit_test(when_parse__offset_from_utc__to_its_edges),
        cmocka_unit_test(when__moments_before_1970__and_the_last_that_fits),
        cmocka_unit_test(when_parse_in_log__a_clock_time__is_the_first_after_the_start),
        cmocka_unit_test(when_parse_length__units),
    };
    return cmocka_run_group_tests(tests, set_zone, NULL);
}
