/* The list of alerts by hand: its rows at each width, what is known of the chosen one and which
 * figures decided it, and how keys go through it. ASCII, so that bytes are columns. */
#include "drawn_scene.h"
#include "screen/alerts_view.h"

static int calm(void **state)
{
    (void)state;
    scene_calm(&s, 2);
    s.ui.view = VIEW_ALERTS;
    return 0;
}

static void draw(int w, int h)
{
    draw_by(alerts_view_draw, w, h);
    check_bold();
}

/* Four of them, 21 s ago, 14:11:46; and one that has ended. */
static void list(void)
{
    scene_alert(&s, PRIORITY_EMERGENCY, ALERT_SILENCED, "", "one");
    scene_alert(&s, PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, "exhaust.0", "two")->repeats = 2;
    scene_alert(&s, PRIORITY_WARNING, ALERT_ACKNOWLEDGED, "", "three");
    struct alert *over = scene_alert(&s, PRIORITY_WARNING, ALERT_RECTIFIED, "", "four");
    over->rectified.mono_ns = over->raised.mono_ns + 9 * NS_PER_S;
    scene_alert(&s, PRIORITY_CAUTION, ALERT_ACKNOWLEDGED, "", "five");
    s.ended[0] = s.alerts[0];
    s.ended[0].id = 9;
    s.ended[0].active = false;
    s.ended[0].rectified.mono_ns = s.ended[0].raised.mono_ns + 125 * NS_PER_S;
    snprintf(s.ended[0].text, sizeof s.ended[0].text, "six");
    s.m->ended[0] = &s.ended[0];
    s.m->ended_count = 1;
}

static void rows__at_each_width(void **state)
{
    static const struct {
        int w;
        const char *lines[6];
    } rows[] = {
        {110,
         {">E emergency  silenced       14:11:46    00:21 one",
          " A alarm      unacknowledged 14:11:46    00:21 two",
          " W warning    acknowledged   14:11:46    00:21 three",
          " W warning    over, unack.   14:11:46    00:09 four",
          " C caution    on             14:11:46    00:21 five",
          " E emergency  ended          14:11:46    02:05 six"}},
        {109,
         {">E silenced 14:11:46    00:21 one", " A unack.   14:11:46    00:21 two",
          " W ack.     14:11:46    00:21 three", " W over     14:11:46    00:09 four",
          " C on       14:11:46    00:21 five", " E ended    14:11:46    02:05 six"}},
        {70,
         {">E silenced 14:11:46    00:21 one", " A unack.   14:11:46    00:21 two",
          " W ack.     14:11:46    00:21 three", " W over     14:11:46    00:09 four",
          " C on       14:11:46    00:21 five", " E ended    14:11:46    02:05 six"}},
        {69,
         {">E new   14:11:46 one", " A new   14:11:46 two", " W ack.  14:11:46 three",
          " W over  14:11:46 four", " C on    14:11:46 five", " E ended 14:11:46 six"}},
        {44,
         {">E new   14:11:46 one", " A new   14:11:46 two", " W ack.  14:11:46 three",
          " W over  14:11:46 four", " C on    14:11:46 five", " E ended 14:11:46 six"}},
        {43, {">E one", " A two", " W three", " W four", " C five", " E six"}},
    };

    (void)state;
    list();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char wanted[160];
        draw(rows[i].w, 14); /* below 16 lines it keeps three for the chosen one */
        for (int y = 0; y < 6; y++) {
            snprintf(wanted, sizeof wanted, "%-*s%s", y == 1 ? rows[i].w - 3 : 0, rows[i].lines[y],
                     y == 1 ? "x3" : ""); /* how often it came stands at the right */
            assert_string_equal(line(1 + y), wanted);
        }
    }
    assert_string_equal(line(0), " 5 listed, 3 to acknowledge, 1 ended");
    s.m->clock_known = false; /* the log began 1500 s before now */
    draw(109, 14);
    assert_string_equal(line(1), ">E silenced +24:39      00:21 one");
    draw(69, 14);
    assert_string_equal(line(1), ">E new   +24:39 one");
    grid_fini(&drawn);
}

/* What is pending flashes in its letter; the rest of a row and what is over never do. */
static void rows__letters_that_flash(void **state)
{
    char roles[120];
    static const char *const wanted[] = {"E", "A", "w", "W", "c", "d"};

    (void)state;
    list();
    s.ui.flash = true;
    draw(109, 14);
    for (int y = 0; y < 6; y++) {
        grid_row_roles(&drawn, 1 + y, roles, sizeof roles);
        assert_int_equal(roles[1], wanted[y][0]);
        for (int x = 2; roles[x]; x++)
            assert_true(roles[x] < 'A' || roles[x] > 'Z');
    }
    s.ui.flash = false;
    draw(109, 14);
    grid_row_roles(&drawn, 1, roles, sizeof roles);
    assert_int_equal(roles[1], 'e');
    grid_fini(&drawn);
}

