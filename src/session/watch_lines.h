/* The watch as lines, without a screen: one board printed once, or what happens said line by line,
 * for a screen reader or a line that can do no more. No escape sequences, ever. */
#ifndef STOKEHOLD_SESSION_WATCH_LINES_H
#define STOKEHOLD_SESSION_WATCH_LINES_H

#include "session/watch_loop.h"

/* Reads the log to its end (or to --to), or a live bus for a few seconds, and prints the board. */
int watch_once(const struct watch_options *options, struct settings *settings);
/* Says every change of an alert as it comes. Lines typed in: empty lists all readings, `a`
 * acknowledges the worst, `s` silences, `q` quits. */
int watch_plain(const struct watch_options *options, struct settings *settings);

#endif
