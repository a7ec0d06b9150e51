#include "screen/board.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/glyphs.h"
#include "screen/panes.h"
#include "screen/rows.h"
#include "screen/spark.h"

#include <string.h>

#include "base/banned.h"

/* Everything a row needs to be drawn. */
struct pen {
    struct grid *g;
    const struct model *m;
    const struct ui *ui;
};

static const struct alert *alert_of(const struct pen *p, const struct model_channel *c)
{
    return c && c->alert >= 0 ? p->m->alerts[c->alert] : NULL;
}

static bool is_chosen(const struct pen *p, const struct model_channel *c)
{
    return c && strcmp(c->key, p->ui->chosen) == 0;
}

/* The i-th column from the keel outward: to the left of it where mirrored. */
static int outward(int inner_x, int at, int width, bool mirrored)
{
    return mirrored ? inner_x - at - width + 1 : inner_x + at;
}

static void age_text(const struct model_channel *c, char *dst, size_t cap)
{
    int64_t s = c->age_ns / NS_PER_S;
    if (c->off)
        text_copy(dst, cap, "off");
    else if (s < 120)
        text_format(dst, cap, "%d s old", (int)s);
    else if (s < 7200)
        text_format(dst, cap, "%d min old", (int)(s / 60));
    else
        text_format(dst, cap, "%d h old", (int)(s / 3600));
}

static void draw_state(const struct pen *p, const struct side_layout *s, int inner, int y,
                       const struct alert *a, bool mirrored)
{
    if (!s->state_w || !a)
        return;
    enum role role = priority_role(a->priority);
    bool pending = a->state != ALERT_ACKNOWLEDGED && a->priority != PRIORITY_CAUTION;
    int attr = pending && p->ui->flash ? ATTR_REVERSE : 0;
    int x = outward(inner, s->state_at, s->state_w, mirrored);
    int letter = mirrored ? x + s->state_w - 1 : x;
    grid_put(p->g, letter, y, (uint32_t)alert_priority_letter(a->priority), role, attr);
    if (s->state_w < 11)
        return;
    /* "emergency alarm" is the one word too long. */
    const char *word = a->priority == PRIORITY_EMERGENCY ? "emergency" : priority_text(a->priority);
    if (mirrored)
        grid_text_right(p->g, x, y, s->state_w - 2, word, role, 0);
    else
        grid_text(p->g, x + 2, y, s->state_w - 2, word, role, 0);
}

/* Arrow, value, rate, trend and state of one channel; y is the line of the figures, the trend
 * grows upwards over h lines. inner is the column beside the keel. */