/* ---- the chosen one ---- */

/* A fact beside the list of 120 columns: its name from column 51 on, its words from 65 on. */
static void fact(int y, const char *name, const char *words)
{
    char wanted[80];
    snprintf(wanted, sizeof wanted, "%-14s%s", name, words);
    if (strlen(line(y)) < 51 || strcmp(line(y) + 51, wanted) != 0)
        fail_msg("'%s' is not '%s'", line(y), wanted);
}

static struct alert *told(void)
{
    struct alert *a =
        scene_alert(&s, PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, "exhaust.0", "EXHAUST 61 C");
    a->limit_passed = (struct stamp){SCENE_WALL_NS - 5 * NS_PER_S, SCENE_MONO_NS - 5 * NS_PER_S};
    a->beyond_ns = 65 * NS_PER_S;
    a->worst = 70;
    a->worse = 1;
    a->worst_at = (struct stamp){SCENE_WALL_NS - 3 * NS_PER_S, SCENE_MONO_NS - 3 * NS_PER_S};
    a->stopped = (struct stamp){SCENE_WALL_NS - 2 * NS_PER_S, SCENE_MONO_NS - 2 * NS_PER_S};
    a->acknowledged = (struct stamp){SCENE_WALL_NS - NS_PER_S, SCENE_MONO_NS - NS_PER_S};
    a->repeats = 1;
    return a;
}

static void story__what_happened_and_when(void **state)
{
    (void)state;
    struct alert *a = told();
    draw(120, 40);
    assert_string_equal(line(0) + 51, "EXHAUST 61 C");
    fact(2, "state", "unacknowledged");
    fact(3, "raised", "14:11:46");
    fact(4, "stands for", "00:21");
    fact(5, "now", "28 C"); /* as its row has it */
    fact(6, "limit", "93 C");
    fact(7, "limit passed", "14:12:02, for 01:05");
    fact(8, "highest", "70 C at 14:12:04");
    fact(9, "stopped", "14:12:05");
    fact(10, "acknowledged", "14:12:06");
    fact(11, "came back", "once");
    a->repeats = 3;
    a->already = true;
    a->worse = -1;
    s.m->units.temperature = UNIT_F;
    draw(120, 40);
    fact(5, "now", "82 F");
    fact(6, "limit", "200 F");
    fact(7, "past limit", "14:12:02 already, for 01:05");
    fact(8, "lowest", "158 F at 14:12:04");
    fact(11, "came back", "3 times");
    s.m->units.temperature = UNIT_C;
    /* what is over: its last value, how long it lasted, since when it is over */
    a->active = false;
    a->state = ALERT_RECTIFIED;
    a->rectified = (struct stamp){SCENE_WALL_NS - NS_PER_S, SCENE_MONO_NS - NS_PER_S};
    a->repeats = 0;
    a->beyond_ns = 0;
    a->already = false;
    draw(120, 40);
    fact(2, "state", "over, unack.");
    fact(4, "lasted", "00:20");
    fact(5, "last value", "61 C");
    fact(7, "limit passed", "14:12:02");
    fact(11, "over since", "14:12:06");
    assert_int_equal(strlen(line(12)), 50); /* it did not come back: the line between alone */
    /* what is not known is left out */
    a->limit_passed = a->worst_at = a->stopped = a->acknowledged = (struct stamp){0};
    a->figures.limit = NAN;
    draw(120, 40);
    fact(5, "last value", "61 C");
    fact(6, "over since", "14:12:06");
    grid_fini(&drawn);
}

/* The reading now counts while it is one, and of the same unit; else what the rule saw. */
static void story__now(void **state)
{
    (void)state;
    told();
    struct model_channel *c = (struct model_channel *)(uintptr_t)model_find(s.m, "exhaust.0");
    c->status = READING_STALE;
    draw(120, 40);
    fact(5, "now", "61 C");
    c->status = READING_OK;
    c->off = true;
    draw(120, 40);
    fact(5, "now", "61 C");
    c->off = false;
    s.alerts[0].unit = UNIT_NONE;
    draw(120, 40);
    fact(5, "now", "61");
    s.alerts[0].unit = UNIT_C;
    s.alerts[0].decimals = 1;
    draw(120, 40);
    fact(5, "now", "28.0 C");
    s.alerts[0].decimals = 2; /* finer than any sensor is */
    draw(120, 40);
    fact(5, "now", "28.0 C");
    grid_fini(&drawn);
}

