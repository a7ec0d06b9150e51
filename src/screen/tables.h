/* What the boat has once, in tables by place side by side: a battery a row, a tank a row, the way
 * made. Where there is no room even for headings, plain rows. */
#ifndef STOKEHOLD_SCREEN_TABLES_H
#define STOKEHOLD_SCREEN_TABLES_H

#include "screen/rows.h"
#include "screen/ui.h"

#define TABLES_BLOCKS 6

struct tables_plan {
    struct {
        int first, count; /* of the rows */
        struct rect r;    /* heading and rows */
    } block[TABLE_COUNT + TABLES_BLOCKS];
    int count;
    bool headings;
};

/* Lines that all rows need at this width: in blocks with room for every column where those take no
 * more than `most`, in narrow ones else. */
int tables_lines(const struct board_rows *rows, int width, int most);
/* Drops the rows that matter least until the rest fits into r; returns how many fell out. */
int tables_fit(struct tables_plan *plan, struct board_rows *rows, struct rect r,
               const char *chosen);
void tables_draw(struct grid *g, const struct tables_plan *plan, const struct board_rows *rows,
                 const struct model *m, const struct ui *ui);
/* The row at a cell, -1 for none; its column in *side. */
int tables_at(const struct tables_plan *plan, const struct board_rows *rows, int x, int y,
              int *side);

#endif
