/* The sea trial: what is collected from logs while the keeper reads them, and what comes of it.
 * Collecting (trial.c) keeps one mean a second of each channel of interest (series.c); finishing
 * (steps.c, points.c, fuel.c, checks.c) finds the steady steps, joins runs on reciprocal
 * courses, fits the curves and checks what the trade expects. The result is plain data for the
 * writers (write.h). Nothing here opens a file or reads a clock.
 * Values are in base units. A stat with n 0 was not heard: it is never zero. */
#ifndef STOKEHOLD_REPORT_TRIAL_TRIAL_H
#define STOKEHOLD_REPORT_TRIAL_TRIAL_H

#include "keeper/keeper.h"
#include "config/settings.h"
#include "plant/steady.h"
#include "report/trial/fit.h"
#include "wire/decode.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define TRIAL_ENGINES   STEADY_ENGINES
#define TRIAL_STEPS     256
#define TRIAL_POINTS    64
#define TRIAL_BATTERIES 8
#define TRIAL_TANKS     8
#define TRIAL_INCIDENTS 100
#define TRIAL_CHECKS    96
#define TRIAL_FINDINGS  32
#define TRIAL_LOGS      64
#define TRIAL_HOLE_S    10
#define TRIAL_CLOCK_S   2
#define TRIAL_BOXES     64
#define TRIAL_HIGHS     200
#define TRIAL_LONGEST_S 129600 /* 36 h of one log: what comes after is not looked at */

struct trial_stat {
    int n; /* seconds heard; 0: nothing */
    double mean, low, high;
    double error; /* standard error of the mean: see errors.c; NaN up to 30 s */
    /* means of 10 s about their own mean: squares, and products of each with the next */
    double blocks, squares, products;
};

/* What one engine showed in a step. */
struct trial_engine {
    struct trial_stat rpm, exhaust, exhaust_gas, coolant, oil_pressure, oil_temp, fuel_rate, load,
        torque, boost, alternator;
    struct trial_stat gear;       /* 1 ahead, 0 neutral, -1 astern */
    struct trial_stat burn_error; /* of fuel_rate where two meters make it: 95 in 100 within */
};

/* Why a step is in no point. */
enum trial_left {
    TRIAL_TAKEN,
    TRIAL_LEFT_UNHEARD, /* an engine that was under way is no longer heard: it may drive, and burn
                         */
    TRIAL_LEFT_COLD,    /* coolant still below what it came to */
    TRIAL_LEFT_APART,   /* the engines ran at speeds of their own */
    TRIAL_LEFT_GEARS,   /* one in gear and one not, or astern */
    TRIAL_LEFT_NO_ROOM  /* more than TRIAL_POINTS */
};

/* One steady stretch on one course. */
struct trial_step {
    int log;         /* which of the logs, from 0 */
    int64_t wall_ns; /* when it began */
    double seconds;  /* how long */
    double settle_s; /* from the change of speed until temperatures stood; NaN: stood already */
    uint8_t engines; /* bit n: engine n ran */
    bool unheard;    /* another was under way when it was last heard */
    double mean_rpm; /* of the engines that ran */
    struct trial_engine engine[TRIAL_ENGINES];
    struct trial_stat speed_ground, speed_water, space, air, sea;
    struct trial_stat north, east; /* velocity over the ground, kn */
    struct trial_stat volts[TRIAL_BATTERIES];
    bool has_course;
    double course_deg;
    bool neutral; /* no engine in gear, by what the gearboxes say */
    int point;    /* the point it went into, -1 */
    enum trial_left left;
};

/* The water's own movement over one log, from its runs both ways: each part a polynomial of time.
 * terms 0: not known. */
struct trial_current {
    int pairs, terms; /* 1 steady, 2 changing evenly, 3 and in a curve */
    int64_t zero_ns;  /* hours count from there */
    double north[3], east[3];
    double inverse[9]; /* of the normal equations, row by row */
    double scatter_kn; /* of a pair about the polynomial, each part */
    double walk_kn2_h; /* irregular change between pairs: variance of each part an hour */
};

