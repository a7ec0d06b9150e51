#include "hooks/starter.h"

#include "base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/signalfd.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/banned.h"

#define REQUEST_SIZE 16384
#define WORDS_MAX    64
#define ENV_MAX      512
#define HELPER_FD    3 /* the socket, in the helper process */

extern char **environ;

enum request_sort { REQUEST_RUN, REQUEST_SIGNAL, REQUEST_END };

struct request {
    int sort, id, signal_number;
    int argc, envc;
    char hide[32];
    char words[REQUEST_SIZE]; /* argc, then envc strings, each with its NUL */
};
#define REQUEST_HEAD offsetof(struct request, words)

struct starter {
    int fd; /* -1: no process */
    pid_t pid;
};

/* ---- the helper process ---- */

struct child {
    pid_t pid; /* 0: free */
    int id, out;
    size_t held; /* of a line that has not ended */
    char line[STARTER_LINE_SIZE];
};

struct helper {
    int signal_fd;
    bool full; /* the watch takes no more lines for now */
    struct child children[STARTER_RUNNING_MAX];
    struct request request;
};

static bool tell(int id, enum starter_sort sort, int value, const char *text, bool wait)
{
    struct starter_news news = {.id = id, .value = value, .sort = sort};
    if (text)
        text_copy(news.text, sizeof news.text, text);
    for (;;) {
        if (send(HELPER_FD, &news, sizeof news, MSG_NOSIGNAL | MSG_DONTWAIT) >= 0)
            return true;
        if (errno != EINTR && (errno != EAGAIN || !wait))
            return false;
        struct pollfd p = {.fd = HELPER_FD, .events = POLLOUT};
        if (errno == EAGAIN)
            poll(&p, 1, 1000);
    }
}

/* Whether one of the n variables has the name of v. */
static bool is_among(const char *v, char *const *env, int n)
{
    size_t len = strcspn(v, "=") + 1;
    for (int i = 0; i < n; i++)
        if (strncmp(v, env[i], len) == 0)
            return true;
    return false;
}

/* In the program's own process: what may read the disk. */
static _Noreturn void become(const struct request *r, int out)
{
    char *argv[WORDS_MAX + 1], *env[ENV_MAX + 1];
    const char *at = r->words;
    int n = 0;
    sigset_t none;
    for (int i = 0; i < r->argc; i++, at += strlen(at) + 1)
        argv[i] = (char *)(uintptr_t)at;
    argv[r->argc] = NULL;
    for (int i = 0; i < r->envc && n < ENV_MAX; i++, at += strlen(at) + 1)
        env[n++] = (char *)(uintptr_t)at;
    int laid = n;
    for (char **v = environ; v && *v && n < ENV_MAX; v++)
        if ((!r->hide[0] || strncmp(*v, r->hide, strlen(r->hide)) != 0) && !is_among(*v, env, laid))
            env[n++] = *v;
    env[n] = NULL;
    setpgid(0, 0);
    for (int i = 1; i < NSIG; i++)
        signal(i, SIG_DFL);
    sigemptyset(&none);
    sigprocmask(SIG_SETMASK, &none, NULL);
    int in = open("/dev/null", O_RDONLY);
    if (in >= 0)
        dup2(in, STDIN_FILENO);
    dup2(out, STDOUT_FILENO);
    dup2(out, STDERR_FILENO);
    fcntl(HELPER_FD, F_SETFD, FD_CLOEXEC);
    close_range(HELPER_FD + 1, ~0U, 0);
    execvpe(argv[0], argv, env);
    tell(r->id, STARTER_FAILED, errno, NULL, true);
    _exit(127);
}

