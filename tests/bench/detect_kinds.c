#include "detect_kinds.h"

#include "detect_plan.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define MINUTE 60.0

const struct kind_info trip_kinds[KINDS] = {
    [KIND_ORDINARY] = {"ordinary trips", false, FAULT_IMPELLER, 2.1},
    [KIND_GENERATOR] = {"generator, no load told", true, FAULT_IMPELLER, 2.2},
    [KIND_DRY] = {"dry gas, not called dry", false, FAULT_NONE, NAN},
    [KIND_LIFTED] = {"intake lifted 6 to 12 s", false, FAULT_NONE, NAN},
    [KIND_ANCHOR] = {"90 min at anchor", true, FAULT_IMPELLER, NAN},
    [KIND_START] = {"starts, 5 to 25 K warmer", false, FAULT_SEACOCK, 4.0},
    [KIND_UNDER_WAY] = {"second engine under way", false, FAULT_SEACOCK, 4.0},
    [KIND_SLOW] = {"sensor every 10 s", false, FAULT_IMPELLER, NAN},
    [KIND_FOUR] = {"sensor every 4 s", false, FAULT_IMPELLER, 2.6},
    [KIND_COARSE] = {"1 K steps every 2.5 s", false, FAULT_IMPELLER, 2.0},
    [KIND_GULPS] = {"gulps of up to 5 s, total", false, FAULT_IMPELLER, 2.1},
    [KIND_LOOSE] = {"loose probe", false, FAULT_NONE, NAN},
    [KIND_WEED] = {"weed on the propeller", false, FAULT_NONE, NAN},
    [KIND_SWELL] = {"swell and heel", false, FAULT_IMPELLER, 2.1},
    [KIND_SAIL_DRIVE] = {"small diesel, bus off", false, FAULT_IMPELLER, 2.1},
    [KIND_BASELINE] = {"baseline, same trip again", false, FAULT_NONE, NAN},
    [KIND_BASELINES] = {"baseline of two trips", false, FAULT_NONE, NAN},
    [KIND_PETROL] = {"petrol, 1 K every 2.5 s", true, FAULT_IMPELLER, 2.3},
    [KIND_THREE_ENGINES] = {"three engines", true, FAULT_IMPELLER, 2.1},
    [KIND_FOUR_ENGINES] = {"four engines", true, FAULT_IMPELLER, 2.1},
};

/* Starts, harbour, legs, home; as often as `times`, with pauses of `pause_s` between. */
static double outings(struct trip *p, int times, double idle_s, double pause_s)
{
    struct dice *d = &p->dice;
    double t = dice_range(d, 20.0, 90.0), unused = 0.0;
    for (int n = 0; n < times; n++) {
        double apart = p->plan.engines > 1 ? dice_range(d, 4.0, 40.0) : 0.0;
        for (int i = 0; i < p->plan.engines; i++)
            plan_order(p, i, t + i * apart, true, true, 0.0);
        t += (p->plan.engines - 1) * apart + idle_s * dice_range(d, 0.5, 1.5);
        t = plan_harbour(p, t, dice_range(d, 60.0, 240.0), &unused);
        t = plan_cruise(p, t, &p->fault_t);
        plan_order_all(p, t, true, true, 0.0);
        t += dice_range(d, 30.0, 120.0);
        plan_order_all(p, t, false, true, 0.0);
        t += pause_s * dice_range(d, 0.5, 1.5);
    }
    return t;
}

static double generator(struct trip *p)
{
    struct dice *d = &p->dice;
    static const double speeds[] = {1500.0, 1800.0, 3000.0, 3600.0};
    p->plan.engines = 1;
    p->plan.rated_rpm = speeds[(int)dice_range(d, 0.0, 4.0)];
    double t = dice_range(d, 20.0, 60.0), end = t + dice_range(d, 60.0, 150.0) * MINUTE;
    plan_order(p, 0, t, true, true, 1.0);
    t += dice_range(d, 20.0, 120.0);
    p->fault_t = t + dice_range(d, 300.0, 0.8 * (end - t));
    while (t < end) {
        plan_brake(p, 0, t, 1.0, dice_range(d, 0.05, 0.95));
        t += dice_log(d, 10.0, 900.0);
    }
    plan_brake(p, 0, t, 1.0, 0.05);
    t += 120.0;
    plan_order(p, 0, t, false, true, 0.0);
    return t + 600.0;
}

