#include "verbs/screen_check.h"

#include "screen/keys.h"
#include "screen/theme.h"

#include "base/banned.h"

bool screen_check(const struct settings *s, const char *path, FILE *out)
{
    struct theme theme;
    struct err e;
    bool good = true;
    const char *const themes[] = {s->screen.theme, s->screen.theme_at_dusk,
                                  s->screen.theme_at_night};
    for (int i = 0; i < 3; i++)
        if (themes[i][0] && !theme_load(&theme, themes[i], &e)) {
            fprintf(out, "%s: %s\n", path, e.text);
            good = false;
        }
    for (size_t row = 0; (row = keys_wrong(&s->keys, row, &e)) < key_table_count; row++) {
        struct config_place at = s->keys.at[row];
        fprintf(out, "%s:%d: %s\n", s->files[at.file], at.line, e.text);
        good = false;
    }
    return good;
}
