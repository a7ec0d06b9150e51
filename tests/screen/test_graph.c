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

/* ---- by hand ---- */

/* Columns that each stand for one value, NAN for a gap. */
static struct graph columns(int n, const double values[])
{
    struct graph c = {.n = n};
    for (int i = 0; i < n; i++)
        if (!isnan(values[i]))
            c.column[i] = (struct history_bucket){.low = (float)values[i],
                                                  .mean = (float)values[i],
                                                  .high = (float)values[i],
                                                  .count = 1};
    return c;
}

static const struct scale hundred = {0, 100, false};

/* One line of ASCII has three levels; from one to another further off a stroke joins them, over a
 * gap none does. */
static void draw__levels_and_strokes__in_ascii(void **state)
{
    static const struct {
        double v[4];
        const char *text;
    } rows[] = {
        {{0, 50, 100, NAN}, "_-\""}, {{0, 100, 100, 0}, "_|\"|"}, {{100, 0, 0, 50}, "\"|_-"},
        {{0, NAN, 100, 0}, "_ \"|"}, {{24, 26, 74, 76}, "_--\""}, {{-50, 500, NAN, NAN}, "_|"},
        {{100, 50, 0, NAN}, "\"-_"},
    };

    (void)state;
    begin(4, 1, true);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct graph c = columns(4, rows[i].v);
        grid_clear(&drawn);
        graph_draw(&drawn, (struct rect){0, 0, 4, 1}, &c, hundred,
                   (struct graph_ink){.role = ROLE_TREND});
        assert_string_equal(line(0), rows[i].text);
    }
    grid_fini(&drawn);
}

/* Over two lines of ASCII a stroke goes from line to line; a column of more than one value is as
 * long as it is wide. */
static void draw__a_wide_column__over_lines(void **state)
{
    static const double v[] = {0, 100, 50};
    struct graph c = columns(3, v);

    (void)state;
    c.column[2].low = 0; /* from 0 to 50: levels 0 to 3 of 5 */
    begin(3, 2, true);
    graph_draw(&drawn, (struct rect){0, 0, 3, 2}, &c, hundred,
               (struct graph_ink){.role = ROLE_TREND});
    assert_string_equal(line(0), " ||"); /* from level 5 down to what comes next */
    assert_string_equal(line(1), "_||");
    grid_fini(&drawn);
}

/* Braille has two columns a cell and four levels a line: dots 7, 3, 2, 1 at the left, 8, 6, 5, 4 at
 * the right (Unicode, Braille Patterns). */
static void draw__braille__dot_by_dot(void **state)
{
    static const struct {
        double v[4];
        int n;
        uint32_t cells[2];
    } rows[] = {
        {{0, 0, 0, 0}, 4, {0x28C0, 0x28C0}},
        {{100, 100, 100, 100}, 4, {0x2809, 0x2809}},
        {{0, 100, NAN, 33}, 4, {0x2878, 0x2820}}, /* the right dots 2 to 4 */
        {{100, 0, NAN, NAN}, 4, {0x28B1, ' '}},   /* and 0 to 2 */
        {{0, 33, 67, 100}, 4, {0x2860, 0x280A}},
        {{0, 100, NAN, NAN}, 2, {0x28C0, 0x283F}}, /* one a cell: both halves */
    };

    (void)state;
    begin(2, 1, false);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct graph c = columns(rows[i].n, rows[i].v);
        grid_clear(&drawn);
        graph_draw(&drawn, (struct rect){0, 0, 2, 1}, &c, hundred,
                   (struct graph_ink){.role = ROLE_TREND});
        for (int x = 0; x < 2; x++)
            assert_int_equal(grid_at(&drawn, x, 0)->ch, rows[i].cells[x]);
    }
    grid_fini(&drawn);
    static const double two[] = {0, 43, 57, 100}; /* levels 0, 3, 4 and 7 of two lines */
    struct graph c = columns(4, two);
    begin(2, 2, false);
    graph_draw(&drawn, (struct rect){0, 0, 2, 2}, &c, hundred,
               (struct graph_ink){.role = ROLE_TREND});
    assert_int_equal(grid_at(&drawn, 0, 1)->ch, 0x2878);
    assert_int_equal(grid_at(&drawn, 0, 0)->ch, ' ');
    assert_int_equal(grid_at(&drawn, 1, 1)->ch, ' ');
    assert_int_equal(grid_at(&drawn, 1, 0)->ch, 0x2878);
    grid_fini(&drawn);
}

/* What is beyond the limit, not at it, has the other role. */
static void draw__beyond_the_limit__by_role(void **state)
{
    static const double v[] = {40, 60, 61, 39};
    struct graph c = columns(4, v);
    char roles[8];

    (void)state;
    begin(4, 1, true);
    for (int above = 0; above < 2; above++) {
        struct graph_ink ink = {ROLE_TREND, ROLE_ALARM, true, above, above ? 60 : 40};
        grid_clear(&drawn);
        graph_draw(&drawn, (struct rect){0, 0, 4, 1}, &c, hundred, ink);
        grid_row_roles(&drawn, 0, roles, sizeof roles);
        assert_string_equal(roles, above ? "ssas" : "sssa");
    }
    grid_fini(&drawn);
}

