#include "screen/graph.h"

#include "base/order.h"
#include "base/when.h"
#include "screen/glyphs.h"

#include <math.h>

#include "base/banned.h"

#define HEARD_NS NS_PER_S /* a column is drawn once it is this old */
#define LEAST    0.1      /* of its value: the finest scale of what has no limit */
#define PLAIN    3        /* levels a cell where there is no braille */

/* ---- scales ---- */

double scale_nice(double v)
{
    if (!(v > 0))
        return 1;
    double p = pow(10, floor(log10(v)));
    static const double steps[] = {1, 2, 5, 10};
    for (int i = 0; i < 4; i++)
        if (steps[i] * p >= v * (1 - 1e-9))
            return steps[i] * p;
    return 10 * p;
}

/* A scale as factors, so that a column costs no division. */
struct measure {
    double low, per_unit;
    int top;
    bool root, down;
};

static struct measure measure_of(struct scale s, int top)
{
    return (struct measure){s.low, 1 / (s.high - s.low), top, s.root, s.root && s.high < s.low};
}

static inline int level_of(const struct measure *m, double v)
{
    double part = (v - m->low) * m->per_unit;
    if (!(part > 0))
        part = 0;
    if (part > 1)
        part = 1;
    if (m->root)
        part = sqrt(part);
    int level = (int)(part * m->top + 0.5);
    return m->down ? m->top - level : level;
}

int scale_level(struct scale s, double v, int top)
{
    struct measure m = measure_of(s, top);
    return level_of(&m, v);
}

struct scale graph_scale(const struct graph *const c[], int n, bool has_limit, double limit)
{
    double normal = limit, low = INFINITY, high = -INFINITY, v, t;
    for (int i = 0; i < n && has_limit; i++)
        if (graph_median(c[i], &v) && fabs(v - limit) > fabs(normal - limit))
            normal = v;
    if (has_limit && fabs(limit - normal) > LEAST * fabs(limit))
        return (struct scale){normal, limit, true};
    for (int i = 0; i < n; i++)
        if (graph_extremes(c[i], &v, &t)) {
            low = fmin(low, v);
            high = fmax(high, t);
        }
    if (low > high)
        return (struct scale){0, 1, false};
    double least = fmax(LEAST * fmax(fabs(low), fabs(high)), 1e-6), middle = (low + high) / 2;
    if (high - low < least)
        return (struct scale){middle - least / 2, middle + least / 2, false};
    return (struct scale){low, high, false};
}

/* ---- time ---- */

struct graph_span graph_span(const struct grid *g, int64_t now_ns, int64_t span_ns, int cells)
{
    struct graph_span s = {.now_ns = now_ns, .cells = cells < 1 ? 1 : cells};
    bool braille = !g->ascii && !g->blocks;
    s.cell_ns = span_ns / s.cells;
    if (s.cell_ns < NS_PER_S)
        s.cell_ns = NS_PER_S;
    /* Histories know seconds, no less. */
    s.per_cell = braille && s.cell_ns >= 2 * NS_PER_S && 2 * s.cells <= GRAPH_COLUMNS ? 2 : 1;
    int64_t newest = now_ns > HEARD_NS ? now_ns - HEARD_NS : 0;
    s.last = newest / s.cell_ns;
    return s;
}

int64_t graph_cell_from(const struct graph_span *s, int cell)
{
    return (s->last - (s->cells - 1 - cell)) * s->cell_ns;
}

int graph_cell_of(const struct graph_span *s, int64_t mono_ns)
{
    int64_t cell = mono_ns / s->cell_ns - s->last + s->cells - 1;
    return cell < -1 ? -1 : cell > s->cells ? s->cells : (int)cell;
}

/* What is sent rarely leaves no gap between two readings. */
static bool bridged(const struct history *h, int64_t from_ns, int64_t to_ns, int64_t now_ns,
                    int64_t period_ns, struct history_bucket *b)
{
    struct history_bucket after;
    int64_t reach = period_ns + period_ns / 2, before = from_ns > reach ? from_ns - reach : 0;
    if (to_ns - from_ns >= 2 * reach || !history_span(h, before, from_ns, b))
        return false;
    return to_ns + reach > now_ns || history_span(h, to_ns, to_ns + reach, &after);
}

