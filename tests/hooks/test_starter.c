/* The process that runs programs for the watch: what comes back of each, and what it says where no
 * more can be run. Programs are ended by the test or end by themselves; their ends are waited for,
 * with a limit. */
#include "hooks/starter.h"

#include "support/check.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#define LIMIT_MS 60000

static struct starter_news next(struct starter *s)
{
    struct starter_news news;
    while (!starter_next(s, &news)) {
        struct pollfd p = {.fd = starter_fd(s), .events = POLLIN};
        assert_int_equal(poll(&p, 1, LIMIT_MS), 1);
    }
    return news;
}

/* Asked again while the helper has no room for it. */
static void run(struct starter *s, int id, char *const *argv, char *const *env, const char *hide)
{
    for (int i = 0; !starter_run(s, id, argv, env, hide); i++) {
        assert_true(i < LIMIT_MS);
        poll(NULL, 0, 1);
    }
}

static void program__its_lines_variables_and_status__come_back(void **state)
{
    (void)state;
    char *argv[] = {(char *)"/bin/sh", (char *)"-c",
                    (char *)"echo $OURS; echo \"<$HIDDEN_ONE>\" >&2; printf end; exit 3", NULL};
    char *env[] = {(char *)"OURS=laid over", NULL};
    setenv("HIDDEN_ONE", "not for them", 1);
    struct starter *s = starter_new();
    assert_non_null(s);
    run(s, 7, argv, env, "HIDDEN_");
    static const char *const lines[] = {"laid over", "<>", "end"};
    for (int i = 0; i < 3; i++) {
        struct starter_news n = next(s);
        assert_int_equal(n.sort, STARTER_LINE);
        assert_int_equal(n.id, 7);
        assert_string_equal(n.text, lines[i]);
    }
    struct starter_news n = next(s);
    assert_int_equal(n.sort, STARTER_ENDED);
    assert_int_equal(n.id, 7);
    assert_true(WIFEXITED(n.value) && WEXITSTATUS(n.value) == 3);
    starter_free(s);
}

static void program__not_there__its_cause_and_its_end(void **state)
{
    (void)state;
    char *argv[] = {(char *)"/no/such/program", NULL};
    struct starter *s = starter_new();
    run(s, 1, argv, NULL, NULL);
    struct starter_news n = next(s);
    assert_int_equal(n.sort, STARTER_FAILED);
    assert_int_equal(n.value, ENOENT);
    n = next(s);
    assert_int_equal(n.sort, STARTER_ENDED);
    assert_true(WIFEXITED(n.value) && WEXITSTATUS(n.value) == 127);
    starter_free(s);
}

/* One more than can run at once ends at once, with its cause; the others run on, and when one has
 * ended there is room again. */
static void programs__one_too_many__is_refused_and_harms_no_other(void **state)
{
    (void)state;
    char *argv[] = {(char *)"/bin/sleep", (char *)"1000", NULL};
    struct starter *s = starter_new();
    for (int id = 1; id <= STARTER_RUNNING_MAX + 1; id++)
        run(s, id, argv, NULL, NULL);
    struct starter_news n = next(s);
    assert_int_equal(n.sort, STARTER_FAILED);
    assert_int_equal(n.id, STARTER_RUNNING_MAX + 1);
    assert_int_equal(n.value, EAGAIN);
    n = next(s);
    assert_int_equal(n.sort, STARTER_ENDED);
    assert_int_equal(n.id, STARTER_RUNNING_MAX + 1);
    assert_true(WIFEXITED(n.value) && WEXITSTATUS(n.value) == 127);
    starter_signal(s, 5, SIGKILL);
    n = next(s);
    assert_int_equal(n.sort, STARTER_ENDED);
    assert_int_equal(n.id, 5);
    assert_true(WIFSIGNALED(n.value) && WTERMSIG(n.value) == SIGKILL);
    run(s, 99, argv, NULL, NULL);
    starter_signal(s, 99, SIGKILL);
    n = next(s);
    assert_int_equal(n.sort, STARTER_ENDED);
    assert_int_equal(n.id, 99);
    assert_true(WIFSIGNALED(n.value) && WTERMSIG(n.value) == SIGKILL);
    starter_free(s);
}

static char *const *shell(const char *script)
{
    static char *argv[4] = {(char *)"/bin/sh", (char *)"-c"};
    argv[2] = (char *)(uintptr_t)script;
    return argv;
}

static void expect_line(struct starter *s, int id, const char *text)
{
    struct starter_news n = next(s);
    assert_int_equal(n.sort, STARTER_LINE);
    assert_int_equal(n.id, id);
    assert_string_equal(n.text, text);
}

static void expect_exit(struct starter *s, int id, int code)
{
    struct starter_news n = next(s);
    assert_int_equal(n.sort, STARTER_ENDED);
    assert_int_equal(n.id, id);
    assert_true(WIFEXITED(n.value));
    assert_int_equal(WEXITSTATUS(n.value), code);
}

