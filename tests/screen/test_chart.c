/* A chart's parts: legends, letters, marks and whose limit it is by hand; kept as texts which axis
 * is taken for which values and how many lines, where times stand, and charts of every small size.
 */
#include "screen/chart.h"

#include "base/text.h"
#include "screen/drawn.h"
#include "screen/glyphs.h"
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

/* ---- by hand ---- */

static struct scene boat;

static void calm(int engines)
{
    scene_calm(&boat, engines);
}

static struct model_channel *channel(const char *key)
{
    struct model_channel *c = (struct model_channel *)(uintptr_t)model_find(boat.m, key);
    assert_non_null(c);
    return c;
}

/* Draws it 100 wide and 13 high, ASCII. */
static const char *drawn_chart(const struct chart *chart)
{
    grid_fini(&drawn);
    begin(100, 13, true);
    chart_draw(&drawn, (struct rect){0, 0, 100, 13}, boat.m, chart);
    check_bold();
    return line(0);
}

static void legend__readings_what_is_expected_and_the_limit(void **state)
{
    (void)state;
    calm(2);
    struct model_channel *port = channel("exhaust.0"), *starboard = channel("exhaust.1");
    struct chart chart = chart_of(boat.m, QTY_EXHAUST, 600 * NS_PER_S);
    assert_string_equal(drawn_chart(&chart),
                        " exhaust C   == port 28   == starboard 30   limit 93");
    assert_int_equal(grid_at(&drawn, 19, 0)->role, ROLE_VALUE);
    port->status = READING_STALE;
    port->age_ns = 45 * NS_PER_S;
    assert_string_equal(drawn_chart(&chart),
                        " exhaust C   == port 28, 45 s old   == starboard 30   limit 93");
    assert_int_equal(grid_at(&drawn, 19, 0)->role, ROLE_DIM);
    port->status = READING_OK;
    port->off = true;
    assert_string_equal(drawn_chart(&chart),
                        " exhaust C   == port 28, off   == starboard 30   limit 93");
    port->off = false;
    port->has_expected = true;
    port->expected = 29.4;
    port->allowance = 3;
    assert_string_equal(drawn_chart(&chart),
                        " exhaust C   == port 28   == starboard 30   expected 29 ~3   limit 93");
    port->allowance = 0.94;
    assert_non_null(strstr(drawn_chart(&chart), "expected 29 ~0.9   limit 93"));
    port->allowance = 0.96;
    assert_non_null(strstr(drawn_chart(&chart), "expected 29 ~1   limit 93"));
    port->allowance = 0.051;
    assert_non_null(strstr(drawn_chart(&chart), "expected 29 ~0.1   limit 93"));
    port->allowance = 0.049; /* too little to be said */
    assert_non_null(strstr(drawn_chart(&chart), "expected 29   limit 93"));
    boat.m->units.temperature = UNIT_F;
    port->allowance = 0.5;
    assert_non_null(strstr(drawn_chart(&chart), "expected 85 ~0.9   limit 200"));
    boat.m->units.temperature = UNIT_C;
    port->has_expected = port->has_limit = false;
    assert_string_equal(drawn_chart(&chart), " exhaust C   == port 28   == starboard 30");
    /* in trouble its own is shown, and it has the colour, old or not */
    starboard->limit = 77;
    scene_alert(&boat, PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, "exhaust.1", "x");
    starboard->status = READING_STALE;
    assert_string_equal(drawn_chart(&chart),
                        " exhaust C   == port 28   == starboard 30, 0 s old   limit 77");
    assert_int_equal(grid_at(&drawn, 30, 0)->role, ROLE_ALARM);
    assert_int_equal(grid_at(&drawn, 14, 0)->role, ROLE_SERIES_1);
    chart = chart_about(boat.m, channel("sea.0"), 600 * NS_PER_S);
    assert_string_equal(drawn_chart(&chart), " sea C   18.4"); /* alone: no piece of its line */
    grid_fini(&drawn);
    scene_free(&boat);
}

