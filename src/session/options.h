/* Options that several verbs share: which part of a log, which configuration. */
#ifndef STOKEHOLD_SESSION_OPTIONS_H
#define STOKEHOLD_SESSION_OPTIONS_H

#include "config/settings.h"
#include "session/log_reader.h"

#include <getopt.h>
#include <stdio.h>

/* What an option has an effect on; 0: whatever is watched. */
enum option_source { ON_LOG = 1, ON_IFACE = 2, ON_TEND = 4 };

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
    /* By option; NULL where no option has any. What the argument may be, "auto,never": the help
     * says it, and completion reads the help. Which sources it has an effect on, of enum
     * option_source, combined; 0: all. */
    const char *const *values;
    const int *only;
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

/* True where all options have an effect on this source; given has bit 1 << i for option i. False
 * after saying on stderr which has none. */
bool options_fit(const struct option_set *o, uint64_t given, enum option_source source);

/* The word of the list that is nearest to a misspelt one; NULL where none is near. */
const char *options_near(const char *word, const char *const *words, size_t count);

/* The configuration at path (NULL: defaults), or NULL after saying every error on stderr. */
struct settings *options_settings(const char *verb, const char *path);

#endif
