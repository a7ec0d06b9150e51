/* A trial as a trip of a season, and a trial held against earlier trips. */
#ifndef STOKEHOLD_REPORT_TRIAL_DRIFT_H
#define STOKEHOLD_REPORT_TRIAL_DRIFT_H

#include "report/trial/trial.h"
#include "season/season.h"

#include <stdbool.h>

#define TRIAL_DRIFTS 96

/* One channel: where it stands furthest from then. */
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

/* Every point of the trial as steps of a season, a trip a log; the boat standing still counts only
 * where no point under way has that engine speed. *s starts zeroed; false when out of memory. */
bool trial_season_make(const struct trial_report *r, struct season *s);
/* The channels of the trial and of the first trips of the season (this trial's own left out where
 * there are others), each at its largest difference. */
void trial_drift_find(const struct trial_report *r, const struct season *s,
                      struct trial_drifts *out);

#endif
