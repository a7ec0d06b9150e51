#include "bus/socketcan.h"

#include "base/text.h"
#include "bus/can_port.h"
#include "bus/clock.h"
#include "bus/ring.h"
#include "bus/source_kind.h"

#include <errno.h>
#include <net/if.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "base/banned.h"

/* 8.5 s of a bus that is full of 8-byte frames: 1909 a second at 250 kbit/s (131 bits each). */
#define RING_FRAMES_EACH 16384
#define FULL_BUS_PER_S   1909.0
/* What the kernel charges a socket for one frame: its default buffer of 212992 bytes holds 277
 * (measured on Linux 6.1). */
#define KERNEL_BYTES_EACH 768

/* How soon an interface that came back is noticed where the kernel sends no word of it. */
#define RETRY_MS 300
#define FULL_MS  5
/* After frames the thread lets more come: 50 wake-ups a second on the busiest bus, and times
 * are the kernel's, so nothing gets less exact. */
#define GATHER_MS   20
#define LAST_ROUNDS 64

struct live {
    struct ring ring;
    struct can_port ports[SOURCE_IFACES];
    int count;
    int netlink_fd, watch_fd, wake_fd, stop_fd;
    bool running;
    pthread_t thread;
    struct condition_queue *conditions;
    _Atomic uint64_t lost_frames;
    pthread_mutex_t mutex; /* guards known */
    struct socketcan_iface known[SOURCE_IFACES];
    int64_t floor_ns; /* of the thread: the latest mono time given out */
};

static void wake(const struct live *v)
{
    uint64_t one = 1;
    (void)!write(v->wake_fd, &one, sizeof one);
}

static void publish(struct live *v)
{
    uint64_t lost = 0;
    pthread_mutex_lock(&v->mutex);
    for (int i = 0; i < v->count; i++) {
        v->known[i] = v->ports[i].known;
        lost += v->known[i].lost_frames;
    }
    pthread_mutex_unlock(&v->mutex);
    atomic_store(&v->lost_frames, lost);
}

/* ---- the reading thread --------------------------------------------------------------------- */

/* Moves what port i holds into the ring as far as it has room; true when something came. */
static bool pump(struct live *v, struct can_port *p)
{
    struct frame batch[PORT_BATCH];
    bool any = false, lost_link = false;
    for (int rounds = 0; rounds < 8 && p->fd >= 0; rounds++) {
        if (ring_room(&v->ring) < PORT_BATCH)
            break;
        size_t n = port_read(p, batch, &v->floor_ns, &lost_link);
        ring_put(&v->ring, batch, n);
        any = any || n > 0;
        if (n < PORT_BATCH)
            break;
    }
    if (lost_link)
        port_refresh(p, v->netlink_fd, clock_now());
    return any || lost_link;
}

static bool all_well(const struct live *v)
{
    for (int i = 0; i < v->count; i++) {
        if (v->ports[i].fd < 0 || !v->ports[i].known.up)
            return false;
    }
    return true;
}

static void refresh_all(struct live *v)
{
    for (int i = 0; i < v->count; i++)
        port_refresh(&v->ports[i], v->netlink_fd, clock_now());
}

/* Fills p with what to wait for; returns how many. */
static nfds_t wait_list(const struct live *v, struct pollfd *p, bool full)
{
    p[0] = (struct pollfd){.fd = v->stop_fd, .events = POLLIN};
    p[1] = (struct pollfd){.fd = v->watch_fd, .events = POLLIN}; /* poll passes over -1 */
    for (int i = 0; i < v->count; i++) {
        const struct can_port *port = &v->ports[i];
        /* A socket whose interface is down would report that for ever: it is looked at by time. */
        bool look = port->fd >= 0 && port->known.up && !full;
        p[2 + i] = (struct pollfd){.fd = look ? port->fd : -1, .events = POLLIN};
    }
    return 2 + (nfds_t)v->count;
}

/* What the sockets hold when it is time to end; a bus that never pauses does not keep us. */
static void pump_last(struct live *v)
{
    for (int i = 0; i < v->count; i++)
        for (int round = 0; round < LAST_ROUNDS && pump(v, &v->ports[i]); round++)
            ;
    publish(v);
}

