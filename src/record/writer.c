#include "record/writer.h"

#include "base/text.h"
#include "record/shelf.h"

#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

#define MISSED "cannot write all files of the incident; the record itself is whole"

#define BATCH       512
#define FLUSH_NS    (500 * NS_PER_MS) /* held in memory at most */
#define SYNC_NS     (8 * NS_PER_S)    /* lost in a power cut at most, with what is held */
#define RETRY_NS    (2 * NS_PER_S)
#define CHECK_NS    NS_PER_S
#define INCIDENT_NS (600 * NS_PER_S)

bool writer_init(struct writer *w, const struct record_options *o, size_t ring_frames)
{
    w->before_ns = o->before_ns ? o->before_ns : INCIDENT_NS;
    w->after_ns = o->after_ns ? o->after_ns : INCIDENT_NS;
    uint64_t cap = o->cap_bytes ? o->cap_bytes : RECORD_CAP_BYTES;
    w->room = (struct room){
        .store = &w->store, .incident = &w->incident, .told = &w->told, .cap = cap, .bytes = cap};
    atomic_store(&w->free_bytes, -1);
    w->incident.out = -1;
    w->pack = pack_new();
    orders_init(&w->orders);
    bool ring = ring_init(&w->ring, ring_frames), told = told_init(&w->told);
    return store_init(&w->store, o->dir) && ring && told;
}

void writer_fini(struct writer *w)
{
    for (size_t i = 0; i < WRITER_RECENT; i++)
        free(w->recent[i].text);
    free(w->config);
    pack_free(w->pack);
    store_fini(&w->store);
    ring_fini(&w->ring);
    told_fini(&w->told);
    orders_fini(&w->orders);
}

bool writer_is_busy(const struct writer *w)
{
    return pack_is_busy(w->pack) || w->incident.running;
}

static bool flush(struct writer *w, struct stamp now, struct err *e)
{
    return room_flush(&w->room, now, e);
}

/* ---- the disk refuses, and no longer -------------------------------------------------------- */

static void disk_failed(struct writer *w, const struct err *e, struct stamp now)
{
    incident_leave(&w->incident);
    told_refused(&w->told, e->text, now);
    w->tried_ns = now.mono_ns;
    atomic_store(&w->writing, false);
}

/* Opens the store where it is not open, not more often than every RETRY_NS. */
static bool ready(struct writer *w, struct stamp now)
{
    struct err e;
    if (atomic_load(&w->writing))
        return true;
    if (w->tried_ns != 0 && now.mono_ns - w->tried_ns < RETRY_NS)
        return false;
    /* A disk that was full goes on in the same file, where the torn line is finished. */
    bool open = store_is_open(&w->store) && store_check(&w->store, &e) && flush(w, now, &e);
    if (!open) {
        enum store_status status = store_open(&w->store, now, &e);
        if (status == STORE_TAKEN) {
            w->taken = true;
            w->taken_by = e;
        }
        open = status == STORE_OK && flush(w, now, &e);
        if (!open) {
            disk_failed(w, &e, now);
            return false;
        }
    }
    atomic_store(&w->writing, true);
    w->flushed_ns = w->synced_ns = w->checked_ns = now.mono_ns;
    if (!w->incident.running)
        incident_resume(&w->incident, &w->store, now);
    return true;
}

/* ---- one turn ------------------------------------------------------------------------------- */

/* What was held when it began, and no more: a log comes as fast as it is taken, and the rest of the
 * turn is due too. */
