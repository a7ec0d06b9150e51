/* The tables of what the boat has once: how they are laid out and drawn at the widths and heights
 * where something comes or goes, kept as texts, with the looks of one of them; and by hand what
 * stands in cells, and which row a click takes. */
#include "drawn_scene.h"
#include "screen/tables.h"
#include "support/golden.h"

static struct board_rows rows;
static struct tables_plan plan;

static int full(void **state)
{
    (void)state;
    scene_full(&s);
    return 0;
}

static struct model_channel *channel(const char *key)
{
    struct model_channel *c = (struct model_channel *)(uintptr_t)model_find(s.m, key);
    if (!c)
        fail_msg("no %s", key);
    return c;
}

static int draw(int w, int h)
{
    grid_fini(&drawn);
    begin(w + 2, h + 1, true);
    rows_fill(&rows, s.m, "");
    int out = tables_fit(&plan, &rows, (struct rect){1, 1, w, h}, s.ui.chosen);
    tables_draw(&drawn, &plan, &rows, s.m, &s.ui);
    return out;
}

/* Old ones, one that is off, alerts with and without an answer, a battery that is charged. */
static void make_eventful(void)
{
    channel("battery-volts.0")->status = READING_STALE;
    channel("fresh-water-tank.0")->status = READING_STALE;
    channel("inverter.0")->off = true;
    channel("ac-out-volts.0.1")->off = true;
    channel("sea.0")->has_rate = true;
    channel("sea.0")->rate_per_min = 3;
    channel("sea.0")->steady_per_min = 1;
    scene_alert(&s, PRIORITY_WARNING, ALERT_UNACKNOWLEDGED, "fuel-tank.1", "x");
    scene_alert(&s, PRIORITY_WARNING, ALERT_ACKNOWLEDGED, "engine-space.0", "x");
    scene_alert(&s, PRIORITY_CAUTION, ALERT_UNACKNOWLEDGED, "converter.0", "x");
    s.ui.flash = true;
}

static void sizes__every_width_and_height__are_as_kept(void **state)
{
    static const int widths[] = {24, 25, 30, 31, 33, 34, 44, 50, 80, 88, 132, 176};
    static const int heights[] = {2, 3, 7, 13, 44};
    char *text = NULL, row[800];
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    assert_non_null(out);
    make_eventful();
    for (size_t w = 0; w < sizeof widths / sizeof widths[0]; w++)
        for (size_t h = 0; h < sizeof heights / sizeof heights[0]; h++) {
            int left_out = draw(widths[w], heights[h]);
            fprintf(out, "%d x %d: %d left out\n", widths[w], heights[h], left_out);
            for (int y = 1; y < drawn.rows; y++)
                if (line(y)[0])
                    fprintf(out, "%s\n", line(y));
            for (int y = 1; y < drawn.rows && heights[h] == 44; y++)
                if (grid_row_roles(&drawn, y, row, sizeof row))
                    fprintf(out, "%s\n", row);
        }
    for (int width = 20; width < 200; width += 9) {
        rows_fill(&rows, s.m, "");
        fprintf(out, "lines at %d:", width);
        for (int most = 0; most <= 40; most += 10)
            fprintf(out, " %d", tables_lines(&rows, width, most));
        fputc('\n', out);
    }
    fclose(out);
    golden_check("screen", "tables", text);
    free(text);
    grid_fini(&drawn);
}

/* The line in which the words stand; "" where there is none. */
static const char *line_with(const char *words)
{
    for (int y = 0; y < drawn.rows; y++)
        if (strstr(line(y), words))
            return line(y);
    return "";
}

/* Amperes into a battery have their sign; a tank's bar is as full as the tank, to the nearest of
 * eight; nothing is drawn of one that is old. */
static void cells__signs_and_bars(void **state)
{
    static const struct {
        double percent;
        const char *bar;
    } bars[] = {{0, " -------- "},    {6.2, " -------- "},  {6.3, " =------- "}, {50, " ====---- "},
                {93.7, " =======- "}, {93.8, " ======== "}, {100, " ======== "}};

    (void)state;
    draw(40, 44);
    assert_non_null(strstr(line_with("lithium"), " -31 "));
    assert_non_null(strstr(line_with("house"), " +4 "));
    channel("battery-amps.0")->value = channel("battery-amps.0")->shown = 0;
    draw(40, 44);
    assert_null(strstr(line_with("house"), "+"));
    struct model_channel *tank = channel("fuel-tank.0");
    for (size_t i = 0; i < sizeof bars / sizeof bars[0]; i++) {
        tank->value = tank->shown = bars[i].percent;
        draw(40, 44);
        assert_non_null(strstr(line_with("fuel tank 0"), bars[i].bar));
    }
    tank->status = READING_STALE;
    draw(40, 44);
    assert_null(strstr(line_with("fuel tank 0"), "="));
    assert_non_null(strstr(line_with("fuel tank 0"), " old"));
    draw(33, 44); /* no room for bars */
    assert_null(strstr(line_with("fuel tank 1"), "="));
    draw(24, 44); /* nor for a unit where the table's name stands */
    assert_string_equal(line_with("charge"), "  charge and inverter A");
    check_bold();
    grid_fini(&drawn);
}

/* A click takes the row on whose line and in whose block it is, and the first column that it has.
 */
static void at__the_row_of_a_cell(void **state)
{
    (void)state;
    draw(100, 40);
    int met = 0, side;
    for (int i = 0; i < plan.count; i++) {
        struct rect r = plan.block[i].r;
        assert_int_equal(tables_at(&plan, &rows, r.x, r.y, &side), -1); /* the heading */
        for (int k = 0; k < plan.block[i].count; k++) {
            int y = r.y + 1 + k, row = plan.block[i].first + k;
            assert_int_equal(tables_at(&plan, &rows, r.x, y, &side), row);
            assert_non_null(rows.plains[row].side[side]);
            for (int before = 0; before < side; before++)
                assert_null(rows.plains[row].side[before]);
            assert_int_equal(tables_at(&plan, &rows, r.x + r.w - 1, y, &side), row);
            met++;
        }
    }
    assert_int_equal(met, rows.plain_count);
    assert_int_equal(tables_at(&plan, &rows, 0, plan.block[0].r.y + 1, &side), -1);
    assert_int_equal(tables_at(&plan, &rows, 101, plan.block[0].r.y + 1, &side), -1);
    grid_fini(&drawn);
}

#define WITH_SCENE(f) cmocka_unit_test_setup_teardown(f, full, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_SCENE(sizes__every_width_and_height__are_as_kept),
        WITH_SCENE(cells__signs_and_bars),
        WITH_SCENE(at__the_row_of_a_cell),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
