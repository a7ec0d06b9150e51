#include "plant/inside.h"

#include "base/text.h"

#include <assert.h>
#include <math.h>

#include "base/banned.h"

#define SLOSH_NS (60 * NS_PER_S) /* where the configuration gives none */

/* The channel's own section; one made of a source-14 sensor in dry gas may still be configured
 * under its wet name. A second sender has none: a calibration belongs to one sensor. */
static const struct channel_setting *setting_of(const struct plant *p, struct channel_id id)
{
    const struct channel_setting *s = settings_channel(p->settings, id);
    if (s == NULL && id.quantity == QTY_EXHAUST_GAS && p->dry[id.place]) {
        id.quantity = QTY_EXHAUST;
        s = settings_channel(p->settings, id);
    }
    return s;
}

/* Only the holder of a key counts among the tanks. */
static struct tank_slosh *slosh_for(struct plant *p, struct channel_id id)
{
    if (id.quantity != QTY_FUEL_TANK && id.quantity != QTY_PETROL_TANK)
        return NULL;
    if (p->slosh_count == SLOSHES_MAX) {
        p->dropped++;
        return NULL;
    }
    return &p->sloshes[p->slosh_count++];
}

/* Label, calibration, span and the rest, from the configuration or the quantity. */
void admit_configure(struct plant *p, struct kept *k)
{
    struct channel *c = &k->c;
    const struct quantity_info *info = quantity_info((enum quantity)c->id.quantity);
    const struct channel_setting *s = c->second ? NULL : setting_of(p, c->id);
    c->setting = s;
    c->unit = info->unit;
    text_copy(c->label, sizeof c->label, s != NULL && s->label[0] != '\0' ? s->label : info->label);

    k->physics_low = info->lowest;
    k->physics_high = info->highest;
    k->low = s != NULL && s->has_span ? s->span_low : info->lowest;
    k->high = s != NULL && s->has_span ? s->span_high : info->highest;
    k->followed = c->id.quantity == QTY_RPM || c->unit == UNIT_V || c->unit == UNIT_HZ;
    k->sticks = s != NULL && s->sender.set;
    double capacity_l = tank_configured_l(s);
    if (capacity_l > 0)
        c->capacity_l = capacity_l;
    if (k->slosh != NULL)
        k->slosh->window_ns = s != NULL && s->slosh_ns != 0 ? s->slosh_ns : SLOSH_NS;
    k->accounted =
        k->slosh != NULL || c->id.quantity == QTY_FUEL_RATE || c->id.quantity == QTY_TRIP_FUEL;
    volts_configure(p, k);
}

/* Whether this sender is the one that the configuration names for the key. */
static bool is_chosen(const struct plant *p, const struct channel_setting *s,
                      const struct sender *sender)
{
    if (s->sender.source != sender->address)
        return false;
    if (s->sender.iface[0] == '\0')
        return true;
    const char *name = p->iface_names[sender->iface];
    for (size_t i = 0; i < sizeof s->sender.iface; i++) {
        if (s->sender.iface[i] != name[i])
            return false;
        if (name[i] == '\0')
            return true;
    }
    return true;
}

/* A new configuration may name the sender that was the second one so far. */
void admit_resettle(struct plant *p)
{
    for (size_t i = 0; i < p->count; i++) {
        struct kept *k = &p->channels[i];
        const struct channel_setting *s = setting_of(p, k->c.id);
        if (!k->c.second || k->sender == NO_SENDER || s == NULL || !s->sender.set ||
            !is_chosen(p, s, &p->senders[k->sender]))
            continue;
        struct kept *holder = find_holder(p, k->c.id);
        if (holder != NULL && !holder->c.derived)
            holder->c.second = true;
        else if (holder != NULL)
            continue;
        k->c.second = false;
        if (k->slosh == NULL)
            k->slosh = slosh_for(p, k->c.id);
        table_put(&p->table, k->c.id, TABLE_HOLDER, k->index);
        slots_appeared(p, k);
    }
}

static struct kept *channel_new(struct plant *p, struct channel_id id, uint16_t sender, bool second)
{
    if (p->count == PLANT_CHANNELS || p->table.entries + (second ? 1 : 2) > TABLE_ENTRIES) {
        p->dropped++;
        return NULL;
    }
    uint16_t index = (uint16_t)p->count;
    assert(id.quantity != QTY_NONE);
    table_put(&p->table, id, sender, index);
    if (!second)
        table_put(&p->table, id, TABLE_HOLDER, index);
    const struct quantity_info *info = quantity_info((enum quantity)id.quantity);
    struct kept *k = &p->channels[p->count++];
    p->list[index] = &k->c;
    k->slosh = second ? NULL : slosh_for(p, id);
    k->c.id = id;
    k->c.second = second;
    k->c.history = history_at(p->histories, index);
    k->c.order = index;
    k->c.sane = NAN;
    k->c.engine = info->place == PLACE_ENGINE ? slots_take(p, id) : -1;
    k->index = index;
    k->shared = info->place == PLACE_NONE;
    k->sender = NO_SENDER;
    if (sender != NO_SENDER)
        senders_join(p, k, sender);
    admit_configure(p, k);
    names_key(p, k);
    names_place(p, k);
    return k;
}

