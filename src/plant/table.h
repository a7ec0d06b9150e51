/* Finds a channel by what it is about and who sends it: a small open hash, filled only when a
 * channel appears. The sender is an index (senders.h) and not an address, so that nothing is
 * rehashed when a box changes its address; TABLE_HOLDER stands for "whoever holds the key".
 * Never full: table_put refuses past TABLE_ENTRIES. */
#ifndef STOKEHOLD_PLANT_TABLE_H
#define STOKEHOLD_PLANT_TABLE_H

#include "base/quantity.h"

#include <string.h>

#define TABLE_SLOTS   8192 /* a power of two */
#define TABLE_ENTRIES 4096 /* half of it, so that probing stays short */
#define TABLE_HOLDER  0xFFFF

struct table {
    uint64_t slots[TABLE_SLOTS]; /* a key of 48 bits, then its value; 0: free */
    size_t entries;
};

static inline uint64_t table_key(struct channel_id id, uint16_t sender)
{
    uint32_t about; /* nothing looks into it, so that the order of its bytes does not matter */
    _Static_assert(sizeof id == sizeof about, "an id has no holes");
    memcpy(&about, &id, sizeof about);
    return (uint64_t)about << 16 | sender;
}

static inline size_t table_hash(uint64_t key)
{
    return (size_t)((key * UINT64_C(0x9E3779B97F4A7C15)) >> 51); /* top 13 bits */
}

/* Where the key is, or could be put. */
static inline size_t table_slot(const struct table *t, uint64_t key)
{
    size_t i = table_hash(key);
    while (t->slots[i] != 0 && t->slots[i] >> 16 != key)
        i = (i + 1) & (TABLE_SLOTS - 1);
    return i;
}

/* The index put for this pair, -1 where there is none. */
static inline int table_get(const struct table *t, struct channel_id id, uint16_t sender)
{
    uint64_t slot = t->slots[table_slot(t, table_key(id, sender))];
    return slot != 0 ? (uint16_t)slot : -1;
}

/* Puts or replaces. False when there is no room left. QTY_NONE cannot be put. */
bool table_put(struct table *t, struct channel_id id, uint16_t sender, uint16_t value);
/* Turns every entry about `from` into one about `to`. */
void table_rename(struct table *t, struct channel_id from, struct channel_id to);

#endif
