#include "screen/movers.h"

#include "base/order.h"
#include "base/text.h"
#include "screen/bars.h"
#include "screen/glyphs.h"
#include "screen/graph.h"
#include "screen/list.h"
#include "screen/rows.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define STEP_NS   (2 * NS_PER_S)
#define STEPS     60 /* two minutes looked back on */
#define QUIET_MIN 5  /* stretches before a move that make its noise known */

/* Means of stretches of 2 s, newest first; NaN where nothing was heard. */
static int stretches(const struct model *m, const struct model_channel *c, double mean[STEPS])
{
    int64_t end = m->now.mono_ns - m->now.mono_ns % STEP_NS + STEP_NS;
    int heard = 0;
    for (int i = 0; i < STEPS; i++) {
        struct history_bucket b;
        int64_t from = end - (i + 1) * STEP_NS;
        mean[i] = NAN;
        if (from >= 0 && history_span(c->history, from, from + STEP_NS, &b)) {
            mean[i] = (double)b.mean;
            heard++;
        }
    }
    return heard;
}

/* The level of stretches [from, to), and what the channel does by itself: the larger of its usual
 * step and its usual distance from the level. Medians, so that a move that has begun does not count
 * as noise, while what wanders all the time is not news. */
static bool rest(const double *mean, int from, int to, double *level, double *noise)
{
    double values[STEPS], steps[STEPS], before = NAN;
    int n = 0, pairs = 0;
    for (int i = from; i < to; i++) {
        if (isnan(mean[i]))
            continue;
        values[n++] = mean[i];
        if (!isnan(before))
            steps[pairs++] = fabs(mean[i] - before);
        before = mean[i];
    }
    if (n < QUIET_MIN || pairs == 0)
        return false;
    *level = order_median(values, n);
    for (int i = 0; i < n; i++)
        values[i] = fabs(values[i] - *level);
    /* 1.4826: a median deviation as a standard deviation, for normal noise. */
    *noise = fmax(order_median(steps, pairs), 1.4826 * order_median(values, n));
    return true;
}

struct mover mover_of(const struct model *m, const struct model_channel *c)
{
    struct mover out = {.channel = c, .since_ns = -1};
    double mean[STEPS], level, noise;
    /* The least step that can be seen: half of the last place on the screen. */
    double floor_noise = 0.5 * pow(10, -c->decimals) / 5;
    if (c->status != READING_OK || stretches(m, c, mean) < QUIET_MIN + 1)
        return out;
    int newest = 0;
    while (newest < 3 && isnan(mean[newest]))
        newest++;
    if (newest == 3 || !rest(mean, newest + 5, STEPS, &level, &noise))
        return out;
    noise = fmax(noise, floor_noise);
    out.change = mean[newest] - level;
    out.score = fabs(out.change) / noise;
    if (out.score < MOVER_SCORE)
        return out;
    /* Back to where it last stood where it had stood. */
    int k = newest;
    while (k + 1 < STEPS && !isnan(mean[k + 1]) && fabs(mean[k + 1] - level) > 3 * noise)
        k++;
    out.since_ns = k * STEP_NS;
    return out;
}

/* How much a change means: against what is steady for the quantity, so that an exhaust that climbs
 * stands above a voltage that wobbles. */
static double weight(const struct mover *v)
{
    return fabs(v->change) / fmax(v->channel->steady_per_min, 1e-9);
}

/* In doublings, so that two that move alike do not change places all the time. */
static int rank_of(const struct mover *v)
{
    return v->since_ns < 0 ? -1000 : (int)floor(log2(fmax(weight(v), 1e-9)));
}

static int by_move(const void *a, const void *b)
{
    const struct mover *p = a, *q = b;
    int pr = rank_of(p), qr = rank_of(q);
    if (pr != qr)
        return pr > qr ? -1 : 1;
    /* What is still, or moves alike, keeps the order of the bus. */
    return p->channel < q->channel ? -1 : p->channel > q->channel;
}

/* What only ever counts up answers no hand that warms a sensor. */
static bool is_counter(const struct model_channel *c)
{
    return c->id.quantity == QTY_HOURS || c->id.quantity == QTY_TRIP_FUEL;
}

