/* The watch of one exhaust, wet or dry gas: core and forecast, the creep of its level, what gulps
 * of air did, and what a start or a stuck sensor explains. Temperatures in °C over `core.unit`,
 * slopes in K/s, times in seconds since the watch began. */
#ifndef STOKEHOLD_COOLING_EXHAUST_STATE_H
#define STOKEHOLD_COOLING_EXHAUST_STATE_H

#include "cooling/core.h"
#include "cooling/forecast.h"

#define RECENT_SAMPLES ANSWER_MOST

/* What the engine's thermostat may be doing: opening again; for the first time since the start, at
 * once and with all that the block has gathered; neither. */
enum thermostat { THERMOSTAT_MAY_OPEN, THERMOSTAT_OPENS, THERMOSTAT_RESTS };

/* How fast the level climbs, and how far it has crept within one speed (level.c). */
struct creep {
    enum thermostat thermostat;
    double cold_budget;               /* K of fast climb left to a thermostat that opens, */
    double given;                     /* and what of it the level was given lately; it fades */
    double rate, climbed;             /* of the level: now, and the most of the last minute */
    double low, low_s;                /* lowest level at this speed, with a leak; for how long */
    double sea_low;                   /* the sea's level when low was set */
    double apart, apart_low, apart_s; /* the same for the distance to the twin */
    bool leapt;                       /* the level did: counted from its new place on */
};

/* The last excursion above what is expected, and the ones before (gulp.c). */
struct excursion {
    double ring_s[RECENT_SAMPLES], ring_k[RECENT_SAMPLES]; /* residuals, newest at head - 1 */
    double ring_above[RECENT_SAMPLES];                     /* the same above the level then */
    unsigned head, count;
    double quiet_s, quiet_k; /* when the residual was last within its allowance, and what it was */
    double turned_s;         /* when a climb last turned back */
    double top, top_slope;   /* highest since it was quiet, and steepest */
    double gulp_k;           /* highest excursion that went away by itself */
};

/* What came and went by itself lately, up (air in the intake) or down (a loose probe). */
struct again {
    int times, drops;       /* within reach of each other; drops: those of them downwards */
    double first_s, last_s; /* the first one's end, and the last one's */
    double longest_s;
    bool out, dropped; /* one is under way, up or down, */
    double out_s;      /* since then */
    double highest;    /* of those that are over, K above what is allowed for */
    double top;        /* the highest of the one that is under way, K above what is allowed for */
    double bottom;     /* the lowest since the last one: from there the next one counts */
    double stood;      /* the level lately, at its highest, whatever has been learned; it fades */
    bool stood_known;
};

struct exhaust_watch {
    struct core core;
    struct forecast forecast;
    struct creep creep;
    struct excursion excursion;
    struct again again;
    const struct engine_run *engine, *twin_engine; /* twin: NULL where there can be none */
    const struct exhaust_watch *twin;
    double found_s;   /* since when it is watched without a known past */
    double predicted; /* at the last sample */
    bool slow;        /* raised by the slow test */
    double mistaken;  /* of the level: given to a thermostat before heat was called; 0: none */
    double steepest;  /* rate_per_min at its highest since it was last quiet */
    double peak;      /* how far it stood above at most since the verdict stands */
    double calm_s;    /* since when that is small again; NaN: it is not */
    double held,
        held_allowance;    /* expected and allowed when it last stood out, as shown, °C and K */
    double beyond_s;       /* when it last was neither small nor within what is allowed */
    double hottest;        /* since the verdict stands, °C */
    double over_s;         /* so long it has stood far over its limit */
    bool called_wet, asks; /* whether its probe stands in dry gas: answered, or asked */
    bool of_again;         /* what stands is one of those that came and went, which outlasts them */
    bool seen_wet;         /* it has long run below its limit: it stands in water */
    double ran;            /* its level at the end of the last run; NaN: none was seen */
    double soaked; /* K that it stood above that when it was started again; 0: no more than usual */
    double hot_s;  /* since when it has stood above what any wet one does */
    double near, far; /* heat that is called, by two lags: their distance is a slope */
    double steep_s;   /* when it last climbed */
};

static inline bool exhaust_is_dry(const struct exhaust_watch *x)
{
    return x->core.unit > 1.0;
}

#endif
