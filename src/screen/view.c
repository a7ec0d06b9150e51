#include "screen/view.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/alerts_view.h"
#include "screen/board.h"
#include "screen/bus_view.h"
#include "screen/helm.h"
#include "screen/help.h"
#include "screen/movers.h"
#include "screen/trend.h"

#include <string.h>

#include "base/banned.h"

const struct view views[VIEW_COUNT] = {
    [VIEW_BOARD] = {"board", ACTION_BOARD, WHEN_ROWS | WHEN_FIND, board_draw, board_handle,
                    board_pick},
    [VIEW_HELM] = {"helm", ACTION_HELM, WHEN_ROWS, helm_draw, helm_handle, NULL},
    [VIEW_TREND] = {"trend", ACTION_TREND, WHEN_ROWS | WHEN_TREND, trend_draw, trend_handle, NULL},
    [VIEW_ALERTS] = {"alerts", ACTION_ALERTS, WHEN_ROWS | WHEN_FIND, alerts_view_draw,
                     alerts_view_handle, alerts_view_pick},
    [VIEW_MOVERS] = {"movers", ACTION_MOVERS, WHEN_ROWS | WHEN_FIND, movers_draw, movers_handle,
                     movers_pick},
    [VIEW_BUS] = {"bus", ACTION_BUS, WHEN_ROWS, bus_view_draw, bus_view_handle, NULL},
};

unsigned ui_context(const struct ui *ui, const struct model *m)
{
    unsigned bits = views[ui->view].offers;
    if (m->replay.can_seek)
        bits |= WHEN_REPLAY | WHEN_MARKABLE;
    if (m->record && strcmp(m->record, "on") == 0)
        bits |= WHEN_MARKABLE;
    if (!m->replay.is_log || !m->replay.ended)
        bits |= WHEN_GOES_ON;
    if (m->alert_count)
        bits |= WHEN_ALERT;
    if (m->unacknowledged)
        bits |= WHEN_UNACKED;
    if (m->sounding)
        bits |= WHEN_SOUND;
    for (size_t i = 0; i < m->replay.mark_count; i++)
        if (m->replay.marks[i].priority < 0)
            bits |= WHEN_MARKS;
    if (ui->overlay != OVERLAY_NONE || ui->view != VIEW_BOARD || ui->chosen[0] || ui->filter[0])
        bits |= WHEN_OVERLAY;
    if (ui->view != VIEW_BOARD)
        bits |= WHEN_NOT_BOARD;
    if (ui->view == VIEW_BOARD && board_has_charts(ui, m))
        bits |= WHEN_CHARTS;
    return bits;
}

/* What would work if the list of keys were not over the view. */
static unsigned below_help(const struct ui *ui, const struct model *m)
{
    struct ui under = *ui;
    under.overlay = OVERLAY_NONE;
    return ui_context(&under, m);
}

static void draw_too_small(struct grid *g)
{
    char text[48];
    text_format(text, sizeof text, "%dx%d", g->cols, g->rows);
    grid_text(g, 0, 0, g->cols, text, ROLE_NOTE, 0);
    text_format(text, sizeof text, "needs %dx%d", LAYOUT_MIN_COLS, LAYOUT_MIN_ROWS);
    grid_text(g, 0, 1, g->cols, text, ROLE_TEXT, 0);
}

/* The end of what is typed is what one looks at. */
static void mark_question(const struct grid *g, const struct model *m, const struct ui *ui,
                          char *dst, size_t cap)
{
    char clock[40] = "";
    const char *words = ui->input;
    if (m->clock_known) {
        when_clock(clock, sizeof clock, ui->asked_wall_ns, false);
        text_append(clock, sizeof clock, " ");
    }
    int room = ui->cols - 8 - grid_width(g, clock);
    while (*words && grid_width(g, words) > room)
        utf8_next(&words);
    text_format(dst, cap, "mark %s%s_%s", clock, words,
                ui->input[0] || ui->cols < 60 ? ""
                                              : "  a few words; enter keeps them, esc does not");
}

