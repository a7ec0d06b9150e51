/* What a kind of rule is, and what it may call: the bottom of rules/. A kind is a file that defines
 * a `struct rule_module`; rules.c, above them all, holds the one table of modules and walks it.
 *
 * Rules that look at one channel bind to it as it appears: what a rule knows of a channel is a
 * `binding`, of which there are at most RULE_BINDINGS_MAX, and what the kind keeps in it is its own
 * affair (rule_kept). What a module keeps for the whole boat is its `own`. Rules make claims, the
 * alert list makes alerts of them. Nothing allocates after rules_new; a reading of a channel
 * without rules costs one pointer test. No I/O, no clock.
 *
 * For the files of rules/ alone; others use keeper/keeper.h. */
#ifndef STOKEHOLD_RULES_RULE_H
#define STOKEHOLD_RULES_RULE_H

#include "alerts/alert.h"
#include "alerts/words.h"
#include "plant/plant.h"
#include "wire/wire.h"

#define RULE_BINDINGS_MAX 6000
#define RULE_MODULES_MAX  32
#define RULE_SAY_NS       (NS_PER_S / 2) /* figures of a standing claim are renewed this often */
#define RULE_KEPT_SIZE    136            /* bytes that a kind may keep in a binding */

struct rules;

enum heeds { HEEDS_NONE, HEEDS_WILD, HEEDS_ALL }; /* which readings `reading` is called for */
/* What `look` is called for: nothing; what is claimed; and besides, what has no good reading within
 * its span, or who is second to another; everything. */
enum looks { LOOKS_NEVER, LOOKS_CLAIMED, LOOKS_LOST, LOOKS_SECOND, LOOKS_ALWAYS };

/* What every reading, and every look, needs of it comes first. */
struct binding {
    struct binding *next; /* of the same channel; those that heed more come first */
    /* A good reading from low to high says nothing new to the module, which is not called for it:
     * the last of them is kept here. Set by the module; low NaN: there is no such span now. */
    struct {
        double low, high, value;
        int64_t at_ns; /* mono */
    } calm;
    uint8_t heeds; /* enum heeds */
    uint8_t looks; /* enum looks */
    bool used, claimed, marked;
    struct channel *channel;
    const struct rule_module *module;
    void *own; /* the module's */
    const struct rule_setting *rule;
    uint32_t claimant;
    _Alignas(8) unsigned char kept[RULE_KEPT_SIZE]; /* zero when bound; rule_kept */
};

/* What the kind keeps in a binding; each file asserts that its struct fits. */
#define rule_kept(b)         ((void *)(b)->kept)
#define RULE_KEPT_FITS(what) _Static_assert(sizeof(what) <= RULE_KEPT_SIZE, "fits into a binding")

/* What a kind does; any function may be NULL. `own` is what the module keeps for the boat: own_size
 * zeroed bytes, NULL where that is 0. */
struct rule_module {
    size_t own_size;
    bool (*init)(struct rules *r,
                 void *own); /* false: out of memory; fini is called all the same */
    void (*fini)(void *own);
    /* At the start and with a new configuration, when the bindings are in place. */
    void (*configure)(struct rules *r, void *own);

    /* Of the rules that bind to channels one by one: those of this kind. */
    bool binding;
    enum rule_kind kind;
    bool wild_only;    /* `reading` is called for those beyond the span alone */
    bool sensors_only; /* not to what is worked out from others: that has no sensor of its own */
    bool (*binds)(const struct rule_setting *rule, const struct channel *c); /* NULL: to all */
    void (*bound)(void *own, struct binding *b);
    void (*unbound)(void *own, struct binding *b);
    /* The channel was heard (any status), or changed its status by going stale. */
    void (*reading)(struct rules *r, void *own, struct binding *b, struct stamp at);
    void (*status)(void *own, struct binding *b, struct stamp at);
    void (*look)(struct rules *r, void *own, struct binding *b, struct stamp now); /* each second */
    enum looks looks;
    void (*binding_gap)(struct binding *b, struct stamp now);
    void (*binding_hole)(struct binding *b, struct stamp now);

    /* Of the boat as a whole. */
    bool (*wants)(const struct channel *c); /* `heard` is called for this channel */
    void (*heard)(struct rules *r, void *own, const struct channel *c, struct stamp at);
    void (*frames)(void *own, const struct frame *f, size_t n); /* every one, read or not */
    void (*message)(struct rules *r, void *own, const struct message *m);
    const uint32_t *pgns; /* what `message` reads, 0 at the end: it may get others too */
    void (*engine)(struct rules *r, void *own, int engine, struct stamp at); /* state changed */
    void (*conflict)(struct rules *r, struct channel *second, struct channel *holder,
                     struct stamp at);
    void (*tick)(struct rules *r, void *own, struct stamp now);  /* about four times a second */
    void (*sweep)(struct rules *r, void *own, struct stamp now); /* each second, after `look` */
    void (*gap)(void *own, struct stamp now);                    /* see plant_gap */
    void (*hole)(void *own, struct stamp now);                   /* see plant_hole */
    /* Whether the loss of this channel would take something from it: a warning at least. */
    bool (*needs)(const struct rules *r, const void *own, const struct channel *c);
};

struct channel_rules {
    struct binding *first;
    uint32_t wanted; /* bit n: module n wants to hear it */
    bool needed;     /* some module needs it */
    /* What the configuration has for it, found once and not at each reading: */
    const struct rule_setting *of_kind[KIND_COUNT]; /* the first rule of each kind; NULL: none */
    double alarm_above;                    /* the lowest upper limit of alarm priority; NaN: none */
    bool has_alarm_above, has_alarm_below; /* a limit of alarm priority on that side */
};

