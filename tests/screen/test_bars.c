/* The lines around every view, by hand: what stands in them at which width, how an alert's words
 * are broken and what of them flashes, and the bar of a log. */
#include "drawn_scene.h"
#include "screen/bars.h"

static int calm(void **state)
{
    (void)state;
    scene_calm(&s, 2);
    return 0;
}

static const char *roles(int y)
{
    static char text[400];
    grid_row_roles(&drawn, y, text, sizeof text);
    return text;
}

/* ---- title ---- */

static const char *title(int cols, bool has_bar)
{
    begin(cols, 2, false);
    bars_title(&drawn, (struct rect){0, 0, cols, 1}, s.m, has_bar);
    const char *text = line(0);
    check_bold();
    grid_fini(&drawn);
    return text;
}

/* Each as long as there is room for it and for all that matter more; the counts always. */
static void title__gives_up_what_matters_least(void **state)
{
    static const struct {
        int cols;
        const char *text;
    } rows[] = {
        {73, " Tern Point  demo.log  14:12:07  8x  at 41 %  bus 31 %  rec on  A0 W0 C0"},
        {72, " Tern Point  demo.log  14:12:07  8x  at 41 %         bus 31 %  A0 W0 C0"},
        {65, " Tern Point  demo.log  14:12:07  8x  at 41 %  bus 31 %  A0 W0 C0"},
        {64, " Tern Point  demo.log  14:12:07  8x  at 41 %           A0 W0 C0"},
        {55, " Tern Point  demo.log  14:12:07  8x  at 41 %  A0 W0 C0"},
        {54, " Tern Point  14:12:07  8x  at 41 %           A0 W0 C0"},
        {45, " Tern Point  14:12:07  8x  at 41 %  A0 W0 C0"},
        {44, " 14:12:07  8x  at 41 %             A0 W0 C0"},
        {33, " 14:12:07  8x  at 41 %  A0 W0 C0"},
        {32, " 14:12:07  8x          A0 W0 C0"},
        {24, " 14:12:07  8x  A0 W0 C0"},
        {23, " 8x           A0 W0 C0"},
        {14, " 8x  A0 W0 C0"},
    };

    (void)state;
    s.m->record = "on";
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_string_equal(title(rows[i].cols, false), rows[i].text);
    assert_null(strstr(title(80, true), "41 %")); /* where the bar shows it */
    s.m->has_bus_clock = true;                    /* goes after the place, before the own clock */
    s.m->bus_ahead_ns = 60 * NS_PER_S;
    s.m->self.muted = true; /* stays to the last */
    assert_string_equal(title(54, false), " 14:12:07  bus time 14:13:07  8x  SOUND OFF  A0 W0 C0");
    assert_string_equal(title(53, false), " 14:12:07  8x                    SOUND OFF  A0 W0 C0");
    assert_string_equal(title(35, false), " 14:12:07  8x  SOUND OFF  A0 W0 C0");
    assert_string_equal(title(34, false), " 8x           SOUND OFF  A0 W0 C0");
    assert_string_equal(title(25, false), " 8x  SOUND OFF  A0 W0 C0");
}

/* What each part says, by itself in a title that is long enough for all. */
static void says(const char *wanted, const char *not_wanted)
{
    const char *text = title(140, false);
    if (*wanted && !strstr(text, wanted))
        fail_msg("no '%s' in '%s'", wanted, text);
    if (*not_wanted && strstr(text, not_wanted))
        fail_msg("'%s' in '%s'", not_wanted, text);
}

