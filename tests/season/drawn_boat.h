/* A boat drawn at random for the golden texts of a season: what a healthy one reads, how each
 * engine differs, and what worsens from a trip on. Figures are invented. */
#ifndef STOKEHOLD_TESTS_SEASON_DRAWN_BOAT_H
#define STOKEHOLD_TESTS_SEASON_DRAWN_BOAT_H

#include "base/rng.h"
#include "season/kept.h"
#include "season/season.h"

#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>

#define S      INT64_C(1000000000)
#define DAY_NS (86400 * S)
#define MOST   400 /* steps of a trip */

struct boat {
    struct rng rng;
    int engines, trips;
    bool sea, air, rests;
    enum season_load load;
    /* one channel worsens, or its probe is exchanged, from a trip on */
    int row, engine, from;
    bool both; /* engines alike */
    double by, moved;
    int work;                   /* marked before this trip; 0: none */
    double own[2][SEASON_KEPT]; /* how each engine differs */
};

/* What a healthy channel reads; u: share of the highest speed. */
static inline double healthy(enum quantity q, double u, double load, double sea_c, double air_c)
{
    switch (q) {
    case QTY_EXHAUST:
        return sea_c + (6 + 30 * u * u) * (1 + 0.8 * load);
    case QTY_COOLANT:
        return 78 + 6 * u + 2 * load + 0.15 * (sea_c - 15);
    case QTY_OIL_TEMP:
        return 70 + 30 * u + 5 * load + 0.2 * (sea_c - 15);
    case QTY_OIL_PRESSURE:
        return 400 * pow(u, 0.3) * exp(-0.013 * (sea_c - 15));
    case QTY_GEAR_OIL_TEMP:
        return 55 + 20 * u + 5 * load + 0.15 * (sea_c - 15);
    case QTY_ENGINE_SPACE:
        return air_c + 12 + 10 * u;
    case QTY_FUEL_RATE:
        return 1 + 30 * pow(u, 2.6) * (1 + load);
    case QTY_ALTERNATOR:
        return 14.3 - 0.02 * (air_c - 15) / 10;
    case QTY_BOOST:
        return 5 + 120 * u * u * (1 + 0.3 * load);
    default:
        return 10.4 + 0.02 * (air_c - 15);
    }
}

static inline struct boat draw(uint64_t seed)
{
    struct boat b = {.load = SEASON_LOAD_NONE};

    rng_seed(&b.rng, seed);
    b.engines = 1 + (int)rng_below(&b.rng, 2);
    b.trips = 5 + (int)rng_below(&b.rng, 12);
    b.sea = rng_chance(&b.rng, 0.6);
    b.air = rng_chance(&b.rng, 0.7);
    b.rests = rng_chance(&b.rng, 0.7);
    if (rng_chance(&b.rng, 0.7))
        b.load = rng_chance(&b.rng, 0.5) ? SEASON_LOAD_PERCENT : SEASON_LOAD_TORQUE;
    b.row = (int)rng_below(&b.rng, rng_chance(&b.rng, 0.5) ? 2 : SEASON_KEPT);
    b.engine = (int)rng_below(&b.rng, (uint32_t)b.engines);
    b.from = 2 + (int)rng_below(&b.rng, (uint32_t)b.trips - 1);
    b.both = rng_chance(&b.rng, 0.3);
    b.by =
        (!season_kept[b.row].up || (season_kept[b.row].down && rng_chance(&b.rng, 0.5)) ? -1 : 1) *
        season_kept[b.row].caution * rng_between(&b.rng, 0.6, 3);
    b.moved = season_kept[b.row].rests && rng_chance(&b.rng, 0.6) ? b.by : 0;
    b.work = rng_chance(&b.rng, 0.4) ? 2 + (int)rng_below(&b.rng, (uint32_t)b.trips) : 0;
    for (int e = 0; e < 2; e++)
        for (int row = 0; row < SEASON_KEPT; row++)
            b.own[e][row] = season_kept[row].between * rng_between(&b.rng, -1.5, 1.5);
    return b;
}

