#include "screen/cells.h"

#include "base/text.h"
#include "screen/glyphs.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static int clamp(int v, int low, int high)
{
    return v < low ? low : v > high ? high : v;
}

bool grid_init(struct grid *g, int cols, int rows, bool ascii)
{
    *g = (struct grid){.ascii = ascii};
    return grid_resize(g, cols, rows);
}

void grid_fini(struct grid *g)
{
    free(g->cells);
    g->cells = NULL;
    g->cols = g->rows = 0;
}

bool grid_resize(struct grid *g, int cols, int rows)
{
    cols = clamp(cols, 1, 1000);
    rows = clamp(rows, 1, 1000);
    if (cols != g->cols || rows != g->rows) {
        struct cell *cells = calloc((size_t)cols * (size_t)rows, sizeof *cells);
        if (!cells)
            return false;
        free(g->cells);
        g->cells = cells;
        g->cols = cols;
        g->rows = rows;
    }
    grid_clear(g);
    return true;
}

void grid_clear(struct grid *g)
{
    size_t n = (size_t)g->cols * (size_t)g->rows;
    for (size_t i = 0; i < n; i++)
        g->cells[i] = (struct cell){.ch = ' ', .role = ROLE_TEXT, .width = 1};
}

static struct cell *cell_at(struct grid *g, int x, int y)
{
    if (x < 0 || y < 0 || x >= g->cols || y >= g->rows)
        return NULL;
    return &g->cells[(size_t)y * (size_t)g->cols + (size_t)x];
}

/* Half of a wide character must not stay behind when the other half is overwritten. */
static void heal(struct grid *g, int x, int y)
{
    struct cell *c = cell_at(g, x, y), *other;
    if (!c)
        return;
    if (c->width == 0 && (other = cell_at(g, x - 1, y)))
        other->ch = ' ', other->width = 1, other->mark[0] = other->mark[1] = 0;
    if (c->width == 2 && (other = cell_at(g, x + 1, y)))
        other->ch = ' ', other->width = 1;
}

static int place(struct grid *g, int x, int y, uint32_t ch, int width, enum role role, int attr)
{
    struct cell *c = cell_at(g, x, y);
    if (!c || (width == 2 && x + 1 >= g->cols))
        return width;
    if (c->width != 1)
        heal(g, x, y);
    *c = (struct cell){
        .ch = ch, .role = (uint8_t)role, .attr = (uint8_t)attr, .width = (uint8_t)width};
    if (width == 2) {
        heal(g, x + 1, y);
        *cell_at(g, x + 1, y) =
            (struct cell){.role = (uint8_t)role, .attr = (uint8_t)attr, .width = 0};
    }
    return width;
}

void grid_put(struct grid *g, int x, int y, uint32_t ch, enum role role, int attr)
{
    if (g->ascii)
        ch = glyph_ascii(ch);
    int width = char_width(ch);
    if (width < 1)
        ch = ch == 0 ? ' ' : '?', width = 1;
    place(g, x, y, ch, width, role, attr);
}

void grid_dots(struct grid *g, int x, int y, unsigned dots, enum role role)
{
    struct cell *c = cell_at(g, x, y);
    if (g->ascii || !c)
        return;
    uint32_t was = c->ch >= 0x2800 && c->ch <= 0x28FF ? c->ch : 0x2800;
    place(g, x, y, was | dots, 1, role, ATTR_LINE);
}

/* One character of a text as it will be placed: safe, and ASCII where it must be. Width 0 is
 * nothing or a combining mark. */
static inline uint32_t take(const struct grid *g, const char **s, int *width)
{
    if (**s >= ' ' && **s < 0x7F) { /* most of all that is written */
        *width = 1;
        return (uint32_t) * (*s)++;
    }
    uint32_t ch = utf8_next(s);
    *width = char_width(ch);
    if (*width < 0)
        ch = '?', *width = 1;
    if (g->ascii && ch >= 0x80) {
        ch = *width == 0 ? 0 : glyph_ascii(ch);
        *width = ch ? 1 : 0;
    }
    return ch;
}

