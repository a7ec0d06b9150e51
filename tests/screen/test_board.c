#include "scene.h"
#include "screen/rows.h"
#include "support/golden.h"

static void check(struct scene *s, const char *name, int cols, int rows, bool ascii)
{
    char *text = scene_picture(s, cols, rows, ascii, "day");
    golden_check("screen", name, text);
    free(text);
}

static const struct {
    int cols, rows;
} sizes[] = {{40, 10}, {80, 24}, {120, 40}, {160, 50}, {200, 60}};
enum { SIZES = sizeof sizes / sizeof sizes[0] };

static void sweep(struct scene *s, const char *what)
{
    for (int i = 0; i < SIZES; i++)
        for (int ascii = 0; ascii < 2; ascii++) {
            char name[80];
            snprintf(name, sizeof name, "board-%s-%dx%d%s", what, sizes[i].cols, sizes[i].rows,
                     ascii ? "-ascii" : "");
            check(s, name, sizes[i].cols, sizes[i].rows, ascii);
        }
}

static void board__nothing_wrong__is_calm(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    sweep(&s, "calm");
    scene_free(&s);
}

/* A burn that is the difference of two meters stands with how far off it may be, in one unit. */
static void board__burn_of_two_meters__has_its_error(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    scene_channel(&s, QTY_BURN_ERROR, 0, 2.2);
    scene_channel(&s, QTY_BURN_ERROR, 1, 2.7);
    for (int us = 0; us < 2; us++) {
        s.m->units.flow = us ? UNIT_GPH_US : UNIT_LPH;
        char *text = scene_picture(&s, 120, 40, false, "day");
        const char *row = strstr(text, "burn +/-");
        assert_non_null(row);
        char line[200];
        snprintf(line, sizeof line, "%.*s", (int)strcspn(row - 40, "\n"), row - 40);
        /* by GNU units: 2.2 and 2.7 L/h are 0.581 and 0.713 US gallons an hour */
        assert_non_null(strstr(line, us ? "0.6" : "2.2"));
        assert_non_null(strstr(line, us ? "0.7" : "2.7"));
        assert_non_null(strstr(line, us ? "gal/h" : "L/h"));
        free(text);
    }
    scene_free(&s);
}

/* With nothing wrong no cell has a role that is coloured by default, none is reversed, at any size
 * and in any half of the flash. */
static void board__nothing_wrong__has_no_colour_and_nothing_flashes(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    for (int i = 0; i < SIZES; i++)
        for (int flash = 0; flash < 2; flash++) {
            struct grid g;
            s.ui.cols = sizes[i].cols;
            s.ui.rows = sizes[i].rows;
            s.ui.flash = flash;
            assert_true(grid_init(&g, sizes[i].cols, sizes[i].rows, false));
            ui_draw(&g, s.m, &s.ui);
            for (int c = 0; c < g.cols * g.rows; c++) {
                assert_true(g.cells[c].role < ROLE_NOTE);
                assert_int_equal(g.cells[c].attr & ATTR_REVERSE, 0);
            }
            grid_fini(&g);
        }
    scene_free(&s);
}

/* In monochrome two pictures that differ in one state differ in text or attributes. */
static void board__states__differ_without_colour(void **state)
{
    (void)state;
    char *seen[8];
    int n = 0;
    for (int k = 0; k < 8; k++) {
        struct scene s;
        scene_calm(&s, 2);
        struct model_channel *c = &s.m->channels[1];
        if (k >= 1 && k <= 4)
            scene_alert(&s, (enum priority)(k - 1), ALERT_ACKNOWLEDGED, c->key, "PORT EXHAUST");
        if (k == 5)
            c->status = READING_STALE, c->age_ns = 34 * NS_PER_S;
        if (k == 6)
            c->status = READING_NOT_AVAILABLE;
        if (k == 7)
            c->status = READING_ERROR;
        seen[n] = scene_picture(&s, 80, 24, true, "mono");
        *strstr(seen[n], "---- roles") = '\0'; /* the text alone */
        for (int i = 0; i < n; i++)
            assert_string_not_equal(seen[i], seen[n]);
        n++;
        scene_free(&s);
    }
    while (n)
        free(seen[--n]);
}

static void board__raw_water_lost__names_side_and_remedy(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    sweep(&s, "trouble");
    scene_free(&s);
}

