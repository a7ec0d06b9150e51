/* The rules: one table of kinds (rules.c), one file a kind. Rules come from the settings and bind
 * to channels as channels appear; what a rule knows of a channel is a `binding`, of which there
 * are at most RULES_BINDINGS_MAX. Nothing allocates after rules_new; a reading of a channel
 * without rules costs one pointer test. No I/O, no clock.
 *
 * This header is for the files of rules/ alone; others use keeper/keeper.h. */
#ifndef STOKEHOLD_RULES_RULES_H
#define STOKEHOLD_RULES_RULES_H

#include "alerts/alert.h"
#include "cooling/cooling.h"
#include "alerts/words.h"
#include "plant/plant.h"
#include "wire/wire.h"

#define RULES_BINDINGS_MAX 6000
#define RULES_SWITCH_ONS   64 /* switch-ons remembered for "too often" */
#define RULES_SENDERS      (16 * 256)
#define RULES_SAY_NS       NS_PER_S /* words of a standing claim are renewed this often */

struct rules;
struct binding;

/* What a kind of rule does; any function may be NULL. */
struct rule_ops {
    /* Whether it looks at this channel; the pattern matches already. */
    bool (*binds)(const struct rule_setting *rule, const struct channel *c);
    /* The channel was heard (any status) or changed its status by going stale. */
    void (*reading)(struct rules *r, struct binding *b, struct stamp at);
    void (*status)(struct rules *r, struct binding *b, struct stamp at);
    void (*sweep)(struct rules *r, struct binding *b, struct stamp now); /* once a second */
    void (*gap)(struct binding *b, struct stamp now);                    /* may be NULL */
};

/* How long something has been so, judged by samples and time together. */
struct held {
    int64_t since_ns, last_ns;
    uint32_t samples;
};

struct limit_state {
    struct held outside, inside;
    uint8_t side;     /* enum words_side that is claimed or being held */
    bool been_inside; /* some good reading was within the limit: */
    double inside_c;  /* the last one, and when */
    int64_t inside_ns;
    bool leapt;    /* what is outside came there by a leap no temperature makes */
    bool question; /* claimed as "wet or dry?" */
};

struct span_state {
    uint32_t wild_seen; /* channel.wild at the last look */
    uint32_t strikes;
    int64_t first_ns, last_ns; /* of the strikes */
    double wild_value;
};

struct silent_state {
    int64_t lost_ns; /* 0: there */
    int64_t back_ns; /* good again since; 0: still lost */
    uint8_t group;   /* index + 1 of the sender's alert that speaks for it; 0: none */
    bool held;       /* the quiet bus's alert does */
};

struct state_state {
    int64_t since_ns; /* the switch has its present position since; 0: not known */
    int8_t position;  /* 1 on, 0 off, -1 not known */
    uint16_t ring;    /* index of switch-on times, NO_RING */
};

struct binding {
    const struct rule_setting *rule;
    const struct rule_ops *ops;
    struct channel *channel;
    struct binding *next; /* of the same channel; those with a `reading` come first */
    uint32_t claimant;
    bool used, claimed, marked;
    int64_t said_ns;
    union {
        struct limit_state limit;
        struct span_state span;
        struct silent_state silent;
        struct state_state state;
    } u;
};

struct channel_rules {
    struct binding *first;
    int8_t cooling; /* enum cooling_sensor, or -1 */
    bool depended;  /* a rule of alarm priority, the cooling watch or a condition looks at it */
};

struct rule_cooling;
struct rule_reported;
struct rule_combined;
struct rule_silent;
struct rule_never;
struct rule_quiet;
struct rule_state;

struct rules {
    const struct settings *settings;
    struct plant *plant;
    struct alert_list *alerts;
    struct binding *bindings;
    size_t binding_top; /* bindings[0..top) were used once */
    uint64_t unbound;   /* bindings that found no room */
    struct channel_rules channels[PLANT_CHANNELS];
    size_t channel_count;
    uint32_t last_claimant;
    int64_t swept_ns;
    int64_t heard_ns; /* mono of the newest frame of any kind; 0: none yet */
    char iface_names[256][16];
    struct rule_cooling *cooling;
    struct rule_reported *reported;
    struct rule_combined *combined;
    struct rule_silent *silent;
    struct rule_never *never;
    struct rule_quiet *quiet;
    struct rule_state *states;
};

