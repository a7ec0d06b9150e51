/* What a reader must be able to trust at a glance: units that stand beside their figures, trends
 * without false gaps, lines that say only what is so. */
#include "scene.h"

#include "base/text.h"
#include "screen/rows.h"
#include "session/feed.h"
#include "config/config.h"
#include "support/program.h"

#include <string.h>

/* The line of the picture's text that holds `word`; "" where none does. */
static const char *line_with(struct scene *s, int cols, int rows, const char *word)
{
    static char line[800];
    char *text = scene_picture(s, cols, rows, false, "day");
    line[0] = '\0';
    for (char *at = strtok(text, "\n"); at && strcmp(at, "---- roles") != 0;
         at = strtok(NULL, "\n"))
        if (strstr(at, word) && !line[0])
            snprintf(line, sizeof line, "%s", at);
    free(text);
    return line;
}

static void board__forty_columns__a_twin_row_has_its_unit(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    assert_string_equal(line_with(&s, 40, 10, "│ exhaust"),
                        "      28 → │ exhaust    °C  │ ↑     61 A");
    scene_free(&s);
}

static void board__limit_in_bar__stands_apart_from_its_unit(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    s.m->units = (struct unit_choice){UNIT_C, UNIT_BAR, UNIT_L, UNIT_LPH, UNIT_KN};
    assert_non_null(strstr(line_with(&s, 80, 24, "oil press."), "│ oil press.   bar   1 │"));
    for (size_t i = 0; i < s.m->channel_count; i++)
        if (s.m->channels[i].id.quantity == QTY_OIL_PRESSURE)
            s.m->channels[i].limit = 105;
    assert_non_null(strstr(line_with(&s, 80, 24, "oil press."), "│ oil press.   bar 1.05│"));
    scene_free(&s);
}

static void calm_line__engines_switched_off__are_not_blamed_for_their_speed(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    s.m->careful[0] = s.m->careful[1] = true;
    assert_string_equal(line_with(&s, 80, 24, "all well"),
                        " all well since 13:58; no engine sends its speed: watched less closely");
    /* On a narrow screen it takes a second line rather than lose its end. */
    assert_string_equal(line_with(&s, 40, 10, "closely"), " its speed: watched less closely");
    for (size_t i = 0; i < s.m->channel_count; i++)
        if (s.m->channels[i].id.quantity == QTY_RPM)
            s.m->channels[i].off = true;
    assert_string_equal(line_with(&s, 80, 24, "all well"), " all well since 13:58");
    scene_free(&s);
}

/* Only exhaust probes are heard: an engine that did not run has no speed to send. */
static void calm_line__exhaust_alone__is_blamed_once_the_engine_has_run(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 1);
    s.m->careful[0] = true;
    struct model_channel *exhaust = NULL;
    for (size_t i = 0; i < s.m->channel_count; i++) {
        struct model_channel *c = &s.m->channels[i];
        if (c->id.quantity == QTY_EXHAUST)
            exhaust = c;
        else if (c->engine >= 0)
            c->status = READING_NEVER;
    }
    assert_non_null(exhaust);
    exhaust->has_extremes = true;
    exhaust->low = 19;
    exhaust->high = 21;
    assert_string_equal(line_with(&s, 80, 24, "all well"), " all well since 13:58");
    exhaust->high = 43;
    assert_non_null(strstr(line_with(&s, 80, 24, "all well"), "sends no speed"));
    scene_free(&s);
}

