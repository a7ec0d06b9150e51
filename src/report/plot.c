#include "report/plot.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

enum { WIDTH = 460, HEIGHT = 290, LEFT = 56, RIGHT = 12, TOP = 26, BOTTOM = 46 };

static const char *const dashes[] = {"", "6 3", "2 3", "9 3 2 3"};
/* dark enough to print in grey, far apart for those who do not see red and green alike */
static const char *const inks[] = {"#11428a", "#9a3412", "#000000", "#6b21a8"};

struct frame_of {
    double x_low, x_high, y_low, y_high;
};

static double across(const struct frame_of *f, double x)
{
    return LEFT + (x - f->x_low) / (f->x_high - f->x_low) * (WIDTH - LEFT - RIGHT);
}

static double down(const struct frame_of *f, double y)
{
    return HEIGHT - BOTTOM - (y - f->y_low) / (f->y_high - f->y_low) * (HEIGHT - TOP - BOTTOM);
}

void plot_text(FILE *out, const char *text)
{
    for (; *text; text++) {
        switch (*text) {
        case '&':
            fputs("&amp;", out);
            break;
        case '<':
            fputs("&lt;", out);
            break;
        case '>':
            fputs("&gt;", out);
            break;
        case '"':
            fputs("&quot;", out);
            break;
        default:
            fputc(*text, out);
        }
    }
}

/* A coordinate or figure with a point in every locale. */
static void put(FILE *out, double v, int decimals)
{
    char number[40];

    text_number(number, sizeof number, v, decimals);
    fputs(number, out);
}

double plot_step(double low, double high, int wanted)
{
    double rough = (high - low) / wanted, power, part;

    if (!(rough > 0) || !isfinite(rough))
        return 1;
    power = pow(10, floor(log10(rough)));
    part = rough / power;
    return power * (part < 1.5 ? 1 : part < 3.5 ? 2 : part < 7.5 ? 5 : 10);
}

static bool span_of(const struct plot *p, struct frame_of *f)
{
    double pad;

    *f = (struct frame_of){INFINITY, -INFINITY, INFINITY, -INFINITY};
    for (int s = 0; s < p->count; s++) {
        const struct plot_series *c = &p->series[s];

        for (size_t i = 0; i < c->n; i++) {
            if (!isfinite(c->x[i]) || !isfinite(c->y[i]))
                continue;
            f->x_low = fmin(f->x_low, c->x[i]);
            f->x_high = fmax(f->x_high, c->x[i]);
            f->y_low = fmin(f->y_low, c->y[i]);
            f->y_high = fmax(f->y_high, c->y[i]);
        }
    }
    if (!(f->x_low <= f->x_high))
        return false;
    pad = f->x_high > f->x_low ? 0.03 * (f->x_high - f->x_low) : 1;
    f->x_low -= pad;
    f->x_high += pad;
    pad = f->y_high > f->y_low ? 0.07 * (f->y_high - f->y_low) : 1;
    f->y_high += pad;
    f->y_low = p->from_zero ? 0 : f->y_low - pad;
    return true;
}

static void line(FILE *out, double x1, double y1, double x2, double y2, const char *style)
{
    fputs("<line x1=\"", out);
    put(out, x1, 1);
    fputs("\" y1=\"", out);
    put(out, y1, 1);
    fputs("\" x2=\"", out);
    put(out, x2, 1);
    fputs("\" y2=\"", out);
    put(out, y2, 1);
    fprintf(out, "\" %s/>\n", style);
}

static void label(FILE *out, double x, double y, const char *more)
{
    fputs("<text x=\"", out);
    put(out, x, 1);
    fputs("\" y=\"", out);
    put(out, y, 1);
    fprintf(out, "\"%s>", more);
}

/* Decimals that a tick needs. */
static int decimals_for(double step)
{
    int d = 0;

    while (d < 4 && step < 0.95) {
        step *= 10;
        d++;
    }
    return d;
}

