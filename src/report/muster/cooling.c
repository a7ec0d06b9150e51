/* What the cooling watch would have of each engine: how soon it could tell lost water, and why not
 * sooner. */
#include "report/muster/muster.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

static struct muster_cooling *place_of(struct muster *m, int instance)
{
    for (int i = 0; i < m->cooling_count; i++)
        if (m->cooling[i].instance == instance)
            return &m->cooling[i];
    return m->cooling_count < MUSTER_ENGINES ? &m->cooling[m->cooling_count++] : NULL;
}

void muster_look(struct muster *m, const struct keeper *k)
{
    const struct plant *p = keeper_plant((struct keeper *)k);
    int slots[PLANT_ENGINES], n = plant_engines_in_order(p, slots);
    for (int i = 0; i < n; i++) {
        const struct engine *e = plant_engine(p, slots[i]);
        struct muster_cooling *c = place_of(m, e->instance);
        bool runs = e->state == ENGINE_RUNNING;
        if (c == NULL || (c->ran && !runs))
            continue;
        bool twin = c->sense.twin && !e->generator;
        *c = (struct muster_cooling){.instance = e->instance,
                                     .ran = runs,
                                     .generator = e->generator,
                                     .sense = keeper_sense(k, slots[i])};
        c->sense.twin |= twin; /* compared with it at any time, not only in port at the end */
        text_copy(c->name, sizeof c->name, e->name);
    }
}

static void add_word(char *dst, size_t cap, const char *word)
{
    text_append(dst, cap, "%s%s", dst[0] != '\0' ? ", " : "", word);
}

const char *muster_cooling_words(char *dst, size_t cap, const struct muster *m,
                                 const struct muster_cooling *c)
{
    const struct cooling_sense *s = &c->sense;
    char has[80] = "", lacks[80] = "", period[24], delay[24];
    const char *load = cooling_load_text(s->load);
    add_word(s->speed ? has : lacks, sizeof has, "speed");
    add_word(load[0] != '\0' ? has : lacks, sizeof has, load[0] != '\0' ? load : "load");
    int drive = 0; /* a generator is nobody's twin */
    for (int i = 0; i < m->cooling_count; i++)
        drive += !m->cooling[i].generator;
    if (drive > 1 && !c->generator)
        add_word(s->twin ? has : lacks, sizeof has, "twin");
    add_word(s->sea ? has : lacks, sizeof has, "sea");
    if (!s->exhaust) {
        text_format(dst, cap, "BLIND to lost water: no exhaust temperature is heard");
        return dst;
    }
    text_number(period, sizeof period, s->period_s, 1);
    text_format(dst, cap, "exhaust every %s s, has %s%s%s", isfinite(s->period_s) ? period : "?",
                has[0] != '\0' ? has : "nothing else", lacks[0] != '\0' ? ", lacks " : "", lacks);
    if (s->blind)
        text_append(dst, cap, ": BLIND to lost water before the fixed limit%s",
                    s->speed ? "" : " (no speed)");
    else if (!c->ran)
        text_append(dst, cap, "; it did not run");
    else if (text_number(delay, sizeof delay, s->delay_s, 0))
        text_append(dst, cap, "; lost water warns in about %s s as it last ran", delay);
    return dst;
}
