/* Walks of a user through the program at a terminal, key by key; what every step changes in the
 * picture is kept as a golden text. The log stands still, so that no picture hangs on the clock. */
#include "pty.h"

#include "support/golden.h"

#define PICTURE    (64 * 1024)
#define ROWS       40
#define ROW        800
#define WALK       (1024 * 1024)
#define SETTLED_MS 400 /* only where the golden texts are written */

struct step {
    const char *name, *keys;
};

static char trip[PROGRAM_PATH]; /* a trip of eight minutes; raw water lost at its fourth */

static int make_trip(void **state)
{
    (void)state;
    return program_drill(trip, "trip.log", "--fault impeller --at +04:00 --minutes 8 --seed 3");
}

/* A row in UTF-8. Nothing is said of bold and reverse, into which an alert flashes. What the bus
 * view says of this run of the program is cut off. */
static void row_of(struct pty *p, int y, char *text, size_t cap)
{
    static const char *const own[] = {"memory  ", "pictures  ", "skipped  ", "bytes drawn  ",
                                      "up       "};
    size_t n = 0;
    for (int x = 0; x < p->cols && n + 4 < cap; x++) {
        VTermScreenCell c;
        vterm_screen_get_cell(p->screen, (VTermPos){y, x}, &c);
        uint32_t ch = c.chars[0] ? c.chars[0] : ' ';
        if (ch < 0x80) {
            text[n++] = (char)ch;
        } else if (ch < 0x800) {
            text[n++] = (char)(0xC0 | ch >> 6);
            text[n++] = (char)(0x80 | (ch & 0x3F));
        } else {
            text[n++] = (char)(0xE0 | ch >> 12);
            text[n++] = (char)(0x80 | (ch >> 6 & 0x3F));
            text[n++] = (char)(0x80 | (ch & 0x3F));
        }
    }
    text[n] = '\0';
    for (size_t i = 0; i < sizeof own / sizeof own[0]; i++) {
        char *at = strstr(text, own[i]);
        if (at)
            at[strlen(own[i])] = '\0';
    }
}

/* What has changed since the picture before, row by row. */
static void changes_of(struct pty *p, char before[ROWS][ROW], char *text)
{
    size_t n = 0;
    text[0] = '\0';
    for (int y = 0; y < p->rows; y++) {
        char row[ROW];
        row_of(p, y, row, sizeof row);
        if (strcmp(row, before[y]) != 0)
            n += (size_t)snprintf(text + n, PICTURE - n, "%2d|%s|\n", y, row);
        assert_true(n < PICTURE);
    }
}

/* Waits until the picture is the one that is wanted, or, where none is, until it stands still. */
static void wait_for(struct pty *p, char before[ROWS][ROW], const char *wanted, char *got)
{
    int64_t end = pty_now_ms() + (wanted ? 20000 : SETTLED_MS);
    for (;;) {
        uint64_t bytes = p->bytes;
        changes_of(p, before, got);
        if ((wanted && strcmp(got, wanted) == 0) || pty_now_ms() > end || !pty_pump(p, 5))
            return;
        if (!wanted && p->bytes != bytes)
            end = pty_now_ms() + SETTLED_MS;
    }
}

/* What a golden file has below the heading; NULL where it has none. The caller frees it. */
static char *section(const char *golden, const char *heading)
{
    const char *at = golden ? strstr(golden, heading) : NULL;
    if (!at)
        return NULL;
    at += strlen(heading);
    const char *end = strstr(at, "\n=== ");
    size_t len = end ? (size_t)(end - at) : strlen(at);
    char *text = malloc(len + 1);
    assert_non_null(text);
    memcpy(text, at, len);
    text[len] = '\0';
    return text;
}

static char *read_golden(const char *name)
{
    char path[200];
    const char *mode = getenv("GOLDEN");
    snprintf(path, sizeof path, "tests/screen/golden/%s.txt", name);
    FILE *f = mode && strcmp(mode, "write") == 0 ? NULL : fopen(path, "r");
    char *text = f ? malloc(WALK) : NULL;
    if (text)
        text[fread(text, 1, WALK - 1, f)] = '\0';
    if (f)
        fclose(f);
    return text;
}

