/* Everything that the catalogue holds, from one end to the other: a log in which every channel
 * climbs through its whole span and back, is not available, is out of range, comes from another
 * box and falls silent, one after the other beside two engines that run and stop; and one with
 * payloads drawn at random. What is exported of them (per channel how many, and their sum) and what
 * is told are kept as golden texts. They say that nothing has changed, not that it is right: what
 * is right is held elsewhere, to figures from outside. `GOLDEN=write` writes them again. */
#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"
#include "verbs/composed.h"
#include "verbs/tally.h"
#include "wire/catalogue.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define START_MS INT64_C(1780000000000)
#define BOX      34  /* who sends what IEC 61162-3 has */
#define OTHER    61  /* a second box with the same */
#define STEPS    24  /* from one end of a span to the other */
#define BEYOND   0.1 /* of the span, at either end */

/* Of the log that is being composed. */
static bool second_runs;
static uint64_t random_state;

/* Where the value is, and which of them it is. */
static void put_place(struct composed *s, const struct field_info *f, unsigned place)
{
    if (f->place.how == AT_BITS)
        compose_bits(s, f->place.bit, f->place.bits, place);
    if (f->sub.how == AT_BITS)
        compose_bits(s, f->sub.bit, f->sub.bits, place + 1);
    if (f->sub.how == AT_EACH)
        compose_bits(s, f->sub.bit, f->sub.bits, 0);
    if (f->counted)
        compose_bits(s, f->counted, 8, 1);
}

/* --- every channel, one after the other ----------------------------------------------------- */

/* A second of two engines, in this order: speed, fuel, temperatures. The second one stands still
 * for a while now and then. */
static void background(struct composed *s)
{
    struct composed now = *s;
    int64_t next = s->ms / 1000 * 1000 + 1000;
    for (uint8_t engine = 0; engine < 2; engine++) {
        bool runs = engine == 0 || second_runs;
        compose(&now, catalogue_find(127488));
        compose_bits(&now, 0, 8, engine);
        compose_bits(&now, 8, 16,
                     runs ? 8400u + 160u * engine + 20u * (uint64_t)(s->ms / 1000 % 7) : 0);
        compose_end(&now, BOX);
        compose(&now, catalogue_find(127489));
        compose_bits(&now, 0, 8, engine);
        compose_bits(&now, 8, 16, runs ? 4000 : 0);         /* 400 kPa */
        compose_bits(&now, 24, 16, 3581u + 4u * engine);    /* oil, 85 °C */
        compose_bits(&now, 40, 16, 35115u + 100u * engine); /* coolant, 78 °C */
        compose_bits(&now, 56, 16, 1410);
        compose_bits(&now, 72, 16, runs ? 85 : 0);
        compose_bits(&now, 160, 32, 0);
        compose_end(&now, BOX);
    }
    compose(&now, catalogue_find(129026));
    compose_bits(&now, 0, 32, 0xFFFC0001);
    compose_bits(&now, 32, 16, 360);
    compose_end(&now, BOX);
    now.row = s->row;
    now.len = s->len;
    memcpy(now.data, s->data, sizeof now.data);
    now.ms = next;
    *s = now;
}

static void rest(struct composed *s, int seconds)
{
    while (seconds-- > 0)
        background(s);
}

static void repeat(struct composed *s, uint8_t source, int seconds)
{
    while (seconds-- > 0) {
        background(s);
        compose_end(s, source);
    }
}

