/* The view of the bus by hand: ages, what boxes are and send, what was left out, how long it has
 * been up, at the widths where columns come and go. */
#include "drawn_scene.h"
#include "screen/bus_view.h"

static size_t channels;

/* Three boxes; one engine's speed, exhaust and coolant come from the first. */
static int begin_view(void **state)
{
    (void)state;
    scene_calm(&s, 1);
    channels = s.m->channel_count;
    s.m->channel_count = 3;
    s.m->sources[0] = (struct model_source){.address = 20,
                                            .name = 1,
                                            .function = "engine gateway",
                                            .instance = 1,
                                            .maker = 137,
                                            .frames = 123456,
                                            .gaps = 3,
                                            .name_changes = 1};
    s.m->sources[1] = (struct model_source){.address = 7, .frames = 8};
    s.m->sources[2] = (struct model_source){
        .address = 254, .name = 1, .class_code = 25, .function_code = 130, .maker = 2, .frames = 9};
    s.m->source_count = 3;
    return 0;
}

static int end_view(void **state)
{
    (void)state;
    s.m->channel_count = channels;
    scene_free(&s);
    return 0;
}

static void draw(int w, int h)
{
    draw_by(bus_view_draw, w, h);
    check_bold();
}

/* The line of a box, 120 wide: address, messages, heard, gaps, what it is, names, what it sends. */
static void box(int y, int address, const char *frames, const char *heard, const char *gaps,
                const char *what, const char *names, const char *sends)
{
    char wanted[200];
    snprintf(wanted, sizeof wanted, " %3d %9s %6s %4s  %-36s%-4s%s", address, frames, heard, gaps,
             what, names, sends);
    for (size_t n = strlen(wanted); n && wanted[n - 1] == ' '; n--)
        wanted[n - 1] = '\0';
    assert_string_equal(line(y), wanted);
}

static void boxes__what_each_is_and_sends(void **state)
{
    (void)state;
    draw(120, 24);
    assert_string_equal(line(8),
                        " src  messages  heard gaps  what it is, by its name                 "
                        "sends");
    box(9, 20, "123456", "now", "3", "engine gateway 1, maker 137", "x2",
        "speed, exhaust, coolant");
    box(10, 7, "8", "now", "0", "no name heard", "", "");
    box(11, 254, "9", "now", "0", "class 25 function 130, maker 2", "", "");
    s.m->sources[0].instance = 0;
    s.m->sources[0].name_changes = 0;
    s.m->sources[0].earlier = 1;
    s.m->sources[0].earlier_spn = 110;
    s.m->sources[0].earlier_fmi = 3;
    s.m->channels[2].iface = 1; /* another's, of the same address */
    s.m->channel_count = 4;
    scene_move(&s, &s.m->channels[3], 7, 0);
    s.m->channels[3].id.quantity = QTY_EXHAUST; /* of another place: its name is there already */
    s.m->channels[3].label = s.m->channels[1].label;
    draw(120, 24);
    box(9, 20, "123456", "now", "3", "engine gateway, maker 137", "",
        "1 earlier code, SPN 110 FMI 3; speed, exhaust");
    s.m->sources[0].earlier = 2;
    s.m->channels[1].source = s.m->channels[3].source = 21;
    draw(120, 24);
    box(9, 20, "123456", "now", "3", "engine gateway, maker 137", "",
        "2 earlier codes, SPN 110 FMI 3; speed");
    /* narrower: no maker; then neither gaps nor names */
    draw(109, 24);
    assert_string_equal(line(9),
                        "  20    123456    now    3  engine gateway          2 earlier codes, "
                        "SPN 110 FMI 3; speed");
    draw(70, 24);
    assert_string_equal(line(10),
                        "  20    123456    now    3  engine gateway          2 earlier codes,~");
    draw(69, 24);
    assert_string_equal(line(10), "  20    123456    now 2 earlier codes, SPN 110 FMI 3; speed");
    s.m->iface_count = 2;
    snprintf(s.m->iface_names[0], sizeof s.m->iface_names[0], "can0");
    draw(69, 24);
    assert_string_equal(line(9), " src          messages  heard sends");
    assert_string_equal(line(10),
                        "  20 can0       123456    now 2 earlier codes, SPN 110 FMI 3; speed");
    grid_fini(&drawn);
}

static void age__in_the_largest_unit_of_which_there_are_two(void **state)
{
    static const struct {
        int64_t ms;
        const char *text;
        enum role role;
    } rows[] = {
        {0, "now", ROLE_VALUE},      {1999, "now", ROLE_VALUE},      {2000, "2 s", ROLE_VALUE},
        {10000, "10 s", ROLE_VALUE}, {10001, "10 s", ROLE_DIM},      {119999, "119 s", ROLE_DIM},
        {120000, "2 min", ROLE_DIM}, {7199999, "119 min", ROLE_DIM}, {7200000, "2 h", ROLE_DIM}};

    (void)state;
    s.m->source_count = 1;
    s.m->channel_count = 0;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char wanted[40];
        s.m->sources[0].age_ns = rows[i].ms * NS_PER_MS;
        draw(60, 24);
        snprintf(wanted, sizeof wanted, "  20    123456 %6.6s", rows[i].text);
        if (strlen(rows[i].text) <= 6)
            assert_string_equal(line(10), wanted);
        assert_int_equal(grid_at(&drawn, 2, 10)->role, rows[i].role);
        assert_int_equal(grid_at(&drawn, 12, 10)->role, rows[i].role);
    }
    grid_fini(&drawn);
}

