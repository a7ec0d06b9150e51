/* The user's command for sound (`sound = run`): one at a time, without a shell, in its own process
 * group, silent on our terminal. Nothing here waits. */
#ifndef STOKEHOLD_HOOKS_HORN_H
#define STOKEHOLD_HOOKS_HORN_H

#include <stdbool.h>
#include <sys/types.h>

struct horn {
    pid_t child; /* that still runs, 0 for none */
};

/* Runs the command line with `word` as its last word, unless one still runs. False where it could
 * not be started. */
bool horn_blow(struct horn *h, const char *line, const char *word);
/* Collects one that has ended. */
void horn_turn(struct horn *h);

#endif
