/* Fuzzing of the whole watch: frames, as in fuzz_wire.c, through plant and rules to alerts. Checked
 * on the way: lists within their bounds, texts terminated and free of control bytes. */
#include "keeper/keeper.h"

#include "config/config.h"

#include "check_text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void look(const struct keeper *k)
{
    const struct plant *p = keeper_plant(k);
    if (plant_count(p) > PLANT_CHANNELS || plant_engine_count(p) > PLANT_ENGINES)
        abort();
    for (size_t i = 0; i < plant_count(p); i++) {
        const struct channel *c = plant_channel(p, i);
        check_text(c->key, sizeof c->key);
        check_text(c->label, sizeof c->label);
        if (!isfinite(c->value) || c->engine >= PLANT_ENGINES)
            abort();
    }
    const struct alert_list *alerts = keeper_alerts(k);
    if (alerts_count(alerts) > ALERTS_MAX)
        abort();
    for (size_t i = 0; i < alerts_count(alerts); i++)
        check_text(alerts_at(alerts, i)->text, ALERT_TEXT_SIZE);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct settings *settings; /* the shipped ones, kept over runs */
    if (settings == NULL) {
        struct config_messages *messages = NULL;
        settings = config_load_text("fuzz", "", &messages);
        config_messages_free(messages);
    }
    struct keeper *k = keeper_new(settings, &(struct keeper_options){.escalate = true});
    if (settings == NULL || k == NULL)
        abort();
    int64_t now_ns = 1000 * NS_PER_S;
    for (size_t at = 1; at + 15 <= size; at += 15) {
        const uint8_t *d = data + at;
        now_ns += (int64_t)d[1] * 20 * NS_PER_MS;
        struct frame f = {
            .flags = (uint8_t)((d[0] >> 4) ^ FRAME_EXTENDED),
            .len = d[0] & 0xF,
            .iface = d[2] & 15,
            .id = ((uint32_t)d[3] << 24 | (uint32_t)d[4] << 16 | (uint32_t)d[5] << 8 | d[6]) &
                  0x1FFFFFFF,
            .wall_ns = now_ns,
            .mono_ns = now_ns,
        };
        if (f.len > 8)
            f.len = 8;
        memcpy(f.data, d + 7, 8);
        keeper_frames(k, &f, 1);
    }
    look(k);
    keeper_free(k);
    return 0;
}
