/* Local date and time into time since the epoch, for logs that carry no zone of their own.
 * An hour that a change of the clocks repeats is taken as the first one, an hour that it skips as
 * if the clocks had not changed. Named zones go through the C library by setting TZ for the length
 * of one call, so this belongs to the thread that owns the environment; the last hour is kept, so
 * that it happens once for each hour of a log. Zone data: the system's (IANA). */
#ifndef STOKEHOLD_BUS_ZONE_H
#define STOKEHOLD_BUS_ZONE_H

#include "base/err.h"

#include <stdbool.h>
#include <stdint.h>

struct zone {
    bool fixed; /* offset_s holds; otherwise name, or TZ where it is empty */
    int64_t offset_s;
    char name[64];
    bool cached;
    int64_t cached_hour_s, cached_epoch_s;
};

/* NULL: the zone of TZ. "UTC", "Z", "+02:00", "-0330", or a name such as "Europe/Berlin". False
 * and e for anything that is none of them. */
bool zone_init(struct zone *z, const char *text, struct err *e);

/* local_s: a local date and time counted as if it were UTC. Returns seconds since the epoch. */
int64_t zone_to_epoch(struct zone *z, int64_t local_s);

#endif
