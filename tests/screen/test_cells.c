/* Characters on their way to a terminal, at the bounds of what is told apart: bytes to code points
 * by RFC 3629, how many columns each takes by East Asian Width (UAX 11), what stands in its place
 * in ASCII; and a grid at its edges. */
#include "screen/cells.h"
#include "screen/drawn.h"
#include "screen/glyphs.h"

/* ---- bytes ---- */

/* RFC 3629, chapter 4: the first and the last of each row of its grammar, and what lies beside
 * them. One bad byte is passed over, and what comes after it is read by itself. */
static void utf8_next__rows_of_the_grammar__at_their_bounds(void **state)
{
    static const struct {
        const char *bytes;
        uint32_t ch;
        int used;
    } rows[] = {
        {"\x01", 0x01, 1},
        {"\x7F", 0x7F, 1},
        {"\x80", 0xFFFD, 1},
        {"\xBF\xBF", 0xFFFD, 1},
        {"\xC0\x80", 0xFFFD, 1},
        {"\xC1\xBF", 0xFFFD, 1},
        {"\xC2\x80", 0x80, 2},
        {"\xC2\x7F", 0xFFFD, 1},
        {"\xC2\xC0", 0xFFFD, 1},
        {"\xDF\xBF", 0x7FF, 2},
        {"\xE0\x9F\xBF", 0xFFFD, 1},
        {"\xE0\xA0\x80", 0x800, 3},
        {"\xE1\x80\x80", 0x1000, 3},
        {"\xEC\xBF\xBF", 0xCFFF, 3},
        {"\xED\x9F\xBF", 0xD7FF, 3},
        {"\xED\xA0\x80", 0xFFFD, 1},
        {"\xED\xBF\xBF", 0xFFFD, 1},
        {"\xEE\x80\x80", 0xE000, 3},
        {"\xEF\xBF\xBF", 0xFFFF, 3},
        {"\xEF\xBF", 0xFFFD, 1},
        {"\xF0\x8F\xBF\xBF", 0xFFFD, 1},
        {"\xF0\x90\x80\x80", 0x10000, 4},
        {"\xF3\xBF\xBF\xBF", 0xFFFFF, 4},
        {"\xF4\x8F\xBF\xBF", 0x10FFFF, 4},
        {"\xF4\x90\x80\x80", 0xFFFD, 1},
        {"\xF5\x80\x80\x80", 0xFFFD, 1},
        {"\xFF", 0xFFFD, 1},
        {"", 0, 0},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *s = rows[i].bytes;
        assert_int_equal(utf8_next(&s), rows[i].ch);
        assert_int_equal(s - rows[i].bytes, rows[i].used);
    }
}

