#include "drill/season.h"

#include "base/json.h"
#include "base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define FIRST_DAY INT64_C(1777881600) /* 2026-05-04 08:00 UTC: an invented Monday */
#define DAY_S     INT64_C(86400)
#define SUMMER_D  140.0 /* from the first trip to the last of a season of usual length */
#define QUICK_S   0.25  /* volts of a battery that show a start */
#define CRANK_DIP 2.25  /* V below rest under the starter at 20 °C, of 12 V; common practice */
#define COLD_DIP  0.01  /* and so much more of it for each K below; common practice, no source */

static const char *const names[DRILL_SEASON_KINDS] = {
    [DRILL_SEASON_HEALTHY] = "none",    [DRILL_SEASON_IMPELLER] = "impeller-wear",
    [DRILL_SEASON_SCALE] = "scale",     [DRILL_SEASON_STRAINER] = "strainer",
    [DRILL_SEASON_PROBE] = "probe",     [DRILL_SEASON_WORN] = "worn",
    [DRILL_SEASON_BATTERY] = "battery",
};

const char *drill_season_name(enum drill_season_kind kind)
{
    return names[kind];
}

bool drill_season_find(const char *name, enum drill_season_kind *out)
{
    for (int i = 0; i < DRILL_SEASON_KINDS; i++)
        if (strcmp(name, names[i]) == 0) {
            *out = (enum drill_season_kind)i;
            return true;
        }
    return false;
}

/* Days and weather. The sea goes from 9 °C in May to 20 °C at the end of July and back to 15. */
static void set_days(struct drill_season *s, struct rng *r)
{
    double step = SUMMER_D / s->trips, scrubbed = rng_between(r, 0.4, 0.7);
    double growth = rng_between(r, 0.05, 0.2);

    for (int i = 0; i < s->trips; i++) {
        struct drill_season_trip *t = &s->trip[i];
        double day = step * (i + rng_between(r, 0.05, 0.8)), share = day / SUMMER_D;

        t->epoch_s = FIRST_DAY + (int64_t)day * DAY_S + rng_below(r, 6) * 3600;
        t->sea_c = 9 + 11 * sin(1.9 * share) + rng_between(r, -0.8, 0.8);
        t->air_c = t->sea_c + rng_between(r, -2, 8);
        t->hull =
            share < scrubbed ? growth * share / scrubbed : growth * (share - scrubbed) / scrubbed;
    }
}

static void wear(struct drill_season *s, struct rng *r)
{
    double end = rng_between(r, 0.35, 0.6), bend = rng_between(r, 1, 1.8);
    int first = s->event;

    for (int i = first; i < s->trips; i++) {
        double x = pow((i - first + 1.0) / (s->trips - first), bend);
        if (s->kind == DRILL_SEASON_IMPELLER) {
            s->trip[i].water_lost[s->engine] = end * x;
        } else {
            s->trip[i].water_lost[s->engine] = 0.85 * end * x;
            s->trip[i].hx_lost[s->engine] = end * x;
        }
    }
}

/* Lead and acid: a little fuller or emptier each day, and older. */
static void set_batteries(struct drill_season *s)
{
    struct rng r;

    rng_seed_stream(&r, s->seed, 13);
    bool ages = s->kind == DRILL_SEASON_BATTERY;
    double end = rng_between(&r, 0.4, 0.9), bend = rng_between(&r, 1, 1.8);
    if (ages)
        s->event = 3 + (int)rng_below(&r, 4);
    if (ages || (s->kind == DRILL_SEASON_HEALTHY && rng_chance(&r, 0.5)))
        s->sensors.battery_s = QUICK_S;
    for (int i = 0; i < s->trips; i++) {
        struct drill_season_trip *t = &s->trip[i];

        t->rest_v = 12.65 + 0.06 * rng_normal(&r);
        t->dip_v = CRANK_DIP * (1 + COLD_DIP * (20 - t->air_c)) * (1 + 0.04 * rng_normal(&r));
        if (ages && i >= s->event)
            t->battery_lost[s->engine] =
                end * pow((i - s->event + 1.0) / (s->trips - s->event), bend);
    }
}

