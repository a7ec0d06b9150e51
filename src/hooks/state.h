/* The state file: alerts that wait for acknowledgement, and runs of hooks that failed and are to be
 * tried again, kept so that a restart (MSC.302(87) 13.2.2: automatic, after power returns) lists
 * them again. Written whole to a file beside it, synced and renamed, so that a power cut leaves the
 * old or the new one. Written only when something has changed: at once for alarms, otherwise at
 * most every ten seconds, for cards wear. Reading and writing the file itself may take as long as
 * the disk likes: that is done on another thread than the one that decides (hooks/desk.h). */
#ifndef STOKEHOLD_HOOKS_STATE_H
#define STOKEHOLD_HOOKS_STATE_H

#include "alerts/alert.h"
#include "base/err.h"
#include "hooks/hooks.h"

struct state_held; /* what a file holds */

/* Reads the file. A file that is not there is not a failure: then nothing is held. NULL and e where
 * it cannot be read or is damaged: nothing is taken from it. Free with state_free. */
struct state_held *state_read(const char *path, struct err *e);
void state_free(struct state_held *s); /* NULL is allowed */
/* Lists again what is held; hooks may be NULL. Returns how many alerts were listed. */
int state_restore(const struct state_held *s, struct alert_list *alerts, struct hooks *hooks,
                  struct stamp now);
/* What the file is to hold, to be freed with free; NULL when out of memory. hooks may be NULL. */
char *state_text(const struct alert_list *alerts, const struct hooks *hooks,
                 const struct settings *settings, size_t *len);

/* When to write. Feed every event; then state_due says so. */
struct state_pace {
    bool changed, urgent;
    int64_t saved_ns; /* mono */
};
void state_event(struct state_pace *p, const struct alert_event *ev);
bool state_due(const struct state_pace *p, int64_t now_ns);

#endif
