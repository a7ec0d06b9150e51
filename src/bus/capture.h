/* Packet captures as logs, through libpcap: pcap and pcapng files of link type CAN_SOCKETCAN (227;
 * www.tcpdump.org/linktypes/LINKTYPE_CAN_SOCKETCAN.html). Interfaces by the names a pcapng
 * file gives them (capture_ifaces.h); pcap names none, so all its frames are of "can0", and so are
 * those of a capture on standard input. Built without libpcap it refuses them. */
#ifndef STOKEHOLD_BUS_CAPTURE_H
#define STOKEHOLD_BUS_CAPTURE_H

#include "bus/source.h"

/* path, or "-". NULL and e on failure. */
struct source *capture_open(const char *path, struct err *e);

#endif
