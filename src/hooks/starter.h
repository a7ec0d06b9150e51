/* The helper process that runs programs for us: hooks and the sound command. Starting a program
 * reads the disk, and a disk can stand still for a minute; so a small process is forked before any
 * thread is begun, it alone forks and waits for programs, and the watch speaks to it through a
 * socket that never blocks. Each program has a process of its own from before its first byte is
 * read, so that one that hangs in exec holds up no other.
 *
 * Every program is the leader of its own process group and reads /dev/null. What it writes, on
 * either output, comes back as whole lines. It is reaped here, with what it left in its group.
 * When the watch ends without a word, what still runs is left to end by itself. */
#ifndef STOKEHOLD_HOOKS_STARTER_H
#define STOKEHOLD_HOOKS_STARTER_H

#include <stdbool.h>
#include <stdint.h>

#define STARTER_RUNNING_MAX 20  /* programs at once */
#define STARTER_LINE_SIZE   200 /* of a program's output; what is longer is cut into several */

struct starter;

/* Forks. NULL when that failed. */
struct starter *starter_new(void);
/* Kills what still runs and ends the process. NULL is allowed. */
void starter_free(struct starter *s);

/* Asks for a program to be run: argv ends with NULL, env are variables laid over our own (those of
 * ours that begin with `hide` are left out; NULL: none). id is above 0 and not that of one that
 * runs. False when it cannot be asked now: try again later. Never waits. */
bool starter_run(struct starter *s, int id, char *const *argv, char *const *env, const char *hide);
/* Sends a signal to its whole group. */
void starter_signal(struct starter *s, int id, int signal_number);

enum starter_sort {
    STARTER_LINE,   /* it wrote a line: text */
    STARTER_FAILED, /* it could not be run: value is errno; STARTER_ENDED follows */
    STARTER_ENDED,  /* value is its wait status */
    STARTER_LOST,   /* id 0: the helper process died; all that ran is lost, a new one is up */
};
struct starter_news {
    int id, value;
    enum starter_sort sort;
    char text[STARTER_LINE_SIZE];
};
/* The next of what happened; false when there is nothing. */
bool starter_next(struct starter *s, struct starter_news *out);
/* For poll with POLLIN; -1 when there is no process. */
int starter_fd(const struct starter *s);

#endif
