/* The muster: the roll call of the bus. Who is there, what each sends, who claims whose place, who
 * is missing, and what is wrong with the installation.
 * Collects from wire/ alone: it looks at every message as sent, before any calibration, and keeps
 * what the plant would leave out (never available, never wanted). What the cooling watch makes of
 * it comes from a keeper beside it (muster_look). Memory is bounded by the number of senders,
 * messages and values told apart, not by time. No I/O but where a FILE is handed in, no clock. */
#ifndef STOKEHOLD_REPORT_MUSTER_MUSTER_H
#define STOKEHOLD_REPORT_MUSTER_MUSTER_H

#include "bus/frame.h"
#include "config/settings.h"
#include "cooling/cooling.h"
#include "keeper/keeper.h"
#include "report/papers/write.h"
#include "wire/catalogue.h"
#include "wire/decode.h"
#include "wire/dm1.h"
#include "wire/wire.h"

#include <stdio.h>

#define MUSTER_SENDERS  512
#define MUSTER_MESSAGES 4096
#define MUSTER_VALUES   4096
#define MUSTER_NAMES    512
#define MUSTER_ENGINES  8
/* What an engine may be numbered: instances from 0; the codes above are none. */
#define MUSTER_INSTANCES 253
#define MUSTER_FINDINGS  400
/* No water-cooled exhaust stands here for long (the same figure as the watch's question). */
#define MUSTER_DRY_C  150.0
#define MUSTER_HOLE_S 10
/* That two clocks may be apart, or one may step, and still be called right. */
#define MUSTER_CLOCK_NS (2 * NS_PER_S)
/* An engine that was last heard above this was not being stopped: the watch has the same figure
 * (plant/inside.h); diesels idle at 550 to 900 rpm, common practice, no source. */
#define MUSTER_STOPPING_RPM 1000
#define MUSTER_MOVES        8 /* addresses kept for one NAME */

/* One address on one interface. */
struct muster_sender {
    uint8_t iface, address;
    uint64_t name;             /* the last claimed; 0: none heard */
    uint32_t claims, names;    /* claims heard; different NAMEs among them */
    uint64_t frames;           /* messages and frames of every PGN */
    int64_t first_ns, last_ns; /* mono */
    int64_t last_wall_ns;
    int64_t told_ns;  /* when it last told more than who it is and that it lives; 0: never */
    int64_t pause_ns; /* time it was silent as a whole (switched off, or a gap in the log) */
    int64_t idle_ns;  /* of it, between heartbeats in time: it was there */
    uint32_t pauses;  /* the others */
    bool has_product;
    struct product_info product;
    bool has_maker;
    struct engine_maker maker; /* what it says of its engine, both messages together */
    uint32_t heartbeats;
    struct heartbeat heartbeat;
    int trouble_codes; /* in its latest DM1; the first of them: */
    struct trouble_code trouble;
    struct dm1 lamps;  /* of its latest DM1; codes are not looked at */
    int earlier_codes; /* in its latest DM2; the first of them: */
    struct trouble_code earlier;
    uint32_t lost_tanks; /* levels (127505) whose instance is the code for an error */
    bool has_time;       /* 126992 */
    double clock_off_s;  /* its clock less the log's, latest */
    double clock_step_s; /* by how much that changed at once, furthest; 0: it did not */
};

/* One PGN from one sender. */
struct muster_message {
    uint16_t sender; /* index */
    uint8_t priority, multi;
    uint32_t pgn;
    const struct pgn_info *row; /* NULL: stokehold does not read it */
    uint64_t count;
    int64_t first_ns, last_ns, last_wall_ns;
    int64_t longest_ns;     /* longest time between two, the sender speaking otherwise */
    uint32_t gaps;          /* times in which it was missed, the sender silent or not, */
    int64_t gap_ns;         /* how long in all, */
    int64_t gap_longest_ns; /* and the longest */
    int64_t pause_first_ns, pause_last_ns; /* the sender's pause_ns at first_ns and last_ns */
    int places; /* engines, tanks, sensors told apart in it; 0 where it tells of none */
};