static void walk(const char *name, int cols, int rows, const char *options, const struct step *step)
{
    struct pty p;
    static char before[ROWS][ROW];
    char command[800], heading[120], *all = calloc(1, WALK), *got = malloc(PICTURE);
    char *golden = read_golden(name);
    memset(before, 0, sizeof before);
    assert_non_null(all);
    assert_non_null(got);
    snprintf(command, sizeof command, "\"$PROGRAM\" watch --forget --fps 10 %s '%s'", options,
             trip);
    /* One that inserts no characters: where they are, the emulator leaves remnants in the last row
     * that other terminals do not. */
    pty_start(&p, cols, rows, "TERM=xterm-color LC_ALL=C.UTF-8", command);
    pty_expect(&p, "STARBOARD");
    for (; step->name; step++) {
        snprintf(heading, sizeof heading, "\n=== %s\n", step->name);
        char *wanted = section(golden, heading);
        pty_send(&p, step->keys);
        wait_for(&p, before, wanted, got);
        for (int y = 0; y < rows; y++)
            row_of(&p, y, before[y], ROW);
        bool same = wanted && strcmp(wanted, got) == 0;
        free(wanted);
        assert_true(strlen(all) + strlen(heading) + strlen(got) < WALK);
        strcat(all, heading);
        strcat(all, got);
        if (golden && !same)
            break; /* golden_check says which line */
    }
    golden_check("screen", name, all);
    pty_stop(&p);
    free(golden);
    free(got);
    free(all);
}

#define UP    "\033[A"
#define DOWN  "\033[B"
#define RIGHT "\033[C"
#define LEFT  "\033[D"

/* Space, and a time: from there nothing moves by itself. */
static void walk__every_view__pictures(void **state)
{
    (void)state;
    static const struct step steps[] = {
        {"held before the alarm", " g+03:30\r"},
        {"trend", "t"},
        {"trend, longer", "]"},
        {"trend, longer still", "]"},
        {"trend, shorter", "[[["},
        {"trend, zoomed", "z"},
        {"trend, another curve", "+" DOWN "\r"},
        {"trend, the cursor moved", LEFT LEFT},
        {"trend, charts", "v"},
        {"trend, its other side", "\t"},
        {"helm", "\033h"},
        {"alerts", "l"},
        {"movers", "m"},
        {"movers, lower", DOWN DOWN},
        {"bus", "b"},
        {"bus, lower", DOWN},
        {"bus, last", "\033[F"},
        {"board", "o"},
        {"board, a row lower", DOWN},
        {"board, right", RIGHT},
        {"board, a page down", "\033[6~"},
        {"board, first", "\033[H"},
        {"board, chosen", "\r"},
        {"board, back", "\033"},
        {"find", "/cool\r"},
        {"help", "?"},
        {"help, lower", "\033[6~"},
        {"back", "\033"},
        {NULL, NULL},
    };
    walk("walk-views", 100, 30, "--from +03:20", steps);
}

static void walk__an_alarm__is_met_and_answered(void **state)
{
    (void)state;
    static const struct step steps[] = {
        {"held before it", " g+03:30\r"},
        {"next alert", "n"},
        {"next alert again", "n"},
        {"no more", "n"},
        {"forward", ">"},
        {"a step", "."},
        {"two steps more", ".."},
        {"list", "l"},
        {"acknowledged", "a"},
        {"silenced", "s"},
        {"chosen", "\r"},
        {"closed", "\033"},
        {"board", "o"},
        {"helm", "h"},
        {"movers", "m"},
        {"trend", "t"},
        {"quit asks", "q"},
        {"no", "n"},
        {"back", "<"},
        {"previous alert", "p"},
        {"none before", "pp"},
        {"to a clock time", "g14:05:30\r"},
        {"to no time", "g99:99\r"},
        {"before the log", "\033g14:00\r"},
        {"after the log", "g+20:00\r"},
        {NULL, NULL},
    };
    walk("walk-alarm", 90, 26, "--from +03:20", steps);
}

static void walk__units_themes_glyphs_sounds__said(void **state)
{
    (void)state;
    static const struct step steps[] = {
        {"held", " g+04:30\r"},
        {"bar", "u"},
        {"US", "u"},
        {"US, movers", "m"},
        {"imperial", "ou"},
        {"metric", "u"},
        {"theme", "c"},
        {"another theme", "c"},
        {"a third", "c"},
        {"a fourth", "c"},
        {"a fifth", "c"},
        {"the first again", "c"},
        {"blocks", "ti"},
        {"ASCII", "i"},
        {"braille", "i"},
        {"sound off", "e"},
        {"sound test while off", "E"},
        {"sound on", "e"},
        {"sound test while it sounds", "E"},
        {"mouse", "y"},
        {"a click", "o\033[<0;5;8M\033[<0;5;8m"},
        {"the wheel", "\033[<65;5;8M"},
        {"the wheel up", "\033[<64;5;8M"},
        {"no mouse", "y"},
        {"faster", "f"},
        {"faster still", "ff"},
        {"slower", "d"},
        {"fastest", "F"},
        {"slower from there", "d"},
        {NULL, NULL},
    };
    walk("walk-looks", 80, 24, "--from +04:00", steps);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(walk__every_view__pictures),
        cmocka_unit_test(walk__an_alarm__is_met_and_answered),
        cmocka_unit_test(walk__units_themes_glyphs_sounds__said),
    };
    return cmocka_run_group_tests(tests, make_trip, NULL);
}
