/* Alerts and their life, as in IMO MSC.302(87): raised unacknowledged, silenced for a while,
 * acknowledged one by one, rectified; an unacknowledged warning grows into an alarm, but for one of
 * the season, which sounds again (7.4 allows both).
 *
 * One situation, one alert (MSC.302(87) 5.2). Rules do not raise alerts, they make claims about a
 * situation (for instance "the port engine's exhaust is too hot"). All claims about one situation
 * feed one alert: it stands while any claim stands, and its priority is that of the strongest.
 * While unacknowledged a priority never falls, so that nobody misses that there was an alarm; once
 * acknowledged it follows the claims. A time-based escalation holds until rectified.
 * The list is bounded (ALERTS_MAX); rectified, acknowledged ones move to a bounded history. When
 * the list is full, the weakest rectified one gives way, then a weaker standing one.
 * A caution is ALERT_ACKNOWLEDGED from the start: it is steady and needs nobody.
 *
 * Stages. Every alert says how far its trouble has come (action.h), and what to do at that stage is
 * part of its words. A stage is never left for an earlier one, except that an engine that was
 * stopped may run again. Each keeps the worst that was read and when its limit was passed.
 * Flapping. What comes and goes again and again is one alert: after the FLAPS_MAX-th return within
 * FLAP_NS it stands until it was quiet for FLAP_CALM_NS, and says how often since when. */
#ifndef STOKEHOLD_ALERTS_ALERT_H
#define STOKEHOLD_ALERTS_ALERT_H

#include "alerts/action.h"
#include "base/quantity.h"
#include "base/when.h"
#include "config/settings.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define ALERTS_MAX       128
#define ALERTS_HISTORY   256
#define ALERT_TEXT_SIZE  160
#define ALERT_CLAIMS_MAX 8

enum alert_state { /* MSC.302(87); letters V S A U N of IEC 61924-2 */
                   ALERT_NORMAL,
                   ALERT_UNACKNOWLEDGED,
                   ALERT_SILENCED,
                   ALERT_ACKNOWLEDGED,
                   ALERT_RECTIFIED, /* rectified, not acknowledged: stays listed until it is */
};

enum alert_event_kind {
    EVENT_RAISED,
    EVENT_ESCALATED,
    EVENT_CHANGED, /* a new stage, and no escalation that tells of it */
    EVENT_RECTIFIED,
    EVENT_ENDED, /* the log has ended and it still stands (alerts_finish) */
    EVENT_ACKNOWLEDGED,
    EVENT_SILENCED,
    EVENT_UPDATED, /* same priority, new figures: for a screen, never for a log. Its text is not
                    * built yet: alerts_at and alerts_by_id build it */
};

/* What decided, for `sift --explain`. NaN where it does not apply. */
struct alert_figures {
    double value, expected, allowance, noise, statistic, threshold;
    double rate_per_min, seconds_to_limit, limit;
};

#define ALERT_NO_FIGURES                                                                           \
    {                                                                                              \
        NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN                                                \
    }

/* Which situation a claim is about. Equal situations share an alert. */
enum situation_group {
    SITUATION_CHANNEL,  /* this channel's value: id, source */
    SITUATION_COOLING,  /* the engine's raw water: engine in id.place */
    SITUATION_SENDER,   /* this channel's sender: silent, conflict, span */
    SITUATION_REPORTED, /* code = word and bit, or SPN and FMI */
    SITUATION_RULE,     /* state, combined: the rule itself */
    SITUATION_BUS,      /* code */
    SITUATION_SEASON,   /* this channel over the season: id */
};
struct situation {
    uint8_t group; /* enum situation_group */
    uint8_t iface, source;
    struct channel_id id;
    uint32_t code;
};

bool situation_same(const struct situation *a, const struct situation *b);

