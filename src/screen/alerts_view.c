#include "screen/alerts_view.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/chart.h"
#include "screen/glyphs.h"
#include "screen/list.h"
#include "screen/rows.h"

#include <math.h>

#include "base/banned.h"

/* Listed ones and ended ones as one run of rows. */
struct rows {
    const struct alert *alert[ALERTS_MAX + ALERTS_HISTORY];
    int listed, count; /* the first `listed` stand or wait; the rest are over */
};

static void gather_rows(struct rows *rows, const struct model *m, const struct ui *ui)
{
    rows->listed = rows->count = 0;
    for (size_t i = 0; i < m->alert_count; i++)
        if (rows_holds(m->alerts[i]->text, ui->filter))
            rows->alert[rows->count++] = m->alerts[i];
    rows->listed = rows->count;
    for (size_t i = 0; i < m->ended_count; i++)
        if (rows_holds(m->ended[i]->text, ui->filter))
            rows->alert[rows->count++] = m->ended[i];
}

static int chosen_row(const struct rows *rows, const struct ui *ui)
{
    for (int i = 0; i < rows->count; i++)
        if (rows->alert[i]->id == ui->chosen_alert)
            return i;
    return rows->count ? 0 : -1;
}

static const char *state_word(const struct alert *a, bool listed, bool wide)
{
    if (!listed)
        return "ended";
    switch (a->state) {
    case ALERT_UNACKNOWLEDGED:
        return wide ? "unacknowledged" : "unack.";
    case ALERT_SILENCED:
        return "silenced";
    case ALERT_ACKNOWLEDGED:
        return a->priority == PRIORITY_CAUTION ? "on" : wide ? "acknowledged" : "ack.";
    case ALERT_RECTIFIED:
        return wide ? "over, unack." : "over";
    default:
        return "";
    }
}

/* The same in five columns: what is not acknowledged is new. */
static const char *brief_word(const struct alert *a, bool listed)
{
    if (listed && (a->state == ALERT_UNACKNOWLEDGED || a->state == ALERT_SILENCED))
        return "new";
    return state_word(a, listed, false);
}

static int64_t duration_ns(const struct model *m, const struct alert *a)
{
    return (a->active ? m->now.mono_ns : a->rectified.mono_ns) - a->raised.mono_ns;
}

static void draw_row(struct grid *g, struct rect r, const struct model *m, const struct ui *ui,
                     const struct alert *a, bool listed, bool chosen)
{
    bool wide = r.w >= 110, brief = r.w < 70;
    char text[32];
    enum role role = listed ? priority_role(a->priority) : ROLE_DIM;
    bool pending = listed && a->priority > PRIORITY_CAUTION && a->state != ALERT_ACKNOWLEDGED;
    int x = r.x + 1, end = r.x + r.w - 1;
    if (chosen)
        grid_put(g, r.x, r.y, GLYPH_CHOSEN, ROLE_KEY, 0);
    grid_put(g, x, r.y, (uint32_t)alert_priority_letter(a->priority), role,
             pending && ui->flash ? ATTR_REVERSE : 0);
    x += 2;
    if (wide) {
        const char *word =
            a->priority == PRIORITY_EMERGENCY ? "emergency" : priority_text(a->priority);
        grid_text(g, x, r.y, 10, word, role, 0);
        x += 11;
    }
    if (brief && r.w >= 44) {
        grid_text(g, x, r.y, 5, brief_word(a, listed), listed ? role : ROLE_DIM, 0);
        x += 6;
        if (m->clock_known)
            when_clock(text, sizeof text, a->raised.wall_ns, false);
        else
            when_elapsed(text, sizeof text, a->raised.wall_ns - m->replay.first_ns);
        x += grid_text(g, x, r.y, 8, text, ROLE_DIM, 0) + 1;
    } else if (!brief) {
        int state_w = wide ? 15 : 9;
        grid_text(g, x, r.y, state_w - 1, state_word(a, listed, wide), listed ? role : ROLE_DIM, 0);
        x += state_w;
        if (m->clock_known)
            when_clock(text, sizeof text, a->raised.wall_ns, false);
        else
            when_elapsed(text, sizeof text, a->raised.wall_ns - m->replay.first_ns);
        grid_text(g, x, r.y, 8, text, ROLE_DIM, 0);
        x += 9;
        when_elapsed(text, sizeof text, duration_ns(m, a));
        grid_text_right(g, x, r.y, 8, text + 1, ROLE_DIM, 0);
        x += 9;
    }
    if (a->repeats) {
        text_format(text, sizeof text, "\u00d7%u", a->repeats + 1);
        int w = grid_width(g, text);
        grid_text(g, end - w, r.y, w, text, role, 0);
        end -= w + 1;
    }
    grid_text(g, x, r.y, end - x, a->text, role, chosen ? ATTR_UNDERLINE : 0);
}

