/* The small parts: cells, layout, figures, keys, meter, sun, choices. */
#include "base/text.h"
#include "config/config.h"
#include "config/schema.h"
#include "screen/model.h"
#include "screen/cells.h"
#include "screen/choices.h"
#include "screen/figures.h"
#include "screen/glyphs.h"
#include "screen/keys.h"
#include "screen/layout.h"
#include "screen/meter.h"
#include "screen/sun.h"
#include "support/check.h"
#include "support/program.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static const char *row_of(struct grid *g, int y)
{
    static char text[400];
    grid_row_text(g, y, text, sizeof text);
    return text;
}

/* ---- cells ---- */

static void grid_text__too_long__ends_in_a_sign(void **state)
{
    (void)state;
    struct grid g;
    assert_true(grid_init(&g, 10, 2, false));
    assert_int_equal(grid_text(&g, 0, 0, 6, "starboard", ROLE_TEXT, 0), 6);
    assert_string_equal(row_of(&g, 0), "starb\u2026");
    assert_int_equal(grid_text(&g, 0, 1, 9, "starboard", ROLE_TEXT, 0), 9);
    assert_string_equal(row_of(&g, 1), "starboard");
    grid_clear(&g);
    assert_int_equal(grid_text(&g, 0, 0, 0, "x", ROLE_TEXT, 0), 0);
    assert_string_equal(row_of(&g, 0), "");
    grid_fini(&g);
}

/* Widths by the Unicode Character Database: U+6D77 is East Asian Wide, U+0301 combines. */
static void grid_text__wide_and_combining__are_measured(void **state)
{
    (void)state;
    struct grid g;
    assert_true(grid_init(&g, 8, 3, false));
    assert_int_equal(grid_text(&g, 0, 0, 8, "\u6d77\u6d77x", ROLE_TEXT, 0), 5);
    assert_int_equal(grid_at(&g, 1, 0)->width, 0);
    assert_string_equal(row_of(&g, 0), "\u6d77\u6d77x");
    /* Half of a wide character never stays. */
    grid_put(&g, 1, 0, 'y', ROLE_TEXT, 0);
    assert_string_equal(row_of(&g, 0), " y\u6d77x");
    /* No room for a whole one. */
    assert_int_equal(grid_text(&g, 0, 1, 4, "\u6d77\u6d77\u6d77", ROLE_TEXT, 0), 3);
    assert_string_equal(row_of(&g, 1), "\u6d77\u2026");
    assert_int_equal(grid_text(&g, 0, 2, 8, "Me\u0301duse", ROLE_TEXT, 0), 6);
    assert_string_equal(row_of(&g, 2), "Me\u0301duse");
    grid_fini(&g);
}

static void grid_text__control_and_bad_bytes__become_question_marks(void **state)
{
    (void)state;
    struct grid g;
    assert_true(grid_init(&g, 20, 1, false));
    grid_text(&g, 0, 0, 20,
              "a\033[31m\x7f\xff\xc2\u202e"
              "b",
              ROLE_TEXT, 0);
    assert_string_equal(row_of(&g, 0), "a?[31m????b");
    grid_fini(&g);
}

static void grid_text__ascii__has_a_form_for_everything(void **state)
{
    (void)state;
    struct grid g;
    assert_true(grid_init(&g, 20, 1, true));
    assert_int_equal(grid_width(&g, "61 \u00b0C"), 4);
    grid_text(&g, 0, 0, 20, "M\u00e9duse 61 \u00b0C \u2192\u6d77", ROLE_TEXT, 0);
    assert_string_equal(row_of(&g, 0), "Meduse 61 C -?");
    grid_fini(&g);
}

static void grid__outside__is_clipped(void **state)
{
    (void)state;
    struct grid g;
    assert_true(grid_init(&g, 3, 2, false));
    grid_put(&g, -1, 0, 'x', ROLE_TEXT, 0);
    grid_put(&g, 3, 1, 'x', ROLE_TEXT, 0);
    grid_text(&g, 1, 1, 50, "abcdef", ROLE_TEXT, 0);
    grid_text(&g, 0, 9, 50, "abcdef", ROLE_TEXT, 0);
    grid_run(&g, (struct rect){-5, -5, 100, 100}, '.', ROLE_TEXT, 0);
    assert_string_equal(row_of(&g, 0), "...");
    assert_true(grid_resize(&g, 0, -7));
    assert_int_equal(g.cols, 1);
    grid_fini(&g);
}

