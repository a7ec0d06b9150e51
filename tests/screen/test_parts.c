/* The small parts: cells, glyphs, themes, keys, trends, meter, sun, choices. */
#include "config/config.h"
#include "config/schema.h"
#include "screen/cells.h"
#include "screen/choices.h"
#include "screen/figures.h"
#include "screen/glyphs.h"
#include "screen/keys.h"
#include "screen/layout.h"
#include "screen/meter.h"
#include "screen/spark.h"
#include "screen/sun.h"
#include "screen/theme.h"
#include "support/check.h"
#include "support/program.h"

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

static void check_board(struct rect body, int sides, int twins, int plains)
{
    struct board_layout b = layout_board(
        body,
        (struct board_need){.sides = sides, .twins = twins, .plains = plains, .flat = twins / 4});
    int bottom = body.y + body.h;
    const struct rect parts[] = {b.heading, b.twins, b.plains, b.panes, b.more};
    for (int i = 0; i < 5; i++)
        if (parts[i].h > 0) {
            assert_true(parts[i].y >= body.y && parts[i].y + parts[i].h <= bottom);
            assert_true(parts[i].w >= 0 && parts[i].x + parts[i].w <= body.x + body.w);
        }
    for (int i = 0; i < 5; i++)
        for (int k = i + 1; k < 5; k++)
            if (parts[i].h > 0 && parts[k].h > 0)
                assert_true(parts[i].y + parts[i].h <= parts[k].y ||
                            parts[k].y + parts[k].h <= parts[i].y);
    assert_true(b.twin_rows <= twins);
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

/* ---- trends ---- */

static void scale_level__the_lowest_block_is_a_real_low(void **state)
{
    (void)state;
    struct scale s = {0, 100};
    assert_int_equal(scale_level(s, 0, 1), 1);
    assert_int_equal(scale_level(s, -50, 1), 1);
    assert_int_equal(scale_level(s, 100, 1), 7); /* the top eighth stays free */
    assert_int_equal(scale_level(s, 1e9, 1), 7);
    assert_int_equal(scale_level(s, 1e300, 1), 7);
    assert_int_equal(scale_level(s, INFINITY, 1), 7);
    assert_int_equal(scale_level(s, NAN, 1), 1);
    assert_int_equal(scale_level(s, 50, 3), 12);
    assert_int_equal(scale_level(s, NAN, 1), 1);
}

static void scale_nice__takes_1_2_5(void **state)
{
    (void)state;
    static const double rows[][2] = {{0.3, 0.5}, {1, 1},       {1.01, 2},   {4.9, 5},
                                     {5.1, 10},  {2245, 5000}, {0.02, .02}, {-3, 1}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_near(scale_nice(rows[i][0]), rows[i][1], 1e-9);
}

static void spark_draw__a_gap_is_blank_and_zero_is_not(void **state)
{
    (void)state;
    struct grid g;
    struct history *h = history_new();
    assert_true(grid_init(&g, 10, 1, false));
    for (int t = 100; t < 200; t++)
        if (t < 140 || t >= 160)
            history_add(h, t * NS_PER_S, 0);
    struct spark s = {.now_ns = 199 * NS_PER_S, .span_ns = 100 * NS_PER_S, .scale = {0, 100}};
    spark_draw(&g, (struct rect){0, 0, 10, 1}, h, &s);
    for (int x = 0; x < 10; x++)
        assert_int_equal(grid_at(&g, x, 0)->ch, x == 4 || x == 5 ? ' ' : 0x2581);
    history_free(h);
    grid_fini(&g);
}

/* A peak of one second is still there in a cell of ten. */
static void spark_draw__a_peak__is_never_averaged_away(void **state)
{
    (void)state;
    struct grid g;
    struct history *h = history_new();
    assert_true(grid_init(&g, 10, 1, false));
    for (int t = 100; t < 200; t++)
        history_add(h, t * NS_PER_S, t == 155 ? 99 : 10);
    struct spark s = {.now_ns = 199 * NS_PER_S,
                      .span_ns = 100 * NS_PER_S,
                      .scale = {0, 100},
                      .has_limit = true,
                      .limit_above = true,
                      .limit = 93,
                      .over = ROLE_ALARM};
    spark_draw(&g, (struct rect){0, 0, 10, 1}, h, &s);
    assert_int_equal(grid_at(&g, 5, 0)->ch, 0x2587);
    assert_int_equal(grid_at(&g, 5, 0)->role, ROLE_ALARM);
    assert_int_equal(grid_at(&g, 4, 0)->role, ROLE_TREND);
    history_free(h);
    grid_fini(&g);
}

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

/* ---- themes ---- */

static void theme__every_shipped_one__reads_and_tells_priorities_apart(void **state)
{
    (void)state;
    assert_int_equal(theme_builtin_count(), 6);
    for (size_t i = 0; i < theme_builtin_count(); i++) {
        struct theme t;
        assert_true(theme_builtin(&t, theme_builtin_name(i)));
        assert_string_equal(t.name, theme_builtin_name(i));
        for (int level = 0; level < COLOR_LEVELS; level++) {
            const struct look *text = &t.looks[ROLE_TEXT][level];
            for (int r = ROLE_CAUTION; r <= ROLE_EMERGENCY; r++)
                assert_memory_not_equal(&t.looks[r][level], text, sizeof *text);
            assert_memory_not_equal(&t.looks[ROLE_EMERGENCY][level], &t.looks[ROLE_ALARM][level],
                                    sizeof *text);
            assert_memory_not_equal(&t.looks[ROLE_CAUTION][level], &t.looks[ROLE_ALARM][level],
                                    sizeof *text);
            /* Colours beyond 7 do not exist at 8, and none in monochrome. */
            for (int r = 0; r < ROLE_COUNT; r++) {
                assert_true(level == COLOR_256 || t.looks[r][level].fg < 8);
                assert_true(level != COLOR_MONO ||
                            (t.looks[r][level].fg < 0 && t.looks[r][level].bg < 0));
            }
        }
    }
}

/* The palette of 256 colours: 16 to 231 are a cube of 6 levels (0, 95, 135, 175, 215, 255), as the
 * terminal emulators that have it agree. Night is red and never bright: no green, no blue to speak
 * of, luminance (ITU-R BT.709) below a quarter of white's. */
static void theme__night__is_red_and_never_bright(void **state)
{
    (void)state;
    static const int levels[] = {0, 95, 135, 175, 215, 255};
    struct theme t;
    assert_true(theme_builtin(&t, "night"));
    for (int r = 0; r < ROLE_COUNT; r++) {
        const int colors[] = {t.looks[r][COLOR_256].fg, t.looks[r][COLOR_256].bg};
        for (int k = 0; k < 2; k++) {
            assert_in_range(colors[k], 16, 231);
            int c = colors[k] - 16;
            double red = levels[c / 36], green = levels[c / 6 % 6], blue = levels[c % 6];
            assert_true(red >= green && red >= blue && blue == 0);
            double bright = (0.2126 * pow(red / 255, 2.2) + 0.7152 * pow(green / 255, 2.2) +
                             0.0722 * pow(blue / 255, 2.2));
            assert_true(bright < 0.25);
        }
    }
}

static void theme_parse__mistakes__name_the_line(void **state)
{
    (void)state;
    static const char *const rows[][2] = {
        {"alarm = 300 / red / bold\n", "t:1: cannot read '300' in the first column"},
        {"\nalarm = 9 / 9 / bold\n", "t:2: cannot read '9' in the second column"},
        {"alarm = 9 / red\n", "t:1: three columns are wanted, with '/' between"},
        {"alarm = 9 / red / bold / dim\n", "t:1: more than three columns"},
        {"alarms = 9 / red / bold\n", "t:1: there is no role 'alarms'"},
        {"alarm\n", "t:1: expected 'role = look / look / look'"},
        {"alarm = 9 / red / red\n", "t:1: cannot read 'red' in the third column"},
        {"alarm = 9 / red / bold\n", "t: the role 'text' is missing"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct theme t;
        struct err e;
        assert_false(theme_parse(&t, "t", rows[i][0], strlen(rows[i][0]), &e));
        assert_string_equal(e.text, rows[i][1]);
    }
    struct theme t;
    struct err e;
    assert_false(theme_load(&t, "nosuch", &e));
    assert_string_equal(e.text, "there is no theme 'nosuch'");
    assert_true(theme_load(&t, "themes/night.theme", &e));
    assert_string_equal(t.name, "night");
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
                        .muted = true,
                        .has_muted = true,
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
    assert_true(b.muted && b.has_muted && b.together);
    assert_int_equal(b.trend_span, 4);
    assert_int_equal(b.trend_count, 2);
    assert_string_equal(b.trend[1], "exhaust.1");
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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(span__largest_whole_unit),
        cmocka_unit_test(grid_text__too_long__ends_in_a_sign),
        cmocka_unit_test(grid_text__wide_and_combining__are_measured),
        cmocka_unit_test(grid_text__control_and_bad_bytes__become_question_marks),
        cmocka_unit_test(grid_text__ascii__has_a_form_for_everything),
        cmocka_unit_test(grid__outside__is_clipped),
        cmocka_unit_test(utf8_next__every_code_point_comes_back),
        cmocka_unit_test(layout__every_size__stays_within_and_never_overlaps),
        cmocka_unit_test(scale_level__the_lowest_block_is_a_real_low),
        cmocka_unit_test(scale_nice__takes_1_2_5),
        cmocka_unit_test(spark_draw__a_gap_is_blank_and_zero_is_not),
        cmocka_unit_test(spark_draw__a_peak__is_never_averaged_away),
        cmocka_unit_test(figures_draw__size_does_not_change_with_the_digits),
        cmocka_unit_test(theme__every_shipped_one__reads_and_tells_priorities_apart),
        cmocka_unit_test(theme__night__is_red_and_never_bright),
        cmocka_unit_test(theme_parse__mistakes__name_the_line),
        cmocka_unit_test(key_table__names_and_keys__are_those_of_the_configuration),
        cmocka_unit_test(keys_load__clashes_are_said_and_swaps_are_fine),
        cmocka_unit_test(keys_action__only_where_it_works),
        cmocka_unit_test(meter__full_frames__give_their_share_of_the_bus),
        cmocka_unit_test(sun__places_and_seasons__agree_with_another_library),
        cmocka_unit_test(choices__written_and_read__are_the_same),
        cmocka_unit_test(choices__rubbish__is_passed_over),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
