/* What a season says of one channel: what was normal on its first trips, how far each later trip
 * stood from that at like speed, load and sea, and what that means. Pure.
 *
 * Normal is a curve over engine speed, fitted robustly (regress.h) to the steps of the first trips,
 * with the sea's and the air's temperature and the load beside it where they are known; what the
 * first trips cannot show (they had one sea) leans on physics. An exhaust is taken over the sea;
 * where no sea is known, over its twin; on one engine without sea, over its own idle.
 * A trip's excess is the mean of its working steps over normal, brought to two thirds of the
 * highest speed. Its error comes from how trips differ among themselves, not from the noise within
 * one. docs/season.md has the reasons and what was measured. */
#ifndef STOKEHOLD_SEASON_MODEL_H
#define STOKEHOLD_SEASON_MODEL_H

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
    struct channel_id twin; /* OVER_TWIN */
};

struct season_excess {
    int trip;
    bool known;
    double excess, error; /* base unit or share; one standard error */
    double rpm;           /* of the working steps, minutes-weighted */
    double idle, idle_error;
    bool idle_known;
    double own_rest;  /* as `rest`, the twin left out */
    double rest;      /* over its engine's other temperatures on a cold morning; NaN unknown */
    bool exchanged;   /* jumped alike at all speeds: a probe exchanged or moved */
    double load_part; /* of the raw difference, what load explained */
};

enum season_level { SEASON_QUIET, SEASON_QUESTION, SEASON_CAUTION, SEASON_WARNING };

struct season_story {
    struct channel_id id;
    int row; /* of season_kept */
    struct season_normal normal;
    struct season_excess trip[SEASON_TRIPS + 1];
    int trips;               /* in use, oldest first; the present trip is the last */
    enum season_level level; /* of the newest trip */
    int in_row;              /* trips in a row that stand out, the newest included */
    double excess, error;    /* of the newest trip that knows */
    double offset;           /* what probes exchanged since the first trips have moved it by */
    double rest;             /* median of `rest` of the trips since then; NaN unknown */
    double growth_per_week, growth_error; /* of the last trips; NaN with fewer than three */
    bool up;                              /* which way it stands out */
    bool both;        /* the twin stands out as well: hull, sea growth, both intakes */
    int64_t since_ns; /* the first trips', or the mark's that began a new reference */
    int mark;         /* index of that mark, -1 none */
};

/* What the season says of a channel. `leave_out` is a trip that is not looked at (-1: none); extra
 * are the steps of the trip under way (may be none), at extra_ns. False where the season has no
 * normal for it. */
bool season_tell(const struct season *s, struct channel_id id, int leave_out,
                 const struct season_step *extra, int extra_count, int64_t extra_ns,
                 struct season_story *out);
/* What the channel should read at this speed, load and sea by the story's normal (for OVER_TWIN
 * twin_value is what the twin reads now, else ignored), and the standard error of a healthy
 * reading there. False outside what the first trips covered. */
bool season_expected(const struct season_story *story, double rpm, enum season_load load_kind,
                     double load, double sea_c, double air_c, double twin_value, double *value,
                     double *error);
/* How far a channel's reading at rest stands over its engine's other temperatures, by the rest
 * steps among these; NaN where there are none or the engine was not cold. */
double season_rest(const struct season_step *steps, int count, int trip, struct channel_id id);
/* The same, less the twin's where the normal is over the twin. */
double season_rest_over(const struct season_step *steps, int count, int trip,
                        const struct season_normal *n, struct channel_id id);
/* Whether a change by `jump` that idle and rest show as given (NaN: unknown) is a probe's that was
 * exchanged or moved, not wear. */
bool season_is_probe(int row, double jump, double idle_jump, double rest_jump, double error);
/* The channels of the season that have steps, in a fixed order; returns how many. */
int season_channels(const struct season *s, struct channel_id *out, int most);

#endif
