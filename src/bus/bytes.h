/* A stream of bytes below the readers of logs: a file, a pipe, or what is unpacked from one. What
 * zstd (RFC 8878) or gzip (RFC 1952) packed is known by its first bytes and unpacked on the way,
 * several members one after another included. Of a regular file each reader has a place of its own,
 * even where the open file is shared (standard input). Never blocks on anything that poll can wait
 * for. */
#ifndef STOKEHOLD_BUS_BYTES_H
#define STOKEHOLD_BUS_BYTES_H

#include "base/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum bytes_state { BYTES_READY, BYTES_WAIT, BYTES_END, BYTES_FAILED };

struct bytes;

/* path, or "-" for standard input, which is not closed. NULL and e on failure. */
struct bytes *bytes_open(const char *path, struct err *e);
/* READY comes with *got > 0; FAILED with e. */
enum bytes_state bytes_fill(struct bytes *b, void *buf, size_t cap, size_t *got, struct err *e);
/* What is wrong with packed bytes that ended too early or made no sense; NULL while all is well.
 * Reading ends there as at the end of the file: what came before is good. */
const char *bytes_complaint(const struct bytes *b);
/* Back to the first byte; false where that cannot be done. */
bool bytes_rewind(struct bytes *b);
int bytes_fd(const struct bytes *b); /* for poll; -1 where reading never waits */
/* Size of the file as it lies there, and how much of it was read; 0 where unknown. */
uint64_t bytes_size(const struct bytes *b);
uint64_t bytes_read(const struct bytes *b);
void bytes_close(struct bytes *b); /* NULL is allowed */

#endif
