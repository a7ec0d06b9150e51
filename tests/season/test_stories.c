/* What a season says of each channel that it remembers, to four decimals, kept as text: the normal
 * of the first trips, how far each later trip stood from it, what that is called, what is expected
 * and what is left to a limit. The seasons are made up here; test_seasons.c judges whether such
 * figures are right, this holds every one of them. */
#include "base/rng.h"
#include "base/text.h"
#include "season/kept.h"
#include "season/model.h"

#include "support/check.h"
#include "support/golden.h"

#include <stdlib.h>

#define DAY_NS   (INT64_C(86400) * 1000000000)
#define BEGAN_NS (INT64_C(1777852800) * 1000000000) /* 2026-05-04 */
#define TRIPS    10

enum way { WORN, NO_SEA, ALONE, BARE, SOME_SEA, EXCHANGED, WORKED_ON, WAYS };
static const char *const way_names[WAYS] = {
    [WORN] = "wears from the fourth trip on",
    [NO_SEA] = "the same, no sea on the bus",
    [ALONE] = "the same, one engine and no sea",
    [BARE] = "the same, neither sea nor air nor load",
    [SOME_SEA] = "the same, the sea known at three speeds of five",
    [EXCHANGED] = "a probe exchanged before the sixth trip",
    [WORKED_ON] = "the same, and work marked after the seventh",
};

static double level_of(const struct season_kept *k)
{
    switch (k->quantity) {
    case QTY_OIL_PRESSURE:
        return 380;
    case QTY_FUEL_RATE:
        return 22;
    case QTY_ALTERNATOR:
    case QTY_BATTERY_VOLTS:
        return 13.6;
    case QTY_BOOST:
        return 150;
    default:
        return 55;
    }
}

static double excess_of(const struct season_kept *k, enum way way, int trip)
{
    double size = k->up ? k->caution : -k->caution;

    if (way == EXCHANGED)
        return trip >= 5 ? 1.6 * size : 0;
    if (way == WORKED_ON && trip >= 7)
        return 0.2 * size * (trip - 7);
    return trip >= 3 ? 0.35 * size * (trip - 2) : 0;
}

static struct season_step step_of(const struct season_kept *k, enum way way, int trip, int speed,
                                  int engine, struct rng *r)
{
    double u = k->start ? 0.1 : 0.25 + 0.15 * speed, load = 15 + 80 * u * u + rng_between(r, -3, 3);
    double sea = 12 + 0.6 * trip, air = 17 + 0.5 * trip + rng_between(r, -2, 2);
    double curve = level_of(k) * (0.8 + 0.2 * u + 0.15 * u * u);
    double excess = engine == 0 ? excess_of(k, way, trip) * (way == EXCHANGED ? 1 : u / 0.67) : 0;
    struct season_step s = {
        .id = {(uint16_t)k->quantity, (uint8_t)engine, 0},
        .rpm = 2400 * u,
        .minutes = 2 + 3 * speed,
        .spread = 0.4,
        .sea_c = way == WORN || way >= EXCHANGED || (way == SOME_SEA && speed > 1) ? sea : NAN,
        .air_c = way == BARE ? NAN : air,
        .load = NAN};

    curve += k->share ? curve * excess : excess;
    curve += (k->over == OVER_SEA ? sea - 12 : 0) + rng_between(r, -0.004, 0.004) * level_of(k);
    s.mean = curve;
    if (way != BARE) {
        s.load_kind = SEASON_LOAD_PERCENT;
        s.load = load;
    }
    s.wall_ns = BEGAN_NS + trip * 2 * DAY_NS + speed * INT64_C(600000000000);
    return s;
}

static void sail(struct season *s, const struct season_kept *k, enum way way)
{
    struct rng r;

    rng_seed(&r, 77);
    for (int trip = 0; trip < TRIPS; trip++) {
        struct season_trip t = {.from_ns = BEGAN_NS + trip * 2 * DAY_NS};
        struct season_step steps[16];
        int n = 0, overlaps;

        t.to_ns = t.from_ns + DAY_NS / 8;
        for (int speed = 0; speed < (k->start ? 1 : 5); speed++)
            for (int e = 0; e < (way == ALONE || k->boat ? 1 : 2); e++)
                steps[n++] = step_of(k, way, trip, speed, e, &r);
        assert_true(season_add(s, &t, steps, n, &overlaps));
    }
    if (way == WORKED_ON)
        assert_true(season_mark(s, &(struct season_mark){.wall_ns = BEGAN_NS + 13 * DAY_NS,
                                                         .all = true,
                                                         .words = "cooler cleaned"}));
}

/* Four decimals, and no minus before a nought. */
static void put(FILE *out, const char *name, double v)
{
    fprintf(out, " %s %.4f", name, fabs(v) < 5e-5 ? 0 : v);
}