static void draw_side(const struct pen *p, const struct side_layout *s, int inner, int y, int h,
                      const struct model_channel *c, const struct model_channel *twin,
                      bool mirrored)
{
    if (!c || s->value_w < 1)
        return;
    char text[32];
    const struct alert *a = alert_of(p, c);
    bool fresh = c->status == READING_OK && !c->off;
    enum role role = !fresh ? ROLE_DIM : a ? priority_role(a->priority) : ROLE_VALUE;
    int attr = is_chosen(p, c) ? ATTR_UNDERLINE : 0;
    if (c->status == READING_ERROR && !a)
        role = ROLE_VALUE;
    if (fresh && c->has_rate) {
        int step = model_rate_step(c);
        grid_put(p->g, outward(inner, s->arrow_at, 1, mirrored), y, glyph_arrow(step),
                 step ? role : ROLE_DIM, 0);
    }
    /* A long number may use the room of a rate that is not there. */
    model_rate_text(p->m, c, text, sizeof text);
    bool has_rate = text[0] && s->rate_w;
    if (has_rate)
        grid_text_right(p->g, outward(inner, s->rate_at, s->rate_w, mirrored), y, s->rate_w, text,
                        a ? role : ROLE_DIM, 0);
    model_reading_text(p->m, c, text, sizeof text);
    int value_w = s->value_w, need = grid_width(p->g, text);
    int room = has_rate ? 0 : s->rate_w ? s->rate_w : rows_is_flat(c) ? s->trend_w : 0;
    if (need > value_w)
        value_w = need < value_w + room ? need : value_w + room;
    grid_text_right(p->g, outward(inner, s->value_at, value_w, mirrored), y, value_w, text, role,
                    attr);
    draw_state(p, s, inner, y, a, mirrored);
    if (!s->trend_w || (fresh && rows_is_flat(c)))
        return;
    struct rect r = {outward(inner, s->trend_at, s->trend_w, mirrored), y - h + 1, s->trend_w, h};
    if (!fresh && c->status != READING_ERROR) {
        if (c->status == READING_NOT_AVAILABLE && !c->off)
            return;
        age_text(c, text, sizeof text);
        if (mirrored)
            grid_text_right(p->g, r.x, y, r.w, text, ROLE_DIM, 0);
        else
            grid_text(p->g, r.x, y, r.w, text, ROLE_DIM, 0);
        return;
    }
    struct spark spark = {.now_ns = p->m->now.mono_ns,
                          .span_ns = p->m->trend_span_ns,
                          .period_ns = c->period_ns,
                          .scale = scale_for(c, twin),
                          .has_limit = c->has_limit,
                          .limit_above = c->limit_above,
                          .limit = c->limit,
                          .over = a ? priority_role(a->priority) : ROLE_TREND};
    spark_draw(p->g, r, c->history, &spark);
}

static const char *unit_words(const struct pen *p, const struct model_channel *c)
{
    enum unit u = model_unit(&p->m->units, c->unit);
    return p->g->ascii ? unit_ascii(u) : unit_text(u);
}

/* A limit is a mark, not a reading: where it is too long it goes without the blank between
 * thousands and without noughts after the point. */
static void limit_words(const struct pen *p, const struct model_channel *c, int w, char *dst,
                        size_t cap)
{
    char text[32];
    size_t n = 0;
    model_value_text(p->m, c, c->limit, text, sizeof text);
    bool tight = grid_width(p->g, text) > w;
    for (const char *s = text; *s && n + 1 < cap; s++)
        if (*s != ' ' || !tight)
            dst[n++] = *s;
    dst[n] = '\0';
    if (!tight || !strchr(dst, '.'))
        return;
    while (n > 0 && dst[n - 1] == '0')
        dst[--n] = '\0';
    if (n > 0 && dst[n - 1] == '.')
        dst[--n] = '\0';
}

/* Label, unit and limit from x on. */
static void draw_label(const struct pen *p, const struct label_layout *l, int x, int y,
                       const char *label, const struct model_channel *c)
{
    int used = grid_text(p->g, x, y, l->label_w, label, ROLE_LABEL, 0);
    x += l->label_w + 1;
    /* A long unit may use the room of a limit that is not there, or what the label left. */
    int unit_w = l->unit_w + (c->has_limit ? 0 : l->limit_w);
    int over = grid_width(p->g, unit_words(p, c)) - unit_w;
    if (over > l->label_w - used)
        over = l->label_w - used;
    if (over < 0)
        over = 0;
    if (l->unit_w)
        grid_text(p->g, x - over, y, unit_w + over, unit_words(p, c), ROLE_DIM, 0);
    x += l->unit_w;
    char text[32];
    if (l->limit_w && c->has_limit) {
        /* Never run together with the unit: a long one goes up to the keel. */
        int w = l->limit_w - (grid_width(p->g, unit_words(p, c)) >= l->unit_w);
        limit_words(p, c, w, text, sizeof text);
        bool tight = grid_width(p->g, text) > w;
        grid_text_right(p->g, x, y, l->limit_w + tight, text, ROLE_LIMIT, 0);
    }
}

static const struct model_channel *twin_of(const struct board_row *row,
                                           const struct model_channel *c)
{
    for (int s = 0; s < ROW_SIDES; s++)
        if (row->side[s] && row->side[s] != c)
            return row->side[s];
    return NULL;
}

