/* What keys and clicks ask for, whatever the view shows: times, words and letters that are typed,
 * requests, the trend that is opened, and what is drawn around a picture that is held. */
#include "drawn_scene.h"
#include "screen/bars.h"

static int calm(void **state)
{
    (void)state;
    scene_calm(&s, 2);
    s.ui.cols = 80;
    s.ui.rows = 24;
    return 0;
}

static void type(const char *text)
{
    for (; *text; text++)
        assert_true(ui_key(&s.ui, s.m, (unsigned char)*text));
}

static void press(int key, enum request_kind kind, int64_t amount)
{
    assert_true(ui_key(&s.ui, s.m, key));
    assert_int_equal(s.ui.request.kind, kind);
    assert_true(s.ui.request.amount == amount);
}

/* ---- what is typed ---- */

static void go_to__times_as_people_write_them(void **state)
{
    static const struct {
        const char *typed;
        bool good, clock, relative;
        int64_t s;
        int grain_s;
    } rows[] = {
        {"13:50", true, true, false, 13 * 3600 + 50 * 60, 60},
        {"9:05", true, true, false, 9 * 3600 + 5 * 60, 60},
        {"09:05:59", true, true, false, 9 * 3600 + 5 * 60 + 59, 1},
        {"23:59:59", true, true, false, 86399, 1},
        {"24:00", false, false, false, 0, 0},
        {"12:60", false, false, false, 0, 0},
        {"12:00:60", false, false, false, 0, 0},
        {"12:00x", false, false, false, 0, 0},
        {"+01:30", true, false, true, 90, 0},
        {"2026-05-04 13:50:01", true, false, false, INT64_C(1777902601), 0},
        {"noon", false, false, false, 0, 0},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        type("g");
        assert_int_equal(s.ui.overlay, OVERLAY_GO_TO);
        type(rows[i].typed);
        assert_null(s.ui.complaint);
        press(KEY_ENTER_CODE, rows[i].good ? REQUEST_GO_TO : REQUEST_NONE, 0);
        if (!rows[i].good) { /* it can be put right, and the complaint goes with the next key */
            assert_string_equal(s.ui.complaint, "is no time");
            assert_int_equal(s.ui.overlay, OVERLAY_GO_TO);
            assert_string_equal(s.ui.input, rows[i].typed);
            press(KEY_CODE_BACKSPACE, REQUEST_NONE, 0);
            assert_null(s.ui.complaint);
            press(KEY_ESCAPE_CODE, REQUEST_NONE, 0);
        } else {
            const struct moment *m = &s.ui.request.moment;
            assert_int_equal(m->clock, rows[i].clock);
            assert_int_equal(m->relative, rows[i].relative);
            assert_true(m->ns == rows[i].s * NS_PER_S);
            if (m->clock)
                assert_true(m->grain_ns == rows[i].grain_s * NS_PER_S);
        }
        assert_int_equal(s.ui.overlay, OVERLAY_NONE);
    }
    type("g"); /* nothing typed: nothing asked */
    press('\n', REQUEST_NONE, 0);
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
}

/* Rows are chosen with each letter; 27 letters at most, and whole characters are taken back. */
static void find__letter_by_letter(void **state)
{
    static const int refused[] = {'\t', 31, 127, 0x85, 0x301, 0x200B, KEY_CODE_UP, KEY_CODE_RESIZE};

    (void)state;
    type("/ex");
    assert_string_equal(s.ui.filter, "ex");
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++)
        press(refused[i], REQUEST_NONE, 0);
    assert_string_equal(s.ui.filter, "ex");
    press(0xE9, REQUEST_NONE, 0);
    press(0x6C34, REQUEST_NONE, 0);
    assert_string_equal(s.ui.filter, "exé水");
    press(KEY_CODE_BACKSPACE, REQUEST_NONE, 0);
    assert_string_equal(s.ui.filter, "exé");
    press(KEY_CODE_BACKSPACE, REQUEST_NONE, 0);
    press(KEY_CODE_BACKSPACE, REQUEST_NONE, 0);
    assert_string_equal(s.ui.filter, "e");
    press(KEY_CODE_BACKSPACE, REQUEST_NONE, 0);
    press(KEY_CODE_BACKSPACE, REQUEST_NONE, 0);
    assert_string_equal(s.ui.filter, "");
    type("abcdefghijklmnopqrstuvwxyz0");
    assert_int_equal(strlen(s.ui.filter), 27);
    type("1");
    assert_int_equal(strlen(s.ui.filter), 27);
    press(KEY_ENTER_CODE, REQUEST_NONE, 0);
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
    assert_int_equal(strlen(s.ui.filter), 27); /* kept, and there to be changed */
    type("/");
    assert_int_equal(strlen(s.ui.input), 27);
    press(KEY_ESCAPE_CODE, REQUEST_NONE, 0);
    assert_string_equal(s.ui.filter, "");
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
}

