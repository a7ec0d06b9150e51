/* What keys ask of the board that needs no terminal: the next theme and the next units, a trend
 * that is saved, the sounds, and what follows the sun or comes back from the last run. */
#include "session/watch_inside.h"

#include "base/text.h"
#include "config/config.h"
#include "screen/choices.h"
#include "screen/sun.h"
#include "support/check.h"
#include "support/program.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static struct settings *settings;
static struct watch_options options;
static struct theme theme;
static struct watch w;
static enum alert_sound sounding;

static enum alert_sound feed_sound(void *ctx)
{
    (void)ctx;
    return sounding;
}

static const struct feed_kind fake = {.sound = feed_sound};

static int begin(void **state)
{
    (void)state;
    struct config_messages *messages = NULL;
    settings = config_load(NULL, &messages);
    config_messages_free(messages);
    if (!settings || !theme_builtin(&theme, "day"))
        return -1;
    options = (struct watch_options){.forget = true};
    sounding = SOUND_NONE;
    w = (struct watch){.options = &options,
                       .settings = settings,
                       .theme = &theme,
                       .feed = {.kind = &fake},
                       .sounder = {.setting = &settings->screen}};
    w.model = model_new();
    text_copy(w.theme_from, sizeof w.theme_from, "day");
    ui_init(&w.ui);
    return w.model ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    model_free(w.model);
    settings_free(settings);
    return 0;
}

static const char *obey(enum request_kind kind)
{
    struct request q = {.kind = kind};
    w.ui.notice[0] = '\0';
    watch_obey(&w, &q);
    return w.ui.notice;
}

/* ---- themes ---- */

static void theme__key__goes_round_the_shipped_and_the_users_own(void **state)
{
    (void)state;
    char text[8192] = "";
    FILE *day = fopen("themes/day.theme", "r");
    assert_non_null(day);
    assert_true(fread(text, 1, sizeof text - 1, day) < sizeof text - 1);
    fclose(day);
    memcpy(strstr(text, "name = day"), "name = own", 10);
    const char *own = program_file("own.theme", text);
    size_t n = theme_builtin_count();
    text_copy(settings->screen.theme, sizeof settings->screen.theme, "day");
    text_copy(settings->screen.theme_at_dusk, sizeof settings->screen.theme_at_dusk, own);
    text_copy(settings->screen.theme_at_night, sizeof settings->screen.theme_at_night, own);
    text_copy(w.theme_from, sizeof w.theme_from, theme_builtin_name(0));
    for (size_t i = 1; i < n; i++) {
        char want[64];
        text_format(want, sizeof want, "theme: %s", theme_builtin_name(i));
        assert_string_equal(obey(REQUEST_THEME), want);
        assert_string_equal(w.theme_from, theme_builtin_name(i));
        assert_string_equal(theme.name, theme_builtin_name(i));
    }
    assert_true(w.theme_chosen);
    assert_string_equal(obey(REQUEST_THEME), "theme: own");
    assert_string_equal(w.theme_from, own);
    char first[64];
    text_format(first, sizeof first, "theme: %s", theme_builtin_name(0));
    assert_string_equal(obey(REQUEST_THEME), first); /* own once, though named twice */
    /* one that cannot be read any more is passed over */
    text_copy(w.theme_from, sizeof w.theme_from, theme_builtin_name(n - 1));
    assert_int_equal(unlink(own), 0);
    assert_string_equal(obey(REQUEST_THEME), first);
    /* and from one that nobody knows the first comes next */
    text_copy(w.theme_from, sizeof w.theme_from, "gone");
    text_copy(settings->screen.theme_at_dusk, sizeof settings->screen.theme_at_dusk, "");
    text_copy(settings->screen.theme_at_night, sizeof settings->screen.theme_at_night, "");
    assert_string_equal(obey(REQUEST_THEME), first);
}

/* At 50 N, 0 E on 21 March 2026 the sun sets at about 18:14 UTC, civil twilight ends about half an
 * hour later (an almanac's figures, from memory; a quarter of an hour is left to either side). */
#define NOON_NS (INT64_C(1774094400) * NS_PER_S) /* 2026-03-21 12:00 UTC */

