/* Large figures, each in every kind of stroke and at the sizes where it takes another, and where
 * the parts of a board stand at every size, kept as texts; and the bounds of a figure's size by
 * hand. */
#include "screen/figures.h"
#include "screen/layout.h"

#include "support/check.h"
#include "support/golden.h"

#include <stdio.h>
#include <stdlib.h>

static struct grid g;

static void put_picture(FILE *out, const char *text, int w, int h, int places)
{
    char row[400];
    assert_true(grid_init(&g, w, h, g.ascii));
    fprintf(out, "%d x %d, %d places\n", w, h, places);
    figures_draw(&g, (struct rect){0, 0, w, h}, text, places, ROLE_VALUE);
    for (int y = 0; y < h; y++) {
        grid_row_text(&g, y, row, sizeof row);
        fprintf(out, "%s\n", row);
    }
    grid_fini(&g);
}

static void put_thin(FILE *out, const char *text, int w, int h, int places)
{
    char row[400];
    assert_true(grid_init(&g, w, h, false));
    g.thin = true;
    fprintf(out, "%d x %d, thin\n", w, h);
    figures_draw(&g, (struct rect){0, 0, w, h}, text, places, ROLE_VALUE);
    for (int y = 0; y < h; y++) {
        grid_row_text(&g, y, row, sizeof row);
        fprintf(out, "%s\n", row);
    }
    grid_fini(&g);
}

static void every_form__in_every_stroke__is_as_kept(void **state)
{
    static const char *const texts[] = {"01234", "56789", "-3.5", "err"};
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        int places = (int)strlen(texts[i]), w = 4 * places - 1;
        fprintf(out, "== %s\n", texts[i]);
        g.ascii = true;
        put_picture(out, texts[i], w, 5, places);
        g.ascii = false;
        put_picture(out, texts[i], w, 3, places);
        put_picture(out, texts[i], 2 * w, 4, places);
        put_picture(out, texts[i], 3 * w, 7, places);
        for (int high = 1; high <= 3; high++)
            for (int wide = 3 * high - 2; wide <= 3 * high; wide++)
                put_thin(out, texts[i], wide * w, 5 * high, places);
    }
    fclose(out);
    golden_check("screen", "figures", text);
    free(text);
}

/* How wide so many places are drawn: as many cells a point as fit, never more than three times its
 * height, two where a line holds two points. */
static void size__of_a_point(void **state)
{
    static const struct {
        const char *text;
        int w, h, places, used;
        bool ascii;
    } rows[] = {
        {"61", 11, 5, 3, 11, true},  {"61", 10, 5, 3, 0, true},    {"61", 22, 5, 3, 22, true},
        {"61", 21, 5, 3, 11, true},  {"61", 33, 5, 3, 33, true},   {"61", 44, 5, 3, 33, true},
        {"61", 44, 9, 3, 33, true},  {"61", 44, 10, 3, 44, true},  {"61", 11, 4, 3, 0, true},
        {"61", 11, 4, 3, 11, false}, {"61", 33, 4, 3, 22, false},  {"61", 11, 3, 3, 11, false},
        {"61", 11, 2, 3, 0, false},  {"6161", 15, 5, 3, 15, true}, {"6161", 14, 5, 3, 0, true},
        {"1.5", 9, 5, 1, 9, true},   {"", 11, 5, 3, 0, true},      {"x", 11, 5, 3, 0, true},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_true(grid_init(&g, 50, 12, rows[i].ascii));
        int used = figures_draw(&g, (struct rect){0, 0, rows[i].w, rows[i].h}, rows[i].text,
                                rows[i].places, ROLE_VALUE);
        if (used != rows[i].used)
            fail_msg("row %zu: %d", i, used);
        bool ink = false;
        for (int k = 0; k < g.cols * g.rows; k++)
            ink |= g.cells[k].ch != ' ';
        assert_int_equal(ink, rows[i].used > 0);
        grid_fini(&g);
    }
}

/* ---- where parts stand ---- */

static void put_rect(FILE *out, const char *name, struct rect r)
{
    if (r.h > 0)
        fprintf(out, " %s %d,%d %dx%d", name, r.x, r.y, r.w, r.h);
}