static void *read_thread(void *arg)
{
    struct live *v = arg;
    struct pollfd p[2 + SOURCE_IFACES];
    int64_t refreshed_ns = clock_now().mono_ns;
    for (;;) {
        bool full = ring_room(&v->ring) < PORT_BATCH;
        nfds_t n = wait_list(v, p, full);
        int ready = poll(p, n, full ? FULL_MS : RETRY_MS);
        if (ready < 0 && errno != EINTR)
            return NULL;
        if (ready > 0 && p[0].revents) {
            pump_last(v);
            return NULL;
        }
        bool changed = false;
        struct stamp now = clock_now();
        bool word = ready > 0 && p[1].revents && link_changed(v->watch_fd);
        int64_t every = (all_well(v) ? NS_PER_S : RETRY_MS * NS_PER_MS);
        if (word || now.mono_ns - refreshed_ns >= every) {
            refresh_all(v);
            refreshed_ns = now.mono_ns;
            changed = true;
        }
        bool frames = false;
        for (int i = 0; i < v->count; i++) {
            if (ready > 0 && p[2 + i].revents)
                frames = pump(v, &v->ports[i]) || frames;
            changed = port_tick(&v->ports[i], now) || changed;
        }
        if (changed || frames) {
            publish(v);
            wake(v);
        }
        if (frames)
            poll(p, 1, GATHER_MS); /* or until told to stop */
    }
}

/* The reader belongs to nobody's signal handling. */
static bool start_thread(struct live *v)
{
    sigset_t all, before;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    v->running = pthread_create(&v->thread, NULL, read_thread, v) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return v->running;
}

/* ---- the source ----------------------------------------------------------------------------- */

static enum source_state live_read(struct source *s, struct frame *out, size_t max, size_t *n,
                                   struct err *e)
{
    (void)e;
    struct live *v = s->state;
    s->stats.lost_frames = atomic_load(&v->lost_frames);
    *n = ring_take(&v->ring, out, max);
    if (*n == 0) {
        /* Take the mark away first and look again: a frame put between the two leaves a mark. */
        uint64_t marks;
        (void)!read(v->wake_fd, &marks, sizeof marks);
        *n = ring_take(&v->ring, out, max);
    }
    return *n > 0 ? SOURCE_READY : SOURCE_WAIT;
}

static int live_fd(const struct source *s)
{
    return ((const struct live *)s->state)->wake_fd;
}

static void close_fd(int fd)
{
    if (fd >= 0)
        close(fd);
}

void socketcan_stop(struct source *s)
{
    struct live *v = s->state;
    if (!v->running)
        return;
    uint64_t one = 1;
    (void)!write(v->stop_fd, &one, sizeof one);
    pthread_join(v->thread, NULL);
    v->running = false;
}

static void live_close(struct source *s)
{
    struct live *v = s->state;
    socketcan_stop(s);
    for (int i = 0; i < v->count; i++)
        port_fini(&v->ports[i]);
    close_fd(v->netlink_fd);
    close_fd(v->watch_fd);
    close_fd(v->wake_fd);
    close_fd(v->stop_fd);
    condition_queue_free(v->conditions);
    ring_fini(&v->ring);
    pthread_mutex_destroy(&v->mutex);
    free(v);
}

static const struct source_kind live_kind = {.read = live_read, .fd = live_fd, .close = live_close};

/* A file that we may not even look at is there all the same. */
static bool is_there(const char *text)
{
    return access(text, F_OK) == 0 || (errno != ENOENT && errno != ENOTDIR);
}

bool socketcan_is_name(const char *text)
{
    size_t len = strlen(text);
    if (len == 0 || len > 15 || strcmp(text, "-") == 0 || text[0] == '.')
        return false;
    for (const char *p = text; *p; p++) {
        if (*p <= ' ' || *p >= 0x7F || *p == '/' || *p == ':')
            return false;
    }
    if (is_there(text))
        return false;
    return if_nametoindex(text) != 0 || strchr(text, '.') == NULL;
}

bool socketcan_is_unknown(const char *text)
{
    return strcmp(text, "-") != 0 && !is_there(text) && if_nametoindex(text) == 0;
}

bool socketcan_say_unknown(const char *text, struct err *e)
{
    char shown[64], cause[sizeof e->text];
    if (!socketcan_is_unknown(text))
        return false;
    text_clean(shown, sizeof shown, text, strlen(text));
    text_copy(cause, sizeof cause, e->text);
    return err_set(e, "'%s' is neither a log nor an interface that is there now: %s", shown, cause);
}

