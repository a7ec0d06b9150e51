#include "plant/table.h"

#include <assert.h>

#include "base/banned.h"

bool table_put(struct table *t, struct channel_id id, uint16_t sender, uint16_t value)
{
    if (id.quantity == QTY_NONE)
        return false;
    uint64_t key = table_key(id, sender);
    size_t i = table_slot(t, key);
    if (t->slots[i] == 0) {
        if (t->entries >= TABLE_ENTRIES)
            return false;
        t->entries++;
        assert(t->entries < TABLE_SLOTS); /* a look-up ends at a free slot */
    }
    t->slots[i] = key << 16 | value;
    return true;
}

/* Takes the entry at `hole` out and moves up those after it that probed past it. */
static void take_out(struct table *t, size_t hole)
{
    t->slots[hole] = 0;
    t->entries--;
    for (size_t i = (hole + 1) & (TABLE_SLOTS - 1); t->slots[i] != 0;
         i = (i + 1) & (TABLE_SLOTS - 1)) {
        size_t home = table_hash(t->slots[i] >> 16);
        size_t way_from_home = (i - home) & (TABLE_SLOTS - 1);
        size_t way_from_hole = (i - hole) & (TABLE_SLOTS - 1);
        if (way_from_home < way_from_hole)
            continue;
        t->slots[hole] = t->slots[i];
        t->slots[i] = 0;
        hole = i;
    }
}

void table_rename(struct table *t, struct channel_id from, struct channel_id to)
{
    for (uint32_t sender = 0; sender <= TABLE_HOLDER; sender++) {
        int value = table_get(t, from, (uint16_t)sender);
        if (value < 0)
            continue;
        take_out(t, table_slot(t, table_key(from, (uint16_t)sender)));
        table_put(t, to, (uint16_t)sender, (uint16_t)value);
    }
}
