#include "bus/bytes.h"

#include "base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

struct bytes {
    int fd;
    bool keep_open; /* standard input */
    bool regular;   /* reading never waits, and can start again */
    off_t start;    /* where it began: standard input may stand in the middle of a file */
    uint64_t size, read;
    char name[200]; /* printable, for messages */
};

struct bytes *bytes_open(const char *path, struct err *e)
{
    struct bytes *b = calloc(1, sizeof *b);
    if (!b) {
        err_set(e, "out of memory");
        return NULL;
    }
    b->keep_open = strcmp(path, "-") == 0;
    if (b->keep_open)
        text_copy(b->name, sizeof b->name, "standard input");
    else
        text_clean(b->name, sizeof b->name, path, strlen(path));
    b->fd = b->keep_open ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);
    struct stat st;
    if (b->fd < 0 || fstat(b->fd, &st) != 0) {
        err_set(e, "cannot read '%s': %s", b->name, strerror(errno));
        bytes_close(b);
        return NULL;
    }
    if (S_ISDIR(st.st_mode)) {
        err_set(e, "cannot read '%s': it is a directory", b->name);
        bytes_close(b);
        return NULL;
    }
    off_t at = lseek(b->fd, 0, SEEK_CUR);
    b->regular = S_ISREG(st.st_mode) && at >= 0;
    if (b->regular) {
        b->start = at;
        b->size = st.st_size > at ? (uint64_t)(st.st_size - at) : 0;
    }
    return b;
}

enum bytes_state bytes_fill(struct bytes *b, void *buf, size_t cap, size_t *got, struct err *e)
{
    *got = 0;
    for (;;) {
        if (!b->regular) {
            struct pollfd p = {.fd = b->fd, .events = POLLIN};
            int ready = poll(&p, 1, 0);
            if (ready == 0 || (ready < 0 && errno == EINTR))
                return BYTES_WAIT;
        }
        ssize_t n = read(b->fd, buf, cap);
        if (n > 0) {
            *got = (size_t)n;
            b->read += (uint64_t)n;
            return BYTES_READY;
        }
        if (n == 0)
            return BYTES_END;
        if (errno == EAGAIN)
            return BYTES_WAIT;
        if (errno != EINTR) {
            err_set(e, "cannot read '%s': %s", b->name, strerror(errno));
            return BYTES_FAILED;
        }
    }
}

bool bytes_rewind(struct bytes *b)
{
    if (!b->regular || lseek(b->fd, b->start, SEEK_SET) < 0)
        return false;
    b->read = 0;
    return true;
}

int bytes_fd(const struct bytes *b)
{
    return b->regular ? -1 : b->fd;
}

uint64_t bytes_size(const struct bytes *b)
{
    return b->size;
}

uint64_t bytes_read(const struct bytes *b)
{
    return b->read;
}

void bytes_close(struct bytes *b)
{
    if (!b)
        return;
    if (!b->keep_open && b->fd >= 0)
        close(b->fd);
    free(b);
}
