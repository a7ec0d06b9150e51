/* A trial as a baseline, and a trial held against an earlier one. */
#ifndef STOKEHOLD_REPORT_TRIAL_DRIFT_H
#define STOKEHOLD_REPORT_TRIAL_DRIFT_H

#include "config/baseline.h"
#include "report/trial/trial.h"

#include <stdbool.h>

#define TRIAL_DRIFTS 96

/* One channel: where it stands furthest from the baseline. */
struct trial_drift {
    struct channel_id id;
    double rpm, now, then, difference;
    bool notable; /* more than both trials' readings went up and down by themselves */
    double sea_k; /* how much warmer the sea was now; NaN unknown */
    char text[160];
};

struct trial_drifts {
    struct trial_drift drift[TRIAL_DRIFTS];
    int count;
};

/* Figures of every point of the trial; the boat standing still counts only where no point under way
 * has that engine speed. *b starts zeroed; false when out of memory. */
bool trial_baseline_make(const struct trial_report *r, struct baseline *b);
/* Both trials' channels, each at its largest difference. */
void trial_drift_find(const struct trial_report *r, const struct baseline *b,
                      struct trial_drifts *out);

#endif