static double anchor(struct trip *p)
{
    struct dice *d = &p->dice;
    double t = dice_range(d, 20.0, 60.0), end = t + 90.0 * MINUTE;
    p->plan.engines = 1;
    plan_order(p, 0, t, true, true, 0.0);
    t += dice_range(d, 30.0, 200.0);
    p->fault_t = t + dice_range(d, 300.0, 4000.0);
    while (t < end) {
        plan_brake(p, 0, t, 0.0, dice_chance(d, 0.4) ? 0.01 : dice_range(d, 0.05, 0.3));
        t += dice_log(d, 20.0, 1500.0);
    }
    plan_order(p, 0, t, false, true, 0.0);
    return t + 300.0;
}

/* One engine under way, the other started and brought to the same speed at once. */
static double under_way(struct trip *p)
{
    struct dice *d = &p->dice;
    p->plan.engines = 2;
    double t = dice_range(d, 20.0, 60.0), share = dice_range(d, 0.5, 0.9);
    int other = (int)dice_range(d, 0.0, 2.0);
    plan_order(p, !other, t, true, true, 0.0);
    t += dice_range(d, 60.0, 400.0);
    plan_order(p, !other, t, true, false, share);
    t += dice_range(d, 300.0, 1500.0);
    for (int n = 0; n < 3; n++) {
        if (n == 0)
            p->fault_t = t;
        plan_order(p, other, t, true, true, 0.0);
        t += dice_range(d, 4.0, 20.0);
        plan_order(p, other, t, true, false, share);
        t += dice_range(d, 300.0, 1200.0);
        plan_order(p, other, t, true, true, 0.0);
        t += dice_range(d, 10.0, 60.0);
        plan_order(p, other, t, false, true, 0.0);
        t += dice_range(d, 200.0, 1500.0);
    }
    plan_order(p, !other, t, false, true, 0.0);
    p->fault_engine = other;
    return t + 300.0;
}

static void gulps(struct trip *p, int n, double least_s, double most_s, double water,
                  double apart_s)
{
    struct dice *d = &p->dice;
    double t = dice_range(d, 0.15, 0.5) * p->length;
    for (int k = 0; k < n; k++) {
        int i = k % p->plan.engines;
        double span = dice_range(d, least_s, most_s);
        if (t + span < p->fault_t - 40.0 && p->gulps[i] < GULPS)
            p->gulp[i][p->gulps[i]++] =
                (struct gulp){.from = t, .to = t + span, .water = dice_range(d, 0.0, water)};
        t += span + dice_log(d, 5.0, apart_s);
    }
}

static double draw_orders(struct trip *p)
{
    struct dice *d = &p->dice;
    switch (p->o->kind) {
    case KIND_GENERATOR:
        return generator(p);
    case KIND_ANCHOR:
        return anchor(p);
    case KIND_UNDER_WAY:
        return under_way(p);
    case KIND_START:
        return outings(p, 3, dice_range(d, 60.0, 600.0), dice_log(d, 120.0, 3000.0));
    case KIND_SAIL_DRIVE:
        p->plan.engines = 1;
        return outings(p, 2, 240.0, 7200.0);
    case KIND_PETROL:
        p->plan.rated_rpm = dice_range(d, 4000.0, 5600.0);
        return outings(p, 1, 180.0, 400.0);
    case KIND_THREE_ENGINES:
    case KIND_FOUR_ENGINES:
        p->plan.engines = p->o->kind == KIND_FOUR_ENGINES ? 4 : 3;
        return outings(p, 1, 180.0, 400.0);
    default:
        return outings(p, 1, 180.0, 400.0);
    }
}

