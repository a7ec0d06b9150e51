/* Steps at one engine speed joined to points: current taken out, economy, range; the curves
 * through the points. */
#include "report/trial/inside.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define WAY_KN      0.7      /* below it the boat stands, or nearly */
#define EVEN        0.12     /* engines that differ by more were not set alike */
#define OPPOSITE    (-0.906) /* cosine of 155 degrees: within 25 of a reciprocal course */
#define SPEED_FLOOR 0.01     /* kn: no speed is known better, whatever the spread says */
#define COLD_K      15       /* below the warmest coolant of the engine */
#define SLOW_PART   0.5      /* of the way made per turn at the next speed: she was not in gear */
#define UNLOADED    0.3      /* of the load that the law gives */
#define SURE_COST   0.25     /* a standard error of this part of a cost leaves it known */
#define LOG_UNKNOWN                                                                                \
    0.03 /* of a speed log that nothing was held against: common practice, no                      \
            source */
#define METER_PERCENT                                                                              \
    2.0                   /* of a fuel rate, 95 in 100, where the configuration names no           \
                             accuracy: common practice, no source */
#define RATE_STEP_LPH 0.1 /* of the rate on the wire, 127489 */
#define TORQUE_STEP   1.0 /* %, 127489 */
#define FLAT          0.28867513459481287 /* 1/sqrt(12): of a step (GUM 4.3.7) */
#define ROUGH         2 /* readings that wander over more steps average them out */
#define HOUR_NS       (3600.0 * (double)NS_PER_S)

/* --- which steps, and why not ----------------------------------------------------------- */

static double apart_of(const struct trial_step *s)
{
    double most = 0;

    for (int e = 0; e < TRIAL_ENGINES; e++)
        if (s->engines & 1u << e)
            most = fmax(most, fabs(s->engine[e].rpm.mean - s->mean_rpm) / s->mean_rpm);
    return 2 * most;
}

/* All ahead, or all in neutral, as far as the gearboxes say. */
static bool gears_alike(const struct trial_step *s)
{
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        const struct trial_stat *g = &s->engine[e].gear;

        if (s->engines & 1u << e && g->n > 0 && !s->neutral && !(g->low > 0))
            return false;
    }
    return true;
}

static double speed_over_ground(const struct trial_step *s)
{
    return s->north.n > 0 && s->east.n > 0 ? hypot(s->north.mean, s->east.mean)
                                           : s->speed_ground.mean;
}

static bool is_under_way(const struct trial_step *s)
{
    return !s->neutral && ((s->speed_ground.n > 0 && speed_over_ground(s) >= WAY_KN) ||
                           (s->speed_water.n > 0 && s->speed_water.mean >= WAY_KN));
}

/* Every engine within COLD_K of the warmest coolant it was seen with: a cold engine burns more and
 * says nothing about how it runs. True where coolant is not heard. */
static bool is_warm(const struct trial_report *r, const struct trial_step *s)
{
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        double warmest = -INFINITY;

        for (int i = 0; i < r->steps; i++)
            if (r->step[i].engine[e].coolant.n > 0)
                warmest = fmax(warmest, r->step[i].engine[e].coolant.mean);
        if (s->engine[e].coolant.n > 0 && s->engine[e].coolant.mean < warmest - COLD_K)
            return false;
    }
    return true;
}

static enum trial_left why_left(const struct trial_report *r, const struct trial_step *s)
{
    return s->unheard           ? TRIAL_LEFT_UNHEARD
           : !is_warm(r, s)     ? TRIAL_LEFT_COLD
           : apart_of(s) > EVEN ? TRIAL_LEFT_APART
           : !gears_alike(s)    ? TRIAL_LEFT_GEARS
                                : TRIAL_TAKEN;
}

/* --- groups of steps at one speed --------------------------------------------------------- */

struct group {
    struct trial_step *step[TRIAL_STEPS];
    int n;
    bool under_way;
};

