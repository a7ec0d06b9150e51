#include "bus/condition.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct condition_queue {
    pthread_mutex_t mutex;
    struct bus_condition waiting[CONDITIONS_WAITING];
    int count;
};

struct condition_queue *condition_queue_new(void)
{
    struct condition_queue *q = calloc(1, sizeof *q);
    if (q)
        pthread_mutex_init(&q->mutex, NULL);
    return q;
}

void condition_queue_free(struct condition_queue *q)
{
    if (!q)
        return;
    pthread_mutex_destroy(&q->mutex);
    free(q);
}

static void drop(struct condition_queue *q, int i)
{
    q->count--;
    memmove(&q->waiting[i], &q->waiting[i + 1], (size_t)(q->count - i) * sizeof q->waiting[0]);
}

void condition_put(struct condition_queue *q, const struct bus_condition *c)
{
    pthread_mutex_lock(&q->mutex);
    if (q->count == CONDITIONS_WAITING) {
        int i = 0;
        while (i < q->count - 1 && q->waiting[i].code != c->code)
            i++;
        drop(q, q->waiting[i].code == c->code ? i : 0);
    }
    q->waiting[q->count++] = *c;
    pthread_mutex_unlock(&q->mutex);
}

bool condition_take(struct condition_queue *q, struct bus_condition *out)
{
    pthread_mutex_lock(&q->mutex);
    bool any = q->count > 0;
    if (any) {
        *out = q->waiting[0];
        drop(q, 0);
    }
    pthread_mutex_unlock(&q->mutex);
    return any;
}
