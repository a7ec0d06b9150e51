/* Which interface each packet of a pcapng file is of: libpcap reads the packets but does not tell.
 * Walks the blocks of the same file beside it, one packet a call (draft-ietf-opsawg-pcapng: section
 * header, interface description with if_name, enhanced, simple and obsolete packet blocks).
 * Whatever is wrong with the file, it only ends in "not known". */
#ifndef STOKEHOLD_BUS_CAPTURE_IFACES_H
#define STOKEHOLD_BUS_CAPTURE_IFACES_H

#include <stdbool.h>
#include <stddef.h>

struct capture_ifaces;

/* NULL where path is no pcapng file (or memory is out): then there is one interface. */
struct capture_ifaces *capture_ifaces_open(const char *path);
/* The name of the next packet's interface as the file has it, any bytes; "canN" by its number where
 * it has none. NULL where it is not known. Good until the next call. */
const char *capture_ifaces_next(struct capture_ifaces *c);
void capture_ifaces_close(struct capture_ifaces *c); /* NULL is allowed */

#endif
