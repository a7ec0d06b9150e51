#include "detect_trip.h"

#include "alerts/cooling.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define DT          0.25
#define ORDERS      256
#define GULPS       24
#define RATE_WINDOW 64
#define LIMIT_C     93.3
#define COOLANT_C   105.0
#define SEA_SENSOR  0.6 /* share of boats with the water's temperature on the bus */
/* ln(36000 samples) = 10.5: a sum of log-likelihood ratios passes h about once in e^h samples. */
#define IDEAL_SHIFT     2.0
#define IDEAL_THRESHOLD 10.5
#define AFTER_S         90.0 /* goes on this long after the fault is found */
#define GULP_LONGEST_S  5.0
#define GIVE_UP_S       1200.0 /* a fault not found by then is missed */

struct order {
    double t, share;
    bool run, neutral;
};
struct gulp {
    double from, to, water;
};

/* A sensor: lag, noise, resolution, period, and its bad days. */
struct sensor {
    bool used, lag_known;
    enum cooling_sensor kind;
    double tau, period, sigma, step, lagged, shadow, gulped, next;
    double ideal;
    double wild_rate, drop_from, drop_to, stuck_from, stuck_to, held;
    int wild_left;
    double ring_t[RATE_WINDOW], ring_c[RATE_WINDOW];
    unsigned ring;
    bool rate_on[RATES], limit_on;
    int level;
};

struct trip {
    const struct trip_options *o;
    struct dice dice;
    struct boat_plan plan;
    struct order order[BOAT_ENGINES][ORDERS];
    int orders[BOAT_ENGINES], at[BOAT_ENGINES];
    struct gulp gulp[BOAT_ENGINES][GULPS];
    int gulps[BOAT_ENGINES];
    double length, sea_from, sea_rise, sea_span;
    double fault_t, fault_span, fault_depth;
    int fault_engine;
    bool stepwise;
    double wave_period, wave_rpm, wave_load, slow_load;
    struct sensor exhaust[BOAT_ENGINES], coolant[BOAT_ENGINES], space, sea;
    bool running[BOAT_ENGINES], has_sea;
    struct cooling *watch;
    struct trip_result r;
};

static void order(struct trip *p, int engine, double t, bool run, bool neutral, double share)
{
    if (p->orders[engine] < ORDERS)
        p->order[engine][p->orders[engine]++] =
            (struct order){.t = t, .share = share, .run = run, .neutral = neutral};
}

/* Both levers, together or one after the other. */
static void order_all(struct trip *p, double t, bool run, bool neutral, double share)
{
    double apart = 0.0;
    if (dice_chance(&p->dice, 0.3))
        apart = dice_range(&p->dice, 2.0, 30.0);
    bool swap = dice_chance(&p->dice, 0.5);
    for (int i = 0; i < p->plan.engines; i++)
        order(p, i, t + (swap == (i == 0) ? apart : 0.0), run, neutral,
              share > 0.0 ? fmax(0.0, share + 0.01 * dice_normal(&p->dice)) : 0.0);
}

/* Manoeuvring: a throttle order every 25 to 120 s. Remembers stretches of idling. */
static double harbour(struct trip *p, double t, double length, double *idle_t)
{
    double end = t + length;
    while (t < end) {
        bool one = p->plan.engines == 2 && dice_chance(&p->dice, 0.35);
        bool idle = dice_chance(&p->dice, 0.45);
        double share = idle ? 0.0 : dice_range(&p->dice, 0.3, 0.6);
        bool neutral = idle && dice_chance(&p->dice, 0.6);
        if (one)
            order(p, dice_chance(&p->dice, 0.5), t, true, neutral, share);
        else
            order_all(p, t, true, neutral, share);
        double hold = dice_range(&p->dice, 25.0, 120.0);
        if (idle && !one)
            *idle_t = t + dice_range(&p->dice, 10.0, hold);
        t += hold;
    }
    return t;
}

