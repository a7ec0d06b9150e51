#include "drill/sensors.h"

#include "base/banned.h"

void drill_sensors_default(struct drill_sensors *s)
{
    *s = (struct drill_sensors){
        .coolant = {.tau_s = 4, .noise = 0.08, .step = 0.1, .period_s = 0.5},
        .oil = {.tau_s = 6, .noise = 0.1, .step = 0.1, .period_s = 0.5},
        .space = {.tau_s = 15, .noise = 0.08, .step = 0.1, .period_s = 2},
        .sea = {.tau_s = 20, .noise = 0.03, .step = 0.1, .period_s = 2},
        .air = {.tau_s = 30, .noise = 0.05, .step = 0.1, .period_s = 2},
        .battery_s = 1.5,
        .fine_exhaust = true,
        .rpm_noise = 2,
        .level_noise = 0.004,
    };
    for (int i = 0; i < DRILL_ENGINES; i++)
        s->exhaust[i] =
            (struct drill_sensor_params){.tau_s = 5, .noise = 0.15, .step = 0.05, .period_s = 2};
}

static double pick(struct rng *r, const double *from, uint32_t n)
{
    return from[rng_below(r, n)];
}

static void random_sensor(struct drill_sensor_params *s, struct rng *r, double tau_low,
                          double tau_high, double noise_high)
{
    static const double steps[] = {0, 0, 0.1, 0.1, 0.5, 1};

    *s = (struct drill_sensor_params){
        .tau_s = rng_between_log(r, tau_low, tau_high),
        .noise = rng_between_log(r, 0.02, noise_high),
        .step = pick(r, steps, 6),
        .bias = 0.7 * rng_normal(r),
        .period_s = 2,
    };
}

void drill_sensors_random(struct drill_sensors *s, struct rng *r)
{
    static const double periods[] = {0.5, 1, 1, 2, 2, 2, 2.5, 5};

    *s = (struct drill_sensors){
        .battery_s = 1.5,
        .fine_exhaust = rng_chance(r, 0.5),
        .rpm_noise = rng_between(r, 0.5, 6),
        .level_noise = rng_between(r, 0.001, 0.02),
        .wild_share = rng_chance(r, 0.7) ? 0 : rng_between(r, 0, 0.0005),
    };
    random_sensor(&s->exhaust[0], r, 4, 12, 1);
    s->exhaust[0].period_s = pick(r, periods, 8);
    s->exhaust[1] = s->exhaust[0];
    s->exhaust[1].tau_s *= rng_between(r, 0.8, 1.25);
    s->exhaust[1].bias = 0.7 * rng_normal(r);
    random_sensor(&s->coolant, r, 2, 8, 0.4);
    random_sensor(&s->oil, r, 3, 10, 0.4);
    random_sensor(&s->space, r, 5, 30, 0.4);
    random_sensor(&s->sea, r, 5, 60, 0.2);
    random_sensor(&s->air, r, 5, 60, 0.3);
}
