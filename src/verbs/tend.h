/* What `tend` is told on the command line, and the watch without a screen itself. */
#ifndef STOKEHOLD_VERBS_TEND_H
#define STOKEHOLD_VERBS_TEND_H

#include "config/settings.h"

#include <stdbool.h>
#include <stdint.h>

struct tend_options {
    const char *const *sources;
    int source_count;
    const char *config, *zone;
    const char *state, *metrics, *socket; /* NULL: none */
    const char *record;                   /* directory; NULL: none */
    uint64_t record_cap;                  /* bytes; 0: the usual */
    bool utc;
};

/* Runs until the log ends or a signal comes; returns an exit status. Takes the settings over: a
 * reload replaces them. */
int tend_run(const struct tend_options *options, struct settings *settings);

#endif