static void draw_disturbances(struct trip *p)
{
    struct dice *d = &p->dice;
    p->wave_period = dice_range(d, 3.0, 9.0);
    p->wave_rpm = dice_chance(d, 0.5) ? dice_range(d, 0.0, 0.01) : 0.0;
    p->wave_load = dice_chance(d, 0.5) ? dice_range(d, 0.0, 0.1) : 0.0;
    p->slow_load = dice_range(d, 0.0, 0.06);
    p->sea_from = p->weed_from = INFINITY;
    if (dice_chance(d, 0.4)) {
        p->sea_from = dice_range(d, 0.2, 0.9) * p->length;
        p->sea_rise = 5.0;
        p->sea_span = dice_range(d, 60.0, 120.0);
    }
    switch (p->o->kind) {
    case KIND_ANCHOR:
        p->sea_from = dice_range(d, 0.2, 0.7) * p->length;
        p->sea_rise = 6.0;
        p->sea_span = dice_range(d, 5.0, 30.0) * MINUTE;
        break;
    case KIND_LIFTED:
        gulps(p, 6 + (int)dice_range(d, 0.0, 12.0), 6.0, 12.0, 0.2, 90.0);
        break;
    case KIND_GULPS:
        gulps(p, 12, 2.0, 5.0, 0.1, 120.0);
        break;
    case KIND_WEED:
        p->weed_from = dice_range(d, 0.35, 0.7) * p->length;
        p->weed_to = p->weed_from + dice_log(d, 60.0, 900.0);
        p->weed_span = dice_log(d, 2.0, 60.0);
        p->weed_load = dice_range(d, 0.15, 0.45);
        break;
    case KIND_SWELL:
        p->wave_period = dice_range(d, 6.0, 14.0);
        p->wave_load = dice_range(d, 0.1, 0.3);
        p->wave_rpm = dice_range(d, 0.0, 0.02);
        gulps(p, 20, 1.5, 5.0, 0.8, 60.0);
        break;
    default:
        /* Mild ones on most boats. */
        if (dice_chance(d, 0.3))
            gulps(p, 6, 1.5, 4.0, 0.8, 120.0);
        break;
    }
    if (p->sea_from > p->fault_t - 300.0)
        p->sea_from = INFINITY;
}

/* A probe that slips out of its clamp, and back. */
static void draw_loose(struct trip *p)
{
    struct dice *d = &p->dice;
    double t = dice_range(d, 0.1, 0.5) * p->length;
    for (int k = 0; k < GULPS; k++) {
        double span = dice_log(d, 3.0, 60.0);
        p->loose[k] = (struct gulp){.from = t, .to = t + span};
        t += span + dice_log(d, 5.0, 400.0);
    }
    p->loose_any = true;
}

static void draw_sensors(struct trip *p)
{
    struct dice *d = &p->dice;
    p->plan.dry_gas = p->o->kind == KIND_DRY;
    for (int i = 0; i < p->plan.engines; i++) {
        plan_sensor(p, &p->exhaust[i], COOLING_EXHAUST);
        plan_sensor(p, &p->coolant[i], COOLING_COOLANT);
        struct sensor *s = &p->exhaust[i];
        s->step = dice_chance(d, 0.7) ? 0.01 : 0.1;
        if (s->sigma > 0.4)
            s->sigma = 0.2;
        if (p->o->kind == KIND_SLOW)
            s->period = 10.0;
        else if (p->o->kind == KIND_FOUR)
            s->period = 4.0;
        else if (p->o->kind == KIND_COARSE || p->o->kind == KIND_PETROL) {
            s->period = 2.5;
            s->step = 1.0;
        } else if (s->period > 2.0) {
            s->period = 2.0;
        }
        p->oil[i] = (struct sensor){.kind = COOLING_OIL_TEMP, .period = 0.5, .tau = 5.0};
    }
    plan_sensor(p, &p->space, COOLING_SPACE);
    p->space.tau = dice_range(d, 10.0, 25.0);
    plan_sensor(p, &p->sea, COOLING_SEA);
    p->sea.tau = dice_range(d, 5.0, 30.0);
    p->has_sea = dice_chance(d, 0.5) && p->o->kind != KIND_ANCHOR && p->o->kind != KIND_SAIL_DRIVE;
    p->has_load = dice_chance(d, 0.3) && p->o->kind != KIND_ANCHOR &&
                  p->o->kind != KIND_SAIL_DRIVE && p->o->kind != KIND_GENERATOR &&
                  p->o->kind != KIND_COARSE && p->o->kind != KIND_PETROL;
    if (p->o->kind == KIND_LOOSE)
        draw_loose(p);
}

