/* Steady steps, split where the course changes, with what each channel did in them. */
#include "report/trial/inside.h"

#include <math.h>

#include "base/banned.h"

#define TURN_DEG     20.0 /* further from the leg's mean course: a turn */
#define STRAIGHT_DEG 5.0  /* it began where she was last within this of it */
#define SWING_DEG    3.0  /* less in SWING_S: the turn is over */
#define SWING_S      5
#define TURN_MOST_S  300
#define WAY_KN       0.7 /* below it a course says nothing */
#define AFTER_TURN_S 20  /* the boat gathers way again */
#define AFTER_GEAR_S 20
#define DEGREE       0.017453292519943295

static void fill_engine(const struct trial *t, int e, struct trial_engine *out, size_t from,
                        size_t to)
{
    out->rpm = trial_stat_of(t, QTY_RPM, e, from, to);
    out->exhaust = trial_stat_of(t, QTY_EXHAUST, e, from, to);
    out->exhaust_gas = trial_stat_of(t, QTY_EXHAUST_GAS, e, from, to);
    out->coolant = trial_stat_of(t, QTY_COOLANT, e, from, to);
    out->oil_pressure = trial_stat_of(t, QTY_OIL_PRESSURE, e, from, to);
    out->oil_temp = trial_stat_of(t, QTY_OIL_TEMP, e, from, to);
    out->fuel_rate = trial_stat_of(t, QTY_FUEL_RATE, e, from, to);
    out->load = trial_stat_of(t, QTY_LOAD, e, from, to);
    out->torque = trial_stat_of(t, QTY_TORQUE, e, from, to);
    out->boost = trial_stat_of(t, QTY_BOOST, e, from, to);
    out->alternator = trial_stat_of(t, QTY_ALTERNATOR, e, from, to);
    out->gear = trial_stat_of(t, QTY_GEAR, e, from, to);
    out->burn_error = trial_stat_of(t, QTY_BURN_ERROR, e, from, to);
}

static void fill_course(const struct trial *t, struct trial_step *s, size_t from, size_t to)
{
    s->north = trial_stat_of(t, QTY_NONE, TRIAL_NORTH, from, to);
    s->east = trial_stat_of(t, QTY_NONE, TRIAL_EAST, from, to);
    if (s->north.n == 0 || s->east.n == 0)
        return;
    s->has_course = hypot(s->north.mean, s->east.mean) >= WAY_KN;
    s->course_deg = fmod(atan2(s->east.mean, s->north.mean) / DEGREE + 360, 360);
}

/* Every gearbox that is heard of an engine that runs stands in neutral. */
static bool is_neutral(const struct trial_step *s)
{
    bool any = false;

    for (int e = 0; e < TRIAL_ENGINES; e++) {
        if (!(s->engines & 1u << e) || s->engine[e].gear.n == 0)
            continue;
        if (s->engine[e].gear.low != 0 || s->engine[e].gear.high != 0)
            return false;
        any = true;
    }
    return any;
}

/* Whether an engine that is not counted among those that ran until then was under way when it was
 * last heard. A generator moves no boat, and is left out of the steps as it is. */
static bool misses_one(const struct trial *t, uint8_t engines, size_t to)
{
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        const struct trial_series *rpm = trial_series_find(t, QTY_RPM, e);

        if (!rpm || engines & 1u << e || t->report.generator[e])
            continue;
        for (size_t i = to < rpm->len ? to : rpm->len; i > 0; i--)
            if (isfinite(rpm->mean[i - 1])) {
                if ((double)rpm->mean[i - 1] >= t->options.running_rpm)
                    return true;
                break;
            }
    }
    return false;
}

static void add_step(struct trial *t, const struct steady_step *from_finder, size_t from, size_t to,
                     bool first_leg)
{
    struct trial_report *r = &t->report;
    struct trial_step *s;
    int ran = 0;

    if (r->steps == TRIAL_STEPS || from >= t->wall_len)
        return;
    s = &r->step[r->steps];
    *s = (struct trial_step){.log = r->logs - 1, .point = -1, .settle_s = NAN};
    s->wall_ns = t->wall_ns[from];
    s->seconds = (double)(to - from);
    s->engines = from_finder->engines;
    if (first_leg && !from_finder->settled_already)
        s->settle_s = (double)(from_finder->from_ns - from_finder->speed_from_ns) / 1e9;
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        if (!(s->engines & 1u << e))
            continue;
        fill_engine(t, e, &s->engine[e], from, to);
        s->mean_rpm += s->engine[e].rpm.mean;
        ran++;
    }
    if (ran == 0)
        return;
    s->mean_rpm /= ran;
    s->speed_ground = trial_stat_of(t, QTY_SPEED_GROUND, 0, from, to);
    s->speed_water = trial_stat_of(t, QTY_SPEED_WATER, 0, from, to);
    s->space = trial_stat_of(t, QTY_ENGINE_SPACE, 0, from, to);
    s->air = trial_stat_of(t, QTY_OUTSIDE_AIR, 0, from, to);
    s->sea = trial_stat_of(t, QTY_SEA, 0, from, to);
    for (int b = 0; b < TRIAL_BATTERIES; b++)
        s->volts[b] = trial_stat_of(t, QTY_BATTERY_VOLTS, b, from, to);
    fill_course(t, s, from, to);
    s->neutral = is_neutral(s);
    s->unheard = misses_one(t, s->engines, to);
    r->steps++;
}

