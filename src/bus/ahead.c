#include "bus/ahead.h"

#include "base/text.h"
#include "bus/source_kind.h"

#include <poll.h>
#include <pthread.h>
#include <sched.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "base/banned.h"

#define BATCHES 8 /* a power of two; some 130 KiB, which a processor's own cache holds */
#define HALF    (BATCHES / 2)

/* What one source_read of the log gave, how it stood after it, and what a helper made of it. */
struct batch {
    enum source_state state; /* never WAIT */
    size_t n;
    int iface_count;
    struct source_stats stats;
    struct err e;
    void *made; /* of the frames; NULL: there is no helper */
    struct frame frames[SOURCE_BATCH];
};

/* batches[taken..put) belong to who decides, the others to the thread; both counters and the flags
 * after them are touched under the lock. Whoever has to wait is woken when the ring is half full,
 * or half empty, and not for each batch: waking costs as much as parsing a hundred frames. */
struct ahead {
    struct source *log; /* the thread's while it runs */
    int log_fd;         /* -1: reading it never waits */
    bool runs;
    struct source_helper helper; /* make NULL: none */
    size_t given;                /* frames of batches[taken] that were handed out, */
    bool spent;                  /* all of them: it goes back with the next read; */
    bool whole;                  /* and all at once */
    pthread_t thread;
    int ready_fd, stop_fd;
    pthread_mutex_t lock;
    pthread_cond_t filled, emptied;
    size_t put, taken;
    bool stop;
    bool is_full;  /* the thread waits for room, */
    bool starves;  /* who decides waits for a batch, */
    bool has_none; /* and nothing has arrived that could make one: */
    bool asked;    /* who decides was told so, and polls ready_fd */
    struct batch batches[BATCHES];
};

/* ---- the thread ---- */

/* NULL: it is to end. */
static struct batch *wait_for_room(struct ahead *a)
{
    pthread_mutex_lock(&a->lock);
    a->is_full = a->put - a->taken == BATCHES;
    while (a->is_full && !a->stop)
        pthread_cond_wait(&a->emptied, &a->lock);
    struct batch *b = a->stop ? NULL : &a->batches[a->put % BATCHES];
    pthread_mutex_unlock(&a->lock);
    return b;
}

static void put_batch(struct ahead *a, bool last)
{
    uint64_t one = 1;
    pthread_mutex_lock(&a->lock);
    a->put++;
    if (a->starves && (last || a->put - a->taken >= HALF))
        pthread_cond_signal(&a->filled);
    if (a->asked)
        (void)!write(a->ready_fd, &one, sizeof one);
    pthread_mutex_unlock(&a->lock);
}

/* Until there is more to read, or it is to end. */
static void wait_for_input(struct ahead *a)
{
    pthread_mutex_lock(&a->lock);
    a->has_none = true;
    pthread_cond_signal(&a->filled);
    pthread_mutex_unlock(&a->lock);
    struct pollfd p[2] = {{.fd = a->log_fd, .events = POLLIN},
                          {.fd = a->stop_fd, .events = POLLIN}};
    (void)poll(p, 2, -1);
    pthread_mutex_lock(&a->lock);
    a->has_none = false;
    pthread_mutex_unlock(&a->lock);
}

static void *read_ahead(void *ctx)
{
    struct ahead *a = ctx;
    bool last = false;
    struct batch *b;
    while (!last && (b = wait_for_room(a))) {
        b->state = source_read(a->log, b->frames, SOURCE_BATCH, &b->n, &b->e);
        b->stats = *source_stats(a->log);
        b->iface_count = source_iface_count(a->log);
        last = b->state == SOURCE_END || b->state == SOURCE_FAILED;
        if (b->state == SOURCE_READY && a->helper.make)
            a->helper.make(a->helper.ctx, b->frames, b->n, b->made);
        if (b->state == SOURCE_WAIT)
            wait_for_input(a);
        else
            put_batch(a, last);
    }
    return NULL;
}

static bool start(struct ahead *a)
{
    sigset_t all, before;
    a->put = a->taken = a->given = 0;
    a->spent = a->stop = a->is_full = a->starves = a->has_none = a->asked = false;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    a->runs = pthread_create(&a->thread, NULL, read_ahead, a) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return a->runs;
}

static void stop(struct ahead *a)
{
    uint64_t one = 1;
    if (!a->runs)
        return;
    pthread_mutex_lock(&a->lock);
    a->stop = true;
    pthread_cond_signal(&a->emptied);
    pthread_mutex_unlock(&a->lock);
    (void)!write(a->stop_fd, &one, sizeof one);
    pthread_join(a->thread, NULL);
    (void)!read(a->stop_fd, &one, sizeof one);
    a->runs = false;
}

/* ---- who decides ---- */

