/* What a temperature would show if all were well: a linear model over lagged engine speed and load,
 * whose weights are learned as the trip goes on (recursive least squares in Kalman form). Its own
 * uncertainty opens the allowance: large on the first trip's first throttle-up, small for what was
 * seen before. It never sees what the engine is made of, only its speed, its load and this
 * temperature.
 *
 * Features: 1; for each of PREDICT_LAGS time constants the lagged values of speed and of speed
 * squared (in units that bring them near 1); then, from the first time that load is told, the
 * lagged values of load (0..1). Without load the last PREDICT_LAGS are not there, and cost nothing.
 */
#ifndef STOKEHOLD_COOLING_PREDICT_H
#define STOKEHOLD_COOLING_PREDICT_H

#include "cooling/figures.h"

#include <stdbool.h>

#define PREDICT_LAGS   3
#define PREDICT_INPUTS 2
#define PREDICT_SPEEDS (1 + PREDICT_LAGS * PREDICT_INPUTS) /* features without load */
#define PREDICT_SIZE   (PREDICT_SPEEDS + PREDICT_LAGS)

struct predict {
    const struct figures *figures;
    const struct predict_figures *own; /* of this kind of sensor, before anything is learned */
    double lag_s[PREDICT_LAGS];
    bool known; /* the offset has been set by a first sample */
    int size;   /* of the features in use: PREDICT_SPEEDS, or PREDICT_SIZE where load is told */
    double feature[PREDICT_SIZE];
    double weight[PREDICT_SIZE];
    double cov[PREDICT_SIZE][PREDICT_SIZE];
    double input[PREDICT_INPUTS]; /* latest */
    /* How far each lag goes to where it is going in a stretch of share_dt, the last that was asked
     * for; 0: none yet. */
    double share_dt, share[PREDICT_LAGS];
};

/* The figures outlive it. */
void predict_init(struct predict *p, const struct figures *figures,
                  const struct predict_figures *own);
/* The engine ran like this for the last dt seconds. The first call settles the lags. */
void predict_advance(struct predict *p, double dt, double speed, double square);
/* The engine has just started, or was found running: as if it had long run like this. */
void predict_settle(struct predict *p, double speed, double square);
/* The load of those dt seconds, 0..1, beside predict_advance. The first call settles the lags, and
 * so does an infinite dt. */
void predict_load(struct predict *p, double dt, double load);
/* Load is told by something else from now on; or its unit is so many times as large. What is
 * predicted now stays the same in the second case. */
void predict_forget_load(struct predict *p);
void predict_rescale_load(struct predict *p, double times);
double predict_value(const struct predict *p);
/* What was usual over some time: the features a level was last followed at. */
struct usual {
    bool known;
    int size; /* of its features; load that came later is as usual */
    double feature[PREDICT_SIZE];
};
void predict_follow(const struct predict *p, struct usual *u, double dt, double seconds);
/* Standard deviation, K, of the difference the prediction makes between now and the usual:
 * nothing once the engine has long run evenly. */
double predict_doubt(const struct predict *p, const struct usual *u);
/* That difference itself, K. */
double predict_change(const struct predict *p, const struct usual *u);
/* How far the engine is from having settled: 0 steady, near 1 after full throttle. */
double predict_unrest(const struct predict *p, const struct usual *u);
double predict_unrest_down(const struct predict *p, const struct usual *u); /* asked for less */
/* The slow part of it: how far the slowest lag still is from where it goes; and of that what may
 * still warm, the engine having been asked for more. */
double predict_slow_unrest(const struct predict *p);
double predict_slow_up(const struct predict *p);
/* As predict_unrest, counting only what may warm: the engine was asked for more. */
double predict_unrest_up(const struct predict *p, const struct usual *u);
/* A figure of an earlier trip: what settles at an even speed, known to within sd. Before the first
 * sample. The offset is left to the first sample: the water was another. */
void predict_recall(struct predict *p, double speed, double square, double value, double sd);
/* Learns from a sample that stood dt seconds. */
void predict_learn(struct predict *p, double dt, double value, double sigma);

#endif
