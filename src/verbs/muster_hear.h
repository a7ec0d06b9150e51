/* Where the frames of a muster come from: a log, or interfaces for a while. A keeper reads the same
 * frames, for what the cooling watch would have. */
#ifndef STOKEHOLD_VERBS_MUSTER_HEAR_H
#define STOKEHOLD_VERBS_MUSTER_HEAR_H

#include "bus/source.h"
#include "keeper/keeper.h"
#include "report/muster/muster.h"
#include "session/log_reader.h"

struct muster_hearing {
    struct keeper *keeper;
    struct log_range range; /* of a log */
    const char *zone;
    int64_t for_ns; /* of interfaces */
    bool ask;       /* for address claims, first */
    bool utc;
    bool keep;          /* leave the interfaces open: */
    struct source *bus; /* they are here then; to be closed by the caller */
};

/* Exit statuses; what is wrong is said on stderr. */
int muster_hear_log(struct muster_hearing *h, struct muster *m, const char *path);
int muster_hear_bus(struct muster_hearing *h, struct muster *m, char **names, int count);

#endif
