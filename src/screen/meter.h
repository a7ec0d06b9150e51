/* How busy a bus is, from the frames that were heard: frames a second and load over the last few
 * seconds of their own time. The load counts the bits of each frame without stuffing (ISO 11898-1:
 * 67 bits around the data of a 29-bit frame, 47 of an 11-bit one), so it is a lower bound; a live
 * interface knows better. */
#ifndef STOKEHOLD_SCREEN_METER_H
#define STOKEHOLD_SCREEN_METER_H

#include "bus/frame.h"

#include <stdbool.h>
#include <stddef.h>

#define METER_SLOTS   5
#define METER_BITRATE 250000.0 /* of IEC 61162-3 and of most J1939 engines */

struct meter {
    int64_t second; /* the newest slot's, mono; 0 before the first frame */
    int64_t first_second;
    struct {
        uint32_t frames, bits;
    } slots[METER_SLOTS];
};

void meter_frames(struct meter *m, const struct frame *f, size_t n);
/* Over the whole seconds before now; false until there is one. */
bool meter_read(const struct meter *m, int64_t now_ns, double *frames_per_s, double *load_percent);

#endif
