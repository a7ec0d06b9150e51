/* The user's command for sound (`sound = run`): one at a time, without a shell, run by the starter
 * (hooks/starter.h), silent on our terminal. Nothing here waits. */
#ifndef STOKEHOLD_HOOKS_HORN_H
#define STOKEHOLD_HOOKS_HORN_H

#include "hooks/starter.h"

/* One that runs this long will not end by itself; the next alarm must not wait for it. */
#define HORN_LONGEST_NS (INT64_C(10) * 1000000000)

struct horn {
    struct starter *starter; /* NULL: none could be forked */
    int id;                  /* of the one that was started last; 0: none yet */
    bool running;
    int64_t begun_ns; /* when it was started */
    bool failed;      /* the last one that ended did so with a failure, or had to be killed */
};

/* Forks the starter: call before any thread is begun. horn_fini pairs with it. */
void horn_init(struct horn *h);
void horn_fini(struct horn *h);
/* What the command is told: `{priority}` and `{step}` in its words are replaced; where neither
 * stands in any, the priority comes after them as the last word. */
struct horn_call {
    const char *line;
    const char *priority; /* "warning", "alarm", "emergency" */
    int step;             /* from 1: the longer nobody acknowledges, the higher */
};
/* Runs the command, unless one still runs; one that has run for HORN_LONGEST_NS is killed with its
 * group first. now_ns is real monotonic time. False where it could not be started, or where the
 * last one failed: something else must sound too. */
bool horn_blow(struct horn *h, const struct horn_call *call, int64_t now_ns);
/* Takes note of one that has ended; true when it has just failed. */
bool horn_turn(struct horn *h);

#endif
