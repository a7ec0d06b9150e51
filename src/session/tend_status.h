/* How a `tend` that runs is doing, as hooks/door_status.h tells it, for people and for scripts. */
#ifndef STOKEHOLD_SESSION_TEND_STATUS_H
#define STOKEHOLD_SESSION_TEND_STATUS_H

#include <stdbool.h>

/* On standard output: lines for people, clock times in UTC or the local zone; or one JSON object.
 * An exit status, after saying on standard error what is wrong. */
int tend_status(const char *path, bool json, bool utc);

#endif
