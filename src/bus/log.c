/* Text logs as a source: lines out of a bounded buffer, the stamps of each form made into time. */
#include "bus/source.h"

#include "base/text.h"
#include "bus/bytes.h"
#include "bus/capture.h"
#include "bus/source_kind.h"
#include "bus/zone.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define BUFFER_BYTES (256 * 1024)

/* candump writes the same three digits for time from zero and for differences. Only the course of
 * the stamps tells: time from zero hardly ever goes back, differences go down every other time. */
#define LOOK_AHEAD_LINES 64

enum relative { RELATIVE_UNKNOWN, RELATIVE_FROM_ZERO, RELATIVE_DIFFERENCE };

struct log {
    struct bytes *in; /* NULL: all of it is in text already */
    char *buffer;     /* owned; NULL for memory */
    const char *text;
    size_t cap, begin, end; /* text[begin..end) is to be read */
    bool ended;             /* nothing comes after end */
    bool begun;             /* the first bytes were looked at */
    bool skipping;          /* within a line longer than the buffer */
    bool complained;        /* about packed data */
    bool after_error_frame; /* a line that begins with a tab explains it */
    enum relative relative;
    int64_t difference_sum_ns;
    struct candump_quick quick;
    struct zone zone;
};

/* Moves what is left to the front and reads after it. READY when there is more than before. */
static enum bytes_state refill(struct log *log, struct err *e)
{
    if (log->ended)
        return BYTES_END;
    size_t kept = log->end - log->begin;
    memmove(log->buffer, log->buffer + log->begin, kept);
    log->begin = 0;
    log->end = kept;
    size_t got;
    enum bytes_state state = bytes_fill(log->in, log->buffer + kept, log->cap - kept, &got, e);
    log->end += got;
    if (state == BYTES_END)
        log->ended = true;
    return state;
}

struct line {
    const char *text;
    size_t len;
    bool cut; /* the input ended without ending the line */
};

/* The next line, its end taken off. A line longer than the buffer is passed over and counted. */
static enum bytes_state next_line(struct source *s, struct line *line, struct err *e)
{
    struct log *log = s->state;
    size_t looked = 0;
    for (;;) {
        const char *from = log->text + log->begin;
        size_t len = log->end - log->begin;
        const char *stop = len > looked ? memchr(from + looked, '\n', len - looked) : NULL;
        if (stop && log->skipping) {
            log->begin += (size_t)(stop - from) + 1;
            log->skipping = false;
            looked = 0;
            continue;
        }
        if (stop || (log->ended && len > 0 && !log->skipping)) {
            line->cut = !stop;
            line->text = from;
            line->len = stop ? (size_t)(stop - from) : len;
            log->begin += line->len + (stop ? 1 : 0);
            if (line->len > 0 && line->text[line->len - 1] == '\r')
                line->len--;
            s->stats.lines++;
            return BYTES_READY;
        }
        if (log->ended) {
            log->begin = log->end;
            const char *complaint = log->in ? bytes_complaint(log->in) : NULL;
            if (complaint && !log->complained)
                source_complain(s, s->stats.lines, complaint);
            log->complained = true;
            return BYTES_END;
        }
        looked = len;
        if (log->skipping || len == log->cap) {
            if (!log->skipping) {
                s->stats.lines++;
                source_complain(s, s->stats.lines, "line is far longer than any frame");
            }
            log->skipping = true;
            log->begin = log->end;
            looked = 0;
        }
        enum bytes_state state = refill(log, e);
        if (state == BYTES_WAIT || state == BYTES_FAILED)
            return state;
    }
}

/* Looks at the stamps from the buffer's next line on. False: too few lines are there yet. */
static bool decide_relative(struct log *log)
{
    const char *p = log->text + log->begin, *end = log->text + log->end;
    int64_t before = -1;
    int lines = 0, up = 0, down = 0;
    while (p < end && lines < LOOK_AHEAD_LINES) {
        const char *stop = memchr(p, '\n', (size_t)(end - p));
        if (!stop)
            break;
        size_t len = (size_t)(stop - p);
        struct candump_line line;
        const char *reason = candump_parse(p, len > 0 && p[len - 1] == '\r' ? len - 1 : len, &line);
        if (!reason && line.stamp == CANDUMP_RELATIVE) {
            up += before >= 0 && line.frame.wall_ns > before;
            down += before >= 0 && line.frame.wall_ns < before;
            before = line.frame.wall_ns;
        }
        lines++;
        p = stop + 1;
    }
    bool room = log->end - log->begin < log->cap;
    if (lines < LOOK_AHEAD_LINES && !log->ended && room)
        return false;
    log->relative = 4 * down > up + down ? RELATIVE_DIFFERENCE : RELATIVE_FROM_ZERO;
    return true;
}

