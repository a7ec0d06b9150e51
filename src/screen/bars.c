#include "screen/bars.h"

#include "base/text.h"
#include "screen/glyphs.h"
#include "screen/graph.h"

#include <string.h>

#include "base/banned.h"

enum role priority_role(enum priority p)
{
    static const enum role role_of[] = {ROLE_CAUTION, ROLE_WARNING, ROLE_ALARM, ROLE_EMERGENCY};
    return role_of[p <= PRIORITY_EMERGENCY ? p : PRIORITY_CAUTION];
}

/* ---- title ---- */

/* These write nothing where there is nothing to say: dst begins empty. */
static void speed_text(const struct model *m, char *dst, size_t cap)
{
    if (m->replay.ended)
        text_copy(dst, cap, m->replay.part ? "PART ENDED" : "ENDED");
    else if (m->replay.paused)
        text_copy(dst, cap, "PAUSED");
    else if (m->replay.is_log && m->replay.speed <= 0)
        text_copy(dst, cap, "max");
    else if (m->replay.is_log)
        text_format(dst, cap, "%dx", (int)(m->replay.speed + 0.5));
}

/* "at 37 %" of a log whose length is known; whole only at its end. */
static void place_text(const struct model_replay *p, int64_t wall_ns, char *dst, size_t cap)
{
    if (!p->is_log || p->ended || p->last_ns <= p->first_ns)
        return;
    double part = (double)(wall_ns - p->first_ns) / (double)(p->last_ns - p->first_ns);
    int percent = part <= 0 ? 0 : part >= 1 ? 100 : (int)(part * 100);
    text_format(dst, cap, "at %d %%", percent);
}

/* The sound, while it is not plain on: nobody must wait for one that does not come. */
static void sound_text(const struct model *m, char *dst, size_t cap)
{
    int64_t left_ns = 0;
    if (m->self.muted) {
        text_copy(dst, cap, "SOUND OFF");
        return;
    }
    for (size_t i = 0; i < m->alert_count; i++) {
        const struct alert *a = m->alerts[i];
        int64_t ns = a->silent_until_ns - m->now.mono_ns;
        if (a->state == ALERT_SILENCED && ns > left_ns)
            left_ns = ns;
    }
    if (left_ns > 0) {
        int s = (int)((left_ns + NS_PER_S - 1) / NS_PER_S);
        text_format(dst, cap, "silenced %d:%02d", s / 60, s % 60);
    }
}

/* "A1 W0 C1" from the right edge; returns its first column. */
static int draw_counts(struct grid *g, int right, int y, const struct model *m)
{
    int x = right;
    for (int p = PRIORITY_CAUTION; p <= PRIORITY_EMERGENCY; p++) {
        if (p == PRIORITY_EMERGENCY && !m->counts[p])
            continue;
        char text[24];
        text_format(text, sizeof text, "%c%zu", alert_priority_letter((enum priority)p),
                    m->counts[p]);
        int w = grid_width(g, text);
        x -= w;
        grid_text(g, x, y, w, text, m->counts[p] ? priority_role((enum priority)p) : ROLE_DIM, 0);
        x--;
    }
    return x + 1;
}

struct part {
    char text[64];
    int give_up; /* the highest goes first when there is no room */
    enum role role;
};

static int parts_width(const struct grid *g, const struct part *parts, int n, int dropped)
{
    int w = 0;
    for (int i = 0; i < n; i++)
        if (parts[i].text[0] && parts[i].give_up < dropped)
            w += grid_width(g, parts[i].text) + 2;
    return w;
}

