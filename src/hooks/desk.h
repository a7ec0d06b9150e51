/* The thread that touches files for the watch, so that the thread that decides never does: the
 * state file, the metrics file, the configuration that was found good, and reading files again.
 * What is to be written is handed over as text; a newer text of the same file takes the place of
 * one that still waits. A disk that stands still stops this thread and nothing else.
 *
 * All but the work itself is called by one thread, and none of it waits, desk_free apart. */
#ifndef STOKEHOLD_HOOKS_DESK_H
#define STOKEHOLD_HOOKS_DESK_H

#include "base/err.h"
#include "base/when.h"

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

enum desk_file {
    DESK_STATE,
    DESK_GOOD_CONFIG,
    DESK_METRICS,
    DESK_FILES
}; /* the order of writing */

struct desk;

struct desk *desk_new(void); /* NULL when memory or threads are out */
/* Waits until all is written, at most patience_ms; what a disk holds up longer is left behind, and
 * memory with it. False, with e, where something was not written, or may not have been. d may be
 * NULL. */
bool desk_free(struct desk *d, int patience_ms, struct err *e);

/* Where a file lies, the mode it gets whatever the umask, and whether it must be on the disk
 * before it counts. path must outlive the desk. Before its first text. */
void desk_place(struct desk *d, enum desk_file f, const char *path, mode_t mode, bool sync);
/* Takes text over, to be freed with free. */
void desk_write(struct desk *d, enum desk_file f, char *text, size_t len);
/* What came of the last text of a file, once for each; false when there is nothing new. */
bool desk_written(struct desk *d, enum desk_file f, bool *good, struct err *e);

/* Runs work(ctx) in the thread. One at a time: false while one is under way or its end was not yet
 * asked for. */
typedef void desk_work(void *ctx);
bool desk_ask(struct desk *d, desk_work *work, void *ctx);
/* True once when the work has been done. */
bool desk_done(struct desk *d);
/* The same, waiting at most patience_ms for it. */
bool desk_wait(struct desk *d, int patience_ms);

/* Mono ns since when the thread has been at one piece of work; 0: it is at none. */
int64_t desk_since(const struct desk *d);
/* For poll with POLLIN: something was written or done since desk_heard was last called. */
int desk_fd(const struct desk *d);
void desk_heard(const struct desk *d);

#endif
