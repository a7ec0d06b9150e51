/* Choosing on the board by keys, step by step: rows up and down, pages, ends, and from side to side
 * in rows that have holes. */
#include "scene.h"

static struct scene s;

static void press(int key, const char *chosen)
{
    ui_key(&s.ui, s.m, key);
    assert_string_equal(s.ui.chosen, chosen);
}

/* Tab goes round, arrows stop at the edge. */
static void side__arrows_stop__tab_goes_round(void **state)
{
    (void)state;
    for (int engines = 2; engines <= 4; engines++) {
        char key[CHANNEL_KEY_SIZE];
        scene_calm(&s, engines);
        press(KEY_CODE_HOME, "rpm.0");
        press(KEY_CODE_LEFT, "rpm.0");
        for (int e = 1; e < engines; e++) {
            snprintf(key, sizeof key, "rpm.%d", e);
            press(KEY_CODE_RIGHT, key);
        }
        press(KEY_CODE_RIGHT, key);
        press('\t', "rpm.0");
        for (int e = 1; e < engines; e++) {
            snprintf(key, sizeof key, "rpm.%d", e);
            press('\t', key);
        }
        press('\t', "rpm.0");
        scene_free(&s);
    }
}

/* Of four engines the second and third have no exhaust: the way goes over the hole. */
static void side__nothing_there__is_passed_over(void **state)
{
    (void)state;
    scene_calm(&s, 4);
    for (size_t i = 0; i < s.m->channel_count; i++) {
        struct model_channel *c = &s.m->channels[i];
        if (c->id.quantity == QTY_EXHAUST && (c->id.place == 1 || c->id.place == 2))
            scene_move(&s, c, 40 + c->id.place, 0), c->engine = -1, c->id.quantity = QTY_NONE;
    }
    press(KEY_CODE_HOME, "rpm.0");
    press(KEY_CODE_DOWN, "exhaust.0");
    press(KEY_CODE_RIGHT, "exhaust.3");
    press(KEY_CODE_RIGHT, "exhaust.3");
    press(KEY_CODE_LEFT, "exhaust.0");
    press('\t', "exhaust.3");
    press('\t', "exhaust.0");
    scene_free(&s);
}

/* Every row is met once on the way down and once on the way up; a page is eight rows, and beyond
 * either end there is no way. */
static void rows__down_and_up__each_once(void **state)
{
    char met[200][CHANNEL_KEY_SIZE];
    int n = 0;

    (void)state;
    scene_full(&s);
    ui_key(&s.ui, s.m, KEY_CODE_DOWN); /* nothing chosen: the first */
    do {
        snprintf(met[n++], sizeof met[0], "%s", s.ui.chosen);
        ui_key(&s.ui, s.m, KEY_CODE_DOWN);
    } while (strcmp(met[n - 1], s.ui.chosen) != 0 && n < 200);
    assert_true(n > 20 && n < 200);
    for (int i = 0; i < n; i++)
        for (int k = 0; k < i; k++)
            assert_string_not_equal(met[i], met[k]);
    for (int i = n - 2; i >= 0; i--)
        press(KEY_CODE_UP, met[i]);
    press(KEY_CODE_UP, met[0]);
    press(KEY_CODE_PAGE_DOWN, met[8]);
    press(KEY_CODE_PAGE_DOWN, met[16]);
    press(KEY_CODE_PAGE_UP, met[8]);
    press(KEY_CODE_UP, met[7]);
    press(KEY_CODE_PAGE_UP, met[0]);
    press(KEY_CODE_END, met[n - 1]);
    press(KEY_CODE_PAGE_DOWN, met[n - 1]);
    press(KEY_CODE_PAGE_UP, met[n - 9]);
    press(KEY_CODE_HOME, met[0]);
    ui_key(&s.ui, s.m, KEY_ESCAPE_CODE);
    press(KEY_CODE_UP, met[0]); /* nothing chosen: the first here too */
    scene_free(&s);
}

static void nothing_aboard__nothing_chosen(void **state)
{
    static const int keys[] = {KEY_CODE_UP,        KEY_CODE_DOWN, KEY_CODE_LEFT,
                               KEY_CODE_RIGHT,     KEY_CODE_HOME, KEY_CODE_PAGE_UP,
                               KEY_CODE_PAGE_DOWN, KEY_CODE_END,  '\t'};

    (void)state;
    scene_calm(&s, 2);
    snprintf(s.ui.filter, sizeof s.ui.filter, "no such row");
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        press(keys[i], "");
    scene_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(side__arrows_stop__tab_goes_round),
        cmocka_unit_test(side__nothing_there__is_passed_over),
        cmocka_unit_test(rows__down_and_up__each_once),
        cmocka_unit_test(nothing_aboard__nothing_chosen),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
