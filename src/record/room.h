/* Who gives way on the record's disk: frames hold at most the cap, incidents a part of it, and a
 * part of the disk is left free for others. Old hours go first, then incidents that are over, and
 * hours that the running incident still needs last of all. Used by the record's thread. */
#ifndef STOKEHOLD_RECORD_ROOM_H
#define STOKEHOLD_RECORD_ROOM_H

#include "record/incident.h"
#include "record/store.h"
#include "record/told.h"

struct room {
    struct store *store;
    const struct incident *incident;
    struct told *told;
    uint64_t cap, bytes; /* bytes: what frames may hold now, the cap or less */
    int64_t looked_ns;
};

/* Trims to what there is room for now. The free bytes of the disk; below 0: not known. */
int64_t room_keep(struct room *r, struct stamp now);
/* Trims incidents to their share of the cap. */
void room_keep_shelf(struct room *r, struct stamp now);
/* Whether it is time to look again. */
bool room_is_due(const struct room *r, struct stamp now);
/* How large one file of frames may become: far smaller than the room, or there would be nothing to
 * remove. */
uint64_t room_part(const struct room *r);
/* Writes what the store holds: a full disk costs old hours, not the present one. False and e when
 * the disk refused and there is nothing left to give up. */
bool room_flush(struct room *r, struct stamp now, struct err *e);

#endif
