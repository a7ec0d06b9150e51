/* seen FILE COLS ROWS: what a terminal has shown of the bytes in FILE, as a user would see it: each
 * line as it stood whenever the cursor left it, and at the end the whole screen. A program that
 * draws only what has changed never writes a sentence whole, so that searching its bytes finds too
 * little. */
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <vterm.h>

struct seen {
    VTermScreen *screen;
    int cols, rows;
    int row;    /* the cursor's */
    bool dirty; /* something was drawn there since it came */
};

static void print_row(const struct seen *s, int row)
{
    char text[4096];
    size_t n = vterm_screen_get_text(
        s->screen, text, sizeof text,
        (VTermRect){.start_row = row, .end_row = row + 1, .end_col = s->cols});
    printf("%.*s\n", (int)n, text);
}

static int damaged(VTermRect rect, void *user)
{
    struct seen *s = user;
    if (rect.start_row <= s->row && s->row < rect.end_row)
        s->dirty = true;
    return 1;
}

static int moved(VTermPos to, VTermPos from, int visible, void *user)
{
    (void)from;
    (void)visible;
    struct seen *s = user;
    if (to.row == s->row)
        return 1;
    if (s->dirty)
        print_row(s, s->row);
    s->row = to.row;
    s->dirty = false;
    return 1;
}

int main(int argc, char **argv)
{
    static const VTermScreenCallbacks callbacks = {.damage = damaged, .movecursor = moved};
    char bytes[4096];
    FILE *f = argc == 4 ? fopen(argv[1], "r") : NULL;
    if (!f) {
        fprintf(stderr, "seen: cannot read '%s'\n", argc > 1 ? argv[1] : "");
        return 2;
    }
    struct seen s = {.cols = atoi(argv[2]), .rows = atoi(argv[3])};
    VTerm *vt = vterm_new(s.rows, s.cols);
    vterm_set_utf8(vt, 1);
    s.screen = vterm_obtain_screen(vt);
    vterm_screen_enable_altscreen(s.screen, 1);
    vterm_screen_set_callbacks(s.screen, &callbacks, &s);
    vterm_screen_set_damage_merge(s.screen, VTERM_DAMAGE_CELL);
    vterm_screen_reset(s.screen, 1);
    for (size_t n; (n = fread(bytes, 1, sizeof bytes, f)) > 0;)
        vterm_input_write(vt, bytes, n);
    for (int row = 0; row < s.rows; row++)
        print_row(&s, row);
    fclose(f);
    vterm_free(vt);
    return 0;
}
