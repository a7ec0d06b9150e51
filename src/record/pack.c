#include "record/pack.h"

#include "base/text.h"
#include "bus/seal.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#ifdef WITH_ZSTD
#include <zstd.h>
#endif

#include "base/banned.h"

#ifdef WITH_ZSTD

#define PIECE_BYTES (128 * 1024)
#define LEVEL       3 /* zstd's own default: 5 times smaller at the pace of a small computer's disk */

struct pack {
    ZSTD_CCtx *zstd;
    int dir_fd, in, out; /* -1 while idle */
    char name[300];
    struct sha256 sum;
    char piece[PIECE_BYTES], packed[PIECE_BYTES];
};

struct pack *pack_new(void)
{
    struct pack *p = calloc(1, sizeof *p);
    if (!p)
        return NULL;
    p->dir_fd = p->in = p->out = -1;
    p->zstd = ZSTD_createCCtx();
    if (!p->zstd) {
        free(p);
        return NULL;
    }
    ZSTD_CCtx_setParameter(p->zstd, ZSTD_c_compressionLevel, LEVEL);
    ZSTD_CCtx_setParameter(p->zstd, ZSTD_c_checksumFlag, 1);
    return p;
}

static void finish(struct pack *p, bool good)
{
    char part[320], whole[320];
    text_format(part, sizeof part, "%s.zst.part", p->name);
    text_format(whole, sizeof whole, "%s.zst", p->name);
    if (good && fsync(p->out) == 0 && renameat(p->dir_fd, part, p->dir_fd, whole) == 0) {
        (void)fsync(p->dir_fd);
        (void)unlinkat(p->dir_fd, p->name, 0);
    } else {
        (void)unlinkat(p->dir_fd, part, 0);
    }
    close(p->in);
    close(p->out);
    close(p->dir_fd);
    p->in = p->out = p->dir_fd = -1;
}

void pack_free(struct pack *p)
{
    if (!p)
        return;
    if (pack_is_busy(p))
        finish(p, false);
    ZSTD_freeCCtx(p->zstd);
    free(p);
}

bool pack_is_busy(const struct pack *p)
{
    return p && p->in >= 0;
}

bool pack_start(struct pack *p, int dir_fd, const char *name)
{
    char part[320];
    if (!p || pack_is_busy(p) || !text_copy(p->name, sizeof p->name, name) ||
        !text_format(part, sizeof part, "%s.zst.part", name))
        return false;
    p->dir_fd = fcntl(dir_fd, F_DUPFD_CLOEXEC, 0);
    p->in = openat(dir_fd, name, O_RDONLY | O_CLOEXEC);
    p->out = openat(dir_fd, part, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0640);
    ZSTD_CCtx_reset(p->zstd, ZSTD_reset_session_only);
    sha256_init(&p->sum);
    if (p->dir_fd >= 0 && p->in >= 0 && p->out >= 0)
        return true;
    if (p->in >= 0)
        close(p->in);
    if (p->out >= 0)
        close(p->out);
    if (p->dir_fd >= 0)
        close(p->dir_fd);
    p->in = p->out = p->dir_fd = -1;
    return false;
}

static bool write_all(int fd, const char *data, size_t len)
{
    while (len > 0) {
        ssize_t n = write(fd, data, len);
        if (n <= 0)
            return false;
        data += n;
        len -= (size_t)n;
    }
    return true;
}

static bool put_seal(struct pack *p)
{
    char sum[SHA256_TEXT];
    uint8_t seal[SEAL_SIZE];
    sha256_text(&p->sum, sum);
    seal_make(seal, sum);
    return write_all(p->out, (const char *)seal, sizeof seal);
}

bool pack_step(struct pack *p)
{
    if (!pack_is_busy(p))
        return false;
    ssize_t n = read(p->in, p->piece, sizeof p->piece);
    if (n < 0) {
        finish(p, false);
        return false;
    }
    sha256_add(&p->sum, p->piece, (size_t)n);
    ZSTD_EndDirective how = n == 0 ? ZSTD_e_end : ZSTD_e_continue;
    ZSTD_inBuffer from = {p->piece, (size_t)n, 0};
    size_t left;
    do {
        ZSTD_outBuffer to = {p->packed, sizeof p->packed, 0};
        left = ZSTD_compressStream2(p->zstd, &to, &from, how);
        if (ZSTD_isError(left) || !write_all(p->out, p->packed, to.pos)) {
            finish(p, false);
            return false;
        }
    } while (how == ZSTD_e_end ? left > 0 : from.pos < from.size);
    if (n == 0)
        finish(p, put_seal(p));
    return n > 0;
}

#else

struct pack *pack_new(void)
{
    return NULL;
}

void pack_free(struct pack *p)
{
    (void)p;
}

bool pack_is_busy(const struct pack *p)
{
    (void)p;
    return false;
}

bool pack_start(struct pack *p, int dir_fd, const char *name)
{
    (void)p, (void)dir_fd, (void)name;
    return false;
}

bool pack_step(struct pack *p)
{
    (void)p;
    return false;
}

#endif
