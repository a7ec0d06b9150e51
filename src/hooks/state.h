/* The state file: alerts that wait for acknowledgement, kept so that a restart (MSC.302(87)
 * 13.2.2: automatic, after power returns) lists them again. Written whole to a file beside it,
 * synced and renamed, so that a power cut leaves the old or the new one. Written only when the
 * list has changed: at once for alarms, otherwise at most every ten seconds, for cards wear. */
#ifndef STOKEHOLD_HOOKS_STATE_H
#define STOKEHOLD_HOOKS_STATE_H

#include "alerts/alert.h"
#include "base/err.h"

/* Reads the file into the list. A file that is not there is no failure; *count is how many were
 * listed again. False and e where it cannot be read or is damaged: then nothing is taken from it.
 */
bool state_load(const char *path, struct alert_list *alerts, struct stamp now, int *count,
                struct err *e);
/* Writes the list. False and e on failure, the old file then stands. */
bool state_save(const char *path, const struct alert_list *alerts, struct err *e);

/* When to write. Feed every event; then state_due says so. */
struct state_pace {
    bool changed, urgent;
    int64_t saved_ns; /* mono */
};
void state_event(struct state_pace *p, const struct alert_event *ev);
bool state_due(const struct state_pace *p, int64_t now_ns);

#endif
