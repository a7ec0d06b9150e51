#include "record/record.h"

#include "base/text.h"
#include "bus/candump.h"
#include "bus/clock.h"
#include "bus/ring.h"
#include "bus/source.h"
#include "bus/timeline.h"
#include "record/incident.h"
#include "record/pack.h"
#include "record/shelf.h"
#include "record/store.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

/* 34 s of a full 250 kbit/s bus, for a disk that stands still. */
#define RING_FRAMES 65536
#define BATCH       512

#define TURN_MS       250
#define FLUSH_NS      (500 * NS_PER_MS) /* held in memory at most */
#define SYNC_NS       (8 * NS_PER_S)    /* lost in a power cut at most, with what is held */
#define RETRY_NS      (2 * NS_PER_S)
#define CHECK_NS      NS_PER_S
#define LOST_NS       (60 * NS_PER_S)   /* how long a loss is said to stand */
#define GIVEN_NS      (3600 * NS_PER_S) /* and that an incident was given up */
#define ROOM_NS       (10 * NS_PER_S)   /* between looks at how much room there is */
#define PARTS         8                 /* files that the room is parted into, at least */
#define PART_LEAST    65536             /* bytes, on a disk with no room at all */
#define SHELF_SHARE   4                 /* of the cap, for incidents: one part in so many */
#define INCIDENT_NS   (600 * NS_PER_S)
#define COMMANDS_MAX  256
#define RECENT_ALERTS 64

enum command_sort { COMMAND_ALERT, COMMAND_INCIDENT, COMMAND_ACKNOWLEDGED, COMMAND_CONFIG };

struct command {
    enum command_sort sort;
    struct stamp at;
    uint32_t alert; /* its number; 0: none */
    char *text;     /* owned */
};

struct record {
    struct record_options options;
    struct ring ring;
    char names[SOURCE_IFACES][CANDUMP_NAME_MAX + 1]; /* set before the first frame of each */
    struct condition_queue *conditions;
    pthread_mutex_t mutex; /* guards commands, opened, taken and taken_by */
    pthread_cond_t changed;
    bool opened, taken; /* the first try to open was made; it found another writer */
    struct err taken_by;
    struct command commands[COMMANDS_MAX];
    size_t command_count;
    _Atomic uint64_t frames, lost_frames, bytes;
    _Atomic int64_t free_bytes, turn_ns; /* turn_ns: when this turn began; 0: between turns */
    _Atomic bool writing, stopping;
    int wake_fd;
    bool has_thread;
    pthread_t thread;

    /* the rest is the writing thread's own */
    struct store store;
    struct incident incident;
    struct pack *pack;
    char *config;
    struct command recent[RECENT_ALERTS]; /* for an incident's time before its alarm */
    size_t recent_next;
    bool failed_said, lost_said, given_said, shelf_packed;
    uint64_t lost_seen, room; /* room: what frames may hold now, the cap or less */
    int64_t tried_ns, flushed_ns, synced_ns, checked_ns, lost_ns, packed_ns, room_ns, given_ns;
};

static void wake(const struct record *r)
{
    uint64_t one = 1;
    (void)!write(r->wake_fd, &one, sizeof one);
}

static void say(struct record *r, enum condition_sort sort, bool stands, const char *text,
                struct stamp now)
{
    struct bus_condition c = {
        .code = CONDITION_CODE(sort, 0), .priority = PRIORITY_CAUTION, .stands = stands, .at = now};
    text_copy(c.text, sizeof c.text, text);
    condition_put(r->conditions, &c);
}

/* ---- room ----------------------------------------------------------------------------------- */

static uint64_t keep_from(const struct record *r)
{
    return r->incident.running ? r->incident.number : UINT64_MAX;
}

static void give_up_incident(struct record *r, struct stamp now)
{
    char name[SHELF_NAME_SIZE], text[120];
    if (!shelf_give_up_one(&r->store, &r->incident, name))
        return;
    text_format(text, sizeof text, "no room: the incident %.70s was given up", name);
    say(r, CONDITION_RECORD_GIVEN, true, text, now);
    r->given_said = true;
    r->given_ns = now.mono_ns;
}

/* Whatever can be given up now for room. False when there is nothing left. */
static bool make_room(struct record *r, struct stamp now)
{
    if (store_give_up_one(&r->store, keep_from(r)))
        return true;
    int64_t before = r->given_ns;
    give_up_incident(r, now);
    return r->given_ns != before || store_give_up_one(&r->store, UINT64_MAX);
}