static void board__one_three_four_engines__finds_a_shape(void **state)
{
    (void)state;
    static const int counts[] = {1, 3, 4};
    for (int i = 0; i < 3; i++) {
        struct scene s;
        char name[40];
        scene_trouble(&s, counts[i]);
        for (int k = 0; k < SIZES; k++) {
            snprintf(name, sizeof name, "board-%d-engines-%dx%d", counts[i], sizes[k].cols,
                     sizes[k].rows);
            check(&s, name, sizes[k].cols, sizes[k].rows, false);
        }
        scene_free(&s);
    }
}

static void board__one_small_diesel_with_a_sail_drive__fills_the_screen(void **state)
{
    (void)state;
    struct scene s;
    scene_sailing(&s);
    sweep(&s, "sailing");
    scene_free(&s);
}

static void squeeze(char *text)
{
    char *to = text;
    for (const char *from = text; *from; from++)
        if (*from != ' ' || to == text || to[-1] != ' ')
            *to++ = *from;
    *to = '\0';
}

/* Every key of the electric boat is somewhere on a screen that has room, in a table by its place;
 * nothing of it is left in the table of what has none. */
static void board__generator_shore_inverter_lithium__are_tables_by_place(void **state)
{
    (void)state;
    struct scene s;
    struct board_rows rows;
    scene_full(&s);
    sweep(&s, "full");
    rows_fill(&rows, s.m, "");
    for (int i = 0; i < rows.plain_count; i++)
        assert_int_not_equal(rows.plains[i].table, TABLE_OTHER);
    char *text = scene_picture(&s, 200, 60, false, "day");
    /* As a row reads, blanks counted once. */
    static const char *const shown[] = {"charger bulk",
                                        "inverter pass-through",
                                        "converter bulk 13.7 80",
                                        "AC in 0 0.0 0 0.0",
                                        "AC out 229 50.4 350 1.6",
                                        "generator 231 50.4 1 564 6.9",
                                        "lithium 13.4 -31 94 24 400",
                                        "oil press. 390 kPa"};
    squeeze(text);
    for (size_t i = 0; i < sizeof shown / sizeof shown[0]; i++)
        if (!strstr(text, shown[i]))
            fail_msg("not on the board: '%s'\n%s", shown[i], text);
    free(text);
    scene_free(&s);
}

/* Numbers only where they tell two things apart. */
static void names__lines_and_places__numbered_where_there_are_several(void **state)
{
    (void)state;
    struct scene s;
    char label[64];
    scene_full(&s);
    struct model_channel *in =
        (struct model_channel *)(uintptr_t)model_find(s.m, "ac-in-volts.0.1");
    assert_string_equal(rows_plain_label(s.m, in, label, sizeof label), "AC in");
    scene_move(&s, scene_channel(&s, QTY_AC_IN_VOLTS, 0, 0), 0, 2);
    assert_string_equal(rows_plain_label(s.m, in, label, sizeof label), "AC in L1");
    scene_move(&s, scene_channel(&s, QTY_AC_IN_VOLTS, 0, 0), 3, 1);
    assert_string_equal(rows_plain_label(s.m, in, label, sizeof label), "AC in 0 L1");
    const struct model_channel *ac = model_find(s.m, "ac-volts.1.1");
    assert_string_equal(rows_plain_label(s.m, ac, label, sizeof label), "generator");
    ((struct model_channel *)(uintptr_t)ac)->source = 99; /* measured by a box of its own */
    assert_string_equal(rows_plain_label(s.m, ac, label, sizeof label), "AC");
    scene_free(&s);
}

/* Two limits for two sides: both on the keel, each at its side where there is room. */
static void board__sides_with_limits_of_their_own__show_both(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    for (size_t i = 0; i < s.m->channel_count; i++)
        if (strcmp(s.m->channels[i].key, "coolant.1") == 0)
            s.m->channels[i].limit = 88;
    char *text = scene_picture(&s, 80, 24, false, "day");
    assert_non_null(strstr(text, "°C 100/88"));
    free(text);
    text = scene_picture(&s, 120, 40, false, "day");
    assert_null(strstr(text, "100/88"));
    squeeze(text);
    assert_non_null(strstr(text, "│ coolant °C │"));
    free(text);
    scene_free(&s);
}

static void board__stale_error_not_available__look_different(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    struct model_channel *c = s.m->channels;
    c[1].status = READING_STALE;
    c[1].age_ns = 34 * NS_PER_S;
    c[2].status = READING_NOT_AVAILABLE;
    c[3].status = READING_ERROR;
    c[8].off = true;
    c[8].status = READING_STALE;
    check(&s, "board-status-80x24", 80, 24, false);
    scene_free(&s);
}

