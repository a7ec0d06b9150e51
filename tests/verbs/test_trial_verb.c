/* `stokehold trial` as a user runs it, from the log of a drill to a report, a page and a
 * baseline. */
#include "support/check.h"
#include "support/program.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static char log_path[160];

static struct outcome run(const char *format, const char *argument)
{
    char command[700];

    snprintf(command, sizeof command, format, log_path, argument);
    return program_run(command, NULL);
}

static int make_log(void **state)
{
    char command[300];
    struct outcome o;

    (void)state;
    snprintf(log_path, sizeof log_path, "%s/trial.log", program_scratch());
    snprintf(command, sizeof command, "drill --trip trial --fault meter-high --seed 3 -o %s",
             log_path);
    o = program_run(command, NULL);
    outcome_free(&o);
    return o.status;
}

static void trial__drill_log__reports_and_exits_0(void **state)
{
    struct outcome o = run("trial %s%s", "");

    (void)state;
    assert_int_equal(o.status, 0);
    assert_string_equal(o.err, "");
    assert_non_null(strstr(o.out, "SEA TRIAL\n2026-05-04 14:00:00 to 2026-05-04 15:32:21"));
    assert_non_null(strstr(o.out, "fuel-rate.1 reads"));
    assert_non_null(strstr(o.out, "best of the faster speeds: "));
    outcome_free(&o);
}

/* Engines 1 and 2, or 11 and 12, and a generator, which runs for a part of the trial at a speed of
 * its own: it is no lever that stands apart, and no engine to be held against the others. */
static void trial__engines_of_any_number_and_a_generator__are_twins(void **state)
{
    static const char *const there[] = {
        "engines ran 1:30:04",
        "exhaust alike                          ",
        " K hotter at ",
        "pass      coolant alike                          STARBOARD stands ",
        "  power (torque x rpm) ~ rpm^3.00",
    };
    static const char *const absent[] = {"levers apart", "both engines send it",
                                         "throttle, GENERATOR", "\nGENERATOR\n",
                                         "revs at full throttle    "};
    char log[PROGRAM_PATH], arguments[500];

    (void)state;
    for (int from_11 = 0; from_11 < 2; from_11++) {
        assert_int_equal(program_drill(log, "full.log",
                                       from_11 ? "--trip trial --boat full --random --seed 6"
                                               : "--trip trial --boat full --random --seed 2"),
                         0);
        snprintf(arguments, sizeof arguments, "trial '%s'", log);
        struct outcome o = program_run(arguments, NULL);
        assert_int_equal(o.status, 0);
        for (size_t i = 0; i < sizeof there / sizeof *there; i++)
            if (!strstr(o.out, there[i]))
                fail_msg("\"%s\" is not in:\n%s", there[i], o.out);
        for (size_t i = 0; i < sizeof absent / sizeof *absent; i++)
            if (strstr(o.out, absent[i]))
                fail_msg("\"%s\" is in:\n%s", absent[i], o.out);
        outcome_free(&o);
        snprintf(arguments, sizeof arguments, "trial '%s' --learn '%s/%d.season'", log,
                 program_scratch(), from_11);
        o = program_run(arguments, NULL);
        outcome_free(&o);
        snprintf(arguments, sizeof arguments, "trial '%s' --baseline '%s/%d.season'", log,
                 program_scratch(), from_11);
        o = program_run(arguments, NULL);
        if (!strstr(o.out, from_11 ? "exhaust.11 0.0 K" : "exhaust.1 0.0 K"))
            fail_msg("%s", o.out);
        outcome_free(&o);
    }
}

/* The log without one engine's boxes from the middle of the trial on: what the other burns then is
 * not what the boat burns. */
