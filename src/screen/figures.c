#include "screen/figures.h"

#include <string.h>

#include "base/banned.h"

enum { ROWS = 5, COLUMNS = 3 };

/* Each row three bits, the left one highest. */
static const struct {
    char ch;
    uint8_t rows[ROWS];
    uint8_t columns;
} forms[] = {
    {'0', {7, 5, 5, 5, 7}, 3}, {'1', {2, 6, 2, 2, 7}, 3}, {'2', {7, 1, 7, 4, 7}, 3},
    {'3', {7, 1, 7, 1, 7}, 3}, {'4', {5, 5, 7, 1, 1}, 3}, {'5', {7, 4, 7, 1, 7}, 3},
    {'6', {7, 4, 7, 5, 7}, 3}, {'7', {7, 1, 1, 1, 1}, 3}, {'8', {7, 5, 7, 5, 7}, 3},
    {'9', {7, 5, 7, 1, 7}, 3}, {'-', {0, 0, 7, 0, 0}, 3}, {'.', {0, 0, 0, 0, 4}, 1},
    {'e', {7, 5, 7, 4, 7}, 3}, {'r', {0, 7, 4, 4, 4}, 3}, {' ', {0, 0, 0, 0, 0}, 1},
};

static int form_of(char ch)
{
    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++)
        if (forms[i].ch == ch)
            return (int)i;
    return -1;
}

/* Points that a text is wide, a blank one between characters; -1 where one has no form. */
static int width_of(const char *text)
{
    int w = 0;
    for (const char *s = text; *s; s++) {
        int i = form_of(*s);
        if (i < 0)
            return -1;
        w += forms[i].columns + (s > text ? 1 : 0);
    }
    return w;
}

static void draw_form(struct grid *g, int x, int y, int form, int wide, int high, enum role role)
{
    for (int row = 0; row < ROWS; row++)
        for (int column = 0; column < forms[form].columns; column++)
            if (forms[form].rows[row] & (4 >> column))
                grid_run(g, (struct rect){x + column * wide, y + row * high, wide, high}, 0x2588,
                         role, ATTR_LINE);
}

/* Two points to a cell, one above the other: figures three lines high. */
static void draw_half(struct grid *g, int x, int y, int form, int wide, enum role role)
{
    for (int line = 0; line < (ROWS + 1) / 2; line++)
        for (int column = 0; column < forms[form].columns; column++) {
            int bit = 4 >> column, low = 2 * line + 1;
            bool upper = forms[form].rows[2 * line] & bit;
            bool lower = low < ROWS && (forms[form].rows[low] & bit);
            uint32_t ch = upper && lower ? 0x2588 : upper ? 0x2580 : 0x2584;
            if (upper || lower)
                grid_run(g, (struct rect){x + column * wide, y + line, wide, 1}, ch, role,
                         ATTR_LINE);
        }
}

/* ---- in thin strokes ---- */

/* What a form is made of, in cells across and half lines down: strokes along its rows and columns
 * of points, where two or more stand beside or below each other. */
struct strokes {
    int wide, half;   /* of a point */
    int across, down; /* how thick strokes are: upright ones in cells, level ones in half lines */
    int form;
};

static bool has_point(const struct strokes *s, int row, int column)
{
    return row >= 0 && row < ROWS && column >= 0 && column < COLUMNS &&
           (forms[s->form].rows[row] & (4 >> column));
}

static bool is_level(const struct strokes *s, int row, int column)
{
    return has_point(s, row, column) &&
           (has_point(s, row, column - 1) || has_point(s, row, column + 1));
}

/* Where the level stroke of a row of points begins: at the top of those above, in the middle, at
 * the foot of the last. */
static int level_from(const struct strokes *s, int row)
{
    int room = s->half - s->down;
    return row * s->half + (row < ROWS / 2 ? 0 : row == ROWS / 2 ? room / 2 : room);
}

static bool is_inked(const struct strokes *s, int x, int y)
{
    int row = y / s->half, column = x / s->wide, from = level_from(s, row);
    int edge = column == 0 ? 0 : column == 1 ? (s->wide - s->across) / 2 : s->wide - s->across;
    bool up = has_point(s, row - 1, column), down = has_point(s, row + 1, column);
    if (!has_point(s, row, column))
        return false;
    bool level = is_level(s, row, column);
    if (level && y >= from && y < from + s->down)
        return true;
    if (!up && !down)
        return !level && x % s->wide < s->across && y >= from && y < from + s->down; /* a point */
    if (x % s->wide < edge || x % s->wide >= edge + s->across)
        return false;
    /* An upright stroke ends with the level one that it meets. */
    return !level || ((up || y >= from) && (down || y < from + s->down));
}

static void draw_thin(struct grid *g, int x, int y, int form, int wide, int high, enum role role)
{
    struct strokes s = {wide, 2 * high, wide < 4 ? 1 : wide / 3, high, form};
    for (int line = 0; line < ROWS * high; line++)
        for (int i = 0; i < forms[form].columns * wide; i++) {
            bool upper = is_inked(&s, i, 2 * line), lower = is_inked(&s, i, 2 * line + 1);
            if (upper || lower)
                grid_put(g, x + i, y + line,
                         upper && lower ? 0x2588
                         : upper        ? 0x2580
                                        : 0x2584,
                         role, ATTR_LINE);
        }
}

int figures_draw(struct grid *g, struct rect r, const char *text, int places, enum role role)
{
    int width = width_of(text), meant = places * (COLUMNS + 1) - 1;
    if (width <= 0)
        return 0;
    if (meant < width)
        meant = width;
    int wide = r.w / meant, high = r.h / ROWS;
    /* Half blocks have no form in ASCII. */
    bool half = high < 1 && r.h >= (ROWS + 1) / 2 && !g->ascii;
    if (wide < 1 || (high < 1 && !half))
        return 0;
    if (half && wide > 2)
        wide = 2;
    /* A point of text is about twice as high as wide; stay near square. */
    if (!half && wide > 3 * high)
        wide = 3 * high;
    if (high > wide)
        high = wide;
    int x = r.x + r.w - width * wide;
    int y = r.y + (r.h - (half ? (ROWS + 1) / 2 : high * ROWS)) / 2;
    for (const char *s = text; *s; s++) {
        int form = form_of(*s);
        if (half)
            draw_half(g, x, y, form, wide, role);
        else if (g->thin && !g->ascii)
            draw_thin(g, x, y, form, wide, high, role);
        else
            draw_form(g, x, y, form, wide, high, role);
        x += (forms[form].columns + 1) * wide;
    }
    return meant * wide;
}
