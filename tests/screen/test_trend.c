/* The trend view by hand: its cursors and what they say, zoom, spans, curves added and changed, its
 * legend. At 69 columns the plot has 60: ten minutes are cells of 10 s, the last from 4990 s on
 * (now is 5000 s, 14:12:07). */
#include "drawn_scene.h"
#include "screen/trend.h"

#include "screen/bars.h"

static int calm(void **state)
{
    (void)state;
    scene_calm(&s, 1);
    s.ui.cols = 69;
    s.ui.rows = 24;
    s.ui.view = VIEW_TREND;
    ui_open_trend(&s.ui, "exhaust.0");
    s.ui.trend.span = 2;
    return 0;
}

static void does(enum action a)
{
    assert_true(trend_handle(&s.ui, s.m, a));
}

static void cursor_at(int second)
{
    assert_true(s.ui.trend.cursor_on);
    assert_true(s.ui.trend.cursor_ns == second * NS_PER_S);
}

/* ---- keys ---- */

static void cursor__by_one_and_by_ten__stops_at_the_edges(void **state)
{
    (void)state;
    s.ui.trend.second_on = true; /* of before: a new cursor is alone */
    does(ACTION_LEFT);
    cursor_at(4990);
    assert_false(s.ui.trend.second_on);
    does(ACTION_LEFT);
    cursor_at(4980);
    does(ACTION_PAGE_UP);
    cursor_at(4880);
    does(ACTION_RIGHT);
    cursor_at(4890);
    does(ACTION_PAGE_DOWN);
    cursor_at(4990);
    does(ACTION_RIGHT);
    cursor_at(4990);
    for (int i = 0; i < 7; i++)
        does(ACTION_PAGE_UP);
    cursor_at(4400);
    does(ACTION_LEFT);
    cursor_at(4400);
}

/* Enter sets the second where the first is, and takes it away again; zoom goes to what lies between
 * them, from ten seconds on, and back. */
static void zoom__to_what_lies_between_two_cursors(void **state)
{
    struct ui_trend *t = &s.ui.trend;

    (void)state;
    does(ACTION_CHOOSE);
    assert_string_equal(s.ui.notice, "set a cursor first: left and right move it");
    assert_false(t->second_on);
    does(ACTION_LEFT);
    does(ACTION_CHOOSE);
    assert_true(t->second_on && t->second_ns == 4990 * NS_PER_S);
    does(ACTION_CHOOSE);
    assert_false(t->second_on);
    does(ACTION_ZOOM);
    assert_string_equal(s.ui.notice,
                        "zoom needs two cursors: left and right, enter sets the second");
    assert_true(t->zoom_ns == 0);
    s.ui.notice[0] = '\0';
    does(ACTION_CHOOSE);
    does(ACTION_ZOOM); /* both at one place */
    assert_true(s.ui.notice[0] && t->zoom_ns == 0);
    does(ACTION_LEFT);
    does(ACTION_ZOOM);
    assert_true(t->zoom_ns == 10 * NS_PER_S && t->zoom_from_ns == 4980 * NS_PER_S);
    assert_false(t->cursor_on || t->second_on);
    assert_true(trend_span_ns(&s.ui) == 10 * NS_PER_S);
    assert_true(trend_end_ns(&s.ui, s.m) == 4990 * NS_PER_S);
    does(ACTION_ZOOM);
    assert_true(t->zoom_ns == 0);
    assert_true(trend_end_ns(&s.ui, s.m) == 5000 * NS_PER_S);
    t->cursor_on = t->second_on = true;
    t->second_ns = 4000 * NS_PER_S; /* the other way round */
    t->cursor_ns = 4010 * NS_PER_S - 1;
    does(ACTION_ZOOM);
    assert_true(t->zoom_ns == 0);
    t->cursor_ns++;
    does(ACTION_ZOOM);
    assert_true(t->zoom_ns == 10 * NS_PER_S && t->zoom_from_ns == 4000 * NS_PER_S);
    does(ACTION_LONGER); /* another span is no zoom */
    assert_true(t->zoom_ns == 0 && trend_span_ns(&s.ui) == 1800 * NS_PER_S);
    t->zoom_ns = NS_PER_S;
    does(ACTION_SHORTER);
    assert_true(t->zoom_ns == 0 && trend_span_ns(&s.ui) == 600 * NS_PER_S);
}

