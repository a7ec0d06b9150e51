/* Pictures of the screen for the documents: plays a log to a moment, draws a view into cells as the
 * program does, and writes the cells as SVG. Blocks, lines and braille are drawn as shapes, so that
 * a picture looks the same whatever fonts its reader has.
 *
 *     picture LOG MOMENT VIEW COLSxROWS THEME >FILE.svg
 *
 * Several moments, "+05:30,+06:15*,+06:48", make a film: each is shown for a while, the one with a
 * star is what stands where nothing moves (the last one without). No script; a row that does not
 * change is written once.
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

enum { CELL_W = 8, CELL_H = 17, MARGIN = 10, MOMENTS = 24 };

static FILE *out; /* the picture, or a row of a film */

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
    fprintf(out, "<rect x=\"%g\" y=\"%g\" width=\"%g\" height=\"%g\" fill=\"#%06x\"%s/>\n", x, y, w,
            h, color, more);
}

static bool is_braille(uint32_t ch)
{
    return ch > 0x2800 && ch <= 0x28FF;
}

static bool has_dot(uint32_t ch, int column, int row)
{
    static const uint8_t dots[2][4] = {{0x01, 0x02, 0x04, 0x40}, {0x08, 0x10, 0x20, 0x80}};
    return is_braille(ch) && ((ch - 0x2800) & dots[column][row]);
}

/* A run of braille cells of one row: dots beside each other touch, so that a curve reads as a line.
 */
static void braille(const struct grid *g, int y, int from, int to, unsigned color)
{
    const int w = CELL_W / 2;
    fprintf(out, "<path fill=\"#%06x\" d=\"", color);
    for (int row = 0; row < 4; row++)
        for (int i = 2 * from; i < 2 * to; i++) {
            int end = i;
            while (end < 2 * to && has_dot(grid_at(g, end / 2, y)->ch, end % 2, row))
                end++;
            if (end == i)
                continue;
            int wide = (end - i) * w;
            fprintf(out, "M%d %dh%dv2h-%dz", MARGIN + i * w,
                    MARGIN + y * CELL_H + row * CELL_H / 4 + 1, wide, wide);
            i = end;
        }
    fputs("\"/>\n", out);
}

static void dashed(double x, double y, double length, bool upright, unsigned color)
{
    fprintf(out, "<path d=\"M%g %g%c%g\" stroke=\"#%06x\" stroke-dasharray=\"%s\"/>\n", x, y,
            upright ? 'v' : 'h', length, color, upright ? "2 2.25" : "1.3 1.367");
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
    } else if (ch == 0x2508) {
        dashed(x + 0.5, y + CELL_H / 2.0, w, false, color);
    } else if (ch == 0x250A) {
        for (int i = 0; i < n; i++)
            dashed(x + i * CELL_W + CELL_W / 2.0, y + 1, CELL_H, true, color);
    } else if (ch == 0x2594) {
        rect(x, y, w, CELL_H / 8.0, color, "");
    } else if (ch == 0x250C || ch == 0x2510 || ch == 0x2514 || ch == 0x2518) {
        bool right = ch == 0x250C || ch == 0x2514, down = ch == 0x250C || ch == 0x2510;
        rect(x + (right ? CELL_W / 2.0 : 0), y + CELL_H / 2.0 - 0.5, CELL_W / 2.0, 1, color, "");
        rect(x + CELL_W / 2.0 - 0.5, y + (down ? CELL_H / 2.0 : 0), 1, CELL_H / 2.0, color, "");
    } else {
        return false;
    }
    return true;
}

static void letters(const struct grid *g, int y, int from, int to, const struct ink *ink)
{
    fprintf(out, "<text x=\"%d\" y=\"%d\" textLength=\"%d\" fill=\"#%06x\"%s%s%s>",
            MARGIN + from * CELL_W, MARGIN + y * CELL_H + 13, (to - from) * CELL_W, ink->fg,
            ink->bold ? " font-weight=\"bold\"" : "", ink->dim ? " fill-opacity=\"0.6\"" : "",
            ink->underline ? " text-decoration=\"underline\"" : "");
    for (int x = from; x < to; x++) {
        char text[5] = {0};
        uint32_t ch = grid_at(g, x, y)->ch;
        if (!ch)
            continue;
        utf8_put(text, ch);
        fputs(ch == '<' ? "&lt;" : ch == '&' ? "&amp;" : ch == '>' ? "&gt;" : text, out);
    }
    fputs("</text>\n", out);
}