/* Incidents hold at most their share of the cap. */
static void keep_shelf(struct record *r, struct stamp now)
{
    uint64_t bytes = shelf_bytes(&r->store), before = UINT64_MAX;
    while (bytes > r->options.cap_bytes / SHELF_SHARE && bytes < before) {
        give_up_incident(r, now);
        before = bytes;
        bytes = shelf_bytes(&r->store);
    }
}

/* What frames may hold: the cap, or what leaves the reserve free. Trims to that. */
static void keep_room(struct record *r, struct stamp now)
{
    struct store_space space;
    r->room_ns = now.mono_ns;
    r->room = r->options.cap_bytes;
    uint64_t held = store_trim(&r->store, r->room, keep_from(r));
    if (!store_space(&r->store, &space))
        return;
    uint64_t room = held + space.free > space.reserve ? held + space.free - space.reserve : 0;
    if (room < r->room) {
        r->room = room;
        held = store_trim(&r->store, room, keep_from(r));
        if (held > room && store_space(&r->store, &space) && space.free < space.reserve)
            give_up_incident(r, now);
    }
    if (store_space(&r->store, &space))
        atomic_store(&r->free_bytes, (int64_t)space.free);
}

/* A full disk costs old hours, not the present one. */
static bool flush(struct record *r, struct stamp now, struct err *e)
{
    while (!store_flush(&r->store, e))
        if (!r->store.full || !make_room(r, now))
            return false;
    return true;
}

/* ---- the disk refuses, and no longer -------------------------------------------------------- */

static void disk_failed(struct record *r, const struct err *e, struct stamp now)
{
    incident_leave(&r->incident);
    if (!r->failed_said)
        say(r, CONDITION_RECORD, true, e->text, now);
    r->failed_said = true;
    r->tried_ns = now.mono_ns;
    atomic_store(&r->writing, false);
}

/* Said once a whole turn went well: opening a file is not yet writing to it. */
static void disk_works(struct record *r, struct stamp now)
{
    if (r->failed_said)
        say(r, CONDITION_RECORD, false, "recording goes on", now);
    r->failed_said = false;
}

/* Opens the store where it is not open, not more often than every RETRY_NS. */
static bool ready(struct record *r, struct stamp now)
{
    struct err e;
    if (atomic_load(&r->writing))
        return true;
    if (r->tried_ns != 0 && now.mono_ns - r->tried_ns < RETRY_NS)
        return false;
    r->tried_ns = now.mono_ns;
    /* A disk that was full goes on in the same file, where the torn line is finished. */
    bool open = store_is_open(&r->store) && store_check(&r->store, &e) && flush(r, now, &e);
    if (!open) {
        enum store_status status = store_open(&r->store, now, &e);
        if (status == STORE_TAKEN) {
            r->taken = true; /* said under the mutex once opened is */
            r->taken_by = e;
        }
        open = status == STORE_OK && flush(r, now, &e);
        if (!open) {
            disk_failed(r, &e, now);
            return false;
        }
    }
    atomic_store(&r->writing, true);
    r->flushed_ns = r->synced_ns = r->checked_ns = now.mono_ns;
    if (!r->incident.running)
        incident_resume(&r->incident, &r->store, now);
    return true;
}

/* ---- one turn ------------------------------------------------------------------------------- */

static bool take_frames(struct record *r, struct stamp now, struct err *e)
{
    struct frame batch[BATCH];
    size_t n;
    while (ring_held(&r->ring) > 0) {
        /* room first: what is taken from the ring must have a place */
        if (!store_room(&r->store, BATCH * CANDUMP_LINE_MAX) && !flush(r, now, e))
            return false;
        n = ring_take(&r->ring, batch, BATCH);
        for (size_t i = 0; i < n; i++) {
            uint8_t iface = batch[i].iface < SOURCE_IFACES ? batch[i].iface : 0;
            const char *name = r->names[iface][0] ? r->names[iface] : "can";
            char *line = store_room(&r->store, CANDUMP_LINE_MAX);
            store_added(&r->store, candump_format(line, CANDUMP_LINE_MAX, &batch[i], name));
        }
        atomic_fetch_add(&r->frames, n);
    }
    return true;
}

static void alert_file(char *dst, size_t cap, struct stamp at)
{
    time_t t = (time_t)(at.wall_ns / NS_PER_S);
    struct tm tm = {0};
    char month[16];
    gmtime_r(&t, &tm);
    strftime(month, sizeof month, "%Y%m", &tm);
    text_format(dst, cap, "alerts-%s.jsonl", month);
}

static void remember(struct record *r, struct command *c)
{
    struct command *slot = &r->recent[r->recent_next++ % RECENT_ALERTS];
    free(slot->text);
    *slot = *c;
    c->text = NULL;
}

