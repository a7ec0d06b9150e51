#include "screen/theme.h"

#include "base/text.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

static const unsigned char day_text[] = {
#include "themes/day.theme.inc"
};
static const unsigned char dusk_text[] = {
#include "themes/dusk.theme.inc"
};
static const unsigned char night_text[] = {
#include "themes/night.theme.inc"
};
static const unsigned char contrast_text[] = {
#include "themes/contrast.theme.inc"
};
static const unsigned char safe_text[] = {
#include "themes/safe.theme.inc"
};
static const unsigned char mono_text[] = {
#include "themes/mono.theme.inc"
};

static const struct {
    const char *name;
    const unsigned char *text;
    size_t len;
} builtin[] = {
    {"day", day_text, sizeof day_text},       {"dusk", dusk_text, sizeof dusk_text},
    {"night", night_text, sizeof night_text}, {"contrast", contrast_text, sizeof contrast_text},
    {"safe", safe_text, sizeof safe_text},    {"mono", mono_text, sizeof mono_text},
};

size_t theme_builtin_count(void)
{
    return sizeof builtin / sizeof builtin[0];
}

const char *theme_builtin_name(size_t i)
{
    return builtin[i < theme_builtin_count() ? i : 0].name;
}

bool theme_builtin(struct theme *t, const char *name)
{
    struct err e;
    for (size_t i = 0; i < theme_builtin_count(); i++)
        if (strcmp(builtin[i].name, name) == 0)
            return theme_parse(t, name, (const char *)builtin[i].text, builtin[i].len, &e);
    return false;
}

static const char *const color_names[] = {"black", "red",     "green", "yellow",
                                          "blue",  "magenta", "cyan",  "white"};
static const char *const level_names[] = {"third", "second", "first"};

static bool read_color(const char *word, enum color_level level, int16_t *out)
{
    long v;
    if (strcmp(word, "-") == 0) {
        *out = -1;
        return true;
    }
    if (level == COLOR_256 && text_to_long(word, 0, 255, &v)) {
        *out = (int16_t)v;
        return true;
    }
    for (int i = 0; level != COLOR_MONO && i < 8; i++)
        if (strcmp(word, color_names[i]) == 0) {
            *out = (int16_t)i;
            return true;
        }
    return false;
}

static int read_attr(const char *word)
{
    static const struct {
        const char *name;
        int bit;
    } attrs[] = {{"bold", LOOK_BOLD},
                 {"dim", LOOK_DIM},
                 {"underline", LOOK_UNDERLINE},
                 {"reverse", LOOK_REVERSE}};
    for (size_t i = 0; i < sizeof attrs / sizeof attrs[0]; i++)
        if (strcmp(attrs[i].name, word) == 0)
            return attrs[i].bit;
    return 0;
}

/* One column of a line: words from s, which is cut up. Returns the word it cannot read, or NULL. */
static const char *read_look(char *s, enum color_level level, struct look *out)
{
    *out = (struct look){-1, -1, 0};
    char *save = NULL;
    bool on = false;
    for (char *w = strtok_r(s, " \t", &save); w; w = strtok_r(NULL, " \t", &save)) {
        int bit = read_attr(w);
        if (bit)
            out->attr |= (uint8_t)bit;
        else if (strcmp(w, "on") == 0 && !on)
            on = true;
        else if (!read_color(w, level, on ? &out->bg : &out->fg))
            return w;
    }
    return NULL;
}

static bool read_columns(const char *name, int line, char *value, struct look out[COLOR_LEVELS],
                         struct err *e)
{
    char *at = value;
    for (int level = COLOR_256; level >= 0; level--) {
        if (!at)
            return err_set(e, "%s:%d: three columns are wanted, with '/' between", name, line);
        char *next = strchr(at, '/');
        if (next)
            *next++ = '\0';
        const char *bad = read_look(at, (enum color_level)level, &out[level]);
        if (bad)
            return err_set(e, "%s:%d: cannot read '%s' in the %s column", name, line, bad,
                           level_names[level]);
        at = next;
    }
    return at ? err_set(e, "%s:%d: more than three columns", name, line) : true;
}

static char *trim(char *s)
{
    while (*s == ' ' || *s == '\t')
        s++;
    size_t n = strlen(s);
    while (n && (s[n - 1] == ' ' || s[n - 1] == '\t' || s[n - 1] == '\r'))
        s[--n] = '\0';
    return s;
}

