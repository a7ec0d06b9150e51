/* How a situation went, in one line: raised, limit passed and for how long, worst, engine stopped,
 * over or still standing, whether somebody acknowledged it, and how bad other channels of it got.
 * Pure. */
#ifndef STOKEHOLD_ALERTS_STORY_H
#define STOKEHOLD_ALERTS_STORY_H

#include "alerts/alert.h"
#include "config/settings.h"

#define ALERT_STORY_SIZE 640

/* s: units, NULL: base units. watched: somebody could have acknowledged it (nobody can in a log);
 * then it is told whether somebody has. */
void alert_story(char *dst, size_t cap, const struct alert *a, const struct settings *s, bool utc,
                 bool watched);

#endif