/* Velocities of the runs one way and the other, the current of the log taken off where known. */
struct ways {
    double north[2], east[2], seconds[2], variance[2];
    double time[2];               /* mean, h from the first step */
    int log[2];                   /* -1: several */
    signed char way[TRIAL_STEPS]; /* of each step of the group; -1: neither */
};

static int by_speed(const void *a, const void *b)
{
    const struct trial_step *const *x = a, *const *y = b;

    if ((*x)->mean_rpm < (*y)->mean_rpm)
        return -1;
    return (*x)->mean_rpm > (*y)->mean_rpm;
}

static int64_t middle_of(const struct trial_step *s)
{
    return s->wall_ns + (int64_t)(s->seconds * 0.5e9);
}

/* Standard error of one part of a velocity; 0.05 kn where the step is too short to tell. */
static double part_error(const struct trial_step *s)
{
    double e = sqrt((s->north.error * s->north.error + s->east.error * s->east.error) / 2);

    return isfinite(e) ? e : 0.05;
}

static void water_velocity(const struct trial_report *r, const struct trial_step *s, double *north,
                           double *east)
{
    double n, e, error;

    trial_current_at(&r->current[s->log], middle_of(s), &n, &e, &error);
    *north = s->north.mean - n;
    *east = s->east.mean - e;
}

/* Sorts the steps of a group into one way and the other by how she moved through the water: in a
 * cross current slow runs are far from reciprocal over the ground. */
static void ways_of(const struct trial_report *r, const struct group *g, struct ways *w)
{
    double north = 0, east = 0;

    *w = (struct ways){.log = {-2, -2}};
    for (int i = 0; i < g->n; i++) {
        const struct trial_step *s = g->step[i];
        double n, e, dot, error = part_error(s) * s->seconds;
        int way;

        w->way[i] = -1;
        if (s->north.n == 0 || s->east.n == 0)
            continue;
        water_velocity(r, s, &n, &e);
        if (hypot(n, e) < WAY_KN)
            continue;
        if (north == 0 && east == 0) {
            north = n;
            east = e;
        }
        dot = (north * n + east * e) / (hypot(north, east) * hypot(n, e));
        way = dot > -OPPOSITE ? 0 : dot < OPPOSITE ? 1 : -1;
        w->way[i] = (signed char)way;
        if (way < 0)
            continue;
        w->north[way] += n * s->seconds;
        w->east[way] += e * s->seconds;
        w->time[way] += (double)(middle_of(s) - r->step[0].wall_ns) / HOUR_NS * s->seconds;
        w->variance[way] += error * error;
        w->seconds[way] += s->seconds;
        w->log[way] = w->log[way] == -2 || w->log[way] == s->log ? s->log : -1;
    }
    for (int i = 0; i < 2; i++) {
        w->north[i] /= fmax(w->seconds[i], 1e-9);
        w->east[i] /= fmax(w->seconds[i], 1e-9);
        w->time[i] /= fmax(w->seconds[i], 1e-9);
        w->variance[i] /= fmax(w->seconds[i] * w->seconds[i], 1e-9);
    }
}

static bool both_ways(const struct ways *w)
{
    return w->seconds[0] > 0 && w->seconds[1] > 0;
}

static int by_time(const void *a, const void *b)
{
    const struct trial_pair *x = a, *y = b;

    return x->at_ns < y->at_ns ? -1 : x->at_ns > y->at_ns;
}

static int by_began(const void *a, const void *b)
{
    const struct trial_step *const *x = a, *const *y = b;

    return (*x)->wall_ns < (*y)->wall_ns ? -1 : (*x)->wall_ns > (*y)->wall_ns;
}

/* Each run with the next one the other way, within one log: half of their sum is the current half
 * way between them. Four runs to and fro make three pairs. */