/* What a battery falls to under the starter that day, over nominal 12. */
static double crank_v(const struct drill_season_trip *t, double lost)
{
    return t->rest_v - t->dip_v * (1 + lost);
}

static void set_truth(struct drill_season *s)
{
    for (int i = 0; i < s->trips; i++) {
        struct drill_season_trip *t = &s->trip[i];
        struct drill_params p = s->boat;
        struct drill_world worn, new;

        t->crank_less[s->engine] = 1 - crank_v(t, t->battery_lost[s->engine]) / crank_v(t, 0);
        if (t->water_lost[s->engine] == 0 && t->hx_lost[s->engine] == 0)
            continue;
        p.sea_c = t->sea_c;
        p.air_c = t->air_c;
        p.hull = t->hull;
        drill_world_settle(&new, &p, 2.0 / 3);
        p.engine[s->engine].water_lost = t->water_lost[s->engine];
        p.engine[s->engine].hx_lost = t->hx_lost[s->engine];
        drill_world_settle(&worn, &p, 2.0 / 3);
        t->excess_k[s->engine] = worn.engine[s->engine].exhaust_c - new.engine[s->engine].exhaust_c;
    }
}

void drill_season_make(struct drill_season *s, enum drill_season_kind kind, uint64_t seed,
                       int trips, int engines)
{
    struct rng r;

    *s = (struct drill_season){.kind = kind, .seed = seed, .event = -1};
    rng_seed_stream(&r, seed, 11);
    s->trips = trips > 0 ? trips : 16 + (int)rng_below(&r, 9);
    engines = engines > 0 ? engines : rng_below(&r, 3) == 0 ? 1 : 2;
    drill_params_random(&s->boat, &r, engines);
    drill_sensors_random(&s->sensors, &r);
    s->sensors.no_load = rng_chance(&r, 0.5);
    s->sensors.no_sea = rng_below(&r, 3) == 0;
    s->engine = (int)rng_below(&r, (uint32_t)engines);
    set_days(s, &r);
    if (kind == DRILL_SEASON_IMPELLER || kind == DRILL_SEASON_SCALE) {
        s->event = 3 + (int)rng_below(&r, 4);
        wear(s, &r);
    } else if (kind == DRILL_SEASON_STRAINER) {
        s->event = 4 + (int)rng_below(&r, (uint32_t)s->trips - 5);
    } else if (kind == DRILL_SEASON_PROBE) {
        double bias = rng_between(&r, 3, 8) * (rng_chance(&r, 0.5) ? 1 : -1);

        s->event = 4 + (int)rng_below(&r, (uint32_t)s->trips - 6);
        for (int i = s->event; i < s->trips; i++)
            s->trip[i].bias[s->engine] = bias;
    } else if (kind == DRILL_SEASON_WORN) {
        double lost = rng_between(&r, 0.2, 0.4);

        for (int i = 0; i < s->trips; i++)
            s->trip[i].water_lost[s->engine] = lost;
    }
    set_batteries(s);
    set_truth(s);
}

/* Weed comes within minutes of cruising and stays. */
static void weed(struct drill_plan *plan, int engine, struct rng *r)
{
    const struct drill_trip *t = &plan->trip;

    plan->fault = (struct drill_fault){
        .kind = DRILL_FAULT_FOULED,
        .engine = engine,
        .at_s = t->cruise_from_s + 0.3 * (t->cruise_to_s - t->cruise_from_s),
        .length_s = rng_between(r, 120, 400),
        .amount = rng_between(r, 0.35, 0.5),
    };
}

