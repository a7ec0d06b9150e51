/* The list of keys: which column each line stands in at several sizes, kept as texts, and how keys
 * go through it. */
#include "drawn.h"
#include "scene.h"
#include "screen/help.h"
#include "support/golden.h"

static struct ui ui;

static void draw(int w, int h, unsigned context)
{
    grid_fini(&drawn);
    begin(w, h, false);
    help_draw(&drawn, (struct rect){0, 0, w, h}, &ui, context);
}

static void sizes__in_columns__are_as_kept(void **state)
{
    static const struct {
        int w, h, top;
    } sizes[] = {{40, 8, 0},   {57, 12, 5},  {115, 20, 0}, {116, 20, 0},
                 {116, 20, 9}, {116, 60, 0}, {174, 30, 0}, {80, 90, 0}};
    char *text = NULL, roles[400];
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    ui_init(&ui);
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        ui.help_top = sizes[i].top;
        draw(sizes[i].w, sizes[i].h, WHEN_ROWS | WHEN_ALERT);
        check_bold();
        fprintf(out, "%d x %d, from %d\n", sizes[i].w, sizes[i].h, sizes[i].top);
        for (int y = 0; y < sizes[i].h; y++)
            fprintf(out, "%s\n", line(y));
        for (int y = 0; y < sizes[i].h && i == 0; y++)
            if (grid_row_roles(&drawn, y, roles, sizeof roles))
                fprintf(out, "%s\n", roles);
    }
    fclose(out);
    golden_check("screen", "help", text);
    free(text);
    grid_fini(&drawn);
}

static void went(enum action a, int top)
{
    help_handle(&ui, (struct rect){0, 0, 80, 10}, a);
    assert_int_equal(ui.help_top, top);
}

/* Line by line, and in pages that keep two lines; not past the first or the last. */
static void keys__through_the_list(void **state)
{
    (void)state;
    ui_init(&ui);
    ui.overlay = OVERLAY_HELP;
    went(ACTION_UP, 0);
    went(ACTION_DOWN, 1);
    went(ACTION_PAGE_DOWN, 9);
    went(ACTION_PAGE_UP, 1);
    went(ACTION_PAGE_UP, 0);
    for (int i = 0; i < 20; i++)
        help_handle(&ui, (struct rect){0, 0, 80, 10}, ACTION_PAGE_DOWN);
    int last = ui.help_top;
    went(ACTION_DOWN, last);
    went(ACTION_UP, last - 1);
    went(ACTION_UNITS, last - 1);
    draw(80, 10, 0); /* there is more below, and there is not */
    assert_non_null(strstr(line(9), "more: down, page-down"));
    went(ACTION_DOWN, last);
    draw(80, 10, 0);
    assert_null(strstr(line(9), "more:"));
    assert_string_not_equal(line(9), "");
    assert_int_equal(ui.overlay, OVERLAY_HELP);
    went(ACTION_BACK, last);
    assert_int_equal(ui.overlay, OVERLAY_NONE);
    ui.overlay = OVERLAY_HELP;
    went(ACTION_HELP, last);
    assert_int_equal(ui.overlay, OVERLAY_NONE);
    help_handle(&ui, (struct rect){0, 0, 80, 2}, ACTION_PAGE_UP); /* no page: a line */
    assert_int_equal(ui.help_top, last - 1);
    help_handle(&ui, (struct rect){0, 0, 200, 90}, ACTION_DOWN); /* all of it is seen */
    assert_int_equal(ui.help_top, 0);
    grid_fini(&drawn);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sizes__in_columns__are_as_kept),
        cmocka_unit_test(keys__through_the_list),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
