/* Fuzzing of the frame path: the input is a chain of frames, 15 bytes each (flags and length, a
 * step of time, interface, id, data), fed through the assembler and every decoder; then heard again
 * as one batch, which must give the same. `make fuzz` builds and runs it. */
#include "wire/decode.h"
#include "wire/dm1.h"
#include "wire/heard.h"
#include "../support/name.h"
#include "check_text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static struct frame batch[HEARD_FRAMES];
static struct heard heard;

static void hear_again(size_t n, bool all, const size_t values[HEARD_FRAMES])
{
    struct wire *w = wire_new();
    if (w == NULL)
        return;
    wire_want_all(w, all);
    wire_hear(w, batch, n, &heard);
    for (size_t i = 0; i < n; i++) {
        const struct heard_message *m = &heard.messages[heard.ends[i] > 0 ? heard.ends[i] - 1 : 0];
        if (values[i] != (heard.ends[i] == 0 ? 0 : 1 + m->count))
            abort();
        if (heard.ends[i] != 0 &&
            memcmp(&m->message.at, &(struct stamp){batch[i].wall_ns, batch[i].mono_ns},
                   sizeof(struct stamp)) != 0)
            abort();
    }
    wire_free(w);
}

/* What describes makers, batteries and what others raise. */
static void decode_descriptions(const struct message *m)
{
    struct product_info p;
    struct engine_maker e;
    struct battery_setup b;
    struct bus_alert a;
    if (decode_product_info(m, &p))
        check_text(p.model, sizeof p.model);
    if (decode_engine_maker(m, &e)) {
        check_text(e.vin, sizeof e.vin);
        check_text(e.software, sizeof e.software);
    }
    if (decode_battery_setup(m, &b))
        (void)battery_setup_chemistry(&b);
    if (decode_bus_alert(m, &a)) {
        check_text(a.description, sizeof a.description);
        check_text(a.location, sizeof a.location);
    }
}

/* How many values there were. */
static size_t decode_all(const struct message *m)
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
    (void)decode_engine_status(m, &engine, &one, &two);
    (void)decode_system_time(m, &ns);
    (void)decode_heartbeat(m, &h);
    decode_descriptions(m);
    if (name_from_claim(m, &name) &&
        name_encode(name_decode(name)) != (name & ~(UINT64_C(1) << 48)))
        abort();
    return n;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct wire *w = wire_new();
    if (w == NULL)
        return 0;
    bool all = size > 0 && (data[0] & 1);
    size_t n = 0, values[HEARD_FRAMES]; /* and one, where there was a message */
    wire_want_all(w, all);
    int64_t now_ns = 0;
    for (size_t at = 1; at + 15 <= size && n < HEARD_FRAMES; at += 15) {
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
        batch[n] = f;
        values[n++] = wire_frame(w, &f, &m) ? 1 + decode_all(&m) : 0;
    }
    wire_free(w);
    hear_again(n, all, values);
    return 0;
}