static void put_board(FILE *out, struct rect body, struct board_need need)
{
    struct board_layout b = layout_board(body, need);
    fprintf(out, "  %d+%d%s:", need.twins, need.tables, need.chart ? "+c" : "");
    put_rect(out, "heading", b.heading);
    put_rect(out, "twins", b.twins);
    fprintf(out, " keel %d,%d/%d,%d,%d side %d", b.keel_x, b.keel.width, b.keel.label_w,
            b.keel.unit_w, b.keel.limit_w, b.side.width);
    for (int i = 0; i < b.chart_count; i++)
        put_rect(out, "chart", b.charts[i]);
    put_rect(out, "alerts", b.alerts);
    put_rect(out, "tables", b.tables);
    put_rect(out, "more", b.more);
    fputc('\n', out);
}

static void parts_of_a_board__at_every_size__are_as_kept(void **state)
{
    static const struct board_need needs[] = {
        {0, 12, 9, true}, {0, 40, 90, true}, {0, 3, 0, false}};
    static const int cols[] = {20, 23, 39, 40, 56, 71, 72, 100, 150, 209};
    static const int rows[] = {3, 4, 5, 10, 17, 29, 30, 34, 55};
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    for (int w = 1; w <= 48; w++) {
        struct side_layout s = layout_side(w);
        fprintf(out,
                "side %d: arrow %d value %d+%d rate %d+%d trend %d+%d state %d+%d limit %d+%d\n", w,
                s.arrow_at, s.value_at, s.value_w, s.rate_at, s.rate_w, s.trend_at, s.trend_w,
                s.state_at, s.state_w, s.limit_at, s.limit_w);
    }
    for (size_t c = 0; c < sizeof cols / sizeof cols[0]; c++)
        for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++)
            for (int sides = 0; sides <= 4; sides++) {
                fprintf(out, "%d x %d, %d engines\n", cols[c], rows[r], sides);
                for (size_t i = 0; i < sizeof needs / sizeof needs[0]; i++) {
                    struct board_need need = needs[i];
                    need.sides = sides;
                    need.twins = sides ? need.twins : 0;
                    put_board(out, (struct rect){1, 2, cols[c], rows[r]}, need);
                }
            }
    fclose(out);
    golden_check("screen", "layout", text);
    free(text);
}

/* The lines around a view, by how high the screen is: an alert of up to a quarter of it, keys from
 * six lines on, a log's bar from fourteen, blanks from twenty and from 24. */
static void frame__by_height(void **state)
{
    static const struct {
        int rows, alert_lines, alert_h, body_y, body_h, bar_y, foot_y;
    } rows[] = {
        {4, 3, 1, 2, 2, 0, 0},     {5, 1, 1, 2, 3, 0, 0},     {6, 3, 1, 2, 3, 0, 5},
        {9, 3, 2, 3, 5, 0, 8},     {10, 4, 3, 4, 5, 0, 9},    {13, 1, 1, 2, 10, 0, 12},
        {14, 1, 1, 2, 10, 12, 13}, {19, 4, 4, 5, 12, 17, 18}, {20, 1, 1, 3, 15, 18, 19},
        {23, 1, 1, 3, 18, 21, 22}, {24, 2, 2, 4, 17, 22, 23},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct frame_layout f = layout_frame(80, rows[i].rows, rows[i].alert_lines, true);
        assert_false(f.too_small);
        assert_int_equal(f.title.h, 1);
        assert_int_equal(f.alert.y, 1);
        assert_int_equal(f.alert.h, rows[i].alert_h);
        assert_int_equal(f.body.y, rows[i].body_y);
        assert_int_equal(f.body.h, rows[i].body_h);
        assert_int_equal(f.bar.h, rows[i].bar_y > 0);
        assert_int_equal(f.bar.y, rows[i].bar_y);
        assert_int_equal(f.foot.h, rows[i].foot_y > 0);
        assert_int_equal(f.foot.y, rows[i].foot_y);
        assert_int_equal(layout_frame(80, rows[i].rows, 1, false).bar.h, 0);
    }
    assert_true(layout_frame(19, 4, 1, true).too_small);
    assert_false(layout_frame(20, 4, 1, true).too_small);
    assert_true(layout_frame(20, 3, 1, true).too_small);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_form__in_every_stroke__is_as_kept),
        cmocka_unit_test(size__of_a_point),
        cmocka_unit_test(parts_of_a_board__at_every_size__are_as_kept),
        cmocka_unit_test(frame__by_height),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
