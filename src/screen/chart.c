#include "screen/chart.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/glyphs.h"
#include "screen/rows.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

#include "base/banned.h"

enum {
    VALUES_W = 7, /* the value axis and a blank */
    END_W = 2,    /* letters at the end of the curves */
    AHEAD = 10,   /* cells kept free for where a climb leads */
};

#define STEADY 0.1
#define UNSEEN 1e-3 /* of a step: beyond a round end by less than shows, as histories round */

/* ---- axes ---- */

struct chart_axis chart_axis(const struct model *m, const struct model_channel *c, double low,
                             double high, int lines)
{
    enum unit u = model_unit(&m->units, c->unit);
    double bottom = unit_from_base(u, low), top = unit_from_base(u, high), best = -1;
    double least = 4 * pow(10, -c->decimals);
    double step = scale_nice(fmax(top - bottom, least) / 12);
    struct chart_axis axis = {.scale = {low, high > low ? high : low + 1, false}, .ticks = 1};
    /* Of the round steps the one that leaves the curves most of the height: ticks are equally far
     * apart, so that some lines may go to waste, and round ends may lie beyond what is drawn. */
    for (int i = 0; i < 8; i++, step = scale_nice(step * 1.01)) {
        double from = floor(bottom / step + UNSEEN) * step, to = ceil(top / step - UNSEEN) * step;
        if (!(to > from))
            to = from + step;
        int ticks = (int)((to - from) / step + 0.5), gap = (lines - 1) / ticks;
        double score = (gap * ticks + 1) * fmax(top - bottom, step / 2) / (to - from);
        /* Labels want a line between them, and an axis wants more than its ends. */
        score *= (gap > 1 ? 1 : 0.5) * (ticks > 2 ? 1 : ticks == 2 ? 0.93 : 0.75);
        if (gap < 1 || score <= best)
            continue;
        best = score;
        axis = (struct chart_axis){.scale = {unit_to_base(u, from), unit_to_base(u, to), false},
                                   .ticks = ticks,
                                   .decimals = step < 1 ? (int)ceil(-log10(step) - 1e-9) : 0};
    }
    return axis;
}

void chart_values(struct grid *g, struct rect plot, int w, const struct model *m,
                  const struct model_channel *c, const struct chart_axis *axis)
{
    char text[40];
    for (int i = 0; i <= axis->ticks && w > 0; i++) {
        double value = axis->scale.low + (axis->scale.high - axis->scale.low) * i / axis->ticks;
        int y = plot.y + plot.h - 1 - (plot.h - 1) * i / axis->ticks;
        model_number_text(m, c, value, axis->decimals, text, sizeof text);
        grid_text_right(g, plot.x - w, y, w - 1, text, ROLE_DIM, 0);
    }
}

static int64_t wall_of(const struct model *m, int64_t mono_ns)
{
    return m->now.wall_ns - (m->now.mono_ns - mono_ns);
}

void chart_time_text(const struct model *m, int64_t mono_ns, bool seconds, char *dst, size_t cap)
{
    int64_t wall_ns = wall_of(m, mono_ns);
    if (m->clock_known) {
        when_clock(dst, cap, wall_ns, false);
        if (!seconds)
            dst[5] = '\0';
    } else {
        when_elapsed(dst, cap, wall_ns - m->replay.first_ns);
    }
}

void chart_times(struct grid *g, struct rect r, const struct graph_span *s, const struct model *m)
{
    static const int steps_s[] = {10,   20,   30,   60,    120,   300,   600,  900,
                                  1800, 3600, 7200, 10800, 21600, 43200, 86400};
    enum { APART = 12 }; /* cells between labels */
    int64_t step = 0;
    if (r.h < 1)
        return;
    for (size_t i = 0; i < sizeof steps_s / sizeof steps_s[0]; i++) {
        step = steps_s[i] * NS_PER_S;
        if (step / s->cell_ns >= APART)
            break;
    }
    grid_run(g, r, GLYPH_LINE, ROLE_KEEL, 0);
    int64_t from = wall_of(m, graph_cell_from(s, 0));
    int64_t origin = m->clock_known ? 0 : m->replay.first_ns;
    int64_t t = from - (((from - origin) % step) + step) % step;
    for (; t <= m->now.wall_ns; t += step) {
        char text[24];
        int64_t mono_ns = m->now.mono_ns - (m->now.wall_ns - t);
        int x = graph_cell_of(s, mono_ns);
        chart_time_text(m, mono_ns, step < 60 * NS_PER_S, text, sizeof text);
        int w = grid_width(g, text);
        if (x < 0 || x + w + 1 > r.w)
            continue;
        grid_put(g, r.x + x, r.y, 0x252C, ROLE_KEEL, 0);
        grid_text(g, r.x + x + 1, r.y, w, text, ROLE_DIM, 0);
    }
}