static const char *at_hour(double hour)
{
    w.sun_ns = 0;
    w.wall_ns = NOON_NS + (int64_t)((hour - 12) * 3600e9);
    w.now_ns = NS_PER_S;
    w.urgent = false;
    watch_follow_sun(&w);
    return theme.name;
}

static void sun__dusk_and_night__bring_their_themes(void **state)
{
    (void)state;
    struct screen_setting *s = &settings->screen;
    text_copy(s->theme, sizeof s->theme, "day");
    text_copy(s->theme_at_dusk, sizeof s->theme_at_dusk, "dusk");
    text_copy(s->theme_at_night, sizeof s->theme_at_night, "night");
    assert_string_equal(at_hour(20), "day"); /* nobody said where she is */
    s->latitude = 50;
    assert_string_equal(at_hour(20), "day");
    s->longitude = 0;
    assert_string_equal(at_hour(12), "day");
    assert_string_equal(at_hour(18), "day");
    assert_string_equal(at_hour(18.5), "dusk");
    assert_true(w.urgent);
    assert_string_equal(w.theme_from, "dusk");
    assert_string_equal(at_hour(18.6), "dusk");
    assert_false(w.urgent); /* it is there already */
    assert_string_equal(at_hour(19.05), "night");
    assert_string_equal(at_hour(36), "day");
    s->theme_at_dusk[0] = '\0';
    assert_string_equal(at_hour(18.5), "day");
    assert_string_equal(at_hour(19.05), "night");
    s->theme_at_night[0] = '\0';
    text_copy(s->theme_at_dusk, sizeof s->theme_at_dusk, "dusk");
    assert_string_equal(at_hour(19.05), "dusk");
    /* looked at once a minute */
    w.wall_ns = NOON_NS;
    w.now_ns = NS_PER_S + 60 * NS_PER_S - 1;
    watch_follow_sun(&w);
    assert_string_equal(theme.name, "dusk");
    w.now_ns++;
    watch_follow_sun(&w);
    assert_string_equal(theme.name, "day");
    /* the user's choice stands */
    w.theme_chosen = true;
    assert_string_equal(at_hour(19.05), "day");
}

/* ---- sounds ---- */

static void sound__key__switches_it_and_says_so(void **state)
{
    (void)state;
    text_copy(settings->screen.sound, sizeof settings->screen.sound, "bell");
    assert_string_equal(obey(REQUEST_SOUND), "sound off");
    assert_true(w.sounder.muted);
    assert_string_equal(obey(REQUEST_SOUND_TEST), "the sound is off: switch it on first");
    assert_string_equal(obey(REQUEST_SOUND), "sound on");
    assert_false(w.sounder.muted);
    w.now_ns = 77;
    sounding = SOUND_WARNING;
    assert_string_equal(obey(REQUEST_SOUND_TEST), "not now: an alert sounds");
    assert_true(w.sounder.tried_ns == 0);
    sounding = SOUND_NONE;
    assert_string_equal(obey(REQUEST_SOUND_TEST),
                        "sounds as they will be: warning, alarm, emergency alarm");
    assert_true(w.sounder.tried_ns == 77);
    text_copy(settings->screen.sound, sizeof settings->screen.sound, "off");
    assert_string_equal(obey(REQUEST_SOUND_TEST), "the configuration has the sound off");
    assert_string_equal(obey(REQUEST_SOUND), "sound off");
    assert_string_equal(obey(REQUEST_SOUND), "the configuration has the sound off");
}

static void quit__and_nothing__do_what_they_say(void **state)
{
    (void)state;
    assert_string_equal(obey(REQUEST_NONE), "");
    assert_false(w.quit);
    obey(REQUEST_QUIT);
    assert_true(w.quit);
}

/* ---- a trend that is saved ---- */

