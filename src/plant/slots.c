/* Which engines there are, and what they are called. */
#include "plant/inside.h"

#include "base/text.h"

#include <assert.h>

#include "base/banned.h"

/* An exhaust sensor alone does not prove an engine: of its kind a boat may have many, and these
 * slots are left for engines that say more of themselves. */
#define KEPT_FREE 2

const struct engine *plant_engine(const struct plant *p, int engine)
{
    static const struct engine none = {.name = ""};
    return engine >= 0 && engine < PLANT_ENGINES ? &p->engines[engine].e : &none;
}

int plant_engine_slot(const struct plant *p, uint8_t instance)
{
    for (int i = 0; i < PLANT_ENGINES; i++) {
        if (p->engines[i].used && p->engines[i].e.instance == instance)
            return i;
    }
    return -1;
}

static bool comes_before(const struct engine *a, const struct engine *b)
{
    return a->generator != b->generator ? b->generator : a->instance < b->instance;
}

int plant_engines_in_order(const struct plant *p, int slots[PLANT_ENGINES])
{
    int n = 0;
    for (int i = 0; i < PLANT_ENGINES; i++) {
        const struct engine *e = &p->engines[i].e;
        if (!e->exists)
            continue;
        int at = n++;
        for (; at > 0 && comes_before(e, &p->engines[slots[at - 1]].e); at--)
            slots[at] = slots[at - 1];
        slots[at] = i;
    }
    return n;
}

/* How many of those in order drive the boat: they come first. */
static int count_propulsion(const struct plant *p, const int *slots, int n)
{
    while (n > 0 && p->engines[slots[n - 1]].e.generator)
        n--;
    return n;
}

int plant_engine_twin(const struct plant *p, int engine)
{
    int slots[PLANT_ENGINES];
    int n = count_propulsion(p, slots, plant_engines_in_order(p, slots));
    if (n != 2 || (slots[0] != engine && slots[1] != engine))
        return -1;
    return slots[0] == engine ? slots[1] : slots[0];
}

int plant_engine_count(const struct plant *p)
{
    int n = 0;
    for (int i = 0; i < PLANT_ENGINES; i++)
        n += p->engines[i].e.exists;
    return n;
}

bool plant_any_running(const struct plant *p)
{
    for (int i = 0; i < PLANT_ENGINES; i++) {
        if (p->engines[i].e.state == ENGINE_RUNNING)
            return true;
    }
    return false;
}

/* ---- names ---- */

/* rank counts from 1, among `of` of its kind. */
static void name_engine(const struct plant *p, struct engine *e, int rank, int of)
{
    const struct engine_setting *s = settings_engine(p->settings, e->instance);
    if (s != NULL && s->name[0] != '\0')
        text_copy(e->name, sizeof e->name, s->name);
    else if (of == 1)
        text_copy(e->name, sizeof e->name, e->generator ? "GENERATOR" : "ENGINE");
    else if (of == 2 && !e->generator)
        text_copy(e->name, sizeof e->name, rank == 1 ? "PORT" : "STARBOARD");
    else
        text_format(e->name, sizeof e->name, "%s %d", e->generator ? "GENERATOR" : "ENGINE", rank);
}

static void name_engines(struct plant *p)
{
    int slots[PLANT_ENGINES], n = plant_engines_in_order(p, slots);
    int drive = count_propulsion(p, slots, n);
    for (int i = 0; i < n; i++) {
        bool generator = i >= drive;
        name_engine(p, &p->engines[slots[i]].e, generator ? i - drive + 1 : i + 1,
                    generator ? n - drive : drive);
    }
    for (int i = 0; i < PLANT_ENGINES; i++) {
        struct engine *e = &p->engines[i].e;
        if (p->engines[i].used && !e->exists)
            name_engine(p, e, e->instance + 1, PLANT_ENGINES);
    }
}

/* What exists: engines that were heard, and of those the configuration counts as many as are still
 * wanting, the ones it names first. */
static void settle(struct plant *p)
{
    int n = 0;
    for (int i = 0; i < PLANT_ENGINES; i++) {
        struct engine_kept *e = &p->engines[i];
        e->e.exists = e->heard;
        n += e->heard;
    }
    for (int named = 1; named >= 0; named--) {
        for (int i = 0; i < PLANT_ENGINES && n < p->settings->engines; i++) {
            struct engine_kept *e = &p->engines[i];
            if (!e->expected || e->e.exists || e->named != (named == 1))
                continue;
            e->e.exists = true;
            n++;
        }
    }
    name_engines(p);
}

/* ---- slots ---- */

static int use(struct plant *p, int slot, uint8_t instance)
{
    struct engine_kept *e = &p->engines[slot];
    assert(!e->joined && !e->named); /* nobody's state goes with it */
    *e = (struct engine_kept){.used = true, .e.instance = instance};
    name_engine(p, &e->e, instance + 1, PLANT_ENGINES);
    return slot;
}

/* A slot for this instance, its own number where that is free; -1 where fewer than `keep` would be
 * left. */
static int take_slot(struct plant *p, uint8_t instance, int keep)
{
    int slot = plant_engine_slot(p, instance), open = 0;
    if (slot >= 0)
        return slot;
    for (int i = PLANT_ENGINES - 1; i >= 0; i--) {
        const struct engine_kept *e = &p->engines[i];
        bool taken = e->used && (e->joined || e->named);
        open += !taken;
        if (!taken && (slot < 0 || !e->used || p->engines[slot].used))
            slot = i;
    }
    if (open <= keep)
        return -1;
    return use(p, instance < PLANT_ENGINES && !p->engines[instance].used ? instance : slot,
               instance);
}

