/* What a temperature would show if all were well: the prediction, fed with the engine's speed and
 * load, and a level that follows what the prediction misses lately, by rules of its own for exhaust
 * and for coolant and oil. */
#ifndef STOKEHOLD_COOLING_FORECAST_H
#define STOKEHOLD_COOLING_FORECAST_H

#include "cooling/engine.h"
#include "cooling/predict.h"

struct forecast {
    struct predict predict;
    struct usual usual; /* the speeds that level was followed at */
    double level;       /* what the prediction misses lately, followed no faster than allowed */
    bool level_known;
    double shifted;              /* K that learning moved from level into the prediction, in all */
    struct held_value rpm, load; /* the engine's integrals at the last sample */
    int stand_in;                /* whose load was predicted with, and in units of what */
    double most;
    bool settled; /* the prediction's lags hold this run's speed */
};

void forecast_init(struct forecast *f, const struct figures *figures,
                   const struct predict_figures *own);
/* Goes on by dt seconds, to now. */
void forecast_advance(struct forecast *f, const struct engine_run *e, double dt);
/* Learns from a sample; what is expected right now stays the same. */
void forecast_learn(struct forecast *f, double dt, double value, double sigma);
/* The level whatever has been learned. */
double forecast_level(const struct forecast *f);

#endif
