/* Trends: one to four channels over a chosen span, each above the other or all in one picture, with
 * axes, limits, alerts, lowest and highest kept, gaps as gaps; two cursors that read values and
 * what lies between them, and that can be zoomed to. */
#ifndef STOKEHOLD_SCREEN_TREND_H
#define STOKEHOLD_SCREEN_TREND_H

#include "screen/chart.h"
#include "screen/ui.h"

extern const int64_t trend_spans_ns[];
extern const int trend_span_count;

void trend_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui);
bool trend_handle(struct ui *ui, const struct model *m, enum action a);

/* The window that is shown: how long it is, and where it ends (mono). */
int64_t trend_span_ns(const struct ui *ui);
int64_t trend_end_ns(const struct ui *ui, const struct model *m);

#endif