static double cruise(struct trip *p, double t, double *cruise_t)
{
    int legs = 2 + (int)dice_range(&p->dice, 0.0, 4.0);
    int chosen = (int)dice_range(&p->dice, 0.0, legs);
    for (int k = 0; k < legs; k++) {
        double share = dice_range(&p->dice, 0.55, 1.0);
        order_all(p, t, true, false, share);
        double hold = dice_range(&p->dice, 150.0, 840.0);
        if (k == chosen)
            *cruise_t = t + dice_range(&p->dice, 20.0, hold);
        t += hold;
        if (dice_chance(&p->dice, 0.25)) {
            order_all(p, t, true, false, dice_chance(&p->dice, 0.5) ? 0.0 : 0.35);
            t += dice_range(&p->dice, 40.0, 180.0);
        }
    }
    return t;
}

static double start(struct trip *p, double t, double *both)
{
    double apart = dice_chance(&p->dice, 0.5) ? dice_range(&p->dice, 4.0, 20.0)
                                              : dice_range(&p->dice, 60.0, 400.0);
    *both = t;
    bool swap = dice_chance(&p->dice, 0.5);
    for (int i = 0; i < p->plan.engines; i++) {
        double at = t + (swap == (i == 0) && p->plan.engines == 2 ? apart : 0.0);
        order(p, i, at, true, true, 0.0);
        if (at > *both)
            *both = at;
    }
    return *both + dice_range(&p->dice, 40.0, 360.0);
}

static int by_time(const void *a, const void *b)
{
    double x = ((const struct order *)a)->t, y = ((const struct order *)b)->t;
    return (x > y) - (x < y);
}

static double start_of(const struct trip *p, int engine, int which)
{
    for (int k = 0, n = 0; k < p->orders[engine]; k++) {
        bool was = k > 0 && p->order[engine][k - 1].run;
        if (p->order[engine][k].run && !was && n++ == which)
            return p->order[engine][k].t;
    }
    return -1.0;
}

static void plan_orders(struct trip *p)
{
    struct dice *d = &p->dice;
    double both, idle_t = 0.0, cruise_t = 0.0, warm_t, t = dice_range(d, 20.0, 120.0);
    double ready = start(p, t, &both);
    warm_t = both + dice_range(d, 30.0, fmax(31.0, ready - both));
    t = harbour(p, ready, dice_range(d, 150.0, 700.0), &idle_t);
    t = cruise(p, t, &cruise_t);
    t = harbour(p, t, dice_range(d, 120.0, 500.0), &idle_t);
    order_all(p, t, true, true, 0.0);
    t += dice_range(d, 40.0, 150.0);
    order_all(p, t, false, true, 0.0);
    t += dice_range(d, 120.0, 1200.0);
    if (dice_chance(d, 0.5)) { /* out again, warm */
        t = start(p, t, &both);
        t = harbour(p, t, dice_range(d, 60.0, 300.0), &idle_t);
        double unused;
        t = cruise(p, t, &unused);
        order_all(p, t, true, true, 0.0);
        order_all(p, t + 90.0, false, true, 0.0);
        t += 500.0;
    }
    p->length = t;
    for (int i = 0; i < p->plan.engines; i++)
        qsort(p->order[i], (size_t)p->orders[i], sizeof(struct order), by_time);
    p->fault_engine = (int)dice_range(d, 0.0, p->plan.engines);
    switch (p->o->fault) {
    case FAULT_IMPELLER_IDLE:
        p->fault_t = idle_t > 0.0 && dice_chance(d, 0.7) ? idle_t : warm_t;
        break;
    case FAULT_SEACOCK: {
        double again = start_of(p, p->fault_engine, 1);
        p->fault_t = again > 0.0 ? again : start_of(p, p->fault_engine, 0);
        break;
    }
    case FAULT_NONE:
        p->fault_t = INFINITY;
        break;
    case FAULT_FIRE:
        p->fault_t = dice_range(d, 60.0, cruise_t);
        break;
    default:
        p->fault_t = cruise_t;
        break;
    }
}

