/* What must hold on a real terminal: the picture, and above all the way out of it. */
#include "pty.h"
#include "screen/keys.h"

#define UTF8 "TERM=xterm-256color LC_ALL=C.UTF-8"

static char trip[PROGRAM_PATH]; /* a trip of eight minutes; raw water lost at its fourth */
static char hour[PROGRAM_PATH]; /* one of an hour */

static int make_trip(void **state)
{
    (void)state;
    return program_drill(trip, "trip.log", "--fault impeller --at +04:00 --minutes 8 --seed 3") ||
           program_drill(hour, "hour.log", "--fault fouled --at +20:00 --minutes 60 --seed 5");
}

static void start(struct pty *p, const char *variables, const char *options)
{
    char command[800];
    snprintf(command, sizeof command, "\"$PROGRAM\" watch --forget %s '%s'", options, trip);
    pty_start(p, 80, 24, variables, command);
}

static void watch__a_fatal_signal__restores_and_stays_that_signal(void **state)
{
    (void)state;
    static const int signals[] = {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGQUIT};
    static const char *const views[] = {"", "t", "y", "?", "g", "l"};
    for (size_t i = 0; i < sizeof signals / sizeof signals[0]; i++) {
        struct pty p;
        start(&p, UTF8, "--speed 16");
        pty_expect(&p, "STARBOARD");
        pty_send(&p, views[i]); /* one of them with the mouse on */
        if (views[i][0] == 'y')
            pty_expect(&p, "mouse");
        kill(p.pid, signals[i]);
        assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 128 + signals[i]);
        pty_check_restored(&p);
        pty_stop(&p);
    }
}

/* Pseudo-random and fixed. */
static uint32_t dice(uint32_t *seed, uint32_t sides)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (*seed >> 8) % sides;
}

/* An hour of log as fast as it goes, random keys (moves in the log among them), random sizes. */
static void watch__resize_storm_with_random_keys__lives(void **state)
{
    (void)state;
    struct pty p;
    char command[600];
    uint32_t seed = 7;
    snprintf(command, sizeof command, "\"$PROGRAM\" watch --forget --speed max '%s'", hour);
    pty_start(&p, 80, 24, UTF8, command);
    pty_expect(&p, "exhaust");
    for (int i = 0; i < 400; i++) {
        char key[2] = {0};
        pty_resize(&p, 1 + (int)dice(&seed, 250), 1 + (int)dice(&seed, 80));
        do
            key[0] = (char)(' ' + dice(&seed, 95));
        while (key[0] == 'q' || key[0] == 'y' || key[0] == 'Y');
        pty_send(&p, dice(&seed, 5) ? key : "\033");
        assert_true(pty_pump(&p, 2));
        assert_int_equal(waitpid(p.pid, &p.status, WNOHANG), 0);
    }
    pty_resize(&p, 80, 24);
    for (int i = 0; i < 5; i++)
        pty_send(&p, "\033"), pty_pump(&p, 60);
    pty_send(&p, "\014");
    pty_expect(&p, "hour.log");
    pty_expect(&p, "? help");
    kill(p.pid, SIGTERM);
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 128 + SIGTERM);
    pty_check_restored(&p);
    pty_stop(&p);
}

static void watch__every_key_in_every_view__lives(void **state)
{
    (void)state;
    struct pty p;
    static const char views[] = "ohtlmb";
    start(&p, UTF8, "--speed 64");
    pty_expect(&p, "exhaust");
    for (const char *v = views; *v; v++)
        for (size_t i = 0; i < key_table_count; i++) {
            static const char *const sent[] = {"\033[A",  "\033[B",  "\033[D", "\033[C",
                                               "\033[5~", "\033[6~", "\033[H", "\033[F"};
            char keys[12] = {*v};
            int key = key_table[i].key;
            if (key_table[i].action == ACTION_QUIT)
                continue;
            if (key < 0x80)
                keys[1] = (char)key;
            else
                snprintf(keys + 1, sizeof keys - 1, "%s", sent[key - KEY_CODE_UP]);
            pty_send(&p, keys);
            pty_send(&p, "\033");
            assert_true(pty_pump(&p, 30)); /* longer than an escape sequence may take */
        }
    pty_send(&p, "\033\033\033o");
    pty_expect(&p, "? help");
    kill(p.pid, SIGTERM);
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 128 + SIGTERM);
    pty_check_restored(&p);
    pty_stop(&p);
}

