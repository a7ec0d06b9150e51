#include "drill/trip.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

bool drill_trip_order(struct drill_trip *t, double t_s, enum drill_order_kind kind, int engine,
                      double value)
{
    if (t->orders == DRILL_ORDERS)
        return false;
    t->order[t->orders++] = (struct drill_order){t_s, kind, engine, value};
    return true;
}

bool drill_trip_happening(struct drill_trip *t, double t_s, enum drill_happening_kind kind,
                          int engine, double length_s, double amount)
{
    if (t->happenings == DRILL_HAPPENINGS)
        return false;
    t->happening[t->happenings++] = (struct drill_happening){t_s, length_s, amount, kind, engine};
    return true;
}

/* A stable insertion sort: orders arrive nearly sorted, and equal times keep their order. */
void drill_trip_sort(struct drill_trip *t)
{
    for (int i = 1; i < t->orders; i++) {
        struct drill_order o = t->order[i];
        int k = i;

        for (; k > 0 && t->order[k - 1].t_s > o.t_s; k--)
            t->order[k] = t->order[k - 1];
        t->order[k] = o;
    }
}

/* Both levers to a share of rated speed, the second `apart` seconds after the first. */
static void levers(struct drill_trip *t, const struct drill_params *p, double t_s, double apart,
                   double share)
{
    for (int i = 0; i < p->engines; i++)
        drill_trip_order(t, t_s + i * apart, DRILL_ORDER_SPEED, i,
                         fmax(share * p->engine[i].rated_rpm, p->engine[i].idle_rpm));
}

static void gears(struct drill_trip *t, const struct drill_params *p, double t_s, double apart,
                  enum drill_gear gear)
{
    for (int i = 0; i < p->engines; i++)
        drill_trip_order(t, t_s + i * apart, DRILL_ORDER_GEAR, i, gear);
}

static void start(struct drill_trip *t, const struct drill_params *p, double t_s, double apart)
{
    for (int i = 0; i < p->engines; i++) {
        t->start_s[i] = t_s + i * apart;
        drill_trip_order(t, t->start_s[i], DRILL_ORDER_START, i, 0);
        drill_trip_order(t, t->start_s[i], DRILL_ORDER_SPEED, i, p->engine[i].idle_rpm);
    }
}

static void stop(struct drill_trip *t, const struct drill_params *p, double t_s, double apart)
{
    for (int i = 0; i < p->engines; i++) {
        t->stop_s[i] = t_s + i * apart;
        drill_trip_order(t, t->stop_s[i], DRILL_ORDER_STOP, i, 0);
    }
}

void drill_trip_default(struct drill_trip *t, const struct drill_params *p, double minutes)
{
    double m = fmax(minutes, 4) * 60;

    *t = (struct drill_trip){.length_s = m};
    drill_trip_order(t, 0, DRILL_ORDER_COURSE, 0, 205);
    start(t, p, 0.015 * m, 8);
    t->under_way_s = 0.12 * m;
    /* Out of the berth: astern, neutral, ahead, a touch here and there. */
    gears(t, p, 0.12 * m, 0, DRILL_ASTERN);
    levers(t, p, 0.125 * m, 2, 0.36);
    levers(t, p, 0.14 * m, 1, 0);
    gears(t, p, 0.15 * m, 1, DRILL_NEUTRAL);
    gears(t, p, 0.16 * m, 2, DRILL_AHEAD);
    levers(t, p, 0.18 * m, 2, 0.38);
    drill_trip_order(t, 0.2 * m, DRILL_ORDER_COURSE, 0, 162);
    levers(t, p, 0.22 * m, 0, 0.32);
    /* Down the fairway, then away. */
    levers(t, p, 0.26 * m, 1, 0.48);
    levers(t, p, 0.33 * m, 2, 0.65);
    t->cruise_from_s = 0.36 * m;
    levers(t, p, t->cruise_from_s, 2, 0.82);
    drill_trip_order(t, 0.4 * m, DRILL_ORDER_COURSE, 0, 231);
    t->cruise_to_s = 0.8 * m;
    levers(t, p, t->cruise_to_s, 2, 0.36);
    gears(t, p, 0.85 * m, 1, DRILL_NEUTRAL);
    levers(t, p, 0.85 * m, 1, 0);
    gears(t, p, 0.865 * m, 0, DRILL_ASTERN);
    gears(t, p, 0.872 * m, 0, DRILL_NEUTRAL);
    stop(t, p, 0.89 * m, 5);
    drill_trip_sort(t);
}