static void utf8_next__every_code_point_comes_back(void **state)
{
    (void)state;
    for (uint32_t ch = 1; ch < 0x110000; ch += ch < 0x3000 ? 1 : 97) {
        char text[5] = {0};
        const char *s = text;
        if (ch >= 0xD800 && ch < 0xE000)
            continue;
        utf8_put(text, ch);
        assert_int_equal(utf8_next(&s), ch);
        assert_int_equal(*s, 0);
    }
}

/* ---- layout ---- */

static bool within(struct rect r, int cols, int rows)
{
    return r.h == 0 || (r.x >= 0 && r.y >= 0 && r.w >= 0 && r.x + r.w <= cols && r.y + r.h <= rows);
}

static void check_board(struct rect body, int sides, int twins, int tables)
{
    struct board_layout b = layout_board(
        body, (struct board_need){.sides = sides, .twins = twins, .tables = tables, .chart = true});
    int bottom = body.y + body.h;
    const struct rect parts[] = {b.heading, b.twins,     b.tables,    b.alerts,
                                 b.more,    b.charts[0], b.charts[1], b.charts[2]};
    enum { PARTS = sizeof parts / sizeof parts[0] };
    for (int i = 0; i < PARTS; i++)
        if (parts[i].h > 0) {
            assert_true(parts[i].y >= body.y && parts[i].y + parts[i].h <= bottom);
            assert_true(parts[i].w >= 0 && parts[i].x + parts[i].w <= body.x + body.w);
        }
    for (int i = 0; i < PARTS; i++)
        for (int k = i + 1; k < PARTS; k++)
            if (parts[i].h > 0 && parts[k].h > 0)
                assert_true(parts[i].y + parts[i].h <= parts[k].y ||
                            parts[k].y + parts[k].h <= parts[i].y ||
                            parts[i].x + parts[i].w <= parts[k].x ||
                            parts[k].x + parts[k].w <= parts[i].x);
    assert_true(b.twin_rows <= twins && b.tables.h <= tables);
    assert_true(b.side.trend_w >= 0 && b.side.value_w >= 0);
}

static void layout__every_size__stays_within_and_never_overlaps(void **state)
{
    (void)state;
    for (int cols = 1; cols <= 260; cols += cols < 100 ? 1 : 7)
        for (int rows = 1; rows <= 100; rows += rows < 40 ? 1 : 5) {
            struct frame_layout f = layout_frame(cols, rows, rows % 4 + 1, true);
            const struct rect parts[] = {f.title, f.alert, f.body, f.bar, f.foot};
            int used = 0;
            for (int i = 0; i < 5; i++) {
                assert_true(within(parts[i], cols, rows));
                used += f.too_small ? 0 : parts[i].h;
            }
            assert_true(used <= rows);
            if (f.too_small)
                continue;
            for (int sides = 0; sides <= 4; sides++) {
                check_board(f.body, sides, sides ? 12 : 0, 9);
                check_board(f.body, sides, sides ? 3 : 0, 0);
                check_board(f.body, sides, sides ? 40 : 0, 90);
            }
        }
}

/* ---- figures ---- */

static void figures_draw__size_does_not_change_with_the_digits(void **state)
{
    (void)state;
    struct grid g;
    assert_true(grid_init(&g, 40, 6, true));
    assert_true(figures_draw(&g, (struct rect){0, 0, 24, 5}, "61", 3, ROLE_VALUE));
    assert_string_equal(row_of(&g, 0), "          @@@@@@    @@");
    grid_clear(&g);
    assert_false(figures_draw(&g, (struct rect){0, 0, 5, 5}, "61", 3, ROLE_VALUE));
    assert_false(figures_draw(&g, (struct rect){0, 0, 24, 4}, "61", 3, ROLE_VALUE));
    assert_false(figures_draw(&g, (struct rect){0, 0, 40, 5}, "ahead", 5, ROLE_VALUE));
    grid_fini(&g);
}

/* Light that a figure gives off, in half cells, and its picture as a text. */
static int light_of(char ch, int wide, int high, bool thin, char *dst, size_t cap)
{
    struct grid g;
    const char text[] = {ch, '\0'};
    struct rect r = {0, 0, 3 * wide, 5 * high};
    int light = 0;
    assert_true(grid_init(&g, r.w, r.h, false));
    g.thin = thin;
    assert_int_equal(figures_draw(&g, r, text, 1, ROLE_VALUE), r.w);
    dst[0] = '\0';
    for (int i = 0; i < r.w * r.h; i++) {
        uint32_t c = g.cells[i].ch;
        light += c == 0x2588 ? 2 : c != ' ';
        text_append(dst, cap, "%c", c == 0x2588 ? '#' : c == 0x2580 ? '^' : c == ' ' ? '.' : 'v');
    }
    grid_fini(&g);
    return light;
}

