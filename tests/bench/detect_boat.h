/* A boat of the detection bench, whichever model moves it. Six models with different equations
 * stand behind it: BOAT_DRILL is the one that `stokehold drill` sails (src/drill/model.h), of at
 * most two engines; the others are written for this bench alone (detect_second.c and so on). The
 * sixth sails held-out trips only. The watch under test sees none of them. */
#ifndef STOKEHOLD_BENCH_DETECT_BOAT_H
#define STOKEHOLD_BENCH_DETECT_BOAT_H

#include <math.h>
#include <stdbool.h>
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

/* The second model's own half. */
struct second;
struct second *second_new(struct dice *d, const struct boat_plan *plan);
struct second *second_copy(const struct second *s);
void second_free(struct second *s);
void second_step(struct second *s, const struct boat_inputs *in, double dt);
struct boat_outputs second_outputs(const struct second *s);

/* And the third's. */
struct third;
struct third *third_new(struct dice *d, const struct boat_plan *plan);
struct third *third_copy(const struct third *s);
void third_free(struct third *s);
void third_step(struct third *s, const struct boat_inputs *in, double dt);
struct boat_outputs third_outputs(const struct third *s);

/* And the fourth's. */
struct fourth;
struct fourth *fourth_new(struct dice *d, const struct boat_plan *plan);
struct fourth *fourth_copy(const struct fourth *s);
void fourth_free(struct fourth *s);
void fourth_step(struct fourth *s, const struct boat_inputs *in, double dt);
struct boat_outputs fourth_outputs(const struct fourth *s);

/* And the fifth's. */
struct fifth;
struct fifth *fifth_new(struct dice *d, const struct boat_plan *plan);
struct fifth *fifth_copy(const struct fifth *s);
void fifth_free(struct fifth *s);
void fifth_step(struct fifth *s, const struct boat_inputs *in, double dt);
struct boat_outputs fifth_outputs(const struct fifth *s);

/* And the sixth's. */
struct sixth;
struct sixth *sixth_new(struct dice *d, const struct boat_plan *plan);
struct sixth *sixth_copy(const struct sixth *s);
void sixth_free(struct sixth *s);
void sixth_step(struct sixth *s, const struct boat_inputs *in, double dt);
struct boat_outputs sixth_outputs(const struct sixth *s);

#endif
