/* Sizes to rectangles. Pure: nothing here knows values or draws. What must be given up on a small
 * screen, and what a large one is used for, is decided here and swept over all sizes in tests:
 * no rectangle leaves its screen, none overlaps another. */
#ifndef STOKEHOLD_SCREEN_LAYOUT_H
#define STOKEHOLD_SCREEN_LAYOUT_H

#include "screen/cells.h"

/* Below this the screen only says that it is too small. */
#define LAYOUT_MIN_COLS 20
#define LAYOUT_LOW      28 /* lines of a board: on a lower one there is no chart for sure */
#define LAYOUT_MIN_ROWS 4

/* What every view has around it. A rectangle that is not there has h == 0. */
struct frame_layout {
    bool too_small;
    struct rect title, alert, body, bar, foot;
};

/* alert_lines: how many the worst alert's text needs at this width (1..4); has_bar: a log that can
 * be moved in. */
struct frame_layout layout_frame(int cols, int rows, int alert_lines, bool has_bar);

/* The parts of half a row, from the keel outward: arrow, value, rate, trend, state, limit. Columns
 * are counted from the inner edge; a part that is not there has width 0. The limit has columns only
 * where there is room; else it stands on the keel alone. */
struct side_layout {
    int width;
    int arrow_at, value_at, value_w, rate_at, rate_w, trend_at, trend_w, state_at, state_w;
    int limit_at, limit_w;
};
struct side_layout layout_side(int width);

/* A label with its unit and limit; widths, 0 where dropped. */
struct label_layout {
    int width; /* of it all, with the blanks between */
    int label_w, unit_w, limit_w;
};

enum board_shape {
    BOARD_NONE,    /* no engine: plain rows alone */
    BOARD_SINGLE,  /* one engine: the keel at the left */
    BOARD_KEEL,    /* two: the keel in the middle */
    BOARD_COLUMNS, /* three and four: a column for each */
};

#define LAYOUT_CHARTS 3

struct board_layout {
    enum board_shape shape;
    struct rect heading; /* names of the engines */
    struct rect twins;   /* twin_rows rows of one line */
    int twin_rows;
    struct label_layout keel;
    int keel_x; /* first column of the keel */
    struct side_layout side;
    struct rect charts[LAYOUT_CHARTS]; /* the last one has the axis of times; chart_count of them */
    int chart_count;
    struct rect alerts; /* the list of alerts; h 0: none */
    struct rect tables; /* what the boat has once */
    struct rect more;   /* where "and 3 more" is said; h 0: nowhere */
};

struct board_need {
    int sides, twins; /* engines side by side, rows of them */
    int tables;       /* lines that the tables would need at this width */
    bool chart;       /* there is something to draw a curve of */
};

struct board_layout layout_board(struct rect body, struct board_need need);

#endif
