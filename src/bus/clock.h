/* The only clock read below verbs/: wall time for labels, a monotonic clock for everything that
 * decides. mono is counted from TIMELINE_START at boot, as in a replayed log, so that ages can be
 * subtracted from it. */
#ifndef STOKEHOLD_BUS_CLOCK_H
#define STOKEHOLD_BUS_CLOCK_H

#include "base/when.h"

struct stamp clock_now(void);

#endif