static void spans__from_the_shortest_to_the_longest(void **state)
{
    static const int minutes[] = {2, 5, 10, 30, 60, 120, 180, 360, 720, 1440, 2160};

    (void)state;
    s.ui.trend.span = 0;
    does(ACTION_SHORTER);
    for (size_t i = 0; i < sizeof minutes / sizeof minutes[0]; i++) {
        assert_true(trend_span_ns(&s.ui) == minutes[i] * 60 * NS_PER_S);
        does(ACTION_LONGER);
    }
    assert_true(trend_span_ns(&s.ui) == 2160 * 60 * NS_PER_S);
}

/* One thing at a time, the newest first; then there is nothing of its own to go back from. */
static void back__second_cursor_zoom(void **state)
{
    struct ui_trend *t = &s.ui.trend;

    (void)state;
    assert_false(trend_handle(&s.ui, s.m, ACTION_BACK));
    t->cursor_on = t->second_on = true;
    t->zoom_ns = 5 * NS_PER_S;
    does(ACTION_BACK);
    assert_true(t->cursor_on && !t->second_on && t->zoom_ns);
    does(ACTION_BACK);
    assert_true(!t->cursor_on && t->zoom_ns);
    does(ACTION_BACK);
    assert_true(!t->zoom_ns);
    assert_false(trend_handle(&s.ui, s.m, ACTION_BACK));
    assert_false(trend_handle(&s.ui, s.m, ACTION_UNITS));
}

static void curves(int count, const char *first, const char *last)
{
    assert_int_equal(s.ui.trend.count, count);
    assert_string_equal(s.ui.trend.keys[0], first);
    assert_string_equal(s.ui.trend.keys[count - 1], last);
}

/* In the order of the board: speed, exhaust, coolant, oil pressure, load, fuel rate, hours; and
 * round from the last to the first. */
static void curves__added_and_changed_in_the_order_of_the_board(void **state)
{
    (void)state;
    does(ACTION_ADD);
    curves(2, "exhaust.0", "coolant.0");
    does(ACTION_ADD);
    curves(3, "exhaust.0", "oil-pressure.0");
    does(ACTION_ADD);
    curves(4, "exhaust.0", "load.0");
    does(ACTION_ADD);
    curves(1, "exhaust.0", "exhaust.0");
    does(ACTION_UP);
    curves(1, "rpm.0", "rpm.0");
    assert_string_equal(s.ui.chosen, "rpm.0");
    does(ACTION_UP); /* the last of the tables */
    static const char last[] = "sea.0";
    assert_string_equal(s.ui.chosen, last);
    does(ACTION_ADD); /* what comes after the last is the first */
    curves(2, last, "rpm.0");
    does(ACTION_ADD); /* what is shown already is passed over */
    curves(3, last, "exhaust.0");
    does(ACTION_DOWN); /* one curve again, of the next that is not it */
    curves(1, "rpm.0", "rpm.0");
    does(ACTION_NEXT_FIELD);
    assert_true(s.ui.trend.together);
    does(ACTION_NEXT_FIELD);
    assert_false(s.ui.trend.together);
    s.ui.trend.count = 0;
    does(ACTION_ADD); /* nothing to begin from */
    assert_int_equal(s.ui.trend.count, 0);
    does(ACTION_DOWN);
    assert_int_equal(s.ui.trend.count, 1);
    snprintf(s.ui.filter, sizeof s.ui.filter, "coolant"); /* what is looked for alone */
    does(ACTION_DOWN);
    curves(1, "coolant.0", "coolant.0");
    does(ACTION_ADD);
    curves(1, "coolant.0", "coolant.0");
}

/* ---- what is drawn ---- */

static struct model_channel *heard(const char *key, const double readings[][2], size_t n)
{
    for (size_t i = 0; i < s.m->channel_count; i++) {
        struct model_channel *c = &s.m->channels[i];
        if (strcmp(c->key, key) != 0)
            continue;
        struct history *h = history_new();
        assert_non_null(h);
        for (size_t k = 0; k < n; k++)
            history_add(h, (int64_t)(readings[k][0] * 1e9), readings[k][1]);
        history_free((struct history *)(uintptr_t)c->history);
        c->history = h;
        return c;
    }
    fail_msg("no %s", key);
    return NULL;
}

static const char *legend(int i)
{
    grid_fini(&drawn);
    begin(s.ui.cols, 24, false);
    trend_draw(&drawn, (struct rect){0, 0, s.ui.cols, 24}, s.m, &s.ui);
    check_bold();
    return line(i);
}

