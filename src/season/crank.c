#include "season/crank.h"

#include <math.h>

#include "base/banned.h"

/* Common practice, no source, all but the first. */
#define NS         INT64_C(1000000000)
#define STANDS_RPM 50   /* the starter does not turn yet: it turns an engine at 100 to 300 rpm */
#define LONGEST_S  30   /* from standing to running: no starter is held longer */
#define REST_LEAST 5    /* s that it must have been seen at rest */
#define REST_MOST  30   /* the latest count */
#define QUICK_S    0.55 /* volts come that often: the half second of a slow clock */
#define TOOK_PART  0.04 /* of its volts: half a volt of 12; another battery falls less */
#define CHARGING_V 13.5 /* of a 12 V system: above, something charges it */

/* How many times 12 V, by what it stands at. */
static double units(double rest_v)
{
    return rest_v > 42 ? 4 : rest_v > 32 ? 3 : rest_v > 18 ? 2 : 1;
}

static void stands(struct crank_rest *r, const struct crank_battery *b)
{
    if (r->waiting > 0) {
        if (r->count >= REST_MOST) {
            r->sum -= r->sum / r->count;
            r->count--;
        }
        r->sum += r->waiting;
        r->count++;
    }
    r->waiting = b->volts;
    r->lowest = b->lowest; /* the starter may turn later in this very second */
}

/* How far it fell, as a share; 0 where that says nothing. */
static double fell(const struct crank_rest *r, const struct crank_battery *b)
{
    double rest_v = r->sum / r->count;

    if (r->count < REST_LEAST || !(b->period_s > 0) || b->period_s > QUICK_S || !(r->lowest > 0) ||
        rest_v > CHARGING_V * units(rest_v))
        return 0;
    return 1 - r->lowest / rest_v;
}

/* The battery that fell most turned the starter. */
static bool started(struct crank *c, int engine, int64_t wall_ns, double air_c,
                    const struct crank_battery *batteries, int count, struct season_step *out)
{
    const struct crank_rest *rest = c->rest[engine];
    double most = TOOK_PART;
    int it = -1;

    for (int i = 0; i < count; i++)
        if (fell(&rest[i], &batteries[i]) >= most) {
            most = fell(&rest[i], &batteries[i]);
            it = i;
        }
    if (it < 0)
        return false;
    *out = (struct season_step){
        .id = {.quantity = QTY_BATTERY_VOLTS, .place = batteries[it].instance},
        .load_kind = SEASON_LOAD_REST_VOLTS,
        .load = rest[it].sum / rest[it].count,
        .rpm = CRANK_RPM,
        .sea_c = NAN,
        .air_c = isfinite(batteries[it].temp_c) ? batteries[it].temp_c : air_c,
        .mean = rest[it].lowest,
        .minutes = (double)(wall_ns - c->stood_ns[engine]) / 60e9,
        .wall_ns = c->stood_ns[engine],
    };
    return true;
}

static void forget(struct crank *c, int engine)
{
    c->stood_ns[engine] = 0;
    for (int i = 0; i < CRANK_BATTERIES; i++)
        c->rest[engine][i] = (struct crank_rest){0};
}

int crank_second(struct crank *c, int64_t wall_ns, double air_c, const struct crank_engine *engines,
                 int count, const struct crank_battery *batteries, int battery_count,
                 struct season_step *out)
{
    int found = 0;

    if (battery_count > CRANK_BATTERIES)
        battery_count = CRANK_BATTERIES;
    for (int e = 0; e < count && e < CRANK_ENGINES; e++) {
        const struct crank_engine *now = &engines[e];
        bool standing = !now->running && now->rpm < STANDS_RPM;
        int64_t ago_ns = wall_ns - c->stood_ns[e];

        if (c->stood_ns[e] != 0 && (ago_ns < 0 || ago_ns > LONGEST_S * NS))
            forget(c, e);
        if (!standing && c->stood_ns[e] == 0)
            continue;
        for (int i = 0; i < battery_count; i++) {
            if (standing)
                stands(&c->rest[e][i], &batteries[i]);
            else
                c->rest[e][i].lowest = fmin(c->rest[e][i].lowest, batteries[i].lowest);
        }
        if (standing) {
            c->stood_ns[e] = wall_ns;
        } else if (now->running) {
            found += started(c, e, wall_ns, air_c, batteries, battery_count, &out[found]);
            forget(c, e);
        }
    }
    return found;
}
