/* One sensor's samples: which are to be believed, how noisy they are and how coarse, how fast they
 * climb. Knows nothing of engines. The noise comes from second differences, in which a smooth
 * climb cancels, and their median, which wild samples do not move. */
#ifndef STOKEHOLD_COOLING_TRACE_H
#define STOKEHOLD_COOLING_TRACE_H

#include "cooling/figures.h"

#include <stdbool.h>

#define TRACE_RING  16
#define TRACE_DIFFS 32

struct trace {
    const struct figures *figures;
    unsigned count;          /* good samples since the start or the last gap */
    double time[TRACE_RING]; /* s; newest at (head - 1) */
    double value[TRACE_RING];
    unsigned head;
    double diff[TRACE_DIFFS]; /* |second differences| */
    unsigned diffs;
    double step;       /* smallest change ever seen, K; 0: none yet */
    double sigma;      /* noise of one sample, K */
    double period;     /* s, smoothed */
    int same;          /* times in a row the value came again */
    double same_share; /* of samples that repeat the one before */
    int wild;          /* in a row, kept aside */
    bool has_leapt;    /* it has sent wild samples before */
    double wild_s;     /* time of the newest sample, wild or not */
};

void trace_init(struct trace *t, const struct figures *figures); /* which outlive it */
/* Takes a sample. OLD: time did not go on, it is not used. WILD: it leaps from what came before
 * further than temperatures do, and is kept aside; the fourth in a row is believed. */
enum trace_taken { TRACE_OLD, TRACE_WILD, TRACE_GOOD };
enum trace_taken trace_add(struct trace *t, double time_s, double value);
/* What was before says nothing of the slope any more; noise and step stay. */
void trace_gap(struct trace *t);
/* Median of the last three; NaN before the first. */
double trace_value(const struct trace *t);
/* Median of the last n, or of as many as there are; n at most TRACE_RING. NaN before the first. */
double trace_middle(const struct trace *t, unsigned n);
double trace_last(const struct trace *t);
double trace_last_time(const struct trace *t); /* NaN before the first */
/* Seconds between its samples: the least of the last three intervals where that is longer than what
 * `period` learns, which takes long ones for holes. */
double trace_spacing(const struct trace *t);
/* The same value again and again from a sensor that does not do so. */
bool trace_is_stuck(const struct trace *t);
/* Slope in K/s, by medians over about this long; 0 where too little is known. */
double trace_rate(const struct trace *t, double seconds);

#endif
