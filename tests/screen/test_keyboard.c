/* What keys, signals and options do at a terminal; test_terminal.c has what takes longer. */
#include "pty.h"

#define UTF8 "TERM=xterm-256color LC_ALL=C.UTF-8"

static char trip[PROGRAM_PATH]; /* a trip of eight minutes; raw water lost at its fourth */

static int make_trip(void **state)
{
    (void)state;
    return program_drill(trip, "trip.log", "--fault impeller --at +04:00 --minutes 8 --seed 3");
}

static void start(struct pty *p, const char *variables, const char *options)
{
    char command[800];
    snprintf(command, sizeof command, "\"$PROGRAM\" watch --forget %s '%s'", options, trip);
    pty_start(p, 80, 24, variables, command);
}

static void watch__a_log__shows_the_board_and_quits_clean(void **state)
{
    (void)state;
    struct pty p;
    start(&p, UTF8, "--from +01:00");
    pty_expect(&p, "STARBOARD");
    pty_expect(&p, "exhaust");
    pty_expect(&p, "trip.log");
    assert_true(p.altscreen);
    assert_true(p.cursor_hidden);
    pty_send(&p, "q");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_check_restored(&p);
    pty_stop(&p);
}

static void watch__an_alarm__flashes_names_the_place_and_makes_quitting_ask(void **state)
{
    (void)state;
    struct pty p;
    start(&p, UTF8, "--speed max");
    pty_expect(&p, "ENDED");
    pty_expect(&p, "STARBOARD EXHAUST");
    pty_expect(&p, "A1");
    pty_send(&p, "q");
    pty_expect(&p, "an alarm stands");
    pty_send(&p, "n");
    pty_expect_gone(&p, "an alarm stands");
    pty_send(&p, "a");
    pty_send(&p, "q");
    pty_expect(&p, "an alarm stands");
    pty_send(&p, "y");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_check_restored(&p);
    pty_stop(&p);
}

/* A sound command that is not there leaves no alarm silent: the bell rings in its place. */
static void watch__sound_command_fails__the_bell_rings(void **state)
{
    (void)state;
    struct pty p;
    char options[400];
    const char *conf =
        program_file("horn.conf", "[screen]\nsound = run\nsound command = /nonexistent/horn now\n");
    snprintf(options, sizeof options, "-c '%s' --speed max", conf);
    start(&p, UTF8, options);
    pty_expect(&p, "A1");
    int64_t end = pty_now_ms() + PTY_DEADLINE_MS;
    while (!memchr(p.tail, 7, p.tail_len) && pty_now_ms() < end)
        pty_pump(&p, 50);
    assert_non_null(memchr(p.tail, 7, p.tail_len));
    pty_send(&p, "qy");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);
}

static void watch__term_and_int__end_with_128_and_the_signal(void **state)
{
    (void)state;
    struct pty p;
    start(&p, UTF8, "--from +01:00");
    pty_expect(&p, "exhaust");
    kill(p.pid, SIGTERM);
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 128 + SIGTERM);
    pty_check_restored(&p);
    pty_stop(&p);
    start(&p, UTF8, "--from +01:00");
    pty_expect(&p, "exhaust");
    pty_send(&p, "\003");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 128 + SIGINT);
    pty_check_restored(&p);
    pty_stop(&p);
    start(&p, UTF8, "--speed max");
    pty_expect(&p, "ENDED");
    pty_expect(&p, "A1");
    pty_send(&p, "\003");
    pty_expect(&p, "again to quit");
    pty_send(&p, "\003");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 128 + SIGINT);
    pty_check_restored(&p);
    pty_stop(&p);
}

static void watch__terminal_closed__ends(void **state)
{
    (void)state;
    struct pty p;
    start(&p, UTF8, "--from +01:00 --speed 2");
    pty_expect(&p, "exhaust");
    close(p.master);
    p.master = -1;
    int64_t end = pty_now_ms() + PTY_DEADLINE_MS;
    while (!p.ended && pty_now_ms() < end) {
        p.ended = waitpid(p.pid, &p.status, WNOHANG) == p.pid;
        poll(NULL, 0, 5);
    }
    assert_true(p.ended);
    assert_true(WIFEXITED(p.status));
    assert_int_equal(WEXITSTATUS(p.status), 128 + SIGHUP);
    pty_stop(&p);
}

