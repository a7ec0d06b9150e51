/* Trends: one to four channels over a chosen span, each above the other or all in one picture, with
 * axes, limits, alerts, lowest and highest kept, gaps as gaps, and a cursor that reads values. */
#ifndef STOKEHOLD_SCREEN_TREND_H
#define STOKEHOLD_SCREEN_TREND_H

#include "screen/spark.h"
#include "screen/ui.h"

extern const int64_t trend_spans_ns[];
extern const int trend_span_count;

/* Bounds for an axis over [low, high] (and the limit where it is not far off), in the unit that the
 * user reads, as base unit values: round, growing only with the extremes. */
struct trend_axis {
    struct scale scale;
    double step;  /* between ticks, in the user's unit */
    int ticks;    /* steps from low to high */
    int decimals; /* that tell ticks apart */
};
struct trend_axis trend_axis(const struct model *m, const struct model_channel *c,
                             const struct model_channel *with);

void trend_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui);
bool trend_handle(struct ui *ui, const struct model *m, enum action a);

#endif