static void mark_alert(struct grid *g, struct rect plot, const struct graph_span *s,
                       const struct alert *a, const char *key)
{
    if (strcmp(a->channel, key) != 0)
        return;
    int x = graph_cell_of(s, a->raised.mono_ns);
    if (x < 0 || x >= s->cells)
        return;
    grid_put(g, plot.x + x, plot.y, (uint32_t)alert_priority_letter(a->priority),
             priority_role(a->priority), 0);
    for (int y = plot.y + 1; y < plot.y + plot.h; y++)
        if (plot.x + x < g->cols && y < g->rows && grid_at(g, plot.x + x, y)->ch == ' ')
            grid_put(g, plot.x + x, y, GLYPH_UPRIGHT, ROLE_KEEL, 0);
}

static int mark_cell(const struct graph_span *s, const struct model *m, size_t i)
{
    const struct model_mark *k = &m->replay.marks[i];
    int x = k->words ? graph_cell_of(s, m->now.mono_ns - (m->now.wall_ns - k->wall_ns)) : -1;
    return x < s->cells ? x : -1;
}

/* Nothing there that a reading drew. */
static bool is_ground(struct grid *g, int x, int y)
{
    const struct cell *c = x < g->cols && y < g->rows ? grid_at(g, x, y) : NULL;
    return c && (c->ch == ' ' || c->role == ROLE_LIMIT || c->role == ROLE_KEEL);
}

/* Columns free of curves from x on, `most` at most, to the right (step 1) or the left. */
static int ground(struct grid *g, int x, int y, int step, int most)
{
    int n = 0;
    while (n < most && is_ground(g, x + n * step, y))
        n++;
    return n;
}

/* What somebody marked: a pointer, and the words beside it on the side where they fit, as far as
 * the other marks leave room. */
static void draw_words(struct grid *g, struct rect plot, const struct graph_span *s,
                       const struct model *m)
{
    int end = plot.w; /* what stands there belongs to a later mark */
    for (size_t i = m->replay.mark_count; i-- > 0;) {
        const char *words = m->replay.marks[i].words;
        int x = mark_cell(s, m, i), begin = 0;
        if (x < 0 || x >= end)
            continue;
        for (size_t k = i; k-- > 0 && begin == 0;)
            begin = mark_cell(s, m, k) + 1;
        int w = grid_width(g, words), at = plot.x + x;
        int right = ground(g, at + 1, plot.y, 1, end - x - 2);
        int left = ground(g, at - 1, plot.y, -1, x - begin);
        for (int y = plot.y + 1; y < plot.y + plot.h; y++)
            if (plot.x + x < g->cols && y < g->rows && grid_at(g, plot.x + x, y)->ch == ' ')
                grid_put(g, plot.x + x, y, GLYPH_UPRIGHT, ROLE_KEEL, 0);
        grid_put(g, plot.x + x, plot.y, GLYPH_POINTER_DOWN, ROLE_KEY, 0);
        end = x;
        if (w <= right || right >= left) {
            grid_text(g, plot.x + x + 1, plot.y, right, words, ROLE_NOTE, 0);
        } else {
            w = w < left ? w : left;
            grid_text(g, plot.x + x - w, plot.y, w, words, ROLE_NOTE, 0);
            end = x - w;
        }
    }
}

void chart_marks(struct grid *g, struct rect plot, const struct graph_span *s,
                 const struct model *m, const char *key)
{
    draw_words(g, plot, s, m);
    for (size_t i = m->ended_count; i-- > 0;)
        mark_alert(g, plot, s, m->ended[i], key);
    for (size_t i = m->alert_count; i-- > 0;)
        mark_alert(g, plot, s, m->alerts[i], key);
}

/* ---- which curves ---- */

struct chart chart_of(const struct model *m, uint16_t quantity, int64_t span_ns)
{
    struct chart chart = {.span_ns = span_ns, .times = true};
    for (int e = 0; e < m->engines; e++)
        for (size_t i = 0; i < m->channel_count && chart.count < CHART_SERIES; i++) {
            const struct model_channel *c = &m->channels[i];
            if (c->id.quantity == quantity && c->engine == e && !c->second)
                chart.channel[chart.count++] = c;
        }
    return chart;
}

struct chart chart_about(const struct model *m, const struct model_channel *c, int64_t span_ns)
{
    struct chart chart = chart_of(m, c->id.quantity, span_ns);
    for (int i = 0; i < chart.count; i++)
        if (chart.channel[i] == c)
            return chart;
    return (struct chart){.channel = {c}, .count = 1, .span_ns = span_ns, .times = true};
}

