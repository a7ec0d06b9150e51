#include "screen/helm.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/board.h"
#include "screen/figures.h"
#include "screen/glyphs.h"
#include "screen/graph.h"
#include "screen/rows.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

enum { TILES = 12 };

/* What is shown, in order: rows about alerts, the chosen one's row, then what matters most. */
static int rank(const struct board_row *row, const struct ui *ui)
{
    for (int s = 0; s < ROW_CELLS; s++)
        if (row->worth >= 0 && row->side[s] && strcmp(row->side[s]->key, ui->chosen) == 0)
            return 0;
    return row->worth < 0 ? row->worth : row->worth + 1;
}

static void sort_rows(struct board_row *rows, int n, const struct ui *ui)
{
    for (int i = 1; i < n; i++)
        for (int k = i; k > 0 && rank(&rows[k], ui) < rank(&rows[k - 1], ui); k--) {
            struct board_row swap = rows[k];
            rows[k] = rows[k - 1];
            rows[k - 1] = swap;
        }
}

/* Digits that the quantity has room for at most, so that figures keep their size. */
static int places_of(const struct model_channel *c)
{
    switch (c->unit) {
    case UNIT_RPM:
    case UNIT_KPA:
    case UNIT_H:
        return 4;
    case UNIT_V:
        return 4;
    default:
        return c->decimals ? 4 : 3;
    }
}

/* How far it is on the way to its limit; of a limit below, how much is left above it. */
static void draw_bar(struct grid *g, struct rect r, const struct model_channel *c, enum role role)
{
    double top = c->limit_above ? c->limit : fmax(2 * c->limit, c->has_extremes ? c->high : 0);
    if (!c->has_limit || !(top > 0) || r.w < 8)
        return;
    double part = c->value / top;
    int full = part <= 0 ? 0 : part >= 1 ? r.w : (int)(part * r.w + 0.5);
    int mark = c->limit_above ? r.w - 1 : (int)(c->limit / top * r.w);
    for (int i = 0; i < r.w; i++)
        grid_put(g, r.x + i, r.y, i < full ? GLYPH_HEAVY_LINE : GLYPH_LINE,
                 i < full ? role : ROLE_KEEL, ATTR_LINE);
    grid_put(g, r.x + mark, r.y, GLYPH_KEEL, ROLE_LIMIT, 0);
}

/* The last five minutes, in what the figure leaves. */
static void draw_curve(struct grid *g, struct rect r, const struct model *m,
                       const struct model_channel *c, enum role role)
{
    enum { SPAN_S = 300, LEAST = 12 };
    struct graph curve;
    const struct graph *const one[] = {&curve};
    if (r.w < LEAST || r.h < 1 || rows_is_flat(c))
        return;
    struct graph_span span = graph_span(g, m->now.mono_ns, SPAN_S * NS_PER_S, r.w);
    graph_read(&curve, &span, c->history, c->period_ns);
    graph_draw(g, r, &curve, graph_scale(one, 1, c->has_limit, c->limit),
               (struct graph_ink){.role = role, .over = role});
}

/* Unit, arrow, rate and limit: one line. */
static void draw_words(struct grid *g, struct rect r, const struct model *m,
                       const struct model_channel *c, enum role role, bool alerts)
{
    char text[64], limit[80];
    enum unit u = model_unit(&m->units, c->unit);
    int x = r.x + grid_text(g, r.x, r.y, 8, g->ascii ? unit_ascii(u) : unit_text(u), ROLE_DIM, 0);
    x += 2;
    if (c->status == READING_OK && !c->off && c->has_rate && !rows_is_flat(c)) {
        grid_put(g, x, r.y, glyph_arrow(model_rate_step(c)), alerts ? role : ROLE_DIM, 0);
        model_rate_text(m, c, text, sizeof text);
        if (text[0]) {
            char rate[80];
            text_format(rate, sizeof rate, "%s/min", text);
            grid_text(g, x + 2, r.y, r.x + r.w - x - 3, rate, alerts ? role : ROLE_DIM, 0);
        }
        x += 14;
    } else if (c->off || c->status == READING_STALE) {
        model_age_text(c, text, sizeof text);
        x += grid_text(g, x, r.y, r.x + r.w - x, text, ROLE_DIM, 0) + 2;
    }
    if (!c->has_limit)
        return;
    model_value_text(m, c, c->limit, text, sizeof text);
    text_format(limit, sizeof limit, "limit %s", text);
    int w = grid_width(g, limit);
    if (x + w <= r.x + r.w)
        grid_text(g, r.x + r.w - w, r.y, w, limit, alerts ? role : ROLE_LIMIT, 0);
}

