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

enum { AXIS_W = 8 };

/* Where things are, from the body alone. */
struct plan {
    struct rect legend, plot, axis; /* plot: curves; axis: one line of times below */
    int64_t column_ns, last;        /* a column's width; index of the newest column */
    int64_t now_ns;
};

static struct plan plan_of(struct rect body, const struct model *m, const struct ui *ui)
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
    p.column_ns = trend_spans_ns[ui->trend.span] / p.plot.w;
    if (p.column_ns < NS_PER_S)
        p.column_ns = NS_PER_S;
    p.now_ns = m->now.mono_ns;
    p.last = p.now_ns / p.column_ns;
    return p;
}

static int64_t column_from(const struct plan *p, int i)
{
    return (p->last - (p->plot.w - 1 - i)) * p->column_ns;
}

static int column_of(const struct plan *p, int64_t mono_ns)
{
    return (int)(mono_ns / p->column_ns - p->last) + p->plot.w - 1;
}

static bool column_read(const struct plan *p, const struct model_channel *c, int i,
                        struct history_bucket *b)
{
    int64_t from = column_from(p, i);
    return spark_column(c->history, from, from + p->column_ns, p->now_ns, c->period_ns, b);
}

struct trend_axis trend_axis(const struct model *m, const struct model_channel *c,
                             const struct model_channel *with)
{
    enum unit u = model_unit(&m->units, c->unit);
    double low = c->has_extremes ? c->low : 0, high = c->has_extremes ? c->high : 1;
    if (with && with->has_extremes) {
        low = fmin(low, with->low);
        high = fmax(high, with->high);
    }
    if (c->has_limit && fabs(c->limit - (c->limit_above ? high : low)) <= 1.5 * (high - low)) {
        low = fmin(low, c->limit);
        high = fmax(high, c->limit);
    }
    double from = unit_from_base(u, low), to = unit_from_base(u, high);
    double least = 4 * pow(10, -c->decimals);
    double step = scale_nice(fmax(to - from, least) / 4);
    from = floor(from / step + 1e-9) * step;
    to = ceil(to / step - 1e-9) * step;
    if (!(to > from))
        to = from + step;
    return (struct trend_axis){.scale = {unit_to_base(u, from), unit_to_base(u, to)},
                               .step = step,
                               .ticks = (int)((to - from) / step + 0.5),
                               .decimals = step < 1 ? (int)ceil(-log10(step) - 1e-9) : 0};
}

/* ---- curves ---- */

static enum role series_role(int i)
{
    return (enum role)(ROLE_SERIES_1 + i);
}

/* Blocks: filled up to the mean, a hint below; the peak of a column stands above it as a mark
 * where it reaches another cell. */
static void draw_blocks(struct grid *g, struct rect r, const struct plan *p,
                        const struct model_channel *c, struct scale s, enum role role)
{
    for (int i = 0; i < p->plot.w; i++) {
        struct history_bucket b;
        if (!column_read(p, c, i, &b))
            continue;
        int x = r.x + i, level = scale_level(s, (double)b.mean, r.h);
        int peak = scale_level(s, (double)b.high, r.h), dip = scale_level(s, (double)b.low, r.h);
        int at = (level - 1) / 8;
        /* Noise within a cell is no peak. */
        int high = peak - level >= 6 ? (peak - 1) / 8 : at;
        int low = level - dip >= 6 ? (dip - 1) / 8 : at;
        for (int row = 0; row <= high; row++) {
            int y = r.y + r.h - 1 - row;
            if (row > at)
                grid_put(g, x, y, 0x2506, role, 0);
            else if (row == at)
                grid_put(g, x, y, glyph_level(level - 8 * row), role, 0);
            else
                grid_put(g, x, y, row >= low ? 0x2592 : GLYPH_SHADE, row >= low ? role : ROLE_KEEL,
                         0);
        }
    }
}

/* Braille: two columns and four rows of dots a cell, from lowest to highest, joined to the column
 * before. */
