#include "base/when.h"

#include "base/text.h"

#include <string.h>
#include <time.h>

#include "base/banned.h"

/* Rounded down, before 1970 too. */
static int64_t whole_seconds(int64_t ns)
{
    return ns / NS_PER_S - (ns % NS_PER_S < 0);
}

size_t when_epoch(char *dst, size_t cap, int64_t wall_ns)
{
    uint64_t a = wall_ns < 0 ? 0 - (uint64_t)wall_ns : (uint64_t)wall_ns;
    unsigned long long s = a / (uint64_t)NS_PER_S, f = a % (uint64_t)NS_PER_S;
    const char *sign = wall_ns < 0 ? "-" : "";
    if (f % 1000 == 0)
        text_format(dst, cap, "%s%llu.%06llu", sign, s, f / 1000);
    else
        text_format(dst, cap, "%s%llu.%09llu", sign, s, f);
    return strlen(dst);
}

static void broken_down(int64_t wall_ns, bool utc, struct tm *tm)
{
    time_t t = (time_t)whole_seconds(wall_ns);
    memset(tm, 0, sizeof *tm);
    if (utc)
        gmtime_r(&t, tm);
    else
        localtime_r(&t, tm);
}

size_t when_clock(char *dst, size_t cap, int64_t wall_ns, bool utc)
{
    struct tm tm;
    broken_down(wall_ns, utc, &tm);
    text_format(dst, cap, "%02d:%02d:%02d", tm.tm_hour, tm.tm_min, tm.tm_sec);
    return strlen(dst);
}

size_t when_date(char *dst, size_t cap, int64_t wall_ns, bool utc)
{
    struct tm tm;
    broken_down(wall_ns, utc, &tm);
    text_format(dst, cap, "%04d-%02d-%02d %02d:%02d:%02d", tm.tm_year + 1900, tm.tm_mon + 1,
                tm.tm_mday, tm.tm_hour, tm.tm_min, tm.tm_sec);
    return strlen(dst);
}

size_t when_elapsed(char *dst, size_t cap, int64_t ns)
{
    const char *sign = ns < 0 ? "-" : "+";
    uint64_t s = (ns < 0 ? 0 - (uint64_t)ns : (uint64_t)ns) / (uint64_t)NS_PER_S;
    unsigned long long h = s / 3600, m = s / 60 % 60, sec = s % 60;
    if (h > 0)
        text_format(dst, cap, "%s%llu:%02llu:%02llu", sign, h, m, sec);
    else
        text_format(dst, cap, "%s%02llu:%02llu", sign, m, sec);
    return strlen(dst);
}

/* Seconds with an optional fraction as exact ns; returns where they end, NULL if there are none. */
static const char *read_seconds(const char *s, int64_t *ns)
{
    if (*s < '0' || *s > '9')
        return NULL;
    int64_t whole = 0, fraction = 0, place = NS_PER_S / 10;
    for (; *s >= '0' && *s <= '9'; s++) {
        if (whole > INT64_C(9000000000))
            return NULL;
        whole = whole * 10 + (*s - '0');
    }
    if (whole > INT64_C(9000000000))
        return NULL;
    if (*s == '.' || *s == ',') {
        for (s++; *s >= '0' && *s <= '9'; s++, place /= 10)
            fraction += place * (*s - '0');
    }
    *ns = whole * NS_PER_S + fraction;
    return s;
}

static bool parse_relative(const char *s, struct moment *out)
{
    int64_t total = 0, part;
    for (int parts = 0; parts < 3; parts++) {
        s = read_seconds(s, &part);
        if (!s || (parts > 0 && part >= 60 * NS_PER_S))
            return false;
        if (__builtin_mul_overflow(total, 60, &total) ||
            __builtin_add_overflow(total, part, &total))
            return false;
        if (*s == '\0') {
            *out = (struct moment){.relative = true, .ns = total};
            return true;
        }
        if (*s++ != ':' || part % NS_PER_S != 0)
            return false;
    }
    return false;
}

static const char *read_fixed(const char *s, int digits, int *out)
{
    int v = 0;
    for (int i = 0; i < digits; i++, s++) {
        if (*s < '0' || *s > '9')
            return NULL;
        v = v * 10 + (*s - '0');
    }
    *out = v;
    return s;
}

/* "Z", "+02:00", "+0200", "-05" or nothing; *minutes east of UTC, *given false for nothing. */
static bool parse_offset(const char *s, bool *given, int *minutes)
{
    *given = true;
    *minutes = 0;
    if (*s == '\0') {
        *given = false;
        return true;
    }
    if ((*s == 'Z' || *s == 'z') && s[1] == '\0')
        return true;
    if (*s != '+' && *s != '-')
        return false;
    int sign = *s++ == '-' ? -1 : 1, h, m = 0;
    if (!(s = read_fixed(s, 2, &h)) || h > 15)
        return false;
    if (*s == ':')
        s++;
    if (*s && (!(s = read_fixed(s, 2, &m)) || m > 59))
        return false;
    *minutes = sign * (h * 60 + m);
    return *s == '\0';
}

/* HH:MM, HH:MM:SS or with a fraction of a second. */
static const char *read_clock(const char *s, struct tm *tm, int64_t *fraction)
{
    int64_t seconds = 0;
    if (!(s = read_fixed(s, 2, &tm->tm_hour)) || *s++ != ':' ||
        !(s = read_fixed(s, 2, &tm->tm_min)))
        return NULL;
    if (*s == ':' && !(s = read_seconds(s + 1, &seconds)))
        return NULL;
    if (tm->tm_hour > 23 || tm->tm_min > 59 || seconds >= 61 * NS_PER_S)
        return NULL;
    tm->tm_sec = (int)(seconds / NS_PER_S);
    *fraction = seconds % NS_PER_S;
    return s;
}

