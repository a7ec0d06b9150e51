/* What the files of the sea trial share: the one-second series of the log being read. */
#ifndef STOKEHOLD_REPORT_TRIAL_INSIDE_H
#define STOKEHOLD_REPORT_TRIAL_INSIDE_H

#include "report/trial/trial.h"

#define TRIAL_SERIES 160
#define TRIAL_STARTS 32

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
    double first, lowest, highest;
    double capacity_l;
};

struct trial_start {
    int engine;
    int64_t second;
};

/* Sums of squares of tank litres (y) against metered litres (x), about their means. */
struct trial_slope {
    double xx, xy, yy, freedom;
};

struct trial {
    const struct settings *settings;
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
    size_t wall_len, wall_cap;
    struct trial_start start[TRIAL_STARTS];
    int starts;
    struct trial_slope slope[TRIAL_TANKS + 1]; /* by tank; the last: all of them */
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
/* What a channel did in seconds [from, to). n is 0 where nothing was heard. */
struct trial_stat trial_stat_of(const struct trial *t, enum quantity q, int place, size_t from,
                                size_t to);

/* Where there are too many, the last ones are left out. */
void trial_add_finding(struct trial_report *r, const char *kind, const char *channel, double value,
                       double error, const char *text);

/* steps.c: steady steps of the log that has just ended. */
void trial_steps_find(struct trial *t);
/* fuel.c: meters, counters, tanks; adds this log to the report. */
void trial_fuel_add(struct trial *t);
void trial_fuel_finish(struct trial *t);
/* senders.c: whose probe is whose, senders that hang. */
void trial_senders_add(struct trial *t);
void trial_senders_finish(struct trial *t);
/* points.c */
void trial_points_make(struct trial *t);
/* checks.c */
void trial_checks_make(struct trial *t);

#endif
