/* What the cooling watch remembers: private to the cooling files. Temperatures in °C, time in
 * seconds since the watch began unless a name says _ns, rates in K/s. */
#ifndef STOKEHOLD_ALERTS_COOLING_STATE_H
#define STOKEHOLD_ALERTS_COOLING_STATE_H

#include "alerts/cooling.h"
#include "alerts/cooling_predict.h"
#include "alerts/cooling_trace.h"
#include "alerts/cusum.h"

/* One temperature under watch. */
struct watch {
    struct trace trace;
    struct predict predict;
    struct cusum cusum;
    double level; /* what the prediction misses lately, followed no faster than allowed */
    bool level_known;
    double excess;   /* smoothed residual above level and allowance */
    double peak;     /* largest residual since the verdict stands */
    double raised_s; /* since when the verdict stands */
    double calm_s;   /* since when the residual is small again; NaN: it is not */
    double start_c;  /* temperature when the engine started; NaN: not seen */
    double limit_c;
    struct cooling_verdict verdict;
};

struct engine_watch {
    bool running, known;
    double since_s;                           /* since when it runs or stands */
    double rpm;                               /* last good */
    double rpm_s;                             /* time of it; NaN: never */
    double rpm_sum, rpm_square_sum, rpm_time; /* integrals since the last look */
    double load;
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
    double sea_slow; /* what the sea was some minutes ago */
};

/* Each file takes one kind of reading; t is in seconds. */
void cooling_exhaust_reading(struct cooling *c, int engine, struct watch *w, double t, double y);
void cooling_coolant_reading(struct cooling *c, int engine, struct watch *w, double t, double y);
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
