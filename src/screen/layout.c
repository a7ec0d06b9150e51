#include "screen/layout.h"

#include "base/banned.h"

static int least(int a, int b)
{
    return a < b ? a : b;
}

static int most(int a, int b)
{
    return a > b ? a : b;
}

struct frame_layout layout_frame(int cols, int rows, int alert_lines, bool has_bar)
{
    struct frame_layout f = {.too_small = cols < LAYOUT_MIN_COLS || rows < LAYOUT_MIN_ROWS};
    if (f.too_small) {
        f.body = (struct rect){0, 0, cols, rows};
        return f;
    }
    int top = 0, bottom = rows;
    f.title = (struct rect){0, top++, cols, 1};
    int lines = least(alert_lines, most(rows >= 10 ? 3 : 1, rows / 4));
    f.alert = (struct rect){0, top, cols, lines};
    top += lines;
    if (rows >= 6)
        f.foot = (struct rect){0, --bottom, cols, 1};
    if (has_bar && rows >= 14)
        f.bar = (struct rect){0, --bottom, cols, 1};
    if (rows >= 20)
        top++;
    if (rows >= 24)
        bottom--;
    f.body = (struct rect){0, top, cols, bottom - top};
    return f;
}

struct side_layout layout_side(int width)
{
    enum { TREND_MOST = 28 }; /* a longer one says no more in a single line */
    struct side_layout s = {.width = width, .arrow_at = 1, .value_at = 3, .value_w = 6};
    int at = 9;
    if (width < 13) { /* blank arrow blank value state */
        s.value_w = most(0, least(6, width - 5));
        at = s.value_at + s.value_w;
        s.state_at = at + 1;
        s.state_w = width > at + 1 ? 1 : 0;
        return s;
    }
    if (width >= 26) {
        s.rate_at = at + 1;
        s.rate_w = 5;
        at += 6;
    }
    s.state_w = 1;
    s.limit_w = width >= 36 ? 5 : 0;
    s.trend_at = at + 1;
    s.trend_w = least(TREND_MOST, width - 2 - s.limit_w - (s.limit_w > 0) - 1 - s.trend_at);
    if (s.trend_w < 4)
        s.trend_w = 0;
    s.state_at = s.trend_w ? s.trend_at + s.trend_w + 1 : width - 2;
    s.limit_at = s.state_at + 2;
    return s;
}

/* The keel: its two lines count. */
static struct label_layout keel_label(int cols)
{
    if (cols >= 72)
        return (struct label_layout){24, 12, 3, 4};
    if (cols >= 56)
        return (struct label_layout){20, 12, 4, 0};
    if (cols >= 40)
        return (struct label_layout){18, 10, 3, 0};
    return (struct label_layout){most(6, least(14, cols - 2 * 12)), most(2, least(10, cols - 28)),
                                 0, 0};
}

/* The keel and what stands beside it in `cols` columns from x on. */
static void lay_keel(struct board_layout *b, int x, int cols, int sides)
{
    b->keel = keel_label(b->shape == BOARD_KEEL ? cols : cols + 24);
    b->keel_x = x;
    if (b->shape == BOARD_KEEL) {
        int half = (cols - b->keel.width) / 2;
        b->keel.width = cols - 2 * half; /* an odd column goes to the keel */
        b->keel_x = x + half;
        b->side = layout_side(half);
    } else if (b->shape == BOARD_COLUMNS) {
        b->side = layout_side(most(0, (cols - b->keel.width) / sides));
    } else {
        b->side = layout_side(most(0, cols - b->keel.width));
    }
}

enum {
    WIDE_COLS = 150, /* from here on charts stand beside the keel */
    WIDE_ROWS = 34,
    CHART_LINES = 9, /* with fewer a chart is not worth its place */
    CHART_MOST = 20,
    CHART_COLS = 72,
    PICTURE_COLS = 100, /* from here on the picture comes before the last rows */
    PICTURE_ROWS = 30,
    TABLES_LEAST = 6,
};

