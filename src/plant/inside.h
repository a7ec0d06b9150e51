/* What the files of plant/ share and nobody else sees: the struct plant and the private half of a
 * channel, a sender and an engine.
 * From the bottom; each file calls only those above it in this list:
 *   find.c     look-ups, most of them for others
 *   tell.c     the listeners
 *   slots.c    which engines there are, in which slot, and their names
 *   engines.c  running, standing, speed changes
 *   names.c    keys, and the number of one of several
 *   senders.c  addresses, NAMEs, moves
 *   admit.c    who may have which key: channels appear, second senders, takeover
 *   volts.c    12, 24, 36 or 48 V; what a battery is made of; 120 or 230 V, 50 or 60 Hz
 *   take.c     what a value does to its channel
 *   silence.c  stale and switched off
 *   derive.c   what is worked out from other channels
 *   plant.c    life, configuration, the way of one message
 * All memory is taken in plant_new: nothing allocates while frames flow. Most of it is never
 * touched, and so costs no more than its address.
 * Below them, without a plant: constant.c, period.c, table.c, history.c, tank.c and the others. */
#ifndef STOKEHOLD_PLANT_INSIDE_H
#define STOKEHOLD_PLANT_INSIDE_H

#include "plant/constant.h"
#include "plant/period.h"
#include "plant/plant.h"
#include "plant/table.h"
#include "plant/tank.h"
#include "wire/decode.h"

#define NO_SENDER     0 /* senders[0] is nobody */
#define NO_CHANNEL    0xFFFF
#define SENDERS_MAX   2048
#define LISTENERS_MAX 4
#define SLOSHES_MAX   64 /* fuel tanks whose slosh is taken out */
#define ADDRESSES     256
#define ENGINE_IDLE_RPM                                                                            \
    1000 /* at or below this an engine may just have been stopped; common                          \
            practice, no source: diesels idle at 550 to 900 rpm */

struct battery_told { /* by 127513 */
    enum battery_chemistry chemistry;
    uint8_t nominal_volts; /* 0: not told */
};

struct volts_guess {
    uint8_t times;   /* consecutive readings that point to `towards` */
    uint8_t towards; /* volts */
};

struct kept {         /* a channel and what only plant/ knows of it */
    struct channel c; /* first: a struct channel of ours is a struct kept */
    uint16_t index;
    uint16_t sender;
    uint16_t next_of_sender;
    uint8_t rank;               /* the field_rank it is filled from */
    bool shared;                /* takes another sender when the first falls silent */
    bool sticks;                /* its sender was configured */
    bool stale_now;             /* within one plant_tick: due now, */
    enum reading_status before; /* and what it was */
    int64_t heard_ns;           /* mono: for lateness; moved on by a gap */
    struct period period;
    struct volts_guess guess;
    double low, high;                 /* the span in force */
    double physics_low, physics_high; /* beyond: not even history */
    bool followed;                    /* engine speed, volts or hertz: others go by it */
    char place[20];
    struct tank_slosh *slosh; /* fuel tanks; NULL for all else */
    bool accounted;           /* it has slosh, or is a meter of what an engine burns */
};

struct sender {    /* a box: an address on an interface, or a NAME that lost its address */
    uint64_t name; /* 0: no claim heard */
    uint8_t iface, address;
    bool placed;     /* address is good */
    uint16_t first;  /* its channels; NO_CHANNEL */
    uint8_t engines; /* bit n: it sends something of engine n */
    bool off;        /* some channel of it is switched off */
    int64_t last_ns; /* mono: last message with values */
    int64_t back_ns; /* mono: spoke again after it was off */
};

struct address {
    struct source_seen seen;
    uint16_t sender; /* NO_SENDER */
    int64_t gap_ns;  /* mono: of the last of its gaps */
};

struct engine_kept {
    struct engine e;
    bool used;     /* the slot is taken, for e.instance */
    bool named;    /* by the configuration: keeps its slot */
    bool expected; /* the configuration says how many there are: this is one until others speak */
    bool joined;   /* it has a channel */
    bool heard;    /* enough of it to say that it exists */
    bool geared;   /* it has a gearbox */
    bool gear_oil; /* or at least that of which the oil is told */
    bool sends_ac; /* its own box, and that of no other engine, sends alternating current */
    struct constant constant;
    struct kept *rpm; /* the holder of rpm.N */
    double recent[2]; /* the two readings before the last, for the median */
    int recent_count;
    double level; /* what speed_changed_ns is judged against */
    int64_t level_ns;
    double peak[2]; /* highest of this and of the last stretch of PEAK_NS */
    int64_t peak_ns;
};

