/* The process that runs programs for the watch: what comes back of each, and what it says where no
 * more can be run. Programs are ended by the test or end by themselves; their ends are waited for,
 * with a limit. */
#include "hooks/starter.h"

#include "support/check.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(program__its_lines_variables_and_status__come_back),
        cmocka_unit_test(program__not_there__its_cause_and_its_end),
        cmocka_unit_test(programs__one_too_many__is_refused_and_harms_no_other),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