static int pairs_of(const struct trial_report *r, struct group *g, int log, struct trial_pair *pair,
                    int n)
{
    struct ways w;
    int last = -1;

    qsort(g->step, (size_t)g->n, sizeof(struct trial_step *), by_began);
    ways_of(r, g, &w);
    for (int i = 0; i < g->n && n < TRIAL_STEPS; i++) {
        const struct trial_step *a = last < 0 ? NULL : g->step[last], *b = g->step[i];

        if (w.way[i] < 0 || b->log != log)
            continue;
        if (a && w.way[last] != w.way[i])
            pair[n++] = (struct trial_pair){.at_ns = middle_of(a) / 2 + middle_of(b) / 2,
                                            .north = (a->north.mean + b->north.mean) / 2,
                                            .east = (a->east.mean + b->east.mean) / 2,
                                            .error = hypot(part_error(a), part_error(b)) / 2};
        last = i;
    }
    return n;
}

/* One round: the pairs that are known by the current as it stands, and the current from them. */
static bool fit_currents(struct trial_report *r, struct group *group, int groups)
{
    struct trial_current *fresh = calloc(TRIAL_LOGS, sizeof *fresh);
    struct trial_pair *pair = calloc(TRIAL_STEPS, sizeof *pair);
    bool done = fresh && pair;

    for (int log = 0; done && log < r->logs; log++) {
        int n = 0;

        for (int i = 0; i < groups; i++)
            if (group[i].under_way)
                n = pairs_of(r, &group[i], log, pair, n);
        qsort(pair, (size_t)n, sizeof *pair, by_time);
        trial_current_fit(&fresh[log], pair, n);
    }
    for (int log = 0; done && log < r->logs; log++)
        r->current[log] = fresh[log];
    free(fresh);
    free(pair);
    return done;
}

/* --- one point ---------------------------------------------------------------------------- */

/* Weighted mean of what was heard; spreads and errors joined. */
static void join(struct trial_stat *into, const struct trial_stat *s)
{
    double n = into->n + s->n;

    if (s->n == 0)
        return;
    if (into->n == 0) {
        *into = *s;
        return;
    }
    into->error = hypot(into->error * into->n / n, s->error * s->n / n);
    into->mean = (into->mean * into->n + s->mean * s->n) / n;
    into->low = fmin(into->low, s->low);
    into->high = fmax(into->high, s->high);
    into->n += s->n;
}

static void join_engine(struct trial_engine *into, const struct trial_engine *s)
{
    join(&into->rpm, &s->rpm);
    join(&into->exhaust, &s->exhaust);
    join(&into->exhaust_gas, &s->exhaust_gas);
    join(&into->coolant, &s->coolant);
    join(&into->oil_pressure, &s->oil_pressure);
    join(&into->oil_temp, &s->oil_temp);
    join(&into->fuel_rate, &s->fuel_rate);
    join(&into->load, &s->load);
    join(&into->torque, &s->torque);
    join(&into->boost, &s->boost);
    join(&into->alternator, &s->alternator);
    join(&into->gear, &s->gear);
    join(&into->burn_error, &s->burn_error);
}

/* Both ways: the difference of the two velocities is twice that through the water. What the
 * current did between the runs, beyond its even change, is in the error. */
static void speed_both_ways(const struct trial_report *r, struct trial_point *p,
                            const struct ways *w)
{
    const struct trial_current *c =
        w->log[0] >= 0 && w->log[0] == w->log[1] ? &r->current[w->log[0]] : NULL;
    double apart_h = fabs(w->time[0] - w->time[1]), walk, north, east, error;
    int64_t at_ns = r->step[0].wall_ns + (int64_t)((w->time[0] + w->time[1]) / 2 * HOUR_NS);

    p->how = TRIAL_RECIPROCAL;
    p->speed_kn = hypot(w->north[0] - w->north[1], w->east[0] - w->east[1]) / 2;
    walk = c && c->pairs > 0 ? c->walk_kn2_h * apart_h : 0.25 * apart_h * apart_h;
    p->speed_error = sqrt(w->variance[0] + w->variance[1] + walk) / 2;
    north = (w->north[0] + w->north[1]) / 2;
    east = (w->east[0] + w->east[1]) / 2;
    if (c && trial_current_at(c, at_ns, &p->current_kn, &p->set_deg, &error)) {
        north += p->current_kn;
        east += p->set_deg;
    }
    p->current_kn = hypot(north, east);
    p->set_deg = fmod(atan2(east, north) * 57.29577951308232 + 360, 360);
}