/* Of several in trouble the worst, whichever engine it is of. */
static void subject__the_worst_alert(void **state)
{
    static const struct {
        int alert[3];
        const char *limit;
    } rows[] = {{{-1, -1, -1}, "limit 90"}, {{-1, 1, 0}, "limit 92"}, {{0, 1, -1}, "limit 90"},
                {{-1, 0, 1}, "limit 91"},   {{2, 1, -1}, "limit 91"}, {{1, -1, 0}, "limit 92"}};

    (void)state;
    calm(3);
    struct chart chart = chart_of(boat.m, QTY_EXHAUST, 600 * NS_PER_S);
    assert_int_equal(chart.count, 3);
    for (int i = 0; i < 3; i++)
        scene_alert(&boat, PRIORITY_WARNING, ALERT_UNACKNOWLEDGED, "", "x");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        static const char *const keys[] = {"exhaust.0", "exhaust.1", "exhaust.2"};
        for (int e = 0; e < 3; e++) {
            channel(keys[e])->alert = rows[i].alert[e];
            channel(keys[e])->limit = 90 + e;
        }
        assert_non_null(strstr(drawn_chart(&chart), rows[i].limit));
    }
    grid_fini(&drawn);
    scene_free(&boat);
    scene_full(&boat); /* a generator is no third engine */
    assert_int_equal(chart_of(boat.m, QTY_EXHAUST, NS_PER_S).count, 2);
    scene_free(&boat);
}

static void flat(const char *key, double value)
{
    struct model_channel *c = channel(key);
    struct history *h = history_new();
    assert_non_null(h);
    for (int t = 4000; t < 5001; t++)
        history_add(h, t * NS_PER_S, value);
    history_free((struct history *)(uintptr_t)c->history);
    c->history = h;
    c->value = c->shown = value;
    c->has_limit = false;
}

static char *line_of(char *dst, const char *value, char curve, int blanks, const char *letters)
{
    char plot[82];
    memset(plot, curve, 81);
    plot[81] = '\0';
    snprintf(dst, 120, "%6s %s%*s%s", value, plot, blanks, "", letters);
    while (strlen(dst) && dst[strlen(dst) - 1] == ' ')
        dst[strlen(dst) - 1] = '\0';
    return dst;
}

/* Two flat curves at 20 and 60: ticks of 20 over eleven lines, letters where the curves end, and
 * ten cells kept for where a climb leads. */
static void picture__axis_curves_and_letters(void **state)
{
    char wanted[120];

    (void)state;
    calm(2);
    flat("exhaust.0", 20);
    flat("exhaust.1", 60);
    struct chart chart = chart_of(boat.m, QTY_EXHAUST, 600 * NS_PER_S);
    drawn_chart(&chart);
    assert_string_equal(line(1), line_of(wanted, "60", '"', 10, "S"));
    assert_string_equal(line(6), line_of(wanted, "40", ' ', 0, ""));
    assert_string_equal(line(11), line_of(wanted, "20", '_', 10, "P"));
    for (int y = 2; y < 11; y++)
        if (y != 6)
            assert_string_equal(line(y), "");
    flat("exhaust.0", 60); /* where both end in one line they stand side by side */
    drawn_chart(&chart);
    int rows = 0;
    for (int y = 1; y < 12; y++)
        if (grid_at(&drawn, 98, y)->ch == 'P' && grid_at(&drawn, 99, y)->ch == 'S')
            rows++;
    assert_int_equal(rows, 1);
    channel("exhaust.0")->status = READING_STALE; /* an old one has no end */
    drawn_chart(&chart);
    for (int y = 1; y < 12; y++)
        assert_int_not_equal(grid_at(&drawn, 98, y)->ch, 'P');
    grid_fini(&drawn);
    scene_free(&boat);
    calm(4); /* ENGINE 0 to 3: told apart by their numbers */
    flat("exhaust.0", 20);
    flat("exhaust.1", 60);
    chart = chart_of(boat.m, QTY_EXHAUST, 600 * NS_PER_S);
    drawn_chart(&chart);
    int seen[4] = {0};
    for (int y = 1; y < 12; y++)
        for (int x = 98; x < 100; x++)
            if (grid_at(&drawn, x, y)->ch >= '0' && grid_at(&drawn, x, y)->ch <= '3')
                seen[grid_at(&drawn, x, y)->ch - '0']++;
    for (int i = 0; i < 4; i++)
        assert_int_equal(seen[i], 1);
    grid_fini(&drawn);
    scene_free(&boat);
}

