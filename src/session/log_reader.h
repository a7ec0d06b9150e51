/* The one way in for logs: whatever the verb, frames come from here, batch by batch, with the names
 * of interfaces before them, cut to the part that was asked for. A log that pauses is not one that
 * has ended, and one that holds nothing is said to hold nothing. */
#ifndef STOKEHOLD_SESSION_LOG_READER_H
#define STOKEHOLD_SESSION_LOG_READER_H

#include "base/err.h"
#include "base/when.h"
#include "bus/source.h"

/* The part of a log between two moments; open ends where not given. */
struct log_range {
    bool has_from, has_to;
    struct moment from, to;
};

struct log_reader {
    struct source *source;
    struct log_range range;
    bool utc; /* clock times of the range are UTC's */
    /* What an interface is called, before its first frame. on_iface may be NULL. */
    void (*on_iface)(void *ctx, uint8_t iface, const char *name);
    void *ctx;
    int named;
    bool begun, over;
    int64_t first_ns, last_ns; /* wall, of the log's first frame and the newest read */
    int64_t from_ns, to_ns;    /* wall, once begun: all time where not given */
    int64_t beyond_ns;         /* wall, of the frame that lay behind the part asked for; 0: none */
    uint64_t within_count;     /* frames of the part asked for */
    uint64_t trips;
    /* The newest piece: frames[0..n), all before the part asked for or all within it. */
    const struct frame *frames;
    size_t n;
    bool within;
    bool new_trip; /* a trip of its own begins here: another log, more than 4 h later */
    struct frame batch[SOURCE_BATCH];
    size_t at, count;
    const void *made; /* of the batch, by the source's helper (source_made) */
};

/* Logs, directories of logs, or "-" for standard input. False and e on failure. */
bool log_reader_open(struct log_reader *r, const char *const *paths, int count, const char *zone,
                     struct err *e);
/* Over a source that is open already, of any kind; owned by r from now on. */
void log_reader_init(struct log_reader *r, struct source *source);
void log_reader_close(struct log_reader *r);

/* The next piece. READY comes with n > 0; WAIT: poll source_fd; END also where the part asked for
 * has been passed. */
enum source_state log_reader_next(struct log_reader *r, struct err *e);
/* To the first frame again; on_iface tells all names again. False where it cannot be done. */
bool log_reader_rewind(struct log_reader *r);

/* True when the log is over and held nothing of what was asked for; dst then says in one line what
 * it is instead. name: as the user gave it. */
bool log_reader_nothing(const struct log_reader *r, const char *name, char *dst, size_t cap);
/* Says on stderr, in the name of the verb, what was not a frame, and logs that hold nothing.
 * Returns EXIT_DONE, or EXIT_SOURCE where there was nothing of what was asked for. */
int log_reader_report(const struct log_reader *r, const char *verb, const char *name);

/* What a log is called in messages: the path, printable, or "standard input". Returns dst. */
const char *log_name(char *dst, size_t cap, const char *path);

/* For verbs that have nothing else to do meanwhile. */
struct log_taker {
    void *ctx;
    void (*iface)(void *ctx, uint8_t iface, const char *name); /* may be NULL */
    /* One piece, in log order; false: enough, the rest is not read. */
    bool (*frames)(void *ctx, const struct log_reader *r);
};
/* Reads to the end, or as far as the taker wants, and waits where there is nothing yet. Then says
 * on stderr what log_reader_report says and why reading failed. Returns EXIT_DONE or EXIT_SOURCE;
 * the caller closes r, which may be asked until then. */
int log_reader_run(struct log_reader *r, const char *verb, const char *name,
                   const struct log_taker *taker);

#endif
