/* Replacing a small file as a whole: written beside it, then renamed over it, so that a reader
 * sees the old or the new one and never a part. */
#ifndef STOKEHOLD_HOOKS_REPLACE_H
#define STOKEHOLD_HOOKS_REPLACE_H

#include "base/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

/* mode is what the new file gets, whatever the umask; 0: 0644 as the umask leaves it. With `sync`
 * the bytes and the name are on the disk when it returns. What stands at path and is not a file (a
 * pipe, a directory) is left alone. False and e on failure; the old file then stands. */
bool replace_file(const char *path, const char *text, size_t len, mode_t mode, bool sync,
                  struct err *e);

#endif