/* One value of one sender: the key as the message names it. */
struct muster_value {
    uint16_t sender;
    struct channel_id id;
    uint32_t pgn;
    bool leads; /* the first of its message: counts places */
    bool sole;  /* the message is about nothing else */
    uint8_t rank, decimals;
    uint64_t ok, not_available, error;
    uint64_t wanting; /* of not_available: an engine's while it ran, and the boat's own */
    uint32_t beyond_span, jumps;
    double first, last, low, high, worst_jump;
    double recent;      /* mean of about the last eight good readings */
    double recent_move; /* and how far they wander from it */
    double capacity_l;
    enum battery_chemistry chemistry; /* of a battery's capacity, as its set-up says */
    int nominal_v;                    /* 0: it does not say */
    double step; /* smallest change between two readings; 0: it never changed */
    int64_t first_ns, last_ns, ok_ns; /* mono; ok_ns: last good one */
    double ok_rpm;                    /* its engine's speed then; 0: none, or not known */
    int64_t ok_hole_ns;               /* how long nobody at all had been heard by then */
    uint32_t away;                    /* times it was not there for MUSTER_HOLE_S, its engine at */
    int64_t away_ns;                  /* speed as it went, and the longest */
    /* standing still while its engine's speed moved */
    int64_t hold_from_ns;
    double hold_turn_rpm;      /* the speed it last turned back from, or started at */
    int hold_swings;           /* of 300 rpm or more, up and down, since hold_from_ns */
    int hold_way;              /* 1 up, -1 down, 0 not yet */
    uint32_t hot, hot_longest; /* good readings in a row above MUSTER_DRY_C */
    int64_t stuck_ns;          /* longest such time; 0: none */
};

/* A NAME and where it was heard. */
struct muster_name {
    uint64_t name;
    uint8_t iface;
    int moves; /* addresses below; a NAME that stayed has 1 */
    uint8_t addresses[MUSTER_MOVES];
    bool cannot_claim; /* it claimed from the null address: it found no place */
};

/* What the cooling watch has of an engine, as it last ran. */
struct muster_cooling {
    char name[40];
    int instance;
    bool ran, generator;
    struct cooling_sense sense;
};

struct muster_engine {
    bool seen, has_rpm;
    double rpm; /* latest good */
    double rpm_low, rpm_high;
    int64_t rpm_ns;            /* mono, of it */
    int64_t run_ns;            /* time it was seen running */
    int64_t run_last_ns;       /* mono: when it last was */
    uint16_t status1, status2; /* words of its latest 127489 */
    double exhaust;            /* latest good */
    int64_t exhaust_ns;        /* mono, of it */
};

/* Exhaust difference against speed difference of the first engine that tells its speed and the next
 * one: a sensor on the wrong engine. */
struct muster_twins {
    int first; /* instance */
    int64_t next_ns;
    double speed_slow, speed_norm; /* speed difference, smoothed as an exhaust follows it */
    double n, sx, sy, sxx, syy, sxy;
    double apart_s; /* time with speeds more than 300 rpm apart */
};

enum muster_weight {
    MUSTER_NOTE,    /* worth knowing */
    MUSTER_FINDING, /* to be looked into: exit status 1 */
};

struct muster_finding {
    enum muster_weight weight;
    const char *kind;               /* "two senders", "instance missing", ... */
    int sender;                     /* index, -1: none in particular */
    char channel[CHANNEL_KEY_SIZE]; /* "" where none applies */
    char text[240];
    int more;    /* findings of this kind from this box that it stands for */
    bool folded; /* one of these, on its way out */
};

