#include "season_sail.h"

#include "season/watch.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

struct latest {
    double rpm[DRILL_ENGINES];
    double sea, air;
    struct steps_second second[DRILL_ENGINES];
    struct crank_battery battery[DRILL_ENGINES + 1];
};

struct trip {
    struct latest now;
    double next_s;
    const struct drill_season_trip *day;
    int engines;
    struct season_watch *watch;
    bool verbose;
    enum season_level worst[STEPS_ENGINES][SEASON_KEPT];
};

static double of(struct drill_value v)
{
    return v.ok ? v.v : NAN;
}

static void hear_battery(struct crank_battery *b, const struct drill_message *m)
{
    b->volts = of(m->v[0]);
    b->lowest = fmin(b->lowest, b->volts);
    b->temp_c = of(m->v[2]);
}

static void hear(void *ctx, const struct drill_message *m)
{
    struct trip *t = ctx;
    int e = m->engine >= 0 ? m->engine : 0;
    struct steps_second *s = &t->now.second[e];

    switch (m->kind) {
    case DRILL_RAPID:
        t->now.rpm[e] = s->rpm = of(m->v[0]);
        s->running = s->rpm > 300;
        s->load[SEASON_LOAD_BOOST] = s->value[season_kept_row(QTY_BOOST)] = of(m->v[1]);
        break;
    case DRILL_DYNAMIC:
        s->value[season_kept_row(QTY_OIL_PRESSURE)] = of(m->v[DYN_OIL_KPA]);
        s->load[SEASON_LOAD_OIL_TEMP] = s->value[season_kept_row(QTY_OIL_TEMP)] =
            of(m->v[DYN_OIL_C]);
        s->value[season_kept_row(QTY_COOLANT)] = of(m->v[DYN_COOLANT_C]);
        s->value[season_kept_row(QTY_ALTERNATOR)] = of(m->v[DYN_ALTERNATOR_V]);
        s->load[SEASON_LOAD_FUEL_RATE] = s->value[season_kept_row(QTY_FUEL_RATE)] =
            of(m->v[DYN_FUEL_LPH]);
        s->load[SEASON_LOAD_PERCENT] = of(m->v[DYN_LOAD]);
        s->load[SEASON_LOAD_TORQUE] = of(m->v[DYN_TORQUE]);
        break;
    case DRILL_TRANSMISSION:
        s->value[season_kept_row(QTY_GEAR_OIL_TEMP)] = of(m->v[2]);
        break;
    case DRILL_EXHAUST:
        if (!m->wild)
            s->value[season_kept_row(QTY_EXHAUST)] = of(m->v[0]);
        break;
    case DRILL_SPACE:
        t->now.second[0].value[season_kept_row(QTY_ENGINE_SPACE)] = of(m->v[0]);
        break;
    case DRILL_SEA:
        t->now.sea = of(m->v[0]);
        break;
    case DRILL_AIR:
        t->now.air = of(m->v[0]);
        break;
    case DRILL_BATTERY:
        hear_battery(&t->now.battery[m->place], m);
        break;
    default:
        break;
    }
    if (m->t_s < t->next_s)
        return;
    t->next_s = floor(m->t_s) + 1;
    season_watch_second(t->watch, (t->day->epoch_s + (int64_t)m->t_s) * INT64_C(1000000000),
                        t->now.sea, t->now.air, t->now.second, t->engines);
    season_watch_starts(t->watch, (t->day->epoch_s + (int64_t)m->t_s) * INT64_C(1000000000),
                        t->now.air, t->now.second, t->engines, t->now.battery, t->engines + 1);
    for (int i = 0; i <= t->engines; i++)
        t->now.battery[i].lowest = NAN;
    for (int i = 0; i < t->engines; i++)
        for (int k = 0; k < SEASON_KEPT; k++) {
            const struct season_verdict *v = season_watch_verdict(t->watch, i, k);
            int place = season_kept[k].start && v->story ? v->story->id.place : i;
            if (v->level <= t->worst[place][k])
                continue;
            t->worst[place][k] = v->level;
            if (t->verbose)
                printf("    at %.0f s %s.%d %s: %+.2f ± %.2f at %.0f rpm, of %.1f\n", m->t_s,
                       quantity_info(season_kept[k].quantity)->key, place,
                       season_level_word(v->level), v->excess, v->error, v->rpm, v->expected);
        }
}

static void init_trip(struct trip *t, const struct drill_season *s, int i, struct season_watch *w)
{
    *t = (struct trip){.now = {.sea = NAN, .air = NAN},
                       .day = &s->trip[i],
                       .engines = s->boat.engines,
                       .watch = w};
    for (int e = 0; e <= DRILL_ENGINES; e++)
        t->now.battery[e] = (struct crank_battery){.instance = (uint8_t)e,
                                                   .volts = NAN,
                                                   .lowest = NAN,
                                                   .temp_c = NAN,
                                                   .period_s = s->sensors.battery_s};
    for (int e = 0; e < DRILL_ENGINES; e++) {
        t->now.second[e] = (struct steps_second){.instance = (uint8_t)e, .rpm = NAN};
        for (int k = 0; k < SEASON_LOADS; k++)
            t->now.second[e].load[k] = NAN;
        for (int k = 0; k < 16; k++)
            t->now.second[e].value[k] = NAN;
    }
}

