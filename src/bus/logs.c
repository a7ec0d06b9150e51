/* Several logs read as one: a directory's files, the hours of a day, in the order of their first
 * frames. One is open at a time; interfaces go by their names, and time by one clock. */
#include "bus/source.h"

#include "base/text.h"
#include "bus/ahead.h"
#include "bus/source_kind.h"
#include "bus/zone.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

#define TRIP_GAP (4 * 3600 * NS_PER_S) /* a longer pause between two logs parts two trips */

struct part {
    char *path;
    int64_t first_ns; /* wall */
    struct source_part known;
};

struct logs {
    struct source_options options;
    struct part *parts;
    size_t count, room;
    size_t at;          /* the one that is read */
    struct source *now; /* NULL between two */
    bool begun;
    int64_t last_ns;          /* wall, of the newest frame */
    struct source_stats done; /* of those that were read to their end */
};

/* A log that is to be read through: ahead, where a second processor can. Times of a named zone are
 * worked out by the library with that zone set for the whole program, which a thread must not do.
 */
static struct source *open_log(const char *path, const struct source_options *options,
                               struct err *e)
{
    struct zone z;
    bool calm = zone_init(&z, options ? options->zone : NULL, NULL) && !z.name[0];
    struct source *s = source_open_log(path, options, e);
    return calm && ahead_is_worthwhile() ? source_ahead(s) : s;
}

/* ---- which files ---- */

static bool add_part(struct logs *l, const char *path, struct err *e)
{
    if (l->count == l->room) {
        size_t room = l->room ? 2 * l->room : 32;
        struct part *more = realloc(l->parts, room * sizeof *more);
        if (!more)
            return err_set(e, "out of memory");
        l->parts = more;
        l->room = room;
    }
    struct part *p = &l->parts[l->count];
    *p = (struct part){.path = strdup(path)};
    if (!p->path)
        return err_set(e, "out of memory");
    p->known.path = p->path;
    l->count++;
    return true;
}

static bool is_log_name(const char *name)
{
    static const char *const ends[] = {".log", ".pcap", ".pcapng"}, *const packed[] = {"", ".zst",
                                                                                       ".gz"};
    size_t len = strlen(name);
    for (size_t i = 0; i < 3; i++)
        for (size_t k = 0; k < 3; k++) {
            size_t n = strlen(ends[i]), m = strlen(packed[k]);
            if (len > n + m && strcmp(name + len - m, packed[k]) == 0 &&
                memcmp(name + len - m - n, ends[i], n) == 0)
                return true;
        }
    return false;
}

static bool is_directory(const char *path)
{
    struct stat st;
    return stat(path, &st) == 0 && S_ISDIR(st.st_mode);
}

/* An incident of the record is a directory whose frames.log is meant; any other directory means
 * its log files. */
static bool add_directory(struct logs *l, const char *dir, struct err *e)
{
    static const char *const incident[] = {"frames.log", "frames.log.zst"};
    char path[4096], shown[200];
    for (size_t i = 0; i < sizeof incident / sizeof incident[0]; i++)
        if (text_format(path, sizeof path, "%s/%s", dir, incident[i]) &&
            (access(path, F_OK) == 0 || errno == EACCES))
            return add_part(l, path, e);
    text_clean(shown, sizeof shown, dir, strlen(dir));
    DIR *d = opendir(dir);
    if (!d)
        return err_set(e, "cannot read '%s': %s", shown, strerror(errno));
    size_t before = l->count;
    bool good = true;
    const struct dirent *entry;
    while (good && (entry = readdir(d)))
        if (is_log_name(entry->d_name) &&
            text_format(path, sizeof path, "%s/%s", dir, entry->d_name) && !is_directory(path))
            good = add_part(l, path, e);
    closedir(d);
    if (good && l->count == before)
        good = err_set(e, "'%s' is a directory without a log file (.log, .pcap, .pcapng)", shown);
    return good;
}

/* ---- in which order ---- */

static int by_time(const void *a, const void *b)
{
    const struct part *p = a, *q = b;
    if (p->known.is_empty != q->known.is_empty)
        return p->known.is_empty - q->known.is_empty;
    if (p->first_ns != q->first_ns)
        return p->first_ns < q->first_ns ? -1 : 1;
    return strcmp(p->path, q->path);
}

/* Reads up to the first frame. */
static bool look_into(struct logs *l, struct part *p, struct err *e)
{
    char shown[200];
    struct frame f;
    size_t n = 0;
    struct source *s = source_open_log(p->path, &l->options, e);
    enum source_state state = s ? source_read(s, &f, 1, &n, e) : SOURCE_FAILED;
    if (state == SOURCE_READY) {
        p->first_ns = f.wall_ns;
        if (!source_rewind(s))
            state = SOURCE_WAIT;
    }
    text_clean(shown, sizeof shown, p->path, strlen(p->path));
    if (state == SOURCE_WAIT)
        err_set(e, "'%s' cannot be read together with other logs: it is not a file", shown);
    p->known.is_empty = state == SOURCE_END;
    if (p->known.is_empty)
        p->known.stats = *source_stats(s);
    l->done.size += s ? source_stats(s)->size : 0;
    source_close(s);
    return state == SOURCE_READY || state == SOURCE_END;
}

/* ---- reading ---- */

static void add_stats(struct source_stats *to, const struct source_stats *s)
{
    to->bytes += s->bytes;
    to->lines += s->lines;
    to->bad_lines += s->bad_lines;
    to->clock_known &= s->clock_known;
    to->is_capture |= s->is_capture;
}