/* The mark stands where the key was pressed, however long the words take; 95 bytes at most. */
static void mark__words_and_the_moment_of_the_key(void **state)
{
    (void)state;
    type("k");
    s.m->now.wall_ns += 9 * NS_PER_S;
    for (int i = 0; i < 99; i++)
        type("w");
    assert_int_equal(strlen(s.ui.input), 95);
    press(KEY_ENTER_CODE, REQUEST_MARK, SCENE_WALL_NS);
    assert_int_equal(strlen(s.ui.request.words), 95);
    type("k"); /* another begins with nothing */
    assert_string_equal(s.ui.input, "");
    press(KEY_ENTER_CODE, REQUEST_MARK, SCENE_WALL_NS + 9 * NS_PER_S);
    assert_string_equal(s.ui.request.words, "");
    type("kx");
    press(KEY_ESCAPE_CODE, REQUEST_NONE, 0);
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
}

/* ---- requests ---- */

static void keys__ask_for_one_thing_each(void **state)
{
    static const struct {
        int key;
        enum request_kind kind;
        int64_t amount;
    } rows[] = {
        {' ', REQUEST_PAUSE, 0},
        {'.', REQUEST_STEP, 0},
        {'f', REQUEST_SPEED, 2},
        {'d', REQUEST_SPEED, -2},
        {'F', REQUEST_SPEED, 0},
        {'>', REQUEST_MOVE, 60 * NS_PER_S},
        {'<', REQUEST_MOVE, -60 * NS_PER_S},
        {'n', REQUEST_NEXT_ALERT, 0},
        {'p', REQUEST_PREVIOUS_ALERT, 0},
        {'j', REQUEST_NEXT_MARK, 0},
        {'s', REQUEST_SILENCE, 0},
        {'u', REQUEST_UNITS, 0},
        {'c', REQUEST_THEME, 0},
        {'i', REQUEST_GLYPHS, 0},
        {'e', REQUEST_SOUND, 0},
        {'E', REQUEST_SOUND_TEST, 0},
        {'y', REQUEST_MOUSE, 0},
        {12, REQUEST_REDRAW, 0},
    };

    (void)state;
    s.m->sounding = true;
    s.marks[0] = (struct model_mark){SCENE_WALL_NS, -1, "lock"};
    s.m->replay.mark_count = 1;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        press(rows[i].key, rows[i].kind, rows[i].amount);
    s.marks[0].priority = PRIORITY_CAUTION; /* an alert's is none that was set */
    assert_false(ui_key(&s.ui, s.m, 'j'));
    assert_int_equal(s.ui.request.kind, REQUEST_NONE);
    type("t");
    press('w', REQUEST_SAVE, 0);
}

/* The worst that nobody has answered yet; a caution wants no answer. */
static void acknowledge__the_worst_one_that_waits(void **state)
{
    (void)state;
    assert_false(ui_key(&s.ui, s.m, 'a'));
    scene_alert(&s, PRIORITY_ALARM, ALERT_ACKNOWLEDGED, "exhaust.0", "one");
    scene_alert(&s, PRIORITY_CAUTION, ALERT_UNACKNOWLEDGED, "sea.0", "two");
    scene_alert(&s, PRIORITY_WARNING, ALERT_SILENCED, "coolant.0", "three");
    scene_alert(&s, PRIORITY_WARNING, ALERT_UNACKNOWLEDGED, "coolant.1", "four");
    press('a', REQUEST_ACKNOWLEDGE, 0);
    assert_int_equal(s.ui.request.id, 3);
}

static void quit__asks_while_an_alarm_stands(void **state)
{
    (void)state;
    press('q', REQUEST_QUIT, 0);
    scene_alert(&s, PRIORITY_WARNING, ALERT_UNACKNOWLEDGED, "coolant.0", "one");
    press('q', REQUEST_QUIT, 0);
    scene_alert(&s, PRIORITY_ALARM, ALERT_ACKNOWLEDGED, "exhaust.0", "two");
    press('q', REQUEST_NONE, 0);
    assert_int_equal(s.ui.overlay, OVERLAY_QUIT);
    press('q', REQUEST_NONE, 0); /* any other key: no */
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
    press('q', REQUEST_NONE, 0);
    press('y', REQUEST_QUIT, 0);
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
}

