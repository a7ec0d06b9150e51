/* Themes: what is read from a file, and what can be read on a screen. */
#include "screen/theme.h"
#include "support/check.h"

#include <stdio.h>

static void theme__every_shipped_one__reads_and_tells_priorities_apart(void **state)
{
    (void)state;
    assert_int_equal(theme_builtin_count(), 6);
    for (size_t i = 0; i < theme_builtin_count(); i++) {
        struct theme t;
        assert_true(theme_builtin(&t, theme_builtin_name(i)));
        assert_string_equal(t.name, theme_builtin_name(i));
        for (int level = 0; level < COLOR_LEVELS; level++) {
            const struct look *text = &t.looks[ROLE_TEXT][level];
            for (int r = ROLE_CAUTION; r <= ROLE_EMERGENCY; r++)
                assert_memory_not_equal(&t.looks[r][level], text, sizeof *text);
            assert_memory_not_equal(&t.looks[ROLE_EMERGENCY][level], &t.looks[ROLE_ALARM][level],
                                    sizeof *text);
            assert_memory_not_equal(&t.looks[ROLE_CAUTION][level], &t.looks[ROLE_ALARM][level],
                                    sizeof *text);
            /* Colours beyond 7 do not exist at 8, and none in monochrome. */
            for (int r = 0; r < ROLE_COUNT; r++) {
                assert_true(level == COLOR_256 || t.looks[r][level].fg < 8);
                assert_true(level != COLOR_MONO ||
                            (t.looks[r][level].fg < 0 && t.looks[r][level].bg < 0));
            }
        }
    }
}

/* The palette of 256 colours, as the terminal emulators that have it agree: 16 to 231 are a cube of
 * 6 levels, 232 to 255 greys. What 0 to 15 look like is the user's affair. */
static void rgb_of(int color, double rgb[3])
{
    static const int levels[] = {0, 95, 135, 175, 215, 255};
    assert_in_range(color, 16, 255);
    int c = color - 16, grey = 8 + 10 * (color - 232);
    const int parts[] = {levels[c / 36 % 6], levels[c / 6 % 6], levels[c % 6]};
    for (int i = 0; i < 3; i++)
        rgb[i] = (color >= 232 ? grey : parts[i]) / 255.0;
}

/* Relative luminance and contrast ratio of WCAG 2.2. */
static double luminance(int color)
{
    static const double weight[] = {0.2126, 0.7152, 0.0722};
    double rgb[3], sum = 0;
    rgb_of(color, rgb);
    for (int i = 0; i < 3; i++)
        sum +=
            weight[i] * (rgb[i] <= 0.04045 ? rgb[i] / 12.92 : pow((rgb[i] + 0.055) / 1.055, 2.4));
    return sum;
}

static double contrast(int a, int b)
{
    double p = luminance(a), q = luminance(b);
    return (fmax(p, q) + 0.05) / (fmin(p, q) + 0.05);
}

/* Ratios from the definition, three of them checked with wcag-contrast (npm): #767676 on white
 * 4.5422, #FF0000 on black 5.2520, #FFAF00 on black 11.3840, #808080 on black 5.3172. */
static void contrast__known_pairs__agree(void **state)
{
    (void)state;
    assert_near(contrast(243, 231), 4.5422, 1e-4);
    assert_near(contrast(196, 16), 5.2520, 1e-4);
    assert_near(contrast(214, 16), 11.3840, 1e-4);
    assert_near(contrast(244, 16), 5.3172, 1e-4);
}

static bool is_curve(int role)
{
    return role == ROLE_KEEL || role == ROLE_TREND || role >= ROLE_SERIES_1;
}

/* The least contrast of a look: on its own ground, or, where that is the terminal's own, on black
 * and on white alike; what has the terminal's own text colour as well is its user's affair. */
static double least_contrast(struct look look)
{
    if (look.attr & LOOK_REVERSE || (look.fg < 0 && look.bg < 0))
        return 21;
    if (look.bg < 0)
        return fmin(contrast(look.fg, 16), contrast(look.fg, 231));
    return contrast(look.fg, look.bg);
}