/* One way with a current that is known: each run less the current of its time. */
static bool speed_corrected(const struct trial_report *r, struct trial_point *p,
                            const struct group *g)
{
    double sum = 0, seconds = 0, variance = 0, worst = 0;

    for (int i = 0; i < g->n; i++) {
        const struct trial_step *s = g->step[i];
        double n, e, error, own = part_error(s) * s->seconds;

        if (s->north.n == 0 || !trial_current_at(&r->current[s->log], middle_of(s), &n, &e, &error))
            return false;
        sum += hypot(s->north.mean - n, s->east.mean - e) * s->seconds;
        variance += own * own;
        seconds += s->seconds;
        worst = fmax(worst, error);
    }
    p->how = TRIAL_CORRECTED;
    p->speed_kn = sum / seconds;
    p->speed_error = hypot(sqrt(variance) / seconds, worst);
    return true;
}

static void speed_of(const struct trial_report *r, struct trial_point *p, const struct group *g,
                     const struct trial_stat *ground, const struct trial_stat *water)
{
    struct ways w;

    ways_of(r, g, &w);
    if (!g->under_way)
        p->how = TRIAL_NO_SPEED;
    else if (both_ways(&w))
        speed_both_ways(r, p, &w);
    else if (speed_corrected(r, p, g)) {
        /* done */
    } else if (water->n > 0) {
        p->how = TRIAL_WATER;
        p->speed_kn = water->mean;
        p->speed_error =
            hypot(isfinite(water->error) ? water->error : 0.05, LOG_UNKNOWN * water->mean);
    } else if (ground->n > 0) {
        p->how = TRIAL_ONE_WAY;
        p->speed_kn = ground->mean;
        p->speed_error = NAN;
    }
    if (p->speed_kn < WAY_KN)
        p->how = TRIAL_NO_SPEED; /* the current alone had her */
    if (p->how == TRIAL_RECIPROCAL || p->how == TRIAL_CORRECTED)
        p->speed_error = hypot(p->speed_error, SPEED_FLOOR);
}

/* What rounding to a step leaves in a mean: nothing where the readings wander over several steps;
 * where they flip between two, the truth is by the edge between these, the nearer the more evenly
 * they flip. */
static double rounding(const struct trial_stat *s, double step)
{
    double wander = (s->high - s->low) / step, edge;

    if (wander >= ROUGH)
        return 0;
    edge = wander > 0.5 ? fabs(0.5 - (s->mean - s->low) / step) : 0.5;
    return fmin(FLAT, edge) * step;
}

/* Of one meter's burn: the part that all points share, and the resolution of the wire. */
double trial_meter_share(const struct trial_report *r, int e, const struct trial_engine *m)
{
    const struct channel_setting *s = settings_channel(
        r->settings, trial_bus_id(r, (struct channel_id){QTY_FUEL_RATE, (uint8_t)e, 0}));
    double percent =
        s && s->accuracy_percent > 0 && s->at.file != 0 ? s->accuracy_percent : METER_PERCENT;

    if (m->burn_error.n > 0)
        return m->burn_error.mean / 2;
    return percent / 100 / 2 * fabs(m->fuel_rate.mean);
}

static void burn_of(const struct trial_report *r, struct trial_point *p)
{
    double common = 0;

    p->has_burn = p->engines != 0;
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        const struct trial_engine *m = &p->engine[e];
        const struct trial_stat *f = &m->fuel_rate;

        if (!(p->engines & 1u << e))
            continue;
        p->has_burn = p->has_burn && f->n > 0;
        p->burn_lph += f->mean;
        p->burn_random = hypot(p->burn_random, hypot(isfinite(f->error) ? f->error : 0.05 * f->mean,
                                                     rounding(f, RATE_STEP_LPH)));
        common = hypot(common, trial_meter_share(r, e, m));
    }
    p->burn_error = hypot(p->burn_random, common);
}