static void utf8_put__as_many_bytes_as_the_standard_says(void **state)
{
    static const struct {
        uint32_t ch;
        const char *bytes;
    } rows[] = {
        {0x7F, "\x7F"},
        {0x80, "\xC2\x80"},
        {0x7FF, "\xDF\xBF"},
        {0x800, "\xE0\xA0\x80"},
        {0xFFFF, "\xEF\xBF\xBF"},
        {0x10000, "\xF0\x90\x80\x80"},
        {0x10FFFF, "\xF4\x8F\xBF\xBF"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char bytes[5] = "";
        assert_int_equal(utf8_put(bytes, rows[i].ch), (int)strlen(rows[i].bytes));
        assert_string_equal(bytes, rows[i].bytes);
    }
}

/* By the Unicode Character Database (EastAsianWidth, categories; 14.0): the first and the last of
 * blocks, and what lies beside them; marks of living scripts; anchors and sails that people put
 * into names. Controls, marks that turn the direction, halves of pairs and private characters reach
 * no terminal. */
static void char_width__at_the_bounds_of_blocks(void **state)
{
    static const struct {
        uint32_t ch;
        int width;
    } rows[] = {
        {0x1F, -1},     {0x20, 1},    {0x7E, 1},    {0x7F, -1},   {0x9F, -1},    {0xA0, 1},
        {0xAC, 1},      {0xAD, -1},   {0xAE, 1},    {0x2FF, 1},   {0x300, 0},    {0x36F, 0},
        {0x370, 1},     {0x482, 1},   {0x483, 0},   {0x489, 0},   {0x48A, 1},    {0x590, 1},
        {0x591, 0},     {0x5BD, 0},   {0x5BE, 1},   {0x5BF, 0},   {0x5C0, 1},    {0x5C1, 0},
        {0x5C2, 0},     {0x5C3, 1},   {0x5D0, 1},   {0x60F, 1},   {0x610, 0},    {0x61A, 0},
        {0x61B, 1},     {0x64A, 1},   {0x64B, 0},   {0x65F, 0},   {0x660, 1},    {0x670, 0},
        {0x671, 1},     {0x6D5, 1},   {0x6D6, 0},   {0x6DC, 0},   {0x6DD, 1},    {0x901, 0},
        {0x902, 0},     {0x903, 1},   {0x93B, 1},   {0x93C, 0},   {0x93D, 1},    {0x941, 0},
        {0x948, 0},     {0x949, 1},   {0x94D, 0},   {0x94E, 1},   {0x981, 0},    {0x982, 1},
        {0x9BC, 0},     {0xA3C, 0},   {0xB82, 0},   {0xB83, 1},   {0xBC0, 0},    {0xBC1, 1},
        {0xC4D, 0},     {0xD4D, 0},   {0xDCA, 0},   {0xE30, 1},   {0xE31, 0},    {0xE33, 1},
        {0xE34, 0},     {0xE3A, 0},   {0xE3B, 1},   {0xE46, 1},   {0xE47, 0},    {0xE4E, 0},
        {0xE4F, 1},     {0xEB1, 0},   {0xEB2, 1},   {0xEB4, 0},   {0xEBC, 0},    {0xEBD, 1},
        {0x102D, 0},    {0x1030, 0},  {0x1031, 1},  {0x10FF, 1},  {0x1100, 2},   {0x115F, 2},
        {0x1160, 1},    {0x17B7, 0},  {0x17BD, 0},  {0x17BE, 1},  {0x1AAF, 1},   {0x1AB0, 0},
        {0x1B00, 0},    {0x1B03, 0},  {0x1B04, 1},  {0x1DBF, 1},  {0x1DC0, 0},   {0x1DFF, 0},
        {0x1E00, 1},    {0x200A, 1},  {0x200B, -1}, {0x200F, -1}, {0x2010, 1},   {0x2027, 1},
        {0x2028, -1},   {0x202E, -1}, {0x202F, 1},  {0x205F, 1},  {0x2060, -1},  {0x206F, -1},
        {0x2070, 1},    {0x20CF, 1},  {0x20D0, 0},  {0x20F0, 0},  {0x20F1, 1},   {0x2100, 1},
        {0x2319, 1},    {0x231A, 2},  {0x231B, 2},  {0x231C, 1},  {0x2328, 1},   {0x2329, 2},
        {0x232A, 2},    {0x232B, 1},  {0x23E8, 1},  {0x23E9, 2},  {0x23EC, 2},   {0x23ED, 1},
        {0x2502, 1},    {0x25FC, 1},  {0x25FD, 2},  {0x25FE, 2},  {0x25FF, 1},   {0x2692, 1},
        {0x2693, 2},    {0x2694, 1},  {0x26A0, 1},  {0x26A1, 2},  {0x26A2, 1},   {0x26F4, 1},
        {0x26F5, 2},    {0x26F6, 1},  {0x28FF, 1},  {0x2B4F, 1},  {0x2B50, 2},   {0x2B51, 1},
        {0x2E80, 2},    {0x302A, 0},  {0x302D, 0},  {0x302E, 2},  {0x303E, 2},   {0x303F, 1},
        {0x3040, 1},    {0x3041, 2},  {0x3099, 0},  {0x309A, 0},  {0x309B, 2},   {0x4E00, 2},
        {0xA4C6, 2},    {0xA4C7, 1},  {0xA806, 0},  {0xA807, 1},  {0xA95F, 1},   {0xA960, 2},
        {0xA97C, 2},    {0xA97D, 1},  {0xAC00, 2},  {0xD7A3, 2},  {0xD7A4, 1},   {0xD800, -1},
        {0xDFFF, -1},   {0xE000, -1}, {0xF8FF, -1}, {0xF900, 2},  {0xFB1D, 1},   {0xFB1E, 0},
        {0xFB1F, 1},    {0xFE0F, 0},  {0xFE10, 2},  {0xFE19, 2},  {0xFE1A, 1},   {0xFE20, 0},
        {0xFE2F, 0},    {0xFE30, 2},  {0xFE6B, 2},  {0xFE6C, 1},  {0xFE70, 1},   {0xFEFE, 1},
        {0xFEFF, -1},   {0xFF00, 1},  {0xFF01, 2},  {0xFF60, 2},  {0xFF61, 1},   {0xFFDF, 1},
        {0xFFE0, 2},    {0xFFE6, 2},  {0xFFE7, 1},  {0xFFE8, 1},  {0xFFEF, 1},   {0xFFF0, -1},
        {0xFFFF, -1},   {0x16FDF, 1}, {0x16FE0, 2}, {0x1B2FB, 2}, {0x1B2FC, 1},  {0x1F003, 1},
        {0x1F004, 2},   {0x1F005, 1}, {0x1F0CF, 2}, {0x1F1FF, 1}, {0x1F200, 2},  {0x1F300, 2},
        {0x1F320, 2},   {0x1F321, 1}, {0x1F32C, 1}, {0x1F32D, 2}, {0x1F5FA, 1},  {0x1F5FB, 2},
        {0x1F64F, 2},   {0x1F650, 1}, {0x1F67F, 1}, {0x1F680, 2}, {0x1F6C5, 2},  {0x1F6C6, 1},
        {0x1F6FC, 2},   {0x1F6FD, 1}, {0x1F8FF, 1}, {0x1F900, 1}, {0x1F90B, 1},  {0x1F90C, 2},
        {0x1F93A, 2},   {0x1F93B, 1}, {0x1F93C, 2}, {0x1F945, 2}, {0x1F946, 1},  {0x1F947, 2},
        {0x1F9FF, 2},   {0x1FA00, 1}, {0x1FA6F, 1}, {0x1FA70, 2}, {0x1FAF6, 2},  {0x1FFFF, 1},
        {0x20000, 2},   {0x3FFFD, 2}, {0x3FFFE, 1}, {0xDFFFF, 1}, {0xE0000, -1}, {0x10FFFF, -1},
        {0x110000, -1},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (char_width(rows[i].ch) != rows[i].width) {
            print_error("U+%04X: %d, expected %d\n", (unsigned)rows[i].ch, char_width(rows[i].ch),
                        rows[i].width);
            fail();
        }
}

/* ---- ASCII ---- */

/* Each letter as it is without its accent; the two that are signs, and what has two letters, by the
 * look of it. */
static void glyph_ascii__latin_letters__without_their_accents(void **state)
{
    static const char from[] = "ÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÐÑÒÓÔÕÖ×ØÙÚÛÜÝÞßàáâãäåæçèéêëìíîïðñòóôõö÷øùúûüýþÿ";
    static const char to[] = "AAAAAAACEEEEIIIIDNOOOOOxOUUUUYTsaaaaaaaceeeeiiiidnooooo/ouuuuyty";
    const char *s = from;

    (void)state;
    for (size_t i = 0; i < sizeof to - 1; i++)
        assert_int_equal(glyph_ascii(utf8_next(&s)), (uint32_t)to[i]);
    assert_int_equal(*s, 0);
}

static void glyph_ascii__pictures(void **state)
{
    static const struct {
        const char *from, *to;
    } rows[] = {
        {"\x7F", "\x7F"},
        {" ~", " ~"},
        {"\xC2\x80", "?"},
        {"\u00BF", "?"},
        {"\u0100", "?"},
        {"↓↘→↗↑←", "v\\-/^<"},
        {"▁▂▃▄▅▆▇█", "._-=+*#@"},
        {"▉▊▋", "###"},
        {"▌", "|"},
        /* a band */ {"▍▎▏", "---"},
        {"▐▀▔", "|\"\""},
        {"\u2800", " "},
        {"\u2801\u28FF", "::"},
        {"\u27FF\u2900", "??"},
        {"│─├┤└┌┐┘┬┴┼━┈┆┊", "|-||+++++++=.::"},
        {"…·▲▼›", "~.^v>"},
        {"–—‘’“”", "--''\"\""},
        {"\u00A0\u2009", "  "},
        {"−×±µ", "-x~u"},
        {"●○░▒▓", "*o.:#"},
        {"水", "?"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *s = rows[i].from;
        for (const char *p = rows[i].to; *p; p++)
            assert_int_equal(glyph_ascii(utf8_next(&s)), (uint32_t)*p);
        assert_int_equal(*s, 0);
    }
    assert_int_equal(glyph_ascii(0xB0), 0); /* a degree sign is left out */
}

static void glyph_arrow__five_steps_and_no_more(void **state)
{
    static const uint32_t arrows[] = {0x2193, 0x2193, 0x2198, 0x2192, 0x2197, 0x2191, 0x2191};

    (void)state;
    for (int step = -3; step <= 3; step++)
        assert_int_equal(glyph_arrow(step), arrows[step + 3]);
}

/* ---- a grid ---- */

static void grid__any_size__within_1_and_1000(void **state)
{
    static const int rows[][4] = {
        {0, 0, 1, 1}, {-5, 3, 1, 3}, {1, 1, 1, 1}, {1000, 2, 1000, 2}, {1001, 1001, 1000, 1000}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        begin(rows[i][0], rows[i][1], false);
        assert_int_equal(drawn.cols, rows[i][2]);
        assert_int_equal(drawn.rows, rows[i][3]);
        grid_put(&drawn, 0, 0, 'x', ROLE_ALARM, 0);
        assert_true(grid_resize(&drawn, rows[i][2], rows[i][3]));
        assert_int_equal(grid_at(&drawn, 0, 0)->ch, ' '); /* the same size: emptied all the same */
        assert_int_equal(grid_at(&drawn, 0, 0)->role, ROLE_TEXT);
        assert_true(grid_resize(&drawn, 7, 2));
        assert_int_equal(drawn.cols, 7);
        assert_int_equal(drawn.rows, 2);
        assert_int_equal(grid_at(&drawn, 6, 1)->ch, ' ');
        grid_fini(&drawn);
    }
}

/* Half a wide character is never left: its other half becomes a blank. */
static void wide_character__written_over__leaves_no_half(void **state)
{
    static const struct {
        int wide_at, at;
        uint32_t ch;
        const char *seen;
    } rows[] = {
        {0, 0, 'x', "x  ."},    {0, 1, 'x', " x ."},    {0, 2, 'x', "水x."},
        {1, 0, 'x', "x水."},    {0, 0, 0x6C34, "水 ."}, {0, 1, 0x6C34, " 水."},
        {1, 0, 0x6C34, "水 ."}, {0, 3, 0x6C34, "水 ."}, /* no room for both halves: nothing */
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int columns = 0;
        begin(4, 1, false);
        grid_put(&drawn, rows[i].wide_at, 0, 0x6C34, ROLE_TEXT, 0);
        grid_put(&drawn, 3, 0, '.', ROLE_TEXT, 0);
        grid_put(&drawn, rows[i].at, 0, rows[i].ch, ROLE_VALUE, 0);
        for (int x = 0; x < 4; x++)
            columns += grid_at(&drawn, x, 0)->width;
        assert_int_equal(columns, 4);
        assert_string_equal(line(0), rows[i].seen);
        grid_fini(&drawn);
    }
}

static void braille_dots__are_added(void **state)
{
    (void)state;
    begin(3, 1, false);
    grid_dots(&drawn, 0, 0, 0x01, ROLE_TREND);
    grid_dots(&drawn, 0, 0, 0x80, ROLE_ALARM);
    grid_put(&drawn, 1, 0, 0x28FF, ROLE_TEXT, 0);
    grid_dots(&drawn, 1, 0, 0x01, ROLE_TREND);
    grid_put(&drawn, 2, 0, 'x', ROLE_TEXT, 0);
    grid_dots(&drawn, 2, 0, 0x10, ROLE_TREND);
    grid_dots(&drawn, 3, 0, 0x10, ROLE_TREND);
    assert_int_equal(grid_at(&drawn, 0, 0)->ch, 0x2881);
    assert_int_equal(grid_at(&drawn, 0, 0)->role, ROLE_ALARM);
    assert_int_equal(grid_at(&drawn, 0, 0)->attr, ATTR_LINE);
    assert_int_equal(grid_at(&drawn, 1, 0)->ch, 0x28FF);
    assert_int_equal(grid_at(&drawn, 2, 0)->ch, 0x2810); /* in place of what stood there */
    grid_fini(&drawn);
    begin(1, 1, true);
    grid_dots(&drawn, 0, 0, 0x01, ROLE_TREND);
    assert_string_equal(line(0), "");
    grid_fini(&drawn);
}

/* Where a text ends, to the column: what fits stays whole, what does not ends in a sign. */
static void grid_text__as_many_columns_as_it_may(void **state)
{
    static const struct {
        const char *text;
        int max, used;
        const char *seen;
    } rows[] = {
        {"abc", 0, 0, ""},
        {"abc", 1, 1, "…"},
        {"abc", 2, 2, "a…"},
        {"abc", 3, 3, "abc"},
        {"abc", 4, 3, "abc"},
        {"é水a", 4, 4, "é水a"},
        {"é水a", 3, 2, "é…"},
        {"水水", 3, 3, "水…"},
        {"e\u0301x", 2, 2, "e\u0301x"},
        {"e\u0301xy", 2, 2, "e\u0301…"},
        {"\u0301x", 2, 1, "x"},
        {"e\u0301\u0323\u0300", 1, 1, "e\u0301\u0300"}, /* two marks at most: the last stays */
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        begin(8, 1, false);
        assert_int_equal(grid_text(&drawn, 0, 0, rows[i].max, rows[i].text, ROLE_TEXT, ATTR_BOLD),
                         rows[i].used);
        assert_string_equal(line(0), rows[i].seen);
        grid_fini(&drawn);
    }
}

static void grid_text_right__ends_before_its_edge(void **state)
{
    static const struct {
        const char *text, *seen;
    } rows[] = {{"ab", "    ab"}, {"abcd", "  abcd"}, {"abcde", "  abc…"}, {"", ""}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        begin(10, 1, false);
        grid_text_right(&drawn, 2, 0, 4, rows[i].text, ROLE_TEXT, 0);
        assert_string_equal(line(0), rows[i].seen);
        grid_fini(&drawn);
    }
}

/* A rectangle is filled to its last column and line, and what lies beside it is left. */
static void grid_run_and_paint__the_rectangle_alone(void **state)
{
    char roles[20];

    (void)state;
    begin(5, 4, false);
    grid_run(&drawn, (struct rect){1, 1, 3, 2}, '-', ROLE_KEEL, 0);
    grid_paint(&drawn, (struct rect){2, 1, 2, 1}, ROLE_ALARM, ATTR_REVERSE);
    assert_string_equal(line(0), "");
    assert_string_equal(line(1), " ---");
    assert_string_equal(line(2), " ---");
    assert_string_equal(line(3), "");
    grid_row_roles(&drawn, 1, roles, sizeof roles);
    assert_string_equal(roles, ".kAA");
    grid_row_roles(&drawn, 2, roles, sizeof roles);
    assert_string_equal(roles, ".kkk");
    grid_paint(&drawn, (struct rect){0, 3, 2, 1}, ROLE_TEXT, ATTR_UNDERLINE);
    grid_paint(&drawn, (struct rect){3, 3, 9, 9}, ROLE_TEXT, ATTR_REVERSE);
    grid_row_roles(&drawn, 3, roles, sizeof roles);
    assert_string_equal(roles, "__.##");
    assert_int_equal(grid_row_roles(&drawn, 3, roles, 5), 4); /* cut where it must be */
    assert_string_equal(roles, "__.#");
    grid_fini(&drawn);
}

/* Names as theme files have them, by their numbers in the header's order. */
static void role_text__every_role_has_its_name(void **state)
{
    static const char *const names[] = {"text",     "dim",      "label",    "value",   "title",
                                        "keel",     "trend",    "limit",    "key",     "note",
                                        "chosen",   "caution",  "warning",  "alarm",   "emergency",
                                        "series-1", "series-2", "series-3", "series-4"};

    (void)state;
    for (int r = 0; r < ROLE_COUNT; r++)
        assert_string_equal(role_text((enum role)r), names[r]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(utf8_next__rows_of_the_grammar__at_their_bounds),
        cmocka_unit_test(utf8_put__as_many_bytes_as_the_standard_says),
        cmocka_unit_test(char_width__at_the_bounds_of_blocks),
        cmocka_unit_test(glyph_ascii__latin_letters__without_their_accents),
        cmocka_unit_test(glyph_ascii__pictures),
        cmocka_unit_test(glyph_arrow__five_steps_and_no_more),
        cmocka_unit_test(grid__any_size__within_1_and_1000),
        cmocka_unit_test(wide_character__written_over__leaves_no_half),
        cmocka_unit_test(braille_dots__are_added),
        cmocka_unit_test(grid_text__as_many_columns_as_it_may),
        cmocka_unit_test(grid_text_right__ends_before_its_edge),
        cmocka_unit_test(grid_run_and_paint__the_rectangle_alone),
        cmocka_unit_test(role_text__every_role_has_its_name),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
