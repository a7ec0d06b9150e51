/* The watch of the engine space's air, at heat detectors' rates. */
#ifndef STOKEHOLD_COOLING_SPACE_H
#define STOKEHOLD_COOLING_SPACE_H

#include "cooling/core.h"

struct space_watch {
    struct core core;
    double level_c; /* followed, no faster than allowed */
    int hot_run;    /* samples in a row above what is too hot by itself */
};

void space_init(struct space_watch *s, struct boat *b); /* which outlives it */
void space_reading(struct space_watch *s, double t, double value_c);
void space_gap(struct space_watch *s);

#endif