static bool begin_incident(struct record *r, const struct command *c, struct err *e)
{
    if (!store_flush(&r->store, e))
        return false;
    if (r->incident.running) {
        incident_prolong(&r->incident, &r->store, c->at, r->options.after_ns);
        if (c->alert)
            incident_alarm(&r->incident, &r->store, c->alert);
        return true;
    }
    if (!incident_begin(&r->incident, &r->store, c->text, c->at, r->options.before_ns,
                        r->options.after_ns, r->config, e))
        return false;
    if (c->alert)
        incident_alarm(&r->incident, &r->store, c->alert);
    r->shelf_packed = false;
    for (size_t i = 0; i < RECENT_ALERTS; i++) {
        const struct command *a = &r->recent[(r->recent_next + i) % RECENT_ALERTS];
        if (a->text && a->at.mono_ns >= c->at.mono_ns - r->options.before_ns)
            (void)incident_alert(&r->incident, &r->store, a->text);
    }
    return true;
}

/* False where the disk refused: the command is to be kept. */
static bool obey(struct record *r, struct command *c, bool *sync, struct err *e)
{
    char name[40];
    switch (c->sort) {
    case COMMAND_ALERT:
        alert_file(name, sizeof name, c->at);
        if (!store_append(&r->store, name, c->text, e))
            return false;
        if (r->incident.running)
            (void)incident_alert(&r->incident, &r->store, c->text);
        remember(r, c);
        *sync = true;
        return true;
    case COMMAND_INCIDENT:
        return begin_incident(r, c, e);
    case COMMAND_ACKNOWLEDGED:
        if (!incident_acknowledged(&r->incident, &r->store, c->alert))
            shelf_acknowledged(&r->store, c->alert);
        return true;
    case COMMAND_CONFIG:
        free(r->config);
        r->config = c->text;
        c->text = NULL;
        return true;
    }
    return true;
}

static bool obey_commands(struct record *r, bool *sync, struct err *e)
{
    for (;;) {
        struct command c;
        pthread_mutex_lock(&r->mutex);
        bool any = r->command_count > 0;
        if (any)
            c = r->commands[0];
        pthread_mutex_unlock(&r->mutex);
        if (!any)
            return true;
        bool done = obey(r, &c, sync, e);
        pthread_mutex_lock(&r->mutex);
        if (done) { /* only this thread takes from the front */
            r->command_count--;
            memmove(&r->commands[0], &r->commands[1], r->command_count * sizeof r->commands[0]);
        }
        pthread_mutex_unlock(&r->mutex);
        if (!done)
            return false;
        free(c.text);
    }
}

/* Files that no incident to come can need: all but the one being written, and the one before it
 * while that is young. */
static void pack_hour(struct record *r, struct stamp now)
{
    bool young = now.mono_ns - r->store.opened_mono_ns < r->options.before_ns;
    uint64_t below = r->store.file.number - (young && r->store.file.number > 0 ? 1 : 0);
    size_t count;
    struct store_file *all = store_list(&r->store, &count);
    for (size_t i = 0; i < count; i++) {
        if (!all[i].packed && all[i].number < below) {
            (void)pack_start(r->pack, r->store.dir_fd, all[i].name);
            break;
        }
    }
    free(all);
}

static void pack_next(struct record *r, struct stamp now)
{
    if (pack_is_busy(r->pack)) {
        if (!pack_step(r->pack)) {
            keep_room(r, now);
            keep_shelf(r, now);
        }
        return;
    }
    if (r->incident.running || now.mono_ns - r->packed_ns < RETRY_NS)
        return;
    r->packed_ns = now.mono_ns;
    pack_hour(r, now);
    if (r->pack && !pack_is_busy(r->pack) && !r->shelf_packed)
        r->shelf_packed = !shelf_pack_next(&r->store, &r->incident, r->pack);
}

static void unsay_given(struct record *r, struct stamp now)
{
    if (!r->given_said || now.mono_ns - r->given_ns < GIVEN_NS)
        return;
    say(r, CONDITION_RECORD_GIVEN, false, "no incident was given up in the last hour", now);
    r->given_said = false;
}

static void say_lost(struct record *r, struct stamp now)
{
    uint64_t lost = atomic_load(&r->lost_frames);
    if (lost != r->lost_seen) {
        r->lost_seen = lost;
        r->lost_ns = now.mono_ns;
        if (!r->lost_said)
            say(r, CONDITION_RECORD_LOST, true, "the record misses frames: the disk is too slow",
                now);
        r->lost_said = true;
    } else if (r->lost_said && now.mono_ns - r->lost_ns > LOST_NS) {
        say(r, CONDITION_RECORD_LOST, false, "the record is complete again", now);
        r->lost_said = false;
    }
}

