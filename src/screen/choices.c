#include "screen/choices.h"

#include "base/text.h"
#include "screen/trend.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

static void format_units(char *dst, size_t cap, const struct unit_choice *u)
{
    text_format(dst, cap, "%s, %s, %s, %s, %s", unit_ascii(u->temperature), unit_ascii(u->pressure),
                unit_ascii(u->volume), unit_ascii(u->flow), unit_ascii(u->speed));
}

static bool parse_units(const char *text, struct unit_choice *out)
{
    static const enum unit bases[] = {UNIT_C, UNIT_KPA, UNIT_L, UNIT_LPH, UNIT_KN};
    enum unit *const places[] = {&out->temperature, &out->pressure, &out->volume, &out->flow,
                                 &out->speed};
    char copy[160], *save = NULL;
    text_copy(copy, sizeof copy, text);
    int n = 0;
    for (char *w = strtok_r(copy, ",", &save); w && n < 5; w = strtok_r(NULL, ",", &save)) {
        while (*w == ' ')
            w++;
        if (!unit_parse(w, places[n]) || unit_base(*places[n]) != bases[n])
            return false;
        n++;
    }
    return n == 5;
}

static void take(struct choices *s, const char *key, const char *value)
{
    long n;
    if (strcmp(key, "theme") == 0)
        text_clean(s->theme, sizeof s->theme, value, strlen(value));
    else if (strcmp(key, "theme configured") == 0)
        text_clean(s->theme_configured, sizeof s->theme_configured, value, strlen(value));
    else if (strcmp(key, "units") == 0)
        s->has_units = parse_units(value, &s->units);
    else if (strcmp(key, "units configured") == 0)
        s->has_units = parse_units(value, &s->units_configured) && s->has_units;
    else if (strcmp(key, "view") == 0)
        text_copy(s->view, sizeof s->view, value);
    else if (strcmp(key, "glyphs") == 0)
        text_copy(s->glyphs, sizeof s->glyphs, value);
    else if (strcmp(key, "trend span") == 0 && text_to_long(value, 0, trend_span_count - 1, &n))
        s->trend_span = (int)n;
    else if (strcmp(key, "trend together") == 0)
        s->together = strcmp(value, "yes") == 0;
    else if (strcmp(key, "trend") == 0 && s->trend_count < 4)
        text_clean(s->trend[s->trend_count++], sizeof s->trend[0], value, strlen(value));
    else if (strcmp(key, "chart") == 0 && s->chart_count < 2)
        text_clean(s->chart[s->chart_count++], sizeof s->chart[0], value, strlen(value));
}

/* `# stokehold screen 1`; a file without it is from before there was one. */
#define FIRST   "# stokehold screen "
#define VERSION 1

/* Written by a later version, which may mean something else by the same words. */
static bool is_later(const char *text)
{
    char number[16];
    long version;
    if (strncmp(text, FIRST, strlen(FIRST)) != 0)
        return false;
    text += strlen(FIRST);
    size_t len = strcspn(text, "\n");
    if (len >= sizeof number)
        return true;
    memcpy(number, text, len);
    number[len] = '\0';
    return !text_to_long(number, 1, VERSION, &version);
}

void choices_parse(struct choices *s, const char *text)
{
    *s = (struct choices){.trend_span = -1};
    if (is_later(text))
        return;
    while (*text) {
        char line[256];
        size_t len = strcspn(text, "\n");
        if (len < sizeof line) {
            memcpy(line, text, len);
            line[len] = '\0';
            char *eq = strstr(line, " = ");
            if (eq) {
                *eq = '\0';
                take(s, line, eq + 3);
            }
        }
        text += len + (text[len] == '\n');
    }
}

