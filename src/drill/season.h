/* A summer of trips of one invented boat: sea and air that warm and cool again, a hull that grows
 * weed and is scrubbed, and one thing that goes wrong little by little, or nothing. Owns no physics
 * (model.h) and no trip (trip.h): it says what boat sails on which day, and the truth of that day.
 */
#ifndef STOKEHOLD_DRILL_SEASON_H
#define STOKEHOLD_DRILL_SEASON_H

#include "drill/run.h"

#include <stddef.h>

#define DRILL_SEASON_TRIPS 60

enum drill_season_kind {
    DRILL_SEASON_HEALTHY,  /* sea and hull only */
    DRILL_SEASON_IMPELLER, /* the pump of one engine wears: 40..65 % of its water in the end */
    DRILL_SEASON_SCALE,    /* cooler and passages of one engine scale */
    DRILL_SEASON_STRAINER, /* weed in the strainer, within one trip */
    DRILL_SEASON_PROBE,    /* an exhaust probe is exchanged between two trips: 3..8 K off */
    DRILL_SEASON_WORN,     /* worn from the first trip on, and no further */
    DRILL_SEASON_BATTERY,  /* the starting battery of one engine ages */
    DRILL_SEASON_KINDS
};
const char *drill_season_name(enum drill_season_kind kind);
bool drill_season_find(const char *name, enum drill_season_kind *out);

struct drill_season_trip {
    int64_t epoch_s;
    double sea_c, air_c, hull;
    double water_lost[DRILL_ENGINES], hx_lost[DRILL_ENGINES], bias[DRILL_ENGINES];
    double rest_v;                      /* of every battery before the start, over nominal 12 */
    double dip_v;                       /* that a new one falls by under the starter, likewise */
    double battery_lost[DRILL_ENGINES]; /* how much further it falls under the starter, share */
    double crank_less[DRILL_ENGINES];   /* by what share its lowest volts are less than unaged */
    /* Exhaust above what it would be unworn, at two thirds of rated speed, same sea and hull; what
     * a probe's bias adds is not in it. */
    double excess_k[DRILL_ENGINES];
};

struct drill_season {
    enum drill_season_kind kind;
    int engine, trips;
    int event; /* the trip on which wear begins, weed comes, the probe is exchanged; -1 none */
    uint64_t seed;
    struct drill_params boat;
    struct drill_sensors sensors;
    struct drill_season_trip trip[DRILL_SEASON_TRIPS];
};

/* Any boat. trips 0: 16 to 24; engines 0: one on a third of the boats. Half have no load on the
 * bus, a third no sea temperature. Where the battery ages its volts come every 0.25 s, as on half
 * of the boats on which nothing wears; on all others every 1.5 s. */
void drill_season_make(struct drill_season *s, enum drill_season_kind kind, uint64_t seed,
                       int trips, int engines);
/* The plan of trip i. */
void drill_season_plan(const struct drill_season *s, int i, struct drill_plan *plan);

/* The truth of all trips as one JSON object with "\n" in buf (DRILL_SEASON_TRUTH_SIZE is enough),
 * or NULL where it did not fit. Trips are numbered from 1, as their logs are. */
#define DRILL_SEASON_TRUTH_SIZE 32768
const char *drill_season_json(char *buf, size_t cap, const struct drill_season *s);

#endif
