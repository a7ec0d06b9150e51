/* What a script or a person asks of a `tend` that runs, through its socket: to acknowledge, to
 * silence, to try the alarm, how it is doing. */
#ifndef STOKEHOLD_SESSION_TEND_ASK_H
#define STOKEHOLD_SESSION_TEND_ASK_H

#include <stdbool.h>

/* One command ("silence", with its fields). An exit status, after saying on standard error what is
 * wrong. */
int tend_ask(const char *path, const char *command);
/* How it is doing, on standard output: lines for people, clock times in UTC or the local zone; or
 * one JSON object. */
int tend_status(const char *path, bool json, bool utc);

#endif