static void watch__ctrl_z__hands_the_line_back_and_repaints(void **state)
{
    (void)state;
    struct pty p;
    int status;
    start(&p, UTF8, "--from +01:00 --speed 2");
    pty_expect(&p, "exhaust");
    pty_send(&p, "\032");
    int64_t end = pty_now_ms() + PTY_DEADLINE_MS;
    pid_t got = 0;
    while ((got = waitpid(p.pid, &status, WNOHANG | WUNTRACED)) == 0 && pty_now_ms() < end)
        pty_pump(&p, 10);
    assert_int_equal(got, p.pid);
    assert_true(WIFSTOPPED(status));
    pty_pump(&p, 10);
    pty_check_restored(&p);
    pty_resize(&p, 100, 30); /* while it is stopped */
    kill(p.pid, SIGCONT);
    pty_expect(&p, "exhaust");
    assert_true(p.altscreen);
    pty_expect(&p, "? help");
    pty_send(&p, "q");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_check_restored(&p);
    pty_stop(&p);
}

/* Into the directory that the program runs in, and nowhere else. */
static void trend__key_w__writes_two_files_here(void **state)
{
    (void)state;
    struct pty p;
    char command[160];
    snprintf(command, sizeof command, "rm -f '%s'/trend-*", program_scratch()); /* by other keys */
    assert_int_equal(system(command), 0);
    start(&p, UTF8, "--from +04:10 --speed 1");
    pty_expect(&p, "exhaust");
    pty_send(&p, "tw");
    pty_expect(&p, "written here: trend-");
    kill(p.pid, SIGTERM);
    pty_wait(&p, PTY_DEADLINE_MS);
    pty_stop(&p);
    snprintf(command, sizeof command, "cd '%s' && test -s trend-*.csv && test -s trend-*.svg",
             program_scratch());
    assert_int_equal(system(command), 0);
}

static void watch__log_on_standard_input__keys_come_from_the_terminal(void **state)
{
    (void)state;
    struct pty p;
    char command[600];
    snprintf(command, sizeof command,
             "sh -c 'cat \"$1\" | \"$0\" watch --speed max -' \"$PROGRAM\" '%s'", trip);
    pty_start(&p, 80, 24, UTF8, command);
    pty_expect(&p, "standard input");
    pty_expect(&p, "ENDED");
    pty_send(&p, "qy");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);
}

static void watch__too_small__says_so_and_recovers(void **state)
{
    (void)state;
    struct pty p;
    start(&p, UTF8, "--from +01:00");
    pty_expect(&p, "exhaust");
    pty_resize(&p, 15, 3);
    pty_expect(&p, "needs 20x4");
    pty_resize(&p, 80, 24);
    pty_expect(&p, "exhaust");
    pty_resize(&p, 15, 3);
    pty_expect(&p, "needs");
    pty_send(&p, "q");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);
}

static void watch__moving_in_the_log__reaches_times_and_alerts(void **state)
{
    (void)state;
    struct pty p;
    start(&p, UTF8, "--from +01:00");
    pty_expect(&p, "exhaust");
    pty_send(&p, " ");
    pty_expect(&p, "PAUSED");
    pty_send(&p, "n");
    pty_expect(&p, "EXHAUST");
    pty_send(&p, "g+01:00\r");
    pty_expect_gone(&p, "EXHAUST");
    pty_expect(&p, "PAUSED");
    pty_send(&p, "u");
    pty_expect(&p, "units");
    pty_send(&p, "c");
    pty_expect(&p, "theme");
    pty_stop(&p);
}

/* Nothing says the alert again once the log has ended: its words follow the units all the same. */
static void watch__other_units_on_an_ended_log__alerts_follow_at_once(void **state)
{
    (void)state;
    struct pty p;
    start(&p, UTF8, "--speed max");
    pty_expect(&p, "ENDED");
    pty_expect(&p, " K/min: keep cap shut, check raw water");
    pty_send(&p, "u"); /* bar */
    pty_expect(&p, "metric, bar");
    pty_send(&p, "u");
    pty_expect(&p, "<b0>F/min: keep cap shut, check raw water");
    pty_expect_gone(&p, "<b0>C");
    pty_send(&p, "uu");
    pty_expect(&p, " K/min: keep cap shut, check raw water");
    pty_stop(&p);
}

