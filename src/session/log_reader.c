#include "session/log_reader.h"

#include "base/text.h"

#include <poll.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

void log_reader_init(struct log_reader *r, struct source *source)
{
    memset(r, 0, sizeof *r);
    r->source = source;
    r->from_ns = INT64_MIN;
    r->to_ns = INT64_MAX;
}

bool log_reader_open(struct log_reader *r, const char *const *paths, int count, const char *zone,
                     struct err *e)
{
    struct source_options options = {.zone = zone};
    log_reader_init(r, source_open_logs(paths, count, &options, e));
    return r->source != NULL;
}

void log_reader_close(struct log_reader *r)
{
    source_close(r->source);
    r->source = NULL;
}

bool log_reader_rewind(struct log_reader *r)
{
    if (!source_rewind(r->source))
        return false;
    r->named = 0;
    r->begun = r->over = false;
    r->within_count = r->trips = 0;
    r->beyond_ns = 0;
    r->n = r->at = r->count = 0;
    return true;
}

/* ---- reading ---- */

static void begin(struct log_reader *r)
{
    r->begun = true;
    r->first_ns = r->last_ns = r->batch[0].wall_ns;
    if (r->range.has_from)
        r->from_ns = when_resolve(r->range.from, r->first_ns, r->utc);
    if (r->range.has_to)
        r->to_ns = when_resolve(r->range.to, r->first_ns, r->utc);
}

static enum source_state fill(struct log_reader *r, struct err *e)
{
    r->at = r->count = 0;
    enum source_state state = source_read(r->source, r->batch, SOURCE_BATCH, &r->count, e);
    r->made = source_made(r->source);
    for (; r->named < source_iface_count(r->source); r->named++)
        if (r->on_iface)
            r->on_iface(r->ctx, (uint8_t)r->named, source_iface_name(r->source, (uint8_t)r->named));
    if (state == SOURCE_END || state == SOURCE_FAILED)
        r->over = true;
    if (state == SOURCE_READY && !r->begun)
        begin(r);
    r->new_trip = source_stats(r->source)->trips > r->trips;
    r->trips = source_stats(r->source)->trips;
    return state;
}

enum source_state log_reader_next(struct log_reader *r, struct err *e)
{
    r->n = 0;
    r->new_trip = false;
    if (r->over)
        return SOURCE_END;
    if (r->at == r->count) {
        enum source_state state = fill(r, e);
        if (state != SOURCE_READY)
            return state;
    }
    const struct frame *f = r->frames = &r->batch[r->at];
    size_t left = r->count - r->at;
    if (f->wall_ns > r->to_ns) {
        r->beyond_ns = f->wall_ns;
        r->over = true;
        return SOURCE_END;
    }
    r->within = f->wall_ns >= r->from_ns;
    if (!r->range.has_from && !r->range.has_to)
        r->n = left;
    else
        do
            r->n++;
        while (r->n < left && f[r->n].wall_ns <= r->to_ns &&
               (f[r->n].wall_ns >= r->from_ns) == r->within);
    r->at += r->n;
    r->last_ns = f[r->n - 1].wall_ns;
    if (r->within)
        r->within_count += r->n;
    return SOURCE_READY;
}

/* ---- what there is to say of a log ---- */

const char *log_name(char *dst, size_t cap, const char *path)
{
    if (strcmp(path, "-") == 0)
        path = "standard input";
    text_clean(dst, cap, path, strlen(path));
    return dst;
}

static void what_it_is(const struct source_stats *s, char *dst, size_t cap)
{
    const char *first = s->complaint_count > 0 ? s->complaints[0].reason : "";
    unsigned long long lines = s->lines, bad = s->bad_lines;
    if (s->bytes == 0)
        text_copy(dst, cap, "it is empty");
    else if (bad == 0)
        text_copy(dst, cap, s->is_capture ? "a capture without a packet" : "nothing but blanks");
    else if (s->is_capture)
        text_format(dst, cap, "a capture without a frame: %s", first);
    else if (lines == 0) /* nothing could be unpacked */
        text_copy(dst, cap, first);
    else if (strcmp(first, "not text") == 0)
        text_copy(dst, cap, "binary data, and not a capture");
    else
        text_format(dst, cap, "%llu line%s of text, but not of candump (line %llu %s)", lines,
                    lines == 1 ? "" : "s", (unsigned long long)s->complaints[0].line, first);
}