/* What was counted so far; frames, their sorts and gaps are counted by source_read. */
static void tell_stats(struct source *s)
{
    const struct logs *l = s->state;
    struct source_stats sum = l->done;
    if (l->now)
        add_stats(&sum, source_stats(l->now));
    s->stats.size = sum.size;
    s->stats.bytes = sum.bytes;
    s->stats.lines = sum.lines;
    s->stats.bad_lines = sum.bad_lines;
    s->stats.clock_known = sum.clock_known;
    s->stats.is_capture = sum.is_capture;
}

static void end_part(struct logs *l)
{
    struct part *p = &l->parts[l->at++];
    p->known.stats = *source_stats(l->now);
    add_stats(&l->done, &p->known.stats);
    source_close(l->now);
    l->now = NULL;
}

/* The frames of one part onto the clock and among the interfaces of all. */
static size_t take_over(struct source *s, struct frame *f, size_t n)
{
    struct logs *l = s->state;
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        const char *name = source_iface_name(l->now, f[i].iface);
        int iface = source_iface_index(s, name, strlen(name));
        if (iface < 0) { /* counted with the frames that could not be read */
            l->done.bad_lines++;
            continue;
        }
        f[kept] = f[i];
        f[kept].iface = (uint8_t)iface;
        f[kept].flags &= (uint8_t) ~(FRAME_GAP | FRAME_HOLE);
        source_stamp(s, &f[kept++]);
    }
    if (kept > 0)
        l->last_ns = f[kept - 1].wall_ns;
    return kept;
}

static bool begin_part(struct source *s, struct err *e)
{
    struct logs *l = s->state;
    struct part *p = &l->parts[l->at];
    l->now = open_log(p->path, &l->options, e);
    if (!l->now)
        return false;
    p->known.overlaps = l->begun && p->first_ns < l->last_ns;
    if (l->begun && p->first_ns - l->last_ns > TRIP_GAP)
        s->stats.trips++;
    l->begun = true;
    return true;
}

static enum source_state logs_read(struct source *s, struct frame *out, size_t max, size_t *n,
                                   struct err *e)
{
    struct logs *l = s->state;
    enum source_state state = SOURCE_READY;
    while (*n == 0 && state == SOURCE_READY) {
        if (!l->now && (l->at == l->count || l->parts[l->at].known.is_empty))
            state = SOURCE_END;
        else if (!l->now && !begin_part(s, e))
            state = SOURCE_FAILED;
        if (state != SOURCE_READY)
            break;
        state = source_read(l->now, out, max, n, e);
        *n = take_over(s, out, *n);
        if (state == SOURCE_END) {
            end_part(l);
            state = SOURCE_READY;
        }
    }
    tell_stats(s);
    return state;
}

static bool logs_rewind(struct source *s)
{
    struct logs *l = s->state;
    source_close(l->now);
    l->now = NULL;
    l->at = 0;
    l->begun = false;
    l->done = (struct source_stats){.size = l->done.size, .clock_known = true};
    for (size_t i = 0; i < l->count; i++)
        if (l->parts[i].known.is_empty)
            add_stats(&l->done, &l->parts[i].known.stats);
    return true;
}

static bool logs_part(const struct source *s, int i, struct source_part *out)
{
    const struct logs *l = s->state;
    if (i < 0 || (size_t)i >= l->count)
        return false;
    *out = l->parts[i].known;
    if (l->now && (size_t)i == l->at)
        out->stats = *source_stats(l->now);
    return true;
}

static void logs_close(struct source *s)
{
    struct logs *l = s->state;
    source_close(l->now);
    for (size_t i = 0; i < l->count; i++)
        free(l->parts[i].path);
    free(l->parts);
    free(l);
}

static const struct source_kind logs_kind = {
    .read = logs_read, .rewind = logs_rewind, .part = logs_part, .close = logs_close};

static bool gather(struct logs *l, const char *const *paths, int count, struct err *e)
{
    bool good = true;
    for (int i = 0; i < count && good; i++) {
        if (strcmp(paths[i], "-") == 0)
            good = err_set(e, "standard input cannot be read together with other logs");
        else if (is_directory(paths[i]))
            good = add_directory(l, paths[i], e);
        else
            good = add_part(l, paths[i], e);
    }
    return good;
}

static bool put_in_order(struct logs *l, struct err *e)
{
    bool good = true;
    for (size_t i = 0; i < l->count && good; i++)
        good = look_into(l, &l->parts[i], e);
    if (good)
        qsort(l->parts, l->count, sizeof l->parts[0], by_time);
    return good;
}

struct source *source_open_logs(const char *const *paths, int count,
                                const struct source_options *options, struct err *e)
{
    if (count == 1 && !is_directory(paths[0]))
        return open_log(paths[0], options, e);
    struct logs *l = calloc(1, sizeof *l);
    struct source *s = l ? source_new(&logs_kind, l) : NULL;
    if (!s) {
        free(l);
        err_set(e, "out of memory");
        return NULL;
    }
    if (options)
        l->options = *options;
    bool good = gather(l, paths, count, e);
    if (good && l->count == 1) { /* nothing to join: all that one file can do */
        struct source *one = open_log(l->parts[0].path, options, e);
        source_close(s);
        return one;
    }
    if (!good || !put_in_order(l, e)) {
        source_close(s);
        return NULL;
    }
    (void)logs_rewind(s);
    tell_stats(s);
    return s;
}
