/* The form of a theme file, word by word, as the head of theme.h has it: which colours each column
 * takes, and what comes of a line. */
#include "screen/theme.h"

#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

/* A whole theme in which `line` stands in place of the role "limit"; and this ground. */
static const char *made(const char *line, const char *ground)
{
    static char text[4000];
    int n = snprintf(text, sizeof text, "%s\nname = made\n", ground);

    for (int r = 0; r < ROLE_COUNT; r++)
        if (r == ROLE_LIMIT)
            n += snprintf(text + n, sizeof text - (size_t)n, "%s\n", line);
        else
            n += snprintf(text + n, sizeof text - (size_t)n, "%s = - / - / -\n",
                          role_text((enum role)r));
    return text;
}

static bool parse(struct theme *t, const char *text, struct err *e)
{
    *e = (struct err){""};
    return theme_parse(t, "t", text, strlen(text), e);
}

static void look__word_by_word(void **state)
{
    static const struct {
        const char *line;
        struct look many, eight, mono;
    } rows[] = {
        {"limit = 0 / black / -", {0, -1, 0}, {0, -1, 0}, {-1, -1, 0}},
        {"limit = 255 on 1 / white on red / -", {255, 1, 0}, {7, 1, 0}, {-1, -1, 0}},
        {"limit = - on 254 / - on white / -", {-1, 254, 0}, {-1, 7, 0}, {-1, -1, 0}},
        {"limit = red / red on red / bold", {1, -1, 0}, {1, 1, 0}, {-1, -1, LOOK_BOLD}},
        {"limit=bold/dim/underline",
         {-1, -1, LOOK_BOLD},
         {-1, -1, LOOK_DIM},
         {-1, -1, LOOK_UNDERLINE}},
        {"\t limit  =  bold 3 \t/reverse green/ reverse bold dim underline \r",
         {3, -1, LOOK_BOLD},
         {2, -1, LOOK_REVERSE},
         {-1, -1, LOOK_BOLD | LOOK_DIM | LOOK_UNDERLINE | LOOK_REVERSE}},
        {"limit = / /", {-1, -1, 0}, {-1, -1, 0}, {-1, -1, 0}},
        {"limit = yellow / blue / -", {3, -1, 0}, {4, -1, 0}, {-1, -1, 0}},
        {"limit = magenta / cyan / -", {5, -1, 0}, {6, -1, 0}, {-1, -1, 0}},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct look *const wanted[] = {
            [COLOR_MONO] = &rows[i].mono, [COLOR_8] = &rows[i].eight, [COLOR_256] = &rows[i].many};
        struct theme t;
        struct err e;
        assert_true(parse(&t, made(rows[i].line, ""), &e));
        assert_string_equal(t.name, "made");
        for (int level = 0; level < COLOR_LEVELS; level++) {
            assert_int_equal(t.looks[ROLE_LIMIT][level].fg, wanted[level]->fg);
            assert_int_equal(t.looks[ROLE_LIMIT][level].bg, wanted[level]->bg);
            assert_int_equal(t.looks[ROLE_LIMIT][level].attr, wanted[level]->attr);
        }
    }
}

