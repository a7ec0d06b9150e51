/* The truth of a drill as one JSON object, written beside the log: what failed, when it began,
 * when the fixed limit was passed and when a well-informed observer would have spoken. Times are
 * epoch seconds; null: never, or does not apply. */
#ifndef STOKEHOLD_DRILL_TRUTH_H
#define STOKEHOLD_DRILL_TRUTH_H

#include "drill/run.h"

#include <stddef.h>
#include <stdint.h>

/* Text with "\n" and NUL in buf (512 bytes are enough), or NULL where it did not fit. */
const char *drill_truth_json(char *buf, size_t cap, const struct drill_truth *t, uint64_t seed,
                             int64_t epoch_ns);

#endif
