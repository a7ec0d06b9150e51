/* What the checks and the writers ask of the facts: who holds a key, what its sender is called, how
 * a figure reads. */
#include "report/muster/inside.h"

#include "base/text.h"
#include "wire/name.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

void muster_add_finding(struct muster *m, enum muster_weight weight, const char *kind, int sender,
                        const char *channel, const char *format, ...)
{
    if (m->finding_count == MUSTER_FINDINGS) {
        m->dropped++;
        return;
    }
    struct muster_finding *f = &m->findings[m->finding_count++];
    f->weight = weight;
    f->kind = kind;
    f->sender = sender;
    text_copy(f->channel, sizeof f->channel, channel != NULL ? channel : "");
    va_list args;
    va_start(args, format);
    int n = vsnprintf(f->text, sizeof f->text, format, args);
    va_end(args);
    if (n < 0)
        f->text[0] = '\0';
}

/* "address 35", "address 35 on can1" where there are several interfaces. */
const char *muster_who(const struct muster *m, size_t sender, char *dst, size_t cap)
{
    const struct muster_sender *s = &m->senders[sender];
    text_format(dst, cap, "address %u", s->address);
    if (m->iface_count > 1)
        text_append(dst, cap, " on %s", muster_iface(m, s->iface));
    return dst;
}

const char *muster_figure(char *dst, size_t cap, double v, int decimals, enum unit unit)
{
    char text[40];
    text_number(text, sizeof text, v, decimals);
    const char *u = unit_text(unit);
    text_format(dst, cap, "%s%s%s", text, u[0] != '\0' ? " " : "", u);
    return dst;
}

enum unit muster_unit(const struct muster_value *v)
{
    return quantity_info((enum quantity)v->id.quantity)->unit;
}

const struct channel_setting *muster_setting(const struct muster *m, struct channel_id id)
{
    return m->settings != NULL ? settings_channel(m->settings, id) : NULL;
}

/* Both are the same box: one address, or one NAME that moved. */
bool muster_same_box(const struct muster *m, size_t a, size_t b)
{
    return a == b || (m->senders[a].name != 0 && m->senders[a].name == m->senders[b].name &&
                      m->senders[a].iface == m->senders[b].iface);
}

bool muster_is_chosen(const struct muster *m, const struct channel_setting *s,
                      const struct muster_value *v)
{
    const struct muster_sender *from = &m->senders[v->sender];
    return s->sender.source == from->address &&
           (s->sender.iface[0] == '\0' ||
            strcmp(s->sender.iface, muster_iface(m, from->iface)) == 0);
}

const struct muster_value *muster_holder(const struct muster *m, struct channel_id id)
{
    const struct channel_setting *s = muster_setting(m, id);
    const struct muster_value *best = NULL;
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        if (!channel_id_same(v->id, id) || v->ok == 0)
            continue;
        if (s != NULL && s->sender.set && muster_is_chosen(m, s, v))
            return v;
        if (best == NULL || v->rank < best->rank ||
            (v->rank == best->rank && v->first_ns < best->first_ns))
            best = v;
    }
    return best;
}

bool muster_is_meter(const struct muster *m, struct channel_id id)
{
    for (size_t i = 0; m->settings != NULL && i < m->settings->channel_count; i++) {
        const struct channel_setting *s = &m->settings->channels[i];
        if (channel_id_same(s->feed, id) || channel_id_same(s->returned, id))
            return true;
    }
    return false;
}

bool muster_is_meters_alone(const struct muster *m, int engine)
{
    bool meter = false;
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        if (v->id.place != engine || v->ok == 0 ||
            quantity_info((enum quantity)v->id.quantity)->place != PLACE_ENGINE)
            continue;
        if (!muster_is_meter(m, v->id) && v->id.quantity != QTY_FUEL_TEMP)
            return false;
        meter = true;
    }
    return meter;
}

/* A key that several boxes send by right, none of them in the wrong. */
bool muster_is_shared(const struct muster_value *v)
{
    return v->rank > 0 || quantity_info((enum quantity)v->id.quantity)->place == PLACE_NONE;
}

void muster_key(char *dst, size_t cap, const struct muster *m, const struct muster_value *v)
{
    channel_id_format(dst, cap, v->id);
    const struct muster_value *holder = muster_holder(m, v->id);
    if (holder == NULL || muster_is_shared(v) || muster_same_box(m, holder->sender, v->sender))
        return;
    const struct muster_sender *s = &m->senders[v->sender];
    if (m->senders[holder->sender].iface != s->iface)
        text_append(dst, cap, "@%s:%u", muster_iface(m, s->iface), s->address);
    else
        text_append(dst, cap, "@%u", s->address);
}

const char *muster_exhaust_kind(const struct muster *m, const struct muster_value *v)
{
    const struct channel_setting *s = muster_setting(m, v->id);
    if (s != NULL && (s->dry || s->wet))
        return s->dry ? "dry" : "wet";
    /* a wild sample is neither */
    return v->hot_longest >= 5 ? "unsure" : "wet";
}

static const char *battery_text(enum battery_chemistry c)
{
    static const char *const text[] = {
        [BATTERY_UNKNOWN] = "", [BATTERY_LEAD] = "lead",       [BATTERY_AGM] = "AGM",
        [BATTERY_GEL] = "gel",  [BATTERY_LITHIUM] = "lithium", [BATTERY_OTHER] = "other chemistry",
    };
    return text[c];
}

void muster_remark(const struct muster *m, const struct muster_value *v, char *dst, size_t cap)
{
    const char *state = v->ok > 0 ? quantity_state((enum quantity)v->id.quantity, v->last) : NULL;
    text_copy(dst, cap, state ? state : "");
    if (v->id.quantity == QTY_EXHAUST)
        text_copy(dst, cap, muster_exhaust_kind(m, v));
    if (v->id.quantity == QTY_BATTERY_CAPACITY)
        text_copy(dst, cap, battery_text(v->chemistry));
    if (v->nominal_v > 0)
        text_append(dst, cap, "%s%d V", dst[0] ? ", " : "", v->nominal_v);
    if (v->capacity_l > 0.0) {
        char litres[40];
        text_number(litres, sizeof litres, v->capacity_l, 0);
        text_format(dst, cap, "of %s L", litres);
    }
}

const struct muster_message *muster_message_of(const struct muster *m, const struct muster_value *v)
{
    for (size_t i = 0; i < m->message_count; i++)
        if (m->messages[i].sender == v->sender && m->messages[i].pgn == v->pgn)
            return &m->messages[i];
    return NULL;
}
