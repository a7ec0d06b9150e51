/* A season: what a boat's trips were like, kept between them as text that people can read and
 * correct. Owns trips, the steady steps within them (one figure of one channel at one engine
 * speed) and the marks of work done. Knows nothing of how steps are found or judged (steps.h,
 * model.h), of the bus or of the clock.
 *
 * Invariants: trips are in order of time and do not overlap; every step belongs to a trip; steps of
 * a trip are in order of time. Values are in base units (quantity.h). */
#ifndef STOKEHOLD_SEASON_SEASON_H
#define STOKEHOLD_SEASON_SEASON_H

#include "base/err.h"
#include "base/quantity.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#define SEASON_TRIPS    240   /* more are thinned: see season_thin */
#define SEASON_STEPS    24000 /* 100 a trip: 2 engines, 10 channels, 5 speeds */
#define SEASON_MARKS    200
#define SEASON_APART_NS (INT64_C(4) * 3600 * 1000000000) /* engines off so long end a trip */

/* What stands for the engine's load where it is compared with other trips, best first. */
enum season_load {
    SEASON_LOAD_NONE,
    SEASON_LOAD_PERCENT,    /* load.N, % */
    SEASON_LOAD_TORQUE,     /* torque.N, % */
    SEASON_LOAD_FUEL_RATE,  /* fuel-rate.N, L/h */
    SEASON_LOAD_BOOST,      /* boost.N, kPa */
    SEASON_LOAD_OIL_TEMP,   /* oil-temp.N, °C: of oil pressure alone */
    SEASON_LOAD_REST_VOLTS, /* of a battery before the start: of its volts while cranking alone */
    SEASON_LOADS
};

struct season_step {
    struct channel_id id;
    enum season_load load_kind;
    double rpm, load;    /* load NaN where load_kind is NONE */
    double sea_c, air_c; /* NaN: not known */
    double mean, spread, minutes;
    int64_t wall_ns; /* when it began */
    int trip;        /* index into trips */
};

struct season_trip {
    int64_t from_ns, to_ns; /* wall: first start, last reading with an engine running */
    char log[80];
};

struct season_mark {
    int64_t wall_ns;
    bool all;                   /* concerns every channel */
    struct channel_id concerns; /* where !all */
    char words[120];
};

struct season {
    struct season_trip *trips;
    struct season_step *steps;
    struct season_mark *marks;
    int trip_count, step_count, mark_count;
    bool starved; /* memory was out when something was to be added */
};

void season_free(struct season *s); /* leaves it empty */

/* Adds a trip with its steps (their `trip` is set here). Adds nothing and returns false where it
 * overlaps one that is there (*overlaps gets its index, else -1) or memory is out. */
bool season_add(struct season *s, const struct season_trip *trip, const struct season_step *steps,
                int count, int *overlaps);
/* Adds what a watch found, as season_add, with what makes one trip of it and what is there already:
 * it is joined to trips less than SEASON_APART_NS from it (a watch that was begun again, a record
 * of an hour a file); where it goes on from its own earlier part, which began at the same second or
 * ended at before_ns (0: there is none), it takes that part's place. False where it adds nothing:
 * it overlaps another trip. */
bool season_put(struct season *s, const struct season_trip *trip, const struct season_step *steps,
                int count, int64_t before_ns);
/* The trip that overlaps [from, to], or -1. */
int season_overlap(const struct season *s, int64_t from_ns, int64_t to_ns);
/* Takes a trip and its steps out. */
void season_take_out(struct season *s, int trip);
bool season_mark(struct season *s, const struct season_mark *m);
/* Takes trips out where there are more than SEASON_TRIPS: never the first ones or the newest, and
 * of the others always the one whose neighbours are closest in time. */
void season_thin(struct season *s);

/* ---- the file ---- */

/* name stands before the line number in e. Reads what this version writes and the baselines of
 * earlier ones. On failure *out is empty. */
bool season_parse(const char *text, size_t len, const char *name, struct season *out,
                  struct err *e);
/* A file that is not there is an empty season where `may_miss`, else an error that says so. */
bool season_read(const char *path, bool may_miss, struct season *out, struct err *e);
/* With its comments; the caller looks at ferror. */
void season_write(FILE *out, const struct season *s);
/* Writes a whole new file beside it and moves that into place, under a lock that other writers
 * wait for. `change` is called with the season as it is on the disk at that moment (empty where
 * the file is not there) and returns false where there is nothing to write. `after`, where not
 * NULL, gets what the file then holds (the caller frees it; empty on failure). */
bool season_update(const char *path, bool (*change)(struct season *s, void *ctx), void *ctx,
                   struct season *after, struct err *e);

#endif
