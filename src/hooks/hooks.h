/* Programs run when something befalls an alert ([hook] sections): argv without a shell, the
 * alert's fields in environment variables, a time limit, at most so many at once. The starter runs
 * them (hooks/starter.h) and nothing here waits, so a hook never holds up the watch. What fails is
 * told as a condition, which becomes a caution; the caution about a hook runs no hook. What failed
 * is tried again, after a wait that grows each time, for as long as its setting says; the state
 * file keeps it over a restart.
 *
 * Not thread-safe. Times are of the real monotonic clock. */
#ifndef STOKEHOLD_HOOKS_HOOKS_H
#define STOKEHOLD_HOOKS_HOOKS_H

#include "alerts/alert.h"
#include "bus/condition.h"
#include "config/settings.h"

#include <poll.h>

#define HOOKS_RUNNING_MAX 16             /* of all hooks together */
#define HOOKS_WAITING_MAX 64             /* past that the oldest is dropped, and said so */
#define HOOKS_KILL_NS     (2 * NS_PER_S) /* from SIGTERM to SIGKILL */
#define HOOKS_WORDS_MAX   32
#define HOOKS_AGAIN_NS    (5 * NS_PER_S)   /* until the second attempt; then twice as long */
#define HOOKS_AGAIN_MOST  (600 * NS_PER_S) /* each time, and never longer than this */

struct hooks;

/* settings must outlive the hooks or be replaced. NULL when out of memory. */
struct hooks *hooks_new(const struct settings *settings);
/* Kills what still runs. NULL is allowed. */
void hooks_free(struct hooks *h);
/* Hooks of the same name keep what runs. */
void hooks_reconfigure(struct hooks *h, const struct settings *settings);

/* Looks which hooks the event concerns and queues their runs. */
void hooks_event(struct hooks *h, const struct alert_event *ev);
/* Starts what may start, takes what ended, ends what takes too long. */
void hooks_turn(struct hooks *h, struct stamp now);
/* Nothing more will happen (a log has ended): ends that were held run at the next turn. */
void hooks_last_was_said(struct hooks *h);
/* Milliseconds after which hooks_turn wants to be called again; -1: no matter. */
int hooks_wait_ms(const struct hooks *h);
/* For poll: readable when a program wrote or ended. */
int hooks_fd(const struct hooks *h);
/* How many programs run now. Only tests ask: nothing else shows that as many run at once as may,
 * and that one that hangs is ended. */
int hooks_running(const struct hooks *h);
/* Something runs, or waits for its first attempt. */
bool hooks_busy(const struct hooks *h);

bool hooks_condition(struct hooks *h, struct bus_condition *out);
/* Hears each line that a hook writes. */
typedef void hooks_line(void *ctx, const char *hook, const char *line);
void hooks_listen(struct hooks *h, hooks_line *f, void *ctx);

struct hook_stats {
    uint64_t runs, failures; /* since the start; each attempt counts */
    int64_t good_wall_ns;    /* when it last ended well; 0: never */
    int waiting;             /* runs, for their first or a further attempt */
    bool failed;             /* the last one */
};
void hooks_stats(const struct hooks *h, size_t hook, struct hook_stats *out);

/* A run that failed and waits for its next attempt. */
struct hook_run {
    int hook; /* index in settings.hooks */
    enum alert_event_kind event;
    int attempts;
    struct stamp at;
    int64_t due_ns; /* mono: not before */
    struct alert alert;
};
/* The i-th of those that failed; NULL past the last. */
const struct hook_run *hooks_failed(const struct hooks *h, int i);
/* Takes one up again after a restart; false when there is no hook of that name, or no room. */
bool hooks_restore(struct hooks *h, const char *name, const struct hook_run *run);
/* Goes up when what hooks_failed gives has changed. */
uint64_t hooks_version(const struct hooks *h);

/* Splits a command line at blanks, "..." kept together, into words within buf. Returns their
 * number with argv[n] NULL; 0 for none, too many or an open quote. */
int hooks_split(const char *line, char *buf, size_t cap, char **argv, int max);

#endif
