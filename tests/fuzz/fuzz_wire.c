/* Fuzzing of the frame path: the input is a chain of frames, 15 bytes each (flags and length, a
 * step of time, interface, id, data), fed through the assembler and every decoder.
 * `make fuzz` builds and runs it. */
#include "wire/decode.h"
#include "wire/dm1.h"
#include "../support/name.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void decode_all(const struct message *m)
{
    struct wire_value v[DECODE_VALUES_MAX];
    size_t n = decode_values(m, v);
    if (n > DECODE_VALUES_MAX)
        abort();
    for (size_t i = 0; i < n; i++) {
        char key[CHANNEL_KEY_SIZE];
        channel_id_format(key, sizeof key, v[i].id);
        if (!isfinite(v[i].value) || (v[i].status != READING_OK && v[i].value != 0.0))
            abort();
    }
    struct dm1 d;
    if (dm1_decode(m, &d) && d.code_count > DM1_CODES_MAX)
        abort();
    uint8_t engine;
    uint16_t one, two;
    int64_t ns;
    uint64_t name;
    struct heartbeat h;
    struct product_info p;
    (void)decode_engine_status(m, &engine, &one, &two);
    (void)decode_system_time(m, &ns);
    (void)decode_heartbeat(m, &h);
    (void)decode_product_info(m, &p);
    if (name_from_claim(m, &name) &&
        name_encode(name_decode(name)) != (name & ~(UINT64_C(1) << 48)))
        abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct wire *w = wire_new();
    if (w == NULL)
        return 0;
    if (size > 0)
        wire_want_all(w, data[0] & 1);
    int64_t now_ns = 0;
    for (size_t at = 1; at + 15 <= size; at += 15) {
        const uint8_t *d = data + at;
        now_ns += (int64_t)d[1] * 10 * NS_PER_MS;
        struct frame f = {
            .flags = (uint8_t)((d[0] >> 4) ^ FRAME_EXTENDED),
            .len = d[0] & 0xF,
            .iface = d[2],
            .id = (uint32_t)d[3] << 24 | (uint32_t)d[4] << 16 | (uint32_t)d[5] << 8 | d[6],
            .wall_ns = now_ns,
            .mono_ns = now_ns,
        };
        f.id &= 0x1FFFFFFF;
        memcpy(f.data, d + 7, 8);
        struct message m;
        if (wire_frame(w, &f, &m))
            decode_all(&m);
    }
    wire_free(w);
    return 0;
}
