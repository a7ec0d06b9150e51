/* Which rows a board has: channels put side by side by quantity, in the order in which an engineer
 * asks for them, with how much each matters when there is no room for all. Pure. */
#ifndef STOKEHOLD_SCREEN_ROWS_H
#define STOKEHOLD_SCREEN_ROWS_H

#include "screen/cells.h"
#include "screen/model.h"

#define ROW_SIDES  4
#define ROWS_MAX   48
#define PLAINS_MAX 96

struct board_row {
    const struct model_channel *side[ROW_SIDES]; /* by engine; NULL where one has none */
    const struct model_channel *first;           /* whichever is there: label, unit, limit */
    int order;                                   /* place from the top */
    bool flat;                                   /* no trend worth a look: hours, gear */
    int worth; /* 0 matters most; rows about an alert are below 0 */
};

struct board_rows {
    int sides; /* engines side by side: 0..ROW_SIDES */
    struct board_row twins[ROWS_MAX];
    int twin_count;
    struct board_row plains[PLAINS_MAX]; /* what the boat has once, in side[0] */
    int plain_count;
    int left_out; /* no room in the tables */
};

/* filter: only rows whose label, place or key holds these letters; "" for all. */
void rows_fill(struct board_rows *rows, const struct model *m, const char *filter);
/* Whether text holds these letters, in any case; "" is in every text. */
bool rows_holds(const char *text, const char *letters);
/* Whether a filter lets the channel through; NULL is none, then a switch that is off stays out. */
bool rows_wanted(const struct model_channel *c, const char *filter);
/* Worked out from other channels, never on the bus. */
bool rows_is_derived(const struct model_channel *c);
/* Whether its trend is not worth a look: hours, gear, switches. */
bool rows_is_flat(const struct model_channel *c);
/* Keeps the `keep` rows that matter most, the one about `chosen` (may be NULL) among them, in their
 * order; returns how many fell out. */
int rows_keep(struct board_row *rows, int *count, int keep, const char *chosen);
/* Label as shown: with the number where there are several of a kind, the place and the sender where
 * they are not clear from the column. dst of at least 64 bytes. */
const char *rows_plain_label(const struct model *m, const struct model_channel *c, char *dst,
                             size_t cap);
/* The same in w columns: where it is too long "starboard" is written "stbd", and a second sender's
 * "@33" is never what is cut off, for nothing else tells it from the first. */
const char *rows_short_label(const struct grid *g, const struct model *m,
                             const struct model_channel *c, int w, char *dst, size_t cap);

#endif
