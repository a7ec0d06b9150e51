#include "screen/meter.h"

#include "base/when.h"

#include <string.h>

#include "base/banned.h"

static void move_to(struct meter *m, int64_t second)
{
    if (m->second == 0)
        m->first_second = second;
    if (m->second == 0 || second - m->second >= METER_SLOTS)
        memset(m->slots, 0, sizeof m->slots);
    else
        for (int64_t s = m->second + 1; s <= second; s++)
            memset(&m->slots[s % METER_SLOTS], 0, sizeof m->slots[0]);
    m->second = second;
}

void meter_frames(struct meter *m, const struct frame *f, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        int64_t second = f[i].mono_ns / NS_PER_S;
        if (second > m->second)
            move_to(m, second);
        uint32_t around = f[i].flags & FRAME_EXTENDED ? 67 : 47;
        m->slots[m->second % METER_SLOTS].frames++;
        m->slots[m->second % METER_SLOTS].bits += around + 8u * f[i].len;
    }
}

bool meter_read(const struct meter *m, int64_t now_ns, double *frames_per_s, double *load_percent)
{
    int64_t second = now_ns / NS_PER_S;
    double frames = 0, bits = 0;
    int whole = 0;
    for (int64_t s = second - METER_SLOTS + 1; s < second; s++) {
        if (m->second == 0 || s <= m->first_second)
            continue;
        whole++;
        if (s > m->second || s <= m->second - METER_SLOTS)
            continue;
        frames += m->slots[s % METER_SLOTS].frames;
        bits += m->slots[s % METER_SLOTS].bits;
    }
    if (whole == 0)
        return false;
    *frames_per_s = frames / whole;
    *load_percent = 100 * bits / whole / METER_BITRATE;
    return true;
}