int grid_width(const struct grid *g, const char *utf8)
{
    int total = 0, width;
    while (*utf8) {
        take(g, &utf8, &width);
        total += width;
    }
    return total;
}

int grid_text(struct grid *g, int x, int y, int max, const char *utf8, enum role role, int attr)
{
    int used = 0, width, last = -1;
    if (max <= 0)
        return 0;
    /* A column takes a byte or more. */
    bool cut = strnlen(utf8, (size_t)max + 1) > (size_t)max && grid_width(g, utf8) > max;
    int room = cut ? max - 1 : max;
    while (*utf8) {
        uint32_t ch = take(g, &utf8, &width);
        if (width == 0) {
            struct cell *c = last < 0 || !ch ? NULL : cell_at(g, x + last, y);
            if (c)
                c->mark[c->mark[0] ? 1 : 0] = ch;
            continue;
        }
        if (used + width > room)
            break;
        last = used;
        used += place(g, x + used, y, ch, width, role, attr);
    }
    if (cut) {
        grid_put(g, x + used, y, GLYPH_ELLIPSIS, role, attr);
        used++;
    }
    return used;
}

void grid_text_right(struct grid *g, int x, int y, int w, const char *utf8, enum role role,
                     int attr)
{
    int width = grid_width(g, utf8);
    grid_text(g, x + (width < w ? w - width : 0), y, w, utf8, role, attr);
}

void grid_run(struct grid *g, struct rect r, uint32_t ch, enum role role, int attr)
{
    for (int y = r.y; y < r.y + r.h; y++)
        for (int x = r.x; x < r.x + r.w; x++)
            grid_put(g, x, y, ch, role, attr);
}

void grid_paint(struct grid *g, struct rect r, enum role role, int attr)
{
    for (int y = r.y; y < r.y + r.h; y++)
        for (int x = r.x; x < r.x + r.w; x++) {
            struct cell *c = cell_at(g, x, y);
            if (c)
                c->role = (uint8_t)role, c->attr = (uint8_t)attr;
        }
}

uint32_t utf8_next(const char **s)
{
    const unsigned char *p = (const unsigned char *)*s;
    if (!*p)
        return 0;
    int more = *p < 0x80 ? 0 : *p >= 0xF0 ? 3 : *p >= 0xE0 ? 2 : 1;
    uint32_t ch = more == 0 ? *p : more == 1 ? *p & 0x1Fu : more == 2 ? *p & 0x0Fu : *p & 0x07u;
    static const uint32_t least[] = {0, 0x80, 0x800, 0x10000};
    if ((*p >= 0x80 && *p < 0xC2) || *p > 0xF4) {
        *s += 1;
        return 0xFFFD;
    }
    for (int i = 1; i <= more; i++) {
        if ((p[i] & 0xC0) != 0x80) {
            *s += 1;
            return 0xFFFD;
        }
        ch = ch << 6 | (p[i] & 0x3Fu);
    }
    if (ch < least[more] || (ch >= 0xD800 && ch < 0xE000) || ch > 0x10FFFF) {
        *s += 1;
        return 0xFFFD;
    }
    *s += more + 1;
    return ch;
}

int utf8_put(char *dst, uint32_t ch)
{
    if (ch < 0x80) {
        dst[0] = (char)ch;
        return 1;
    }
    if (ch < 0x800) {
        dst[0] = (char)(0xC0 | ch >> 6);
        dst[1] = (char)(0x80 | (ch & 0x3F));
        return 2;
    }
    if (ch < 0x10000) {
        dst[0] = (char)(0xE0 | ch >> 12);
        dst[1] = (char)(0x80 | (ch >> 6 & 0x3F));
        dst[2] = (char)(0x80 | (ch & 0x3F));
        return 3;
    }
    dst[0] = (char)(0xF0 | ch >> 18);
    dst[1] = (char)(0x80 | (ch >> 12 & 0x3F));
    dst[2] = (char)(0x80 | (ch >> 6 & 0x3F));
    dst[3] = (char)(0x80 | (ch & 0x3F));
    return 4;
}

