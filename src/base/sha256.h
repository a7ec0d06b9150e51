/* SHA-256 as FIPS 180-4 describes it, so that a report can say which very log it is about. Not for
 * secrets. Pure. */
#ifndef STOKEHOLD_BASE_SHA256_H
#define STOKEHOLD_BASE_SHA256_H

#include <stddef.h>
#include <stdint.h>

#define SHA256_TEXT 65 /* 64 hexadecimal digits and NUL */

struct sha256 {
    uint32_t h[8];
    uint64_t bytes;
    uint8_t block[64];
};

void sha256_init(struct sha256 *s);
void sha256_add(struct sha256 *s, const void *data, size_t len);
/* Writes the digits in lower case; s is spent. Returns dst. */
const char *sha256_text(struct sha256 *s, char dst[SHA256_TEXT]);

#endif
