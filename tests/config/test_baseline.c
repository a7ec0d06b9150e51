/* Baselines: written, read back, edited by hand, held against a speed. */
#include "config/baseline.h"

#include "support/check.h"

#include <stdlib.h>

static const char good[] = "# stokehold baseline\n"
                           "\n"
                           "# a note\n"
                           "exhaust.0  1000  30.00  0.50  4.2  16.0  2026-05-04T14:00:00Z  a.log\n"
                           "  exhaust.0\t2000 40 1.5 3 - 2026-06-01T08:30:00Z b c.log\r\n"
                           "exhaust.1 1500 33 0 3 12 2026-06-01T08:30:00Z";

static struct channel_id id_of(const char *key)
{
    struct channel_id id;

    assert_true(channel_id_parse(key, &id, NULL));
    return id;
}

static void parse__good_text__gives_figures(void **state)
{
    struct baseline b;
    struct err e;

    (void)state;
    assert_true(baseline_parse(good, sizeof good - 1, "x", &b, &e));
    assert_int_equal(b.count, 3);
    assert_near(b.figures[0].sea_c, 16, 0);
    assert_true(isnan(b.figures[1].sea_c));
    assert_string_equal(b.figures[1].log, "b c.log");
    assert_string_equal(b.figures[2].log, "");
    assert_true(b.figures[0].wall_ns == INT64_C(1777903200000000000));
    baseline_free(&b);
    assert_int_equal(b.count, 0);
}

static void normal__between_and_beside_figures(void **state)
{
    struct baseline b;
    struct err e;
    double mean, spread, sea;
    int64_t when;

    (void)state;
    assert_true(baseline_parse(good, sizeof good - 1, "x", &b, &e));
    assert_true(baseline_normal(&b, id_of("exhaust.0"), 1250, &mean, &spread, &sea, &when));
    assert_near(mean, 32.5, 1e-9);
    assert_near(spread, 0.75, 1e-9);
    assert_near(sea, 16, 0);
    assert_true(baseline_normal(&b, id_of("exhaust.0"), 2000, &mean, NULL, NULL, NULL));
    assert_near(mean, 40, 0);
    assert_true(baseline_normal(&b, id_of("exhaust.0"), 2090, &mean, NULL, NULL, NULL));
    assert_near(mean, 40, 0);
    assert_false(baseline_normal(&b, id_of("exhaust.0"), 2110, &mean, NULL, NULL, NULL));
    assert_false(baseline_normal(&b, id_of("exhaust.0"), 940, &mean, NULL, NULL, NULL));
    assert_false(baseline_normal(&b, id_of("coolant.0"), 1500, &mean, NULL, NULL, NULL));
    baseline_free(&b);
}

static void write__read_back__is_the_same(void **state)
{
    struct baseline b = {0}, back;
    struct err e;
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    for (int i = 0; i < 40; i++) {
        struct baseline_figure f = {.id = id_of("oil-pressure.1"),
                                    .rpm = 600 + 50 * i,
                                    .mean = 200.25 + i,
                                    .spread = 3.5,
                                    .minutes = 2.5,
                                    .sea_c = i % 2 ? 14.5 : NAN,
                                    .wall_ns = INT64_C(1777903200000000000),
                                    .log = "trip 1.log"};

        assert_true(baseline_add(&b, &f));
    }
    baseline_write(out, &b);
    fclose(out);
    assert_true(baseline_parse(text, len, "x", &back, &e));
    assert_int_equal(back.count, 40);
    for (size_t i = 0; i < 40; i++) {
        assert_true(channel_id_same(back.figures[i].id, b.figures[i].id));
        assert_near(back.figures[i].rpm, b.figures[i].rpm, 0.5);
        assert_near(back.figures[i].mean, b.figures[i].mean, 0.005);
        assert_near(back.figures[i].minutes, 2.5, 0.05);
        assert_int_equal(isnan(back.figures[i].sea_c), i % 2 == 0);
        assert_true(back.figures[i].wall_ns == b.figures[i].wall_ns);
        assert_string_equal(back.figures[i].log, "trip 1.log");
    }
    free(text);
    baseline_free(&b);
    baseline_free(&back);
}

static void parse__broken_lines__are_named(void **state)
{
    static const struct {
        const char *line, *says;
    } cases[] = {
        {"exhaust 1 2 3 4 - 2026-05-04T14:00:00Z", "x:2: the line begins with no channel key"},
        {"exhaust.0 1 2 3", "x:2: the line needs engine speed"},
        {"exhaust.0 fast 2 3 4 - 2026-05-04T14:00:00Z", "x:2: the line needs engine speed"},
        {"exhaust.0 1 2 -3 4 - 2026-05-04T14:00:00Z", "x:2: the line needs engine speed"},
        {"exhaust.0 1 nan 3 4 - 2026-05-04T14:00:00Z", "x:2: the line needs engine speed"},
        {"exhaust.0 1 2 3 4 cold 2026-05-04T14:00:00Z", "x:2: the line needs the sea's"},
        {"exhaust.0 1 2 3 4 - lately", "x:2: the line needs a time"},
        {"exhaust.0 1 2 3 4 - +05:00", "x:2: the line needs a time"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[200];
        struct baseline b;
        struct err e;

        snprintf(text, sizeof text, "# stokehold baseline\n%s\n", cases[i].line);
        assert_false(baseline_parse(text, strlen(text), "x", &b, &e));
        assert_memory_equal(e.text, cases[i].says, strlen(cases[i].says));
        assert_int_equal(b.count, 0);
    }
}

static void parse__something_else__is_refused(void **state)
{
    struct baseline b;
    struct err e;

    (void)state;
    assert_false(baseline_parse("[alerts]\n", 9, "x", &b, &e));
    assert_false(baseline_parse("", 0, "x", &b, &e));
    assert_false(baseline_read("/nowhere/b", &b, &e));
}

static void each_prefix(void *ctx, const void *data, size_t len)
{
    struct baseline b;
    struct err e;

    (void)ctx;
    if (baseline_parse(data, len, "x", &b, &e))
        baseline_free(&b);
}

static void parse__every_prefix__ends_well(void **state)
{
    (void)state;
    for_every_prefix(good, sizeof good - 1, each_prefix, NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(parse__good_text__gives_figures),
        cmocka_unit_test(normal__between_and_beside_figures),
        cmocka_unit_test(write__read_back__is_the_same),
        cmocka_unit_test(parse__broken_lines__are_named),
        cmocka_unit_test(parse__something_else__is_refused),
        cmocka_unit_test(parse__every_prefix__ends_well),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
