#include "record/store.h"

#include "base/text.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

#define HOUR_NS INT64_C(3600000000000)

bool store_init(struct store *s, const char *dir)
{
    *s = (struct store){.dir_fd = -1, .lock_fd = -1, .fd = -1};
    s->buffer = malloc(STORE_BUFFER_BYTES);
    return s->buffer && text_copy(s->dir, sizeof s->dir, dir);
}

static void close_fd(int *fd)
{
    if (*fd >= 0)
        close(*fd);
    *fd = -1;
}

void store_close(struct store *s)
{
    close_fd(&s->fd);
    close_fd(&s->lock_fd);
    close_fd(&s->dir_fd);
}

void store_fini(struct store *s)
{
    store_close(s);
    free(s->buffer);
    s->buffer = NULL;
}

bool store_is_open(const struct store *s)
{
    return s->fd >= 0;
}

/* ---- names ---------------------------------------------------------------------------------- */

/* "frames-000042-20260504T14Z.log" */
static void name_file(struct store_file *f)
{
    time_t t = (time_t)(f->hour * 3600);
    struct tm tm = {0};
    gmtime_r(&t, &tm);
    char stamp[32];
    strftime(stamp, sizeof stamp, "%Y%m%dT%HZ", &tm);
    text_format(f->name, sizeof f->name, "frames-%06llu-%s.log", (unsigned long long)f->number,
                stamp);
}

static bool parse_name(const char *name, struct store_file *f)
{
    unsigned long long number;
    int year, month, day, hour, used = 0;
    *f = (struct store_file){0};
    if (sscanf(name, "frames-%20llu-%4d%2d%2dT%2dZ.log%n", &number, &year, &month, &day, &hour,
               &used) != 5 ||
        used == 0)
        return false;
    f->packed = strcmp(name + used, ".zst") == 0;
    if (name[used] != '\0' && !f->packed)
        return false;
    struct tm tm = {.tm_year = year - 1900, .tm_mon = month - 1, .tm_mday = day, .tm_hour = hour};
    f->number = number;
    f->hour = (int64_t)timegm(&tm) / 3600;
    return text_copy(f->name, sizeof f->name, name);
}

static int by_number(const void *a, const void *b)
{
    const struct store_file *x = a, *y = b;
    return x->number < y->number ? -1 : x->number > y->number;
}

