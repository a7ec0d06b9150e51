/* Steps at one engine speed joined to points: current cancelled by runs on reciprocal courses,
 * economy, range; the curves through the points. */
#include "report/trial/inside.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define WAY_KN      0.7      /* below it the boat stands, or nearly */
#define EVEN        0.03     /* engines that differ by less run as one */
#define OPPOSITE    (-0.906) /* cosine of 155 degrees: within 25 of a reciprocal course */
#define SPEED_FLOOR 0.01     /* kn: no speed is known better, whatever the spread says */

/* Engines that ran, all at nearly one speed? */
static bool is_even(const struct trial_step *s)
{
    for (int e = 0; e < TRIAL_ENGINES; e++)
        if (s->engines & 1u << e && fabs(s->engine[e].rpm.mean - s->mean_rpm) > EVEN * s->mean_rpm)
            return false;
    return true;
}

static bool is_under_way(const struct trial_step *s)
{
    return (s->speed_ground.n > 0 && s->speed_ground.mean >= WAY_KN) ||
           (s->speed_water.n > 0 && s->speed_water.mean >= WAY_KN);
}

/* Every engine within 15 K of the warmest coolant it was seen with: a cold engine burns more and
 * says nothing about how it runs. True where coolant is not heard. */
static bool is_warm(const struct trial_report *r, const struct trial_step *s)
{
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        double warmest = -INFINITY;

        for (int i = 0; i < r->steps; i++)
            if (r->step[i].engine[e].coolant.n > 0)
                warmest = fmax(warmest, r->step[i].engine[e].coolant.mean);
        if (s->engine[e].coolant.n > 0 && s->engine[e].coolant.mean < warmest - 15)
            return false;
    }
    return true;
}

static int by_speed(const void *a, const void *b)
{
    const struct trial_step *const *x = a, *const *y = b;

    if ((*x)->mean_rpm < (*y)->mean_rpm)
        return -1;
    return (*x)->mean_rpm > (*y)->mean_rpm;
}

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
}

/* Velocities of the runs one way and the other. */
struct ways {
    double north[2], east[2], seconds[2], error[2];
};

/* With runs both ways, the sum of the two velocities is twice the current and their difference
 * twice the velocity through the water: exact, whatever the current's direction. */
static void speed_of(struct trial_point *p, const struct ways *w, const struct trial_stat *ground,
                     const struct trial_stat *water)
{
    if (w->seconds[0] > 0 && w->seconds[1] > 0) {
        double n0 = w->north[0] / w->seconds[0], e0 = w->east[0] / w->seconds[0];
        double n1 = w->north[1] / w->seconds[1], e1 = w->east[1] / w->seconds[1];

        p->how = TRIAL_RECIPROCAL;
        p->speed_kn = hypot(n0 - n1, e0 - e1) / 2;
        p->speed_error = hypot(w->error[0], w->error[1]) / 2;
        p->current_kn = hypot(n0 + n1, e0 + e1) / 2;
        p->set_deg = fmod(atan2(e0 + e1, n0 + n1) * 57.29577951308232 + 360, 360);
    } else if (water->n > 0) {
        p->how = TRIAL_WATER;
        p->speed_kn = water->mean;
        p->speed_error = water->error;
    } else if (ground->n > 0) {
        p->how = TRIAL_ONE_WAY;
        p->speed_kn = ground->mean;
        p->speed_error = ground->error;
    }
    if (p->speed_kn < WAY_KN)
        p->how = TRIAL_NO_SPEED; /* moored, or in neutral */
    if (p->how != TRIAL_NO_SPEED)
        p->speed_error = hypot(isfinite(p->speed_error) ? p->speed_error : 0.05, SPEED_FLOOR);
}

static void burn_of(struct trial_point *p)
{
    p->has_burn = p->engines != 0;
    p->burn_error = 0;
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        const struct trial_stat *f = &p->engine[e].fuel_rate;

        if (!(p->engines & 1u << e))
            continue;
        p->has_burn = p->has_burn && f->n > 0;
        p->burn_lph += f->mean;
        p->burn_error = hypot(p->burn_error, isfinite(f->error) ? f->error : 0.05 * f->mean);
    }
}

