#include "plant/inside.h"

#include "base/text.h"
#include "plant/calibrate.h"

#include <math.h>
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
}

struct plant *plant_new(const struct settings *settings)
{
    struct plant *p = calloc(1, sizeof *p);
    if (p == NULL)
        return NULL;
    p->settings = settings;
    find_dry(p);
    find_aliases(p);
    engines_configure(p);
    return p;
}

void plant_free(struct plant *p)
{
    if (p == NULL)
        return;
    for (size_t i = 0; i < p->count; i++) {
        history_free(p->channels[i]->c.history);
        free(p->channels[i]->slosh);
        free(p->channels[i]);
    }
    for (int i = 0; i < 256; i++)
        free(p->ifaces[i]);
    free(p);
}

bool plant_listen(struct plant *p, struct plant_listener l)
{
    if (p->listener_count == LISTENERS_MAX)
        return false;
    p->listeners[p->listener_count++] = l;
    return true;
}

void plant_tell_status(struct plant *p, struct kept *k, enum reading_status before, struct stamp at)
{
    for (int i = 0; i < p->listener_count; i++) {
        if (p->listeners[i].status != NULL)
            p->listeners[i].status(p->listeners[i].ctx, &k->c, before, at);
    }
}

void plant_tell_engine(struct plant *p, int engine, enum engine_state before, struct stamp at)
{
    for (int i = 0; i < p->listener_count; i++) {
        if (p->listeners[i].engine != NULL)
            p->listeners[i].engine(p->listeners[i].ctx, engine, before, at);
    }
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
        if (channel_id_same(p->channels[i]->c.id, old))
            p->channels[i]->c.id = new;
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
    engines_configure(p);
    admit_resettle(p);
    for (size_t i = 0; i < p->count; i++) {
        admit_configure(p, p->channels[i]);
        admit_key(p, p->channels[i]);
    }
}

void plant_name_iface(struct plant *p, uint8_t iface, const char *name)
{
    text_copy(p->iface_names[iface], sizeof p->iface_names[iface], name);
    for (size_t i = 0; i < p->count; i++)
        admit_key(p, p->channels[i]);
}

static void take_good(struct plant *p, struct kept *k, double value, struct stamp at)
{
    struct channel *c = &k->c;
    c->value = value;
    c->good = at;
    c->readings++;
    if (value < k->low || value > k->high)
        c->wild++;
    if (value < k->physics_low || value > k->physics_high)
        return; /* kept from the history, where it would hide everything else */
    history_add(c->history, at.mono_ns, value);
    if (c->id.quantity == QTY_RPM) {
        if (c->engine >= 0 && p->engines[c->engine].rpm == k)
            engines_heard(p, k, value, at);
    } else if (c->unit == UNIT_V) {
        volts_heard(p, k);
    }
}

static void tell_reading(struct plant *p, struct kept *k, enum reading_status before,
                         struct stamp at)
{
    if (k->c.status != before)
        plant_tell_status(p, k, before, at);
    for (int i = 0; i < p->listener_count; i++) {
        if (p->listeners[i].reading != NULL)
            p->listeners[i].reading(p->listeners[i].ctx, &k->c, at);
    }
}

static void take_value(struct plant *p, struct kept *k, const struct message *m,
                       const struct wire_value *v)
{
    struct channel *c = &k->c;
    enum reading_status before = c->status;
    k->heard_ns = m->at.mono_ns;
    c->at = m->at;
    c->pgn = m->pgn;
    c->decimals = v->decimals;
    c->repeats = v->repeats;
    if (v->status == READING_OK)
        c->switched_off = false;
    if (v->repeats) {
        period_heard(&k->period, m->at.mono_ns, m->pgn);
        c->period_ns = k->period.estimate_ns;
    }
    if (v->capacity_l > 0 && tank_configured_l(c->setting) <= 0)
        c->capacity_l = v->capacity_l;
    double value = 0;
    c->status = v->status == READING_OK ? calibrate(c->setting, v->value, &value) : v->status;
    if (c->status == READING_OK)
        take_good(p, k, value, m->at);
    derive_heard(p, k);
    tell_reading(p, k, before, m->at);
}

