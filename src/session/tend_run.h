/* What `tend` is told on the command line, and the watch without a screen itself. */
#ifndef STOKEHOLD_SESSION_TEND_RUN_H
#define STOKEHOLD_SESSION_TEND_RUN_H

#include "config/settings.h"
#include "session/duties.h"
#include "session/season_keep.h"

#include <stdbool.h>

struct tend_options {
    const char *const *sources;
    int source_count;
    const char *config, *zone;
    struct season_keep *season;
    struct duties_options duties;
    bool utc;
    /* The configuration given is wrong and another is gone by: what is to be said of it; else "".
     */
    char fallen_back[160];
    bool season_unread; /* a season was named and cannot be read: none is kept */
};

/* Runs until the log ends or a signal comes; returns an exit status. Takes the settings over: a
 * reload replaces them. */
int tend_run(const struct tend_options *options, struct settings *settings);
/* The same with a watch that is under way (of a board whose terminal has gone): live and duties
 * are taken over, allocated by malloc, with what they hold. */
int tend_take_over(const struct tend_options *options, struct settings *settings, struct live *live,
                   struct duties *duties);

#endif
