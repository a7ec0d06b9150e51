/* Seasons drawn at random: with and without sea, air, load and twin, with wear on a channel, with a
 * probe that was exchanged, with work that was marked. What a season says of each channel is kept
 * as a golden text: it says that something has changed, not that it was right. */
#include "base/rng.h"
#include "season/kept.h"
#include "season/model.h"

#include "support/check.h"
#include "support/golden.h"

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
static double healthy(enum quantity q, double u, double load, double sea_c, double air_c)
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

static struct boat draw(uint64_t seed)
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

static int put_row(struct boat *b, int trip, int e, int row, double rpm, double load, double sea_c,
                   double air_c, int64_t at_ns, struct season_step *out)
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

static int sail(struct boat *b, int trip, int64_t from_ns, struct season_step *steps)
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

/* --- what it says --------------------------------------------------------------------------------
 */

static void put_normal(FILE *out, const struct season_normal *n)
{
    fprintf(out, " mode %d first %d last %d of %d beside %d rpm %.4g %.4g %.4g sea %.4g air %.4g\n",
            (int)n->mode, n->first, n->last, n->trips, n->beside, n->rpm_unit, n->rpm_low,
            n->rpm_high, n->sea_c, n->air_c);
    fprintf(out, "  load %d %.3g %.3g %.3g between %.4g idle %.4g scale %.4g freedom %.4g beta",
            (int)n->load_kind, n->load_fit[0], n->load_fit[1], n->load_fit[2], n->between,
            n->between_idle, n->fit.scale, n->fit.freedom);
    for (int i = 0; i < n->fit.terms; i++)
        fprintf(out, " %.3g", n->fit.beta[i]);
    fputc('\n', out);
}

static void put_expected(FILE *out, const struct season_story *st)
{
    static const struct {
        double rpm, load, sea_c, air_c;
    } at[] = {{800, 20, 12, 10},
              {1600, 60, 22, 30},
              {2350, 95, NAN, 20},
              {2350, 400, 15, NAN},
              {2950, 95, 15, 20}};

    for (size_t i = 0; i < sizeof at / sizeof at[0]; i++) {
        double value, error;
        bool load = st->normal.load_kind != SEASON_LOAD_NONE;

        fprintf(out, "  %.0f x%.4g", at[i].rpm, season_at_speed(st, at[i].rpm));
        if (season_expected(st, at[i].rpm, load ? st->normal.load_kind : SEASON_LOAD_NONE,
                            load ? at[i].load : NAN, at[i].sea_c, at[i].air_c, 60, &value, &error))
            fprintf(out, " %.4g+-%.3g", value, error);
    }
    fputc('\n', out);
}

static void put_reserve(FILE *out, const struct season_story *st)
{
    static const double limit[] = {50, 86, 110};

    for (size_t i = 0; i < sizeof limit / sizeof limit[0]; i++) {
        struct season_reserve r;

        if (season_reserve(st, 18, st->excess, limit[i], &r))
            fprintf(out, "  below %.0f: %.4g used %d weeks %.4g\n", limit[i], r.reading, r.used_up,
                    r.weeks);
    }
}

static void put_story(FILE *out, const char *what, bool told, const struct season_story *st)
{
    char key[CHANNEL_KEY_SIZE];

    if (!told) {
        fprintf(out, " %s: nothing\n", what);
        return;
    }
    channel_id_format(key, sizeof key, st->id);
    fprintf(out,
            " %s %s: %s in row %d excess %.4g+-%.3g offset %.4g+-%.3g rest %.4g growth %.3g+-%.3g "
            "grows %d up %d both %d since %.0f mark '%s'\n",
            what, key, season_level_word(st->level), st->in_row, st->excess, st->error, st->offset,
            st->offset_error, st->rest, st->growth_per_week, st->growth_error, season_grows(st),
            st->up, st->both, (double)(st->since_ns / DAY_NS), st->mark);
}