/* What begins with the word is hidden, what only holds it is not; what is laid over is not hidden,
 * and stands in place of ours of the same name. */
static void program__its_surroundings__are_ours_but_what_is_hidden(void **state)
{
    (void)state;
    char *env[] = {(char *)"HID_LAID=over", (char *)"KEPT=theirs", NULL};
    setenv("HID_A", "a", 1);
    setenv("HID", "b", 1);
    setenv("NOT_HID_C", "c", 1);
    setenv("KEPT", "ours", 1);
    setenv("KEPT_TOO", "d", 1);
    struct starter *s = starter_new();
    run(s, 1, shell("echo $HID_A.$HID.$NOT_HID_C.$HID_LAID.$KEPT.$KEPT_TOO"), env, "HID_");
    expect_line(s, 1, ".b.c.over.theirs.d");
    expect_exit(s, 1, 0);
    run(s, 2, shell("echo $HID_A.$HID.$NOT_HID_C.$HID_LAID.$KEPT.$KEPT_TOO"), NULL, NULL);
    expect_line(s, 2, "a.b.c..ours.d");
    expect_exit(s, 2, 0);
    starter_free(s);
}

/* It reads nothing, leads a group of its own, has no file of ours open, and no signal is held back
 * from it, though the helper holds back all. Of a blocked or ignored one /proc tells as a mask. */
static void program__its_state__is_that_of_a_fresh_one(void **state)
{
    (void)state;
    signal(SIGTERM, SIG_IGN);
    signal(SIGUSR1, SIG_IGN);
    struct starter *s = starter_new();
    run(s, 3,
        shell("read x; echo \"<$x>\"; grep '^SigBlk:' /proc/self/status; "
              "ignored=$(sed -n 's/^SigIgn:[^0-9]*//p' /proc/self/status); "
              "printf 'ignored %x\\n' $((0x$ignored & ~0x180000000)); ls /proc/$$/fd; set -- $(cat "
              "/proc/$$/stat); test $1 = $5 && echo leader"),
        NULL, NULL);
    expect_line(s, 3, "<>");
    expect_line(s, 3, "SigBlk:?0000000000000000"); /* a tab is no text */
    /* But for 32 and 33, the C library's own: its posix_spawn, by which make runs its commands,
     * leaves them ignored in the child. */
    expect_line(s, 3, "ignored 0");
    expect_line(s, 3, "0");
    expect_line(s, 3, "1");
    expect_line(s, 3, "2");
    expect_line(s, 3, "leader");
    expect_exit(s, 3, 0);
    starter_free(s);
    signal(SIGTERM, SIG_DFL);
    signal(SIGUSR1, SIG_DFL);
}

/* Empty lines say nothing; a line of more than STARTER_LINE_SIZE - 1 bytes comes in pieces. */
static void line__longer_than_there_is_room__comes_in_pieces(void **state)
{
    (void)state;
    char more[STARTER_LINE_SIZE];
    struct starter *s = starter_new();
    /* 199 bytes and their end; 201; and 3 without an end */
    run(s, 4,
        shell("echo; printf '%199s\\n' | tr ' ' a; echo; printf '%201s\\n' | tr ' ' b; printf end"),
        NULL, NULL);
    memset(more, 'a', sizeof more - 1);
    more[sizeof more - 1] = '\0';
    expect_line(s, 4, more);
    memset(more, 'b', sizeof more - 1);
    expect_line(s, 4, more);
    expect_line(s, 4, "bb");
    expect_line(s, 4, "end");
    expect_exit(s, 4, 0);
    starter_free(s);
}

/* It writes far more than a pipe holds while nobody takes its lines: it waits, none is lost, and
 * none is cut in two as it ends. */
static void program__writes_more_than_is_taken__waits_and_loses_nothing(void **state)
{
    (void)state;
    struct starter *s = starter_new();
    run(s, 5, shell("exec seq 1 30000"), NULL, NULL);
    struct pollfd p = {.fd = starter_fd(s), .events = POLLIN};
    assert_int_equal(poll(&p, 1, LIMIT_MS), 1);
    for (int i = 1; i <= 30000; i++) {
        char number[16];
        snprintf(number, sizeof number, "%d", i);
        expect_line(s, 5, number);
    }
    expect_exit(s, 5, 0);
    starter_free(s);
}

