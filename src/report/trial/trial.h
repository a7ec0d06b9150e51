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
#define TRIAL_LONGEST_S 129600 /* 36 h of one log: what comes after is not looked at */

struct trial_stat {
    int n; /* seconds heard; 0: nothing */
    double mean, low, high;
    double error; /* standard error of the mean, from means of 10 s so that noise which hangs
                     together is not counted as many; NaN below 30 s */
};

/* What one engine showed in a step. */
struct trial_engine {
    struct trial_stat rpm, exhaust, exhaust_gas, coolant, oil_pressure, oil_temp, fuel_rate, load,
        torque, boost, alternator;
};

/* One steady stretch on one course. */
struct trial_step {
    int log;         /* which of the logs, from 0 */
    int64_t wall_ns; /* when it began */
    double seconds;  /* how long */
    double settle_s; /* from the change of speed until temperatures stood; NaN: stood already */
    uint8_t engines; /* bit n: engine n ran */
    double mean_rpm; /* of the engines that ran */
    struct trial_engine engine[TRIAL_ENGINES];
    struct trial_stat speed_ground, speed_water, space, air, sea;
    struct trial_stat volts[TRIAL_BATTERIES];
    bool has_course;
    double course_deg;
    double north_kn, east_kn; /* mean velocity over the ground; with has_course */
    int point;                /* the point it went into, -1 */
};

enum trial_how {
    TRIAL_NO_SPEED,
    TRIAL_ONE_WAY,    /* over the ground, current unknown */
    TRIAL_WATER,      /* by the log through the water */
    TRIAL_RECIPROCAL, /* current cancelled */
};

/* All steps at one engine speed. */
struct trial_point {
    double rpm;
    int steps;
    enum trial_how how;
    double speed_kn, speed_error;
    double current_kn, set_deg; /* with TRIAL_RECIPROCAL */
    bool has_burn;
    double burn_lph, burn_error; /* all engines that ran */
    double cost, cost_error;     /* L/nmi, with a speed and a burn */
    double range_nmi, hours;     /* at usable fuel; NaN where unknown */
    uint8_t engines;
    struct trial_engine engine[TRIAL_ENGINES]; /* joined over the steps */
    double space_rise;                         /* over outside air, K; NaN */
};

enum trial_verdict { TRIAL_PASS, TRIAL_FAIL, TRIAL_NOT_SEEN };
struct trial_check {
    char name[64];
    enum trial_verdict verdict;
    char text[160]; /* what was seen, against what */
};

/* Something the technician should look at: an exchanged probe, a float that hangs, a meter. */
struct trial_finding {
    char kind[24]; /* "exchanged", "stuck", "meter" */
    char channel[CHANNEL_KEY_SIZE];
    double value, error; /* meter: suggested factor; NaN elsewhere */
    char text[240];
};

struct trial_incident {
    int64_t wall_ns;
    enum priority priority;
    char text[ALERT_TEXT_SIZE];
};

/* Fuel of one engine or tank over the whole trial. */
struct trial_meter {
    bool heard;
    double burnt_l;            /* integrated from the rate */
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
    bool cut;                  /* a log went on past TRIAL_LONGEST_S */
    int engines;               /* highest engine seen, plus one */
    char engine_names[TRIAL_ENGINES][20];
    struct steady_options steady;

    struct trial_step *step;
    int steps;
    struct trial_point *point; /* rising engine speed */
    int points;

    bool has_law; /* propeller law */
    struct fit_power law[TRIAL_ENGINES];
    bool law_seen[TRIAL_ENGINES], law_by_torque;
    bool has_best; /* most economical speed away from the ends of what was run */
    struct fit_bottom best;
    double slowest_cost, slowest_kn; /* the other candidate: the slowest speed run; NaN */

    struct trial_meter meter[TRIAL_ENGINES];
    struct trial_tank tank[TRIAL_TANKS]; /* diesel and petrol tanks by number */
    double burnt_l, used_l, used_error;  /* all meters, all tanks; NaN where unknown */
    double factor, factor_error;         /* used over burnt */
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

/* Fits and checks; the report belongs to t. NULL when out of memory. */
const struct trial_report *trial_finish(struct trial *t);

#endif
