/* Cooling-failure detection: exhaust, coolant, oil and engine-space temperatures together with
 * engine speed, load, start and stop, and the twin engine. This is the diagnosis behind the kinds
 * rise, departure and split; rules/rule_cooling.c turns its verdicts into claims with words.
 * Pure: no I/O, no clock, no channel or plant; numbers and times in, verdicts out, so that a bench
 * can feed it a million made-up trips. Theory and choices: docs/detection.md. */
#ifndef STOKEHOLD_COOLING_COOLING_H
#define STOKEHOLD_COOLING_COOLING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define COOLING_ENGINES 8
#define COOLING_SPACES  8

enum cooling_sensor {
    COOLING_EXHAUST,     /* wet, after the elbow, °C */
    COOLING_EXHAUST_GAS, /* dry gas, °C */
    COOLING_COOLANT,     /* °C */
    COOLING_OIL_TEMP,    /* °C */
    COOLING_RPM,         /* 1/min */
    COOLING_LOAD,        /* % */
    COOLING_TORQUE,      /* %; this and the next two stand in for a load that nobody tells */
    COOLING_FUEL_RATE,   /* L/h; any unit, for the scale is learned */
    COOLING_BOOST,       /* Pa; the same */
    COOLING_SPACE,       /* engine-space air, °C; `engine` is the space's instance */
    COOLING_SEA,         /* °C; engine ignored */
    COOLING_SENSORS
};

enum cooling_cause {
    CAUSE_NONE,
    CAUSE_RAW_WATER,      /* exhaust up, this engine alone */
    CAUSE_SEACOCK,        /* hot from the moment of start */
    CAUSE_CIRCULATION,    /* coolant up alone: pump, belt, thermostat */
    CAUSE_COOLANT,        /* coolant up, and no exhaust tells whether raw water is lost */
    CAUSE_COOLANT_LOST,   /* oil up while the coolant's sender cools: it hangs in air */
    CAUSE_OIL,            /* oil up alone: level, cooler */
    CAUSE_SEA_OR_LOAD,    /* both exhausts up together */
    CAUSE_FIRE,           /* engine space at heat-detector rates */
    CAUSE_DRY_OR_WET,     /* no cooling water, or a probe in dry gas? */
    CAUSE_COMES_AND_GOES, /* air drawn in again and again, a loose probe */
    CAUSE_COUNT
};

/* A claim of the first three kinds is about the value now, which stands above what is expected and
 * allowed for. COOLING_AGAIN is about what has happened lately: `times`, `every_s`. COOLING_ASKS is
 * a question that stands until it is answered. */
enum cooling_kind { COOLING_RISE, COOLING_DEPARTURE, COOLING_SPLIT, COOLING_AGAIN, COOLING_ASKS };

/* One opinion per sensor of an engine. level 0: nothing. */
struct cooling_verdict {
    int level; /* 0 none, 1 caution, 2 warning, 3 alarm */
    enum cooling_kind kind;
    enum cooling_cause cause;
    bool careful;            /* decided without engine speed: less sensitive */
    double value;            /* latest good, °C */
    double rate_per_min;     /* K/min, smoothed */
    double seconds_to_limit; /* to limit_c at this rate; NaN where not rising */
    double limit_c;
    int times;                                               /* COOLING_AGAIN: so often, */
    double every_s;                                          /* so far apart */
    double expected, allowance, noise, statistic, threshold; /* what decided */
};

struct cooling;
struct figures;
struct cooling *cooling_new(void); /* NULL when out of memory */
/* With other figures than those shipped (figures.h), which it copies. */
struct cooling *cooling_new_with(const struct figures *figures);
void cooling_free(struct cooling *c); /* NULL is allowed */
/* The fixed limit a channel has, for the time to it; default 93.3 °C (exhaust), 100 (coolant), 130
 * (oil).
 */
void cooling_set_limit(struct cooling *c, int engine, enum cooling_sensor s, double limit_c);

/* What an earlier trip found normal at an even engine speed (exhaust, dry gas, coolant; others are
 * passed over), to within spread_k. Call before the first reading. */
void cooling_normal(struct cooling *c, int engine, enum cooling_sensor s, double rpm,
                    double value_c, double spread_k);

/* A reading. good is false for not-available, error or an implausible sample: it is remembered as
 * missing, never as a temperature. */
void cooling_reading(struct cooling *c, int64_t t_ns, int engine, enum cooling_sensor s, bool good,
                     double value);
/* The engine's state as the plant sees it, whenever it changes. */
void cooling_engine(struct cooling *c, int64_t t_ns, int engine, bool running);
/* It is a generator: of constant speed, its load changes without its speed. */
void cooling_generator(struct cooling *c, int engine, bool generator);
/* Which engine drives the boat beside it, -1: none. Until this is told they are 0 and 1. */
void cooling_twin(struct cooling *c, int engine, int twin);
/* Its wet exhaust is said to be wet: it is never asked whether its probe stands in dry gas. */
void cooling_called_wet(struct cooling *c, int engine, bool wet);

/* How sensitive the watch of an engine's exhaust is now. */
struct cooling_sense {
    bool exhaust, speed, sea, twin;
    enum cooling_sensor load; /* what tells its load; COOLING_SENSORS: nothing does */
    bool generator;           /* its load changes without its speed, and nothing tells it */
    double period_s;          /* of the exhaust; NaN: none */
    double delay_s;           /* expected from lost water to the warning; NaN: cannot be told */
    bool blind; /* no exhaust, no speed, or so seldom that lost water is told by the limit first */
};
struct cooling_sense cooling_sense(const struct cooling *c, int engine);
/* The same in words, for one line: "lost water told in 12 s: exhaust every 1 s, speed, no load,
 * twin, no sea". A period is told in half seconds, so that the words stand still. load: what tells
 * the load, in a word, "" where nothing does. COOLING_SENSE_SIZE holds all; returns dst. */
#define COOLING_SENSE_SIZE 112
const char *cooling_sense_words(char *dst, size_t cap, const struct cooling_sense *s,
                                const char *load, bool running);
/* What tells the load, in a word; "" where nothing does. */
const char *cooling_load_text(enum cooling_sensor s);

/* Time goes on without readings; a hole in the record that ends now. */
void cooling_tick(struct cooling *c, int64_t t_ns);
void cooling_gap(struct cooling *c, int64_t t_ns);

/* The verdict on one sensor as of the last call. Never NULL. */
const struct cooling_verdict *cooling_verdict(const struct cooling *c, int engine,
                                              enum cooling_sensor s);
/* Counts up whenever any verdict changed its level, kind or cause: cheap to poll. */
uint32_t cooling_version(const struct cooling *c);

#endif