enum trial_how {
    TRIAL_NO_SPEED,   /* standing, drifting or in neutral */
    TRIAL_ONE_WAY,    /* over the ground, current unknown: in no curve */
    TRIAL_WATER,      /* by the log through the water */
    TRIAL_CORRECTED,  /* one way, less the current that runs both ways told of */
    TRIAL_RECIPROCAL, /* current cancelled */
};

/* All steps at one engine speed. */
struct trial_point {
    double rpm;
    int steps;
    double apart; /* how far the engines' speeds differ, a share of the mean */
    enum trial_how how;
    double speed_kn, speed_error; /* error NaN: the current is not known */
    double current_kn, set_deg;   /* with TRIAL_RECIPROCAL */
    bool has_burn;
    double burn_lph, burn_error; /* all engines that ran; the meters' own error is in it */
    double burn_random;          /* the part of it that differs from point to point */
    double cost, cost_error;     /* L/nmi, where the speed is through the water */
    double range_nmi, hours;     /* at usable fuel; NaN where unknown */
    uint8_t engines;
    struct trial_engine engine[TRIAL_ENGINES]; /* joined over the steps */
    double space_rise;                         /* over outside air, K; NaN */
};

enum trial_verdict { TRIAL_PASS, TRIAL_FAIL, TRIAL_NOT_SHOWN };
struct trial_check {
    char name[64];
    enum trial_verdict verdict;
    char text[160]; /* what was seen, against what */
};

/* Something the technician should look at: an exchanged probe, a float that hangs, a meter. */
struct trial_finding {
    char kind[24]; /* "exchanged", "stuck", "silent", "meter", "log", "apart", "holes",
                    * "clock" */
    char channel[CHANNEL_KEY_SIZE];
    double value, error; /* meter: suggested factor; NaN elsewhere */
    char text[240];
};

/* One box of the bus, by what it says of itself. */
struct trial_box {
    uint8_t iface, address;
    uint64_t name; /* 0: none heard */
    bool has_product;
    struct product_info product;
};

/* One channel over all logs, a second sender of a key too; wall times. */
struct trial_high {
    char key[CHANNEL_KEY_SIZE];
    enum quantity quantity;
    double highest, lowest;
    int64_t highest_ns, lowest_ns;
};

struct trial_incident {
    int64_t wall_ns; /* raised, or grown */
    enum priority priority;
    char text[ALERT_TEXT_SIZE]; /* then */
    int log;
    struct alert alert; /* as it was last: how bad it got, and how it ended */
};

/* Fuel of one engine or tank over the whole trial. */
struct trial_meter {
    bool heard;
    bool partly;               /* its engine drove on while it was not heard */
    double burnt_l;            /* integrated from the rate */
    double burnt_error_l;      /* where two meters make the rate, else 0 */
    bool has_trip;             /* trip counter of the engine */
    double trip_l;             /* its change; steps of 1 L on the wire */
    struct fuel_check counter; /* the rate against that counter, step by step */
    double factor, error;      /* litres out of the tank of the same number for each litre
                                    metered; NaN where that says nothing */
};
struct trial_tank {
    bool heard, petrol;
    double capacity_l; /* 0 unknown */
    double first_pc, last_pc;
    double last_l;             /* NaN without capacity */
    double used_l, used_error; /* NaN without capacity */
    bool stuck;
};

struct trial_report {
    const struct settings *settings;
    int logs;
    char log_names[TRIAL_LOGS][80];
    int64_t first_ns, last_ns; /* wall */
    double running_s;          /* any engine */
    int holes;                 /* times of more than TRIAL_HOLE_S in which nothing at all came */
    double hole_s;             /* together */
    int clock_steps;           /* times that the log's clock was set back */
    double clock_step_s;       /* by how much the last time, */
    int64_t clock_step_ns;     /* wall: and until when */
    double rated_rpm[TRIAL_ENGINES]; /* by 127498; 0: not said */
    /* how far readings moved over the whole trial: a sensor that never moves shows nothing */
    double exhaust_moved_k[TRIAL_ENGINES], oil_moved_kpa[TRIAL_ENGINES];
    double space_moved_k, air_moved_k;
    bool cut;                             /* a log went on past TRIAL_LONGEST_S */
    int engines;                          /* highest engine seen, plus one */
    char engine_names[TRIAL_ENGINES][20]; /* "": none of this number */
    int instance[TRIAL_ENGINES];          /* by which number the bus knows it; -1: none */
    bool generator[TRIAL_ENGINES];        /* drives no boat: in no step, no point, no check */
    int twin[2]; /* the two that drive the boat, by number; -1: there are not just two */
    struct steady_options steady;

