#include "detect_boat.h"

#include <math.h>
#include <stdlib.h>

#include "drill/model.h"

#include "base/banned.h"

uint64_t dice_next(struct dice *d)
{
    uint64_t z = d->state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

double dice_unit(struct dice *d)
{
    return (double)(dice_next(d) >> 11) / 9007199254740992.0;
}

double dice_range(struct dice *d, double lo, double hi)
{
    return lo + (hi - lo) * dice_unit(d);
}

double dice_log(struct dice *d, double lo, double hi)
{
    return lo * pow(hi / lo, dice_unit(d));
}

double dice_normal(struct dice *d)
{
    double u = 1.0 - dice_unit(d);
    return sqrt(-2.0 * log(u)) * cos(6.283185307179586 * dice_unit(d));
}

bool dice_chance(struct dice *d, double p)
{
    return dice_unit(d) < p;
}

struct boat {
    enum boat_model model;
    struct second *second;
    struct third *third;
    struct fourth *fourth;
    struct fifth *fifth;
    struct sixth *sixth;
    struct drill_params params;
    struct drill_world world;
};

/* Healthy wet exhaust at full throttle stays under this; boats above it are drawn again. */
#define HEALTHY_MOST_C 88.0

static bool drill_plausible(const struct drill_params *p, const struct boat_plan *plan)
{
    struct drill_params warm = *p;
    warm.sea_c = plan->sea_c;
    warm.air_c = plan->air_c;
    struct drill_world w;
    drill_world_settle(&w, &warm, 1.0);
    for (int i = 0; i < p->engines; i++)
        if (w.engine[i].exhaust_c > HEALTHY_MOST_C)
            return false;
    return true;
}

struct boat *boat_new(enum boat_model m, struct dice *d, const struct boat_plan *plan)
{
    struct boat *b = calloc(1, sizeof *b);
    if (!b)
        return NULL;
    b->model = m;
    if (m == BOAT_SECOND) {
        b->second = second_new(d, plan);
        if (b->second)
            return b;
    }
    if (m == BOAT_THIRD) {
        b->third = third_new(d, plan);
        if (b->third)
            return b;
    }
    if (m == BOAT_FOURTH) {
        b->fourth = fourth_new(d, plan);
        if (b->fourth)
            return b;
    }
    if (m == BOAT_FIFTH) {
        b->fifth = fifth_new(d, plan);
        if (b->fifth)
            return b;
    }
    if (m == BOAT_SIXTH) {
        b->sixth = sixth_new(d, plan);
        if (b->sixth)
            return b;
    }
    if (m == BOAT_DRILL && plan->engines <= DRILL_ENGINES) {
        struct rng r;
        rng_seed(&r, dice_next(d));
        do
            drill_params_random(&b->params, &r, plan->engines);
        while (!drill_plausible(&b->params, plan));
        b->params.sea_c = plan->sea_c;
        b->params.air_c = plan->air_c;
        b->params.start_c = plan->air_c + (dice_chance(d, 0.3) ? dice_range(d, 0.0, 30.0) : 0.0);
        /* An engine space above 62 °C is too hot by itself, and is no benign trip. */
        b->params.start_c = fmin(b->params.start_c, 55.0);
        for (int i = 0; i < DRILL_ENGINES; i++)
            b->params.engine[i].dry_gas = plan->dry_gas;
        drill_world_init(&b->world, &b->params);
        return b;
    }
    free(b);
    return NULL;
}

struct boat *boat_copy(const struct boat *b)
{
    struct boat *n = malloc(sizeof *n);
    if (!n)
        return NULL;
    *n = *b;
    if (b->second)
        n->second = second_copy(b->second);
    if (b->third)
        n->third = third_copy(b->third);
    if (b->fourth)
        n->fourth = fourth_copy(b->fourth);
    if (b->fifth)
        n->fifth = fifth_copy(b->fifth);
    if (b->sixth)
        n->sixth = sixth_copy(b->sixth);
    return n;
}

void boat_free(struct boat *b)
{
    if (b) {
        second_free(b->second);
        third_free(b->third);
        fourth_free(b->fourth);
        fifth_free(b->fifth);
        sixth_free(b->sixth);
    }
    free(b);
}

static void drill_step(struct boat *b, const struct boat_inputs *in, double dt)
{
    struct drill_inputs d;
    drill_inputs_default(&d, &b->params);
    d.sea_c = in->sea_c;
    d.air_c = in->air_c;
    d.fire_k_per_min = in->fire_k_per_min;
    for (int i = 0; i < b->params.engines; i++) {
        const struct drill_engine_params *p = &b->params.engine[i];
        const struct boat_engine_inputs *e = &in->engine[i];
        d.engine[i].run = e->run;
        d.engine[i].order_rpm = fmax(e->share * p->rated_rpm, p->idle_rpm);
        d.engine[i].gear = e->neutral ? DRILL_NEUTRAL : DRILL_AHEAD;
        d.engine[i].water = e->water;
        d.engine[i].coolant_pump = e->coolant_pump;
    }
    drill_world_step(&b->world, &b->params, &d, dt);
}

static struct boat_outputs drill_outputs(const struct boat *b)
{
    struct boat_outputs o = {.space_c = b->world.space_c};
    for (int i = 0; i < b->params.engines; i++) {
        const struct drill_engine *e = &b->world.engine[i];
        o.engine[i] = (struct boat_engine_outputs){.rpm = e->rpm,
                                                   .load = e->load,
                                                   .exhaust_c = e->exhaust_c,
                                                   .coolant_c = e->coolant_c,
                                                   .oil_c = e->oil_c};
    }
    return o;
}

void boat_step(struct boat *b, const struct boat_inputs *in, double dt)
{
    if (b->model == BOAT_SECOND)
        second_step(b->second, in, dt);
    else if (b->model == BOAT_THIRD)
        third_step(b->third, in, dt);
    else if (b->model == BOAT_FOURTH)
        fourth_step(b->fourth, in, dt);
    else if (b->model == BOAT_FIFTH)
        fifth_step(b->fifth, in, dt);
    else if (b->model == BOAT_SIXTH)
        sixth_step(b->sixth, in, dt);
    else
        drill_step(b, in, dt);
}

struct boat_outputs boat_outputs(const struct boat *b)
{
    if (b->model == BOAT_DRILL)
        return drill_outputs(b);
    if (b->model == BOAT_THIRD)
        return third_outputs(b->third);
    if (b->model == BOAT_FOURTH)
        return fourth_outputs(b->fourth);
    if (b->model == BOAT_FIFTH)
        return fifth_outputs(b->fifth);
    if (b->model == BOAT_SIXTH)
        return sixth_outputs(b->sixth);
    return second_outputs(b->second);
}
