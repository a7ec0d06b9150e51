/* Who was on the bus during the trial: addresses, NAMEs and what boxes call themselves. */
#include "report/trial/inside.h"

#include "wire/name.h"

#include "base/banned.h"

static struct trial_box *box_of(struct trial_report *r, uint8_t iface, uint8_t address)
{
    for (int i = 0; i < r->boxes; i++)
        if (r->box[i].iface == iface && r->box[i].address == address)
            return &r->box[i];
    if (r->boxes == TRIAL_BOXES)
        return NULL;
    r->box[r->boxes] = (struct trial_box){.iface = iface, .address = address};
    return &r->box[r->boxes++];
}

void trial_boxes_take(struct trial *t, const struct message *m)
{
    struct product_info product;
    struct trial_box *b;
    uint64_t name;

    if (m->pgn != 60928 && m->pgn != 126996)
        return;
    b = box_of(&t->report, m->iface, m->source);
    if (!b)
        return;
    if (name_from_claim(m, &name))
        b->name = name;
    if (decode_product_info(m, &product)) {
        b->has_product = true;
        b->product = product;
    }
}