/* Says in words why the kernel gives no CAN socket. */
static bool refuse_socket(struct err *e)
{
    switch (errno) {
    case EAFNOSUPPORT:
        return err_set(e, "this kernel has no CAN: load it with 'modprobe can_raw', or a sandbox "
                          "hides it (RestrictAddressFamilies= must name AF_CAN)");
    case EPROTONOSUPPORT:
        return err_set(e, "this kernel has no raw CAN sockets: 'modprobe can_raw'");
    case EPERM:
    case EACCES:
        return err_set(e, "CAN sockets are refused here, by a sandbox or a container");
    default:
        return err_set(e, "cannot open a CAN socket: %s", strerror(errno));
    }
}

static bool check_names(const char *const *names, int count, struct err *e)
{
    if (count < 1 || count > SOURCE_IFACES)
        return err_set(e, "between 1 and %d interfaces can be watched at once", SOURCE_IFACES);
    for (int i = 0; i < count; i++) {
        char shown[40];
        text_clean(shown, sizeof shown, names[i], strlen(names[i]));
        if (strlen(names[i]) > 15 || !*names[i] || strcmp(shown, names[i]) != 0)
            return err_set(e, "'%s' cannot be the name of an interface", shown);
        for (int k = 0; k < i; k++) {
            if (strcmp(names[i], names[k]) == 0)
                return err_set(e, "'%s' is named twice", shown);
        }
        struct link_info link;
        link_query(-1, names[i], &link);
        if (link.present && !link.is_can)
            return err_set(e, "'%s' is not a CAN interface", shown);
    }
    return true;
}

struct source *socketcan_open(const char *const *names, int count, struct err *e)
{
    int receive_bytes, probe = port_socket(&receive_bytes);
    if (probe < 0) {
        refuse_socket(e);
        return NULL;
    }
    close(probe);
    if (!check_names(names, count, e))
        return NULL;
    struct live *v = calloc(1, sizeof *v);
    struct source *s = v ? source_new(&live_kind, v) : NULL;
    if (!s) {
        free(v);
        err_set(e, "out of memory");
        return NULL;
    }
    v->netlink_fd = link_open(false);
    v->watch_fd = link_open(true);
    v->wake_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    v->stop_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    pthread_mutex_init(&v->mutex, NULL);
    v->conditions = condition_queue_new();
    if (v->wake_fd < 0 || v->stop_fd < 0 || !v->conditions ||
        !ring_init(&v->ring, (size_t)count * RING_FRAMES_EACH)) {
        err_set(e, "out of memory or file descriptors");
        source_close(s);
        return NULL;
    }
    v->count = count;
    for (int i = 0; i < count; i++) {
        port_init(&v->ports[i], (uint8_t)i, names[i], v->conditions);
        source_iface_index(s, names[i], strlen(names[i]));
    }
    refresh_all(v); /* so that the first conditions are there when this returns */
    publish(v);
    wake(v);
    if (!start_thread(v)) {
        err_set(e, "cannot start the reading thread");
        source_close(s);
        return NULL;
    }
    return s;
}

bool socketcan_condition(struct source *s, struct bus_condition *out)
{
    struct live *v = s->state;
    return s->kind == &live_kind && condition_take(v->conditions, out);
}

bool socketcan_iface_get(const struct source *s, int i, struct socketcan_iface *out)
{
    struct live *v = s->state;
    if (s->kind != &live_kind || i < 0 || i >= v->count)
        return false;
    pthread_mutex_lock(&v->mutex);
    *out = v->known[i];
    pthread_mutex_unlock(&v->mutex);
    return true;
}

void socketcan_describe(const struct source *s, char *dst, size_t cap)
{
    text_copy(dst, cap, "");
    if (s->kind != &live_kind)
        return;
    int bytes = 0;
    int probe = port_socket(&bytes);
    close_fd(probe);
    double held = (double)bytes / KERNEL_BYTES_EACH;
    text_append(dst, cap,
                "receive buffer %d KiB: on a full 250 kbit/s bus %.0f s of standstill of the "
                "watch and %.1f s of the whole machine lose no frame",
                bytes / 1024, (held + RING_FRAMES_EACH) / FULL_BUS_PER_S, held / FULL_BUS_PER_S);
    if (held / FULL_BUS_PER_S < 5)
        text_append(dst, cap, " (net.core.rmem_max allows no more)");
}
