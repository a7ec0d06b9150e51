/* The watch of one exhaust, as a whole: what is told of it, sample by sample. */
#ifndef STOKEHOLD_COOLING_EXHAUST_H
#define STOKEHOLD_COOLING_EXHAUST_H

#include "cooling/exhaust_state.h"

/* engine and boat outlive it. unit: K in one unit of what is watched. */
void exhaust_init(struct exhaust_watch *x, struct boat *b, const struct engine_run *e,
                  double limit_c, double unit);
/* The engine of the same shaft line's other side. */
void exhaust_pair(struct exhaust_watch *x, const struct engine_run *e,
                  const struct exhaust_watch *twin);
/* What an earlier trip found normal at an even speed, to within spread_k. */
void exhaust_recall(struct exhaust_watch *x, double rpm, double value_c, double spread_k);
void exhaust_reading(struct exhaust_watch *x, double t, double value_c);
/* The engine has started or stopped; a hole in the record ends at t. */
void exhaust_engine(struct exhaust_watch *x);
void exhaust_gap(struct exhaust_watch *x, double t);

#endif
