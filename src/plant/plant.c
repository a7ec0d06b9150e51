#include "plant/inside.h"

#include "base/text.h"
#include "wire/dm1.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static void find_dry(struct plant *p)
{
    for (unsigned n = 0; n < 256; n++) {
        struct channel_id id = {QTY_EXHAUST, (uint8_t)n, 0};
        const struct channel_setting *wet = settings_channel(p->settings, id);
        id.quantity = QTY_EXHAUST_GAS;
        const struct channel_setting *gas = settings_channel(p->settings, id);
        p->dry[n] = (wet != NULL && wet->dry) || (gas != NULL && gas->dry);
    }
}

static void find_aliases(struct plant *p)
{
    memset(p->aliased, 0, sizeof p->aliased);
    memset(p->remade, 0, sizeof p->remade);
    for (size_t i = 0; i < p->settings->channel_count; i++) {
        const struct channel_setting *s = &p->settings->channels[i];
        if (s->from.quantity == QTY_NONE)
            continue;
        p->aliased[s->from.quantity % QTY_COUNT] = true;
        p->remade[s->id.quantity % QTY_COUNT] = true;
    }
    for (size_t q = 0; q < QTY_COUNT; q++)
        p->special[q] = p->aliased[q] || p->remade[q] || q == QTY_EXHAUST;
}

struct plant *plant_new(const struct settings *settings)
{
    struct plant *p = calloc(1, sizeof *p);
    if (p == NULL)
        return NULL;
    p->channels = calloc(PLANT_CHANNELS, sizeof *p->channels);
    p->histories = histories_new(PLANT_CHANNELS);
    if (p->channels == NULL || p->histories == NULL) {
        plant_free(p);
        return NULL;
    }
    p->sender_count = 1;
    p->settings = settings;
    find_dry(p);
    find_aliases(p);
    slots_configure(p);
    return p;
}

void plant_free(struct plant *p)
{
    if (p == NULL)
        return;
    histories_free(p->histories);
    free(p->channels);
    free(p);
}

bool plant_listen(struct plant *p, struct plant_listener l)
{
    if (p->listener_count == LISTENERS_MAX)
        return false;
    p->listeners[p->listener_count++] = l;
    if (l.reading != NULL)
        p->readers[p->reader_count++] = l;
    return true;
}

/* A sensor that was wet becomes dry, or back: the channel keeps its history under its new key. */
static void turn_exhaust(struct plant *p, unsigned instance, enum quantity from, enum quantity to)
{
    struct channel_id old = {(uint16_t)from, (uint8_t)instance, 0};
    struct channel_id new = {(uint16_t)to, (uint8_t)instance, 0};
    if (plant_find(p, old) == NULL || plant_find(p, new) != NULL)
        return;
    table_rename(&p->table, old, new);
    for (size_t i = 0; i < p->count; i++) {
        if (channel_id_same(p->channels[i].c.id, old))
            p->channels[i].c.id = new;
    }
}

void plant_reconfigure(struct plant *p, const struct settings *settings)
{
    bool dry[256];
    memcpy(dry, p->dry, sizeof dry);
    p->settings = settings;
    find_dry(p);
    find_aliases(p);
    for (unsigned n = 0; n < 256; n++) {
        if (p->dry[n] && !dry[n])
            turn_exhaust(p, n, QTY_EXHAUST, QTY_EXHAUST_GAS);
        else if (!p->dry[n] && dry[n])
            turn_exhaust(p, n, QTY_EXHAUST_GAS, QTY_EXHAUST);
    }
    slots_configure(p);
    admit_resettle(p);
    for (size_t i = 0; i < p->count; i++) {
        admit_configure(p, &p->channels[i]);
        names_key(p, &p->channels[i]);
    }
}

void plant_name_iface(struct plant *p, uint8_t iface, const char *name)
{
    if (iface >= PLANT_IFACES)
        return;
    text_copy(p->iface_names[iface], sizeof p->iface_names[iface], name);
    for (size_t i = 0; i < p->count; i++)
        names_key(p, &p->channels[i]);
}

/* Whether the key is configured to be filled from another one: what arrives under it does not
 * count then. */
static bool is_remade(const struct plant *p, struct channel_id id)
{
    if (!p->remade[id.quantity])
        return false;
    const struct channel_setting *s = settings_channel(p->settings, id);
    return s != NULL && s->from.quantity != QTY_NONE;
}

