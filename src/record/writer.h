/* The record's turns: what a thread of its own does, or a test by hand. Frames go from the ring to
 * the store, orders are carried out, what is due is written and synced, hours and incidents that
 * are over are packed. What others read while it runs is atomic. */
#ifndef STOKEHOLD_RECORD_WRITER_H
#define STOKEHOLD_RECORD_WRITER_H

#include "bus/candump.h"
#include "bus/ring.h"
#include "bus/source.h"
#include "record/incident.h"
#include "record/orders.h"
#include "record/pack.h"
#include "record/record.h"
#include "record/room.h"
#include "record/store.h"
#include "record/told.h"

#define WRITER_RECENT 64

struct writer {
    /* filled by the thread that decides */
    struct ring ring;
    struct orders orders;
    char names[SOURCE_IFACES][CANDUMP_NAME_MAX + 1]; /* set before the first frame of each */

    /* read by it */
    _Atomic uint64_t frames, lost_frames, bytes; /* lost_frames: counted by it */
    _Atomic int64_t free_bytes;
    _Atomic bool writing;

    /* the writing thread's own */
    int64_t before_ns, after_ns; /* of an incident */
    struct store store;
    struct incident incident;
    struct room room;
    struct told told;
    struct pack *pack;                  /* NULL: nothing is packed */
    char *config;                       /* kept with every incident; NULL: none yet */
    struct order recent[WRITER_RECENT]; /* alerts, for an incident's time before its alarm */
    size_t recent_next;
    bool shelf_packed, taken; /* taken: the first try to open found another writer, */
    struct err taken_by;      /* this one */
    int64_t tried_ns, flushed_ns, synced_ns, checked_ns, packed_ns;
};

/* False when memory is out or the name is too long; writer_fini all the same. */
bool writer_init(struct writer *w, const struct record_options *o, size_t ring_frames);
void writer_fini(struct writer *w);
/* Opens the directory; what is wrong is said as at every turn, and in `taken`. */
void writer_open(struct writer *w, struct stamp now);
void writer_turn(struct writer *w, struct stamp now);
/* What is held is written and synced, and all is closed. False, with e, where something of it was
 * not written. */
bool writer_close(struct writer *w, struct stamp now, struct err *e);
/* There is work to do that is done a piece at a time. */
bool writer_is_busy(const struct writer *w);

#endif
