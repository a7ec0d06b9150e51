#include "hooks/horn.h"

#include "base/text.h"
#include "hooks/hooks.h"

#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>

#include "base/banned.h"

extern char **environ;

static void end_stuck(struct horn *h)
{
    kill(-h->child, SIGKILL);
    kill(h->child, SIGKILL); /* one that has left its group */
    h->failed = true;
    if (waitpid(h->child, NULL, WNOHANG) != 0)
        h->child = 0;
}

bool horn_blow(struct horn *h, const char *line, const char *word, int64_t now_ns)
{
    char buf[512], last[32], *argv[HOOKS_WORDS_MAX + 2];
    horn_turn(h);
    if (h->child > 0 && now_ns - h->begun_ns >= HORN_LONGEST_NS)
        end_stuck(h);
    if (h->child > 0)
        return !h->failed;
    int n = hooks_split(line, buf, sizeof buf, argv, HOOKS_WORDS_MAX);
    if (n == 0)
        return false;
    text_copy(last, sizeof last, word);
    argv[n] = last;
    argv[n + 1] = NULL;
    posix_spawnattr_t attr;
    posix_spawn_file_actions_t files;
    if (posix_spawnattr_init(&attr) != 0)
        return false;
    if (posix_spawn_file_actions_init(&files) != 0) {
        posix_spawnattr_destroy(&attr);
        return false;
    }
    sigset_t none;
    sigemptyset(&none);
    posix_spawnattr_setsigmask(&attr, &none);
    posix_spawnattr_setpgroup(&attr, 0); /* the keyboard's signals are not for it */
    posix_spawnattr_setflags(&attr, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETPGROUP);
    for (int fd = 0; fd < 3; fd++)
        posix_spawn_file_actions_addopen(&files, fd, "/dev/null", O_RDWR, 0);
    bool good = posix_spawnp(&h->child, argv[0], &files, &attr, argv, environ) == 0;
    if (!good)
        h->child = 0;
    h->begun_ns = now_ns;
    posix_spawn_file_actions_destroy(&files);
    posix_spawnattr_destroy(&attr);
    return good && !h->failed;
}

void horn_turn(struct horn *h)
{
    int status = 0;
    if (h->child <= 0)
        return;
    pid_t got = waitpid(h->child, &status, WNOHANG);
    if (got == 0)
        return;
    h->failed = got == h->child && !(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    h->child = 0;
}