int movers_rank(const struct model *m, const char *filter, struct mover *out, int cap)
{
    int n = 0;
    for (size_t i = 0; i < m->channel_count && n < cap; i++)
        /* What is worked out moves with what it is worked out from: no sensor answers there. */
        if (rows_wanted(&m->channels[i], *filter ? filter : NULL) &&
            !rows_is_derived(&m->channels[i]) && !is_counter(&m->channels[i]))
            out[n++] = mover_of(m, &m->channels[i]);
    qsort(out, (size_t)n, sizeof *out, by_move);
    return n;
}

/* ---- the view ---- */

enum { MOVERS_SHOWN = 256 };

static void draw_trend(struct grid *g, struct rect r, const struct model *m,
                       const struct model_channel *c)
{
    struct graph curve;
    const struct graph *const one[] = {&curve};
    struct graph_span span = graph_span(g, m->now.mono_ns, 120 * NS_PER_S, r.w);
    graph_read(&curve, &span, c->history, c->period_ns);
    graph_draw(g, r, &curve, graph_scale(one, 1, false, 0),
               (struct graph_ink){.role = ROLE_TREND, .over = ROLE_TREND});
}

static void draw_row(struct grid *g, struct rect r, const struct model *m, const struct ui *ui,
                     const struct mover *v)
{
    const struct model_channel *c = v->channel;
    bool moves = v->since_ns >= 0, chosen = strcmp(c->key, ui->chosen) == 0;
    enum unit u = model_unit(&m->units, c->unit);
    char text[64], number[32];
    int x = r.x + 1;
    if (chosen)
        grid_put(g, r.x, r.y, GLYPH_CHOSEN, ROLE_KEY, 0);
    int label_w = r.w >= 60 ? 22 : 16;
    rows_short_label(g, m, c, label_w, text, sizeof text);
    int label = grid_text(g, x, r.y, label_w, text, moves ? ROLE_VALUE : ROLE_LABEL,
                          chosen ? ATTR_UNDERLINE : 0);
    x += label_w + 1;
    /* A state is a word, longer than any number: it may have what the label left. */
    int spare = label_w - label;
    model_reading_text(m, c, text, sizeof text);
    grid_text_right(g, x - spare, r.y, 7 + spare, text,
                    c->status == READING_OK ? ROLE_VALUE : ROLE_DIM, 0);
    grid_text(g, x + 8, r.y, 5, g->ascii ? unit_ascii(u) : unit_text(u), ROLE_DIM, 0);
    x += 13;
    double change = unit_from_base_difference(u, v->change);
    int decimals = c->decimals + 1;
    if (moves && text_number(number, sizeof number, change, decimals > 2 ? 2 : decimals)) {
        text_format(text, sizeof text, "%s%s", change > 0 ? "+" : "", number);
        grid_text_right(g, x, r.y, 8, text, ROLE_VALUE, 0);
    }
    if (c->off || c->status == READING_STALE) {
        model_age_text(c, text, sizeof text);
        grid_text_right(g, x - 2, r.y, 10, text, ROLE_DIM, 0);
    }
    x += 9;
    if (r.w < 60)
        return;
    if (moves)
        text_format(text, sizeof text, v->since_ns >= (STEPS - 6) * STEP_NS ? "%d s +" : "%d s",
                    (int)(v->since_ns / NS_PER_S));
    else
        text[0] = '\0';
    grid_text_right(g, x, r.y, 7, text, ROLE_DIM, 0);
    x += 8;
    text_format(text, sizeof text, "%3d %3d %6u", c->source, c->id.place, c->pgn);
    grid_text(g, x, r.y, r.x + r.w - x - 1, text, moves ? ROLE_TEXT : ROLE_DIM, 0);
    x += 15;
    int trend = r.x + r.w - x - 2;
    if (trend >= 8 && !rows_is_flat(c))
        draw_trend(g, (struct rect){x, r.y, trend < 40 ? trend : 40, 1}, m, c);
}

/* Lines for rows: below the heading, and above a line about the sender where that has no columns.
 */
static int list_room(struct rect body, int n)
{
    return body.h - 1 - (body.w < 60 && body.h >= 4 && n > 0);
}