/* What a start gains over the sea, beyond what the models give: iron that warms in seconds; and on
 * half of the boats a longer way to the probe. */
static void draw_gain(struct trip *p)
{
    struct dice *d = &p->dice;
    bool starts =
        p->o->kind == KIND_START || p->o->kind == KIND_UNDER_WAY || p->o->kind == KIND_SAIL_DRIVE;
    p->gain_k = dice_range(d, starts ? 3.0 : 0.0, starts ? 18.0 : 8.0);
    p->gain_lag_s = dice_log(d, 8.0, 60.0);
    p->path_delay = (int)dice_range(d, 0.0, 12.0);
    p->path_lag_s = dice_log(d, 0.8, 6.0);
    if (dice_chance(d, 0.5))
        p->path_lag_s = 0.0;
    if (p->o->model == BOAT_THIRD) /* has such gains and such a way by itself */
        p->gain_k = p->path_lag_s = 0.0;
}

void plan_kind(struct trip *p)
{
    struct dice *d = &p->dice;
    p->extra.state = p->dice.state ^ UINT64_C(0x5EC0);
    p->boat_dice.state = p->dice.state ^ UINT64_C(0xB0A7);
    p->dice.state ^= UINT64_C(0x7219) * p->trip; /* of the same boat, another trip */
    bool same_boat = p->o->kind == KIND_BASELINES;
    p->plan.engines = dice_chance(same_boat ? &p->boat_dice : d, 0.5) ? 2 : 1;
    p->plan.sea_c = dice_range(d, 2.0, 28.0);
    p->plan.air_c = fmin(38.0, p->plan.sea_c + dice_range(d, -3.0, 10.0));
    p->intruder_from = INFINITY;
    p->length = draw_orders(p);
    plan_sort(p);
    if (p->o->kind != KIND_UNDER_WAY)
        p->fault_engine = (int)dice_range(d, 0.0, p->plan.engines);
    if (p->o->fault == FAULT_SEACOCK && p->o->kind != KIND_UNDER_WAY)
        p->fault_t = plan_start_of(p, p->fault_engine, 1);
    if (p->o->fault == FAULT_NONE)
        p->fault_t = INFINITY;
    plan_fault(p);
    draw_disturbances(p);
    struct dice trip = p->dice;
    if (same_boat)
        p->dice = p->boat_dice;
    draw_sensors(p);
    draw_gain(p);
    if (same_boat) {
        p->boat_dice = p->dice;
        p->dice = trip;
    }
    if (p->o->kind == KIND_SAIL_DRIVE && p->o->fault == FAULT_NONE) {
        double stop = plan_start_of(p, 0, 1) - 1200.0, first = plan_start_of(p, 0, 0);
        for (int k = 0; k < p->orders[0]; k++)
            if (!p->order[0][k].run && p->order[0][k].t > first && p->order[0][k].t < stop)
                p->off_from = p->order[0][k].t + 30.0;
        p->off_to = stop > p->off_from ? stop : p->off_from;
    }
}