static bool is_shape(uint32_t ch)
{
    return (ch >= 0x2580 && ch <= 0x2592 && ch != 0x2590) || ch == 0x2500 || ch == 0x2501 ||
           ch == 0x2502 || ch == 0x2508 || ch == 0x250A || ch == 0x252C || ch == 0x2594 ||
           ch == 0x250C || ch == 0x2510 || ch == 0x2514 || ch == 0x2518 || is_braille(ch);
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
            bool joins = is_braille(ch) ? is_braille(next)
                         : is_shape(ch) ? next == ch
                                        : next != ' ' && !is_shape(next);
            if (!same_ink(&ink, &other) || !(ch == ' ' ? next == ' ' : joins))
                break;
            end++;
        }
        double px = MARGIN + x * CELL_W, py = MARGIN + y * CELL_H;
        if (ink.bg != ground)
            rect(px, py, (end - x) * CELL_W, CELL_H, ink.bg, "");
        if (is_braille(ch))
            braille(g, y, x, end, ink.fg);
        else if (ch != ' ' && !shape(ch, px, py, end - x, ink.fg))
            letters(g, y, x, end, &ink);
        x = end;
    }
}

static const struct paper paper = {0x202428, 0xf7f6f2};

static void begin(int cols, int rows, const struct theme *t)
{
    unsigned ground = ink_of(t, &(struct cell){.role = ROLE_TEXT}, paper).bg;
    int w = cols * CELL_W + 2 * MARGIN, h = rows * CELL_H + 2 * MARGIN;
    fprintf(out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%d\" "
            "viewBox=\"0 0 %d %d\" font-family=\"DejaVu Sans Mono, Menlo, Consolas, monospace\" "
            "font-size=\"13\" xml:space=\"preserve\">\n",
            w, h, w, h);
    fprintf(out, "<rect width=\"%d\" height=\"%d\" rx=\"6\" fill=\"#%06x\"/>\n", w, h, ground);
}

/* ---- from the log ---- */

struct shot {
    const char *log, *view;
    const struct settings *settings;
    int cols, rows;
    bool thin; /* figures of the theme */
};

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

/* The screen as it is at that moment. */
static bool take(const struct shot *s, const char *moment, struct grid *g)
{
    struct feed_options o = {.names = &s->log, .count = 1, .settings = s->settings};
    struct feed feed;
    struct err e = {""};
    struct ui ui;
    struct model *m = model_new();
    bool good = m && range_set_to(&o.range, "picture", moment) && feed_open_log(&feed, &o, &e);
    if (!good) {
        fprintf(stderr, "picture: %s\n", e.text);
        return false;
    }
    snprintf(m->source, sizeof m->source, "trip.log");
    good = play(&feed, m) && grid_init(g, s->cols, s->rows, false);
    m->units = s->settings->units;
    snprintf(m->vessel, sizeof m->vessel, "Tern Point");
    m->well_since_wall_ns = m->replay.first_ns;
    m->self = (struct model_self){.memory_kib = 7204,
                                  .pictures = 912,
                                  .bytes = 431220,
                                  .up_ns = 400 * NS_PER_S,
                                  .sound = true};
    g->thin = s->thin;
    ui_init(&ui);
    ui.cols = s->cols;
    ui.rows = s->rows;
    ui.flash = true;
    for (int i = 0; i < VIEW_COUNT; i++)
        if (strcmp(views[i].name, s->view) == 0)
            ui_key(&ui, m, ui.keys.key[views[i].action]);
    if (good)
        ui_draw(g, m, &ui);
    feed_close(&feed);
    model_free(m);
    return good;
}

