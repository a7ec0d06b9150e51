/* The seal at the end of a packed piece of the record: the sum of its lines, as they were when it
 * was packed, in a frame that every reader of zstd passes over (RFC 8878, 3.1.2: skippable frames).
 *
 *   50 2A 4D 18, length of what follows (4 bytes, low first), "stokehold seal 1 sha256=HEX\n"
 *
 * It tells a file whose lines were changed and packed again around the seal, or cut and joined. It
 * proves nothing against somebody who makes a new seal: there is no secret in it. */
#ifndef STOKEHOLD_BUS_SEAL_H
#define STOKEHOLD_BUS_SEAL_H

#include "base/sha256.h"

#include <stdbool.h>

#define SEAL_TEXT "stokehold seal 1 sha256="
#define SEAL_SIZE (8 + sizeof SEAL_TEXT - 1 + SHA256_TEXT) /* a '\n' in the NUL's place */

void seal_make(uint8_t seal[SEAL_SIZE], const char sum[SHA256_TEXT]);
/* The sum in the last SEAL_SIZE bytes of a file; false where they are no seal. */
bool seal_read(const uint8_t seal[SEAL_SIZE], char sum[SHA256_TEXT]);

#endif