/* A question or an input in the place of the footer: never over the picture. */
static void draw_question(struct grid *g, const struct model *m, const struct ui *ui)
{
    char text[256] = "";
    int y = ui->rows - 1;
    if (ui->overlay == OVERLAY_QUIT)
        text_copy(text, sizeof text,
                  ui->cols >= 50 ? "an alarm stands: quit? y yes, any other key no"
                                 : "an alarm stands: quit? y yes, else no");
    else if (ui->overlay == OVERLAY_GO_TO)
        text_format(text, sizeof text, "go to %s_  %s", ui->input,
                    ui->complaint    ? ui->complaint
                    : ui->cols >= 60 ? "HH:MM, HH:MM:SS, or +MM:SS into the log"
                                     : "HH:MM[:SS] or +MM:SS");
    else if (ui->overlay == OVERLAY_FIND)
        text_format(text, sizeof text, "find %s_", ui->input);
    else if (ui->overlay == OVERLAY_MARK)
        mark_question(g, m, ui, text, sizeof text);
    if (!text[0])
        return;
    grid_run(g, (struct rect){0, y, ui->cols, 1}, ' ', ROLE_TEXT, 0);
    grid_text(g, 1, y, ui->cols - 2, text, ROLE_NOTE, 0);
}

/* Everything but a held picture. */
static void clear_around(struct grid *g, struct rect body)
{
    for (int y = 0; y < g->rows; y++)
        if (y < body.y || y >= body.y + body.h)
            grid_run(g, (struct rect){0, y, g->cols, 1}, ' ', ROLE_TEXT, 0);
}

void ui_draw(struct grid *g, const struct model *m, const struct ui *ui)
{
    struct frame_layout f = bars_layout(ui, m);
    bool held = ui->frozen && ui->overlay != OVERLAY_HELP && !f.too_small;
    if (held)
        clear_around(g, f.body);
    else
        grid_clear(g);
    if (f.too_small) {
        draw_too_small(g);
        return;
    }
    bars_title(g, f.title, m, f.bar.h > 0);
    bars_alert(g, f.alert, m, ui);
    if (ui->overlay == OVERLAY_HELP)
        help_draw(g, f.body, ui, below_help(ui, m));
    else if (!held)
        views[ui->view].draw(g, f.body, m, ui);
    if (m->replay.is_log)
        bars_time(g, f.bar, m);
    bars_foot(g, f.foot, m, ui, ui_context(ui, m), views[ui->view].action);
    draw_question(g, m, ui);
}

/* ---- keys ---- */

/* A time as people type it into "go to", 9:05 for 09:05 too. */
static bool parse_go_to(const char *s, struct moment *out)
{
    char time[UI_INPUT + 1];
    text_format(time, sizeof time, "%s%s", s[1] == ':' ? "0" : "", s);
    return when_parse_in_log(time, out);
}

/* Bytes that the overlay's input may take. */
static size_t input_room(const struct ui *ui)
{
    return ui->overlay == OVERLAY_MARK ? sizeof ui->input : sizeof ui->filter;
}

static bool handle_input(struct ui *ui, int key)
{
    size_t n = strlen(ui->input);
    ui->complaint = NULL;
    if (key == KEY_ESCAPE_CODE) {
        if (ui->overlay == OVERLAY_FIND)
            ui->filter[0] = '\0';
        ui->overlay = OVERLAY_NONE;
    } else if (key == KEY_CODE_BACKSPACE) {
        while (n && ((unsigned char)ui->input[n - 1] & 0xC0) == 0x80)
            n--;
        if (n)
            ui->input[n - 1] = '\0';
    } else if (key == KEY_ENTER_CODE || key == '\n') {
        if (ui->overlay == OVERLAY_GO_TO && ui->input[0]) {
            if (!parse_go_to(ui->input, &ui->request.moment)) {
                ui->complaint = "is no time";
                return true;
            }
            ui->request.kind = REQUEST_GO_TO;
        }
        if (ui->overlay == OVERLAY_MARK)
            ui->request = (struct request){
                .kind = REQUEST_MARK, .amount = ui->asked_wall_ns, .words = ui->input};
        ui->overlay = OVERLAY_NONE;
    } else if (key >= ' ' && key < KEY_CODE_NONE && char_width((uint32_t)key) > 0 &&
               n + 5 < input_room(ui)) {
        n += (size_t)utf8_put(ui->input + n, (uint32_t)key);
        ui->input[n] = '\0';
    }
    if (ui->overlay == OVERLAY_FIND)
        text_copy(ui->filter, sizeof ui->filter, ui->input);
    return true;
}