static void put_trips(FILE *out, const struct season_story *st)
{
    for (int i = 0; i < st->trips; i++) {
        const struct season_excess *e = &st->trip[i];

        if (i >= 2 && i + 3 < st->trips && !e->exchanged)
            continue;
        fprintf(out,
                "  trip %d %d: %.4g+-%.3g at %.4g idle %.4g+-%.3g rest %.4g own %.4g %d load "
                "%.3g\n",
                e->trip, e->known, e->excess, e->error, e->rpm, e->idle, e->idle_error, e->rest,
                e->own_rest, e->exchanged, e->load_part);
    }
}

static void tell(FILE *out, const struct season *s, const struct season_step *now, int count,
                 int64_t now_ns)
{
    static struct season_story st;
    const struct season_step *first[64];
    struct channel_id id[SEASON_KEPT * 2];
    int channels = season_channels(s, id, SEASON_KEPT * 2);

    for (int c = 0; c < channels; c++) {
        bool told = season_tell(s, id[c], -1, NULL, 0, 0, &st);

        put_story(out, "all", told, &st);
        if (told) {
            put_normal(out, &st.normal);
            put_trips(out, &st);
            put_expected(out, &st);
            put_reserve(out, &st);
        }
        told = season_tell(s, id[c], -1, now, count, now_ns, &st);
        put_story(out, "now", told, &st);
        told = season_tell(s, id[c], s->trip_count - 2, NULL, 0, 0, &st);
        put_story(out, "without", told, &st);
        if (s->mark_count > 0)
            put_story(out, "before", season_tell_before(s, id[c], s->mark_count - 1, &st), &st);
        fprintf(out, "  first steps %d\n", season_first_steps(s, id[c], first, 64));
    }
}

static void season_of(FILE *out, uint64_t seed)
{
    struct boat b = draw(seed);
    struct season season = {0};
    struct season_step *steps = calloc(MOST, sizeof *steps);
    int64_t at_ns = 20000 * DAY_NS + 8 * 3600 * S;

    assert_non_null(steps);
    fprintf(out, "---- %d: engines %d trips %d sea %d air %d load %d row %d from %d by %.3g %.3g\n",
            (int)seed, b.engines, b.trips, b.sea, b.air, (int)b.load, b.row, b.from, b.by, b.moved);
    for (int trip = 0; trip < b.trips; trip++) {
        struct season_trip t = {.from_ns = at_ns, .to_ns = at_ns + 7200 * S};
        int overlaps, count = sail(&b, trip, at_ns, steps);

        if (trip > 0 && trip == b.work) {
            struct season_mark m = {.wall_ns = at_ns - 3600 * S, .all = trip % 2 == 0};
            m.concerns = (struct channel_id){season_kept[b.row].quantity, (uint8_t)b.engine, 0};
            snprintf(m.words, sizeof m.words, "work %d", trip);
            assert_true(season_mark(&season, &m));
        }
        assert_true(season_add(&season, &t, steps, count, &overlaps));
        at_ns += (1 + rng_below(&b.rng, 9)) * DAY_NS;
    }
    int count = sail(&b, b.trips, at_ns, steps);
    for (int i = 0; i < count; i++)
        steps[i].trip = 0;
    tell(out, &season, steps, count, at_ns);
    season_free(&season);
    free(steps);
}

/* Seeds of which each has something of its own: a warning, both engines, an exchanged probe, work.
 */
static void season__drawn_at_random__is_told_as_kept(void **state)
{
    static const uint64_t seeds[] = {5, 10, 17, 21, 25, 29, 33, 38, 40};
    char *got = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&got, &len);

    (void)state;
    assert_non_null(out);
    for (size_t i = 0; i < sizeof seeds / sizeof seeds[0]; i++)
        season_of(out, seeds[i]);
    fclose(out);
    golden_check("season", "drawn", got);
    free(got);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(season__drawn_at_random__is_told_as_kept),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
