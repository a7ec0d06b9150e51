#include "screen/trend.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/glyphs.h"
#include "screen/rows.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define MIN_NS (60 * NS_PER_S)

const int64_t trend_spans_ns[] = {2 * MIN_NS,   5 * MIN_NS,    10 * MIN_NS,  30 * MIN_NS,
                                  60 * MIN_NS,  120 * MIN_NS,  180 * MIN_NS, 360 * MIN_NS,
                                  720 * MIN_NS, 1440 * MIN_NS, 2160 * MIN_NS};
const int trend_span_count = sizeof trend_spans_ns / sizeof trend_spans_ns[0];

enum { AXIS_W = 8, SERIES = 4 };

int64_t trend_span_ns(const struct ui *ui)
{
    return ui->trend.zoom_ns ? ui->trend.zoom_ns : trend_spans_ns[ui->trend.span];
}

int64_t trend_end_ns(const struct ui *ui, const struct model *m)
{
    const struct ui_trend *t = &ui->trend;
    return t->zoom_ns ? t->zoom_from_ns + t->zoom_ns : m->now.mono_ns;
}

/* Where things are, from the body alone. */
struct plan {
    struct rect legend, plot, axis; /* plot: curves; axis: one line of times below */
    struct graph_span span;
};

static struct plan plan_of(const struct grid *g, struct rect body, const struct model *m,
                           const struct ui *ui)
{
    struct plan p = {0};
    int legend = ui->trend.count < 1 ? 1 : ui->trend.count;
    if (legend > body.h - 4)
        legend = body.h > 5 ? body.h - 4 : 1;
    p.legend = (struct rect){body.x, body.y, body.w, legend};
    int axis_w = body.w >= 40 ? AXIS_W : 0, axis_h = body.h - legend >= 5 ? 1 : 0;
    p.plot = (struct rect){body.x + axis_w, body.y + legend, body.w - axis_w - 1,
                           body.h - legend - axis_h};
    p.axis = (struct rect){p.plot.x, p.plot.y + p.plot.h, p.plot.w, axis_h};
    if (p.plot.w < 1)
        p.plot.w = 1;
    p.span = graph_span(g, trend_end_ns(ui, m), trend_span_ns(ui), p.plot.w);
    return p;
}

static enum role series_role(int i)
{
    return (enum role)(ROLE_SERIES_1 + i);
}

static int channels_of(const struct model *m, const struct ui *ui,
                       const struct model_channel *out[SERIES])
{
    int n = 0;
    for (int i = 0; i < ui->trend.count; i++) {
        const struct model_channel *c = model_find(m, ui->trend.keys[i]);
        if (c)
            out[n++] = c;
    }
    return n;
}

/* ---- legend and cursors ---- */

/* The column of a moment, kept within the plot. */
static int column_of(const struct plan *p, int64_t mono_ns)
{
    int x = graph_cell_of(&p->span, mono_ns);
    return x < 0 ? 0 : x > p->plot.w - 1 ? p->plot.w - 1 : x;
}

/* What the channel did from one cell to another, both counted in. */
static bool read_between(const struct plan *p, const struct model_channel *c, int from, int to,
                         struct history_bucket *b)
{
    int64_t from_ns = graph_cell_from(&p->span, from), to_ns = graph_cell_from(&p->span, to + 1);
    return graph_stretch(c->history, from_ns < 0 ? 0 : from_ns, to_ns, p->span.now_ns, c->period_ns,
                         b);
}

/* "14:02:10  29 °C  (28 to 30)". */
static void one_cursor(const struct plan *p, const struct model *m, const struct ui *ui,
                       const struct model_channel *c, const char *unit, char *dst, size_t cap)
{
    char clock[24], value[32], low[32], high[32];
    struct history_bucket b;
    int at = column_of(p, ui->trend.cursor_ns);
    chart_time_text(m, graph_cell_from(&p->span, at), true, clock, sizeof clock);
    if (read_between(p, c, at, at, &b))
        text_format(dst, cap, "%s  %s %s  (%s to %s)", clock,
                    model_value_text(m, c, (double)b.mean, value, sizeof value), unit,
                    model_value_text(m, c, (double)b.low, low, sizeof low),
                    model_value_text(m, c, (double)b.high, high, sizeof high));
    else
        text_format(dst, cap, "%s  --", clock);
}