static bool write_due(struct record *r, bool sync, struct stamp now, struct err *e)
{
    if (sync || now.mono_ns - r->flushed_ns >= FLUSH_NS) {
        r->flushed_ns = now.mono_ns;
        if (!flush(r, now, e))
            return false;
    }
    if (sync || now.mono_ns - r->synced_ns >= SYNC_NS) {
        r->synced_ns = now.mono_ns;
        incident_sync(&r->incident);
        if (!store_sync(&r->store, e))
            return false;
    }
    if (now.mono_ns - r->checked_ns >= CHECK_NS) {
        r->checked_ns = now.mono_ns;
        if (!store_check(&r->store, e)) {
            store_close(&r->store);
            return false;
        }
    }
    return true;
}

static bool turn(struct record *r, struct stamp now, struct err *e)
{
    bool sync = false, rotated = false;
    /* A file must be far smaller than its room, or there would be nothing to remove. */
    uint64_t part = r->room / PARTS, least = r->options.cap_bytes / PARTS;
    least = least < PART_LEAST ? least : PART_LEAST;
    if (!store_rotate(&r->store, now, part > least ? part : least, &rotated, e))
        return false;
    if (rotated)
        keep_shelf(r, now);
    if (rotated || now.mono_ns - r->room_ns >= ROOM_NS)
        keep_room(r, now);
    /* frames first, so that an incident finds all up to its alarm */
    return take_frames(r, now, e) && obey_commands(r, &sync, e) && write_due(r, sync, now, e);
}

void record_turn(struct record *r, struct stamp now)
{
    struct err e = {""};
    say_lost(r, now);
    unsay_given(r, now);
    if (!ready(r, now))
        return;
    if (turn(r, now, &e))
        disk_works(r, now);
    else
        disk_failed(r, &e, now);
    atomic_store(&r->bytes, r->store.total_written);
    if (!atomic_load(&r->writing))
        return;
    (void)incident_step(&r->incident, &r->store, now);
    pack_next(r, now);
}

/* ---- the thread ----------------------------------------------------------------------------- */

static void first_turn(struct record *r, struct stamp now)
{
    (void)ready(r, now);
    pthread_mutex_lock(&r->mutex);
    r->opened = true;
    pthread_cond_broadcast(&r->changed);
    pthread_mutex_unlock(&r->mutex);
}

/* What is held is written and synced. */
static void last_turn(struct record *r, struct stamp now)
{
    struct err e;
    bool sync = true;
    /* A disk that has come back since the last try gets what is still held. */
    if (!atomic_load(&r->writing) && !r->taken && r->tried_ns != 0) {
        r->tried_ns = 0;
        (void)ready(r, now);
    }
    if (atomic_load(&r->writing) && take_frames(r, now, &e) && obey_commands(r, &sync, &e) &&
        flush(r, now, &e))
        (void)store_sync(&r->store, &e);
    incident_leave(&r->incident);
    store_close(&r->store);
}

static void *write_thread(void *arg)
{
    struct record *r = arg;
    struct stamp now = clock_now();
    atomic_store(&r->turn_ns, now.mono_ns);
    first_turn(r, now);
    while (!atomic_load(&r->stopping)) {
        now = clock_now();
        atomic_store(&r->turn_ns, now.mono_ns);
        record_turn(r, now);
        atomic_store(&r->turn_ns, 0);
        bool busy = pack_is_busy(r->pack) || r->incident.running;
        struct pollfd p = {.fd = r->wake_fd, .events = POLLIN};
        if (poll(&p, 1, busy ? TURN_MS / 10 : TURN_MS) > 0) {
            uint64_t marks;
            (void)!read(r->wake_fd, &marks, sizeof marks);
        }
    }
    last_turn(r, clock_now());
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
    bool refused = r->opened && r->taken;
    pthread_mutex_unlock(&r->mutex);
    return !refused;
}

static void free_record(struct record *r)
{
    for (size_t i = 0; i < r->command_count; i++)
        free(r->commands[i].text);
    for (size_t i = 0; i < RECENT_ALERTS; i++)
        free(r->recent[i].text);
    free(r->config);
    pack_free(r->pack);
    store_fini(&r->store);
    ring_fini(&r->ring);
    condition_queue_free(r->conditions);
    if (r->wake_fd >= 0)
        close(r->wake_fd);
    pthread_cond_destroy(&r->changed);
    pthread_mutex_destroy(&r->mutex);
    free(r);
}

