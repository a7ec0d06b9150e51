/* The inside of a trip of the bench: what is asked, what goes wrong, what its sensors are like
 * (detect_plan.c draws it), and what the observers of detect_trip.c remember. */
#ifndef STOKEHOLD_BENCH_DETECT_PLAN_H
#define STOKEHOLD_BENCH_DETECT_PLAN_H

#include "cooling/cooling.h"
#include "detect_trip.h"

#define ORDERS      256
#define GULPS       24
#define RATE_WINDOW 64
#define PATH_STEPS  16

struct order {
    double t, share, brake;
    bool run, neutral;
};
struct gulp {
    double from, to, water;
};

/* A sensor: lag, noise, resolution, period, and its bad days. */
struct sensor {
    bool used, lag_known;
    enum cooling_sensor kind;
    struct boat_lag lag;
    double tau, period, sigma, step, lagged, shadow, gulped, next;
    double ideal;
    double wild_rate, drop_from, drop_to, stuck_from, stuck_to, held;
    int wild_left;
    double ring_t[RATE_WINDOW], ring_c[RATE_WINDOW];
    unsigned ring;
    bool rate_on[RATES], limit_on;
    double cried_s, over_s; /* the last false alarm not yet seen to be past the limit; the last
                               moment past it */
    int level;
};

/* The way from the water to the probe, on what the models give: a delay, then two lags. */
struct path {
    bool known;
    double held[PATH_STEPS], lag[2];
    int at;
};

struct trip {
    const struct trip_options *o;
    struct dice dice, extra; /* extra: for what came later, so that a seed keeps its trip */
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
    struct sensor exhaust[BOAT_ENGINES], coolant[BOAT_ENGINES], oil[BOAT_ENGINES], space, sea;
    bool running[BOAT_ENGINES], has_sea, has_load, has_oil;
    struct sensor intruder; /* a second box that claims the first exhaust's place */
    double intruder_from, intruder_to, intruder_c;
    double dry_share, dry_c; /* coolant lost: its sender in air cools to a share of what it had */
    /* Of the kinds alone. */
    double gain_k, gain_lag_s, gain[BOAT_ENGINES]; /* what a start gains, and has */
    int path_delay;                                /* steps */
    double path_lag_s;                             /* each; 0: none */
    struct boat_lag gain_lag[BOAT_ENGINES], path_lag;
    struct path path[3][BOAT_ENGINES]; /* true, healthy, after a gulp */
    double weed_from, weed_to, weed_span, weed_load;
    bool loose_any;
    struct gulp loose[GULPS];
    double off_from, off_to; /* the bus is off */
    struct dice boat_dice;   /* KIND_BASELINES: the boat is another draw than the trip, */
    unsigned trip;           /* of which this is the number; 0: it has but one */
    double sea_now_c;
    bool asked[BOAT_ENGINES]; /* of dry gas */
    int told[BOAT_ENGINES];
    struct learned *learned; /* of a first trip, or NULL */
    bool second_time;        /* with what was learned */
    double rpm[BOAT_ENGINES];
    struct cooling *watch; /* fed with the readings themselves, */
    struct whole *whole;   /* or by way of frames and a keeper; one is NULL */
    struct trip_result r;
};

/* For those who draw other trips: an order, to all, to a generator; manoeuvring and legs, which
 * return their end; what fails, how a sensor is; orders by time; the start of that number. */
void plan_order(struct trip *p, int engine, double t, bool run, bool neutral, double share);
void plan_brake(struct trip *p, int engine, double t, double share, double brake);
void plan_order_all(struct trip *p, double t, bool run, bool neutral, double share);
double plan_harbour(struct trip *p, double t, double length, double *idle_t);
double plan_cruise(struct trip *p, double t, double *cruise_t);
void plan_fault(struct trip *p);
void plan_sensor(struct trip *p, struct sensor *s, enum cooling_sensor kind);
void plan_sort(struct trip *p);
double plan_start_of(const struct trip *p, int engine, int which);

/* Draws the whole trip from p->o and p->dice. */
void plan_trip(struct trip *p);
/* What is asked of the engines at t, without the fault; t goes on only. */
struct boat_inputs plan_inputs(struct trip *p, double t);

#endif
