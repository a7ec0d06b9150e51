/* Plots as SVG within an HTML page: points with error bars joined by lines. Series are told apart
 * by mark and dash, and named above the frame, so that no colour is needed; colour is added for
 * those who have it. No script, no font or image from elsewhere. The page's style says
 * `svg{font:13px sans-serif}`. */
#ifndef STOKEHOLD_REPORT_PLOT_H
#define STOKEHOLD_REPORT_PLOT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#define PLOT_SERIES 8

struct plot_series {
    const char *name;
    const double *x, *y;
    const double *error; /* half a bar up and half down; NULL or NaN: none */
    size_t n;
    bool no_line;  /* marks alone */
    bool no_marks; /* a line alone */
    size_t gap;    /* over more missing points in a row the line breaks; 0: never */
    bool faint;    /* a thin grey line that stands back */
    enum plot_sign {
        PLOT_SIGN_BY_PLACE,
        PLOT_CIRCLE,
        PLOT_SQUARE, /* hollow */
        PLOT_TRIANGLE,
        PLOT_DIAMOND /* hollow */
    } sign;          /* its marks */
};

struct plot {
    const char *title, *x_label, *y_label;
    bool from_zero; /* the y axis begins at 0 */
    struct plot_series series[PLOT_SERIES];
    int count;
    /* one place marked by an arrow and words; text NULL: none */
    double at_x, at_y;
    const char *text;
};

/* Steps of 1, 2 or 5 times a power of ten, about `wanted` of them over high - low. */
double plot_step(double low, double high, int wanted);
/* Writes a <figure>; a plot without a finite point says so in words. */
void plot_write(FILE *out, const struct plot *p);
/* Text with &, <, > and quotes made harmless. */
void plot_text(FILE *out, const char *text);

#endif