/* Through the water: what a curve may be drawn of. */
bool trial_through_water(const struct trial_point *p)
{
    return p->how == TRIAL_RECIPROCAL || p->how == TRIAL_CORRECTED || p->how == TRIAL_WATER;
}

static void make_point(struct trial_report *r, const struct group *g)
{
    struct trial_point *p = &r->point[r->points];
    struct trial_stat ground = {0}, water = {0}, rise = {0};
    double rpm = 0, seconds = 0;

    *p = (struct trial_point){.engines = g->step[0]->engines, .range_nmi = NAN, .hours = NAN};
    p->cost = p->cost_error = p->space_rise = NAN;
    for (int i = 0; i < g->n; i++) {
        struct trial_step *s = g->step[i];

        s->point = r->points;
        rpm += s->mean_rpm * s->seconds;
        seconds += s->seconds;
        p->apart = fmax(p->apart, apart_of(s));
        for (int e = 0; e < TRIAL_ENGINES; e++)
            if (p->engines & 1u << e)
                join_engine(&p->engine[e], &s->engine[e]);
        join(&ground, &s->speed_ground);
        join(&water, &s->speed_water);
        if (s->space.n > 0 && s->air.n > 0) {
            struct trial_stat one = s->space;

            one.mean -= s->air.mean;
            join(&rise, &one);
        }
    }
    p->rpm = rpm / seconds;
    p->steps = g->n;
    speed_of(r, p, g, &ground, &water);
    burn_of(r, p);
    if (rise.n > 0)
        p->space_rise = rise.mean;
    if (p->has_burn && p->burn_lph > 0 && isfinite(r->usable_l))
        p->hours = r->usable_l / p->burn_lph;
    if (p->has_burn && p->burn_lph > 0 && trial_through_water(p)) {
        p->cost = p->burn_lph / p->speed_kn;
        p->cost_error = p->cost * hypot(p->burn_error / p->burn_lph, p->speed_error / p->speed_kn);
        p->range_nmi = p->hours * p->speed_kn;
    }
    r->points++;
}

/* --- the curves --------------------------------------------------------------------------- */

/* Share of itself to which a point's power, or burn, is known. */
static double law_share(const struct trial_report *r, const struct trial_engine *m)
{
    if (r->law_by_torque)
        return hypot(hypot(isfinite(m->torque.error) ? m->torque.error : 0.3,
                           rounding(&m->torque, TORQUE_STEP)) /
                         m->torque.mean,
                     isfinite(m->rpm.error) ? m->rpm.error / m->rpm.mean : 0.002);
    return hypot(isfinite(m->fuel_rate.error) ? m->fuel_rate.error / m->fuel_rate.mean : 0.02,
                 rounding(&m->fuel_rate, RATE_STEP_LPH) / m->fuel_rate.mean);
}

/* A propeller's law is about way made ahead: no point in neutral takes part. */
static void make_law(struct trial_report *r)
{
    r->law_by_torque = true;
    for (int i = 0; i < r->points; i++)
        for (int e = 0; e < r->engines; e++)
            if (r->point[i].how != TRIAL_NO_SPEED && r->point[i].engines & 1u << e &&
                r->point[i].engine[e].torque.n == 0)
                r->law_by_torque = false;
    for (int e = 0; e < r->engines; e++) {
        double x[TRIAL_POINTS], y[TRIAL_POINTS], share[TRIAL_POINTS];
        size_t n = 0;

        for (int i = 0; i < r->points; i++) {
            const struct trial_point *p = &r->point[i];
            const struct trial_engine *m = &p->engine[e];

            if (!(p->engines & 1u << e) || p->how == TRIAL_NO_SPEED ||
                !((r->law_by_torque ? m->torque.mean : m->fuel_rate.mean) > 0))
                continue;
            x[n] = m->rpm.mean;
            share[n] = law_share(r, m);
            y[n++] = r->law_by_torque ? m->torque.mean * m->rpm.mean : m->fuel_rate.mean;
        }
        r->law_seen[e] = n >= 3 && fit_power(x, y, share, n, &r->law[e]);
        r->has_law |= r->law_seen[e];
    }
}

