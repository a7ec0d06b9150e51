#include "screen/panes.h"

#include "base/text.h"
#include "screen/bars.h"
#include "screen/glyphs.h"
#include "screen/rows.h"

#include "base/banned.h"

static void heading(struct grid *g, struct rect r, const char *name)
{
    int used = grid_text(g, r.x + 2, r.y, r.w - 3, name, ROLE_TITLE, ATTR_BOLD);
    grid_run(g, (struct rect){r.x + 3 + used, r.y, r.w - used - 4, 1}, GLYPH_LINE, ROLE_KEEL, 0);
}

static void clock_or_elapsed(const struct model *m, int64_t wall_ns, char *dst, size_t cap)
{
    if (m->clock_known)
        when_clock(dst, cap, wall_ns, false);
    else
        when_elapsed(dst, cap, wall_ns - m->replay.first_ns);
}

/* Listed ones first, then ended ones, newest first. */
static void draw_alerts(struct grid *g, struct rect r, const struct model *m, const struct ui *ui)
{
    heading(g, r, "alerts");
    size_t n = m->alert_count + m->ended_count, room = (size_t)(r.h - 1);
    if (n == 0)
        grid_text(g, r.x + 2, r.y + 1, r.w - 3, "none", ROLE_DIM, 0);
    for (size_t i = 0; i < n && i < room; i++) {
        bool listed = i < m->alert_count;
        const struct alert *a = listed ? m->alerts[i] : m->ended[i - m->alert_count];
        int y = r.y + 1 + (int)i;
        char text[64];
        if (i + 1 == room && n > room) {
            text_format(text, sizeof text, "and %zu more", n - i);
            grid_text(g, r.x + 2, y, r.w - 3, text, ROLE_DIM, 0);
            break;
        }
        clock_or_elapsed(m, a->raised.wall_ns, text, sizeof text);
        int w = grid_text(g, r.x + 2, y, 10, text, ROLE_DIM, 0);
        struct rect line = {r.x + 3 + w, y, r.w - w - 4, 1};
        if (listed) {
            bars_alert_text(g, line, a, ui->flash);
        } else {
            text_format(text, sizeof text, "%c", alert_priority_letter(a->priority));
            grid_text(g, line.x, y, 1, text, ROLE_DIM, 0);
            grid_text(g, line.x + 2, y, line.w - 2, a->text, ROLE_DIM, 0);
        }
    }
}

static bool is_tank(const struct model_channel *c)
{
    return c->id.quantity >= QTY_FUEL_TANK && c->id.quantity <= QTY_PETROL_TANK;
}

static void draw_bar(struct grid *g, int x, int y, int w, double percent, enum role role)
{
    int eighths = (int)(percent / 100 * w * 8 + 0.5);
    for (int i = 0; i < w; i++) {
        int fill = eighths - 8 * i;
        if (fill > 0)
            grid_put(g, x + i, y, glyph_bar(fill), role, 0);
        else
            grid_put(g, x + i, y, GLYPH_DOT, ROLE_KEEL, 0);
    }
}

static void draw_tanks(struct grid *g, struct rect r, const struct model *m)
{
    heading(g, r, "tanks");
    int y = r.y + 1;
    for (size_t i = 0; i < m->channel_count && y < r.y + r.h; i++) {
        const struct model_channel *c = &m->channels[i];
        char text[64];
        if (!is_tank(c))
            continue;
        rows_short_label(g, m, c, 14, text, sizeof text);
        grid_text(g, r.x + 2, y, 14, text, ROLE_LABEL, 0);
        model_reading_text(m, c, text, sizeof text);
        bool fresh = c->status == READING_OK;
        grid_text_right(g, r.x + r.w - 8, y, 4, text, fresh ? ROLE_VALUE : ROLE_DIM, 0);
        grid_text(g, r.x + r.w - 3, y, 1, "%", ROLE_DIM, 0);
        enum role role = c->alert >= 0 ? priority_role(m->alerts[c->alert]->priority) : ROLE_TREND;
        if (fresh)
            draw_bar(g, r.x + 17, y, r.w - 27, c->value, role);
        y++;
    }
}

static void draw_bus(struct grid *g, struct rect r, const struct model *m)
{
    const struct model_bus *b = &m->bus;
    heading(g, r, "bus");
    const struct {
        const char *name;
        double value;
        const char *unit;
    } lines[] = {{"load", b->load_percent, "%"},
                 {"frames", b->frames_per_s, "/s"},
                 {"lost", (double)b->lost, ""},
                 {"errors", (double)b->errors, ""},
                 {"bad lines", (double)b->bad_lines, ""}};
    for (int i = 0; i < 5 && i < r.h - 1; i++) {
        char number[32];
        int y = r.y + 1 + i;
        grid_text(g, r.x + 2, y, 10, lines[i].name, ROLE_LABEL, 0);
        if (lines[i].value < 0 || !text_number(number, sizeof number, lines[i].value, 0))
            text_copy(number, sizeof number, "--");
        grid_text_right(g, r.x + 12, y, r.w - 16, number, ROLE_VALUE, 0);
        grid_text(g, r.x + r.w - 3, y, 2, lines[i].unit, ROLE_DIM, 0);
    }
}

void panes_draw(struct grid *g, struct rect r, const struct model *m, const struct ui *ui)
{
    int tanks = 0;
    for (size_t i = 0; i < m->channel_count; i++)
        tanks += is_tank(&m->channels[i]);
    int bus_w = r.w >= 130 ? 26 : 0, tanks_w = tanks ? 40 : 0;
    struct rect alerts = {r.x, r.y, r.w - bus_w - tanks_w, r.h};
    draw_alerts(g, alerts, m, ui);
    if (tanks_w)
        draw_tanks(g, (struct rect){alerts.x + alerts.w, r.y, tanks_w, r.h}, m);
    if (bus_w)
        draw_bus(g, (struct rect){r.x + r.w - bus_w, r.y, bus_w, r.h}, m);
}
