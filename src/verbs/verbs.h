/* The verbs of the command line and what they share. A verb gets its own argc and argv, argv[0]
 * being the verb's name, and returns an exit status of base/err.h. */
#ifndef STOKEHOLD_VERBS_VERBS_H
#define STOKEHOLD_VERBS_VERBS_H

#include "base/err.h"

#include <stdio.h>

struct verb {
    const char *name;
    const char *does; /* one line for the help */
    int (*run)(int argc, char **argv);
};

int verb_watch(int argc, char **argv);
int verb_tend(int argc, char **argv);
int verb_sift(int argc, char **argv);
int verb_export(int argc, char **argv);
int verb_muster(int argc, char **argv);
int verb_season(int argc, char **argv);
int verb_trial(int argc, char **argv);
int verb_config(int argc, char **argv);
int verb_drill(int argc, char **argv);

/* NULL where there is none. */
const struct verb *verbs_find(const char *name);
void verbs_help(FILE *out);
/* Says on stderr that there is no such verb, and which may be meant. */
void verbs_unknown(const char *name);
/* Flushes stdout; a failure to write turns EXIT_DONE into EXIT_SOURCE with a message (a closed
 * pipe silently). */
int verbs_flush(int status);

#endif