/* A line that ends with the span at the right edge. */
static void says(const char *text, const char *span)
{
    char wanted[400];
    int gap = s.ui.cols - 1 - grid_width(&drawn, text) - grid_width(&drawn, span);
    snprintf(wanted, sizeof wanted, "%s%*s%s", text, gap, "", span);
    assert_string_equal(legend(0), wanted);
}

static const double few[][2] = {{4405, 25}, {4980, 20}, {4990, 29}, {4995, 31}};

static void legend__reading_range_and_limit(void **state)
{
    (void)state;
    struct model_channel *c = heard("exhaust.0", few, 4);
    c->value = c->shown = 31;
    begin(1, 1, false);
    says(" 1 exhaust  31 °C  20 to 31  limit 93", "10 min");
    snprintf(s.m->sense[0], sizeof s.m->sense[0], "tells in 25 s: by the rise");
    says(" 1 exhaust  31 °C  20 to 31  limit 93  tells in 25 s", "10 min");
    snprintf(s.m->sense[0], sizeof s.m->sense[0], "would tell it in 25 s: by"); /* one too many */
    says(" 1 exhaust  31 °C  20 to 31  limit 93", "10 min");
    snprintf(s.m->sense[0], sizeof s.m->sense[0], "tells in 25 s: by the rise");
    c->alert = 0; /* something of it is told already */
    says(" 1 exhaust  31 °C  20 to 31  limit 93", "10 min");
    c->alert = -1;
    c->status = READING_STALE;
    c->age_ns = 45 * NS_PER_S;
    says(" 1 exhaust  31 °C, 45 s old  20 to 31  limit 93", "10 min");
    c->has_limit = false;
    says(" 1 exhaust  31 °C, 45 s old  20 to 31  tells in 25 s", "10 min");
    s.ui.trend.zoom_from_ns = 4400 * NS_PER_S; /* in the past: what is now is another matter */
    s.ui.trend.zoom_ns = 300 * NS_PER_S;
    says(" 1 exhaust   °C  25 to 25  tells in 25 s", "5 min");
    s.ui.trend.zoom_from_ns = 4500 * NS_PER_S;
    says(" 1 exhaust   °C", "5 min");
    s.ui.trend.zoom_ns = 0;
    s.ui.trend.span = 1; /* a cell is a second at least: 60 of 5 s */
    says(" 1 exhaust  31 °C, 45 s old  20 to 31  tells in 25 s", "5 min");
    s.ui.trend.zoom_from_ns = 4960 * NS_PER_S;
    s.ui.trend.zoom_ns = 20 * NS_PER_S; /* 60 cells of a second */
    says(" 1 exhaust   °C", "1 min");
    grid_fini(&drawn);
}

/* What happened just after the later cursor, the 31 of 4995 s, is not told of the time between
 * them. */
static void cursors__say_what_they_are_at(void **state)
{
    struct ui_trend *t = &s.ui.trend;

    (void)state;
    heard("exhaust.0", few, 4);
    begin(1, 1, false);
    t->cursor_on = true;
    t->cursor_ns = 4990 * NS_PER_S;
    says(" 1 exhaust  14:11:57  30 °C  (29 to 31)", "10 min");
    t->cursor_ns = 4970 * NS_PER_S;
    says(" 1 exhaust  14:11:37  --", "10 min");
    t->cursor_ns = 4000 * NS_PER_S; /* before the first cell: that */
    says(" 1 exhaust  14:02:07  25 °C  (25 to 25)", "10 min");
    t->cursor_ns = 6000 * NS_PER_S; /* and the last */
    says(" 1 exhaust  14:11:57  30 °C  (29 to 31)", "10 min");
    t->second_on = true;
    t->second_ns = 4980 * NS_PER_S;
    s.ui.cols = 109; /* 100 cells of 6 s, that begin at 4980, 4986, 4992 */
    t->cursor_ns = 4995 * NS_PER_S;
    says(" 1 exhaust  14:11:47 to 14:11:59  lowest 20  highest 31 °C  change +11", "10 min");
    t->cursor_ns = 4980 * NS_PER_S;
    t->second_ns = 4990 * NS_PER_S;
    says(" 1 exhaust  14:11:47 to 14:11:53  lowest 20  highest 29 °C  change +9", "10 min");
    s.m->units.temperature = UNIT_F;
    says(" 1 exhaust  14:11:47 to 14:11:53  lowest 68  highest 84 °F  change +16", "10 min");
    s.m->units.temperature = UNIT_C;
    t->cursor_ns = 4404 * NS_PER_S; /* 25, then 20 */
    t->second_ns = 4980 * NS_PER_S;
    says(" 1 exhaust  14:02:11 to 14:11:47  lowest 20  highest 25 °C  change -5", "10 min");
    t->cursor_ns = 4970 * NS_PER_S; /* nothing to change from */
    says(" 1 exhaust  14:11:35 to 14:11:47  lowest 20  highest 20 °C", "10 min");
    t->second_ns = 4960 * NS_PER_S;
    says(" 1 exhaust  14:11:23 to 14:11:35  --", "10 min");
    grid_fini(&drawn);
}

