/* What a batch of frames says: its messages with their values, worked out at
 * once, so that a thread that reads a log ahead can do it while another decides
 * what they mean. The same wire must hear every frame of the log, in order;
 * what comes out is what wire_frame and decode_values give. */
#ifndef STOKEHOLD_WIRE_HEARD_H
#define STOKEHOLD_WIRE_HEARD_H

#include "wire/decode.h"
#include "wire/wire.h"

#define HEARD_FRAMES 512 /* of a batch at most */

struct heard_message {
    struct message message;
    uint32_t first; /* values[first..first + count) are its */
    uint32_t count;
};

/* Large, as every frame could end a message of the longest kind; filled from
 * the front, so that pages behind what a batch needs are never touched. */
struct heard {
    struct wire_stats stats;     /* after the last frame */
    uint16_t ends[HEARD_FRAMES]; /* by frame: messages[ends - 1] is complete; 0:
                                    none is */
    struct heard_message messages[HEARD_FRAMES];
    struct wire_value values[HEARD_FRAMES * DECODE_VALUES_MAX];
    uint8_t data[HEARD_FRAMES * MESSAGE_MAX]; /* of messages of more than one frame */
};

/* Messages of one frame go on pointing into f. */
void wire_hear(struct wire *w, const struct frame *f, size_t n, struct heard *out);

#endif
