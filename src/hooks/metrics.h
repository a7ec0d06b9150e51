/* Channels and alerts in the OpenMetrics text form (version 1.0), for the textfile reader of an
 * existing collector: a fleet's boats in a time-series database without a server of our own.
 * Values are in the form's base units: degrees Celsius, pascals, ratios. A value that is not good
 * is left out, never a number. The file is replaced as a whole. It also reads as the older
 * Prometheus text form, which textfile readers expect. */
#ifndef STOKEHOLD_HOOKS_METRICS_H
#define STOKEHOLD_HOOKS_METRICS_H

#include "alerts/alert.h"
#include "base/err.h"
#include "plant/plant.h"

#define METRICS_EVERY_NS (15 * NS_PER_S)

struct metrics_counts { /* since the start */
    uint64_t frames, lost_frames, error_frames, bad_lines;
    uint64_t raised[PRIORITY_EMERGENCY + 1];
    int64_t started_wall_ns;
};

/* The text in *text with its length; the caller frees it. False when out of memory. */
bool metrics_text(const struct plant *p, const struct alert_list *alerts,
                  const struct metrics_counts *counts, struct stamp now, char **text, size_t *len);
/* The same into a file. False and e on failure. */
bool metrics_write(const char *path, const struct plant *p, const struct alert_list *alerts,
                   const struct metrics_counts *counts, struct stamp now, struct err *e);

#endif