static void draw_keel_row(const struct pen *p, const struct board_layout *b, int top, int h,
                          const struct board_row *row)
{
    int y = top + h - 1, right = b->keel_x + b->keel.width;
    for (int line = top; line <= y; line++) {
        if (b->shape == BOARD_KEEL)
            grid_put(p->g, b->keel_x, line, GLYPH_KEEL, ROLE_KEEL, 0);
        grid_put(p->g, right - 1, line, GLYPH_KEEL, ROLE_KEEL, 0);
    }
    draw_label(p, &b->keel, b->keel_x + 2, y, row->first->label, row->first);
    const struct model_channel *port = row->side[0], *starboard = row->side[1];
    if (b->shape == BOARD_KEEL) {
        draw_side(p, &b->side, b->keel_x - 1, y, h, port, starboard, true);
        draw_side(p, &b->side, right, y, h, starboard, port, false);
    } else {
        draw_side(p, &b->side, right, y, h, port, NULL, false);
    }
}

static void draw_columns_row(const struct pen *p, const struct board_layout *b, int sides, int top,
                             int h, const struct board_row *row)
{
    int y = top + h - 1, x = b->keel_x + b->keel.width;
    draw_label(p, &b->keel, b->keel_x + 2, y, row->first->label, row->first);
    for (int s = 0; s < sides; s++, x += b->side.width) {
        for (int line = top; line <= y; line++)
            grid_put(p->g, x - 1, line, GLYPH_KEEL, ROLE_KEEL, 0);
        draw_side(p, &b->side, x, y, h, row->side[s], twin_of(row, row->side[s]), false);
    }
}

/* Whether row i is among the `n` that matter most and have a trend. */
static bool among_worst(const struct board_rows *rows, int i, int n)
{
    int before = 0;
    for (int k = 0; k < rows->twin_count; k++)
        before += !rows->twins[k].flat && (rows->twins[k].worth < rows->twins[i].worth ||
                                           (rows->twins[k].worth == rows->twins[i].worth && k < i));
    return !rows->twins[i].flat && before < n;
}

static int row_height(const struct board_rows *rows, const struct board_layout *b, int i)
{
    return rows->twins[i].flat ? 1 : b->twin_h + among_worst(rows, i, b->taller);
}

static void draw_twins(const struct pen *p, const struct board_layout *b,
                       const struct board_rows *rows)
{
    int top = b->twins.y;
    for (int i = 0; i < rows->twin_count; i++) {
        int h = row_height(rows, b, i);
        if (b->shape == BOARD_COLUMNS)
            draw_columns_row(p, b, rows->sides, top, h, &rows->twins[i]);
        else
            draw_keel_row(p, b, top, h, &rows->twins[i]);
        top += h;
    }
}

/* Over where the trends of the port side begin, for both: how long ago that was. */
static void draw_span(const struct pen *p, const struct side_layout *s, int inner, int y,
                      const char *name)
{
    char text[24];
    model_span_text(p->m->trend_span_ns, text, sizeof text);
    int w = grid_width(p->g, text), x = outward(inner, s->trend_at, s->trend_w, true);
    if (p->m->trend_span_ns > 0 && w <= s->trend_w && x + w < inner - grid_width(p->g, name))
        grid_text(p->g, x, y, w, text, ROLE_DIM, 0);
}

