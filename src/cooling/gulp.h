/* Air drawn into an intake takes the water away for 2 to 5 s, and looks like its loss until the
 * water is back. What is told here: whether any gulp, any start or any change of speed explains a
 * climb. */
#ifndef STOKEHOLD_COOLING_GULP_H
#define STOKEHOLD_COOLING_GULP_H

#include "cooling/exhaust_state.h"

/* Keeps the residual of this sample. */
void gulp_remember(struct exhaust_watch *x, double t, double residual);
/* A quiet sample: an excursion that went back by itself is over, and the next of its kind must be
 * larger to count. */
void gulp_quiet(struct exhaust_watch *x, double t, double residual);
/* A sample above its allowance: the climb goes on, or has turned back and another may begin. */
void gulp_turn_back(struct exhaust_watch *x, double above);
/* The steepest slope of the climb. */
void gulp_steepen(struct exhaust_watch *x, double above);
/* Whether the climb can be neither a gulp nor a start: what no gulp explains, or goes on climbing
 * long after, or stays. What gulps did before on this trip must be exceeded. */
bool gulp_is_none(const struct exhaust_watch *x, double above, double allowance, bool starting);

#endif
