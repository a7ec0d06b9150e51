/* Live CAN interfaces through the kernel's SocketCAN raw sockets, as a source (bus/source.h).
 *
 * A thread reads every interface into a ring, so that a stall of everything else loses nothing
 * until ring and socket buffers are full; what the kernel had to drop is counted in lost_frames.
 * Nothing is transmitted, but for socketcan_ask. No filters: the record and the muster see all.
 *
 * Interfaces that are missing, down or unplugged are waited for and picked up again; conditions
 * say so. A source stays open whatever happens to its interfaces.
 *
 * Time: the kernel stamps frames with the wall clock. The reader takes both clocks together and
 * puts the frame's age on the monotonic one, bounded by when the socket was last found empty, so
 * that a step of the wall clock moves no frame on the clock that rules use.
 *
 * Facts: Documentation/networking/can.rst and linux/can/{raw,error,netlink}.h of the kernel. */
#ifndef STOKEHOLD_BUS_SOCKETCAN_H
#define STOKEHOLD_BUS_SOCKETCAN_H

#include "bus/condition.h"
#include "bus/source.h"

enum controller_state {
    CONTROLLER_UNKNOWN, /* a virtual interface, or nothing was said yet */
    CONTROLLER_ACTIVE,
    CONTROLLER_WARNING,
    CONTROLLER_PASSIVE,
    CONTROLLER_BUS_OFF
};

struct socketcan_iface {
    char name[16];
    bool present, up;
    bool is_virtual;
    enum controller_state controller;
    int tx_errors, rx_errors;  /* the controller's counters; -1 where it does not tell */
    uint32_t bitrate;          /* 0: the kernel does not tell; load then assumes 250 kbit/s */
    double load_worst_percent; /* over the last whole second: every frame stuffed as badly as */
    double load_percent;       /* can be; stuffed as its bits really are */
    double frames_per_s;
    uint64_t frames, error_frames, lost_frames;
};

/* True for what is to be taken as an interface: no file of that name, and either an interface of
 * this machine or a name that one could have (no slash, not "-"). What has a dot and is no
 * interface is a log whose name was mistyped: never waited for. */
bool socketcan_is_name(const char *text);
/* True where there is neither a file nor an interface of that name now. */
bool socketcan_is_unknown(const char *text);
/* Puts that before the cause that e holds, where it is so. Always false. */
bool socketcan_say_unknown(const char *text, struct err *e);

/* Opens count interfaces (1..SOURCE_IFACES). Missing ones are waited for. NULL and e when sockets
 * are refused, the kernel has no CAN, a name is impossible, or it is no CAN interface. */
struct source *socketcan_open(const char *const *names, int count, struct err *e);

/* The functions below are for sources of socketcan_open alone. */

/* Ends the reading; what the kernel had received by now can still be read, and nothing more comes.
 */
void socketcan_stop(struct source *s);
/* The next change since the last call; false when there is none. source_fd wakes for these too. */
bool socketcan_condition(struct source *s, struct bus_condition *out);
/* What is known of interface i; false past the last one. */
bool socketcan_iface_get(const struct source *s, int i, struct socketcan_iface *out);
/* "can0: receive buffer 8192 KiB; a stall of 21 s on a full 250 kbit/s bus loses nothing". */
void socketcan_describe(const struct source *s, char *dst, size_t cap);

/* Sends one request for address claims (PGN 59904 asking for 60928) from the null address to all,
 * and nothing else. False and e when that failed. */
bool socketcan_ask(const char *iface, struct err *e);

/* A socket that frames can be sent to, refused for anything but a virtual interface (vcan,
 * vxcan) that is up. -1 and e on failure; the caller closes it. */
int socketcan_open_virtual(const char *iface, struct err *e);
/* Waits until the socket takes it. False and e on failure. */
bool socketcan_send(int fd, const struct frame *f, struct err *e);

#endif
