/* What comes from a terminal and what it is: sizes, the mouse, signals, colours, strokes of the
 * bell, and characters that the C library does not know. */
#include "desk.h"
#include "screen/keys.h"

/* ---- sizes ---- */

static void ask_sizes(struct desk *d, struct answer *a)
{
    static const int sizes[][2] = {{132, 43}, {132, 43},  {0, 43},   {132, 0},
                                   {20, 4},   {1200, 30}, {30, 1200}};
    int cols, rows;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        pty_resize(&d->p, sizes[i][0], sizes[i][1]);
        bool changed = term_resize(d->term);
        term_size(d->term, &cols, &rows);
        a->numbers[i] = (uint64_t)(cols * 10000 + rows) * 2 + changed;
    }
}

/* A terminal that says no size keeps the one it had; beyond a thousand nothing is drawn. */
static void size__as_the_terminal_says(void **state)
{
    static const struct {
        int cols, rows;
        bool changed;
    } rows[] = {{132, 43, true}, {132, 43, false}, {132, 43, false}, {132, 43, false},
                {20, 4, true},   {1000, 30, true}, {30, 1000, true}};

    (void)state;
    struct answer *a = desk_run(ask_sizes, "xterm-256color", "auto", "day");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(a->numbers[i],
                         (uint64_t)(rows[i].cols * 10000 + rows[i].rows) * 2 + rows[i].changed);
}

/* ---- the mouse ---- */

static int typed(struct desk *d, const char *bytes)
{
    pty_send(&d->p, bytes);
    struct pollfd f = {.fd = term_fd(d->term), .events = POLLIN};
    if (poll(&f, 1, PTY_DEADLINE_MS) != 1)
        return -1;
    return term_key(d->term);
}

/* Whether the last bytes that came have these among them; they are forgotten. */
static bool came(struct desk *d, const char *bytes)
{
    bool found = memmem(d->p.tail, d->p.tail_len, bytes, strlen(bytes)) != NULL;
    d->p.tail_len = 0;
    return found;
}

static void use_mouse(struct desk *d, struct answer *a)
{
    static const char *const events[] = {"\033[<0;6;4M", "\033[<64;1;1M", "\033[<65;80;24M"};
    desk_draw(d, true);
    a->numbers[0] = came(d, "1000");
    term_mouse(d->term, true);
    desk_draw(d, true);
    a->numbers[1] = came(d, "1000h");
    for (size_t i = 0; i < 3; i++) {
        int x, y, wheel, key = typed(d, events[i]);
        term_mouse_at(d->term, &x, &y, &wheel);
        a->numbers[2 + i] =
            key == KEY_CODE_MOUSE ? (uint64_t)(x * 10000 + y * 10 + wheel + 1) : 77777777;
    }
    term_mouse(d->term, false);
    desk_draw(d, true);
    a->numbers[5] = came(d, "1000l");
}

static void mouse__says_where_and_which_way(void **state)
{
    (void)state;
    struct answer *a = desk_run(use_mouse, "xterm-256color", "auto", "day");
    assert_int_equal(a->numbers[0], 0);
    assert_int_equal(a->numbers[1], 1);
    assert_int_equal(a->numbers[2], 50031);  /* column 5, line 3, no wheel */
    assert_int_equal(a->numbers[3], 0);      /* up */
    assert_int_equal(a->numbers[4], 790232); /* down */
    assert_int_equal(a->numbers[5], 1);
}

/* ---- keys that come in other forms ---- */

static const struct {
    const char *bytes;
    int code;
} forms[] = {{"\033[A", KEY_CODE_UP},
             {"\033OA", KEY_CODE_UP},
             {"\033[B", KEY_CODE_DOWN},
             {"\033OB", KEY_CODE_DOWN},
             {"\033[C", KEY_CODE_RIGHT},
             {"\033OC", KEY_CODE_RIGHT},
             {"\033[D", KEY_CODE_LEFT},
             {"\033OD", KEY_CODE_LEFT},
             {"\033[H", KEY_CODE_HOME},
             {"\033OH", KEY_CODE_HOME},
             {"\033[1~", KEY_CODE_HOME},
             {"\033[F", KEY_CODE_END},
             {"\033OF", KEY_CODE_END},
             {"\033[4~", KEY_CODE_END},
             {"\033[5~", KEY_CODE_PAGE_UP},
             {"\033[6~", KEY_CODE_PAGE_DOWN},
             {"\033[Z", KEY_CODE_BACK_TAB},
             {"\x7f", KEY_CODE_BACKSPACE},
             {"\b", KEY_CODE_BACKSPACE},
             {"\r", KEY_ENTER_CODE},
             {"\n", '\n'},
             {"\033", KEY_ESCAPE_CODE},
             {"\xC3\xA9", 0xE9},
             {"\xE6\xB0\xB4", 0x6C34}};
enum { FORMS = sizeof forms / sizeof forms[0] };

static void type_forms(struct desk *d, struct answer *a)
{
    size_t n = 0;
    desk_draw(d, true);
    for (size_t i = 0; i < FORMS; i++) {
        int key = typed(d, forms[i].bytes);
        if (key != forms[i].code)
            n += (size_t)snprintf(a->text + n, sizeof a->text - n, "form %zu came as %#x\n", i,
                                  (unsigned)key);
    }
}