static void draw_tile(struct grid *g, struct rect r, const struct model *m, const struct ui *ui,
                      const struct model_channel *c)
{
    char text[64], label[64];
    const struct alert *a = c->alert >= 0 ? m->alerts[c->alert] : NULL;
    bool fresh = c->status == READING_OK && !c->off;
    enum role role = !fresh ? ROLE_DIM : a ? priority_role(a->priority) : ROLE_VALUE;
    int chosen = strcmp(c->key, ui->chosen) == 0 ? ATTR_UNDERLINE : 0;
    text_format(label, sizeof label, "%s%s%s", c->engine >= 0 ? c->place : "",
                c->engine >= 0 && c->place[0] ? " " : "", rows_name(c));
    if (c->engine < 0)
        rows_plain_label(m, c, label, sizeof label);
    if (a) {
        bool pending = a->priority > PRIORITY_CAUTION && a->state != ALERT_ACKNOWLEDGED;
        grid_put(g, r.x, r.y, (uint32_t)alert_priority_letter(a->priority), role,
                 pending && ui->flash ? ATTR_REVERSE : 0);
    }
    grid_text(g, r.x + 2, r.y, r.w - 2, label, a ? role : ROLE_TITLE, ATTR_BOLD | chosen);
    model_reading_text(m, c, text, sizeof text);
    /* No blank between thousands here: it would cost a place. */
    char tight[64];
    size_t n = 0;
    for (const char *s = text; *s; s++)
        if (*s != ' ')
            tight[n++] = *s;
    tight[n] = '\0';
    bool bar = r.h >= 8 && c->has_limit && fresh;
    struct rect area = {r.x + 2, r.y + 1, r.w - 4, r.h - 2 - bar};
    int used = figures_draw(g, area, tight, places_of(c), role);
    if (!used)
        grid_text_right(g, area.x, r.y + r.h / 2, area.w, text, role, ATTR_BOLD);
    else if (fresh)
        draw_curve(g, (struct rect){area.x, area.y, area.w - used - 3, area.h}, m, c,
                   a ? role : ROLE_TREND);
    int y = r.y + r.h - 1 - bar;
    draw_words(g, (struct rect){area.x, y, area.w, 1}, m, c, role, a != NULL);
    if (bar)
        draw_bar(g, (struct rect){area.x, y + 1, area.w, 1}, c, a ? role : ROLE_TREND);
}

/* Thin: by night a thick one would be the brightest thing in the wheelhouse. */
static void draw_frame(struct grid *g, struct rect r, enum role role)
{
    int right = r.x + r.w - 1, bottom = r.y + r.h - 1;
    grid_run(g, (struct rect){r.x, r.y, r.w, 1}, GLYPH_LINE, role, ATTR_LINE);
    grid_run(g, (struct rect){r.x, bottom, r.w, 1}, GLYPH_LINE, role, ATTR_LINE);
    grid_run(g, (struct rect){r.x, r.y, 1, r.h}, GLYPH_KEEL, role, ATTR_LINE);
    grid_run(g, (struct rect){right, r.y, 1, r.h}, GLYPH_KEEL, role, ATTR_LINE);
    grid_put(g, r.x, r.y, 0x250C, role, ATTR_LINE);
    grid_put(g, right, r.y, 0x2510, role, ATTR_LINE);
    grid_put(g, r.x, bottom, GLYPH_CORNER, role, ATTR_LINE);
    grid_put(g, right, bottom, 0x2518, role, ATTR_LINE);
}

void helm_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui)
{
    struct board_rows rows;
    rows_fill(&rows, m, "");
    sort_rows(rows.twins, rows.twin_count, ui);
    sort_rows(rows.plains, rows.plain_count, ui);
    const struct alert *worst = model_worst(m);
    if (worst && worst->priority >= PRIORITY_ALARM && body.h >= 8) {
        draw_frame(g, body, priority_role(worst->priority));
        body = (struct rect){body.x + 1, body.y + 1, body.w - 2, body.h - 2};
    }
    int sides = rows.sides == 2 ? 2 : rows.sides >= 3 ? rows.sides : 1;
    int cols = sides > 1 ? sides : body.w >= 100 ? 2 : 1;
    while (cols > 1 && body.w / cols < 18)
        cols--;
    const struct model_channel *tiles[TILES] = {NULL};
    int lines = body.h < 24 ? body.h / 8 : body.h / 10, n = 0;
    lines = lines < 1 ? 1 : lines > 4 ? 4 : lines;
    if (lines > TILES / cols)
        lines = TILES / cols;
    for (int i = 0; i < rows.twin_count && n < lines * cols; i++)
        for (int s = 0; s < sides && n < lines * cols; s++)
            if (rows.twins[i].side[s] || sides > 1)
                tiles[n++] = rows.twins[i].side[s];
    for (int i = 0; i < rows.plain_count && n < lines * cols; i++)
        tiles[n++] = rows.plains[i].side[0];
    int used = (n + cols - 1) / cols, h = used ? body.h / used : 0, w = body.w / cols;
    for (int i = 0; i < n; i++) {
        struct rect r = {body.x + i % cols * w, body.y + i / cols * h, w - 1, h - (h > 8 ? 1 : 0)};
        if (tiles[i] && r.h >= 2)
            draw_tile(g, r, m, ui, tiles[i]);
    }
    if (n == 0)
        grid_text(g, body.x + 1, body.y, body.w - 2, "no channel yet", ROLE_DIM, 0);
}

bool helm_handle(struct ui *ui, const struct model *m, enum action a)
{
    return board_handle(ui, m, a);
}
