/* What a program of [hook] was told last of each situation, so that one that comes and goes (a
 * loose plug) does not run it every few seconds: within `not again within` the same news is not
 * told again, and an end is held until that time has passed, or dropped when it comes back before.
 * What is new is never held: a first raise, a higher priority, an acknowledgement; nor the end of
 * an alarm on trial. Bounded; pure, time is an argument. */
#ifndef STOKEHOLD_HOOKS_CALM_H
#define STOKEHOLD_HOOKS_CALM_H

#include "alerts/alert.h"

#define CALM_MAX 64 /* pairs of hook and situation; then the oldest is forgotten */

struct calm {
    struct calm_told {
        int hook;
        struct situation situation;
        enum alert_event_kind event;
        enum priority priority;
        int64_t at_ns; /* mono; 0: free */
    } told[CALM_MAX];
};

enum calm_answer { CALM_RUN, CALM_DROP, CALM_HOLD };

/* What is to become of a run of this hook for this event; with CALM_HOLD, *due_ns is from when on
 * it may run. What is to run, now or then, counts as told. */
enum calm_answer calm_ask(struct calm *c, int hook, const struct alert_event *ev, int64_t within_ns,
                          int64_t now_ns, int64_t *due_ns);

#endif
