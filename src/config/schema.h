/* Every key of the configuration, once. The table feeds the parser (value.c), `config keys`,
 * `config print` and the manual; nothing else knows a key's name, bounds or default.
 * Rows are grouped by section, in the order in which the sections are printed. */
#ifndef STOKEHOLD_CONFIG_SCHEMA_H
#define STOKEHOLD_CONFIG_SCHEMA_H

#include "config/settings.h"

/* What a section fills in; the key's offset counts from there. */
enum schema_scope {
    SCOPE_VESSEL,    /* struct settings */
    SCOPE_ENGINE,    /* struct engine_setting */
    SCOPE_UNITS,     /* struct unit_choice */
    SCOPE_ALERTS,    /* struct alert_setting */
    SCOPE_SCREEN,    /* struct screen_setting */
    SCOPE_TRIAL,     /* struct trial_setting */
    SCOPE_FUEL,      /* struct fuel_setting */
    SCOPE_CHANNEL,   /* struct channel_setting */
    SCOPE_RULE,      /* struct rule_setting; the section's word is its kind */
    SCOPE_HOOK,      /* struct hook_setting */
    SCOPE_KEYS,      /* struct key_setting */
    SCOPE_PANE,      /* struct pane_setting */
    SCOPE_PRECISION, /* struct precision_setting */
    SCOPE_COUNT
};

enum schema_type {
    TYPE_TEXT,       /* char[size] */
    TYPE_WORD,       /* char[size], one of words */
    TYPE_CHOICE,     /* enum whose values are the places in words */
    TYPE_YES,        /* bool */
    TYPE_COUNT,      /* int */
    TYPE_NUMBER,     /* double without a unit */
    TYPE_LENGTH,     /* int64_t ns; low and high in seconds */
    TYPE_VALUE,      /* double with a unit: the row's, or the section's channel's */
    TYPE_DIFFERENCE, /* double: a difference in that unit */
    TYPE_UNIT,       /* enum unit of the row's base */
    TYPE_CHANNEL,    /* channel_id and any_place of a rule */
    TYPE_SENDER,     /* struct sender_choice */
    TYPE_SPAN,       /* span_low and span_high of a channel */
    TYPE_SENSOR,     /* wet and dry of a channel */
    TYPE_CONDITIONS, /* conditions of a rule */
    TYPE_EVENTS,     /* int: bit n for the word n of words, several apart by commas */
    TYPE_KEY,        /* channel_id: one channel, QTY_NONE for none */
    TYPE_CURVE,      /* struct curve */
    TYPE_OHMS,       /* ohms_empty and ohms_full of a channel */
    TYPE_THERMISTOR, /* struct thermistor */
    TYPE_LIMIT,      /* makes a limit rule for the channel */
};

struct schema_key {
    enum schema_scope scope;
    unsigned kinds; /* SCOPE_RULE: 1u << kind for each that has the key */
    const char *key;
    enum schema_type type;
    size_t offset, size;
    size_t has_offset;        /* a bool that says the value is given; 0: none */
    enum unit unit;           /* UNIT_NONE: the channel's */
    const char *const *words; /* NULL at the end */
    const char *blank;        /* the word for zero or not given: "auto", "any", "none" */
    double low, high;         /* both 0: no bounds */
    const char *initial;      /* the value before any file is read */
    const char *help;
};

extern const struct schema_key schema_keys[];
extern const size_t schema_key_count;

struct schema_section {
    enum schema_scope scope;
    enum rule_kind kind; /* SCOPE_RULE */
    const char *word;    /* "channel" */
    const char *name;    /* what follows it: "KEY", "NAME", "N", or "" */
    const char *help;
};
extern const struct schema_section schema_sections[];
extern const size_t schema_section_count;

/* NULL where there is none. */
const struct schema_section *schema_find_section(const char *word);
const struct schema_key *schema_find_key(const struct schema_section *section, const char *key);
/* Whether the row is one of the section's. */
bool schema_has(const struct schema_section *section, const struct schema_key *key);

/* For `alarm above` and its like: what the shorthand stands for. */
struct schema_limit {
    enum priority priority;
    bool above;
};
struct schema_limit schema_limit_of(const struct schema_key *key);

#endif
