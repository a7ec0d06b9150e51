#include "session/watch_inside.h"

#include "base/text.h"
#include "screen/choices.h"
#include "screen/sun.h"
#include "screen/trend_file.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* ---- what keys ask for ---- */

#define THEMES_MAX 16

/* The shipped ones, and after them the files that the user named. */
static size_t list_themes(const struct screen_setting *s, const char *names[THEMES_MAX])
{
    const char *const own[] = {s->theme, s->theme_at_dusk, s->theme_at_night};
    size_t n = 0;
    for (; n < theme_builtin_count() && n < THEMES_MAX; n++)
        names[n] = theme_builtin_name(n);
    for (size_t i = 0; i < sizeof own / sizeof own[0] && n < THEMES_MAX; i++) {
        size_t same = 0;
        while (same < n && strcmp(names[same], own[i]) != 0)
            same++;
        if (own[i][0] && same == n)
            names[n++] = own[i];
    }
    return n;
}

static void take_theme(struct watch *w, const struct theme *t, const char *from)
{
    *w->theme = *t;
    text_copy(w->theme_from, sizeof w->theme_from, from);
}

/* A file that cannot be read any more is passed over. */
static void next_theme(struct watch *w)
{
    const char *names[THEMES_MAX];
    struct theme t;
    size_t n = list_themes(&w->settings->screen, names), at = n - 1;
    for (size_t i = 0; i < n; i++)
        if (strcmp(names[i], w->theme_from) == 0)
            at = i;
    for (size_t step = 1; step <= n; step++) {
        const char *name = names[(at + step) % n];
        if (!theme_load(&t, name, NULL))
            continue;
        take_theme(w, &t, name);
        break;
    }
    w->theme_chosen = true;
    text_format(w->ui.notice, sizeof w->ui.notice, "theme: %s", w->theme->name);
}

static void next_units(struct watch *w)
{
    static const struct {
        const char *name;
        struct unit_choice units;
    } sets[] = {
        {"metric", {UNIT_C, UNIT_KPA, UNIT_L, UNIT_LPH, UNIT_KN}},
        {"metric, bar", {UNIT_C, UNIT_BAR, UNIT_L, UNIT_LPH, UNIT_KN}},
        {"US", {UNIT_F, UNIT_PSI, UNIT_GAL_US, UNIT_GPH_US, UNIT_KN}},
        {"imperial", {UNIT_C, UNIT_PSI, UNIT_GAL_IMP, UNIT_GPH_IMP, UNIT_KN}},
    };
    const size_t n = sizeof sets / sizeof sets[0];
    size_t at = n - 1;
    for (size_t i = 0; i < n; i++)
        if (memcmp(&sets[i].units, &w->settings->units, sizeof sets[i].units) == 0)
            at = i;
    at = (at + 1) % n;
    w->settings->units = sets[at].units;
    w->units_chosen = true;
    text_format(w->ui.notice, sizeof w->ui.notice, "units: %s", sets[at].name);
}

/* Braille, blocks, ASCII; where the terminal has only ASCII there is nothing to choose. */
static void next_glyphs(struct watch *w)
{
    struct grid *g = &w->grid;
    const char *name;
    if (term_ascii(w->term)) {
        name = "this terminal has only ASCII";
    } else if (g->ascii) {
        g->ascii = g->blocks = false;
        name = "curves in braille";
    } else if (!g->blocks) {
        g->blocks = true;
        name = "curves in blocks, for fonts without braille";
    } else {
        g->blocks = false;
        g->ascii = true;
        name = "everything in ASCII";
    }
    text_copy(w->ui.notice, sizeof w->ui.notice, name);
}

/* One file; "" where it could not be written. */
static void save_as(const struct watch *w, const char *ending,
                    bool (*write)(FILE *out, const struct model *m, const struct ui *ui),
                    char *path, size_t cap)
{
    char clock[64];
    when_date(clock, sizeof clock, w->model->now.wall_ns, false);
    for (char *p = clock; *p; p++)
        if (*p == ':' || *p == ' ')
            *p = '-';
    clock[strcspn(clock, ".")] = '\0';
    text_format(path, cap, "trend-%s.%s", clock, ending);
    FILE *f = fopen(path, "we");
    bool good = f && write(f, w->model, &w->ui);
    if (!f || fclose(f) != 0 || !good)
        path[0] = '\0';
}

static void save_trend(struct watch *w)
{
    char csv[96], svg[96];
    save_as(w, "csv", trend_file_csv, csv, sizeof csv);
    save_as(w, "svg", trend_file_svg, svg, sizeof svg);
    if (csv[0] && svg[0])
        text_format(w->ui.notice, sizeof w->ui.notice, "written here: %s and .svg", csv);
    else
        text_copy(w->ui.notice, sizeof w->ui.notice, "cannot write files in this directory");
}

/* On a live bus the picture is held while everything goes on being watched. */
static void freeze(struct watch *w)
{
    w->ui.frozen = !w->ui.frozen;
    w->urgent = true;
}

