/* Time as the program holds it: signed 64-bit nanoseconds.
 *   wall   since 1970-01-01 UTC; a label only, it may step either way
 *   mono   a clock that never goes back; everything that decides uses it
 * Nothing here reads a clock. */
#ifndef STOKEHOLD_BASE_WHEN_H
#define STOKEHOLD_BASE_WHEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define NS_PER_US INT64_C(1000)
#define NS_PER_MS INT64_C(1000000)
#define NS_PER_S  INT64_C(1000000000)

/* What a moment is called (wall) and when it was for the rules (mono). */
struct stamp {
    int64_t wall_ns;
    int64_t mono_ns;
};

static inline double when_seconds(int64_t ns)
{
    return (double)ns / 1e9;
}

/* Writes epoch seconds with 6 decimals, or 9 where nanoseconds are not zero: exact, never through
 * floating point. Returns the length. */
size_t when_epoch(char *dst, size_t cap, int64_t wall_ns);

/* Writes HH:MM:SS (utc, or the zone of TZ), and YYYY-MM-DD HH:MM:SS. Return the length. */
size_t when_clock(char *dst, size_t cap, int64_t wall_ns, bool utc);
size_t when_date(char *dst, size_t cap, int64_t wall_ns, bool utc);

/* Writes a length of time as +MM:SS, or +H:MM:SS from an hour on. */
size_t when_elapsed(char *dst, size_t cap, int64_t ns);

/* A moment that a user gave: epoch seconds, `+MM:SS`, `+H:MM:SS` or `+SS` into the log, or
 * ISO 8601 (`2026-05-04T14:12:07Z`, with an offset, or without one in the zone of TZ; a blank
 * in place of T; fraction allowed). What 64 bits of nanoseconds do not hold is refused. */
struct moment {
    bool relative;    /* ns counts from the first frame of the log */
    bool clock;       /* ns counts from midnight: a clock time, of the day that the log tells */
    int64_t grain_ns; /* of a clock time: a minute for `14:20`, else a second */
    int64_t ns;
};
bool when_parse(const char *s, struct moment *out);
/* The same and clock times, `14:20` and `14:20:05`. */
bool when_parse_in_log(const char *s, struct moment *out);
/* The wall time of a moment of a log that begins at first_ns. A clock time is the first one after
 * that (in UTC or the zone of TZ), or the minute or second in which the log begins. */
int64_t when_resolve(struct moment m, int64_t first_ns, bool utc);

/* A length of time with a unit: `2 s`, `500 ms`, `5 min`, `1 h`; a bare number is seconds. */
bool when_parse_length(const char *s, int64_t *ns);

#endif
