#include "record/record.h"

#include "base/text.h"
#include "bus/clock.h"
#include "bus/timeline.h"
#include "record/writer.h"

#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

/* 34 s of a full 250 kbit/s bus, for a disk that stands still. */
#define RING_FRAMES 65536
#define TURN_MS     250

struct record {
    struct writer writer;
    pthread_mutex_t mutex; /* guards opened */
    pthread_cond_t changed;
    bool opened;             /* the first try to open was made */
    _Atomic int64_t turn_ns; /* when this turn began; 0: between turns */
    _Atomic bool stopping;
    int wake_fd;
    bool has_thread;
    pthread_t thread;
    bool ended_well; /* by the thread, at its end */
    struct err end;
};

static void wake(const struct record *r)
{
    uint64_t one = 1;
    (void)!write(r->wake_fd, &one, sizeof one);
}

/* ---- the thread ----------------------------------------------------------------------------- */

static void open_first(struct record *r, struct stamp now)
{
    writer_open(&r->writer, now);
    pthread_mutex_lock(&r->mutex);
    r->opened = true;
    pthread_cond_broadcast(&r->changed);
    pthread_mutex_unlock(&r->mutex);
}

static void *write_thread(void *arg)
{
    struct record *r = arg;
    struct stamp now = clock_now();
    atomic_store(&r->turn_ns, now.mono_ns);
    open_first(r, now);
    while (!atomic_load(&r->stopping)) {
        now = clock_now();
        atomic_store(&r->turn_ns, now.mono_ns);
        writer_turn(&r->writer, now);
        atomic_store(&r->turn_ns, 0);
        struct pollfd p = {.fd = r->wake_fd, .events = POLLIN};
        if (poll(&p, 1, writer_is_busy(&r->writer) ? TURN_MS / 10 : TURN_MS) > 0) {
            uint64_t marks;
            (void)!read(r->wake_fd, &marks, sizeof marks);
        }
    }
    r->ended_well = writer_close(&r->writer, clock_now(), &r->end);
    return NULL;
}

static bool start_thread(struct record *r)
{
    sigset_t all, before;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    r->has_thread = pthread_create(&r->thread, NULL, write_thread, r) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return r->has_thread;
}

static struct timespec in_ms(int ms)
{
    int64_t ns = clock_now().mono_ns - TIMELINE_START + ms * NS_PER_MS;
    return (struct timespec){ns / NS_PER_S, ns % NS_PER_S};
}

/* Waits until the directory was opened, as long as a disk that works may take. False: another
 * program records there. */
static bool wait_for_opening(struct record *r)
{
    struct timespec until = in_ms(RECORD_OPEN_MS);
    pthread_mutex_lock(&r->mutex);
    while (!r->opened && pthread_cond_timedwait(&r->changed, &r->mutex, &until) == 0)
        ;
    bool refused = r->opened && r->writer.taken;
    pthread_mutex_unlock(&r->mutex);
    return !refused;
}

static void free_record(struct record *r)
{
    writer_fini(&r->writer);
    if (r->wake_fd >= 0)
        close(r->wake_fd);
    pthread_cond_destroy(&r->changed);
    pthread_mutex_destroy(&r->mutex);
    free(r);
}

/* Waits are by the clock that never jumps. */
static void init_lock(struct record *r)
{
    pthread_condattr_t attr;
    pthread_condattr_init(&attr);
    pthread_condattr_setclock(&attr, CLOCK_MONOTONIC);
    pthread_mutex_init(&r->mutex, NULL);
    pthread_cond_init(&r->changed, &attr);
    pthread_condattr_destroy(&attr);
}

struct record *record_open(const struct record_options *options, struct err *e)
{
    struct record *r = calloc(1, sizeof *r);
    if (!r) {
        err_set(e, "out of memory");
        return NULL;
    }
    init_lock(r);
    r->wake_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    if (!writer_init(&r->writer, options, RING_FRAMES) || r->wake_fd < 0) {
        err_set(e, "cannot record to '%.200s': out of memory, or the name is too long",
                options->dir);
        free_record(r);
        return NULL;
    }
    if (options->no_thread) {
        open_first(r, clock_now());
    } else if (!start_thread(r)) {
        err_set(e, "cannot start the recording thread");
        free_record(r);
        return NULL;
    }
    if (wait_for_opening(r))
        return r;
    err_set(e, "%s", r->writer.taken_by.text);
    (void)record_close(r, NULL);
    return NULL;
}