static void draw_heading(const struct pen *p, const struct board_layout *b, int sides)
{
    int y = b->heading.y, x = b->keel_x + b->keel.width;
    if (b->heading.h < 1)
        return;
    if (b->shape == BOARD_KEEL) {
        grid_put(p->g, b->keel_x, y, GLYPH_KEEL, ROLE_KEEL, 0);
        grid_put(p->g, x - 1, y, GLYPH_KEEL, ROLE_KEEL, 0);
        grid_text_right(p->g, 0, y, b->keel_x - 1, p->m->engine_names[0], ROLE_TITLE, ATTR_BOLD);
        grid_text(p->g, x + 1, y, b->side.width - 1, p->m->engine_names[1], ROLE_TITLE, ATTR_BOLD);
        if (b->side.rate_w && grid_width(p->g, p->m->engine_names[0]) < 10)
            grid_text_right(p->g, outward(b->keel_x - 1, b->side.rate_at, 5, true), y, 5, "/min",
                            ROLE_DIM, 0);
        if (b->side.rate_w && grid_width(p->g, p->m->engine_names[1]) < 10)
            grid_text_right(p->g, x + b->side.rate_at, y, 5, "/min", ROLE_DIM, 0);
        draw_span(p, &b->side, b->keel_x - 1, y, p->m->engine_names[0]);
        return;
    }
    for (int s = 0; s < sides; s++, x += b->side.width) {
        grid_put(p->g, x - 1, y, GLYPH_KEEL, ROLE_KEEL, 0);
        grid_text(p->g, x + 1, y, b->side.width - 3, p->m->engine_names[s], ROLE_TITLE, ATTR_BOLD);
    }
}

static void draw_plains(const struct pen *p, const struct board_layout *b,
                        const struct board_rows *rows)
{
    int block = b->plains.w / b->plain_cols;
    char label[64];
    for (int i = 0; i < rows->plain_count && i < b->plain_lines * b->plain_cols; i++) {
        /* Down the columns, so that the order reads on when their number changes. */
        int column = i / b->plain_lines, line = i % b->plain_lines;
        int x = b->plains.x + column * block;
        int y = b->plains.y + line * b->plain_h + b->plain_h - 1;
        const struct model_channel *c = rows->plains[i].side[0];
        const struct plain_layout *l = &b->plain;
        grid_text(p->g, x + l->label_at, y, l->label_w,
                  rows_short_label(p->g, p->m, c, l->label_w, label, sizeof label), ROLE_LABEL, 0);
        draw_side(p, &l->side, x, y, b->plain_h, c, NULL, false);
        grid_text(p->g, x + l->unit_at, y, l->unit_w, unit_words(p, c), ROLE_DIM, 0);
        if (l->limit_w && c->has_limit)
            grid_text_right(p->g, x + l->limit_at, y, l->limit_w,
                            model_value_text(p->m, c, c->limit, label, sizeof label), ROLE_LIMIT,
                            0);
    }
}

static void prepare(const struct model *m, const struct ui *ui, struct rect body,
                    struct board_rows *rows, struct board_layout *b, int *left_out)
{
    rows_fill(rows, m, ui->filter);
    struct board_need need = {
        .sides = rows->sides, .twins = rows->twin_count, .plains = rows->plain_count};
    for (int i = 0; i < rows->twin_count; i++)
        need.flat += rows->twins[i].flat;
    *b = layout_board(body, need);
    const char *chosen = ui->chosen[0] ? ui->chosen : NULL;
    *left_out = rows->left_out + rows_keep(rows->twins, &rows->twin_count, b->twin_rows, chosen) +
                rows_keep(rows->plains, &rows->plain_count, b->plain_lines * b->plain_cols, chosen);
}

void board_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui)
{
    struct pen p = {g, m, ui};
    struct board_rows rows;
    struct board_layout b;
    int left_out;
    prepare(m, ui, body, &rows, &b, &left_out);
    draw_heading(&p, &b, rows.sides);
    draw_twins(&p, &b, &rows);
    draw_plains(&p, &b, &rows);
    if (b.panes.h)
        panes_draw(g, b.panes, m, ui);
    if (left_out) {
        char text[64];
        text_format(text, sizeof text,
                    body.w >= 48 ? "and %d more: choose with the arrow keys"
                                 : "and %d more: arrow keys",
                    left_out);
        if (b.more.h)
            grid_text(g, b.more.x + 2, b.more.y, b.more.w - 3, text, ROLE_DIM, 0);
        else /* too low even for a line of words: a sign in the corner */
            grid_put(g, body.x + body.w - 1, body.y + body.h - 1, GLYPH_ELLIPSIS, ROLE_DIM, 0);
    }
}

