/* A helmsman's trip: which orders each engine gets when, and the harmless things that happen on
 * the way (air in an intake, warmer water, a wild sample). Owns no physics and no randomness of
 * its own: the random trip is drawn from the caller's generator once, before the trip begins.
 * Times are seconds from the start of the log. Orders are kept sorted by time. */
#ifndef STOKEHOLD_DRILL_TRIP_H
#define STOKEHOLD_DRILL_TRIP_H

#include "base/rng.h"
#include "drill/model.h"

#include <stdbool.h>
#include <stdint.h>

#define DRILL_ORDERS     1536
#define DRILL_HAPPENINGS 256

enum drill_order_kind {
    DRILL_ORDER_START,
    DRILL_ORDER_STOP,
    DRILL_ORDER_SPEED, /* value: rpm */
    DRILL_ORDER_GEAR,  /* value: enum drill_gear */
    DRILL_ORDER_COURSE /* value: degrees; engine unused */
};

struct drill_order {
    double t_s;
    enum drill_order_kind kind;
    int engine;
    double value;
};

enum drill_happening_kind {
    DRILL_AIR_GULP,   /* amount: share of water that still comes, 0.1..0.6 */
    DRILL_SEA_CHANGE, /* amount: K, reached over length_s, and it stays */
    DRILL_WILD,       /* one or two samples of the exhaust sensor off by `amount` K */
    DRILL_DROPOUT,    /* exhaust sensor says not-available for length_s */
    DRILL_STUCK,      /* exhaust sensor repeats itself for length_s */
};

struct drill_happening {
    double t_s, length_s, amount;
    enum drill_happening_kind kind;
    int engine;
};

struct drill_trip {
    double length_s;
    int orders, happenings;
    struct drill_order order[DRILL_ORDERS];
    struct drill_happening happening[DRILL_HAPPENINGS];
    /* What a fault may be timed by. */
    double start_s[DRILL_ENGINES], stop_s[DRILL_ENGINES];
    double under_way_s;                /* first gear engaged; idling before it */
    double cruise_from_s, cruise_to_s; /* steady revs, nothing moved in between */
};

/* How a helmsman goes about it; what drill_trip_random draws. Ranges in brackets. */
struct drill_habits {
    double minutes;          /* length of the log [20..90] */
    double warm_up_s;        /* idling at the berth [40..420] */
    double second_engine_s;  /* later than the first [2..240] */
    double manoeuvre_s;      /* in harbour, each way [60..500] */
    double order_every_s;    /* between throttle orders there [25..120] */
    double between_levers_s; /* one lever, then the other [0..12] */
    double cruise_share;     /* of rated speed [0.55..0.95] */
    double legs;             /* speed changes at sea [1..5] */
    double cool_down_s;      /* idling before the stop [20..180] */
    double gulps_per_h;      /* air drawn in, 2 to 5 s [0..20] */
    bool sea_change;         /* into water up to 5 K warmer or colder within 2 min */
    double wild_per_h, dropouts_per_h, stuck_per_h; /* exhaust sensor [0..12], [0..3], [0..2] */
    double soak_s;                                  /* the log goes on after the stop [200..600] */
};

/* Start, warm-up, harbour, cruise, slow, stop with heat soak, scaled into `minutes` (>= 4). The
 * second engine starts 8 s after the first. */
void drill_trip_default(struct drill_trip *t, const struct drill_params *p, double minutes);
/* A sea trial of about 90 min: warm-up, each engine alone for a while, then ten speeds from idle to
 * full, each held on a course and on its reciprocal; hot idle, stop. Needs no minutes. */
void drill_trip_trial(struct drill_trip *t, const struct drill_params *p);
/* The speeds it runs, as shares of rated (0: idle). */
#define DRILL_TRIAL_SPEEDS 10
extern const double drill_trial_share[DRILL_TRIAL_SPEEDS];
void drill_habits_random(struct drill_habits *h, struct rng *r);
void drill_trip_random(struct drill_trip *t, const struct drill_params *p,
                       const struct drill_habits *h, struct rng *r);

/* For trips built by hand: false where the table is full. Order does not matter; call
 * drill_trip_sort when done. */
bool drill_trip_order(struct drill_trip *t, double t_s, enum drill_order_kind kind, int engine,
                      double value);
bool drill_trip_happening(struct drill_trip *t, double t_s, enum drill_happening_kind kind,
                          int engine, double length_s, double amount);
void drill_trip_sort(struct drill_trip *t);

/* The state of the levers while a trip is walked through. */
struct drill_helm {
    int next; /* order */
    struct drill_inputs inputs;
    double course_deg;
};
void drill_helm_init(struct drill_helm *h, const struct drill_params *p);
/* Carries out what is due by t_s, and lays the harmless happenings over water and sea. */
void drill_helm_step(struct drill_helm *h, const struct drill_trip *t, const struct drill_params *p,
                     double t_s);

#endif