/* Tab: what the rule compared. */
static void figures__what_decided(void **state)
{
    (void)state;
    told();
    assert_true(alerts_view_handle(&s.ui, s.m, ACTION_NEXT_FIELD));
    draw(120, 40);
    fact(2, "rule", "exhaust-hot, limit: alarm");
    fact(3, "channel", "exhaust.0");
    fact(4, "value", "61.0 C");
    fact(5, "expected", "31.0 C");
    fact(6, "allowance", "2.0 K");
    fact(7, "limit", "93.3 C");
    fact(8, "rate", "96.0 K/min");
    fact(9, "to the limit", "20 s");
    fact(10, "noise", "0.40 K");
    fact(11, "statistic", "8.1");
    fact(12, "threshold", "5.0");
    s.alerts[0].unit = UNIT_KPA; /* bar want two places */
    s.m->units.pressure = UNIT_BAR;
    draw(120, 40);
    fact(4, "value", "0.61 bar");
    s.alerts[0].unit = UNIT_C;
    s.m->units.temperature = UNIT_F;
    s.alerts[0].channel[0] = '\0';
    draw(120, 40);
    fact(3, "value", "141.8 F");
    fact(5, "allowance", "3.6 F");
    fact(7, "rate", "172.8 F/min");
    fact(9, "noise", "0.72 F");
    assert_true(alerts_view_handle(&s.ui, s.m, ACTION_NEXT_FIELD));
    assert_false(s.ui.figures);
    grid_fini(&drawn);
}

/* ---- keys ---- */

static void chose(enum action a, uint32_t id)
{
    assert_true(alerts_view_handle(&s.ui, s.m, a));
    assert_int_equal(s.ui.chosen_alert, id);
}

/* 24 listed and three ended, 100 to 102. At 80 by 24 the body has 18 lines: a head, ten rows, a
 * line and six for the chosen one; a page is two less than the rows. */
static void keys__through_the_list(void **state)
{
    (void)state;
    assert_true(alerts_view_handle(&s.ui, s.m, ACTION_DOWN)); /* nothing to choose */
    assert_int_equal(s.ui.chosen_alert, 0);
    scene_many_alerts(&s);
    s.ui.cols = 80;
    s.ui.rows = 24;
    chose(ACTION_DOWN, 2); /* the first is where one is */
    chose(ACTION_UP, 1);
    chose(ACTION_UP, 1);
    chose(ACTION_END, 102);
    chose(ACTION_DOWN, 102);
    chose(ACTION_HOME, 1);
    chose(ACTION_PAGE_DOWN, 9);
    chose(ACTION_PAGE_DOWN, 17);
    chose(ACTION_PAGE_UP, 9);
    chose(ACTION_PAGE_UP, 1);
    chose(ACTION_PAGE_UP, 1);
    s.ui.rows = 8; /* no room: a page is one row */
    chose(ACTION_PAGE_DOWN, 2);
}

/* Only the chosen one, and only where it waits for that. */
static void acknowledge__the_chosen_one(void **state)
{
    (void)state;
    list();
    for (uint32_t id = 1; id <= 2; id++) {
        s.ui.chosen_alert = id;
        assert_true(alerts_view_handle(&s.ui, s.m, ACTION_ACKNOWLEDGE));
        assert_int_equal(s.ui.request.kind, REQUEST_ACKNOWLEDGE);
        assert_int_equal(s.ui.request.id, id);
    }
    for (uint32_t id = 3; id <= 9; id += id == 3 ? 2 : 4) { /* acknowledged, and ended */
        s.ui.request = (struct request){0};
        s.ui.notice[0] = '\0';
        s.ui.chosen_alert = id;
        assert_true(alerts_view_handle(&s.ui, s.m, ACTION_ACKNOWLEDGE));
        assert_int_equal(s.ui.request.kind, REQUEST_NONE);
        assert_string_equal(s.ui.notice, "the chosen one needs no acknowledgement");
    }
    s.ui.chosen_alert = 2;
    assert_true(alerts_view_handle(&s.ui, s.m, ACTION_TREND));
    assert_string_equal(s.ui.trend.keys[0], "exhaust.0");
    assert_int_equal(s.ui.view, VIEW_TREND);
    assert_false(alerts_view_handle(&s.ui, s.m, ACTION_BACK));
}