/* All boxes or as many as there is room for, and how many more there are; keys go through them. */
static void boxes__more_than_there_is_room_for(void **state)
{
    (void)state;
    for (int i = 0; i < 8; i++)
        s.m->sources[i] = (struct model_source){.address = (uint8_t)(100 + i)};
    s.m->source_count = 8;
    s.m->channel_count = 0;
    draw(60, 18); /* eight lines from the tenth on */
    assert_memory_equal(line(17), " 107", 4);
    s.m->sources_more = 2;
    draw(60, 18);
    assert_memory_equal(line(16), " 106", 4);
    assert_string_equal(line(17), " and 3 more");
    s.m->sources_more = 0;
    draw(60, 15);
    assert_memory_equal(line(10), " 100", 4);
    assert_string_equal(line(14), " and 4 more");
    s.ui.bus_top = 2;
    draw(60, 15);
    assert_memory_equal(line(10), " 102", 4);
    assert_string_equal(line(14), " and 2 more");
    s.ui.bus_top = 7; /* never past the last */
    draw(60, 15);
    assert_memory_equal(line(10), " 103", 4);
    assert_memory_equal(line(14), " 107", 4);
    s.ui.cols = 80;
    s.ui.rows = 24;
    s.ui.bus_top = 0;
    assert_true(bus_view_handle(&s.ui, s.m, ACTION_UP));
    assert_int_equal(s.ui.bus_top, 0);
    bus_view_handle(&s.ui, s.m, ACTION_DOWN);
    assert_int_equal(s.ui.bus_top, 1);
    bus_view_handle(&s.ui, s.m, ACTION_END);
    assert_int_equal(s.ui.bus_top, 7);
    bus_view_handle(&s.ui, s.m, ACTION_DOWN);
    assert_int_equal(s.ui.bus_top, 7);
    bus_view_handle(&s.ui, s.m, ACTION_UP);
    assert_int_equal(s.ui.bus_top, 6);
    bus_view_handle(&s.ui, s.m, ACTION_HOME);
    assert_int_equal(s.ui.bus_top, 0);
    assert_false(bus_view_handle(&s.ui, s.m, ACTION_TREND));
    s.m->source_count = 0;
    draw(60, 15);
    assert_string_equal(line(10), " nobody was heard yet");
    bus_view_handle(&s.ui, s.m, ACTION_DOWN);
    assert_int_equal(s.ui.bus_top, 0);
    grid_fini(&drawn);
}

/* ---- figures ---- */

/* A column of figures is 36 wide. */
static void figure(char *dst, int column, const char *name, const char *number, const char *unit)
{
    snprintf(dst + 36 * column, 120 - 36 * (size_t)column, " %-15s%11s %-8s", name, number, unit);
}

static void figures__three_columns_of_them(void **state)
{
    static const char *const rows[][3][3] = {
        {{"load", "31.0", "%"}, {"broken messages", "0", ""}, {"memory", "7100", "KiB"}},
        {{"frames", "412", "/s"}, {"gaps", "0", ""}, {"pictures", "812", ""}},
        {{"frames in all", "1234567", ""}, {"no room for", "0", ""}, {"skipped", "3", ""}},
        {{"lost", "0", ""}, {"limits unbound", "0", ""}, {"bytes drawn", "123456", ""}},
        {{"error frames", "0", ""}, {"alerts lost", "0", ""}, {"up", "66", "min"}},
        {{"bad lines", "0", ""}, {"", "", ""}, {"channels", "3", ""}},
    };
    char wanted[120];

    (void)state;
    draw(110, 24);
    assert_string_equal(line(0), " bus                                 left out: nothing"
                                 "                   this program");
    for (int y = 0; y < 6; y++) {
        for (int c = 0; c < 3; c++)
            figure(wanted, c, rows[y][c][0], rows[y][c][1], rows[y][c][2]);
        for (size_t n = strlen(wanted); n && wanted[n - 1] == ' '; n--)
            wanted[n - 1] = '\0';
        assert_string_equal(line(y + 1), wanted);
    }
    draw(108, 24);
    assert_string_equal(line(7), "");
    draw(107, 24); /* no room for the middle one: in a line below */
    assert_string_equal(line(0), " bus                                 this program");
    assert_string_equal(line(7), " broken messages 0  gaps 0  no room 0  unbound 0");
    draw(69, 24);
    assert_string_equal(line(0), " bus");
    assert_string_equal(line(7), " broken messages 0  gaps 0  no room 0  unbound 0");
    s.m->bus.losses_unknown = true;
    s.m->bus.load_percent = s.m->bus.frames_per_s = -1;
    s.m->self.memory_kib = 0;
    draw(110, 24);
    assert_non_null(strstr(line(0), " left out: not told  "));
    figure(wanted, 0, "load", "--", "%");
    figure(wanted, 1, "broken messages", "--", "");
    figure(wanted, 2, "memory", "--", "KiB");
    assert_memory_equal(line(1), wanted, 72 + 31);
    draw(69, 24);
    assert_string_equal(line(7), ""); /* nothing is said of what is not known */
    grid_fini(&drawn);
}

