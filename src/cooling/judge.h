/* The verdict on an exhaust: quiet, raised, released. */
#ifndef STOKEHOLD_COOLING_JUDGE_H
#define STOKEHOLD_COOLING_JUDGE_H

#include "cooling/exhaust_state.h"

/* A sample y that stands `residual` over the prediction, dt after the last one, with so much
 * allowed for over the level. Where a verdict of the present stands after it, the value stands
 * above expected and allowance as they are shown. */
void judge_exhaust(struct exhaust_watch *x, double y, double residual, double allowance, double dt);
/* K that a sample which stands `residual` over the prediction stands above where it ran before the
 * last stop; 0: it has not been seen to run. */
double judge_soak(const struct exhaust_watch *x, double residual);

#endif
