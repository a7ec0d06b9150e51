/* The options of `muster --sign-off`: words to a request, and what is done with it. */
#ifndef STOKEHOLD_VERBS_MUSTER_SIGNOFF_H
#define STOKEHOLD_VERBS_MUSTER_SIGNOFF_H

#include "report/signoff/signoff.h"

struct signoff_words { /* as given; NULL where not */
    const char *file, *confirm, *check, *reference, *tolerance, *altitude, *by, *note;
};

/* False after saying on stderr what is wrong or missing. */
bool signoff_words_parse(const struct signoff_words *w, struct signoff_request *out);

/* Adds the confirmation that is asked for, if any, and prints the list to out. Returns an exit
 * status: EXIT_FINDINGS where a confirmation failed. */
int signoff_run(const struct signoff_words *w, struct signoff_request *request,
                const struct muster *m, bool utc, FILE *out);

#endif