struct plant {
    const struct settings *settings;
    struct plant_listener listeners[LISTENERS_MAX];
    int listener_count;
    struct plant_listener readers[LISTENERS_MAX]; /* those of them that hear each reading */
    int reader_count;
    struct stamp now;
    int64_t next_check_ns;
    uint64_t dropped;

    struct table table;
    struct kept *channels; /* room for PLANT_CHANNELS */
    size_t count;
    struct channel *list[PLANT_CHANNELS]; /* the same for others */
    struct histories *histories;          /* one for each channel */
    struct tank_slosh sloshes[SLOSHES_MAX];
    size_t slosh_count;
    struct sender senders[SENDERS_MAX];
    size_t sender_count; /* senders[0] included */
    struct address addresses[PLANT_IFACES][ADDRESSES];
    char iface_names[PLANT_IFACES][16];
    struct engine_kept engines[PLANT_ENGINES];
    bool dry[256];           /* source-14 instances that the configuration calls dry */
    bool aliased[QTY_COUNT]; /* some channel is configured to be filled from one of these, */
    bool remade[QTY_COUNT];  /* and some such channel is one of these */
    bool special[QTY_COUNT]; /* either, or may be in dry gas: not simply its own channel */

    int64_t next_derive_ns, next_tanks_ns;
    struct fuel_account fuel;
    struct battery_told batteries[256]; /* by instance */
    struct vent_space spaces[PLANT_SPACES];
};

/* find.c */
struct kept *find_holder(const struct plant *p,
                         struct channel_id id); /* NULL where there is none */

/* tell.c */
void tell_appeared(struct plant *p, struct kept *k);
void tell_conflict(struct plant *p, struct kept *second, struct kept *holder);
void tell_status(struct plant *p, struct kept *k, enum reading_status before, struct stamp at);
void tell_engine(struct plant *p, int engine, enum engine_state before, struct stamp at);
static inline void tell_reading(struct plant *p, struct kept *k, struct stamp at)
{
    for (int i = 0; i < p->reader_count; i++)
        p->readers[i].reading(p->readers[i].ctx, &k->c, at);
}

/* slots.c */
void slots_configure(struct plant *p);
int slots_take(struct plant *p, struct channel_id id); /* a slot, or -1 */
void slots_appeared(struct plant *p, struct kept *k);
void slots_find_kinds(struct plant *p); /* generators or not */

/* engines.c */
void engines_heard(struct plant *p, struct kept *k, double rpm, struct stamp at);
void engines_lost(struct plant *p, int engine, bool switched_off, struct stamp at);
bool engines_low(const struct plant *p, int engine); /* last speed: idle, or on its way down */
bool engines_stopping(const struct plant *p, int engine);
void engines_gap(struct plant *p);

/* names.c */
void names_key(const struct plant *p, struct kept *k);
void names_place(struct plant *p, struct kept *k);

/* senders.c */
uint16_t senders_of(struct plant *p, struct address *a, uint8_t iface, uint8_t address);
void senders_claim(struct plant *p, const struct message *m);
void senders_join(struct plant *p, struct kept *k, uint16_t sender);
void senders_leave(struct plant *p, struct kept *k);

/* admit.c */
/* The channel that takes a value; NULL where it is not wanted now, or there is no room. known: the
 * one that the sender filled or wanted to fill before; -1: none. */
struct kept *admit_other(struct plant *p, const struct message *m, const struct wire_value *v,
                         uint16_t sender, int known);
struct kept *admit_derived(struct plant *p, struct channel_id id); /* NULL where there is no room */
void admit_configure(struct plant *p, struct kept *k);
void admit_resettle(struct plant *p);

/* volts.c */
void volts_heard(struct plant *p, struct kept *k);
void volts_told(struct plant *p, const struct message *m); /* 127513 */
void volts_configure(const struct plant *p, struct kept *k);

/* take.c */
void take_value(struct plant *p, struct kept *k, const struct message *m,
                const struct wire_value *v);
void take_derived(struct plant *p, struct kept *k, double value); /* NaN: not available */

/* silence.c */
void silence_tick(struct plant *p, struct stamp now);

/* derive.c */
void derive_tick(struct plant *p);
void derive_gap(struct plant *p);

#endif
