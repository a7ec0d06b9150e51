#include "screen/helm.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/board.h"
#include "screen/figures.h"
#include "screen/glyphs.h"
#include "screen/rows.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

enum { TILES = 12 };

/* What is shown, in order: rows about alerts, the chosen one's row, then what matters most. */
static int rank(const struct board_row *row, const struct ui *ui)
{
    for (int s = 0; s < ROW_SIDES; s++)
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

static void draw_tile(struct grid *g, struct rect r, const struct model *m, const struct ui *ui,
                      const struct model_channel *c)
{
    char text[64], label[64];
    const struct alert *a = c->alert >= 0 ? m->alerts[c->alert] : NULL;
    bool fresh = c->status == READING_OK && !c->off;
    enum role role = !fresh ? ROLE_DIM : a ? priority_role(a->priority) : ROLE_VALUE;
    int chosen = strcmp(c->key, ui->chosen) == 0 ? ATTR_UNDERLINE : 0;
    text_format(label, sizeof label, "%s%s%s", c->engine >= 0 ? c->place : "",
                c->engine >= 0 && c->place[0] ? " " : "", c->label);
    if (c->engine < 0)
        rows_plain_label(m, c, label, sizeof label);
    if (a) {
        bool pending = a->priority > PRIORITY_CAUTION && a->state != ALERT_ACKNOWLEDGED;
        grid_put(g, r.x, r.y, (uint32_t)alert_priority_letter(a->priority), role,
                 pending && ui->flash ? ATTR_REVERSE : 0);
    }
    grid_text(g, r.x + 2, r.y, r.w - 2, label, ROLE_TITLE, ATTR_BOLD | chosen);
    model_reading_text(m, c, text, sizeof text);
    /* No blank between thousands here: it would cost a place. */
    char tight[64];
    size_t n = 0;
    for (const char *s = text; *s; s++)
        if (*s != ' ')
            tight[n++] = *s;
    tight[n] = '\0';
    struct rect area = {r.x + 2, r.y + 1, r.w - 4, r.h - 2};
    if (!figures_draw(g, area, tight, places_of(c), role))
        grid_text_right(g, area.x, r.y + r.h / 2, area.w, text, role, ATTR_BOLD);
    int y = r.y + r.h - 1, x = r.x + 2;
    enum unit u = model_unit(&m->units, c->unit);
    x += grid_text(g, x, y, 8, g->ascii ? unit_ascii(u) : unit_text(u), ROLE_DIM, 0) + 2;
    if (fresh && c->has_rate) {
        grid_put(g, x, y, glyph_arrow(model_rate_step(c)), a ? role : ROLE_DIM, 0);
        model_rate_text(m, c, text, sizeof text);
        if (text[0]) {
            char rate[80];
            text_format(rate, sizeof rate, "%s/min", text);
            grid_text(g, x + 2, y, r.x + r.w - x - 3, rate, a ? role : ROLE_DIM, 0);
        }
        x += 14;
    }
    if (c->has_limit) {
        char limit[80];
        model_value_text(m, c, c->limit, text, sizeof text);
        text_format(limit, sizeof limit, "limit %s", text);
        int w = grid_width(g, limit);
        if (x + w < r.x + r.w - 1)
            grid_text(g, r.x + r.w - 2 - w, y, w, limit, ROLE_LIMIT, 0);
    }
}

static void draw_frame(struct grid *g, struct rect r, enum role role)
{
    grid_run(g, (struct rect){r.x, r.y, r.w, 1}, 0x2580, role, 0);
    grid_run(g, (struct rect){r.x, r.y + r.h - 1, r.w, 1}, 0x2584, role, 0);
    grid_run(g, (struct rect){r.x, r.y, 1, r.h}, 0x2588, role, 0);
    grid_run(g, (struct rect){r.x + r.w - 1, r.y, 1, r.h}, 0x2588, role, 0);
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
        struct rect r = {body.x + i % cols * w, body.y + i / cols * h, w - 1, h - (h > 6 ? 1 : 0)};
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