/* A line across at the height of its value, where it lies on the scale and nothing else stands. */
static void level__where_nothing_stands(void **state)
{
    static const struct {
        double v;
        const char *lines[2];
    } rows[] = {{0, {"   x", " .x.."}}, {100, {" ..x.", "  x"}}, {49, {"   x", " .x.."}},
                {51, {" ..x.", "  x"}}, {-0.1, {"   x", "  x"}}, {100.1, {"   x", "  x"}},
                {NAN, {"   x", "  x"}}};

    (void)state;
    begin(6, 2, true);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        grid_clear(&drawn);
        grid_put(&drawn, 3, 0, 'x', ROLE_TREND, 0);
        grid_put(&drawn, 2, 1, 'x', ROLE_TREND, 0);
        graph_level(&drawn, (struct rect){1, 0, 4, 2}, hundred, rows[i].v, ROLE_LIMIT);
        for (int y = 0; y < 2; y++)
            assert_string_equal(line(y), rows[i].lines[y]);
    }
    grid_fini(&drawn);
    begin(1, 2, false); /* in braille the middle is between levels 3 and 4 of 7 */
    graph_level(&drawn, (struct rect){0, 0, 1, 2}, hundred, 49, ROLE_LIMIT);
    assert_int_equal(grid_at(&drawn, 0, 1)->ch, 0x2508);
    grid_clear(&drawn);
    graph_level(&drawn, (struct rect){0, 0, 1, 2}, hundred, 51, ROLE_LIMIT);
    assert_int_equal(grid_at(&drawn, 0, 0)->ch, 0x2508);
    assert_int_equal(grid_at(&drawn, 0, 0)->attr, ATTR_LINE);
    grid_fini(&drawn);
}

static void band__between_two_curves(void **state)
{
    static const struct {
        double low[3], high[3];
        const char *lines[2];
    } rows[] = {
        {{0, 0, 0}, {100, 100, 100}, {"..x", "..."}},
        {{0, 60, 60}, {30, 100, 100}, {" .x", "."}},
        {{0, NAN, 0}, {100, 100, NAN}, {". x", "."}},
        {{-9, -9, 101}, {-1, 0, 200}, {"  x", " ."}}, /* at the edge of the scale, not beyond */
        {{100, 101, 60}, {200, 200, 61}, {". x", ""}},
    };

    (void)state;
    begin(3, 2, true);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct graph low = columns(3, rows[i].low), high = columns(3, rows[i].high);
        grid_clear(&drawn);
        grid_put(&drawn, 2, 0, 'x', ROLE_TREND, 0);
        graph_band(&drawn, (struct rect){0, 0, 3, 2}, &low, &high, hundred, ROLE_KEEL);
        for (int y = 0; y < 2; y++)
            assert_string_equal(line(y), rows[i].lines[y]);
    }
    grid_fini(&drawn);
    begin(1, 1, false); /* every other dot */
    static const double from[] = {0, 0}, to[] = {100, 100};
    struct graph low = columns(2, from), high = columns(2, to);
    graph_band(&drawn, (struct rect){0, 0, 1, 1}, &low, &high, hundred, ROLE_KEEL);
    assert_int_equal(grid_at(&drawn, 0, 0)->ch, 0x2800 | 0x40 | 0x02 | 0x20 | 0x08);
    grid_fini(&drawn);
}

/* Cell by cell up to the limit, and no further than the scale. */
static void ahead__up_to_where_it_ends(void **state)
{
    static const struct {
        double v, step, end;
        const char *lines[2];
    } rows[] = {
        {0, 25, 60, {"  .", ".."}},  {0, 25, 50, {"  .", ".."}},      {0, 25, 49, {"", ".."}},
        {100, -25, 40, {"...", ""}}, {100, -25, 25, {"...", "   ."}}, {80, 30, 500, {".", ""}},
        {101, 1, 500, {"", ""}},     {-1, 1, 500, {"", ""}},          {20, -30, -500, {"", "."}},
    };

    (void)state;
    begin(5, 2, true);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        grid_clear(&drawn);
        graph_ahead(&drawn, (struct rect){0, 0, 5, 2}, hundred, rows[i].v, rows[i].step,
                    rows[i].end, ROLE_ALARM);
        for (int y = 0; y < 2; y++)
            assert_string_equal(line(y), rows[i].lines[y]);
    }
    grid_fini(&drawn);
    begin(2, 1, false);
    graph_ahead(&drawn, (struct rect){0, 0, 2, 1}, hundred, 0, 100, 100, ROLE_ALARM);
    assert_int_equal(grid_at(&drawn, 0, 0)->ch, 0x2840);
    assert_int_equal(grid_at(&drawn, 1, 0)->ch, 0x2801);
    grid_fini(&drawn);
}