static void draw_braille(struct grid *g, struct rect r, const struct plan *p,
                         const struct model_channel *c, struct scale s, enum role role)
{
    static const uint8_t dots[2][4] = {{0x40, 0x04, 0x02, 0x01}, {0x80, 0x20, 0x10, 0x08}};
    int top = 4 * r.h - 1, before = -1;
    for (int i = 0; i < 2 * p->plot.w; i++) {
        struct history_bucket b;
        int64_t half = p->column_ns / 2, from = column_from(p, i / 2) + (i % 2 ? half : 0);
        if (!spark_column(c->history, from, from + half, p->now_ns, c->period_ns, &b)) {
            before = -1;
            continue;
        }
        double range = s.high - s.low;
        int low = (int)(((double)b.low - s.low) / range * top + 0.5);
        int high = (int)(((double)b.high - s.low) / range * top + 0.5);
        if (before >= 0 && before < low)
            low = before + 1;
        if (before >= 0 && before > high)
            high = before - 1;
        for (int v = low < 0 ? 0 : low; v <= high && v <= top; v++) {
            int x = r.x + i / 2, y = r.y + r.h - 1 - v / 4;
            uint32_t ch = 0x2800;
            if (x < g->cols && y >= 0 && y < g->rows) {
                uint32_t was = grid_at(g, x, y)->ch;
                ch = was >= 0x2800 && was <= 0x28FF ? was : ch;
            }
            grid_put(g, x, y, ch | dots[i % 2][v % 4], role, 0);
        }
        before = (int)(((double)b.mean - s.low) / range * top + 0.5);
    }
}

/* Several in one picture: a mark of its own for each, so that they differ without colour. */
static void draw_marks(struct grid *g, struct rect r, const struct plan *p,
                       const struct model_channel *c, struct scale s, int series)
{
    static const uint32_t marks[] = {0x25CF, 0x00D7, '+', 0x25CB};
    int before = -1;
    for (int i = 0; i < p->plot.w; i++) {
        struct history_bucket b;
        if (!column_read(p, c, i, &b)) {
            before = -1;
            continue;
        }
        int at = (scale_level(s, (double)b.mean, r.h) - 1) / 8;
        int from = before < 0 || before == at ? at : before < at ? before + 1 : before - 1;
        for (int row = from;; row += from < at ? 1 : -1) {
            grid_put(g, r.x + i, r.y + r.h - 1 - row, marks[series], series_role(series), 0);
            if (row == at)
                break;
        }
        before = at;
    }
}

/* ---- axes ---- */

static void draw_value_axis(struct grid *g, struct rect r, int x, int w, const struct model *m,
                            const struct model_channel *c, const struct trend_axis *axis)
{
    char text[40];
    enum unit u = model_unit(&m->units, c->unit);
    int every = 1;
    while (axis->ticks / every > 1 && (r.h - 1) * every / axis->ticks < 2)
        every++;
    for (int i = 0; i <= axis->ticks && w > 0; i++) {
        if (i % every && i != axis->ticks)
            continue;
        if (i != axis->ticks && axis->ticks - i < every)
            continue; /* the top one has the room */
        double value = axis->scale.low + (axis->scale.high - axis->scale.low) * i / axis->ticks;
        int y = r.y + r.h - 1 - ((r.h - 1) * i + axis->ticks / 2) / axis->ticks;
        model_number_text(m, c, value, axis->decimals, text, sizeof text);
        if (i == axis->ticks)
            text_append(text, sizeof text, " %s", g->ascii ? unit_ascii(u) : unit_text(u));
        grid_text_right(g, x, y, w - 1, text, ROLE_DIM, 0);
    }
}

static void draw_limit(struct grid *g, struct rect r, const struct model_channel *c, struct scale s)
{
    if (!c->has_limit || c->limit <= s.low || c->limit >= s.high)
        return;
    int y = r.y + r.h - 1 - (scale_level(s, c->limit, r.h) - 1) / 8;
    for (int x = r.x; x < r.x + r.w; x++)
        if (x < g->cols && y >= 0 && y < g->rows && grid_at(g, x, y)->ch == ' ')
            grid_put(g, x, y, 0x2504, ROLE_LIMIT, 0);
}