    struct trial_step *step;
    int steps;
    struct trial_point *point; /* rising engine speed */
    int points;
    struct trial_current *current; /* by log */
    double log_factor, log_error;  /* speed through the water over what the log said; NaN */

    bool has_law; /* propeller law */
    struct fit_power law[TRIAL_ENGINES];
    bool law_seen[TRIAL_ENGINES], law_by_torque;
    bool has_best; /* most economical speed away from the ends of what was run */
    int costs;     /* speeds of which the cost of a mile is known */
    struct fit_best best;
    double best_cost_error;
    /* the other candidate: the slowest speed run of which the cost is known; NaN */
    double slowest_cost, slowest_error, slowest_kn;

    struct trial_meter meter[TRIAL_ENGINES];
    struct trial_tank tank[TRIAL_TANKS]; /* diesel and petrol tanks by number */
    double burnt_l, used_l, used_error;  /* all meters, all tanks; NaN where unknown */
    double factor, factor_error;         /* used over burnt */
    bool still;                          /* levels were read before and after, the boat at rest */
    double usable_l;                     /* at the end, above the reserve; NaN */

    double space_half_s[2]; /* engine space 0, engines stopped: half of its rise goes in so long,
                               blower off and on; NaN */
    double crank_volts[TRIAL_BATTERIES]; /* lowest around a start, NaN */
    double crank_rest[TRIAL_BATTERIES];  /* and what it fell from */
    struct trial_check check[TRIAL_CHECKS];
    int checks;
    struct trial_finding finding[TRIAL_FINDINGS];
    int findings;
    struct trial_incident incident[TRIAL_INCIDENTS];
    int incidents, incidents_lost;
    /* temperatures of the boat before the first start, by key; NaN spread: not heard, or no time */
    double cold_c, cold_spread_k; /* the middle one; furthest from it */
    char cold_off[CHANNEL_KEY_SIZE];
    int cold_heard, cold_apart;          /* how many were heard, how many stood apart */
    struct trial_high high[TRIAL_HIGHS]; /* of the whole trial, by quantity and place */
    int highs;
    bool highs_lost; /* there were more */
    struct trial_box box[TRIAL_BOXES];
    int boxes;
    double hours_first[TRIAL_ENGINES], hours_last[TRIAL_ENGINES]; /* NaN: not heard */
};

struct trial;
/* settings must outlive it; steady NULL: the defaults. NULL when out of memory. */
struct trial *trial_new(const struct settings *settings, const struct steady_options *steady);
void trial_free(struct trial *t);

/* Listens to a fresh keeper that is about to read a log; pairs with trial_end. False when out of
 * memory or TRIAL_LOGS. */
bool trial_begin(struct trial *t, struct keeper *k, const char *name);
/* The log is over: steps are found. The keeper may go after it. */
void trial_end(struct trial *t);

/* Fits and checks, once; the report belongs to t. NULL when out of memory. */
const struct trial_report *trial_finish(struct trial *t);
/* Whether no later row is about the same alert: after it stands how it went. */
bool trial_incident_last(const struct trial_report *r, int i);

/* A speed through the water: what a curve may be drawn of. */
bool trial_through_water(const struct trial_point *p);

/* A channel of one of the trial's engines as the bus calls it. */
struct channel_id trial_bus_id(const struct trial_report *r, struct channel_id id);
/* Whether an engine of this number is aboard and drives the boat. */
bool trial_drives(const struct trial_report *r, int e);

#endif