void drill_season_plan(const struct drill_season *s, int i, struct drill_plan *plan)
{
    const struct drill_season_trip *t = &s->trip[i];
    struct drill_habits habits;
    struct rng r;

    *plan = (struct drill_plan){.params = s->boat, .sensors = s->sensors};
    plan->seed = s->seed * 1000 + (uint64_t)i;
    plan->params.sea_c = t->sea_c;
    plan->params.air_c = t->air_c;
    plan->params.start_c = t->air_c + 1;
    plan->params.hull = t->hull;
    for (int e = 0; e < s->boat.engines; e++) {
        plan->params.engine[e].water_lost = t->water_lost[e];
        plan->params.engine[e].hx_lost = t->hx_lost[e];
        plan->params.engine[e].rest_v = t->rest_v;
        plan->params.engine[e].crank_v = crank_v(t, t->battery_lost[e]);
        plan->sensors.exhaust[e].bias += t->bias[e];
    }
    rng_seed_stream(&r, plan->seed, 12);
    do {
        drill_habits_random(&habits, &r);
        habits.minutes = rng_between(&r, 45, 90);
        habits.sea_change = false;
        drill_trip_random(&plan->trip, &plan->params, &habits, &r);
    } while (plan->trip.cruise_to_s - plan->trip.cruise_from_s < 600);
    if (s->kind == DRILL_SEASON_STRAINER && i == s->event)
        weed(plan, s->engine, &r);
}

static void put_list(struct json *j, const char *key, const double *v, int n, int decimals)
{
    char list[80] = "[", digits[32];

    for (int i = 0; i < n; i++) {
        text_number(digits, sizeof digits, v[i], decimals);
        text_append(list, sizeof list, "%s%s", i ? "," : "", digits);
    }
    text_append(list, sizeof list, "]");
    json_raw(j, key, list);
}

/* One trip as an object without its newline. */
static void put_trip(char *dst, size_t cap, const struct drill_season *s, int i)
{
    const struct drill_season_trip *t = &s->trip[i];
    char line[500], log[24];
    struct json j;
    const char *text;

    text_format(log, sizeof log, "trip-%02d.log", i + 1);
    json_open(&j, line, sizeof line);
    json_string(&j, "log", log);
    json_integer(&j, "start", t->epoch_s);
    json_number(&j, "sea", t->sea_c, 1);
    json_number(&j, "outside_air", t->air_c, 1);
    json_number(&j, "hull", t->hull, 3);
    put_list(&j, "water_lost", t->water_lost, s->boat.engines, 3);
    put_list(&j, "cooler_lost", t->hx_lost, s->boat.engines, 3);
    put_list(&j, "probe_bias", t->bias, s->boat.engines, 2);
    put_list(&j, "excess", t->excess_k, s->boat.engines, 2);
    put_list(&j, "battery_lost", t->battery_lost, s->boat.engines, 3);
    put_list(&j, "cranking_volts_less", t->crank_less, s->boat.engines, 3);
    text = json_close(&j);
    text_append(dst, cap, "%s%.*s", i ? "," : "", text ? (int)strlen(text) - 1 : 0,
                text ? text : "");
}

const char *drill_season_json(char *buf, size_t cap, const struct drill_season *s)
{
    char *list = malloc(cap);
    struct json j;
    const char *text;

    if (!list)
        return NULL;
    text_copy(list, cap, "[");
    for (int i = 0; i < s->trips; i++)
        put_trip(list, cap, s, i);
    text_append(list, cap, "]");
    json_open(&j, buf, cap);
    json_string(&j, "fault", names[s->kind]);
    json_integer(&j, "seed", (int64_t)s->seed);
    json_integer(&j, "engines", s->boat.engines);
    if (s->kind == DRILL_SEASON_HEALTHY)
        json_null(&j, "engine");
    else
        json_integer(&j, "engine", s->engine);
    if (s->event < 0)
        json_null(&j, "began_with_trip");
    else
        json_integer(&j, "began_with_trip", s->event + 1);
    json_bool(&j, "load_on_bus", !s->sensors.no_load);
    json_bool(&j, "sea_on_bus", !s->sensors.no_sea);
    json_raw(&j, "trips", list);
    text = json_close(&j);
    free(list);
    return text;
}
