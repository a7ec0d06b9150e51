/* Options that several verbs share: which part of a log, which configuration. */
#ifndef STOKEHOLD_SESSION_OPTIONS_H
#define STOKEHOLD_SESSION_OPTIONS_H

#include "config/settings.h"
#include "session/log_reader.h"

#include <getopt.h>
#include <stdio.h>

/* One option of a verb: the row serves getopt_long and the help text. */
struct option_row {
    const char *name;     /* "from" */
    char letter;          /* 0: long only */
    const char *argument; /* "TIME", NULL for a flag */
    const char *help;
};

/* A verb's options and what to do with them. */
struct option_set {
    const char *verb;
    const char *usage; /* what --help prints before the table: "usage: ...\n\nWhat it does.\n" */
    const struct option_row *rows;
    int count;
    int help; /* index of the row for --help */
    /* Takes one option; false after saying on stderr what is wrong with it. */
    bool (*set)(void *ctx, int option, const char *value);
};
/* Takes all options of argv; optind then is the first SOURCE. False when the verb ends here, with
 * *status: help was printed, or what is wrong was said on stderr. */
bool options_take(const struct option_set *o, void *ctx, int argc, char **argv, int *status);

/* Takes the value of --from or --to; false after saying on stderr that it is not a time. */
bool range_set_from(struct log_range *r, const char *verb, const char *value);
bool range_set_to(struct log_range *r, const char *verb, const char *value);

/* The configuration at path (NULL: defaults) with the baseline in a file of its own (NULL: none),
 * or NULL after saying every error on stderr. */
struct settings *options_settings(const char *verb, const char *path, const char *baseline);

#endif
