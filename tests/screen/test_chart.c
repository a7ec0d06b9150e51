/* A chart's parts, kept as texts: which axis is taken for which values and how many lines, where
 * times stand, and charts of every small size with marks and what is expected. */
#include "screen/chart.h"

#include "base/text.h"
#include "screen/scene.h"
#include "support/golden.h"

/* A line for each: the span, then for plots of 3 to 24 lines the lowest, the highest, the ticks and
 * the decimals, where they differ from those of one line less. */
static void put_axes(FILE *out, const struct model *m, const struct model_channel *c, double low,
                     double high)
{
    enum unit u = model_unit(&m->units, c->unit);
    char before[64] = "";

    fprintf(out, "%g to %g %s:", low, high, unit_text(u));
    for (int lines = 3; lines <= 24; lines++) {
        struct chart_axis a = chart_axis(m, c, low, high, lines);
        char now[64];

        text_format(now, sizeof now, "%.6g..%.6g/%d.%d", unit_from_base(u, a.scale.low),
                    unit_from_base(u, a.scale.high), a.ticks, a.decimals);
        if (strcmp(now, before) != 0)
            fprintf(out, " %d: %s", lines, now);
        text_copy(before, sizeof before, now);
    }
    fputc('\n', out);
}

static void chart_axis__many_spans__are_as_kept(void **state)
{
    static const double spans[][2] = {{0, 1},     {0, 0},       {15, 61},     {28, 93.3}, {60, 100},
                                      {-5, 5},    {-12.3, -11}, {0.2, 0.7},   {400, 412}, {1, 1000},
                                      {12.6, 14}, {2245, 2268}, {13.1, 13.15}};
    struct scene s;
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    scene_calm(&s, 1);
    for (int us = 0; us < 2; us++) {
        if (us)
            s.m->units.temperature = UNIT_F;
        for (int decimals = 0; decimals < 2; decimals++)
            for (size_t i = 0; i < sizeof spans / sizeof spans[0]; i++) {
                struct model_channel *c = &s.m->channels[1];

                c->decimals = (uint8_t)decimals;
                put_axes(out, s.m, c, spans[i][0], spans[i][1]);
            }
    }
    fclose(out);
    golden_check("screen", "chart-axes", text);
    free(text);
    scene_free(&s);
}

static void put_grid(FILE *out, struct grid *g)
{
    char row[800];

    for (int y = 0; y < g->rows; y++) {
        grid_row_text(g, y, row, sizeof row);
        fprintf(out, "%s\n", row);
    }
}

/* Under spans of a minute to four days, and where no clock is known. */
static void chart_times__every_span__is_as_kept(void **state)
{
    static const int spans_s[] = {60,   90,   110,   240,   300,   600,    900,   1800,
                                  3600, 7200, 14400, 36000, 86400, 172800, 345600};
    struct scene s;
    struct grid g;
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    scene_calm(&s, 1);
    assert_true(grid_init(&g, 74, 1, false));
    for (int clock = 1; clock >= 0; clock--) {
        s.m->clock_known = clock;
        for (size_t i = 0; i < sizeof spans_s / sizeof spans_s[0]; i++) {
            struct graph_span span = graph_span(&g, SCENE_MONO_NS, spans_s[i] * NS_PER_S, 60);

            grid_clear(&g);
            chart_times(&g, (struct rect){2, 0, 70, 1}, &span, s.m);
            fprintf(out, "%d s\n", spans_s[i]);
            put_grid(out, &g);
        }
    }
    grid_fini(&g);
    fclose(out);
    golden_check("screen", "chart-times", text);
    free(text);
    scene_free(&s);
}

/* Marks by hand and alerts over a climb; every size from too small on. */
static void chart_draw__small_sizes__are_as_kept(void **state)
{
    static const struct rect sizes[] = {
        {0, 0, 28, 6}, {0, 0, 29, 4},  {0, 0, 29, 5},  {0, 0, 36, 6},  {1, 1, 44, 7}, {0, 0, 52, 8},
        {2, 1, 58, 9}, {0, 0, 66, 11}, {0, 0, 78, 14}, {3, 2, 90, 18}, {0, 0, 24, 12}};
    struct scene s;
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    scene_trouble(&s, 2);
    s.marks[0] = (struct model_mark){SCENE_WALL_NS - 500 * NS_PER_S, -1, "weed off the strainer"};
    s.marks[1] = (struct model_mark){SCENE_WALL_NS - 470 * NS_PER_S, -1, ""};
    s.marks[2] = (struct model_mark){SCENE_WALL_NS - 300 * NS_PER_S, PRIORITY_ALARM, NULL};
    s.marks[3] = (struct model_mark){SCENE_WALL_NS - 60 * NS_PER_S, -1, "lock"};
    s.marks[4] = (struct model_mark){SCENE_WALL_NS - 40 * NS_PER_S, -1, "hard astern, twice"};
    s.m->replay.mark_count = 5;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++)
        for (int q = 0; q < 2; q++)
            for (int ascii = 0; ascii < 2; ascii++) {
                struct grid g;
                struct chart chart = chart_of(s.m, q ? QTY_COOLANT : QTY_EXHAUST, 600 * NS_PER_S);

                chart.times = i % 3 != 2;
                assert_true(
                    grid_init(&g, sizes[i].x + sizes[i].w + 1, sizes[i].y + sizes[i].h + 1, ascii));
                chart_draw(&g, sizes[i], s.m, &chart);
                fprintf(out, "%d x %d\n", sizes[i].w, sizes[i].h);
                put_grid(out, &g);
                grid_fini(&g);
            }
    fclose(out);
    golden_check("screen", "chart-sizes", text);
    free(text);
    scene_free(&s);
}

static void chart_about__an_engines_channel__with_its_twins_but_no_second_sender(void **state)
{
    struct scene s;
    struct chart chart;

    (void)state;
    scene_calm(&s, 2);
    chart = chart_about(s.m, model_find(s.m, "exhaust.1"), 60 * NS_PER_S);
    assert_int_equal(chart.count, 2);
    assert_string_equal(chart.channel[0]->key, "exhaust.0");
    assert_string_equal(chart.channel[1]->key, "exhaust.1");
    assert_true(chart.times && chart.span_ns == 60 * NS_PER_S);
    chart = chart_about(s.m, model_find(s.m, "fuel-tank.1"), 60 * NS_PER_S);
    assert_int_equal(chart.count, 1);
    assert_string_equal(chart.channel[0]->key, "fuel-tank.1");
    struct model_channel *c = scene_channel(&s, QTY_EXHAUST, 1, 30);
    c->second = true;
    chart = chart_about(s.m, c, 60 * NS_PER_S);
    assert_int_equal(chart.count, 1);
    assert_ptr_equal(chart.channel[0], c);
    assert_int_equal(chart_of(s.m, QTY_EXHAUST, NS_PER_S).count, 2);
    assert_int_equal(chart_of(s.m, QTY_TORQUE, NS_PER_S).count, 0);
    scene_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(chart_axis__many_spans__are_as_kept),
        cmocka_unit_test(chart_times__every_span__is_as_kept),
        cmocka_unit_test(chart_draw__small_sizes__are_as_kept),
        cmocka_unit_test(chart_about__an_engines_channel__with_its_twins_but_no_second_sender),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
