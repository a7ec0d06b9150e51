/* What the record's thread is to do beside writing frames: a bounded queue between the thread that
 * decides and that one. An order stays at the front until it was carried out, so that none is lost
 * to a disk that refuses for a while; where too many wait, the oldest that nobody has in hand goes.
 */
#ifndef STOKEHOLD_RECORD_ORDERS_H
#define STOKEHOLD_RECORD_ORDERS_H

#include "base/when.h"

#include <pthread.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define ORDERS_MAX 256

enum order_sort { ORDER_ALERT, ORDER_INCIDENT, ORDER_ACKNOWLEDGED, ORDER_CONFIG, ORDER_MARK };

struct order {
    enum order_sort sort;
    struct stamp at;
    uint32_t alert; /* its number; 0: none */
    char *text;     /* owned */
};

struct orders {
    pthread_mutex_t mutex; /* guards the rest */
    struct order waiting[ORDERS_MAX];
    size_t count;
};

void orders_init(struct orders *o);
void orders_fini(struct orders *o);
/* Any thread; text is copied. Where memory is out the order is lost. */
void orders_put(struct orders *o, enum order_sort sort, const char *text, uint32_t alert,
                struct stamp at);
/* The one thread that carries them out: the first one, which stays there; false where none waits.
 * Its text belongs to the queue until orders_done. */
bool orders_first(struct orders *o, struct order *first);
/* How many more can wait. */
size_t orders_room(struct orders *o);
/* It was carried out: goes, and its text is the caller's to free. */
void orders_done(struct orders *o);

#endif
