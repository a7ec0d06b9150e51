#include "screen/board.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/chart.h"
#include "screen/glyphs.h"
#include "screen/rows.h"
#include "screen/tables.h"

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

/* The priority in whose colour a row stands: that of its alert, or of its own limit where it is
 * beyond that and another channel's alert speaks for both. -1: it is quiet. */
static int loudness(const struct pen *p, const struct model_channel *c)
{
    const struct alert *a = alert_of(p, c);
    int own = c && model_is_beyond(p->m, c) ? (int)c->limit_priority : -1;
    return a && (int)a->priority > own ? (int)a->priority : own;
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

/* The letter of an alert, and beside it the limit: its own colour, or where it is not the one on
 * the keel. */
static void draw_state(const struct pen *p, const struct side_layout *s, int inner, int y,
                       const struct model_channel *c, bool own_limit, bool mirrored)
{
    const struct alert *a = alert_of(p, c);
    int loud = loudness(p, c);
    enum role role = loud >= 0 ? priority_role((enum priority)loud) : ROLE_LIMIT;
    char text[32];
    if (s->state_w && loud >= 0) {
        bool pending = a && a->state != ALERT_ACKNOWLEDGED && a->priority != PRIORITY_CAUTION;
        grid_put(p->g, outward(inner, s->state_at, 1, mirrored), y,
                 (uint32_t)alert_priority_letter((enum priority)loud), role,
                 pending && p->ui->flash ? ATTR_REVERSE : 0);
    }
    if (!s->limit_w || !c->has_limit || (loud < 0 && !own_limit))
        return;
    model_value_text(p->m, c, c->limit, text, sizeof text);
    int x = outward(inner, s->limit_at, s->limit_w, mirrored);
    if (mirrored)
        grid_text_right(p->g, x, y, s->limit_w, text, role, 0);
    else
        grid_text(p->g, x, y, s->limit_w, text, role, 0);
}

/* Both sides of a row: their curves share a scale, so that equal heights mean equal values. */
struct pair {
    const struct model_channel *c[ROW_SIDES];
    struct graph graph[ROW_SIDES];
    struct scale scale;
    bool own_limits; /* not all have the same one */
};

static void read_pair(const struct pen *p, struct pair *pair, const struct board_row *row,
                      int sides, int trend_w)
{
    const struct model_channel *limited = NULL;
    const struct graph *curves[ROW_SIDES];
    int n = 0;
    memset(pair->c, 0, sizeof pair->c);
    pair->own_limits = false;
    pair->scale = (struct scale){0, 1, false};
    for (int s = 0; s < sides; s++) {
        const struct model_channel *c = pair->c[s] = row->side[s];
        if (!c)
            continue;
        if (limited && (c->has_limit != limited->has_limit ||
                        (c->has_limit && (c->limit < limited->limit || c->limit > limited->limit))))
            pair->own_limits = true;
        limited = limited ? limited : c;
        if (!trend_w || rows_is_flat(c))
            continue;
        struct graph_span span = graph_span(p->g, p->m->now.mono_ns, p->m->trend_span_ns, trend_w);
        graph_read(&pair->graph[s], &span, c->history, c->period_ns);
        curves[n++] = &pair->graph[s];
    }
    if (n)
        pair->scale = graph_scale(curves, n, limited->has_limit, limited->limit);
}

/* How old it is, or that it is off, in the place of a trend. */
static bool draw_age(const struct pen *p, struct rect r, const struct model_channel *c,
                     bool mirrored)
{
    char text[32];
    bool fresh = c->status == READING_OK && !c->off;
    if (fresh || c->status == READING_ERROR)
        return false;
    if (c->status == READING_NOT_AVAILABLE && !c->off)
        return true;
    model_age_text(c, text, sizeof text);
    if (grid_width(p->g, text) > r.w && !c->off)
        model_age_short(c, text, sizeof text);
    if (mirrored)
        grid_text_right(p->g, r.x, r.y, r.w, text, ROLE_DIM, 0);
    else
        grid_text(p->g, r.x, r.y, r.w, text, ROLE_DIM, 0);
    return true;
}

/* "May+4" over the oldest part of the trend: how far it stands from the season's first trips. */
static void draw_season(const struct pen *p, struct rect r, const struct model_channel *c)
{
    char text[32], digits[24];
    double d = c->season_is_share
                   ? c->season * 100
                   : unit_from_base_difference(model_unit(&p->m->units, c->unit), c->season);
    if (!c->has_season || c->status != READING_OK || c->off)
        return;
    text_number(digits, sizeof digits, d, !c->season_is_share && d < 1 && d > -1 ? 1 : 0);
    text_format(text, sizeof text, "%.3s%s%s%s", c->season_since, d > 0 ? "+" : "", digits,
                c->season_is_share ? "%" : "");
    if (grid_width(p->g, text) + 2 > r.w)
        return;
    text_append(text, sizeof text, " "); /* apart from the curve */
    grid_text(p->g, r.x, r.y, r.w, text, ROLE_DIM, 0);
}

/* Arrow, value, rate, trend, state and limit of one channel. inner is the column beside the keel.
 */
static void draw_side(const struct pen *p, const struct side_layout *s, int inner, int y,
                      const struct pair *pair, int side, bool mirrored)
{
    const struct model_channel *c = pair->c[side];
    if (!c || s->value_w < 1)
        return;
    char text[32];
    int loud = loudness(p, c);
    bool fresh = c->status == READING_OK && !c->off, beyond = model_is_beyond(p->m, c);
    enum role role = !fresh && !beyond ? ROLE_DIM
                     : loud >= 0       ? priority_role((enum priority)loud)
                                       : ROLE_VALUE;
    int attr = is_chosen(p, c) ? ATTR_UNDERLINE : 0;
    if (c->status == READING_ERROR && loud < 0)
        role = ROLE_VALUE;
    if (fresh && c->has_rate && !rows_is_flat(c)) {
        int step = model_rate_step(c);
        grid_put(p->g, outward(inner, s->arrow_at, 1, mirrored), y, glyph_arrow(step),
                 step ? role : ROLE_DIM, 0);
    }
    /* A long number may use the room of a rate that is not there. */
    model_rate_text(p->m, c, text, sizeof text);
    bool has_rate = text[0] && s->rate_w;
    if (has_rate)
        grid_text_right(p->g, outward(inner, s->rate_at, s->rate_w, mirrored), y, s->rate_w, text,
                        loud >= 0 ? role : ROLE_DIM, 0);
    model_reading_text(p->m, c, text, sizeof text);
    int value_w = s->value_w, need = grid_width(p->g, text);
    int room = has_rate ? 0 : s->rate_w ? s->rate_w : rows_is_flat(c) ? s->trend_w : 0;
    if (need > value_w)
        value_w = need < value_w + room ? need : value_w + room;
    grid_text_right(p->g, outward(inner, s->value_at, value_w, mirrored), y, value_w, text, role,
                    attr);
    draw_state(p, s, inner, y, c, pair->own_limits, mirrored);
    struct rect r = {outward(inner, s->trend_at, s->trend_w, mirrored), y, s->trend_w, 1};
    if (!s->trend_w || draw_age(p, r, c, mirrored) || rows_is_flat(c))
        return;
    struct graph_ink ink = {.role = ROLE_TREND,
                            .over = loud >= 0 ? priority_role((enum priority)loud) : ROLE_VALUE,
                            .has_limit = c->has_limit,
                            .limit_above = c->limit_above,
                            .limit = c->limit};
    graph_draw(p->g, r, &pair->graph[side], pair->scale, ink);
    draw_season(p, r, c);
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

/* The limits of all sides, where each has its own and none has room for it: "93/88". */
static void limits_words(const struct pen *p, const struct pair *pair, int sides, char *dst,
                         size_t cap)
{
    char text[32];
    dst[0] = '\0';
    for (int s = 0; s < sides; s++) {
        const struct model_channel *c = pair->c[s];
        if (c && c->has_limit)
            limit_words(p, c, 0, text, sizeof text);
        else
            text_copy(text, sizeof text, "-");
        text_append(dst, cap, "%s%s", s ? "/" : "", text);
    }
}

/* Label, unit and limit from x on; in a row that an alert is about they have its colour. Where each
 * side has its own limit, `limits` has them all, or, where the sides show them, is "". NULL: one
 * limit for all. */
static void draw_label(const struct pen *p, const struct label_layout *l, int x, int y,
                       const struct board_row *row, const char *limits)
{
    const struct model_channel *c = row->first;
    const struct alert *a = rows_alert(p->m, row);
    enum role role = a ? priority_role(a->priority) : ROLE_LABEL;
    const char *unit = unit_words(p, c);
    int unit_w = grid_width(p->g, unit), left = x, end = x;
    end += l->label_w + 1 + l->unit_w + l->limit_w;
    int used = grid_text(p->g, x, y, l->label_w, rows_name(c), role, 0);
    char text[64] = "";
    if (limits)
        text_copy(text, sizeof text, limits);
    else if (c->has_limit) /* never run together with the unit: a long one goes up to the keel */
        limit_words(p, c, l->limit_w - (unit_w >= l->unit_w), text, sizeof text);
    int limit_w = l->limit_w ? grid_width(p->g, text) : 0;
    /* Long limits go up to the keel; then the unit moves into what the label left. */
    x += l->label_w + 1;
    int room = end - x - limit_w;
    if (unit_w > room)
        x -= unit_w - room < l->label_w - used ? unit_w - room : l->label_w - used;
    if (l->unit_w)
        grid_text(p->g, x, y, end - x, unit, ROLE_DIM, 0);
    if (limit_w == 0)
        return;
    if (limits && x + unit_w + limit_w > end) { /* they differ, with no room to say how */
        text_copy(text, sizeof text, p->g->ascii ? "!=" : "\u2260");
        limit_w = grid_width(p->g, text);
    }
    bool tight = x + unit_w + 1 + limit_w > end;
    grid_text_right(p->g, left, y, end - left + tight, text, a ? role : ROLE_LIMIT, 0);
}

static void draw_row(const struct pen *p, const struct board_layout *b, int sides, int y,
                     const struct board_row *row)
{
    struct pair pair;
    int right = b->keel_x + b->keel.width, x = right;
    read_pair(p, &pair, row, sides, b->side.trend_w);
    char limits[64] = "";
    if (pair.own_limits && !b->side.limit_w)
        limits_words(p, &pair, sides, limits, sizeof limits);
    draw_label(p, &b->keel, b->keel_x + 2, y, row, pair.own_limits ? limits : NULL);
    if (b->shape != BOARD_COLUMNS)
        grid_put(p->g, right - 1, y, GLYPH_KEEL, ROLE_KEEL, 0);
    if (b->shape == BOARD_KEEL) {
        grid_put(p->g, b->keel_x, y, GLYPH_KEEL, ROLE_KEEL, 0);
        draw_side(p, &b->side, b->keel_x - 1, y, &pair, 0, true);
        draw_side(p, &b->side, right, y, &pair, 1, false);
        return;
    }
    for (int s = 0; s < sides; s++, x += b->side.width) {
        grid_put(p->g, x - 1, y, GLYPH_KEEL, ROLE_KEEL, 0);
        draw_side(p, &b->side, x, y, &pair, s, false);
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
        grid_text_right(p->g, b->heading.x, y, b->keel_x - 1 - b->heading.x, p->m->engine_names[0],
                        ROLE_TITLE, ATTR_BOLD);
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

/* ---- charts ---- */

/* Where nothing is wrong: the first of these that the boat has. */
static const uint16_t pictures[] = {QTY_EXHAUST, QTY_EXHAUST_GAS, QTY_COOLANT, QTY_OIL_PRESSURE,
                                    QTY_RPM};

/* The picture of the trouble: what the worst alert with a curve is about. */
static struct chart picture_of(const struct model *m, const struct board_rows *rows,
                               int64_t span_ns)
{
    struct chart chart = {0};
    for (size_t i = 0; i < m->alert_count; i++) {
        const struct model_channel *c =
            m->alerts[i]->active ? model_find(m, m->alerts[i]->channel) : NULL;
        if (c && !rows_is_flat(c))
            return chart_about(m, c, span_ns);
    }
    /* Who chose rows chose what is looked at. */
    for (int i = 0; i < rows->twin_count && m->pane_count && !chart.count; i++)
        if (!rows_is_flat(rows->twins[i].first))
            chart = chart_of(m, rows->twins[i].first->id.quantity, span_ns);
    for (size_t i = 0; i < sizeof pictures / sizeof pictures[0] && !chart.count; i++)
        chart = chart_of(m, pictures[i], span_ns);
    return chart;
}

/* A wide board has room for longer curves, once there is something to draw in them. */
#define WIDE_SPAN_NS (1800 * NS_PER_S)
static bool reaches_back(const struct model *m, const struct chart *chart)
{
    struct history_bucket b;
    int64_t from = m->now.mono_ns - WIDE_SPAN_NS, to = m->now.mono_ns - m->trend_span_ns;
    if (from < 0)
        from = 0;
    return chart->count && to > from && history_span(chart->channel[0]->history, from, to, &b);
}

static void draw_charts(const struct pen *p, const struct board_layout *b,
                        const struct board_rows *rows)
{
    if (!b->chart_count)
        return;
    int64_t span_ns = p->m->trend_span_ns;
    struct chart picture = picture_of(p->m, rows, span_ns);
    if (b->chart_count > 1 && reaches_back(p->m, &picture))
        span_ns = picture.span_ns = WIDE_SPAN_NS;
    /* The others are as the user chose; where that is the picture itself, what comes first. */
    uint16_t shown[LAYOUT_CHARTS] = {picture.count ? picture.channel[0]->id.quantity : 0};
    const uint16_t wanted[] = {p->ui->chart[0], p->ui->chart[1], QTY_COOLANT,     QTY_RPM,
                               QTY_EXHAUST,     QTY_LOAD,        QTY_OIL_PRESSURE};
    size_t next = 0;
    for (int i = 0; i < b->chart_count; i++) {
        struct chart chart = picture;
        while (i > 0 && next < sizeof wanted / sizeof wanted[0]) {
            uint16_t q = wanted[next++];
            chart = chart_of(p->m, q, span_ns);
            bool again = q == shown[0] || (i > 1 && q == shown[1]);
            if (chart.count && !again) {
                shown[i] = q;
                break;
            }
            chart.count = 0;
        }
        chart.times = i == b->chart_count - 1;
        chart_draw(p->g, b->charts[i], p->m, &chart);
    }
}

/* ---- the list of alerts ---- */

static void clock_or_elapsed(const struct model *m, int64_t wall_ns, char *dst, size_t cap)
{
    if (m->clock_known)
        when_clock(dst, cap, wall_ns, false);
    else
        when_elapsed(dst, cap, wall_ns - m->replay.first_ns);
}

/* Those that are listed in full, then the ended ones, newest first. */
static void draw_alerts(const struct pen *p, struct rect r)
{
    const struct model *m = p->m;
    size_t n = m->alert_count + m->ended_count, i = 0;
    int y = r.y + 1, end = r.y + r.h;
    char text[64];
    grid_text(p->g, r.x + 1, r.y, r.w - 2, "alerts", ROLE_TITLE, ATTR_BOLD);
    if (n == 0)
        grid_text(p->g, r.x + 1, y, r.w - 2, "none since the start", ROLE_DIM, 0);
    for (; i < n && y < end - (i + 1 < n); i++) {
        bool listed = i < m->alert_count;
        const struct alert *a = listed ? m->alerts[i] : m->ended[i - m->alert_count];
        clock_or_elapsed(m, a->raised.wall_ns, text, sizeof text);
        int x = r.x + 2 + grid_text(p->g, r.x + 1, y, 10, text, ROLE_DIM, 0);
        struct rect line = {x, y, r.x + r.w - x - 1, 1};
        if (listed) {
            line.h = bars_lines(a->text, line.w - 2);
            line.h = line.h > end - y ? end - y : line.h;
            bars_alert_text(p->g, line, a, p->ui->flash);
            y += line.h;
        } else {
            grid_put(p->g, x, y, (uint32_t)alert_priority_letter(a->priority), ROLE_DIM, 0);
            grid_text(p->g, x + 2, y, 6, "over:", ROLE_DIM, 0);
            grid_text(p->g, x + 8, y, line.w - 8, a->text, ROLE_DIM, 0);
            y++;
        }
    }
    if (i < n) {
        text_format(text, sizeof text, "and %zu more", n - i);
        grid_text(p->g, r.x + 1, end - 1, r.w - 2, text, ROLE_DIM, 0);
    }
}

/* ---- the whole ---- */

/* All that the board shows, and where. */
struct board {
    struct board_rows rows;
    struct board_layout at;
    struct tables_plan tables;
    int left_out;
};

static void prepare(const struct model *m, const struct ui *ui, struct rect body, struct board *b)
{
    rows_fill(&b->rows, m, ui->filter);
    /* What tables with all their columns may take: on a low screen whatever the engines leave. */
    int most = body.h < LAYOUT_LOW ? body.h - b->rows.twin_count - 2 : body.h / 4;
    struct board_need need = {.sides = b->rows.sides,
                              .twins = b->rows.twin_count,
                              .tables = tables_lines(&b->rows, body.w, most),
                              .chart = m->channel_count > 0 && !ui->filter[0]};
    b->at = layout_board(body, need);
    const char *chosen = ui->chosen[0] ? ui->chosen : NULL;
    b->left_out = b->rows.left_out;
    b->left_out += rows_keep(b->rows.twins, &b->rows.twin_count, b->at.twin_rows, chosen);
    b->left_out += tables_fit(&b->tables, &b->rows, b->at.tables, chosen);
}

bool board_has_charts(const struct ui *ui, const struct model *m)
{
    struct board b;
    prepare(m, ui, bars_layout(ui, m).body, &b);
    return b.at.chart_count > 1;
}

/* The lowest chart: the chosen row's quantity, or the next that an engine has. */
static void next_chart(struct ui *ui, const struct model *m)
{
    static const uint16_t set[] = {QTY_RPM,      QTY_LOAD,  QTY_OIL_PRESSURE, QTY_FUEL_RATE,
                                   QTY_OIL_TEMP, QTY_BOOST, QTY_COOLANT,      QTY_EXHAUST};
    enum { N = sizeof set / sizeof set[0] };
    const struct model_channel *c = model_find(m, ui->chosen);
    if (c && c->engine >= 0 && !c->second && !rows_is_flat(c) && c->id.quantity != ui->chart[1]) {
        ui->chart[0] = ui->chart[1];
        ui->chart[1] = c->id.quantity;
        return;
    }
    size_t at = 0;
    for (size_t i = 0; i < N; i++)
        if (set[i] == ui->chart[1])
            at = i;
    for (size_t i = 1; i <= N; i++)
        if (chart_of(m, set[(at + i) % N], 1).count) {
            ui->chart[1] = set[(at + i) % N];
            return;
        }
}

/* A board laid out for the first engine that was heard would be laid out again a second later. */
static void draw_gathering(struct grid *g, struct rect body, const struct model *m)
{
    char text[80];
    text_format(text, sizeof text, "finding out who is there: %zu channel%s so far",
                m->channel_count, m->channel_count == 1 ? "" : "s");
    if (body.h >= 2)
        grid_text(g, body.x + 2, body.y + 1, body.w - 3, text, ROLE_DIM, 0);
}

void board_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui)
{
    struct pen p = {g, m, ui};
    if (m->gathering && m->alert_count == 0 && !m->waiting) {
        draw_gathering(g, body, m);
        return;
    }
    struct board b;
    prepare(m, ui, body, &b);
    draw_charts(&p, &b.at, &b.rows);
    draw_heading(&p, &b.at, b.rows.sides);
    for (int i = 0; i < b.rows.twin_count; i++)
        draw_row(&p, &b.at, b.rows.sides, b.at.twins.y + i, &b.rows.twins[i]);
    tables_draw(g, &b.tables, &b.rows, m, ui);
    if (b.at.alerts.h)
        draw_alerts(&p, b.at.alerts);
    if (b.left_out) {
        char text[64];
        text_format(text, sizeof text,
                    body.w >= 48 ? "and %d more: choose with the arrow keys"
                                 : "and %d more: arrow keys",
                    b.left_out);
        if (b.at.more.h)
            grid_text(g, b.at.more.x + 1, b.at.more.y, b.at.more.w - 2, text, ROLE_DIM, 0);
        else /* too low even for a line of words: a sign in the corner */
            grid_put(g, body.x + body.w - 1, body.y + body.h - 1, GLYPH_ELLIPSIS, ROLE_DIM, 0);
    }
}

/* ---- choosing ---- */

/* All channels in the order of the board, left out ones too: chosen by going through them. */
struct place {
    int row, side;
};

static struct place find_chosen(const struct board_rows *rows, const char *key)
{
    for (int i = 0; i < rows->twin_count; i++)
        for (int s = 0; s < rows->sides; s++)
            if (rows->twins[i].side[s] && strcmp(rows->twins[i].side[s]->key, key) == 0)
                return (struct place){i, s};
    for (int i = 0; i < rows->plain_count; i++)
        for (int s = 0; s < ROW_CELLS; s++)
            if (rows->plains[i].side[s] && strcmp(rows->plains[i].side[s]->key, key) == 0)
                return (struct place){rows->twin_count + i, s};
    return (struct place){-1, 0};
}

static void choose(struct ui *ui, const struct board_rows *rows, int row, int side)
{
    int count = rows->twin_count + rows->plain_count;
    if (count == 0)
        return;
    row = row < 0 ? 0 : row >= count ? count - 1 : row;
    const struct board_row *r =
        row < rows->twin_count ? &rows->twins[row] : &rows->plains[row - rows->twin_count];
    const struct model_channel *c = r->side[side] ? r->side[side] : r->first;
    text_copy(ui->chosen, sizeof ui->chosen, c->key);
}

/* The next column of a row that holds something, or where it is. */
static int step_side(const struct board_rows *rows, struct place at, int step, bool round)
{
    if (at.row < 0)
        return 0;
    bool twin = at.row < rows->twin_count;
    const struct board_row *r =
        twin ? &rows->twins[at.row] : &rows->plains[at.row - rows->twin_count];
    int count = twin ? rows->sides : ROW_CELLS;
    for (int i = 1; i <= count; i++) {
        int s = at.side + i * step;
        if (!round && (s < 0 || s >= count))
            return at.side;
        s = (s + count) % count;
        if (r->side[s])
            return s;
    }
    return at.side;
}

bool board_handle(struct ui *ui, const struct model *m, enum action a)
{
    struct board_rows rows;
    rows_fill(&rows, m, ui->filter);
    struct place at = find_chosen(&rows, ui->chosen);
    int side = at.side;
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
        choose(ui, &rows, at.row, step_side(&rows, at, -1, false));
        return true;
    case ACTION_RIGHT:
        choose(ui, &rows, at.row, step_side(&rows, at, 1, false));
        return true;
    case ACTION_NEXT_FIELD:
        choose(ui, &rows, at.row, step_side(&rows, at, 1, true));
        return true;
    case ACTION_CHARTS:
        next_chart(ui, m);
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
    struct board b;
    int side;
    prepare(m, ui, body, &b);
    int row = y - b.at.twins.y;
    if (row >= 0 && row < b.rows.twin_count && x >= b.at.twins.x &&
        x < b.at.twins.x + b.at.twins.w) {
        int right = b.at.keel_x + b.at.keel.width;
        side = b.at.shape == BOARD_KEEL     ? x >= b.at.keel_x + b.at.keel.width / 2
               : b.at.shape == BOARD_SINGLE ? 0
               : x < right                  ? 0
                                            : (x - right) / b.at.side.width;
        choose(ui, &b.rows, row, side < b.rows.sides ? side : 0);
        return true;
    }
    row = tables_at(&b.tables, &b.rows, x, y, &side);
    if (row < 0)
        return false;
    choose(ui, &b.rows, b.rows.twin_count + row, side);
    return true;
}