static void theme__every_word__has_a_contrast_of_4_5(void **state)
{
    (void)state;
    for (size_t i = 0; i < theme_builtin_count(); i++) {
        struct theme t;
        double words = 21;
        assert_true(theme_builtin(&t, theme_builtin_name(i)));
        for (int r = 0; r < ROLE_COUNT; r++) {
            double ratio = least_contrast(t.looks[r][COLOR_256]);
            if (is_curve(r))
                continue;
            if (ratio < 4.5)
                fail_msg("%s: %s has %.2f", t.name, role_text((enum role)r), ratio);
            if (r == ROLE_TEXT || r == ROLE_VALUE)
                words = fmin(words, ratio);
        }
        /* Curves are fainter than what is read. */
        for (int r = 0; r < ROLE_COUNT; r++)
            if (is_curve(r) && t.looks[r][COLOR_256].fg >= 0)
                assert_true(least_contrast(t.looks[r][COLOR_256]) < words ||
                            t.looks[r][COLOR_256].fg == 231);
    }
}

/* Dark-adapted eyes: luminance below a quarter of white's anywhere, and of short wavelengths no
 * more than the faintest step of the palette. */
static void theme__night__is_red_and_never_bright(void **state)
{
    (void)state;
    struct theme t;
    assert_true(theme_builtin(&t, "night"));
    for (int r = 0; r < ROLE_COUNT; r++) {
        const int colors[] = {t.looks[r][COLOR_256].fg, t.looks[r][COLOR_256].bg};
        for (int k = 0; k < 2; k++) {
            double rgb[3];
            rgb_of(colors[k], rgb);
            assert_true(rgb[0] >= rgb[1] && rgb[0] >= rgb[2]);
            assert_true(rgb[2] <= 95 / 255.0 && rgb[2] <= 0.6 * rgb[0]);
            assert_true(luminance(colors[k]) < 0.25);
        }
    }
}

/* A line in a role that brings its own ground is drawn in that colour, on the ground of the rest.
 */
static void theme_look__a_line__has_no_ground_of_its_own(void **state)
{
    (void)state;
    struct theme t;
    assert_true(theme_builtin(&t, "day"));
    struct cell word = {.role = ROLE_ALARM}, line = {.role = ROLE_ALARM, .attr = ATTR_LINE};
    struct look w = theme_look(&t, COLOR_256, &word), l = theme_look(&t, COLOR_256, &line);
    assert_true(w.bg >= 0);
    assert_int_equal(l.fg, w.bg);
    assert_int_equal(l.bg, -1);
}

static void theme_parse__mistakes__name_the_line(void **state)
{
    (void)state;
    static const char *const rows[][2] = {
        {"alarm = 300 / red / bold\n", "t:1: cannot read '300' in the first column"},
        {"\nalarm = 9 / 9 / bold\n", "t:2: cannot read '9' in the second column"},
        {"alarm = 9 / red\n", "t:1: three columns are wanted, with '/' between"},
        {"alarm = 9 / red / bold / dim\n", "t:1: more than three columns"},
        {"alarms = 9 / red / bold\n", "t:1: there is no role 'alarms'"},
        {"alarm\n", "t:1: expected 'role = look / look / look'"},
        {"alarm = 9 / red / red\n", "t:1: cannot read 'red' in the third column"},
        {"figures = fat\n", "t:1: figures are 'thin' or 'full', not 'fat'"},
        {"alarm = 9 / red / bold\n", "t: the role 'text' is missing"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct theme t;
        struct err e;
        assert_false(theme_parse(&t, "t", rows[i][0], strlen(rows[i][0]), &e));
        assert_string_equal(e.text, rows[i][1]);
    }
    struct theme t;
    struct err e;
    assert_false(theme_load(&t, "nosuch", &e));
    assert_string_equal(e.text, "there is no theme 'nosuch'");
    assert_true(theme_load(&t, "themes/night.theme", &e));
    assert_string_equal(t.name, "night");
    assert_true(t.thin); /* figures that do not dazzle */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(theme__every_shipped_one__reads_and_tells_priorities_apart),
        cmocka_unit_test(contrast__known_pairs__agree),
        cmocka_unit_test(theme__every_word__has_a_contrast_of_4_5),
        cmocka_unit_test(theme__night__is_red_and_never_bright),
        cmocka_unit_test(theme_look__a_line__has_no_ground_of_its_own),
        cmocka_unit_test(theme_parse__mistakes__name_the_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
