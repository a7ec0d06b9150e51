/* A log played through a keeper at a chosen speed: paused, stepped, moved in both ways. Moving back
 * means reading again from the first frame, as fast as can be. Acknowledgements are remembered with
 * the log's time and given again when it is passed once more. Time comes as an argument; nothing
 * here waits, every call does a bounded amount of work. */
#ifndef STOKEHOLD_SESSION_REPLAY_H
#define STOKEHOLD_SESSION_REPLAY_H

#include "keeper/keeper.h"
#include "screen/meter.h"
#include "screen/model.h"
#include "session/log_reader.h"

#define REPLAY_ACKS  128
#define SCAN_HOTTEST 512

struct replay_ack {
    uint32_t id;
    int64_t mono_ns;
    bool silence;
};

struct replay {
    const char *path;
    const struct settings *settings;
    struct log_reader reader;
    struct keeper *keeper;
    alert_listener *listener; /* told of every event; NULL: nobody is */
    void *listener_ctx;
    struct meter meter;
    double speed; /* log seconds a second; 0: as fast as can be */
    bool paused, ended, started, can_rewind, failed;
    bool starved;     /* the source had nothing to read when last asked */
    struct err error; /* why it failed */
    struct stamp now; /* how far the log was played */
    double owed_ns;   /* log time that passed but was not played yet */
    bool seeking;     /* to seek_wall_ns, without regard to speed */
    int64_t seek_wall_ns;
    const struct frame *batch; /* of the reader */
    size_t count, at;
    struct replay_ack acks[REPLAY_ACKS]; /* in order of time */
    size_t ack_count, ack_next;
};

/* Opens the log. settings must outlive it. False with e. */
bool replay_open(struct replay *r, const char *path, const char *zone,
                 const struct settings *settings, const struct log_range *range, struct err *e);
void replay_close(struct replay *r);
/* Before the first frame is played. */
void replay_listen(struct replay *r, alert_listener *f, void *ctx);

/* Real time went on by elapsed_ns: plays what is due, at most about max_frames. True when anything
 * was played. */
bool replay_advance(struct replay *r, int64_t elapsed_ns, size_t max_frames);
/* Whether it could go on at once; otherwise how long, in real time, until the next frame is due
 * (-1: nothing to wait for but the log itself). */
bool replay_busy(const struct replay *r);
int64_t replay_wait_ns(const struct replay *r);
/* Goes to a wall time, back or on. False where the log cannot be rewound. */
bool replay_seek(struct replay *r, int64_t wall_ns);
void replay_acknowledge(struct replay *r, uint32_t id);
void replay_silence(struct replay *r);

/* Reads the whole log ahead, a piece at each call, to know how long it is and where alerts lie. */
struct scan {
    struct log_reader reader;
    struct keeper *keeper;
    int64_t first_ns, last_ns; /* wall */
    bool any, going, done;
    struct model_mark marks[MODEL_MARKS];
    size_t count;
    float hottest[SCAN_HOTTEST]; /* the hottest exhaust, once done; NaN where none was heard */
    int hottest_count;
    double limit;
};

bool scan_open(struct scan *s, const char *path, const char *zone, const struct settings *settings);
/* True while there is more to read. */
bool scan_step(struct scan *s, size_t max_frames);
void scan_close(struct scan *s);

#endif
