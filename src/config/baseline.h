/* What was normal for a boat: means of its channels at engine speeds, kept between trips as text
 * that people can read and edit. Written by `trial --baseline`, read where a
 * trip is held against it. One line a figure, columns apart by blanks:
 *
 *   # stokehold baseline
 *   # channel  rpm  mean  spread  minutes  sea  when  log
 *   exhaust.0  2184  34.4  0.3  5.6  16.0  2026-05-04T14:59:48Z  trial.log
 *
 * Values are in base units (°C, kPa, L/h, ...); spread is how far readings of that step went up or
 * down from the mean; sea is the water's temperature then, `-` where it was not heard. The log is
 * the rest of the line. Lines with # are passed over. The first line must say what it is. */
#ifndef STOKEHOLD_CONFIG_BASELINE_H
#define STOKEHOLD_CONFIG_BASELINE_H

#include "base/err.h"
#include "base/quantity.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#define BASELINE_FIGURES 4096

struct baseline_figure {
    struct channel_id id;
    double rpm, mean, spread, minutes;
    double sea_c;    /* NaN: not known */
    int64_t wall_ns; /* when it was measured */
    char log[80];
};

struct baseline {
    struct baseline_figure *figures;
    size_t count;
};

/* Adds a figure; false when out of memory or full. *b starts zeroed. */
bool baseline_add(struct baseline *b, const struct baseline_figure *f);
void baseline_free(struct baseline *b); /* leaves it empty; NULL is not allowed */

/* name stands before the line number in e. On failure *out is empty. */
bool baseline_parse(const char *text, size_t len, const char *name, struct baseline *out,
                    struct err *e);
bool baseline_read(const char *path, struct baseline *out, struct err *e);
/* With its comments; the caller looks at ferror. */
void baseline_write(FILE *out, const struct baseline *b);

/* The normal of a channel at an engine speed: on the straight line between the two figures around
 * it; a speed outside them by no more than 5 % takes the nearest. *when and *sea_c are the nearer
 * figure's; out-pointers may be NULL. False where the baseline says nothing about it. */
bool baseline_normal(const struct baseline *b, struct channel_id id, double rpm, double *mean,
                     double *spread, double *sea_c, int64_t *wall_ns);

#endif