/* Nobody must wait for a sound that does not come, nor hear of peace from a watch that is mute. */
static void board__sound_is_not_plain_on__first_line_says_so(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    assert_string_equal(line_with(&s, 80, 24, "SOUND"), "");
    s.m->self.muted = true;
    for (int cols = 80; cols <= 200; cols += 40)
        assert_string_not_equal(line_with(&s, cols, 24, "SOUND OFF"), "");
    assert_string_equal(line_with(&s, 80, 24, "all well"), "");
    assert_string_equal(line_with(&s, 80, 24, "no alert"), " no alert; the sound is off");
    s.ui.request = (struct request){0};
    ui_key(&s.ui, s.m, 'E');
    assert_int_equal(s.ui.request.kind, REQUEST_SOUND_TEST);
    scene_free(&s);
    scene_trouble(&s, 2);
    s.alerts[0].state = ALERT_SILENCED;
    s.alerts[0].silent_until_ns = s.m->now.mono_ns + 26500 * NS_PER_MS;
    assert_string_not_equal(line_with(&s, 80, 24, "silenced 0:27"), "");
    scene_free(&s);
}

/* The first temperature heard is one engine's, whether there are two or not. */
static void board__first_seconds__waits_for_who_is_there(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 1);
    s.m->gathering = s.m->listening = true;
    assert_non_null(strstr(line_with(&s, 80, 24, "who is there"), "finding out who is there: "));
    assert_string_equal(line_with(&s, 80, 24, "all well"), "");
    assert_string_equal(line_with(&s, 80, 24, "│ exhaust"), "");
    s.m->gathering = false;
    assert_string_not_equal(line_with(&s, 80, 24, "exhaust"), "");
    assert_string_equal(line_with(&s, 80, 24, "who is there"), "");
    scene_free(&s);
    /* What is wrong already is shown with all that is known of it. */
    scene_trouble(&s, 2);
    s.m->gathering = s.m->listening = true;
    assert_string_not_equal(line_with(&s, 80, 24, "│ exhaust"), "");
    scene_free(&s);
}

static void board__second_sender__keeps_what_tells_it_from_the_first(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    struct model_channel *c = scene_channel(&s, QTY_EXHAUST, 0, 27);
    c->second = true;
    c->key = "exhaust.0@33";
    snprintf(s.ui.chosen, sizeof s.ui.chosen, "%s", c->key); /* what is chosen stays in sight */
    assert_non_null(strstr(line_with(&s, 80, 24, "@33"), " exhaust @33 "));
    assert_non_null(strstr(line_with(&s, 200, 60, "@33"), " port exhaust @33 "));
    scene_free(&s);
}

static void label__too_long_for_its_column__shortens_the_side_first(void **state)
{
    (void)state;
    struct scene s;
    struct grid g;
    char label[64];
    scene_calm(&s, 2);
    assert_true(grid_init(&g, 40, 10, false));
    struct model_channel *c = scene_channel(&s, QTY_GEAR_OIL_PRESSURE, 1, 1700);
    assert_string_equal(rows_short_label(&g, s.m, c, 22, label, sizeof label),
                        "starboard gear press.");
    assert_string_equal(rows_short_label(&g, s.m, c, 16, label, sizeof label), "stbd gear press.");
    c->second = true;
    c->key = "gear-oil-pressure.1@19";
    assert_string_equal(rows_short_label(&g, s.m, c, 12, label, sizeof label), "gear pr… @19");
    grid_fini(&g);
    scene_free(&s);
}

/* What a trend shows is little worth without the time it spans. */
static void board__heading__says_how_long_its_trends_are(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    assert_non_null(strstr(line_with(&s, 80, 24, "STARBOARD"), " 10 min "));
    assert_non_null(strstr(line_with(&s, 200, 60, "STARBOARD"), " 10 min "));
    s.m->trend_span_ns = 7200 * NS_PER_S;
    assert_non_null(strstr(line_with(&s, 80, 24, "STARBOARD"), " 2 h "));
    scene_free(&s);
}

static void movers__forty_columns__still_say_who_sends(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    ui_key(&s.ui, s.m, 'm');
    assert_string_equal(line_with(&s, 40, 10, "pgn"), " exhaust.1: src 21 ins 1 pgn 127488");
    ui_key(&s.ui, s.m, KEY_CODE_DOWN);
    ui_key(&s.ui, s.m, KEY_CODE_DOWN);
    assert_string_not_equal(s.ui.chosen, "exhaust.1");
    assert_non_null(strstr(line_with(&s, 40, 10, "pgn"), s.ui.chosen));
    scene_free(&s);
}

