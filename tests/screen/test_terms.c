/* Kinds of terminal: each description with each locale, with colours forbidden or not, shows the
 * same alarm; and the way out of every state that a screen can be in. */
#include "pty.h"

static char trip[PROGRAM_PATH]; /* eight minutes; raw water lost at the fourth */

static int make_trip(void **state)
{
    (void)state;
    return program_drill(trip, "trip.log", "--fault impeller --at +04:00 --minutes 8 --seed 3");
}

static void start(struct pty *p, const char *variables, const char *options)
{
    char command[600];
    snprintf(command, sizeof command, "\"$PROGRAM\" watch --forget --fps 10 %s '%s'", options,
             trip);
    pty_start(p, 80, 24, variables, command);
}

/* The highest number of a colour that is on the screen, -1 where all is the terminal's own. */
static int highest_color(struct pty *p)
{
    int highest = -1;
    for (int y = 0; y < p->rows; y++)
        for (int x = 0; x < p->cols; x++) {
            VTermScreenCell c;
            vterm_screen_get_cell(p->screen, (VTermPos){y, x}, &c);
            const VTermColor *both[] = {&c.fg, &c.bg};
            for (int i = 0; i < 2; i++)
                if (VTERM_COLOR_IS_INDEXED(both[i]) && both[i]->indexed.idx > highest)
                    highest = both[i]->indexed.idx;
        }
    return highest;
}

/* Colours as terminfo says (ncurses 6.4: linux, xterm and screen have 8, vt100
 * none); bold may lift one of 8 into the second eight. */
static void watch__every_kind_of_terminal__shows_the_alarm(void **state)
{
    (void)state;
    static const struct {
        const char *term;
        int colors;
        bool blocks; /* its fonts have them, given a UTF-8 locale */
    } kinds[] = {{"xterm-256color", 256, true}, {"linux", 8, false},
                 {"screen", 8, true},           {"vt100", 0, true},
                 {"nosuch", 0, true},           {"xterm-nosuch", 8, true}};
    static const char *const locales[] = {"C.UTF-8", "C"};
    for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++)
        for (int l = 0; l < 2; l++)
            for (int quiet = 0; quiet < 2; quiet++) {
                struct pty p;
                char variables[200];
                /* ncurses 6.4 keeps what newterm took before it found no description. */
                snprintf(variables, sizeof variables,
                         "TERM=%s LC_ALL=%s%s ASAN_OPTIONS=detect_leaks=0", kinds[k].term,
                         locales[l], quiet ? " NO_COLOR=1" : "");
                start(&p, variables, "--speed max");
                pty_expect(&p, "ENDED");
                pty_expect(&p, "STARBOARD EXHAUST");
                pty_expect(&p, "A1");
                int highest = highest_color(&p), colors = quiet ? 0 : kinds[k].colors;
                bool as_many = colors == 0   ? highest < 0
                               : colors == 8 ? highest > 0 && highest < 16
                                             : highest >= 16;
                if (!as_many)
                    fail_msg("%s: colour %d", variables, highest);
                if ((p.high_bytes > 0) != (l == 0 && kinds[k].blocks))
                    fail_msg("%s: %d bytes beyond ASCII", variables, (int)p.high_bytes);
                assert_int_equal(pty_row(&p, 1)[0], 'A');
                assert_true(pty_is_marked(&p, 0, 1));
                pty_send(&p, "qy");
                assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
                pty_check_restored(&p);
                pty_stop(&p);
            }
}

/* Lines, and not one escape, whatever the locale. */
static void watch__dumb_terminal__prints_lines(void **state)
{
    (void)state;
    static const char *const locales[] = {"C.UTF-8", "C"};
    for (int l = 0; l < 2; l++) {
        struct pty p;
        char variables[120];
        snprintf(variables, sizeof variables, "TERM=dumb LC_ALL=%s ASAN_OPTIONS=detect_leaks=0",
                 locales[l]);
        start(&p, variables, "--speed max");
        pty_expect(&p, "STARBOARD EXHAUST");
        pty_expect(&p, "frames over");
        assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
        assert_int_equal(p.escapes, 0);
        pty_stop(&p);
    }
}

/* Text for people and scripts has no escapes on a terminal either. */
static void batch_output__on_a_terminal__has_no_escape(void **state)
{
    (void)state;
    static const char *const verbs[] = {"watch --once", "sift",  "sift --json", "export",
                                        "muster",       "trial", "--help"};
    for (size_t i = 0; i < sizeof verbs / sizeof verbs[0]; i++) {
        struct pty p;
        char command[400];
        snprintf(command, sizeof command, "\"$PROGRAM\" %s '%s'", verbs[i],
                 strcmp(verbs[i], "--help") == 0 ? "" : trip);
        pty_start(&p, 80, 24, "TERM=xterm-256color LC_ALL=C.UTF-8 COLORTERM=truecolor", command);
        int status = pty_wait(&p, PTY_DEADLINE_MS);
        assert_in_range(status, 0, 1);
        assert_true(p.bytes > 100);
        assert_int_equal(p.escapes, 0);
        pty_stop(&p);
    }
}

/* A crash in each state: every view, everything that lies over one, paused, moving, stalled. */
static void watch__crash_in_every_state__restores(void **state)
{
    (void)state;
    static const struct {
        const char *keys, *shows;
    } states[] = {{"o", "STARBOARD"},
                  {"h", "exhaust"},
                  {"t", "min"},
                  {"l", "raised"},
                  {"m", "what moves"},
                  {"b", "pictures"},
                  {"?", "curves of the chosen channel"},
                  {"g", "go to"},
                  {"/", "find"},
                  {" ", "PAUSED"},
                  {"y", "the mouse"},
                  {"F", "ENDED"},
                  {"c", "theme"},
                  {"g+02:00\r", "14:02"}};
    for (size_t i = 0; i < sizeof states / sizeof states[0]; i++) {
        struct pty p;
        start(&p, "TERM=xterm-256color LC_ALL=C.UTF-8", "--speed 16");
        pty_expect(&p, "STARBOARD");
        pty_send(&p, states[i].keys);
        pty_expect(&p, states[i].shows);
        kill(p.pid, SIGSEGV);
        assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 128 + SIGSEGV);
        pty_check_restored(&p);
        pty_stop(&p);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(watch__every_kind_of_terminal__shows_the_alarm),
        cmocka_unit_test(watch__dumb_terminal__prints_lines),
        cmocka_unit_test(batch_output__on_a_terminal__has_no_escape),
        cmocka_unit_test(watch__crash_in_every_state__restores),
    };
    return cmocka_run_group_tests(tests, make_trip, NULL);
}
