/* What may be asked of a plant. */
#include "plant/inside.h"

#include <string.h>

#include "base/banned.h"

struct kept *find_holder(const struct plant *p, struct channel_id id)
{
    int i = table_get(&p->table, id, TABLE_HOLDER);
    return i < 0 ? NULL : &p->channels[i];
}

size_t plant_count(const struct plant *p)
{
    return p->count;
}

struct channel *plant_channel(const struct plant *p, size_t i)
{
    return i < p->count ? &p->channels[i].c : NULL;
}

struct channel *const *plant_channels(const struct plant *p)
{
    return p->list;
}

struct channel *plant_find(const struct plant *p, struct channel_id id)
{
    struct kept *k = find_holder(p, id);
    return k == NULL ? NULL : &k->c;
}

struct channel *plant_find_key(const struct plant *p, const char *key)
{
    for (size_t i = 0; i < p->count; i++) {
        if (strcmp(p->channels[i].c.key, key) == 0)
            return &p->channels[i].c;
    }
    return NULL;
}

const char *plant_place(const struct plant *p, const struct channel *c)
{
    if (c->engine >= 0 && c->engine < PLANT_ENGINES)
        return p->engines[c->engine].e.name;
    const struct kept *k = c->order < p->count ? &p->channels[c->order] : NULL;
    return k != NULL && &k->c == c ? k->place : "";
}

const struct source_seen *plant_source(const struct plant *p, uint8_t iface, uint8_t address)
{
    static const struct source_seen none = {.seen = false};
    return iface < PLANT_IFACES ? &p->addresses[iface][address].seen : &none;
}

const struct fuel_account *plant_fuel(const struct plant *p)
{
    return &p->fuel;
}

const struct vent_space *plant_space(const struct plant *p, int place)
{
    return place >= 0 && place < PLANT_SPACES ? &p->spaces[place] : NULL;
}

uint64_t plant_dropped(const struct plant *p)
{
    return p->dropped;
}

struct stamp plant_now(const struct plant *p)
{
    return p->now;
}

const struct settings *plant_settings(const struct plant *p)
{
    return p->settings;
}