/* NULL: nothing has arrived. */
static const struct batch *next_batch(struct ahead *a)
{
    uint64_t count;
    pthread_mutex_lock(&a->lock);
    if (a->asked)
        (void)!read(a->ready_fd, &count, sizeof count);
    a->asked = false;
    a->starves = a->put == a->taken;
    while (a->put == a->taken && !a->has_none)
        pthread_cond_wait(&a->filled, &a->lock);
    a->starves = false;
    a->asked = a->put == a->taken;
    const struct batch *b = a->asked ? NULL : &a->batches[a->taken % BATCHES];
    pthread_mutex_unlock(&a->lock);
    return b;
}

static void give_back(struct ahead *a)
{
    a->given = 0;
    a->spent = false;
    pthread_mutex_lock(&a->lock);
    a->taken++;
    if (a->is_full && a->put - a->taken <= HALF) {
        a->is_full = false;
        pthread_cond_signal(&a->emptied);
    }
    pthread_mutex_unlock(&a->lock);
}

/* Frames and their sorts are counted by source_read, all else by the log. */
static void take_stats(struct source *s, const struct source_stats *log)
{
    const struct source_stats was = s->stats;
    s->stats = *log;
    s->stats.frames = was.frames;
    s->stats.remote = was.remote;
    s->stats.error_frames = was.error_frames;
    s->stats.fd = was.fd;
    s->stats.standard = was.standard;
    s->stats.cut = was.cut;
    s->timeline.steps_back = log->steps_back;
    s->timeline.gaps = log->gaps;
}

static enum source_state ahead_read(struct source *s, struct frame *out, size_t max, size_t *n,
                                    struct err *e)
{
    struct ahead *a = s->state;
    if (!a->runs && !start(a)) {
        err_set(e, "cannot start a thread to read the log");
        return SOURCE_FAILED;
    }
    if (a->spent)
        give_back(a);
    const struct batch *b = next_batch(a);
    if (!b)
        return SOURCE_WAIT;
    take_stats(s, &b->stats);
    for (; s->iface_count < b->iface_count; s->iface_count++) /* a name is never changed */
        memcpy(s->ifaces[s->iface_count], a->log->ifaces[s->iface_count], sizeof s->ifaces[0]);
    if (b->state != SOURCE_READY) { /* the last one stays */
        if (b->state == SOURCE_FAILED && e)
            *e = b->e;
        return b->state;
    }
    a->whole = a->given == 0;
    *n = b->n - a->given < max ? b->n - a->given : max;
    memcpy(out, b->frames + a->given, *n * sizeof *out);
    a->given += *n;
    a->spent = a->given == b->n;
    return SOURCE_READY;
}

static bool ahead_rewind(struct source *s)
{
    struct ahead *a = s->state;
    if (a->log_fd >= 0 || a->helper.make) /* it is streamed, or what was made of it would be */
        return false;
    stop(a);
    return source_rewind(a->log);
}

static int ahead_fd(const struct source *s)
{
    const struct ahead *a = s->state;
    return a->log_fd >= 0 ? a->ready_fd : -1;
}

static bool ahead_help(struct source *s, const struct source_helper *h)
{
    struct ahead *a = s->state;
    if (a->runs || a->helper.make)
        return false;
    for (int i = 0; i < BATCHES; i++)
        if (!(a->batches[i].made = calloc(1, h->room)))
            return false;
    a->helper = *h;
    return true;
}

/* Of a batch that is handed out in pieces nothing can be said. */
static const void *ahead_made(const struct source *s)
{
    const struct ahead *a = s->state;
    const struct batch *b = &a->batches[a->taken % BATCHES];
    return a->helper.make && a->spent && a->whole ? b->made : NULL;
}

static void free_ahead(struct ahead *a)
{
    for (int i = 0; i < BATCHES; i++)
        free(a->batches[i].made);
    if (a->ready_fd >= 0)
        close(a->ready_fd);
    if (a->stop_fd >= 0)
        close(a->stop_fd);
    pthread_cond_destroy(&a->filled);
    pthread_cond_destroy(&a->emptied);
    pthread_mutex_destroy(&a->lock);
    free(a);
}

static void ahead_close(struct source *s)
{
    struct ahead *a = s->state;
    stop(a);
    source_close(a->log);
    free_ahead(a);
}

static const struct source_kind ahead_kind = {
    .read = ahead_read,
    .rewind = ahead_rewind,
    .fd = ahead_fd,
    .help = ahead_help,
    .made = ahead_made,
    .close = ahead_close,
};

bool ahead_is_worthwhile(void)
{
    cpu_set_t set;
    return sched_getaffinity(0, sizeof set, &set) == 0 && CPU_COUNT(&set) > 1;
}

struct source *source_ahead(struct source *log)
{
    struct ahead *a = log ? calloc(1, sizeof *a) : NULL;
    if (!a)
        return log;
    a->log = log;
    a->log_fd = source_fd(log);
    a->ready_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    a->stop_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    pthread_mutex_init(&a->lock, NULL);
    pthread_cond_init(&a->filled, NULL);
    pthread_cond_init(&a->emptied, NULL);
    struct source *s = a->ready_fd >= 0 && a->stop_fd >= 0 ? source_new(&ahead_kind, a) : NULL;
    if (!s) {
        free_ahead(a);
        return log;
    }
    s->stats = *source_stats(log);
    return s;
}