static void views__by_their_keys_and_back_to_the_board(void **state)
{
    static const struct {
        int key;
        enum view_id view;
    } rows[] = {{'h', VIEW_HELM}, {'l', VIEW_ALERTS}, {'m', VIEW_MOVERS},
                {'b', VIEW_BUS},  {'t', VIEW_TREND},  {'o', VIEW_BOARD}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        press(rows[i].key, REQUEST_NONE, 0);
        assert_int_equal(s.ui.view, rows[i].view);
    }
    type("m/ex");
    press(KEY_ENTER_CODE, REQUEST_NONE, 0);
    press(KEY_ESCAPE_CODE, REQUEST_NONE, 0); /* first all rows again, then the board */
    assert_string_equal(s.ui.filter, "");
    assert_int_equal(s.ui.view, VIEW_MOVERS);
    press(KEY_ESCAPE_CODE, REQUEST_NONE, 0);
    assert_int_equal(s.ui.view, VIEW_BOARD);
    assert_false(ui_key(&s.ui, s.m, KEY_ESCAPE_CODE)); /* nothing to go back from */
}

/* A picture is held until somebody looks elsewhere. */
static void held__answers_and_pause_leave_it_other_keys_do_not(void **state)
{
    static const struct {
        int key;
        bool held;
    } rows[] = {{'a', true},
                {'s', true},
                {' ', true},
                {'q', true},
                {'u', false},
                {'m', false},
                {KEY_CODE_DOWN, false},
                {'?', false}};

    (void)state;
    scene_alert(&s, PRIORITY_WARNING, ALERT_UNACKNOWLEDGED, "coolant.0", "one");
    s.m->sounding = true;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        s.ui.frozen = true;
        assert_true(ui_key(&s.ui, s.m, rows[i].key));
        assert_int_equal(s.ui.frozen, rows[i].held);
    }
}

/* A notice stands until the next key, whichever it is. */
static void notice__goes_with_the_next_key(void **state)
{
    (void)state;
    snprintf(s.ui.notice, sizeof s.ui.notice, "units: bar");
    assert_true(ui_key(&s.ui, s.m, '~'));
    assert_string_equal(s.ui.notice, "");
    assert_false(ui_key(&s.ui, s.m, '~'));
}

static void help__answers_and_quits_go_through(void **state)
{
    (void)state;
    scene_alert(&s, PRIORITY_WARNING, ALERT_UNACKNOWLEDGED, "coolant.0", "one");
    s.m->sounding = true;
    s.ui.help_top = 5;
    press('?', REQUEST_NONE, 0);
    assert_int_equal(s.ui.overlay, OVERLAY_HELP);
    assert_int_equal(s.ui.help_top, 0);
    press('u', REQUEST_NONE, 0);
    press('a', REQUEST_ACKNOWLEDGE, 0);
    press('s', REQUEST_SILENCE, 0);
    press('q', REQUEST_QUIT, 0);
    assert_int_equal(s.ui.overlay, OVERLAY_HELP);
    press(KEY_CODE_DOWN, REQUEST_NONE, 0);
    assert_int_equal(s.ui.help_top, 1);
    press('?', REQUEST_NONE, 0);
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
}

