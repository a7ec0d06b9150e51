/* The effective configuration as plain structs: what the schema (schema.c) fills in and the other
 * layers read. The built-in defaults are the shipped configs/stokehold.conf, compiled in; a user's
 * file is laid over them (a rule section of the same name changes only the keys it names).
 * Values are in base units. Owned by struct settings; free with settings_free (config/config.h). */
#ifndef STOKEHOLD_CONFIG_SETTINGS_H
#define STOKEHOLD_CONFIG_SETTINGS_H

#include "base/battery.h"
#include "base/curve.h"
#include "base/quantity.h"
#include "base/thermistor.h"
#include "base/units.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Alert priorities, lowest first (IMO MSC.302(87) 6.1.1). */
enum priority { PRIORITY_CAUTION, PRIORITY_WARNING, PRIORITY_ALARM, PRIORITY_EMERGENCY };

/* Kinds of rule; the names are the `kind` of the JSON and the section names of the file. */
enum rule_kind {
    KIND_LIMIT,
    KIND_RISE,
    KIND_DEPARTURE,
    KIND_SPLIT,
    KIND_SILENT,
    KIND_CONFLICT,
    KIND_SPAN,
    KIND_REPORTED,
    KIND_BUS,
    KIND_STATE,
    KIND_COMBINED,
    KIND_SEASON,
    KIND_SELF,
    KIND_COUNT
};

const char *priority_text(enum priority p); /* "emergency alarm", "alarm", "warning", "caution" */
const char *kind_text(enum rule_kind k);    /* "limit", ... */

/* When a rule looks at all. */
enum while_state {
    WHILE_ALWAYS,
    WHILE_RUNNING, /* the channel's engine runs (any engine, for what the boat has once) */
    WHILE_STOPPED,
};

struct config_place { /* where a value was set, for messages */
    uint16_t file;    /* index into settings.files; 0 is the built-in default */
    uint16_t line;
};

struct sender_choice { /* `source = 35` or `source = can1:35`; any where unset */
    bool set;
    uint8_t source;
    char iface[16]; /* empty: any */
};

enum tank_shape { TANK_UNKNOWN, TANK_BOX, TANK_CYLINDER, TANK_WEDGE };

/* [channel exhaust.0] */
struct channel_setting {
    struct channel_id id;
    char label[32]; /* empty: the quantity's */
    struct sender_choice sender;
    double offset, gain; /* value = raw * gain + offset; 0 and 1 by default */
    bool has_span;       /* otherwise the quantity's lowest and highest */
    double span_low, span_high;
    bool dry;                         /* source-14 sensor in dry gas: becomes exhaust-gas.N */
    bool wet;                         /* said to be wet: never asked about */
    bool hidden;                      /* not on the board */
    double nominal_volts;             /* 0: inferred */
    enum battery_chemistry chemistry; /* BATTERY_UNKNOWN: as the bus says */
    double capacity_l;                /* 0: as the bus says */

    /* From what the sender measures to the value, in this order (plant/calibrate.h). */
    struct channel_id from; /* arrives as this channel; QTY_NONE: as itself */
    bool has_ohms;          /* arrives in ohm: what an empty and a full tank give */
    double ohms_empty, ohms_full;
    struct thermistor thermistor; /* arrives in ohm */
    double head_density;   /* kg/m3: arrives as kPa of head over the tank's bottom; NaN: not */
    struct curve table;    /* in, out; before gain and offset */
    enum tank_shape shape; /* from % of height to % of volume */
    double length_m, width_m, height_m; /* NaN: not known; a cylinder's height is its diameter */
    struct curve strapping;             /* % of height to litres; stands before shape */
    double unusable_l;                  /* below the pick-up */
    int64_t slosh_ns;                   /* the volume is the median over this time */

    /* A flow that is the difference of two meters, or has a stated accuracy. */
    struct channel_id feed, returned; /* QTY_NONE: one meter */
    double accuracy_percent;          /* of the reading, and of a tank's capacity */
    struct config_place at;
};

/* One condition of a `combined` rule, e.g. `engine-space.* above 55 C`, `switch.0.3 is off`. */
enum condition_test { TEST_ABOVE, TEST_BELOW, TEST_ON, TEST_OFF, TEST_RUNNING, TEST_STOPPED };
struct condition_setting {
    enum condition_test test;
    struct channel_id id; /* unused for running, stopped */
    bool any_place;
    double value;
};
#define CONDITIONS_MAX 6

