/* Any bytes as a theme: taken, with every look within its colours, or refused with a reason. For
 * libFuzzer; `make fuzz` runs it. */
#include "screen/theme.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool holds)
{
    if (!holds)
        abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct theme t = {0};
    struct err e = {""};
    bool good = theme_parse(&t, "f.theme", (const char *)data, size, &e);
    check(good == (e.text[0] == '\0'));
    if (!good) {
        for (const char *c = e.text; *c; c++)
            check((unsigned char)*c >= 32 && *c != 127);
        return 0;
    }
    check(memchr(t.name, '\0', sizeof t.name) != NULL);
    for (int role = 0; role < ROLE_COUNT; role++)
        for (int level = 0; level < COLOR_LEVELS; level++) {
            const struct look *l = &t.looks[role][level];
            int most = level == COLOR_256 ? 255 : level == COLOR_8 ? 7 : -1;
            check(l->fg >= -1 && l->fg <= most && l->bg >= -1 && l->bg <= most);
        }
    return 0;
}