static void helm__forty_by_ten__has_figures_of_three_lines(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    ui_key(&s.ui, s.m, 'h');
    assert_non_null(strstr(line_with(&s, 40, 10, "▀▀█"), "█▀▀ ▄█"));
    assert_non_null(strstr(line_with(&s, 40, 10, "STARBOARD exh"), "STARBOARD exhaust"));
    scene_free(&s);
}

/* A footer that offers what does nothing is a lie. */
static void footer__at_the_end_of_a_log__offers_no_pause(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    assert_non_null(strstr(line_with(&s, 80, 24, "? help"), "space pause"));
    s.m->replay.paused = true;
    assert_non_null(strstr(line_with(&s, 80, 24, "? help"), "space go on"));
    s.m->replay.paused = false;
    s.m->replay.ended = true;
    assert_null(strstr(line_with(&s, 80, 24, "? help"), "space"));
    assert_null(strstr(line_with(&s, 160, 50, "? help"), "faster"));
    assert_non_null(strstr(line_with(&s, 160, 50, "? help"), "g go to"));
    ui_key(&s.ui, s.m, ' ');
    assert_int_equal(s.ui.request.kind, REQUEST_NONE);
    s.m->replay.is_log = false; /* a bus never ends */
    assert_non_null(strstr(line_with(&s, 80, 24, "? help"), "space pause"));
    scene_free(&s);
}

static void narrow__questions_and_hints__are_whole(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    assert_string_equal(line_with(&s, 40, 10, " more"), " and 9 more: arrow keys");
    ui_key(&s.ui, s.m, 'q');
    assert_string_equal(line_with(&s, 40, 10, "quit"), " an alarm stands: quit? y yes, else no");
    ui_key(&s.ui, s.m, 'n');
    ui_key(&s.ui, s.m, 'g');
    assert_string_equal(line_with(&s, 40, 10, "go to"), " go to _  HH:MM[:SS] or +MM:SS");
    scene_free(&s);
}

/* Forty by ten has no time bar: the title says how far into the log it is, whole at its end alone,
 * and not where the length is not known. The alert keeps its lines. */
static void narrow__no_time_bar__the_title_says_how_far(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    struct model_replay *p = &s.m->replay;
    p->first_ns = s.m->now.wall_ns - 369 * NS_PER_S; /* of 1000 s */
    p->last_ns = p->first_ns + 1000 * NS_PER_S;
    assert_string_equal(line_with(&s, 40, 10, "14:12:07"),
                        " 14:12:07  8x  at 36 %         A1 W0 C1");
    assert_string_equal(line_with(&s, 40, 10, "K/min"), "  K/min, 93 °C in 20 s: check raw water");
    /* Nor is the first thing to look at ever cut off. */
    struct alert longer = *s.m->alerts[0];
    s.m->alerts[0] = &longer;
    text_copy(longer.text, sizeof longer.text,
              "STARBOARD EXHAUST 119 °F rising 103 °F/min, 200 °F in 47 s: check raw water");
    assert_string_equal(line_with(&s, 40, 10, "in 47 s"), "  °F/min, 200 °F in 47 s: check raw");
    assert_string_equal(line_with(&s, 40, 10, "  water"), "  water");
    assert_non_null(strstr(line_with(&s, 80, 13, "14:12:07"), "8x  at 36 %"));
    assert_null(strstr(line_with(&s, 80, 14, "14:12:07"), "at 36 %")); /* it has a bar */
    p->paused = true;
    assert_string_equal(line_with(&s, 40, 10, "14:12:07"),
                        " 14:12:07  PAUSED  at 36 %     A1 W0 C1");
    assert_non_null(strstr(line_with(&s, 20, 6, "A1"), "PAUSED"));
    p->last_ns = s.m->now.wall_ns + 1;
    assert_non_null(strstr(line_with(&s, 40, 10, "14:12:07"), "at 99 %"));
    p->last_ns = s.m->now.wall_ns;
    assert_non_null(strstr(line_with(&s, 40, 10, "14:12:07"), "at 100 %"));
    p->last_ns = 0;
    assert_null(strstr(line_with(&s, 40, 10, "14:12:07"), " %"));
    p->last_ns = p->first_ns + 1000 * NS_PER_S;
    p->ended = true;
    assert_null(strstr(line_with(&s, 40, 10, "14:12:07"), " %"));
    assert_non_null(strstr(line_with(&s, 40, 10, "14:12:07"), "ENDED"));
    scene_free(&s);
}

