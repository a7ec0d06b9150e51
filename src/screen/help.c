#include "screen/help.h"

#include "base/text.h"

#include "base/banned.h"

/* Signs on the board that are not keys. */
static const struct {
    const char *sign, *meaning;
} signs[] = {
    {"E A W C", "emergency alarm, alarm, warning, caution; flashing: not acknowledged"},
    {"↑ ↗ → ↘ ↓", "rising fast, rising, steady, falling, falling fast"},
    {"+96", "beside a value: change in a minute"},
    {"--  err", "no value is sent; the sensor is at fault"},
    {"12 s old", "the sender fell silent; off: switched off with its engine"},
};
enum { SIGNS = sizeof signs / sizeof signs[0] };

static int line_count(void)
{
    return (int)key_table_count + 1 + SIGNS;
}

static void draw_line(struct grid *g, struct rect r, int line, unsigned context,
                      const struct ui *ui)
{
    int keys = (int)key_table_count;
    if (line < keys) {
        const struct key_row *row = &key_table[line];
        char name[12];
        bool works = keys_works(row->action, context);
        keys_name(ui->keys.key[row->action], name, sizeof name);
        grid_text_right(g, r.x, r.y, 10, name, works ? ROLE_KEY : ROLE_DIM, 0);
        grid_text(g, r.x + 12, r.y, r.w - 12, row->help, works ? ROLE_TEXT : ROLE_DIM, 0);
    } else if (line > keys && line - keys - 1 < SIGNS) {
        grid_text_right(g, r.x, r.y, 10, signs[line - keys - 1].sign, ROLE_VALUE, 0);
        grid_text(g, r.x + 12, r.y, r.w - 12, signs[line - keys - 1].meaning, ROLE_TEXT, 0);
    }
}

static int columns(int width)
{
    return width >= 150 ? 2 : 1;
}

void help_draw(struct grid *g, struct rect body, const struct ui *ui, unsigned context)
{
    int cols = columns(body.w), width = body.w / cols, lines = line_count();
    int top = ui->help_top, most = lines - body.h * cols;
    if (top > most)
        top = most;
    if (top < 0)
        top = 0;
    for (int i = 0; i < body.h * cols && top + i < lines; i++) {
        struct rect r = {body.x + i / body.h * width, body.y + i % body.h, width - 1, 1};
        draw_line(g, r, top + i, context, ui);
    }
    if (top + body.h * cols < lines && body.h > 0) {
        int y = body.y + body.h - 1;
        grid_run(g, (struct rect){body.x, y, body.w, 1}, ' ', ROLE_TEXT, 0);
        grid_text(g, body.x + 12, y, body.w - 12, "more: down, page-down", ROLE_DIM, 0);
    }
}

void help_handle(struct ui *ui, struct rect body, enum action a)
{
    int page = body.h > 2 ? body.h - 2 : 1, most = line_count() - body.h * columns(body.w);
    int step = a == ACTION_UP          ? -1
               : a == ACTION_DOWN      ? 1
               : a == ACTION_PAGE_UP   ? -page
               : a == ACTION_PAGE_DOWN ? page
                                       : 0;
    if (a == ACTION_HELP || a == ACTION_BACK)
        ui->overlay = OVERLAY_NONE;
    ui->help_top += step;
    if (ui->help_top > most)
        ui->help_top = most;
    if (ui->help_top < 0)
        ui->help_top = 0;
}
