#include "keeper/expected.h"

#include <stdlib.h>

#include "base/banned.h"

#define EVERY_NS NS_PER_S /* the finest that a history tells apart */

struct expectations {
    int64_t next_ns;
    struct expected of[PLANT_CHANNELS];
    struct history *low[PLANT_CHANNELS], *high[PLANT_CHANNELS];
};

struct expectations *expectations_new(void)
{
    return calloc(1, sizeof(struct expectations));
}

void expectations_free(struct expectations *e)
{
    for (size_t i = 0; e && i < PLANT_CHANNELS; i++) {
        history_free(e->low[i]);
        history_free(e->high[i]);
    }
    free(e);
}

/* Out of memory is not a reason to stop a watch: then there is no band. */
static bool has_room(struct expectations *e, size_t i)
{
    if (!e->low[i])
        e->low[i] = history_new();
    if (e->low[i] && !e->high[i])
        e->high[i] = history_new();
    e->of[i].low = e->low[i];
    e->of[i].high = e->high[i];
    return e->high[i] != NULL;
}

void expectations_note(struct expectations *e, const struct plant *p, const struct rules *r,
                       struct stamp now)
{
    if (now.mono_ns < e->next_ns)
        return;
    e->next_ns = now.mono_ns + EVERY_NS;
    for (size_t i = 0; i < plant_count(p) && i < PLANT_CHANNELS; i++) {
        const struct channel *c = plant_channel(p, i);
        struct expected *x = &e->of[i];
        x->now = c->status == READING_OK && !c->second && c->engine >= 0 &&
                 plant_engine(p, c->engine)->state == ENGINE_RUNNING &&
                 rules_expected(r, c, &x->value, &x->allowance);
        if (!x->now || !has_room(e, i))
            continue;
        history_add(e->low[i], now.mono_ns, x->value - x->allowance);
        history_add(e->high[i], now.mono_ns, x->value + x->allowance);
    }
}

struct expected expectations_at(const struct expectations *e, size_t i)
{
    return i < PLANT_CHANNELS ? e->of[i] : (struct expected){0};
}