/* Velocity over five seconds; false where unknown or the boat stands. */
static bool heading_at(const struct trial *t, size_t second, double *north, double *east)
{
    size_t from = second >= 2 ? second - 2 : 0;
    struct trial_stat n = trial_stat_of(t, QTY_NONE, TRIAL_NORTH, from, second + 3);
    struct trial_stat e = trial_stat_of(t, QTY_NONE, TRIAL_EAST, from, second + 3);

    *north = n.mean;
    *east = e.mean;
    return n.n > 0 && e.n > 0 && hypot(n.mean, e.mean) >= WAY_KN;
}

static double degrees_between(double an, double ae, double bn, double be)
{
    double dot = an * bn + ae * be, cross = an * be - ae * bn;

    return fabs(atan2(cross, dot)) / DEGREE;
}

/* The first second after `at` from which she no longer swings. */
static size_t turn_end(const struct trial *t, size_t at, size_t to)
{
    size_t most = at + TURN_MOST_S < to ? at + TURN_MOST_S : to;

    for (; at < most; at++) {
        double n, e, later_n, later_e;

        if (heading_at(t, at, &n, &e) && heading_at(t, at + SWING_S, &later_n, &later_e) &&
            degrees_between(n, e, later_n, later_e) < SWING_DEG)
            break;
    }
    return at;
}

/* The last second before `at` in which she still held the course of the leg from `from`. */
static size_t turn_begin(const struct trial *t, size_t from, size_t at, double north, double east)
{
    for (; at > from; at--) {
        double n, e;

        if (heading_at(t, at, &n, &e) && degrees_between(north, east, n, e) < STRAIGHT_DEG)
            break;
    }
    return at;
}

static bool gear_changed(const struct trial *t, size_t second)
{
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        const struct trial_series *s = trial_series_find(t, QTY_GEAR, e);

        if (s && second > 0 && second < s->len && !isnan(s->mean[second]) &&
            !isnan(s->mean[second - 1]) && s->mean[second] != s->mean[second - 1])
            return true;
    }
    return false;
}

struct leg {
    const struct steady_step *step;
    size_t from, least;
    double north, east; /* sum of the headings on it */
    bool first;
};

static void leg_close(struct trial *t, struct leg *l, size_t end)
{
    if (end < l->from + l->least)
        return;
    add_step(t, l->step, l->from, end, l->first);
    l->first = false;
}

/* One steady step: legs on one course and in one gear each, long enough to mean something. */
static void split(struct trial *t, const struct steady_step *s)
{
    int64_t first = s->from_ns / NS_PER_S - t->base_s, last = s->to_ns / NS_PER_S - t->base_s;
    size_t from = first > 0 ? (size_t)first : 0, to = last > 0 ? (size_t)last : 0;
    struct leg l = {.step = s, .first = true};

    /* a step is dated back to when temperatures began to stand, which may be before the one
     * before it was over: no second counts twice */
    l.from = from > t->taken ? from : t->taken;
    l.least = (size_t)t->options.settle_s * 3 / 4;
    to = to > t->wall_len ? t->wall_len : to;
    t->taken = to > t->taken ? to : t->taken;
    for (size_t i = l.from; i < to; i++) {
        double n, e;
        size_t after = 0;

        if (i > l.from && gear_changed(t, i)) {
            leg_close(t, &l, i);
            after = i + AFTER_GEAR_S;
        } else if (heading_at(t, i, &n, &e)) {
            if (hypot(l.north, l.east) > 3 * WAY_KN &&
                degrees_between(l.north, l.east, n, e) > TURN_DEG) {
                leg_close(t, &l, turn_begin(t, l.from, i, l.north, l.east));
                after = turn_end(t, i, to) + AFTER_TURN_S;
            } else {
                l.north += n;
                l.east += e;
            }
        }
        if (after == 0)
            continue;
        l.from = i = after;
        l.north = l.east = 0;
    }
    leg_close(t, &l, to);
}

void trial_steps_find(struct trial *t)
{
    t->taken = 0;
    for (size_t i = 0; i < steady_count(t->steady); i++)
        split(t, steady_at(t->steady, i));
}
