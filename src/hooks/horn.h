/* The user's command for sound (`sound = run`): one at a time, without a shell, in its own process
 * group, silent on our terminal. Nothing here waits. */
#ifndef STOKEHOLD_HOOKS_HORN_H
#define STOKEHOLD_HOOKS_HORN_H

#include <stdbool.h>
#include <stdint.h>
#include <sys/types.h>

/* One that runs this long will not end by itself; the next alarm must not wait for it. */
#define HORN_LONGEST_NS (INT64_C(10) * 1000000000)

struct horn {
    pid_t child;      /* that still runs, 0 for none */
    int64_t begun_ns; /* when it was started */
    bool failed;      /* the last one that ended did so with a failure, or had to be killed */
};

/* Runs the command line with `word` as its last word, unless one still runs; one that has run for
 * HORN_LONGEST_NS is killed with its group first. now_ns is real monotonic time. False where it
 * could not be started, or where the last one failed: something else must sound too. */
bool horn_blow(struct horn *h, const char *line, const char *word, int64_t now_ns);
/* Collects one that has ended. */
void horn_turn(struct horn *h);

#endif