/* The channel that takes this value; NULL where it is not wanted now, or there is no room. Nearly
 * always it is the one that the sender fills already, from the same message. */
static inline struct kept *filled(struct plant *p, const struct message *m,
                                  const struct wire_value *v, uint16_t sender)
{
    int i = table_get(&p->table, v->id, sender);
    if (i >= 0 && p->channels[i].sender == sender && p->channels[i].rank == v->field_rank)
        return &p->channels[i];
    return admit_other(p, m, v, sender, i);
}

static inline void take_as(struct plant *p, const struct message *m, const struct wire_value *v,
                           uint16_t sender)
{
    struct kept *k = filled(p, m, v, sender);
    if (k != NULL)
        take_value(p, k, m, v);
}

/* The same value once more, for each channel that is configured to be filled from this one. */
static void take_aliases(struct plant *p, const struct message *m, const struct wire_value *v,
                         uint16_t sender)
{
    for (size_t i = 0; i < p->settings->channel_count; i++) {
        const struct channel_setting *s = &p->settings->channels[i];
        if (!channel_id_same(s->from, v->id))
            continue;
        struct wire_value as = *v;
        as.id = s->id;
        as.capacity_l = 0;
        take_as(p, m, &as, sender);
    }
}

static void take_special(struct plant *p, const struct message *m, struct wire_value v,
                         uint16_t sender)
{
    if (v.id.quantity == QTY_EXHAUST && p->dry[v.id.place])
        v.id.quantity = QTY_EXHAUST_GAS;
    if (!is_remade(p, v.id))
        take_as(p, m, &v, sender);
    if (p->aliased[v.id.quantity])
        take_aliases(p, m, &v, sender);
}

static void note_earlier(struct source_seen *s, const struct message *m)
{
    struct dm1 d;
    if (!dm1_decode(m, &d))
        return;
    int codes = d.code_count + d.more;
    s->earlier = (uint8_t)(codes < UINT8_MAX ? codes : UINT8_MAX);
    s->earlier_spn = codes > 0 ? d.codes[0].spn : 0;
    s->earlier_fmi = codes > 0 ? d.codes[0].fmi : 0;
}

void plant_message(struct plant *p, const struct message *m)
{
    struct wire_value values[DECODE_VALUES_MAX];
    plant_values(p, m, values, decode_values(m, values));
}

void plant_values(struct plant *p, const struct message *m, const struct wire_value *v, size_t n)
{
    p->now = m->at;
    if (m->iface >= PLANT_IFACES) {
        p->dropped++;
        return;
    }
    struct address *a = &p->addresses[m->iface][m->source];
    switch (m->pgn) {
    case 60928:
        senders_claim(p, m);
        break;
    case 65227:
        note_earlier(&a->seen, m);
        break;
    case 127513:
        volts_told(p, m);
        break;
    default:
        break;
    }
    a->seen.seen = true;
    a->seen.frames++;
    a->seen.last_ns = m->at.mono_ns;
    if (a->sender == NO_SENDER) {
        if (n == 0)
            return;
        senders_of(p, a, m->iface, m->source);
    }
    uint16_t sender = a->sender;
    if (sender == NO_SENDER) {
        p->dropped += n;
        return;
    }
    struct sender *s = &p->senders[sender];
    if (n > 0) /* a heartbeat goes on where all that a box measures has stopped */
        s->last_ns = m->at.mono_ns;
    if (n > 0 && s->off) {
        s->off = false;
        s->back_ns = m->at.mono_ns;
    }
    for (size_t i = 0; i < n; i++) {
        if (p->special[v[i].id.quantity])
            take_special(p, m, v[i], sender);
        else
            take_as(p, m, &v[i], sender);
    }
}

void plant_tick(struct plant *p, struct stamp now)
{
    p->now = now;
    silence_tick(p, now);
    derive_tick(p);
}

void plant_hole(struct plant *p, struct stamp now)
{
    for (size_t i = 0; i < p->count; i++) {
        period_pause(&p->channels[i].period);
        if (p->channels[i].c.status != READING_STALE)
            p->channels[i].heard_ns = now.mono_ns;
    }
    for (size_t i = 0; i < p->sender_count; i++) {
        if (!p->senders[i].off)
            p->senders[i].last_ns = now.mono_ns;
    }
}

void plant_gap(struct plant *p, struct stamp now)
{
    p->now = now;
    p->next_check_ns = 0;
    plant_hole(p, now);
    engines_gap(p);
    derive_gap(p);
}
