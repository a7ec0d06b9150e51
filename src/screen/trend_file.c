#include "screen/trend_file.h"

#include "base/text.h"
#include "screen/chart.h"
#include "screen/rows.h"
#include "screen/trend.h"

#include <inttypes.h>
#include <math.h>

#include "base/banned.h"

enum { STRETCHES = 600 };

/* Finer than any screen: the file is looked at elsewhere. */
static struct graph_span window(const struct model *m, const struct ui *ui)
{
    int64_t span_ns = trend_span_ns(ui);
    int64_t cells = span_ns / NS_PER_S < STRETCHES ? span_ns / NS_PER_S : STRETCHES;
    return graph_span(&(struct grid){.blocks = true}, trend_end_ns(ui, m), span_ns, (int)cells);
}

static int64_t wall_of(const struct model *m, const struct graph_span *s, int cell)
{
    return m->now.wall_ns - (m->now.mono_ns - graph_cell_from(s, cell));
}

bool trend_file_csv(FILE *out, const struct model *m, const struct ui *ui)
{
    struct graph_span span = window(m, ui);
    struct graph curve;
    bool any = false;
    fputs("time,channel,low,mean,high,unit\n", out);
    for (int i = 0; i < ui->trend.count; i++) {
        const struct model_channel *c = model_find(m, ui->trend.keys[i]);
        if (!c)
            continue;
        any = true;
        graph_read(&curve, &span, c->history, c->period_ns);
        for (int k = 0; k < curve.n; k++) {
            const struct history_bucket *b = &curve.column[k];
            char low[32], mean[32], high[32];
            int decimals = c->decimals + 2;
            int64_t ms = wall_of(m, &span, k) / NS_PER_MS;
            if (!b->count || !text_number(low, sizeof low, (double)b->low, decimals) ||
                !text_number(mean, sizeof mean, (double)b->mean, decimals) ||
                !text_number(high, sizeof high, (double)b->high, decimals))
                continue;
            fprintf(out, "%" PRId64 ".%03d,%s,%s,%s,%s,%s\n", ms / 1000, (int)(ms % 1000), c->key,
                    low, mean, high, unit_text(c->unit));
        }
    }
    return any && !ferror(out);
}

/* ---- the picture ---- */

enum { PLOT_W = 760, PLOT_H = 190, LEFT = 70, RIGHT = 24, TOP = 28, BETWEEN = 46, TICKS = 5 };

static double height(struct scale s, double v)
{
    return PLOT_H - (v - s.low) / (s.high - s.low) * PLOT_H;
}

/* Joined along the means; an upright stroke from lowest to highest. */
static void draw_curve(FILE *out, const struct graph *c, struct scale s)
{
    bool open = false;
    fputs("<path fill=\"none\" stroke=\"#1f4e9c\" stroke-width=\"1.2\" d=\"", out);
    for (int k = 0; k < c->n; k++) {
        const struct history_bucket *b = &c->column[k];
        double x = (k + 0.5) * PLOT_W / c->n, mean = height(s, (double)b->mean);
        if (b->count)
            fprintf(out, "%s%.1f %.1f", open ? "L" : "M", x, mean);
        if (b->count && b->high > b->low)
            fprintf(out, "M%.1f %.1fV%.1fM%.1f %.1f", x, height(s, (double)b->low),
                    height(s, (double)b->high), x, mean);
        open = b->count > 0;
    }
    fputs("\"/>\n", out);
}

static void draw_text(FILE *out, double x, double y, const char *anchor, const char *text)
{
    fprintf(out, "<text x=\"%.0f\" y=\"%.0f\" text-anchor=\"%s\">", x, y, anchor);
    for (const char *s = text; *s; s++)
        if (*s == '<')
            fputs("&lt;", out);
        else if (*s == '&')
            fputs("&amp;", out);
        else
            fputc(*s, out);
    fputs("</text>\n", out);
}

static void draw_axes(FILE *out, const struct model *m, const struct model_channel *c,
                      const struct chart_axis *axis, const struct graph_span *span)
{
    char text[48];
    for (int k = 0; k <= axis->ticks; k++) {
        double y = PLOT_H - (double)PLOT_H * k / axis->ticks;
        double v = axis->scale.low + (axis->scale.high - axis->scale.low) * k / axis->ticks;
        fprintf(out, "<path d=\"M0 %.1fh%d\" stroke=\"#ddd\"/>\n", y, PLOT_W);
        model_number_text(m, c, v, axis->decimals, text, sizeof text);
        draw_text(out, -6, y + 4, "end", text);
    }
    for (int k = 0; k < TICKS; k++) {
        int cell = (span->cells - 1) * k / (TICKS - 1);
        chart_time_text(m, graph_cell_from(span, cell), true, text, sizeof text);
        draw_text(out, (cell + 0.5) * PLOT_W / span->cells, PLOT_H + 16, "middle", text);
    }
}

static void draw_channel(FILE *out, const struct model *m, const struct model_channel *c,
                         const struct graph_span *span)
{
    struct graph curve;
    char label[64], text[96];
    double low = 0, high = 1;
    graph_read(&curve, span, c->history, c->period_ns);
    graph_extremes(&curve, &low, &high);
    if (c->has_limit) {
        low = fmin(low, c->limit);
        high = fmax(high, c->limit);
    }
    struct chart_axis axis = chart_axis(m, c, low, high, 11);
    text_format(text, sizeof text, "%s, %s", rows_plain_label(m, c, label, sizeof label),
                unit_text(model_unit(&m->units, c->unit)));
    draw_text(out, 0, -8, "start", text);
    draw_axes(out, m, c, &axis, span);
    if (c->has_limit)
        fprintf(out, "<path d=\"M0 %.1fh%d\" stroke=\"#b00\" stroke-dasharray=\"4 4\"/>\n",
                height(axis.scale, c->limit), PLOT_W);
    draw_curve(out, &curve, axis.scale);
}

bool trend_file_svg(FILE *out, const struct model *m, const struct ui *ui)
{
    struct graph_span span = window(m, ui);
    int n = 0, pitch = PLOT_H + BETWEEN;
    fprintf(out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %d %d\" "
            "font-family=\"sans-serif\" font-size=\"12\">\n"
            "<rect width=\"100%%\" height=\"100%%\" fill=\"#fff\"/>\n",
            LEFT + PLOT_W + RIGHT, TOP + ui->trend.count * pitch);
    for (int i = 0; i < ui->trend.count; i++) {
        const struct model_channel *c = model_find(m, ui->trend.keys[i]);
        if (!c)
            continue;
        fprintf(out, "<g transform=\"translate(%d %d)\">\n", LEFT, TOP + n++ * pitch);
        draw_channel(out, m, c, &span);
        fputs("</g>\n", out);
    }
    fputs("</svg>\n", out);
    return n > 0 && !ferror(out);
}
