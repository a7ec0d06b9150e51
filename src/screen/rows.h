/* Which rows a board has. Above: channels of the engines, put side by side by quantity, in the
 * order in which an engineer asks for them. Below: tables of what the boat has once, by place (a
 * battery a row, a tank a row), the tables in one order everywhere. And how much each row matters
 * when there is no room for all. Pure. */
#ifndef STOKEHOLD_SCREEN_ROWS_H
#define STOKEHOLD_SCREEN_ROWS_H

#include "screen/cells.h"
#include "screen/model.h"

#define ROW_SIDES  4 /* engines side by side */
#define ROW_CELLS  5 /* columns of a table; no fewer than sides */
#define ROWS_MAX   48
#define PLAINS_MAX 96

enum row_table {
    TABLE_BATTERIES,
    TABLE_TANKS,
    TABLE_WAY,
    TABLE_CHARGE,
    TABLE_AC,
    TABLE_GENERATOR,
    TABLE_AIR,
    TABLE_OTHER,
    TABLE_COUNT
};

struct board_row {
    const struct model_channel
        *side[ROW_CELLS];              /* by engine, or by the table's column; NULL: none */
    const struct model_channel *first; /* whichever is there: label, unit, limit */
    enum row_table table;              /* of a row below */
    int group;                         /* what makes one row of several quantities */
    int order;                         /* place from the top */
    int worth;                         /* 0 matters most; rows about an alert are below 0 */
};

struct board_rows {
    int sides;   /* engines side by side: 0..ROW_SIDES */
    int engines; /* that drive the boat */
    struct board_row twins[ROWS_MAX];
    int twin_count;
    struct board_row plains[PLAINS_MAX]; /* table by table */
    int plain_count;
    int left_out; /* no room in the arrays */
};

/* filter: only rows whose label, place or key holds these letters; "" for all. */
void rows_fill(struct board_rows *rows, const struct model *m, const char *filter);
/* Whether text holds these letters, in any case; "" is in every text. */
bool rows_holds(const char *text, const char *letters);
/* Whether a filter lets the channel through; NULL is none, then a switch that is off stays out. */
bool rows_wanted(const struct model_channel *c, const char *filter);
/* Worked out from other channels, never on the bus. */
bool rows_is_derived(const struct model_channel *c);
/* Whether its trend is not worth a look: hours, gear, switches, states. */
bool rows_is_flat(const struct model_channel *c);
/* The row matters least but for the one about `chosen` (may be NULL); -1 where there is none. */
int rows_least(const struct board_row *rows, int count, const char *chosen);
/* Keeps the `keep` rows that matter most, the one about `chosen` among them, in their order;
 * returns how many fell out. */
int rows_keep(struct board_row *rows, int *count, int keep, const char *chosen);
/* The heading of a table. */
const char *rows_table_name(enum row_table t);
/* The worst alert about any channel of the row, or NULL. */
const struct alert *rows_alert(const struct model *m, const struct board_row *row);
/* What a channel's quantity is called beside its engine: the user's label, else ours. */
const char *rows_name(const struct model_channel *c);
/* The name of a row of a table, under its heading or without one. dst of at least 64 bytes. */
const char *rows_place(const struct model *m, const struct board_row *row, bool headed, char *dst,
                       size_t cap);
/* Label as shown: with the number where there are several of a kind, the place and the sender where
 * they are not clear from the column. dst of at least 64 bytes. */
const char *rows_plain_label(const struct model *m, const struct model_channel *c, char *dst,
                             size_t cap);
/* A label in w columns: where it is too long "starboard" is written "stbd", and a second sender's
 * "@33" is never what is cut off, for nothing else tells it from the first. */
const char *rows_shorten(const struct grid *g, const char *label, int w, char *dst, size_t cap);
const char *rows_short_label(const struct grid *g, const struct model *m,
                             const struct model_channel *c, int w, char *dst, size_t cap);

#endif
