/* What `tend --status` makes of an answer, for people and for scripts, kept as golden texts: the
 * watch that answers is played here, so that everything it can say is said. */
#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

static const char all_is_well[] =
    "watch\t1777903200000000000\t1777906800000000000\tcan0\t\t0.1.0\t0\t1\n"
    "config\t1777903200000000000\t0\n"
    "counts\t123456\t0\t0\t0\t0\t0\t0\t0\t0\n"
    "bus\tcan0\t1\t\t31.4\t123456\t0\t0\t1777906799500000000\n"
    "cooling\t0\tENGINE\t1\t1\t1\tload\t0\t1\t2\t12.4\t0\n"
    "ok\n";

static const char much_is_wrong[] =
    "watch\t1777903200000000000\t1777906800000000000\tcan0, can1\tTern Point\t0.1.0\t1\t0\n"
    "config\t1777903260000000000\t1\n"
    "counts\t123456\t1\t2\t3\t4\t5\t6\t7\t8\n"
    "bus\tcan0\t0\tbus-off\t-\t123456\t21\t34\t0\n"
    "bus\tcan1\t1\twarning\t7.96\t55\t0\t0\t1777906799500000000\n"
    "record\t0\t987654321\t13\t5242880000\n"
    "hook\tnotify\t1\t12\t5\t0\t3\n"
    "hook\tlamp\t0\t7\t0\t1777906700000000000\t0\n"
    "cooling\t0\tPORT\t0\t1\t1\tfuel-rate\t1\t0\t0.5\t9.6\t0\n"
    "cooling\t1\tSTARBOARD\t1\t1\t0\t\t1\t0\t-\t-\t1\n"
    "cooling\t2\tGENERATOR\t1\t0\t1\tload\t0\t0\t-\t-\t1\n"
    "cooling\t3\tCENTRE\t1\t1\t1\tboost\t0\t1\t20\t-\t1\n"
    "season\texhaust.0\t7.13\t0.62\tK\twarning\t1\t1770000000000000000\n"
    "season\tboost.1\t-0.0745\t0.021\tshare\tnone\t0\t1770000000000000000\n"
    "nonsense\t1\t2\n"
    "ok\n";

/* Answers two questions with the same words, in a process of its own. */
static pid_t play(const char *path, const char *answer)
{
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    int door = socket(AF_UNIX, SOCK_STREAM, 0);
    pid_t child;

    assert_true(door >= 0 && strlen(path) < sizeof at.sun_path);
    memcpy(at.sun_path, path, strlen(path) + 1);
    unlink(path);
    assert_int_equal(bind(door, (struct sockaddr *)&at, sizeof at), 0);
    assert_int_equal(listen(door, 2), 0);
    child = fork();
    assert_true(child >= 0);
    for (int i = 0; child == 0 && i < 2; i++) {
        char asked[200];
        int fd = accept(door, NULL, NULL);
        ssize_t n = read(fd, asked, sizeof asked);

        if (n != 7 || memcmp(asked, "status\n", 7) != 0)
            _exit(1);
        n = write(fd, answer, strlen(answer));
        if (n != (ssize_t)strlen(answer) || close(fd) != 0)
            _exit(2);
    }
    if (child == 0)
        _exit(0);
    close(door);
    return child;
}

static void check(const char *name, const char *answer)
{
    static const char *const forms[] = {"--status --utc", "--status --json"};
    char path[PROGRAM_PATH], arguments[2 * PROGRAM_PATH], golden[60];
    int status;
    pid_t child;

    snprintf(path, sizeof path, "%s/door", program_scratch());
    child = play(path, answer);
    for (int i = 0; i < 2; i++) {
        struct outcome o;

        snprintf(arguments, sizeof arguments, "tend %s --socket '%s'", forms[i], path);
        o = program_run(arguments, NULL);
        assert_string_equal(o.err, "");
        assert_int_equal(o.status, 0);
        snprintf(golden, sizeof golden, "status-%s.%s", name, i ? "json" : "txt");
        golden_check("verbs", golden, o.out);
        outcome_free(&o);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
}

static void status__all_well__is_as_kept(void **state)
{
    (void)state;
    check("well", all_is_well);
}

static void status__much_wrong__is_as_kept(void **state)
{
    (void)state;
    check("wrong", much_is_wrong);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(status__all_well__is_as_kept),
        cmocka_unit_test(status__much_wrong__is_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