static int count_of(const char *text, const char *what)
{
    int n = 0;
    for (const char *at = text; (at = strstr(at, what)) != NULL; at += strlen(what))
        n++;
    return n;
}

/* Nothing is heard any more: no figure stands there as if it were so now, no arrow as if it still
 * went that way, and no word is cut. */
static void board__dark_bus__all_is_old(void **state)
{
    static const struct {
        int cols, rows;
        char key;
        const char *says;
    } cases[] = {
        {80, 24, 0, "34 s old"},         {120, 40, 0, "34 s old   "},
        {160, 50, 0, ", 34 s old"}, /* in the legends of the charts */
        {200, 60, 0, ", 34 s old"},      {80, 24, 'm', "34 s old"},
        {50, 20, 'm', "34 s old"},       {80, 24, 'h', "34 s old"},
        {200, 60, 'h', "rpm  34 s old"}, {80, 24, 't', "°C, 34 s old"},
        {120, 40, 't', "°C, 34 s old"},
    };
    static const char *const arrows[] = {"→", "↗", "↑", "↘", "↓"};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct scene s;
        scene_sailing(&s);
        scene_channel(&s, QTY_TRIP_BURN, 0, 2.4);
        for (size_t k = 0; k < s.m->channel_count; k++) {
            struct model_channel *c = &s.m->channels[k];
            /* what was burnt is known all the same, and goes nowhere */
            if (c->id.quantity == QTY_TRIP_BURN)
                continue;
            c->status = READING_STALE;
            c->age_ns = 34 * NS_PER_S;
        }
        if (cases[i].key)
            assert_true(ui_key(&s.ui, s.m, cases[i].key));
        char *text = scene_picture(&s, cases[i].cols, cases[i].rows, false, "day");
        for (size_t a = 0; a < sizeof arrows / sizeof arrows[0]; a++)
            if (strstr(text, arrows[a]))
                fail_msg("an arrow in\n%s", text);
        if (!strstr(text, cases[i].says) || strstr(text, "s o…"))
            fail_msg("not '%s' in\n%s", cases[i].says, text);
        /* each row of a channel says so */
        if (cases[i].key == 'm')
            assert_true(count_of(text, "34 s old") >= 12);
        free(text);
        scene_free(&s);
    }
}

/* Dim, over the oldest part of the trend, in the user's unit; never in the place of a rate. */
static void board__away_from_the_season__says_by_how_much(void **state)
{
    static const struct {
        double by;
        bool share, fahrenheit;
        const char *since, *says;
    } cases[] = {
        {4.2, false, false, "May", "May+4 "},          {4.2, false, true, "May", "May+8 "},
        {-12.4, false, false, "September", "Sep-12 "}, {0.6, false, false, "June", "Jun+0.6 "},
        {-0.153, true, false, "April", "Apr-15% "},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct scene s;
        scene_calm(&s, 2);
        struct model_channel *c = &s.m->channels[1];
        c->has_season = true;
        c->season = cases[i].by;
        c->season_is_share = cases[i].share;
        c->season_since = cases[i].since;
        s.m->units.temperature = cases[i].fahrenheit ? UNIT_F : UNIT_C;
        char *text = scene_picture(&s, 80, 24, false, "day");
        if (!strstr(text, cases[i].says))
            fail_msg("no '%s' in\n%s", cases[i].says, text);
        free(text);
        c->status = READING_STALE;
        text = scene_picture(&s, 80, 24, false, "day");
        assert_null(strstr(text, cases[i].says));
        free(text);
        scene_free(&s);
    }
}

static void board__before_the_first_frame__says_what_it_waits_for(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    size_t kept = s.m->channel_count;
    s.m->channel_count = 0;
    s.m->engines = 0;
    s.m->waiting = "demo.log";
    s.m->bus.load_percent = -1;
    check(&s, "board-waiting-80x24", 80, 24, false);
    s.m->channel_count = kept;
    scene_free(&s);
}

static void help__is_the_key_table(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    assert_true(ui_key(&s.ui, s.m, '?'));
    for (int i = 0; i < SIZES; i++) {
        char name[40];
        snprintf(name, sizeof name, "help-%dx%d", sizes[i].cols, sizes[i].rows);
        check(&s, name, sizes[i].cols, sizes[i].rows, false);
    }
    assert_true(ui_key(&s.ui, s.m, KEY_ESCAPE_CODE));
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
    scene_free(&s);
}

