/* Reads one log from its first frame to its last, batch by batch: the loop of every verb that has
 * nothing else to do meanwhile. A pipe that has no line ready is waited for. */
#ifndef STOKEHOLD_SESSION_READ_LOG_H
#define STOKEHOLD_SESSION_READ_LOG_H

#include "bus/source.h"

struct log_taker {
    void *ctx;
    /* What an interface is called, before its first frame. May be NULL. */
    void (*iface)(void *ctx, uint8_t iface, const char *name);
    /* Frames in log order; false: enough, the rest is not read. */
    bool (*frames)(void *ctx, const struct frame *f, size_t n);
};

/* Opens path ("-" for standard input), hands its frames to the taker and says on stderr, in the
 * name of the verb, what was no frame and why it could not be read. zone as in bus/source.h. The
 * totals go to *stats (may be NULL), zeroed where the log cannot be opened. Returns EXIT_DONE or
 * EXIT_SOURCE. */
int read_log(const char *verb, const char *path, const char *zone, const struct log_taker *taker,
             struct source_stats *stats);

#endif