struct rules {
    const struct settings *settings;
    struct plant *plant;
    struct alert_list *alerts;
    const struct rule_module *const *modules; /* the table of rules.c, and its order */
    int module_count;
    void *own[RULE_MODULES_MAX];
    uint8_t on_message[RULE_MODULES_MAX]; /* who takes messages: */
    int message_count;                    /* there are many of these and few who do */
    uint64_t message_pgns;                /* bit n: some module reads a PGN that is n modulo 64 */
    struct binding *bindings;
    size_t binding_top; /* bindings[0..top) were used once */
    uint64_t unbound;   /* rules that found no room */
    struct channel_rules channels[PLANT_CHANNELS];
    size_t channel_count;
    uint32_t last_claimant;
    int64_t swept_ns;
    int64_t heard_ns; /* mono of the newest frame of any kind; 0: none yet */
    char iface_names[256][16];
};

/* What another module keeps: for kinds that ask one below them. Never NULL for a module with own.
 */
static inline void *rule_own(const struct rules *r, const struct rule_module *m)
{
    int i = 0;
    while (i < r->module_count && r->modules[i] != m)
        i++;
    return i < r->module_count ? r->own[i] : NULL;
}
uint32_t rule_new_claimant(struct rules *r);
/* Finds what the configuration has for a channel of the plant, for channel_rules. */
void rule_find_all(const struct rules *r, const struct channel *c, struct channel_rules *out);
/* The rule of this kind that watches the channel, or NULL; c may be NULL for rules without one. */
const struct rule_setting *rule_find(const struct rules *r, enum rule_kind kind,
                                     const struct channel *c);
/* The rule of a kind that watches the whole boat, in *rule; NULL where none is configured. False
 * where it is switched off. */
bool rule_of_boat(const struct rules *r, enum rule_kind kind, const struct rule_setting **rule);
/* A condition of the bus or of the watch itself, see keeper_bus: claims it or takes it back. */
void rule_condition(struct rules *r, uint32_t code, enum priority p, const char *text, bool stands,
                    struct stamp at);
/* Whether a rule of this kind and at least this priority watches the channel. */
bool rule_watched(const struct rules *r, enum rule_kind kind, enum priority least,
                  const struct channel *c);
/* Whether `while` and `settle` let the rule look now. An engine whose state is not known may run:
 * upper limits then hold, lower ones do not. */
bool rule_may_look(const struct rules *r, const struct rule_setting *rule, const struct channel *c,
                   bool upper, int64_t now_ns);
/* Whether the engine is known to be in the other state than `while` asks for: what stands falls. */
bool rule_excluded(const struct rules *r, const struct rule_setting *rule, const struct channel *c,
                   int64_t now_ns);

/* How long something has been so, judged by samples and time together. */
struct held {
    int64_t since_ns, last_ns;
    uint32_t samples;
};
/* Adds a sample to h at t_ns. A hole of more than 3 periods (at least 5 s) begins it again. */
void held_add(struct held *h, const struct channel *c, int64_t t_ns);
/* Whether it was so for hold_ns and often enough that one or two wild samples cannot be it: three
 * readings, or two of a channel that is sent once a second or less often. */
bool held_long_enough(const struct held *h, const struct channel *c, int64_t hold_ns);

/* Begins words about c: subject, quantity, and how fast it moves now. */
void rule_words(const struct rules *r, struct words *w, const struct channel *c, int64_t now_ns);
/* Claims for a binding: c holds what is special to the claim (priority, situation, trouble, stage
 * and what goes with them); who claims, about which channel, and the figures are filled in. */
void rule_claim(struct rules *r, struct binding *b, struct alert_claim *c, const struct words *w,
                struct stamp at);
/* The claim has fallen; what was read last is told where it is good. */
void rule_end(struct rules *r, struct binding *b, enum alert_end why, struct stamp at);
void rule_withdraw(struct rules *r, struct binding *b, struct stamp at); /* END_GONE */
/* Whether some module needs the channel, which need not be of the plant (what was never heard). */
bool rule_needs(const struct rules *r, const struct channel *c);
static inline double rule_nominal(const struct rule_setting *rule, const struct channel *c,
                                  double v)
{
    return rule->per_12v ? v * c->nominal_volts / 12.0 : v;
}
/* Nothing tells what it is now: no good reading, or for some while none within its span. */
bool rule_wild_for_long(const struct channel *c, int64_t now_ns);
static inline bool rule_lost(const struct channel *c, int64_t now_ns)
{
    return c->status != READING_OK || (c->is_wild && rule_wild_for_long(c, now_ns));
}
/* Words of such a channel: why, and what was read last and when, in place of value, rate and limit:
 * " engine off, last 128 °C at 14:27". more, where that is appended, becomes theirs. */
void rule_words_last(struct words *w, const struct channel *c, char *more, size_t cap);
/* " on can1" where there are several interfaces, else "". */
const char *rule_on_iface(const struct rules *r, uint8_t iface, char *dst, size_t cap);
/* "sender 35", "sender 35 on can1" where there are several interfaces. */
void rule_sender_name(const struct rules *r, uint8_t iface, uint8_t source, char *dst, size_t cap);
/* "PORT ENGINE"; what is called ENGINE or GENERATOR already stands alone. */
void rule_engine_name(const struct engine *e, char *dst, size_t cap);

/* What it keeps of a channel of the plant. */
static inline struct channel_rules *rule_channel(const struct channel *c)
{
    return c->rules;
}

#endif