extern const struct rule_ops rule_limit_ops, rule_silent_ops, rule_conflict_ops, rule_span_ops,
    rule_state_ops;

/* settings, plant and alerts must outlive the rules. NULL when out of memory. */
struct rules *rules_new(const struct settings *settings, struct plant *plant,
                        struct alert_list *alerts);
void rules_free(struct rules *r); /* NULL is allowed */
/* Marks and sweeps: rules of the same kind and name keep what they know, the rest goes. */
struct baseline;
/* What an earlier trip found normal; before the first message. */
void rules_baseline(struct rules *r, const struct baseline *b);
void rules_reconfigure(struct rules *r, const struct settings *settings);
void rules_name_iface(struct rules *r, uint8_t iface, const char *name);

uint64_t rules_unbound(const struct rules *r); /* rules that found no room on a channel */

/* Told by the keeper. */
void rules_appeared(struct rules *r, struct channel *c);
void rules_reading(struct rules *r, struct channel *c, struct stamp at);
void rules_status(struct rules *r, struct channel *c, struct stamp at);
void rules_conflict(struct rules *r, struct channel *second, struct channel *holder,
                    struct stamp at);
void rules_engine(struct rules *r, int engine, struct stamp at);
void rules_frame(struct rules *r, const struct frame *f); /* every one, read or not */
void rules_message(struct rules *r, const struct message *m);
void rules_tick(struct rules *r, struct stamp now);
void rules_gap(struct rules *r, struct stamp now);
void rules_hole(struct rules *r, struct stamp now); /* see plant_hole */

/* ---- for the kinds ---- */

uint32_t rules_new_claimant(struct rules *r);
/* The rule of this kind that watches the channel, or NULL; c may be NULL for rules without one. */
const struct rule_setting *rules_find(const struct rules *r, enum rule_kind kind,
                                      const struct channel *c);
/* Whether `while` and `settle` let the rule look now. An engine whose state is not known may run:
 * upper limits then hold, lower ones do not. */
bool rules_may_look(const struct rules *r, const struct rule_setting *rule, const struct channel *c,
                    bool upper, int64_t now_ns);
/* Whether the engine is known to be in the other state than `while` asks for: what stands falls. */
bool rules_excluded(const struct rules *r, const struct rule_setting *rule, const struct channel *c,
                    int64_t now_ns);
/* Adds a sample to h at t_ns. A hole of more than 3 periods (at least 5 s) begins it anew. */
void held_add(struct held *h, const struct channel *c, int64_t t_ns);
/* Whether it was so for hold_ns and often enough that one or two wild samples cannot be it: three
 * readings, or two of a channel that is sent once a second or less often. */
bool held_long_enough(const struct held *h, const struct channel *c, int64_t hold_ns);
/* Begins words about c: subject, quantity, and how fast it moves now. */
void rules_words(const struct rules *r, struct words *w, const struct channel *c, int64_t now_ns);
/* Situation of a channel's value, the engine's cooling where it belongs to that. */
struct situation rules_situation(const struct rules *r, const struct channel *c);
/* Claims for a binding with the words built. */
void rules_claim(struct rules *r, struct binding *b, enum priority p, struct situation s,
                 const struct words *w, struct stamp at);
void rules_withdraw(struct rules *r, struct binding *b, struct stamp at);
bool rules_depends(const struct channel *c); /* its loss is a warning */
double rules_nominal(const struct rule_setting *rule, const struct channel *c, double v);
/* A reading outside what its sensor is rated for. */
bool rules_wild(const struct channel *c, double value);
/* "sender 35", "sender 35 on can1" where there are several interfaces. */
void rules_sender_name(const struct rules *r, uint8_t iface, uint8_t source, char *dst, size_t cap);
#define SAID_LATER(b, at) ((at).mono_ns - (b)->said_ns < RULES_SAY_NS)

#endif
