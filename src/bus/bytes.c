#include "bus/bytes.h"

#include "base/text.h"
#include "bus/seal.h"
#include "bus/unpack.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

#define PACKED_BYTES (64 * 1024)

struct bytes {
    int fd;
    bool keep_open; /* standard input */
    bool regular;   /* reading never waits, and can start again */
    off_t start;    /* where it began: standard input may stand in the middle of a file */
    uint64_t size, read;
    char name[200];              /* printable, for messages */
    bool begun;                  /* the first bytes were seen */
    uint8_t first[UNPACK_FIRST]; /* they, as long as they were not handed out */
    size_t first_len;
    bool ended; /* the packed input did */
    const char *complaint;
    struct unpack *unpack; /* NULL: plain */
    uint8_t *packed;       /* PACKED_BYTES; packed[begin..end) is to be unpacked */
    size_t begin, end;
    bool sealed; /* the file ends in a seal */
    char seal[SHA256_TEXT];
    struct sha256 sum; /* of what was unpacked */
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
    /* Not blocking, or a FIFO that nobody writes yet would hold up all, signals included. */
    b->fd = b->keep_open ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
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

static enum bytes_state fill_raw(struct bytes *b, void *buf, size_t cap, size_t *got, struct err *e)
{
    *got = 0;
    for (;;) {
        if (!b->regular) {
            struct pollfd p = {.fd = b->fd, .events = POLLIN};
            int ready = poll(&p, 1, 0);
            if (ready == 0 || (ready < 0 && errno == EINTR))
                return BYTES_WAIT;
        }
        /* Others may read the same open file: each has a place of its own in it. */
        ssize_t n =
            b->regular ? pread(b->fd, buf, cap, b->start + (off_t)b->read) : read(b->fd, buf, cap);
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

/* Only where the end can be read before the beginning. */
static void look_for_seal(struct bytes *b)
{
    uint8_t tail[SEAL_SIZE];
    sha256_init(&b->sum);
    off_t at = b->start + (off_t)b->size - (off_t)sizeof tail;
    b->sealed = b->regular && b->size > sizeof tail &&
                pread(b->fd, tail, sizeof tail, at) == (ssize_t)sizeof tail &&
                seal_read(tail, b->seal);
}

static void compare_seal(struct bytes *b)
{
    char sum[SHA256_TEXT];
    sha256_text(&b->sum, sum);
    if (strcmp(sum, b->seal) != 0)
        b->complaint = "the record was changed: these are not the lines it was sealed with";
    b->sealed = false;
}

/* The first bytes say whether all is packed; a pipe may bring them one by one. */
static enum bytes_state begin(struct bytes *b, struct err *e)
{
    while (b->first_len < sizeof b->first) {
        size_t got;
        enum bytes_state state =
            fill_raw(b, b->first + b->first_len, sizeof b->first - b->first_len, &got, e);
        b->first_len += got;
        if (state == BYTES_END)
            break;
        if (state != BYTES_READY)
            return state;
    }
    enum packing packing = unpack_recognize(b->first, b->first_len);
    if (packing != PACKING_NONE) {
        b->unpack = unpack_new(packing, e);
        if (b->unpack && !b->packed)
            b->packed = malloc(PACKED_BYTES);
        if (!b->unpack || !b->packed)
            return BYTES_FAILED;
        memcpy(b->packed, b->first, b->first_len);
        b->begin = 0;
        b->end = b->first_len;
        b->first_len = 0;
        look_for_seal(b);
    }
    b->begun = true;
    return BYTES_READY;
}

static enum bytes_state fill_unpacked(struct bytes *b, void *buf, size_t cap, size_t *got,
                                      struct err *e)
{
    *got = 0;
    for (;;) {
        if (b->complaint)
            return BYTES_END;
        size_t used;
        bool sane =
            unpack_step(b->unpack, b->packed + b->begin, b->end - b->begin, &used, buf, cap, got);
        b->begin += used;
        if (!sane)
            b->complaint = "packed data that makes no sense: the rest is not read";
        if (*got > 0) {
            if (b->sealed)
                sha256_add(&b->sum, buf, *got);
            return BYTES_READY;
        }
        if (!sane)
            continue;
        if (b->ended) {
            if (unpack_is_within(b->unpack))
                b->complaint = "the packed data is cut short";
            else if (b->sealed)
                compare_seal(b);
            return BYTES_END;
        }
        if (b->begin == b->end) {
            size_t more;
            enum bytes_state state = fill_raw(b, b->packed, PACKED_BYTES, &more, e);
            b->begin = 0;
            b->end = more;
            if (state == BYTES_WAIT || state == BYTES_FAILED)
                return state;
            b->ended = state == BYTES_END;
        }
    }
}

enum bytes_state bytes_fill(struct bytes *b, void *buf, size_t cap, size_t *got, struct err *e)
{
    *got = 0;
    if (!b->begun) {
        enum bytes_state state = begin(b, e);
        if (state != BYTES_READY)
            return state;
    }
    if (b->unpack)
        return fill_unpacked(b, buf, cap, got, e);
    if (b->first_len == 0)
        return fill_raw(b, buf, cap, got, e);
    *got = b->first_len < cap ? b->first_len : cap;
    memcpy(buf, b->first, *got);
    b->first_len -= *got;
    memmove(b->first, b->first + *got, b->first_len);
    return BYTES_READY;
}

const char *bytes_complaint(const struct bytes *b)
{
    return b->complaint;
}

bool bytes_rewind(struct bytes *b)
{
    if (!b->regular)
        return false;
    b->read = 0;
    b->first_len = 0;
    b->begun = b->ended = false;
    b->complaint = NULL;
    unpack_free(b->unpack);
    b->unpack = NULL;
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
    unpack_free(b->unpack);
    free(b->packed);
    free(b);
}