static void watch__once__is_plain_text(void **state)
{
    (void)state;
    char arguments[400];
    snprintf(arguments, sizeof arguments, "watch --once --size 80x24 '%s'", trip);
    struct outcome o = program_run_with("LC_ALL=C TZ=UTC", arguments, NULL);
    assert_int_equal(o.status, 0);
    assert_null(memchr(o.out, 27, o.out_len));
    int lines = 0;
    for (size_t i = 0; i < o.out_len; i++) {
        assert_true((unsigned char)o.out[i] < 0x80);
        lines += o.out[i] == '\n';
    }
    assert_int_equal(lines, 24);
    assert_non_null(strstr(o.out, "STARBOARD EXHAUST"));
    assert_non_null(strstr(o.out, "check raw water"));
    outcome_free(&o);
}

static void watch__plain__says_each_change_and_answers(void **state)
{
    (void)state;
    char arguments[400];
    snprintf(arguments, sizeof arguments, "watch --plain --speed max '%s'", trip);
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    assert_null(memchr(o.out, 27, o.out_len));
    assert_non_null(strstr(o.out, "warning, raised: STARBOARD EXHAUST"));
    assert_non_null(strstr(o.out, "alarm, grown worse: STARBOARD EXHAUST"));
    assert_non_null(strstr(o.out, "alarm, beyond its limit: STARBOARD EXHAUST"));
    assert_non_null(strstr(o.out, "the log has ended"));
    outcome_free(&o);
    struct pty p;
    char command[600];
    snprintf(command, sizeof command, "\"$PROGRAM\" watch --plain --from +02:00 '%s'", trip);
    pty_start(&p, 80, 60, UTF8, command);
    pty_expect(&p, "watching trip.log");
    pty_send(&p, "\n");
    pty_expect(&p, "starboard exhaust");
    pty_expect(&p, "all well");
    pty_send(&p, "q\n");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);
}

static void watch__without_a_terminal__prints_what_sift_prints(void **state)
{
    (void)state;
    char arguments[400];
    snprintf(arguments, sizeof arguments, "watch '%s'", trip);
    struct outcome a = program_run(arguments, NULL);
    snprintf(arguments, sizeof arguments, "sift '%s'", trip);
    struct outcome b = program_run(arguments, NULL);
    assert_int_equal(a.status, 0);
    assert_string_equal(a.out, b.out);
    outcome_free(&a);
    outcome_free(&b);
}

/* The user's choices come back; the configuration's file is never written. */
static void watch__choices__come_back(void **state)
{
    (void)state;
    struct pty p;
    char command[600], path[300];
    snprintf(command, sizeof command, "\"$PROGRAM\" watch --from +01:00 '%s'", trip);
    pty_start(&p, 80, 24, UTF8, command);
    pty_expect(&p, "exhaust");
    pty_send(&p, "u");
    pty_expect(&p, "units:");
    pty_send(&p, "l");
    pty_expect(&p, "nothing was raised");
    pty_send(&p, "c");
    pty_expect(&p, "theme: dusk");
    pty_send(&p, "q");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);
    pty_start(&p, 80, 24, UTF8, command);
    pty_expect(&p, "nothing was raised");
    pty_send(&p, "o");
    pty_expect(&p, " bar ");
    pty_send(&p, "c"); /* from the theme that was chosen on */
    pty_expect(&p, "theme: night");
    pty_send(&p, "q");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);
    snprintf(path, sizeof path, "%s/.local/state/stokehold/screen", program_scratch());
    assert_int_equal(unlink(path), 0);
}

