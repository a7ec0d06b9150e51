/* A watch that goes on: frames from live interfaces or a log through a keeper, with what the bus
 * itself says made into alerts. `tend` and the live board stand on it. One thread; every call
 * does a bounded amount of work and none waits. */
#ifndef STOKEHOLD_SESSION_LIVE_H
#define STOKEHOLD_SESSION_LIVE_H

#include "keeper/keeper.h"
#include "bus/condition.h"
#include "session/log_reader.h"

#define LIVE_FRAMES_A_TURN 20000

/* Sees every batch before the rules do (the record). */
typedef void live_tap(void *ctx, const struct frame *f, size_t n);

struct live {
    struct log_reader reader;
    struct source *source; /* the reader's */
    struct keeper *keeper;
    uint64_t taken; /* frames that the rules have seen */
    bool is_live;   /* interfaces: time goes on without frames */
    bool ended;     /* the log is over */
    bool failed;    /* error says why */
    struct err error;
    struct stamp now; /* of the rules: the clock, or the newest frame of a log */
    void (*on_name)(void *ctx, uint8_t iface, const char *name); /* may be NULL */
    live_tap *tap;                                               /* may be NULL */
    /* Of a log: may n more frames be taken now? NULL: always. A bus is never asked. */
    bool (*may_read)(void *ctx, size_t n);
    bool waits; /* the last turn was told that they may not: try again a little later */
    /* Every so often in the rules' time, whatever the pieces that frames come in; 0: never. */
    int64_t every_ns;
    void (*on_every)(void *every_ctx, struct stamp at);
    void *every_ctx;
    int64_t next_ns; /* mono; when on_every is due */
    void *ctx;
};

/* All names are interfaces, or one is a log ("-" for standard input). settings must outlive it.
 * False and e on failure. */
bool live_open(struct live *l, const char *const *names, int count, const char *zone,
               const struct settings *settings, bool escalate, struct err *e);
void live_close(struct live *l); /* good after a failed live_open */

/* Takes what is there, at most about max_frames, then lets time go on to `clock` where it is
 * live. True when there was something. */
bool live_turn(struct live *l, struct stamp clock, size_t max_frames);
/* Before the end: what the kernel had received by now is watched and recorded too, and nothing
 * after it. Returns the clock of its last turn. */
struct stamp live_drain(struct live *l);
/* For poll; -1 where reading never waits. */
int live_fd(const struct live *l);
/* A condition of the bus, the record, a hook: becomes an alert of kind `bus` or `self`, or ends
 * one.
 */
void live_condition(struct live *l, const struct bus_condition *c);

#endif