void bars_title(struct grid *g, struct rect r, const struct model *m, bool has_bar)
{
    enum { VESSEL, SOURCE, CLOCK, BUS_CLOCK, SPEED, PLACE, SOUND, LOAD, RECORD, PARTS };
    struct part parts[PARTS] = {
        [VESSEL] = {.give_up = 4, .role = ROLE_TITLE},
        [SOURCE] = {.give_up = 5, .role = ROLE_DIM},
        [CLOCK] = {.give_up = 1, .role = ROLE_TITLE},
        [BUS_CLOCK] = {.give_up = 2, .role = ROLE_NOTE},
        [SPEED] = {.give_up = 0, .role = ROLE_NOTE},
        [PLACE] = {.give_up = 3, .role = ROLE_DIM},
        [SOUND] = {.give_up = 0, .role = ROLE_NOTE},
        [LOAD] = {.give_up = 6, .role = ROLE_DIM},
        [RECORD] = {.give_up = 7, .role = ROLE_DIM},
    };
    const int left = SOUND; /* those before it stand at the left */
    text_copy(parts[VESSEL].text, sizeof parts[VESSEL].text, m->vessel);
    text_copy(parts[SOURCE].text, sizeof parts[SOURCE].text, m->source);
    if (!m->waiting && m->clock_known)
        when_clock(parts[CLOCK].text, sizeof parts[CLOCK].text, m->now.wall_ns, false);
    /* The bus's own clock, where the two are not the same. */
    int64_t apart_ns = m->bus_ahead_ns < 0 ? -m->bus_ahead_ns : m->bus_ahead_ns;
    if (m->has_bus_clock && m->clock_known && !m->waiting && apart_ns > 2 * NS_PER_S) {
        char clock[24];
        when_clock(clock, sizeof clock, m->now.wall_ns + m->bus_ahead_ns, false);
        text_format(parts[BUS_CLOCK].text, sizeof parts[BUS_CLOCK].text, "bus time %s", clock);
    }
    speed_text(m, parts[SPEED].text, sizeof parts[SPEED].text);
    if (!m->replay.paused && !m->replay.ended)
        parts[SPEED].role = ROLE_DIM;
    if (!has_bar)
        place_text(&m->replay, m->now.wall_ns, parts[PLACE].text, sizeof parts[PLACE].text);
    sound_text(m, parts[SOUND].text, sizeof parts[SOUND].text);
    if (m->bus.load_percent >= 0)
        text_format(parts[LOAD].text, sizeof parts[LOAD].text, "bus %d %%",
                    (int)(m->bus.load_percent + 0.5));
    if (m->record)
        text_format(parts[RECORD].text, sizeof parts[RECORD].text, "rec %s", m->record);
    int end = draw_counts(g, r.x + r.w - 1, r.y, m);
    int dropped = PARTS;
    while (dropped > 0 && parts_width(g, parts, PARTS, dropped) > end - r.x - 1)
        dropped--;
    int x = r.x + 1;
    for (int i = 0; i < left; i++) {
        if (!parts[i].text[0] || parts[i].give_up >= dropped)
            continue;
        x += grid_text(g, x, r.y, end - x, parts[i].text, parts[i].role, 0) + 2;
    }
    x = end - 2;
    for (int i = PARTS - 1; i >= left; i--) {
        int w = grid_width(g, parts[i].text);
        if (!w || parts[i].give_up >= dropped)
            continue;
        grid_text(g, x - w, r.y, w, parts[i].text, parts[i].role, 0);
        x -= w + 2;
    }
}

/* ---- the worst alert ---- */

/* Bytes of text that fit into w columns, cut at a blank where there is one; the whole of a word
 * that is longer than a line. */
static size_t fit(const char *text, int w)
{
    const char *s = text, *cut = NULL;
    int used = 0;
    while (*s) {
        const char *before = s;
        uint32_t ch = utf8_next(&s);
        int width = char_width(ch);
        if (ch == ' ')
            cut = before;
        used += width < 0 ? 1 : width;
        if (used > w)
            return cut && cut > text ? (size_t)(cut - text) : (size_t)(before - text);
    }
    return (size_t)(s - text);
}

int bars_lines(const char *text, int w)
{
    int n = 0;
    while (*text && w > 0) {
        size_t len = fit(text, w);
        if (!len)
            break;
        text += len;
        while (*text == ' ')
            text++;
        n++;
    }
    return n ? n : 1;
}