bool record_close(struct record *r, struct err *e)
{
    struct err unasked;
    if (!r)
        return true;
    if (!e)
        e = &unasked;
    if (r->has_thread) {
        struct timespec until = in_ms(RECORD_CLOSE_MS);
        atomic_store(&r->stopping, true);
        wake(r);
        if (pthread_clockjoin_np(r->thread, NULL, CLOCK_MONOTONIC, &until) != 0) {
            pthread_detach(r->thread); /* it may yet come back, and needs all this */
            return err_set(e,
                           "the disk of the record does not answer: it may lack the last frames");
        }
    } else {
        r->ended_well = writer_close(&r->writer, clock_now(), &r->end);
    }
    bool good = r->ended_well;
    *e = r->end;
    free_record(r);
    return good;
}

void record_turn(struct record *r, struct stamp now)
{
    writer_turn(&r->writer, now);
}

/* ---- what the watch calls ------------------------------------------------------------------- */

void record_name_iface(struct record *r, uint8_t iface, const char *name)
{
    if (iface < SOURCE_IFACES)
        text_copy(r->writer.names[iface], sizeof r->writer.names[iface], name);
}

void record_frames(struct record *r, const struct frame *f, size_t n)
{
    size_t put = ring_put(&r->writer.ring, f, n);
    if (put < n)
        atomic_fetch_add(&r->writer.lost_frames, n - put);
    if (ring_held(&r->writer.ring) > RING_FRAMES / 4)
        wake(r);
}

bool record_has_room(struct record *r, size_t n, int64_t now_ns)
{
    struct record_stats s;
    if (ring_room(&r->writer.ring) >= n && orders_room(&r->writer.orders) >= ORDERS_MAX / 2)
        return true;
    record_stats(r, now_ns, &s);
    bool refuses = !s.writing && s.stuck_ns == 0;
    return refuses || s.stuck_ns > RECORD_STUCK_NS;
}

static void order(struct record *r, enum order_sort sort, const char *text, uint32_t alert,
                  struct stamp at)
{
    orders_put(&r->writer.orders, sort, text, alert, at);
    wake(r);
}

void record_alert(struct record *r, const char *json_line, struct stamp at)
{
    order(r, ORDER_ALERT, json_line, 0, at);
}

void record_mark(struct record *r, const char *head, const char *line, struct stamp at)
{
    char text[400];
    text_format(text, sizeof text, "%s%s", head, line);
    order(r, ORDER_MARK, text, 0, at);
}

void record_set_config(struct record *r, const char *text)
{
    order(r, ORDER_CONFIG, text, 0, (struct stamp){0});
}

void record_incident(struct record *r, const char *name, uint32_t alert, struct stamp at)
{
    order(r, ORDER_INCIDENT, name, alert, at);
}

void record_acknowledged(struct record *r, uint32_t alert, struct stamp at)
{
    order(r, ORDER_ACKNOWLEDGED, "", alert, at);
}

bool record_condition(struct record *r, struct bus_condition *out)
{
    return condition_take(r->writer.told.conditions, out);
}

void record_stats(const struct record *r, int64_t now_ns, struct record_stats *out)
{
    int64_t began = atomic_load(&r->turn_ns);
    *out = (struct record_stats){.frames = atomic_load(&r->writer.frames),
                                 .lost_frames = atomic_load(&r->writer.lost_frames),
                                 .bytes = atomic_load(&r->writer.bytes),
                                 .writing = atomic_load(&r->writer.writing),
                                 .free_bytes = atomic_load(&r->writer.free_bytes),
                                 .stuck_ns = began ? now_ns - began : 0};
}