static void save__two_files__named_by_the_time_shown(void **state)
{
    (void)state;
    char before[512];
    assert_non_null(getcwd(before, sizeof before));
    struct history *h = history_new();
    assert_non_null(h);
    for (int i = 0; i < 60; i++)
        history_add(h, (1000 + i) * NS_PER_S, 40 + i);
    w.model->channels[0] = (struct model_channel){.id = {QTY_EXHAUST, 0, 0},
                                                  .key = "exhaust.0",
                                                  .label = "exhaust",
                                                  .place = "",
                                                  .unit = UNIT_C,
                                                  .history = h,
                                                  .alert = -1};
    w.model->channel_count = 1;
    w.model->now = (struct stamp){NOON_NS + 1234 * NS_PER_MS, 1060 * NS_PER_S};
    text_copy(w.ui.trend.keys[0], sizeof w.ui.trend.keys[0], "exhaust.0");
    w.ui.trend.count = 1;
    assert_int_equal(chdir(program_scratch()), 0);
    assert_string_equal(obey(REQUEST_SAVE), "written here: trend-2026-03-21-12-00-01.csv and .svg");
    assert_int_equal(access("trend-2026-03-21-12-00-01.csv", R_OK), 0);
    assert_int_equal(access("trend-2026-03-21-12-00-01.svg", R_OK), 0);
    unlink("trend-2026-03-21-12-00-01.csv");
    unlink("trend-2026-03-21-12-00-01.svg");
    assert_int_equal(chdir("/proc"), 0); /* takes no file, whoever asks */
    assert_string_equal(obey(REQUEST_SAVE), "cannot write files in this directory");
    assert_int_equal(chdir(before), 0);
    history_free(h);
}

/* ---- the last run's choices ---- */

static void keep(const struct choices *s)
{
    char path[512];
    assert_true(choices_path(path, sizeof path));
    assert_true(choices_save(s, path));
}

static void recall__choices_of_the_last_run__unless_the_configuration_changed(void **state)
{
    (void)state;
    struct choices s = {.has_units = true};
    struct unit_choice chosen = {UNIT_F, UNIT_PSI, UNIT_GAL_US, UNIT_GPH_US, UNIT_KN};
    struct unit_choice configured = settings->units;
    setenv("XDG_STATE_HOME", program_scratch(), 1);
    text_copy(settings->screen.theme, sizeof settings->screen.theme, "day");
    text_copy(s.theme, sizeof s.theme, "night");
    text_copy(s.theme_configured, sizeof s.theme_configured, "day");
    text_copy(s.glyphs, sizeof s.glyphs, "blocks");
    s.units = chosen;
    s.units_configured = configured;
    keep(&s);
    watch_recall(&w); /* told to forget */
    assert_string_equal(theme.name, "day");
    assert_false(w.grid.blocks);
    options.forget = false;
    watch_recall(&w);
    assert_string_equal(theme.name, "night");
    assert_string_equal(w.theme_from, "night");
    assert_true(w.theme_chosen && w.units_chosen && w.grid.blocks);
    assert_memory_equal(&settings->units, &chosen, sizeof chosen);
    assert_memory_equal(&w.units_configured, &configured, sizeof configured);
    text_copy(s.glyphs, sizeof s.glyphs, "braille");
    settings->units = configured;
    keep(&s);
    watch_recall(&w);
    assert_false(w.grid.blocks);
    text_copy(s.glyphs, sizeof s.glyphs, "ascii");
    keep(&s);
    /* the configuration was changed since: it counts */
    settings->units = chosen;
    settings->units.speed = UNIT_KMH;
    text_copy(settings->screen.theme, sizeof settings->screen.theme, "safe");
    theme_builtin(&theme, "safe");
    w.theme_chosen = w.units_chosen = false;
    watch_recall(&w);
    assert_true(w.grid.ascii);
    assert_string_equal(theme.name, "safe");
    assert_false(w.theme_chosen || w.units_chosen);
    assert_int_equal(settings->units.speed, UNIT_KMH);
    /* and so does an option */
    text_copy(settings->screen.theme, sizeof settings->screen.theme, "day");
    options.theme = "safe";
    watch_recall(&w);
    assert_string_equal(theme.name, "safe");
    options.theme = NULL;
    watch_recall(&w);
    assert_string_equal(theme.name, "night");
}

#define WITH_WATCH(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    setenv("TZ", "UTC", 1);
    tzset();
    const struct CMUnitTest tests[] = {
        WITH_WATCH(theme__key__goes_round_the_shipped_and_the_users_own),
        WITH_WATCH(sun__dusk_and_night__bring_their_themes),
        WITH_WATCH(sound__key__switches_it_and_says_so),
        WITH_WATCH(quit__and_nothing__do_what_they_say),
        WITH_WATCH(save__two_files__named_by_the_time_shown),
        WITH_WATCH(recall__choices_of_the_last_run__unless_the_configuration_changed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
