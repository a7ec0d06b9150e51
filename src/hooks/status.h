/* How a running watch is doing: what the keeper does not know. The metrics file and the answer to
 * `status` are made of it. */
#ifndef STOKEHOLD_HOOKS_STATUS_H
#define STOKEHOLD_HOOKS_STATUS_H

#include "alerts/alert.h"
#include "bus/source.h"
#include "hooks/hooks.h"
#include "keeper/keeper.h"

struct status_iface {
    char name[16];
    bool up;
    uint64_t frames, error_frames, lost_frames;
    double load_percent;    /* below 0: not known */
    const char *controller; /* "error-passive"; "" where it does not tell */
    int64_t last_wall_ns;   /* of its last frame; 0: none yet */
};

/* Words of an alert as they were when it was raised: a label must not change with every reading. */
struct status_said {
    uint32_t id;
    char text[ALERT_TEXT_SIZE];
};

struct watch_status { /* counts are since the start */
    struct stamp now;
    int64_t started_wall_ns;
    const char *source; /* what is watched */
    bool sounding;
    uint64_t frames, lost_frames, error_frames, bad_lines;
    struct losses losses;
    uint64_t raised[PRIORITY_EMERGENCY + 1];
    struct status_iface ifaces[SOURCE_IFACES];
    int iface_count;

    bool records, record_writing; /* records: asked to */
    uint64_t record_bytes, record_lost_frames;
    int64_t record_free_bytes; /* below 0: not known */

    int64_t loaded_wall_ns; /* the configuration in force */
    bool load_failed;       /* the last try to read it again */
    bool clock_trusted;

    struct season_watch *season;    /* NULL: none is kept */
    const struct hooks *hooks;      /* may be NULL */
    const struct status_said *said; /* said_count of them */
    int said_count;
};

#endif