/* ---- what is known of the chosen one ---- */

struct fact {
    const char *name;
    char text[ALERT_TEXT_SIZE];
};

static void number_fact(struct fact *f, const char *name, double v, int decimals, const char *unit)
{
    char number[32];
    f->name = NULL;
    if (!isfinite(v) || !text_number(number, sizeof number, v, decimals))
        return;
    f->name = name;
    text_format(f->text, sizeof f->text, "%s%s%s", number, unit[0] ? " " : "", unit);
}

static void moment_fact(struct fact *f, const struct model *m, const char *name, struct stamp at)
{
    f->name = NULL;
    if (at.mono_ns == 0)
        return;
    f->name = name;
    if (m->clock_known)
        when_clock(f->text, sizeof f->text, at.wall_ns, false);
    else
        when_elapsed(f->text, sizeof f->text, at.wall_ns - m->replay.first_ns);
}

/* How bad it got: when the fixed limit was passed and for how long, the worst, the engine's stop.
 */
static int course(const struct model *m, const struct alert *a, enum unit u, int decimals,
                  struct fact f[3])
{
    char text[ALERT_TEXT_SIZE];
    int n = 0;
    moment_fact(&f[n], m, a->already ? "past limit" : "limit passed", a->limit_passed);
    if (f[n].name && a->already)
        text_append(f[n].text, sizeof f->text, " already");
    if (f[n].name && a->beyond_ns > 0) {
        when_elapsed(text, sizeof text, a->beyond_ns);
        text_append(f[n].text, sizeof f->text, ", for %s", text + 1);
    }
    n++;
    number_fact(&f[n], a->worse < 0 ? "lowest" : "highest",
                a->worst_at.mono_ns ? unit_from_base(u, a->worst) : NAN, decimals, unit_text(u));
    if (f[n].name) {
        struct fact when;
        moment_fact(&when, m, "", a->worst_at);
        text_append(f[n].text, sizeof f->text, " at %s", when.text);
    }
    n++;
    moment_fact(&f[n++], m, "stopped", a->stopped);
    return n;
}

/* What happened, and when. */
static int story(const struct model *m, const struct alert *a, bool listed, struct fact f[16])
{
    enum unit u = model_unit(&m->units, a->unit);
    char elapsed[24];
    bool fine = a->unit == UNIT_C && a->decimals > 1; /* finer than any sensor is */
    int n = 0, decimals = u == UNIT_BAR ? 2 : fine ? 1 : a->decimals;
    const char *unit = unit_text(u);
    f[n] = (struct fact){.name = "state"};
    text_copy(f[n++].text, sizeof f->text, state_word(a, listed, true));
    moment_fact(&f[n++], m, "raised", a->raised);
    f[n] = (struct fact){.name = a->active ? "stands for" : "lasted"};
    when_elapsed(elapsed, sizeof elapsed, duration_ns(m, a));
    text_copy(f[n++].text, sizeof f->text, elapsed + 1);
    /* What it is now is what its row says, though the rule may have asked a moment ago. */
    const struct model_channel *c = a->active ? model_find(m, a->channel) : NULL;
    bool fresh = c && c->status == READING_OK && !c->off && c->unit == a->unit;
    number_fact(&f[n++], a->active ? "now" : "last value",
                unit_from_base(u, fresh ? c->value : a->figures.value), decimals, unit);
    number_fact(&f[n++], "limit", unit_from_base(u, a->figures.limit), decimals, unit);
    n += course(m, a, u, decimals, f + n);
    moment_fact(&f[n++], m, "acknowledged", a->acknowledged);
    moment_fact(&f[n++], m, "over since", a->active ? (struct stamp){0} : a->rectified);
    f[n] = (struct fact){.name = a->repeats ? "came back" : NULL};
    text_format(f[n++].text, sizeof f->text, a->repeats == 1 ? "once" : "%u times", a->repeats);
    return n;
}