/* A theme of one's own lies behind the shipped ones, whatever it calls itself, and is kept. */
static void watch__theme_of_a_file__key_comes_round_to_it(void **state)
{
    (void)state;
    struct pty p;
    char text[8192], command[900], path[300];
    FILE *f = fopen("themes/day.theme", "r");
    assert_non_null(f);
    size_t len = fread(text, 1, sizeof text - 32, f);
    fclose(f);
    text[len] = '\0';
    strcat(text, "\nname = night\n"); /* as a shipped one does */
    char *own = strdup(program_file("own.theme", text));
    snprintf(text, sizeof text, "[screen]\ntheme = %s\n", own);
    snprintf(command, sizeof command, "\"$PROGRAM\" watch -c '%s' --from +01:00 '%s'",
             program_file("own.conf", text), trip);
    pty_start(&p, 80, 24, UTF8, command);
    pty_expect(&p, "exhaust");
    static const char *const names[] = {"day", "dusk", "night", "contrast", "safe", "mono"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char words[40];
        snprintf(words, sizeof words, "theme: %s", names[i]);
        pty_send(&p, "c");
        pty_expect(&p, words);
    }
    pty_send(&p, "c");
    pty_expect(&p, "theme: night"); /* its own */
    pty_send(&p, "q");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);
    pty_start(&p, 80, 24, UTF8, command);
    pty_expect(&p, "exhaust");
    pty_send(&p, "c"); /* it was kept: else contrast would come */
    pty_expect(&p, "theme: day");
    assert_int_equal(unlink(own), 0);
    pty_send(&p, "ccccc");
    pty_expect(&p, "theme: mono");
    pty_send(&p, "c"); /* gone: passed over */
    pty_expect(&p, "theme: day");
    pty_send(&p, "q");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);
    snprintf(path, sizeof path, "%s/.local/state/stokehold/screen", program_scratch());
    assert_int_equal(unlink(path), 0);
    free(own);
}

static void watch__a_configuration__binds_keys_and_orders_rows(void **state)
{
    (void)state;
    struct pty p;
    char options[400];
    const char *conf = program_file("keys.conf", "[keys]\nquit = x\n[pane trial]\n"
                                                 "channels = coolant.*, rpm.*, sea.0\n");
    snprintf(options, sizeof options, "-c '%s' --from +01:00", conf);
    start(&p, UTF8, options);
    pty_expect(&p, "coolant");
    pty_expect(&p, "sea");
    assert_false(pty_shows(&p, "exhaust"));
    int coolant = 0, speed = 0;
    for (int y = 0; y < 24; y++) {
        coolant = strstr(pty_row(&p, y), "coolant") ? y : coolant;
        speed = strstr(pty_row(&p, y), "speed ") ? y : speed;
    }
    assert_true(coolant > 0 && coolant < speed);
    pty_send(&p, "q");
    pty_send(&p, "?");
    pty_expect(&p, "everything at a glance");
    pty_send(&p, "x");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);
    conf = program_file("bad.conf", "[keys]\nquit = a\n");
    snprintf(options, sizeof options, "config check '%s'", conf);
    struct outcome o = program_run(options, NULL);
    assert_int_equal(o.status, 1);
    assert_non_null(strstr(o.out, "is the key of acknowledge already"));
    outcome_free(&o);
    conf = program_file("theme.conf", "[screen]\ntheme = nosuch\n");
    snprintf(options, sizeof options, "config check '%s'", conf);
    o = program_run(options, NULL);
    assert_int_equal(o.status, 1);
    assert_non_null(strstr(o.out, "there is no theme 'nosuch'"));
    outcome_free(&o);
}

/* A moment that is marked at the board is on the page of the same log. */
static void watch__mark__is_kept_beside_the_log_and_on_the_page(void **state)
{
    (void)state;
    struct pty p;
    char path[PROGRAM_PATH + 40], arguments[900], text[4096];
    start(&p, UTF8, "--from +03:30");
    pty_expect(&p, "exhaust");
    pty_send(&p, " ");
    pty_expect(&p, "PAUSED");
    pty_send(&p, "k");
    pty_expect(&p, "a few words");
    pty_send(&p, "steam from the stern\r");
    pty_expect(&p, "kept beside the log");
    pty_send(&p, "t");
    pty_expect(&p, "steam from the stern");
    pty_send(&p, "q");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);

    snprintf(path, sizeof path, "%s.marks", trip);
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    assert_non_null(fgets(text, sizeof text, f));
    assert_string_equal(text, "# stokehold marks 1\n");
    assert_non_null(fgets(text, sizeof text, f));
    assert_non_null(strstr(text, "Z steam from the stern\n"));
    fclose(f);

    /* it is there again, and `j` leads to it */
    start(&p, UTF8, "--from +01:00");
    pty_expect(&p, "exhaust");
    pty_send(&p, " jt");
    pty_expect(&p, "steam from the stern");
    pty_send(&p, "q");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 0);
    pty_stop(&p);

    snprintf(arguments, sizeof arguments,
             "sift --html '%s/page.html' '%s' >/dev/null; grep -c 'steam from the stern' "
             "'%s/page.html'",
             program_scratch(), trip, program_scratch());
    struct outcome o = program_run(arguments, NULL);
    assert_string_equal(o.out, "1\n");
    outcome_free(&o);

    f = fopen(path, "a");
    fputs("half past two: helm\n", f);
    fclose(f);
    snprintf(arguments, sizeof arguments, "sift --html '%s/page.html' '%s'", program_scratch(),
             trip);
    o = program_run(arguments, NULL);
    assert_int_equal(o.status, 3);
    assert_non_null(strstr(o.err, "trip.log.marks:3: no time such as"));
    outcome_free(&o);
    unlink(path);
}