static void look__wrong__names_line_word_and_column(void **state)
{
    static const struct {
        const char *line, *said;
    } rows[] = {
        {"limit = 256 / - / -", "t:10: cannot read '256' in the first column"},
        {"limit = -1 / - / -", "t:10: cannot read '-1' in the first column"},
        {"limit = 1 / 2 / -", "t:10: cannot read '2' in the second column"},
        {"limit = 1 / black / black", "t:10: cannot read 'black' in the third column"},
        {"limit = on on / - / -", "t:10: cannot read 'on' in the first column"},
        {"limit = Red / - / -", "t:10: cannot read 'Red' in the first column"},
        {"limit = - / -", "t:10: three columns are wanted, with '/' between"},
        {"limit = -", "t:10: three columns are wanted, with '/' between"},
        {"limit = - / - / - / -", "t:10: more than three columns"},
        {"limit - / - / -", "t:10: expected 'role = look / look / look'"},
        {"limits = - / - / -", "t:10: there is no role 'limits'"},
        {"figures = fat", "t:10: figures are 'thin' or 'full', not 'fat'"},
        {"# limit = - / - / -", "t: the role 'limit' is missing"},
        {"", "t: the role 'limit' is missing"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct theme t;
        struct err e;
        assert_false(parse(&t, made(rows[i].line, ""), &e));
        assert_string_equal(e.text, rows[i].said);
    }
}

/* What a role leaves to the terminal it takes from the ground, column by column. */
static void ground__lies_behind_what_brings_none(void **state)
{
    static const char ground[] = "ground = 7 on 16 / red on black / -";
    struct theme t;
    struct err e;

    (void)state;
    assert_true(parse(&t, made("limit = 0 on 0 / green on yellow / -", ground), &e));
    assert_int_equal(t.looks[ROLE_LIMIT][COLOR_256].fg, 0);
    assert_int_equal(t.looks[ROLE_LIMIT][COLOR_256].bg, 0);
    assert_int_equal(t.looks[ROLE_LIMIT][COLOR_8].fg, 2);
    assert_int_equal(t.looks[ROLE_LIMIT][COLOR_8].bg, 3);
    assert_int_equal(t.looks[ROLE_TEXT][COLOR_256].fg, 7);
    assert_int_equal(t.looks[ROLE_TEXT][COLOR_256].bg, 16);
    assert_int_equal(t.looks[ROLE_SERIES_4][COLOR_8].fg, 1);
    assert_int_equal(t.looks[ROLE_SERIES_4][COLOR_8].bg, 0);
    assert_int_equal(t.looks[ROLE_TEXT][COLOR_MONO].fg, -1);
    assert_int_equal(t.looks[ROLE_TEXT][COLOR_MONO].bg, -1);
    assert_false(t.thin);
    assert_true(parse(&t, made("limit = - / - / -\nfigures = thin", ""), &e));
    assert_true(t.thin);
    assert_true(parse(&t, made("limit = - / - / -\nfigures = full", ""), &e));
    assert_false(t.thin);
}

/* A line of 199 bytes is read, one of 200 is too long; the last needs no end. */
static void lines__at_their_bounds(void **state)
{
    char comment[300];
    struct theme t;
    struct err e;

    (void)state;
    for (int len = 198; len <= 201; len++) {
        char line[330];
        memset(comment, '#', sizeof comment);
        comment[len] = '\0';
        snprintf(line, sizeof line, "limit = - / - / -\n%s", comment);
        assert_int_equal(parse(&t, made(line, ""), &e), len < 200);
        assert_string_equal(e.text, len < 200 ? "" : "t:11: the line is too long");
    }
    const char *text = made("limit = - / - / -", "");
    assert_true(theme_parse(&t, "t", text, strlen(text) - 1, &e));
    assert_false(theme_parse(&t, "t", text, strlen(text) - 4, &e)); /* the last column is cut */
}

/* A cell's own attributes beside those of its role: reverse twice is not reverse. */
static void theme_look__the_cells_own_attributes(void **state)
{
    struct theme t;
    struct err e;
    struct cell c = {.ch = 'x', .role = ROLE_LIMIT, .width = 1};

    (void)state;
    assert_true(parse(&t, made("limit = 9 on 10 reverse / red / bold", ""), &e));
    assert_int_equal(theme_look(&t, COLOR_256, &c).attr, LOOK_REVERSE);
    c.attr = ATTR_REVERSE;
    assert_int_equal(theme_look(&t, COLOR_256, &c).attr, 0);
    assert_int_equal(theme_look(&t, COLOR_8, &c).attr, LOOK_REVERSE);
    c.attr = ATTR_UNDERLINE;
    assert_int_equal(theme_look(&t, COLOR_MONO, &c).attr, LOOK_BOLD | LOOK_UNDERLINE);
    c.attr = ATTR_BOLD;
    assert_int_equal(theme_look(&t, COLOR_8, &c).attr, LOOK_BOLD);
    c.attr = ATTR_LINE | ATTR_UNDERLINE; /* a line takes the ground's colour, and has none */
    assert_int_equal(theme_look(&t, COLOR_256, &c).fg, 10);
    assert_int_equal(theme_look(&t, COLOR_256, &c).bg, -1);
    assert_int_equal(theme_look(&t, COLOR_256, &c).attr, LOOK_REVERSE);
    assert_int_equal(theme_look(&t, COLOR_8, &c).fg, 1); /* no ground of its own */
    c.role = ROLE_COUNT;                                 /* no role: as text */
    assert_int_equal(theme_look(&t, COLOR_256, &c).fg, -1);
    /* the first colour is one as well; "own" is none */
    c = (struct cell){.ch = 'x', .role = ROLE_LIMIT, .attr = ATTR_LINE, .width = 1};
    assert_true(parse(&t, made("limit = 9 on 0 / red / bold", ""), &e));
    assert_int_equal(theme_look(&t, COLOR_256, &c).fg, 0);
    assert_int_equal(theme_look(&t, COLOR_256, &c).bg, -1);
}

static void theme_load__by_name_or_path(void **state)
{
    struct theme t;
    struct err e = {""};
    char path[200];

    (void)state;
    assert_true(theme_load(&t, "night", &e));
    assert_string_equal(t.name, "night");
    assert_false(theme_load(&t, "nigh", &e));
    assert_string_equal(e.text, "there is no theme 'nigh'");
    assert_false(theme_load(&t, "nigh.theme", &e));
    assert_non_null(strstr(e.text, "cannot open theme 'nigh.theme': "));
    snprintf(path, sizeof path, "%s/mine.theme", program_scratch());
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs(made("limit = 9 / - / -", ""), f);
    fclose(f);
    assert_true(theme_load(&t, path, &e));
    assert_string_equal(t.name, "made");
    assert_int_equal(t.looks[ROLE_LIMIT][COLOR_256].fg, 9);
    f = fopen(path, "a");
    assert_non_null(f);
    for (int i = 0; i < 16384; i++)
        fputc('\n', f);
    fclose(f);
    assert_false(theme_load(&t, path, &e)); /* larger than any theme */
    assert_non_null(strstr(e.text, "cannot read theme '"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(look__word_by_word),
        cmocka_unit_test(look__wrong__names_line_word_and_column),
        cmocka_unit_test(ground__lies_behind_what_brings_none),
        cmocka_unit_test(lines__at_their_bounds),
        cmocka_unit_test(theme_look__the_cells_own_attributes),
        cmocka_unit_test(theme_load__by_name_or_path),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
