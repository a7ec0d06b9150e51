/* How an exhaust sensor answers to water that goes away, and whether it came back: shapes of many
 * lags in series, fitted to the last samples by least squares. None of a boat's own figures is
 * known or needed: the shapes span what drains, walls and probes may be. Theory: docs/detection.md.
 */
#ifndef STOKEHOLD_COOLING_ANSWER_H
#define STOKEHOLD_COOLING_ANSWER_H

#include "cooling/figures.h"

#define ANSWER_PROBES 4
#define ANSWER_WALLS  3
#define ANSWER_SHAPES (ANSWER_PROBES * ANSWER_WALLS)
#define ANSWER_STEPS  128
#define ANSWER_STEP_S 0.25
#define ANSWER_MOST   24 /* samples that can be fitted at once */

/* Share of its way that each shape has gone, every ANSWER_STEP_S after the water went. */
struct answers {
    const struct figures *figures;
    float share[ANSWER_SHAPES][ANSWER_STEPS];
};

void answers_init(struct answers *a, const struct figures *figures); /* which outlive it */

/* How much better water that stays away explains the samples than a gulp of air of at most 5 s
 * does: the difference of what the best fit of each leaves over, K^2; never negative. age_s is each
 * sample's age, x its height above what was expected, n at most ANSWER_MOST. */
double lost_water_fits(const struct answers *a, const double *age_s, const double *x, int n);

#endif