static void trial__boxes_of_an_engine_go_dark__their_steps_are_in_no_point(void **state)
{
    char path[200], line[200], arguments[500];
    double first = 0, at;
    FILE *from = fopen(log_path, "r");

    (void)state;
    snprintf(path, sizeof path, "%s/dark.log", program_scratch());
    FILE *to = fopen(path, "w");
    assert_true(from != NULL && to != NULL);
    while (fgets(line, sizeof line, from)) {
        const char *id = strchr(line, '#');
        assert_true(id != NULL && sscanf(line, "(%lf)", &at) == 1);
        first = first > 0 ? first : at;
        if (at < first + 50 * 60 || strncmp(id - 2, "11", 2) != 0) /* the starboard engine's box */
            assert_true(fputs(line, to) >= 0);
    }
    assert_int_equal(fclose(to), 0);
    (void)fclose(from);
    struct outcome whole = run("trial %s --json%s", ""), dark;
    snprintf(arguments, sizeof arguments, "trial '%s' --json", path);
    dark = program_run(arguments, NULL);
    assert_int_equal(dark.status, 0);
    assert_null(strstr(whole.out, "an engine unheard"));
    assert_non_null(strstr(dark.out, "\"an engine unheard\""));
    /* Nor is a meter held against a tank that went on when it was no longer heard. */
    assert_non_null(strstr(whole.out, "\"kind\":\"meter\""));
    assert_null(strstr(dark.out, "\"kind\":\"meter\""));
    /* No point of the log burns half of what the boat burns at that speed. */
    double most = 0, least = INFINITY;
    for (const char *p = whole.out; (p = strstr(p, "\"litres_per_nmi\":")) != NULL; p++)
        if (sscanf(p, "\"litres_per_nmi\":%lf", &at) == 1)
            most = fmax(most, at), least = fmin(least, at);
    assert_true(most > 0);
    for (const char *p = dark.out; (p = strstr(p, "\"litres_per_nmi\":")) != NULL; p++)
        if (sscanf(p, "\"litres_per_nmi\":%lf", &at) == 1)
            assert_true(at > 0.9 * least);
    outcome_free(&whole);
    outcome_free(&dark);
}

/* Tanks 1 and 2 of engines 0 and 1: which feeds which is anyone's guess, and tank 1 is not held
 * against engine 1. */
static void trial__tanks_numbered_unlike_engines__are_held_against_no_meter(void **state)
{
    char path[200], line[200], arguments[500];
    FILE *from = fopen(log_path, "r");

    (void)state;
    snprintf(path, sizeof path, "%s/tanks.log", program_scratch());
    FILE *to = fopen(path, "w");
    assert_true(from != NULL && to != NULL);
    while (fgets(line, sizeof line, from)) {
        char *data = strchr(line, '#');
        assert_non_null(data);
        if (strstr(line, "F211")) /* 127505: kind and instance in the first byte */
            data[2]++;
        assert_true(fputs(line, to) >= 0);
    }
    assert_int_equal(fclose(to), 0);
    (void)fclose(from);
    snprintf(arguments, sizeof arguments, "trial '%s' --json", path);
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "\"tank\":2,"));
    assert_null(strstr(o.out, "against tank"));
    outcome_free(&o);
    o = run("trial %s --json%s", "");
    assert_non_null(strstr(o.out, "against tank 1"));
    outcome_free(&o);
}

static void trial__baseline__serves_the_next_trial(void **state)
{
    char path[200];
    struct outcome o;

    (void)state;
    snprintf(path, sizeof path, "%s/june.txt", program_scratch());
    o = run("trial %s --learn %s", path);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    o = run("trial %s --baseline %s", path);
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "  as then  exhaust.0 0.0 K"));
    assert_null(strstr(o.out, "CHANGED"));
    outcome_free(&o);
}

static void trial__sign_off_that_is_not_there__is_status_2(void **state)
{
    struct outcome o = run("trial %s --sign-off %s/none.txt", program_scratch());

    (void)state;
    assert_int_equal(o.status, 2);
    assert_non_null(strstr(o.err, "none.txt"));
    assert_string_equal(o.out, "");
    outcome_free(&o);
}

