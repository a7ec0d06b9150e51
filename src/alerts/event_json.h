/* One event of an alert as a JSON line, the form that `sift --json` prints and the record keeps.
 * All fields are always there; what does not apply is null. */
#ifndef STOKEHOLD_ALERTS_EVENT_JSON_H
#define STOKEHOLD_ALERTS_EVENT_JSON_H

#include "alerts/alert.h"

#define EVENT_JSON_SIZE 2048

/* "raised", "escalated", "changed", "rectified", "ended", "acknowledged", "silenced"; NULL for
 * EVENT_UPDATED, which is for screens alone. */
const char *alert_event_text(enum alert_event_kind e);
/* The line with its '\n' in buf, or NULL for EVENT_UPDATED or when it does not fit. */
const char *alert_event_json(char *buf, size_t cap, const struct alert_event *ev);

#endif