static bool take_frames(struct writer *w, struct stamp now, struct err *e)
{
    struct frame batch[BATCH];
    size_t n;
    for (size_t left = ring_held(&w->ring); left > 0; left -= n) {
        /* room first: what is taken from the ring must have a place */
        if (!store_room(&w->store, BATCH * CANDUMP_LINE_MAX) && !flush(w, now, e))
            return false;
        n = ring_take(&w->ring, batch, left < BATCH ? left : BATCH);
        for (size_t i = 0; i < n; i++) {
            uint8_t iface = batch[i].iface < SOURCE_IFACES ? batch[i].iface : 0;
            const char *name = w->names[iface][0] ? w->names[iface] : "can";
            char *line = store_room(&w->store, CANDUMP_LINE_MAX);
            store_added(&w->store, candump_format(line, CANDUMP_LINE_MAX, &batch[i], name));
        }
        atomic_fetch_add(&w->frames, n);
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

static void remember(struct writer *w, struct order *c)
{
    struct order *slot = &w->recent[w->recent_next++ % WRITER_RECENT];
    free(slot->text);
    *slot = *c;
    c->text = NULL;
}

static bool begin_incident(struct writer *w, const struct order *c, struct err *e)
{
    if (!store_flush(&w->store, e))
        return false;
    if (w->incident.running) {
        incident_prolong(&w->incident, &w->store, c->at, w->after_ns);
        if (c->alert)
            incident_alarm(&w->incident, &w->store, c->alert);
        return true;
    }
    if (!incident_begin(&w->incident, &w->store, c->text, c->at, w->before_ns, w->after_ns,
                        w->config, e))
        return false;
    if (c->alert)
        incident_alarm(&w->incident, &w->store, c->alert);
    w->shelf_packed = false;
    for (size_t i = 0; i < WRITER_RECENT; i++) {
        const struct order *a = &w->recent[(w->recent_next + i) % WRITER_RECENT];
        if (a->text && a->at.mono_ns >= c->at.mono_ns - w->before_ns)
            incident_alert(&w->incident, &w->store, a->text);
    }
    return true;
}

/* False where the disk refused: the order is to stay. */
static bool obey(struct writer *w, struct order *c, bool *sync, struct err *e)
{
    char name[40], path[300];
    switch (c->sort) {
    case ORDER_ALERT:
        alert_file(name, sizeof name, c->at);
        if (!store_append(&w->store, name, c->text, e))
            return false;
        if (w->incident.running)
            incident_alert(&w->incident, &w->store, c->text);
        remember(w, c);
        *sync = true;
        return true;
    case ORDER_INCIDENT:
        return begin_incident(w, c, e);
    case ORDER_ACKNOWLEDGED:
        if (!incident_acknowledged(&w->incident, &w->store, c->alert))
            shelf_acknowledged(&w->store, c->alert);
        return true;
    case ORDER_MARK:
        if (!store_append_after(&w->store, "marks", c->text, e))
            return false;
        if (w->incident.running && text_format(path, sizeof path, "%s/marks", w->incident.dir))
            w->incident.missed |= !store_append_after(&w->store, path, c->text, NULL);
        *sync = true;
        return true;
    case ORDER_CONFIG:
        free(w->config);
        w->config = c->text;
        c->text = NULL;
        return true;
    }
    return true;
}

static bool obey_all(struct writer *w, bool *sync, struct err *e)
{
    struct order o;
    while (orders_first(&w->orders, &o)) {
        if (!obey(w, &o, sync, e))
            return false;
        orders_done(&w->orders);
        free(o.text);
    }
    return true;
}

static void keep_room(struct writer *w, struct stamp now)
{
    atomic_store(&w->free_bytes, room_keep(&w->room, now));
}

/* Files that no incident to come can need: all but the one being written, and the one before it
 * while that is young. */
static void pack_hour(struct writer *w, struct stamp now)
{
    bool young = now.mono_ns - w->store.opened_mono_ns < w->before_ns;
    uint64_t below = w->store.file.number - (young && w->store.file.number > 0 ? 1 : 0);
    size_t count;
    struct store_file *all = store_list(&w->store, &count);
    for (size_t i = 0; i < count; i++) {
        if (!all[i].packed && all[i].number < below) {
            (void)pack_start(w->pack, w->store.dir_fd, all[i].name);
            break;
        }
    }
    free(all);
}

static void pack_next(struct writer *w, struct stamp now)
{
    if (pack_is_busy(w->pack)) {
        if (!pack_step(w->pack)) {
            keep_room(w, now);
            room_keep_shelf(&w->room, now);
        }
        return;
    }
    if (w->incident.running || now.mono_ns - w->packed_ns < RETRY_NS)
        return;
    w->packed_ns = now.mono_ns;
    pack_hour(w, now);
    if (w->pack && !pack_is_busy(w->pack) && !w->shelf_packed)
        w->shelf_packed = !shelf_pack_next(&w->store, &w->incident, w->pack);
}

static bool write_due(struct writer *w, bool sync, struct stamp now, struct err *e)
{
    if (sync || now.mono_ns - w->flushed_ns >= FLUSH_NS) {
        w->flushed_ns = now.mono_ns;
        if (!flush(w, now, e))
            return false;
    }
    if (sync || now.mono_ns - w->synced_ns >= SYNC_NS) {
        w->synced_ns = now.mono_ns;
        (void)incident_sync(&w->incident); /* tried again */
        if (!store_sync(&w->store, e))
            return false;
    }
    if (now.mono_ns - w->checked_ns >= CHECK_NS) {
        w->checked_ns = now.mono_ns;
        if (!store_check(&w->store, e)) {
            store_close(&w->store);
            return false;
        }
    }
    return true;
}

static bool turn(struct writer *w, struct stamp now, struct err *e)
{
    bool sync = false, rotated = false;
    if (!store_rotate(&w->store, now, room_part(&w->room), &rotated, e))
        return false;
    if (rotated)
        room_keep_shelf(&w->room, now);
    if (rotated || room_is_due(&w->room, now))
        keep_room(w, now);
    /* frames first, so that an incident finds all up to its alarm */
    return take_frames(w, now, e) && obey_all(w, &sync, e) && write_due(w, sync, now, e);
}

void writer_turn(struct writer *w, struct stamp now)
{
    struct err e = {""};
    told_turn(&w->told, atomic_load(&w->lost_frames), now);
    if (!ready(w, now))
        return;
    bool good = turn(w, now, &e), missed = w->incident.missed;
    w->incident.missed = false;
    if (!good)
        disk_failed(w, &e, now);
    else if (missed)
        told_refused(&w->told, MISSED, now);
    else
        told_works(&w->told, now);
    atomic_store(&w->bytes, w->store.total_written);
    if (!atomic_load(&w->writing))
        return;
    (void)incident_step(&w->incident, &w->store, now);
    pack_next(w, now);
}

void writer_open(struct writer *w, struct stamp now)
{
    (void)ready(w, now);
}

bool writer_close(struct writer *w, struct stamp now, struct err *e)
{
    bool sync = true, good = false;
    err_set(e, "what was held could not be written to '%.200s'", w->store.dir);
    /* A disk that has come back since the last try gets what is still held. */
    if (!atomic_load(&w->writing) && !w->taken && w->tried_ns != 0) {
        w->tried_ns = 0;
        (void)ready(w, now);
    }
    if (atomic_load(&w->writing))
        good = take_frames(w, now, e) && obey_all(w, &sync, e) && flush(w, now, e) &&
               store_sync(&w->store, e);
    if (good && w->incident.missed)
        good = err_set(e, MISSED);
    if (good && !incident_sync(&w->incident))
        good = err_set(e, "cannot write the incident that was being copied");
    incident_leave(&w->incident);
    store_close(&w->store);
    if (good)
        *e = (struct err){""};
    return good;
}
