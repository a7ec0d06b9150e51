/* Which very file a report is about. */
#ifndef STOKEHOLD_SESSION_DIGEST_H
#define STOKEHOLD_SESSION_DIGEST_H

#include "base/sha256.h"

#include <stdbool.h>

/* SHA-256 of the file's bytes; false where it cannot be read again, as standard input. */
bool digest_file(const char *path, char dst[SHA256_TEXT]);

#endif