/* What must not reach a terminal: controls, what changes the direction of writing or joins, halves
 * of pairs, private characters and what is none. */
static bool is_refused(uint32_t ch)
{
    static const uint32_t refused[][2] = {
        {0x0000, 0x001F}, {0x007F, 0x009F},      {0x00AD, 0x00AD}, {0x200B, 0x200F},
        {0x2028, 0x202E}, {0x2060, 0x206F},      {0xD800, 0xF8FF}, {0xFEFF, 0xFEFF},
        {0xFFF0, 0xFFFF}, {0xE0000, UINT32_MAX},
    };
    for (size_t i = 0; i < sizeof refused / sizeof *refused; i++)
        if (ch <= refused[i][1])
            return ch >= refused[i][0];
    return false;
}

int char_width(uint32_t ch)
{
    return is_refused(ch) ? -1 : text_cp_width(ch);
}

size_t grid_row_text(const struct grid *g, int y, char *dst, size_t cap)
{
    size_t n = 0, end = 0;
    for (int x = 0; x < g->cols; x++) {
        const struct cell *c = grid_at(g, x, y);
        if (c->width == 0 || n + 16 > cap)
            continue;
        n += (size_t)utf8_put(dst + n, c->ch);
        for (int i = 0; i < 2 && c->mark[i]; i++)
            n += (size_t)utf8_put(dst + n, c->mark[i]);
        if (c->ch != ' ')
            end = n;
    }
    dst[end] = '\0';
    return end;
}

static const struct {
    const char *name;
    char letter;
} roles[ROLE_COUNT] = {
    [ROLE_TEXT] = {"text", '.'},
    [ROLE_DIM] = {"dim", 'd'},
    [ROLE_LABEL] = {"label", 'l'},
    [ROLE_VALUE] = {"value", 'v'},
    [ROLE_TITLE] = {"title", 't'},
    [ROLE_KEEL] = {"keel", 'k'},
    [ROLE_TREND] = {"trend", 's'},
    [ROLE_LIMIT] = {"limit", 'i'},
    [ROLE_KEY] = {"key", 'y'},
    [ROLE_NOTE] = {"note", 'n'},
    [ROLE_CHOSEN] = {"chosen", 'h'},
    [ROLE_CAUTION] = {"caution", 'c'},
    [ROLE_WARNING] = {"warning", 'w'},
    [ROLE_ALARM] = {"alarm", 'a'},
    [ROLE_EMERGENCY] = {"emergency", 'e'},
    [ROLE_SERIES_1] = {"series-1", '1'},
    [ROLE_SERIES_2] = {"series-2", '2'},
    [ROLE_SERIES_3] = {"series-3", '3'},
    [ROLE_SERIES_4] = {"series-4", '4'},
};

const char *role_text(enum role r)
{
    return roles[r < ROLE_COUNT ? r : ROLE_TEXT].name;
}

size_t grid_row_roles(const struct grid *g, int y, char *dst, size_t cap)
{
    size_t n = 0, end = 0;
    for (int x = 0; x < g->cols && n + 1 < cap; x++) {
        const struct cell *c = grid_at(g, x, y);
        bool blank = (c->ch == ' ' || c->ch == 0) && !(c->attr & (ATTR_REVERSE | ATTR_UNDERLINE));
        char letter = blank ? '.' : roles[c->role].letter;
        /* Reverse in capitals; text in reverse as '#'. */
        if (c->attr & ATTR_REVERSE)
            letter = letter == '.' ? '#' : (char)(letter >= 'a' ? letter - 32 : letter);
        else if ((c->attr & ATTR_UNDERLINE) && letter == '.')
            letter = '_';
        dst[n++] = letter;
        if (letter != '.')
            end = n;
    }
    dst[end] = '\0';
    return end;
}
