/* What the cooling watch remembers: private to the cooling files. Temperatures in °C, time in
 * seconds since the watch began unless a name says _ns, rates in K/s. */
#ifndef STOKEHOLD_COOLING_STATE_H
#define STOKEHOLD_COOLING_STATE_H

#include "cooling/cooling.h"
#include "cooling/answer.h"
#include "cooling/predict.h"
#include "cooling/trace.h"
#include "cooling/cusum.h"

#define WATCH_RING       ANSWER_MOST
#define COOLING_RUN_UP_S 6.0 /* from the start until the speed is that of idling */

/* One temperature under watch. */
struct watch {
    struct trace trace;
    struct predict predict;
    struct cusum cusum;
    double rpm_sum, rpm_square_sum, rpm_time; /* the engine's integrals at the last sample */
    double load_sum, load_time;
    struct usual usual; /* the speeds that level was followed at */
    double level;       /* what the prediction misses lately, followed no faster than allowed */
    double cold_budget; /* K of fast climb left to a thermostat that opens */
    bool level_known;
    double shifted;     /* K that learning moved from level into the prediction, in all */
    double sea_low;     /* the sea's level when low was set */
    double low, long_s; /* lowest level at this speed, with a leak; for how long */
    double apart, apart_low, apart_s; /* the same for the distance to the twin */
    double doubt, unlearned_s;        /* of the prediction, K; time since it was last asked */
    double smooth, slower; /* the temperature followed by two lags: their distance is a slope */
    double ring_s[WATCH_RING], ring_k[WATCH_RING]; /* residuals, newest at ring_head - 1 */
    double ring_above[WATCH_RING];                 /* the same above the level of that time */
    unsigned ring_head, ring_count;
    double rate, climbed; /* of the level, K/s: now, and the most of the last minute */
    double quiet_k;       /* the residual then */
    double steep_s;       /* when a heat from the start last climbed */
    double over_s;        /* so long it has stood far over its limit */
    double turned_s;      /* when a climb last turned back */
    double quiet_s;       /* when the residual was last within its allowance */
    double top_slope;     /* steepest since then, K/s */
    double top;           /* highest since then, K */
    double gulp_k;        /* highest excursion that went away by itself, K */
    double predicted;     /* at the last sample */
    bool was_warm;
    int hot_run;         /* engine space: samples in a row above its static limit */
    bool slow;           /* raised by the slow test */
    double peak;         /* largest residual since the verdict stands */
    double raised_s;     /* since when the verdict stands */
    double calm_s;       /* since when the residual is small again; NaN: it is not */
    double high;         /* highest of this run's plateau, fading */
    double calm_since_s; /* coolant, oil: when it last did not climb */
    bool settled;        /* the prediction's lags hold this run's speed */
    double found_s;      /* since when it is watched without a known past */
    double unit;         /* K in one unit of what is watched: 1, more for dry gas */
    double limit_c;
    struct cooling_verdict verdict;
};

struct engine_watch {
    bool running, known;
    bool started_here; /* the start was seen, not found running */
    bool has_coolant;
    double opening_s; /* when the coolant last rose as while a thermostat opens */
    double coolant_s; /* time of the latest coolant reading that says anything */
    double since_s;   /* since when it runs or stands */
    double rpm;       /* last good */
    double rpm_s;     /* time of it; NaN: never */
    double load;      /* 0..1, last good */
    double load_s;    /* time of it; NaN: never */
    double rpm_sum, rpm_square_sum, rpm_time; /* integrals over time since the watch began */
    double load_sum, load_time;
    struct watch sensor[COOLING_SENSORS]; /* EXHAUST, EXHAUST_GAS, COOLANT, OIL_TEMP in use */
};

struct cooling {
    bool begun;
    int64_t origin_ns;
    double now_s;
    uint32_t version;
    struct engine_watch engine[COOLING_ENGINES];
    struct watch space[COOLING_SPACES];
    struct trace sea;
    struct answers answers;
    double sea_level, sea_rate,
        sea_climbed; /* followed; K/s now, and the most of the last minute */
};

extern const struct predict_tuning cooling_exhaust_tuning, cooling_coolant_tuning,
    cooling_oil_tuning;
/* Advances the prediction of one of this engine's temperatures to now. */
void cooling_advance(const struct cooling *c, struct engine_watch *e, struct watch *w, double dt);

/* Whether the sea's temperature is on the bus, and good. */
bool cooling_sea_known(const struct cooling *c);
/* What exhaust may do by itself (cooling_level.c). cooling_follow lets the level go after the
 * residual, no faster than allowed; cooling_transient is what the last changes of speed may have
 * done beyond the prediction, K; cooling_creep is how far the level has crept up, with what it
 * may; cooling_twin is the twin's watch where it can be compared with, or NULL. */
void cooling_follow(const struct cooling *c, int engine, struct watch *w, double residual,
                    double dt, double since_start);
double cooling_transient(const struct cooling *c, int engine, const struct watch *w);
double cooling_creep(const struct cooling *c, int engine, const struct watch *w,
                     enum cooling_kind *kind, double *allowance);
const struct watch *cooling_twin(const struct cooling *c, int engine);
/* Whether the twin or the sea has warmed by at least half as much: then it is the sea or the load,
 * not this engine's water. */
bool cooling_together(const struct cooling *c, int engine, const struct watch *w);

/* Air in the intake (cooling_gulp.c): residuals are remembered sample by sample; a quiet one ends
 * an excursion, and what it reached is learned. */
void cooling_remember(struct watch *w, double t, double residual);
void cooling_quiet(struct watch *w, double t, double residual);
/* A sample above its allowance: the climb goes on, or has turned back and another may begin. */
void cooling_turn_back(const struct cooling *c, struct watch *w, double above);
bool cooling_gulp_is_over(const struct cooling *c, int engine, struct watch *w, double above,
                          double allowance, bool starting);

/* The level whatever has been learned. */
double cooling_level(const struct watch *w);
/* Learns from a sample; what is expected right now stays the same. */
void cooling_learn(struct watch *w, double dt, double y);

/* Each file takes one kind of reading; t is in seconds. */
void cooling_exhaust_reading(struct cooling *c, int engine, struct watch *w, double t, double y);
void cooling_plateau_reading(struct cooling *c, int engine, enum cooling_sensor s, double t,
                             double y); /* coolant and oil */
void cooling_space_reading(struct cooling *c, struct watch *w, double t, double y);

/* Sets the figures of a verdict that do not depend on who decides. */
void cooling_show(struct watch *w, double expected, double allowance, double statistic,
                  double threshold);
/* Changes level, kind and cause, and counts the version up where one of them changed. */
void cooling_decide(struct cooling *c, struct watch *w, int level, enum cooling_kind kind,
                    enum cooling_cause cause);
/* Whether this engine's speed is on the bus. */
bool cooling_has_rpm(const struct cooling *c, const struct engine_watch *e);

#endif