void movers_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui)
{
    struct mover movers[MOVERS_SHOWN];
    int n = movers_rank(m, ui->filter, movers, MOVERS_SHOWN), room = list_room(body, n);
    int chosen = -1;
    for (int i = 0; i < n; i++)
        if (strcmp(movers[i].channel->key, ui->chosen) == 0)
            chosen = i;
    int label_w = body.w >= 60 ? 22 : 16, x = body.x + 1 + label_w + 1;
    grid_text(g, body.x + 1, body.y, label_w, "what moves", ROLE_TITLE, ATTR_BOLD);
    grid_text_right(g, x, body.y, 7, "value", ROLE_DIM, 0);
    grid_text_right(g, x + 13, body.y, 8, "change", ROLE_DIM, 0);
    if (body.w >= 60) {
        grid_text_right(g, x + 22, body.y, 7, "since", ROLE_DIM, 0);
        grid_text(g, x + 30, body.y, body.w - x - 31, "src ins    pgn", ROLE_DIM, 0);
    }
    /* Where there is no room for the columns, the sender of the one that is looked at. */
    if (room < body.h - 1) {
        const struct model_channel *c = movers[chosen < 0 ? 0 : chosen].channel;
        char text[96];
        text_format(text, sizeof text, "%s: src %d ins %d pgn %u", c->key, c->source, c->id.place,
                    c->pgn);
        if (grid_width(g, text) > body.w - 2)
            text_format(text, sizeof text, "src %d ins %d pgn %u", c->source, c->id.place, c->pgn);
        grid_text(g, body.x + 1, body.y + body.h - 1, body.w - 2, text, ROLE_TEXT, 0);
    }
    int top = list_top(n, room, chosen);
    for (int i = 0; i < room && top + i < n; i++) {
        struct rect r = {body.x, body.y + 1 + i, body.w, 1};
        if (i == room - 1 && top + i + 1 < n) {
            char text[40];
            text_format(text, sizeof text, "and %d more", n - top - i);
            grid_text(g, r.x + 1, r.y, r.w - 2, text, ROLE_DIM, 0);
            break;
        }
        draw_row(g, r, m, ui, &movers[top + i]);
    }
    if (n == 0)
        grid_text(g, body.x + 1, body.y + 2, body.w - 2, "no channel yet", ROLE_DIM, 0);
}

static void choose(struct ui *ui, const struct mover *movers, int n, int row)
{
    if (n == 0)
        return;
    row = row < 0 ? 0 : row >= n ? n - 1 : row;
    text_copy(ui->chosen, sizeof ui->chosen, movers[row].channel->key);
}

bool movers_handle(struct ui *ui, const struct model *m, enum action a)
{
    struct mover movers[MOVERS_SHOWN];
    int n = movers_rank(m, ui->filter, movers, MOVERS_SHOWN), at = -1;
    int page = bars_layout(ui, m).body.h - 2;
    for (int i = 0; i < n; i++)
        if (strcmp(movers[i].channel->key, ui->chosen) == 0)
            at = i;
    switch (a) {
    case ACTION_UP:
        choose(ui, movers, n, at - 1);
        return true;
    case ACTION_DOWN:
        choose(ui, movers, n, at + 1);
        return true;
    case ACTION_PAGE_UP:
        choose(ui, movers, n, at - (page > 1 ? page : 1));
        return true;
    case ACTION_PAGE_DOWN:
        choose(ui, movers, n, at + (page > 1 ? page : 1));
        return true;
    case ACTION_HOME:
        choose(ui, movers, n, 0);
        return true;
    case ACTION_END:
        choose(ui, movers, n, n - 1);
        return true;
    case ACTION_CHOOSE:
        if (ui->chosen[0])
            ui_open_trend(ui, ui->chosen);
        return true;
    default:
        return false;
    }
}

bool movers_pick(struct ui *ui, const struct model *m, struct rect body, int x, int y)
{
    (void)x;
    struct mover movers[MOVERS_SHOWN];
    int n = movers_rank(m, ui->filter, movers, MOVERS_SHOWN), chosen = -1;
    for (int i = 0; i < n; i++)
        if (strcmp(movers[i].channel->key, ui->chosen) == 0)
            chosen = i;
    int row = y - body.y - 1, room = list_room(body, n), at = list_top(n, room, chosen) + row;
    if (row < 0 || row >= room || at >= n)
        return false;
    choose(ui, movers, n, at);
    return true;
}
