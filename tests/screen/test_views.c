#include "scene.h"
#include "screen/figures.h"
#include "screen/movers.h"
#include "screen/trend.h"
#include "support/golden.h"

static const struct {
    int cols, rows;
} sizes[] = {{40, 10}, {80, 24}, {120, 40}, {160, 50}, {200, 60}};

static void sweep(struct scene *s, const char *what, const char *theme)
{
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++)
        for (int ascii = 0; ascii < 2; ascii++) {
            char name[80];
            snprintf(name, sizeof name, "%s-%dx%d%s", what, sizes[i].cols, sizes[i].rows,
                     ascii ? "-ascii" : "");
            char *text = scene_picture(s, sizes[i].cols, sizes[i].rows, ascii, theme);
            golden_check("screen", name, text);
            free(text);
        }
}

static void check(struct scene *s, const char *name, int cols, int rows)
{
    char *text = scene_picture(s, cols, rows, false, "day");
    golden_check("screen", name, text);
    free(text);
}

static void helm__trouble__large_figures_in_a_frame(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    ui_key(&s.ui, s.m, 'h');
    assert_int_equal(s.ui.view, VIEW_HELM);
    sweep(&s, "helm", "night");
    scene_free(&s);
    scene_calm(&s, 1);
    ui_key(&s.ui, s.m, 'h');
    check(&s, "helm-calm-1-engine-80x24", 80, 24);
    scene_free(&s);
}

static void trend__opens_on_the_channel_in_trouble_with_its_twin(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    ui_key(&s.ui, s.m, 't');
    assert_int_equal(s.ui.view, VIEW_TREND);
    assert_int_equal(s.ui.trend.count, 2);
    assert_string_equal(s.ui.trend.keys[0], "exhaust.0");
    assert_string_equal(s.ui.trend.keys[1], "exhaust.1");
    sweep(&s, "trend", "dusk");
    ui_key(&s.ui, s.m, KEY_TAB_CODE);
    check(&s, "trend-together-80x24", 80, 24);
    ui_key(&s.ui, s.m, KEY_CODE_LEFT);
    for (int i = 0; i < 9; i++)
        ui_key(&s.ui, s.m, KEY_CODE_LEFT);
    check(&s, "trend-cursor-80x24", 80, 24);
    ui_key(&s.ui, s.m, KEY_ESCAPE_CODE);
    assert_false(s.ui.trend.cursor_on);
    assert_int_equal(s.ui.view, VIEW_TREND);
    ui_key(&s.ui, s.m, KEY_ESCAPE_CODE);
    assert_int_equal(s.ui.view, VIEW_BOARD);
    scene_free(&s);
}

static void keys(struct scene *s, const char *text)
{
    for (; *text; text++)
        ui_key(&s->ui, s->m, *text == '\r' ? KEY_ENTER_CODE : *text);
}

/* The mark's moment is that of the key, not of the last letter typed. */
static void mark__asks_for_words__and_trend_shows_them(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    s.m->replay.can_seek = false;
    s.m->record = NULL;
    keys(&s, "k");
    assert_int_equal(s.ui.overlay, OVERLAY_NONE); /* nothing keeps it */
    s.m->record = "on";
    keys(&s, "k");
    assert_int_equal(s.ui.overlay, OVERLAY_MARK);
    assert_int_equal(s.ui.request.kind, REQUEST_NONE);
    s.m->now.wall_ns += 9 * NS_PER_S;
    keys(&s, "oil q\r");
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
    assert_int_equal(s.ui.request.kind, REQUEST_MARK);
    s.m->now.wall_ns -= 9 * NS_PER_S;
    assert_true(s.ui.request.amount == s.m->now.wall_ns);
    assert_string_equal(s.ui.request.words, "oil q");
    keys(&s, "kx");
    ui_key(&s.ui, s.m, KEY_ESCAPE_CODE);
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
    assert_int_equal(s.ui.request.kind, REQUEST_NONE);

    s.marks[2] =
        (struct model_mark){SCENE_WALL_NS - 100 * NS_PER_S, -1, "helm hard over, no wind at all"};
    s.marks[3] = (struct model_mark){SCENE_WALL_NS - 50 * NS_PER_S, -1, "smell of rubber"};
    s.m->replay.mark_count = 4;
    keys(&s, "t[[[[");
    check(&s, "trend-marks-80x24", 80, 24);
    keys(&s, "k");
    for (int i = 0; i < 120; i++)
        keys(&s, i % 2 ? "a" : "b");
    assert_true(strlen(s.ui.input) < sizeof s.ui.input);
    check(&s, "mark-question-80x24", 80, 24);
    scene_free(&s);
}

