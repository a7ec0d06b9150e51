/* Curves and their scales: gaps as gaps, peaks kept, a tenth of the way to a limit seen. */
#include "drawn.h"
#include "scene.h"
#include "screen/chart.h"
#include "screen/graph.h"

/* Draws a history of 100 s that ends at 200 s into one row of ten cells. */
static void draw_row(const struct history *h, struct scale s, struct graph_ink ink)
{
    struct graph c;
    struct graph_span span = graph_span(&drawn, 200 * NS_PER_S, 100 * NS_PER_S, 10);
    graph_read(&c, &span, h, 0);
    graph_draw(&drawn, (struct rect){0, 0, 10, 1}, &c, s, ink);
}

static void scale_level__any_value__stays_within(void **state)
{
    (void)state;
    struct scale s = {0, 100, false};
    static const double values[][2] = {{0, 0},  {-50, 0},      {100, 7}, {1e300, 7},
                                       {50, 4}, {INFINITY, 7}, {NAN, 0}, {49, 3}};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++)
        assert_int_equal(scale_level(s, values[i][0], 7), (int)values[i][1]);
}

/* By hand: the square root of a tenth is 0.316, of three levels 0.95. */
static void scale_level__a_tenth_of_the_way_to_the_limit__is_seen_in_one_row(void **state)
{
    (void)state;
    struct scale above = {30, 90, true}, below = {400, 100, true};
    assert_int_equal(scale_level(above, 30, 3), 0);
    assert_int_equal(scale_level(above, 20, 3), 0);
    assert_int_equal(scale_level(above, 36, 3), 1);
    assert_int_equal(scale_level(above, 90, 3), 3);
    assert_int_equal(scale_level(below, 400, 3), 3);
    assert_int_equal(scale_level(below, 370, 3), 2);
    assert_int_equal(scale_level(below, 100, 3), 0);
    assert_int_equal(scale_level(below, 50, 3), 0);
}

