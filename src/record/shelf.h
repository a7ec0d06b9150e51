/* The incidents that are over: packing them, and giving up the least wanted when they take too much
 * room: those whose alarms were all acknowledged first, the oldest first of those, and never the
 * latest of all. Used by the record's thread. */
#ifndef STOKEHOLD_RECORD_SHELF_H
#define STOKEHOLD_RECORD_SHELF_H

#include "record/incident.h"
#include "record/pack.h"
#include "record/store.h"

#define SHELF_NAME_SIZE 140

/* What all incidents hold, in bytes. */
uint64_t shelf_bytes(const struct store *s);
/* Removes the least wanted one but the latest and the one that is running (NULL: none). Its name
 * into given; false when there is none to give up. */
bool shelf_give_up_one(const struct store *s, const struct incident *running,
                       char given[SHELF_NAME_SIZE]);
/* Begins to pack the frames of one that is over; false when all are packed. */
bool shelf_pack_next(const struct store *s, const struct incident *running, struct pack *p);
/* An alarm was acknowledged: the latest incident that waits for it notes that. */
void shelf_acknowledged(const struct store *s, uint32_t alert);

#endif
