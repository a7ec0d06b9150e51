/* One CAN frame as every layer sees it: at most 8 data bytes, two times, an interface.
 * CAN FD frames are counted by the sources and handed on with FRAME_FD set and their first 8
 * bytes, with FRAME_CUT where they had more; no marine protocol read here uses them. */
#ifndef STOKEHOLD_BUS_FRAME_H
#define STOKEHOLD_BUS_FRAME_H

#include <stdint.h>

#define FRAME_EXTENDED 0x01 /* 29-bit id */
#define FRAME_REMOTE   0x02
#define FRAME_ERROR    0x04 /* id holds the error class bits of linux/can/error.h */
#define FRAME_FD       0x08
#define FRAME_SENT     0x10 /* the log marks it as sent by the logging machine */
#define FRAME_GAP      0x20 /* the record holds nothing for a while before this frame */
#define FRAME_HOLE     0x40 /* of a log: nothing at all for far longer than usual; timeline.h */
#define FRAME_CUT      0x80 /* a CAN FD frame that had more data than is kept of it */

struct frame {
    int64_t wall_ns; /* as the log or the kernel stamped it; may step either way */
    int64_t mono_ns; /* never goes back; see bus/timeline.h */
    uint32_t id;     /* 29 or 11 bits, flags stripped */
    uint8_t iface;   /* index, names from source_iface_name */
    uint8_t len;     /* 0..8 */
    uint8_t flags;
    uint8_t data[8];
};

#endif