struct muster {
    const struct settings *settings; /* NULL: no configuration to hold it against */
    struct wire *wire;
    struct muster_sender *senders;
    struct muster_message *messages;
    struct muster_value *values;
    struct muster_name *names;
    size_t sender_count, message_count, value_count, name_count;
    uint64_t dropped; /* what found no room above */
    struct muster_engine engines[MUSTER_INSTANCES];
    struct muster_twins twins;
    struct muster_cooling cooling[MUSTER_ENGINES]; /* of muster_look */
    int cooling_count;
    bool clock_known; /* log times are wall clock: set by the caller, true at first */
    bool clock_loose; /* a computer's clock that nothing keeps: set by the caller */
    int clock_steps;  /* times that the wall clock was set while nothing was missing */
    int64_t clock_step_ns, clock_step_wall_ns; /* by how much, and until when, the last time */
    uint64_t frames;
    struct stamp first, last;
    int holes; /* times of more than MUSTER_HOLE_S in which nothing at all came */
    int64_t hole_ns;
    int64_t
        passed_over_ns; /* what of the holes of a log the clock of the rules does not go through */
    bool gap;           /* one was in a log, where it may as well be a clock that was set */
    char iface_names[16][16];
    int iface_count;
    struct muster_finding *findings;
    size_t finding_count;
    void *index; /* of collect.c */
};

/* settings may be NULL and must outlive the muster. NULL when out of memory. */
struct muster *muster_new(const struct settings *settings);
void muster_free(struct muster *m); /* NULL is allowed */
void muster_frames(struct muster *m, const struct frame *f, size_t n);
void muster_name_iface(struct muster *m, uint8_t iface, const char *name);

/* Everything was heard: puts the lists in order of interface, address and PGN, then fills findings.
 * Once, after the last frame. */
void muster_close(struct muster *m);
/* Findings of weight MUSTER_FINDING. */
int muster_finding_total(const struct muster *m);

/* Takes over what the cooling watch of a keeper that reads the same frames has of each engine:
 * after each batch, so that it is as the engine last ran. */
void muster_look(struct muster *m, const struct keeper *k);
/* "exhaust every 2.0 s; speed, load and sea are heard, ..."; dst. */
const char *muster_cooling_words(char *dst, size_t cap, const struct muster *m,
                                 const struct muster_cooling *c);

/* Of the time from the first frame to the last, the share in which it was heard as it should be:
 * 0 to 1. A message that does not repeat has none: NaN. */
double muster_sender_share(const struct muster *m, const struct muster_sender *s);
double muster_message_share(const struct muster *m, const struct muster_message *x);

/* Messages a second while the sender spoke, and what the standard's period gives for as many
 * places; 0 where it has none. */
double muster_rate(const struct muster_message *x);
double muster_rate_standard(const struct muster_message *x);
/* "wet", "dry" or "unsure" for an exhaust value, by the configuration, else by its height. */
const char *muster_exhaust_kind(const struct muster *m, const struct muster_value *v);
/* What stands after a reading: wet or dry, how much a tank holds, what a state's code means, what a
 * battery is made of; "" for most. */
void muster_remark(const struct muster *m, const struct muster_value *v, char *dst, size_t cap);
/* "can0" or "". */
const char *muster_iface(const struct muster *m, uint8_t iface);
/* The key of a value, with @ADDRESS where another sender holds it in its own right. */
void muster_key(char *dst, size_t cap, const struct muster *m, const struct muster_value *v);
/* The value that a watch would hold for this key; NULL where none was heard. */
const struct muster_value *muster_holder(const struct muster *m, struct channel_id id);

/* For people; for programs (JSON lines, `record` telling them apart); a starting configuration. */
void muster_print(const struct muster *m, const char *title, const struct papers *papers, bool utc,
                  FILE *out);
void muster_write_html(const struct muster *m, const struct papers *papers, bool utc, FILE *out);
void muster_print_json(const struct muster *m, const struct papers *papers, FILE *out);
void muster_write_config(const struct muster *m, const char *title, FILE *out);

#endif