/* Up through the span and back, and what else befalls a sensor. */
static void climb(struct composed *s, const struct field_info *f, enum quantity q, unsigned place,
                  uint8_t source)
{
    const struct quantity_info *of = quantity_info(q);
    double low, high, margin;

    catalogue_range(f, &low, &high);
    low = fmax(low, of->lowest);
    high = fmin(high, of->highest);
    margin = BEYOND * (high - low);
    put_place(s, f, place);
    for (int i = 0; i <= 2 * STEPS; i++) {
        int step = i <= STEPS ? i : 2 * STEPS - i;
        compose_value(s, f, low - margin + (high - low + 2 * margin) * step / STEPS);
        repeat(s, source, i == STEPS ? 20 : i % 8 ? 2 : 5);
    }
    compose_value(s, f, low + 0.4 * (high - low));
    repeat(s, source, 30);
    compose_bits(s, f->bit, f->bits, compose_top(f, 0)); /* not available */
    repeat(s, source, 15);
    compose_value(s, f, low + 0.45 * (high - low));
    repeat(s, source, 8);
    compose_bits(s, f->bit, f->bits, compose_top(f, 1)); /* out of range */
    repeat(s, source, 15);
    compose_value(s, f, low + 0.4 * (high - low));
    repeat(s, source, 8);
    if (source == BOX)
        for (int i = 0; i < 12; i++) {
            repeat(s, BOX, 1);
            compose_end(s, OTHER);
        }
    rest(s, 20);
    repeat(s, source, 5);
    second_runs = !second_runs;
}

static void climb_row(struct composed *s, const struct pgn_info *row)
{
    for (unsigned i = 0; i < row->field_count; i++) {
        const struct field_info *f = &row->fields[i];
        bool by_engine =
            f->place.how == AT_ENGINE || f->place.how == AT_GEARBOX || f->place.how == AT_GENERATOR;
        unsigned place = i % 2;
        if (f->bits > 32 || f->gain == 0)
            continue;
        if (f->choice.count) {
            for (unsigned c = 0; c < f->choice.count; c++) {
                compose(s, row);
                compose_bits(s, f->choice.bit, f->choice.bits, c);
                climb(s, f, f->choice.quantities[c], c % 2, BOX);
            }
        } else if (f->quantity != QTY_NONE) {
            compose(s, row);
            climb(s, f, f->quantity, place, by_engine ? (uint8_t)place : BOX);
        }
    }
}

/* Rules of every kind that the defaults have none of, and channels that are not what they arrive
 * as. */
static const char *rules_of_every_kind(void)
{
    return program_file(
        "every.conf",
        "[vessel]\nengines = 2\n[engine 0]\nfuel = petrol\n"
        "[channel blower.0]\nfrom = switch.0.1\n[channel exhaust.1]\nsensor = dry\n"
        "[channel fuel-tank.0]\nshape = cylinder\nlength = 2\nwidth = 1\nheight = 1\n"
        "unusable = 20 L\nslosh = 20 s\n[channel fresh-water-tank.1]\ncapacity = 300 L\n"
        "strapping = 0:0, 40:100, 100:300\n[channel oil-temp.0]\noffset = 2.5 K\ngain = 1.04\n"
        "span = -10 C to 160 C\n[channel coolant.1]\ncalibration = 0:3, 50:51, 120:125\n"
        "alarm above = 96 C\nwarning above = none\n[channel battery-volts.0]\nnominal volts = 24 "
        "V\n"
        "chemistry = AGM\n[channel battery-volts.1]\nchemistry = lithium\n"
        "[channel battery-charge.0]\nalarm below = 15 %\ncaution below = 60 %\n"
        "[channel turbo-speed.0]\n[channel egr-temp.1]\n"
        "[limit boosted]\nchannel = boost.*\nabove = 250 kPa\ndeadband = 20 kPa\nhold = 7 s\n"
        "clear hold = 9 s\nwhile = running\nsettle = 40 s\nadvice = look at the turbo\n"
        "[limit dry]\nchannel = fresh-water-tank.*\nbelow = 20 %\nhold = 3 s\n"
        "[limit cold]\nchannel = freezer.*\nabove = -10 C\nhold = 13 s\nclear hold = 4 s\n"
        "[limit stands]\nchannel = fuel-pressure.*\nabove = 900 kPa\nwhile = stopped\nsettle = 5 "
        "s\n"
        "[span every]\nchannel = *\nhold = 11 s\nclear hold = 6 s\npriority = caution\n"
        "[state pump]\nchannel = switch.*\non longer than = 8 s\noff longer than = 70 s\n"
        "more than = 2\nwithin = 5 min\n"
        "[combined hot-and-idle]\nwhen = oil-temp.0 above 95 C and rpm.0 above 900 rpm\nhold = 2 "
        "s\n"
        "clear hold = 3 s\npriority = alarm\n"
        "[combined low]\nwhen = battery-volts.1 below 12 V and engine running\npriority = warning\n"
        "[silent soon]\nchannel = humidity.*\nhold = 12 s\nnever heard after = 3 min\n"
        "[alerts]\nescalate after = 90 s\n[fuel]\nreserve = 35 %\naverage over = 12 s\n");
}

