/* The helm's tiles by hand: which come first and how many, what stands in one, its bar and its
 * words. ASCII, so that bytes are columns. */
#include "drawn_scene.h"
#include "screen/helm.h"

static int calm(void **state)
{
    (void)state;
    scene_calm(&s, 1);
    return 0;
}

static void draw(int w, int h)
{
    draw_by(helm_draw, w, h);
}

/* A figure that has no room is bold too, and no heading. */
static bool is_heading(const struct cell *c)
{
    return (c->attr & ATTR_BOLD) && c->role != ROLE_VALUE;
}

/* Headings in the order of lines and columns. */
static const char *headings(void)
{
    static char all[1000];
    size_t n = 0;
    all[0] = '\0';
    for (int y = 0; y < drawn.rows; y++)
        for (int x = 0; x < drawn.cols; x++) {
            const struct cell *c = grid_at(&drawn, x, y);
            bool head = is_heading(c) && c->ch != ' ';
            bool before = x > 0 && is_heading(grid_at(&drawn, x - 1, y));
            if (head && !before && n)
                all[n++] = ',';
            if (is_heading(c))
                all[n++] = (char)c->ch;
            all[n] = '\0';
        }
    return all;
}

/* Exhaust matters most, then coolant, speed, oil pressure, fuel rate, load, hours; then the boat's.
 * A line of tiles for each eight lines, or ten, where there are 24; at most four. */
static void tiles__as_many_as_fit(void **state)
{
    static const struct {
        int w, h;
        const char *heads;
    } rows[] = {
        {60, 7, "ENGINE exhaust"},
        {60, 15, "ENGINE exhaust"},
        {60, 16, "ENGINE exhaust,ENGINE coolant"},
        {60, 23, "ENGINE exhaust,ENGINE coolant"},
        {60, 24, "ENGINE exhaust,ENGINE coolant"},
        {60, 30, "ENGINE exhaust,ENGINE coolant,ENGINE speed"},
        {60, 49, "ENGINE exhaust,ENGINE coolant,ENGINE speed,ENGINE oil press."},
        {60, 90, "ENGINE exhaust,ENGINE coolant,ENGINE speed,ENGINE oil press."},
        {99, 7, "ENGINE exhaust"},
        {100, 7, "ENGINE exhaust,ENGINE coolant"},
        {100, 16, "ENGINE exhaust,ENGINE coolant,ENGINE speed,ENGINE oil press."},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        draw(rows[i].w, rows[i].h);
        assert_string_equal(headings(), rows[i].heads);
    }
    snprintf(s.ui.chosen, sizeof s.ui.chosen, "hours.0"); /* the chosen one first */
    draw(60, 16);
    assert_string_equal(headings(), "ENGINE hours,ENGINE exhaust");
    struct alert *a = scene_alert(&s, PRIORITY_WARNING, ALERT_UNACKNOWLEDGED, "load.0", "x");
    draw(60, 16); /* but for what is in trouble */
    assert_string_equal(headings(), "ENGINE load,ENGINE hours");
    a->priority = PRIORITY_CAUTION;
    draw(60, 16);
    assert_string_equal(headings(), "ENGINE load,ENGINE hours");
    s.m->alert_count = 0;
    s.m->counts[PRIORITY_WARNING] = 0;
    size_t count = s.m->channel_count;
    s.m->channel_count = 0;
    draw(60, 16);
    assert_string_equal(line(0), " no channel yet");
    s.m->channel_count = count;
    for (size_t i = 0; i < count; i++)
        s.m->channels[i].alert = -1;
    grid_fini(&drawn);
}