struct reader {
    struct theme *t;
    const char *name;
    struct look ground[COLOR_LEVELS];
    bool seen[ROLE_COUNT];
};

static bool read_line(struct reader *r, int line, char *text, struct err *e)
{
    char *s = trim(text), *eq = strchr(s, '=');
    if (*s == '#' || *s == '\0')
        return true;
    if (!eq)
        return err_set(e, "%s:%d: expected 'role = look / look / look'", r->name, line);
    *eq = '\0';
    char *key = trim(s), *value = trim(eq + 1);
    if (strcmp(key, "name") == 0) {
        text_clean(r->t->name, sizeof r->t->name, value, strlen(value));
        return true;
    }
    if (strcmp(key, "figures") == 0) {
        r->t->thin = strcmp(value, "thin") == 0;
        return r->t->thin || strcmp(value, "full") == 0
                   ? true
                   : err_set(e, "%s:%d: figures are 'thin' or 'full', not '%s'", r->name, line,
                             value);
    }
    if (strcmp(key, "ground") == 0)
        return read_columns(r->name, line, value, r->ground, e);
    for (int i = 0; i < ROLE_COUNT; i++)
        if (strcmp(role_text((enum role)i), key) == 0) {
            r->seen[i] = true;
            return read_columns(r->name, line, value, r->t->looks[i], e);
        }
    return err_set(e, "%s:%d: there is no role '%s'", r->name, line, key);
}

bool theme_parse(struct theme *t, const char *name, const char *text, size_t len, struct err *e)
{
    struct reader r = {.t = t, .name = name};
    for (int i = 0; i < COLOR_LEVELS; i++)
        r.ground[i] = (struct look){-1, -1, 0};
    *t = (struct theme){0};
    text_copy(t->name, sizeof t->name, name);
    int line = 1;
    for (size_t at = 0; at < len; line++) {
        const char *end = memchr(text + at, '\n', len - at);
        size_t n = end ? (size_t)(end - (text + at)) : len - at;
        char buf[200];
        if (n >= sizeof buf)
            return err_set(e, "%s:%d: the line is too long", name, line);
        memcpy(buf, text + at, n);
        buf[n] = '\0';
        if (!read_line(&r, line, buf, e))
            return false;
        at += n + 1;
    }
    for (int i = 0; i < ROLE_COUNT; i++)
        for (int level = 0; level < COLOR_LEVELS; level++) {
            if (!r.seen[i])
                return err_set(e, "%s: the role '%s' is missing", name, role_text((enum role)i));
            struct look *look = &t->looks[i][level];
            if (look->bg < 0)
                look->bg = r.ground[level].bg;
            if (look->fg < 0)
                look->fg = r.ground[level].fg;
        }
    return true;
}

bool theme_load(struct theme *t, const char *name_or_path, struct err *e)
{
    if (theme_builtin(t, name_or_path))
        return true;
    if (!strchr(name_or_path, '/') && !strchr(name_or_path, '.'))
        return err_set(e, "there is no theme '%s'", name_or_path);
    FILE *f = fopen(name_or_path, "re");
    if (!f)
        return err_set(e, "cannot open theme '%s': %s", name_or_path, strerror(errno));
    char text[16384];
    size_t n = fread(text, 1, sizeof text, f);
    bool bad = ferror(f) || n == sizeof text;
    fclose(f);
    if (bad)
        return err_set(e, "cannot read theme '%s'", name_or_path);
    return theme_parse(t, name_or_path, text, n, e);
}

struct look theme_look(const struct theme *t, enum color_level level, const struct cell *c)
{
    struct look look = t->looks[c->role < ROLE_COUNT ? c->role : ROLE_TEXT][level];
    if (c->attr & ATTR_BOLD)
        look.attr |= LOOK_BOLD;
    if (c->attr & ATTR_UNDERLINE)
        look.attr |= LOOK_UNDERLINE;
    if (c->attr & ATTR_REVERSE)
        look.attr ^= LOOK_REVERSE;
    /* A line in the colour that a word would have around it. */
    int16_t ground = t->looks[ROLE_TEXT][level].bg;
    if ((c->attr & ATTR_LINE) && look.bg >= 0 && look.bg != ground) {
        look.fg = look.bg;
        look.bg = ground;
    }
    if (c->attr & ATTR_LINE)
        look.attr &= (uint8_t)~LOOK_UNDERLINE;
    return look;
}
