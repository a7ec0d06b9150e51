/* A chart: curves of one quantity over one time axis, with what is expected, the limit, when
 * something was raised, and where a climb leads. Its parts serve the trend view too. */
#ifndef STOKEHOLD_SCREEN_CHART_H
#define STOKEHOLD_SCREEN_CHART_H

#include "screen/graph.h"
#include "screen/model.h"

#define CHART_SERIES 4

/* A scale with ticks at round values of the user's unit. */
struct chart_axis {
    struct scale scale; /* base unit */
    int ticks;          /* steps from bottom to top */
    int decimals;       /* that tell ticks apart */
};
/* Over [low, high], base unit, for a plot of so many lines. */
struct chart_axis chart_axis(const struct model *m, const struct model_channel *c, double low,
                             double high, int lines);
/* Values at the left of plot, in w columns; every tick is on a line of its own, all equally far
 * apart where plot.h - 1 is a multiple of the ticks. */
void chart_values(struct grid *g, struct rect plot, int w, const struct model *m,
                  const struct model_channel *c, const struct chart_axis *axis);
/* Times along r, one line. */
void chart_times(struct grid *g, struct rect r, const struct graph_span *s, const struct model *m);
/* When something was raised about the channel: its letter at the top, a faint line below; and what
 * somebody marked, with the words. */
void chart_marks(struct grid *g, struct rect plot, const struct graph_span *s,
                 const struct model *m, const char *key);
/* The wall time of a mono time, as words. */
void chart_time_text(const struct model *m, int64_t mono_ns, bool seconds, char *dst, size_t cap);
/* The name of a curve where twins stand together: "port", else the channel's own. */
const char *chart_name(const struct model *m, const struct model_channel *c, char *dst, size_t cap);

struct chart {
    const struct model_channel *channel[CHART_SERIES];
    int count;
    int64_t span_ns;
    bool times; /* with a time axis of its own */
};
/* The quantity at every engine that has it. count 0: nowhere. */
struct chart chart_of(const struct model *m, uint16_t quantity, int64_t span_ns);
/* The channel, with its twins where it is an engine's. */
struct chart chart_about(const struct model *m, const struct model_channel *c, int64_t span_ns);
/* Below this many lines a chart says nothing. */
#define CHART_LEAST 6
void chart_draw(struct grid *g, struct rect r, const struct model *m, const struct chart *chart);

#endif
