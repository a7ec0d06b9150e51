#include "record/incident.h"

#include "base/json.h"
#include "base/text.h"
#include "bus/candump.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

#define PIECE_BYTES (256 * 1024)

/* ---- finding the place ---------------------------------------------------------------------- */

/* The stamp of the first line that begins at or behind offset, and where it begins. False where
 * there is none. */
static bool stamp_from(int fd, int64_t offset, int64_t *wall_ns, int64_t *begins)
{
    char part[4096];
    ssize_t n = pread(fd, part, sizeof part, (off_t)offset);
    const char *p = part, *end = part + (n > 0 ? n : 0);
    if (offset > 0) { /* most likely within a line */
        const char *stop = memchr(p, '\n', (size_t)(end - p));
        p = stop ? stop + 1 : end;
    }
    while (p < end) {
        const char *stop = memchr(p, '\n', (size_t)(end - p));
        struct candump_line line;
        if (!stop)
            return false;
        if (!candump_parse(p, (size_t)(stop - p), &line)) {
            *wall_ns = line.frame.wall_ns;
            *begins = offset + (p - part);
            return true;
        }
        p = stop + 1;
    }
    return false;
}

/* Where the lines from wall_ns on begin, by halving: the stamps of a file go up, but for steps of
 * the clock, which cost exactness here and nothing else. */
static int64_t find_offset(int fd, int64_t size, int64_t wall_ns)
{
    int64_t low = 0, high = size, found = size, stamp, begins;
    if (stamp_from(fd, 0, &stamp, &begins) && stamp >= wall_ns)
        return 0;
    while (low < high) {
        int64_t middle = low + (high - low) / 2;
        if (!stamp_from(fd, middle, &stamp, &begins)) {
            high = middle;
        } else if (stamp >= wall_ns) {
            found = begins;
            high = middle;
        } else {
            low = begins > middle ? begins : middle + 1;
        }
    }
    return found;
}

/* The latest plain file that begins before the incident does, and the place in it. */
static void find_start(struct incident *i, const struct store *s)
{
    size_t count;
    struct store_file *all = store_list(s, &count);
    i->number = s->file.number;
    i->offset = 0;
    for (size_t k = count; k-- > 0 && !all[k].packed;) {
        int fd = openat(s->dir_fd, all[k].name, O_RDONLY | O_CLOEXEC);
        if (fd < 0)
            break;
        int64_t stamp, begins;
        bool any = stamp_from(fd, 0, &stamp, &begins);
        i->number = all[k].number;
        i->offset = find_offset(fd, (int64_t)all[k].bytes, i->from_wall_ns);
        close(fd);
        if (any && stamp <= i->from_wall_ns)
            break;
    }
    free(all);
}

/* ---- its files ------------------------------------------------------------------------------ */

static bool write_text(const struct store *s, const char *dir, const char *name, const char *text)
{
    char path[300], part[300];
    if (!text_format(path, sizeof path, "%s/%s", dir, name) ||
        !text_format(part, sizeof part, "%s/%s.part", dir, name))
        return false;
    int fd = openat(s->dir_fd, part, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0640);
    if (fd < 0)
        return false;
    size_t len = strlen(text);
    bool good = write(fd, text, len) == (ssize_t)len && fdatasync(fd) == 0;
    close(fd);
    return good && renameat(s->dir_fd, part, s->dir_fd, path) == 0;
}

static void write_state(const struct incident *i, const struct store *s, bool complete)
{
    char text[600];
    struct json j;
    json_open(&j, text, sizeof text);
    json_string(&j, "name", i->name);
    json_time(&j, "at", i->at.wall_ns);
    json_time(&j, "from", i->from_wall_ns);
    json_time(&j, "to", i->end_wall_ns);
    json_bool(&j, "complete", complete);
    if (json_close(&j))
        (void)write_text(s, i->dir, "incident.json", text);
}

