/* The watch of a temperature that a thermostat or a load holds at a plateau: coolant, or oil. One
 * test, with figures of its own for each (figures.inc). Temperatures in °C, slopes in K/s, times in
 * seconds since the watch began. */
#ifndef STOKEHOLD_COOLING_PLATEAU_H
#define STOKEHOLD_COOLING_PLATEAU_H

#include "cooling/core.h"
#include "cooling/forecast.h"

struct plateau_watch {
    struct core core;
    struct forecast forecast; /* level_known: it has reached its plateau */
    const struct plateau_figures *own;
    const struct engine_run *engine;
    double even_from_s;        /* since when it has not moved, while the plateau is looked for */
    double age_s;              /* since the plateau was found */
    double peak_c, high_c;     /* highest of this and earlier plateaus; of this one, fading */
    double low_c;              /* what it stood at lately */
    double doubt, unlearned_s; /* of the prediction, K; time since it was last asked */
    double near_c, far_c;      /* followed by two lags: their distance is a slope */
    double flat_s;             /* when it last did not climb */
    double top;                /* how far it stood above at most since the verdict stands, K */
};

/* What one reading told. */
struct plateau_reading {
    bool good, known; /* known: an engine that runs, and a sensor that is to be believed */
    double rate;      /* K/s */
    double above;     /* K over what is expected */
    bool over;        /* by as much as its figures ask, and it climbs */
};

void plateau_init(struct plateau_watch *p, struct boat *b, const struct engine_run *e,
                  const struct predict_figures *predict, const struct plateau_figures *own,
                  double limit_c);
/* What an earlier trip found normal. */
void plateau_recall(struct plateau_watch *p, double value_c);
/* Takes a sample: dt seconds after the last, and its slope. False: it tells nothing. */
bool plateau_take(struct plateau_watch *p, double t, double value_c, struct plateau_reading *r,
                  double *dt);
/* Compares it with the plateau; r->known says whether there is anything to decide on. */
void plateau_judge(struct plateau_watch *p, double t, double value_c, double dt,
                   struct plateau_reading *r);
/* Calls it, or lets go of what was called. */
void plateau_decide(struct plateau_watch *p, double above, bool over, bool certain,
                    enum cooling_cause cause);
/* Whether it has come lately, and is to be believed. */
bool plateau_is_fresh(const struct plateau_watch *p);
void plateau_engine(struct plateau_watch *p);
void plateau_gap(struct plateau_watch *p);

#endif