static void plan_fault(struct trip *p)
{
    struct dice *d = &p->dice;
    p->fault_span = dice_range(d, 0.5, 3.0);
    p->fault_depth = 1.0;
    if (p->o->fault == FAULT_FOULED) {
        p->fault_span = dice_range(d, 20.0, 80.0);
        p->fault_depth = 1.0 - dice_range(d, 0.25, 0.334);
    } else if (p->o->fault == FAULT_VANES) {
        p->fault_span = dice_range(d, 300.0, 720.0);
        p->fault_depth = dice_range(d, 0.9, 1.0);
        p->stepwise = dice_chance(d, 0.5);
    } else if (p->o->fault == FAULT_SEACOCK) {
        p->fault_span = 0.0;
    } else if (p->o->fault == FAULT_FIRE) {
        p->fault_depth = dice_range(d, 13.0, 30.0);
    }
    if (p->o->fault == FAULT_NONE || p->o->fault == FAULT_FIRE)
        return;
    /* Nobody touches a lever from then on. */
    if (p->o->fault != FAULT_SEACOCK)
        for (int i = 0; i < p->plan.engines; i++)
            while (p->orders[i] > 0 && p->order[i][p->orders[i] - 1].t > p->fault_t)
                p->orders[i]--;
    p->length = p->fault_t + GIVE_UP_S;
}

static void plan_disturbances(struct trip *p)
{
    struct dice *d = &p->dice;
    p->sea_from = INFINITY;
    if (dice_chance(d, 0.4) && !(p->o->without & WITHOUT_SEA)) {
        p->sea_from = dice_range(d, 0.2, 0.9) * p->length;
        p->sea_rise = dice_chance(d, 0.75) ? 5.0 : -5.0;
        p->sea_span = dice_range(d, 60.0, 120.0);
        if (p->o->fault != FAULT_NONE && p->sea_from > p->fault_t - 300.0)
            p->sea_from = INFINITY; /* two things at once are another bench */
    }
    if (dice_chance(d, 0.5) &&
        !(p->o->without & WITHOUT_GULPS)) { /* air drawn in, first here, then there */
        int n = 2 + (int)dice_range(d, 0.0, 10.0);
        double t = dice_range(d, 0.2, 0.8) * p->length;
        for (int k = 0; k < n; k++) {
            int i = p->plan.engines == 2 ? k % 2 : 0;
            double span = dice_range(d, 2.0, 5.0);
            if (t + span < p->fault_t - 40.0 && p->gulps[i] < GULPS)
                p->gulp[i][p->gulps[i]++] =
                    (struct gulp){.from = t, .to = t + span, .water = dice_range(d, 0.0, 0.5)};
            t += span + dice_range(d, 5.0, 120.0);
        }
    }
    p->wave_period = dice_range(d, 3.0, 9.0);
    p->wave_rpm = dice_chance(d, 0.5) ? dice_range(d, 0.0, 0.01) : 0.0;
    p->wave_load = dice_chance(d, 0.5) ? dice_range(d, 0.0, 0.1) : 0.0;
    p->slow_load = dice_range(d, 0.0, 0.06);
}