/* The most economical speed away from both ends of what was run; the slowest run is kept beside
 * it, for it is often cheaper still. A crawl of which the current was the larger part tells
 * nothing: then it is the slowest of those that do. */
static void make_best(struct trial_report *r)
{
    struct fit_run run[TRIAL_POINTS];
    double nearest = INFINITY;
    size_t n = 0;

    r->slowest_cost = r->slowest_kn = r->slowest_error = NAN;
    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];

        if (!isfinite(p->cost) ||
            (n > 0 && (p->speed_kn <= run[n - 1].speed || p->rpm - run[n - 1].rpm < 0.02 * p->rpm)))
            continue;
        run[n++] =
            (struct fit_run){p->rpm, p->speed_kn, p->speed_error, p->burn_lph, p->burn_random};
        if (isnan(r->slowest_cost) && p->cost_error < SURE_COST * p->cost) {
            r->slowest_kn = p->speed_kn;
            r->slowest_cost = p->cost;
            r->slowest_error = p->cost_error;
        }
    }
    r->costs = (int)n;
    r->has_best = fit_best(run, n, &r->best);
    r->best_cost_error = NAN;
    for (int i = 0; r->has_best && i < r->points; i++) {
        double off = fabs(r->point[i].speed_kn - r->best.x);

        if (!isfinite(r->point[i].cost) || off >= nearest)
            continue;
        nearest = off;
        r->best_cost_error = r->point[i].cost_error / r->point[i].cost * r->best.y;
    }
}

/* What a log through the water is off by: the mean over the speeds run both ways, and its error
 * from how they differ. */
static void make_log_factor(struct trial_report *r)
{
    double n = 0, sum = 0, squares = 0;

    r->log_factor = r->log_error = NAN;
    for (int i = 0; i < r->points; i++) {
        struct trial_stat water = {0};

        for (int k = 0; k < r->steps; k++)
            if (r->step[k].point == i)
                join(&water, &r->step[k].speed_water);
        if (r->point[i].how != TRIAL_RECIPROCAL || water.n == 0 || water.mean < WAY_KN)
            continue;
        n++;
        sum += r->point[i].speed_kn / water.mean;
        squares += r->point[i].speed_kn / water.mean * (r->point[i].speed_kn / water.mean);
    }
    if (n < 3)
        return;
    r->log_factor = sum / n;
    r->log_error = sqrt(fmax(0, squares - sum * sum / n) / (n - 1) / n);
}

static double speed_through_water(const struct trial_report *r, const struct trial_step *s)
{
    double n, e;

    if (s->north.n == 0 || s->east.n == 0)
        return s->speed_ground.mean;
    water_velocity(r, s, &n, &e);
    return hypot(n, e);
}

static bool gear_heard(const struct group *g)
{
    for (int e = 0; e < TRIAL_ENGINES; e++)
        if (g->step[0]->engine[e].gear.n > 0)
            return true;
    return false;
}

/* Steps of a group that made far less way than another at the same engine speed, into an empty
 * group of their own. */
static void part_drift(const struct trial_report *r, struct group *g, struct group *out)
{
    double most = 0;
    int kept = 0;

    for (int i = 0; i < g->n; i++)
        most = fmax(most, speed_through_water(r, g->step[i]));
    for (int i = 0; i < g->n; i++) {
        if (speed_through_water(r, g->step[i]) < SLOW_PART * most)
            out->step[out->n++] = g->step[i];
        else
            g->step[kept++] = g->step[i];
    }
    g->n = kept;
}