static bool open_out(struct incident *i, const struct store *s)
{
    char path[300];
    if (!text_format(path, sizeof path, "%s/frames.log", i->dir))
        return false;
    i->out = openat(s->dir_fd, path, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0640);
    return i->out >= 0 && store_repair(i->out);
}

bool incident_begin(struct incident *i, const struct store *s, const char *name, struct stamp at,
                    int64_t before_ns, int64_t after_ns, const char *config, struct err *e)
{
    *i = (struct incident){.out = -1, .at = at};
    size_t n = 0;
    for (const char *p = name; *p && n + 1 < sizeof i->name; p++)
        i->name[n++] = isalnum((unsigned char)*p) ? *p : '-';
    i->name[n] = '\0';
    i->from_wall_ns = at.wall_ns - before_ns;
    i->end_wall_ns = at.wall_ns + after_ns;
    i->end_mono_ns = at.mono_ns + after_ns;
    time_t t = (time_t)(at.wall_ns / NS_PER_S);
    struct tm tm = {0};
    char stamp[32];
    gmtime_r(&t, &tm);
    strftime(stamp, sizeof stamp, "%Y%m%dT%H%M%SZ", &tm);
    text_format(i->dir, sizeof i->dir, "incidents/%s-%s", stamp, i->name);
    if (mkdirat(s->dir_fd, "incidents", 0750) != 0 && errno != EEXIST)
        return err_set(e, "cannot make '%s/incidents': %s", s->dir, strerror(errno));
    if (mkdirat(s->dir_fd, i->dir, 0750) != 0 && errno != EEXIST)
        return err_set(e, "cannot make '%s/%s': %s", s->dir, i->dir, strerror(errno));
    if (!open_out(i, s))
        return err_set(e, "cannot write '%s/%s': %s", s->dir, i->dir, strerror(errno));
    if (config)
        (void)write_text(s, i->dir, "stokehold.conf", config);
    find_start(i, s);
    write_state(i, s, false);
    i->running = true;
    return true;
}

void incident_prolong(struct incident *i, const struct store *s, struct stamp at, int64_t after_ns)
{
    i->end_mono_ns = at.mono_ns + after_ns;
    i->end_wall_ns = at.wall_ns + after_ns;
    write_state(i, s, false);
}

bool incident_alert(const struct incident *i, const struct store *s, const char *line)
{
    char path[300];
    return text_format(path, sizeof path, "%s/alerts.jsonl", i->dir) &&
           store_append(s, path, line, NULL);
}

void incident_sync(struct incident *i)
{
    if (i->running && i->unsynced && fdatasync(i->out) == 0)
        i->unsynced = false;
}

void incident_leave(struct incident *i)
{
    incident_sync(i);
    if (i->out >= 0)
        close(i->out);
    i->out = -1;
    i->running = false;
}

/* ---- copying -------------------------------------------------------------------------------- */

static int open_numbered(const struct store *s, uint64_t number)
{
    size_t count;
    struct store_file *all = store_list(s, &count);
    int fd = -1;
    for (size_t k = 0; k < count && fd < 0; k++) {
        if (all[k].number == number && !all[k].packed)
            fd = openat(s->dir_fd, all[k].name, O_RDONLY | O_CLOEXEC);
    }
    free(all);
    return fd;
}

static bool copy_piece(struct incident *i, int from, bool *more)
{
    char *room = malloc(PIECE_BYTES);
    ssize_t n = room ? pread(from, room, PIECE_BYTES, (off_t)i->offset) : -1;
    bool good = n >= 0;
    for (ssize_t done = 0; good && done < n;) {
        ssize_t wrote = write(i->out, room + done, (size_t)(n - done));
        good = wrote > 0;
        if (good) {
            done += wrote;
            i->offset += wrote;
            i->unsynced = true;
        }
    }
    *more = good && n == PIECE_BYTES;
    free(room);
    return good;
}

