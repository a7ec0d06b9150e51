/* A history as a line in a rectangle of cells. Time runs from left to right in columns of a fixed
 * stretch, counted from a fixed origin, so that a picture moves on by whole columns. A column keeps
 * its lowest and highest: a spike is a vertical stroke, never averaged away. A gap is blank. The
 * newest column is drawn once it has had time to be heard, so that nothing blinks as it comes.
 * Braille has two columns and four levels a cell; blocks and ASCII one column and three levels. */
#ifndef STOKEHOLD_SCREEN_GRAPH_H
#define STOKEHOLD_SCREEN_GRAPH_H

#include "plant/history.h"
#include "screen/cells.h"

#define GRAPH_COLUMNS 640 /* a plot wider than this many is drawn coarser, never cut */

/* Which stretch of time a plot shows. */
struct graph_span {
    int64_t now_ns, cell_ns, last; /* last: index of the newest cell's stretch */
    int cells, per_cell;           /* columns in each cell: 2 in braille */
};
struct graph_span graph_span(const struct grid *g, int64_t now_ns, int64_t span_ns, int cells);
/* Where the stretch of a cell begins (mono), and in which cell a moment lies. */
int64_t graph_cell_from(const struct graph_span *s, int cell);
int graph_cell_of(const struct graph_span *s, int64_t mono_ns);

struct graph {
    int n; /* columns */
    struct history_bucket column[GRAPH_COLUMNS];
};
/* What a history holds in that stretch. period_ns: of the channel's messages, 0 where not known;
 * h may be NULL: all gaps. */
void graph_read(struct graph *c, const struct graph_span *s, const struct history *h,
                int64_t period_ns);
/* Lowest and highest in it; false where all is gaps. */
bool graph_extremes(const struct graph *c, double *low, double *high);
/* The middle one of the columns' means: what is normal in it. False where all is gaps. */
bool graph_median(const struct graph *c, double *median);

/* From bottom to top; or, where `root` is set, from what is normal (low) towards a limit (high,
 * which may be the lower of the two): by the square root of the way, so that a tenth of it shows in
 * a single row. A limit below is at the bottom. */
struct scale {
    double low, high;
    bool root;
};
/* The scale of a curve in one row: with a limit, of the way to it; else what it does in this
 * stretch, but never so fine that a steady value jumps. Of several, one for all. */
struct scale graph_scale(const struct graph *const c[], int n, bool has_limit, double limit);
/* The next of 1, 2, 5 times a power of ten at or above v; 1 for v <= 0. */
double scale_nice(double v);
/* 0 to top. */
int scale_level(struct scale s, double v, int top);

struct graph_ink {
    enum role role, over; /* over: of what is beyond the limit */
    bool has_limit, limit_above;
    double limit;
};
/* Levels in a rectangle of h lines, less one: what scale_level takes. */
int graph_top(const struct grid *g, int h);
void graph_draw(struct grid *g, struct rect r, const struct graph *c, struct scale s,
                struct graph_ink ink);
/* A dotted line across, where nothing else stands. */
void graph_level(struct grid *g, struct rect r, struct scale s, double v, enum role role);
/* Between two curves, faintly, where nothing else stands. */
void graph_band(struct grid *g, struct rect r, const struct graph *low, const struct graph *high,
                struct scale s, enum role role);
/* Dotted, from v in the first cell of r, by `step` a cell, up to `end` or the edge. */
void graph_ahead(struct grid *g, struct rect r, struct scale s, double v, double step, double end,
                 enum role role);

/* What stands in the column of [from, to): what was heard there; or, between two messages of a
 * sender that is slower than the columns, what it said last. No silence is bridged that is longer
 * than three periods: that is a gap. False for a gap and where from is before the start. */
bool graph_column(const struct history *h, int64_t from_ns, int64_t to_ns, int64_t now_ns,
                  int64_t period_ns, struct history_bucket *b);
/* The same for words: nothing that happened outside of it is counted in, as far back as seconds are
 * kept. */
bool graph_stretch(const struct history *h, int64_t from_ns, int64_t to_ns, int64_t now_ns,
                   int64_t period_ns, struct history_bucket *b);

#endif
