#include "bus/zone.h"

#include "base/text.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

/* "+02:00", "+0200", "+2" */
static bool parse_offset(const char *s, int64_t *offset_s)
{
    if (*s != '+' && *s != '-')
        return false;
    int64_t sign = *s++ == '-' ? -1 : 1;
    char digits[5] = "";
    size_t n = 0;
    bool colon = false;
    for (; *s; s++) {
        if (*s == ':' && !colon && (n == 1 || n == 2)) {
            colon = true;
            continue;
        }
        if (!isdigit((unsigned char)*s) || n == 4)
            return false;
        digits[n++] = *s;
    }
    if (n == 0 || (colon && n < 3))
        return false;
    int64_t v = strtol(digits, NULL, 10);
    int64_t hours = n > 2 ? v / 100 : v, minutes = n > 2 ? v % 100 : 0;
    if (hours > 14 || minutes > 59)
        return false;
    *offset_s = sign * (hours * 3600 + minutes * 60);
    return true;
}

/* The C library takes an unknown name for UTC without a word, so look whether it is there. */
static bool zone_exists(const char *name)
{
    const char *dir = getenv("TZDIR");
    char path[300];
    if (name[0] == '/' || strstr(name, ".."))
        return false;
    return text_format(path, sizeof path, "%s/%s", dir ? dir : "/usr/share/zoneinfo", name) &&
           access(path, R_OK) == 0;
}

bool zone_init(struct zone *z, const char *text, struct err *e)
{
    *z = (struct zone){0};
    if (!text)
        return true;
    if (strcmp(text, "UTC") == 0 || strcmp(text, "Z") == 0) {
        z->fixed = true;
        return true;
    }
    if (parse_offset(text, &z->offset_s)) {
        z->fixed = true;
        return true;
    }
    if (*text && text_copy(z->name, sizeof z->name, text) && zone_exists(text))
        return true;
    char shown[64];
    text_clean(shown, sizeof shown, text, strlen(text));
    return err_set(e,
                   "no time zone '%s': give UTC, an offset such as +02:00, or a name such as "
                   "Europe/Berlin",
                   shown);
}

static int64_t ask_library(int64_t local_s)
{
    time_t t = (time_t)local_s;
    struct tm tm;
    if (!gmtime_r(&t, &tm))
        return local_s;
    tm.tm_isdst = -1;
    return (int64_t)mktime(&tm);
}

static int64_t hour_to_epoch(const struct zone *z, int64_t hour_s)
{
    if (!z->name[0])
        return ask_library(hour_s);
    const char *before = getenv("TZ");
    char *kept = before ? strdup(before) : NULL;
    setenv("TZ", z->name, 1);
    tzset();
    int64_t epoch = ask_library(hour_s);
    if (kept)
        setenv("TZ", kept, 1);
    else
        unsetenv("TZ");
    tzset();
    free(kept);
    return epoch;
}

int64_t zone_to_epoch(struct zone *z, int64_t local_s)
{
    if (z->fixed)
        return local_s - z->offset_s;
    int64_t into_hour = local_s % 3600;
    if (into_hour < 0)
        into_hour += 3600;
    int64_t hour = local_s - into_hour;
    if (!z->cached || z->cached_hour_s != hour) {
        z->cached_epoch_s = hour_to_epoch(z, hour);
        z->cached_hour_s = hour;
        z->cached = true;
    }
    return z->cached_epoch_s + into_hour;
}
