/* Everything was heard: the lists put in order, then the checks. */
#include "report/muster/inside.h"

#include "base/text.h"

#include <stdlib.h>

#include "base/banned.h"

/* Order of interface, address, PGN; messages and values follow their senders. */
static int by_address(const void *a, const void *b)
{
    const struct muster_sender *x = a, *y = b;
    return x->iface != y->iface ? x->iface - y->iface : x->address - y->address;
}

static int by_sender_and_pgn(const void *a, const void *b)
{
    const struct muster_message *x = a, *y = b;
    if (x->sender != y->sender)
        return x->sender - y->sender;
    return x->pgn < y->pgn ? -1 : x->pgn > y->pgn;
}

static int by_sender_and_key(const void *a, const void *b)
{
    const struct muster_value *x = a, *y = b;
    if (x->sender != y->sender)
        return x->sender - y->sender;
    if (x->id.place != y->id.place &&
        quantity_info((enum quantity)x->id.quantity)->place == PLACE_ENGINE &&
        quantity_info((enum quantity)y->id.quantity)->place == PLACE_ENGINE)
        return x->id.place - y->id.place;
    if (x->id.quantity != y->id.quantity)
        return x->id.quantity - y->id.quantity;
    if (x->id.place != y->id.place)
        return x->id.place - y->id.place;
    if (x->id.sub != y->id.sub)
        return x->id.sub - y->id.sub;
    return x->pgn < y->pgn ? -1 : x->pgn > y->pgn;
}

/* A sensor whose instance was changed under way is still one sensor: what counts is how many spoke
 * at one time. */
static int places_at_once(const struct muster *m, const struct muster_message *x)
{
    int most = 0;
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        if (!v->leads || v->pgn != x->pgn || v->sender != x->sender)
            continue;
        int n = 0;
        for (size_t k = 0; k < m->value_count; k++) {
            const struct muster_value *o = &m->values[k];
            n += o->leads && o->pgn == x->pgn && o->sender == x->sender &&
                 o->first_ns <= v->first_ns && o->last_ns >= v->first_ns;
        }
        if (n > most)
            most = n;
    }
    return most;
}

/* Senders by interface and address, messages by sender and PGN, values by sender and key; then
 * counts how many places each message told of at one time. */
static void put_in_order(struct muster *m)
{
    uint16_t place[MUSTER_SENDERS];
    uint16_t was[MUSTER_SENDERS];
    for (size_t i = 0; i < m->sender_count; i++)
        was[i] = (uint16_t)(m->senders[i].iface << 8 | m->senders[i].address);
    qsort(m->senders, m->sender_count, sizeof *m->senders, by_address);
    for (size_t old = 0; old < m->sender_count; old++)
        for (size_t i = 0; i < m->sender_count; i++)
            if (was[old] == (uint16_t)(m->senders[i].iface << 8 | m->senders[i].address))
                place[old] = (uint16_t)i;
    for (size_t i = 0; i < m->message_count; i++)
        m->messages[i].sender = place[m->messages[i].sender];
    for (size_t i = 0; i < m->value_count; i++)
        m->values[i].sender = place[m->values[i].sender];
    qsort(m->messages, m->message_count, sizeof *m->messages, by_sender_and_pgn);
    qsort(m->values, m->value_count, sizeof *m->values, by_sender_and_key);
    for (size_t i = 0; i < m->message_count; i++)
        m->messages[i].places = places_at_once(m, &m->messages[i]);
}

/* One cause shows in many messages of a box: where three or more findings of a kind come from it,
 * the first stands for all. */
static void fold(struct muster *m)
{
    size_t kept = 0;
    for (size_t i = 0; i < m->finding_count; i++) {
        struct muster_finding *f = &m->findings[i];
        int alike = 0, before = 0;
        for (size_t k = 0; k < m->finding_count && f->sender >= 0; k++) {
            const struct muster_finding *o = &m->findings[k];
            bool same = o->sender == f->sender && o->weight == f->weight && o->kind == f->kind;
            alike += same;
            before += same && k < i;
        }
        f->more = alike >= 3 && before == 0 ? alike - 1 : 0;
        f->folded = alike >= 3 && before > 0;
    }
    for (size_t i = 0; i < m->finding_count; i++) {
        struct muster_finding f = m->findings[i];
        if (f.folded)
            continue;
        if (f.more > 0)
            text_append(f.text, sizeof f.text, " (and %d more like it from there)", f.more);
        m->findings[kept++] = f;
    }
    m->finding_count = kept;
}

void muster_close(struct muster *m)
{
    put_in_order(m);
    muster_check_boxes(m);
    muster_check_readings(m);
    fold(m);
}

int muster_finding_total(const struct muster *m)
{
    int n = 0;
    for (size_t i = 0; i < m->finding_count; i++)
        n += m->findings[i].weight == MUSTER_FINDING;
    return n;
}
