/* One grid at a time, drawn into by a test, and what stands in its lines. */
#ifndef STOKEHOLD_TESTS_DRAWN_H
#define STOKEHOLD_TESTS_DRAWN_H

#include "screen/cells.h"
#include "support/check.h"

static struct grid drawn;

static inline void begin(int cols, int rows, bool ascii)
{
    assert_true(grid_init(&drawn, cols, rows, ascii));
}

static inline const char *line(int y)
{
    static char text[4000];
    grid_row_text(&drawn, y, text, sizeof text);
    return text;
}

/* Nothing is bold but headings. */
static inline void check_bold(void)
{
    for (int i = 0; i < drawn.cols * drawn.rows; i++)
        if (drawn.cells[i].attr & ATTR_BOLD)
            assert_int_equal(drawn.cells[i].role, ROLE_TITLE);
}

#endif