/* Keel at the left, charts over one axis of times at the right, tables across the foot. */
static void lay_wide(struct board_layout *b, struct rect body, struct board_need need)
{
    int keel_w = b->shape == BOARD_COLUMNS ? least(body.w - CHART_COLS, 26 + 24 * need.sides)
                                           : most(76, least(100, body.w * 12 / 25));
    int tables = least(need.tables, body.h / 3), gap = tables ? 1 : 0;
    int upper = body.h - tables - gap, top = body.y;
    lay_keel(b, body.x, keel_w, need.sides);
    if (b->shape >= BOARD_KEEL)
        b->heading = (struct rect){body.x, top++, keel_w, 1};
    b->twin_rows = least(need.twins, body.y + upper - top);
    b->twins = (struct rect){body.x, top, keel_w, b->twin_rows};
    top += b->twin_rows + 1;
    if (body.y + upper - top >= 4)
        b->alerts = (struct rect){body.x, top, keel_w, body.y + upper - top};
    b->chart_count = upper >= 3 * CHART_LINES ? 3 : upper >= 2 * CHART_LINES ? 2 : 1;
    int h = (upper - 1) / b->chart_count, y = body.y;
    for (int i = 0; i < b->chart_count; i++) {
        /* The first has what the division leaves, the last the axis. */
        int extra = i == 0 ? upper - 1 - h * b->chart_count : 0;
        int lines = h + extra + (i == b->chart_count - 1);
        b->charts[i] = (struct rect){body.x + keel_w, y, body.w - keel_w, lines};
        y += lines;
    }
    b->tables = (struct rect){body.x, body.y + body.h - tables, body.w, tables};
}

/* A chart above where there is room, then rows, then tables; what falls out is said. */
static void lay_tall(struct board_layout *b, struct rect body, struct board_need need)
{
    int top = body.y, lines = body.h;
    lay_keel(b, body.x, body.w, need.sides);
    int heading = b->shape >= BOARD_KEEL && lines >= 4;
    int gap = need.twins && need.tables ? 1 : 0;
    int spare = lines - heading - need.twins - gap - need.tables;
    int chart = spare >= CHART_LINES + 1 ? least(CHART_MOST, spare - 1) : 0;
    if (!chart && body.w >= PICTURE_COLS && lines >= PICTURE_ROWS)
        chart = CHART_LINES;
    if (!need.chart || body.w < CHART_COLS)
        chart = 0;
    if (chart) {
        b->charts[b->chart_count++] = (struct rect){body.x, top, body.w, chart};
        top += chart + 1;
        lines -= chart + 1;
    }
    if (heading) {
        b->heading = (struct rect){body.x, top++, body.w, 1};
        lines--;
    }
    gap = gap && (lines >= 10 || lines >= need.twins + 1 + need.tables) ? 1 : 0;
    lines -= gap;
    int tables = need.tables;
    if (need.twins + tables > lines) {
        /* Engines come first, but what keeps the boat going is not left out for their last rows. */
        int kept = need.twins ? least(TABLES_LEAST, lines * 2 / 5) : lines;
        tables = least(tables, most(kept, lines - need.twins));
    }
    b->twin_rows = least(need.twins, lines - tables);
    if (b->twin_rows < need.twins || tables < need.tables) {
        /* One line says what is left out. */
        if (lines >= 5) {
            b->more = (struct rect){body.x, body.y + body.h - 1, body.w, 1};
            if (tables > 1)
                tables--;
            else if (b->twin_rows > 0)
                b->twin_rows--;
        }
    }
    b->twins = (struct rect){body.x, top, body.w, b->twin_rows};
    b->tables = (struct rect){body.x, top + b->twin_rows + gap, body.w, tables};
}

struct board_layout layout_board(struct rect body, struct board_need need)
{
    struct board_layout b = {0};
    b.shape = need.sides == 0   ? BOARD_NONE
              : need.sides == 1 ? BOARD_SINGLE
              : need.sides == 2 ? BOARD_KEEL
                                : BOARD_COLUMNS;
    if (need.chart && need.sides && body.w >= WIDE_COLS && body.h >= WIDE_ROWS)
        lay_wide(&b, body, need);
    else
        lay_tall(&b, body, need);
    return b;
}