static const char *alert_words(const struct alert *a, char *dst, size_t cap)
{
    bool told = a->stage == STAGE_OVER && a->what[0]; /* its words tell how it ended */
    text_format(dst, cap, "%s%s", a->state == ALERT_RECTIFIED && !told ? "over: " : "", a->text);
    return dst;
}

/* An exhaust that was seen to move so far had an engine that ran; common practice, no source. */
#define RAN_K 8.0

/* An engine under way whose speed is not on the bus. One whose box is off with it said its speed
 * while there was one. */
static bool lacks_speed(const struct model *m, int engine)
{
    bool speaks = false;
    if (!m->careful[engine])
        return false;
    for (size_t i = 0; i < m->channel_count; i++) {
        const struct model_channel *c = &m->channels[i];
        if (c->engine != engine)
            continue;
        if (c->id.quantity == QTY_RPM && c->off)
            return false;
        /* Its box is on; or, with a probe in the exhaust alone, that has been warm and cold. */
        bool probe = c->id.quantity == QTY_EXHAUST || c->id.quantity == QTY_EXHAUST_GAS;
        speaks |= probe ? c->has_extremes && c->high - c->low > RAN_K
                        : c->status == READING_OK && c->id.quantity != QTY_RPM;
    }
    return speaks;
}

/* A value beyond its limit of alarm priority of which no alert speaks, such as coolant that the
 * block heats after a stop. */
static const struct model_channel *first_beyond(const struct model *m)
{
    for (size_t i = 0; i < m->channel_count; i++)
        if (m->channels[i].limit_priority >= PRIORITY_ALARM && model_is_beyond(m, &m->channels[i]))
            return &m->channels[i];
    return NULL;
}

/* What stands in the alert's place where there is none. */
const char *bars_calm(const struct model *m, char *dst, size_t cap)
{
    char clock[16];
    if (m->waiting) {
        text_format(dst, cap, "waiting for %s", m->waiting);
        return dst;
    }
    const struct model_channel *hot = first_beyond(m);
    if (m->listening && !hot) {
        text_copy(dst, cap, "listening \u2026");
        return dst;
    }
    if (hot) {
        char value[32], limit[32];
        model_value_text(m, hot, hot->value, value, sizeof value);
        model_value_text(m, hot, hot->limit, limit, sizeof limit);
        text_format(dst, cap, "no alert, but %s%s%s stands at %s, limit %s",
                    hot->engine >= 0 ? m->engine_names[hot->engine] : "",
                    hot->engine >= 0 ? " " : "", hot->label, value, limit);
        return dst;
    }
    if (m->self.muted) {
        text_copy(dst, cap, "no alert; the sound is off");
    } else if (m->clock_known && m->well_since_wall_ns) {
        when_clock(clock, sizeof clock, m->well_since_wall_ns, false);
        clock[5] = '\0';
        text_format(dst, cap, "all well since %s", clock);
    } else {
        text_copy(dst, cap, "all well");
    }
    int lacking = 0, last = 0;
    for (int e = 0; e < m->engines; e++)
        if (lacks_speed(m, e))
            lacking++, last = e;
    if (lacking > 1 && lacking == m->engines)
        text_append(dst, cap, "; no engine sends its speed: watched less closely");
    else if (lacking > 1)
        text_append(dst, cap, "; %d engines send no speed: watched less closely", lacking);
    else if (lacking)
        text_append(dst, cap, "; %s sends no speed: watched less closely", m->engine_names[last]);
    return dst;
}

/* From this size on the worst alert is a band of two lines: what happens, then what to do. */
static bool has_band(int cols, int rows)
{
    return cols >= 100 && rows >= 30;
}

