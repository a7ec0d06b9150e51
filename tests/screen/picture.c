/* Pictures of the screen for the documents: plays a log to a moment, draws a view into cells as the
 * program does, and writes the cells as SVG. Blocks and lines are drawn as shapes, so that a
 * picture looks the same whatever fonts its reader has.
 *
 *     picture LOG MOMENT VIEW COLSxROWS THEME >FILE.svg
 */
#include "config/config.h"
#include "screen/glyphs.h"
#include "screen/model.h"
#include "screen/theme.h"
#include "screen/view.h"
#include "session/feed.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CELL_W = 8, CELL_H = 17, MARGIN = 10 };

struct paper { /* what a terminal without colours of its own looks like */
    unsigned fg, bg;
};

static unsigned palette(int i)
{
    static const unsigned base[] = {0x000000, 0xb02020, 0x2e7d32, 0xa07000, 0x2050b0, 0x8a2a8a,
                                    0x007878, 0xc8c8c8, 0x707070, 0xe04040, 0x50b050, 0xd0a020,
                                    0x5080e0, 0xc060c0, 0x30b0b0, 0xffffff};
    static const unsigned levels[] = {0, 95, 135, 175, 215, 255};
    if (i < 16)
        return base[i];
    if (i >= 232) {
        unsigned v = 8 + 10 * (unsigned)(i - 232);
        return v << 16 | v << 8 | v;
    }
    unsigned c = (unsigned)i - 16;
    return levels[c / 36] << 16 | levels[c / 6 % 6] << 8 | levels[c % 6];
}

struct ink {
    unsigned fg, bg;
    bool bold, dim, underline;
};

static struct ink ink_of(const struct theme *t, const struct cell *c, struct paper paper)
{
    struct look look = theme_look(t, COLOR_256, c);
    struct ink ink = {.fg = look.fg < 0 ? paper.fg : palette(look.fg),
                      .bg = look.bg < 0 ? paper.bg : palette(look.bg),
                      .bold = look.attr & LOOK_BOLD,
                      .dim = look.attr & LOOK_DIM,
                      .underline = look.attr & LOOK_UNDERLINE};
    if (look.attr & LOOK_REVERSE) {
        unsigned fg = ink.fg;
        ink.fg = ink.bg;
        ink.bg = fg;
    }
    return ink;
}

static void rect(double x, double y, double w, double h, unsigned color, const char *more)
{
    printf("<rect x=\"%g\" y=\"%g\" width=\"%g\" height=\"%g\" fill=\"#%06x\"%s/>\n", x, y, w, h,
           color, more);
}

/* A run of n cells with the same block or line; false where it is a letter. */
static bool shape(uint32_t ch, double x, double y, int n, unsigned color)
{
    double w = n * CELL_W;
    if (ch >= 0x2581 && ch <= 0x2588) {
        double h = CELL_H * (ch - 0x2580) / 8.0;
        rect(x, y + CELL_H - h, w, h, color, "");
    } else if (ch >= 0x2589 && ch <= 0x258F) {
        for (int i = 0; i < n; i++)
            rect(x + i * CELL_W, y, CELL_W * (0x2590 - ch) / 8.0, CELL_H, color, "");
    } else if (ch == 0x2580) {
        rect(x, y, w, CELL_H / 2.0, color, "");
    } else if (ch == 0x2591 || ch == 0x2592) {
        rect(x, y, w, CELL_H, color,
             ch == 0x2591 ? " fill-opacity=\"0.22\"" : " fill-opacity=\"0.5\"");
    } else if (ch == 0x2500 || ch == 0x2501) {
        double h = ch == 0x2501 ? 2.5 : 1;
        rect(x, y + CELL_H / 2.0 - h / 2, w, h, color, "");
    } else if (ch == 0x2502) {
        for (int i = 0; i < n; i++)
            rect(x + i * CELL_W + CELL_W / 2.0 - 0.5, y, 1, CELL_H, color, "");
    } else if (ch == 0x252C) {
        rect(x, y + CELL_H / 2.0 - 0.5, w, 1, color, "");
        rect(x + CELL_W / 2.0 - 0.5, y + CELL_H / 2.0, 1, CELL_H / 2.0, color, "");
    } else if (ch == 0x2504) {
        for (int i = 0; i < 2 * n; i++)
            rect(x + i * CELL_W / 2.0 + 0.5, y + CELL_H / 2.0 - 0.5, CELL_W / 2.0 - 1.5, 1, color,
                 "");
    } else if (ch == 0x2506) {
        for (int i = 0; i < 3 * n; i++)
            rect(x + i / 3 * CELL_W + CELL_W / 2.0 - 0.5, y + i % 3 * CELL_H / 3.0 + 1, 1,
                 CELL_H / 3.0 - 2, color, "");
    } else {
        return false;
    }
    return true;
}

static void letters(const struct grid *g, int y, int from, int to, const struct ink *ink)
{
    printf("<text x=\"%d\" y=\"%d\" textLength=\"%d\" fill=\"#%06x\"%s%s%s>",
           MARGIN + from * CELL_W, MARGIN + y * CELL_H + 13, (to - from) * CELL_W, ink->fg,
           ink->bold ? " font-weight=\"bold\"" : "", ink->dim ? " fill-opacity=\"0.6\"" : "",
           ink->underline ? " text-decoration=\"underline\"" : "");
    for (int x = from; x < to; x++) {
        char text[5] = {0};
        uint32_t ch = grid_at(g, x, y)->ch;
        if (!ch)
            continue;
        utf8_put(text, ch);
        fputs(ch == '<' ? "&lt;" : ch == '&' ? "&amp;" : ch == '>' ? "&gt;" : text, stdout);
    }
    puts("</text>");
}

