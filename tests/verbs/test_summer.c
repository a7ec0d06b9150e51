/* A summer of made-up trips and what the season says of each: four healthy ones, then four on which
 * something goes on getting worse. Kept as golden texts: they say that nothing has changed, not
 * that it is right (`make bench-season`). `GOLDEN=write` writes them again. The boat has two
 * engines; u is the share of 3000 rpm: exhausts stand 12 K + 30 K u^2 over the sea, and the excess
 * grows with u^2. */
#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"
#include "verbs/composed.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define BOX       17
#define FIRST_MS  INT64_C(1777881600000) /* 2026-05-04 08:00 UTC */
#define DAY_MS    (INT64_C(86400) * 1000)
#define HEALTHY   4
#define TRIPS     8
#define NEXT_YEAR 50

/* What gets worse with every trip after the healthy ones, by this much. */
struct fault {
    const char *name;
    int engine; /* 2: both */
    int legs;   /* it is over after so many of the trip; 0: never */
    double exhaust_k, jump_k, coolant_k, oil_k, oil_share, burn_share, volts;
};
static const struct fault faults[] = {
    {.name = "strainer", .engine = 1, .exhaust_k = 3.5},
    {.name = "coolant", .engine = 0, .coolant_k = 3, .oil_k = 4, .oil_share = -0.11},
    {.name = "thermostat", .engine = 1, .coolant_k = -4, .burn_share = 0.04},
    {.name = "hull", .engine = 2, .exhaust_k = 2.5, .burn_share = 0.06},
    {.name = "battery", .engine = 0, .volts = -0.5},
    {.name = "weed", .engine = 1, .legs = 4, .exhaust_k = 5},
    {.name = "probe", .engine = 0, .jump_k = -9},
};

static unsigned noise;

/* From -1 to 1. */
static double wobble(void)
{
    noise = noise * 1664525u + 1013904223u;
    return (double)(noise >> 16) / 32768 - 1;
}

static void temperature(struct composed *c, unsigned source, uint8_t instance, double value)
{
    compose(c, catalogue_find(130312));
    compose_bits(c, 8, 8, instance);
    compose_bits(c, 16, 8, source);
    compose_bits(c, 24, 16, (uint64_t)floor((value + 273.15) / 0.01 + 0.5));
    compose_end(c, BOX);
}

static void engine(struct composed *c, uint8_t e, double rpm, const struct fault *f, int worse)
{
    double u = rpm / 3000, n = f && (f->engine == 2 || f->engine == e) ? worse : 0;
    struct fault none = {0};
    if (!f)
        f = &none;
    compose(c, catalogue_find(127488));
    compose_bits(c, 0, 8, e);
    compose_bits(c, 8, 16, (uint64_t)(4 * rpm));
    compose_end(c, BOX);
    compose(c, catalogue_find(127489));
    compose_bits(c, 0, 8, e);
    compose_bits(c, 8, 16, /* hPa */
                 rpm > 0 ? (uint64_t)((2000 + 2200 * u + 20 * wobble()) * (1 + n * f->oil_share))
                         : 0);
    compose_bits(c, 24, 16, (uint64_t)((358 + 12 * u + n * f->oil_k + 0.3 * wobble()) * 10));
    compose_bits(c, 40, 16, (uint64_t)((353.2 + n * f->coolant_k + 0.2 * wobble()) * 100));
    compose_bits(c, 56, 16, rpm > 0 ? 1410 : 1260);
    compose_bits(c, 72, 16,
                 rpm > 0 ? (uint64_t)((40 + 400 * u * u * u) * (1 + n * f->burn_share)) : 0);
    compose_bits(c, 160, 32, 0);
    compose_bits(c, 192, 8, (uint64_t)(rpm > 0 ? 10 + 85 * u * u : 0));
    compose_end(c, BOX);
    temperature(c, 14, e,
                17 + (rpm > 0 ? 12 + 30 * u * u : 8) + 2 * u * u * n * f->exhaust_k +
                    (n > 0) * f->jump_k + 0.4 * wobble());
}

static void second(struct composed *c, double rpm, double volts, const struct fault *f, int worse)
{
    int64_t next = c->ms / 1000 * 1000 + 1000;
    for (uint8_t e = 0; e < 2; e++)
        engine(c, e, rpm > 0 ? rpm + 10 * e : 0, f, worse);
    temperature(c, 0, 0, 17);
    temperature(c, 1, 0, 21);
    temperature(c, 3, 0, 38 + 0.2 * wobble());
    for (int i = 0; i < 3; i++) {
        c->ms = next - 700 + 300 * i;
        compose(c, catalogue_find(127508));
        compose_bits(c, 0, 8, 0);
        compose_bits(c, 8, 16, (uint64_t)(100 * volts + 3 * wobble()));
        compose_end(c, BOX);
    }
    c->ms = next;
}