static void put_normal(FILE *out, const struct season_normal *n)
{
    fprintf(out, "  normal: mode %d, trips %d..%d (%d), beside %d, load kind %d;", (int)n->mode,
            n->first, n->last, n->trips, n->beside, (int)n->load_kind);
    put(out, "rpm", n->rpm_low);
    put(out, "to", n->rpm_high);
    put(out, "of", n->rpm_unit);
    put(out, "sea", n->sea_c);
    put(out, "air", n->air_c);
    put(out, "between", n->between);
    put(out, "idle", n->between_idle);
    fputs("\n  load", out);
    for (int i = 0; i < 3; i++)
        put(out, "", n->load_fit[i]);
    fputc('\n', out);
}

static void put_trips(FILE *out, const struct season_story *story)
{
    for (int i = 0; i < story->trips; i++) {
        const struct season_excess *x = &story->trip[i];

        fprintf(out, "  trip %d:", x->trip);
        if (x->known) {
            put(out, "excess", x->excess);
            put(out, "+-", x->error);
            put(out, "rpm", x->rpm);
            put(out, "load part", x->load_part);
        }
        if (x->idle_known) {
            put(out, "idle", x->idle);
            put(out, "+-", x->idle_error);
        }
        fprintf(out, "%s\n", x->exchanged ? " exchanged" : "");
    }
}

static void put_story(FILE *out, const struct season_story *story)
{
    static const double rpms[] = {550, 700, 1400, 2040, 2100, 2400};
    double value, error;
    struct season_reserve left;

    put_normal(out, &story->normal);
    put_trips(out, story);
    fprintf(out, "  %s, %d in a row, up %d, both %d, grows %d, mark '%s';",
            season_level_word(story->level), story->in_row, story->up, story->both,
            season_grows(story), story->mark);
    put(out, "excess", story->excess);
    put(out, "+-", story->error);
    put(out, "offset", story->offset);
    put(out, "+-", story->offset_error);
    put(out, "a week", story->growth_per_week);
    put(out, "+-", story->growth_error);
    fputs("\n  expected:", out);
    for (size_t i = 0; i < sizeof rpms / sizeof rpms[0]; i++) {
        double u = rpms[i] / 2400;

        if (season_expected(story, rpms[i], story->normal.load_kind, 20 + 80 * u * u, 14, 18, 60,
                            &value, &error)) {
            fprintf(out, " %.0f:", rpms[i]);
            put(out, "", value);
            put(out, "+-", error);
        }
        put(out, "at speed", season_at_speed(story, rpms[i]));
    }
    fputs("\n  left:", out);
    for (int i = 0; i < 2; i++)
        if (season_reserve(story, 16, story->excess, i ? 72 : 95, &left)) {
            fprintf(out, " used up %d", left.used_up);
            put(out, "rpm", left.rpm);
            put(out, "reads", left.reading);
            put(out, "weeks", left.weeks);
        }
    fputc('\n', out);
}

static void story__every_channel_and_way__to_four_decimals(void **state)
{
    static struct season_story story;
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    for (int row = 0; row < SEASON_KEPT; row++)
        for (int way = 0; way < WAYS; way++) {
            const struct season_kept *k = &season_kept[row];
            struct season s = {0};

            sail(&s, k, (enum way)way);
            fprintf(out, "%s: %s\n", quantity_info(k->quantity)->key, way_names[way]);
            for (int e = 0; e < (k->boat || way != WORN ? 1 : 2); e++) {
                struct channel_id id = {(uint16_t)k->quantity, (uint8_t)e, 0};

                if (season_tell(&s, id, -1, NULL, 0, 0, &story))
                    put_story(out, &story);
                else
                    fputs("  says nothing\n", out);
            }
            season_free(&s);
        }
    fclose(out);
    golden_check("season", "stories", text);
    free(text);
}

/* The table of channels, every figure of it. */
static void kept__every_figure__is_as_kept(void **state)
{
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    for (int row = 0; row < SEASON_KEPT; row++) {
        const struct season_kept *k = &season_kept[row];

        fprintf(out,
                "%s: over %d, share %d, up %d, down %d, caution %g, warning %g, between %g, drift "
                "%g, settle %d s, pieces %d s, hot oil %g, warm %d, live %d, rests %d, boat %d, "
                "start %d, idle %g\n  up '%s', down '%s'\n",
                quantity_info(k->quantity)->key, (int)k->over, k->share, k->up, k->down, k->caution,
                k->warning, k->between, k->drift, k->settle_s, k->piece_s, k->hot_oil_c, k->warm,
                k->live, k->rests, k->boat, k->start, k->idle_share, k->look_up ? k->look_up : "-",
                k->look_down ? k->look_down : "-");
    }
    fclose(out);
    golden_check("season", "kept", text);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kept__every_figure__is_as_kept),
        cmocka_unit_test(story__every_channel_and_way__to_four_decimals),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