static void trend__limit__is_named_as_its_line_is_not_on_the_axis(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    ui_key(&s.ui, s.m, 't');
    assert_non_null(strstr(line_with(&s, 80, 24, "1 port exhaust"), "  limit 93  "));
    assert_non_null(strstr(line_with(&s, 80, 24, "1 port exhaust"), "10 min"));
    assert_non_null(strstr(line_with(&s, 80, 24, "2 starboard exhaust"), "  limit 93"));
    /* Where it has no room it is left out whole. */
    assert_null(strstr(line_with(&s, 40, 10, "1 port exhaust"), "lim"));
    scene_free(&s);
}

/* One value on the screen: what the story calls "now" is what the row shows. */
static void alerts__now__is_the_reading_of_the_row(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    struct model_channel *c = &s.m->channels[0];
    while (c->alert != 0)
        c++;
    c->value = c->shown = 64;
    ui_key(&s.ui, s.m, 'l');
    char *text = scene_picture(&s, 80, 24, false, "day");
    assert_non_null(strstr(text, "64 °C"));
    assert_null(strstr(text, "now            61"));
    free(text);
    c->status = READING_STALE; /* then what the rule saw last */
    text = scene_picture(&s, 80, 24, false, "day");
    assert_null(strstr(text, "64 °C"));
    free(text);
    scene_free(&s);
}

static void alerts__figures__are_in_the_users_unit(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    ui_key(&s.ui, s.m, 'l');
    ui_key(&s.ui, s.m, KEY_TAB_CODE); /* the story comes first */
    assert_true(s.ui.figures);
    assert_non_null(strstr(line_with(&s, 80, 24, "limit  "), "93.3 °C"));
    assert_non_null(strstr(line_with(&s, 80, 24, "rate  "), "96.0 K/min"));
    s.m->units.temperature = UNIT_F;
    /* By hand: 93.3 °C = 199.9 °F, 61 °C = 141.8 °F, 96 K = 172.8 °F as a difference. */
    assert_non_null(strstr(line_with(&s, 80, 24, "limit  "), "199.9 °F"));
    assert_non_null(strstr(line_with(&s, 80, 24, "value  "), "141.8 °F"));
    assert_non_null(strstr(line_with(&s, 80, 24, "rate  "), "172.8 °F/min"));
    scene_free(&s);
}

/* The line at the top speaks of the worst one: the chosen one must be readable somewhere. */
static void alerts__forty_by_ten__the_chosen_one_is_there_in_full(void **state)
{
    (void)state;
    struct scene s;
    scene_trouble(&s, 2);
    ui_key(&s.ui, s.m, 'l');
    ui_key(&s.ui, s.m, KEY_CODE_DOWN);
    assert_non_null(strstr(line_with(&s, 40, 10, "›C"), "…"));
    assert_string_equal(line_with(&s, 40, 10, "at its"), " at its lowest");
    scene_free(&s);
}

static void bus__forty_by_ten__says_whether_it_is_well(void **state)
{
    (void)state;
    struct scene s;
    scene_calm(&s, 2);
    s.m->bus.lost = 7;
    ui_key(&s.ui, s.m, 'b');
    assert_string_equal(line_with(&s, 40, 10, "load"), " load 31.0 %  lost 7  errors 0  bad 0");
    scene_free(&s);
}

