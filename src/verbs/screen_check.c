#include "verbs/screen_check.h"

#include "screen/keys.h"
#include "screen/theme.h"

#include "base/banned.h"

bool screen_check(const struct settings *s, struct err *e)
{
    struct theme theme;
    struct key_map keys;
    const char *const themes[] = {s->screen.theme, s->screen.theme_at_dusk,
                                  s->screen.theme_at_night};
    for (int i = 0; i < 3; i++)
        if (themes[i][0] && !theme_load(&theme, themes[i], e))
            return false;
    return keys_load(&keys, &s->keys, e);
}