const double drill_trial_share[DRILL_TRIAL_SPEEDS] = {0,    0.36, 0.46, 0.55, 0.63,
                                                      0.71, 0.78, 0.85, 0.92, 1.0};

void drill_trip_trial(struct drill_trip *t, const struct drill_params *p)
{
    double now = 20;

    *t = (struct drill_trip){0};
    drill_trip_order(t, 0, DRILL_ORDER_COURSE, 0, 40);
    start(t, p, now, 15);
    t->under_way_s = now += 180;
    gears(t, p, now, 1, DRILL_AHEAD);
    levers(t, p, now + 3, 1, 0.42);
    levers(t, p, now += 120, 2, 0.72);
    now += 600; /* warm through */
    for (int i = 0; i < p->engines && p->engines > 1; i++) {
        /* one works, the other idles: whose sensor is whose */
        drill_trip_order(t, now, DRILL_ORDER_SPEED, i, 0.7 * p->engine[i].rated_rpm);
        drill_trip_order(t, now, DRILL_ORDER_SPEED, 1 - i, p->engine[1 - i].idle_rpm);
        now += 150;
    }
    t->cruise_from_s = now;
    for (int k = 0; k < DRILL_TRIAL_SPEEDS; k++) {
        levers(t, p, now, 1, drill_trial_share[k]);
        drill_trip_order(t, now, DRILL_ORDER_COURSE, 0, 40);
        drill_trip_order(t, now + 215, DRILL_ORDER_COURSE, 0, 220);
        now += 390;
    }
    t->cruise_to_s = now;
    levers(t, p, now, 1, 0.3);
    levers(t, p, now + 60, 0, 0);
    gears(t, p, now + 62, 0, DRILL_NEUTRAL);
    now += 62 + 240;
    stop(t, p, now, 3);
    t->length_s = now + 120;
    drill_trip_sort(t);
}

void drill_habits_random(struct drill_habits *h, struct rng *r)
{
    *h = (struct drill_habits){
        .minutes = rng_between(r, 20, 90),
        .warm_up_s = rng_between_log(r, 40, 420),
        .second_engine_s = rng_chance(r, 0.5) ? rng_between(r, 2, 20) : rng_between(r, 20, 240),
        .manoeuvre_s = rng_between(r, 60, 500),
        .order_every_s = rng_between(r, 25, 120),
        .between_levers_s = rng_chance(r, 0.5) ? rng_between(r, 0, 2) : rng_between(r, 2, 12),
        .cruise_share = rng_between(r, 0.55, 0.95),
        .legs = 1 + rng_below(r, 5),
        .cool_down_s = rng_between_log(r, 20, 180),
        .gulps_per_h = rng_chance(r, 0.5) ? 0 : rng_between(r, 2, 20),
        .sea_change = rng_chance(r, 0.4),
        .wild_per_h = rng_chance(r, 0.6) ? 0 : rng_between(r, 1, 12),
        .dropouts_per_h = rng_chance(r, 0.7) ? 0 : rng_between(r, 0.5, 3),
        .stuck_per_h = rng_chance(r, 0.85) ? 0 : rng_between(r, 0.5, 2),
        .soak_s = rng_between(r, 200, 600),
    };
}

