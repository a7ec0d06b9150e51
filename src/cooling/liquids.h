/* Coolant and oil of one engine: each over its own plateau, and what the two of them tell together
 * and with the exhaust. */
#ifndef STOKEHOLD_COOLING_LIQUIDS_H
#define STOKEHOLD_COOLING_LIQUIDS_H

#include "cooling/plateau.h"

struct liquids {
    struct engine_run *engine;
    struct plateau_watch coolant, oil;
};

void liquids_init(struct liquids *l, struct boat *b, struct engine_run *e); /* which outlive it */
/* exhaust: the watch of this engine's wet exhaust. */
void liquids_coolant_reading(struct liquids *l, double t, double value_c,
                             const struct core *exhaust);
void liquids_oil_reading(struct liquids *l, double t, double value_c);

#endif