/* "14:02:10 to 14:05:00  29 to 66 °C, difference +37". */
static void two_cursors(const struct plan *p, const struct model *m, const struct ui *ui,
                        const struct model_channel *c, const char *unit, char *dst, size_t cap)
{
    char from[24], to[24], low[32], high[32], change[32];
    struct history_bucket all, first, last;
    int a = column_of(p, ui->trend.second_ns), b = column_of(p, ui->trend.cursor_ns);
    int left = a < b ? a : b, right = a < b ? b : a;
    chart_time_text(m, graph_cell_from(&p->span, left), true, from, sizeof from);
    chart_time_text(m, graph_cell_from(&p->span, right), true, to, sizeof to);
    text_format(dst, cap, "%s to %s  ", from, to);
    if (!read_between(p, c, left, right, &all)) {
        text_append(dst, cap, "--");
        return;
    }
    text_append(dst, cap, "lowest %s  highest %s %s",
                model_value_text(m, c, (double)all.low, low, sizeof low),
                model_value_text(m, c, (double)all.high, high, sizeof high), unit);
    enum unit u = model_unit(&m->units, c->unit);
    if (read_between(p, c, left, left, &first) && read_between(p, c, right, right, &last) &&
        text_number(change, sizeof change,
                    unit_from_base_difference(u, (double)last.mean - (double)first.mean),
                    c->decimals + (u == UNIT_BAR ? 2 : 0)))
        text_append(dst, cap, "  change %s%s", change[0] == '-' ? "" : "+", change);
}

/* The unit of the first curve: the one the axis has. */
static enum unit axis_unit(const struct model *m, const struct ui *ui)
{
    const struct model_channel *c = model_find(m, ui->trend.keys[0]);
    return c ? c->unit : UNIT_NONE;
}

static void draw_legend(struct grid *g, const struct plan *p, const struct model *m,
                        const struct ui *ui, int i, const struct model_channel *c,
                        const struct graph *curve)
{
    char label[64], text[200], value[32], low[32], high[32];
    enum unit u = model_unit(&m->units, c->unit);
    const char *unit = g->ascii ? unit_ascii(u) : unit_text(u);
    int y = p->legend.y + i, x = p->legend.x + 1, end = p->legend.x + p->legend.w - 1;
    if (i >= p->legend.h)
        return;
    if (i == 0)
        end -= 9; /* the span stands there */
    rows_plain_label(m, c, label, sizeof label);
    text_format(text, sizeof text, "%d %s", i + 1, label);
    if (ui->trend.count > 1) {
        grid_run(g, (struct rect){x, y, 2, 1}, GLYPH_HEAVY_LINE, series_role(i), ATTR_LINE);
        x += 3;
    }
    x += grid_text(g, x, y, 28, text, ROLE_TITLE, ATTR_BOLD) + 2;
    if (ui->trend.cursor_on) {
        if (ui->trend.second_on)
            two_cursors(p, m, ui, c, unit, text, sizeof text);
        else
            one_cursor(p, m, ui, c, unit, text, sizeof text);
        grid_text(g, x, y, end - x, text, ROLE_VALUE, 0);
        return;
    }
    /* Zoomed into the past, what is now is another matter. */
    text_format(text, sizeof text, "%s %s",
                ui->trend.zoom_ns ? "" : model_reading_text(m, c, value, sizeof value), unit);
    bool old = !ui->trend.zoom_ns && (c->off || c->status == READING_STALE);
    if (old)
        text_append(text, sizeof text, ", %s", model_age_text(c, low, sizeof low));
    x += grid_text(g, x, y, end - x, text, old ? ROLE_DIM : ROLE_VALUE, 0) + 2;
    double lowest, highest;
    if (!graph_extremes(curve, &lowest, &highest))
        return;
    bool apart = ui->trend.together && i > 0 && c->unit != axis_unit(m, ui);
    text_format(text, sizeof text, "%s to %s%s", model_value_text(m, c, lowest, low, sizeof low),
                model_value_text(m, c, highest, high, sizeof high),
                apart ? ", on a scale of its own" : "");
    x += grid_text(g, x, y, end - x, text, ROLE_DIM, 0) + 2;
    text_format(text, sizeof text, "limit %s",
                model_value_text(m, c, c->limit, value, sizeof value));
    if (c->has_limit && x + grid_width(g, text) <= end)
        x += grid_text(g, x, y, end - x, text, ROLE_LIMIT, 0) + 2;
    if (c->id.quantity != QTY_EXHAUST || c->engine < 0 || c->alert >= 0)
        return;
    /* How soon the watch tells lost water, unless something of it is told already; what it goes by
     * stands in the bus view. */
    text_copy(text, sizeof text, m->sense[c->engine]);
    text[strcspn(text, ":")] = '\0';
    if (x + grid_width(g, text) <= end)
        grid_text(g, x, y, end - x, text, ROLE_DIM, 0);
}