static void go_back(struct ui *ui, const struct model *m)
{
    if (views[ui->view].handle(ui, m, ACTION_BACK))
        return;
    if (ui->filter[0])
        ui->filter[0] = '\0';
    else
        ui->view = VIEW_BOARD;
}

static void acknowledge(struct ui *ui, const struct model *m)
{
    for (size_t i = 0; i < m->alert_count; i++) {
        const struct alert *a = m->alerts[i];
        if (a->state != ALERT_ACKNOWLEDGED && a->priority != PRIORITY_CAUTION) {
            ui->request = (struct request){.kind = REQUEST_ACKNOWLEDGE, .id = a->id};
            return;
        }
    }
}

static const struct {
    enum action action;
    enum request_kind kind;
    int64_t amount;
} plain_requests[] = {
    {ACTION_SILENCE, REQUEST_SILENCE, 0},
    {ACTION_PAUSE, REQUEST_PAUSE, 0},
    {ACTION_STEP, REQUEST_STEP, 0},
    {ACTION_FASTER, REQUEST_SPEED, 2},
    {ACTION_SLOWER, REQUEST_SPEED, -2},
    {ACTION_FASTEST, REQUEST_SPEED, 0},
    {ACTION_FORWARD, REQUEST_MOVE, 60 * NS_PER_S},
    {ACTION_BACKWARD, REQUEST_MOVE, -60 * NS_PER_S},
    {ACTION_NEXT_ALERT, REQUEST_NEXT_ALERT, 0},
    {ACTION_PREVIOUS_ALERT, REQUEST_PREVIOUS_ALERT, 0},
    {ACTION_NEXT_MARK, REQUEST_NEXT_MARK, 0},
    {ACTION_UNITS, REQUEST_UNITS, 0},
    {ACTION_THEME, REQUEST_THEME, 0},
    {ACTION_GLYPHS, REQUEST_GLYPHS, 0},
    {ACTION_SAVE, REQUEST_SAVE, 0},
    {ACTION_SOUND, REQUEST_SOUND, 0},
    {ACTION_SOUND_TEST, REQUEST_SOUND_TEST, 0},
    {ACTION_MOUSE, REQUEST_MOUSE, 0},
    {ACTION_REDRAW, REQUEST_REDRAW, 0},
};

static void ask(struct ui *ui, const struct model *m, enum overlay overlay)
{
    ui->overlay = overlay;
    ui->asked_wall_ns = m->now.wall_ns;
    text_copy(ui->input, sizeof ui->input, overlay == OVERLAY_FIND ? ui->filter : "");
}