/* Lines that the worst alert's text takes at this size. */
static int alert_lines(int cols, int rows, const struct model *m)
{
    char words[ALERT_TEXT_SIZE + 8];
    const struct alert *a = model_worst(m);
    if (a && has_band(cols, rows))
        return 2;
    return bars_lines(a ? alert_words(a, words, sizeof words) : bars_calm(m, words, sizeof words),
                      cols - 2);
}

struct frame_layout bars_layout(const struct ui *ui, const struct model *m)
{
    return layout_frame(ui->cols, ui->rows, alert_lines(ui->cols, ui->rows, m), m->replay.is_log);
}

/* A number that belongs to the place, since more of it follows: ENGINE 2 EXHAUST. */
static bool numbers_a_place(const char *s)
{
    s += strspn(s, "0123456789");
    return s[0] == ' ' && s[1] >= 'A' && s[1] <= 'Z';
}

/* Columns of the leading words in capitals: the place, which flashes with the letter. */
static int place_width(const struct grid *g, const char *text)
{
    const char *end = text;
    for (const char *s = text; *s; s++) {
        if (*s >= 'a' && *s <= 'z')
            break;
        if (*s >= '0' && *s <= '9' && !numbers_a_place(s))
            break;
        if (*s == ' ' && s > text)
            end = s;
    }
    char place[ALERT_TEXT_SIZE];
    text_copy(place, sizeof place, text);
    place[end - text] = '\0';
    return grid_width(g, place);
}

void bars_alert_text(struct grid *g, struct rect r, const struct alert *a, bool flash)
{
    char words[ALERT_TEXT_SIZE + 8], line[ALERT_TEXT_SIZE + 8];
    enum role role = priority_role(a->priority);
    bool pending = a->state == ALERT_UNACKNOWLEDGED || a->state == ALERT_SILENCED ||
                   a->state == ALERT_RECTIFIED;
    int attr = pending && flash && a->priority > PRIORITY_CAUTION ? ATTR_REVERSE : 0;
    const char *text = alert_words(a, words, sizeof words);
    grid_put(g, r.x, r.y, (uint32_t)alert_priority_letter(a->priority), role, attr);
    for (int y = 0; y < r.h && *text; y++) {
        size_t len = y == r.h - 1 ? strlen(text) : fit(text, r.w - 2);
        text_copy(line, sizeof line, text);
        line[len] = '\0';
        grid_text(g, r.x + 2, r.y + y, r.w - 2, line, role, 0);
        if (y == 0 && attr) {
            int place = place_width(g, text);
            grid_paint(g, (struct rect){r.x + 2, r.y, place < r.w - 2 ? place : r.w - 2, 1}, role,
                       attr);
        }
        text += len;
        while (*text == ' ')
            text++;
    }
}

int bars_text(struct grid *g, struct rect r, const char *text, enum role role)
{
    char line[ALERT_TEXT_SIZE + 8];
    int y = 0;
    for (; y < r.h && *text; y++) {
        size_t len = y == r.h - 1 ? strlen(text) : fit(text, r.w);
        text_copy(line, sizeof line, text);
        if (len < sizeof line)
            line[len] = '\0';
        grid_text(g, r.x, r.y + y, r.w, line, role, 0);
        text += len;
        while (*text == ' ')
            text++;
    }
    return y;
}

/* How long an alert has stood, or stood: "since 0:29". */
static void since_text(const struct model *m, const struct alert *a, char *dst, size_t cap)
{
    char elapsed[24];
    int64_t end = a->active ? m->now.mono_ns : a->rectified.mono_ns;
    when_elapsed(elapsed, sizeof elapsed, end - a->raised.mono_ns);
    text_format(dst, cap, a->active ? "for %s" : "lasted %s", elapsed + 1);
}