/* The engines carry far less than the propeller's law asks for beside the next speed. */
static bool is_unloaded(const struct trial_step *s, const struct trial_step *next)
{
    double ratio = next ? s->mean_rpm / next->mean_rpm : 1;

    for (int e = 0; e < TRIAL_ENGINES; e++)
        if (next && s->engine[e].load.n > 0 && next->engine[e].load.n > 0 &&
            s->engine[e].load.mean < UNLOADED * ratio * ratio * next->engine[e].load.mean)
            return true;
    return false;
}

/* Idle in neutral where no gearbox is heard: the boat drifts, and makes far less way for each turn
 * of the engine than in gear, at this speed or the next, or nothing hangs on the engine. Returns
 * how many groups there are now. */
static int find_drift(const struct trial_report *r, struct group *group, int groups)
{
    const struct trial_step *above = NULL;
    double next = NAN;
    int before = groups;

    for (int i = 0; i < before && groups < TRIAL_POINTS; i++) {
        if (!group[i].under_way || gear_heard(&group[i]))
            continue;
        part_drift(r, &group[i], &group[groups]);
        groups += group[groups].n > 0;
    }
    for (int i = before - 1; i >= 0; i--) {
        const struct trial_step *s = group[i].step[0];
        double own = speed_through_water(r, s) / s->mean_rpm;

        if (!group[i].under_way)
            continue;
        if (!gear_heard(&group[i]) && (own < SLOW_PART * next || is_unloaded(s, above))) {
            group[i].under_way = false;
        } else {
            next = own;
            above = s;
        }
    }
    return groups;
}

/* One speed, the same engines, all under way or all standing. Half of what a steady step may vary:
 * on the steep part of the curve a hundredth of engine speed is a twentieth of boat speed, and
 * would pass for current. */
static int make_groups(struct trial_report *r, struct group *group)
{
    struct trial_step *sorted[TRIAL_STEPS];
    bool taken[TRIAL_STEPS] = {false};
    int n = 0, groups = 0;

    for (int k = 0; k < r->steps; k++) {
        r->step[k].left = why_left(r, &r->step[k]);
        if (r->step[k].left == TRIAL_TAKEN)
            sorted[n++] = &r->step[k];
    }
    qsort(sorted, (size_t)n, sizeof(struct trial_step *), by_speed);
    for (int i = 0; i < n; i++) {
        struct group *g = &group[groups];

        if (taken[i])
            continue;
        if (groups == TRIAL_POINTS) {
            sorted[i]->left = TRIAL_LEFT_NO_ROOM;
            continue;
        }
        *g = (struct group){.under_way = is_under_way(sorted[i])};
        for (int k = i;
             k < n && sorted[k]->mean_rpm <= sorted[i]->mean_rpm * (1 + r->steady.speed_part / 2);
             k++) {
            if (taken[k] || sorted[k]->engines != sorted[i]->engines ||
                is_under_way(sorted[k]) != g->under_way)
                continue;
            taken[k] = true;
            g->step[g->n++] = sorted[k];
        }
        groups++;
    }
    return groups;
}

void trial_points_make(struct trial *t)
{
    struct trial_report *r = &t->report;
    struct group *group = calloc(TRIAL_POINTS, sizeof *group);
    int groups;

    r->current = calloc(TRIAL_LOGS, sizeof *r->current);
    if (!group || !r->current) {
        t->failed = true;
        free(group);
        return;
    }
    groups = make_groups(r, group);
    /* the second round knows slow runs in a cross current by what the fast ones told */
    t->failed |= !fit_currents(r, group, groups);
    groups = find_drift(r, group, groups);
    t->failed |= !fit_currents(r, group, groups);
    for (int i = 0; i < groups; i++)
        make_point(r, &group[i]);
    make_law(r);
    make_best(r);
    make_log_factor(r);
    free(group);
}
