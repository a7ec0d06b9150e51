#include "record/orders.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

void orders_init(struct orders *o)
{
    pthread_mutex_init(&o->mutex, NULL);
    o->count = 0;
}

void orders_fini(struct orders *o)
{
    for (size_t i = 0; i < o->count; i++)
        free(o->waiting[i].text);
    o->count = 0;
    pthread_mutex_destroy(&o->mutex);
}

static void take_out(struct orders *o, size_t i)
{
    o->count--;
    memmove(&o->waiting[i], &o->waiting[i + 1], (o->count - i) * sizeof o->waiting[0]);
}

void orders_put(struct orders *o, enum order_sort sort, const char *text, uint32_t alert,
                struct stamp at)
{
    char *copy = strdup(text);
    if (!copy)
        return;
    pthread_mutex_lock(&o->mutex);
    if (o->count == ORDERS_MAX) { /* the first may be in the other thread's hands */
        free(o->waiting[1].text);
        take_out(o, 1);
    }
    o->waiting[o->count++] = (struct order){sort, at, alert, copy};
    pthread_mutex_unlock(&o->mutex);
}

bool orders_first(struct orders *o, struct order *first)
{
    pthread_mutex_lock(&o->mutex);
    bool any = o->count > 0;
    if (any)
        *first = o->waiting[0];
    pthread_mutex_unlock(&o->mutex);
    return any;
}

size_t orders_room(struct orders *o)
{
    pthread_mutex_lock(&o->mutex);
    size_t room = ORDERS_MAX - o->count;
    pthread_mutex_unlock(&o->mutex);
    return room;
}

void orders_done(struct orders *o)
{
    pthread_mutex_lock(&o->mutex);
    take_out(o, 0);
    pthread_mutex_unlock(&o->mutex);
}