/* How a claim ended, for the words of the end. */
enum alert_end {
    END_GONE,    /* it is so no more; no more to tell */
    END_BACK,    /* the value is back within its limits */
    END_STOPPED, /* the engine was stopped, and with it the reason */
    END_ANSWERS, /* the sensor answers again */
    END_COOLED,  /* dark for as long as it needs to cool */
    END_OFF,     /* switched off: nothing to miss */
    END_JOINED,  /* it goes on, and its engine's exhaust alert tells of it */
};

/* Whose stop changes what is to be done: 0 nobody's, a slot of an engine + 1, or all of them. */
#define ALERT_ALL_ENGINES (-1)
#define ALERT_ENGINES     8

struct words; /* alerts/words.h */
struct alert_claim {
    struct situation situation;
    uint32_t claimant; /* who claims: unique per rule and channel; a later claim replaces it */
    enum rule_kind kind;
    const char *rule; /* the rule's name; outlives the list */
    enum priority priority;
    const char *channel; /* key, or NULL */
    double value;        /* NaN where none applies */
    enum unit unit;
    /* What happens: words with their figures, copied; what to do is added by the list, from the
     * table for `trouble`, or words->advice in place of it. Or a finished line. */
    const struct words *words;
    const char *text; /* where words is NULL; copied */
    enum trouble trouble;
    enum alert_stage stage;
    int engine;  /* whose stop makes the stage `stopped`: a slot, or one of the names above */
    bool cause;  /* this is what the others come from: it speaks, whatever its priority */
    bool beyond; /* its value is beyond its fixed limit now, */
    struct stamp passed; /* since then; wall_ns 0: not known */
    bool already;        /* it was not seen to pass: so it was when it was first looked at */
    int worse;           /* 1: higher is worse, -1: lower, 0: there is no worst */
    bool dark;           /* its box is off: the value is the last that was heard */
    struct alert_figures figures;
    int decimals; /* of value */
};

/* How bad another channel of the same situation got: that of the coolant, of an alert that names
 * the exhaust. Known when the alert has ended, or the log. */
struct alert_also {
    char channel[CHANNEL_KEY_SIZE];
    double worst; /* NaN: there is none */
    int8_t worse;
    enum unit unit;
    int decimals;
    struct stamp worst_at, limit_passed;
    int64_t beyond_ns;
    bool already;
};
#define ALERT_ALSO_MAX 3

struct alert {
    uint32_t id; /* from 1, never reused in a run */
    struct situation situation;
    enum rule_kind kind;
    enum priority priority;
    enum alert_state state;
    char rule[40];
    char channel[CHANNEL_KEY_SIZE]; /* "" where none applies */
    double value;
    enum unit unit;
    int decimals;
    char text[ALERT_TEXT_SIZE]; /* the newest words, in one line */
    char what[ALERT_TEXT_SIZE]; /* their first half in full, what happens, where there is room */
    char action[96];            /* and the second, what to do */
    enum trouble trouble;
    enum trouble steps; /* whose steps to take (action_step) */
    enum alert_stage stage;
    int engine;   /* as in the claim */
    double worst; /* NaN: there is none */
    int8_t worse; /* 1: higher is worse, -1: lower */
    struct stamp worst_at;
    struct stamp limit_passed;              /* first; wall_ns 0: never */
    int64_t beyond_ns;                      /* so long it was beyond its limit by now */
    bool already;                           /* it was so by limit_passed, nobody saw it pass */
    struct stamp stopped;                   /* its engine was stopped; wall_ns 0: was not */
    struct alert_also also[ALERT_ALSO_MAX]; /* those that passed their limits, too */
    int also_count;
    struct stamp first; /* flapping: raised first */
    struct stamp raised, changed, rectified, acknowledged;
    bool active;      /* some claim stands */
    uint32_t repeats; /* raised again since `first` */
    struct alert_figures figures;
    int64_t silent_until_ns;
};

/* The rule of an alarm that was asked for, to try the way to sound, hooks and boards. */
#define ALERT_TRIAL_RULE "try-alarm"
bool alert_is_trial(const struct alert *a);