static void plan_sensor(struct trip *p, struct sensor *s, enum cooling_sensor kind)
{
    struct dice *d = &p->dice;
    bool wide = p->o->wide, noisy = p->o->fault == FAULT_IMPELLER_NOISY;
    bool benign = p->o->fault == FAULT_NONE;
    *s = (struct sensor){.used = true, .kind = kind, .drop_from = INFINITY, .stuck_from = INFINITY};
    static const double periods[] = {1.0, 2.0, 2.0, 1.0, 0.5};
    s->period = periods[(int)dice_range(d, 0.0, 5.0)];
    if (dice_chance(d, wide ? 0.3 : 0.1))
        s->period = dice_range(d, 2.0, 5.0);
    s->tau = dice_log(d, wide ? 2.0 : 4.0, wide ? 18.0 : 12.0);
    s->sigma = dice_log(d, 0.03, wide ? 0.5 : 0.3);
    s->step = dice_chance(d, 0.7) ? 0.01 : 0.1;
    if (kind == COOLING_COOLANT)
        s->period = 0.5;
    if (kind == COOLING_EXHAUST && noisy)
        s->sigma = 0.8;
    if (kind == COOLING_EXHAUST && benign && dice_chance(d, 0.15))
        s->sigma = dice_range(d, 0.5, 1.0);
    if (!noisy && dice_chance(d, 0.12))
        s->step = 1.0;
    if (benign && dice_chance(d, 0.3) && !(p->o->without & WITHOUT_WILD))
        s->wild_rate = 1.0 / dice_range(d, 60.0, 600.0);
    if (benign && dice_chance(d, 0.25) && !(p->o->without & WITHOUT_LOSS)) {
        s->drop_from = dice_range(d, 0.2, 0.9) * p->length;
        s->drop_to = s->drop_from + 40.0;
    }
    if (benign && dice_chance(d, 0.15)) {
        s->stuck_from = dice_range(d, 0.2, 0.9) * p->length;
        s->stuck_to = s->stuck_from + dice_range(d, 20.0, 200.0);
    }
    s->next = dice_range(d, 0.0, s->period);
}

static struct boat_inputs inputs_at(struct trip *p, double t)
{
    struct boat_inputs in = {.air_c = p->plan.air_c, .sea_c = p->plan.sea_c};
    if (t > p->sea_from)
        in.sea_c += p->sea_rise * fmin(1.0, (t - p->sea_from) / p->sea_span);
    double wave = sin(6.283185307 * t / p->wave_period);
    for (int i = 0; i < p->plan.engines; i++) {
        struct boat_engine_inputs *e = &in.engine[i];
        while (p->at[i] + 1 < p->orders[i] && p->order[i][p->at[i] + 1].t <= t)
            p->at[i]++;
        const struct order *o = &p->order[i][p->at[i]];
        e->water = e->coolant_pump = 1.0;
        e->load_factor = 1.0 + p->wave_load * wave + p->slow_load * sin(t / 97.0);
        if (p->orders[i] == 0 || o->t > t) {
            e->neutral = true;
            continue;
        }
        e->run = o->run;
        e->neutral = o->neutral;
        e->share = o->share * (1.0 + p->wave_rpm * wave);
        for (int g = 0; g < p->gulps[i]; g++)
            if (t >= p->gulp[i][g].from && t < p->gulp[i][g].to)
                e->water = p->gulp[i][g].water;
    }
    return in;
}

static void apply_fault(struct trip *p, double t, struct boat_inputs *in)
{
    if (t < p->fault_t)
        return;
    double x = p->fault_span > 0.0 ? fmin(1.0, (t - p->fault_t) / p->fault_span) : 1.0;
    struct boat_engine_inputs *e = &in->engine[p->fault_engine];
    if (p->stepwise)
        x = fmin(1.0, floor(1.0 + 6.0 * x) / 6.0);
    if (p->o->fault == FAULT_FIRE)
        in->fire_k_per_min = p->fault_depth;
    else if (p->o->fault == FAULT_COOLANT)
        e->coolant_pump = 1.0 - x;
    else if (p->o->fault != FAULT_NONE)
        e->water *= 1.0 - p->fault_depth * x;
}

/* What the sensor sends; false: nothing is sent. good is false for a not-available one. */
static bool sample(struct trip *p, struct sensor *s, double t, bool *good, double *value)
{
    struct dice *d = &p->dice;
    s->next += s->period * dice_range(d, 0.97, 1.03);
    double y = s->lagged + s->sigma * dice_normal(d);
    y = round(y / s->step) * s->step;
    *good = true;
    if (t > s->stuck_from && t < s->stuck_to)
        y = s->held;
    else
        s->held = y;
    if (s->wild_left == 0 && dice_chance(d, s->wild_rate * s->period))
        s->wild_left = dice_chance(d, 0.4) ? 2 : 1;
    if (s->wild_left > 0) {
        s->wild_left--;
        y += dice_chance(d, 0.6) ? dice_range(d, 3.0, 150.0) : -dice_range(d, 3.0, 60.0);
        if (dice_chance(d, 0.2))
            *good = false;
    }
    if (t > s->drop_from && t < s->drop_to)
        return false;
    *value = y;
    return true;
}

