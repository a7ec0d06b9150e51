/* What the user chose at the screen, line by line: each field of it changed on its way out, on its
 * way back and at its bounds. The form of the file is the head of choices.h. */
#include "base/text.h"
#include "screen/choices.h"
#include "screen/trend.h"

#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static struct choices parsed(const char *text)
{
    struct choices s;
    choices_parse(&s, text);
    return s;
}

static void nothing_chosen__nothing_is_known(void **state)
{
    struct choices s = parsed("");
    char text[400];

    (void)state;
    assert_int_equal(s.trend_span, -1);
    assert_true(!s.has_units && !s.together && s.trend_count == 0 && s.chart_count == 0);
    assert_true(!s.theme[0] && !s.theme_configured[0] && !s.view[0] && !s.glyphs[0]);
    size_t length = choices_format(&s, text, sizeof text);
    assert_int_equal(length, strlen(text));
    assert_string_equal(text, "# stokehold screen 1\ntrend together = no\n");
}

/* The whole file, written out. */
static void everything_chosen__every_line(void **state)
{
    static const char file[] = "# stokehold screen 1\n"
                               "theme = night\n"
                               "theme configured = day\n"
                               "units = F, psi, gal, gal/h, mph\n"
                               "units configured = C, kPa, L, L/h, kn\n"
                               "view = trend\n"
                               "glyphs = bar\n"
                               "trend span = 0\n"
                               "trend together = yes\n"
                               "trend = exhaust.0\n"
                               "trend = exhaust.1\n"
                               "trend = coolant.0\n"
                               "trend = coolant.1\n"
                               "chart = rpm\n"
                               "chart = none\n";
    struct choices s = parsed(file);
    char text[1000];

    (void)state;
    choices_format(&s, text, sizeof text);
    assert_string_equal(text, file);
    assert_string_equal(s.theme, "night");
    assert_string_equal(s.theme_configured, "day");
    assert_int_equal(s.units.temperature, UNIT_F);
    assert_int_equal(s.units.pressure, UNIT_PSI);
    assert_int_equal(s.units.speed, UNIT_MPH);
    assert_int_equal(s.units_configured.volume, UNIT_L);
    assert_int_equal(s.units_configured.flow, UNIT_LPH);
}

/* Five units, each of its own kind, in this order; what follows the fifth is not looked at. Where
 * either line of units is wrong neither counts. */
