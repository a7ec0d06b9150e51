/* `stokehold muster` on the program itself, over logs that `drill` makes with a known fault. */
#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/banned.h"

/* A log of an invented trip in the scratch directory; returns its path. */
static const char *drilled(const char *name, const char *options)
{
    static char path[300];
    char arguments[600];
    snprintf(path, sizeof path, "%s/%s.log", program_scratch(), name);
    snprintf(arguments, sizeof arguments, "drill --minutes 8 --seed 4 %s -o %s", options, path);
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    return path;
}

static struct outcome muster(const char *options, const char *log)
{
    char arguments[1200];
    snprintf(arguments, sizeof arguments, "muster %s %s", options, log);
    return program_run(arguments, NULL);
}

static void sound_boat__exit_0_and_everyone_named(void **state)
{
    (void)state;
    struct outcome o = muster("--utc", drilled("none", "--fault none"));
    if (o.status != 0)
        print_error("%s\n", o.out);
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "rpm.0"));
    assert_non_null(strstr(o.out, "exhaust.1"));
    assert_non_null(strstr(o.out, "no findings"));
    assert_string_equal(o.err, "");
    outcome_free(&o);
}

/* Generator, shore power, inverter and lithium bank: what is off by the end is no finding, states
 * have their words, and each engine its own twin. */
static void full_boat__exit_0_and_told_in_words(void **state)
{
    (void)state;
    static const char *const there[] = {
        "battery charger and inverter (electrical generation)",
        "lithium, 12 V",
        "  not charging\n",
        "  inverting\n",
        "41 sent no reading in the last ",
        "  PORT        exhaust every 2.0 s, has speed, load, twin, sea;",
        "  STARBOARD   exhaust every 2.0 s, has speed, load, twin, sea;",
        "  GENERATOR   exhaust every 2.0 s, has speed, load, sea;",
        "no findings",
    };
    struct outcome o = muster("--utc", drilled("full", "--boat full --minutes 16"));
    for (size_t i = 0; i < sizeof there / sizeof *there; i++)
        if (!strstr(o.out, there[i]))
            fail_msg("\"%s\" is not in:\n%s", there[i], o.out);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
}

/* Engines 11 and 12 and generator 13: the configuration that is written from them fits them, names
 * the engines as before, and misses nothing that is switched off. */
static void engines_from_11__the_configuration_written_fits(void **state)
{
    (void)state;
    char log[PROGRAM_PATH], arguments[900];
    assert_int_equal(program_drill(log, "eleven.log", "--boat full --random --seed 6"), 0);
    snprintf(arguments, sizeof arguments, "muster --write-config '%s/eleven.conf' '%s'",
             program_scratch(), log);
    struct outcome o = program_run(arguments, NULL);
    outcome_free(&o);
    snprintf(arguments, sizeof arguments, "muster -c '%s/eleven.conf' '%s'", program_scratch(),
             log);
    o = program_run(arguments, NULL);
    assert_null(strstr(o.out, "configured"));
    assert_non_null(strstr(o.out, "STARBOARD   exhaust every"));
    outcome_free(&o);
    snprintf(arguments, sizeof arguments, "sift -c '%s/eleven.conf' '%s'", program_scratch(), log);
    o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    assert_null(strstr(o.out, "never heard"));
    outcome_free(&o);
    snprintf(arguments, sizeof arguments, "config print '%s/eleven.conf'", program_scratch());
    o = program_run(arguments, NULL);
    assert_non_null(strstr(o.out, "\nengines = 3\n"));
    outcome_free(&o);
}

/* What the cooling watch makes of the drill's twins, as they last ran. */
static void cooling_watch__is_told_in_every_form(void **state)
{
    (void)state;
    char arguments[900], log[PROGRAM_PATH];
    struct outcome o;
    assert_int_equal(program_drill(log, "cooling.log", "--minutes 5 --seed 2"), 0);
    snprintf(arguments, sizeof arguments, "muster --html '%s/cooling.html' '%s/cooling.log'",
             program_scratch(), program_scratch());
    o = program_run(arguments, NULL);
    assert_non_null(
        strstr(o.out, "COOLING WATCH\n  PORT        exhaust every 2.0 s, has speed, load"));
    assert_non_null(strstr(o.out, "\n  STARBOARD   exhaust every 2.0 s"));
    assert_non_null(strstr(o.out, "; lost water warns in about "));
    outcome_free(&o);
    snprintf(arguments, sizeof arguments,
             "muster --json '%s/cooling.log' | jq -c 'select(.record == \"cooling\") | "
             "[.engine, .name, .exhaust, .speed, .load, .sea, .period, .delay > 5, .blind]'; "
             "grep -c 'lost water warns in about' '%s/cooling.html'",
             program_scratch(), program_scratch());
    o = program_run(arguments, NULL);
    assert_string_equal(o.out, "[0,\"PORT\",true,true,\"load\",true,2,true,false]\n"
                               "[1,\"STARBOARD\",true,true,\"load\",true,2,true,false]\n"
                               "2\n");
    outcome_free(&o);
}

