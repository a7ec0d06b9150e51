/* What stands or no longer stands with a live bus or with the record: what the watch must be told
 * although no frame says it. The keeper makes alerts of kind `bus` or `self` of it (keeper_bus
 * takes the same fields). */
#ifndef STOKEHOLD_BUS_CONDITION_H
#define STOKEHOLD_BUS_CONDITION_H

#include "base/when.h"
#include "config/settings.h"

#include <stdbool.h>
#include <stdint.h>

/* The lowest byte of a code; interface conditions carry the interface's index above it. */
enum condition_sort {
    CONDITION_MISSING, /* no such interface, unplugged, or no socket to read it */
    CONDITION_DOWN,    /* there, but not up, or without carrier */
    CONDITION_BUS_OFF,
    CONDITION_PASSIVE,
    CONDITION_LOST,   /* the kernel dropped frames; clears when none were for a minute */
    CONDITION_RECORD, /* the record cannot be written */
    CONDITION_RECORD_LOST,
    CONDITION_HOOK,    /* a program of [hook] failed; the hook's index above it */
    CONDITION_METRICS, /* the metrics file cannot be written */
    CONDITION_STATE,   /* the state file cannot be written */
    CONDITION_CUT,     /* CAN FD frames lose data here; clears when there were none for a minute */
    CONDITION_QUIET,   /* up, but no frame of anybody any more; found by rules/rule_bus.c */
    CONDITION_RECORD_GIVEN, /* an incident was given up for room; clears after an hour */
    CONDITION_STUCK,        /* a disk does not answer; what waits for it, above it */
    CONDITION_CONFIG,       /* the configuration was wrong when this watch began */
    CONDITION_CLOCK,        /* the wall clock is not to be trusted */
    CONDITION_UNBOUND,      /* rules found no room; found by rules/rule_self.c, */
    CONDITION_BLIND,        /* as is this: an engine runs without a sensor; which, above it */
    CONDITION_SEASON,       /* a trip could not be kept in the season's file */
};

/* Whether it is trouble of the watch itself (kind `self`) rather than of the bus. */
static inline bool condition_is_own(uint32_t code)
{
    switch ((enum condition_sort)(code & 0xFF)) {
    case CONDITION_MISSING:
    case CONDITION_DOWN:
    case CONDITION_BUS_OFF:
    case CONDITION_PASSIVE:
    case CONDITION_LOST:
    case CONDITION_CUT:
    case CONDITION_QUIET:
        return false;
    default:
        return true;
    }
}

#define CONDITION_CODE(sort, iface) ((uint32_t)(iface) << 8 | (uint32_t)(sort))
#define CONDITIONS_WAITING          64 /* changes kept until they are taken */

struct bus_condition {
    uint32_t code;
    enum priority priority;
    bool stands; /* false: it is over */
    struct stamp at;
    char text[120];
};

/* A queue of changes between two threads. When it is full the oldest change of the same code
 * gives way, so that the last state of each is never lost. */
struct condition_queue;
struct condition_queue *condition_queue_new(void); /* NULL when memory is out */
void condition_queue_free(struct condition_queue *q);
void condition_put(struct condition_queue *q, const struct bus_condition *c);
bool condition_take(struct condition_queue *q, struct bus_condition *out);

#endif