/* Throttle and gear as in a narrow harbour, from `from` to `to`, one engine or both. */
static void manoeuvre(struct drill_trip *t, const struct drill_params *p,
                      const struct drill_habits *h, struct rng *r, double from, double to)
{
    double now = from;

    while (now < to) {
        double share = rng_chance(r, 0.35) ? 0 : rng_between(r, 0.25, 0.55);
        double u = rng_unit(r);
        enum drill_gear gear = u < 0.2 ? DRILL_NEUTRAL : u < 0.4 ? DRILL_ASTERN : DRILL_AHEAD;
        int only = p->engines > 1 && rng_chance(r, 0.4) ? (int)rng_below(r, 2) : -1;
        double apart = h->between_levers_s * rng_unit(r);

        for (int i = 0; i < p->engines; i++) {
            double idle = p->engine[i].idle_rpm;
            double at = now + i * apart;

            if (only >= 0 && only != i)
                continue;
            /* Through idle before the gear changes. */
            drill_trip_order(t, at, DRILL_ORDER_SPEED, i, idle);
            drill_trip_order(t, at + 2, DRILL_ORDER_GEAR, i, gear);
            drill_trip_order(t, at + 3, DRILL_ORDER_SPEED, i,
                             fmax(idle, share * p->engine[i].rated_rpm));
        }
        if (rng_chance(r, 0.5))
            drill_trip_order(t, now, DRILL_ORDER_COURSE, 0, rng_between(r, 0, 360));
        now += h->order_every_s * rng_between(r, 0.6, 1.4);
    }
}

/* At sea: legs at their own speeds, the longest of them kept as the cruise. */
static void legs(struct drill_trip *t, const struct drill_params *p, const struct drill_habits *h,
                 struct rng *r, double from, double to)
{
    int n = (int)h->legs;
    double now = from, most = 0;

    gears(t, p, from - 4, 0, DRILL_AHEAD);
    levers(t, p, from, h->between_levers_s, h->cruise_share * 0.7);
    now += rng_between(r, 10, 60);
    for (int i = 0; i < n; i++) {
        double end = i == n - 1 ? to : now + (to - now) / (n - i) * rng_between(r, 0.6, 1.4);
        double share = i == 0 ? h->cruise_share
                              : fmin(0.97, fmax(0.4, h->cruise_share + rng_between(r, -0.3, 0.2)));

        end = end > to ? to : end;
        levers(t, p, now, h->between_levers_s, share);
        if (end - now > most) {
            most = end - now;
            t->cruise_from_s = now + h->between_levers_s;
            t->cruise_to_s = end;
        }
        drill_trip_order(t, now, DRILL_ORDER_COURSE, 0, rng_between(r, 0, 360));
        now = end;
    }
}

static int how_many(struct rng *r, double per_h, double hours)
{
    double expected = per_h * hours;

    return (int)expected + rng_chance(r, expected - floor(expected));
}

static void harmless(struct drill_trip *t, const struct drill_params *p,
                     const struct drill_habits *h, struct rng *r)
{
    double hours = t->length_s / 3600;
    double last = t->length_s - 60;
    int n = how_many(r, h->gulps_per_h, hours);

    for (int i = 0; i < n; i++)
        drill_trip_happening(t, rng_between(r, t->under_way_s, t->cruise_to_s), DRILL_AIR_GULP,
                             (int)rng_below(r, (uint32_t)p->engines), rng_between(r, 2, 5),
                             rng_between(r, 0.1, 0.6));
    if (h->sea_change)
        drill_trip_happening(t, rng_between(r, t->under_way_s, t->cruise_to_s), DRILL_SEA_CHANGE, 0,
                             rng_between(r, 60, 120),
                             rng_between(r, 2, 5) * (rng_chance(r, 0.7) ? 1 : -1));
    n = how_many(r, h->wild_per_h, hours);
    for (int i = 0; i < n; i++)
        drill_trip_happening(t, rng_between(r, 10, last), DRILL_WILD,
                             (int)rng_below(r, (uint32_t)p->engines), 1 + rng_below(r, 2),
                             rng_chance(r, 0.5) ? rng_between(r, 20, 400)
                                                : rng_between(r, -80, -10));
    n = how_many(r, h->dropouts_per_h, hours);
    for (int i = 0; i < n; i++)
        drill_trip_happening(t, rng_between(r, 10, last), DRILL_DROPOUT,
                             (int)rng_below(r, (uint32_t)p->engines), rng_between(r, 3, 50), 0);
    n = how_many(r, h->stuck_per_h, hours);
    for (int i = 0; i < n; i++)
        drill_trip_happening(t, rng_between(r, 10, last), DRILL_STUCK,
                             (int)rng_below(r, (uint32_t)p->engines), rng_between(r, 10, 120), 0);
}