struct store_file *store_list(const struct store *s, size_t *count)
{
    struct store_file *all = NULL;
    size_t room = 0;
    *count = 0;
    /* a descriptor of its own: closedir takes it along */
    int fd = s->dir_fd >= 0 ? openat(s->dir_fd, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
    DIR *d = fd >= 0 ? fdopendir(fd) : NULL;
    if (!d)
        return NULL;
    for (struct dirent *entry; (entry = readdir(d));) {
        struct store_file f;
        struct stat st;
        if (!parse_name(entry->d_name, &f) || fstatat(fd, entry->d_name, &st, 0) != 0)
            continue;
        f.bytes = (uint64_t)st.st_size;
        if (*count == room) {
            room = room ? 2 * room : 64;
            struct store_file *more = realloc(all, room * sizeof *all);
            if (!more)
                break;
            all = more;
        }
        all[(*count)++] = f;
    }
    closedir(d);
    if (*count > 0)
        qsort(all, *count, sizeof *all, by_number);
    return all;
}

/* ---- opening -------------------------------------------------------------------------------- */

static bool make_directories(const char *path, struct err *e)
{
    char part[1024];
    int first = 0; /* why the first one could not be made: the others fail for want of it */
    if (!text_copy(part, sizeof part, path))
        return err_set(e, "cannot record to '%s': name too long", path);
    for (char *p = part + 1;; p++) {
        if (*p != '/' && *p != '\0')
            continue;
        char kept = *p;
        *p = '\0';
        bool there = mkdir(part, 0750) == 0 || errno == EEXIST;
        if (!there && first == 0)
            first = errno;
        if (!there && kept == '\0')
            return err_set(e, "cannot record to '%s': %s", path, strerror(first));
        *p = kept;
        if (kept == '\0')
            return true;
    }
}

/* False while the disk that held the directory is not there. */
static bool device_is_back(const struct store *s, struct err *e)
{
    char parent[1024];
    struct stat st;
    if (!s->known)
        return true;
    if (stat(s->dir, &st) != 0) {
        text_copy(parent, sizeof parent, s->dir);
        for (size_t n = strlen(parent); n > 1 && parent[n - 1] == '/'; n--)
            parent[n - 1] = '\0';
        char *slash = strrchr(parent, '/');
        if (slash == parent)
            slash[1] = '\0';
        else if (slash)
            *slash = '\0';
        if (stat(slash ? parent : ".", &st) != 0 || st.st_dev != s->device)
            return err_set(e, "cannot record to '%s': the directory is gone", s->dir);
    }
    return true;
}

/* Says what the directory is, for whoever finds it. Best effort: nothing depends on it. */
static void write_format(const struct store *s)
{
    static const char text[] =
        "stokehold record 2\n"
        "frames-*.log: candump -l lines; .zst: packed by zstd\n"
        "alerts-*.jsonl: a JSON object a line, as `stokehold sift --json` writes them\n"
        "incidents/*: frames and alerts around an alarm; incident.json has its own version\n";
    int fd = openat(s->dir_fd, "format", O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0640);
    if (fd < 0)
        return;
    if (write(fd, text, sizeof text - 1) != (ssize_t)sizeof text - 1)
        (void)unlinkat(s->dir_fd, "format", 0);
    close(fd);
}

/* What a packing that was broken off has left. */
static void remove_parts(const struct store *s)
{
    int fd = openat(s->dir_fd, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    DIR *d = fd >= 0 ? fdopendir(fd) : NULL;
    if (!d)
        return;
    for (struct dirent *entry; (entry = readdir(d));) {
        const char *tail = strstr(entry->d_name, ".log.zst.part");
        if (strncmp(entry->d_name, "frames-", 7) == 0 && tail && strlen(tail) == 13)
            (void)unlinkat(fd, entry->d_name, 0);
    }
    closedir(d);
}

static enum store_status take_lock(struct store *s, struct err *e)
{
    s->lock_fd = openat(s->dir_fd, "lock", O_RDWR | O_CREAT | O_CLOEXEC, 0640);
    if (s->lock_fd < 0) {
        err_set(e, "cannot record to '%s': %s", s->dir, strerror(errno));
        return STORE_FAILED;
    }
    char pid[32] = "";
    if (flock(s->lock_fd, LOCK_EX | LOCK_NB) != 0) {
        ssize_t n = pread(s->lock_fd, pid, sizeof pid - 1, 0);
        pid[n > 0 ? (size_t)n : 0] = '\0';
        pid[strspn(pid, "0123456789")] = '\0';
        err_set(e, "'%s' is being recorded to by another program (process %s)", s->dir,
                *pid ? pid : "unknown");
        return STORE_TAKEN;
    }
    /* for people; the lock itself is the kernel's and ends with the process */
    text_format(pid, sizeof pid, "%ld\n", (long)getpid());
    if (ftruncate(s->lock_fd, 0) == 0)
        (void)!pwrite(s->lock_fd, pid, strlen(pid), 0);
    return STORE_OK;
}

bool store_repair(int fd)
{
    struct stat st;
    if (fstat(fd, &st) != 0)
        return false;
    char part[4096];
    for (off_t end = st.st_size; end > 0;) {
        size_t len = end < (off_t)sizeof part ? (size_t)end : sizeof part;
        off_t from = end - (off_t)len;
        if (pread(fd, part, len, from) != (ssize_t)len)
            return false;
        for (size_t i = len; i > 0; i--) {
            if (part[i - 1] == '\n') {
                off_t keep = from + (off_t)i;
                return keep == st.st_size || ftruncate(fd, keep) == 0;
            }
        }
        end = from;
    }
    return st.st_size == 0 || ftruncate(fd, 0) == 0;
}

static bool open_file(struct store *s, const struct store_file *f, struct stamp now, struct err *e)
{
    int fd = openat(s->dir_fd, f->name, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0640);
    struct stat st;
    if (fd < 0 || !store_repair(fd) || fstat(fd, &st) != 0) {
        err_set(e, "cannot record to '%s/%s': %s", s->dir, f->name, strerror(errno));
        close_fd(&fd);
        return false;
    }
    (void)fsync(s->dir_fd); /* the name itself, too, outlives a power cut */
    s->fd = fd;
    s->file = *f;
    s->file.bytes = (uint64_t)st.st_size;
    s->opened_mono_ns = now.mono_ns;
    return true;
}

/* The last file where it is of this hour, or the one that comes next. */
static bool open_latest(struct store *s, struct stamp now, struct err *e)
{
    size_t count;
    struct store_file *all = store_list(s, &count), next = {.hour = now.wall_ns / HOUR_NS};
    next.number = count > 0 ? all[count - 1].number + 1 : 1;
    if (count > 0 && !all[count - 1].packed) {
        struct store_file last = all[count - 1];
        if (last.hour == next.hour) {
            next = last;
        } else {
            int fd = openat(s->dir_fd, last.name, O_RDWR | O_CLOEXEC);
            if (fd >= 0)
                (void)store_repair(fd);
            close_fd(&fd);
        }
    }
    free(all);
    if (!next.name[0])
        name_file(&next);
    return open_file(s, &next, now, e);
}

/* What was being written when the disk failed: the line that may be torn there is written again. */
static void back_to_line_start(struct store *s)
{
    while (s->written > 0 && s->buffer[s->written - 1] != '\n')
        s->written--;
}

enum store_status store_open(struct store *s, struct stamp now, struct err *e)
{
    store_close(s);
    back_to_line_start(s);
    if (!device_is_back(s, e) || !make_directories(s->dir, e))
        return STORE_FAILED;
    s->dir_fd = open(s->dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (s->dir_fd < 0) {
        err_set(e, "cannot record to '%s': %s", s->dir, strerror(errno));
        return STORE_FAILED;
    }
    enum store_status status = take_lock(s, e);
    if (status == STORE_OK && !open_latest(s, now, e))
        status = STORE_FAILED;
    if (status != STORE_OK) {
        store_close(s);
        return status;
    }
    struct stat st;
    s->known = fstat(s->dir_fd, &st) == 0;
    s->device = st.st_dev;
    remove_parts(s);
    write_format(s);
    return STORE_OK;
}

/* ---- writing -------------------------------------------------------------------------------- */

char *store_room(struct store *s, size_t want)
{
    return STORE_BUFFER_BYTES - s->held >= want ? s->buffer + s->held : NULL;
}

void store_added(struct store *s, size_t len)
{
    s->held += len;
}

/* Who holds a full disk is the first thing to know. */
static bool refused(struct store *s, int why, struct err *e)
{
    struct store_space space;
    s->full = why == ENOSPC || why == EDQUOT;
    if (!s->full || !store_space(s, &space))
        return err_set(e, "cannot record to '%s': %s", s->dir, strerror(why));
    size_t count;
    uint64_t own = 0;
    struct store_file *all = store_list(s, &count);
    for (size_t i = 0; i < count; i++)
        own += all[i].bytes;
    free(all);
    return err_set(e, "cannot record to '%s': %s (%llu MB; frames are %llu of them)", s->dir,
                   strerror(why), (unsigned long long)(space.size >> 20),
                   (unsigned long long)(own >> 20));
}

bool store_flush(struct store *s, struct err *e)
{
    s->full = false;
    while (s->written < s->held) {
        ssize_t n = write(s->fd, s->buffer + s->written, s->held - s->written);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return refused(s, n < 0 ? errno : ENOSPC, e);
        s->written += (size_t)n;
        s->file.bytes += (uint64_t)n;
        s->total_written += (uint64_t)n;
        s->unsynced = true;
    }
    s->held = s->written = 0;
    return true;
}

bool store_sync(struct store *s, struct err *e)
{
    if (s->unsynced && fdatasync(s->fd) != 0)
        return err_set(e, "cannot record to '%s': %s", s->dir, strerror(errno));
    s->unsynced = false;
    return true;
}

bool store_check(const struct store *s, struct err *e)
{
    struct stat opened, there, file;
    if (fstat(s->dir_fd, &opened) != 0 || stat(s->dir, &there) != 0 ||
        opened.st_ino != there.st_ino || opened.st_dev != there.st_dev)
        return err_set(e, "cannot record to '%s': the directory is gone", s->dir);
    if (fstat(s->fd, &file) != 0 || file.st_nlink == 0)
        return err_set(e, "cannot record to '%s': the file is gone", s->dir);
    return true;
}

bool store_rotate(struct store *s, struct stamp now, uint64_t largest, bool *rotated, struct err *e)
{
    *rotated = false;
    int64_t hour = now.wall_ns / HOUR_NS;
    if (hour == s->file.hour && s->file.bytes < largest)
        return true;
    if (!store_flush(s, e) || !store_sync(s, e))
        return false;
    struct store_file next = {.number = s->file.number + 1, .hour = hour};
    name_file(&next);
    int before = s->fd;
    s->fd = -1;
    if (!open_file(s, &next, now, e)) {
        s->fd = before;
        return false;
    }
    close_fd(&before);
    *rotated = true;
    return true;
}

/* A twentieth of the disk, at most so much. */
#define RESERVE_SHARE 20
#define RESERVE_MOST  (UINT64_C(512) << 20)

bool store_space(const struct store *s, struct store_space *out)
{
    struct statvfs v;
    if (s->dir_fd < 0 || fstatvfs(s->dir_fd, &v) != 0)
        return false;
    out->size = (uint64_t)v.f_blocks * v.f_frsize;
    out->free = (uint64_t)v.f_bavail * v.f_frsize;
    out->reserve = out->size / RESERVE_SHARE;
    if (out->reserve > RESERVE_MOST)
        out->reserve = RESERVE_MOST;
    return true;
}

uint64_t store_trim(struct store *s, uint64_t cap, uint64_t keep_from)
{
    size_t count;
    struct store_file *all = store_list(s, &count);
    uint64_t total = 0;
    for (size_t i = 0; i < count; i++)
        total += all[i].bytes;
    for (size_t i = 0; i < count && total > cap; i++) {
        if (all[i].number >= keep_from || all[i].number == s->file.number)
            break;
        if (unlinkat(s->dir_fd, all[i].name, 0) == 0)
            total -= all[i].bytes;
    }
    free(all);
    return total;
}

bool store_give_up_one(struct store *s, uint64_t keep_from)
{
    size_t count;
    bool given = false;
    struct store_file *all = store_list(s, &count);
    for (size_t i = 0; i < count && !given; i++) {
        if (all[i].number >= keep_from || all[i].number == s->file.number)
            break;
        given = unlinkat(s->dir_fd, all[i].name, 0) == 0;
    }
    free(all);
    return given;
}

bool store_append(const struct store *s, const char *name, const char *line, struct err *e)
{
    size_t len = strlen(line);
    int fd =
        s->dir_fd < 0 ? -1 : openat(s->dir_fd, name, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0640);
    bool done =
        fd >= 0 && store_repair(fd) && write(fd, line, len) == (ssize_t)len && fdatasync(fd) == 0;
    int why = errno;
    close_fd(&fd);
    return done || err_set(e, "cannot record to '%s/%s': %s", s->dir, name, strerror(why));
}

bool store_append_after(const struct store *s, const char *name, const char *text, struct err *e)
{
    bool there = s->dir_fd >= 0 && faccessat(s->dir_fd, name, F_OK, 0) == 0;
    return store_append(s, name, there ? strchr(text, '\n') + 1 : text, e);
}