/* Two curves have a piece of their line before their names; with one scale for both that of another
 * unit has its own. */
static void legend__of_two_curves(void **state)
{
    static const double volts[][2] = {{4990, 12.6}};

    (void)state;
    heard("exhaust.0", few, 4)->shown = 31;
    heard("battery-volts.0", volts, 1)->shown = 12.6;
    heard("coolant.0", few, 4)->shown = 31;
    s.ui.cols = 109;
    snprintf(s.ui.trend.keys[1], sizeof s.ui.trend.keys[1], "battery-volts.0");
    snprintf(s.ui.trend.keys[2], sizeof s.ui.trend.keys[2], "coolant.0");
    s.ui.trend.count = 3;
    begin(1, 1, false);
    says(" ━━ 1 exhaust  31 °C  20 to 31  limit 93", "10 min");
    assert_string_equal(legend(1), " ━━ 2 house  12.6 V  12.6 to 12.6  limit 24.0");
    s.ui.trend.together = true;
    says(" ━━ 1 exhaust  31 °C  20 to 31  limit 93", "10 min");
    assert_string_equal(legend(1),
                        " ━━ 2 house  12.6 V  12.6 to 12.6, on a scale of its own  limit 24.0");
    assert_string_equal(legend(2), " ━━ 3 coolant  31 °C  20 to 31  limit 100");
    grid_fini(&drawn);
}

/* The cursor's line stands in its column, and nothing of the curve is lost below it. */
static void cursor__stands_in_its_column(void **state)
{
    (void)state;
    heard("exhaust.0", few, 4);
    s.ui.trend.cursor_on = s.ui.trend.second_on = true;
    s.ui.trend.cursor_ns = 4700 * NS_PER_S;
    s.ui.trend.second_ns = 4400 * NS_PER_S;
    begin(1, 1, false);
    legend(0);
    assert_int_equal(grid_at(&drawn, 8, 1)->ch, 0x25BC);
    assert_int_equal(grid_at(&drawn, 38, 1)->ch, 0x25BC);
    int kept = 0;
    for (int y = 2; y < 23; y++) {
        assert_int_equal(grid_at(&drawn, 38, y)->ch == 0x2502 ||
                             grid_at(&drawn, 38, y)->role == ROLE_LIMIT,
                         true);
        kept += grid_at(&drawn, 8, y)->role == ROLE_SERIES_1;
    }
    assert_true(kept > 0);
    s.ui.trend.second_on = false;
    legend(0);
    assert_int_not_equal(grid_at(&drawn, 8, 1)->ch, 0x25BC);
    grid_fini(&drawn);
    begin(69, 24, false);
    s.ui.trend.count = 0;
    trend_draw(&drawn, (struct rect){0, 3, 69, 20}, s.m, &s.ui);
    assert_string_equal(line(3), " choose a channel on the board first");
    grid_fini(&drawn);
}

#define WITH_SCENE(f) cmocka_unit_test_setup_teardown(f, calm, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_SCENE(cursor__by_one_and_by_ten__stops_at_the_edges),
        WITH_SCENE(zoom__to_what_lies_between_two_cursors),
        WITH_SCENE(spans__from_the_shortest_to_the_longest),
        WITH_SCENE(back__second_cursor_zoom),
        WITH_SCENE(curves__added_and_changed_in_the_order_of_the_board),
        WITH_SCENE(legend__reading_range_and_limit),
        WITH_SCENE(cursors__say_what_they_are_at),
        WITH_SCENE(legend__of_two_curves),
        WITH_SCENE(cursor__stands_in_its_column),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