static void two_boxes_on_one_instance__exit_1_and_named(void **state)
{
    (void)state;
    struct outcome o = muster("", drilled("boxes", "--fault two-boxes"));
    assert_int_equal(o.status, 1);
    assert_non_null(strstr(o.out, "two senders"));
    outcome_free(&o);
}

static void sensor_gone_silent__exit_1_and_named(void **state)
{
    (void)state;
    struct outcome o = muster("", drilled("silent", "--fault sensor-silent --engine 1"));
    assert_int_equal(o.status, 1);
    assert_non_null(strstr(o.out, "s (exhaust.1), and its engine ran on"));
    outcome_free(&o);
}

static void json__a_line_each_and_the_summary_last(void **state)
{
    (void)state;
    struct outcome o = muster("--json", drilled("json", "--fault none"));
    assert_int_equal(o.status, 0);
    size_t lines = 0;
    char *last = NULL, *rest = NULL;
    for (char *line = strtok_r(o.out, "\n", &rest); line; line = strtok_r(NULL, "\n", &rest)) {
        size_t n = strlen(line);
        assert_true(strncmp(line, "{\"record\":\"", 11) == 0);
        assert_true(line[n - 1] == '}');
        last = line;
        lines++;
    }
    assert_true(lines > 50);
    assert_non_null(strstr(last, "\"record\":\"summary\""));
    assert_non_null(strstr(last, "\"findings\":0"));
    outcome_free(&o);
}

static void write_config__is_accepted_and_finds_the_boat_complete(void **state)
{
    (void)state;
    char log[300], options[700];
    snprintf(log, sizeof log, "%s", drilled("config", "--fault none"));
    snprintf(options, sizeof options, "--write-config %s/found.conf", program_scratch());
    struct outcome o = muster(options, log);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    snprintf(options, sizeof options, "config check %s/found.conf", program_scratch());
    o = program_run(options, NULL);
    if (o.status != 0)
        print_error("%s%s\n", o.out, o.err);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    snprintf(options, sizeof options, "-c %s/found.conf", program_scratch());
    o = muster(options, log);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    /* another boat: one engine where two are configured */
    o = muster(options, drilled("other", "--fault none --engines 1"));
    assert_int_equal(o.status, 1);
    assert_non_null(strstr(o.out, "missing"));
    assert_non_null(strstr(o.out, "exhaust.1 is configured and was not heard"));
    outcome_free(&o);
}

static void sign_off__kept_and_resumed(void **state)
{
    (void)state;
    char log[300], options[700];
    snprintf(log, sizeof log, "%s", drilled("sign", "--fault none"));
    snprintf(options, sizeof options,
             "--sign-off %s/boat.sign --confirm sea.0 --check compared --reference '16.1 C' "
             "--tolerance '1 K' --by 'R. Example'",
             program_scratch());
    struct outcome o = muster(options, log);
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "pass  (R. Example"));
    outcome_free(&o);
    snprintf(options, sizeof options,
             "--sign-off %s/boat.sign --confirm engine-space.0 --check ice-water "
             "--tolerance '33 F' --by 'R. Example'",
             program_scratch());
    o = muster(options, log); /* not in ice: fails, and says so by its status */
    assert_int_equal(o.status, 1);
    outcome_free(&o);
    snprintf(options, sizeof options, "--sign-off %s/boat.sign", program_scratch());
    o = muster(options, log);
    assert_int_equal(o.status, 1);
    assert_non_null(strstr(o.out, "sea.0"));
    assert_non_null(strstr(o.out, "of 18.33: fail")); /* 33 F is 18.33 K */
    assert_non_null(strstr(o.out, "open: "));
    outcome_free(&o);
}

