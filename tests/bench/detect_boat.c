#include "detect_boat.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

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

static const struct boat_kind *const kinds[BOAT_MODELS] = {
    [BOAT_SECOND] = &boat_second, [BOAT_THIRD] = &boat_third, [BOAT_FOURTH] = &boat_fourth,
    [BOAT_FIFTH] = &boat_fifth,   [BOAT_SIXTH] = &boat_sixth,
};

struct boat {
    const struct boat_kind *kind; /* NULL: the drill's, */
    struct drill_params params;
    struct drill_world world;
    void *own; /* or its own half */
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
    b->kind = kinds[m];
    if (b->kind)
        b->own = b->kind->new_boat(d, plan);
    if (b->own)
        return b;
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
    if (!b->own)
        return n;
    n->own = malloc(b->kind->size);
    if (!n->own) {
        free(n);
        return NULL;
    }
    memcpy(n->own, b->own, b->kind->size);
    return n;
}

void boat_free(struct boat *b)
{
    if (b)
        free(b->own);
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
    if (b->kind)
        b->kind->step(b->own, in, dt);
    else
        drill_step(b, in, dt);
}

struct boat_outputs boat_outputs(const struct boat *b)
{
    return b->kind ? b->kind->outputs(b->own) : drill_outputs(b);
}