void drill_trip_random(struct drill_trip *t, const struct drill_params *p,
                       const struct drill_habits *h, struct rng *r)
{
    double m = h->minutes * 60, begin = rng_between(r, 10, 40);
    double second = p->engines > 1 ? h->second_engine_s : 0;
    double out, sea, home;

    *t = (struct drill_trip){.length_s = m};
    start(t, p, begin, second);
    t->under_way_s = begin + second + h->warm_up_s;
    out = t->under_way_s;
    sea = out + h->manoeuvre_s;
    home = m - h->soak_s - h->cool_down_s - h->manoeuvre_s;
    if (home < sea + 240) {
        /* A short trip: little harbour, no more than that. */
        sea = out + 60;
        home = fmax(sea + 240, m - h->soak_s - h->cool_down_s - 60);
    }
    manoeuvre(t, p, h, r, out, sea - 12);
    legs(t, p, h, r, sea, home);
    levers(t, p, home, h->between_levers_s, 0.35);
    manoeuvre(t, p, h, r, home + 25, m - h->soak_s - h->cool_down_s - 8);
    levers(t, p, m - h->soak_s - h->cool_down_s, 0, 0);
    gears(t, p, m - h->soak_s - h->cool_down_s + 3, 0, DRILL_NEUTRAL);
    stop(t, p, m - h->soak_s, p->engines > 1 ? rng_between(r, 1, 60) : 0);
    harmless(t, p, h, r);
    drill_trip_sort(t);
}

/* --- walking through it ----------------------------------------------------------------- */

void drill_helm_init(struct drill_helm *h, const struct drill_params *p)
{
    *h = (struct drill_helm){0};
    drill_inputs_default(&h->inputs, p);
}

static void carry_out(struct drill_helm *h, const struct drill_order *o)
{
    struct drill_engine_inputs *e = &h->inputs.engine[o->engine];

    switch (o->kind) {
    case DRILL_ORDER_START:
        e->run = true;
        break;
    case DRILL_ORDER_STOP:
        e->run = false;
        break;
    case DRILL_ORDER_SPEED:
        e->order_rpm = o->value;
        break;
    case DRILL_ORDER_GEAR:
        e->gear = o->value < 0 ? DRILL_ASTERN : o->value > 0 ? DRILL_AHEAD : DRILL_NEUTRAL;
        break;
    case DRILL_ORDER_COURSE:
        h->course_deg = o->value;
        break;
    }
}

void drill_helm_step(struct drill_helm *h, const struct drill_trip *t, const struct drill_params *p,
                     double t_s)
{
    while (h->next < t->orders && t->order[h->next].t_s <= t_s)
        carry_out(h, &t->order[h->next++]);
    h->inputs.sea_c = p->sea_c;
    h->inputs.air_c = p->air_c;
    for (int i = 0; i < p->engines; i++)
        h->inputs.engine[i].water = h->inputs.engine[i].coolant_pump = 1;
    h->inputs.fire_k_per_min = 0;
    for (int i = 0; i < t->happenings; i++) {
        const struct drill_happening *a = &t->happening[i];
        double into = t_s - a->t_s;

        if (into < 0)
            continue;
        if (a->kind == DRILL_SEA_CHANGE)
            h->inputs.sea_c += a->amount * fmin(1, into / fmax(a->length_s, 1));
        else if (a->kind == DRILL_AIR_GULP && into < a->length_s)
            h->inputs.engine[a->engine].water = a->amount;
    }
}
