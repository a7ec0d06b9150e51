/* What comes and goes by itself, again and again: air drawn into the intake, a probe that slips out
 * of its place and back. One situation over time, not a string of alerts. */
#ifndef STOKEHOLD_COOLING_AGAIN_H
#define STOKEHOLD_COOLING_AGAIN_H

#include "cooling/exhaust_state.h"

void again_init(struct again *a);
/* A sample that stands so far above what is allowed for; quiet: within it. transient: what of the
 * allowance changes of speed have. */
void again_follow(struct exhaust_watch *x, double above, double residual, double dt,
                  double transient);
/* Whether the level waits for a probe that has left its place. */
bool again_waits(const struct exhaust_watch *x);
/* To which level the residual may come back without being heat; -infinity: none. */
double again_back_to(const struct exhaust_watch *x);
/* Whether what begins now is one situation with what came before; whether it is over; whether the
 * one that is under way goes on for longer than those did. */
bool again_is(const struct exhaust_watch *x);
bool again_is_over(const struct exhaust_watch *x);
bool again_stays(const struct exhaust_watch *x, double above);
/* Whether a probe has left its place so often that it is to be said. */
bool again_is_loose(const struct exhaust_watch *x);
/* Whether it was the probe rather than the water, most times. */
bool again_is_probe(const struct exhaust_watch *x);
double again_every_s(const struct exhaust_watch *x);

#endif