static void end_incident(struct incident *i, const struct store *s)
{
    incident_leave(i);
    write_state(i, s, true);
}

bool incident_step(struct incident *i, const struct store *s, struct stamp now)
{
    if (!i->running)
        return false;
    bool more = false;
    int from = i->number == s->file.number ? fcntl(s->fd, F_DUPFD_CLOEXEC, 0)
                                           : open_numbered(s, i->number);
    /* what the disk refuses now is tried again at the next turn, from where it stopped */
    bool good = from >= 0 && copy_piece(i, from, &more);
    bool file_ended = good && !more && i->number < s->file.number;
    if (file_ended || (from < 0 && i->number < s->file.number)) {
        i->number++;
        i->offset = 0;
        more = true;
    }
    if (from >= 0)
        close(from);
    if (!more && now.mono_ns >= i->end_mono_ns)
        end_incident(i, s);
    return more;
}

/* ---- after a restart ------------------------------------------------------------------------ */

/* "to" of an incident.json that is not complete; false for any other. */
static bool unfinished(const struct store *s, const char *dir, int64_t *from_ns, int64_t *to_ns)
{
    char path[300], text[600];
    text_format(path, sizeof path, "%s/incident.json", dir);
    int fd = openat(s->dir_fd, path, O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return false;
    ssize_t n = read(fd, text, sizeof text - 1);
    close(fd);
    text[n > 0 ? (size_t)n : 0] = '\0';
    long long from, to;
    const char *from_at = strstr(text, "\"from\":"), *to_at = strstr(text, "\"to\":");
    if (!strstr(text, "\"complete\":false") || !from_at || !to_at ||
        sscanf(from_at + 7, "%lld", &from) != 1 || sscanf(to_at + 5, "%lld", &to) != 1 ||
        from < 0 || to < from || to > 9000000000)
        return false;
    *from_ns = from * NS_PER_S;
    *to_ns = to * NS_PER_S;
    return true;
}

static void restore(struct incident *i, const char *dir, int64_t from_ns, int64_t to_ns,
                    struct stamp now)
{
    *i = (struct incident){.out = -1, .from_wall_ns = from_ns, .end_wall_ns = to_ns};
    text_copy(i->dir, sizeof i->dir, dir);
    const char *dash = strchr(dir, '-');
    text_copy(i->name, sizeof i->name, dash ? dash + 1 : "");
    i->end_mono_ns = now.mono_ns + (to_ns - now.wall_ns);
    i->at = (struct stamp){from_ns + (to_ns - from_ns) / 2, now.mono_ns};
}

static void continue_incident(struct incident *i, const struct store *s, const char *dir,
                              int64_t from_ns, int64_t to_ns, struct stamp now)
{
    restore(i, dir, from_ns, to_ns, now);
    if (!open_out(i, s)) {
        incident_leave(i);
        return;
    }
    i->running = true;
    /* simplest and surest: copied anew, from the files that still have it all */
    if (ftruncate(i->out, 0) == 0)
        find_start(i, s);
}

void incident_resume(struct incident *i, const struct store *s, struct stamp now)
{
    int fd = openat(s->dir_fd, "incidents", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    DIR *d = fd >= 0 ? fdopendir(fd) : NULL;
    if (!d)
        return;
    for (struct dirent *entry; (entry = readdir(d));) {
        char dir[160];
        int64_t from_ns, to_ns;
        if (entry->d_name[0] == '.' ||
            !text_format(dir, sizeof dir, "incidents/%s", entry->d_name) ||
            !unfinished(s, dir, &from_ns, &to_ns))
            continue;
        if (to_ns > now.wall_ns && to_ns - now.wall_ns <= to_ns - from_ns && !i->running) {
            continue_incident(i, s, dir, from_ns, to_ns, now);
            continue;
        }
        struct incident over;
        restore(&over, dir, from_ns, to_ns, now);
        if (open_out(&over, s))
            end_incident(&over, s);
    }
    closedir(d);
}
