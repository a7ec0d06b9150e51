/* What was normal of one channel on a boat's first trips: a curve over engine speed, fitted
 * robustly (regress.h), with the sea's and the air's temperature and the load beside it where they
 * are known. What the first trips cannot show (they had one sea) leans on physics. For the files of
 * season/; others use model.h. */
#ifndef STOKEHOLD_SEASON_NORMAL_H
#define STOKEHOLD_SEASON_NORMAL_H

#include "season/kept.h"
#include "season/regress.h"
#include "season/season.h"

#define SEASON_FIRST_TRIPS 3    /* two cannot show how trips differ, four take in wear */
#define SEASON_WORKING     0.45 /* of the highest speed: above, cooling works; below is idle */

enum season_mode {
    SEASON_MODE_NONE, /* too few first trips */
    SEASON_MODE_PLAIN,
    SEASON_MODE_OVER_SEA,
    SEASON_MODE_OVER_AIR,
    SEASON_MODE_OVER_TWIN,
    SEASON_MODE_OVER_IDLE
};

struct season_normal {
    enum season_mode mode;
    struct regress_fit fit;
    double rpm_unit;          /* highest speed of the season */
    double rpm_low, rpm_high; /* what the first trips covered */
    double sea_c, air_c;      /* their means; NaN unknown */
    enum season_load load_kind;
    double load_fit[3];     /* load over 1, u, u²; 0 where unknown */
    double between;         /* standard deviation of a healthy trip's mean */
    double between_idle;    /* the same at idle */
    int first, last, trips; /* trips it was learned on, and how many of those it is */
    bool beside;            /* compared only where the twin does as much: an engine that pushes the
                               boat alone burns more */
    struct channel_id twin; /* of OVER_TWIN and `beside` */
};

struct season_view { /* the steps of the season and of the trip under way, as one */
    const struct season_step *steps[2];
    int count[2];
    int leave_out,
        trips; /* a trip not looked at, -1 none; the present trip has the number `trips` */
    struct channel_id id;
    const struct season_kept *kept;
    int row; /* of season_kept */
};

/* One step of the channel, over what the mode says. */
struct season_observation {
    const struct season_step *step;
    double y;
};
typedef void season_each(void *ctx, const struct season_observation *o, int trip);
void season_every(const struct season_view *v, const struct season_normal *n, season_each *f,
                  void *ctx);

/* Learns from the first trips that begin at from_ns or later. False where there are none. */
bool season_normal_make(const struct season_view *v, const struct season *s, int64_t from_ns,
                        struct season_normal *n);
/* What a step counts for beside others, by its minutes, at most `most` of them: 0 to 1. */
double season_weight(const struct season_kept *k, const struct season_step *step, double most);
/* False of a working step whose load is so far from what belonged to its speed that no curve speaks
 * of it: an engine that runs free. */
bool season_loaded_alike(const struct season_normal *n, const struct season_step *step);
/* False where both loads are known and are so far apart that twins are none. */
bool season_twins_alike(const struct season_step *a, const struct season_step *b);
/* The terms of the curve at a step, REGRESS_TERMS of them. */
void season_terms(const struct season_view *v, const struct season_normal *n,
                  const struct season_step *step, double x[REGRESS_TERMS]);
/* What the channel has over its reference there, for an exhaust: heat by the water that is left
 * goes in proportion to it. 1 for others. */
double season_rise(const struct season_view *v, const struct season_normal *n, const double *x);
/* What a load differs by from normal, as explained by the curve. */
double season_load_part(const struct season_normal *n, const double *x);
/* What 10 K of a sea that is not on the bus may do, as a variance. */
double season_unseen(int row, const struct season_normal *n);
/* The other engine's channel of the same kind, where the season has one. */
bool season_twin(const struct season_view *v, struct channel_id *out);

#endif
