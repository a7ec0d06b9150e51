/* What counts as a move, on histories made up second by second: by how much, how far beyond what
 * the channel does by itself, and since when. To four decimals, kept as text. */
#include "screen/movers.h"

#include "support/check.h"
#include "support/golden.h"

#include <stdio.h>
#include <stdlib.h>

#define NOW_NS (INT64_C(5000) * NS_PER_S)

/* Value so many seconds ago; NaN: nothing heard. */
static double steady(int age)
{
    return 80 + 0.2 * (age * 7 % 5 - 2);
}

static double stepped_up(int age)
{
    return steady(age) + (age < 9 ? 6 : 0);
}

static double climbs(int age)
{
    return steady(age) + (age < 40 ? (40 - age) * 0.5 : 0);
}

static double falls(int age)
{
    return steady(age) - (age < 30 ? (30 - age) * 0.4 : 0);
}

static double wanders(int age)
{
    return 80 + 12 * sin(age / 9.0);
}

static double stands_still(int age)
{
    (void)age;
    return 80;
}

static double a_hair(int age)
{
    return age < 8 ? 80.6 : 80;
}

static double came_lately(int age)
{
    return age < 26 ? climbs(age) : NAN;
}

static double came_too_lately(int age)
{
    return age < 21 ? climbs(age) : NAN;
}

static double with_gaps(int age)
{
    return age / 6 % 3 == 1 ? NAN : climbs(age);
}

static double gone_for_three(int age)
{
    return age < 3 ? NAN : climbs(age);
}

static double gone_for_eight(int age)
{
    return age < 8 ? NAN : climbs(age);
}

static double there_and_back(int age)
{
    return steady(age) + (age >= 10 && age < 30 ? 8 : 0);
}

static const struct {
    const char *name;
    double (*value)(int age);
} series[] = {
    {"steady", steady},
    {"stepped up", stepped_up},
    {"climbs", climbs},
    {"falls", falls},
    {"wanders", wanders},
    {"stands still", stands_still},
    {"a hair", a_hair},
    {"came lately", came_lately},
    {"came too lately", came_too_lately},
    {"with gaps", with_gaps},
    {"gone for three", gone_for_three},
    {"gone for eight", gone_for_eight},
    {"there and back", there_and_back},
};

static struct history *made(double (*value)(int age))
{
    struct history *h = history_new();

    assert_non_null(h);
    for (int age = 150; age >= 0; age--)
        if (!isnan(value(age)))
            history_add(h, NOW_NS - age * NS_PER_S, value(age));
    return h;
}

static void mover__each_series__has_its_figures(void **state)
{
    struct model *m = model_new();
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(m);
    assert_non_null(out);
    m->now.mono_ns = NOW_NS;
    for (size_t i = 0; i < sizeof series / sizeof series[0]; i++)
        for (int decimals = 0; decimals < 2; decimals++) {
            struct history *h = made(series[i].value);
            struct model_channel c = {.key = "coolant.0",
                                      .status = READING_OK,
                                      .decimals = (uint8_t)decimals,
                                      .steady_per_min = 2,
                                      .history = h};
            struct mover v = mover_of(m, &c);

            assert_ptr_equal(v.channel, &c);
            fprintf(out, "%s, %d decimals: change %.4f, score %.4f, since %d s\n", series[i].name,
                    decimals, v.change, v.score,
                    v.since_ns < 0 ? -1 : (int)(v.since_ns / NS_PER_S));
            c.status = READING_STALE; /* says nothing of now */
            assert_true(mover_of(m, &c).since_ns < 0);
            history_free(h);
        }
    fclose(out);
    golden_check("screen", "movers-figures", text);
    free(text);
    model_free(m);
}

/* The sign of a small move, up and down. */
static double down_a_hair(int age)
{
    return age < 8 ? 79.4 : 80;
}

static void movers_draw__small_moves__have_their_sign(void **state)
{
    static const struct {
        double (*value)(int age);
        const char *shown;
    } rows[] = {{a_hair, "+0.6"}, {down_a_hair, "-0.6"}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct model *m = model_new();
        struct history *h = made(rows[i].value);
        struct grid g;
        struct ui ui;
        char row[400];

        assert_non_null(m);
        m->now.mono_ns = NOW_NS;
        m->channels[0] = (struct model_channel){.key = "coolant.0",
                                                .label = "coolant",
                                                .place = "",
                                                .id = {QTY_COOLANT, 0, 0},
                                                .engine = -1,
                                                .alert = -1,
                                                .unit = UNIT_C,
                                                .status = READING_OK,
                                                .value = 80,
                                                .shown = 80,
                                                .steady_per_min = 2,
                                                .history = h};
        m->channel_count = 1;
        ui_init(&ui);
        assert_true(grid_init(&g, 70, 8, false));
        movers_draw(&g, (struct rect){0, 0, 70, 8}, m, &ui);
        bool shown = false;
        for (int y = 0; y < 8; y++) {
            grid_row_text(&g, y, row, sizeof row);
            shown |= strstr(row, rows[i].shown) != NULL;
            assert_null(strstr(row, "no channel yet"));
        }
        assert_true(shown);
        m->channel_count = 0;
        grid_clear(&g);
        movers_draw(&g, (struct rect){0, 0, 70, 8}, m, &ui);
        grid_row_text(&g, 2, row, sizeof row);
        assert_string_equal(row, " no channel yet");
        grid_fini(&g);
        history_free(h);
        m->channel_count = 0;
        model_free(m);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(movers_draw__small_moves__have_their_sign),
        cmocka_unit_test(mover__each_series__has_its_figures),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