static int64_t wall_of(const struct model *m, int64_t mono_ns)
{
    return m->now.wall_ns - (m->now.mono_ns - mono_ns);
}

static void time_text(const struct model *m, int64_t wall_ns, bool seconds, char *dst, size_t cap)
{
    if (m->clock_known) {
        when_clock(dst, cap, wall_ns, false);
        if (!seconds && strlen(dst) >= 5)
            dst[5] = '\0';
    } else {
        when_elapsed(dst, cap, wall_ns - m->replay.first_ns);
    }
}

static void draw_time_axis(struct grid *g, const struct plan *p, const struct model *m)
{
    static const int steps_s[] = {10,   20,   30,   60,    120,   300,   600,  900,
                                  1800, 3600, 7200, 10800, 21600, 43200, 86400};
    if (p->axis.h < 1)
        return;
    grid_run(g, p->axis, GLYPH_LINE, ROLE_KEEL, 0);
    int64_t step = 0;
    size_t i = 0;
    for (; i < sizeof steps_s / sizeof steps_s[0]; i++) {
        step = steps_s[i] * NS_PER_S;
        if (step / p->column_ns >= 14)
            break;
    }
    int64_t from = wall_of(m, column_from(p, 0));
    int64_t origin = m->clock_known ? 0 : m->replay.first_ns;
    int64_t t = from - (((from - origin) % step) + step) % step;
    for (; t <= m->now.wall_ns; t += step) {
        char text[24];
        int x = column_of(p, m->now.mono_ns - (m->now.wall_ns - t));
        time_text(m, t, step < MIN_NS, text, sizeof text);
        int w = grid_width(g, text);
        if (x < 0 || x + w + 1 > p->plot.w)
            continue;
        grid_put(g, p->axis.x + x, p->axis.y, 0x252C, ROLE_KEEL, 0);
        grid_text(g, p->axis.x + x + 1, p->axis.y, w, text, ROLE_DIM, 0);
    }
}

/* At the top of the curve's band: when something was raised about it. */
static void mark_alert(struct grid *g, struct rect r, const struct plan *p, const struct alert *a,
                       const char *key)
{
    if (strcmp(a->channel, key) != 0)
        return;
    int x = column_of(p, a->raised.mono_ns);
    if (x >= 0 && x < p->plot.w)
        grid_put(g, r.x + x, r.y, (uint32_t)alert_priority_letter(a->priority),
                 priority_role(a->priority), 0);
}

static void draw_alert_marks(struct grid *g, struct rect r, const struct plan *p,
                             const struct model *m, const char *key)
{
    for (size_t i = m->ended_count; i-- > 0;)
        mark_alert(g, r, p, m->ended[i], key);
    for (size_t i = m->alert_count; i-- > 0;)
        mark_alert(g, r, p, m->alerts[i], key);
}

/* ---- legend and cursor ---- */

static int cursor_column(const struct plan *p, const struct model *m, const struct ui *ui)
{
    if (!ui->trend.cursor_on)
        return -1;
    int x = column_of(p, m->now.mono_ns - ui->trend.cursor_age_ns);
    return x < 0 ? 0 : x > p->plot.w - 1 ? p->plot.w - 1 : x;
}

/* The unit of the first curve: the one the axis has. */
static enum unit axis_unit(const struct model *m, const struct ui *ui)
{
    const struct model_channel *c = model_find(m, ui->trend.keys[0]);
    return c ? c->unit : UNIT_NONE;
}

