#include "screen/help.h"

#include "base/text.h"

#include <string.h>

#include "base/banned.h"

/* Signs on the board that are not keys. */
static const struct {
    const char *sign, *meaning;
} signs[] = {
    {"E A W C", "emergency alarm, alarm, warning, caution; flashing: new"},
    {"↑ ↗ → ↘ ↓", "rising fast, rising, steady, falling, falling fast"},
    {"+96", "beside a value: change in a minute"},
    {"--  err", "no value is sent; the sensor is at fault"},
    {"12 s old", "the sender fell silent; off: switched off with its engine"},
    {"┈┈┈", "a limit; dots after a curve: where it leads"},
};
enum {
    SIGNS = sizeof signs / sizeof signs[0],
    NAME_W = 10,
    COLUMN_LEAST = 58, /* room for a key and most of its sentence */
    LINES_MAX = 96,
};

/* The whole list: topic by topic a heading, its keys and a blank. */
struct line {
    const char *heading;       /* or */
    const struct key_row *key; /* or */
    int sign;                  /* -1: none; all three empty: a blank */
};

static int list(struct line lines[LINES_MAX])
{
    int n = 0;
    for (int t = 0; t < TOPIC_COUNT; t++) {
        lines[n++] = (struct line){.heading = keys_topic((enum key_topic)t), .sign = -1};
        for (size_t i = 0; i < key_table_count; i++)
            if (key_table[i].topic == (enum key_topic)t)
                lines[n++] = (struct line){.key = &key_table[i], .sign = -1};
        lines[n++] = (struct line){.sign = -1};
    }
    lines[n++] = (struct line){.heading = "signs", .sign = -1};
    for (int i = 0; i < SIGNS; i++)
        lines[n++] = (struct line){.sign = i};
    return n;
}

/* Under its heading a sentence need not say again where its key works. */
static const char *sentence(const struct key_row *row)
{
    static const char *const known[] = {"in a trend: ", "in a log: ", "on a wide board: "};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (strncmp(row->help, known[i], strlen(known[i])) == 0)
            return row->help + strlen(known[i]);
    return row->help;
}

static void draw_line(struct grid *g, struct rect r, const struct line *line, unsigned context,
                      const struct ui *ui)
{
    char name[12];
    int x = r.x + NAME_W + 2, w = r.w - NAME_W - 2;
    if (line->heading)
        grid_text(g, x, r.y, w, line->heading, ROLE_TITLE, ATTR_BOLD);
    if (line->key) {
        bool works = keys_works(line->key->action, context);
        keys_name(ui->keys.key[line->key->action], name, sizeof name);
        grid_text_right(g, r.x, r.y, NAME_W, name, works ? ROLE_KEY : ROLE_DIM, 0);
        grid_text(g, x, r.y, w, sentence(line->key), works ? ROLE_TEXT : ROLE_DIM, 0);
    }
    if (line->sign >= 0) {
        grid_text_right(g, r.x, r.y, NAME_W, signs[line->sign].sign, ROLE_VALUE, 0);
        grid_text(g, x, r.y, w, signs[line->sign].meaning, ROLE_TEXT, 0);
    }
}

static int columns(int width)
{
    return width >= 2 * COLUMN_LEAST ? width / COLUMN_LEAST : 1;
}

void help_draw(struct grid *g, struct rect body, const struct ui *ui, unsigned context)
{
    struct line lines[LINES_MAX];
    int n = list(lines), cols = columns(body.w), width = body.w / cols;
    int top = ui->help_top, most = n - body.h * cols;
    if (top > most)
        top = most;
    if (top < 0)
        top = 0;
    int at = top;
    for (int c = 0; c < cols && at < n; c++)
        for (int y = 0; y < body.h && at < n; y++) {
            /* No column begins with a blank, and none ends with a heading. */
            if (y == 0 && cols > 1 && !lines[at].heading && !lines[at].key && lines[at].sign < 0)
                at++;
            if (y == body.h - 1 && cols > 1 && c < cols - 1 && at < n && lines[at].heading)
                break;
            if (at < n)
                draw_line(g, (struct rect){body.x + c * width, body.y + y, width - 1, 1},
                          &lines[at++], context, ui);
        }
    if (at < n && body.h > 0) {
        int y = body.y + body.h - 1;
        grid_run(g, (struct rect){body.x, y, body.w, 1}, ' ', ROLE_TEXT, 0);
        grid_text(g, body.x + NAME_W + 2, y, body.w - NAME_W - 2, "more: down, page-down", ROLE_DIM,
                  0);
    }
}

void help_handle(struct ui *ui, struct rect body, enum action a)
{
    struct line lines[LINES_MAX];
    int page = body.h > 2 ? body.h - 2 : 1, most = list(lines) - body.h * columns(body.w);
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