static bool is_shape(uint32_t ch)
{
    return (ch >= 0x2580 && ch <= 0x2592 && ch != 0x2590) || ch == 0x2500 || ch == 0x2501 ||
           ch == 0x2502 || ch == 0x2504 || ch == 0x2506 || ch == 0x252C;
}

static bool same_ink(const struct ink *a, const struct ink *b)
{
    return a->fg == b->fg && a->bg == b->bg && a->bold == b->bold && a->dim == b->dim &&
           a->underline == b->underline;
}

static void draw_row(const struct grid *g, int y, const struct theme *t, struct paper paper)
{
    unsigned ground = ink_of(t, &(struct cell){.role = ROLE_TEXT}, paper).bg;
    for (int x = 0; x < g->cols;) {
        struct ink ink = ink_of(t, grid_at(g, x, y), paper);
        uint32_t ch = grid_at(g, x, y)->ch;
        int end = x + 1;
        while (end < g->cols) {
            uint32_t next = grid_at(g, end, y)->ch;
            struct ink other = ink_of(t, grid_at(g, end, y), paper);
            bool joins = is_shape(ch) ? next == ch : next != ' ' && !is_shape(next);
            if (!same_ink(&ink, &other) || !(ch == ' ' ? next == ' ' : joins))
                break;
            end++;
        }
        double px = MARGIN + x * CELL_W, py = MARGIN + y * CELL_H;
        if (ink.bg != ground)
            rect(px, py, (end - x) * CELL_W, CELL_H, ink.bg, "");
        if (ch != ' ' && !shape(ch, px, py, end - x, ink.fg))
            letters(g, y, x, end, &ink);
        x = end;
    }
}

static void draw(const struct grid *g, const struct theme *t)
{
    struct paper paper = {0x202428, 0xf7f6f2};
    unsigned ground = ink_of(t, &(struct cell){.role = ROLE_TEXT}, paper).bg;
    int w = g->cols * CELL_W + 2 * MARGIN, h = g->rows * CELL_H + 2 * MARGIN;
    printf("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%d\" "
           "viewBox=\"0 0 %d %d\" font-family=\"DejaVu Sans Mono, Menlo, Consolas, monospace\" "
           "font-size=\"13\" xml:space=\"preserve\">\n",
           w, h, w, h);
    printf("<rect width=\"%d\" height=\"%d\" rx=\"6\" fill=\"#%06x\"/>\n", w, h, ground);
    for (int y = 0; y < g->rows; y++)
        draw_row(g, y, t, paper);
    puts("</svg>");
}

static bool play(struct feed *f, struct model *m)
{
    f->kind->fill(f->ctx, m);
    while (!m->replay.ended || f->kind->wait_ns(f->ctx) == 0) {
        f->kind->turn(f->ctx, (struct stamp){0}, 0);
        f->kind->fill(f->ctx, m);
    }
    m->replay.ended = false; /* the moment, not the end of a log */
    m->replay.speed = 8;
    return m->channel_count > 0;
}

int main(int argc, char **argv)
{
    int cols, rows;
    struct theme theme;
    struct err e;
    struct ui ui;
    struct grid g;
    struct config_messages *messages;
    const char *const names[] = {argc > 1 ? argv[1] : ""};
    struct feed_options o = {.names = names, .count = 1};
    struct feed feed;
    if (argc != 6 || sscanf(argv[4], "%dx%d", &cols, &rows) != 2 ||
        !range_set_to(&o.range, "picture", argv[2])) {
        fputs("usage: picture LOG MOMENT VIEW COLSxROWS THEME\n", stderr);
        return 2;
    }
    setenv("TZ", "UTC", 1);
    struct settings *settings = config_load(NULL, &messages);
    struct model *m = model_new();
    if (!settings || !m || !theme_load(&theme, argv[5], &e))
        return 2;
    o.settings = settings;
    ui_init(&ui);
    ui.cols = cols;
    ui.rows = rows;
    ui.flash = true;
    snprintf(m->source, sizeof m->source, "trip.log");
    if (!feed_open_log(&feed, &o, &e) || !play(&feed, m) || !grid_init(&g, cols, rows, false)) {
        fprintf(stderr, "picture: %s\n", e.text);
        return 3;
    }
    m->units = settings->units;
    snprintf(m->vessel, sizeof m->vessel, "Tern Point");
    m->well_since_wall_ns = m->replay.first_ns;
    m->self = (struct model_self){.memory_kib = 7204,
                                  .pictures = 912,
                                  .bytes = 431220,
                                  .up_ns = 400 * NS_PER_S,
                                  .sound = true};
    for (int i = 0; i < VIEW_COUNT; i++)
        if (strcmp(views[i].name, argv[3]) == 0)
            ui_key(&ui, m, ui.keys.key[views[i].action]);
    ui_draw(&g, m, &ui);
    draw(&g, &theme);
    grid_fini(&g);
    feed_close(&feed);
    model_free(m);
    settings_free(settings);
    config_messages_free(messages);
    return 0;
}
