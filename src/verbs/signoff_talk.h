/* The sign-off as a dialogue: what is open, one sender after the other. On a bus it goes on
 * listening while it waits for an answer, so that a probe can be warmed, or stand in a bath, while
 * the question stands; of a log the readings are what they were at its end. Each confirmation is
 * on the disk before the next is asked for: breaking off loses nothing. */
#ifndef STOKEHOLD_VERBS_SIGNOFF_TALK_H
#define STOKEHOLD_VERBS_SIGNOFF_TALK_H

#include "bus/source.h"
#include "report/signoff/signoff.h"

struct talk {
    const char *file;           /* the list */
    const struct muster *heard; /* closed */
    struct source *source;      /* of a bus, still open; NULL of a log */
    int in;                     /* answers, a line each */
    FILE *out;
};

/* An exit status: EXIT_SOURCE, said on stderr, where the list or the bus cannot be used. */
int signoff_talk(const struct talk *t);

#endif
