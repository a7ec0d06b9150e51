/* Packet captures as logs: pcap (draft-ietf-opsawg-pcap) and pcapng (draft-ietf-opsawg-pcapng), of
 * either byte order, link type CAN_SOCKETCAN (227; www.tcpdump.org/linktypes/
 * LINKTYPE_CAN_SOCKETCAN.html). Read out of the same stream of bytes as text logs are, so that a
 * capture may be packed, or come through a pipe that pauses. Interfaces go by the names that a
 * pcapng file gives them; pcap names none, so all its frames are of "can0". */
#ifndef STOKEHOLD_BUS_CAPTURE_H
#define STOKEHOLD_BUS_CAPTURE_H

#include "bus/bytes.h"
#include "bus/source.h"

#define CAPTURE_FIRST 4 /* bytes that tell a capture */

bool capture_recognize(const void *first, size_t len);

/* Makes s, of any kind, a capture that begins with the len bytes of `first` and goes on with `in`,
 * both owned by it from now on; what s was made of before is the caller's to free. False and e when
 * memory is out: then nothing has changed. */
bool capture_become(struct source *s, struct bytes *in, const void *first, size_t len,
                    struct err *e);

#endif
