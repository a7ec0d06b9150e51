/* One CAN interface as the reading thread of socketcan.c sees it: a raw socket that comes and goes
 * with the interface, what is known of its controller, its load. Used by that thread alone. */
#ifndef STOKEHOLD_BUS_CAN_PORT_H
#define STOKEHOLD_BUS_CAN_PORT_H

#include "bus/condition.h"
#include "bus/link.h"
#include "bus/socketcan.h"

#define PORT_BATCH 64 /* frames taken from the kernel in one call */

struct can_port {
    uint8_t iface;
    int fd;          /* -1 while there is no interface */
    int bound_index; /* the interface the socket is bound to */
    int receive_bytes;
    struct link_info link;
    struct socketcan_iface known; /* what is published */
    uint32_t dropped;             /* the socket's own counter when last seen */
    int64_t lost_mono_ns;         /* when the last loss was seen */
    int64_t cut_mono_ns;          /* when a CAN FD frame was last cut */
    int64_t empty_mono_ns;        /* the socket held nothing then */
    int64_t second_mono_ns;       /* start of the second that load is counted over */
    uint64_t second_bits, second_bits_worst, second_frames;
    uint32_t standing; /* bits 1 << condition_sort */
    char missing[80];  /* what was last said of an interface that is not read; "" */
    struct condition_queue *conditions;
};

void port_init(struct can_port *p, uint8_t iface, const char *name, struct condition_queue *q);
void port_fini(struct can_port *p);

/* Opens a raw CAN socket with all that reading wants set; -1 with errno. */
int port_socket(int *receive_bytes);

/* Looks at the interface and follows what happened to it. */
void port_refresh(struct can_port *p, int netlink_fd, struct stamp now);
/* Takes up to PORT_BATCH frames; *floor_ns is the latest mono time given out so far on any port
 * and goes on. Returns how many; fewer than PORT_BATCH when there are no more. *lost_link is set
 * when the interface went away meanwhile. */
size_t port_read(struct can_port *p, struct frame *out, int64_t *floor_ns, bool *lost_link);
/* Load and conditions that end by time; true when what is known changed. */
bool port_tick(struct can_port *p, struct stamp now);

#endif