/* Thin ones are told apart as well as full ones, and give off half the light or less. */
static void figures_draw__thin__differ_and_give_off_half_the_light(void **state)
{
    (void)state;
    static const char all[] = "0123456789-er";
    enum { N = sizeof all - 1, SIZE = 512 };
    for (int high = 1; high <= 3; high++)
        for (int wide = high < 3 ? 3 : 6; wide <= 3 * high; wide++) {
            char pictures[N][SIZE], full[SIZE];
            int light = 0, light_full = 0;
            for (int i = 0; i < N; i++) {
                light += light_of(all[i], wide, high, true, pictures[i], SIZE);
                light_full += light_of(all[i], wide, high, false, full, SIZE);
                for (int k = 0; k < i; k++)
                    assert_string_not_equal(pictures[i], pictures[k]);
            }
            assert_true(2 * light <= light_full);
        }
    char four[SIZE];
    light_of('4', 3, 1, true, four, SIZE);
    assert_string_equal(four, "#.......#"
                              "#.......#"
                              "^^^^^^^^#"
                              "........#"
                              "........#");
}

/* ---- keys ---- */

static void key_table__names_and_keys__are_those_of_the_configuration(void **state)
{
    (void)state;
    const struct schema_section *section = schema_find_section("keys");
    size_t n = 0;
    for (size_t i = 0; i < schema_key_count; i++) {
        if (!schema_has(section, &schema_keys[i]))
            continue;
        char name[12];
        assert_true(n < key_table_count);
        assert_string_equal(schema_keys[i].key, key_table[n].name);
        assert_string_equal(schema_keys[i].initial, keys_name(key_table[n].key, name, sizeof name));
        assert_int_equal(keys_parse(name), key_table[n].key);
        assert_int_equal(schema_keys[i].offset, n * KEY_NAME_SIZE);
        n++;
    }
    assert_int_equal(n, key_table_count);
    assert_true(key_table_count <= KEYS_MAX);
}

static void check_keys(const char *text, const char *wanted)
{
    char file[200];
    struct config_messages *messages = NULL;
    snprintf(file, sizeof file, "[keys]\n%s", text);
    struct settings *s = config_load_text("t.conf", file, &messages);
    assert_non_null(s);
    struct key_map m;
    struct err e = {""};
    assert_int_equal(keys_load(&m, &s->keys, &e), wanted == NULL);
    assert_string_equal(e.text, wanted ? wanted : "");
    config_messages_free(messages);
    settings_free(s);
}

static void keys_load__clashes_are_said_and_swaps_are_fine(void **state)
{
    (void)state;
    check_keys("", NULL);
    check_keys("acknowledge = s\nsilence = a\n", NULL);
    check_keys("acknowledge = s\n", "[keys] acknowledge: 's' is the key of silence already");
    check_keys("acknowledge = qq\n", "[keys] acknowledge: there is no key 'qq'");
    check_keys("quit = esc\n", "[keys] quit: esc only goes back");
    check_keys("quit = =\n", "[keys] quit: '=' is the key of add already");
}

static void keys_action__only_where_it_works(void **state)
{
    (void)state;
    struct key_map m;
    keys_init(&m);
    assert_int_equal(keys_action(&m, 'a', 0), ACTION_NONE);
    assert_int_equal(keys_action(&m, 'a', WHEN_UNACKED), ACTION_ACKNOWLEDGE);
    assert_int_equal(keys_action(&m, 'n', 0), ACTION_NONE);
    assert_int_equal(keys_action(&m, 'n', WHEN_REPLAY), ACTION_NEXT_ALERT);
    assert_int_equal(keys_action(&m, '=', WHEN_TREND), ACTION_ADD);
    assert_int_equal(keys_action(&m, 0, ~0u), ACTION_NONE);
}

