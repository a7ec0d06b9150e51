/* Trips drawn at random through the cooling watch: engines with and without speed, load, sea, oil
 * and dry gas, at speeds that come and go, with something that fails. What the watch expects and
 * says of each sensor is kept as a golden text: it says that something has changed, not that it was
 * right. */
#include "cooling_case.h"

#include "base/rng.h"
#include "support/golden.h"

#include <stdio.h>
#include <stdlib.h>

#define LONG_S 2700

enum fault { SOUND, WATER_GOES, WATER_FADES, AIR, SHUT_AT_START, COOLANT, OIL, SPACE, FAULTS };

struct drawn {
    struct engine_case c;
    struct rng rng;
    enum fault fault;
    double at_s;
    bool oil, gas, sea, space, apart;
    enum cooling_sensor load; /* COOLING_SENSORS: none */
    double oil_c[2], space_c, load_part;
    double until_s;
    int level[COOLING_ENGINES][COOLING_SENSORS];
    uint32_t version;
    double printed_s;
};

static void start(struct drawn *d, uint64_t seed)
{
    static const double periods[] = {0.5, 1, 2, 2, 5};
    static const enum cooling_sensor loads[] = {COOLING_SENSORS, COOLING_LOAD, COOLING_TORQUE,
                                                COOLING_FUEL_RATE, COOLING_BOOST};

    *d = (struct drawn){.space_c = 25, .oil_c = {16, 16}};
    rng_seed(&d->rng, seed);
    case_begin(&d->c, 1 + (int)rng_below(&d->rng, 2), rng_next(&d->rng));
    d->fault = (enum fault)(seed % FAULTS);
    d->at_s = rng_between(&d->rng, 900, 2000);
    d->c.period_s = periods[rng_below(&d->rng, 5)];
    d->c.noise_k = rng_between(&d->rng, 0.02, 0.4);
    d->c.step_k = rng_chance(&d->rng, 0.3) ? 1 : 0.01;
    d->c.has_rpm = rng_chance(&d->rng, 0.85);
    d->c.sea_c = rng_between(&d->rng, 5, 26);
    d->load = loads[rng_below(&d->rng, 5)];
    d->oil = rng_chance(&d->rng, 0.6);
    d->gas = rng_chance(&d->rng, 0.3);
    d->sea = rng_chance(&d->rng, 0.4);
    d->space = d->fault == SPACE || rng_chance(&d->rng, 0.3);
    d->apart = rng_chance(&d->rng, 0.2);
    if (d->fault == SHUT_AT_START)
        d->c.engine[0].water = 0.05;
    if (rng_chance(&d->rng, 0.15))
        cooling_generator(d->c.cooling, 0, true);
    if (d->c.engines == 1)
        cooling_twin(d->c.cooling, 0, -1);
    if (rng_chance(&d->rng, 0.2))
        cooling_called_wet(d->c.cooling, 0, true);
    if (rng_chance(&d->rng, 0.5))
        for (double rpm = 800; rpm <= 2400; rpm += 400) { /* an earlier trip */
            double u = rpm / 2500;

            cooling_normal(d->c.cooling, 0, COOLING_EXHAUST, rpm, d->c.sea_c + 5 + 18 * u * u, 0.3);
            cooling_normal(d->c.cooling, 0, COOLING_COOLANT, rpm, 80 + 4 * u, 0.2);
        }
    cooling_set_limit(d->c.cooling, 0, COOLING_EXHAUST, 90);
}

/* Another speed now and then; off at the end. */
static void steer(struct drawn *d)
{
    double rpm = d->c.now_s > LONG_S - 240   ? 0
                 : d->c.now_s < 30           ? 0
                 : rng_chance(&d->rng, 0.25) ? 700
                                             : rng_between(&d->rng, 1000, 2450);

    for (int e = 0; e < 2; e++)
        d->c.engine[e].rpm = e == 1 && d->apart && rpm > 0 ? 0.7 * rpm : rpm;
    d->load_part = rng_between(&d->rng, 0.7, 1.3);
    d->until_s = d->c.now_s < 30 ? 30 : d->c.now_s + rng_between(&d->rng, 60, 420);
    if (d->until_s > LONG_S - 240 && d->c.now_s < LONG_S - 240)
        d->until_s = LONG_S - 240;
}

static void fail_now(struct drawn *d)
{
    double since_s = d->c.now_s - d->at_s;
    struct case_engine *e = &d->c.engine[0];

    if (since_s < 0)
        return;
    if (d->fault == WATER_GOES)
        e->water = fmax(0, 1 - since_s / 4);
    else if (d->fault == WATER_FADES)
        e->water = fmax(0.3, 1 - since_s / 900);
    else if (d->fault == AIR)
        e->water = fmod(since_s, 90) < 12 ? 0.35 : 1;
    else if (d->fault == COOLANT)
        e->coolant_c += 0.06 * CASE_STEP_S * 2;
}