/* The plain rules of comparison: fixed limit and 30 s rate. */
static void plain_rules(struct trip *p, struct sensor *s, double t, double y, bool failing)
{
    static const double per_min[RATES] = {8.3, 20.0, 40.0};
    s->ring_t[s->ring % RATE_WINDOW] = t;
    s->ring_c[s->ring % RATE_WINDOW] = y;
    s->ring++;
    unsigned back = 1, have = s->ring < RATE_WINDOW ? s->ring : RATE_WINDOW;
    while (back < have && t - s->ring_t[(s->ring - 1 - back) % RATE_WINDOW] < 30.0)
        back++;
    double rate = 0.0;
    if (back < have)
        rate = (y - s->ring_c[(s->ring - 1 - back) % RATE_WINDOW]) /
               (t - s->ring_t[(s->ring - 1 - back) % RATE_WINDOW]) * 60.0;
    bool faulty = failing && t >= p->fault_t;
    for (int k = 0; k < RATES; k++) {
        bool on = rate > per_min[k];
        if (faulty && on && isnan(p->r.rate_s[k]))
            p->r.rate_s[k] = t - p->fault_t;
        if (!faulty && on && !s->rate_on[k] && t < p->fault_t)
            p->r.rate_false[k]++;
        s->rate_on[k] = on;
    }
    double limit = s->kind == COOLING_COOLANT ? COOLANT_C
                   : s->kind == COOLING_SPACE ? 65.0
                                              : LIMIT_C;
    bool over = y > limit && s->kind != COOLING_EXHAUST_GAS;
    if (faulty && over && isnan(p->r.limit_s))
        p->r.limit_s = t - p->fault_t;
    if (!faulty && over && !s->limit_on && t < p->fault_t)
        p->r.limit_false++;
    s->limit_on = over;
}

/* Which channel the fault shows on first, for the reference and the plain rules. */
static bool is_failing(const struct trip *p, const struct sensor *s, int place)
{
    switch (p->o->fault) {
    case FAULT_NONE:
        return false;
    case FAULT_FIRE:
        return s->kind == COOLING_SPACE;
    case FAULT_COOLANT:
        return s->kind == COOLING_COOLANT && place == p->fault_engine;
    default:
        return s->kind == COOLING_EXHAUST && place == p->fault_engine;
    }
}

static bool may_speak(const struct trip *p, const struct sensor *s, int place, double t)
{
    if (p->o->fault == FAULT_NONE || t < p->fault_t)
        return false;
    if (p->o->fault == FAULT_FIRE)
        return s->kind == COOLING_SPACE;
    return s->kind != COOLING_SPACE && place == p->fault_engine;
}

static void hear(struct trip *p, struct sensor *s, int place, double t)
{
    const struct cooling_verdict *v = cooling_verdict(p->watch, place, s->kind);
    bool mine = may_speak(p, s, place, t);
    if (v->level == s->level)
        return;
    if (p->o->explain && v->level > s->level)
        printf("  %8.1f s (fault %+.1f) place %d sensor %d level %d kind %d cause %d value %.2f "
               "expected %.2f allowance %.2f noise %.3f statistic %.1f rate %.1f K/min%s\n",
               t, t - p->fault_t, place, (int)s->kind, v->level, (int)v->kind, (int)v->cause,
               v->value, v->expected, v->allowance, v->noise, v->statistic, v->rate_per_min,
               mine ? "" : " FALSE");
    if (v->level >= 2 && mine && isnan(p->r.watch_s)) {
        p->r.watch_s = t - p->fault_t;
        p->r.cause = (int)v->cause;
        p->r.hottest_before_c = v->value;
    }
    if (!mine) {
        int cried = v->level >= 2 && s->level < 2;
        p->r.false_warnings += cried;
        p->r.false_space += s->kind == COOLING_SPACE ? cried : 0;
        p->r.false_coolant += s->kind == COOLING_COOLANT ? cried : 0;
        p->r.false_exhaust +=
            s->kind == COOLING_EXHAUST || s->kind == COOLING_EXHAUST_GAS ? cried : 0;
        p->r.false_alarms += v->level >= 3 && s->level < 3;
    }
    p->r.cautions += v->level == 1 && s->level < 1;
    s->level = v->level;
}

