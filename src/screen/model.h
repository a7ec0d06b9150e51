/* What a screen is drawn from: one snapshot of plant, alerts and replay, plain data that nothing
 * changes while a picture is made. Histories and alerts are pointed at, not copied. Filled by
 * model_fill alone (model.c), the only place of the screen that asks the keeper;
 * everything that draws reads this, so a test can draw any situation without a bus. */
#ifndef STOKEHOLD_SCREEN_MODEL_H
#define STOKEHOLD_SCREEN_MODEL_H

#include "alerts/alert.h"
#include "bus/source.h"
#include "config/settings.h"
#include "cooling/cooling.h"
#include "keeper/keeper.h"
#include "plant/plant.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define MODEL_CHANNELS PLANT_CHANNELS
#define MODEL_MARKS    512
/* For so long after it began a watch says that it is listening: the slow senders of the standard
 * come within it; common practice, no source. */
#define MODEL_LISTEN_NS (10 * NS_PER_S)
/* And for so long the board waits to lay itself out for one engine or two: temperatures come every
 * 2 to 2.5 s (IEC 61162-3, from memory), the second engine's may be the last of them. */
#define MODEL_GATHER_NS (3 * NS_PER_S)

struct model_channel {
    struct channel_id id;
    const char *key, *label; /* the plant's, never NULL */
    const char *place;       /* "PORT", "" for what the boat has once */
    enum unit unit;          /* base unit of value, rate and limit */
    uint8_t decimals;        /* on the screen, in the base unit */
    int engine;              /* in the order shown; from model.engines on a generator; -1: none */
    bool second;             /* a second sender of its key */
    bool off;                /* its sender is switched off with its engine */
    uint8_t source, iface;
    uint32_t pgn;
    enum reading_status status;
    double value;
    double shown;      /* the value as it settles on the screen, in steps of the precision */
    int64_t age_ns;    /* since the last good reading */
    int64_t period_ns; /* of its messages; 0 where not known */
    bool has_rate;
    double rate_per_min, steady_per_min;
    bool has_limit, limit_above; /* the fixed limit that stands nearest in priority: the worst */
    double limit;
    enum priority limit_priority;
    bool has_extremes;
    double low, high; /* since the start */
    int nominal_volts;
    const struct history *history;
    /* What the cooling watch expects of it now, and the edges of that, from then to now; NULL where
     * it expects nothing. */
    bool has_expected;
    double expected, allowance;
    const struct history *expected_low, *expected_high;
    /* How far it stands from what the season's first trips were at this speed and load, in the base
     * unit or as a share, where that is known and of a size. */
    bool has_season, season_is_share;
    double season;
    const char *season_since; /* the month of those trips */
    int alert;                /* index of the worst alert about it in alerts[], -1 for none */
};

struct model_mark {
    int64_t wall_ns;
    int priority;      /* enum priority; -1 for a mark that somebody set */
    const char *words; /* of such a mark, "" where it has none; NULL of an alert */
};

struct model_replay {
    bool is_log, can_seek, paused, ended;
    bool part;                 /* ended, and the log goes on after the part that was asked for */
    double speed;              /* 0: as fast as can be */
    int64_t first_ns, last_ns; /* wall; 0 where not known yet */
    const struct model_mark *marks; /* in order of time */
    size_t mark_count;
    /* How hot the hottest exhaust was along the log, in even stretches of it: NaN where none was
     * heard; count 0: not known. And the limit it is seen against. */
    const float *hottest;
    int hottest_count;
    double hottest_limit;
};

struct model_bus {
    double load_percent; /* below 0: not known */
    double frames_per_s;
    uint64_t frames, lost, bad_lines, errors;
    struct losses losses;
    bool losses_unknown; /* a tend of an older program does not tell them */
};

/* One address on one interface. */
struct model_source {
    uint8_t iface, address;
    uint64_t name; /* 0: no claim heard */
    /* What the name says of it; of a name that was heard. */
    const char *function; /* in words; NULL: in numbers */
    uint8_t function_code, class_code, instance;
    uint16_t maker; /* the code number */
    uint64_t frames;
    int64_t age_ns;
    uint32_t name_changes, gaps;  /* see struct source_seen */
    uint8_t earlier, earlier_fmi; /* and here */
    uint32_t earlier_spn;
    int channels; /* that it sends now */
};
#define MODEL_SOURCES 128

/* The program about itself. */
struct model_self {
    int64_t memory_kib; /* 0: not known */
    uint64_t pictures, skipped, bytes;
    int64_t up_ns;
    bool sound, mouse;
    bool muted; /* the user switched the sound off */
};