static void axes(FILE *out, const struct plot *p, const struct frame_of *f)
{
    double step = plot_step(f->x_low, f->x_high, 6);

    for (int i = 0; ceil(f->x_low / step) * step + i * step <= f->x_high; i++) {
        double v = ceil(f->x_low / step) * step + i * step;

        line(out, across(f, v), TOP, across(f, v), HEIGHT - BOTTOM, "stroke=\"#ccc\"");
        label(out, across(f, v), HEIGHT - BOTTOM + 16, " text-anchor=\"middle\"");
        put(out, v, decimals_for(step));
        fputs("</text>\n", out);
    }
    step = plot_step(f->y_low, f->y_high, 6);
    for (int i = 0; ceil(f->y_low / step) * step + i * step <= f->y_high; i++) {
        double v = ceil(f->y_low / step) * step + i * step;

        line(out, LEFT, down(f, v), WIDTH - RIGHT, down(f, v), "stroke=\"#ccc\"");
        label(out, LEFT - 6, down(f, v) + 4, " text-anchor=\"end\"");
        put(out, v, decimals_for(step));
        fputs("</text>\n", out);
    }
    fprintf(out,
            "<rect x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\" fill=\"none\" stroke=\"#000\"/>\n",
            LEFT, TOP, WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM);
    label(out, LEFT + (WIDTH - LEFT - RIGHT) / 2.0, HEIGHT - 10, " text-anchor=\"middle\"");
    plot_text(out, p->x_label);
    fputs("</text>\n", out);
    fprintf(out, "<text transform=\"translate(14 %d) rotate(-90)\" text-anchor=\"middle\">",
            TOP + (HEIGHT - TOP - BOTTOM) / 2);
    plot_text(out, p->y_label);
    fputs("</text>\n", out);
}

/* Circle, square, triangle, diamond; every other one hollow. */
static void mark(FILE *out, int s, double x, double y)
{
    static const double corners[4][8] = {
        {0},
        {-4, -4, 4, -4, 4, 4, -4, 4},
        {0, -5, 5, 4, -5, 4, 0, -5},
        {0, -5.5, 5.5, 0, 0, 5.5, -5.5, 0},
    };
    const char *ink = inks[s % 4], *fill = s % 2 ? "#fff" : ink;

    if (s % 4 == 0) {
        fputs("<circle cx=\"", out);
        put(out, x, 1);
        fputs("\" cy=\"", out);
        put(out, y, 1);
        fprintf(out, "\" r=\"4\" fill=\"%s\" stroke=\"%s\"/>\n", fill, ink);
        return;
    }
    fputs("<polygon points=\"", out);
    for (int i = 0; i < 4; i++) {
        put(out, x + corners[s % 4][2 * i], 1);
        fputc(',', out);
        put(out, y + corners[s % 4][2 * i + 1], 1);
        fputc(i < 3 ? ' ' : '"', out);
    }
    fprintf(out, " fill=\"%s\" stroke=\"%s\"/>\n", fill, ink);
}

static int sign_of(const struct plot *p, int s)
{
    enum plot_sign sign = p->series[s].sign;

    return sign == PLOT_SIGN_BY_PLACE ? s : (int)sign - PLOT_CIRCLE;
}

static void line_end(FILE *out, const struct plot_series *c, int s)
{
    if (c->faint)
        fputs("\" fill=\"none\" stroke=\"#777\" stroke-width=\"1\" stroke-dasharray=\"1 3\"/>\n",
              out);
    else
        fprintf(out,
                "\" fill=\"none\" stroke=\"%s\" stroke-width=\"1.5\" stroke-dasharray=\"%s\"/>\n",
                inks[s % 4], dashes[s % 4][0] ? dashes[s % 4] : "none");
}

