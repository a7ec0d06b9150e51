/* What a board shows comes from a feed: a log that is played, a live bus, a `tend` that runs. One
 * table of functions; the loop of the board knows nothing else of them. No call waits, each does a
 * bounded amount of work. */
#ifndef STOKEHOLD_SESSION_FEED_H
#define STOKEHOLD_SESSION_FEED_H

#include "base/err.h"
#include "screen/model.h"
#include "screen/view.h"
#include "session/duties.h"
#include "session/options.h"

struct season_keep; /* session/season_keep.h */

struct feed_kind {
    /* Time went on to `clock`, by elapsed_ns. True when something may look different. */
    bool (*turn)(void *ctx, struct stamp clock, int64_t elapsed_ns);
    /* How long until it wants its next turn, ns of real time: 0 at once, -1 only when fd says so.
     */
    int64_t (*wait_ns)(void *ctx);
    int (*fd)(void *ctx);        /* for poll; -1 where there is nothing to wait for */
    bool (*settling)(void *ctx); /* on its way to another time: nothing is worth drawing */
    void (*fill)(void *ctx, struct model *m);
    /* What the user asked for; a word to the user goes into notice. */
    void (*request)(void *ctx, const struct request *q, char *notice, size_t cap);
    enum alert_sound (*sound)(void *ctx);
    /* Every event of an alert to f, in its own time; NULL for a feed that brings snapshots alone.
     */
    void (*listen)(void *ctx, alert_listener *f, void *listener_ctx);
    const char *(*failed)(void *ctx); /* why it cannot go on, NULL while it can */
    void (*close)(void *ctx);
};

struct feed {
    const struct feed_kind *kind;
    void *ctx;
};

/* What every feed is opened with. Names and settings must outlive it. */
struct feed_options {
    const char *const *names; /* a log, or interfaces, or a socket */
    int count;
    const char *zone;
    struct log_range range;
    double speed; /* of a log; 0: max */
    bool attach;  /* names[0] is the socket of a `tend` */
    const struct settings *settings;
    const struct duties_options *duties; /* of a live bus; NULL: hooks alone */
    struct season_keep *season;          /* of a log or a live bus; NULL: none is kept */
};

bool feed_open_log(struct feed *f, const struct feed_options *o, struct err *e);
bool feed_open_live(struct feed *f, const struct feed_options *o, struct err *e);
/* names[0] is the socket of a `tend` that runs: its channels, histories and alerts. */
bool feed_open_attach(struct feed *f, const struct feed_options *o, struct err *e);
/* By what the names are, or as asked for. */
bool feed_open_any(struct feed *f, const struct feed_options *o, struct err *e);
/* Takes the watch out of a feed of feed_open_live, to go on without it; the feed is closed. Both
 * are allocated by malloc. False for other feeds. */
bool feed_release_live(struct feed *f, struct live **live, struct duties **duties);
/* NULL ctx is allowed. */
void feed_close(struct feed *f);

#endif
