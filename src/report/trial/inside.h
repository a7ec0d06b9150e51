/* What the files of the sea trial share: the one-second series of the log being read. */
#ifndef STOKEHOLD_REPORT_TRIAL_INSIDE_H
#define STOKEHOLD_REPORT_TRIAL_INSIDE_H

#include "report/trial/trial.h"

#define TRIAL_SERIES 160
#define TRIAL_STARTS 32
#define COLD_ALIKE_K                                                                               \
    4.0 /* how far temperatures of a cold boat may differ: common practice, no                     \
           source */

/* Places of the made-up quantity QTY_NONE: velocity over the ground. */
enum { TRIAL_NORTH = 0, TRIAL_EAST = 1 };

/* One channel, a mean a second; NaN where nothing was heard. */
struct trial_series {
    struct channel_id id;
    float *mean, *low; /* low: batteries only */
    size_t len, cap;
    double sum, least;
    uint32_t count;
    int64_t second; /* the one being gathered; -1 none */
    /* of all good readings */
    uint64_t readings;
    double first, last, lowest, highest;
    double step; /* smallest change between two readings; 0: none */
    double capacity_l;
};

struct trial_start {
    int engine;
    int64_t second;
};

/* What went out of one tank, or all of them, against what was metered meanwhile. */
struct trial_drawn {
    double tank_l, metered_l; /* between the levels compared */
    double variance_l2;       /* of tank_l */
    int logs;                 /* that told of both */
    bool moving;              /* in one of them no level was read at rest */
};

/* Level against litres metered and the square of speed (squat), minute by minute: sums about the
 * means of each log. x litres metered, s squat, y litres in the tank. */
struct trial_slope {
    double xx, xs, ss, xy, sy, yy;
    double n, logs;
    double products, squares; /* of what is left, each with the next: how it hangs together */
};

struct trial {
    struct steady_options options;
    struct trial_report report;
    bool failed; /* out of memory */
    /* the log being read */
    struct keeper *keeper;
    struct steady *steady;
    size_t taken;   /* seconds that belong to a step already */
    int64_t base_s; /* mono second of index 0; -1 before the first reading */
    struct trial_series series[TRIAL_SERIES];
    int series_count;
    int64_t *wall_ns; /* by second */
    bool *any;        /* something was heard in that second */
    size_t wall_len, wall_cap;
    struct stamp heard; /* the latest message of any sort; mono 0: none yet */
    struct trial_start start[TRIAL_STARTS];
    int starts;
    struct trial_drawn drawn[TRIAL_TANKS + 1]; /* by tank; the last: all of them */
    struct trial_slope slope[TRIAL_TANKS + 1];
    /* sums over the logs, for whose probe is whose (pairs of engines 0 and 1) */
    double pair_n, pair_x, pair_y, pair_xx, pair_xy, pair_yy;
    int pair_apart; /* blocks in which the two worked differently */
};

/* series.c: the channel's series, made where it is new; NULL where there is no room. */
struct trial_series *trial_series_of(struct trial *t, struct channel_id id);
void trial_series_add(struct trial *t, struct trial_series *s, int64_t second, double value);
/* Writes the second that is over. */
void trial_series_close(struct trial *t, struct trial_series *s);
/* Forgets all of them. */
void trial_series_free(struct trial *t);
/* NULL where the channel was not heard. */
const struct trial_series *trial_series_find(const struct trial *t, enum quantity q, int place);
/* What a channel did in seconds [from, to), without its error. n is 0 where nothing was heard. */
struct trial_stat trial_stat_of(const struct trial *t, enum quantity q, int place, size_t from,
                                size_t to);

/* Where there are too many, the last ones are left out. */
void trial_add_finding(struct trial_report *r, const char *kind, const char *channel, double value,
                       double error, const char *text);

/* boxes.c: what a box says of itself. */
void trial_boxes_take(struct trial *t, const struct message *m);
/* steps.c: steady steps of the log that has just ended. */
void trial_steps_find(struct trial *t);
/* fuel.c: meters, counters, tanks; adds this log to the report. */
void trial_fuel_add(struct trial *t);
void trial_fuel_finish(struct trial *t);
/* senders.c: whose probe is whose, senders that hang. */
void trial_senders_add(struct trial *t);
void trial_senders_finish(struct trial *t);
/* errors.c: standard errors of all means, from how much readings hang together. */
void trial_errors_make(struct trial_report *r);
/* How many times larger the variance of a mean of n is than with independent ones, the correlation
 * falling as r^k: the sum over lags. */
double trial_growth(double r, double n);
/* The same for one that has no others beside it. */
void trial_error_alone(struct trial_stat *s);
/* current.c: a pair of runs is a mean of the current (kn) at a time, known so well. */
struct trial_pair {
    int64_t at_ns;
    double north, east, error;
};
void trial_current_fit(struct trial_current *c, const struct trial_pair *pair, int n);
/* The current at a time and its standard error, each part; false where none is known. */
bool trial_current_at(const struct trial_current *c, int64_t at_ns, double *north, double *east,
                      double *error);
/* points.c */
void trial_points_make(struct trial *t);
/* Standard error of an engine's burn that all points share: its meter's own, L/h. */
double trial_meter_share(const struct trial_report *r, int e, const struct trial_engine *m);
/* checks.c */
void trial_checks_make(struct trial *t);

#endif