/* What is steady looks steady: a tenth of its value is the least that an axis shows, here 47.5 to
 * 52.5 in ticks of 2. */
static void picture__a_steady_value(void **state)
{
    char wanted[120];

    (void)state;
    calm(1);
    flat("exhaust.0", 50);
    struct chart chart = chart_of(boat.m, QTY_EXHAUST, 600 * NS_PER_S);
    drawn_chart(&chart);
    for (int tick = 0; tick < 5; tick++) {
        char value[8];
        snprintf(value, sizeof value, "%d", 54 - 2 * tick);
        if (tick == 2)
            assert_string_equal(line(3 + 2 * tick), line_of(wanted, value, '-', 0, ""));
        else
            assert_string_equal(line(3 + 2 * tick), line_of(wanted, value, ' ', 0, ""));
    }
    grid_fini(&drawn);
    scene_free(&boat);
}

/* ---- marks ---- */

/* Thirty cells of 10 s, the last from 4990 s on: `ago` s before now is cell 29 - (ago - 10) / 10.
 */
static const char *marked(int n, const int ago[], const char *const words[], const char *curve)
{
    grid_fini(&drawn);
    begin(30, 4, false);
    for (int x = 0; curve && curve[x]; x++)
        if (curve[x] != ' ')
            grid_put(&drawn, x, 0, '-', curve[x] == 'l' ? ROLE_LIMIT : ROLE_TREND, 0);
    for (int i = 0; i < n; i++)
        boat.marks[i] = (struct model_mark){SCENE_WALL_NS - ago[i] * NS_PER_S, -1, words[i]};
    boat.m->replay.mark_count = (size_t)n;
    struct graph_span span = graph_span(&drawn, SCENE_MONO_NS, 300 * NS_PER_S, 30);
    chart_marks(&drawn, (struct rect){0, 0, 30, 4}, &span, boat.m, "exhaust.0");
    return line(0);
}

static void marks__words_where_there_is_room(void **state)
{
    static const struct {
        int n, ago[2];
        const char *words[2], *curve, *text;
    } rows[] = {
        {1, {100}, {"lock"}, NULL, "                    ▼lock"},
        {1, {100}, {""}, NULL, "                    ▼"},
        {1, {100}, {NULL}, NULL, ""}, /* an alert's has its letter */
        {1, {100}, {"weed of"}, NULL, "                    ▼weed of"},
        {1, {100}, {"weed offf"}, NULL, "           weed offf▼"},
        {1, {30}, {"hard astern"}, NULL, "                hard astern▼"},
        {1, {10}, {"end"}, NULL, "                          end▼"},
        {1, {9}, {"end"}, NULL, "                          end▼"},
        {1, {300}, {"first"}, NULL, "▼first"},
        {1, {301}, {"before"}, NULL, ""},
        {1, {-1}, {"heard"}, NULL, ""}, /* in the second that is not over */
        {2, {100, 30}, {"lock", "hard astern"}, NULL, "                lock▼hard …▼"},
        {2, {100, 100}, {"one", "two"}, NULL, "                    ▼two"},
        {1, {100}, {"lock"}, "xxxxxxxxxxxxxxxxx       x     ", "-----------------   ▼lo…-"},
        {1, {100}, {"lock"}, "                       x      ", "                lock▼  -"},
        {1, {100}, {"lock"}, "                       l      ", "                    ▼lock"},
    };

    (void)state;
    calm(1);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_string_equal(marked(rows[i].n, rows[i].ago, rows[i].words, rows[i].curve),
                            rows[i].text);
    marked(1, rows[0].ago, rows[0].words, NULL);
    for (int y = 1; y < 4; y++) { /* a faint line below */
        assert_int_equal(grid_at(&drawn, 20, y)->ch, GLYPH_UPRIGHT);
        assert_int_equal(grid_at(&drawn, 20, y)->role, ROLE_KEEL);
        assert_int_equal(grid_at(&drawn, 20, y)->attr, 0);
    }
    grid_fini(&drawn);
    scene_free(&boat);
}