/* Turns the stamp as written into nanoseconds since the epoch, or since the log's zero. */
static void resolve_stamp(struct source *s, struct candump_line *line)
{
    struct log *log = s->state;
    int64_t written = line->frame.wall_ns;
    switch (line->stamp) {
    case CANDUMP_EPOCH:
        break;
    case CANDUMP_LOCAL:
        line->frame.wall_ns =
            zone_to_epoch(&log->zone, written / NS_PER_S) * NS_PER_S + written % NS_PER_S;
        break;
    case CANDUMP_RELATIVE:
        s->stats.clock_known = false;
        if (log->relative == RELATIVE_DIFFERENCE) {
            if (log->difference_sum_ns < INT64_MAX / 2) /* 146 years */
                log->difference_sum_ns += written;
            line->frame.wall_ns = log->difference_sum_ns;
        }
        break;
    }
}

static bool is_blank(const struct line *line)
{
    for (size_t i = 0; i < line->len; i++) {
        if (line->text[i] != ' ' && line->text[i] != '\t')
            return false;
    }
    return true;
}

static bool is_text(const struct line *line)
{
    for (size_t i = 0; i < line->len; i++) {
        unsigned char c = (unsigned char)line->text[i];
        if (c < 0x20 && c != '\t')
            return false;
    }
    return true;
}

enum taken { TAKEN_FRAME, TAKEN_NOTHING, TAKEN_NEEDS_MORE };

static enum taken take_line(struct source *s, const struct line *line, struct frame *out)
{
    struct log *log = s->state;
    if (is_blank(line))
        return TAKEN_NOTHING;
    if (log->after_error_frame && line->text[0] == '\t')
        return TAKEN_NOTHING;
    struct candump_line read;
    const char *reason = candump_parse(line->text, line->len, &read);
    if (!reason && read.stamp == CANDUMP_RELATIVE && log->relative == RELATIVE_UNKNOWN) {
        size_t after = log->begin;
        log->begin = (size_t)(line->text - log->text);
        if (!decide_relative(log))
            return TAKEN_NEEDS_MORE;
        log->begin = after;
    }
    if (!reason && line->cut && !read.whole)
        reason = "the last line is cut short";
    int iface = reason ? -1 : source_iface_index(s, read.iface, read.iface_len);
    if (!reason && iface < 0)
        reason = "one interface more than can be told apart";
    if (reason) {
        source_complain(s, s->stats.lines, is_text(line) ? reason : "not text");
        return TAKEN_NOTHING;
    }
    resolve_stamp(s, &read);
    *out = read.frame;
    out->iface = (uint8_t)iface;
    source_stamp(s, out);
    log->after_error_frame = out->flags & FRAME_ERROR;
    char name[CANDUMP_NAME_MAX + 1] = "";
    memcpy(name, read.iface, read.iface_len);
    candump_quick_learn(&log->quick, (uint8_t)iface, name);
    return TAKEN_FRAME;
}

/* The plain lines at the front of the buffer, as many as there are. */
static size_t read_quickly(struct source *s, struct frame *out, size_t max)
{
    struct log *log = s->state;
    if (log->skipping || log->end - log->begin < CANDUMP_QUICK_ROOM)
        return 0;
    const char *p = log->text + log->begin;
    const char *last = log->text + log->end - CANDUMP_QUICK_ROOM;
    size_t n = 0;
    while (n < max && p <= last) {
        size_t used = candump_quick_read(&log->quick, p, &out[n]);
        if (used == 0)
            break;
        source_stamp(s, &out[n]);
        p += used;
        n++;
    }
    log->begin = (size_t)(p - log->text);
    s->stats.lines += n;
    if (n > 0)
        log->after_error_frame = false;
    return n;
}