struct record *record_open(const struct record_options *options, struct err *e)
{
    struct record *r = calloc(1, sizeof *r);
    if (!r) {
        err_set(e, "out of memory");
        return NULL;
    }
    r->options = *options;
    if (r->options.cap_bytes == 0)
        r->options.cap_bytes = RECORD_CAP_BYTES;
    if (r->options.before_ns == 0)
        r->options.before_ns = INCIDENT_NS;
    if (r->options.after_ns == 0)
        r->options.after_ns = INCIDENT_NS;
    r->room = r->options.cap_bytes;
    atomic_store(&r->free_bytes, -1);
    pthread_condattr_t attr;
    pthread_condattr_init(&attr);
    pthread_condattr_setclock(&attr, CLOCK_MONOTONIC);
    pthread_mutex_init(&r->mutex, NULL);
    pthread_cond_init(&r->changed, &attr);
    pthread_condattr_destroy(&attr);
    r->incident.out = -1;
    r->wake_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    r->conditions = condition_queue_new();
    r->pack = pack_new();
    bool good = store_init(&r->store, options->dir) && ring_init(&r->ring, RING_FRAMES) &&
                r->wake_fd >= 0 && r->conditions;
    if (!good) {
        err_set(e, "cannot record to '%.200s': out of memory, or the name is too long",
                options->dir);
        free_record(r);
        return NULL;
    }
    if (options->no_thread) {
        first_turn(r, clock_now());
    } else if (!start_thread(r)) {
        err_set(e, "cannot start the recording thread");
        free_record(r);
        return NULL;
    }
    if (wait_for_opening(r))
        return r;
    err_set(e, "%s", r->taken_by.text);
    record_close(r);
    return NULL;
}

void record_close(struct record *r)
{
    if (!r)
        return;
    if (!r->has_thread) {
        last_turn(r, clock_now());
        free_record(r);
        return;
    }
    struct timespec until = in_ms(RECORD_CLOSE_MS);
    atomic_store(&r->stopping, true);
    wake(r);
    if (pthread_clockjoin_np(r->thread, NULL, CLOCK_MONOTONIC, &until) == 0)
        free_record(r);
    else
        pthread_detach(r->thread); /* it may yet come back, and needs all this */
}

/* ---- what the watch calls ------------------------------------------------------------------- */

void record_name_iface(struct record *r, uint8_t iface, const char *name)
{
    if (iface < SOURCE_IFACES)
        text_copy(r->names[iface], sizeof r->names[iface], name);
}

void record_frames(struct record *r, const struct frame *f, size_t n)
{
    size_t put = ring_put(&r->ring, f, n);
    if (put < n)
        atomic_fetch_add(&r->lost_frames, n - put);
    if (ring_held(&r->ring) > RING_FRAMES / 4)
        wake(r);
}

static void command(struct record *r, enum command_sort sort, const char *text, uint32_t alert,
                    struct stamp at)
{
    char *copy = strdup(text);
    if (!copy)
        return;
    pthread_mutex_lock(&r->mutex);
    /* A disk that refuses for long: the oldest give way. The first may be in the thread's hands. */
    if (r->command_count == COMMANDS_MAX) {
        free(r->commands[1].text);
        r->command_count--;
        memmove(&r->commands[1], &r->commands[2], (r->command_count - 1) * sizeof r->commands[0]);
    }
    r->commands[r->command_count++] = (struct command){sort, at, alert, copy};
    pthread_mutex_unlock(&r->mutex);
    wake(r);
}

void record_alert(struct record *r, const char *json_line, struct stamp at)
{
    command(r, COMMAND_ALERT, json_line, 0, at);
}

void record_set_config(struct record *r, const char *text)
{
    command(r, COMMAND_CONFIG, text, 0, (struct stamp){0});
}

void record_incident(struct record *r, const char *name, uint32_t alert, struct stamp at)
{
    command(r, COMMAND_INCIDENT, name, alert, at);
}

void record_acknowledged(struct record *r, uint32_t alert, struct stamp at)
{
    command(r, COMMAND_ACKNOWLEDGED, "", alert, at);
}

bool record_condition(struct record *r, struct bus_condition *out)
{
    return condition_take(r->conditions, out);
}

void record_stats(const struct record *r, int64_t now_ns, struct record_stats *out)
{
    int64_t began = atomic_load(&r->turn_ns);
    *out = (struct record_stats){.frames = atomic_load(&r->frames),
                                 .lost_frames = atomic_load(&r->lost_frames),
                                 .bytes = atomic_load(&r->bytes),
                                 .writing = atomic_load(&r->writing),
                                 .free_bytes = atomic_load(&r->free_bytes),
                                 .stuck_ns = began ? now_ns - began : 0};
}
