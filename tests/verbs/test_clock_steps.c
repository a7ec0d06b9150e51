/* A clock that steps in the middle of a log (none that the battery keeps aboard, time of day that
 * arrives late): a label changes, nothing is raised by it, and nothing is missed because of it. */
#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

#define YEAR_S 31536000LL

/* Drills a trip and adds `step_s` to every stamp from the given time into the log on. */
static void make_log(const char *fault, long long after_s, long long step_s)
{
    char options[100], path[PROGRAM_PATH], line[256];
    snprintf(options, sizeof options, "--fault %s --at +06:00 --minutes 14 --seed 3", fault);
    assert_int_equal(program_drill(path, "whole.log", options), 0);
    FILE *in = fopen(path, "r");
    snprintf(path, sizeof path, "%s/stepped.log", program_scratch());
    FILE *out = fopen(path, "w");
    assert_non_null(in);
    assert_non_null(out);
    long long first = 0;
    while (fgets(line, sizeof line, in)) {
        char *rest;
        long long s = strtoll(line + 1, &rest, 10);
        if (first == 0)
            first = s;
        fprintf(out, "(%lld%s", s >= first + after_s ? s + step_s : s, rest);
    }
    fclose(in);
    assert_int_equal(fclose(out), 0);
}

static struct outcome on_log(const char *verb)
{
    char arguments[300];
    snprintf(arguments, sizeof arguments, "%s %s/stepped.log", verb, program_scratch());
    return program_run(arguments, NULL);
}

static const long long steps[] = {YEAR_S, -YEAR_S, 3600, -3600, 15, 10, 9, 5, 3, 2, -5};

static void clock_step__healthy_trip__raises_nothing(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        make_log("none", 500, steps[i]);
        struct outcome o = on_log("sift --json");
        assert_int_equal(o.status, 0);
        if (!strstr(o.out, "\"emergency_alarms\":0,\"alarms\":0,\"warnings\":0,\"cautions\":0,"))
            fail_msg("a step of %lld s: %s", steps[i], o.out);
        outcome_free(&o);
    }
}

static void clock_step__just_before_the_water_is_lost__it_is_still_found(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        make_log("impeller", 340, steps[i]);
        struct outcome o = on_log("sift");
        assert_int_equal(o.status, 0);
        if (!strstr(o.out, "STARBOARD EXHAUST") || !strstr(o.out, "check raw water"))
            fail_msg("a step of %lld s: %s", steps[i], o.out);
        outcome_free(&o);
    }
}

/* A step forward and a time of silence look alike in a log, as long as its own times say; a step
 * back can be nothing but the clock. Muster and trial say the same. */
static void clock_step__an_hour_on_or_back__is_told_for_what_it_is(void **state)
{
    (void)state;
    static const struct {
        long long step_s;
        const char *muster, *trial, *not ;
    } cases[] = {
        {3600,
         "of more than 10 s: 3600 s in all, 81 % of the time, unless the log's clock was set "
         "forward",
         "of more than 10 s: 3600 s in all, 81.1 % of the log, unless its clock was set forward",
         "set back"},
        {-600, "clock of the log was set 1 time, last by -600 s to",
         "clock of the log was set back 1 time, last by 600 s to", "nothing at all was heard"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        make_log("none", 500, cases[i].step_s);
        struct outcome muster = on_log("muster"), trial = on_log("trial");
        if (!strstr(muster.out, cases[i].muster) || strstr(muster.out, cases[i].not ))
            fail_msg("a step of %lld s: %s", cases[i].step_s, muster.out);
        if (!strstr(trial.out, cases[i].trial) || strstr(trial.out, cases[i].not ))
            fail_msg("a step of %lld s: %s", cases[i].step_s, trial.out);
        outcome_free(&muster);
        outcome_free(&trial);
    }
}

/* A step is no excuse for who really stays away. */
static void clock_step__sensor_that_falls_silent__is_still_told(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        make_log("sensor-silent", 358, steps[i]);
        struct outcome o = on_log("sift --json");
        assert_int_equal(o.status, 0);
        if (!strstr(o.out, "\"kind\":\"silent\"") || strstr(o.out, "\"warnings\":0"))
            fail_msg("a step of %lld s: %s", steps[i], o.out);
        outcome_free(&o);
    }
}

/* The whole bus quiet for 6 s looks the same as a step; the summary says that something was. */
static void clock_step__short_one__is_counted(void **state)
{
    (void)state;
    make_log("none", 500, 6);
    struct outcome o = on_log("sift");
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, ", 1 gap\n"));
    outcome_free(&o);
}

static void clock_step__board__shows_the_trip_and_no_alert(void **state)
{
    (void)state;
    make_log("none", 500, -YEAR_S);
    struct outcome o = on_log("watch --once --speed max");
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "exhaust"));
    assert_non_null(strstr(o.out, "A0 W0 C0"));
    outcome_free(&o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clock_step__healthy_trip__raises_nothing),
        cmocka_unit_test(clock_step__just_before_the_water_is_lost__it_is_still_found),
        cmocka_unit_test(clock_step__an_hour_on_or_back__is_told_for_what_it_is),
        cmocka_unit_test(clock_step__sensor_that_falls_silent__is_still_told),
        cmocka_unit_test(clock_step__short_one__is_counted),
        cmocka_unit_test(clock_step__board__shows_the_trip_and_no_alert),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