static void bus__long_up__is_not_said_in_seconds(void **state)
{
    (void)state;
    static const struct {
        int64_t up_s;
        const char *wanted;
    } rows[] = {{119, " 119 s"},   {120, " 2 min"},     {7199, " 119 min"},      {7200, " 2 h"},
                {172799, " 47 h"}, {172800, " 2 days"}, {30 * 86400, " 30 days"}};
    struct scene s;
    scene_calm(&s, 2);
    ui_key(&s.ui, s.m, 'b');
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        s.m->self.up_ns = rows[i].up_s * NS_PER_S;
        assert_non_null(strstr(line_with(&s, 80, 24, " up "), rows[i].wanted));
    }
    scene_free(&s);
}

/* A figure at rest stands still: 2 296 wobbles by three, the board says 2 300 until it has gone
 * three quarters of a step; a temperature goes by its last place. */
static void values__settle__and_follow_a_real_change(void **state)
{
    (void)state;
    static const struct {
        double rpm, shown, exhaust, exhaust_shown;
    } rows[] = {{2296, 2300, 29.4, 29}, {2293, 2300, 29.7, 29}, {2294, 2300, 29.5, 29},
                {2291, 2290, 29.8, 30}, {2296, 2290, 29.3, 30}, {2299, 2300, 29.2, 29}};
    struct scene s;
    scene_calm(&s, 1);
    s.m->precision.rpm = 10;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        s.m->channels[0].value = rows[i].rpm;
        s.m->channels[1].value = rows[i].exhaust;
        model_settle(s.m, false);
        assert_near(s.m->channels[0].shown, rows[i].shown, 1e-9);
        assert_near(s.m->channels[1].shown, rows[i].exhaust_shown, 1e-9);
    }
    assert_non_null(strstr(line_with(&s, 80, 24, "rpm"), "2 300"));
    scene_free(&s);
}

/* The demo's incident as one still: five questions that a tired skipper has, and where the answers
 * stand. What went wrong when is known from the drill's own truth: starboard impeller, at +06:00.
 */
static void one_still__of_the_demo__answers_five_questions(void **state)
{
    (void)state;
    char path[200], arguments[400];
    snprintf(path, sizeof path, "%s/still.log", program_scratch());
    snprintf(arguments, sizeof arguments,
             "drill --fault impeller --at +06:00 --minutes 14 --seed 3 -o '%s'", path);
    struct outcome made = program_run(arguments, NULL);
    assert_int_equal(made.status, 0);
    outcome_free(&made);
    static const char *const sizes[] = {"80x24", "120x40", "160x50", "200x60"};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        snprintf(arguments, sizeof arguments, "watch --once --forget --size %s --to +06:48 '%s'",
                 sizes[i], path);
        struct outcome o = program_run(arguments, NULL);
        assert_int_equal(o.status, 0);
        const char *alert = strstr(o.out, "A STARBOARD EXHAUST "); /* which engine, and what */
        assert_non_null(alert);
        double value, rate, seconds;
        /* How bad, how fast, and how long until the limit; at 80 columns what to do takes the
         * place of the last two. */
        int told = sscanf(alert, "A STARBOARD EXHAUST %lf °C rising %lf K/min, 93 °C in %lf s",
                          &value, &rate, &seconds);
        assert_int_equal(told, i == 0 ? 1 : 3);
        assert_true(value > 50 && value < 93);
        if (told == 3) {
            assert_true(rate > 30);
            assert_near(seconds, (93.3 - value) / rate * 60, 3);
        }
        assert_non_null(strstr(o.out, "stop engine when safe, "));
        assert_non_null(strstr(o.out, "check raw water")); /* what to do first */
        /* The row of the exhausts: port as ever, starboard with its limit and its letter. */
        const char *row = strstr(o.out, "exhaust      °C   93");
        assert_non_null(row);
        assert_non_null(strchr(row, 'A'));
        assert_true(strchr(row, 'A') < strchr(row, '\n'));
        bool picture = i > 0; /* from 120x40 on with what was expected of it */
        assert_int_equal(strstr(o.out, "expected ") != NULL, picture);
        outcome_free(&o);
    }
}