/* shadow: what it would show in health; gulped: what a gulp of air in place of the fault would. */
static void sense(struct trip *p, struct sensor *s, int place, double t, double truth,
                  double shadow, double gulped)
{
    double g = 1.0 - exp(-DT / s->tau);
    s->lagged = s->lag_known ? s->lagged + g * (truth - s->lagged) : truth;
    bool faulty = t >= p->fault_t;
    s->shadow = faulty ? s->shadow + g * (shadow - s->shadow) : s->lagged;
    s->gulped = faulty ? s->gulped + g * (gulped - s->gulped) : s->lagged;
    s->lag_known = true;
    if (t < s->next)
        return;
    bool good;
    double y = NAN;
    if (!sample(p, s, t, &good, &y))
        return;
    bool failing = is_failing(p, s, place);
    if (good)
        plain_rules(p, s, t, y, failing);
    double half = s->step >= 0.5 ? 0.5 * s->step : 0.0;
    double clear = 5.0 * s->sigma + 0.5 + half;
    if (failing && faulty && isnan(p->r.reference_s) && y > s->shadow + clear)
        p->r.reference_s = t - p->fault_t;
    if (failing && faulty && isnan(p->r.gulp_s) && y > fmax(s->shadow, s->gulped) + clear)
        p->r.gulp_s = t - p->fault_t;
    if (failing && faulty && isnan(p->r.ideal_s)) {
        double z = (y - s->shadow) / fmax(s->sigma, 0.29 * s->step);
        s->ideal = fmax(0.0, s->ideal + IDEAL_SHIFT * (z - 0.5 * IDEAL_SHIFT));
        if (s->ideal > IDEAL_THRESHOLD)
            p->r.ideal_s = t - p->fault_t;
    }
    cooling_reading(p->watch, (int64_t)(t * 1e9), place, s->kind, good, y);
    if (p->o->trace) {
        const struct cooling_verdict *v = cooling_verdict(p->watch, place, s->kind);
        fprintf(p->o->trace, "%.2f,%d,%d,%.3f,%.3f,%.3f,%.3f,%.3f,%.2f,%d\n", t, place,
                (int)s->kind, y, s->lagged, s->shadow, v->expected, v->allowance, v->statistic,
                v->level);
    }
    for (int i = 0; i < p->plan.engines; i++) {
        hear(p, &p->exhaust[i], i, t);
        hear(p, &p->coolant[i], i, t);
    }
    hear(p, &p->space, 0, t);
}

static void sense_rpm(struct trip *p, int i, double t, double rpm)
{
    double shown = rpm > 30.0 ? rpm + 2.0 * dice_normal(&p->dice) : 0.0;
    shown = round(shown * 4.0) / 4.0;
    int64_t ns = (int64_t)(t * 1e9);
    cooling_reading(p->watch, ns, i, COOLING_RPM, true, shown);
    if (p->o->trace && fmod(t, 2.0) < 0.1)
        fprintf(p->o->trace, "%.2f,%d,%d,%.1f,0,0,0,0,0,0\n", t, i, (int)COOLING_RPM, shown);
    bool running = p->running[i] ? shown > 150.0 : shown >= 300.0;
    if (running != p->running[i] || t < 0.1)
        cooling_engine(p->watch, ns, i, running);
    p->running[i] = running;
    if (running)
        p->r.hours += DT / 3600.0;
}

