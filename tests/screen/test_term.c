/* The terminal alone, without a program around it: how many bytes a picture costs, what a terminal
 * that takes none does to it, what its keys become, and which looks reach the glass. No clock is
 * read: pictures are counted. */
#include "desk.h"
#include "screen/keys.h"
#include "support/golden.h"

/* ---- bytes ---- */

/* Every value one step on, as they are between two pictures; with the newest cell of each trend
 * or without. */
static void move_values(struct desk *d, int step, bool trends)
{
    struct model *m = d->scene.m;
    for (size_t i = 0; i < m->channel_count; i++) {
        struct model_channel *c = &m->channels[i];
        c->value *= step % 2 ? 1.03 : 1 / 1.03;
        if (trends)
            history_add((struct history *)(uintptr_t)c->history, m->now.mono_ns, c->value);
    }
    model_settle(m, false);
}

static void count_bytes(struct desk *d, struct answer *a)
{
    enum { PICTURES = 240 }; /* two minutes at two a second */
    a->numbers[0] = desk_draw(d, true);
    for (int i = 0; i < 50; i++)
        a->numbers[1] += desk_draw(d, true); /* nothing has changed */
    d->scene.m->channels[0].value += 1;
    model_settle(d->scene.m, false);
    a->numbers[2] = desk_draw(d, true);
    for (int i = 0; i < PICTURES; i++) {
        move_values(d, i, false);
        uint64_t n = desk_draw(d, true);
        a->numbers[3] += n;
        a->numbers[4] = n > a->numbers[4] ? n : a->numbers[4];
    }
    for (int i = 0; i < PICTURES; i++) {
        d->scene.m->now.mono_ns += NS_PER_S / 2;
        d->scene.m->now.wall_ns += NS_PER_S / 2;
        d->scene.ui.flash = i % 2 == 0; /* and an alarm that flashes */
        move_values(d, i, true);
        a->numbers[5] += desk_draw(d, true);
    }
    a->numbers[3] /= PICTURES / 2;
    a->numbers[5] /= PICTURES / 2;
}

/* Budgets: nothing for nothing, under 1 kB/s for values alone and under 2 kB/s with the trends, at
 * two pictures a second and 80x24 (what ncurses can do with such a picture was measured: 0.30 kB a
 * picture for values, 5.1 kB for the first). */
static void bytes__at_rest_and_per_change__stay_in_budget(void **state)
{
    (void)state;
    static const char *const names[] = {"xterm-256color", "linux", "screen", "vt100"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        struct answer *a = desk_run(count_bytes, names[i], "auto", "day");
        print_message("%-14s first %d, one value %d, all values at most %d, a second: values %d, "
                      "with trends %d bytes\n",
                      names[i], (int)a->numbers[0], (int)a->numbers[2], (int)a->numbers[4],
                      (int)a->numbers[3], (int)a->numbers[5]);
        assert_in_range(a->numbers[0], 1500, 6500);
        assert_int_equal(a->numbers[1], 0);
        assert_in_range(a->numbers[2], 1, 60);
        assert_in_range(a->numbers[3], 100, 1000);
        assert_in_range(a->numbers[5], a->numbers[3] / 2, 2000);
    }
}

/* ---- a terminal that takes nothing ---- */

/* Ten seconds at ten pictures a second, a stroke of the bell with each, and nobody reads. */
static void draw_unread(struct desk *d, struct answer *a)
{
    desk_size(d, 200, 60);
    d->scene.ui.view = VIEW_ALERTS;
    for (int i = 0; i < 100; i++) {
        desk_draw(d, false);
        term_redraw(d->term); /* each a whole picture: the line is full at once */
        if (term_pending(d->term))
            term_bell(d->term);
    }
    struct term_stats s = term_stats(d->term);
    a->numbers[0] = s.frames;
    a->numbers[1] = s.skipped;
    /* The far end reads again: what was under way, and one picture of how things are now. */
    d->p.bytes = 0;
    d->scene.m->channels[1].shown = 99;
    while (pty_pump(&d->p, 0), term_pending(d->term))
        term_flush(d->term);
    pty_pump(&d->p, 0);
    a->numbers[2] = d->p.bytes;
    for (size_t i = 0; i < d->p.tail_len; i++)
        a->numbers[3] += d->p.tail[i] == '\a';
    d->scene.ui.view = VIEW_BOARD;
    a->numbers[4] = desk_draw(d, true);
    a->numbers[5] = pty_shows(&d->p, " 99 ");
    a->numbers[6] = term_stats(d->term).frames;
    /* What stands there is what a terminal that never stalled shows. */
    char text[4096];
    for (int y = 0; y < 60; y++) {
        bool same = true;
        grid_row_text(&d->grid, y, text, sizeof text);
        const char *at = text;
        for (int x = 0; x < 200; x++) {
            VTermScreenCell c;
            uint32_t ch = *at ? utf8_next(&at) : ' ';
            vterm_screen_get_cell(d->p.screen, (VTermPos){y, x}, &c);
            same &= (c.chars[0] ? c.chars[0] : ' ') == ch;
        }
        a->numbers[7] += same;
    }
}

