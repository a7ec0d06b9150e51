/* Packs a finished file with zstd, a piece at a time so that nothing waits for it: x.log becomes
 * x.log.zst, which has its name only when it is whole and on the disk, and then x.log goes.
 * It ends in a seal, the sum of its lines (bus/seal.h). Built without zstd it packs nothing. */
#ifndef STOKEHOLD_RECORD_PACK_H
#define STOKEHOLD_RECORD_PACK_H

#include <stdbool.h>

struct pack;

/* NULL when memory is out or zstd is not there. */
struct pack *pack_new(void);
void pack_free(struct pack *p); /* NULL is allowed; an unfinished file is taken back */
bool pack_is_busy(const struct pack *p);
/* Starts with name in the directory; false when it cannot. dir_fd is kept as a copy. */
bool pack_start(struct pack *p, int dir_fd, const char *name);
/* One piece; false when it is no longer busy, done or failed. */
bool pack_step(struct pack *p);

#endif