/* ---- choosing ---- */

/* All channels in the order of the board, left out ones too: chosen by going through them. */
struct place {
    int row, side;
    bool twin;
};

static struct place find_chosen(const struct board_rows *rows, const char *key)
{
    for (int i = 0; i < rows->twin_count; i++)
        for (int s = 0; s < rows->sides; s++)
            if (rows->twins[i].side[s] && strcmp(rows->twins[i].side[s]->key, key) == 0)
                return (struct place){i, s, true};
    for (int i = 0; i < rows->plain_count; i++)
        if (strcmp(rows->plains[i].side[0]->key, key) == 0)
            return (struct place){rows->twin_count + i, 0, false};
    return (struct place){-1, 0, false};
}

static void choose(struct ui *ui, const struct board_rows *rows, int row, int side)
{
    int count = rows->twin_count + rows->plain_count;
    if (count == 0)
        return;
    row = row < 0 ? 0 : row >= count ? count - 1 : row;
    const struct model_channel *c = row < rows->twin_count
                                        ? rows->twins[row].side[side]
                                        : rows->plains[row - rows->twin_count].side[0];
    if (!c)
        c = rows->twins[row].first;
    text_copy(ui->chosen, sizeof ui->chosen, c->key);
}

bool board_handle(struct ui *ui, const struct model *m, enum action a)
{
    struct board_rows rows;
    rows_fill(&rows, m, ui->filter);
    struct place at = find_chosen(&rows, ui->chosen);
    int side = at.side, last = rows.sides > 0 ? rows.sides - 1 : 0;
    switch (a) {
    case ACTION_UP:
        choose(ui, &rows, at.row < 0 ? 0 : at.row - 1, side);
        return true;
    case ACTION_DOWN:
        choose(ui, &rows, at.row + 1, side);
        return true;
    case ACTION_PAGE_UP:
        choose(ui, &rows, at.row - 8, side);
        return true;
    case ACTION_PAGE_DOWN:
        choose(ui, &rows, at.row + 8, side);
        return true;
    case ACTION_HOME:
        choose(ui, &rows, 0, side);
        return true;
    case ACTION_END:
        choose(ui, &rows, ROWS_MAX + PLAINS_MAX, side);
        return true;
    case ACTION_LEFT:
        choose(ui, &rows, at.row, side > 0 ? side - 1 : 0);
        return true;
    case ACTION_RIGHT:
        choose(ui, &rows, at.row, side < last ? side + 1 : last);
        return true;
    case ACTION_NEXT_FIELD:
        choose(ui, &rows, at.row, side < last ? side + 1 : 0);
        return true;
    case ACTION_BACK:
        if (!ui->chosen[0])
            return false;
        ui->chosen[0] = '\0';
        return true;
    default:
        return false;
    }
}

bool board_pick(struct ui *ui, const struct model *m, struct rect body, int x, int y)
{
    struct board_rows rows;
    struct board_layout b;
    int left_out, top;
    prepare(m, ui, body, &rows, &b, &left_out);
    top = b.twins.y;
    for (int i = 0; i < rows.twin_count; i++) {
        int h = row_height(&rows, &b, i);
        if (y >= top && y < top + h) {
            int right = b.keel_x + b.keel.width;
            int side = b.shape == BOARD_KEEL     ? x >= b.keel_x + b.keel.width / 2
                       : b.shape == BOARD_SINGLE ? 0
                       : x < right               ? 0
                                                 : (x - right) / b.side.width;
            choose(ui, &rows, i, side < rows.sides ? side : 0);
            return true;
        }
        top += h;
    }
    if (y < b.plains.y || y >= b.plains.y + b.plains.h)
        return false;
    int line = (y - b.plains.y) / b.plain_h, column = (x - b.plains.x) * b.plain_cols / b.plains.w;
    int i = column * b.plain_lines + line;
    if (i >= rows.plain_count)
        return false;
    choose(ui, &rows, rows.twin_count + i, 0);
    return true;
}