/* What the rule compared, in the user's unit. */
static int figures(const struct model *m, const struct alert *a, struct fact f[16])
{
    const struct alert_figures *v = &a->figures;
    enum unit u = model_unit(&m->units, a->unit);
    const char *unit = unit_text(u);
    const char *difference = u == UNIT_C ? "K" : unit;
    int decimals = u == UNIT_BAR ? 2 : 1;
    char per_min[24];
    int n = 0;
    f[n] = (struct fact){.name = "rule"};
    text_format(f[n++].text, sizeof f->text, "%s, %s: %s", a->rule, kind_text(a->kind),
                priority_text(a->priority));
    f[n] = (struct fact){.name = a->channel[0] ? "channel" : NULL};
    text_copy(f[n++].text, sizeof f->text, a->channel);
    number_fact(&f[n++], "value", unit_from_base(u, v->value), decimals, unit);
    number_fact(&f[n++], "expected", unit_from_base(u, v->expected), decimals, unit);
    number_fact(&f[n++], "allowance", unit_from_base_difference(u, v->allowance), decimals,
                difference);
    number_fact(&f[n++], "limit", unit_from_base(u, v->limit), decimals, unit);
    text_format(per_min, sizeof per_min, "%s/min", difference);
    number_fact(&f[n++], "rate", unit_from_base_difference(u, v->rate_per_min), decimals, per_min);
    number_fact(&f[n++], "to the limit", v->seconds_to_limit, 0, "s");
    number_fact(&f[n++], "noise", unit_from_base_difference(u, v->noise), 2, difference);
    number_fact(&f[n++], "statistic", v->statistic, 1, "");
    number_fact(&f[n++], "threshold", v->threshold, 1, "");
    return n;
}

/* Facts in as many columns as fit; returns the lines used. */
static int draw_facts(struct grid *g, struct rect r, const struct fact *facts, int n)
{
    int cols = r.w >= 76 ? r.w / 38 : 1, width = r.w / cols, at = 0;
    for (int i = 0; i < n; i++) {
        if (!facts[i].name || at / cols >= r.h)
            continue;
        int x = r.x + 1 + at % cols * width, y = r.y + at / cols;
        grid_text(g, x, y, 13, facts[i].name, ROLE_DIM, 0);
        grid_text(g, x + 14, y, width - 15, facts[i].text, ROLE_TEXT, 0);
        at++;
    }
    return (at + cols - 1) / cols;
}

/* All about one alert: its words, its story or its figures, and, where there is room, its curve. */
static void draw_one(struct grid *g, struct rect r, const struct model *m, const struct ui *ui,
                     const struct alert *a, bool listed)
{
    struct fact facts[16];
    int n = ui->figures ? figures(m, a, facts) : story(m, a, listed, facts);
    int y = bars_text(g, (struct rect){r.x + 1, r.y, r.w - 2, r.h < 3 ? r.h : 3}, a->text,
                      listed ? priority_role(a->priority) : ROLE_TEXT);
    if (r.h >= 16)
        y++;
    y += draw_facts(g, (struct rect){r.x, r.y + y, r.w, r.h - y}, facts, n);
    const struct model_channel *c = model_find(m, a->channel);
    if (c && !rows_is_flat(c) && r.h - y - 1 >= CHART_LEAST) {
        struct chart chart = chart_about(m, c, m->trend_span_ns);
        int h = r.h - y - 1 < 20 ? r.h - y - 1 : 20;
        chart_draw(g, (struct rect){r.x, r.y + y + 1, r.w, h}, m, &chart);
    }
}

/* Where the rows stand, and what is told of the chosen one: beside them, or below. */
struct places {
    struct rect rows, one; /* one.h 0: nowhere */
    bool ruled;            /* a line between */
};

static struct places places_of(struct rect body)
{
    enum { BESIDE_COLS = 110, BESIDE_ROWS = 18 };
    struct places p = {.rows = {body.x, body.y + 1, body.w, body.h - 1}};
    if (body.w >= BESIDE_COLS && body.h >= BESIDE_ROWS) {
        p.rows.w = body.w * 2 / 5;
        p.one = (struct rect){body.x + p.rows.w + 2, body.y, body.w - p.rows.w - 2, body.h};
        return p;
    }
    int one = body.h >= 30 ? 9 : body.h >= 16 ? 6 : body.h >= 10 ? 3 : 0;
    p.ruled = one > 0;
    if (!one && body.h >= 5) /* low ones keep two lines, for the whole text of a row that is cut */
        one = 2;
    p.rows.h -= one + p.ruled;
    p.one = (struct rect){body.x, body.y + body.h - one, body.w, one};
    return p;
}

static int window(const struct rows *rows, const struct ui *ui, int room)
{
    return list_top(rows->count, room, chosen_row(rows, ui));
}

