/* Cooling failures end to end: a drill's frames through decoder, plant and rules to `sift`, with
 * and without what was learned on an earlier trip. */
#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

static struct outcome run(const char *before, const char *after)
{
    char command[900];
    snprintf(command, sizeof command, "%s %s/%s", before, program_scratch(), after);
    return program_run(command, NULL);
}

static int make_logs(void **state)
{
    (void)state;
    static const char *const drills[] = {"drill --fault none --seed 3 --minutes 60 -o",
                                         "drill --fault impeller --seed 4 -o"};
    static const char *const names[] = {"calm.log", "lost.log"};
    int failed = 0;
    for (int k = 0; k < 2; k++) {
        struct outcome o = run(drills[k], names[k]);
        failed += o.status != 0;
        outcome_free(&o);
    }
    return failed;
}

static void learned__what_was_normal__is_text_that_the_next_sift_reads(void **state)
{
    (void)state;
    char command[600], path[300];
    snprintf(path, sizeof path, "%s/normal.txt", program_scratch());
    snprintf(command, sizeof command, "sift --learn %s", path);
    struct outcome o = run(command, "calm.log");
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "alarms 0, warnings 0"));
    outcome_free(&o);

    char line[300];
    int figures = 0, exhausts = 0, trips = 0;
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    while (fgets(line, sizeof line, f)) {
        figures += line[0] != '#';
        exhausts += strncmp(line, "exhaust.", 8) == 0;
        trips += strncmp(line, "trip ", 5) == 0 && strstr(line, " calm.log\n") != NULL;
    }
    fclose(f);
    assert_true(figures >= 4 && exhausts >= 2);
    assert_int_equal(trips, 1);

    snprintf(command, sizeof command, "sift --explain --baseline %s", path);
    o = run(command, "lost.log");
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "check raw water"));
    assert_non_null(strstr(o.out, "expected"));
    assert_non_null(strstr(o.out, "threshold"));
    outcome_free(&o);
}

static void baseline__that_is_none__is_named_and_exits_2(void **state)
{
    (void)state;
    char command[600];
    snprintf(command, sizeof command, "sift --baseline %s", program_file("no.txt", "hello\n"));
    struct outcome o = run(command, "calm.log");
    assert_int_equal(o.status, 2);
    assert_non_null(strstr(o.err, "no.txt:1:"));
    outcome_free(&o);
}

static void learn__where_nothing_can_be_written__exits_3(void **state)
{
    (void)state;
    struct outcome o = run("sift --learn /nowhere/at/all", "calm.log");
    assert_int_equal(o.status, 3);
    assert_non_null(strstr(o.err, "cannot write '/nowhere/at/all'"));
    outcome_free(&o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(learned__what_was_normal__is_text_that_the_next_sift_reads),
        cmocka_unit_test(baseline__that_is_none__is_named_and_exits_2),
        cmocka_unit_test(learn__where_nothing_can_be_written__exits_3),
    };
    return cmocka_run_group_tests(tests, make_logs, NULL);
}