static const char *climb_all(uint32_t first, uint32_t last)
{
    static char path[PROGRAM_PATH];
    struct composed s = {.ms = START_MS};
    second_runs = true;
    snprintf(path, sizeof path, "%s/climb.log", program_scratch());
    s.out = fopen(path, "w");
    assert_non_null(s.out);
    rest(&s, 200);
    for (size_t i = 0; i < catalogue_count(); i++)
        if (catalogue_row(i)->pgn >= first && catalogue_row(i)->pgn <= last)
            climb_row(&s, catalogue_row(i));
    rest(&s, 30);
    assert_int_equal(fclose(s.out), 0);
    return path;
}

/* --- payloads drawn at random --------------------------------------------------------------- */

static unsigned drawn(void)
{
    random_state = random_state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (unsigned)(random_state >> 40);
}

static const char *draw_all(void)
{
    static char path[PROGRAM_PATH];
    struct composed s = {.ms = START_MS};
    random_state = 20261128;
    snprintf(path, sizeof path, "%s/drawn.log", program_scratch());
    s.out = fopen(path, "w");
    assert_non_null(s.out);
    for (int round = 0; round < 30; round++)
        for (size_t i = 0; i < catalogue_count(); i++) {
            const struct pgn_info *row = catalogue_row(i);
            if (row->kind == PGN_TRANSPORT)
                continue;
            compose(&s, row);
            for (unsigned k = 0; k < s.len; k++)
                s.data[k] = (uint8_t)(drawn() % 4 == 3 ? 0xF8 + drawn() % 8 : drawn());
            for (unsigned k = 0; k < row->field_count; k++)
                put_place(&s, &row->fields[k], drawn() % 2);
            compose_end(&s, (uint8_t)(drawn() % 5));
        }
    assert_int_equal(fclose(s.out), 0);
    return path;
}

/* --- what is said of it --------------------------------------------------------------------- */

static void told(FILE *out, const char *options, const char *path)
{
    char arguments[2 * PROGRAM_PATH + 100];
    snprintf(arguments, sizeof arguments, "sift --utc %s '%s'", options, path);
    struct outcome o = program_run(arguments, NULL);
    assert_string_equal(o.err, "");
    assert_true(o.status < 2);
    fprintf(out, "---- sift\n%s", o.out);
    outcome_free(&o);
}

/* Without options: what is exported, too. */
static void keep(const char *name, const char *path, const char *options)
{
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    if (!options)
        tally(out, path);
    told(out, options ? options : "", path);
    fclose(out);
    golden_check("verbs", name, text);
    free(text);
}

static void every_channel__through_its_span__is_read_and_told_as_kept(void **state)
{
    (void)state;
    keep("sweep-j1939", climb_all(0, 126000), NULL);
    keep("sweep-engine", climb_all(126001, 127500), NULL);
    keep("sweep-power", climb_all(127501, 127999), NULL);
    keep("sweep-rest", climb_all(128000, 200000), NULL);
}

static void every_channel__with_rules_of_every_kind__is_told_as_kept(void **state)
{
    (void)state;
    char options[PROGRAM_PATH + 60];
    snprintf(options, sizeof options, "--explain --escalate -c '%s'", rules_of_every_kind());
    keep("rules-j1939", climb_all(0, 126000), options);
    keep("rules-engine", climb_all(126001, 127500), options);
    keep("rules-power", climb_all(127501, 127999), options);
    keep("rules-rest", climb_all(128000, 200000), options);
}

static void every_message__drawn_at_random__is_read_and_told_as_kept(void **state)
{
    (void)state;
    keep("sweep-drawn", draw_all(), NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_channel__through_its_span__is_read_and_told_as_kept),
        cmocka_unit_test(every_channel__with_rules_of_every_kind__is_told_as_kept),
        cmocka_unit_test(every_message__drawn_at_random__is_read_and_told_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