static void stalled__for_a_hundred_pictures__keeps_few_and_no_bell(void **state)
{
    (void)state;
    struct answer *a = desk_run(draw_unread, "xterm-256color", "auto", "day");
    assert_in_range(a->numbers[0], 1, 8); /* as many as the line itself holds */
    assert_int_equal(a->numbers[0] + a->numbers[1], 100);
    assert_in_range(a->numbers[2], 4096, 60000);
    assert_int_equal(a->numbers[3], 0);
    assert_true(a->numbers[4] > 0);
    assert_true(a->numbers[5]);
    assert_int_equal(a->numbers[6], a->numbers[0] + 1);
    assert_int_equal(a->numbers[7], 60);
}

/* ---- keys ---- */

static const struct {
    VTermKey emulated;
    int code;
} special_keys[] = {{VTERM_KEY_UP, KEY_CODE_UP},
                    {VTERM_KEY_DOWN, KEY_CODE_DOWN},
                    {VTERM_KEY_LEFT, KEY_CODE_LEFT},
                    {VTERM_KEY_RIGHT, KEY_CODE_RIGHT},
                    {VTERM_KEY_PAGEUP, KEY_CODE_PAGE_UP},
                    {VTERM_KEY_PAGEDOWN, KEY_CODE_PAGE_DOWN},
                    {VTERM_KEY_HOME, KEY_CODE_HOME},
                    {VTERM_KEY_END, KEY_CODE_END},
                    {VTERM_KEY_ENTER, KEY_ENTER_CODE},
                    {VTERM_KEY_TAB, KEY_TAB_CODE},
                    {VTERM_KEY_BACKSPACE, KEY_CODE_BACKSPACE},
                    {VTERM_KEY_ESCAPE, KEY_ESCAPE_CODE}};
enum { SPECIAL_KEYS = sizeof special_keys / sizeof special_keys[0] };

static int press(struct desk *d, VTermKey special, int plain)
{
    char bytes[32];
    if (special)
        vterm_keyboard_key(d->p.vt, special, VTERM_MOD_NONE);
    else
        vterm_keyboard_unichar(d->p.vt, (uint32_t)plain, VTERM_MOD_NONE);
    size_t n = vterm_output_read(d->p.vt, bytes, sizeof bytes - 1);
    bytes[n] = '\0';
    pty_send(&d->p, bytes);
    struct pollfd f = {.fd = term_fd(d->term), .events = POLLIN};
    if (poll(&f, 1, PTY_DEADLINE_MS) != 1)
        return -1;
    int key = term_key(d->term);
    return term_key(d->term) == KEY_CODE_NONE ? key : -2;
}

static void press_all(struct desk *d, struct answer *a)
{
    size_t n = 0;
    desk_draw(d, true);
    char bytes[64];
    (void)!vterm_output_read(d->p.vt, bytes, sizeof bytes); /* answers of the emulator */
    for (size_t i = 0; i < SPECIAL_KEYS; i++) {
        int got = press(d, special_keys[i].emulated, 0);
        if (got != special_keys[i].code)
            n += (size_t)snprintf(a->text + n, sizeof a->text - n, "key %#x came as %#x\n",
                                  (unsigned)special_keys[i].code, (unsigned)got);
    }
    for (size_t i = 0; i < key_table_count; i++)
        for (int also = 0; also < 2; also++) {
            int key = also ? key_table[i].also : key_table[i].key;
            if (key < ' ' || key >= KEY_CODE_NONE)
                continue;
            int got = press(d, VTERM_KEY_NONE, key);
            if (got != key)
                n += (size_t)snprintf(a->text + n, sizeof a->text - n, "'%c' came as %#x\n", key,
                                      (unsigned)got);
        }
}