static void log_time(const struct log_reader *r, int64_t wall_ns, char *dst, size_t cap)
{
    if (source_stats(r->source)->clock_known)
        when_date(dst, cap, wall_ns, r->utc);
    else
        when_elapsed(dst, cap, wall_ns - r->first_ns);
}

/* What the log has, where nothing of it was asked for. */
static void what_it_has(const struct log_reader *r, char *dst, size_t cap)
{
    char first[40], last[40], beyond[40];
    log_time(r, r->first_ns, first, sizeof first);
    log_time(r, r->last_ns, last, sizeof last);
    log_time(r, r->beyond_ns, beyond, sizeof beyond);
    if (r->to_ns < r->first_ns)
        text_format(dst, cap, "it begins at %s, after --to", first);
    else if (r->from_ns > r->to_ns)
        text_copy(dst, cap, "--from is after --to");
    else if (r->beyond_ns) /* it was read no further */
        text_format(dst, cap, "it has none from %s to %s", last, beyond);
    else
        text_format(dst, cap, "it has %s to %s", first, last);
}

bool log_reader_nothing(const struct log_reader *r, const char *name, char *dst, size_t cap)
{
    char shown[200], what[200];
    if (!r->over || r->within_count > 0)
        return false;
    if (r->begun)
        what_it_has(r, what, sizeof what);
    else
        what_it_is(source_stats(r->source), what, sizeof what);
    text_format(dst, cap, "%s: %s: %s", log_name(shown, sizeof shown, name),
                r->begun ? "no frame between --from and --to" : "no frame in it", what);
    return true;
}

static void complain(const char *verb, const char *name, const struct source_stats *stats)
{
    for (int i = 0; i < stats->complaint_count; i++) {
        const struct source_complaint *c = &stats->complaints[i];
        if (c->line > 0)
            fprintf(stderr, "%s:%llu: %s\n", name, (unsigned long long)c->line, c->reason);
        else
            fprintf(stderr, "%s: %s\n", name, c->reason);
    }
    if (stats->bad_lines > (uint64_t)stats->complaint_count)
        fprintf(stderr, "%s: %llu more lines are not frames\n", name,
                (unsigned long long)(stats->bad_lines - (uint64_t)stats->complaint_count));
    if (stats->cut > 0)
        fprintf(stderr, "%s: %llu CAN FD frame%s longer than 8 bytes: the rest is not kept\n", name,
                (unsigned long long)stats->cut, stats->cut == 1 ? "" : "s");
    if (stats->frames > 0 && !stats->clock_known)
        fprintf(stderr, "stokehold %s: %s has no clock times; times count from its start\n", verb,
                name);
}

int log_reader_report(const struct log_reader *r, const char *verb, const char *name)
{
    char shown[200], line[500];
    struct source_part part;
    bool several = source_part(r->source, 1, &part);
    for (int i = 0; source_part(r->source, i, &part); i++) {
        log_name(shown, sizeof shown, part.path ? part.path : name);
        if (part.stats.frames > 0) {
            complain(verb, shown, &part.stats);
            if (part.overlaps)
                fprintf(stderr,
                        "%s: begins before the log before it ends: logs are read one after the "
                        "other, not merged\n",
                        shown);
        } else if (several && part.is_empty) {
            what_it_is(&part.stats, line, sizeof line);
            fprintf(stderr, "%s: no frame in it: %s\n", shown, line);
        }
    }
    if (!log_reader_nothing(r, name, line, sizeof line))
        return EXIT_DONE;
    if (!several || r->begun)
        fprintf(stderr, "stokehold %s: %s\n", verb, line);
    return EXIT_SOURCE;
}

int log_reader_run(struct log_reader *r, const char *verb, const char *name,
                   const struct log_taker *taker)
{
    struct err e;
    enum source_state state;
    r->on_iface = taker->iface;
    r->ctx = taker->ctx;
    do {
        state = log_reader_next(r, &e);
        if (state == SOURCE_WAIT) {
            struct pollfd p = {.fd = source_fd(r->source), .events = POLLIN};
            poll(&p, 1, -1);
        }
    } while (state == SOURCE_WAIT || (state == SOURCE_READY && taker->frames(taker->ctx, r)));
    if (state == SOURCE_FAILED) {
        fprintf(stderr, "stokehold %s: %s\n", verb, e.text);
        return EXIT_SOURCE;
    }
    return log_reader_report(r, verb, name);
}
