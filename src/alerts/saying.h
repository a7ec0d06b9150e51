/* How an alert comes to its text: what its leading claim said, kept, so that the text is built when
 * somebody reads it and follows the units. Within alerts/ alone. Pure. */
#ifndef STOKEHOLD_ALERTS_SAYING_H
#define STOKEHOLD_ALERTS_SAYING_H

#include "alerts/alert.h"
#include "alerts/words.h"

/* So many quick returns are one alert that flaps, and says how often. Common practice, no source.
 */
#define FLAPS_MAX 3

struct saying {
    bool has_words, over;
    bool fire; /* another alert says that there may be one */
    struct words_kept words;
    char line[ALERT_TEXT_SIZE]; /* where it has no words; "": it was restored, with its text */
    char phrase[48];            /* over: how it ended, */
    double value;               /* and what was read then */
};

/* Writes text, what, action and steps of a from what is kept and a's stage and returns. Units as of
 * `settings` (NULL: base units). */
void saying_build(const struct saying *said, struct alert *a, const struct settings *settings,
                  bool utc);

#endif
