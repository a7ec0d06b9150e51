/* What a settled exhaust may do by itself: how fast its level may climb, how far it may creep
 * within one speed, and what a change of speed may do beyond the prediction. */
#ifndef STOKEHOLD_COOLING_LEVEL_H
#define STOKEHOLD_COOLING_LEVEL_H

#include "cooling/exhaust_state.h"

/* Lets the level go after the residual, no faster than allowed. */
void level_follow(struct exhaust_watch *x, double residual, double dt, double since_start);
/* The level has leapt: what it may creep is counted from here. */
void level_anchor(struct exhaust_watch *x);
/* What the last changes of speed may have done that the prediction has not learned, K. */
double level_transient(const struct exhaust_watch *x);
/* What may happen between two samples that come seldom, K. */
double level_seldom(const struct exhaust_watch *x);
/* How far the level has crept up, K, with what it may, and what it is compared with. */
double level_creep(const struct exhaust_watch *x, enum cooling_kind *kind, double *allowance);
/* The same as it stands, by the kind that was raised, and what it may be and stand no longer. */
double level_crept(const struct exhaust_watch *x);
double level_may_stay(const struct exhaust_watch *x);
/* The twin where it runs evenly enough to be compared with, or NULL. */
const struct exhaust_watch *level_twin(const struct exhaust_watch *x);
/* Whether the twin or the sea has warmed by at least half as much: then it is the sea or the load,
 * not this engine's water. */
bool level_together(const struct exhaust_watch *x);

#endif
