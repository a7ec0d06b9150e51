#include "wire/wire.h"

#include <stdlib.h>

#include "wire/catalogue.h"
#include "wire/fastpacket.h"
#include "wire/plan.h"
#include "wire/transport.h"

#include "base/banned.h"

struct wire {
    struct wire_stats stats;
    bool want_all;
    struct catalogue_index index;
    struct plans plans;
    struct fastpacket_pool fast;
    struct transport_pool transport;
};

struct wire *wire_new(void)
{
    struct wire *w = calloc(1, sizeof *w);
    if (w != NULL) {
        catalogue_index_build(&w->index);
        plans_build(&w->plans);
    }
    return w;
}

void wire_free(struct wire *w)
{
    free(w);
}

void wire_want_all(struct wire *w, bool all)
{
    w->want_all = all;
}

void wire_reset(struct wire *w)
{
    fastpacket_reset(&w->fast);
    transport_reset(&w->transport);
}

const struct wire_stats *wire_stats(const struct wire *w)
{
    return &w->stats;
}

/* Of a PGN that the catalogue does not hold the row is NULL. */
static inline const struct plan *plan_of(const struct wire *w, uint32_t pgn)
{
    return &w->plans.of[catalogue_index_find(&w->index, pgn)];
}

/* Says of out, which holds what the frame or the transfer says itself, the rest. */
static inline bool hand_out(struct wire *w, const struct frame *f, const struct plan *plan,
                            struct message *out)
{
    w->stats.messages++;
    out->at = (struct stamp){.wall_ns = f->wall_ns, .mono_ns = f->mono_ns};
    out->iface = f->iface;
    out->row = plan->row;
    out->plan = plan->row != NULL ? plan : NULL;
    return true;
}

static bool take_transport(struct wire *w, const struct frame *f, struct wire_id id,
                           struct message *out)
{
    const struct transport_slot *slot = transport_take(&w->transport, f, id, &w->stats);
    if (slot == NULL)
        return false;
    const struct plan *plan = plan_of(w, slot->pgn);
    if (plan->row == NULL && !w->want_all)
        return false;
    *out = (struct message){
        .pgn = slot->pgn,
        .source = slot->source,
        .destination = slot->destination,
        .priority = slot->priority,
        .multi = 2,
        .len = slot->size,
        .data = slot->data,
    };
    return hand_out(w, f, plan, out);
}

static bool take_fast(struct wire *w, const struct frame *f, struct wire_id id,
                      const struct plan *plan, struct message *out)
{
    const struct fastpacket_slot *slot = fastpacket_take(&w->fast, f, id, &w->stats);
    if (slot == NULL)
        return false;
    *out = (struct message){
        .pgn = id.pgn,
        .source = id.source,
        .destination = id.destination,
        .priority = id.priority,
        .multi = 1,
        .len = slot->total,
        .data = slot->data,
    };
    return hand_out(w, f, plan, out);
}

bool wire_frame(struct wire *w, const struct frame *f, struct message *out)
{
    w->stats.frames++;
    if (f->flags & FRAME_GAP)
        wire_reset(w);
    if ((f->flags & (FRAME_EXTENDED | FRAME_REMOTE | FRAME_ERROR | FRAME_FD)) != FRAME_EXTENDED ||
        f->len > 8) {
        w->stats.ignored++;
        return false;
    }
    struct wire_id id = wire_id_decode(f->id);
    const struct plan *plan = plan_of(w, id.pgn);
    const struct pgn_info *row = plan->row;
    if (row == NULL) {
        w->stats.unknown++;
        if (!w->want_all)
            return false;
    }
    if (row != NULL && row->kind == PGN_TRANSPORT)
        return take_transport(w, f, id, out);
    if (row != NULL && row->kind == PGN_FAST)
        return take_fast(w, f, id, plan, out);
    *out = (struct message){
        .pgn = id.pgn,
        .source = id.source,
        .destination = id.destination,
        .priority = id.priority,
        .len = f->len,
        .data = f->data,
    };
    return hand_out(w, f, plan, out);
}