static inline int put_row(struct boat *b, int trip, int e, int row, double rpm, double load,
                          double sea_c, double air_c, int64_t at_ns, struct season_step *out)
{
    const struct season_kept *k = &season_kept[row];
    double u = rpm / 2400, differs = b->own[e][row] + k->between * 0.3 * rng_normal(&b->rng), mean;
    bool worn = row == b->row && (b->both || e == b->engine) && trip >= b->from;

    if ((k->boat && e > 0) || (rpm <= 0 && !k->rests) || rng_chance(&b->rng, 0.05))
        return 0;
    if (rpm <= 0)
        mean = air_c + rng_between(&b->rng, -0.5, 0.5) + (worn ? b->moved : 0);
    else
        mean = healthy(k->quantity, u, load, sea_c, air_c);
    if (rpm > 0 && worn && !(b->moved != 0))
        differs += b->by * (u < SEASON_WORKING ? k->idle_share : 1);
    else if (rpm > 0 && worn)
        differs += b->moved;
    if (rng_chance(&b->rng, 0.02))
        differs += 10 * k->between; /* something odd that day */
    mean = k->share ? mean * exp(differs) : mean + differs;
    *out = (struct season_step){.id = {.quantity = (uint16_t)k->quantity, .place = (uint8_t)e},
                                .load_kind = SEASON_LOAD_NONE,
                                .rpm = rpm,
                                .load = NAN,
                                .sea_c = b->sea ? sea_c : NAN,
                                .air_c = b->air ? air_c : NAN,
                                .mean = mean,
                                .spread = k->between,
                                .minutes = rng_between(&b->rng, 1, 25),
                                .wall_ns = at_ns};
    if (rpm > 0 && k->start) {
        out->load_kind = SEASON_LOAD_REST_VOLTS;
        out->load = 12.6 * (1 + 0.05 * load);
    } else if (rpm > 0 && b->load != SEASON_LOAD_NONE) {
        out->load_kind = b->load;
        out->load = (10 + 80 * u * u) * (1 + load);
    }
    return 1;
}

static inline int sail(struct boat *b, int trip, int64_t from_ns, struct season_step *steps)
{
    static const double rpm[] = {0, 700, 1300, 1700, 2000, 2400};
    double sea_c = 16 + 8 * sin(trip * 0.3) + rng_between(&b->rng, -1, 1);
    double air_c = sea_c + rng_between(&b->rng, -4, 8);
    bool knows_sea = rng_chance(&b->rng, 0.9), had = b->sea;
    int count = 0;

    b->sea = b->sea && knows_sea;
    for (size_t i = 0; i < sizeof rpm / sizeof rpm[0]; i++) {
        double load = rng_between(&b->rng, -0.2, 0.3);
        if ((i == 0 && !b->rests) || rng_chance(&b->rng, 0.15))
            continue;
        for (int e = 0; e < b->engines; e++)
            for (int row = 0; row < SEASON_KEPT; row++)
                count +=
                    put_row(b, trip, e, row, rpm[i] + (i ? rng_between(&b->rng, -30, 30) : 0), load,
                            sea_c, air_c, from_ns + (int64_t)(i * 900 + 60) * S, &steps[count]);
    }
    b->sea = had;
    return count;
}

/* Trips of two hours, days apart, the work marked between two of them; returns when the next
 * begins. */
static inline int64_t sail_season(struct boat *b, struct season *season)
{
    struct season_step *steps = calloc(MOST, sizeof *steps);
    int64_t at_ns = 20000 * DAY_NS + 8 * 3600 * S;

    assert_non_null(steps);
    *season = (struct season){0};
    for (int trip = 0; trip < b->trips; trip++) {
        struct season_trip t = {.from_ns = at_ns, .to_ns = at_ns + 7200 * S};
        int overlaps, count = sail(b, trip, at_ns, steps);

        if (trip > 0 && trip == b->work) {
            struct season_mark m = {.wall_ns = at_ns - 3600 * S, .all = trip % 2 == 0};
            m.concerns = (struct channel_id){season_kept[b->row].quantity, (uint8_t)b->engine, 0};
            snprintf(m.words, sizeof m.words, "work %d", trip);
            assert_true(season_mark(season, &m));
        }
        assert_true(season_add(season, &t, steps, count, &overlaps));
        at_ns += (1 + rng_below(&b->rng, 9)) * DAY_NS;
    }
    free(steps);
    return at_ns;
}

#endif
