#include "record/shelf.h"

#include "base/text.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

struct kept {
    char name[SHELF_NAME_SIZE]; /* below incidents/; begins with the time, so names sort by it */
    uint64_t bytes;
    bool acknowledged, plain; /* plain: its frames are not packed */
};

static DIR *open_shelf(const struct store *s)
{
    int fd = s->dir_fd < 0
                 ? -1
                 : openat(s->dir_fd, "incidents", O_RDONLY | O_DIRECTORY | O_CLOEXEC | O_NOFOLLOW);
    DIR *d = fd >= 0 ? fdopendir(fd) : NULL;
    if (!d && fd >= 0)
        close(fd);
    return d;
}

static uint64_t size_of(int fd, const char *name)
{
    struct stat st;
    return fstatat(fd, name, &st, AT_SYMLINK_NOFOLLOW) == 0 && S_ISREG(st.st_mode)
               ? (uint64_t)st.st_size
               : 0;
}

/* The files of one incident: each is told of. */
static void each_file(int shelf_fd, const char *name, void (*f)(void *ctx, int fd, const char *n),
                      void *ctx)
{
    int fd = openat(shelf_fd, name, O_RDONLY | O_DIRECTORY | O_CLOEXEC | O_NOFOLLOW);
    DIR *d = fd >= 0 ? fdopendir(fd) : NULL;
    if (!d) {
        if (fd >= 0)
            close(fd);
        return;
    }
    for (struct dirent *e; (e = readdir(d));)
        if (e->d_name[0] != '.')
            f(ctx, fd, e->d_name);
    closedir(d);
}

static void measure(void *ctx, int fd, const char *name)
{
    struct kept *k = ctx;
    k->bytes += size_of(fd, name);
    k->plain |= strcmp(name, "frames.log") == 0;
}

static void remove_file(void *ctx, int fd, const char *name)
{
    (void)ctx;
    (void)unlinkat(fd, name, 0);
}

static int by_name(const void *a, const void *b)
{
    const struct kept *x = a, *y = b;
    return strcmp(x->name, y->name);
}

/* All, oldest first; to be freed with free. */
static struct kept *list(const struct store *s, int *count)
{
    struct kept *all = NULL;
    int room = 0;
    *count = 0;
    DIR *d = open_shelf(s);
    if (!d)
        return NULL;
    for (struct dirent *e; (e = readdir(d));) {
        struct kept k = {.bytes = 0};
        if (e->d_name[0] < '0' || e->d_name[0] > '9' ||
            !text_copy(k.name, sizeof k.name, e->d_name))
            continue;
        if (*count == room) {
            room = room ? 2 * room : 32;
            struct kept *more = realloc(all, (size_t)room * sizeof *all);
            if (!more)
                break;
            all = more;
        }
        each_file(dirfd(d), k.name, measure, &k);
        k.acknowledged = incident_is_acknowledged(s, k.name);
        all[(*count)++] = k;
    }
    closedir(d);
    if (*count > 0)
        qsort(all, (size_t)*count, sizeof *all, by_name);
    return all;
}

uint64_t shelf_bytes(const struct store *s)
{
    int count;
    struct kept *all = list(s, &count);
    uint64_t total = 0;
    for (int i = 0; i < count; i++)
        total += all[i].bytes;
    free(all);
    return total;
}

static bool is_running(const struct incident *running, const char *name)
{
    const char *slash = running && running->running ? strchr(running->dir, '/') : NULL;
    return slash && strcmp(slash + 1, name) == 0;
}

bool shelf_give_up_one(const struct store *s, const struct incident *running,
                       char given[SHELF_NAME_SIZE])
{
    int count, victim = -1;
    struct kept *all = list(s, &count);
    for (int pass = 0; pass < 2 && victim < 0; pass++)
        for (int i = 0; i < count - 1 && victim < 0; i++)
            if ((all[i].acknowledged || pass == 1) && !is_running(running, all[i].name))
                victim = i;
    DIR *d = victim >= 0 ? open_shelf(s) : NULL;
    bool gone = false;
    if (d) {
        text_copy(given, SHELF_NAME_SIZE, all[victim].name);
        each_file(dirfd(d), given, remove_file, NULL);
        gone = unlinkat(dirfd(d), given, AT_REMOVEDIR) == 0;
        closedir(d);
    }
    free(all);
    return gone;
}

bool shelf_pack_next(const struct store *s, const struct incident *running, struct pack *p)
{
    int count;
    bool begun = false;
    struct kept *all = list(s, &count);
    DIR *d = open_shelf(s);
    for (int i = 0; d && i < count && !begun; i++) {
        if (!all[i].plain || is_running(running, all[i].name))
            continue;
        int fd = openat(dirfd(d), all[i].name, O_RDONLY | O_DIRECTORY | O_CLOEXEC | O_NOFOLLOW);
        begun = fd >= 0 && pack_start(p, fd, "frames.log");
        if (fd >= 0)
            close(fd);
    }
    if (d)
        closedir(d);
    free(all);
    return begun;
}

void shelf_acknowledged(const struct store *s, uint32_t alert)
{
    int count;
    struct kept *all = list(s, &count);
    for (int i = count; i-- > 0;)
        if (incident_note_acknowledged(s, all[i].name, alert))
            break;
    free(all);
}