static void make_point(struct trial_report *r, struct trial_step **s, int n)
{
    struct trial_point *p = &r->point[r->points];
    struct ways w = {0};
    struct trial_stat ground = {0}, water = {0}, rise = {0};
    double north = 0, east = 0, rpm = 0, seconds = 0;

    *p = (struct trial_point){.engines = s[0]->engines, .range_nmi = NAN, .hours = NAN};
    p->cost = p->cost_error = p->space_rise = NAN;
    for (int i = 0; i < n; i++) {
        s[i]->point = r->points;
        rpm += s[i]->mean_rpm * s[i]->seconds;
        seconds += s[i]->seconds;
        for (int e = 0; e < TRIAL_ENGINES; e++)
            if (p->engines & 1u << e)
                join_engine(&p->engine[e], &s[i]->engine[e]);
        join(&ground, &s[i]->speed_ground);
        join(&water, &s[i]->speed_water);
        if (s[i]->space.n > 0 && s[i]->air.n > 0) {
            struct trial_stat one = s[i]->space;

            one.mean -= s[i]->air.mean;
            join(&rise, &one);
        }
        if (!s[i]->has_course)
            continue;
        if (north == 0 && east == 0) {
            north = s[i]->north_kn;
            east = s[i]->east_kn;
        }
        double dot = (north * s[i]->north_kn + east * s[i]->east_kn) /
                     (hypot(north, east) * hypot(s[i]->north_kn, s[i]->east_kn));
        int way = dot > -OPPOSITE ? 0 : dot < OPPOSITE ? 1 : -1;
        if (way < 0)
            continue;
        w.north[way] += s[i]->north_kn * s[i]->seconds;
        w.east[way] += s[i]->east_kn * s[i]->seconds;
        w.seconds[way] += s[i]->seconds;
        w.error[way] = isfinite(s[i]->speed_ground.error) ? s[i]->speed_ground.error : 0.05;
    }
    p->rpm = rpm / seconds;
    p->steps = n;
    speed_of(p, &w, &ground, &water);
    burn_of(p);
    if (rise.n > 0)
        p->space_rise = rise.mean;
    if (p->has_burn && p->burn_lph > 0 && isfinite(r->usable_l))
        p->hours = r->usable_l / p->burn_lph;
    if (p->has_burn && p->how != TRIAL_NO_SPEED && p->speed_kn >= WAY_KN) {
        p->cost = p->burn_lph / p->speed_kn;
        p->cost_error = p->cost * hypot(p->burn_error / p->burn_lph, p->speed_error / p->speed_kn);
        p->range_nmi = p->hours * p->speed_kn;
    }
    r->points++;
}

static void make_law(struct trial_report *r)
{
    r->law_by_torque = true;
    for (int i = 0; i < r->points; i++)
        for (int e = 0; e < r->engines; e++)
            if (r->point[i].engines & 1u << e && r->point[i].engine[e].torque.n == 0)
                r->law_by_torque = false;
    for (int e = 0; e < r->engines; e++) {
        double x[TRIAL_POINTS], y[TRIAL_POINTS];
        size_t n = 0;

        for (int i = 0; i < r->points; i++) {
            const struct trial_point *p = &r->point[i];
            const struct trial_engine *m = &p->engine[e];

            if (!(p->engines & 1u << e) || p->how == TRIAL_NO_SPEED || p->speed_kn < WAY_KN ||
                (!r->law_by_torque && m->fuel_rate.n == 0))
                continue;
            x[n] = m->rpm.mean;
            y[n++] = r->law_by_torque ? m->torque.mean * m->rpm.mean : m->fuel_rate.mean;
        }
        r->law_seen[e] = n >= 3 && fit_power(x, y, n, &r->law[e]);
        r->has_law |= r->law_seen[e];
    }
}

/* The most economical speed: of the lowest places away from both ends the cheapest; the slowest
 * speed run is kept beside it, for it is often cheaper still. */
static void make_best(struct trial_report *r)
{
    struct fit_point curve[TRIAL_POINTS];
    struct fit_bottom b;
    size_t n = 0, from = 1, at;

    r->slowest_cost = r->slowest_kn = NAN;
    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];

        if (!isfinite(p->cost) || (n > 0 && p->speed_kn <= curve[n - 1].x))
            continue;
        curve[n++] = (struct fit_point){p->speed_kn, p->cost, p->speed_error, p->cost_error};
    }
    if (n > 0) {
        r->slowest_kn = curve[0].x;
        r->slowest_cost = curve[0].y;
    }
    while (fit_bottom(curve, n, from, &b, &at)) {
        if (!r->has_best || b.y < r->best.y)
            r->best = b;
        r->has_best = true;
        from = at + 1;
    }
}

void trial_points_make(struct trial *t)
{
    struct trial_report *r = &t->report;
    struct trial_step *sorted[TRIAL_STEPS];
    int n = 0, i = 0;

    for (int k = 0; k < r->steps; k++)
        if (is_even(&r->step[k]) && is_warm(r, &r->step[k]))
            sorted[n++] = &r->step[k];
    qsort(sorted, (size_t)n, sizeof(struct trial_step *), by_speed);
    while (i < n && r->points < TRIAL_POINTS) {
        struct trial_step *group[TRIAL_STEPS];
        int members = 0;
        double first = sorted[i]->mean_rpm;

        /* Half of what a steady step may vary: on the steep part of the curve a hundredth of engine
         * speed is a twentieth of boat speed, and would pass for current.
         * One speed, the same engines, all under way or all standing; what differs waits */
        for (int k = i; k < n && sorted[k]->mean_rpm <= first * (1 + r->steady.speed_part / 2); k++)
            if (sorted[k]->point < 0 && sorted[k]->engines == sorted[i]->engines &&
                is_under_way(sorted[k]) == is_under_way(sorted[i]))
                group[members++] = sorted[k];
        if (members > 0 && sorted[i]->point < 0)
            make_point(r, group, members);
        for (i++; i < n && sorted[i]->point >= 0;)
            i++;
    }
    make_law(r);
    make_best(r);
}
