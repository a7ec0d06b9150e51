#include "record/room.h"

#include "record/shelf.h"

#include "base/banned.h"

#define LOOK_NS     (10 * NS_PER_S) /* between looks at how much room there is */
#define PARTS       8               /* files that the room is parted into, at least */
#define PART_LEAST  65536           /* bytes, on a disk with no room at all */
#define SHELF_SHARE 4               /* of the cap, for incidents: one part in so many */

static uint64_t keep_from(const struct room *r)
{
    return r->incident->running ? r->incident->number : UINT64_MAX;
}

static bool give_up_incident(struct room *r, struct stamp now)
{
    char name[SHELF_NAME_SIZE];
    if (!shelf_give_up_one(r->store, r->incident, name))
        return false;
    told_given(r->told, name, now);
    return true;
}

/* Whatever can be given up now for room. False when there is nothing left. */
static bool make(struct room *r, struct stamp now)
{
    return store_give_up_one(r->store, keep_from(r)) || give_up_incident(r, now) ||
           store_give_up_one(r->store, UINT64_MAX);
}

void room_keep_shelf(struct room *r, struct stamp now)
{
    while (shelf_bytes(r->store) > r->cap / SHELF_SHARE && give_up_incident(r, now))
        ;
}

int64_t room_keep(struct room *r, struct stamp now)
{
    struct store_space space;
    r->looked_ns = now.mono_ns;
    r->bytes = r->cap;
    uint64_t held = store_trim(r->store, r->bytes, keep_from(r));
    if (!store_space(r->store, &space))
        return -1;
    uint64_t most = held + space.free > space.reserve ? held + space.free - space.reserve : 0;
    if (most < r->bytes) {
        r->bytes = most;
        held = store_trim(r->store, most, keep_from(r));
        if (held > most && store_space(r->store, &space) && space.free < space.reserve)
            (void)give_up_incident(r, now);
    }
    return store_space(r->store, &space) ? (int64_t)space.free : -1;
}

bool room_is_due(const struct room *r, struct stamp now)
{
    return now.mono_ns - r->looked_ns >= LOOK_NS;
}

uint64_t room_part(const struct room *r)
{
    uint64_t part = r->bytes / PARTS, least = r->cap / PARTS;
    least = least < PART_LEAST ? least : PART_LEAST;
    return part > least ? part : least;
}

bool room_flush(struct room *r, struct stamp now, struct err *e)
{
    while (!store_flush(r->store, e))
        if (!r->store->full || !make(r, now))
            return false;
    return true;
}