/* What happens in the first line, what to do in the second. */
static void draw_band(struct grid *g, struct rect r, const struct model *m, const struct alert *a,
                      bool flash)
{
    char words[ALERT_TEXT_SIZE + 8], since[40];
    struct alert first = *a;
    enum role role = priority_role(a->priority);
    char *colon = strstr(first.text, ": ");
    const char *advice = a->action[0] ? a->action : colon ? colon + 2 : "";
    if (a->what[0])
        text_copy(first.text, sizeof first.text, a->what); /* in full: there is room */
    else if (colon)
        *colon = '\0';
    since_text(m, a, since, sizeof since);
    int since_w = grid_width(g, since);
    grid_run(g, (struct rect){r.x, r.y, 1, r.h}, GLYPH_BAND, role, ATTR_LINE);
    bars_alert_text(g, (struct rect){r.x + 1, r.y, r.w - since_w - 4, 1}, &first, flash);
    grid_text(g, r.x + r.w - since_w - 1, r.y, since_w, since, role, 0);
    text_format(words, sizeof words, "%s", advice);
    int x = r.x + 3, end = r.x + r.w - 1;
    x += grid_text(g, x, r.y + 1, end - x, words, role, ATTR_BOLD) + 3;
    for (int i = 0; a->stage != STAGE_OVER && action_step(a->steps, i); i++) {
        text_format(words, sizeof words, "%d %s", i + 1, action_step(a->steps, i));
        if (x + grid_width(g, words) > end)
            break;
        x += grid_text(g, x, r.y + 1, end - x, words, ROLE_VALUE, 0) + 2;
    }
}

void bars_alert(struct grid *g, struct rect r, const struct model *m, const struct ui *ui)
{
    const struct alert *a = model_worst(m);
    char text[ALERT_TEXT_SIZE + 8];
    if (a && r.h == 2 && has_band(ui->cols, ui->rows))
        draw_band(g, r, m, a, ui->flash);
    else if (a)
        bars_alert_text(g, r, a, ui->flash);
    else
        bars_text(g, (struct rect){r.x + 1, r.y, r.w - 2, r.h}, bars_calm(m, text, sizeof text),
                  ROLE_LABEL);
}

/* ---- time bar ---- */

static int bar_column(const struct model_replay *p, int64_t wall_ns, int w)
{
    double part = (double)(wall_ns - p->first_ns) / (double)(p->last_ns - p->first_ns);
    int x = (int)(part * (w - 1) + 0.5);
    return x < 0 ? 0 : x > w - 1 ? w - 1 : x;
}

/* How far it was played; and, where that is known, how hot the exhausts were, as a low curve: one
 * sees where to look. */
static void draw_passage(struct grid *g, struct rect r, const struct model *m)
{
    const struct model_replay *p = &m->replay;
    int here = bar_column(p, m->now.wall_ns, r.w);
    struct graph curve;
    const struct graph *const one[] = {&curve};
    int per_cell = g->ascii || g->blocks || 2 * r.w > GRAPH_COLUMNS ? 1 : 2;
    if (!p->hottest_count) {
        grid_run(g, r, GLYPH_LINE, ROLE_KEEL, ATTR_LINE);
        grid_run(g, (struct rect){r.x, r.y, here + 1, 1}, GLYPH_HEAVY_LINE, ROLE_KEY, ATTR_LINE);
        return;
    }
    curve.n = r.w * per_cell < GRAPH_COLUMNS ? r.w * per_cell : GRAPH_COLUMNS;
    for (int i = 0; i < curve.n; i++) {
        struct history_bucket *b = &curve.column[i];
        *b = (struct history_bucket){0};
        int from = i * p->hottest_count / curve.n, to = (i + 1) * p->hottest_count / curve.n;
        for (int k = from; k == from || k < to; k++)
            if (p->hottest[k] == p->hottest[k] && (!b->count || p->hottest[k] > b->high))
                *b = (struct history_bucket){p->hottest[k], p->hottest[k], p->hottest[k], 1};
    }
    grid_run(g, r, GLYPH_DOT, ROLE_KEEL, ATTR_LINE); /* what stays is a gap */
    graph_draw(g, r, &curve, graph_scale(one, 1, true, p->hottest_limit),
               (struct graph_ink){.role = ROLE_KEEL, .over = ROLE_KEEL});
    grid_paint(g, (struct rect){r.x, r.y, here + 1, 1}, ROLE_KEY, ATTR_LINE);
    grid_put(g, r.x + here, r.y, GLYPH_KEEL, ROLE_KEY, 0);
}