static void curve_line(FILE *out, const struct plot *p, int s, const struct frame_of *f)
{
    const struct plot_series *c = &p->series[s];
    size_t missing = 0;
    bool begun = false;

    for (size_t i = 0; i < c->n; i++) {
        if (!isfinite(c->x[i]) || !isfinite(c->y[i])) {
            missing++;
            continue;
        }
        if (begun && c->gap > 0 && missing > c->gap) {
            line_end(out, c, s);
            begun = false;
        }
        missing = 0;
        fputs(begun ? " " : "<polyline points=\"", out);
        begun = true;
        put(out, across(f, c->x[i]), 1);
        fputc(',', out);
        put(out, down(f, c->y[i]), 1);
    }
    if (begun)
        line_end(out, c, s);
}

static void curve(FILE *out, const struct plot *p, int s, const struct frame_of *f)
{
    const struct plot_series *c = &p->series[s];
    char style[120];

    if (!c->no_line)
        curve_line(out, p, s, f);
    text_format(style, sizeof style, "stroke=\"%s\"", inks[s % 4]);
    for (size_t i = 0; i < c->n; i++) {
        if (!isfinite(c->x[i]) || !isfinite(c->y[i]))
            continue;
        if (c->error && isfinite(c->error[i]))
            line(out, across(f, c->x[i]), down(f, fmax(f->y_low, c->y[i] - c->error[i])),
                 across(f, c->x[i]), down(f, fmin(f->y_high, c->y[i] + c->error[i])), style);
        if (!c->no_marks)
            mark(out, sign_of(p, s), across(f, c->x[i]), down(f, c->y[i]));
    }
}

/* Marks and names in a row above the frame. */
static void names(FILE *out, const struct plot *p)
{
    double x = LEFT + 6;
    char style[120];

    for (int s = 0; s < p->count; s++) {
        const char *name = p->series[s].name;

        if (!name)
            continue;
        if (p->series[s].no_marks) {
            text_format(style, sizeof style,
                        "stroke=\"%s\" stroke-width=\"1.5\" stroke-dasharray=\"%s\"", inks[s % 4],
                        dashes[s % 4][0] ? dashes[s % 4] : "none");
            line(out, x - 8, 12, x + 13, 12, style);
        } else {
            mark(out, sign_of(p, s), x + 6, 12);
        }
        label(out, x + 16, 16.5, "");
        plot_text(out, name);
        fputs("</text>\n", out);
        x += 34 + 7.5 * text_width(name);
    }
}

static void arrow(FILE *out, const struct plot *p, const struct frame_of *f)
{
    double x = across(f, p->at_x), y = down(f, p->at_y);
    bool below = y < HEIGHT / 2.0;
    double tail = below ? y + 44 : y - 44;

    if (!p->text || !isfinite(x) || !isfinite(y))
        return;
    line(out, x, tail, x, below ? y + 9 : y - 9, "stroke=\"#000\"");
    for (int side = -4; side <= 4; side += 8)
        line(out, x + side, below ? y + 16 : y - 16, x, below ? y + 8 : y - 8, "stroke=\"#000\"");
    label(out, x, below ? tail + 13 : tail - 5, " text-anchor=\"middle\" font-weight=\"bold\"");
    plot_text(out, p->text);
    fputs("</text>\n", out);
}

void plot_write(FILE *out, const struct plot *p)
{
    struct frame_of f;

    fputs("<figure>\n<figcaption>", out);
    plot_text(out, p->title);
    fputs("</figcaption>\n", out);
    if (!span_of(p, &f)) {
        fputs("<p>Nothing was heard to plot.</p>\n</figure>\n", out);
        return;
    }
    fprintf(out, "<svg viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"", WIDTH, HEIGHT);
    plot_text(out, p->title);
    fputs("\">\n", out);
    axes(out, p, &f);
    for (int s = 0; s < p->count; s++)
        curve(out, p, s, &f);
    names(out, p);
    arrow(out, p, &f);
    fputs("</svg>\n</figure>\n", out);
}