static void keys__in_whatever_form_they_come(void **state)
{
    (void)state;
    struct answer *a = desk_run(type_forms, "xterm-256color", "auto", "day");
    if (a->text[0])
        fail_msg("%s", a->text);
}

/* ---- signals, bell ---- */

static void get_signals(struct desk *d, struct answer *a)
{
    static const int numbers[] = {SIGINT, SIGTERM, SIGHUP, SIGWINCH, SIGTSTP, SIGCONT, SIGUSR1};
    a->numbers[0] = (uint64_t)term_signal(d->term);
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        raise(numbers[i]);
        a->numbers[1 + i] = term_signal(d->term) == numbers[i];
    }
    a->numbers[8] = (uint64_t)term_signal(d->term);
    desk_draw(d, true);
    d->p.tail_len = 0;
    term_bell(d->term);
    pty_pump(&d->p, 0);
    for (size_t i = 0; i < d->p.tail_len; i++)
        a->numbers[9] += d->p.tail[i] == '\a';
    a->numbers[10] = term_gone(d->term);
    term_hang_up(d->term);
    a->numbers[11] = term_gone(d->term);
    a->numbers[12] = term_draw(d->term, &d->grid, &d->theme); /* to nobody */
}

static void signals__are_taken_one_by_one__and_the_bell_strikes_once(void **state)
{
    (void)state;
    struct answer *a = desk_run(get_signals, "xterm-256color", "auto", "day");
    assert_int_equal(a->numbers[0], 0);
    for (int i = 0; i < 7; i++)
        assert_int_equal(a->numbers[1 + i], 1);
    assert_int_equal(a->numbers[8], 0);
    assert_int_equal(a->numbers[9], 1);
    assert_int_equal(a->numbers[10], 0);
    assert_int_equal(a->numbers[11], 1);
    assert_int_equal(a->numbers[12], 0);
}

/* ---- colours ---- */

static void highest_color(struct desk *d, struct answer *a)
{
    desk_draw(d, true);
    for (int y = 0; y < ROWS; y++)
        for (int x = 0; x < COLS; x++) {
            VTermScreenCell c;
            vterm_screen_get_cell(d->p.screen, (VTermPos){y, x}, &c);
            if (VTERM_COLOR_IS_INDEXED(&c.fg) && c.fg.indexed.idx >= a->numbers[0])
                a->numbers[0] = c.fg.indexed.idx + 1u;
            if (VTERM_COLOR_IS_INDEXED(&c.bg) && c.bg.indexed.idx >= a->numbers[0])
                a->numbers[0] = c.bg.indexed.idx + 1u;
        }
}

/* No more than was asked for, and than there are. */
static void colors__as_asked_for_and_as_there_are(void **state)
{
    static const struct {
        const char *name, *color;
        uint64_t least, most;
    } rows[] = {{"xterm-256color", "auto", 17, 256},
                {"xterm-256color", "256", 17, 256},
                {"xterm-256color", "8", 1, 8},
                {"xterm-256color", "never", 0, 0},
                {"linux", "auto", 1, 8},
                {"linux", "256", 1, 8},
                {"vt100", "256", 0, 0},
                {"xterm-256color", NULL, 17, 256}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct answer *a = desk_run(highest_color, rows[i].name, rows[i].color, "day");
        assert_in_range(a->numbers[0], rows[i].least, rows[i].most);
    }
}

/* ---- characters ---- */

static void draw_words(struct desk *d, struct answer *a)
{
    static const uint32_t at[][3] = {{2, 'e', 0x301}, {3, 'x', 0}, {4, 0x6C34, 0},
                                     {6, '?', 0},     {7, '?', 0}, {8, 'y', 0}};
    grid_clear(&d->grid);
    grid_text(&d->grid, 2, 5, 60, "e\u0301x\u6C34\u2E9Ay", ROLE_TEXT, 0);
    term_draw(d->term, &d->grid, &d->theme);
    pty_pump(&d->p, 0);
    for (size_t i = 0; i < sizeof at / sizeof at[0]; i++) {
        VTermScreenCell c;
        vterm_screen_get_cell(d->p.screen, (VTermPos){5, (int)at[i][0]}, &c);
        a->numbers[i] = c.chars[0] == at[i][1] && c.chars[1] == at[i][2];
    }
}

/* Accents stay on their letters, a wide character has its two columns, and one that the C library
 * does not know (none is assigned there) leaves what comes after it in its place. */
static void characters__each_in_its_column(void **state)
{
    (void)state;
    struct answer *a = desk_run(draw_words, "xterm-256color", "auto", "day");
    for (int i = 0; i < 6; i++)
        assert_int_equal(a->numbers[i], 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(size__as_the_terminal_says),
        cmocka_unit_test(mouse__says_where_and_which_way),
        cmocka_unit_test(keys__in_whatever_form_they_come),
        cmocka_unit_test(signals__are_taken_one_by_one__and_the_bell_strikes_once),
        cmocka_unit_test(colors__as_asked_for_and_as_there_are),
        cmocka_unit_test(characters__each_in_its_column),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
