/* stokehold config: its words and exit statuses, as a script sees them. */
#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

static struct outcome run(const char *arguments)
{
    return program_run(arguments, NULL);
}

static struct outcome run_on(const char *verb, const char *text)
{
    char arguments[300];
    snprintf(arguments, sizeof arguments, "config %s %s", verb, program_file("mine.conf", text));
    return run(arguments);
}

static void good_file__is_silent_and_0(void **state)
{
    (void)state;
    struct outcome o = run("config check configs/stokehold.conf");
    assert_int_equal(o.status, 0);
    assert_string_equal(o.out, "");
    assert_string_equal(o.err, "");
    outcome_free(&o);
}

static void theme__is_checked_as_one(void **state)
{
    (void)state;
    struct outcome o = run("config check themes/night.theme");
    assert_int_equal(o.status, 0);
    assert_string_equal(o.out, "");
    outcome_free(&o);
    char arguments[300];
    snprintf(arguments, sizeof arguments, "config check %s",
             program_file("mine.theme", "alarm shiny\n"));
    o = run(arguments);
    assert_int_equal(o.status, 1);
    assert_non_null(strstr(o.out, "mine.theme:1: "));
    outcome_free(&o);
}

static void bad_file__says_all_on_stdout_and_1(void **state)
{
    (void)state;
    struct outcome o = run_on("check", "[units]\nspeed = C\n[vesel]\n");
    assert_int_equal(o.status, 1);
    assert_non_null(
        strstr(o.out, "mine.conf:2: [units] speed: 'C' is not one of kn, km/h or mph\n"));
    assert_non_null(
        strstr(o.out, "mine.conf:3: unknown section [vesel] (did you mean 'vessel'?)\n"));
    assert_string_equal(o.err, "");
    outcome_free(&o);
}

static void missing_file_and_wrong_words__are_2(void **state)
{
    (void)state;
    static const char *const wrong[] = {"config check /nonexistent/x.conf",
                                        "config",
                                        "config check",
                                        "config chekc x",
                                        "config keys x",
                                        "config print /nonexistent/x.conf"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        struct outcome o = run(wrong[i]);
        assert_int_equal(o.status, 2);
        assert_string_equal(o.out, "");
        assert_true(strlen(o.err) > 10);
        outcome_free(&o);
    }
}

static void print__shows_the_values_in_force(void **state)
{
    (void)state;
    struct outcome o = run_on("print", "[limit exhaust-hot]\nabove = 176 F\n");
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "[limit exhaust-hot]\nenabled = yes\nchannel = exhaust.*\n"
                                  "priority = alarm\nabove = 80 C\n"));
    outcome_free(&o);
    o = run_on("print", "[limit exhaust-hot]\nabove = 176\n");
    assert_int_equal(o.status, 2);
    assert_string_equal(o.out, "");
    assert_non_null(strstr(o.err, "mine.conf:2: [limit exhaust-hot] above: '176' is not"));
    outcome_free(&o);
}

/* Keys that clash or are none: each with its own line, all in one run. */
static void keys_that_clash__are_all_said_with_their_lines(void **state)
{
    (void)state;
    struct outcome o = run_on("check", "[keys]\n# swapped: fine\nup = down\ndown = up\n"
                                       "helm = t\nquit = esc\ntrend = F5\nmark = k\n");
    assert_int_equal(o.status, 1);
    assert_non_null(strstr(o.out, "mine.conf:6: [keys] quit: esc only goes back\n"));
    assert_non_null(strstr(o.out, "mine.conf:7: [keys] trend: there is no key 'F5'\n"));
    outcome_free(&o);
    o = run_on("check", "[keys]\nhelm = t\nsilence = helm\n");
    assert_non_null(strstr(o.out, "mine.conf:2: [keys] helm: 't' is the key of trend already\n"));
    assert_non_null(strstr(o.out, "mine.conf:3: [keys] silence: there is no key 'helm'\n"));
    assert_int_equal(o.status, 1);
    outcome_free(&o);
}

/* Verbs without a screen refuse it like the others: else it is found on the day somebody looks. */
static void keys_that_clash__every_verb_refuses_them(void **state)
{
    static const char *const verbs[] = {"sift", "tend", "export", "muster", "trial"};
    char path[PROGRAM_PATH], log[PROGRAM_PATH], arguments[2 * PROGRAM_PATH + 40];

    (void)state;
    snprintf(path, sizeof path, "%s/keys.conf", program_scratch());
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs("[keys]\nhelm = t\n", f);
    assert_int_equal(fclose(f), 0);
    assert_int_equal(program_drill(log, "short.log", "--minutes 4"), 0);
    for (size_t i = 0; i < sizeof verbs / sizeof *verbs; i++) {
        snprintf(arguments, sizeof arguments, "%s -c %s %s", verbs[i], path, log);
        struct outcome o = program_run(arguments, NULL);
        if (o.status != 2 ||
            !strstr(o.err, "keys.conf:2: [keys] helm: 't' is the key of trend already\n"))
            fail_msg("%s: %d %s", verbs[i], o.status, o.err);
        outcome_free(&o);
    }
}

/* What the reader finds and what the screen finds: one run says both. */
static void faults_of_every_kind__are_all_said_in_one_run(void **state)
{
    (void)state;
    struct outcome o = run_on("check", "[limit mine]\nabove = 93 C\n[keys]\nhelm = t\n"
                                       "[screen]\ntheme = nowhere\n[units]\nspeed = C\n");
    assert_int_equal(o.status, 1);
    assert_non_null(strstr(o.out, "mine.conf:1: [limit mine] channel: is missing"));
    assert_non_null(strstr(o.out, "mine.conf:8: [units] speed: 'C' is not one of"));
    assert_non_null(strstr(o.out, "mine.conf:4: [keys] helm: 't' is the key of trend already\n"));
    assert_non_null(strstr(o.out, "nowhere"));
    int lines = 0;
    for (const char *c = o.out; *c; c++)
        lines += *c == '\n';
    assert_int_equal(lines, 4);
    assert_string_equal(o.err, "");
    outcome_free(&o);
    o = run_on("check", "[limit mine]\nabove = 93 C\n"); /* nothing for the screen to say */
    assert_int_equal(o.status, 1);
    outcome_free(&o);
    o = run_on("print", "[limit mine]\nabove = 93 C\n"); /* nothing goes by what is faulty */
    assert_int_equal(o.status, 2);
    assert_string_equal(o.out, "");
    outcome_free(&o);
}

static void keys_and_help__go_to_stdout(void **state)
{
    (void)state;
    struct outcome o = run("config keys");
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "[limit NAME]\n"));
    outcome_free(&o);
    o = run("config --help");
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "usage: stokehold config check FILE"));
    outcome_free(&o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_file__is_silent_and_0),
        cmocka_unit_test(bad_file__says_all_on_stdout_and_1),
        cmocka_unit_test(theme__is_checked_as_one),
        cmocka_unit_test(missing_file_and_wrong_words__are_2),
        cmocka_unit_test(print__shows_the_values_in_force),
        cmocka_unit_test(keys_that_clash__are_all_said_with_their_lines),
        cmocka_unit_test(keys_that_clash__every_verb_refuses_them),
        cmocka_unit_test(faults_of_every_kind__are_all_said_in_one_run),
        cmocka_unit_test(keys_and_help__go_to_stdout),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
