/* Fuzzing of the muster: frames as in fuzz_wire.c, then every form of its output. */
#include "report/muster/muster.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static FILE *nowhere; /* kept open over runs */
    if (nowhere == NULL)
        nowhere = fopen("/dev/null", "w");
    struct muster *m = muster_new(NULL);
    if (nowhere == NULL || m == NULL)
        abort();
    int64_t now_ns = 0;
    for (size_t at = 1; at + 15 <= size; at += 15) {
        const uint8_t *d = data + at;
        now_ns += (int64_t)d[1] * 100 * NS_PER_MS;
        struct frame f = {
            .flags = (uint8_t)((d[0] >> 4) ^ FRAME_EXTENDED),
            .len = d[0] & 0xF,
            .iface = d[2],
            .id = ((uint32_t)d[3] << 24 | (uint32_t)d[4] << 16 | (uint32_t)d[5] << 8 | d[6]) &
                  0x1FFFFFFF,
            .wall_ns = now_ns,
            .mono_ns = now_ns,
        };
        memcpy(f.data, d + 7, 8);
        muster_frames(m, &f, 1);
    }
    muster_close(m);
    muster_print(m, "fuzz", &(struct papers){0}, true, nowhere);
    muster_print_json(m, &(struct papers){0}, nowhere);
    muster_write_config(m, "fuzz", nowhere);
    muster_free(m);
    return 0;
}