/* An alert about this channel has its letter at the top and a faint line where nothing stands. */
static void marks__alerts_of_the_channel_alone(void **state)
{
    (void)state;
    calm(1);
    struct alert *a = scene_alert(&boat, PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, "exhaust.0", "x");
    struct alert *b = scene_alert(&boat, PRIORITY_WARNING, ALERT_UNACKNOWLEDGED, "coolant.0", "x");
    a->raised.mono_ns = b->raised.mono_ns = 4900 * NS_PER_S;
    b->raised.mono_ns -= 50 * NS_PER_S;
    assert_string_equal(marked(0, NULL, NULL, NULL), "                    A");
    for (int y = 1; y < 4; y++)
        assert_int_equal(grid_at(&drawn, 20, y)->ch, GLYPH_UPRIGHT);
    assert_int_equal(grid_at(&drawn, 20, 0)->role, ROLE_ALARM);
    a->raised.mono_ns = 4699 * NS_PER_S;
    assert_string_equal(marked(0, NULL, NULL, NULL), "");
    a->raised.mono_ns = 4700 * NS_PER_S;
    assert_string_equal(marked(0, NULL, NULL, NULL), "A");
    a->raised.mono_ns = 4999 * NS_PER_S;
    assert_string_equal(marked(0, NULL, NULL, NULL), "                             A");
    a->raised.mono_ns = 5000 * NS_PER_S;
    assert_string_equal(marked(0, NULL, NULL, NULL), "");
    grid_fini(&drawn);
    scene_free(&boat);
}

/* With a clock minutes, and seconds where cells are finer; without one since the start. */
static void time_text__as_fine_as_it_must_be(void **state)
{
    char text[24];

    (void)state;
    calm(1);
    chart_time_text(boat.m, SCENE_MONO_NS - 7 * NS_PER_S, false, text, sizeof text);
    assert_string_equal(text, "14:12");
    chart_time_text(boat.m, SCENE_MONO_NS - 7 * NS_PER_S, true, text, sizeof text);
    assert_string_equal(text, "14:12:00");
    boat.m->clock_known = false; /* the log is 1500 s old */
    chart_time_text(boat.m, SCENE_MONO_NS - 7 * NS_PER_S, false, text, sizeof text);
    assert_string_equal(text, "+24:53");
    scene_free(&boat);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(chart_axis__many_spans__are_as_kept),
        cmocka_unit_test(chart_times__every_span__is_as_kept),
        cmocka_unit_test(chart_draw__small_sizes__are_as_kept),
        cmocka_unit_test(legend__readings_what_is_expected_and_the_limit),
        cmocka_unit_test(subject__the_worst_alert),
        cmocka_unit_test(picture__axis_curves_and_letters),
        cmocka_unit_test(picture__a_steady_value),
        cmocka_unit_test(marks__words_where_there_is_room),
        cmocka_unit_test(marks__alerts_of_the_channel_alone),
        cmocka_unit_test(time_text__as_fine_as_it_must_be),
        cmocka_unit_test(chart_about__an_engines_channel__with_its_twins_but_no_second_sender),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