static void plan(struct trip *p)
{
    struct dice *d = &p->dice;
    p->plan.engines = dice_chance(d, 0.65) ? 2 : 1;
    p->plan.wide = p->o->wide;
    p->plan.dry_gas = p->o->fault == FAULT_NONE && dice_chance(d, 0.06);
    p->plan.sea_c = dice_range(d, 2.0, 30.0);
    p->plan.air_c = fmin(38.0, p->plan.sea_c + dice_range(d, -3.0, 10.0));
    plan_orders(p);
    plan_fault(p);
    plan_disturbances(p);
    for (int i = 0; i < p->plan.engines; i++) {
        plan_sensor(p, &p->exhaust[i], p->plan.dry_gas ? COOLING_EXHAUST_GAS : COOLING_EXHAUST);
        plan_sensor(p, &p->coolant[i], COOLING_COOLANT);
    }
    plan_sensor(p, &p->space, COOLING_SPACE);
    p->space.tau = dice_range(d, 10.0, 25.0);
    p->has_sea = dice_chance(d, SEA_SENSOR);
    plan_sensor(p, &p->sea, COOLING_SEA);
    p->sea.tau = dice_range(d, 5.0, 30.0);
}

static bool sail(struct trip *p, struct boat *b)
{
    struct boat *shadow = NULL, *gulped = NULL;
    for (long k = 0; (double)k * DT < p->length; k++) {
        double t = (double)k * DT;
        struct boat_inputs in = inputs_at(p, t);
        if (t >= p->fault_t) {
            if (!shadow && (!(shadow = boat_copy(b)) || !(gulped = boat_copy(b)))) {
                boat_free(shadow);
                return false;
            }
            struct boat_inputs gulp = in;
            if (t < p->fault_t + GULP_LONGEST_S)
                apply_fault(p, t, &gulp);
            boat_step(shadow, &in, DT);
            boat_step(gulped, &gulp, DT);
        }
        apply_fault(p, t, &in);
        boat_step(b, &in, DT);
        struct boat_outputs o = boat_outputs(b), h = boat_outputs(shadow ? shadow : b),
                            g = boat_outputs(gulped ? gulped : b);
        for (int i = 0; i < p->plan.engines; i++) {
            sense_rpm(p, i, t, o.engine[i].rpm);
            sense(p, &p->exhaust[i], i, t, o.engine[i].exhaust_c, h.engine[i].exhaust_c,
                  g.engine[i].exhaust_c);
            sense(p, &p->coolant[i], i, t, o.engine[i].coolant_c, h.engine[i].coolant_c,
                  g.engine[i].coolant_c);
        }
        sense(p, &p->space, 0, t, o.space_c, h.space_c, g.space_c);
        if (p->has_sea)
            sense(p, &p->sea, 0, t, in.sea_c, in.sea_c, in.sea_c);
        if (t - p->fault_t > AFTER_S + p->r.watch_s && !isnan(p->r.limit_s))
            break;
        if (p->o->fault == FAULT_FIRE && t - p->fault_t > 400.0)
            break;
    }
    boat_free(shadow);
    boat_free(gulped);
    return true;
}

struct trip_result trip_run(const struct trip_options *o)
{
    struct trip *p = calloc(1, sizeof *p);
    struct boat *b = NULL;
    struct trip_result r = {.fault = o->fault, .engines = -1};
    if (!p)
        return r;
    p->o = o;
    p->dice.state = o->seed;
    p->r = r;
    p->r.watch_s = p->r.reference_s = p->r.limit_s = p->r.ideal_s = p->r.gulp_s = NAN;
    for (int k = 0; k < RATES; k++)
        p->r.rate_s[k] = NAN;
    plan(p);
    p->watch = cooling_new();
    b = boat_new(o->model, &p->dice, &p->plan);
    if (p->watch && b && sail(p, b)) {
        p->r.engines = p->plan.engines;
        r = p->r;
    }
    cooling_free(p->watch);
    boat_free(b);
    free(p);
    return r;
}
