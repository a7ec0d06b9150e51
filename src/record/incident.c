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

/* The stamp of the first line that begins at or after offset, and where it begins. False where
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

static void write_state(struct incident *i, const struct store *s, bool complete)
{
    char text[900], waiting[16 + 12 * INCIDENT_ALARMS] = "[";
    struct json j;
    for (int k = 0; k < i->waiting_count; k++)
        text_append(waiting, sizeof waiting, "%s%u", k ? "," : "", (unsigned)i->waiting[k]);
    text_append(waiting, sizeof waiting, "]");
    json_open(&j, text, sizeof text);
    json_string(&j, "format", "stokehold incident");
    json_integer(&j, "version", 2); /* 1 had no format, alarms and waiting */
    json_string(&j, "name", i->name);
    json_time(&j, "at", i->at.wall_ns);
    json_time(&j, "from", i->from_wall_ns);
    json_time(&j, "to", i->end_wall_ns);
    json_bool(&j, "complete", complete);
    json_integer(&j, "alarms", i->alarms);
    json_raw(&j, "waiting", waiting);
    i->missed |= !json_close(&j) || !write_text(s, i->dir, "incident.json", text);
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
        i->missed |= !write_text(s, i->dir, "stokehold.conf", config);
    find_start(i, s);
    write_state(i, s, false);
    i->running = true;
    return true;
}

void incident_alarm(struct incident *i, const struct store *s, uint32_t alert)
{
    for (int k = 0; k < i->waiting_count; k++)
        if (i->waiting[k] == alert)
            return; /* it was raised, and has grown */
    i->alarms++;
    if (i->waiting_count < INCIDENT_ALARMS)
        i->waiting[i->waiting_count++] = alert;
    else
        i->waiting[INCIDENT_ALARMS - 1] = 0; /* too many to be told apart: waits for ever */
    write_state(i, s, false);
}

bool incident_acknowledged(struct incident *i, const struct store *s, uint32_t alert)
{
    for (int k = 0; i->running && k < i->waiting_count; k++) {
        if (i->waiting[k] != alert)
            continue;
        i->waiting[k] = i->waiting[--i->waiting_count];
        write_state(i, s, false);
        return true;
    }
    return false;
}

void incident_prolong(struct incident *i, const struct store *s, struct stamp at, int64_t after_ns)
{
    i->end_mono_ns = at.mono_ns + after_ns;
    i->end_wall_ns = at.wall_ns + after_ns;
    write_state(i, s, false);
}

void incident_alert(struct incident *i, const struct store *s, const char *line)
{
    char path[300];
    i->missed |= !text_format(path, sizeof path, "%s/alerts.jsonl", i->dir) ||
                 !store_append(s, path, line, NULL);
}

bool incident_sync(struct incident *i)
{
    if (i->running && i->unsynced && fdatasync(i->out) == 0)
        i->unsynced = false;
    return !i->running || !i->unsynced;
}

void incident_leave(struct incident *i)
{
    (void)incident_sync(i);
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
    *more = n == PIECE_BYTES;
    /* whole lines alone: a watch that ends here leaves no half of one */
    while (n > 0 && room[n - 1] != '\n')
        n--;
    for (ssize_t done = 0; good && done < n;) {
        ssize_t wrote = write(i->out, room + done, (size_t)(n - done));
        good = wrote > 0;
        if (good) {
            done += wrote;
            i->offset += wrote;
            i->unsynced = true;
        }
    }
    *more = *more && good && n > 0;
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

static bool read_number(const char *text, const char *key, long long *n)
{
    const char *at = strstr(text, key);
    return at && sscanf(at + strlen(key), "%lld", n) == 1;
}

/* The incident's own account of itself; false where there is none, or it makes no sense. */
static bool read_state(const struct store *s, const char *dir, struct incident *i, bool *complete)
{
    char path[300], text[900];
    long long from, to, alarms = 0;
    text_format(path, sizeof path, "%s/incident.json", dir);
    int fd = openat(s->dir_fd, path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0)
        return false;
    ssize_t n = read(fd, text, sizeof text - 1);
    close(fd);
    text[n > 0 ? (size_t)n : 0] = '\0';
    if (!read_number(text, "\"from\":", &from) || !read_number(text, "\"to\":", &to) || from < 0 ||
        to < from || to > 9000000000)
        return false;
    *i =
        (struct incident){.out = -1, .from_wall_ns = from * NS_PER_S, .end_wall_ns = to * NS_PER_S};
    *complete = strstr(text, "\"complete\":true") != NULL;
    if (read_number(text, "\"alarms\":", &alarms) && alarms >= 0 && alarms < INT32_MAX)
        i->alarms = (int)alarms;
    const char *at = strstr(text, "\"waiting\":[");
    for (at = at ? at + 10 : ""; i->waiting_count < INCIDENT_ALARMS; i->waiting_count++) {
        unsigned id;
        if (*at == '\0' || sscanf(at + 1, "%u", &id) != 1)
            break;
        i->waiting[i->waiting_count] = id;
        at += 1 + strcspn(at + 1, ",]");
        if (*at == ']') {
            i->waiting_count++;
            break;
        }
    }
    text_copy(i->dir, sizeof i->dir, dir);
    const char *dash = strchr(dir, '-');
    text_copy(i->name, sizeof i->name, dash ? dash + 1 : "");
    return true;
}

bool incident_is_acknowledged(const struct store *s, const char *name)
{
    char dir[160];
    struct incident i;
    bool complete;
    return text_format(dir, sizeof dir, "incidents/%s", name) &&
           read_state(s, dir, &i, &complete) && i.alarms > 0 && i.waiting_count == 0;
}

bool incident_note_acknowledged(const struct store *s, const char *name, uint32_t alert)
{
    char dir[160];
    struct incident i;
    bool complete;
    if (!text_format(dir, sizeof dir, "incidents/%s", name) || !read_state(s, dir, &i, &complete))
        return false;
    i.at.wall_ns = i.from_wall_ns + (i.end_wall_ns - i.from_wall_ns) / 2;
    for (int k = 0; k < i.waiting_count; k++) {
        if (i.waiting[k] != alert)
            continue;
        i.waiting[k] = i.waiting[--i.waiting_count];
        write_state(&i, s, complete);
        return true;
    }
    return false;
}

static void on_this_clock(struct incident *i, struct stamp now)
{
    int64_t length = i->end_wall_ns - i->from_wall_ns;
    i->end_mono_ns = now.mono_ns + (i->end_wall_ns - now.wall_ns);
    i->at = (struct stamp){i->from_wall_ns + length / 2, now.mono_ns};
}

static void continue_incident(struct incident *i, const struct store *s)
{
    if (!open_out(i, s)) {
        incident_leave(i);
        return;
    }
    i->running = true;
    /* simplest and surest: copied once more, from the files that still have it all */
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
        struct incident found;
        bool complete;
        if (entry->d_name[0] == '.' ||
            !text_format(dir, sizeof dir, "incidents/%s", entry->d_name) ||
            !read_state(s, dir, &found, &complete) || complete)
            continue;
        on_this_clock(&found, now);
        int64_t left = found.end_wall_ns - now.wall_ns;
        if (left > 0 && left <= found.end_wall_ns - found.from_wall_ns && !i->running) {
            *i = found;
            continue_incident(i, s);
        } else if (open_out(&found, s)) {
            end_incident(&found, s);
        }
    }
    closedir(d);
}
