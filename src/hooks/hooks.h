/* Programs run when something befalls an alert ([hook] sections): argv without a shell, the
 * alert's fields in environment variables, a time limit, at most so many at once. Starting one is
 * a posix_spawn and nothing here waits, so a hook never holds up the watch. What fails is told as
 * a condition, which becomes a caution; the caution about a hook runs no hook.
 *
 * Every child is the leader of its own process group, reads /dev/null and writes to our standard
 * error. Not thread-safe. Times are of the real monotonic clock. */
#ifndef STOKEHOLD_HOOKS_HOOKS_H
#define STOKEHOLD_HOOKS_HOOKS_H

#include "alerts/alert.h"
#include "bus/condition.h"
#include "config/settings.h"

#define HOOKS_RUNNING_MAX 16             /* of all hooks together */
#define HOOKS_WAITING_MAX 64             /* past that the oldest is dropped, and said so */
#define HOOKS_KILL_NS     (2 * NS_PER_S) /* from SIGTERM to SIGKILL */
#define HOOKS_WORDS_MAX   32

struct hooks;

/* settings must outlive the hooks or be replaced. NULL when out of memory. */
struct hooks *hooks_new(const struct settings *settings);
/* Kills what still runs. NULL is allowed. */
void hooks_free(struct hooks *h);
/* Hooks of the same name keep what runs. */
void hooks_reconfigure(struct hooks *h, const struct settings *settings);

/* Looks which hooks the event concerns and queues their runs. */
void hooks_event(struct hooks *h, const struct alert_event *ev);
/* Starts what may start, collects what ended, kills what takes too long. */
void hooks_turn(struct hooks *h, struct stamp now);
/* Milliseconds after which hooks_turn wants to be called again; -1: nothing runs or waits. A
 * child's end also raises SIGCHLD. */
int hooks_wait_ms(const struct hooks *h);
int hooks_running(const struct hooks *h);

bool hooks_condition(struct hooks *h, struct bus_condition *out);

/* Splits a command line at blanks, "..." kept together, into words within buf. Returns their
 * number with argv[n] NULL; 0 for none, too many or an open quote. */
int hooks_split(const char *line, char *buf, size_t cap, char **argv, int max);

#endif