struct alert_event {
    enum alert_event_kind event;
    struct stamp at;
    const struct alert *alert; /* good within the call */
    enum priority before;      /* EVENT_ESCALATED: what it was */
};

struct alert_list;
typedef void alert_listener(void *ctx, const struct alert_event *ev);

struct alert_list *alerts_new(const struct alert_setting *setting, bool escalate);
void alerts_free(struct alert_list *l);
/* New times for a running list; NULL keeps them. Kept within the standard's bounds: silence 30 s
 * (7.3.5), escalation 5 min. */
void alerts_set(struct alert_list *l, const struct alert_setting *setting);
void alerts_listen(struct alert_list *l, alert_listener *f, void *ctx); /* several may listen */

/* A claim stands (again, with new figures) or has fallen. Repeating a standing claim is cheap. */
void alerts_claim(struct alert_list *l, const struct alert_claim *c, struct stamp at);
void alerts_withdraw(struct alert_list *l, uint32_t claimant, struct stamp at);
/* The same, and how it ended: the value as it is now, NaN where there is none. */
void alerts_end(struct alert_list *l, uint32_t claimant, enum alert_end why, double value,
                struct stamp at);
/* An engine stopped or runs (again). */
void alerts_engine(struct alert_list *l, int engine, bool stopped, struct stamp at);
/* The log has ended: EVENT_ENDED for each that stands. */
void alerts_finish(struct alert_list *l, struct stamp at);
/* The units of all texts from now on; s must outlive the list, NULL: base units. Those there are,
 * the ended ones too, follow. Nobody is told: nothing happened. What was restored keeps its text.
 */
void alerts_reword(struct alert_list *l, const struct settings *s);
/* Whether times of day in texts are UTC rather than the zone of TZ. */
void alerts_utc(struct alert_list *l, bool utc);
/* For a picture: the i-th listed speaks of this value from now on, where it stands and its words
 * give a value of this quantity. What decided does not change, and nobody is told. True where the
 * words changed. */
bool alerts_follow(struct alert_list *l, size_t i, enum quantity q, double value);
/* Whether an alert about this situation stands now. */
bool alerts_standing(const struct alert_list *l, const struct situation *s);

/* One alert; false for an unknown id or one that needs no (further) acknowledgement. */
bool alerts_acknowledge(struct alert_list *l, uint32_t id, struct stamp at);
/* Lists again, after a restart, an alert that was not acknowledged: as rectified until its rule
 * claims the situation again, so that nothing is said to stand that nobody has seen standing. Ids
 * go on after it. False for cautions, for acknowledged ones and when the list is full. */
bool alerts_restore(struct alert_list *l, const struct alert *a, struct stamp at);
void alerts_silence(struct alert_list *l, struct stamp at); /* all at once, for silence_ns */
void alerts_tick(struct alert_list *l, struct stamp now);   /* end of silence, escalation */

/* Those listed, worst first: priority, then unacknowledged first, then fire, then what is so by
 * itself before what time has raised, then newest. */
size_t alerts_count(const struct alert_list *l);
const struct alert *alerts_at(const struct alert_list *l, size_t i);
const struct alert *alerts_by_id(const struct alert_list *l, uint32_t id);
/* Standing or unacknowledged ones of a priority. */
size_t alerts_count_priority(const struct alert_list *l, enum priority p);
/* How often an alert had to give way, or found no room, because ALERTS_MAX were listed. */
uint64_t alerts_lost(const struct alert_list *l);
/* Whether an alarm sound, or a short warning sound, is due now. */
enum alert_sound { SOUND_NONE, SOUND_WARNING, SOUND_ALARM };
enum alert_sound alerts_sound(const struct alert_list *l, struct stamp now);
/* Ended ones, newest first. */
size_t alerts_history_count(const struct alert_list *l);
const struct alert *alerts_history_at(const struct alert_list *l, size_t i);

char alert_priority_letter(enum priority p); /* E A W C */
const char *alert_state_text(enum alert_state s);

#endif
