#include "screen/cells.h"

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

/* Ranges by the East Asian Width and general categories of the Unicode Character Database (14.0),
 * in order: the marks (Mn, Me) of the basic plane, and all that is wide; what is not assigned goes
 * with what lies around it. */
struct range {
    uint32_t from, to;
};
static const struct range refused[] = {
    {0x0000, 0x001F}, {0x007F, 0x009F}, {0x00AD, 0x00AD}, {0x200B, 0x200F}, {0x2028, 0x202E},
    {0x2060, 0x206F}, {0xD800, 0xF8FF}, {0xFEFF, 0xFEFF}, {0xFFF0, 0xFFFF}, {0xE0000, UINT32_MAX}};
static const struct range combining[] = {
    {0x0300, 0x036F}, {0x0483, 0x0489}, {0x0591, 0x05BD}, {0x05BF, 0x05BF}, {0x05C1, 0x05C2},
    {0x05C4, 0x05C5}, {0x05C7, 0x05C7}, {0x0610, 0x061A}, {0x064B, 0x065F}, {0x0670, 0x0670},
    {0x06D6, 0x06DC}, {0x06DF, 0x06E4}, {0x06E7, 0x06E8}, {0x06EA, 0x06ED}, {0x0711, 0x0711},
    {0x0730, 0x074A}, {0x07A6, 0x07B0}, {0x07EB, 0x07F3}, {0x07FD, 0x07FD}, {0x0816, 0x0819},
    {0x081B, 0x0823}, {0x0825, 0x0827}, {0x0829, 0x082D}, {0x0859, 0x085B}, {0x0898, 0x089F},
    {0x08CA, 0x08E1}, {0x08E3, 0x0902}, {0x093A, 0x093A}, {0x093C, 0x093C}, {0x0941, 0x0948},
    {0x094D, 0x094D}, {0x0951, 0x0957}, {0x0962, 0x0963}, {0x0981, 0x0981}, {0x09BC, 0x09BC},
    {0x09C1, 0x09C4}, {0x09CD, 0x09CD}, {0x09E2, 0x09E3}, {0x09FE, 0x0A02}, {0x0A3C, 0x0A3C},
    {0x0A41, 0x0A51}, {0x0A70, 0x0A71}, {0x0A75, 0x0A75}, {0x0A81, 0x0A82}, {0x0ABC, 0x0ABC},
    {0x0AC1, 0x0AC8}, {0x0ACD, 0x0ACD}, {0x0AE2, 0x0AE3}, {0x0AFA, 0x0B01}, {0x0B3C, 0x0B3C},
    {0x0B3F, 0x0B3F}, {0x0B41, 0x0B44}, {0x0B4D, 0x0B56}, {0x0B62, 0x0B63}, {0x0B82, 0x0B82},
    {0x0BC0, 0x0BC0}, {0x0BCD, 0x0BCD}, {0x0C00, 0x0C00}, {0x0C04, 0x0C04}, {0x0C3C, 0x0C3C},
    {0x0C3E, 0x0C40}, {0x0C46, 0x0C56}, {0x0C62, 0x0C63}, {0x0C81, 0x0C81}, {0x0CBC, 0x0CBC},
    {0x0CBF, 0x0CBF}, {0x0CC6, 0x0CC6}, {0x0CCC, 0x0CCD}, {0x0CE2, 0x0CE3}, {0x0D00, 0x0D01},
    {0x0D3B, 0x0D3C}, {0x0D41, 0x0D44}, {0x0D4D, 0x0D4D}, {0x0D62, 0x0D63}, {0x0D81, 0x0D81},
    {0x0DCA, 0x0DCA}, {0x0DD2, 0x0DD6}, {0x0E31, 0x0E31}, {0x0E34, 0x0E3A}, {0x0E47, 0x0E4E},
    {0x0EB1, 0x0EB1}, {0x0EB4, 0x0EBC}, {0x0EC8, 0x0ECD}, {0x0F18, 0x0F19}, {0x0F35, 0x0F35},
    {0x0F37, 0x0F37}, {0x0F39, 0x0F39}, {0x0F71, 0x0F7E}, {0x0F80, 0x0F84}, {0x0F86, 0x0F87},
    {0x0F8D, 0x0FBC}, {0x0FC6, 0x0FC6}, {0x102D, 0x1030}, {0x1032, 0x1037}, {0x1039, 0x103A},
    {0x103D, 0x103E}, {0x1058, 0x1059}, {0x105E, 0x1060}, {0x1071, 0x1074}, {0x1082, 0x1082},
    {0x1085, 0x1086}, {0x108D, 0x108D}, {0x109D, 0x109D}, {0x135D, 0x135F}, {0x1712, 0x1714},
    {0x1732, 0x1733}, {0x1752, 0x1753}, {0x1772, 0x1773}, {0x17B4, 0x17B5}, {0x17B7, 0x17BD},
    {0x17C6, 0x17C6}, {0x17C9, 0x17D3}, {0x17DD, 0x17DD}, {0x180B, 0x180D}, {0x180F, 0x180F},
    {0x1885, 0x1886}, {0x18A9, 0x18A9}, {0x1920, 0x1922}, {0x1927, 0x1928}, {0x1932, 0x1932},
    {0x1939, 0x193B}, {0x1A17, 0x1A18}, {0x1A1B, 0x1A1B}, {0x1A56, 0x1A56}, {0x1A58, 0x1A60},
    {0x1A62, 0x1A62}, {0x1A65, 0x1A6C}, {0x1A73, 0x1A7F}, {0x1AB0, 0x1B03}, {0x1B34, 0x1B34},
    {0x1B36, 0x1B3A}, {0x1B3C, 0x1B3C}, {0x1B42, 0x1B42}, {0x1B6B, 0x1B73}, {0x1B80, 0x1B81},
    {0x1BA2, 0x1BA5}, {0x1BA8, 0x1BA9}, {0x1BAB, 0x1BAD}, {0x1BE6, 0x1BE6}, {0x1BE8, 0x1BE9},
    {0x1BED, 0x1BED}, {0x1BEF, 0x1BF1}, {0x1C2C, 0x1C33}, {0x1C36, 0x1C37}, {0x1CD0, 0x1CD2},
    {0x1CD4, 0x1CE0}, {0x1CE2, 0x1CE8}, {0x1CED, 0x1CED}, {0x1CF4, 0x1CF4}, {0x1CF8, 0x1CF9},
    {0x1DC0, 0x1DFF}, {0x20D0, 0x20F0}, {0x2CEF, 0x2CF1}, {0x2D7F, 0x2D7F}, {0x2DE0, 0x2DFF},
    {0x302A, 0x302D}, {0x3099, 0x309A}, {0xA66F, 0xA672}, {0xA674, 0xA67D}, {0xA69E, 0xA69F},
    {0xA6F0, 0xA6F1}, {0xA802, 0xA802}, {0xA806, 0xA806}, {0xA80B, 0xA80B}, {0xA825, 0xA826},
    {0xA82C, 0xA82C}, {0xA8C4, 0xA8C5}, {0xA8E0, 0xA8F1}, {0xA8FF, 0xA8FF}, {0xA926, 0xA92D},
    {0xA947, 0xA951}, {0xA980, 0xA982}, {0xA9B3, 0xA9B3}, {0xA9B6, 0xA9B9}, {0xA9BC, 0xA9BD},
    {0xA9E5, 0xA9E5}, {0xAA29, 0xAA2E}, {0xAA31, 0xAA32}, {0xAA35, 0xAA36}, {0xAA43, 0xAA43},
    {0xAA4C, 0xAA4C}, {0xAA7C, 0xAA7C}, {0xAAB0, 0xAAB0}, {0xAAB2, 0xAAB4}, {0xAAB7, 0xAAB8},
    {0xAABE, 0xAABF}, {0xAAC1, 0xAAC1}, {0xAAEC, 0xAAED}, {0xAAF6, 0xAAF6}, {0xABE5, 0xABE5},
    {0xABE8, 0xABE8}, {0xABED, 0xABED}, {0xFB1E, 0xFB1E}, {0xFE00, 0xFE0F}, {0xFE20, 0xFE2F}};
