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
    struct side_layout s = {.width = width, .arrow_at = 1, .value_at = 3, .value_w = 6};
    int at = 9;
    if (width < 13) { /* blank arrow blank value state */
        s.value_w = most(0, least(6, width - 5));
        at = s.value_at + s.value_w;
        s.state_at = at + 1;
        s.state_w = width > at + 1 ? 1 : 0;
        return s;
    }
    s.state_w = width >= 60 ? 11 : 1;
    s.state_at = width - s.state_w - 1;
    if (width >= 26) {
        s.rate_at = at + 1;
        s.rate_w = 5;
        at += 6;
    }
    s.trend_at = at + 1;
    s.trend_w = s.state_at - 1 - s.trend_at;
    if (s.trend_w < 4)
        s.trend_w = 0;
    return s;
}

struct plain_layout layout_plain(int width)
{
    struct plain_layout p = {.label_at = width >= 30 ? 2 : 1};
    struct side_layout *s = &p.side;
    s->width = width;
    s->state_w = 1;
    s->state_at = width - 2;
    p.label_w = width >= 60 ? 18 : width >= 38 ? 12 : most(0, least(12, width - 11));
    s->value_at = p.label_at + p.label_w + 1;
    s->value_w = most(0, least(6, width - 3 - s->value_at));
    int at = s->value_at + s->value_w + 1;
    if (at + 8 <= s->state_at) {
        p.unit_at = at;
        p.unit_w = 5;
        at += 6;
    }
    s->arrow_at = least(at, most(0, s->state_at - 1));
    at += 2;
    if (width >= 56) {
        s->rate_at = at;
        s->rate_w = 5;
        at += 6;
        p.limit_w = 4;
        p.limit_at = s->state_at - 6;
    }
    s->trend_at = at;
    s->trend_w = (p.limit_w ? p.limit_at : s->state_at) - 1 - at;
    if (s->trend_w < 4)
        s->trend_w = 0;
    return p;
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

/* Two rows of sides and a block of plain ones share the lines; rows grow once all are shown. */
static void share_lines(struct board_layout *b, struct rect body, struct board_need need, int top)
{
    int lines = body.y + body.h - top;
    int plain_need = (need.plains + b->plain_cols - 1) / b->plain_cols;
    int gap = need.twins && plain_need ? 1 : 0;
    if (lines < need.twins + gap + plain_need) {
        gap = gap && lines >= 10 ? 1 : 0;
        lines -= gap;
        int plain = least(plain_need, most(lines / 3, lines - need.twins));
        b->twin_rows = least(need.twins, lines - plain);
        b->plain_lines = least(plain_need, lines - b->twin_rows);
        if (b->twin_rows < need.twins || b->plain_lines < plain_need) {
            /* One line says what is left out. */
            if (lines >= 5) {
                b->more = (struct rect){body.x, body.y + body.h - 1, body.w, 1};
                if (b->plain_lines > 1)
                    b->plain_lines--;
                else if (b->twin_rows > 0)
                    b->twin_rows--;
            }
        }
    } else {
        b->twin_rows = need.twins;
        b->plain_lines = plain_need;
    }
    b->twin_h = b->plain_h = 1;
    int spare = body.y + body.h - top - b->twin_rows - gap - b->plain_lines - b->more.h;
    int pane = body.w >= 100 && spare >= 10 ? most(8, least(14, spare / 3)) : 0;
    spare -= pane ? pane + 1 : 0;
    /* Which rows fell out is not known here; the flat ones are those that matter least. */
    int tall = most(0, least(b->twin_rows, need.twins - need.flat));
    while (tall && b->twin_h < 4 && spare >= tall) {
        spare -= tall;
        b->twin_h++;
    }
    while (b->plain_lines && b->plain_h < 3 && b->plain_h < b->twin_h && spare >= b->plain_lines) {
        spare -= b->plain_lines;
        b->plain_h++;
    }
    b->taller = b->twin_h < 4 ? least(spare, tall) : 0;
    spare -= b->taller;
    b->twins =
        (struct rect){body.x, top, body.w, tall * b->twin_h + b->twin_rows - tall + b->taller};
    b->plains = (struct rect){body.x, top + b->twins.h + gap, body.w, b->plain_lines * b->plain_h};
    if (pane)
        b->panes = (struct rect){body.x, body.y + body.h - pane - most(0, spare), body.w,
                                 pane + most(0, spare)};
}

struct board_layout layout_board(struct rect body, struct board_need need)
{
    struct board_layout b = {0};
    int cols = body.w, top = body.y;
    b.shape = need.sides == 0   ? BOARD_NONE
              : need.sides == 1 ? BOARD_SINGLE
              : need.sides == 2 ? BOARD_KEEL
                                : BOARD_COLUMNS;
    b.keel = keel_label(b.shape == BOARD_KEEL ? cols : cols + 24);
    if (b.shape == BOARD_KEEL) {
        int half = (cols - b.keel.width) / 2;
        b.keel.width = cols - 2 * half; /* an odd column goes to the keel */
        b.keel_x = body.x + half;
        b.side = layout_side(half);
    } else if (b.shape == BOARD_COLUMNS) {
        b.keel_x = body.x;
        b.side = layout_side(most(0, (cols - b.keel.width) / need.sides));
    } else {
        b.keel_x = body.x;
        b.side = layout_side(most(0, cols - b.keel.width));
    }
    if (b.shape >= BOARD_KEEL && body.h >= 4)
        b.heading = (struct rect){body.x, top++, cols, 1};
    b.plain_cols = cols >= 150 ? 3 : cols >= 76 ? 2 : 1;
    int block = cols / b.plain_cols;
    b.plain = layout_plain(block);
    share_lines(&b, body, need, top);
    return b;
}