static void title__speed_and_place_of_a_log(void **state)
{
    (void)state;
    struct model_replay *p = &s.m->replay;
    p->speed = 1;
    says("  1x  ", "");
    p->speed = 1.5;
    says("  2x  ", "");
    p->speed = 0;
    says("  max  ", "");
    p->paused = true;
    says("  PAUSED  ", "max");
    p->ended = true;
    says("  ENDED  ", " at "); /* all of it */
    p->part = true;
    says("  PART ENDED  ", "PAUSED");
    p->ended = p->paused = false;
    s.m->now.wall_ns = p->first_ns - 1;
    says("  at 0 %", "");
    s.m->now.wall_ns = p->last_ns - 1;
    says("  at 99 %", "");
    s.m->now.wall_ns = p->last_ns;
    says("  at 100 %", "");
    s.m->now.wall_ns = p->last_ns + 1;
    says("  at 100 %", "");
    p->last_ns = p->first_ns; /* its length is not known */
    says("", " at ");
    p->last_ns = p->first_ns + 1;
    p->is_log = false;
    says("", " at ");
    says("", "max");
}

/* Up to two seconds apart the two clocks are the same. */
static void title__the_clock_of_the_bus_where_it_is_another(void **state)
{
    (void)state;
    says("", "bus time");
    s.m->has_bus_clock = true;
    s.m->bus_ahead_ns = 2 * NS_PER_S;
    says("", "bus time");
    s.m->bus_ahead_ns = 2 * NS_PER_S + 1;
    says("  14:12:07  bus time 14:12:09  ", "");
    s.m->bus_ahead_ns = -2 * NS_PER_S;
    says("", "bus time");
    s.m->bus_ahead_ns = -3 * NS_PER_S;
    says("  14:12:07  bus time 14:12:04  ", "");
    s.m->clock_known = false;
    says("", "14:12");
    s.m->clock_known = true;
    s.m->waiting = "can0";
    says("", "14:12");
    s.m->waiting = NULL;
    s.m->has_bus_clock = false;
    says("14:12:07", "bus time");
}

static void title__load_and_sound(void **state)
{
    (void)state;
    s.m->bus.load_percent = 0;
    says("  bus 0 %  ", "");
    s.m->bus.load_percent = 31.5;
    says("  bus 32 %  ", "");
    s.m->bus.load_percent = -1;
    says("", "bus");
    scene_alert(&s, PRIORITY_WARNING, ALERT_SILENCED, "coolant.0", "one");
    scene_alert(&s, PRIORITY_WARNING, ALERT_SILENCED, "coolant.1", "two");
    scene_alert(&s, PRIORITY_WARNING, ALERT_ACKNOWLEDGED, "exhaust.0", "three");
    s.alerts[2].silent_until_ns = SCENE_MONO_NS + 900 * NS_PER_S;
    says("", "silenced");
    s.alerts[0].silent_until_ns = SCENE_MONO_NS + 60 * NS_PER_S;
    says("  silenced 1:00  ", "");
    s.alerts[1].silent_until_ns = SCENE_MONO_NS + 60 * NS_PER_S + 1;
    says("  silenced 1:01  ", "");
    s.alerts[0].silent_until_ns = SCENE_MONO_NS + 130 * NS_PER_S;
    says("  silenced 2:10  ", "");
    s.m->self.muted = true;
    says("  SOUND OFF  ", "silenced");
}

static void title__counts_are_bright_where_there_are_any(void **state)
{
    (void)state;
    s.m->counts[PRIORITY_WARNING] = 12;
    begin(40, 1, false);
    bars_title(&drawn, (struct rect){0, 0, 40, 1}, s.m, false);
    assert_string_equal(line(0) + 30, "A0 W12 C0");
    assert_string_equal(roles(0) + 30, "dd.www.dd");
    s.m->counts[PRIORITY_EMERGENCY] = s.m->counts[PRIORITY_CAUTION] = 1;
    grid_clear(&drawn);
    bars_title(&drawn, (struct rect){0, 0, 40, 1}, s.m, false);
    assert_string_equal(line(0) + 27, "E1 A0 W12 C1");
    assert_string_equal(roles(0) + 27, "ee.dd.www.cc");
    grid_fini(&drawn);
}

/* ---- words in lines ---- */