static void quit__asks_while_an_alarm_stands(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    ui_key(&s.ui, s.m, 'q');
    assert_int_equal(s.ui.request.kind, REQUEST_NONE);
    check(&s, "quit-80x24", 80, 24, false);
    ui_key(&s.ui, s.m, 'n');
    assert_int_equal(s.ui.request.kind, REQUEST_NONE);
    assert_int_equal(s.ui.overlay, OVERLAY_NONE);
    ui_key(&s.ui, s.m, 'q');
    ui_key(&s.ui, s.m, 'y');
    assert_int_equal(s.ui.request.kind, REQUEST_QUIT);
    s.m->counts[PRIORITY_ALARM] = 0;
    s.ui.request.kind = REQUEST_NONE;
    ui_key(&s.ui, s.m, 'q');
    assert_int_equal(s.ui.request.kind, REQUEST_QUIT);
    scene_free(&s);
}

static void acknowledge__asks_for_the_worst_unacknowledged_one(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    ui_key(&s.ui, s.m, 'a');
    assert_int_equal(s.ui.request.kind, REQUEST_ACKNOWLEDGE);
    assert_int_equal(s.ui.request.id, s.alerts[0].id);
    s.m->unacknowledged = 0;
    s.ui.request.kind = REQUEST_NONE;
    ui_key(&s.ui, s.m, 'a');
    assert_int_equal(s.ui.request.kind, REQUEST_NONE);
    scene_free(&s);
}

static void choosing__goes_over_all_rows_and_sides(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    ui_key(&s.ui, s.m, KEY_CODE_DOWN);
    assert_string_equal(s.ui.chosen, "rpm.0");
    ui_key(&s.ui, s.m, KEY_CODE_RIGHT);
    assert_string_equal(s.ui.chosen, "rpm.1");
    ui_key(&s.ui, s.m, KEY_CODE_DOWN);
    assert_string_equal(s.ui.chosen, "exhaust.1");
    ui_key(&s.ui, s.m, KEY_CODE_END);
    ui_key(&s.ui, s.m, KEY_CODE_DOWN);
    assert_non_null(model_find(s.m, s.ui.chosen));
    ui_key(&s.ui, s.m, KEY_ESCAPE_CODE);
    assert_string_equal(s.ui.chosen, "");
    scene_free(&s);
}

/* Every size from 1x1 on draws something within its grid (the sanitizers watch), and wherever there
 * is room at all, the place and the remedy of the alarm are there in full. */
static void board__every_size__keeps_the_alarm(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    for (int cols = 1; cols <= 210; cols += cols < 90 ? 1 : 13)
        for (int rows = 1; rows <= 64; rows += rows < 30 ? 1 : 7) {
            char *text = scene_picture(&s, cols, rows, false, "day");
            assert_non_null(text);
            if (cols >= 40 && rows >= 10)
                assert_non_null(strstr(text, "STARBOARD"));
            if (cols >= 80 && rows >= 10)
                assert_non_null(strstr(text, "check raw water"));
            free(text);
        }
    scene_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(board__nothing_wrong__is_calm),
        cmocka_unit_test(board__burn_of_two_meters__has_its_error),
        cmocka_unit_test(board__nothing_wrong__has_no_colour_and_nothing_flashes),
        cmocka_unit_test(board__states__differ_without_colour),
        cmocka_unit_test(board__raw_water_lost__names_side_and_remedy),
        cmocka_unit_test(board__one_three_four_engines__finds_a_shape),
        cmocka_unit_test(board__one_small_diesel_with_a_sail_drive__fills_the_screen),
        cmocka_unit_test(board__generator_shore_inverter_lithium__are_tables_by_place),
        cmocka_unit_test(names__lines_and_places__numbered_where_there_are_several),
        cmocka_unit_test(board__sides_with_limits_of_their_own__show_both),
        cmocka_unit_test(board__stale_error_not_available__look_different),
        cmocka_unit_test(board__dark_bus__all_is_old),
        cmocka_unit_test(board__away_from_the_season__says_by_how_much),
        cmocka_unit_test(board__before_the_first_frame__says_what_it_waits_for),
        cmocka_unit_test(help__is_the_key_table),
        cmocka_unit_test(quit__asks_while_an_alarm_stands),
        cmocka_unit_test(acknowledge__asks_for_the_worst_unacknowledged_one),
        cmocka_unit_test(choosing__goes_over_all_rows_and_sides),
        cmocka_unit_test(board__every_size__keeps_the_alarm),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
