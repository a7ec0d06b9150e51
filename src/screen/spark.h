/* Trends: a history drawn into a rectangle of cells, one column for a fixed stretch of time, time
 * running from left to right, the newest at the right. Stretches are counted from a fixed origin,
 * so that the picture moves on by whole cells and on its own slow clock. A gap is blank; the lowest
 * block is a real low; the top eighth stays free, so that trends in neighbouring rows never touch.
 */
#ifndef STOKEHOLD_SCREEN_SPARK_H
#define STOKEHOLD_SCREEN_SPARK_H

#include "plant/history.h"
#include "screen/cells.h"
#include "screen/model.h"

struct scale {
    double low, high; /* base unit; low < high */
};

struct spark {
    int64_t now_ns, span_ns; /* mono; span > 0 */
    int64_t period_ns;       /* of the channel's messages; 0 where not known */
    struct scale scale;
    bool has_limit, limit_above;
    double limit;
    enum role over; /* of cells beyond the limit */
};

/* The scale of a channel, and of its twin where not NULL: fixed where the quantity has a natural
 * range, else growing only. A high limit is the top, so that the height says how near it is. */
struct scale scale_for(const struct model_channel *c, const struct model_channel *twin);
/* The next of 1, 2, 5 times a power of ten at or above v; 1 for v <= 0. */
double scale_nice(double v);
/* Eighths from the bottom (1..8*h-1) of v on a scale over h cells. */
int scale_level(struct scale s, double v, int h);

void spark_draw(struct grid *g, struct rect r, const struct history *h, const struct spark *s);

/* What stands in the column of [from, to): what was heard there; or, between two messages of a
 * sender that is slower than the columns, what it said last. No silence is bridged that is longer
 * than three periods: that is a gap. false for a gap and where from is before the start. */
bool spark_column(const struct history *h, int64_t from_ns, int64_t to_ns, int64_t now_ns,
                  int64_t period_ns, struct history_bucket *b);

#endif