const char *chart_name(const struct model *m, const struct model_channel *c, char *dst, size_t cap)
{
    if (c->engine < 0 || !c->place[0] || m->engines < 2 || c->second)
        return rows_plain_label(m, c, dst, cap);
    text_copy(dst, cap, c->place);
    for (char *p = dst; *p; p++)
        *p = (char)tolower((unsigned char)*p);
    return dst;
}

/* ---- drawing ---- */

static enum role word_role(const struct model *m, const struct model_channel *c)
{
    return c->alert >= 0 ? priority_role(m->alerts[c->alert]->priority) : ROLE_VALUE;
}

static enum role curve_role(const struct model *m, const struct chart *chart, int i)
{
    const struct model_channel *c = chart->channel[i];
    /* With nothing wrong nothing is coloured: letters at their ends tell curves apart. */
    if (c->alert < 0 && !m->alert_count)
        return ROLE_TREND;
    return c->alert >= 0 ? word_role(m, c) : (enum role)(ROLE_SERIES_1 + i);
}

/* The one that the band, the limit and the way ahead are of: that which is in trouble. */
static const struct model_channel *subject(const struct chart *chart)
{
    const struct model_channel *best = chart->channel[0];
    for (int i = 1; i < chart->count; i++)
        if (chart->channel[i]->alert >= 0 &&
            (best->alert < 0 || chart->channel[i]->alert < best->alert))
            best = chart->channel[i];
    return best;
}

static void draw_legend(struct grid *g, struct rect r, const struct model *m,
                        const struct chart *chart)
{
    char name[64], value[32], age[32], text[128];
    const struct model_channel *c = subject(chart);
    enum unit u = model_unit(&m->units, c->unit);
    int x = r.x, end = r.x + r.w;
    text_format(text, sizeof text, "%s %s", rows_name(c), g->ascii ? unit_ascii(u) : unit_text(u));
    x += grid_text(g, x, r.y, end - x, text, ROLE_TITLE, ATTR_BOLD) + 3;
    for (int i = 0; i < chart->count && x < end; i++) {
        const struct model_channel *k = chart->channel[i];
        model_reading_text(m, k, value, sizeof value);
        if (m->engines > 1 && k->engine >= 0)
            text_format(text, sizeof text, "%s %s", chart_name(m, k, name, sizeof name), value);
        else
            text_copy(text, sizeof text, value);
        bool old = k->off || k->status == READING_STALE;
        if (old) { /* what was last read is not what is so */
            model_age_text(k, age, sizeof age);
            text_append(text, sizeof text, ", %s", age);
        }
        if (chart->count > 1) { /* a piece of the curve, for those who see colours */
            grid_run(g, (struct rect){x, r.y, 2, 1}, GLYPH_HEAVY_LINE, curve_role(m, chart, i),
                     ATTR_LINE);
            x += 3;
        }
        x += grid_text(g, x, r.y, end - x, text, old && k->alert < 0 ? ROLE_DIM : word_role(m, k),
                       0) +
             3;
    }
    if (c->has_expected && x < end) {
        char around[32];
        model_value_text(m, c, c->expected, value, sizeof value);
        double allowance = unit_from_base_difference(u, c->allowance);
        text_number(around, sizeof around, allowance, c->decimals + (allowance < 0.95));
        text_format(text, sizeof text, "expected %s", value);
        if (allowance >= 0.05 * pow(10, -c->decimals))
            text_append(text, sizeof text, " ±%s", around);
        x += grid_text(g, x, r.y, end - x, text, ROLE_DIM, 0) + 3;
    }
    if (c->has_limit && x + 12 < end) {
        text_format(text, sizeof text, "limit %s",
                    model_value_text(m, c, c->limit, value, sizeof value));
        grid_text(g, x, r.y, end - x, text, ROLE_LIMIT, 0);
    }
}

/* Beside the newest end of each curve the first letter of its place: told apart without colour. */
static void draw_ends(struct grid *g, struct rect plot, int x, const struct model *m,
                      const struct chart *chart, struct scale s)
{
    char name[64];
    int rows[CHART_SERIES];
    for (int i = 0; i < chart->count; i++) {
        const struct model_channel *c = chart->channel[i];
        int shift = 0;
        rows[i] = -1;
        if (c->status != READING_OK || chart->count < 2)
            continue;
        int level = scale_level(s, c->value, graph_top(g, plot.h));
        rows[i] = plot.y + plot.h - 1 - level * plot.h / (graph_top(g, plot.h) + 1);
        for (int k = 0; k < i; k++)
            shift += rows[k] == rows[i];
        const char *letter = chart_name(m, c, name, sizeof name);
        uint32_t ch = isdigit((unsigned char)name[strlen(name) - 1])
                          ? (uint32_t)name[strlen(name) - 1]
                          : (uint32_t)toupper((unsigned char)letter[0]);
        grid_put(g, x + shift, rows[i], ch, word_role(m, c), 0);
    }
}