static void trend__span__goes_from_two_minutes_to_36_hours(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    ui_key(&s.ui, s.m, 't');
    for (int i = 0; i < 20; i++)
        ui_key(&s.ui, s.m, '[');
    assert_true(trend_spans_ns[s.ui.trend.span] == 120 * NS_PER_S);
    for (int i = 0; i < 20; i++)
        ui_key(&s.ui, s.m, ']');
    assert_true(trend_spans_ns[s.ui.trend.span] == 36 * 3600 * NS_PER_S);
    check(&s, "trend-36h-80x24", 80, 24);
    scene_free(&s);
}

static void trend__a_gap__stays_blank(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 1);
    struct model_channel *c = &s.m->channels[1];
    struct history *h = history_new();
    for (int age = 500; age >= 0; age--)
        if (age > 300 || age < 200)
            history_add(h, SCENE_MONO_NS - age * NS_PER_S, 28);
    history_free((struct history *)(uintptr_t)c->history);
    c->history = h;
    ui_key(&s.ui, s.m, 't');
    check(&s, "trend-gap-80x24", 80, 24);
    scene_free(&s);
}

static void trend__four_curves__then_one_again(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    ui_key(&s.ui, s.m, 't');
    ui_key(&s.ui, s.m, '+');
    ui_key(&s.ui, s.m, '+');
    assert_int_equal(s.ui.trend.count, 4);
    check(&s, "trend-four-120x40", 120, 40);
    ui_key(&s.ui, s.m, '+');
    assert_int_equal(s.ui.trend.count, 1);
    scene_free(&s);
}

/* A user's long name takes 28 columns of the legend, and leaves the figure beside it whole. */
static void trend__long_name__is_cut_and_its_figure_is_not(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 1);
    for (size_t i = 0; i < s.m->channel_count; i++)
        if (strcmp(s.m->channels[i].key, "exhaust.0") == 0)
            s.m->channels[i].label = "elbow behind the second bulkhead";
    ui_open_trend(&s.ui, "exhaust.0");
    char *picture = scene_picture(&s, 100, 30, false, "dusk");
    assert_non_null(strstr(picture, " 1 elbow behind the second b\u2026  "));
    free(picture);
    scene_free(&s);
}

static void alerts__many__twenty_fit_where_it_is_tall_and_a_sign_says_more(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    scene_many_alerts(&s);
    ui_key(&s.ui, s.m, 'l');
    assert_int_equal(s.ui.view, VIEW_ALERTS);
    sweep(&s, "alerts", "contrast");
    char *text = scene_picture(&s, 120, 40, false, "day");
    int seen = 0;
    for (const char *p = text; (p = strstr(p, "TANK ")) && p < strstr(text, "---- roles"); p++)
        seen++;
    assert_true(seen >= 20); /* MSC.302(87) 9.5: at least 20 recent alerts */
    free(text);
    text = scene_picture(&s, 80, 24, false, "day");
    assert_non_null(strstr(text, "and 18 more"));
    free(text);
    scene_free(&s);
}

static void alerts__acknowledge__takes_the_chosen_one_alone(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    scene_many_alerts(&s);
    ui_key(&s.ui, s.m, 'l');
    ui_key(&s.ui, s.m, KEY_CODE_DOWN);
    ui_key(&s.ui, s.m, 'a');
    assert_int_equal(s.ui.request.kind, REQUEST_ACKNOWLEDGE);
    assert_int_equal(s.ui.request.id, s.m->alerts[1]->id);
    ui_key(&s.ui, s.m, KEY_CODE_DOWN); /* the third is acknowledged already */
    ui_key(&s.ui, s.m, 'a');
    assert_int_equal(s.ui.request.kind, REQUEST_NONE);
    scene_free(&s);
}