static void draw_legend(struct grid *g, const struct plan *p, const struct model *m,
                        const struct ui *ui, int i, const struct model_channel *c, int cursor)
{
    char label[64], text[160], value[32], low[32], high[32];
    enum unit u = model_unit(&m->units, c->unit);
    const char *unit = g->ascii ? unit_ascii(u) : unit_text(u);
    int y = p->legend.y + i, x = p->legend.x + 1;
    if (i >= p->legend.h)
        return;
    rows_plain_label(m, c, label, sizeof label);
    text_format(text, sizeof text, "%d %s", i + 1, label);
    x += grid_text(g, x, y, 28, text, ui->trend.count > 1 ? series_role(i) : ROLE_TITLE, ATTR_BOLD);
    x += 2;
    struct history_bucket b;
    if (cursor >= 0) {
        char clock[24];
        int64_t from = column_from(p, cursor);
        time_text(m, wall_of(m, from), true, clock, sizeof clock);
        if (column_read(p, c, cursor, &b))
            text_format(text, sizeof text, "%s  %s %s  (%s to %s)", clock,
                        model_value_text(m, c, (double)b.mean, value, sizeof value), unit,
                        model_value_text(m, c, (double)b.low, low, sizeof low),
                        model_value_text(m, c, (double)b.high, high, sizeof high));
        else
            text_format(text, sizeof text, "%s  --", clock);
        grid_text(g, x, y, p->legend.x + p->legend.w - x - 1, text, ROLE_VALUE, 0);
        return;
    }
    text_format(text, sizeof text, "%s %s", model_reading_text(m, c, value, sizeof value), unit);
    x += grid_text(g, x, y, p->legend.x + p->legend.w - x - 1, text, ROLE_VALUE, 0) + 2;
    if (history_span(c->history, column_from(p, 0) < 0 ? 0 : column_from(p, 0),
                     (p->last + 1) * p->column_ns, &b)) {
        bool apart = ui->trend.together && i > 0 && c->unit != axis_unit(m, ui);
        int end = p->legend.x + p->legend.w - 1;
        text_format(text, sizeof text, "%s to %s%s",
                    model_value_text(m, c, (double)b.low, low, sizeof low),
                    model_value_text(m, c, (double)b.high, high, sizeof high),
                    apart ? ", on a scale of its own" : "");
        x += grid_text(g, x, y, end - x, text, ROLE_DIM, 0) + 2;
        /* The axis has round numbers: the line that is drawn at the limit is named here. The span
         * stands at the end of the first line. */
        text_format(text, sizeof text, "limit %s",
                    model_value_text(m, c, c->limit, value, sizeof value));
        if (c->has_limit && x + grid_width(g, text) + (i == 0 ? 9 : 0) <= end)
            grid_text(g, x, y, end - x, text, ROLE_LIMIT, 0);
    }
}

static void draw_cursor(struct grid *g, const struct plan *p, int cursor)
{
    for (int y = p->plot.y; cursor >= 0 && y < p->plot.y + p->plot.h; y++) {
        int x = p->plot.x + cursor;
        if (x < g->cols && y < g->rows && grid_at(g, x, y)->ch == ' ')
            grid_put(g, x, y, GLYPH_KEEL, ROLE_KEY, 0);
    }
    if (cursor >= 0)
        grid_put(g, p->plot.x + cursor, p->plot.y, GLYPH_POINTER_DOWN, ROLE_KEY, 0);
}

/* ---- the view ---- */

static int channels_of(const struct model *m, const struct ui *ui,
                       const struct model_channel *out[4])
{
    int n = 0;
    for (int i = 0; i < ui->trend.count; i++) {
        const struct model_channel *c = model_find(m, ui->trend.keys[i]);
        if (c)
            out[n++] = c;
    }
    return n;
}

static void draw_one(struct grid *g, struct rect r, const struct plan *p, const struct ui *ui,
                     const struct model_channel *c, struct scale s, int series, bool together)
{
    if (ui->braille && !g->ascii)
        draw_braille(g, r, p, c, s, series_role(series));
    else if (together)
        draw_marks(g, r, p, c, s, series);
    else
        draw_blocks(g, r, p, c, s, series_role(series));
}

