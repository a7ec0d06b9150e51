/* The truth of a drill as one JSON object, written beside the log: what failed, when it began,
 * when the fixed limit was passed and when a well-informed observer would have spoken. Times are
 * epoch seconds; null: never, or does not apply. */
#ifndef STOKEHOLD_DRILL_TRUTH_H
#define STOKEHOLD_DRILL_TRUTH_H

#include "drill/run.h"

#include <stddef.h>
#include <stdint.h>

/* What a sea trial should find besides. */
struct drill_trial_truth {
    double economical_kn, litres_per_nmi; /* NaN where a mile only gets cheaper or dearer */
    int engines;
    double used_l[DRILL_ENGINES];
};
/* Of a plan's boat, and what its run has burnt. */
void drill_trial_truth_make(struct drill_trial_truth *t, const struct drill_plan *plan,
                            const struct drill_run *run);

/* trial may be NULL: then nothing is said of it. Text with "\n" and NUL in buf (512 bytes are
 * enough), or NULL where it did not fit. */
const char *drill_truth_json(char *buf, size_t cap, const struct drill_truth *t, uint64_t seed,
                             int64_t epoch_ns, const struct drill_trial_truth *trial);

#endif