/* At full speed a log is at its end before the moment asked for can be looked at. */
static void moving__at_full_speed__holds_where_it_went(void **state)
{
    (void)state;
    char path[200], arguments[400], notice[80] = "";
    snprintf(path, sizeof path, "%s/moving.log", program_scratch());
    snprintf(arguments, sizeof arguments, "drill --minutes 5 -o '%s'", path);
    struct outcome made = program_run(arguments, NULL);
    assert_int_equal(made.status, 0);
    outcome_free(&made);
    struct config_messages *messages = NULL;
    struct settings *settings = config_load(NULL, &messages);
    const char *names[] = {path};
    struct feed_options o = {.names = names, .count = 1, .settings = settings, .speed = 0};
    struct feed feed;
    struct err e;
    struct model *m = model_new();
    assert_non_null(settings);
    assert_true(feed_open_log(&feed, &o, &e));
    for (int i = 0; i < 1000 && !m->replay.ended; i++) {
        feed.kind->turn(feed.ctx, (struct stamp){0}, NS_PER_S);
        feed.kind->fill(feed.ctx, m);
    }
    assert_true(m->replay.ended);
    struct request q = {.kind = REQUEST_GO_TO, .moment = {.relative = true, .ns = 120 * NS_PER_S}};
    feed.kind->request(feed.ctx, &q, notice, sizeof notice);
    for (int i = 0; i < 1000; i++)
        feed.kind->turn(feed.ctx, (struct stamp){0}, NS_PER_S);
    feed.kind->fill(feed.ctx, m);
    assert_string_equal(notice, "");
    assert_true(m->replay.paused && !m->replay.ended);
    assert_near((double)(m->now.wall_ns - m->replay.first_ns) / 1e9, 120, 0.5);
    feed.kind->close(feed.ctx);
    model_free(m);
    config_messages_free(messages);
    settings_free(settings);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(board__forty_columns__a_twin_row_has_its_unit),
        cmocka_unit_test(board__limit_in_bar__stands_apart_from_its_unit),
        cmocka_unit_test(calm_line__exhaust_alone__is_blamed_once_the_engine_has_run),
        cmocka_unit_test(board__sound_is_not_plain_on__first_line_says_so),
        cmocka_unit_test(board__first_seconds__waits_for_who_is_there),
        cmocka_unit_test(calm_line__engines_switched_off__are_not_blamed_for_their_speed),
        cmocka_unit_test(board__second_sender__keeps_what_tells_it_from_the_first),
        cmocka_unit_test(label__too_long_for_its_column__shortens_the_side_first),
        cmocka_unit_test(board__heading__says_how_long_its_trends_are),
        cmocka_unit_test(movers__forty_columns__still_say_who_sends),
        cmocka_unit_test(helm__forty_by_ten__has_figures_of_three_lines),
        cmocka_unit_test(footer__at_the_end_of_a_log__offers_no_pause),
        cmocka_unit_test(narrow__questions_and_hints__are_whole),
        cmocka_unit_test(narrow__no_time_bar__the_title_says_how_far),
        cmocka_unit_test(trend__limit__is_named_as_its_line_is_not_on_the_axis),
        cmocka_unit_test(alerts__now__is_the_reading_of_the_row),
        cmocka_unit_test(alerts__figures__are_in_the_users_unit),
        cmocka_unit_test(alerts__forty_by_ten__the_chosen_one_is_there_in_full),
        cmocka_unit_test(bus__forty_by_ten__says_whether_it_is_well),
        cmocka_unit_test(bus__long_up__is_not_said_in_seconds),
        cmocka_unit_test(values__settle__and_follow_a_real_change),
        cmocka_unit_test(one_still__of_the_demo__answers_five_questions),
        cmocka_unit_test(moving__at_full_speed__holds_where_it_went),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