static void draw_cursor(struct grid *g, const struct plan *p, int64_t mono_ns)
{
    int x = p->plot.x + column_of(p, mono_ns);
    for (int y = p->plot.y; y < p->plot.y + p->plot.h; y++)
        if (x < g->cols && y < g->rows && grid_at(g, x, y)->ch == ' ')
            grid_put(g, x, y, GLYPH_KEEL, ROLE_KEY, 0);
    grid_put(g, x, p->plot.y, GLYPH_POINTER_DOWN, ROLE_KEY, 0);
}

/* ---- curves ---- */

/* What one picture has: its curve, and the axis over it and over those that share its scale. */
static struct chart_axis axis_of(const struct model *m, const struct model_channel *channels[],
                                 const struct graph *curves, int n, int i, bool together, int h)
{
    const struct model_channel *c = channels[i];
    double low = INFINITY, high = -INFINITY, l, t;
    for (int k = 0; k < n; k++) {
        bool shares = k == i || channels[k]->id.quantity == c->id.quantity ||
                      (together && channels[k]->unit == c->unit);
        if (shares && graph_extremes(&curves[k], &l, &t)) {
            low = fmin(low, l);
            high = fmax(high, t);
        }
    }
    if (low > high)
        low = 0, high = 1;
    double room = 1.5 * fmax(high - low, 1e-6);
    if (c->has_limit && fabs(c->limit - (c->limit_above ? high : low)) <= room) {
        low = fmin(low, c->limit);
        high = fmax(high, c->limit);
    }
    return chart_axis(m, c, low, high, h);
}

/* The part of r whose height the ticks divide, from below. */
static struct rect ticked(struct rect r, const struct chart_axis *axis)
{
    int gap = (r.h - 1) / axis->ticks, h = gap * axis->ticks + 1;
    return gap < 1 ? r : (struct rect){r.x, r.y + r.h - h, r.w, h};
}

static void draw_band(struct grid *g, struct rect r, const struct plan *p,
                      const struct model_channel *c, struct scale s)
{
    struct graph edges[2];
    if (!c->expected_low || !c->expected_high)
        return;
    struct graph_span cells = p->span;
    cells.per_cell = 1; /* a band needs no finer steps */
    graph_read(&edges[0], &cells, c->expected_low, NS_PER_S);
    graph_read(&edges[1], &cells, c->expected_high, NS_PER_S);
    graph_band(g, r, &edges[0], &edges[1], s, ROLE_KEEL);
}