static void watch__no_utf8_locale__sends_pure_ascii(void **state)
{
    (void)state;
    static const char *const variables[] = {
        "TERM=xterm-256color LC_ALL=C", "TERM=xterm-256color", "TERM=xterm-256color LANG=xx_YY",
        "TERM=linux LC_ALL=C.UTF-8", /* no font of the plain console has the blocks */
    };
    for (size_t i = 0; i < 4; i++) {
        struct pty p;
        start(&p, variables[i], "--from +04:10 --speed 64");
        pty_expect(&p, "exhaust");
        pty_expect(&p, "EXHAUST");
        pty_send(&p, "t");
        pty_expect(&p, "10 min");
        assert_int_equal(p.high_bytes, 0);
        kill(p.pid, SIGTERM);
        pty_wait(&p, PTY_DEADLINE_MS);
        assert_int_equal(p.high_bytes, 0);
        pty_stop(&p);
    }
    /* Named over ssh but not there: any UTF-8 locale will do. */
    struct pty p;
    start(&p, "TERM=xterm-256color LC_ALL=xx_YY.UTF-8", "--speed 64");
    pty_expect(&p, "<2502>");
    assert_true(p.high_bytes > 0);
    pty_stop(&p);
}

static void watch__unknown_terms__fall_back_with_a_word(void **state)
{
    (void)state;
    static const char *const fall_back[] = {"TERM=nosuch LC_ALL=C.UTF-8",
                                            "TERM=xterm-nosuch COLORTERM=truecolor LC_ALL=C.UTF-8",
                                            "LC_ALL=C.UTF-8"};
    for (size_t i = 0; i < 3; i++) {
        struct pty p;
        char variables[200];
        /* ncurses 6.4 keeps what newterm took before it found no description: not ours to free. */
        snprintf(variables, sizeof variables, "%s ASAN_OPTIONS=detect_leaks=0", fall_back[i]);
        start(&p, variables, "");
        pty_expect(&p, "is unknown here");
        pty_send(&p, "?\033");
        pty_expect(&p, "exhaust");
        pty_send(&p, "q");
        assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
        pty_stop(&p);
    }
}

static bool same_color(const VTermState *state, const VTermColor *a, const VTermColor *b)
{
    VTermColor p = *a, q = *b;
    vterm_state_convert_color_to_rgb(state, &p);
    vterm_state_convert_color_to_rgb(state, &q);
    return p.rgb.red == q.rgb.red && p.rgb.green == q.rgb.green && p.rgb.blue == q.rgb.blue;
}

/* Cells whose colours are not the terminal's own. */
static int coloured(struct pty *p)
{
    int n = 0;
    VTermColor fg, bg;
    VTermState *state = vterm_obtain_state(p->vt);
    vterm_state_get_default_colors(state, &fg, &bg);
    for (int y = 0; y < p->rows; y++)
        for (int x = 0; x < p->cols; x++) {
            VTermScreenCell c;
            vterm_screen_get_cell(p->screen, (VTermPos){y, x}, &c);
            n += !same_color(state, &c.fg, &fg) || !same_color(state, &c.bg, &bg);
        }
    return n;
}

static void watch__no_color__has_none_and_still_shows_severity(void **state)
{
    (void)state;
    struct pty p;
    start(&p, UTF8 " NO_COLOR=1", "--speed max");
    pty_expect(&p, "ENDED");
    pty_expect(&p, "STARBOARD EXHAUST");
    assert_int_equal(coloured(&p), 0);
    assert_int_equal(pty_row(&p, 1)[0], 'A');
    assert_true(pty_is_marked(&p, 0, 1));
    pty_stop(&p);
    /* An option says more than the variable; an empty variable says nothing. */
    start(&p, UTF8 " NO_COLOR=1", "--speed max --color 256");
    pty_expect(&p, "ENDED");
    assert_true(coloured(&p) > 0);
    pty_stop(&p);
    start(&p, UTF8 " NO_COLOR=", "--speed max");
    pty_expect(&p, "ENDED");
    assert_true(coloured(&p) > 0);
    pty_stop(&p);
    start(&p, "TERM=xterm LC_ALL=C.UTF-8", "--speed max");
    pty_expect(&p, "ENDED");
    assert_true(coloured(&p) > 0);
    assert_true(pty_is_marked(&p, 0, 1));
    pty_stop(&p);
}