/* So that one knows them, and knows that they are heard, before one is needed. */
static void try_sounds(struct watch *w)
{
    const char *text = "sounds as they will be: warning, alarm, emergency alarm";
    if (w->sounder.muted)
        text = "the sound is off: switch it on first";
    else if (sound_is_off(&w->sounder))
        text = "the configuration has the sound off";
    else if (w->feed.kind->sound(w->feed.ctx) != SOUND_NONE)
        text = "not now: an alert sounds";
    else
        sound_try(&w->sounder, w->now_ns);
    text_copy(w->ui.notice, sizeof w->ui.notice, text);
}

void watch_obey(struct watch *w, const struct request *q)
{
    switch (q->kind) {
    case REQUEST_NONE:
        break;
    case REQUEST_GLYPHS:
        next_glyphs(w);
        break;
    case REQUEST_SAVE:
        save_trend(w);
        break;
    case REQUEST_SOUND:
        w->sounder.muted = !w->sounder.muted;
        text_copy(w->ui.notice, sizeof w->ui.notice,
                  w->sounder.muted            ? "sound off"
                  : sound_is_off(&w->sounder) ? "the configuration has the sound off"
                                              : "sound on");
        break;
    case REQUEST_SOUND_TEST:
        try_sounds(w);
        break;
    case REQUEST_MOUSE:
        w->mouse = !w->mouse;
        term_mouse(w->term, w->mouse);
        text_copy(w->ui.notice, sizeof w->ui.notice,
                  w->mouse ? "the mouse chooses rows" : "the mouse selects text");
        break;
    case REQUEST_UNITS:
        next_units(w);
        w->feed.kind->request(w->feed.ctx, q, w->ui.notice, sizeof w->ui.notice);
        watch_fill(w);
        break;
    case REQUEST_THEME:
        next_theme(w);
        break;
    case REQUEST_REDRAW:
        term_redraw(w->term);
        watch_resize(w);
        break;
    case REQUEST_QUIT:
        w->quit = true;
        break;
    default:
        if (q->kind == REQUEST_PAUSE && !w->model->replay.is_log)
            freeze(w);
        else
            w->feed.kind->request(w->feed.ctx, q, w->ui.notice, sizeof w->ui.notice);
        /* Alerts may have been made again; the snapshot must not point at old ones. */
        watch_fill(w);
        break;
    }
}

/* ---- the sun ---- */

/* Dusk and night bring their themes, until the user takes another; looked at once a minute. */
void watch_follow_sun(struct watch *w)
{
    const struct screen_setting *s = &w->settings->screen;
    if (w->theme_chosen || isnan(s->latitude) || isnan(s->longitude) ||
        (w->sun_ns && w->now_ns - w->sun_ns < 60 * NS_PER_S))
        return;
    w->sun_ns = w->now_ns;
    double altitude = sun_altitude_deg(w->wall_ns, s->latitude, s->longitude);
    const char *name = s->theme;
    if (altitude < SUN_CIVIL_DEG && s->theme_at_night[0])
        name = s->theme_at_night;
    else if (altitude < SUN_SET_DEG && s->theme_at_dusk[0])
        name = s->theme_at_dusk;
    struct theme t;
    if (strcmp(name, w->sun_theme) == 0 || !theme_load(&t, name, NULL))
        return;
    text_copy(w->sun_theme, sizeof w->sun_theme, name);
    take_theme(w, &t, name);
    w->urgent = true;
}

/* ---- what is kept from run to run ---- */

void watch_recall(struct watch *w)
{
    struct choices s;
    char path[512];
    struct theme t;
    const struct settings *set = w->settings;
    if (w->options->forget || !choices_path(path, sizeof path) || !choices_load(&s, path))
        return;
    choices_to_ui(&s, &w->ui);
    /* The configuration was changed since: it counts. */
    if (!w->options->theme && strcmp(s.theme_configured, set->screen.theme) == 0 &&
        theme_load(&t, s.theme, NULL)) {
        take_theme(w, &t, s.theme);
        w->theme_chosen = true;
    }
    if (s.has_units && memcmp(&s.units_configured, &set->units, sizeof set->units) == 0) {
        w->units_configured = set->units;
        w->settings->units = s.units;
        w->units_chosen = true;
    }
    if (strcmp(s.glyphs, "braille") == 0)
        w->grid.blocks = false;
    else if (strcmp(s.glyphs, "blocks") == 0)
        w->grid.blocks = true;
    else if (strcmp(s.glyphs, "ascii") == 0)
        w->grid.ascii = true;
}

void watch_remember(struct watch *w)
{
    struct choices s = {0}; /* the sound is on at each start */
    char path[512];
    if (w->options->forget || !choices_path(path, sizeof path))
        return;
    choices_from_ui(&s, &w->ui);
    if (w->theme_chosen && !w->options->theme) {
        text_copy(s.theme, sizeof s.theme, w->theme_from);
        text_copy(s.theme_configured, sizeof s.theme_configured, w->settings->screen.theme);
    }
    if (w->units_chosen) {
        s.has_units = true;
        s.units = w->settings->units;
        s.units_configured = w->units_configured;
    }
    text_copy(s.glyphs, sizeof s.glyphs,
              term_ascii(w->term) ? ""
              : w->grid.ascii     ? "ascii"
              : w->grid.blocks    ? "blocks"
                                  : "braille");
    choices_save(&s, path); /* a state that cannot be kept is not worth a complaint */
}