bool graph_column(const struct history *h, int64_t from_ns, int64_t to_ns, int64_t now_ns,
                  int64_t period_ns, struct history_bucket *b)
{
    if (from_ns < 0)
        return false;
    return history_glance(h, from_ns, to_ns, b) || bridged(h, from_ns, to_ns, now_ns, period_ns, b);
}

bool graph_stretch(const struct history *h, int64_t from_ns, int64_t to_ns, int64_t now_ns,
                   int64_t period_ns, struct history_bucket *b)
{
    return history_span(h, from_ns, to_ns, b) || bridged(h, from_ns, to_ns, now_ns, period_ns, b);
}

void graph_read(struct graph *c, const struct graph_span *s, const struct history *h,
                int64_t period_ns)
{
    c->n = s->cells * s->per_cell;
    if (c->n > GRAPH_COLUMNS)
        c->n = GRAPH_COLUMNS;
    int64_t part = s->cell_ns / s->per_cell;
    for (int i = 0; i < c->n; i++) {
        int64_t from = graph_cell_from(s, i / s->per_cell) + i % s->per_cell * part;
        c->column[i].count = 0;
        if (h && !graph_column(h, from, from + part, s->now_ns, period_ns, &c->column[i]))
            c->column[i].count = 0;
    }
}

bool graph_extremes(const struct graph *c, double *low, double *high)
{
    const struct history_bucket *lowest = NULL, *highest = NULL;
    for (int i = 0; i < c->n; i++) {
        const struct history_bucket *b = &c->column[i];
        if (!b->count)
            continue;
        lowest = lowest && lowest->low < b->low ? lowest : b;
        highest = highest && highest->high > b->high ? highest : b;
    }
    if (!lowest)
        return false;
    *low = (double)lowest->low;
    *high = (double)highest->high;
    return true;
}

bool graph_median(const struct graph *c, double *median)
{
    double means[GRAPH_COLUMNS];
    int n = 0;
    for (int i = 0; i < c->n; i++)
        if (c->column[i].count)
            means[n++] = (double)c->column[i].mean;
    if (n)
        *median = order_at(means, n, n / 2);
    return n > 0;
}

/* ---- ink ---- */

static bool has_braille(const struct grid *g)
{
    return !g->ascii && !g->blocks;
}

int graph_top(const struct grid *g, int h)
{
    return (has_braille(g) ? 4 : PLAIN) * h - 1;
}

/* Levels low to high of one column, in braille. A column that is a whole cell fills both halves. */
static void stroke_braille(struct grid *g, struct rect r, int i, int per_cell, int low, int high,
                           enum role role)
{
    /* By the half that is filled: the dots of a level and of all below it. */
    static const uint8_t up_to[3][5] = {
        {0, 0x40, 0x44, 0x46, 0x47}, {0, 0x80, 0xA0, 0xB0, 0xB8}, {0, 0xC0, 0xE4, 0xF6, 0xFF}};
    int half = per_cell == 1 ? 2 : i % 2, x = r.x + (per_cell == 1 ? i : i / 2);
    for (int row = low / 4; row <= high / 4; row++) {
        int from = low > row * 4 ? low - row * 4 : 0, to = high < row * 4 + 3 ? high - row * 4 : 3;
        grid_dots(g, x, r.y + r.h - 1 - row, up_to[half][to + 1] & ~(unsigned)up_to[half][from],
                  role);
    }
}

/* In blocks or ASCII: a thin line at one of three heights of a cell, or an upright stroke. */
static void stroke_plain(struct grid *g, struct rect r, int i, int low, int high, enum role role)
{
    static const uint32_t lines[2][PLAIN] = {{0x2581, 0x2500, 0x2594}, {'_', '-', '"'}};
    for (int row = low / PLAIN; row <= high / PLAIN; row++) {
        int from = low > row * PLAIN ? low - row * PLAIN : 0;
        int to = high < row * PLAIN + PLAIN - 1 ? high - row * PLAIN : PLAIN - 1;
        uint32_t ch = from == to ? lines[g->ascii][from] : g->ascii ? '|' : GLYPH_KEEL;
        grid_put(g, r.x + i, r.y + r.h - 1 - row, ch, role, ATTR_LINE);
    }
}

