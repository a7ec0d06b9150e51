#include "screen/restore.h"

#include <fcntl.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "base/banned.h"

static const int fatal[] = {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGQUIT};
enum { FATAL = sizeof fatal / sizeof fatal[0] };

static struct {
    volatile sig_atomic_t armed;
    int tty;
    struct termios saved;
    char bytes[512];
    size_t len;
    struct sigaction before[FATAL];
    void *stack;
} state;

static void on_fatal(int signal_number)
{
    if (state.armed) {
        state.armed = 0;
        ssize_t ignored = write(state.tty, state.bytes, state.len);
        (void)ignored;
        tcsetattr(state.tty, TCSANOW, &state.saved);
    }
    raise(signal_number); /* SA_RESETHAND: the default now */
}

/* Appends a capability without its padding marks: "$<5>" is for tputs, not for a terminal. */
static void append(const char *s)
{
    while (*s && state.len < sizeof state.bytes) {
        if (s[0] == '$' && s[1] == '<') {
            const char *end = strchr(s, '>');
            if (end) {
                s = end + 1;
                continue;
            }
        }
        state.bytes[state.len++] = *s++;
    }
}

void restore_arm(int tty, const struct termios *saved, const char *const *strings, int count)
{
    state.tty = tty;
    state.saved = *saved;
    state.len = 0;
    for (int i = 0; i < count; i++)
        append(strings[i]);
    /* A stack overflow needs another stack to be handled on. */
    size_t size = 64 * 1024;
    state.stack = malloc(size);
    if (state.stack) {
        stack_t s = {.ss_sp = state.stack, .ss_size = size};
        sigaltstack(&s, NULL);
    }
    struct sigaction action = {.sa_handler = on_fatal,
                               .sa_flags = (int)(SA_ONSTACK | SA_RESETHAND | SA_NODEFER)};
    sigemptyset(&action.sa_mask);
    state.armed = 1;
    for (int i = 0; i < FATAL; i++)
        sigaction(fatal[i], &action, &state.before[i]);
}

void restore_disarm(void)
{
    if (!state.armed)
        return;
    state.armed = 0;
    for (int i = 0; i < FATAL; i++)
        sigaction(fatal[i], &state.before[i], NULL);
    stack_t none = {.ss_flags = SS_DISABLE};
    sigaltstack(&none, NULL);
    free(state.stack);
    state.stack = NULL;
}

struct held_stderr {
    int memory, terminal;
};

struct held_stderr *stderr_hold(void)
{
    if (!isatty(STDERR_FILENO))
        return NULL;
    struct held_stderr *h = malloc(sizeof *h);
    if (!h)
        return NULL;
    h->memory = memfd_create("stderr", MFD_CLOEXEC);
    h->terminal = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
    if (h->memory < 0 || h->terminal < 0 || dup2(h->memory, STDERR_FILENO) < 0) {
        if (h->memory >= 0)
            close(h->memory);
        if (h->terminal >= 0)
            close(h->terminal);
        free(h);
        return NULL;
    }
    return h;
}

void stderr_release(struct held_stderr *h)
{
    if (!h)
        return;
    fflush(stderr);
    dup2(h->terminal, STDERR_FILENO);
    char buf[4096];
    ssize_t n;
    for (off_t at = 0; (n = pread(h->memory, buf, sizeof buf, at)) > 0; at += n) {
        ssize_t ignored = write(STDERR_FILENO, buf, (size_t)n);
        (void)ignored;
    }
    close(h->memory);
    close(h->terminal);
    free(h);
}