static void sense(struct drawn *d)
{
    int64_t ns = (int64_t)llround(d->c.now_s * 1e9);
    double since_s = d->c.now_s - d->at_s;

    for (int i = 0; i < d->c.engines; i++) {
        struct case_engine *e = &d->c.engine[i];
        double u = e->rpm / 2500, load = (8 + 80 * u * u) * d->load_part;
        double hold = e->running ? 82 + 14 * u : 40;

        if (d->fault == OIL && i == 0 && since_s > 0)
            hold += fmin(40, since_s / 8);
        d->oil_c[i] = case_lag(d->oil_c[i], hold, 240, 1);
        if (d->load < COOLING_SENSORS && e->running)
            cooling_reading(d->c.cooling, ns, i, d->load, true, load + rng_normal(&d->rng));
        if (d->oil)
            cooling_reading(d->c.cooling, ns, i, COOLING_OIL_TEMP, true,
                            d->oil_c[i] + 0.1 * rng_normal(&d->rng));
        if (d->gas)
            cooling_reading(d->c.cooling, ns, i, COOLING_EXHAUST_GAS, true,
                            (e->running ? 150 + 300 * u : 60) + rng_normal(&d->rng));
    }
    if (d->sea)
        cooling_reading(d->c.cooling, ns, 0, COOLING_SEA, true, d->c.sea_c);
    d->space_c += d->fault == SPACE && since_s > 0 ? 0.25 : 0.002;
    if (d->space)
        cooling_reading(d->c.cooling, ns, 0, COOLING_SPACE, rng_chance(&d->rng, 0.98),
                        fmin(d->space_c, 140) + 0.1 * rng_normal(&d->rng));
}

static void put_verdict(FILE *out, const struct drawn *d, int e, enum cooling_sensor s)
{
    const struct cooling_verdict *v = cooling_verdict(d->c.cooling, e, s);

    fprintf(out,
            "%7.2f %d.%d level %d kind %d cause %d careful %d %.4g at %.3g/min in %.4g to %.4g "
            "times %d every %.4g for %.4g+-%.3g noise %.3g %.4g of %.4g\n",
            d->c.now_s, e, (int)s, v->level, (int)v->kind, (int)v->cause, v->careful, v->value,
            v->rate_per_min, v->seconds_to_limit, v->limit_c, v->times, v->every_s, v->expected,
            v->allowance, v->noise, v->statistic, v->threshold);
}

static void look(FILE *out, struct drawn *d)
{
    static const enum cooling_sensor told[] = {COOLING_EXHAUST, COOLING_EXHAUST_GAS,
                                               COOLING_COOLANT, COOLING_OIL_TEMP, COOLING_SPACE};
    bool all = d->c.now_s >= d->printed_s;
    struct cooling_sense sense;
    char words[COOLING_SENSE_SIZE];

    if (!all && cooling_version(d->c.cooling) == d->version)
        return;
    d->version = cooling_version(d->c.cooling);
    for (int e = 0; e < d->c.engines; e++)
        for (size_t i = 0; i < sizeof told / sizeof told[0]; i++) {
            const struct cooling_verdict *v = cooling_verdict(d->c.cooling, e, told[i]);
            bool changed = v->level != d->level[e][told[i]];

            d->level[e][told[i]] = v->level;
            if (changed || (all && !isnan(v->value)))
                put_verdict(out, d, e, told[i]);
        }
    if (!all)
        return;
    d->printed_s += 300;
    sense = cooling_sense(d->c.cooling, 0);
    fprintf(out, "%7.2f sense %d%d%d%d load %d period %.3g delay %.3g blind %d: %s\n", d->c.now_s,
            sense.exhaust, sense.speed, sense.sea, sense.twin, (int)sense.load, sense.period_s,
            sense.delay_s, sense.blind,
            cooling_sense_words(words, sizeof words, &sense, cooling_load_text(sense.load),
                                d->c.engine[0].running));
}

static void trip(FILE *out, uint64_t seed)
{
    struct drawn d;

    start(&d, seed);
    fprintf(
        out,
        "---- %d: engines %d fault %d at %.0f period %.3g noise %.2g step %.2g speed %d load %d "
        "oil %d gas %d sea %d\n",
        (int)seed, d.c.engines, (int)d.fault, d.at_s, d.c.period_s, d.c.noise_k, d.c.step_k,
        d.c.has_rpm, (int)d.load, d.oil, d.gas, d.sea);
    for (double next_s = 0; d.c.now_s < LONG_S;) {
        if (d.c.now_s >= d.until_s)
            steer(&d);
        fail_now(&d);
        if (d.c.now_s >= next_s) {
            sense(&d);
            next_s += 1;
        }
        if (rng_chance(&d.rng, 0.0002)) { /* a hole in the record */
            d.c.now_s += 40;
            cooling_gap(d.c.cooling, (int64_t)llround(d.c.now_s * 1e9));
        }
        case_run(&d.c, CASE_STEP_S);
        cooling_tick(d.c.cooling, (int64_t)llround(d.c.now_s * 1e9));
        look(out, &d);
    }
    case_end(&d.c);
}

static void trips__drawn_at_random__are_told_as_kept(void **state)
{
    char *got = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&got, &len);

    (void)state;
    assert_non_null(out);
    for (uint64_t seed = 1; seed <= 16; seed++)
        trip(out, seed);
    fclose(out);
    golden_check("cooling", "drawn", got);
    free(got);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trips__drawn_at_random__are_told_as_kept),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
