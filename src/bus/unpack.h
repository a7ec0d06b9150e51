/* zstd and gzip, unpacked piece by piece; each is there only if the program was built with its
 * library (WITH_ZSTD, WITH_ZLIB). */
#ifndef STOKEHOLD_BUS_UNPACK_H
#define STOKEHOLD_BUS_UNPACK_H

#include "base/err.h"

#include <stdbool.h>
#include <stddef.h>

enum packing { PACKING_NONE, PACKING_ZSTD, PACKING_GZIP };

struct unpack;

#define UNPACK_FIRST 4 /* bytes that tell */

/* By the first bytes of a stream. */
enum packing unpack_recognize(const void *first, size_t len);
/* NULL and e when out of memory or built without it. */
struct unpack *unpack_new(enum packing packing, struct err *e);
void unpack_free(struct unpack *u); /* NULL is allowed */
/* Takes *used of len bytes and makes *made of up to cap. False when the input makes no sense. */
bool unpack_step(struct unpack *u, const void *in, size_t len, size_t *used, void *out, size_t cap,
                 size_t *made);
/* True in the middle of a member: the input must not end here. */
bool unpack_is_within(const struct unpack *u);

#endif