void bars_time(struct grid *g, struct rect r, const struct model *m)
{
    const struct model_replay *p = &m->replay;
    if (r.h < 1 || !p->is_log || p->last_ns <= p->first_ns || r.w < 30)
        return;
    char from[24], to[24];
    if (m->clock_known) {
        when_clock(from, sizeof from, p->first_ns, false);
        when_clock(to, sizeof to, p->last_ns, false);
        from[5] = to[5] = '\0';
    } else {
        text_copy(from, sizeof from, "+00:00");
        when_elapsed(to, sizeof to, p->last_ns - p->first_ns);
    }
    int lead = grid_width(g, from), tail = grid_width(g, to);
    int x = r.x + 1 + lead + 1, w = r.w - 2 - lead - 1 - tail - 1;
    grid_text(g, r.x + 1, r.y, lead, from, ROLE_DIM, 0);
    grid_text(g, x + w + 1, r.y, tail, to, ROLE_DIM, 0);
    draw_passage(g, (struct rect){x, r.y, w, 1}, m);
    /* Worse ones over lesser ones that share a column. */
    for (int priority = -1; priority <= PRIORITY_EMERGENCY; priority++)
        for (size_t i = 0; i < p->mark_count; i++) {
            const struct model_mark *mark = &p->marks[i];
            if (mark->priority != priority)
                continue;
            int at = x + bar_column(p, mark->wall_ns, w);
            if (priority < 0)
                grid_put(g, at, r.y, '\'', ROLE_KEY, 0);
            else
                grid_put(g, at, r.y, (uint32_t)alert_priority_letter((enum priority)priority),
                         priority_role((enum priority)priority), 0);
        }
}

/* ---- footer ---- */

void bars_foot(struct grid *g, struct rect r, const struct model *m, const struct ui *ui,
               unsigned context, enum action own)
{
    if (r.h < 1)
        return;
    if (ui->notice[0]) {
        grid_text(g, r.x + 1, r.y, r.w - 1, ui->notice, ROLE_NOTE, 0);
        return;
    }
    char name[12], help[12], last[24], filter[64];
    keys_name(ui->keys.key[ACTION_HELP], help, sizeof help);
    text_format(last, sizeof last, "%s help", help);
    int help_w = grid_width(g, last), end = r.x + r.w - 1 - help_w - 2, x = r.x + 1;
    if (ui->filter[0]) { /* what hides rows is never hidden itself */
        text_format(filter, sizeof filter, "only '%s'", ui->filter);
        x += grid_text(g, x, r.y, end - x, filter, ROLE_NOTE, 0) + 2;
    }
    for (int place = 1; place < 21; place++)
        for (size_t i = 0; i < key_table_count; i++) {
            const struct key_row *row = &key_table[i];
            if (row->foot != place || !keys_works(row->action, context) || row->action == own)
                continue;
            keys_name(ui->keys.key[row->action], name, sizeof name);
            const char *brief =
                row->action == ACTION_PAUSE && m->replay.paused ? "go on" : row->brief;
            int w = grid_width(g, name) + 1 + grid_width(g, brief);
            if (x + w > end)
                continue;
            int key_w = grid_text(g, x, r.y, w, name, ROLE_KEY, 0);
            grid_text(g, x + key_w + 1, r.y, w, brief, ROLE_DIM, 0);
            x += w + 2;
        }
    if (x + help_w <= r.x + r.w) {
        int key_w = grid_text(g, x, r.y, help_w, help, ROLE_KEY, 0);
        grid_text(g, x + key_w + 1, r.y, help_w, "help", ROLE_DIM, 0);
    }
}