static void draw_rows(struct grid *g, struct rect r, const struct model *m, const struct ui *ui,
                      const struct rows *rows)
{
    int top = window(rows, ui, r.h), chosen = chosen_row(rows, ui);
    char text[80];
    for (int i = 0; i < r.h && top + i < rows->count; i++) {
        struct rect line = {r.x, r.y + i, r.w, 1};
        int hidden = rows->count - (top + i);
        if (i == r.h - 1 && hidden > 1) {
            text_format(text, sizeof text, "and %d more", hidden);
            grid_text(g, r.x + 3, line.y, r.w - 4, text, ROLE_NOTE, 0);
            break;
        }
        if (i == 0 && top > 0) {
            text_format(text, sizeof text, "%d above", top + 1);
            grid_text(g, r.x + 3, line.y, r.w - 4, text, ROLE_NOTE, 0);
            continue;
        }
        draw_row(g, line, m, ui, rows->alert[top + i], top + i < rows->listed, top + i == chosen);
    }
}

void alerts_view_draw(struct grid *g, struct rect body, const struct model *m, const struct ui *ui)
{
    struct rows rows;
    gather_rows(&rows, m, ui);
    struct places p = places_of(body);
    int chosen = chosen_row(&rows, ui);
    char text[80];
    text_format(text, sizeof text, "%zu listed, %zu to acknowledge, %zu ended", m->alert_count,
                m->unacknowledged, m->ended_count);
    grid_text(g, body.x + 1, body.y, p.rows.w - 2, text, ROLE_TITLE, ATTR_BOLD);
    if (rows.count == 0) {
        grid_text(g, body.x + 3, body.y + 2, body.w - 4,
                  ui->filter[0] ? "nothing like that" : "nothing was raised", ROLE_DIM, 0);
        return;
    }
    draw_rows(g, p.rows, m, ui, &rows);
    if (p.ruled)
        grid_run(g, (struct rect){body.x + 1, p.one.y - 1, body.w - 2, 1}, GLYPH_LINE, ROLE_KEEL,
                 0);
    if (p.rows.w < body.w)
        grid_run(g, (struct rect){p.one.x - 1, body.y, 1, body.h}, GLYPH_KEEL, ROLE_KEEL, 0);
    if (p.one.h > 0 && chosen >= 0)
        draw_one(g, p.one, m, ui, rows.alert[chosen], chosen < rows.listed);
}

static void choose(struct ui *ui, const struct rows *rows, int row)
{
    if (rows->count == 0)
        return;
    row = row < 0 ? 0 : row >= rows->count ? rows->count - 1 : row;
    ui->chosen_alert = rows->alert[row]->id;
}

bool alerts_view_handle(struct ui *ui, const struct model *m, enum action a)
{
    struct rows rows;
    gather_rows(&rows, m, ui);
    int at = chosen_row(&rows, ui), page = places_of(bars_layout(ui, m).body).rows.h - 2;
    if (page < 1)
        page = 1;
    switch (a) {
    case ACTION_UP:
        choose(ui, &rows, at - 1);
        return true;
    case ACTION_DOWN:
        choose(ui, &rows, at + 1);
        return true;
    case ACTION_PAGE_UP:
        choose(ui, &rows, at - page);
        return true;
    case ACTION_PAGE_DOWN:
        choose(ui, &rows, at + page);
        return true;
    case ACTION_HOME:
        choose(ui, &rows, 0);
        return true;
    case ACTION_END:
        choose(ui, &rows, rows.count - 1);
        return true;
    case ACTION_ACKNOWLEDGE:
        /* The chosen one, where it wants it; acknowledging one never touches another. */
        if (at >= 0 && at < rows.listed && rows.alert[at]->state != ALERT_ACKNOWLEDGED) {
            ui->request = (struct request){.kind = REQUEST_ACKNOWLEDGE, .id = rows.alert[at]->id};
            return true;
        }
        text_copy(ui->notice, sizeof ui->notice, "the chosen one needs no acknowledgement");
        return true;
    case ACTION_NEXT_FIELD:
        ui->figures = !ui->figures;
        return true;
    case ACTION_CHOOSE:
    case ACTION_TREND:
        if (at >= 0 && model_find(m, rows.alert[at]->channel))
            ui_open_trend(ui, rows.alert[at]->channel);
        return true;
    default:
        return false;
    }
}

bool alerts_view_pick(struct ui *ui, const struct model *m, struct rect body, int x, int y)
{
    struct rows rows;
    gather_rows(&rows, m, ui);
    struct rect r = places_of(body).rows;
    int row = y - r.y;
    if (row < 0 || row >= r.h || x >= r.x + r.w)
        return false;
    choose(ui, &rows, window(&rows, ui, r.h) + row);
    return true;
}
