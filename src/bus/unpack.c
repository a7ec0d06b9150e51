#include "bus/unpack.h"

#include <limits.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#ifdef WITH_ZSTD
#include <zstd.h>
#endif
#ifdef WITH_ZLIB
#include <zlib.h>
#endif

#include "base/banned.h"

struct unpack {
    enum packing packing;
    bool within;
#ifdef WITH_ZSTD
    ZSTD_DStream *zstd;
#endif
#ifdef WITH_ZLIB
    z_stream gzip;
#endif
};

enum packing unpack_recognize(const void *first, size_t len)
{
    static const uint8_t zstd[4] = {0x28, 0xB5, 0x2F, 0xFD}, gzip[3] = {0x1F, 0x8B, 8};
    if (len >= sizeof zstd && memcmp(first, zstd, sizeof zstd) == 0)
        return PACKING_ZSTD;
    if (len >= sizeof gzip && memcmp(first, gzip, sizeof gzip) == 0)
        return PACKING_GZIP;
    return PACKING_NONE;
}

#ifdef WITH_ZSTD
static bool zstd_step(struct unpack *u, const void *in, size_t len, size_t *used, void *out,
                      size_t cap, size_t *made)
{
    ZSTD_inBuffer from = {in, len, 0};
    ZSTD_outBuffer to = {out, cap, 0};
    size_t hint = ZSTD_decompressStream(u->zstd, &to, &from);
    *used = from.pos;
    *made = to.pos;
    if (ZSTD_isError(hint))
        return false;
    if (from.pos > 0 || to.pos > 0)
        u->within = hint != 0;
    return true;
}
#endif

#ifdef WITH_ZLIB
static bool gzip_step(struct unpack *u, const void *in, size_t len, size_t *used, void *out,
                      size_t cap, size_t *made)
{
    z_stream *z = &u->gzip;
    uInt room = cap > UINT_MAX ? UINT_MAX : (uInt)cap,
         given = len > UINT_MAX ? UINT_MAX : (uInt)len;
    z->next_in = (z_const Bytef *)(uintptr_t)in;
    z->avail_in = given;
    z->next_out = out;
    z->avail_out = room;
    int status = given > 0 || u->within ? inflate(z, Z_NO_FLUSH) : Z_OK;
    *used = given - z->avail_in;
    *made = room - z->avail_out;
    if (*used > 0 || *made > 0)
        u->within = true;
    if (status == Z_STREAM_END) { /* another member may follow */
        u->within = false;
        return inflateReset(z) == Z_OK;
    }
    return status == Z_OK || status == Z_BUF_ERROR;
}
#endif

struct unpack *unpack_new(enum packing packing, struct err *e)
{
    struct unpack *u = calloc(1, sizeof *u);
    bool ready = false;
    if (!u) {
        err_set(e, "out of memory");
        return NULL;
    }
    u->packing = packing;
    err_set(e, "packed with %s, which this program was built without",
            packing == PACKING_ZSTD ? "zstd" : "gzip");
#ifdef WITH_ZSTD
    if (packing == PACKING_ZSTD) {
        u->zstd = ZSTD_createDStream();
        ready = u->zstd != NULL;
    }
#endif
#ifdef WITH_ZLIB
    if (packing == PACKING_GZIP)
        ready = inflateInit2(&u->gzip, 15 + 16) == Z_OK; /* the largest window, gzip only */
#endif
    if (ready)
        return u;
    free(u);
    return NULL;
}

void unpack_free(struct unpack *u)
{
    if (!u)
        return;
#ifdef WITH_ZSTD
    if (u->packing == PACKING_ZSTD)
        ZSTD_freeDStream(u->zstd);
#endif
#ifdef WITH_ZLIB
    if (u->packing == PACKING_GZIP)
        inflateEnd(&u->gzip);
#endif
    free(u);
}

bool unpack_step(struct unpack *u, const void *in, size_t len, size_t *used, void *out, size_t cap,
                 size_t *made)
{
    *used = *made = 0;
#ifdef WITH_ZSTD
    if (u->packing == PACKING_ZSTD)
        return zstd_step(u, in, len, used, out, cap, made);
#endif
#ifdef WITH_ZLIB
    if (u->packing == PACKING_GZIP)
        return gzip_step(u, in, len, used, out, cap, made);
#endif
    (void)u, (void)in, (void)len, (void)out, (void)cap;
    return false;
}

bool unpack_is_within(const struct unpack *u)
{
    return u->within;
}