/* Noise moves no row: what is still keeps its place, whatever it did in the last seconds. */
static void movers__still_ones__keep_their_places(void **state)
{
    (void)state;
    struct scene s;
    struct mover before[64], after[64];
    scene_calm(&s, 2);
    int n = movers_rank(s.m, "", before, 64);
    assert_true(n > 10);
    for (int k = 1; k <= 20; k++) {
        s.m->now.mono_ns -= 2 * NS_PER_S;
        assert_int_equal(movers_rank(s.m, "", after, 64), n);
        for (int i = 0; i < n; i++) {
            assert_true(after[i].since_ns < 0);
            assert_ptr_equal(after[i].channel, before[i].channel);
        }
    }
    scene_free(&s);
}

static void movers__a_warmed_sensor__comes_to_the_top(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    for (size_t i = 0; i < s.m->channel_count; i++)
        if (strcmp(s.m->channels[i].key, "sea.0") == 0)
            scene_climb(&s.m->channels[i], 24, 6);
    struct mover movers[64];
    int n = movers_rank(s.m, "", movers, 64);
    assert_int_equal(n, (int)s.m->channel_count - 2); /* hours only ever count up */
    assert_string_equal(movers[0].channel->key, "sea.0");
    assert_true(movers[0].since_ns >= 0 && movers[0].since_ns <= 10 * NS_PER_S);
    assert_near(movers[0].change, 5.6, 1.0);
    for (int i = 1; i < n; i++)
        assert_true(movers[i].since_ns < 0);
    ui_key(&s.ui, s.m, 'm');
    sweep(&s, "movers", "safe");
    scene_free(&s);
}

static void bus__lists_senders_and_itself(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    snprintf(s.m->sense[0], sizeof s.m->sense[0],
             "lost water told in 12 s: exhaust every 2 s, "
             "speed, fuel rate for load, twin, no sea");
    snprintf(s.m->sense[1], sizeof s.m->sense[1], "BLIND to lost water: no exhaust temperature");
    ui_key(&s.ui, s.m, 'b');
    sweep(&s, "bus", "mono");
    scene_free(&s);
}

/* A box may send hundredths of a degree: no sensor is as fine, and the list rounds them. */
static void alerts__degrees_in_hundredths__are_shown_in_tenths(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    for (size_t i = 0; i < s.m->alert_count; i++) {
        struct alert *a = &s.alerts[i];
        a->decimals = 2;
        a->figures.limit = 93.27;
    }
    ui_key(&s.ui, s.m, 'l');
    char *picture = scene_picture(&s, 120, 40, false, "day");
    assert_non_null(strstr(picture, " 93.3 °C"));
    assert_null(strstr(picture, "93.27"));
    free(picture);
    scene_free(&s);
}

/* The bus view: of an exhaust that an alert tells of, no longer how soon it would be told. */
static void bus__alert_about_an_exhaust__its_line_says_so(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    for (int i = 0; i < 2; i++)
        snprintf(s.m->sense[i], sizeof s.m->sense[i], "lost water told in 1%d s: speed %d", i, i);
    int spoken = -1;
    for (size_t i = 0; i < s.m->channel_count; i++)
        if (s.m->channels[i].id.quantity == QTY_EXHAUST && s.m->channels[i].alert >= 0)
            spoken = s.m->channels[i].engine;
    assert_true(spoken >= 0 && spoken < 2);
    ui_key(&s.ui, s.m, 'b');
    char *picture = scene_picture(&s, 160, 50, false, "day");
    char told[48], quiet[48];
    snprintf(told, sizeof told, "told in an alert: speed %d", spoken);
    snprintf(quiet, sizeof quiet, "lost water told in 1%d s: speed", 1 - spoken);
    assert_non_null(strstr(picture, told));
    assert_non_null(strstr(picture, quiet));
    free(picture);
    scene_free(&s);
}