/* Which keys work, by what there is. */
static void context__each_bit_by_itself(void **state)
{
    unsigned calm_bits = ui_context(&s.ui, s.m);

    (void)state;
    assert_int_equal(calm_bits, WHEN_ROWS | WHEN_FIND | WHEN_REPLAY | WHEN_MARKABLE | WHEN_GOES_ON);
    s.m->replay.can_seek = false;
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND | WHEN_GOES_ON);
    s.m->record = "off";
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND | WHEN_GOES_ON);
    s.m->record = "on";
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND | WHEN_GOES_ON | WHEN_MARKABLE);
    s.m->record = NULL;
    s.m->replay.ended = true;
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND);
    s.m->replay.is_log = false; /* a bus does not end */
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND | WHEN_GOES_ON);
    s.m->unacknowledged = 1;
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND | WHEN_GOES_ON | WHEN_UNACKED);
    s.m->unacknowledged = 0;
    s.m->alert_count = 1;
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND | WHEN_GOES_ON | WHEN_ALERT);
    s.m->alert_count = 0;
    snprintf(s.ui.chosen, sizeof s.ui.chosen, "x");
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND | WHEN_GOES_ON | WHEN_OVERLAY);
    s.ui.chosen[0] = '\0';
    snprintf(s.ui.filter, sizeof s.ui.filter, "x");
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND | WHEN_GOES_ON | WHEN_OVERLAY);
    s.ui.filter[0] = '\0';
    s.ui.overlay = OVERLAY_HELP;
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND | WHEN_GOES_ON | WHEN_OVERLAY);
    s.ui.overlay = OVERLAY_NONE;
    s.ui.view = VIEW_BUS;
    assert_int_equal(ui_context(&s.ui, s.m),
                     WHEN_ROWS | WHEN_GOES_ON | WHEN_OVERLAY | WHEN_NOT_BOARD);
    s.ui.cols = 160;
    s.ui.rows = 50;
    assert_int_equal(ui_context(&s.ui, s.m),
                     WHEN_ROWS | WHEN_GOES_ON | WHEN_OVERLAY | WHEN_NOT_BOARD);
    s.ui.view = VIEW_BOARD;
    assert_int_equal(ui_context(&s.ui, s.m), WHEN_ROWS | WHEN_FIND | WHEN_GOES_ON | WHEN_CHARTS);
}

/* ---- the trend that is opened ---- */

static void open(const char *chosen, const char *first, const char *second)
{
    snprintf(s.ui.chosen, sizeof s.ui.chosen, "%s", chosen);
    s.ui.trend.count = 0;
    type("t");
    assert_int_equal(s.ui.view, VIEW_TREND);
    assert_int_equal(s.ui.trend.count, !!first[0] + !!second[0]);
    if (first[0])
        assert_string_equal(s.ui.trend.keys[0], first);
    if (second[0])
        assert_string_equal(s.ui.trend.keys[1], second);
    assert_string_equal(s.ui.chosen, chosen);
    s.ui.view = VIEW_BOARD;
}

/* The chosen one, or the one in trouble, or the first exhaust; with its twin, port first. */
static void trend__opens_on_what_matters(void **state)
{
    (void)state;
    open("coolant.0", "coolant.0", "coolant.1");
    open("coolant.1", "coolant.0", "coolant.1");
    open("fuel-tank.1", "fuel-tank.1", "");
    open("", "exhaust.0", "exhaust.1");
    struct model_channel *c = scene_channel(&s, QTY_EXHAUST, 0, 31);
    c->second = true; /* what a second sender says is no twin */
    open("", "exhaust.0", "exhaust.1");
    scene_alert(&s, PRIORITY_WARNING, ALERT_UNACKNOWLEDGED, "load.1", "one");
    scene_alert(&s, PRIORITY_CAUTION, ALERT_UNACKNOWLEDGED, "sea.0", "two");
    open("", "load.0", "load.1");
    open("sea.0", "sea.0", "");
    s.m->channels[0].alert = 0;
    open("", "rpm.0", "rpm.1"); /* though it comes first */
    s.m->channels[0].alert = -1;
    scene_channel(&s, QTY_LOAD, 1, 1)->id.place = 2; /* a third engine's: two curves at most */
    open("", "load.0", "load.1");
    snprintf(s.ui.chosen, sizeof s.ui.chosen, "sea.0");
    press(KEY_ENTER_CODE, REQUEST_NONE, 0);
    assert_int_equal(s.ui.view, VIEW_TREND);
    s.ui.view = VIEW_BOARD;
    s.ui.chosen[0] = '\0';
    s.m->alert_count = 0;
    for (size_t i = 0; i < s.m->channel_count; i++)
        s.m->channels[i].alert = -1;
    for (size_t i = 0; i < s.m->channel_count; i++)
        if (s.m->channels[i].id.quantity == QTY_EXHAUST)
            s.m->channels[i].key = "gone";
    open("", "rpm.0", "rpm.1"); /* no exhaust: the first there is */
    size_t count = s.m->channel_count;
    s.m->channel_count = 0;
    open("", "", "");
    s.m->channel_count = count;
}

/* ---- clicks ---- */