struct model {
    struct stamp now;
    bool clock_known;     /* wall times mean something */
    bool has_bus_clock;   /* PGN 126992 is heard */
    int64_t bus_ahead_ns; /* how far that clock is ahead of ours */
    char vessel[40], source[48];
    const char *waiting; /* what is waited for; NULL once frames came */
    const char *record;  /* "on", "off"; NULL where nothing can be recorded */
    struct model_replay replay;
    struct model_bus bus;
    struct model_source sources[MODEL_SOURCES];
    int source_count, sources_more;
    char iface_names[SOURCE_IFACES][16];
    int iface_count;
    struct model_self self;
    int64_t silence_ns; /* how long silence lasts, for words */
    struct unit_choice units;
    struct precision_setting precision;
    const struct pane_setting *panes; /* which rows the board has; pane_count 0: all */
    size_t pane_count;
    int64_t trend_span_ns;
    int engines; /* that drive the boat, in the order shown; generators after them */
    char engine_names[PLANT_ENGINES][20];
    enum engine_state engine_states[PLANT_ENGINES];
    bool careful[PLANT_ENGINES]; /* its cooling is watched without its speed */
    char sense[PLANT_ENGINES]
              [COOLING_SENSE_SIZE]; /* how soon lost water is told, and by what; ""
                                     * where a tend of an older program does not say */

    struct model_channel *channels; /* owned by the model; room for MODEL_CHANNELS */
    size_t channel_count;
    struct {
        char key[CHANNEL_KEY_SIZE];
        double value;
    } * shown; /* what each place in channels showed in the picture before; owned by the model */

    const struct alert *alerts[ALERTS_MAX]; /* worst first */
    size_t alert_count;
    const struct alert *ended[ALERTS_HISTORY]; /* newest first */
    size_t ended_count;
    size_t counts[4]; /* standing or unacknowledged, by priority */
    size_t unacknowledged;
    bool gathering;             /* who is there is not known yet */
    bool listening;             /* so lately begun that slow senders may not have been heard yet */
    int64_t well_since_wall_ns; /* 0: not known */
    bool sounding;
};

/* NULL when out of memory. */
struct model *model_new(void);
void model_free(struct model *m);

/* What the keeper holds into the snapshot; the rest (replay, bus, source, units) is the caller's.
 */
void model_fill(struct model *m, const struct keeper *k, struct stamp now);

/* Fills in what a source's name says. */
void model_decode_name(struct model_source *s);
/* For a model that is filled from elsewhere: a channel's rate and extremes from its history; then,
 * with alerts[] and ended[] set, the counts and which alert is about which channel. */
void model_find_rate(struct model_channel *c, struct stamp now);
/* The values as they are shown, from the precision; `fresh`: whatever the picture before showed. */
void model_settle(struct model *m, bool fresh);
void model_link_alerts(struct model *m);

/* Whether the value, the last good one where there is no reading now, stands beyond the channel's
 * own limit, whatever alert speaks of it. A lower limit of an engine counts while that engine runs.
 */
bool model_is_beyond(const struct model *m, const struct model_channel *c);
/* The worst alert that is listed, or NULL. */
static inline const struct alert *model_worst(const struct model *m)
{
    return m->alert_count ? m->alerts[0] : NULL;
}
const struct model_channel *model_find(const struct model *m, const char *key);
/* Whether an alarm or emergency alarm stands: then quitting asks. */
bool model_alarm_stands(const struct model *m);

/* A span of time in its largest whole unit: "90 s", "10 min", "36 h". */
void model_span_text(int64_t ns, char *dst, size_t cap);
/* A value or limit in the user's unit, as text with fixed decimals and a blank for thousands; a
 * rate or difference has its sign. dst of at least 24 bytes. */
enum unit model_unit(const struct unit_choice *u, enum unit base);
const char *model_value_text(const struct model *m, const struct model_channel *c, double value,
                             char *dst, size_t cap);
/* The same with other decimals than the quantity's: for axes. */
const char *model_number_text(const struct model *m, const struct model_channel *c, double value,
                              int decimals, char *dst, size_t cap);
const char *model_rate_text(const struct model *m, const struct model_channel *c, char *dst,
                            size_t cap);
/* What stands in the value's place: the number, "--", "err", "ahead", "on". */
const char *model_reading_text(const struct model *m, const struct model_channel *c, char *dst,
                               size_t cap);
/* "off", "34 s old", "5 min old": of what is not heard. */
const char *model_age_text(const struct model_channel *c, char *dst, size_t cap);
/* "34s old", "5m old": where there are no more than seven columns. */
void model_age_short(const struct model_channel *c, char *dst, size_t cap);
/* -2 falling fast .. 2 rising fast. */
int model_rate_step(const struct model_channel *c);

#endif
