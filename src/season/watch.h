/* A trip watched with the season in mind: told once a second what the engines' channels read, it
 * finds the trip's steady steps, says at any moment how far each channel stands from what it was at
 * like speed, load and sea on the first trips, and hands the steps over at the end. Pure but for
 * memory; the season is the caller's and must outlive it; a trip may be added to it meanwhile. */
#ifndef STOKEHOLD_SEASON_WATCH_H
#define STOKEHOLD_SEASON_WATCH_H

#include "season/model.h"
#include "season/steps.h"

struct season_verdict {
    enum season_level level;
    bool live;              /* excess is of this moment; otherwise of the trip's steps so far */
    double excess, error;   /* base unit, or share; NaN: nothing to compare now */
    double value, expected; /* base unit; NaN likewise */
    double rpm;
    double said, said_rpm; /* excess and speed of the newest minute that bore the level out */
    int in_row;            /* trips in a row that stand out, this one counted */
    bool has_reserve;
    struct season_reserve reserve;    /* to its limit, in the sea of now */
    const struct season_story *story; /* NULL: the season has no normal for it */
};

struct season_watch;
/* NULL when out of memory. */
struct season_watch *season_watch_new(const struct season *s);
void season_watch_free(struct season_watch *w); /* NULL is allowed */
/* The fixed limit that a channel has; NaN: none. What uses the reserve to it up is a warning. */
void season_watch_limit(struct season_watch *w, int engine, int kept, double limit);
/* As steps_second. Engines keep their places in the array for as long as the watch lives. */
void season_watch_second(struct season_watch *w, int64_t wall_ns, double sea_c, double air_c,
                         const struct steps_second *engines, int count);
/* The same second's batteries, for what they fall to while an engine is started (crank.h). */
void season_watch_starts(struct season_watch *w, int64_t wall_ns, double air_c,
                         const struct steps_second *engines, int count,
                         const struct crank_battery *batteries, int battery_count);
/* All engines have stopped: judges the trip by all its steps so far, those channels too that are
 * not judged while it goes on. */
void season_watch_stopped(struct season_watch *w, const struct steps_second *engines, int count);
/* kept indexes season_kept. Never NULL. Of what is no engine's: the boat's one stands with engine
 * 0, batteries in the order in which the season met them. */
const struct season_verdict *season_watch_verdict(const struct season_watch *w, int engine,
                                                  int kept);
/* How far a channel of an engine stands from the season's first trips: now, at a steady speed, or
 * else on the last trip that knows. */
struct season_standing {
    struct channel_id id;
    double excess, error; /* base unit, or share; one standard error */
    bool now;
    enum season_level level;
    int64_t since_ns; /* the first trips', wall */
};
/* False where nothing is known of it. instance is the engine's. */
bool season_watch_standing(struct season_watch *w, int engine, uint8_t instance, int kept,
                           struct season_standing *out);
/* Whether an excess is known now, and of a size: worth a word before it is worth an alert. */
bool season_watch_notable(const struct season_verdict *v, int kept);
/* Ends the steps under way and gives the trip; false where no engine ran or no step was found. The
 * steps stay valid until the next call. log is the name it gets. */
bool season_watch_trip(struct season_watch *w, const char *log, struct season_trip *trip,
                       const struct season_step **steps, int *count);
/* The engines were off for so long that another trip begins: tells whoever asked of the one that is
 * over, and forgets it. */
void season_watch_begin(struct season_watch *w);
/* Asks to be told: a stop and the next start may lie in one batch of frames. The steps are valid
 * for as long as the call. */
typedef void season_over(void *ctx, const struct season_trip *trip, const struct season_step *steps,
                         int count);
void season_watch_tell(struct season_watch *w, season_over *tell, void *ctx);

#endif