static const char *sail(int trip, const struct fault *f)
{
    static const struct {
        double rpm, seconds;
    } legs[] = {{700, 200}, {1500, 420}, {2000, 500}, {2500, 500}, {2900, 420}, {800, 120}};
    static char path[PROGRAM_PATH];
    struct composed c = {.ms = FIRST_MS + trip * 6 * DAY_MS};
    int worse = !f ? 0 : trip < NEXT_YEAR ? trip - HEALTHY + 1 : 4;

    noise = 77u + (unsigned)trip;
    snprintf(path, sizeof path, "%s/trip.log", program_scratch());
    c.out = fopen(path, "w");
    assert_non_null(c.out);
    for (int s = 0; s < 60; s++)
        second(&c, 0, 12.6, f, worse);
    for (int s = 0; s < 3; s++)
        second(&c, 180, 10.4 + 0.1 * s + (f ? worse * f->volts : 0), f, worse);
    for (size_t l = 0; l < sizeof legs / sizeof *legs; l++)
        for (int s = 0; s < legs[l].seconds; s++)
            second(&c, legs[l].rpm, 14.1, f, f && f->legs && (int)l >= f->legs ? 0 : worse);
    for (int s = 0; s < 40; s++)
        second(&c, 0, 12.7, f, worse);
    assert_int_equal(fclose(c.out), 0);
    return path;
}

static void sift(FILE *out, const char *season, const char *path)
{
    char arguments[2 * PROGRAM_PATH + 60];
    snprintf(arguments, sizeof arguments, "sift --utc --explain --season '%s' '%s'", season, path);
    struct outcome o = program_run(arguments, NULL);
    assert_string_equal(o.err, "");
    assert_int_equal(o.status, 0);
    fputs(o.out, out);
    outcome_free(&o);
}

/* The text, with a short name in place of the file's. */
static void put_without(FILE *out, const char *text, const char *path)
{
    for (const char *at; (at = strstr(text, path)) != NULL; text = at + strlen(path))
        fprintf(out, "%.*sboat.season", (int)(at - text), text);
    fputs(text, out);
}

static void copy(const char *from, const char *to)
{
    char text[1 << 12];
    FILE *a = fopen(from, "r"), *b = fopen(to, "w");
    assert_non_null(a);
    assert_non_null(b);
    for (size_t n; (n = fread(text, 1, sizeof text, a)) > 0;)
        assert_int_equal(fwrite(text, 1, n, b), n);
    fclose(a);
    assert_int_equal(fclose(b), 0);
}

static void summer__with_every_fault__is_told_as_kept(void **state)
{
    (void)state;
    char healthy[PROGRAM_PATH], season[PROGRAM_PATH], name[60], arguments[PROGRAM_PATH + 100],
        *text;
    size_t size;
    FILE *out;

    snprintf(healthy, sizeof healthy, "%s/healthy.season", program_scratch());
    snprintf(season, sizeof season, "%s/boat.season", program_scratch());
    out = open_memstream(&text, &size);
    assert_non_null(out);
    for (int t = 0; t < HEALTHY; t++)
        sift(out, healthy, sail(t, NULL));
    fclose(out);
    golden_check("verbs", "summer-healthy", text);
    free(text);
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++) {
        copy(healthy, season);
        out = open_memstream(&text, &size);
        assert_non_null(out);
        for (int t = HEALTHY; t < TRIPS; t++)
            sift(out, season, sail(t, &faults[i]));
        if (i == 0) { /* something is done, and the next year it is as bad as ever */
            snprintf(arguments, sizeof arguments,
                     "season --mark 'strainer cleaned' --date 2026-06-20 --concerns exhaust.1 '%s'",
                     season);
            struct outcome o = program_run(arguments, NULL);
            assert_int_equal(o.status, 0);
            outcome_free(&o);
        }
        if (i < 2)
            for (int t = NEXT_YEAR; t < NEXT_YEAR + 4; t++)
                sift(out, season, sail(t, t < NEXT_YEAR + 3 ? NULL : &faults[i]));
        snprintf(arguments, sizeof arguments, "season '%s'", season);
        struct outcome o = program_run_with("TZ=UTC COLUMNS=100", arguments, NULL);
        assert_true(o.status < 2);
        put_without(out, o.out, season);
        outcome_free(&o);
        fclose(out);
        snprintf(name, sizeof name, "summer-%s", faults[i].name);
        golden_check("verbs", name, text);
        free(text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(summer__with_every_fault__is_told_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
