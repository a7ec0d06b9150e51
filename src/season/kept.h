/* The channels of an engine that a season remembers, what they are measured against, and how much
 * of a difference matters. One table; what a figure rests on stands beside it. */
#ifndef STOKEHOLD_SEASON_KEPT_H
#define STOKEHOLD_SEASON_KEPT_H

#include "base/quantity.h"

#include <stdbool.h>

enum kept_over { OVER_NOTHING, OVER_SEA, OVER_AIR };

struct season_kept {
    enum quantity quantity;
    enum kept_over over;     /* what is subtracted where it is known */
    bool share;              /* compared as a ratio: figures below are shares */
    bool up, down;           /* which way it worsens */
    double caution, warning; /* base unit, or share */
    double between;        /* how far trips of a healthy boat differ, one standard deviation, before
                              the boat itself is known */
    double drift;          /* within a piece; not settled beyond it */
    int settle_s, piece_s; /* after the speed was reached; how long the pieces are */
    double hot_oil_c;      /* kept where the oil is known to be that hot, or not known; 0: always */
    bool warm;             /* kept of a warm engine alone */
    bool live;             /* said at once, within the trip; otherwise once the trip is over */
    bool rests;        /* a temperature that agrees with its engine\'s others on a cold morning */
    bool boat;         /* one for the boat, not one an engine: engine-space.0 */
    bool start;        /* of a battery: the lowest while an engine was started (crank.h) */
    double idle_share; /* how much of an excess at speed shows at idle; of wear, not of a probe */
    const char *look_up, *look_down; /* what to look at */
};

#define SEASON_KEPT 10
extern const struct season_kept season_kept[SEASON_KEPT];

/* An excess as people mean it: shares are compared by their logarithm. */
double season_kept_size(int row, double excess);
/* The row of a quantity, or -1. */
int season_kept_row(enum quantity q);

#endif