static void draw_curves(struct grid *g, const struct plan *p, const struct model *m,
                        const struct ui *ui, const struct model_channel *channels[],
                        const struct graph curves[], int n)
{
    bool together = ui->trend.together && n > 1;
    int bands = together || p->plot.h / n < 3 ? 1 : n, shown = bands == 1 && !together ? 1 : n;
    struct chart_axis axis = {0};
    for (int i = 0; i < shown; i++) {
        int top = p->plot.y + (together ? 0 : i * p->plot.h / bands);
        int bottom = p->plot.y + (together ? p->plot.h : (i + 1) * p->plot.h / bands);
        struct rect r = {p->plot.x, top, p->plot.w, bottom - top - (bands > 1 && bottom - top > 4)};
        /* Like quantities share a scale, so that equal heights are equal values. */
        if (!together || i == 0 || channels[i]->unit != channels[0]->unit)
            axis = axis_of(m, channels, curves, n, i, together, r.h);
        r = ticked(r, &axis);
        if (!together || i == 0)
            draw_band(g, r, p, channels[i], axis.scale);
        enum role role = series_role(i);
        graph_draw(g, r, &curves[i], axis.scale, (struct graph_ink){.role = role, .over = role});
        if (n > 1 && channels[i]->status == READING_OK && !ui->trend.zoom_ns) {
            int level = scale_level(axis.scale, channels[i]->value, graph_top(g, r.h));
            int y = r.y + r.h - 1 - level * r.h / (graph_top(g, r.h) + 1);
            grid_put(g, r.x + r.w, y, (uint32_t)('1' + i), ROLE_VALUE, 0);
        }
        if (channels[i]->has_limit && (!together || i == 0))
            graph_level(g, r, axis.scale, channels[i]->limit, ROLE_LIMIT);
        if (!together || i == 0)
            chart_values(g, r, p->plot.x > 0 ? AXIS_W : 0, m, channels[i], &axis);
        chart_marks(g, r, &p->span, m, channels[i]->key);
    }
}

void trend_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui)
{
    const struct model_channel *channels[SERIES];
    struct graph curves[SERIES];
    int n = channels_of(m, ui, channels);
    char text[40];
    if (n == 0) {
        grid_text(g, body.x + 1, body.y, body.w - 2, "choose a channel on the board first",
                  ROLE_DIM, 0);
        return;
    }
    struct plan p = plan_of(g, body, m, ui);
    for (int i = 0; i < n; i++)
        graph_read(&curves[i], &p.span, channels[i]->history, channels[i]->period_ns);
    draw_curves(g, &p, m, ui, channels, curves, n);
    if (p.axis.h)
        chart_times(g, p.axis, &p.span, m);
    for (int i = 0; i < n; i++)
        draw_legend(g, &p, m, ui, i, channels[i], &curves[i]);
    if (ui->trend.cursor_on && ui->trend.second_on)
        draw_cursor(g, &p, ui->trend.second_ns);
    if (ui->trend.cursor_on)
        draw_cursor(g, &p, ui->trend.cursor_ns);
    /* More than was asked for, where a cell would be less than a second. */
    int64_t asked = trend_span_ns(ui), drawn = p.span.cells * p.span.cell_ns;
    model_span_text(drawn > asked ? drawn : asked, text, sizeof text);
    grid_text_right(g, body.x, body.y, body.w - 1, text, ROLE_DIM, 0);
}

/* ---- what keys do ---- */

/* Channels in the order of the board; the next after `key` that is not shown yet, or NULL. */
static const struct model_channel *neighbour(const struct model *m, const struct ui *ui,
                                             const char *key, int step)
{
    struct board_rows rows;
    const struct model_channel *all[(ROWS_MAX + PLAINS_MAX) * ROW_CELLS];
    int n = 0, at = 0;
    rows_fill(&rows, m, ui->filter);
    for (int i = 0; i < rows.twin_count; i++)
        for (int s = 0; s < rows.sides; s++)
            if (rows.twins[i].side[s])
                all[n++] = rows.twins[i].side[s];
    for (int i = 0; i < rows.plain_count; i++)
        for (int s = 0; s < ROW_CELLS; s++)
            if (rows.plains[i].side[s])
                all[n++] = rows.plains[i].side[s];
    for (int i = 0; i < n; i++)
        if (strcmp(all[i]->key, key) == 0)
            at = i;
    for (int k = 1; k <= n; k++) {
        const struct model_channel *c = all[((at + k * step) % n + n) % n];
        bool shown = false;
        for (int i = 0; i < ui->trend.count; i++)
            shown |= strcmp(ui->trend.keys[i], c->key) == 0;
        if (!shown)
            return c;
    }
    return NULL;
}

static void add_curve(struct ui *ui, const struct model *m)
{
    struct ui_trend *t = &ui->trend;
    if (t->count >= SERIES) {
        t->count = 1;
        return;
    }
    const struct model_channel *c = t->count ? neighbour(m, ui, t->keys[t->count - 1], 1) : NULL;
    if (c)
        text_copy(t->keys[t->count++], sizeof t->keys[0], c->key);
}