static void lines__broken_at_blanks(void **state)
{
    static const struct {
        const char *text;
        int w, lines;
    } rows[] = {
        {"", 10, 1},
        {"one two three", 13, 1},
        {"one two three", 12, 2},
        {"one two three", 7, 2},
        {"one two three", 6, 3},
        {"one two three", 5, 3},
        {"abcdefgh", 3, 3},
        {"abcdef", 3, 2},
        {"one", 0, 1},
        {"水水水", 4, 2},
        {"水水水", 6, 1},
        {"a\x01"
         "b",
         3, 1},
        {"one   two", 4, 2},
        {"abc", 1, 3},
        {"e\u0301e\u0301e\u0301", 3, 1}, /* an accent takes no room */
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(bars_lines(rows[i].text, rows[i].w), rows[i].lines);
}

static void text__in_as_many_lines_as_there_are(void **state)
{
    (void)state;
    begin(12, 4, false);
    assert_int_equal(bars_text(&drawn, (struct rect){1, 1, 7, 3}, "one two three", ROLE_LABEL), 2);
    assert_string_equal(line(0), "");
    assert_string_equal(line(1), " one two");
    assert_string_equal(line(2), " three");
    assert_string_equal(roles(2), ".lllll");
    grid_clear(&drawn);
    assert_int_equal(bars_text(&drawn, (struct rect){1, 1, 7, 2}, "one two three four", ROLE_LABEL),
                     2);
    assert_string_equal(line(2), " three …"); /* the last one is cut */
    assert_string_equal(line(3), "");
    assert_int_equal(bars_text(&drawn, (struct rect){1, 1, 7, 2}, "", ROLE_LABEL), 0);
    grid_fini(&drawn);
}

/* The letter and the place flash: an engine's number belongs to its place, a value does not. */
static void alert__its_place_flashes(void **state)
{
    static const struct {
        enum priority priority;
        enum alert_state state;
        bool flash;
        int w;
        const char *text, *roles;
    } rows[] = {
        {PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, true, 40, "ENGINE 2 EXHAUST 61 °C",
         "A.AAAAAAAAAAAAAAAA.aa.aa"},
        {PRIORITY_WARNING, ALERT_SILENCED, true, 40, "BATTERY 2 12.1 V", "W.WWWWWWW.w.wwww.w"},
        {PRIORITY_WARNING, ALERT_RECTIFIED, true, 40, "EXHAUST 61", "W.wwwww.wwwwwww.ww"},
        {PRIORITY_EMERGENCY, ALERT_UNACKNOWLEDGED, true, 40, "PORT ENGINE low oil",
         "E.EEEEEEEEEEE.eee.eee"},
        {PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, true, 10, "ENGINE 2 EXHAUST 61 °C", "A.AAAAAAAA"},
        {PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, false, 40, "EXHAUST 61", "a.aaaaaaa.aa"},
        {PRIORITY_ALARM, ALERT_ACKNOWLEDGED, true, 40, "EXHAUST 61", "a.aaaaaaa.aa"},
        {PRIORITY_CAUTION, ALERT_UNACKNOWLEDGED, true, 40, "EXHAUST 61", "c.ccccccc.cc"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct alert a = {.priority = rows[i].priority, .state = rows[i].state};
        snprintf(a.text, sizeof a.text, "%s", rows[i].text);
        begin(60, 1, false);
        bars_alert_text(&drawn, (struct rect){0, 0, rows[i].w, 1}, &a, rows[i].flash);
        check_bold();
        assert_string_equal(roles(0), rows[i].roles);
        grid_fini(&drawn);
    }
}

/* What is over says so, unless its words do; and breaks at a blank. */
static void alert__over_and_long_ones(void **state)
{
    struct alert a = {.priority = PRIORITY_ALARM, .state = ALERT_RECTIFIED};

    (void)state;
    snprintf(a.text, sizeof a.text, "EXHAUST 61 °C rising 96 K/min: check raw water");
    begin(60, 3, false);
    bars_alert_text(&drawn, (struct rect){1, 0, 20, 3}, &a, false);
    assert_string_equal(line(0), " A over: EXHAUST 61");
    assert_string_equal(line(1), "   °C rising 96");
    assert_string_equal(line(2), "   K/min: check raw …");
    grid_clear(&drawn);
    a.stage = STAGE_OVER;
    bars_alert_text(&drawn, (struct rect){0, 0, 60, 1}, &a, false);
    assert_string_equal(line(0), "A over: EXHAUST 61 °C rising 96 K/min: check raw water");
    grid_clear(&drawn);
    snprintf(a.what, sizeof a.what, "x");
    bars_alert_text(&drawn, (struct rect){0, 0, 60, 1}, &a, false);
    assert_string_equal(line(0), "A EXHAUST 61 °C rising 96 K/min: check raw water");
    grid_fini(&drawn);
}

/* From 100 by 30 on: what happens with how long it has, below it what to do, in steps as far as
 * they fit. */
static void band__two_lines_where_there_is_room(void **state)
{
    (void)state;
    struct alert *a = scene_alert(&s, PRIORITY_ALARM, ALERT_UNACKNOWLEDGED, "exhaust.1",
                                  "STBD EXHAUST 61 °C: check raw water");
    begin(100, 30, false);
    s.ui.cols = 100;
    s.ui.rows = 30;
    assert_int_equal(bars_layout(&s.ui, s.m).alert.h, 2);
    bars_alert(&drawn, (struct rect){0, 1, 100, 2}, s.m, &s.ui);
    assert_memory_equal(line(1), "▌A STBD EXHAUST 61 °C ", 24);
    assert_string_equal(line(1) + strlen(line(1)) - 10, " for 00:21");
    assert_int_equal(grid_width(&drawn, line(1)), 99);
    assert_string_equal(line(2), "▌  check raw water");
    a->active = false;
    a->rectified.mono_ns = a->raised.mono_ns + 65 * NS_PER_S;
    snprintf(a->what, sizeof a->what, "STARBOARD EXHAUST 61 °C, and more");
    snprintf(a->action, sizeof a->action, "look at the strainer");
    grid_clear(&drawn);
    bars_alert(&drawn, (struct rect){0, 1, 100, 2}, s.m, &s.ui);
    assert_memory_equal(line(1), "▌A STARBOARD EXHAUST 61 °C, and more ", 39);
    assert_string_equal(line(1) + strlen(line(1)) - 13, " lasted 01:05");
    assert_string_equal(line(2), "▌  look at the strainer");
    s.ui.rows = 29;
    assert_int_equal(bars_layout(&s.ui, s.m).alert.h, 1);
    grid_clear(&drawn);
    bars_alert(&drawn, (struct rect){0, 1, 100, 1}, s.m, &s.ui);
    assert_string_equal(line(1), "A STBD EXHAUST 61 °C: check raw water");
    s.ui.rows = 30;
    s.ui.cols = 99;
    assert_int_equal(bars_layout(&s.ui, s.m).alert.h, 1);
    grid_fini(&drawn);
}

/* The next steps behind it as far as they fit, none once it is over; nothing bold but what to do.
 */
static void band__steps_as_far_as_they_fit(void **state)
{
    static const struct {
        int w;
        const char *text;
    } rows[] = {
        {92, "▌  check raw water   1 seacock open?  2 strainer  3 impeller, cover hot?  "
             "4 hose cool first"},
        {91, "▌  check raw water   1 seacock open?  2 strainer  3 impeller, cover hot?"},
        {73, "▌  check raw water   1 seacock open?  2 strainer  3 impeller, cover hot?"},
        {72, "▌  check raw water   1 seacock open?  2 strainer"},
    };

    (void)state;
    struct alert *a = scene_alert(&s, PRIORITY_ALARM, ALERT_ACKNOWLEDGED, "exhaust.1",
                                  "EXHAUST 61 °C: check raw water");
    a->steps = TROUBLE_RAW_WATER;
    s.ui.cols = 100;
    s.ui.rows = 30;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        begin(100, 4, false);
        bars_alert(&drawn, (struct rect){0, 1, rows[i].w, 2}, s.m, &s.ui);
        assert_string_equal(line(2), rows[i].text);
        for (int y = 0; y < 4; y++)
            for (int x = 0; x < 100; x++)
                if (grid_at(&drawn, x, y)->attr & ATTR_BOLD)
                    assert_true(y == 2 && x >= 3 && x < 18);
        assert_string_equal(line(0), "");
        assert_string_equal(line(3), "");
        grid_fini(&drawn);
    }
    a->stage = STAGE_OVER;
    begin(100, 4, false);
    bars_alert(&drawn, (struct rect){0, 1, 100, 2}, s.m, &s.ui);
    assert_string_equal(line(2), "▌  check raw water");
    grid_fini(&drawn);
}

/* ---- no alert ---- */

static void calm_says(const char *wanted)
{
    char text[200];
    assert_string_equal(bars_calm(s.m, text, sizeof text), wanted);
}

static struct model_channel *channel(const char *key)
{
    struct model_channel *c = (struct model_channel *)(uintptr_t)model_find(s.m, key);
    assert_non_null(c);
    return c;
}

static void calm__what_stands_in_the_place_of_an_alert(void **state)
{
    (void)state;
    calm_says("all well since 13:58"); /* 847 s before 14:12:07 */
    s.m->clock_known = false;
    calm_says("all well");
    s.m->clock_known = true;
    s.m->well_since_wall_ns = 0;
    calm_says("all well");
    s.m->self.muted = true;
    calm_says("no alert; the sound is off");
    s.m->listening = true;
    calm_says("listening …");
    struct model_channel *c = channel("exhaust.0");
    c->limit_priority = PRIORITY_WARNING; /* a warning's limit is no alarm */
    c->value = 95;
    calm_says("listening …");
    c->limit_priority = PRIORITY_ALARM;
    calm_says("no alert, but PORT exhaust stands at 95, limit 93");
    c->value = 93.3;
    calm_says("listening …");
    c = channel("engine-space.0");
    c->limit_priority = PRIORITY_EMERGENCY;
    c->value = 61;
    calm_says("no alert, but engine space stands at 61, limit 60");
    c = channel("rpm.0"); /* the first there is */
    scene_limit(c, 2000, true);
    c->limit_priority = PRIORITY_ALARM;
    calm_says("no alert, but PORT speed stands at 2 245, limit 2 000");
    s.m->waiting = "can0";
    calm_says("waiting for can0");
}

/* An engine that is under way and sends no speed is watched less closely, and that is said. */
static void calm__engines_without_speed(void **state)
{
    (void)state;
    s.m->well_since_wall_ns = 0;
    s.m->careful[0] = true;
    calm_says("all well; PORT sends no speed: watched less closely");
    s.m->careful[1] = true;
    calm_says("all well; no engine sends its speed: watched less closely");
    s.m->careful[0] = false;
    calm_says("all well; STARBOARD sends no speed: watched less closely");
    channel("rpm.1")->off = true; /* it said it while its box was on */
    calm_says("all well");
    channel("rpm.1")->off = false;
    for (size_t i = 0; i < s.m->channel_count; i++) {
        struct model_channel *c = &s.m->channels[i];
        if (c->engine != 1)
            continue;
        c->status = c->id.quantity == QTY_RPM ? READING_OK : READING_STALE;
        c->has_extremes = true;
        c->low = 20;
        c->high = 90;
        if (c->id.quantity == QTY_EXHAUST)
            c->high = 28;
    }
    calm_says("all well"); /* a probe that was not warm yet, and nothing else is on */
    channel("exhaust.1")->high = 28.1;
    calm_says("all well; STARBOARD sends no speed: watched less closely");
    channel("exhaust.1")->has_extremes = false;
    calm_says("all well");
    channel("load.1")->id.quantity = QTY_EXHAUST_GAS;
    calm_says("all well; STARBOARD sends no speed: watched less closely");
    scene_free(&s);
    scene_calm(&s, 3);
    s.m->well_since_wall_ns = 0;
    s.m->careful[0] = s.m->careful[2] = true;
    calm_says("all well; 2 engines send no speed: watched less closely");
    s.m->careful[1] = true;
    calm_says("all well; no engine sends its speed: watched less closely");
    scene_free(&s);
    scene_calm(&s, 1);
    s.m->well_since_wall_ns = 0;
    s.m->careful[0] = true;
    calm_says("all well; ENGINE sends no speed: watched less closely");
}

/* ---- the bar of a log ---- */

static const char *bar(int cols)
{
    begin(cols, 1, true);
    bars_time(&drawn, (struct rect){0, 0, cols, 1}, s.m);
    check_bold();
    return line(0);
}

/* Of 40 columns 26 are the log's hour from 13:47:07 on; 25 minutes of it are the 10th step of 25.
 */
static void bar__how_far_it_was_played_and_what_was_raised(void **state)
{
    (void)state;
    struct model_replay *p = &s.m->replay;
    p->hottest_count = 0;
    assert_string_equal(bar(40), " 13:47 ===========--------------- 14:47");
    assert_string_equal(roles(0), ".ddddd.yyyyyyyyyyykkkkkkkkkkkkkkk.ddddd");
    grid_fini(&drawn);
    assert_string_equal(bar(30), " 13:47 =======--------- 14:47"); /* 6.25 of 15 */
    grid_fini(&drawn);
    assert_string_equal(bar(29), "");
    grid_fini(&drawn);
    s.m->now.wall_ns = p->first_ns - NS_PER_S;
    assert_string_equal(bar(40), " 13:47 =------------------------- 14:47");
    grid_fini(&drawn);
    s.m->now.wall_ns = p->last_ns + 600 * NS_PER_S;
    assert_string_equal(bar(40), " 13:47 ========================== 14:47");
    grid_fini(&drawn);
    s.marks[0] = (struct model_mark){p->first_ns - NS_PER_S, -1, ""};
    s.marks[1] = (struct model_mark){p->first_ns + 144 * NS_PER_S, PRIORITY_ALARM, NULL};
    s.marks[2] = (struct model_mark){p->first_ns + 145 * NS_PER_S, PRIORITY_CAUTION, NULL};
    s.marks[3] = (struct model_mark){p->first_ns + 287 * NS_PER_S, PRIORITY_CAUTION, NULL};
    s.marks[4] = (struct model_mark){p->first_ns + 288 * NS_PER_S, -1, "x"};
    s.marks[5] = (struct model_mark){p->last_ns, PRIORITY_EMERGENCY, NULL};
    p->mark_count = 6;
    assert_string_equal(bar(40), " 13:47 'AC======================E 14:47");
    assert_string_equal(roles(0), ".ddddd.yacyyyyyyyyyyyyyyyyyyyyyye.ddddd");
    grid_fini(&drawn);
    p->mark_count = 0;
    s.m->clock_known = false;
    assert_string_equal(bar(40), " +00:00 ====================== +1:00:00");
    grid_fini(&drawn);
    p->last_ns = p->first_ns;
    assert_string_equal(bar(40), "");
    grid_fini(&drawn);
}

/* Each cell as hot as its hottest stretch; where none was heard a gap. Of two stretches a cell, the
 * peak of 93.3 lies in the sixth and seventh. */
static void bar__how_hot_it_was(void **state)
{
    static float hottest[52];

    (void)state;
    struct model_replay *p = &s.m->replay;
    for (int i = 0; i < 52; i++)
        hottest[i] = i == 11 || i == 12 ? 93.3f : i < 26 ? 20.0f : NAN;
    p->hottest = hottest;
    p->hottest_count = 52;
    assert_string_equal(bar(40), " 13:47 _____|\"|__|__............. 14:47");
    assert_string_equal(roles(0), ".ddddd.yyyyyyyyyyykkkkkkkkkkkkkkk.ddddd");
    grid_fini(&drawn);
    p->hottest_count = 2; /* a stretch over many cells */
    hottest[1] = NAN;
    assert_string_equal(bar(40), " 13:47 __________|__............. 14:47");
    grid_fini(&drawn);
}

/* ---- footer ---- */

static const char *foot(int cols, unsigned context, enum action own)
{
    begin(cols, 1, false);
    bars_foot(&drawn, (struct rect){0, 0, cols, 1}, s.m, &s.ui, context, own);
    check_bold();
    return line(0);
}

/* What does not fit is passed over, and a shorter one may stand in its place; help always. */
static void foot__keys_in_their_order(void **state)
{
    static const struct {
        int cols;
        const char *text;
    } rows[] = {
        {75, " a acknowledge  t trend  h helm  l alerts  m movers  b bus  q quit  ? help"},
        {74, " a acknowledge  t trend  h helm  l alerts  m movers  b bus  ? help"},
        {60, " a acknowledge  t trend  h helm  l alerts  m movers  ? help"},
        {59, " a acknowledge  t trend  h helm  l alerts  b bus  ? help"},
        {7, " ? help"},
        {6, ""},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_string_equal(foot(rows[i].cols, WHEN_UNACKED, ACTION_NONE), rows[i].text);
        grid_fini(&drawn);
    }
    assert_string_equal(foot(60, WHEN_GOES_ON, ACTION_TREND),
                        " space pause  h helm  l alerts  m movers  b bus  ? help");
    assert_string_equal(roles(0), ".yyyyy.ddddd..y.dddd..y.dddddd..y.dddddd..y.ddd..y.dddd");
    grid_fini(&drawn);
    s.m->replay.paused = true;
    snprintf(s.ui.filter, sizeof s.ui.filter, "exh");
    assert_string_equal(foot(60, WHEN_GOES_ON, ACTION_TREND),
                        " only 'exh'  space go on  h helm  l alerts  b bus  ? help");
    assert_string_equal(roles(0), ".nnnn.nnnnn..yyyyy.dd.dd..y.dddd..y.dddddd..y.ddd..y.dddd");
    grid_fini(&drawn);
    snprintf(s.ui.notice, sizeof s.ui.notice, "units: bar");
    assert_string_equal(foot(60, WHEN_GOES_ON, ACTION_TREND), " units: bar");
    assert_string_equal(roles(0), ".nnnnnn.nnn");
    grid_fini(&drawn);
}

#define WITH_SCENE(f) cmocka_unit_test_setup_teardown(f, calm, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_SCENE(title__gives_up_what_matters_least),
        WITH_SCENE(title__speed_and_place_of_a_log),
        WITH_SCENE(title__the_clock_of_the_bus_where_it_is_another),
        WITH_SCENE(title__load_and_sound),
        WITH_SCENE(title__counts_are_bright_where_there_are_any),
        WITH_SCENE(lines__broken_at_blanks),
        WITH_SCENE(text__in_as_many_lines_as_there_are),
        WITH_SCENE(alert__its_place_flashes),
        WITH_SCENE(alert__over_and_long_ones),
        WITH_SCENE(band__two_lines_where_there_is_room),
        WITH_SCENE(band__steps_as_far_as_they_fit),
        WITH_SCENE(calm__what_stands_in_the_place_of_an_alert),
        WITH_SCENE(calm__engines_without_speed),
        WITH_SCENE(bar__how_far_it_was_played_and_what_was_raised),
        WITH_SCENE(bar__how_hot_it_was),
        WITH_SCENE(foot__keys_in_their_order),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
