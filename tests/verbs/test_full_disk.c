/* A disk that is really full: a small file system in memory, in a namespace of its own (user and
 * mount; util-linux's unshare). Left out where the kernel does not allow that. What stood in a
 * file must still stand there, and the verb must say what is wrong. */
#include "support/check.h"
#include "support/program.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

static char trip[PROGRAM_PATH];
static bool allowed;

/* Runs the program with DISK/x on the full disk and `was` in it; its output ends with what the file
 * holds afterwards, behind "NOW:". DISK is scratch/disk. */
static struct outcome on_full_disk(const char *was, const char *arguments)
{
    char before[1000];
    snprintf(before, sizeof before,
             "TZ=UTC unshare -rm sh -c 'd=%s/disk; mkdir -p $d && mount -t tmpfs -o size=16k x $d "
             "&& printf %%s \"%s\" >$d/x && head -c 100000 /dev/zero >$d/fill 2>/dev/null; "
             "\"$@\"; s=$?; printf NOW:; cat $d/x; exit $s' sh",
             program_scratch(), was);
    return program_run_with(before, arguments, NULL);
}

static int set_up(void **state)
{
    (void)state;
    int failed = program_drill(trip, "trip.log", "--fault none --minutes 14 --seed 3");
    allowed = system("unshare -rm mount -t tmpfs -o size=16k x /mnt 2>/dev/null") == 0;
    return failed;
}

static void full_disk__files_written_whole__old_one_stands(void **state)
{
    (void)state;
    static const char season[] = "# stokehold season 1\n# of last year";
    static const char *const runs[][3] = {
        {"trial", "trial --html ", "of last year"},
        {"trial", "trial --learn ", season},
        {"sift", "sift --learn ", season},
        {"sift", "sift --season ", season},
        {"muster", "muster --write-config ", "of last year"},
    };
    if (!allowed)
        skip();
    for (size_t i = 0; i < sizeof runs / sizeof *runs; i++) {
        char arguments[400], wanted[200];
        snprintf(arguments, sizeof arguments, "%s%s/disk/x %s", runs[i][1], program_scratch(),
                 trip);
        struct outcome o = on_full_disk(runs[i][2], arguments);
        snprintf(wanted, sizeof wanted, "stokehold %s: cannot write '%s/disk/x", runs[i][0],
                 program_scratch());
        if (o.status != 3 || !strstr(o.err, wanted) || !strstr(o.err, "No space left on device") ||
            !strstr(o.out, "NOW:") || strcmp(strstr(o.out, "NOW:") + 4, runs[i][2]) != 0)
            fail_msg("%s: %d, %s", arguments, o.status, o.err);
        outcome_free(&o);
    }
}

static void full_disk__tend__says_so_and_watches_on(void **state)
{
    (void)state;
    if (!allowed)
        skip();
    char arguments[500];
    snprintf(arguments, sizeof arguments, "tend --metrics %s/disk/x --state %s/disk/state %s",
             program_scratch(), program_scratch(), trip);
    struct outcome o = on_full_disk("old metrics", arguments);
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "cannot write '"));
    assert_non_null(strstr(o.out, "No space left on device"));
    assert_non_null(strstr(o.out, "frames, 0 lost"));
    assert_non_null(strstr(o.out, "NOW:old metrics"));
    outcome_free(&o);
}

/* The same verbs where there is room: a device or a link is written through, not replaced. */
static void whole_file__link_and_device__are_written_through(void **state)
{
    (void)state;
    char arguments[900];
    snprintf(
        arguments, sizeof arguments,
        "trial --html /dev/stdout %s | grep -c . && ln -sf real %s/link && \"%s\" muster "
        "--write-config %s/link %s >/dev/null; test -L %s/link && test -s %s/real && echo both",
        trip, program_scratch(), STOKEHOLD_PROGRAM, program_scratch(), trip, program_scratch(),
        program_scratch());
    struct outcome o = program_run(arguments, NULL);
    assert_non_null(strstr(o.out, "both\n"));
    outcome_free(&o);
}

/* A log too short to learn from leaves what was learned before. */
static void learn__nothing_steady__keeps_the_old_file(void **state)
{
    (void)state;
    char arguments[300];
    const char *path = program_file("learned.season", "# stokehold season 1\n# of last year");
    snprintf(arguments, sizeof arguments, "sift --learn %s - && cat %s", path, path);
    struct outcome o =
        program_run(arguments, "(1760000000.000000) can0 09F20023#0100FFFFFF7FFFFF\n");
    assert_non_null(strstr(o.err, "nothing is kept"));
    assert_non_null(strstr(o.out, "of last year"));
    outcome_free(&o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(full_disk__files_written_whole__old_one_stands),
        cmocka_unit_test(full_disk__tend__says_so_and_watches_on),
        cmocka_unit_test(whole_file__link_and_device__are_written_through),
        cmocka_unit_test(learn__nothing_steady__keeps_the_old_file),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