size_t choices_format(const struct choices *s, char *dst, size_t cap)
{
    char units[160];
    text_format(dst, cap, "%s%d\n", FIRST, VERSION);
    if (s->theme[0])
        text_append(dst, cap, "theme = %s\ntheme configured = %s\n", s->theme, s->theme_configured);
    if (s->has_units) {
        format_units(units, sizeof units, &s->units);
        text_append(dst, cap, "units = %s\n", units);
        format_units(units, sizeof units, &s->units_configured);
        text_append(dst, cap, "units configured = %s\n", units);
    }
    if (s->view[0])
        text_append(dst, cap, "view = %s\n", s->view);
    if (s->glyphs[0])
        text_append(dst, cap, "glyphs = %s\n", s->glyphs);
    if (s->trend_span >= 0)
        text_append(dst, cap, "trend span = %d\n", s->trend_span);
    text_append(dst, cap, "trend together = %s\n", s->together ? "yes" : "no");
    for (int i = 0; i < s->trend_count; i++)
        text_append(dst, cap, "trend = %s\n", s->trend[i]);
    for (int i = 0; i < s->chart_count; i++)
        text_append(dst, cap, "chart = %s\n", s->chart[i]);
    return strlen(dst);
}

bool choices_path(char *dst, size_t cap)
{
    const char *state = getenv("XDG_STATE_HOME"), *home = getenv("HOME");
    if (state && state[0] == '/')
        return text_format(dst, cap, "%s/stokehold/screen", state);
    return home && home[0] == '/' &&
           text_format(dst, cap, "%s/.local/state/stokehold/screen", home);
}

bool choices_load(struct choices *s, const char *path)
{
    char text[4096];
    *s = (struct choices){.trend_span = -1};
    FILE *f = fopen(path, "re");
    if (!f)
        return false;
    size_t n = fread(text, 1, sizeof text - 1, f);
    bool good = !ferror(f);
    fclose(f);
    text[n] = '\0';
    if (good)
        choices_parse(s, text);
    return good;
}

/* Every directory above the file. */
static bool make_directories(const char *path)
{
    char dir[512];
    if (!text_copy(dir, sizeof dir, path))
        return false;
    for (char *p = strchr(dir + 1, '/'); p; p = strchr(p + 1, '/')) {
        *p = '\0';
        if (mkdir(dir, 0700) != 0 && errno != EEXIST)
            return false;
        *p = '/';
    }
    return true;
}

bool choices_save(const struct choices *s, const char *path)
{
    char text[4096], fresh[520];
    size_t n = choices_format(s, text, sizeof text);
    if (!text_format(fresh, sizeof fresh, "%s.new", path) || !make_directories(path))
        return false;
    FILE *f = fopen(fresh, "we");
    if (!f)
        return false;
    bool good = fwrite(text, 1, n, f) == n;
    good = fclose(f) == 0 && good;
    good = good && rename(fresh, path) == 0;
    if (!good)
        unlink(fresh);
    return good;
}

void choices_from_ui(struct choices *s, const struct ui *ui)
{
    text_copy(s->view, sizeof s->view, views[ui->view].name);
    s->trend_span = ui->trend.span;
    s->together = ui->trend.together;
    s->trend_count = ui->trend.count;
    for (int i = 0; i < ui->trend.count; i++)
        text_copy(s->trend[i], sizeof s->trend[0], ui->trend.keys[i]);
    s->chart_count = ui->chart[0] || ui->chart[1] ? 2 : 0;
    for (int i = 0; i < s->chart_count; i++) {
        const char *key = quantity_info((enum quantity)ui->chart[i])->key;
        text_copy(s->chart[i], sizeof s->chart[0], *key ? key : "none");
    }
}

void choices_to_ui(const struct choices *s, struct ui *ui)
{
    for (int i = 0; i < VIEW_COUNT; i++)
        if (strcmp(views[i].name, s->view) == 0)
            ui->view = (enum view_id)i;
    if (s->trend_span >= 0)
        ui->trend.span = s->trend_span;
    ui->trend.together = s->together;
    ui->trend.count = s->trend_count;
    for (int i = 0; i < s->trend_count; i++)
        text_copy(ui->trend.keys[i], sizeof ui->trend.keys[0], s->trend[i]);
    for (int i = 0; i < s->chart_count; i++)
        ui->chart[i] = (uint16_t)quantity_find(s->chart[i], strlen(s->chart[i]));
}