/* The list of alerts has rows; what is around the body is none of them. */
static void click__within_the_body_alone(void **state)
{
    (void)state;
    scene_many_alerts(&s);
    s.ui.view = VIEW_ALERTS;
    struct rect body = bars_layout(&s.ui, s.m).body;
    int first = -1, last = -1;
    for (int y = body.y; y < body.y + body.h; y++)
        if (ui_click(&s.ui, s.m, 0, y)) {
            first = first < 0 ? y : first;
            last = y;
        }
    assert_true(first >= body.y && last > first);
    assert_true(ui_click(&s.ui, s.m, body.w - 1, first));
    assert_false(ui_click(&s.ui, s.m, body.w, first));
    assert_false(ui_click(&s.ui, s.m, 0, body.y - 1));
    assert_false(ui_click(&s.ui, s.m, 0, body.y + body.h));
    s.ui.overlay = OVERLAY_HELP;
    assert_false(ui_click(&s.ui, s.m, 0, first));
    s.ui.overlay = OVERLAY_NONE;
    s.ui.view = VIEW_HELM;
    assert_false(ui_click(&s.ui, s.m, 0, first));
}

/* ---- what is drawn ---- */

static void draw(int cols, int rows)
{
    s.ui.cols = cols;
    s.ui.rows = rows;
    ui_draw(&drawn, s.m, &s.ui);
}

static void too_small__says_what_it_needs_and_nothing_else(void **state)
{
    (void)state;
    begin(19, 24, false);
    grid_run(&drawn, (struct rect){0, 0, 19, 24}, 'x', ROLE_TEXT, 0);
    draw(19, 24);
    assert_string_equal(line(0), "19x24");
    assert_string_equal(line(1), "needs 20x4");
    assert_int_equal(grid_at(&drawn, 0, 0)->attr | grid_at(&drawn, 0, 1)->attr, 0);
    for (int y = 2; y < 24; y++)
        assert_string_equal(line(y), "");
    grid_fini(&drawn);
}

/* The body of a held picture is left as it stands, what is around it is drawn anew. */
static void held__the_body_stays_all_else_is_new(void **state)
{
    (void)state;
    begin(80, 24, false);
    draw(80, 24);
    struct rect body = bars_layout(&s.ui, s.m).body;
    static char fresh[24][4000];
    for (int y = 0; y < 24; y++)
        snprintf(fresh[y], sizeof fresh[y], "%s", line(y));
    grid_run(&drawn, (struct rect){0, 0, 80, 24}, 'x', ROLE_ALARM, ATTR_BOLD);
    s.ui.frozen = true;
    draw(80, 24);
    for (int y = 0; y < 24; y++)
        for (int x = 0; x < 80; x++)
            if (y >= body.y && y < body.y + body.h)
                assert_int_equal(grid_at(&drawn, x, y)->ch, 'x');
    for (int y = 0; y < 24; y++)
        if (y < body.y || y >= body.y + body.h)
            assert_string_equal(line(y), fresh[y]);
    for (int y = 0; y < 24; y++) /* a blank has no look of what stood there */
        if (y < body.y || y >= body.y + body.h) {
            assert_int_equal(grid_at(&drawn, 79, y)->role, ROLE_TEXT);
            assert_int_equal(grid_at(&drawn, 79, y)->attr, 0);
        }
    s.ui.overlay = OVERLAY_HELP; /* the list of keys lies over it */
    draw(80, 24);
    assert_non_null(strstr(line(body.y), "alerts"));
    s.ui.overlay = OVERLAY_NONE;
    s.ui.frozen = false;
    grid_run(&drawn, (struct rect){0, 0, 80, 24}, 'x', ROLE_ALARM, ATTR_BOLD);
    draw(80, 24);
    for (int y = 0; y < 24; y++)
        assert_string_equal(line(y), fresh[y]);
    grid_fini(&drawn);
}

/* In the list of keys those are bright that would work below it: there is nothing to go back from
 * on a board where nothing is chosen. */
static void help__bright_is_what_works_below_it(void **state)
{
    static const struct {
        const char *chosen;
        enum role role;
    } rows[] = {{"", ROLE_DIM}, {"rpm.0", ROLE_KEY}};

    (void)state;
    begin(160, 80, false);
    type("?");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int found = 0;
        snprintf(s.ui.chosen, sizeof s.ui.chosen, "%s", rows[i].chosen);
        draw(160, 80);
        for (int y = 0; y < bars_layout(&s.ui, s.m).foot.y; y++)
            for (int x = 1; x < 157; x++)
                if (grid_at(&drawn, x, y)->ch == 'e' && grid_at(&drawn, x + 1, y)->ch == 's' &&
                    grid_at(&drawn, x + 2, y)->ch == 'c' && grid_at(&drawn, x - 1, y)->ch == ' ' &&
                    grid_at(&drawn, x + 3, y)->ch == ' ') {
                    assert_int_equal(grid_at(&drawn, x, y)->role, rows[i].role);
                    found++;
                }
        assert_int_equal(found, 1);
    }
    grid_fini(&drawn);
}