void plant_take_derived(struct plant *p, struct kept *k, double value)
{
    enum reading_status before = k->c.status;
    bool good = isfinite(value);
    if (!good && before == READING_NOT_AVAILABLE)
        return;
    k->heard_ns = p->now.mono_ns;
    k->c.at = p->now;
    k->c.status = good ? READING_OK : READING_NOT_AVAILABLE;
    if (good)
        take_good(p, k, value, p->now);
    derive_heard(p, k);
    tell_reading(p, k, before, p->now);
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
        struct kept *k = admit_find(p, m, &as, sender);
        if (k != NULL)
            take_value(p, k, m, &as);
    }
}

void plant_message(struct plant *p, const struct message *m)
{
    p->now = m->at;
    if (m->pgn == 60928)
        senders_claim(p, m);
    struct address *a = senders_address(p, m->iface, m->source);
    if (a == NULL)
        return;
    a->seen.seen = true;
    a->seen.frames++;
    a->seen.last_ns = m->at.mono_ns;
    struct wire_value values[DECODE_VALUES_MAX];
    size_t n = decode_values(m, values);
    if (n == 0 && a->sender == NO_SENDER)
        return;
    uint16_t sender = senders_of(p, a, m->iface, m->source);
    if (sender == NO_SENDER) {
        p->dropped += n;
        return;
    }
    struct sender *s = &p->senders[sender];
    s->last_ns = m->at.mono_ns;
    if (s->off) {
        s->off = false;
        s->back_ns = m->at.mono_ns;
    }
    for (size_t i = 0; i < n; i++) {
        if (values[i].id.quantity == QTY_EXHAUST && p->dry[values[i].id.place])
            values[i].id.quantity = QTY_EXHAUST_GAS;
        struct kept *k = is_remade(p, values[i].id) ? NULL : admit_find(p, m, &values[i], sender);
        if (k != NULL)
            take_value(p, k, m, &values[i]);
        if (p->aliased[values[i].id.quantity])
            take_aliases(p, m, &values[i], sender);
    }
}

void plant_tick(struct plant *p, struct stamp now)
{
    p->now = now;
    watch_tick(p, now);
    derive_tick(p);
}

void plant_hole(struct plant *p, struct stamp now)
{
    for (size_t i = 0; i < p->count; i++) {
        period_pause(&p->channels[i]->period);
        if (p->channels[i]->c.status != READING_STALE)
            p->channels[i]->heard_ns = now.mono_ns;
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

size_t plant_count(const struct plant *p)
{
    return p->count;
}

struct channel *plant_channel(const struct plant *p, size_t i)
{
    return i < p->count ? &p->channels[i]->c : NULL;
}

struct channel *plant_find(const struct plant *p, struct channel_id id)
{
    int i = table_get(&p->table, id, TABLE_HOLDER);
    return i < 0 ? NULL : &p->channels[i]->c;
}

struct channel *plant_find_sender(const struct plant *p, struct channel_id id, uint8_t iface,
                                  uint8_t source)
{
    if (id.quantity == QTY_EXHAUST && p->dry[id.place])
        id.quantity = QTY_EXHAUST_GAS;
    if (p->ifaces[iface] == NULL || p->ifaces[iface][source].sender == NO_SENDER)
        return NULL;
    uint16_t sender = p->ifaces[iface][source].sender;
    int i = table_get(&p->table, id, sender);
    return i < 0 || p->channels[i]->sender != sender ? NULL : &p->channels[i]->c;
}

struct channel *plant_find_key(const struct plant *p, const char *key)
{
    for (size_t i = 0; i < p->count; i++) {
        if (strcmp(p->channels[i]->c.key, key) == 0)
            return &p->channels[i]->c;
    }
    return NULL;
}

const struct engine *plant_engine(const struct plant *p, int engine)
{
    static const struct engine none = {.name = ""};
    return engine >= 0 && engine < PLANT_ENGINES ? &p->engines[engine].e : &none;
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

const char *plant_place(const struct plant *p, const struct channel *c)
{
    if (c->engine >= 0 && c->engine < PLANT_ENGINES)
        return p->engines[c->engine].e.name;
    const struct kept *k = c->order < p->count ? p->channels[c->order] : NULL;
    return k != NULL && &k->c == c ? k->place : "";
}

const struct source_seen *plant_source(const struct plant *p, uint8_t iface, uint8_t address)
{
    static const struct source_seen none = {.seen = false};
    return p->ifaces[iface] == NULL ? &none : &p->ifaces[iface][address].seen;
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