void graph_draw(struct grid *g, struct rect r, const struct graph *c, struct scale s,
                struct graph_ink ink)
{
    int before = -1, per_cell = c->n >= 2 * r.w ? 2 : 1;
    struct measure m = measure_of(s, graph_top(g, r.h));
    for (int i = 0; i < c->n && i / per_cell < r.w; i++) {
        const struct history_bucket *b = &c->column[i];
        if (!b->count) {
            before = -1;
            continue;
        }
        int low = level_of(&m, (double)b->low), high = level_of(&m, (double)b->high);
        int mean = low == high ? low : level_of(&m, (double)b->mean);
        if (before >= 0 && before < low)
            low = before + 1;
        if (before >= 0 && before > high)
            high = before - 1;
        bool over = ink.has_limit &&
                    (ink.limit_above ? (double)b->high > ink.limit : (double)b->low < ink.limit);
        enum role role = over ? ink.over : ink.role;
        if (has_braille(g))
            stroke_braille(g, r, i, per_cell, low, high, role);
        else
            stroke_plain(g, r, i, low, high, role);
        before = mean;
    }
}

/* Where nothing stands but other faint things. */
static bool is_free(const struct grid *g, int x, int y)
{
    return x >= 0 && x < g->cols && y >= 0 && y < g->rows && grid_at(g, x, y)->ch == ' ';
}

static int row_of(const struct grid *g, struct rect r, int level)
{
    return r.y + r.h - 1 - level / (has_braille(g) ? 4 : PLAIN);
}

void graph_level(struct grid *g, struct rect r, struct scale s, double v, enum role role)
{
    if (!(v >= s.low && v <= s.high))
        return;
    int y = row_of(g, r, scale_level(s, v, graph_top(g, r.h)));
    for (int x = r.x; x < r.x + r.w; x++)
        if (is_free(g, x, y))
            grid_put(g, x, y, GLYPH_DOTTED, role, ATTR_LINE);
}

/* One column of the band: every other dot, so that a line over it is told from it. */
static void band_column(struct grid *g, struct rect r, int i, int per_cell, int from, int to,
                        enum role role)
{
    if (has_braille(g)) {
        for (int v = from; v <= to; v++)
            if ((v + i) % 2 == 0)
                stroke_braille(g, r, i, per_cell, v, v, role);
        return;
    }
    for (int row = from / PLAIN; row <= to / PLAIN; row++)
        if (is_free(g, r.x + i, r.y + r.h - 1 - row))
            grid_put(g, r.x + i, r.y + r.h - 1 - row, g->ascii ? '.' : GLYPH_SHADE, role,
                     ATTR_LINE);
}

void graph_band(struct grid *g, struct rect r, const struct graph *low, const struct graph *high,
                struct scale s, enum role role)
{
    int top = graph_top(g, r.h), per_cell = low->n >= 2 * r.w ? 2 : 1;
    for (int i = 0; i < low->n && i < high->n && i / per_cell < r.w; i++) {
        if (!low->column[i].count || !high->column[i].count)
            continue;
        double from = (double)low->column[i].mean, to = (double)high->column[i].mean;
        if (to < s.low || from > s.high)
            continue;
        band_column(g, r, i, per_cell, scale_level(s, from, top), scale_level(s, to, top), role);
    }
}

void graph_ahead(struct grid *g, struct rect r, struct scale s, double v, double step, double end,
                 enum role role)
{
    int top = graph_top(g, r.h);
    for (int i = 0; i < r.w; i++, v += step) {
        if ((step > 0 && v > end) || (step < 0 && v < end) || v < s.low || v > s.high)
            return;
        int level = scale_level(s, v, top), y = row_of(g, r, level);
        if (has_braille(g))
            stroke_braille(g, r, 2 * i, 2, level, level, role);
        else if (is_free(g, r.x + i, y))
            grid_put(g, r.x + i, y, g->ascii ? '.' : GLYPH_DOT, role, ATTR_LINE);
    }
}