/* Questions stand in the last line, in as many words as there is room for. */
static void question__by_width(void **state)
{
    static const struct {
        enum overlay overlay;
        int cols;
        const char *input, *complaint, *text;
    } rows[] = {
        {OVERLAY_QUIT, 50, "", NULL, " an alarm stands: quit? y yes, any other key no"},
        {OVERLAY_QUIT, 49, "", NULL, " an alarm stands: quit? y yes, else no"},
        {OVERLAY_GO_TO, 60, "13", NULL, " go to 13_  HH:MM, HH:MM:SS, or +MM:SS into the log"},
        {OVERLAY_GO_TO, 59, "13", NULL, " go to 13_  HH:MM[:SS] or +MM:SS"},
        {OVERLAY_GO_TO, 60, "13", "is no time", " go to 13_  is no time"},
        {OVERLAY_FIND, 60, "exh", NULL, " find exh_"},
        {OVERLAY_MARK, 70, "", NULL,
         " mark 14:12:07 _  a few words; enter keeps them, esc does not"},
        {OVERLAY_MARK, 60, "", NULL, " mark 14:12:07 _  a few words; enter keeps them, esc does …"},
        {OVERLAY_MARK, 59, "", NULL, " mark 14:12:07 _"},
        {OVERLAY_MARK, 70, "weed", NULL, " mark 14:12:07 weed_"},
        /* the end of what is typed: of 40 columns 8 and the clock's 9 are taken */
        {OVERLAY_MARK, 40, "abcdefghijklmnopqrstuvw", NULL,
         " mark 14:12:07 abcdefghijklmnopqrstuvw_"},
        {OVERLAY_MARK, 40, "0abcdefghijklmnopqrstuvw", NULL,
         " mark 14:12:07 abcdefghijklmnopqrstuvw_"},
    };

    (void)state;
    s.ui.asked_wall_ns = SCENE_WALL_NS;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        begin(rows[i].cols, 20, false);
        s.ui.overlay = rows[i].overlay;
        s.ui.complaint = rows[i].complaint;
        snprintf(s.ui.input, sizeof s.ui.input, "%s", rows[i].input);
        draw(rows[i].cols, 20);
        assert_string_equal(line(19), rows[i].text);
        assert_int_equal(grid_at(&drawn, 1, 19)->role, ROLE_NOTE);
        for (int x = 0; x < rows[i].cols; x++)
            assert_int_equal(grid_at(&drawn, x, 19)->attr, 0);
        grid_fini(&drawn);
    }
    s.m->clock_known = false;
    begin(40, 20, false);
    snprintf(s.ui.input, sizeof s.ui.input, "abcdefghijklmnopqrstuvwxyz0123456");
    draw(40, 20);
    assert_string_equal(line(19), " mark bcdefghijklmnopqrstuvwxyz0123456_");
    grid_fini(&drawn);
}

#define WITH_SCENE(f) cmocka_unit_test_setup_teardown(f, calm, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_SCENE(go_to__times_as_people_write_them),
        WITH_SCENE(find__letter_by_letter),
        WITH_SCENE(mark__words_and_the_moment_of_the_key),
        WITH_SCENE(keys__ask_for_one_thing_each),
        WITH_SCENE(acknowledge__the_worst_one_that_waits),
        WITH_SCENE(quit__asks_while_an_alarm_stands),
        WITH_SCENE(views__by_their_keys_and_back_to_the_board),
        WITH_SCENE(held__answers_and_pause_leave_it_other_keys_do_not),
        WITH_SCENE(notice__goes_with_the_next_key),
        WITH_SCENE(help__answers_and_quits_go_through),
        WITH_SCENE(context__each_bit_by_itself),
        WITH_SCENE(trend__opens_on_what_matters),
        WITH_SCENE(click__within_the_body_alone),
        WITH_SCENE(too_small__says_what_it_needs_and_nothing_else),
        WITH_SCENE(held__the_body_stays_all_else_is_new),
        WITH_SCENE(help__bright_is_what_works_below_it),
        WITH_SCENE(question__by_width),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
