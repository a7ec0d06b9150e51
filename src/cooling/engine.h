/* What is told of one engine, beside its temperatures: whether it runs, its speed and load, and
 * what its coolant says of the thermostat. Times in seconds since the watch began. */
#ifndef STOKEHOLD_COOLING_ENGINE_H
#define STOKEHOLD_COOLING_ENGINE_H

#include "cooling/boat.h"

/* A value that stands until the next one, and its integrals since the watch began. */
struct held_value {
    double last, last_s; /* last good, and its time; NaN: never */
    double sum, square_sum, time_s;
};

/* What tells the load, the better first. */
enum load_from { FROM_LOAD, FROM_TORQUE, FROM_FUEL, FROM_BOOST, FROM_NOTHING };

struct engine_run {
    const struct boat *boat;
    bool running, known;
    bool generator;              /* of constant speed, whatever its load: it is said to be one, */
    bool varies;                 /* or its speed has not varied since it was started: */
    double base_rpm;             /* that speed; 0: none yet */
    double idled_s;              /* so long it ran slower than any generator */
    double off_s;                /* so long it has been away from base_rpm */
    double near_rpm, high_rpm;   /* smoothed, and its highest lately, which fades */
    double even_rpm, even_s;     /* about this speed, since then */
    bool started_here;           /* the start was seen, not found running */
    double since_s;              /* since when it runs or stands */
    struct held_value rpm, load; /* load: 0..1, or a stand-in over the most of it that was seen */
    int stand_in;                /* of enum load_from: what tells the load */
    double most;                 /* of the stand-in so far, in its unit */
    bool has_coolant;            /* a reading of coolant was seen */
    double coolant_s;            /* time of the latest that says anything */
    bool hot;         /* the coolant is called hot, or has never been seen on its plateau */
    double opening_s; /* when the coolant last rose as while a thermostat opens, */
    double opens_s;   /* and when so above all it has stood at since the start: the first time */
    double rest_c;    /* the warmest it has stood at since then; -infinity: it has not yet */
};

void engine_init(struct engine_run *e, const struct boat *b); /* which outlives it */
/* It runs, or it stands. False: that was known. */
bool engine_state(struct engine_run *e, double t, bool running);
void engine_rpm(struct engine_run *e, double t, bool good, double rpm);
void engine_load(struct engine_run *e, enum load_from from, double t, bool good, double value);
/* A reading of coolant and its slope, K/s. */
void engine_coolant(struct engine_run *e, double t, double value_c, double rate);
/* Whether its speed is on the bus, or its load. */
bool engine_has_rpm(const struct engine_run *e);
bool engine_has_load(const struct engine_run *e);
/* Whether its load changes with nothing on the bus to tell: a generator without load. */
bool engine_is_blind(const struct engine_run *e);
/* Whether it is blind at anchor: alternator and pumps are all its load. */
bool engine_idles_blind(const struct engine_run *e);
/* Whether its speed has fallen lately: a governor with droop takes load so. */
bool engine_sags(const struct engine_run *e);
/* Whether its coolant is seen, and as it should be. */
bool engine_is_cool(const struct engine_run *e);
/* Seconds since a start that was seen; infinite where none was. */
double engine_since_start(const struct engine_run *e, double t);

#endif
