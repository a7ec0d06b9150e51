/* A boat of the detection bench, whichever model moves it. Six models with different equations
 * stand behind it: BOAT_DRILL is the one that `stokehold drill` sails (src/drill/model.h), of at
 * most two engines; the others are written for this bench alone (detect_second.c and so on). The
 * sixth sails held-out trips only. The watch under test sees none of them. */
#ifndef STOKEHOLD_BENCH_DETECT_BOAT_H
#define STOKEHOLD_BENCH_DETECT_BOAT_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define BOAT_ENGINES 4

/* Small generator of its own: the same seed gives the same trips on every machine. */
struct dice {
    uint64_t state;
};
uint64_t dice_next(struct dice *d);
double dice_unit(struct dice *d);                        /* [0, 1) */
double dice_range(struct dice *d, double lo, double hi); /* uniform */
double dice_log(struct dice *d, double lo, double hi);   /* uniform in the logarithm */
double dice_normal(struct dice *d);
bool dice_chance(struct dice *d, double p);

/* A lag's share of the way in one step, kept for as long as step and lag stay the same: most of the
 * time of a trip would go into exp() otherwise. */
struct boat_lag {
    double dt, tau, share;
};
static inline double boat_lag(struct boat_lag *l, double dt, double tau)
{
    if (l->dt != dt || l->tau != tau)
        *l = (struct boat_lag){.dt = dt, .tau = tau, .share = 1.0 - exp(-dt / tau)};
    return l->share;
}

struct boat_engine_inputs {
    bool run;
    double share; /* ordered speed over rated, 0: idle */
    bool neutral;
    double water;        /* raw water over what it should be, 0..1 */
    double coolant_pump; /* 0..1 */
    double load_factor;  /* wind and sea: about 1 */
    double brake;        /* of a generator: its load, 0..1; 0: it drives a propeller */
};
struct boat_inputs {
    struct boat_engine_inputs engine[BOAT_ENGINES];
    double sea_c, air_c, fire_k_per_min;
};
struct boat_engine_outputs {
    double rpm, load, exhaust_c, coolant_c, oil_c; /* at the sensors' places, without their lags */
};
struct boat_outputs {
    struct boat_engine_outputs engine[BOAT_ENGINES];
    double space_c;
};

/* wide: parameter ranges beyond those used while tuning (the held-out set). */
struct boat_plan {
    int engines;
    bool dry_gas, wide;
    double sea_c, air_c;
    double rated_rpm; /* of a generator; 0: any */
};

enum boat_model {
    BOAT_DRILL,
    BOAT_SECOND,
    BOAT_THIRD,
    BOAT_FOURTH,
    BOAT_FIFTH,
    BOAT_SIXTH,
    BOAT_MODELS
};
struct boat;
/* Draws a boat; NULL where the model is not built in. */
struct boat *boat_new(enum boat_model m, struct dice *d, const struct boat_plan *plan);
/* The same boat once more, in the same state: the healthy shadow. */
struct boat *boat_copy(const struct boat *b);
void boat_free(struct boat *b);
void boat_step(struct boat *b, const struct boat_inputs *in, double dt);
struct boat_outputs boat_outputs(const struct boat *b);

/* A model's own half: a boat that holds no pointers, so that a copy of its bytes is a copy. */
struct boat_kind {
    void *(*new_boat)(struct dice *d, const struct boat_plan *plan); /* to free(); NULL: none */
    size_t size;
    void (*step)(void *boat, const struct boat_inputs *in, double dt);
    struct boat_outputs (*outputs)(const void *boat);
};
extern const struct boat_kind boat_second, boat_third, boat_fourth, boat_fifth, boat_sixth;

#endif