static const struct range wide[] = {
    {0x1100, 0x115F},   {0x231A, 0x231B},   {0x2329, 0x232A},   {0x23E9, 0x23EC},
    {0x23F0, 0x23F0},   {0x23F3, 0x23F3},   {0x25FD, 0x25FE},   {0x2614, 0x2615},
    {0x2648, 0x2653},   {0x267F, 0x267F},   {0x2693, 0x2693},   {0x26A1, 0x26A1},
    {0x26AA, 0x26AB},   {0x26BD, 0x26BE},   {0x26C4, 0x26C5},   {0x26CE, 0x26CE},
    {0x26D4, 0x26D4},   {0x26EA, 0x26EA},   {0x26F2, 0x26F3},   {0x26F5, 0x26F5},
    {0x26FA, 0x26FA},   {0x26FD, 0x26FD},   {0x2705, 0x2705},   {0x270A, 0x270B},
    {0x2728, 0x2728},   {0x274C, 0x274C},   {0x274E, 0x274E},   {0x2753, 0x2755},
    {0x2757, 0x2757},   {0x2795, 0x2797},   {0x27B0, 0x27B0},   {0x27BF, 0x27BF},
    {0x2B1B, 0x2B1C},   {0x2B50, 0x2B50},   {0x2B55, 0x2B55},   {0x2E80, 0x303E},
    {0x3041, 0x3247},   {0x3250, 0x4DBF},   {0x4E00, 0xA4C6},   {0xA960, 0xA97C},
    {0xAC00, 0xD7A3},   {0xF900, 0xFAFF},   {0xFE10, 0xFE19},   {0xFE30, 0xFE6B},
    {0xFF01, 0xFF60},   {0xFFE0, 0xFFE6},   {0x16FE0, 0x1B2FB}, {0x1F004, 0x1F004},
    {0x1F0CF, 0x1F0CF}, {0x1F18E, 0x1F18E}, {0x1F191, 0x1F19A}, {0x1F200, 0x1F320},
    {0x1F32D, 0x1F335}, {0x1F337, 0x1F37C}, {0x1F37E, 0x1F393}, {0x1F3A0, 0x1F3CA},
    {0x1F3CF, 0x1F3D3}, {0x1F3E0, 0x1F3F0}, {0x1F3F4, 0x1F3F4}, {0x1F3F8, 0x1F43E},
    {0x1F440, 0x1F440}, {0x1F442, 0x1F4FC}, {0x1F4FF, 0x1F53D}, {0x1F54B, 0x1F54E},
    {0x1F550, 0x1F567}, {0x1F57A, 0x1F57A}, {0x1F595, 0x1F596}, {0x1F5A4, 0x1F5A4},
    {0x1F5FB, 0x1F64F}, {0x1F680, 0x1F6C5}, {0x1F6CC, 0x1F6CC}, {0x1F6D0, 0x1F6D2},
    {0x1F6D5, 0x1F6DF}, {0x1F6EB, 0x1F6EC}, {0x1F6F4, 0x1F6FC}, {0x1F7E0, 0x1F7F0},
    {0x1F90C, 0x1F93A}, {0x1F93C, 0x1F945}, {0x1F947, 0x1F9FF}, {0x1FA70, 0x1FAF6},
    {0x20000, 0x3FFFD}};

static bool is_among(const struct range r[], size_t n, uint32_t ch)
{
    size_t low = 0, high = n;
    while (low < high) { /* to the first that does not end before it */
        size_t middle = (low + high) / 2;
        if (r[middle].to < ch)
            low = middle + 1;
        else
            high = middle;
    }
    return low < n && ch >= r[low].from;
}

#define IS_AMONG(ranges, ch) is_among(ranges, sizeof ranges / sizeof ranges[0], ch)

int char_width(uint32_t ch)
{
    if (IS_AMONG(refused, ch))
        return -1;
    if (IS_AMONG(combining, ch))
        return 0;
    return IS_AMONG(wide, ch) ? 2 : 1;
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
