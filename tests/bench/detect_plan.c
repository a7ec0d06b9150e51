#include "detect_plan.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define SEA_SENSOR 0.6    /* share of boats with the water's temperature on the bus, */
#define LOAD_KNOWN 0.35   /* with the engines' load, */
#define CONFLICT   0.17   /* of benign trips */
#define OIL_SENSOR 0.5    /* and with the oil's temperature */
#define GIVE_UP_S  1200.0 /* a fault not found by then is missed */

void plan_order(struct trip *p, int engine, double t, bool run, bool neutral, double share)
{
    if (p->orders[engine] < ORDERS)
        p->order[engine][p->orders[engine]++] =
            (struct order){.t = t, .share = share, .run = run, .neutral = neutral};
}

void plan_brake(struct trip *p, int engine, double t, double share, double brake)
{
    plan_order(p, engine, t, true, true, share);
    if (p->orders[engine] < ORDERS)
        p->order[engine][p->orders[engine] - 1].brake = brake;
}

/* Both levers, together or one after the other. */
void plan_order_all(struct trip *p, double t, bool run, bool neutral, double share)
{
    double apart = 0.0;
    if (dice_chance(&p->dice, 0.3))
        apart = dice_range(&p->dice, 2.0, 30.0);
    bool swap = dice_chance(&p->dice, 0.5);
    for (int i = 0; i < p->plan.engines; i++)
        plan_order(p, i, t + (swap == (i == 0) ? apart : 0.0), run, neutral,
                   share > 0.0 ? fmax(0.0, share + 0.01 * dice_normal(&p->dice)) : 0.0);
}

/* Manoeuvring: a throttle order every 25 to 120 s. Remembers stretches of idling. */
double plan_harbour(struct trip *p, double t, double length, double *idle_t)
{
    double end = t + length;
    while (t < end) {
        bool one = p->plan.engines == 2 && dice_chance(&p->dice, 0.35);
        bool idle = dice_chance(&p->dice, 0.45);
        double share = idle ? 0.0 : dice_range(&p->dice, 0.3, 0.6);
        bool neutral = idle && dice_chance(&p->dice, 0.6);
        if (one)
            plan_order(p, dice_chance(&p->dice, 0.5), t, true, neutral, share);
        else
            plan_order_all(p, t, true, neutral, share);
        double hold = dice_range(&p->dice, 25.0, 120.0);
        if (idle && !one)
            *idle_t = t + dice_range(&p->dice, 10.0, hold);
        t += hold;
    }
    return t;
}

