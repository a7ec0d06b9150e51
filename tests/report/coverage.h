/* Do the errors that a trial states hold the truth as often as they say? Random voyages are sailed
 * and reported on, and each figure is held against what the boat really did. Stated errors are one
 * standard error: two of them should hold 95 in 100 truths, and they should be no wider than that
 * asks for (GUM, JCGM 100, 6.2; by simulation as in JCGM 101). */
#ifndef STOKEHOLD_TESTS_REPORT_COVERAGE_H
#define STOKEHOLD_TESTS_REPORT_COVERAGE_H

#include "config/settings.h"

#include <stddef.h>
#include <stdint.h>

enum coverage_figure {
    COVER_SPEED,     /* both ways */
    COVER_CORRECTED, /* one way, less the current */
    COVER_COST,      /* L/nmi */
    COVER_BURN,
    COVER_EXPONENT,
    COVER_BEST,   /* most economical speed */
    COVER_FACTOR, /* litres out of the tank for each metered */
    COVER_FIGURES
};

struct coverage_of {
    double *off, *stated; /* estimate less truth; one standard error */
    size_t n, cap;
};
struct coverage {
    struct coverage_of figure[COVER_FIGURES];
    int trials;
    int invented;   /* points of a boat that was in neutral, speeds or burns below zero */
    int false_best; /* cheapest speeds where the boat has none */
    int best_there; /* boats that have one within what was run */
};

const char *coverage_name(enum coverage_figure f);
void coverage_add(struct coverage *c, const struct settings *settings, uint64_t seed);
/* Of all, the share whose truth lies within two stated errors, in percent. */
double coverage_held(const struct coverage_of *f);
/* The median stated error over the one that the median of the true errors asks for. */
double coverage_wide(const struct coverage_of *f);
void coverage_free(struct coverage *c);

#endif
