/* Fuel arithmetic: the burn between two meters with its error, totals over the trip and what they
 * say about the meter, range. Pure; no channel, no clock.
 * Errors are those that about 95 in 100 cases stay within; a stated accuracy counts as one. */
#ifndef STOKEHOLD_PLANT_FUEL_H
#define STOKEHOLD_PLANT_FUEL_H

#include <stdbool.h>
#include <stdint.h>

struct fuel_meter {
    double lph;
    double accuracy_percent; /* of the reading */
    double span_low, span_high;
    double temp_c; /* NaN: not known */
};

struct fuel_flow {
    double lph;
    double error_lph;
    bool beyond_span; /* a meter works outside its span: its accuracy does not hold */
};

/* Feed less return, both as volume at the feed's temperature: the return runs warmer and takes
 * more room. Where a temperature is not known the error grows by 20 K of expansion (common
 * practice, no source: returns run 10 to 40 K above the tank). May be a little below zero. */
struct fuel_flow fuel_net(const struct fuel_meter *feed, const struct fuel_meter *back,
                          double expansion_per_k);

/* One engine's burn over the trip, and its own trip counter beside it. */
struct fuel_trip {
    bool has_rate;
    double burnt_l;              /* integrated from the rate */
    double counted_s, missing_s; /* time with a rate, and running without one */
    int64_t rate_ns;
    double rate_lph;
    bool rate_going;
    /* The counter steps in whole litres or half ones: only its steps are compared, as at a step it
     * is exact. Segments between resets, and between times without a rate, add up. */
    bool has_counter, has_step;
    double counter_l;                    /* last reading */
    double burnt_at_reading_l;           /* burnt_l when it was read */
    double step_counter_l, step_burnt_l; /* both at the first step of this segment */
    double step_doubt_l;                 /* and how exactly that was known */
    double counted_l, compared_l;        /* by the counter, by the rate, between steps */
    double doubt_l;                      /* how exactly these belong together */
    double done_counted_l, done_compared_l, done_doubt_l; /* of the segments before */
};

/* A good rate. Over more than 10 s nothing is guessed. */
void fuel_trip_rate(struct fuel_trip *t, int64_t t_ns, double lph);
/* The rate is not available, or the engine stands, or the record has a hole. */
void fuel_trip_pause(struct fuel_trip *t);
/* So long the engine ran and its rate was not known. */
void fuel_trip_missing(struct fuel_trip *t, double seconds);
void fuel_trip_counter(struct fuel_trip *t, double litres);

/* A meter against a reference. */
struct fuel_check {
    bool known;
    double metered_l, reference_l;
    double factor, error; /* the meter's gain should be multiplied by factor, +/- error */
    bool off;             /* the difference is larger than the error */
};
struct fuel_check fuel_check_counter(const struct fuel_trip *t);

/* Hours that litres last, and how far they carry; NaN where that has no meaning. */
double fuel_hours(double litres, double lph);
double fuel_range_nmi(double litres, double lph, double kn);

#endif
