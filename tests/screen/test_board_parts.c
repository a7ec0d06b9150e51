/* Parts of the board by hand: which letters flash, what is said of old readings and of the season,
 * which charts stand beside the keel, and the list of alerts below it. ASCII, so that bytes are
 * columns. */
#include "drawn_scene.h"
#include "screen/board.h"

static int calm(void **state)
{
    (void)state;
    scene_calm(&s, 2);
    return 0;
}

static void draw(int w, int h)
{
    draw_by(board_draw, w, h);
}

static struct model_channel *channel(const char *key)
{
    struct model_channel *c = (struct model_channel *)(uintptr_t)model_find(s.m, key);
    assert_non_null(c);
    return c;
}

/* The line whose keel has this label. */
static int row_of(const char *label)
{
    char wanted[40];
    snprintf(wanted, sizeof wanted, "| %s ", label);
    for (int y = 0; y < drawn.rows; y++)
        if (strstr(line(y), wanted))
            return y;
    fail_msg("no row of %s", label);
    return 0;
}

/* The look of a letter in the left or the right half of a row; -1 where it is not there. */
static int look_of(const char *label, int half, char letter)
{
    int y = row_of(label), w = drawn.cols / 2;
    for (int x = half * w; x < half * w + w; x++) {
        const struct cell *c = grid_at(&drawn, x, y);
        if (c->ch == (uint32_t)letter && c->role >= ROLE_CAUTION && c->role <= ROLE_EMERGENCY)
            return c->attr;
    }
    return -1;
}

static void letters__flash_while_they_wait_for_an_answer(void **state)
{
    (void)state;
    scene_alert(&s, PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, "exhaust.0", "x");
    scene_alert(&s, PRIORITY_ALARM, ALERT_ACKNOWLEDGED, "exhaust.1", "x");
    scene_alert(&s, PRIORITY_WARNING, ALERT_SILENCED, "coolant.0", "x");
    scene_alert(&s, PRIORITY_CAUTION, ALERT_UNACKNOWLEDGED, "coolant.1", "x");
    s.ui.flash = true;
    draw(80, 24);
    assert_int_equal(look_of("exhaust", 0, 'A'), ATTR_REVERSE);
    assert_int_equal(look_of("exhaust", 1, 'A'), 0);
    assert_int_equal(look_of("coolant", 0, 'W'), ATTR_REVERSE);
    assert_int_equal(look_of("coolant", 1, 'C'), 0);
    assert_int_equal(look_of("speed", 0, 'A'), -1);
    s.ui.flash = false;
    draw(80, 24);
    assert_int_equal(look_of("exhaust", 0, 'A'), 0);
    grid_fini(&drawn);
}

/* In the place of a trend: how old it is, in fewer letters where there is no room; off; and nothing
 * of a sensor that has no reading. */
static void age__in_the_place_of_the_trend(void **state)
{
    static const struct {
        enum reading_status status;
        bool off;
        int w;
        const char *text;
    } rows[] = {{READING_STALE, false, 120, "45 s old"},
                {READING_STALE, false, 60, "45s old"},
                {READING_STALE, true, 120, "off"},
                {READING_NOT_AVAILABLE, true, 120, "off"},
                {READING_OK, true, 120, "off"}};

    (void)state;
    struct model_channel *c = channel("exhaust.1");
    c->age_ns = 45 * NS_PER_S;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        c->status = rows[i].status;
        c->off = rows[i].off;
        draw(rows[i].w, 24);
        assert_non_null(strstr(line(row_of("exhaust")), rows[i].text));
    }
    c->off = false;
    c->status = READING_NOT_AVAILABLE;
    draw(120, 24);
    assert_null(strstr(line(row_of("exhaust")), "old"));
    c->status = READING_ERROR;
    draw(120, 24);
    assert_null(strstr(line(row_of("exhaust")), "old"));
    assert_non_null(strstr(line(row_of("exhaust")), "err"));
    grid_fini(&drawn);
}

/* How far it stands from the season's first trips: a tenth below one unit, a sign, a month. */
static void season__over_the_oldest_part_of_the_trend(void **state)
{
    static const struct {
        double season;
        bool share;
        enum unit unit;
        const char *text;
    } rows[] = {{4, false, UNIT_C, "May+4 "},      {-4.4, false, UNIT_C, "May-4 "},
                {0.94, false, UNIT_C, "May+0.9 "}, {-0.94, false, UNIT_C, "May-0.9 "},
                {1, false, UNIT_C, "May+1 "},      {0.07, true, UNIT_C, "May+7% "},
                {-0.5, true, UNIT_C, "May-50% "},  {5, false, UNIT_F, "May+9 "}};

    (void)state;
    struct model_channel *c = channel("exhaust.1");
    c->has_season = true;
    c->season_since = "May 2025";
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        s.m->units.temperature = rows[i].unit;
        c->season = rows[i].season;
        c->season_is_share = rows[i].share;
        draw(140, 24);
        assert_non_null(strstr(line(row_of("exhaust")), rows[i].text));
    }
    c->off = true;
    draw(140, 24);
    assert_null(strstr(line(row_of("exhaust")), "May"));
    c->off = false;
    c->has_season = false;
    draw(140, 24);
    assert_null(strstr(line(row_of("exhaust")), "May"));
    grid_fini(&drawn);
}

/* ---- charts ---- */

