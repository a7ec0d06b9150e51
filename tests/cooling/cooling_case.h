/* A plain engine for tests of the cooling watch: wet exhaust through a wall and a sensor in
 * series, coolant held by a thermostat. Neither the drill's model nor the bench's. Everything is
 * from a seed; nothing reads a clock. */
#ifndef STOKEHOLD_TESTS_COOLING_CASE_H
#define STOKEHOLD_TESTS_COOLING_CASE_H

#include "cooling/cooling.h"
#include "support/check.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

#define CASE_STEP_S 0.25

struct case_engine {
    double rpm, wall_c, shown_c, coolant_c, water;
    bool running, told;
    double next_s;
};

struct engine_case {
    struct cooling *cooling;
    uint64_t seed;
    double now_s, sea_c, period_s, noise_k, step_k;
    bool has_rpm;
    int engines;
    struct case_engine engine[2];
    int worst;       /* highest level of any exhaust so far */
    double warned_s; /* first moment of level 2 and more; NaN: never */
    /* Spoils a sample: index counts from the case's beginning. NULL: none. */
    void (*spoil)(long index, double now_s, bool *good, double *value);
    long samples;
};

/* First-order lag, exact for a target that stands during dt. */
static inline double case_lag(double now, double target, double tau_s, double dt_s)
{
    return target + (now - target) * exp(-dt_s / tau_s);
}

/* About normal: the sum of 12 uniform numbers. */
static inline double case_normal(uint64_t *seed)
{
    double sum = 0.0;
    for (int i = 0; i < 12; i++) {
        *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        sum += (double)(*seed >> 40) / 16777216.0;
    }
    return sum - 6.0;
}

static inline void case_begin(struct engine_case *c, int engines, uint64_t seed)
{
    *c = (struct engine_case){.cooling = cooling_new(),
                              .seed = seed,
                              .sea_c = 15.0,
                              .period_s = 2.0,
                              .noise_k = 0.1,
                              .step_k = 0.01,
                              .has_rpm = true,
                              .engines = engines,
                              .warned_s = NAN};
    assert_non_null(c->cooling);
    for (int i = 0; i < 2; i++)
        c->engine[i] =
            (struct case_engine){.wall_c = 16.0, .shown_c = 16.0, .coolant_c = 16.0, .water = 1.0};
}

static inline void case_end(struct engine_case *c)
{
    cooling_free(c->cooling);
}

static inline void case_physics(struct engine_case *c, struct case_engine *e)
{
    double u = e->rpm / 2500.0, dry_c = 120.0 + 300.0 * u;
    double target = e->running ? c->sea_c + 5.0 + 18.0 * u * u : 24.0;
    if (e->running)
        target += (dry_c - target) * (1.0 - e->water) * (1.0 - e->water);
    /* 6 kg of iron in gas alone: 153 to 458 s by m c / (h A); with water on it much faster. */
    double tau_s = !e->running ? 300.0 : 20.0 + 130.0 * (1.0 - e->water);
    e->wall_c = case_lag(e->wall_c, target, tau_s, CASE_STEP_S);
    e->shown_c = case_lag(e->shown_c, e->wall_c, 6.0, CASE_STEP_S);
    double hold = e->running ? 80.0 + 4.0 * u : 40.0;
    e->coolant_c = case_lag(e->coolant_c, hold, 150.0, CASE_STEP_S);
}

static inline void case_sense(struct engine_case *c, int i)
{
    struct case_engine *e = &c->engine[i];
    int64_t ns = (int64_t)llround(c->now_s * 1e9);
    if (c->has_rpm)
        cooling_reading(c->cooling, ns, i, COOLING_RPM, true, e->rpm + case_normal(&c->seed));
    if (c->has_rpm && (!e->told || e->running != (e->rpm >= 300.0))) {
        e->told = true;
        cooling_engine(c->cooling, ns, i, e->running);
    }
    if (c->now_s < e->next_s)
        return;
    e->next_s = c->now_s + c->period_s;
    cooling_reading(c->cooling, ns, i, COOLING_COOLANT, true,
                    e->coolant_c + 0.05 * case_normal(&c->seed));
    bool good = true;
    double v = e->shown_c + c->noise_k * case_normal(&c->seed);
    v = round(v / c->step_k) * c->step_k;
    if (c->spoil)
        c->spoil(c->samples++, c->now_s, &good, &v);
    if (!isnan(v))
        cooling_reading(c->cooling, ns, i, COOLING_EXHAUST, good, v);
    int level = cooling_verdict(c->cooling, i, COOLING_EXHAUST)->level;
    c->worst = level > c->worst ? level : c->worst;
    if (level >= 2 && isnan(c->warned_s))
        c->warned_s = c->now_s;
}

/* Runs on for so long with the speeds set in engine[].rpm. */
static inline void case_run(struct engine_case *c, double seconds)
{
    for (double end = c->now_s + seconds - 1e-6; c->now_s < end; c->now_s += CASE_STEP_S) {
        for (int i = 0; i < c->engines; i++) {
            struct case_engine *e = &c->engine[i];
            bool running = e->rpm >= 300.0;
            if (running != e->running) {
                e->running = running;
                e->told = false;
            }
            case_physics(c, e);
            case_sense(c, i);
        }
    }
}

static inline void case_speed(struct engine_case *c, double rpm)
{
    for (int i = 0; i < c->engines; i++)
        c->engine[i].rpm = rpm;
}

/* Start, 5 min of idling, 25 min at 2200 rpm: warm and steady. */
static inline void case_cruise(struct engine_case *c)
{
    case_run(c, 30.0);
    case_speed(c, 700.0);
    case_run(c, 300.0);
    case_speed(c, 2200.0);
    case_run(c, 1500.0);
}

#endif
