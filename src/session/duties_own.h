/* Within duties.c and duties_look.c alone: what the duties hold, and what is looked at each turn.
 */
#ifndef STOKEHOLD_SESSION_DUTIES_OWN_H
#define STOKEHOLD_SESSION_DUTIES_OWN_H

#include "hooks/desk.h"
#include "hooks/hooks.h"
#include "hooks/state.h"
#include "record/record.h"
#include "session/clock_trust.h"
#include "session/duties.h"

enum stuck { STUCK_RECORD, STUCK_DESK, STUCK_COUNT };

struct duties {
    struct duties_options o;
    const struct settings *settings;
    char source[48], good_config[512];
    struct live *live; /* NULL before duties_begin */
    struct record *record;
    struct hooks *hooks;
    struct door *door;
    struct desk *desk;
    struct door_info info;
    struct watch_status status;
    struct status_said said[ALERTS_MAX];
    int said_next;
    struct clock_trust clock_trust;
    struct state_pace pace;
    uint64_t hooks_version; /* of the runs that were last written */
    struct stamp clock;
    bool restoring; /* the state file is being read */
    struct state_held *held;
    struct err held_error;
    int64_t metrics_ns;     /* when the file was written */
    uint64_t second_frames; /* for frames a second */
    int64_t second_ns, tried_ns;
    bool metrics_failed, state_failed, config_failed, clock_said, stuck[STUCK_COUNT];
    duties_line *line;
    void *line_ctx;
};

/* Says a condition of the watch itself where it begins or ends; *stood is what was said. */
void duties_say_change(struct duties *d, enum condition_sort sort, int which, bool *stood,
                       bool stands, const char *text);
void duties_look_at_disks(struct duties *d);
void duties_look_at_clock(struct duties *d);
/* The figures for metrics and --status, and those for boards that are attached. */
void duties_fill_status(struct duties *d);
void duties_measure(struct duties *d);

#endif