int slots_take(struct plant *p, struct channel_id id)
{
    bool exhaust = id.quantity == QTY_EXHAUST || id.quantity == QTY_EXHAUST_GAS;
    int slot = take_slot(p, id.place, exhaust ? KEPT_FREE : 0);
    if (slot >= 0)
        p->engines[slot].joined = true;
    else if (!exhaust)
        p->dropped++;
    return slot;
}

static void name_slot(struct plant *p, uint8_t instance)
{
    int slot = take_slot(p, instance, 0);
    if (slot < 0)
        return;
    p->engines[slot].named = true;
    p->engines[slot].expected = true;
}

/* Whether some other engine is there that drives the boat, for all that is known: who goes straight
 * to 1800 rpm and cruises there for hours is no generator where nothing else would move the boat,
 * nor where its twin does the same. */
static bool another_drives(const struct plant *p, int engine)
{
    for (int i = 0; i < PLANT_ENGINES; i++) {
        const struct engine_kept *e = &p->engines[i];
        if (i != engine && e->heard &&
            (e->geared || !(e->sends_ac || (e->constant.found && !e->gear_oil))))
            return true;
    }
    return false;
}

static bool find_generator(const struct plant *p, int engine)
{
    const struct engine_kept *e = &p->engines[engine];
    const struct engine_setting *s = settings_engine(p->settings, e->e.instance);
    if (s != NULL && s->kind != ENGINE_FOUND)
        return s->kind == ENGINE_GENERATOR;
    bool by_speed = e->constant.found && !e->gear_oil && another_drives(p, engine);
    return !e->geared && (e->sends_ac || by_speed);
}

/* What one proves to be says something of the others. */
void slots_find_kinds(struct plant *p)
{
    bool changed = false;
    for (int i = 0; i < PLANT_ENGINES; i++) {
        bool generator = find_generator(p, i);
        changed |= generator != p->engines[i].e.generator;
        p->engines[i].e.generator = generator;
    }
    if (changed)
        name_engines(p);
}

/* What the configuration names keeps a slot from the start; where it says how many engines there
 * are and names fewer, the lowest numbers stand in for the others until they speak. */
void slots_configure(struct plant *p)
{
    const struct settings *s = p->settings;
    for (int i = 0; i < PLANT_ENGINES; i++)
        p->engines[i].named = p->engines[i].expected = false;
    for (size_t i = 0; i < s->engine_count; i++)
        name_slot(p, s->engine[i].instance);
    for (size_t i = 0; i < s->channel_count; i++) {
        if (quantity_info((enum quantity)s->channels[i].id.quantity)->place == PLACE_ENGINE)
            name_slot(p, s->channels[i].id.place);
    }
    for (size_t i = 0; i < s->rule_count; i++) {
        const struct rule_setting *r = &s->rules[i];
        if (!r->any_place && quantity_info((enum quantity)r->id.quantity)->place == PLACE_ENGINE)
            name_slot(p, r->id.place);
    }
    for (int n = 0; n < s->engines; n++) {
        int slot = take_slot(p, (uint8_t)n, 0);
        if (slot >= 0)
            p->engines[slot].expected = true;
    }
    settle(p);
    slots_find_kinds(p);
}

/* A box that tells the speed of one engine alone and the volts of alternating current is a
 * generator's. */
static void find_alternating(struct plant *p, const struct kept *k)
{
    const struct sender *s = &p->senders[k->sender];
    if (s->engines == 0 || (s->engines & (s->engines - 1)) != 0)
        return;
    int engine = 0;
    while ((s->engines >> engine & 1) == 0)
        engine++;
    bool speed = false, volts = false;
    for (uint16_t i = s->first; i != NO_CHANNEL; i = p->channels[i].next_of_sender) {
        speed |= p->channels[i].c.id.quantity == QTY_RPM;
        volts |= p->channels[i].c.id.quantity == QTY_AC_VOLTS;
    }
    if (speed && volts && !p->engines[engine].sends_ac) {
        p->engines[engine].sends_ac = true;
        slots_find_kinds(p);
    }
}

/* The oil of a gearbox is a field that some boxes send for engines without one: less than the gear
 * that is in, and less than alternating current. */
static void note_gearbox(struct plant *p, struct engine_kept *e, uint16_t q)
{
    if (q == QTY_GEAR)
        e->geared = true;
    else if (q == QTY_GEAR_NOW || q == QTY_GEAR_OIL_PRESSURE || q == QTY_GEAR_OIL_TEMP)
        e->gear_oil = true;
    else
        return;
    slots_find_kinds(p);
}

/* An engine is there when something of it is heard. Where the configuration says how many there
 * are, a stray temperature makes no further one, but engine speed does. */
void slots_appeared(struct plant *p, struct kept *k)
{
    find_alternating(p, k);
    if (k->c.engine < 0)
        return;
    struct engine_kept *e = &p->engines[k->c.engine];
    bool is_rpm = k->c.id.quantity == QTY_RPM;
    if (is_rpm)
        e->rpm = k;
    note_gearbox(p, e, k->c.id.quantity);
    if (!e->heard && (is_rpm || e->expected || p->settings->engines == 0)) {
        e->heard = true;
        settle(p);
        slots_find_kinds(p);
    }
}