/* The signal is for the group: the shell and what it started; the program beside it runs on. */
static void signal__to_one__reaches_its_whole_group_and_no_other(void **state)
{
    (void)state;
    struct starter *s = starter_new();
    run(s, 6, shell("echo other; exec sleep 1000"), NULL, NULL);
    expect_line(s, 6, "other");
    run(s, 77,
        shell("trap 'trap \"\" TERM; while kill -0 $c 2>&-; do wait $c; done; echo told; exit 5' "
              "TERM; (trap 'echo child; exit' TERM; echo up; while :; do sleep 1000 & wait; done) "
              "& c=$!; echo up; while :; do wait $c; done"),
        NULL, NULL);
    expect_line(s, 77, "up");
    expect_line(s, 77, "up");
    starter_signal(s, 77, SIGTERM);
    int told = 0, child = 0;
    struct starter_news n = next(s);
    for (; n.sort == STARTER_LINE; n = next(s)) {
        assert_int_equal(n.id, 77);
        told += strcmp(n.text, "told") == 0;
        child += strcmp(n.text, "child") == 0;
    }
    assert_int_equal(told, 1);
    assert_int_equal(child, 1);
    assert_int_equal(n.sort, STARTER_ENDED);
    assert_int_equal(n.id, 77);
    assert_true(WIFEXITED(n.value) && WEXITSTATUS(n.value) == 5);
    starter_signal(s, 6, SIGTERM);
    n = next(s);
    assert_int_equal(n.id, 6);
    assert_true(WIFSIGNALED(n.value) && WTERMSIG(n.value) == SIGTERM);
    starter_free(s);
}

/* Somebody kills the helper: said once, and the next program runs by another one. */
static void helper__killed__is_said_and_replaced(void **state)
{
    (void)state;
    struct starter *s = starter_new();
    run(s, 8, shell("echo $PPID $$; exec sleep 1000"), NULL, NULL);
    struct starter_news n = next(s);
    assert_int_equal(n.sort, STARTER_LINE);
    int helper, left;
    assert_int_equal(sscanf(n.text, "%d %d", &helper, &left), 2);
    assert_true(helper > 1 && left > 1);
    assert_int_equal(kill(helper, SIGKILL), 0);
    n = next(s);
    assert_int_equal(n.sort, STARTER_LOST);
    assert_int_equal(n.id, 0);
    assert_false(starter_next(s, &n));
    assert_true(starter_fd(s) >= 0);
    run(s, 9, shell("echo $PPID"), NULL, NULL);
    n = next(s);
    assert_int_equal(n.sort, STARTER_LINE);
    assert_int_equal(n.id, 9);
    assert_int_not_equal(atoi(n.text), helper);
    expect_exit(s, 9, 0);
    assert_int_equal(kill(left, SIGKILL), 0); /* what ran is left to itself */
    starter_free(s);
}

/* Up to 64 words, and 16384 bytes of words and variables with their ends. */
static void request__more_than_there_is_room_for__is_refused(void **state)
{
    (void)state;
    static char *many[66], most[16384 + 1];
    many[0] = (char *)"/bin/echo";
    for (int i = 1; i < 64; i++)
        many[i] = (char *)"w";
    struct starter *s = starter_new();
    run(s, 10, many, NULL, NULL);
    struct starter_news n = next(s);
    assert_int_equal(n.sort, STARTER_LINE);
    assert_int_equal(strlen(n.text), 2 * 63 - 1);
    expect_exit(s, 10, 0);
    many[64] = (char *)"w";
    assert_false(starter_run(s, 11, many, NULL, NULL));
    memset(most, 'x', sizeof most - 1);
    char *argv[] = {(char *)"/bin/sh", (char *)"-c", (char *)"echo ${#V}", NULL};
    size_t words = sizeof "/bin/sh" + sizeof "-c" + sizeof "echo ${#V}";
    most[0] = 'V';
    most[1] = '=';
    most[16384 - words] = '\0'; /* its NUL is the byte beyond the last */
    char *env[] = {most, NULL};
    assert_false(starter_run(s, 12, argv, env, NULL));
    most[16384 - words - 1] = '\0';
    run(s, 13, argv, env, NULL);
    char length[16];
    snprintf(length, sizeof length, "%zu", 16384 - words - 1 - 2);
    expect_line(s, 13, length);
    expect_exit(s, 13, 0);
    assert_false(starter_next(s, &n)); /* nothing came of those that were refused */
    starter_free(s);
    starter_free(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(program__its_lines_variables_and_status__come_back),
        cmocka_unit_test(program__not_there__its_cause_and_its_end),
        cmocka_unit_test(programs__one_too_many__is_refused_and_harms_no_other),
        cmocka_unit_test(program__its_surroundings__are_ours_but_what_is_hidden),
        cmocka_unit_test(program__its_state__is_that_of_a_fresh_one),
        cmocka_unit_test(line__longer_than_there_is_room__comes_in_pieces),
        cmocka_unit_test(program__writes_more_than_is_taken__waits_and_loses_nothing),
        cmocka_unit_test(signal__to_one__reaches_its_whole_group_and_no_other),
        cmocka_unit_test(helper__killed__is_said_and_replaced),
        cmocka_unit_test(request__more_than_there_is_room_for__is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