/* Looks at the first bytes, as many as tell: a capture is read by another reader from here on. */
static enum bytes_state begin(struct source *s, struct err *e)
{
    struct log *log = s->state;
    while (log->in && !log->ended && log->end < CAPTURE_FIRST) {
        enum bytes_state state = refill(log, e);
        if (state == BYTES_WAIT || state == BYTES_FAILED)
            return state;
    }
    log->begun = true;
    if (!log->in || !capture_recognize(log->text, log->end))
        return BYTES_READY;
    if (!capture_become(s, log->in, log->text, log->end, e))
        return BYTES_FAILED;
    free(log->buffer);
    free(log);
    return BYTES_READY;
}

static enum source_state state_of(enum bytes_state state)
{
    return state == BYTES_WAIT     ? SOURCE_WAIT
           : state == BYTES_READY  ? SOURCE_READY
           : state == BYTES_FAILED ? SOURCE_FAILED
                                   : SOURCE_END;
}

static enum source_state log_read(struct source *s, struct frame *out, size_t max, size_t *n,
                                  struct err *e)
{
    struct log *log = s->state;
    enum bytes_state state = BYTES_READY;
    if (!log->begun) {
        state = begin(s, e);
        if (state != BYTES_READY)
            return state_of(state);
        if (s->stats.is_capture)
            return s->kind->read(s, out, max, n, e);
    }
    while (*n < max) {
        *n += read_quickly(s, out + *n, max - *n);
        if (*n == max)
            break;
        struct line line;
        state = next_line(s, &line, e);
        if (state != BYTES_READY)
            break;
        enum taken taken = take_line(s, &line, &out[*n]);
        if (taken == TAKEN_FRAME) {
            ++*n;
        } else if (taken == TAKEN_NEEDS_MORE) {
            s->stats.lines--;
            state = refill(log, e);
            if (state == BYTES_WAIT || state == BYTES_FAILED)
                break;
        }
    }
    /* begin() frees it for a capture alone, and that has returned above.
     * NOLINTNEXTLINE(clang-analyzer-unix.Malloc) */
    s->stats.bytes = log->in ? bytes_read(log->in) : log->begin;
    return *n > 0 ? SOURCE_READY : state_of(state);
}

static bool log_rewind(struct source *s)
{
    struct log *log = s->state;
    if (log->in) {
        if (!bytes_rewind(log->in))
            return false;
        log->end = 0;
        log->ended = false;
    }
    log->begin = 0;
    log->complained = false;
    log->skipping = false;
    log->after_error_frame = false;
    log->relative = RELATIVE_UNKNOWN;
    log->difference_sum_ns = 0;
    return true;
}

static int log_fd(const struct source *s)
{
    const struct log *log = s->state;
    return log->in ? bytes_fd(log->in) : -1;
}

static void log_close(struct source *s)
{
    struct log *log = s->state;
    bytes_close(log->in);
    free(log->buffer);
    free(log);
}

static const struct source_kind log_kind = {
    .read = log_read, .rewind = log_rewind, .fd = log_fd, .close = log_close};

static struct source *open_log(struct bytes *in, const struct source_options *options,
                               struct err *e)
{
    struct log *log = calloc(1, sizeof *log);
    struct source *s = log ? source_new(&log_kind, log) : NULL;
    if (!s) {
        free(log);
        bytes_close(in);
        err_set(e, "out of memory");
        return NULL;
    }
    log->in = in;
    if (!zone_init(&log->zone, options ? options->zone : NULL, e)) {
        source_close(s);
        return NULL;
    }
    return s;
}

struct source *source_open_log(const char *path, const struct source_options *options,
                               struct err *e)
{
    struct bytes *in = bytes_open(path, e);
    if (!in)
        return NULL;
    struct source *s = open_log(in, options, e);
    if (!s)
        return NULL;
    struct log *log = s->state;
    log->buffer = malloc(BUFFER_BYTES);
    if (!log->buffer) {
        source_close(s);
        err_set(e, "out of memory");
        return NULL;
    }
    log->text = log->buffer;
    log->cap = BUFFER_BYTES;
    s->stats.size = bytes_size(in);
    return s;
}

struct source *source_open_memory(const char *text, size_t len,
                                  const struct source_options *options)
{
    struct source *s = open_log(NULL, options, NULL);
    if (!s)
        return NULL;
    struct log *log = s->state;
    log->text = text;
    log->end = log->cap = len;
    log->ended = true;
    s->stats.size = len;
    return s;
}