/* Lines that rows have, by the height of the body: a head and what tells of the chosen one are
 * taken off; beside it from 110 by 18 on. */
static void places__by_height(void **state)
{
    static const int rows[][3] = {{80, 4, 3},    {80, 5, 2},   {80, 9, 6},    {80, 10, 5},
                                  {80, 15, 10},  {80, 16, 8},  {80, 29, 21},  {80, 30, 19},
                                  {109, 18, 10}, {110, 17, 9}, {110, 18, 17}, {160, 40, 39}};

    (void)state;
    scene_many_alerts(&s);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rect body = {3, 2, rows[i][0], rows[i][1]};
        int n = 0;
        for (int y = 0; y < 50; y++)
            if (alerts_view_pick(&s.ui, s.m, body, 4, y)) {
                assert_true(y >= 3 && y < 3 + rows[i][2]);
                n++;
            }
        assert_int_equal(n, rows[i][2]);
        bool beside = rows[i][0] >= 110 && rows[i][1] >= 18;
        int end = 3 + (beside ? rows[i][0] * 2 / 5 : rows[i][0]);
        assert_true(alerts_view_pick(&s.ui, s.m, body, end - 1, 3));
        assert_false(alerts_view_pick(&s.ui, s.m, body, end, 3));
    }
}

/* A click takes the row that is seen there. */
static void pick__the_row_that_is_seen(void **state)
{
    (void)state;
    scene_many_alerts(&s);
    struct rect body = {0, 0, 80, 14}; /* nine rows */
    assert_true(alerts_view_pick(&s.ui, s.m, body, 0, 3));
    assert_int_equal(s.ui.chosen_alert, 3);
    s.ui.chosen_alert = 102; /* the last nine are seen */
    assert_true(alerts_view_pick(&s.ui, s.m, body, 0, 9));
    assert_int_equal(s.ui.chosen_alert, 102);
    assert_true(alerts_view_pick(&s.ui, s.m, body, 0, 5));
    assert_int_equal(s.ui.chosen_alert, 23);
}

/* Those whose words have the letters; the head counts all. */
static void filter__by_letters(void **state)
{
    (void)state;
    list();
    snprintf(s.ui.filter, sizeof s.ui.filter, "O");
    draw(69, 14);
    assert_string_equal(line(0), " 5 listed, 3 to acknowledge, 1 ended");
    assert_string_equal(line(1), ">E new   14:11:46 one");
    assert_memory_equal(line(2), " A new   14:11:46 two", 21);
    assert_string_equal(line(3), " W over  14:11:46 four");
    assert_string_equal(line(4), "");
    snprintf(s.ui.filter, sizeof s.ui.filter, "SIX");
    draw(69, 14);
    assert_string_equal(line(1), ">E ended 14:11:46 six");
    snprintf(s.ui.filter, sizeof s.ui.filter, "seven");
    draw(69, 14);
    assert_string_equal(line(2), "   nothing like that");
    s.ui.filter[0] = '\0';
    s.m->alert_count = s.m->ended_count = 0;
    draw(69, 14);
    assert_string_equal(line(2), "   nothing was raised");
    grid_fini(&drawn);
}

/* What is out of sight is counted, above and below. */
static void window__how_many_more(void **state)
{
    (void)state;
    scene_many_alerts(&s);
    draw(43, 14); /* nine rows of 27 */
    assert_memory_equal(line(1), ">E TANK 0", 9);
    assert_memory_equal(line(8), " A TANK 7", 9);
    assert_string_equal(line(9), "   and 19 more");
    s.ui.chosen_alert = 102; /* the last */
    draw(43, 14);
    assert_string_equal(line(1), "   19 above");
    assert_memory_equal(line(2), " C TANK 19", 10);
    assert_int_equal(line(9)[0], '>');
    grid_fini(&drawn);
}

#define WITH_SCENE(f) cmocka_unit_test_setup_teardown(f, calm, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_SCENE(rows__at_each_width),
        WITH_SCENE(rows__letters_that_flash),
        WITH_SCENE(story__what_happened_and_when),
        WITH_SCENE(story__now),
        WITH_SCENE(figures__what_decided),
        WITH_SCENE(keys__through_the_list),
        WITH_SCENE(acknowledge__the_chosen_one),
        WITH_SCENE(filter__by_letters),
        WITH_SCENE(places__by_height),
        WITH_SCENE(pick__the_row_that_is_seen),
        WITH_SCENE(window__how_many_more),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