/* Two columns a cell where there is braille, a cell is two seconds, and all columns fit. */
static void span__as_fine_as_histories_and_the_font_are(void **state)
{
    static const struct {
        bool ascii, blocks;
        int span_s, cells;
        int per_cell;
        int64_t cell_ms;
    } rows[] = {
        {false, false, 20, 10, 2, 2000},
        {false, false, 19, 10, 1, 1900},
        {false, false, 5, 10, 1, 1000},
        {true, false, 20, 10, 1, 2000},
        {false, true, 20, 10, 1, 2000},
        {false, false, 20, 0, 2, 20000},
        {false, false, 4 * GRAPH_COLUMNS, GRAPH_COLUMNS / 2, 2, 8000},
        {false, false, 4 * GRAPH_COLUMNS, GRAPH_COLUMNS / 2 + 1, 1, -1},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct grid g = {.ascii = rows[i].ascii, .blocks = rows[i].blocks};
        struct graph_span s =
            graph_span(&g, 5000 * NS_PER_S, rows[i].span_s * NS_PER_S, rows[i].cells);
        assert_int_equal(s.per_cell, rows[i].per_cell);
        assert_int_equal(s.cells, rows[i].cells < 1 ? 1 : rows[i].cells);
        if (rows[i].cell_ms > 0)
            assert_true(s.cell_ns == rows[i].cell_ms * NS_PER_MS);
        assert_true(s.last == 4999 * NS_PER_S / s.cell_ns);
    }
    struct grid g = {.ascii = true};
    assert_true(graph_span(&g, NS_PER_S, 10 * NS_PER_S, 10).last == 0);
    assert_true(graph_span(&g, 2 * NS_PER_S, 10 * NS_PER_S, 10).last == 1);
    struct graph_span s = graph_span(&g, 200 * NS_PER_S, 100 * NS_PER_S, 10); /* from 100 s on */
    assert_true(graph_cell_from(&s, 0) == 100 * NS_PER_S);
    assert_int_equal(graph_cell_of(&s, 100 * NS_PER_S), 0);
    assert_int_equal(graph_cell_of(&s, 99 * NS_PER_S), -1);
    assert_int_equal(graph_cell_of(&s, 200 * NS_PER_S), 10);
    assert_int_equal(graph_cell_of(&s, 900 * NS_PER_S), 10);
}

/* A scale from the median of what wobbles to its limit, where the limit is more than a tenth of
 * itself away; of several curves from the one that is furthest from it. */
static void scale__to_the_limit_or_over_what_was_heard(void **state)
{
    static const double a[] = {28, 30, 32, 90}, b[] = {40, 42, NAN, 44}, none[] = {NAN};
    struct graph ga = columns(4, a), gb = columns(4, b), gn = columns(1, none);
    const struct graph *const both[] = {&gb, &ga}, *const one[] = {&ga}, *const no[] = {&gn};
    double v, t;

    (void)state;
    assert_true(graph_median(&ga, &v));
    assert_near(v, 32, 1e-6);
    assert_true(graph_median(&gb, &v));
    assert_near(v, 42, 1e-6);
    assert_false(graph_median(&gn, &v));
    assert_true(graph_extremes(&gb, &v, &t));
    assert_near(v, 40, 1e-6);
    assert_near(t, 44, 1e-6);
    assert_false(graph_extremes(&gn, &v, &t));
    struct scale s = graph_scale(both, 2, true, 93);
    assert_true(s.root);
    assert_near(s.low, 32, 1e-6);
    assert_near(s.high, 93, 1e-6);
    assert_true(graph_scale(one, 1, true, 35.6).root);  /* 3.6 away */
    assert_false(graph_scale(one, 1, true, 35.5).root); /* 3.5 of 3.55 */
    s = graph_scale(both, 2, false, 0);
    assert_false(s.root);
    assert_near(s.low, 28, 1e-6);
    assert_near(s.high, 90, 1e-6);
    s = graph_scale(no, 1, true, 93);
    assert_false(s.root);
    assert_near(s.low, 0, 1e-9);
    assert_near(s.high, 1, 1e-9);
    static const double still[] = {100, 101};
    struct graph gs = columns(2, still);
    const struct graph *const steady_one[] = {&gs};
    s = graph_scale(steady_one, 1, false, 0); /* a tenth of 101 around 100.5 */
    assert_near(s.low, 95.45, 1e-4);
    assert_near(s.high, 105.55, 1e-4);
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
        cmocka_unit_test(draw__levels_and_strokes__in_ascii),
        cmocka_unit_test(draw__a_wide_column__over_lines),
        cmocka_unit_test(draw__braille__dot_by_dot),
        cmocka_unit_test(draw__beyond_the_limit__by_role),
        cmocka_unit_test(level__where_nothing_stands),
        cmocka_unit_test(band__between_two_curves),
        cmocka_unit_test(ahead__up_to_where_it_ends),
        cmocka_unit_test(span__as_fine_as_histories_and_the_font_are),
        cmocka_unit_test(scale__to_the_limit_or_over_what_was_heard),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