/* Headings of charts from above, as far as their first word. */
static void charts(uint16_t first, uint16_t second, const char *wanted)
{
    char heads[200] = "";
    s.ui.chart[0] = first;
    s.ui.chart[1] = second;
    draw(200, 60);
    for (int y = 0; y < drawn.rows; y++)
        for (int x = 97; x < 100; x++) {
            const struct cell *c = grid_at(&drawn, x, y);
            if (!(c->attr & ATTR_BOLD) || c->ch == ' ' ||
                (grid_at(&drawn, x - 1, y)->attr & ATTR_BOLD))
                continue;
            size_t n = strlen(heads);
            for (int i = x; grid_at(&drawn, i, y)->ch != ' '; i++)
                heads[n++] = (char)grid_at(&drawn, i, y)->ch;
            heads[n++] = ' ';
            heads[n] = '\0';
        }
    assert_string_equal(heads, wanted);
}

static void charts__as_chosen_and_none_twice(void **state)
{
    (void)state;
    charts(0, 0, "exhaust coolant speed ");
    charts(0, QTY_LOAD, "exhaust load coolant ");
    charts(QTY_LOAD, QTY_OIL_PRESSURE, "exhaust load oil ");
    charts(QTY_EXHAUST, QTY_SPEED_GROUND, "exhaust coolant speed ");
    charts(QTY_EXHAUST, QTY_RPM, "exhaust speed coolant ");
    charts(QTY_RPM, QTY_RPM, "exhaust speed coolant ");
    charts(QTY_COOLANT, QTY_COOLANT, "exhaust coolant speed ");
    grid_fini(&drawn);
}

static void next(uint16_t first, uint16_t second)
{
    assert_true(board_handle(&s.ui, s.m, ACTION_CHARTS));
    assert_int_equal(s.ui.chart[0], first);
    assert_int_equal(s.ui.chart[1], second);
}

/* The next quantity that an engine has; or that of the chosen row, and the one before goes up. */
static void chart_key__next_or_chosen(void **state)
{
    (void)state;
    s.ui.cols = 200;
    s.ui.rows = 60;
    next(0, QTY_LOAD);
    next(0, QTY_OIL_PRESSURE);
    next(0, QTY_FUEL_RATE);
    next(0, QTY_COOLANT); /* neither oil temperature nor boost is there */
    next(0, QTY_EXHAUST);
    next(0, QTY_RPM);
    next(0, QTY_LOAD);
    snprintf(s.ui.chosen, sizeof s.ui.chosen, "exhaust.1");
    next(QTY_LOAD, QTY_EXHAUST);
    next(QTY_LOAD, QTY_RPM); /* it is shown already */
    next(QTY_RPM, QTY_EXHAUST);
    snprintf(s.ui.chosen, sizeof s.ui.chosen, "hours.0"); /* has no curve */
    next(QTY_RPM, QTY_RPM);
    snprintf(s.ui.chosen, sizeof s.ui.chosen, "sea.0"); /* is no engine's */
    next(QTY_RPM, QTY_LOAD);
}

/* ---- the rest ---- */

static void alerts__below_the_keel(void **state)
{
    (void)state;
    draw(200, 60);
    int y = 0;
    while (y < 60 && strncmp(line(y), " alerts", 7) != 0)
        y++;
    assert_true(y < 59);
    assert_memory_equal(line(y + 1), " none since the start", 21);
    scene_alert(&s, PRIORITY_ALARM, ALERT_ACKNOWLEDGED, "exhaust.0", "EXHAUST one");
    s.ended[0] = s.alerts[0];
    snprintf(s.ended[0].text, sizeof s.ended[0].text, "EXHAUST two");
    s.m->ended[0] = &s.ended[0];
    s.m->ended_count = 1;
    draw(200, 60);
    assert_memory_equal(line(y + 1), " 14:11:46 A EXHAUST one", 23);
    assert_non_null(strstr(line(y + 2), " 14:11:46"));
    assert_non_null(strstr(line(y + 2), "EXHAUST two"));
    s.m->clock_known = false;
    draw(200, 60);
    assert_memory_equal(line(y + 1), " +24:39 A EXHAUST one", 21);
    grid_fini(&drawn);
}

static void gathering__says_how_many_so_far(void **state)
{
    (void)state;
    s.m->gathering = true;
    size_t count = s.m->channel_count;
    draw(80, 24);
    char wanted[80];
    snprintf(wanted, sizeof wanted, "  finding out who is there: %zu channels so far", count);
    assert_string_equal(line(1), wanted);
    s.m->channel_count = 1;
    draw(80, 24);
    assert_string_equal(line(1), "  finding out who is there: 1 channel so far");
    check_bold();
    draw(80, 1);
    assert_string_equal(line(0), "");
    s.m->channel_count = count;
    s.m->waiting = "can0"; /* nobody was heard yet: that is said elsewhere */
    draw(80, 24);
    assert_null(strstr(line(1), "finding"));
    grid_fini(&drawn);
}

#define WITH_SCENE(f) cmocka_unit_test_setup_teardown(f, calm, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_SCENE(letters__flash_while_they_wait_for_an_answer),
        WITH_SCENE(age__in_the_place_of_the_trend),
        WITH_SCENE(season__over_the_oldest_part_of_the_trend),
        WITH_SCENE(charts__as_chosen_and_none_twice),
        WITH_SCENE(chart_key__next_or_chosen),
        WITH_SCENE(alerts__below_the_keel),
        WITH_SCENE(gathering__says_how_many_so_far),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