/* Of a log the readings are those of its end; without a terminal the list is printed and that is
 * all, which test_muster_verb.c holds. */
static void muster__sign_off_at_a_terminal__asks_one_by_one(void **state)
{
    (void)state;
    struct pty p;
    char command[500], list[PROGRAM_PATH], text[4096];
    snprintf(list, sizeof list, "%s/talk.sign", program_scratch());
    snprintf(command, sizeof command, "\"$PROGRAM\" muster --sign-off '%s' '%s'", list, trip);
    pty_start(&p, 100, 50, UTF8, command);
    pty_expect(&p, "SIGN-OFF,");
    pty_expect(&p, "your name");
    pty_send(&p, "R. Example\r");
    pty_expect(&p, "c compared");
    pty_send(&p, "s\r"); /* the first is left open */
    pty_expect(&p, "s skip, q end: s");
    pty_send(&p, "c\r");
    pty_expect(&p, "the reference reads, in");
    pty_send(&p, "1\r");
    pty_expect(&p, "tolerance");
    pty_send(&p, "\r");
    pty_expect(&p, "note");
    pty_send(&p, "by hand\r");
    pty_expect(&p, "noted");
    pty_send(&p, "q\r");
    pty_expect(&p, "open: ");
    assert_int_equal(pty_wait(&p, PTY_DEADLINE_MS), 1); /* the muster has its findings */
    pty_stop(&p);
    FILE *f = fopen(list, "r");
    assert_non_null(f);
    text[fread(text, 1, sizeof text - 1, f)] = '\0';
    fclose(f);
    assert_memory_equal(text, "# stokehold sign-off 1\n", 23);
    assert_non_null(strstr(text, "check = compared\n"));
    assert_non_null(strstr(text, "by = R. Example\n"));
    assert_non_null(strstr(text, "note = by hand\n"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(watch__a_log__shows_the_board_and_quits_clean),
        cmocka_unit_test(watch__an_alarm__flashes_names_the_place_and_makes_quitting_ask),
        cmocka_unit_test(watch__sound_command_fails__the_bell_rings),
        cmocka_unit_test(watch__term_and_int__end_with_128_and_the_signal),
        cmocka_unit_test(watch__terminal_closed__ends),
        cmocka_unit_test(watch__ctrl_z__hands_the_line_back_and_repaints),
        cmocka_unit_test(trend__key_w__writes_two_files_here),
        cmocka_unit_test(watch__log_on_standard_input__keys_come_from_the_terminal),
        cmocka_unit_test(watch__too_small__says_so_and_recovers),
        cmocka_unit_test(watch__moving_in_the_log__reaches_times_and_alerts),
        cmocka_unit_test(watch__other_units_on_an_ended_log__alerts_follow_at_once),
        cmocka_unit_test(watch__once__is_plain_text),
        cmocka_unit_test(watch__plain__says_each_change_and_answers),
        cmocka_unit_test(watch__without_a_terminal__prints_what_sift_prints),
        cmocka_unit_test(watch__choices__come_back),
        cmocka_unit_test(watch__theme_of_a_file__key_comes_round_to_it),
        cmocka_unit_test(watch__a_configuration__binds_keys_and_orders_rows),
        cmocka_unit_test(watch__mark__is_kept_beside_the_log_and_on_the_page),
        cmocka_unit_test(muster__sign_off_at_a_terminal__asks_one_by_one),
    };
    return cmocka_run_group_tests(tests, make_trip, NULL);
}