/* Waits for the clock of the board to stand at 14:MM or later. */
static void expect_minute_from(struct pty *p, int minute)
{
    char words[16];
    for (int64_t end = pty_now_ms() + PTY_DEADLINE_MS; pty_now_ms() < end; pty_pump(p, 20)) {
        for (int m = minute; m < 60; m++) {
            snprintf(words, sizeof words, "14:%02d:", m);
            if (pty_shows(p, words))
                return;
        }
    }
    pty_dump(p);
    fail_msg("the clock never stood at 14:%02d", minute);
}

/* Nobody reads for ten seconds, 160 of the log's, and the alert is raised at their 55th: it must
 * have its own time, as without a screen, nothing spin meanwhile, and what comes afterwards be what
 * was under way and then the picture of now. */
static void watch__stalled_terminal__goes_on_watching(void **state)
{
    (void)state;
    struct pty p;
    char arguments[300], raised[9];
    snprintf(arguments, sizeof arguments, "sift '%s'", trip);
    struct outcome o = program_run_with("TZ=UTC", arguments, NULL);
    snprintf(raised, sizeof raised, "%.8s", o.out); /* the first line: the warning */
    outcome_free(&o);
    start(&p, UTF8, "--from +03:20 --speed 16 --fps 10");
    pty_expect(&p, "exhaust");
    pty_resize(&p, 300, 100); /* big pictures: the line is full at once */
    long cpu = pty_cpu_ms(&p);
    int64_t began = pty_now_ms();
    while (pty_now_ms() < began + 10000)
        poll(NULL, 0, 50);
    assert_true(pty_cpu_ms(&p) - cpu < (pty_now_ms() - began) / 4);
    uint64_t bytes = p.bytes;
    pty_expect(&p, "STARBOARD EXHAUST");
    expect_minute_from(&p, 6); /* not one of the times between */
    if (p.bytes - bytes > 100000)
        fail_msg("%d bytes after the stall", (int)(p.bytes - bytes));
    pty_resize(&p, 80, 24);
    pty_expect(&p, "a acknowledge");
    pty_send(&p, "l");
    pty_expect(&p, raised);
    pty_send(&p, "b");
    pty_expect(&p, "skipped");
    assert_true(pty_number(&p, "skipped") > 0);
    pty_stop(&p);
}

/* At real time and two pictures a second, once the first is there: what a slow line can carry. */
static void watch__real_time__few_bytes_little_work(void **state)
{
    (void)state;
    struct pty p;
    start(&p, UTF8, "--from +02:00");
    pty_expect(&p, "exhaust");
    pty_expect(&p, "14:");
    int64_t settle = pty_now_ms() + 1000;
    while (pty_now_ms() < settle)
        pty_pump(&p, 50);
    uint64_t bytes = p.bytes;
    long cpu = pty_cpu_ms(&p);
    int64_t began = pty_now_ms();
    while (pty_now_ms() < began + 4000)
        pty_pump(&p, 50);
    int64_t took = pty_now_ms() - began;
    uint64_t per_s = (p.bytes - bytes) * 1000 / (uint64_t)took;
    if (per_s >= 2048)
        print_error("%d bytes a second\n", (int)per_s);
    assert_true(per_s < 2048);
    assert_true(pty_cpu_ms(&p) - cpu < took / 10); /* a tenth of one core, sanitizers and all */
    pty_stop(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(watch__a_fatal_signal__restores_and_stays_that_signal),
        cmocka_unit_test(watch__resize_storm_with_random_keys__lives),
        cmocka_unit_test(watch__every_key_in_every_view__lives),
        cmocka_unit_test(watch__no_utf8_locale__sends_pure_ascii),
        cmocka_unit_test(watch__unknown_terms__fall_back_with_a_word),
        cmocka_unit_test(watch__no_color__has_none_and_still_shows_severity),
        cmocka_unit_test(watch__stalled_terminal__goes_on_watching),
        cmocka_unit_test(watch__real_time__few_bytes_little_work),
    };
    return cmocka_run_group_tests(tests, make_trip, NULL);
}
