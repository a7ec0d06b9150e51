/* One season of a drilled boat, sailed: every trip's messages straight into the season watch, and
 * what was said held against the truth. For the bench and for the tests. */
#ifndef STOKEHOLD_BENCH_SEASON_SAIL_H
#define STOKEHOLD_BENCH_SEASON_SAIL_H

#include "drill/season.h"
#include "season/season.h"

#include <stdbool.h>

struct season_outcome {
    int seasons;
    int early, warned;      /* said before 6 K, warned before 12 K */
    int strainer;           /* said within its trip */
    int cautions, warnings; /* seasons with a false one */
    int due9, battery;      /* cranking volts less by 9 %, and that said before */
    int questions;
    int due6, due12;     /* seasons in which the truth passed 6 and 12 K */
    double first_k[400]; /* the truth at the first true word */
    int firsts;
};

/* Adds a season to the outcome. verbose prints a line a trip. */
void season_sail(const struct drill_season *s, struct season_outcome *o, bool verbose);
/* The same, and the trips are left in *season, which is empty at first; the caller frees it. */
void season_sail_into(const struct drill_season *s, struct season_outcome *o, bool verbose,
                      struct season *season);

#endif
