/* What a kind of source is made of, for the files of bus/ that implement one. Other layers use
 * bus/source.h. The parts that every kind needs are here once: counting, the timeline, the names
 * of interfaces. */
#ifndef STOKEHOLD_BUS_SOURCE_KIND_H
#define STOKEHOLD_BUS_SOURCE_KIND_H

#include "bus/candump.h"
#include "bus/source.h"
#include "bus/timeline.h"

struct source_kind {
    /* As source_read. The frames handed out are counted by source_read, not here. */
    enum source_state (*read)(struct source *s, struct frame *out, size_t max, size_t *n,
                              struct err *e);
    bool (*rewind)(struct source *s);  /* NULL where it cannot be done */
    int (*fd)(const struct source *s); /* NULL where reading never waits */
    /* As source_part; NULL where it is one log. */
    bool (*part)(const struct source *s, int i, struct source_part *out);
    /* As source_help and source_made; NULL where it does not read ahead. */
    bool (*help)(struct source *s, const struct source_helper *h);
    const void *(*made)(const struct source *s);
    void (*close)(struct source *s); /* frees what `state` points to */
};

struct source {
    const struct source_kind *kind;
    void *state;
    struct source_stats stats;
    struct timeline timeline;
    char ifaces[SOURCE_IFACES][CANDUMP_NAME_MAX + 1];
    int iface_count;
};

/* A source of this kind, state owned by it. NULL when memory is out. */
struct source *source_new(const struct source_kind *kind, void *state);

/* Counts a line (or packet) that holds no frame and keeps the first few. */
void source_complain(struct source *s, uint64_t line, const char *reason);

/* The index of an interface by name, learned where it is new; -1 when there are too many. Only
 * printable ASCII is kept of the name. */
int source_iface_index(struct source *s, const char *name, size_t len);

/* Gives f its mono time, FRAME_GAP and FRAME_HOLE. */
static inline void source_stamp(struct source *s, struct frame *f)
{
    f->mono_ns = timeline_map(&s->timeline, f->wall_ns, &f->flags);
}

#endif