/* Which batteries a limit is for. One that nobody spoke of is taken for flooded lead. */
enum rule_battery {
    FOR_ANY,
    FOR_LEAD, /* of whatever kind */
    FOR_FLOODED,
    FOR_AGM,
    FOR_GEL,
    FOR_LITHIUM,
};

/* [limit exhaust-hot], [state bilge-runs-often], ...: one struct serves every kind; the schema
 * table says which keys a kind has. Each rule applies to every channel its pattern matches. */
struct rule_setting {
    enum rule_kind kind;
    char name[40];
    bool enabled;
    struct channel_id id; /* quantity QTY_NONE: `*`, not bound to one channel */
    bool any_place;
    enum priority priority; /* rise, departure, split, reported: the most it may be raised as */
    bool has_above, has_below;
    double above, below;
    bool per_12v; /* above, below, deadband are for a 12 V system and follow the nominal voltage */
    enum rule_battery battery; /* limit: only for batteries of this kind */
    double system;             /* limit: only on AC of this nominal value; 0: any */
    double off_below;          /* limit: below, it is switched off and nothing is wrong; 0: never */
    double deadband;
    /* Must hold this long, and for at least two readings, before it is raised: a single wild
     * sample raises nothing, whatever the period of its sender. */
    int64_t hold_ns;
    int64_t clear_hold_ns; /* must be back inside this long before it is rectified */
    enum while_state while_state;
    int64_t settle_ns;      /* not before the engine has run (or stood) this long */
    int64_t never_ns;       /* silent: what is configured is missed after this; 0: no such test */
    int64_t on_longest_ns;  /* state: on for longer than this; 0: no such test */
    int64_t off_longest_ns; /* state: off for longer than this */
    int times;              /* state: more than this many switch-ons ... */
    int64_t window_ns;      /* ... within this time */
    struct condition_setting conditions[CONDITIONS_MAX]; /* combined */
    int condition_count;
    char advice[64]; /* the first thing to look at: "check raw water" */
    struct config_place at;
};

/* [engine 0]: what is known of an engine by its number on the bus. */
enum engine_kind { ENGINE_FOUND, ENGINE_PROPULSION, ENGINE_GENERATOR };
enum engine_fuel { FUEL_DIESEL, FUEL_PETROL };
struct engine_setting {
    uint8_t instance;
    char name[20]; /* "" : PORT, STARBOARD, ENGINE, GENERATOR or ENGINE n */
    enum engine_kind kind;
    enum engine_fuel fuel;
    struct config_place at;
};
#define ENGINES_MAX         8
#define ENGINE_INSTANCE_MAX 252 /* what 8 bits carry as a number */

/* What people read values in. Each is a unit whose unit_base is the quantity's. */
struct unit_choice {
    enum unit temperature, pressure, volume, flow, speed;
};

struct alert_setting {
    int64_t escalate_ns; /* unacknowledged warning becomes an alarm; at most 5 min */
    int64_t silence_ns;  /* 30 s */
    int64_t flash_ns;    /* one flash cycle, 0.5 to 1.5 Hz */
};

struct fuel_setting {
    double reserve_percent; /* of what the tanks hold */
    double reserve_l;       /* in place of it; 0: not given */
    int64_t average_ns;     /* burn and speed are averaged over this for range and economy */
    double expansion_per_k; /* of fuel volume, for two meters at two temperatures */
};

/* Steps of what the board shows, in base units; 0: the last place that it has. */
struct precision_setting {
    double rpm, temperature, pressure, flow;
};

struct screen_setting {
    char theme[128];                              /* a name, or the path of a file */
    char theme_at_dusk[128], theme_at_night[128]; /* empty: no change */
    char glyphs[8];                               /* auto, blocks, braille, ascii */
    char sound[8];                                /* bell, off, run */
    char sound_command[128];
    int64_t trend_span_ns;
    double fps;
    bool mouse;
    double latitude, longitude; /* NaN: no sunset times */
};

/* [keys]: names of keys by the rows of the screen's table of keys. */
#define KEY_NAME_SIZE 12
#define KEYS_MAX      48
struct key_setting {
    char key[KEYS_MAX][KEY_NAME_SIZE];
    struct config_place at[KEYS_MAX];
};

