/* What channels are called: their keys, and the number of one of several. */
#include "plant/inside.h"

#include "base/text.h"

#include "base/banned.h"

/* exhaust.0, and exhaust.0@31 or exhaust.0@can1:31 for a second sender. */
void names_key(const struct plant *p, struct kept *k)
{
    struct channel *c = &k->c;
    channel_id_format(c->key, sizeof c->key, c->id);
    if (!c->second)
        return;
    const struct kept *holder = find_holder(p, c->id);
    if (holder != NULL && holder->c.iface != c->iface) {
        const char *name = p->iface_names[c->iface];
        if (name[0] != '\0')
            text_append(c->key, sizeof c->key, "@%s:%u", name, c->source);
        else
            text_append(c->key, sizeof c->key, "@can%u:%u", c->iface, c->source);
    } else {
        text_append(c->key, sizeof c->key, "@%u", c->source);
    }
}

/* Instances get their number as place once there are two of a quantity. */
void names_place(struct plant *p, struct kept *k)
{
    const struct quantity_info *info = quantity_info((enum quantity)k->c.id.quantity);
    if (info->place == PLACE_PAIR)
        text_format(k->place, sizeof k->place, "%u.%u", k->c.id.place, k->c.id.sub);
    if (info->place == PLACE_ENGINE && k->c.engine < 0)
        text_format(k->place, sizeof k->place, "%u", k->c.id.place);
    if (info->place != PLACE_INSTANCE)
        return;
    for (size_t i = 0; i < p->count; i++) {
        struct kept *other = &p->channels[i];
        if (other->c.id.quantity != k->c.id.quantity || other->c.id.place == k->c.id.place)
            continue;
        text_format(other->place, sizeof other->place, "%u", other->c.id.place);
        text_format(k->place, sizeof k->place, "%u", k->c.id.place);
    }
}
