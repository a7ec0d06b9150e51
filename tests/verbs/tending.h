/* A `tend` that runs beside the test: fed through a pipe, read, signalled. Waiting is for lines and
 * ends, with a limit, never for a while. */
#ifndef STOKEHOLD_TESTS_TENDING_H
#define STOKEHOLD_TESTS_TENDING_H

#include "support/check.h"
#include "support/program.h"

#include "base/text.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

#define LIMIT_MS 60000

struct tending {
    pid_t pid;
    int in, out;
    char seen[65536];
    size_t len;
};

static inline const char *in_scratch(const char *name)
{
    static char paths[8][160];
    static int next;
    char *path = paths[next++ % 8];
    snprintf(path, sizeof paths[0], "%s/%s", program_scratch(), name);
    return path;
}

/* Starts `stokehold tend --utc ARGUMENTS -` (several apart by blanks), its standard output into a
 * file where one is named; the test then reads standard error alone. */
static inline struct tending *start_into(const char *arguments, const char *file)
{
    struct tending *t = calloc(1, sizeof *t);
    int in[2], out[2];
    assert_int_equal(pipe(in), 0);
    assert_int_equal(pipe(out), 0);
    t->pid = fork();
    if (t->pid == 0) {
        char copy[1024], *argv[32] = {(char *)"stokehold", (char *)"tend", (char *)"--utc"};
        int n = 3;
        text_copy(copy, sizeof copy, arguments);
        char *save;
        for (char *w = strtok_r(copy, " ", &save); w && n < 30; w = strtok_r(NULL, " ", &save))
            argv[n++] = w;
        argv[n++] = (char *)"-";
        dup2(in[0], 0);
        int into = file ? open(file, O_WRONLY | O_CREAT | O_TRUNC, 0644) : out[1];
        dup2(into, 1);
        dup2(out[1], 2);
        for (int fd = 3; fd < 64; fd++)
            close(fd);
        execv(STOKEHOLD_PROGRAM, argv);
        _exit(127);
    }
    close(in[0]);
    close(out[1]);
    t->in = in[1];
    t->out = out[0];
    return t;
}

static inline struct tending *start(const char *arguments)
{
    return start_into(arguments, NULL);
}

/* Reads on until `words` were said. */
static inline void expect(struct tending *t, const char *words)
{
    while (!strstr(t->seen, words)) {
        struct pollfd p = {.fd = t->out, .events = POLLIN};
        int ready = poll(&p, 1, LIMIT_MS);
        ssize_t n = ready > 0 ? read(t->out, t->seen + t->len, sizeof t->seen - 1 - t->len) : 0;
        if (n <= 0)
            fail_msg("tend did not say '%s' but:\n%s", words, t->seen);
        t->len += (size_t)n;
        t->seen[t->len] = '\0';
    }
}

static inline int end_with(struct tending *t, int signal_number)
{
    int status;
    if (signal_number)
        kill(t->pid, signal_number);
    else
        close(t->in);
    for (;;) { /* to the end of its output, then its status */
        struct pollfd p = {.fd = t->out, .events = POLLIN};
        if (poll(&p, 1, LIMIT_MS) <= 0)
            fail_msg("tend does not end; it said:\n%s", t->seen);
        ssize_t n = read(t->out, t->seen + t->len, sizeof t->seen - 1 - t->len);
        if (n <= 0)
            break;
        t->len += (size_t)n;
        t->seen[t->len] = '\0';
    }
    assert_int_equal(waitpid(t->pid, &status, 0), t->pid);
    close(t->out);
    if (signal_number)
        close(t->in);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

static inline void feed(struct tending *t, const char *text, size_t len)
{
    while (len > 0) {
        ssize_t n = write(t->in, text, len);
        assert_true(n > 0);
        text += n;
        len -= (size_t)n;
    }
}

/* A few minutes of a drill with a lost impeller, made once. */
static inline const char *trip(size_t *len)
{
    static char *text;
    static size_t size;
    if (!text) {
        char arguments[256];
        snprintf(arguments, sizeof arguments,
                 "drill --fault impeller --at +08:00 --seed 3 --minutes 14 -o %s",
                 in_scratch("trip.log"));
        struct outcome o = program_run(arguments, NULL);
        assert_int_equal(o.status, 0);
        outcome_free(&o);
        FILE *f = fopen(in_scratch("trip.log"), "r");
        assert_non_null(f);
        fseek(f, 0, SEEK_END);
        size = (size_t)ftell(f);
        rewind(f);
        text = malloc(size + 1);
        assert_int_equal(fread(text, 1, size, f), size);
        text[size] = '\0';
        fclose(f);
    }
    *len = size;
    return text;
}

/* The part of the trip up to about `seconds`, on a whole line. */
static inline size_t until(const char *text, size_t len, double seconds)
{
    double first = strtod(text + 1, NULL);
    for (size_t at = 0; at < len;) {
        if (strtod(text + at + 1, NULL) - first > seconds)
            return at;
        const char *end = memchr(text + at, '\n', len - at);
        at = end ? (size_t)(end - text) + 1 : len;
    }
    return len;
}

#endif