/* What no cell can hold stands there as a question mark, nothing as a blank. */
static void grid_put__no_character__is_a_question_mark_or_a_blank(void **state)
{
    (void)state;
    struct grid g;
    assert_true(grid_init(&g, 5, 1, false));
    grid_put(&g, 0, 0, 'a', ROLE_TEXT, 0);
    grid_put(&g, 1, 0, 0x07, ROLE_TEXT, 0);
    grid_put(&g, 2, 0, 0x301, ROLE_TEXT, 0); /* combines, and alone with what? */
    grid_put(&g, 3, 0, 0, ROLE_TEXT, 0);
    grid_put(&g, 4, 0, 'b', ROLE_TEXT, 0);
    assert_string_equal(row_of(&g, 0), "a?? b");
    for (int x = 0; x < 5; x++)
        assert_int_equal(grid_at(&g, x, 0)->width, 1);
    grid_fini(&g);
}

/* ---- meter ---- */

/* ISO 11898-1: a 29-bit data frame has 67 bits around its data (interframe space counted, no
 * stuffing), so 100 full frames a second are 13,100 bits: 5.24 % of 250 kbit/s. */
static void meter__full_frames__give_their_share_of_the_bus(void **state)
{
    (void)state;
    struct meter m = {0};
    double frames, load;
    assert_false(meter_read(&m, 10 * NS_PER_S, &frames, &load));
    for (int i = 0; i < 1000; i++) {
        struct frame f = {
            .mono_ns = 1000 * NS_PER_S + i * 10 * NS_PER_MS, .len = 8, .flags = FRAME_EXTENDED};
        meter_frames(&m, &f, 1);
    }
    assert_true(meter_read(&m, 1009 * NS_PER_S + 990 * NS_PER_MS, &frames, &load));
    assert_near(frames, 100, 0.01);
    assert_near(load, 5.24, 0.001);
    /* Silence is silence. */
    assert_true(meter_read(&m, 1030 * NS_PER_S, &frames, &load));
    assert_near(frames, 0, 0.001);
}

/* The first second is a part of one, whatever came in it; then as many whole ones as there are,
 * seven at the most. */
static void meter__first_second__is_no_whole_one(void **state)
{
    (void)state;
    struct meter m = {0};
    double frames, load;
    struct frame f = {.flags = FRAME_EXTENDED, .len = 8, .mono_ns = 1000 * NS_PER_S};
    for (int i = 0; i < 500; i++)
        meter_frames(&m, &f, 1);
    assert_false(meter_read(&m, 1000 * NS_PER_S + 999 * NS_PER_MS, &frames, &load));
    assert_false(meter_read(&m, 1001 * NS_PER_S, &frames, &load));
    f.mono_ns = 1001 * NS_PER_S;
    for (int i = 0; i < 100; i++)
        meter_frames(&m, &f, 1);
    assert_false(meter_read(&m, 1001 * NS_PER_S + 999 * NS_PER_MS, &frames, &load));
    assert_true(meter_read(&m, 1002 * NS_PER_S, &frames, &load));
    assert_near(frames, 100, 1e-9);
    assert_near(load, 100 * 100 * 131 / 250000.0, 1e-9);
    assert_true(meter_read(&m, 1003 * NS_PER_S, &frames, &load)); /* and a silent one */
    assert_near(frames, 50, 1e-9);
    assert_true(meter_read(&m, 1005 * NS_PER_S, &frames, &load));
    assert_near(frames, 25, 1e-9);
    assert_true(meter_read(&m, 1006 * NS_PER_S, &frames, &load)); /* it is out of what is kept */
    assert_near(frames, 0, 0);
    f.flags = 0; /* eleven bits and no data */
    f.len = 0;
    f.mono_ns = 1020 * NS_PER_S;
    meter_frames(&m, &f, 1);
    assert_true(meter_read(&m, 1021 * NS_PER_S, &frames, &load));
    assert_near(frames, 0.25, 1e-9);
    assert_near(load, 100 * 47 * 0.25 / 250000, 1e-9);
}

/* ---- the sun ---- */

