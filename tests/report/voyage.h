/* A boat on sea trial of which everything is known, for tests of the report: which speed she makes
 * through the water, what she burns, what her tanks hold, and what each of her sensors makes of it.
 * Its own arithmetic, coarser than the drill's and with what the drill leaves out: a current that
 * turns, a meter that is off, a tank that squats, slow turns, drift, engines that are not alike,
 * noise that hangs together from one reading to the next. One step a second; the messages go
 * through the drill's packers into a keeper that a trial listens to.
 * Figures are invented; the ranges of voyage_random are common practice, no source. */
#ifndef STOKEHOLD_TESTS_REPORT_VOYAGE_H
#define STOKEHOLD_TESTS_REPORT_VOYAGE_H

#include "base/rng.h"
#include "report/trial/trial.h"

#include <stdbool.h>

#define VOYAGE_ENGINES 2
#define VOYAGE_LEGS    64

struct voyage_leg {
    double share[VOYAGE_ENGINES]; /* of rated speed; 0: idle, below 0: stopped */
    double course_deg, seconds;
    bool neutral;
};

struct voyage {
    uint64_t seed;
    int engines, tanks;
    /* boat */
    double rated_rpm, idle_rpm, full_kn;
    double hump;                /* 0 displacement .. 0.6: speed that comes late */
    double lift_at, lift_width; /* share of rated speed at which it comes, and how suddenly */
    double rated_lph;           /* each engine */
    double friction;            /* share of it that turns the engine itself over at rated speed */
    double thirst[VOYAGE_ENGINES]; /* burn over that of the first engine, 1: alike */
    double turn_deg_s;             /* how fast she turns */
    double capacity_l, level;      /* each tank, and how full at the start, 0 to 1 */
    double squat;                  /* share of the tank by which the reading moves at full speed */
    double squat_power;            /* it goes with this power of speed */
    /* water */
    double current_kn, set_deg;
    double turning_deg_h, rising_kn_h; /* how the current changes */
    double eddy_kn;                    /* irregular part, hangs together for ten minutes */
    double drift_kn;                   /* by the wind, in neutral */
    double sea_kn;                     /* waves: speed through the water, hangs together for 15 s */
    /* sensors */
    double meter[VOYAGE_ENGINES]; /* what they say over what is burnt; 1: exact */
    /* Flow back to the tank, L/h; 0: one meter an engine. Else two, on the instances 10 and 11 of
     * the first, 12 and 13 of the second: feed, of which `meter` is the share it reads, and return.
     */
    double return_lph;
    double log_gain;       /* of the speed log; 0: none aboard */
    double receiver_kn;    /* noise of each part of the velocity, hangs together for 40 s */
    double wander;         /* of engine speed, a share, hangs together for 20 s */
    double slosh;          /* share of the tank */
    double coolant_step_k; /* resolution */
    double exhaust_more_k[VOYAGE_ENGINES]; /* hotter than it should be */
    double coolant_off_k;                  /* the second engine's sensor reads so much high */
    bool warm_start;                       /* run an hour before */
    bool no_torque, no_load, no_gear, no_tanks;
    /* a sensor that says the same all day; NaN: works */
    double space_stuck_c;
    /* what falls silent for good, and when; 0: nothing */
    double position_stops_s, exhaust_stops_s;
    /* all boxes of the first engine go dark for good; with its key, 20 s after it stopped; 0: never
     */
    double port_dark_s;
    bool port_key;
    /* every so long the whole bus is silent for so long; 0: never */
    double hole_every_s, hole_s;
    int legs;
    struct voyage_leg leg[VOYAGE_LEGS];
};

/* What really happened. */
struct voyage_truth {
    double used_l[VOYAGE_ENGINES], tank_used_l[VOYAGE_ENGINES];
    double seconds;
};

/* A calm twin in still water with exact meters, without legs. */
void voyage_plain(struct voyage *v);
/* One more leg for both engines alike. */
void voyage_add(struct voyage *v, double share, double course_deg, double seconds);
/* Still, warm up, eight speeds on a course and its reciprocal, idle in neutral, still. */
void voyage_usual(struct voyage *v);
/* Any boat, any water, any sensors; the usual legs with speeds drawn. */
void voyage_random(struct voyage *v, uint64_t seed);

/* Sails it into the trial as one log. */
void voyage_sail(const struct voyage *v, const struct settings *settings, struct trial *t,
                 struct voyage_truth *truth);
/* The same into any taker of frames, in order of time. */
void voyage_frames(const struct voyage *v, void (*take)(void *ctx, const struct frame *f),
                   void *ctx, struct voyage_truth *truth);

/* When every voyage begins, wall time. */
#define VOYAGE_EPOCH_NS (INT64_C(1777903200) * 1000000000)
/* Out of gear, or the engines stopped, so many seconds into it. */
bool voyage_is_neutral(const struct voyage *v, double t_s);
/* Settled speed through the water with every engine at this speed, and their burn together. */
double voyage_speed_kn(const struct voyage *v, double rpm);
double voyage_burn_lph(const struct voyage *v, double rpm);
/* The speed at which a mile costs least, no end of the range being counted; NaN where none. */
double voyage_economical_kn(const struct voyage *v, double from_rpm, double to_rpm);

#endif