static void keys__all_of_the_table__arrive(void **state)
{
    (void)state;
    static const char *const names[] = {"xterm-256color", "screen", "vt220"};
    for (size_t i = 0; i < key_table_count; i++) { /* each special one can be pressed */
        bool known = key_table[i].key < KEY_CODE_NONE;
        for (size_t k = 0; k < SPECIAL_KEYS; k++)
            known |= special_keys[k].code == key_table[i].key;
        assert_true(known);
    }
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        struct answer *a = desk_run(press_all, names[i], "auto", "day");
        if (a->text[0])
            fail_msg("%s: %s", names[i], a->text);
    }
}

/* ---- looks ---- */

static int color_number(const VTermState *vt, const VTermColor *c, bool background)
{
    VTermColor fg, bg, rgb = *c;
    vterm_state_get_default_colors(vt, &fg, &bg);
    const VTermColor *own = background ? &bg : &fg;
    if (VTERM_COLOR_IS_INDEXED(c))
        return c->indexed.idx;
    vterm_state_convert_color_to_rgb(vt, &rgb);
    return rgb.rgb.red == own->rgb.red && rgb.rgb.green == own->rgb.green &&
                   rgb.rgb.blue == own->rgb.blue
               ? -1
               : 999;
}

/* Rows of letters, a letter for each look, then what each letter is. */
static void look_at(struct desk *d, struct answer *a)
{
    char looks[60][48];
    int count = 0;
    size_t n = 0;
    const VTermState *vt = vterm_obtain_state(d->p.vt);
    desk_draw(d, true);
    for (int y = 0; y < ROWS; y++) {
        for (int x = 0; x < COLS; x++) {
            VTermScreenCell c;
            char look[48];
            vterm_screen_get_cell(d->p.screen, (VTermPos){y, x}, &c);
            snprintf(look, sizeof look, "%d on %d%s%s%s", color_number(vt, &c.fg, false),
                     color_number(vt, &c.bg, true), c.attrs.bold ? " bold" : "",
                     c.attrs.underline ? " underline" : "", c.attrs.reverse ? " reverse" : "");
            int i = 0;
            while (i < count && strcmp(looks[i], look) != 0)
                i++;
            if (i == count && count < 52)
                memcpy(looks[count++], look, sizeof look);
            a->text[n++] = i == 0 ? '.' : (char)(i <= 26 ? 'a' + i - 1 : 'A' + i - 27);
        }
        a->text[n++] = '\n';
    }
    for (int i = 0; i < count; i++)
        n += (size_t)snprintf(a->text + n, sizeof a->text - n, "%c  %s\n",
                              i == 0    ? '.'
                              : i <= 26 ? 'a' + i - 1
                                        : 'A' + i - 27,
                              looks[i]);
}

/* What a terminal makes of the bytes, for every theme at 256 colours, at 8 and at none: the
 * emulator's own account (it knows no dim). */
static void looks__of_every_theme__on_the_glass(void **state)
{
    (void)state;
    static const struct {
        const char *title, *name, *color;
    } levels[] = {{"256 colours", "xterm-256color", "256"},
                  {"8 colours", "linux", "auto"},
                  {"none", "xterm-256color", "never"}};
    for (size_t t = 0; t < theme_builtin_count(); t++) {
        static char all[1 << 16];
        char name[60];
        size_t n = 0;
        for (size_t l = 0; l < 3; l++) {
            struct answer *a =
                desk_run(look_at, levels[l].name, levels[l].color, theme_builtin_name(t));
            n += (size_t)snprintf(all + n, sizeof all - n, "---- %s\n%s", levels[l].title, a->text);
        }
        snprintf(name, sizeof name, "looks-%s-80x24", theme_builtin_name(t));
        golden_check("screen", name, all);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bytes__at_rest_and_per_change__stay_in_budget),
        cmocka_unit_test(stalled__for_a_hundred_pictures__keeps_few_and_no_bell),
        cmocka_unit_test(keys__all_of_the_table__arrive),
        cmocka_unit_test(looks__of_every_theme__on_the_glass),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