/* What is told in time no longer stands beside an exhaust of which an alert tells. */
static void trend__alert_about_an_exhaust__how_soon_it_is_told_is_not_said(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    for (int i = 0; i < 2; i++)
        snprintf(s.m->sense[i], sizeof s.m->sense[i], "lost water told in 1%d s: speed", i);
    int spoken = -1;
    for (size_t i = 0; i < s.m->channel_count; i++) {
        struct model_channel *c = &s.m->channels[i];
        if (c->id.quantity == QTY_EXHAUST && c->alert >= 0)
            spoken = c->engine;
    }
    assert_true(spoken >= 0 && spoken < 2);
    ui_key(&s.ui, s.m, 't');
    char *picture = scene_picture(&s, 160, 50, false, "day");
    char told[32], quiet[32];
    snprintf(told, sizeof told, "told in 1%d s", spoken);
    snprintf(quiet, sizeof quiet, "told in 1%d s", 1 - spoken);
    assert_null(strstr(picture, told));
    assert_non_null(strstr(picture, quiet));
    free(picture);
    scene_free(&s);
}

/* Every key in every view, at sizes from nothing up: nothing leaves the grid (the sanitizers
 * watch), Esc always ends on the board, and only a request says that anything is to be done. */
static void every_key__in_every_view__is_safe(void **state)
{
    (void)state;
    static const int view_keys[] = {'o', 'h', 't', 'l', 'm', 'b'};
    static const int dims[] = {1, 3, 19, 40, 80, 131};
    struct scene s;
    scene_trouble(&s, 2);
    for (size_t v = 0; v < 6; v++)
        for (size_t k = 0; k < key_table_count; k++)
            for (int d = 0; d < 6; d++) {
                s.ui.cols = dims[d];
                s.ui.rows = dims[d] / 3 + 1;
                ui_key(&s.ui, s.m, view_keys[v]);
                ui_key(&s.ui, s.m, key_table[k].key);
                free(scene_picture(&s, dims[d], dims[d] / 3 + 1, d % 2, "day"));
                for (int i = 0; i < 6; i++)
                    ui_key(&s.ui, s.m, KEY_ESCAPE_CODE);
                assert_int_equal(s.ui.overlay, OVERLAY_NONE);
                assert_int_equal(s.ui.view, VIEW_BOARD);
            }
    scene_free(&s);
}

static void click__on_a_row__chooses_it(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    char *text = scene_picture(&s, 80, 24, false, "day");
    int y = 0;
    for (const char *p = text; *p && strncmp(p, "exhaust", 7) != 0; p++)
        y += *p == '\n';
    free(text);
    assert_true(ui_click(&s.ui, s.m, 60, y));
    assert_string_equal(s.ui.chosen, "exhaust.1");
    assert_true(ui_click(&s.ui, s.m, 20, y));
    assert_string_equal(s.ui.chosen, "exhaust.0");
    assert_false(ui_click(&s.ui, s.m, 20, 0));
    scene_free(&s);
}

/* The first row of the list stands below its head; above it and below the last nothing is hit. */
static void click__in_movers__chooses_from_the_first_row_to_the_last(void **state)
{
    (void)state;
    struct scene s;
    struct mover movers[64];
    scene_calm(&s, 2);
    int n = movers_rank(s.m, "", movers, 64), y = 0;
    ui_key(&s.ui, s.m, 'm');
    char *text = scene_picture(&s, 80, 40, false, "day");
    const char *head = strstr(text, "what moves");
    assert_non_null(head);
    for (const char *p = text; p < head; p++)
        y += *p == '\n';
    y++;
    free(text);
    assert_false(ui_click(&s.ui, s.m, 20, y - 1));
    assert_true(ui_click(&s.ui, s.m, 20, y));
    assert_string_equal(s.ui.chosen, movers[0].channel->key);
    assert_true(ui_click(&s.ui, s.m, 20, y + n - 1));
    assert_string_equal(s.ui.chosen, movers[n - 1].channel->key);
    assert_false(ui_click(&s.ui, s.m, 20, y + n));
    scene_free(&s);
}

