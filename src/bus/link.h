/* What the kernel says about a network interface (rtnetlink), and word of changes.
 * Reading needs no privilege. Where netlink sockets are refused, flags come through ioctl and
 * the kind, bit rate and controller state stay unknown.
 * Facts: rtnetlink(7), linux/if_link.h, linux/can/netlink.h. */
#ifndef STOKEHOLD_BUS_LINK_H
#define STOKEHOLD_BUS_LINK_H

#include "bus/socketcan.h"

struct link_info {
    bool present, up, carrier;
    int index;
    bool is_can;     /* of CAN at all */
    bool is_virtual; /* vcan, vxcan */
    uint32_t bitrate;
    enum controller_state controller;
    int tx_errors, rx_errors; /* -1 unknown */
};

/* A netlink socket for link_query; with `watch` one that becomes readable when any interface
 * changes. -1 where that is refused. The caller closes it. */
int link_open(bool watch);
/* Reads away what made the watching socket readable; true if that was word of a change. */
bool link_changed(int watch_fd);
/* Asks for one interface by name; netlink_fd may be -1. False, with errno, where nobody could be
 * asked: whether it is there is not known. */
bool link_query(int netlink_fd, const char *name, struct link_info *out);

#endif
