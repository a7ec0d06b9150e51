/* Readings, alerts and the watch's own state in the Prometheus text exposition format (version
 * 0.0.4), which textfile collectors read: a fleet's boats in a time-series database without a
 * server of our own. Values are in base units: degrees Celsius, pascals, seconds, ratios. A value
 * that is not good is left out, never a number. */
#ifndef STOKEHOLD_HOOKS_METRICS_H
#define STOKEHOLD_HOOKS_METRICS_H

#include "alerts/alert.h"
#include "hooks/status.h"
#include "plant/plant.h"

#define METRICS_EVERY_NS (15 * NS_PER_S)

/* The text, to be freed with free; its length in *len. NULL when out of memory. */
char *metrics_text(const struct plant *p, const struct alert_list *alerts,
                   const struct watch_status *status, size_t *len);

#endif