static void find__filters_rows_and_esc_shows_all(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    ui_key(&s.ui, s.m, '/');
    for (const char *p = "fuel"; *p; p++)
        ui_key(&s.ui, s.m, *p);
    ui_key(&s.ui, s.m, KEY_ENTER_CODE);
    assert_string_equal(s.ui.filter, "fuel");
    check(&s, "board-find-80x24", 80, 24);
    ui_key(&s.ui, s.m, KEY_ESCAPE_CODE);
    assert_string_equal(s.ui.filter, "");
    scene_free(&s);
    /* In the list of alerts too; what is hidden is not what `a` acknowledges. */
    scene_calm(&s, 2);
    scene_many_alerts(&s);
    ui_key(&s.ui, s.m, 'l');
    for (const char *p = "/TANK 7\r"; *p; p++)
        ui_key(&s.ui, s.m, *p);
    check(&s, "alerts-find-80x24", 80, 24);
    ui_key(&s.ui, s.m, 'a');
    assert_int_equal(s.ui.request.kind, REQUEST_ACKNOWLEDGE);
    assert_int_equal(s.ui.request.id, s.alerts[7].id);
    scene_free(&s);
}

/* A low screen has one line for all of it; a bus without load is not one whose load is not known.
 */
static void bus__low_screen__load_of_nought_is_said(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    ui_key(&s.ui, s.m, 'b');
    s.m->bus.load_percent = 0;
    char *text = scene_picture(&s, 80, 9, false, "day");
    assert_non_null(strstr(text, "load 0.0 %"));
    free(text);
    s.m->bus.load_percent = -1;
    text = scene_picture(&s, 80, 9, false, "day");
    assert_non_null(strstr(text, "load -- %"));
    free(text);
    scene_free(&s);
}

static void bus__trouble_codes_from_before__stand_with_their_sender(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    ui_key(&s.ui, s.m, 'b');
    assert_true(s.m->source_count > 1);
    s.m->sources[0].earlier = 2;
    s.m->sources[0].earlier_spn = 110;
    s.m->sources[0].earlier_fmi = 15;
    s.m->sources[1].earlier = 1;
    char *text = scene_picture(&s, 120, 40, false, "day");
    assert_non_null(strstr(text, "2 earlier codes, SPN 110 FMI 15; "));
    assert_non_null(strstr(text, "1 earlier code, SPN 0 FMI 0; "));
    free(text);
    scene_free(&s);
}

/* Where an engine's speed is not on the bus the line that says all is well says so too. */
static void board__an_engine_without_speed__is_said(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    s.m->careful[0] = true;
    char *text = scene_picture(&s, 80, 24, false, "day");
    assert_non_null(strstr(text, "PORT sends no speed"));
    free(text);
    scene_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(helm__trouble__large_figures_in_a_frame),
        cmocka_unit_test(mark__asks_for_words__and_trend_shows_them),
        cmocka_unit_test(trend__opens_on_the_channel_in_trouble_with_its_twin),
        cmocka_unit_test(trend__span__goes_from_two_minutes_to_36_hours),
        cmocka_unit_test(trend__a_gap__stays_blank),
        cmocka_unit_test(trend__four_curves__then_one_again),
        cmocka_unit_test(trend__long_name__is_cut_and_its_figure_is_not),
        cmocka_unit_test(alerts__many__twenty_fit_where_it_is_tall_and_a_sign_says_more),
        cmocka_unit_test(alerts__acknowledge__takes_the_chosen_one_alone),
        cmocka_unit_test(movers__still_ones__keep_their_places),
        cmocka_unit_test(movers__a_warmed_sensor__comes_to_the_top),
        cmocka_unit_test(bus__lists_senders_and_itself),
        cmocka_unit_test(alerts__degrees_in_hundredths__are_shown_in_tenths),
        cmocka_unit_test(bus__alert_about_an_exhaust__its_line_says_so),
        cmocka_unit_test(trend__alert_about_an_exhaust__how_soon_it_is_told_is_not_said),
        cmocka_unit_test(bus__low_screen__load_of_nought_is_said),
        cmocka_unit_test(bus__trouble_codes_from_before__stand_with_their_sender),
        cmocka_unit_test(every_key__in_every_view__is_safe),
        cmocka_unit_test(click__on_a_row__chooses_it),
        cmocka_unit_test(click__in_movers__chooses_from_the_first_row_to_the_last),
        cmocka_unit_test(find__filters_rows_and_esc_shows_all),
        cmocka_unit_test(board__an_engine_without_speed__is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
