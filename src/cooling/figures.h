/* The figures of the cooling watch. They stand in figures.inc alone; here they become one struct,
 * which every part of a watch reads, and one list, by which a tool shows them and a test or a bench
 * varies one. */
#ifndef STOKEHOLD_COOLING_FIGURES_H
#define STOKEHOLD_COOLING_FIGURES_H

#include <stdbool.h>
#include <stddef.h>

/* Of one prediction. */
struct predict_figures {
#define PREDICT(name, exhaust, coolant, oil, unit, reason) double name;
#include "cooling/figures.inc"
};

/* Of coolant, or of oil. */
struct plateau_figures {
#define PLATEAU(name, coolant, oil, unit, reason) double name;
#include "cooling/figures.inc"
};

struct figures {
#define FIGURE(name, value, unit, reason) double name;
#include "cooling/figures.inc"
    struct predict_figures predict_exhaust, predict_coolant, predict_oil;
    struct plateau_figures coolant, oil;
};

/* One of them: its name ("gulp_min_k", "coolant.rise_rate"), where it stands in struct figures, its
 * value as shipped, its unit and the reason for it. */
struct figure {
    const char *name;
    size_t offset;
    double value;
    const char *unit, *reason;
};

extern const struct figures cooling_figures; /* as shipped */
/* All of them, *count rows. */
const struct figure *figures_list(size_t *count);
/* Sets one by name; false where there is none of that name. */
bool figures_set(struct figures *f, const char *name, double value);

#endif