/* What the season says once the trip is in it. */
static void judge_after(const struct season *season, struct trip *t, int engines)
{
    static struct season_story story;

    for (int e = 0; e < engines; e++)
        for (int k = 0; k < SEASON_KEPT; k++) {
            struct channel_id id = {.quantity = (uint16_t)season_kept[k].quantity,
                                    .place = (uint8_t)e};
            if ((season_kept[k].boat && e > 0) || !season_tell(season, id, -1, NULL, 0, 0, &story))
                continue;
            const struct season_excess *x = &story.trip[story.trips - 1];
            if (x->trip == season->trip_count - 1 && x->known && story.level > t->worst[e][k])
                t->worst[e][k] = story.level;
        }
}

void season_sail(const struct drill_season *s, struct season_outcome *o, bool verbose)
{
    struct season season = {0};

    season_sail_into(s, o, verbose, &season);
    season_free(&season);
}

void season_sail_into(const struct drill_season *s, struct season_outcome *o, bool verbose,
                      struct season *season)
{
    bool said = false, warned = false, late6 = false, late12 = false, false_c = false,
         false_w = false, question = false, found = false, late9 = false;
    struct drill_plan *plan = malloc(sizeof *plan);
    double passed = 0, most = 0;

    for (int i = 0; i < s->trips; i++) {
        struct season_watch *w = season_watch_new(season);
        struct trip t;
        struct season_trip trip;
        const struct season_step *steps;
        int count, overlaps;
        double truth = s->trip[i].excess_k[s->engine], less = s->trip[i].crank_less[s->engine];
        bool wears = truth > 0.8 || (s->kind == DRILL_SEASON_STRAINER && i >= s->event);
        int ex = season_kept_row(QTY_EXHAUST);

        drill_season_plan(s, i, plan);
        init_trip(&t, s, i, w);
        t.verbose = verbose;
        struct drill_run *run = drill_run_new(plan);
        while (drill_run_step(run, hear, &t))
            ;
        drill_run_free(run);
        if (season_watch_trip(w, "trip", &trip, &steps, &count))
            season_add(season, &trip, steps, count, &overlaps);
        judge_after(season, &t, s->boat.engines);
        season_watch_free(w);
        if (verbose)
            printf("  trip %2d  truth %5.1f  sea %4.1f  hull %.2f:", i, truth, s->trip[i].sea_c,
                   s->trip[i].hull);
        for (int e = 0; e < s->boat.engines; e++)
            for (int k = 0; k < SEASON_KEPT; k++) {
                enum season_level l = t.worst[e][k];
                /* wear shows on its engine's exhaust, scale on coolant and oil too */
                bool mine =
                    e == s->engine &&
                    (season_kept[k].start ? less > 0.02
                                          : wears && k <= 4 && s->kind != DRILL_SEASON_WORN);
                /* A hull that is fouled does burn more: said of the burn, no fault. */
                bool hull = season_kept[k].quantity == QTY_FUEL_RATE && s->trip[i].hull > 0.08;
                static struct season_story story;
                struct channel_id id = {.quantity = (uint16_t)season_kept[k].quantity,
                                        .place = (uint8_t)e};
                if (verbose && season_kept[k].start && less > 0 && e == s->engine &&
                    season_tell(season, id, -1, NULL, 0, 0, &story))
                    printf("  [less %.3f: %+.3f±%.3f]", less, story.trip[story.trips - 1].excess,
                           story.trip[story.trips - 1].error);
                if (verbose && k == ex && season_tell(season, id, -1, NULL, 0, 0, &story))
                    printf("  [%d m%d %+.1f±%.1f idle %+.1f rest %+.1f off %+.1f%s]", e,
                           (int)story.normal.mode, story.trip[story.trips - 1].excess,
                           story.trip[story.trips - 1].error, story.trip[story.trips - 1].idle,
                           story.trip[story.trips - 1].own_rest, story.offset,
                           story.trip[story.trips - 1].known ? "" : " unknown");
                if (l == SEASON_QUIET)
                    continue;
                if (verbose)
                    printf("  %s.%d:%s", quantity_info(season_kept[k].quantity)->key, e,
                           l == SEASON_WARNING   ? "W"
                           : l == SEASON_CAUTION ? "C"
                                                 : "q");
                if (verbose && k != ex && season_tell(season, id, -1, NULL, 0, 0, &story))
                    printf("(%+.3f±%.3f)", story.trip[story.trips - 1].excess,
                           story.trip[story.trips - 1].error);
                question |= l == SEASON_QUESTION;
                if (mine && l >= SEASON_CAUTION) {
                    if (!said && o->firsts < 400)
                        o->first_k[o->firsts++] = season_kept[k].start ? 100 * less : truth;
                    said = true;
                    found |= s->kind == DRILL_SEASON_STRAINER && i == s->event;
                    warned |= l == SEASON_WARNING;
                } else if (!mine && !hull && l >= SEASON_CAUTION) {
                    false_c = true;
                    false_w |= l == SEASON_WARNING;
                }
            }
        if (verbose)
            putchar('\n');
        passed = fmax(passed, truth);
        late6 |= !said && truth > 6;
        late12 |= !warned && truth > 12;
        late9 |= !said && less > 0.09;
        most = fmax(most, less);
    }
    o->seasons++;
    o->due6 += passed > 6;
    o->due12 += passed > 12;
    o->due9 += most > 0.09;
    o->battery += most > 0.09 && !late9;
    o->early += passed > 6 && !late6;
    o->warned += passed > 12 && !late12;
    o->strainer += found;
    o->cautions += false_c;
    o->warnings += false_w;
    o->questions += question;
    free(plan);
}