static void scale_nice__takes_1_2_5(void **state)
{
    (void)state;
    static const double rows[][2] = {{0.3, 0.5}, {1, 1},       {1.01, 2},   {4.9, 5},
                                     {5.1, 10},  {2245, 5000}, {0.02, .02}, {-3, 1}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_near(scale_nice(rows[i][0]), rows[i][1], 1e-9);
}

static struct history *made(double (*value)(int t))
{
    struct history *h = history_new();
    assert_non_null(h);
    for (int t = 100; t < 200; t++)
        if (!isnan(value(t)))
            history_add(h, t * NS_PER_S, value(t));
    return h;
}

static double with_a_gap(int t)
{
    return t < 140 || t >= 160 ? 0 : NAN;
}

static void graph__a_gap__is_blank_and_zero_is_not(void **state)
{
    (void)state;
    static const char *const wanted[] = {"\u28c0\u28c0\u28c0\u28c0  \u28c0\u28c0\u28c0\u28c0",
                                         "____  ____"};
    struct history *h = made(with_a_gap);
    for (int ascii = 0; ascii < 2; ascii++) {
        begin(10, 1, ascii);
        draw_row(h, (struct scale){0, 100, false}, (struct graph_ink){.role = ROLE_TREND});
        assert_string_equal(line(0), wanted[ascii]);
        grid_fini(&drawn);
    }
    history_free(h);
}

static double with_a_peak(int t)
{
    return t == 155 ? 99 : 10;
}

/* A peak of one second is still there in a cell of ten: a stroke up to the top, in the role of what
 * is beyond the limit, on every kind of terminal. */
static void graph__a_peak__is_never_averaged_away(void **state)
{
    (void)state;
    struct history *h = made(with_a_peak);
    static const uint32_t wanted[] = {0x28F8, 0x2502, '|'}; /* braille: the right dots all */
    struct graph_ink ink = {ROLE_TREND, ROLE_ALARM, true, true, 93};
    for (int style = 0; style < 3; style++) {
        begin(10, 1, style == 2);
        drawn.blocks = style == 1;
        draw_row(h, (struct scale){0, 100, false}, ink);
        assert_int_equal(grid_at(&drawn, 5, 0)->ch, wanted[style]);
        assert_int_equal(grid_at(&drawn, 5, 0)->role, ROLE_ALARM);
        assert_int_equal(grid_at(&drawn, 4, 0)->role, ROLE_TREND);
        grid_fini(&drawn);
    }
    history_free(h);
}

static double steady(int t)
{
    return 1500 + 10 * sin(t / 3.0);
}

/* What wobbles by much less than a tenth of itself is a flat line. */
static void graph_scale__a_steady_value__is_flat(void **state)
{
    (void)state;
    struct history *h = made(steady);
    struct graph c;
    const struct graph *const one[] = {&c};
    begin(10, 1, true);
    struct graph_span span = graph_span(&drawn, 200 * NS_PER_S, 100 * NS_PER_S, 10);
    graph_read(&c, &span, h, 0);
    draw_row(h, graph_scale(one, 1, false, 0), (struct graph_ink){.role = ROLE_TREND});
    assert_string_equal(line(0), "----------");
    /* Towards a limit: from the middle one of its values. */
    struct scale s = graph_scale(one, 1, true, 3000);
    assert_true(s.root);
    assert_near(s.low, 1500, 10);
    assert_near(s.high, 3000, 1e-9);
    /* Where it stands at its limit there is no way to it. */
    assert_false(graph_scale(one, 1, true, 1501).root);
    grid_fini(&drawn);
    history_free(h);
}

/* A new cell is not blank until it is heard: it is drawn once it is a second old. */
static void graph_span__a_new_cell__waits_until_it_is_heard(void **state)
{
    (void)state;
    struct grid g = {.ascii = true};
    struct graph_span before = graph_span(&g, 200 * NS_PER_S, 100 * NS_PER_S, 10);
    struct graph_span after = graph_span(&g, 201 * NS_PER_S, 100 * NS_PER_S, 10);
    assert_true(after.last == before.last + 1);
    assert_true(graph_cell_from(&after, 9) == 200 * NS_PER_S);
    assert_int_equal(graph_cell_of(&after, 200 * NS_PER_S), 9);
    assert_int_equal(graph_cell_of(&after, 199 * NS_PER_S), 8);
    assert_int_equal(graph_cell_of(&after, -900 * NS_PER_S), -1);
}

static void graph_column__a_slow_sender__leaves_no_gap_but_silence_does(void **state)
{
    (void)state;
    const int64_t period = 5 * NS_PER_S / 2;
    struct history *h = history_new();
    struct history_bucket b;
    for (int64_t t = 100 * NS_PER_S; t < 200 * NS_PER_S; t += period)
        if (t < 140 * NS_PER_S || t >= 160 * NS_PER_S)
            history_add(h, t, 7);
    int bridged = 0;
    for (int t = 100; t < 200; t++) {
        bool heard = graph_column(h, t * NS_PER_S, (t + 1) * NS_PER_S, 199 * NS_PER_S, period, &b);
        assert_int_equal(heard, t < 138 || t >= 160);
        bridged += heard && !history_span(h, t * NS_PER_S, (t + 1) * NS_PER_S, &b);
    }
    assert_true(bridged > 30);
    /* Where no period is known nothing is made up. */
    assert_false(graph_column(h, 101 * NS_PER_S, 102 * NS_PER_S, 199 * NS_PER_S, 0, &b));
    history_free(h);
}

/* Axis bounds in the unit that is read, round there, and ticks on lines of their own: 15 to 61 °C
 * is 59 to 141.8 °F. */
static void chart_axis__is_round_in_the_users_unit(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    const struct model_channel *c = &s.m->channels[1];
    for (int lines = 3; lines < 40; lines++)
        for (int f = 0; f < 2; f++) {
            enum unit u = s.m->units.temperature = f ? UNIT_F : UNIT_C;
            struct chart_axis axis = chart_axis(s.m, c, 15, 61, lines);
            double low = unit_from_base(u, axis.scale.low),
                   high = unit_from_base(u, axis.scale.high);
            assert_true(axis.scale.low <= 15 && axis.scale.high >= 61);
            assert_true(axis.ticks >= 1 && axis.ticks <= lines - 1);
            double step = (high - low) / axis.ticks;
            assert_near(scale_nice(step * 0.999), step, 1e-6);
            assert_near(low / step, round(low / step), 1e-6);
        }
    scene_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(scale_level__any_value__stays_within),
        cmocka_unit_test(scale_level__a_tenth_of_the_way_to_the_limit__is_seen_in_one_row),
        cmocka_unit_test(scale_nice__takes_1_2_5),
        cmocka_unit_test(graph__a_gap__is_blank_and_zero_is_not),
        cmocka_unit_test(graph__a_peak__is_never_averaged_away),
        cmocka_unit_test(graph_scale__a_steady_value__is_flat),
        cmocka_unit_test(graph_span__a_new_cell__waits_until_it_is_heard),
        cmocka_unit_test(graph_column__a_slow_sender__leaves_no_gap_but_silence_does),
        cmocka_unit_test(chart_axis__is_round_in_the_users_unit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