static void start_child(struct helper *h)
{
    struct request *r = &h->request;
    int out[2];
    struct child *c = h->children;
    while (c < h->children + STARTER_RUNNING_MAX && c->pid)
        c++;
    int why = EAGAIN;
    pid_t pid = -1;
    if (c < h->children + STARTER_RUNNING_MAX && pipe2(out, O_CLOEXEC | O_NONBLOCK) == 0) {
        fcntl(out[1], F_SETFL, 0); /* the program's end waits as any pipe does */
        pid = fork();
        why = errno;
        if (pid == 0)
            become(r, out[1]);
        close(out[1]);
        if (pid < 0)
            close(out[0]);
    }
    if (pid < 0) {
        tell(r->id, STARTER_FAILED, why, NULL, true);
        tell(r->id, STARTER_ENDED, 127 << 8, NULL, true);
        return;
    }
    setpgid(pid, pid); /* here too: a signal may come before the child has done it */
    *c = (struct child){.pid = pid, .id = r->id, .out = out[0]};
}

/* Hands on whole lines, those of an ended program to the last byte; false when the watch cannot
 * take them now. */
static bool relay(struct child *c, bool last)
{
    bool read_out = false; /* what is held is all there is */
    for (;;) {
        char *end = memchr(c->line, '\n', c->held);
        bool full = c->held == sizeof c->line - 1;
        if (end || full || (read_out && c->held > 0)) {
            size_t len = end ? (size_t)(end - c->line) : c->held;
            char text[STARTER_LINE_SIZE];
            text_clean(text, sizeof text, c->line, len);
            if (text[0] && !tell(c->id, STARTER_LINE, 0, text, last))
                return false;
            c->held -= len + (end != NULL);
            memmove(c->line, c->line + len + (end != NULL), c->held);
            if (end || full)
                continue;
        }
        ssize_t n = read(c->out, c->line + c->held, sizeof c->line - 1 - c->held);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0) {
            if (!last || c->held == 0)
                return true;
            read_out = true;
            continue;
        }
        c->held += (size_t)n;
    }
}

/* The group goes before the leader's number may be given to another. */
static void reap(struct helper *h)
{
    for (int i = 0; i < STARTER_RUNNING_MAX; i++) {
        struct child *c = &h->children[i];
        siginfo_t info = {0};
        int status;
        if (!c->pid || waitid(P_PID, (id_t)c->pid, &info, WEXITED | WNOHANG | WNOWAIT) != 0 ||
            info.si_pid != c->pid)
            continue;
        kill(-c->pid, SIGKILL);
        waitpid(c->pid, &status, 0);
        relay(c, true);
        close(c->out);
        tell(c->id, STARTER_ENDED, status, NULL, true);
        c->pid = 0;
    }
}

static void signal_child(const struct helper *h, int id, int number)
{
    for (int i = 0; i < STARTER_RUNNING_MAX; i++)
        if (h->children[i].pid && (h->children[i].id == id || id == 0)) {
            kill(-h->children[i].pid, number);
            kill(h->children[i].pid, number); /* one that has left its group */
        }
}

/* False when the watch has gone or wants us to. */
static bool obey(struct helper *h)
{
    struct request *r = &h->request;
    ssize_t n = recv(HELPER_FD, r, sizeof *r, MSG_DONTWAIT);
    if (n < 0)
        return errno == EAGAIN || errno == EINTR;
    if (n < (ssize_t)REQUEST_HEAD)
        return false; /* 0: it has gone */
    if (r->sort == REQUEST_RUN)
        start_child(h);
    else if (r->sort == REQUEST_SIGNAL)
        signal_child(h, r->id, r->signal_number);
    else
        signal_child(h, 0, SIGKILL);
    return r->sort != REQUEST_END;
}

static void wait_for_something(struct helper *h)
{
    struct pollfd p[2 + STARTER_RUNNING_MAX] = {
        {.fd = HELPER_FD, .events = (short)(POLLIN | (h->full ? POLLOUT : 0))},
        {.fd = h->signal_fd, .events = POLLIN}};
    for (int i = 0; i < STARTER_RUNNING_MAX; i++) {
        const struct child *c = &h->children[i];
        p[2 + i] = (struct pollfd){.fd = c->pid && !h->full ? c->out : -1, .events = POLLIN};
    }
    poll(p, 2 + STARTER_RUNNING_MAX, -1);
}

