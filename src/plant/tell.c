/* Tells the listeners. */
#include "plant/inside.h"

#include "base/banned.h"

void tell_appeared(struct plant *p, struct kept *k)
{
    for (int i = 0; i < p->listener_count; i++) {
        if (p->listeners[i].appeared != NULL)
            p->listeners[i].appeared(p->listeners[i].ctx, &k->c);
    }
}

void tell_conflict(struct plant *p, struct kept *second, struct kept *holder)
{
    for (int i = 0; i < p->listener_count; i++) {
        if (p->listeners[i].conflict != NULL)
            p->listeners[i].conflict(p->listeners[i].ctx, &second->c, &holder->c, p->now);
    }
}

void tell_status(struct plant *p, struct kept *k, enum reading_status before, struct stamp at)
{
    for (int i = 0; i < p->listener_count; i++) {
        if (p->listeners[i].status != NULL)
            p->listeners[i].status(p->listeners[i].ctx, &k->c, before, at);
    }
}

void tell_engine(struct plant *p, int engine, enum engine_state before, struct stamp at)
{
    for (int i = 0; i < p->listener_count; i++) {
        if (p->listeners[i].engine != NULL)
            p->listeners[i].engine(p->listeners[i].ctx, engine, before, at);
    }
}
