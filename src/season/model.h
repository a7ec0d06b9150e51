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

#include "season/normal.h"
#include "season/probe.h"

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

/* "none", "question", "caution", "warning" */
const char *season_level_word(enum season_level level);

struct season_story {
    struct channel_id id;
    int row; /* of season_kept */
    struct season_normal normal;
    struct season_excess trip[SEASON_TRIPS + 1];
    int trips;               /* in use, oldest first; the present trip is the last */
    enum season_level level; /* of the newest trip */
    int in_row;              /* trips in a row that stand out, the newest included */
    double excess, error;    /* of the newest trip that knows */
    double offset_error;
    double offset; /* what probes exchanged since the first trips have moved it by */
    double rest;   /* median of `rest` of the trips since then; NaN unknown */
    double growth_per_week, growth_error; /* of the last trips; NaN with fewer than three */
    bool up;                              /* which way it stands out */
    bool both;        /* the twin stands out as well: hull, sea growth, both intakes */
    int64_t since_ns; /* the first trips', or the mark's that began a new reference */
    char mark[120];   /* that mark's words; "" none */
};

/* What the season says of a channel. `leave_out` is a trip that is not looked at (-1: none); extra
 * are the steps of the trip under way (may be none), which began at extra_ns (0: there is none):
 * trips after it are no part of its story, though they may be what is normal. False where the
 * season has no normal for it. */
bool season_tell(const struct season *s, struct channel_id id, int leave_out,
                 const struct season_step *extra, int extra_count, int64_t extra_ns,
                 struct season_story *out);
/* The same as it stood before the mark of this index, which concerns the channel: against the
 * reference that the mark ended. False where there was none. */
bool season_tell_before(const struct season *s, struct channel_id id, int mark,
                        struct season_story *out);
/* What the channel should read at this speed, load and sea by the story's normal (for OVER_TWIN
 * twin_value is what the twin reads now, else ignored), and the standard error of a healthy
 * reading there. False outside what the first trips covered. */
bool season_expected(const struct season_story *story, double rpm, enum season_load load_kind,
                     double load, double sea_c, double air_c, double twin_value, double *value,
                     double *error);
/* How much of the excess (which is at two thirds of the highest speed) shows at a speed: more where
 * the channel stands further over the sea. */
double season_at_speed(const struct season_story *story, double rpm);
/* Whether the excess of the last trips grows, or shrinks, by more than chance. */
bool season_grows(const struct season_story *story);
/* What is left to a limit at the highest speed of the first trips. */
struct season_reserve {
    double rpm, reading; /* that speed; what the channel would read there now */
    bool used_up;        /* that is beyond the limit, and was not on the first trips */
    double weeks;        /* until it is, at the rate of the last trips; NaN: not foretold */
};
/* In this sea, with this excess; false where that cannot be known. */
bool season_reserve(const struct season_story *story, double sea_c, double excess, double limit,
                    struct season_reserve *out);
/* What the month of a moment is called, in UTC: "May". */
const char *season_month(int64_t wall_ns);
/* The running steps of the first trips of a channel, or of the first ones since the work that was
 * marked last: at most `most`; returns how many. */
int season_first_steps(const struct season *s, struct channel_id id, const struct season_step **out,
                       int most);
/* The channels of the season that have steps, in a fixed order; returns how many. */
int season_channels(const struct season *s, struct channel_id *out, int most);

#endif