double plan_cruise(struct trip *p, double t, double *cruise_t)
{
    int legs = 2 + (int)dice_range(&p->dice, 0.0, 4.0);
    int chosen = (int)dice_range(&p->dice, 0.0, legs);
    for (int k = 0; k < legs; k++) {
        double share = dice_range(&p->dice, 0.55, 1.0);
        plan_order_all(p, t, true, false, share);
        double hold = dice_range(&p->dice, 150.0, 840.0);
        if (k == chosen)
            *cruise_t = t + dice_range(&p->dice, 20.0, hold);
        t += hold;
        if (dice_chance(&p->dice, 0.25)) {
            plan_order_all(p, t, true, false, dice_chance(&p->dice, 0.5) ? 0.0 : 0.35);
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
        plan_order(p, i, at, true, true, 0.0);
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

void plan_sort(struct trip *p)
{
    for (int i = 0; i < p->plan.engines; i++)
        qsort(p->order[i], (size_t)p->orders[i], sizeof(struct order), by_time);
}

double plan_start_of(const struct trip *p, int engine, int which)
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
    t = plan_harbour(p, ready, dice_range(d, 150.0, 700.0), &idle_t);
    t = plan_cruise(p, t, &cruise_t);
    t = plan_harbour(p, t, dice_range(d, 120.0, 500.0), &idle_t);
    plan_order_all(p, t, true, true, 0.0);
    t += dice_range(d, 40.0, 150.0);
    plan_order_all(p, t, false, true, 0.0);
    t += dice_range(d, 120.0, 1200.0);
    if (dice_chance(d, 0.5)) { /* out again, warm */
        t = start(p, t, &both);
        t = plan_harbour(p, t, dice_range(d, 60.0, 300.0), &idle_t);
        double unused;
        t = plan_cruise(p, t, &unused);
        plan_order_all(p, t, true, true, 0.0);
        plan_order_all(p, t + 90.0, false, true, 0.0);
        t += 500.0;
    }
    p->length = t;
    plan_sort(p);
    p->fault_engine = (int)dice_range(d, 0.0, p->plan.engines);
    switch (p->o->fault) {
    case FAULT_IMPELLER_IDLE:
        p->fault_t = idle_t > 0.0 && dice_chance(d, 0.7) ? idle_t : warm_t;
        break;
    case FAULT_SEACOCK: {
        double again = plan_start_of(p, p->fault_engine, 1);
        p->fault_t = again > 0.0 ? again : plan_start_of(p, p->fault_engine, 0);
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

void plan_fault(struct trip *p)
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
    } else if (p->o->fault == FAULT_LOST_COOLANT) {
        p->fault_span = dice_range(&p->extra, 10.0, 60.0);
        p->dry_share = dice_range(&p->extra, 0.3, 0.7);
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

void plan_sensor(struct trip *p, struct sensor *s, enum cooling_sensor kind)
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

/* Oil and load come with the coolant, twice a second. */
static void plan_oil(struct trip *p)
{
    struct dice *d = &p->extra;
    p->has_load = dice_chance(d, LOAD_KNOWN);
    p->has_oil = dice_chance(d, OIL_SENSOR) || p->o->fault == FAULT_LOST_COOLANT;
    for (int i = 0; i < p->plan.engines; i++)
        p->oil[i] = (struct sensor){.used = p->has_oil,
                                    .kind = COOLING_OIL_TEMP,
                                    .period = 0.5,
                                    .tau = dice_log(d, 3.0, 15.0),
                                    .sigma = dice_log(d, 0.03, 0.4),
                                    .step = dice_chance(d, 0.7) ? 0.1 : 1.0,
                                    .drop_from = INFINITY,
                                    .stuck_from = INFINITY,
                                    .next = dice_range(d, 0.0, 0.5)};
}

/* In one of six benign trips a second box claims the first exhaust's place for some time: the
 * other engine's, or one that hangs in the air. */
static void plan_conflict(struct trip *p)
{
    struct dice *d = &p->extra;
    p->intruder_from = INFINITY;
    if (p->o->fault != FAULT_NONE || !dice_chance(d, CONFLICT) ||
        (p->o->without & WITHOUT_CONFLICT))
        return;
    p->intruder = (struct sensor){.used = true,
                                  .kind = p->exhaust[0].kind,
                                  .period = p->exhaust[0].period,
                                  .tau = dice_log(d, 4.0, 12.0),
                                  .sigma = dice_log(d, 0.03, 0.3),
                                  .step = 0.1,
                                  .drop_from = INFINITY,
                                  .stuck_from = INFINITY};
    p->intruder_from = dice_chance(d, 0.3) ? 0.0 : dice_range(d, 0.1, 0.8) * p->length;
    p->intruder_to = p->intruder_from + dice_log(d, 30.0, 3000.0);
    p->intruder_c = p->plan.engines == 2 ? NAN : dice_range(d, 10.0, 90.0);
    p->intruder.next = p->intruder_from;
}

struct boat_inputs plan_inputs(struct trip *p, double t)
{
    struct boat_inputs in = {.air_c = p->plan.air_c, .sea_c = p->plan.sea_c};
    if (t > p->sea_from)
        in.sea_c += p->sea_rise * fmin(1.0, (t - p->sea_from) / p->sea_span);
    double wave = sin(6.283185307 * t / p->wave_period);
    double slow = p->slow_load > 0.0 ? p->slow_load * sin(t / 97.0) : 0.0;
    for (int i = 0; i < p->plan.engines; i++) {
        struct boat_engine_inputs *e = &in.engine[i];
        while (p->at[i] + 1 < p->orders[i] && p->order[i][p->at[i] + 1].t <= t)
            p->at[i]++;
        const struct order *o = &p->order[i][p->at[i]];
        e->water = e->coolant_pump = 1.0;
        e->load_factor = 1.0 + p->wave_load * wave + slow;
        if (t > p->weed_from && t < p->weed_to)
            e->load_factor += p->weed_load * fmin(1.0, (t - p->weed_from) / p->weed_span);
        if (p->orders[i] == 0 || o->t > t) {
            e->neutral = true;
            continue;
        }
        e->run = o->run;
        e->neutral = o->neutral;
        e->brake = o->brake;
        e->share = o->share * (1.0 + p->wave_rpm * wave);
        for (int g = 0; g < p->gulps[i]; g++)
            if (t >= p->gulp[i][g].from && t < p->gulp[i][g].to)
                e->water = p->gulp[i][g].water;
    }
    return in;
}

void plan_trip(struct trip *p)
{
    struct dice *d = &p->dice;
    p->extra.state = p->dice.state ^ UINT64_C(0x5EC0);
    p->weed_from = INFINITY;
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
    plan_oil(p);
    plan_conflict(p);
}