/* [pane NAME]: which rows the board has, in this order. */
#define PANES_MAX         8
#define PANE_CHANNELS_MAX 32
struct pane_setting {
    char name[40];
    char channels[512]; /* as written */
    struct {
        struct channel_id id;
        bool any_place;
    } ids[PANE_CHANNELS_MAX];
    int count;
    struct config_place at;
};

/* What befalls an alert, as bits: when a hook is run. */
enum hook_event {
    HOOK_RAISED = 1,
    HOOK_ESCALATED = 2,
    HOOK_ACKNOWLEDGED = 4,
    HOOK_RECTIFIED = 8,
};

/* [trial]: what a sea trial is measured against. */
struct trial_setting {
    double rated_rpm;                           /* 0: not given */
    double reach;                               /* share of it that full throttle must come to */
    double oil_hot_idle_kpa;                    /* at least */
    double crank_volts;                         /* at least, of a 12 V system */
    double charge_low_volts, charge_high_volts; /* of a 12 V system */
    double twin_exhaust_k;                      /* how far twin engines may differ */
    double twin_burn;                           /* the same for fuel, a share */
    double space_rise_k;                        /* over outside air */
};

/* [hook NAME]: a program run, without a shell, when something befalls an alert. */
struct hook_setting {
    char name[40];
    bool enabled;
    char run[256];          /* program and arguments, apart by blanks; "..." keeps blanks */
    int events;             /* bits of enum hook_event */
    enum priority priority; /* alerts of this and above */
    char rule[40];          /* of this rule alone; empty: any */
    int64_t time_limit_ns;  /* then it is killed */
    int64_t again_ns;       /* how long one that failed is tried again; 0: never */
    int at_most;            /* at once */
    int64_t not_again_ns;   /* what comes and goes is told once in this time; 0: each time */
    struct config_place at;
};
#define HOOKS_MAX 16

struct season;

struct settings {
    char vessel[40];
    int engines; /* how many, generators included; 0: found from the bus */
    struct engine_setting engine[ENGINES_MAX];
    size_t engine_count; /* of them */
    struct unit_choice units;
    struct precision_setting precision;
    struct alert_setting alerts;
    struct screen_setting screen;
    struct key_setting keys;
    struct pane_setting panes[PANES_MAX];
    size_t pane_count;
    struct trial_setting trial;
    struct fuel_setting fuel;
    struct channel_setting *channels;
    size_t channel_count;
    struct rule_setting *rules;
    size_t rule_count;
    struct hook_setting hooks[HOOKS_MAX];
    size_t hook_count;
    char **files;
    size_t file_count;
    const struct season *season; /* earlier trips (season/season.h); NULL: none is kept */
};

/* The base unit a rule's figures are in. */
static inline enum unit rule_unit(const struct rule_setting *r)
{
    return quantity_info((enum quantity)r->id.quantity)->unit;
}

/* First matching [channel] section, or NULL. */
const struct channel_setting *settings_channel(const struct settings *s, struct channel_id id);
/* The [engine] section of the engine with this number, or NULL. */
const struct engine_setting *settings_engine(const struct settings *s, uint8_t instance);
/* The unit in which people want to read values of base unit u. */
enum unit settings_unit(const struct settings *s, enum unit u);

/* Whether a rule's pattern (`exhaust.1`, `exhaust.*`, `*`) takes in the channel. */
bool settings_rule_matches(const struct rule_setting *r, struct channel_id id);
/* Whether a limit is for a battery of this kind. */
bool settings_for_battery(const struct rule_setting *rule, enum battery_chemistry chemistry);
/* Whether a rule watches the channel: enabled, matching, and not stood aside. The more exact rule
 * stands in place of the wider one of its kind (exact channel before quantity before `*`):
 * limits per priority and direction, so that `alarm above = 85 C` for exhaust.0 replaces the alarm
 * for exhaust.* and nothing else; silent, span, conflict, rise, departure and split as a whole.
 * Rules of the kinds state, combined, reported and bus never stand aside. r must be one of s. */
bool settings_rule_applies(const struct settings *s, const struct rule_setting *r,
                           struct channel_id id);
/* The rule of this kind that watches the channel (the first, for a kind that has several), or NULL
 * where none does or it is switched off. */
const struct rule_setting *settings_rule_for(const struct settings *s, enum rule_kind kind,
                                             struct channel_id id);

#endif
