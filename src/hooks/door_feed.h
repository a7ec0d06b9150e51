/* What one attached client is sent: the first time everything, piece by piece as its buffer has
 * room, then what changed. Within hooks/ alone. */
#ifndef STOKEHOLD_HOOKS_DOOR_FEED_H
#define STOKEHOLD_HOOKS_DOOR_FEED_H

#include "hooks/door.h"
#include "hooks/lines.h"

#define FEED_BUFFER (256 * 1024)

struct door_feed_channel {
    uint32_t described; /* hash of what was said of it; 0: nothing yet */
    int64_t period_ns;  /* that was said */
    int64_t past_ns;    /* mono: history was sent up to here */
    int64_t band_ns;    /* and so were the edges of what was expected */
    uint32_t expected;  /* hash of what was said to be expected; 0: nothing yet */
    uint32_t season;    /* hash of what was said of the season's difference; 0: nothing yet */
    int64_t said_ns;    /* mono: of the reading that was sent last */
    uint8_t status;
};

struct door_feed {
    char buf[FEED_BUFFER];
    size_t used;
    uint32_t boat, engines; /* hashes of what was said */
    uint64_t alerts_version;
    bool alerts_said;
    size_t next; /* channel whose turn it is to get its history */
    int64_t updated_ns, stations_ns;
    int ifaces; /* names that were said */
    struct door_feed_channel channels[PLANT_CHANNELS];
};

size_t door_feed_room(const struct door_feed *f);
/* A line that does not fit is left out: ask door_feed_room where that matters. */
void door_feed_put(struct door_feed *f, const struct line *l);
/* Whether it gets the next picture; a client that has not taken the last one yet gets it when it
 * has. */
bool door_feed_due(const struct door_feed *f, const struct door_info *info);
/* Puts what is due into the buffer. */
void door_feed_turn(struct door_feed *f, struct keeper *k, const struct door_info *info,
                    uint64_t alerts_version);

#endif