/* Days from 1970-01-01 to a day of the Gregorian calendar, months from 1: years that begin in March
 * have their odd day last. What timegm() works out as well, in a tenth of the time. */
static int64_t days_of(int year, int month, int day)
{
    int64_t y = year - (month <= 2), m = (month + 9) % 12;

    return 365 * y + y / 4 - y / 100 + y / 400 + (153 * m + 2) / 5 + day - 1 - 719468;
}

/* False for 31 April and the like. */
static bool utc_of(int year, const struct tm *tm, int64_t *seconds)
{
    int month = tm->tm_mon, next = month % 12 + 1;
    int64_t day = days_of(year, month, tm->tm_mday);

    *seconds = day * 86400 + tm->tm_hour * 3600 + tm->tm_min * 60 + tm->tm_sec;
    return day < days_of(year + (next == 1), next, 1);
}

static bool local_of(int year, struct tm tm, int64_t *seconds)
{
    int day = tm.tm_mday;

    tm.tm_year = year - 1900;
    tm.tm_mon--;
    *seconds = (int64_t)mktime(&tm);
    return tm.tm_mday == day; /* 31 April is carried over by libc */
}

static bool parse_date(const char *s, struct moment *out)
{
    struct tm tm = {.tm_isdst = -1};
    int year;
    int64_t fraction = 0;
    if (!(s = read_fixed(s, 4, &year)) || *s++ != '-' || !(s = read_fixed(s, 2, &tm.tm_mon)) ||
        *s++ != '-' || !(s = read_fixed(s, 2, &tm.tm_mday)))
        return false;
    if (tm.tm_mon < 1 || tm.tm_mon > 12 || tm.tm_mday < 1 || tm.tm_mday > 31)
        return false;
    if ((*s == 'T' || *s == ' ' || *s == 't') && !(s = read_clock(s + 1, &tm, &fraction)))
        return false;
    bool given;
    int minutes;
    if (!parse_offset(s, &given, &minutes))
        return false;
    int64_t t;
    if (!(given ? utc_of(year, &tm, &t) : local_of(year, tm, &t)))
        return false;
    t -= given ? (int64_t)minutes * 60 : 0;
    if (t <= INT64_MIN / NS_PER_S || t >= INT64_MAX / NS_PER_S)
        return false;
    *out = (struct moment){.ns = t * NS_PER_S + fraction};
    return true;
}

bool when_parse(const char *s, struct moment *out)
{
    if (*s == '+')
        return parse_relative(s + 1, out);
    if (strlen(s) >= 8 && s[4] == '-')
        return parse_date(s, out);
    int64_t ns;
    const char *end = read_seconds(s, &ns);
    if (!end || *end != '\0')
        return false;
    *out = (struct moment){.ns = ns};
    return true;
}

bool when_parse_in_log(const char *s, struct moment *out)
{
    struct tm tm = {0};
    int64_t fraction;
    const char *end = read_clock(s, &tm, &fraction);
    if (!end || *end != '\0' || tm.tm_sec > 59)
        return when_parse(s, out);
    *out = (struct moment){.clock = true,
                           .grain_ns = strlen(s) > 5 ? NS_PER_S : 60 * NS_PER_S,
                           .ns = (tm.tm_hour * 3600 + tm.tm_min * 60 + tm.tm_sec) * NS_PER_S +
                                 fraction};
    return true;
}

/* A clock time on the day of first_ns, or so many days later. */
static int64_t on_day(struct moment m, int64_t first_ns, int later, bool utc)
{
    struct tm tm;
    broken_down(first_ns, utc, &tm);
    tm.tm_mday += later;
    tm.tm_hour = (int)(m.ns / (3600 * NS_PER_S));
    tm.tm_min = (int)(m.ns / (60 * NS_PER_S) % 60);
    tm.tm_sec = (int)(m.ns / NS_PER_S % 60);
    tm.tm_isdst = -1;
    return (int64_t)(utc ? timegm(&tm) : mktime(&tm)) * NS_PER_S + m.ns % NS_PER_S;
}

int64_t when_resolve(struct moment m, int64_t first_ns, bool utc)
{
    int64_t at = m.ns;
    if (m.relative && __builtin_add_overflow(m.ns, first_ns, &at))
        at = INT64_MAX;
    if (m.clock) {
        at = on_day(m, first_ns, 0, utc);
        if (at + m.grain_ns <= first_ns)
            at = on_day(m, first_ns, 1, utc);
    }
    return at;
}

bool when_parse_length(const char *s, int64_t *ns)
{
    static const struct {
        const char *word;
        int64_t ns;
    } words[] = {
        {"", NS_PER_S},
        {"s", NS_PER_S},
        {"sec", NS_PER_S},
        {"second", NS_PER_S},
        {"seconds", NS_PER_S},
        {"ms", NS_PER_MS},
        {"min", 60 * NS_PER_S},
        {"m", 60 * NS_PER_S},
        {"minute", 60 * NS_PER_S},
        {"minutes", 60 * NS_PER_S},
        {"h", 3600 * NS_PER_S},
        {"hour", 3600 * NS_PER_S},
        {"hours", 3600 * NS_PER_S},
        {"d", 86400 * NS_PER_S},
        {"days", 86400 * NS_PER_S},
    };
    int64_t v;
    while (*s == ' ')
        s++;
    const char *end = read_seconds(s, &v);
    if (!end)
        return false;
    while (*end == ' ')
        end++;
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        if (strcmp(end, words[i].word) == 0) {
            double length = (double)v / 1e9 * (double)words[i].ns;
            if (length > 9e18)
                return false;
            *ns = (int64_t)(length + 0.5);
            return true;
        }
    }
    return false;
}