/* Altitudes by suncalc 1.9.0 (npm), getPosition, in degrees: an independent implementation. */
static void sun__places_and_seasons__agree_with_another_library(void **state)
{
    (void)state;
    static const struct {
        int64_t epoch_s;
        double latitude, longitude, altitude;
    } rows[] = {
        {1777903920, 50, -5, 48.808},       {1782073800, 59.3, 18.1, -2.410},
        {1797868800, 43.5, 16.4, -7.015},   {1805522700, 0, 0, -0.765},
        {1788231600, -36.8, 174.8, 31.429}, {1768520700, 21.3, -157.9, 44.886},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_near(
            sun_altitude_deg(rows[i].epoch_s * NS_PER_S, rows[i].latitude, rows[i].longitude),
            rows[i].altitude, 0.15);
}

/* ---- choices ---- */

static void choices__written_and_read__are_the_same(void **state)
{
    (void)state;
    struct choices a = {.theme = "night",
                        .theme_configured = "day",
                        .units = {UNIT_F, UNIT_PSI, UNIT_GAL_US, UNIT_GPH_US, UNIT_MPH},
                        .units_configured = {UNIT_C, UNIT_KPA, UNIT_L, UNIT_LPH, UNIT_KN},
                        .has_units = true,
                        .view = "trend",
                        .glyphs = "braille",
                        .trend_span = 4,
                        .together = true,
                        .trend = {"exhaust.0", "exhaust.1"},
                        .trend_count = 2};
    struct choices b;
    char path[200];
    snprintf(path, sizeof path, "%s/state/deep/screen", program_scratch());
    assert_true(choices_save(&a, path));
    assert_true(choices_load(&b, path));
    assert_string_equal(b.theme, "night");
    assert_string_equal(b.theme_configured, "day");
    assert_true(b.has_units);
    assert_memory_equal(&b.units, &a.units, sizeof a.units);
    assert_memory_equal(&b.units_configured, &a.units_configured, sizeof a.units);
    assert_string_equal(b.view, "trend");
    assert_string_equal(b.glyphs, "braille");
    assert_true(b.together);
    assert_int_equal(b.trend_span, 4);
    assert_int_equal(b.trend_count, 2);
    assert_string_equal(b.trend[1], "exhaust.1");
}

/* Every view is found by its name, from every other; an unknown one changes nothing. */
static void choices__each_view__is_opened_by_its_name(void **state)
{
    (void)state;
    for (int from = 0; from < VIEW_COUNT; from++)
        for (int to = 0; to <= VIEW_COUNT; to++) {
            struct choices s = {.trend_span = to < VIEW_COUNT ? to : -1};
            struct ui ui;
            ui_init(&ui);
            ui.view = (enum view_id)from;
            int span = ui.trend.span;
            snprintf(s.view, sizeof s.view, "%s", to < VIEW_COUNT ? views[to].name : "attic");
            choices_to_ui(&s, &ui);
            assert_int_equal(ui.view, to < VIEW_COUNT ? to : from);
            assert_int_equal(ui.trend.span, to < VIEW_COUNT ? to : span);
        }
}

/* The file names itself and its version: one from before is read, one of a later version is not. */
static void choices__of_other_versions__before_is_read_later_is_not(void **state)
{
    (void)state;
    struct choices s;
    char text[4096];
    choices_parse(&s, "view = helm\n");
    assert_string_equal(s.view, "helm");
    choices_format(&s, text, sizeof text);
    assert_memory_equal(text, "# stokehold screen 1\n", 21);
    choices_parse(&s, text);
    assert_string_equal(s.view, "helm");
    static const char *const later[] = {"2", "12345678901234567890", "x", ""};
    for (size_t i = 0; i < sizeof later / sizeof later[0]; i++) {
        snprintf(text, sizeof text, "# stokehold screen %s\nview = helm\n", later[i]);
        choices_parse(&s, text);
        assert_string_equal(s.view, "");
    }
}

static void choices__rubbish__is_passed_over(void **state)
{
    (void)state;
    struct choices s;
    struct ui ui;
    choices_parse(&s, "units = C, C, C\ntrend span = 99\nview = \033[2J\n\xff = 1\nnonsense\n"
                      "trend = a\ntrend = b\ntrend = c\ntrend = d\ntrend = e\ntheme");
    assert_false(s.has_units);
    assert_int_equal(s.trend_span, -1);
    assert_int_equal(s.trend_count, 4);
    ui_init(&ui);
    choices_to_ui(&s, &ui);
    assert_int_equal(ui.view, VIEW_BOARD);
    choices_parse(&s, "chart = rpm\nchart = load\nchart = boost\ntrend together = no\n");
    assert_int_equal(s.chart_count, 2);
    assert_string_equal(s.chart[0], "rpm");
    assert_string_equal(s.chart[1], "load");
    assert_int_equal(s.trend_count, 0); /* what stands after the charts */
    assert_false(choices_load(&s, "/nonexistent/screen"));
    assert_false(choices_save(&s, "/proc/nonexistent/screen"));
}

static void span__largest_whole_unit(void **state)
{
    (void)state;
    static const struct {
        int s;
        const char *text;
    } spans[] = {{90, "90 s"}, {120, "2 min"}, {5400, "90 min"}, {3600, "1 h"}, {129600, "36 h"}};
    for (size_t i = 0; i < sizeof spans / sizeof spans[0]; i++) {
        char text[24];
        model_span_text(spans[i].s * NS_PER_S, text, sizeof text);
        assert_string_equal(text, spans[i].text);
    }
}

/* ---- a value beyond its own limit ---- */

static void beyond__own_limit__whatever_alert_speaks_of_it(void **state)
{
    (void)state;
    struct model *m = model_new();
    struct model_channel c = {.status = READING_OK,
                              .value = 124,
                              .has_limit = true,
                              .limit_above = true,
                              .limit = 103,
                              .engine = 1,
                              .alert = -1};
    m->engine_states[1] = ENGINE_STOPPED;
    assert_true(model_is_beyond(m, &c));
    c.status = READING_STALE; /* its box went dark: hot it stays */
    assert_true(model_is_beyond(m, &c));
    c.value = 102;
    assert_false(model_is_beyond(m, &c));
    c.limit_above = false; /* oil pressure: of an engine that stands it says nothing */
    c.status = READING_OK;
    assert_false(model_is_beyond(m, &c));
    m->engine_states[1] = ENGINE_RUNNING;
    assert_true(model_is_beyond(m, &c));
    c.status = READING_NEVER;
    assert_false(model_is_beyond(m, &c));
    model_free(m);
}

/* ---- numbers ---- */

/* Thousands are parted by a blank whatever the sign; four places after the point are not. */
static void model_number_text__large__is_parted_at_thousands(void **state)
{
    (void)state;
    struct model *m = model_new();
    struct model_channel c = {.unit = UNIT_RPM};
    char text[40];
    assert_non_null(m);
    assert_string_equal(model_number_text(m, &c, 999, 0, text, sizeof text), "999");
    assert_string_equal(model_number_text(m, &c, 1234, 0, text, sizeof text), "1 234");
    assert_string_equal(model_number_text(m, &c, -1234, 0, text, sizeof text), "-1 234");
    assert_string_equal(model_number_text(m, &c, -999.5, 1, text, sizeof text), "-999.5");
    assert_string_equal(model_number_text(m, &c, 1234567.25, 2, text, sizeof text), "1 234 567.25");
    assert_string_equal(model_number_text(m, &c, NAN, 0, text, sizeof text), "--");
    /* no blank that there is no room for */
    assert_string_equal(model_number_text(m, &c, 1234567, 0, text, 10), "1 234 567");
    assert_string_equal(model_number_text(m, &c, 1234567, 0, text, 9), "1234 567");
    assert_string_equal(model_number_text(m, &c, 1234567, 0, text, 8), "1234567");
    model_free(m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(model_number_text__large__is_parted_at_thousands),
        cmocka_unit_test(beyond__own_limit__whatever_alert_speaks_of_it),
        cmocka_unit_test(span__largest_whole_unit),
        cmocka_unit_test(grid_text__too_long__ends_in_a_sign),
        cmocka_unit_test(grid_text__wide_and_combining__are_measured),
        cmocka_unit_test(grid_text__control_and_bad_bytes__become_question_marks),
        cmocka_unit_test(grid_text__ascii__has_a_form_for_everything),
        cmocka_unit_test(grid__outside__is_clipped),
        cmocka_unit_test(utf8_next__every_code_point_comes_back),
        cmocka_unit_test(layout__every_size__stays_within_and_never_overlaps),
        cmocka_unit_test(figures_draw__thin__differ_and_give_off_half_the_light),
        cmocka_unit_test(figures_draw__size_does_not_change_with_the_digits),
        cmocka_unit_test(key_table__names_and_keys__are_those_of_the_configuration),
        cmocka_unit_test(keys_load__clashes_are_said_and_swaps_are_fine),
        cmocka_unit_test(keys_action__only_where_it_works),
        cmocka_unit_test(grid_put__no_character__is_a_question_mark_or_a_blank),
        cmocka_unit_test(meter__first_second__is_no_whole_one),
        cmocka_unit_test(meter__full_frames__give_their_share_of_the_bus),
        cmocka_unit_test(sun__places_and_seasons__agree_with_another_library),
        cmocka_unit_test(choices__written_and_read__are_the_same),
        cmocka_unit_test(choices__of_other_versions__before_is_read_later_is_not),
        cmocka_unit_test(choices__each_view__is_opened_by_its_name),
        cmocka_unit_test(choices__rubbish__is_passed_over),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
