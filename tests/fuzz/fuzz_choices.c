/* Any bytes as the file of what was chosen at the screen: taken or passed over, a screen can be
 * drawn from it, and written it reads the same. For libFuzzer; `make fuzz` runs it. */
#include "screen/choices.h"

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
    static char first[16384], second[16384];
    char *text = malloc(size + 1);
    check(text != NULL);
    memcpy(text, data, size);
    text[size] = '\0';
    struct choices s = {0}, again = {0};
    choices_parse(&s, text);
    check(s.trend_count >= 0 && s.trend_count <= 4 && s.chart_count >= 0 && s.chart_count <= 2);
    struct ui ui;
    ui_init(&ui);
    choices_to_ui(&s, &ui);
    /* One model and a small grid for all runs: to make them costs more than to draw. */
    static struct model *m;
    static struct grid g;
    if (m == NULL) {
        m = model_new();
        check(m != NULL && grid_init(&g, 40, 10, false));
    }
    ui.cols = 40;
    ui.rows = 10;
    ui_draw(&g, m, &ui);
    check(choices_format(&s, first, sizeof first) < sizeof first);
    choices_parse(&again, first);
    check(choices_format(&again, second, sizeof second) < sizeof second);
    check(strcmp(first, second) == 0);
    free(text);
    return 0;
}
