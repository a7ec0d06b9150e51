/* Where frames come from: one table of functions over log files, captures, standard input and
 * live interfaces. Reading is in batches; what is not a frame is counted, the first few are kept
 * with line number and reason, and nothing stops the reading.
 * Not thread-safe; a source belongs to one reader. */
#ifndef STOKEHOLD_BUS_SOURCE_H
#define STOKEHOLD_BUS_SOURCE_H

#include "base/err.h"
#include "bus/frame.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define SOURCE_IFACES     16  /* interfaces told apart in one source */
#define SOURCE_COMPLAINTS 5   /* bad lines kept with their reason */
#define SOURCE_BATCH      512 /* frames, as many as readers ask for at once */

struct source;

enum source_state {
    SOURCE_READY, /* *n frames were read */
    SOURCE_WAIT,  /* nothing now; poll source_fd */
    SOURCE_END,   /* the log is over */
    SOURCE_FAILED /* e says why; what was read before stays good */
};

struct source_complaint {
    uint64_t line;
    char reason[80];
};

struct source_stats {
    uint64_t frames;      /* handed out, of every sort */
    uint64_t bytes, size; /* read so far; size of the whole, 0 where unknown */
    uint64_t lines, bad_lines;
    uint64_t remote, error_frames, fd, standard; /* of frames: RTR, error, CAN FD, 11-bit */
    uint64_t cut;         /* of fd: had more than the 8 bytes that are kept */
    uint64_t lost_frames; /* the kernel's drop counter, live only */
    uint64_t steps_back, gaps;
    uint64_t trips;   /* begun after the first one: a pause of more than 4 h between two logs */
    bool clock_known; /* false for a log from zero or of differences */
    bool is_capture;
    struct source_complaint complaints[SOURCE_COMPLAINTS];
    int complaint_count;
};

struct source_options {
    const char
        *zone; /* for the date-and-time form: NULL is TZ, else "UTC", "+02:00", a zone name */
};

/* A log file in either candump form, plain or packed by zstd or gzip; a packet capture (pcap,
 * pcapng) of link type CAN_SOCKETCAN; "-" for standard input, which may be any of these. What it
 * is, is found out when it is read, from its first bytes; the form of a text log line by line.
 * Read through a bounded buffer, never mapped: a file that is cut short while it is read must not
 * end the program. A regular file can be rewound; anything else is streamed. Blank lines are
 * passed over. A last line without its end counts only where no data can be missing from it.
 * NULL and e on failure. */
struct source *source_open_log(const char *path, const struct source_options *options,
                               struct err *e);
/* One log or several as one, in the order of their first frames. A directory means
 * the frames of an incident, or else its log files. No batch that is read reaches from one trip
 * into the next (stats.trips). */
struct source *source_open_logs(const char *const *paths, int count,
                                const struct source_options *options, struct err *e);
/* The same over len bytes that must outlive the source: for tests and fuzzing. */
struct source *source_open_memory(const char *text, size_t len,
                                  const struct source_options *options);

/* Reads up to max frames into out. READY comes with *n > 0. */
enum source_state source_read(struct source *s, struct frame *out, size_t max, size_t *n,
                              struct err *e);
/* Back to the first frame; false where the source cannot (standard input, live). Counters restart.
 */
bool source_rewind(struct source *s);
/* Something to be made of each batch, on the thread that reads ahead. */
struct source_helper {
    void *ctx;
    size_t room; /* bytes for what is made: of each batch its own, zero at first */
    void (*make)(void *ctx, const struct frame *f, size_t n, void *room);
};
/* Before the first read, of a source that is then read SOURCE_BATCH at a time and never rewound.
 * False where it does not read ahead, or memory is out. */
bool source_help(struct source *s, const struct source_helper *h);
/* What was made of the frames that were read last, good until the next read; NULL: nothing. */
const void *source_made(const struct source *s);
/* For poll; -1 where reading never waits. */
int source_fd(const struct source *s);
const struct source_stats *source_stats(const struct source *s);
/* Log i of a source of several, in the order they are read; false past the last. Of any other
 * source the first has no path. Complaints are kept with the logs they are of. */
struct source_part {
    const char *path; /* good as long as the source is open */
    bool overlaps;    /* began before the one before it ended */
    bool is_empty;    /* there is no frame in it */
    struct source_stats stats;
};
bool source_part(const struct source *s, int i, struct source_part *out);
/* "can0"; "" for an index that was not handed out. Stripped to printable characters. */
const char *source_iface_name(const struct source *s, uint8_t iface);
int source_iface_count(const struct source *s);
void source_close(struct source *s); /* NULL is allowed */

#endif
