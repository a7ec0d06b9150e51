/* Plots: ticks, text made harmless, what was not heard. */
#include "report/plot.h"

#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>

/* Not inlined: gcc 12 then takes what the stream allocated for a pointer to the local variable. */
__attribute__((noinline)) static char *plotted(const struct plot *p)
{
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    plot_write(out, p);
    fclose(out);
    return text;
}

static int count_of(const char *text, const char *what)
{
    int n = 0;

    for (const char *p = text; (p = strstr(p, what)) != NULL; p += strlen(what))
        n++;
    return n;
}

static void step__any_span__is_one_two_or_five(void **state)
{
    (void)state;
    assert_near(plot_step(0, 10, 5), 2, 1e-12);
    assert_near(plot_step(700, 2800, 6), 500, 1e-9);
    assert_near(plot_step(79, 80, 6), 0.2, 1e-12);
    assert_near(plot_step(0, 0.003, 6), 0.0005, 1e-12);
    assert_near(plot_step(5, 5, 6), 1, 0);
    assert_near(plot_step(0, INFINITY, 6), 1, 0);
}

static void plot__two_series__have_marks_bars_and_names(void **state)
{
    static const double x[] = {1, 2, 3}, y[] = {1, 4, NAN}, z[] = {2, 3, 5}, e[] = {0.5, NAN, 1};
    struct plot p = {.title = "A & B", .x_label = "x", .y_label = "y", .count = 2};
    char *text;

    (void)state;
    p.series[0] = (struct plot_series){.name = "P<ORT", .x = x, .y = y, .error = e, .n = 3};
    p.series[1] = (struct plot_series){.name = "STARBOARD", .x = x, .y = z, .n = 3};
    text = plotted(&p);
    assert_non_null(strstr(text, "A &amp; B"));
    assert_non_null(strstr(text, "P&lt;ORT"));
    assert_null(strstr(text, "nan"));
    assert_int_equal(count_of(text, "<polyline"), 2);
    assert_int_equal(count_of(text, "<circle"), 2 + 1); /* two points heard, and the name's mark */
    assert_int_equal(count_of(text, "<polygon"), 3 + 1);
    assert_int_equal(count_of(text, "stroke=\"#11428a\"/>\n<"), 2 + 1 + 1); /* a bar among them */
    free(text);
}

static void plot__nothing_heard__says_so(void **state)
{
    static const double x[] = {1, NAN}, y[] = {NAN, 2};
    struct plot p = {.title = "t", .x_label = "x", .y_label = "y", .count = 1};
    char *text;

    (void)state;
    p.series[0] = (struct plot_series){.x = x, .y = y, .n = 2};
    text = plotted(&p);
    assert_non_null(strstr(text, "Nothing was heard to plot"));
    assert_null(strstr(text, "<svg"));
    free(text);
    p.count = 0;
    text = plotted(&p);
    assert_non_null(strstr(text, "Nothing was heard to plot"));
    free(text);
}

static void plot__a_gap__breaks_the_line(void **state)
{
    const double x[] = {0, 1, 2, 3, 4, 5, 6}, y[] = {1, 2, NAN, 3, NAN, NAN, 4};
    struct plot p = {.title = "t", .x_label = "x", .y_label = "y", .count = 1};
    char *text;

    (void)state;
    for (int gap = 0; gap < 3; gap++) {
        static const int lines[] = {1, 2, 1}; /* one point missing joins, two do not */

        p.series[0] = (struct plot_series){
            .name = "a", .x = x, .y = y, .n = 7, .no_marks = true, .gap = (size_t)gap};
        text = plotted(&p);
        assert_int_equal(count_of(text, "<polyline"), lines[gap]);
        assert_int_equal(count_of(text, "<circle"), 0);
        free(text);
    }
    p.series[0].faint = true;
    text = plotted(&p);
    assert_non_null(strstr(text, "stroke=\"#777\""));
    free(text);
}

static void plot__one_point__stays_within_the_frame(void **state)
{
    static const double x[] = {5}, y[] = {7};
    struct plot p = {.title = "t", .x_label = "x", .y_label = "y", .count = 1};
    const char *circle;
    char *text;
    double cx, cy;

    (void)state;
    p.series[0] = (struct plot_series){.x = x, .y = y, .n = 1};
    text = plotted(&p);
    circle = strstr(text, "<circle");
    assert_non_null(circle);
    assert_int_equal(sscanf(circle, "<circle cx=\"%lf\" cy=\"%lf\"", &cx, &cy), 2);
    assert_true(cx > 56 && cx < 448 && cy > 26 && cy < 244);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(step__any_span__is_one_two_or_five),
        cmocka_unit_test(plot__two_series__have_marks_bars_and_names),
        cmocka_unit_test(plot__nothing_heard__says_so),
        cmocka_unit_test(plot__a_gap__breaks_the_line),
        cmocka_unit_test(plot__one_point__stays_within_the_frame),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
