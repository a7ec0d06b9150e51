/* A file that a verb writes as a whole: what stood there stays until the new one is complete, so
 * that a full disk costs no earlier baseline or report. */
#ifndef STOKEHOLD_SESSION_WHOLE_FILE_H
#define STOKEHOLD_SESSION_WHOLE_FILE_H

#include <stdbool.h>
#include <stdio.h>

/* write puts the text into a stream that never fails but for memory. Where path is not a plain file
 * (a device, a pipe, a link) it is written in place. False after a message about it, as of `verb`,
 * on standard error. */
bool whole_file(const char *verb, const char *path, void (*write)(FILE *out, const void *ctx),
                const void *ctx);

#endif