static void usage__what_does_not_go_together__exit_2(void **state)
{
    (void)state;
    static const char *const wrong[] = {
        "muster",
        "muster --ask some.log",
        "muster --for 10s some.log",
        "muster --for soon can0",
        "muster a.log b.log",
        "muster --check dipped some.log",
        "muster --confirm sea.0 some.log",
        "muster --sign-off f --confirm sea.0 --check sniffed --by x some.log",
        "muster --sign-off f --confirm nose.0 --check dipped --by x some.log",
        "muster --sign-off f --confirm sea.0 --check compared --reference '3 V' --by x some.log",
        "muster --sign-off f --confirm sea.0 --check ice-water --tolerance 0 --by x some.log",
        "muster --sign-off f --confirm sea.0 --check boiling-water --altitude 3 --by x some.log",
        "muster --jsn some.log",
    };
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        struct outcome o = program_run(wrong[i], NULL); /* refused before any source is opened */
        if (o.status != 2)
            print_error("%s: %d %s\n", wrong[i], o.status, o.err);
        assert_int_equal(o.status, 2);
        assert_true(strlen(o.err) > 0);
        outcome_free(&o);
    }
}

static void source__absent_or_empty(void **state)
{
    (void)state;
    char path[300];
    snprintf(path, sizeof path, "%s/nowhere.log", program_scratch());
    struct outcome o = muster("", path);
    assert_int_equal(o.status, 3);
    assert_string_equal(o.out, "");
    assert_non_null(strstr(o.err, "neither a log nor an interface"));
    outcome_free(&o);
    o = muster("", program_file("empty.log", ""));
    assert_int_equal(o.status, 3);
    assert_string_equal(o.out, "");
    assert_non_null(strstr(o.err, "empty.log: no frame in it: it is empty"));
    outcome_free(&o);
    o = muster("", program_file("bad.log", "\033[31mnot a frame\nnor this\n"));
    assert_int_equal(o.status, 3);
    assert_string_equal(o.out, "");
    assert_null(strchr(o.err, '\033'));
    outcome_free(&o);
}

/* Two boxes that send the speed of one engine: a finding. */
#define TWO_BOXES                                                                                  \
    "(1760000000.000001) can0 09F20020#00401FDC0500FFFF\n"                                         \
    "(1760000000.100001) can0 09F20021#00401FDC0500FFFF\n"                                         \
    "(1760000000.200001) can0 09F20020#00401FDC0500FFFF\n"                                         \
    "(1760000000.300001) can0 09F20021#00401FDC0500FFFF\n"

static void findings_on_a_full_disk__exit_3(void **state)
{
    (void)state;
    struct outcome o = muster("", program_file("full.log", TWO_BOXES));
    assert_int_equal(o.status, 1);
    outcome_free(&o);
    o = program_run("muster - >/dev/full", TWO_BOXES);
    assert_int_equal(o.status, 3);
    assert_non_null(strstr(o.err, "cannot write the output"));
    outcome_free(&o);
}

static void standard_input__is_read(void **state)
{
    (void)state;
    struct outcome o =
        program_run("muster --utc -", "(1760000000.000000) can0 09F20020#00401FDC0500FFFF\n"
                                      "(1760000000.100000) can0 09F20020#00401FDC0500FFFF\n");
    assert_non_null(strstr(o.out, "ADDRESS 32 on can0"));
    assert_non_null(strstr(o.out, "2000.00 rpm"));
    outcome_free(&o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sound_boat__exit_0_and_everyone_named),
        cmocka_unit_test(full_boat__exit_0_and_told_in_words),
        cmocka_unit_test(engines_from_11__the_configuration_written_fits),
        cmocka_unit_test(cooling_watch__is_told_in_every_form),
        cmocka_unit_test(two_boxes_on_one_instance__exit_1_and_named),
        cmocka_unit_test(sensor_gone_silent__exit_1_and_named),
        cmocka_unit_test(json__a_line_each_and_the_summary_last),
        cmocka_unit_test(write_config__is_accepted_and_finds_the_boat_complete),
        cmocka_unit_test(sign_off__kept_and_resumed),
        cmocka_unit_test(usage__what_does_not_go_together__exit_2),
        cmocka_unit_test(source__absent_or_empty),
        cmocka_unit_test(findings_on_a_full_disk__exit_3),
        cmocka_unit_test(standard_input__is_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