/* Cells are as wide on every kind of terminal. */
static struct plan plan_now(const struct ui *ui, const struct model *m)
{
    return plan_of(&(struct grid){0}, bars_layout(ui, m).body, m, ui);
}

static void move_cursor(struct ui *ui, const struct model *m, int step)
{
    struct plan p = plan_now(ui, m);
    struct ui_trend *t = &ui->trend;
    if (!t->cursor_on) {
        t->cursor_on = true;
        t->second_on = false;
        t->cursor_ns = graph_cell_from(&p.span, p.plot.w - 1);
        return;
    }
    int at = column_of(&p, t->cursor_ns) + step;
    at = at < 0 ? 0 : at > p.plot.w - 1 ? p.plot.w - 1 : at;
    t->cursor_ns = graph_cell_from(&p.span, at);
}

static void set_second(struct ui *ui)
{
    struct ui_trend *t = &ui->trend;
    if (!t->cursor_on) {
        text_copy(ui->notice, sizeof ui->notice, "set a cursor first: left and right move it");
        return;
    }
    t->second_on = !t->second_on;
    t->second_ns = t->cursor_ns;
}

/* To what lies between the cursors; back where it was zoomed. */
static void zoom(struct ui *ui)
{
    struct ui_trend *t = &ui->trend;
    int64_t from = t->second_ns < t->cursor_ns ? t->second_ns : t->cursor_ns;
    int64_t to = t->second_ns < t->cursor_ns ? t->cursor_ns : t->second_ns;
    if (t->zoom_ns) {
        t->zoom_ns = 0;
    } else if (t->cursor_on && t->second_on && to - from >= 10 * NS_PER_S) {
        t->zoom_from_ns = from;
        t->zoom_ns = to - from;
        t->cursor_on = t->second_on = false;
    } else {
        text_copy(ui->notice, sizeof ui->notice,
                  "zoom needs two cursors: left and right, enter sets the second");
    }
}

static bool step_channel(struct ui *ui, const struct model *m, int step)
{
    struct ui_trend *t = &ui->trend;
    t->count = t->count ? 1 : 0;
    const struct model_channel *c = neighbour(m, ui, t->keys[0], step);
    if (c) {
        text_copy(t->keys[0], sizeof t->keys[0], c->key);
        text_copy(ui->chosen, sizeof ui->chosen, c->key);
        t->count = 1;
    }
    return true;
}

static bool go_back(struct ui_trend *t)
{
    bool took = t->cursor_on || t->zoom_ns;
    if (t->second_on)
        t->second_on = false;
    else if (t->cursor_on)
        t->cursor_on = false;
    else
        t->zoom_ns = 0;
    return took;
}

bool trend_handle(struct ui *ui, const struct model *m, enum action a)
{
    struct ui_trend *t = &ui->trend;
    switch (a) {
    case ACTION_UP:
        return step_channel(ui, m, -1);
    case ACTION_DOWN:
        return step_channel(ui, m, 1);
    case ACTION_LEFT:
        move_cursor(ui, m, -1);
        return true;
    case ACTION_RIGHT:
        move_cursor(ui, m, 1);
        return true;
    case ACTION_PAGE_UP:
        move_cursor(ui, m, -10);
        return true;
    case ACTION_PAGE_DOWN:
        move_cursor(ui, m, 10);
        return true;
    case ACTION_CHOOSE:
        set_second(ui);
        return true;
    case ACTION_ZOOM:
        zoom(ui);
        return true;
    case ACTION_LONGER:
        t->span += t->span < trend_span_count - 1;
        t->zoom_ns = 0;
        return true;
    case ACTION_SHORTER:
        t->span -= t->span > 0;
        t->zoom_ns = 0;
        return true;
    case ACTION_ADD:
        add_curve(ui, m);
        return true;
    case ACTION_NEXT_FIELD:
        t->together = !t->together;
        return true;
    case ACTION_BACK:
        return go_back(t);
    default:
        return false;
    }
}