/* A field that was never there makes no channel: 127489 has ten, and few engines fill them all.
 * A message that is about nothing else, or a configured key, says that there is a sensor. */
static bool worth_a_channel(const struct plant *p, const struct message *m,
                            const struct wire_value *v)
{
    if (v->status != READING_NOT_AVAILABLE)
        return true;
    return m->pgn == 130312 || m->pgn == 130316 || m->pgn == 127505 || setting_of(p, v->id) != NULL;
}

static struct kept *admit_first(struct plant *p, const struct message *m,
                                const struct wire_value *v, uint16_t sender)
{
    if (!worth_a_channel(p, m, v))
        return NULL;
    const struct channel_setting *s = setting_of(p, v->id);
    bool second = s != NULL && s->sender.set && !is_chosen(p, s, &p->senders[sender]);
    if (s != NULL && s->feed.quantity != QTY_NONE)
        second = true; /* the key is for the net burn of two meters */
    struct kept *k = channel_new(p, v->id, sender, second);
    if (k == NULL)
        return NULL;
    k->rank = v->field_rank;
    if (!second)
        slots_appeared(p, k);
    tell_appeared(p, k);
    /* Others may have spoken before the configured one did. */
    for (size_t i = 0; i < p->count && !second; i++) {
        struct kept *other = &p->channels[i];
        if (other->c.second && channel_id_same(other->c.id, v->id)) {
            names_key(p, other);
            tell_conflict(p, other, k);
        }
    }
    return k;
}

struct kept *admit_derived(struct plant *p, struct channel_id id)
{
    struct kept *k = channel_new(p, id, NO_SENDER, false);
    if (k == NULL)
        return NULL;
    k->c.derived = true;
    k->c.source = ADDRESS_GLOBAL;
    k->c.decimals = (uint8_t)(quantity_info((enum quantity)id.quantity)->decimals + 2);
    tell_appeared(p, k);
    for (size_t i = 0; i < p->count; i++) {
        struct kept *other = &p->channels[i];
        if (other->c.second && channel_id_same(other->c.id, id))
            tell_conflict(p, other, k);
    }
    return k;
}

static struct kept *admit_second(struct plant *p, const struct wire_value *v, uint16_t sender,
                                 struct kept *holder)
{
    if (v->status != READING_OK)
        return NULL;
    struct kept *k = channel_new(p, v->id, sender, true);
    if (k == NULL)
        return NULL;
    tell_appeared(p, k);
    tell_conflict(p, k, holder);
    return k;
}

static struct kept *take_over(struct plant *p, struct kept *k, const struct wire_value *v,
                              uint16_t sender)
{
    senders_leave(p, k);
    senders_join(p, k, sender);
    k->rank = v->field_rank;
    k->period = (struct period){0};
    return k;
}

static bool is_silent(const struct plant *p, const struct kept *k)
{
    int64_t patience_ns = period_patience(&k->period), now_ns = p->now.mono_ns;
    if (k->c.status == READING_STALE || now_ns - k->heard_ns > patience_ns)
        return true;
    return k->c.status != READING_OK && now_ns - k->c.good.mono_ns > patience_ns;
}

/* A value for a channel that is filled from elsewhere now: another message of the same sender, or
 * another sender. */
static struct kept *admit_rival(struct plant *p, const struct wire_value *v, uint16_t sender,
                                struct kept *k)
{
    if (k->sender == sender) {
        if (v->field_rank > k->rank && !is_silent(p, k))
            return NULL;
        k->rank = v->field_rank;
        return k;
    }
    if (v->status != READING_OK)
        return NULL;
    bool fills = k->shared || v->field_rank > 0 || k->rank > 0;
    if (!fills && !(k->c.readings == 0 && !k->sticks))
        return admit_second(p, v, sender, k);
    if (k->sticks)
        return NULL;
    if (v->field_rank < k->rank || k->c.readings == 0 || is_silent(p, k))
        return take_over(p, k, v, sender);
    return NULL;
}

/* known: the channel that the sender filled or wanted to fill before; -1: none. */
struct kept *admit_other(struct plant *p, const struct message *m, const struct wire_value *v,
                         uint16_t sender, int known)
{
    if (known >= 0)
        return admit_rival(p, v, sender, &p->channels[known]);
    struct kept *holder = find_holder(p, v->id);
    if (holder == NULL)
        return admit_first(p, m, v, sender);
    struct kept *k = admit_rival(p, v, sender, holder);
    if (k != NULL ? k == holder : v->status == READING_OK)
        table_put(&p->table, v->id, sender, holder->index);
    return k;
}
