#include "plant/inside.h"

#include "wire/name.h"

#include <assert.h>

#include "base/banned.h"

static uint16_t sender_new(struct plant *p, uint8_t iface, uint8_t address)
{
    if (p->sender_count == SENDERS_MAX)
        return NO_SENDER;
    struct sender *s = &p->senders[p->sender_count];
    *s = (struct sender){.iface = iface, .address = address, .placed = true, .first = NO_CHANNEL};
    return (uint16_t)p->sender_count++;
}

uint16_t senders_of(struct plant *p, struct address *a, uint8_t iface, uint8_t address)
{
    if (a->sender == NO_SENDER) {
        a->sender = sender_new(p, iface, address);
        if (a->sender != NO_SENDER)
            p->senders[a->sender].name = a->seen.name;
    }
    return a->sender;
}

void senders_join(struct plant *p, struct kept *k, uint16_t sender)
{
    assert(k->sender == NO_SENDER && sender != NO_SENDER);
    struct sender *s = &p->senders[sender];
    k->sender = sender;
    k->next_of_sender = s->first;
    s->first = k->index;
    k->c.iface = s->iface;
    k->c.source = s->address;
    k->c.name = s->name;
    if (k->c.engine >= 0)
        s->engines |= (uint8_t)(1u << k->c.engine);
}

void senders_leave(struct plant *p, struct kept *k)
{
    if (k->sender == NO_SENDER)
        return;
    struct sender *s = &p->senders[k->sender];
    uint16_t *at = &s->first;
    while (*at != k->index) {
        assert(*at != NO_CHANNEL); /* it is in its sender's list */
        at = &p->channels[*at].next_of_sender;
    }
    *at = k->next_of_sender;
    k->sender = NO_SENDER;
    s->engines = 0;
    for (uint16_t i = s->first; i != NO_CHANNEL; i = p->channels[i].next_of_sender) {
        if (p->channels[i].c.engine >= 0)
            s->engines |= (uint8_t)(1u << p->channels[i].c.engine);
    }
}

/* Tells the channels of a sender where it is now and what it is called. */
static void tell_channels(struct plant *p, uint16_t sender)
{
    const struct sender *s = &p->senders[sender];
    for (uint16_t i = s->first; i != NO_CHANNEL; i = p->channels[i].next_of_sender) {
        struct kept *k = &p->channels[i];
        k->c.source = s->address;
        k->c.name = s->name;
        names_key(p, k);
    }
}

/* The same box with other settings: instances are part of a NAME, and a technician changes them.
 * Identity and manufacturer, the low 32 bits, and the function stay. */
static bool same_box(uint64_t a, uint64_t b)
{
    return (uint32_t)a == (uint32_t)b && ((a >> 40) & 0xFF) == ((b >> 40) & 0xFF);
}

static uint16_t sender_named(const struct plant *p, uint8_t iface, uint64_t name)
{
    for (size_t i = 0; i < p->sender_count; i++) {
        if (p->senders[i].iface == iface && p->senders[i].name == name)
            return (uint16_t)i;
    }
    return NO_SENDER;
}

static void lose_address(struct plant *p, uint16_t sender)
{
    struct sender *s = &p->senders[sender];
    if (s->placed) {
        struct address *a = &p->addresses[s->iface][s->address];
        a->sender = NO_SENDER;
        a->seen.name = 0;
    }
    s->placed = false;
}

static void take_address(struct plant *p, uint16_t sender, uint8_t address)
{
    struct sender *s = &p->senders[sender];
    s->address = address;
    s->placed = true;
    p->addresses[s->iface][address].sender = sender;
    tell_channels(p, sender);
}

/* The box at an address says its name, or another name than before: the same box or another? */
static void settle_claim(struct plant *p, struct address *a, const struct message *m, uint64_t name)
{
    uint16_t here = a->sender, known = sender_named(p, m->iface, name);
    if (known != NO_SENDER && known == here)
        return;
    if (known == NO_SENDER && here != NO_SENDER) {
        struct sender *held = &p->senders[here];
        if (held->name == 0 || held->first == NO_CHANNEL || same_box(held->name, name)) {
            held->name = name;
            tell_channels(p, here);
            return;
        }
    }
    if (here != NO_SENDER)
        lose_address(p, here); /* its channels wait until that NAME claims another address */
    if (known != NO_SENDER) {
        lose_address(p, known);
        take_address(p, known, m->source);
    }
}

void senders_claim(struct plant *p, const struct message *m)
{
    uint64_t name;
    if (!name_from_claim(m, &name) || name == 0)
        return;
    if (m->source >= ADDRESS_NULL) { /* "cannot claim": it has no address for now */
        uint16_t known = sender_named(p, m->iface, name);
        if (known != NO_SENDER)
            lose_address(p, known);
        return;
    }
    struct address *a = &p->addresses[m->iface][m->source];
    if (a->seen.name != 0 && a->seen.name != name)
        a->seen.name_changes++;
    settle_claim(p, a, m, name);
    a->seen.name = name;
    senders_of(p, a, m->iface, m->source);
}