static void units__all_five_in_their_order_or_none(void **state)
{
    static const struct {
        const char *units;
        bool known;
    } rows[] = {
        {"C, kPa, L, L/h, kn", true},
        {"C,kPa,L,L/h,kn", true},
        {"C, kPa, L, L/h", false},
        {"kPa, C, L, L/h, kn", false},
        {"C, L, kPa, L/h, kn", false},
        {"C, kPa, L/h, L, kn", false},
        {"C, kPa, L, kn, L/h", false},
        {"C, kPa, L, L/h, attic", false},
        {"", false},
        {"F, bar, L, L/h, mph, attic", true},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        for (int configured = 0; configured < 2; configured++) {
            char text[300];
            snprintf(text, sizeof text, "units = %s\nunits configured = %s\n",
                     configured ? "F, kPa, L, L/h, kn" : rows[i].units,
                     configured ? rows[i].units : "F, kPa, L, L/h, kn");
            assert_int_equal(parsed(text).has_units, rows[i].known);
        }
    assert_false(parsed("units configured = C, kPa, L, L/h, kn\n").has_units);
}

static void lines__at_their_bounds(void **state)
{
    char text[400], word[300];

    (void)state;
    snprintf(text, sizeof text, "trend span = %d\n", trend_span_count - 1);
    assert_int_equal(parsed(text).trend_span, trend_span_count - 1);
    snprintf(text, sizeof text, "trend span = %d\n", trend_span_count);
    assert_int_equal(parsed(text).trend_span, -1);
    assert_int_equal(parsed("trend span = -1\n").trend_span, -1);
    assert_int_equal(parsed("trend span = 0\n").trend_span, 0);
    assert_true(parsed("trend together = yes\n").together);
    assert_false(parsed("trend together = yes\ntrend together = no\n").together);
    assert_false(parsed("trend together = yess\n").together);
    assert_string_equal(parsed("view=helm\n").view, "");
    assert_string_equal(parsed("view = helm").view, "helm"); /* the last line may be cut */
    assert_string_equal(parsed("\n\nview = helm\n").view, "helm");
    memset(word, 'x', sizeof word);
    for (size_t len = 254; len <= 257;
         len++) { /* a line of 255 bytes is read, a longer one is not */
        snprintf(text, sizeof text, "theme = %.*s\nview = helm\n", (int)(len - 8), word);
        assert_int_equal(parsed(text).theme[0] == 'x', len <= 255);
        assert_string_equal(parsed(text).view, "helm");
    }
}

static void file_of_a_later_version__by_its_number(void **state)
{
    static const struct {
        const char *first;
        bool read;
    } rows[] = {{"# stokehold screen 1", true},
                {"# stokehold screen 0", false},
                {"# stokehold screen 2", false},
                {"# stokehold screen 000000000000001", true},
                {"# stokehold screen 0000000000000001", false},
                {"# stokehold screen", true}, /* another comment */
                {"# my own", true}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[100];
        snprintf(text, sizeof text, "%s\nview = helm\n", rows[i].first);
        assert_string_equal(parsed(text).view, rows[i].read ? "helm" : "");
    }
}

/* A running screen's choices and back into a fresh one. */
static void screen__and_back__is_the_same(void **state)
{
    static const uint16_t charts[][2] = {
        {0, 0}, {QTY_LOAD, QTY_BOOST}, {QTY_LOAD, 0}, {0, QTY_BOOST}};

    (void)state;
    for (size_t i = 0; i < sizeof charts / sizeof charts[0]; i++) {
        struct choices s = {.trend_span = -1};
        struct ui a, b;
        ui_init(&a);
        a.view = VIEW_MOVERS;
        a.trend.span = 5;
        a.trend.together = true;
        a.trend.count = 3;
        for (int k = 0; k < 3; k++)
            snprintf(a.trend.keys[k], sizeof a.trend.keys[k], "coolant.%d", k);
        memcpy(a.chart, charts[i], sizeof a.chart);
        choices_from_ui(&s, &a);
        assert_string_equal(s.view, "movers");
        assert_int_equal(s.chart_count, i == 0 ? 0 : 2);
        char text[1000];
        choices_format(&s, text, sizeof text);
        ui_init(&b);
        s = parsed(text);
        choices_to_ui(&s, &b);
        assert_int_equal(b.view, VIEW_MOVERS);
        assert_int_equal(b.trend.span, 5);
        assert_true(b.trend.together);
        assert_int_equal(b.trend.count, 3);
        for (int k = 0; k < 3; k++)
            assert_string_equal(b.trend.keys[k], a.trend.keys[k]);
        assert_int_equal(b.chart[0], a.chart[0]);
        assert_int_equal(b.chart[1], a.chart[1]);
    }
}

/* The state directory where it is given as a whole path, else below the home; without either there
 * is no file. */
static void path__state_directory_then_home(void **state)
{
    static const struct {
        const char *xdg, *home, *path;
    } rows[] = {
        {"/var/s", "/home/a", "/var/s/stokehold/screen"},
        {"s", "/home/a", "/home/a/.local/state/stokehold/screen"},
        {"", "/home/a", "/home/a/.local/state/stokehold/screen"},
        {NULL, "/home/a", "/home/a/.local/state/stokehold/screen"},
        {NULL, "a", NULL},
        {NULL, NULL, NULL},
    };
    const char *xdg = getenv("XDG_STATE_HOME"), *home = getenv("HOME");
    char *was[2] = {xdg ? strdup(xdg) : NULL, home ? strdup(home) : NULL};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char path[100] = "";
        rows[i].xdg ? setenv("XDG_STATE_HOME", rows[i].xdg, 1) : unsetenv("XDG_STATE_HOME");
        rows[i].home ? setenv("HOME", rows[i].home, 1) : unsetenv("HOME");
        bool known = choices_path(path, sizeof path);
        bool fits = choices_path(path, 10);
        assert_int_equal(known, rows[i].path != NULL);
        assert_false(fits);
        if (known && choices_path(path, sizeof path))
            assert_string_equal(path, rows[i].path);
    }
    was[0] ? setenv("XDG_STATE_HOME", was[0], 1) : unsetenv("XDG_STATE_HOME");
    was[1] ? setenv("HOME", was[1], 1) : unsetenv("HOME");
    free(was[0]);
    free(was[1]);
}

/* The file is replaced at once: nothing else stays beside it, and where it cannot be, what was
 * there before stays. */
static void save__replaces_or_leaves(void **state)
{
    struct choices s = {.trend_span = 3, .view = "helm"}, back;
    char path[200], beside[220];

    (void)state;
    snprintf(path, sizeof path, "%s/a/b/screen", program_scratch());
    snprintf(beside, sizeof beside, "%s.new", path);
    assert_true(choices_save(&s, path));
    assert_int_not_equal(access(beside, F_OK), 0);
    s.trend_span = 4;
    assert_true(choices_save(&s, path));
    assert_true(choices_load(&back, path));
    assert_int_equal(back.trend_span, 4);
    assert_string_equal(back.view, "helm");
    assert_int_equal(unlink(path), 0);
    assert_false(choices_load(&back, path));
    assert_int_equal(back.trend_span, -1);
    assert_string_equal(back.view, "");
    snprintf(path, sizeof path, "%s/a", program_scratch()); /* a directory: not to be replaced */
    snprintf(beside, sizeof beside, "%s.new", path);
    assert_false(choices_save(&s, path));
    assert_int_not_equal(access(beside, F_OK), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_chosen__nothing_is_known),
        cmocka_unit_test(everything_chosen__every_line),
        cmocka_unit_test(units__all_five_in_their_order_or_none),
        cmocka_unit_test(lines__at_their_bounds),
        cmocka_unit_test(file_of_a_later_version__by_its_number),
        cmocka_unit_test(screen__and_back__is_the_same),
        cmocka_unit_test(path__state_directory_then_home),
        cmocka_unit_test(save__replaces_or_leaves),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