void trend_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui)
{
    const struct model_channel *channels[4];
    int n = channels_of(m, ui, channels);
    char text[40];
    if (n == 0) {
        grid_text(g, body.x + 1, body.y, body.w - 2, "choose a channel on the board first",
                  ROLE_DIM, 0);
        return;
    }
    struct plan p = plan_of(body, m, ui);
    int cursor = cursor_column(&p, m, ui);
    bool together = ui->trend.together && n > 1;
    int bands = together || p.plot.h / n < 3 ? 1 : n, shown = bands == 1 && !together ? 1 : n;
    struct trend_axis axis = trend_axis(m, channels[0], NULL);
    for (int i = 0; i < shown; i++) {
        int top = p.plot.y + (together ? 0 : i * p.plot.h / bands);
        int bottom = p.plot.y + (together ? p.plot.h : (i + 1) * p.plot.h / bands);
        struct rect r = {p.plot.x, top, p.plot.w, bottom - top - (bands > 1 && bottom - top > 4)};
        /* Like quantities share a scale, so that equal heights are equal values. */
        const struct model_channel *with = NULL;
        for (int k = 0; k < n; k++)
            if (k != i && channels[k]->id.quantity == channels[i]->id.quantity)
                with = channels[k];
        if (!together || i == 0 || channels[i]->unit != channels[0]->unit)
            axis = trend_axis(m, channels[i], with);
        draw_one(g, r, &p, ui, channels[i], axis.scale, i, together);
        draw_alert_marks(g, r, &p, m, channels[i]->key);
        if (!together || i == 0) {
            draw_limit(g, r, channels[i], axis.scale);
            draw_value_axis(g, r, body.x, p.plot.x - body.x, m, channels[i], &axis);
        }
    }
    draw_time_axis(g, &p, m);
    for (int i = 0; i < n; i++) {
        draw_legend(g, &p, m, ui, i, channels[i], cursor);
    }
    draw_cursor(g, &p, cursor);
    model_span_text(trend_spans_ns[ui->trend.span], text, sizeof text);
    grid_text_right(g, body.x, body.y, body.w - 1, text, ROLE_DIM, 0);
}

/* Channels in the order of the board; the next after `key` that is not shown yet, or NULL. */
static const struct model_channel *neighbour(const struct model *m, const struct ui *ui,
                                             const char *key, int step)
{
    struct board_rows rows;
    const struct model_channel *all[ROWS_MAX * ROW_SIDES + PLAINS_MAX];
    int n = 0, at = 0;
    rows_fill(&rows, m, ui->filter);
    for (int i = 0; i < rows.twin_count; i++)
        for (int s = 0; s < rows.sides; s++)
            if (rows.twins[i].side[s])
                all[n++] = rows.twins[i].side[s];
    for (int i = 0; i < rows.plain_count; i++)
        all[n++] = rows.plains[i].side[0];
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
    if (t->count >= 4) {
        t->count = 1;
        return;
    }
    const struct model_channel *c = t->count ? neighbour(m, ui, t->keys[t->count - 1], 1) : NULL;
    if (c)
        text_copy(t->keys[t->count++], sizeof t->keys[0], c->key);
}

static void move_cursor(struct ui *ui, const struct model *m, int step)
{
    struct plan p = plan_of(bars_layout(ui, m).body, m, ui);
    struct ui_trend *t = &ui->trend;
    if (!t->cursor_on) {
        t->cursor_on = true;
        t->cursor_age_ns = 0;
        return;
    }
    t->cursor_age_ns -= step * p.column_ns;
    int64_t most = p.column_ns * (p.plot.w - 1);
    if (t->cursor_age_ns > most)
        t->cursor_age_ns = most;
    if (t->cursor_age_ns < 0)
        t->cursor_age_ns = 0;
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
    case ACTION_LONGER:
        t->span += t->span < trend_span_count - 1;
        return true;
    case ACTION_SHORTER:
        t->span -= t->span > 0;
        return true;
    case ACTION_ADD:
        add_curve(ui, m);
        return true;
    case ACTION_NEXT_FIELD:
        t->together = !t->together;
        return true;
    case ACTION_BACK:
        if (!t->cursor_on)
            return false;
        t->cursor_on = false;
        return true;
    default:
        return false;
    }
}