/* Twins stand side by side, while each has 18 columns; with three engines four lines of three. */
static void tiles__of_several_engines(void **state)
{
    (void)state;
    scene_free(&s);
    scene_calm(&s, 2);
    draw(60, 16);
    assert_string_equal(headings(),
                        "PORT exhaust,STARBOARD exhaust,PORT coolant,STARBOARD coolant");
    draw(36, 8);
    assert_string_equal(headings(), "PORT exhaust,STARBOARD exha~");
    draw(35, 8); /* one below the other, of which there is room for one */
    assert_string_equal(headings(), "PORT exhaust");
    scene_free(&s);
    scene_calm(&s, 3);
    draw(54, 60);
    assert_string_equal(headings(),
                        "PORT exhaust,CENTRE exhaust,STARBOARD exha~,PORT coolant,CENTRE coolant,"
                        "STARBOARD cool~,PORT speed,CENTRE speed,STARBOARD speed,PORT oil press.,"
                        "CENTRE oil pre~,STARBOARD oil ~");
    grid_fini(&drawn);
}

/* The last line but one has unit, arrow, rate and limit; below it how far it is to the limit. */
static void tile__words_and_bar(void **state)
{
    (void)state;
    struct model_channel *c = &s.m->channels[1];
    c->value = c->shown = 46.65; /* half of 93.3 */
    c->rate_per_min = 5;
    c->steady_per_min = 1;
    draw(44, 8); /* columns 2 to 40 */
    assert_string_equal(line(0), "  ENGINE exhaust");
    assert_string_equal(line(6), "  C  ^ +5.0/min                  limit 93");
    assert_string_equal(line(7), "  ====================------------------|");
    c->limit_above = false; /* a limit below: twice of it is all */
    c->has_extremes = false;
    draw(44, 8);
    assert_string_equal(line(7), "  ==========---------|-------------------");
    c->has_extremes = true;
    c->high = 373.2;
    draw(44, 8);
    assert_string_equal(line(7), "  =====----|-----------------------------");
    c->limit_above = true;
    c->value = 200;
    draw(44, 8);
    assert_string_equal(line(7), "  ======================================|");
    c->value = -5;
    draw(44, 8);
    assert_string_equal(line(7), "  --------------------------------------|");
    draw(44, 7); /* no room for it */
    assert_string_equal(line(6), "  C  ^ +5.0/min                  limit 93");
    c->status = READING_STALE;
    c->age_ns = 45 * NS_PER_S;
    draw(44, 8);
    assert_string_equal(line(7), "  C  45 s old                    limit 93");
    c->status = READING_OK;
    c->has_limit = false;
    c->rate_per_min = 0.5;
    draw(44, 8);
    assert_string_equal(line(7), "  C  -");
    grid_fini(&drawn);
}

/* An alarm has a frame around it all, from eight lines on; its letter flashes until it is answered.
 */
static void frame__while_an_alarm_stands(void **state)
{
    char roles[80];

    (void)state;
    struct alert *a = scene_alert(&s, PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, "exhaust.0", "x");
    s.ui.flash = true;
    draw(40, 8);
    assert_string_equal(line(0), "+--------------------------------------+");
    assert_memory_equal(line(1), "|A ENGINE exhaust", 17);
    assert_string_equal(line(7), "+--------------------------------------+");
    for (int y = 1; y < 7; y++) {
        assert_int_equal(grid_at(&drawn, 0, y)->ch, '|');
        assert_int_equal(grid_at(&drawn, 39, y)->ch, '|');
        assert_int_equal(grid_at(&drawn, 39, y)->role, ROLE_ALARM);
    }
    grid_row_roles(&drawn, 1, roles, sizeof roles);
    assert_memory_equal(roles, "aA.aaaaaa.aaaaaaa", 17);
    draw(40, 7);
    assert_memory_equal(line(0), "A ENGINE exhaust", 16);
    a->state = ALERT_ACKNOWLEDGED;
    draw(40, 8);
    grid_row_roles(&drawn, 1, roles, sizeof roles);
    assert_memory_equal(roles, "aa.aaaaaa.aaaaaaa", 17);
    a->priority = PRIORITY_WARNING;
    draw(40, 8);
    assert_memory_equal(line(0), "W ENGINE exhaust", 16);
    grid_fini(&drawn);
}

#define WITH_SCENE(f) cmocka_unit_test_setup_teardown(f, calm, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_SCENE(tiles__as_many_as_fit),
        WITH_SCENE(tiles__of_several_engines),
        WITH_SCENE(tile__words_and_bar),
        WITH_SCENE(frame__while_an_alarm_stands),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