/* What all curves, the band and the limit need. */
static struct chart_axis axis_for(const struct model *m, const struct chart *chart,
                                  const struct graph curves[], const struct graph band[2], int h)
{
    const struct model_channel *c = subject(chart);
    double low = INFINITY, high = -INFINITY, l, t;
    for (int i = 0; i < chart->count + 2; i++)
        if (graph_extremes(i < chart->count ? &curves[i] : &band[i - chart->count], &l, &t)) {
            low = fmin(low, l);
            high = fmax(high, t);
        }
    if (c->has_limit) {
        low = fmin(low, c->limit);
        high = fmax(high, c->limit);
    }
    if (low > high)
        low = 0, high = 1;
    /* What is steady looks steady: never finer than a tenth of the value. */
    double least = STEADY * fmax(fabs(low), fabs(high)), middle = (low + high) / 2;
    if (high - low < least) {
        low = middle - least / 2;
        high = middle + least / 2;
    }
    return chart_axis(m, c, low, high, h);
}

static void draw_curves(struct grid *g, struct rect plot, const struct model *m,
                        const struct chart *chart, const struct graph curves[], struct scale s)
{
    const struct model_channel *about = subject(chart);
    /* The one in trouble last: over the others. */
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < chart->count; i++) {
            if ((chart->channel[i] == about) != (pass == 1))
                continue;
            enum role role = curve_role(m, chart, i);
            graph_draw(g, plot, &curves[i], s, (struct graph_ink){.role = role, .over = role});
        }
}

/* Where the climb that an alert speaks of leads. */
static void draw_ahead(struct grid *g, struct rect r, const struct model *m,
                       const struct model_channel *c, struct scale s, const struct graph_span *span)
{
    if (c->alert < 0 || c->status != READING_OK || !c->has_limit)
        return;
    const struct alert *a = m->alerts[c->alert];
    if (!a->active || !isfinite(a->figures.rate_per_min) || !isfinite(a->figures.seconds_to_limit))
        return;
    double step = a->figures.rate_per_min * (double)span->cell_ns / (60.0 * NS_PER_S);
    graph_ahead(g, r, s, c->value + step, step, c->limit, priority_role(a->priority));
}

void chart_draw(struct grid *g, struct rect r, const struct model *m, const struct chart *chart)
{
    struct graph curves[CHART_SERIES], band[2];
    int h = r.h - 1 - chart->times, w = r.w - VALUES_W - END_W;
    if (chart->count < 1 || h < 3 || w < 20)
        return;
    const struct model_channel *about = subject(chart);
    int past = w - AHEAD;
    struct graph_span span = graph_span(g, m->now.mono_ns, chart->span_ns, past);
    for (int i = 0; i < chart->count; i++)
        graph_read(&curves[i], &span, chart->channel[i]->history, chart->channel[i]->period_ns);
    struct graph_span cells = span;
    cells.per_cell = 1; /* a band needs no finer steps */
    graph_read(&band[0], &cells, about->expected_low, NS_PER_S);
    graph_read(&band[1], &cells, about->expected_high, NS_PER_S);
    struct chart_axis axis = axis_for(m, chart, curves, band, h);
    int gap = (h - 1) / axis.ticks; /* lines between ticks, all the same */
    int plot_h = gap * axis.ticks + 1;
    struct rect plot = {r.x + VALUES_W, r.y + 1 + h - plot_h, past, plot_h};
    struct rect whole = {plot.x, plot.y, w, plot_h};
    draw_legend(g, (struct rect){r.x + 1, r.y, r.w - 1, 1}, m, chart);
    chart_values(g, plot, VALUES_W, m, about, &axis);
    graph_band(g, plot, &band[0], &band[1], axis.scale, ROLE_KEEL);
    draw_curves(g, plot, m, chart, curves, axis.scale);
    draw_ahead(g, (struct rect){plot.x + past, plot.y, AHEAD, plot_h}, m, about, axis.scale, &span);
    if (about->has_limit)
        graph_level(g, whole, axis.scale, about->limit, ROLE_LIMIT);
    for (int i = 0; i < chart->count; i++)
        chart_marks(g, plot, &span, m, chart->channel[i]->key);
    draw_ends(g, plot, whole.x + w, m, chart, axis.scale);
    if (chart->times)
        chart_times(g, (struct rect){plot.x, r.y + r.h - 1, w, 1}, &span, m);
}
