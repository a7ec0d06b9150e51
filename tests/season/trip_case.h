/* One engine's trip, told to steps.h second by second. */
#ifndef STOKEHOLD_TESTS_SEASON_TRIP_CASE_H
#define STOKEHOLD_TESTS_SEASON_TRIP_CASE_H

#include "season/kept.h"
#include "season/steps.h"
#include "support/check.h"

#define S     INT64_C(1000000000)
#define FIRST (INT64_C(1777881600) * S) /* 2026-05-04 08:00 UTC */

struct trip {
    struct steps *steps;
    struct steps_second engine;
    int64_t now_ns;
    double sea_c, air_c;
    double per_s; /* what `drifts` gains in a second */
    enum quantity drifts;
    double zigzag; /* and how far it swings: up, down, down, up; no trend in four readings */
};

static inline double *value_of(struct trip *t, enum quantity q)
{
    return &t->engine.value[season_kept_row(q)];
}

/* Nothing is known of the engine but one channel. */
static inline struct trip begin_with(enum quantity q, double value)
{
    struct trip t = {.steps = steps_new(), .now_ns = FIRST, .sea_c = 12, .air_c = 20, .drifts = q};

    assert_non_null(t.steps);
    for (int l = 0; l < SEASON_LOADS; l++)
        t.engine.load[l] = NAN;
    for (int k = 0; k < 16; k++)
        t.engine.value[k] = NAN;
    *value_of(&t, q) = value;
    return t;
}

static inline void go(struct trip *t, double rpm, int seconds)
{
    static const int swing[4] = {1, -1, -1, 1};
    const double kept = *value_of(t, t->drifts);

    t->engine.running = rpm > 0;
    t->engine.rpm = rpm;
    for (int i = 0; i < seconds; i++, t->now_ns += S) {
        *value_of(t, t->drifts) = kept + t->per_s * i + t->zigzag * swing[i % 4];
        steps_second(t->steps, t->now_ns, t->sea_c, t->air_c, &t->engine, 1);
    }
    *value_of(t, t->drifts) = kept;
}

/* The trip is over: how many steps a channel has, at a speed or at rest; out gets the first ones,
 * oldest first. */
static inline int steps_of(struct trip *t, enum quantity q, bool at_rest, struct season_step out[4])
{
    int count, n = 0;
    const struct season_step *s;

    steps_close(t->steps);
    s = steps_found(t->steps, &count);
    for (int i = 0; i < count; i++)
        if (s[i].id.quantity == (uint16_t)q && (s[i].rpm == 0) == at_rest) {
            if (n < 4)
                out[n] = s[i];
            n++;
        }
    return n;
}

static inline void end(struct trip *t)
{
    steps_free(t->steps);
    t->steps = NULL;
}

/* Seconds kept of a channel in all steps of a speed, the first ones' four at most; ends the trip.
 */
static inline double kept_s(struct trip *t, enum quantity q)
{
    struct season_step s[4];
    int n = steps_of(t, q, false, s);
    double sum = 0;

    assert_true(n <= 4);
    for (int i = 0; i < n; i++)
        sum += s[i].minutes * 60;
    end(t);
    return sum;
}

#endif