static void trial__fail_on_check__is_status_1_where_one_fails(void **state)
{
    char path[200];
    struct outcome o;

    (void)state;
    o = run("trial %s --fail-on-check%s", "");
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    snprintf(path, sizeof path, "%s",
             program_file("held.conf", "[trial]\nrated speed = 3100 rpm\n"));
    o = run("trial %s --fail-on-check -c %s", path);
    assert_non_null(strstr(o.out, "FAIL"));
    assert_int_equal(o.status, 1);
    outcome_free(&o);
    o = run("trial %s -c %s", path);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
}

static void trial__html__is_written(void **state)
{
    char path[200], head[32] = "";
    struct outcome o;
    FILE *f;

    (void)state;
    snprintf(path, sizeof path, "%s/report.html", program_scratch());
    o = run("trial %s --json --html %s", path);
    assert_int_equal(o.status, 0);
    assert_memory_equal(o.out, "{\"vessel\":null,\"first\":1777903200", 33);
    outcome_free(&o);
    f = fopen(path, "r");
    assert_non_null(f);
    assert_non_null(fgets(head, sizeof head, f));
    fclose(f);
    assert_string_equal(head, "<!DOCTYPE html>\n");
}

static void trial__comma_locale__writes_points(void **state)
{
    char command[300];
    struct outcome a = run("trial %s --csv%s", ""), b;

    (void)state;
    snprintf(command, sizeof command, "trial %s --csv", log_path);
    b = program_run_with("TZ=UTC " COMMA_LOCALE, command, NULL);
    assert_true(a.out_len > 1000);
    assert_string_equal(a.out, b.out);
    outcome_free(&a);
    outcome_free(&b);
}

static void trial__range__ends_the_trial_early(void **state)
{
    struct outcome o = run("trial %s --from +20:00 --to +45:00%s", "");

    (void)state;
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "14:20:00 to 2026-05-04 14:44:59"));
    outcome_free(&o);
}

static void trial__wrong_words__are_status_2(void **state)
{
    static const char *const bad[] = {
        "trial",
        "trial --settle 1s x.log",
        "trial --within 90 x.log",
        "trial --against /nowhere x.log",
        "trial --sign-off /nowhere/x/y --nonsense x.log",
        "trial --from yesterday x.log",
    };

    (void)state;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct outcome o = program_run(bad[i], NULL);

        assert_int_equal(o.status, 2);
        assert_string_equal(o.out, "");
        assert_non_null(strstr(o.err, "stokehold trial: "));
        outcome_free(&o);
    }
}

static void trial__no_log_or_no_room__is_status_3(void **state)
{
    struct outcome o = program_run("trial /nowhere/x.log", NULL);

    (void)state;
    assert_int_equal(o.status, 3);
    outcome_free(&o);
    o = run("trial %s --html %s", "/nowhere/x.html");
    assert_int_equal(o.status, 3);
    assert_non_null(strstr(o.err, "cannot write '/nowhere/x.html'"));
    outcome_free(&o);
}

static void trial__log_without_steps__says_why(void **state)
{
    struct outcome o =
        program_run("trial -", "(1777903200.000000) can0 09F80225#01FC5C3D6801FFFF\n");

    (void)state;
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.err, "no steady step found"));
    outcome_free(&o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trial__drill_log__reports_and_exits_0),
        cmocka_unit_test(trial__engines_of_any_number_and_a_generator__are_twins),
        cmocka_unit_test(trial__boxes_of_an_engine_go_dark__their_steps_are_in_no_point),
        cmocka_unit_test(trial__tanks_numbered_unlike_engines__are_held_against_no_meter),
        cmocka_unit_test(trial__baseline__serves_the_next_trial),
        cmocka_unit_test(trial__sign_off_that_is_not_there__is_status_2),
        cmocka_unit_test(trial__fail_on_check__is_status_1_where_one_fails),
        cmocka_unit_test(trial__html__is_written),
        cmocka_unit_test(trial__comma_locale__writes_points),
        cmocka_unit_test(trial__range__ends_the_trial_early),
        cmocka_unit_test(trial__wrong_words__are_status_2),
        cmocka_unit_test(trial__no_log_or_no_room__is_status_3),
        cmocka_unit_test(trial__log_without_steps__says_why),
    };

    return cmocka_run_group_tests(tests, make_log, NULL);
}
