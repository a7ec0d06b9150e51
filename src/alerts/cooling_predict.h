/* What a temperature would show if all were well: a linear model over lagged engine speed, whose
 * weights are learned as the trip goes on (recursive least squares in Kalman form). Its own
 * uncertainty opens the allowance: large on the first trip's first throttle-up, small for what was
 * seen before. It never sees what the engine is made of, only its speed and this temperature.
 *
 * Features: 1, and for each of PREDICT_LAGS time constants the lagged values of: running (0/1),
 * speed, speed squared (in units of SPEED_UNIT). */
#ifndef STOKEHOLD_ALERTS_COOLING_PREDICT_H
#define STOKEHOLD_ALERTS_COOLING_PREDICT_H

#include <stdbool.h>

#define PREDICT_LAGS   3
#define PREDICT_INPUTS 3
#define PREDICT_SIZE   (1 + PREDICT_LAGS * PREDICT_INPUTS)

struct predict {
    bool known; /* the offset has been set by a first sample */
    double feature[PREDICT_SIZE];
    double weight[PREDICT_SIZE];
    double cov[PREDICT_SIZE][PREDICT_SIZE];
    double input[PREDICT_INPUTS]; /* latest */
};

void predict_init(struct predict *p);
/* The engine ran like this for the last dt seconds. The first call settles the lags. */
void predict_advance(struct predict *p, double dt, bool running, double speed, double square);
double predict_value(const struct predict *p);
/* Standard deviation of predict_value, K, from what has not been seen yet. */
double predict_doubt(const struct predict *p);
/* How far the engine is from having settled: 0 steady, about 1 after full throttle. */
double predict_unrest(const struct predict *p);
/* Learns from a sample that stood dt seconds. */
void predict_learn(struct predict *p, double dt, double value, double sigma);

#endif