/* ---- films ---- */

struct film {
    char moments[MOMENTS][16];
    int count, still; /* still: the one that stands where nothing moves */
};

static bool read_moments(struct film *f, const char *text)
{
    *f = (struct film){0};
    for (const char *s = text; *s && f->count < MOMENTS;) {
        size_t n = strcspn(s, ",");
        bool star = n > 0 && s[n - 1] == '*';
        if (n - star >= sizeof f->moments[0])
            return false;
        memcpy(f->moments[f->count], s, n - star);
        if (star)
            f->still = f->count;
        f->count++;
        s += n + (s[n] == ',');
    }
    return f->count > 0;
}

/* One row of each moment as text; the caller frees. */
static char *row_text(const struct grid *g, int y, const struct theme *t)
{
    char *text = NULL;
    size_t n = 0;
    out = open_memstream(&text, &n);
    if (!out)
        exit(3);
    draw_row(g, y, t, paper);
    fclose(out);
    out = stdout;
    return text;
}

/* How long each stands: the still one longest. */
static double weight(const struct film *f, int i)
{
    return i == f->still ? 4 : 1;
}

static void draw_film(const struct film *f, const struct grid *grids, const struct theme *t)
{
    double total = 0, from[MOMENTS + 1] = {0};
    for (int i = 0; i < f->count; i++) {
        total += weight(f, i);
        from[i + 1] = total;
    }
    for (int y = 0; y < grids[0].rows; y++) {
        char *rows[MOMENTS];
        for (int i = 0; i < f->count; i++)
            rows[i] = row_text(&grids[i], y, t);
        for (int i = 0, end; i < f->count; i = end) {
            for (end = i + 1; end < f->count && strcmp(rows[end], rows[i]) == 0;)
                end++;
            bool always = end - i == f->count, still = f->still >= i && f->still < end;
            if (!*rows[i])
                continue;
            fprintf(out, "<g%s>\n", always || still ? "" : " visibility=\"hidden\"");
            if (!always)
                fprintf(out,
                        "<animate attributeName=\"visibility\" dur=\"%gs\" "
                        "repeatCount=\"indefinite\" calcMode=\"discrete\" "
                        "values=\"hidden;visible;hidden\" keyTimes=\"0;%.4f;%.4f\"/>\n",
                        total, from[i] / total, from[end] / total);
            fprintf(out, "%s</g>\n", rows[i]);
        }
        for (int i = 0; i < f->count; i++)
            free(rows[i]);
    }
}

int main(int argc, char **argv)
{
    static struct grid grids[MOMENTS];
    struct shot shot;
    struct film film;
    struct theme theme;
    struct err e = {""};
    struct config_messages *messages;
    out = stdout;
    if (argc != 6 || sscanf(argv[4], "%dx%d", &shot.cols, &shot.rows) != 2 ||
        !read_moments(&film, argv[2])) {
        fputs("usage: picture LOG MOMENT[,MOMENT...] VIEW COLSxROWS THEME\n", stderr);
        return 2;
    }
    setenv("TZ", "UTC", 1);
    struct settings *settings = config_load(NULL, &messages);
    if (!settings || !theme_load(&theme, argv[5], &e)) {
        fprintf(stderr, "picture: %s\n", e.text);
        return 2;
    }
    shot.log = argv[1];
    shot.view = argv[3];
    shot.settings = settings;
    shot.thin = theme.thin;
    for (int i = 0; i < film.count; i++)
        if (!take(&shot, film.moments[i], &grids[i]))
            return 3;
    begin(shot.cols, shot.rows, &theme);
    if (film.count > 1)
        draw_film(&film, grids, &theme);
    for (int y = 0; film.count == 1 && y < grids[0].rows; y++)
        draw_row(&grids[0], y, &theme, paper);
    fputs("</svg>\n", out);
    for (int i = 0; i < film.count; i++)
        grid_fini(&grids[i]);
    settings_free(settings);
    config_messages_free(messages);
    return 0;
}