/* The chosen channel, or the one that is in trouble, or the first exhaust; with its twin. */
static void open_trend(struct ui *ui, const struct model *m)
{
    const struct model_channel *c = model_find(m, ui->chosen);
    for (size_t i = 0; i < m->channel_count && !c; i++)
        if (m->channels[i].alert == 0)
            c = &m->channels[i];
    if (!c)
        c = model_find(m, "exhaust.0");
    if (!c && m->channel_count)
        c = &m->channels[0];
    if (!c)
        return;
    char chosen[CHANNEL_KEY_SIZE];
    text_copy(chosen, sizeof chosen, ui->chosen);
    ui_open_trend(ui, c->key);
    text_copy(ui->chosen, sizeof ui->chosen, chosen);
    for (size_t i = 0; i < m->channel_count && ui->trend.count < 2; i++) {
        const struct model_channel *o = &m->channels[i];
        if (o != c && c->engine >= 0 && o->engine >= 0 && !o->second &&
            o->id.quantity == c->id.quantity)
            text_copy(ui->trend.keys[ui->trend.count++], sizeof ui->trend.keys[0], o->key);
    }
    /* Port above starboard, whichever was chosen. */
    if (ui->trend.count == 2 && strcmp(ui->trend.keys[0], ui->trend.keys[1]) > 0) {
        text_copy(ui->trend.keys[0], sizeof ui->trend.keys[0], ui->trend.keys[1]);
        text_copy(ui->trend.keys[1], sizeof ui->trend.keys[1], c->key);
    }
}

static void handle_common(struct ui *ui, const struct model *m, enum action a)
{
    for (size_t i = 0; i < sizeof plain_requests / sizeof plain_requests[0]; i++)
        if (plain_requests[i].action == a)
            ui->request = (struct request){.kind = plain_requests[i].kind,
                                           .amount = plain_requests[i].amount};
    for (int i = 0; i < VIEW_COUNT; i++)
        if (views[i].action == a)
            ui->view = (enum view_id)i;
    if (a == ACTION_TREND || (a == ACTION_CHOOSE && ui->chosen[0]))
        open_trend(ui, m);
    else if (a == ACTION_ACKNOWLEDGE)
        acknowledge(ui, m);
    else if (a == ACTION_HELP)
        ui->overlay = OVERLAY_HELP, ui->help_top = 0;
    else if (a == ACTION_GO_TO)
        ask(ui, m, OVERLAY_GO_TO);
    else if (a == ACTION_FIND)
        ask(ui, m, OVERLAY_FIND);
    else if (a == ACTION_MARK)
        ask(ui, m, OVERLAY_MARK);
    else if (a == ACTION_BACK)
        go_back(ui, m);
    else if (a == ACTION_QUIT && model_alarm_stands(m))
        ui->overlay = OVERLAY_QUIT;
    else if (a == ACTION_QUIT)
        ui->request.kind = REQUEST_QUIT;
}

bool ui_key(struct ui *ui, const struct model *m, int key)
{
    ui->request = (struct request){0};
    bool noticed = ui->notice[0] != '\0';
    ui->notice[0] = '\0';
    if (ui->overlay == OVERLAY_GO_TO || ui->overlay == OVERLAY_FIND || ui->overlay == OVERLAY_MARK)
        return handle_input(ui, key);
    if (ui->overlay == OVERLAY_QUIT) {
        ui->overlay = OVERLAY_NONE;
        if (key == 'y')
            ui->request.kind = REQUEST_QUIT;
        return true;
    }
    enum action a = keys_action(&ui->keys, key, ui_context(ui, m));
    if (ui->overlay == OVERLAY_HELP && a != ACTION_QUIT && a != ACTION_ACKNOWLEDGE &&
        a != ACTION_SILENCE) {
        help_handle(ui, bars_layout(ui, m).body, a);
        return true;
    }
    if (a == ACTION_NONE)
        return noticed;
    /* Who looks elsewhere no longer holds this picture. */
    if (a != ACTION_ACKNOWLEDGE && a != ACTION_SILENCE && a != ACTION_PAUSE && a != ACTION_QUIT)
        ui->frozen = false;
    if (a != ACTION_BACK && views[ui->view].handle(ui, m, a))
        return true;
    handle_common(ui, m, a);
    return true;
}

bool ui_click(struct ui *ui, const struct model *m, int x, int y)
{
    struct frame_layout f = bars_layout(ui, m);
    const struct view *v = &views[ui->view];
    if (f.too_small || ui->overlay != OVERLAY_NONE || !v->pick)
        return false;
    return v->pick(ui, m, f.body, x, y);
}