/* Whatever it is that was heard and not used, it is no longer nothing. */
static void left_out__each_kind_is_something(void **state)
{
    struct model_bus *b = &s.m->bus;
    struct model_bus before = *b;

    (void)state;
    for (int i = 0; i < 8; i++) {
        *b = before;
        b->lost = i == 0;
        b->errors = i == 1;
        b->bad_lines = i == 2;
        b->losses.incomplete = i == 3;
        b->losses.gaps = i == 4;
        b->losses.dropped = i == 5;
        b->losses.unbound = i == 6;
        b->losses.alerts_lost = i == 7;
        draw(110, 24);
        assert_non_null(strstr(line(0), " left out  "));
    }
    grid_fini(&drawn);
}

static void up__in_the_largest_unit_of_which_there_are_two(void **state)
{
    static const struct {
        int s;
        const char *text;
    } rows[] = {{0, " 0 s"},    {119, "119 s"},    {120, " 2 min"},     {7199, "119 min"},
                {7200, " 2 h"}, {172799, " 47 h"}, {172800, " 2 days"}, {777600, " 9 days"}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        s.m->self.up_ns = rows[i].s * NS_PER_S + NS_PER_S - 1;
        draw(80, 24);
        assert_non_null(strstr(line(5), " up "));
        assert_string_equal(line(5) + strlen(line(5)) - strlen(rows[i].text), rows[i].text);
    }
    grid_fini(&drawn);
}

/* Lower screens say less: four lines of figures, then one line, then nothing but boxes. */
static void low__what_there_is_room_for(void **state)
{
    (void)state;
    draw(80, 14);
    assert_memory_equal(line(6), " bad lines", 10);
    draw(80, 13);
    assert_memory_equal(line(3), " frames in all", 14);
    assert_string_equal(line(4), "");
    assert_memory_equal(line(5), " src", 4);
    draw(80, 8);
    assert_memory_equal(line(3), " frames in all", 14);
    draw(80, 7);
    assert_string_equal(line(0), " load 31.0 %  lost 0  errors 0  bad 0");
    assert_memory_equal(line(1), " src", 4);
    draw(80, 5);
    assert_string_equal(line(0), " load 31.0 %  lost 0  errors 0  bad 0");
    draw(80, 4);
    assert_memory_equal(line(0), " src", 4);
    s.m->bus.load_percent = -1;
    s.m->bus.lost = 1;
    s.m->bus.errors = 2;
    s.m->bus.bad_lines = 3;
    draw(80, 5);
    assert_string_equal(line(0), " load -- %  lost 1  errors 2  bad 3");
    grid_fini(&drawn);
}

/* How each engine's cooling is watched stands above the boxes, where those keep six lines. */
static void senses__a_line_an_engine(void **state)
{
    (void)state;
    snprintf(s.m->sense[0], sizeof s.m->sense[0], "tells in 25 s: by the rise");
    draw(110, 15); /* 7 lines from the eighth on: one and six */
    assert_string_equal(line(8), " ENGINE      tells in 25 s: by the rise");
    assert_string_equal(line(9), "");
    assert_memory_equal(line(10), " src", 4);
    draw(110, 14);
    assert_memory_equal(line(8), " src", 4);
    s.m->channels[1].alert = 0; /* of the exhaust something is told already */
    draw(110, 15);
    assert_string_equal(line(8), " ENGINE      told in an alert: by the rise");
    s.m->channels[1].alert = -1;
    s.m->channels[2].alert = 0; /* of the coolant it is another matter */
    draw(110, 15);
    assert_string_equal(line(8), " ENGINE      tells in 25 s: by the rise");
    grid_fini(&drawn);
}

#define WITH_VIEW(f) cmocka_unit_test_setup_teardown(f, begin_view, end_view)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_VIEW(boxes__what_each_is_and_sends),
        WITH_VIEW(age__in_the_largest_unit_of_which_there_are_two),
        WITH_VIEW(boxes__more_than_there_is_room_for),
        WITH_VIEW(figures__three_columns_of_them),
        WITH_VIEW(left_out__each_kind_is_something),
        WITH_VIEW(up__in_the_largest_unit_of_which_there_are_two),
        WITH_VIEW(low__what_there_is_room_for),
        WITH_VIEW(senses__a_line_an_engine),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