/* A signal to all of us, or from the keyboard, is the watch's to obey: here all are blocked. */
static void prepare(struct helper *h)
{
    sigset_t set;
    sigfillset(&set);
    sigprocmask(SIG_SETMASK, &set, NULL);
    close_range(HELPER_FD + 1, ~0U, 0);
    int null = open("/dev/null", O_RDWR);
    for (int fd = 0; null >= 0 && fd < HELPER_FD; fd++)
        dup2(null, fd);
    prctl(PR_SET_NAME, "stokehold-start");
    sigemptyset(&set);
    sigaddset(&set, SIGCHLD);
    h->signal_fd = signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
}

static _Noreturn void help(void)
{
    struct helper h = {.full = false};
    prepare(&h);
    for (;;) {
        struct signalfd_siginfo info;
        wait_for_something(&h);
        while (read(h.signal_fd, &info, sizeof info) > 0)
            ;
        h.full = false;
        for (int i = 0; i < STARTER_RUNNING_MAX; i++)
            if (h.children[i].pid && !relay(&h.children[i], false))
                h.full = true;
        reap(&h);
        if (!obey(&h))
            _exit(0);
    }
}

/* ---- the watch's side ---- */

static bool fork_helper(struct starter *s)
{
    int pair[2];
    s->fd = -1;
    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair) != 0)
        return false;
    s->pid = fork();
    if (s->pid == 0) {
        if (pair[1] == HELPER_FD || dup2(pair[1], HELPER_FD) == HELPER_FD)
            help();
        _exit(1);
    }
    close(pair[1]);
    if (s->pid < 0) {
        close(pair[0]);
        return false;
    }
    s->fd = pair[0];
    return true;
}

struct starter *starter_new(void)
{
    struct starter *s = calloc(1, sizeof *s);
    if (s && fork_helper(s))
        return s;
    free(s);
    return NULL;
}

static bool put(struct starter *s, const struct request *r, size_t words)
{
    return s->fd >= 0 && send(s->fd, r, REQUEST_HEAD + words, MSG_NOSIGNAL | MSG_DONTWAIT) >= 0;
}

void starter_free(struct starter *s)
{
    if (!s)
        return;
    static const struct request end = {.sort = REQUEST_END};
    put(s, &end, 0);
    if (s->fd >= 0)
        close(s->fd);
    if (s->pid > 0)
        waitpid(s->pid, NULL, 0);
    free(s);
}

static bool add_words(struct request *r, size_t *used, char *const *words, int *count)
{
    for (*count = 0; words && words[*count]; (*count)++) {
        size_t len = strlen(words[*count]) + 1;
        if (len > sizeof r->words - *used || *count == WORDS_MAX)
            return false;
        memcpy(r->words + *used, words[*count], len);
        *used += len;
    }
    return true;
}

bool starter_run(struct starter *s, int id, char *const *argv, char *const *env, const char *hide)
{
    struct request r;
    size_t used = 0;
    memset(&r, 0, REQUEST_HEAD);
    r.sort = REQUEST_RUN;
    r.id = id;
    return add_words(&r, &used, argv, &r.argc) && add_words(&r, &used, env, &r.envc) &&
           (!hide || text_copy(r.hide, sizeof r.hide, hide)) && put(s, &r, used);
}

void starter_signal(struct starter *s, int id, int signal_number)
{
    struct request r;
    memset(&r, 0, REQUEST_HEAD);
    r.sort = REQUEST_SIGNAL;
    r.id = id;
    r.signal_number = signal_number;
    put(s, &r, 0);
}

bool starter_next(struct starter *s, struct starter_news *out)
{
    for (;;) {
        ssize_t n = s->fd >= 0 ? recv(s->fd, out, sizeof *out, MSG_DONTWAIT) : 0;
        if (n == (ssize_t)sizeof *out)
            return true;
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0 && errno == EAGAIN)
            return false;
        break;
    }
    /* It has died (somebody killed it): once more, from here. */
    bool had = s->fd >= 0;
    if (had) {
        close(s->fd);
        kill(s->pid, SIGKILL);
        waitpid(s->pid, NULL, 0);
    }
    (void)fork_helper(s);
    *out = (struct starter_news){.sort = STARTER_LOST};
    return had;
}

int starter_fd(const struct starter *s)
{
    return s->fd;
}
