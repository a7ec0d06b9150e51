/* What a script or a person asks of a `tend` that runs, through its socket: to acknowledge, to
 * silence, to try the alarm. How it is doing is told by tend_status.h. */
#ifndef STOKEHOLD_SESSION_TEND_ASK_H
#define STOKEHOLD_SESSION_TEND_ASK_H

#include <stdbool.h>

#define TEND_ANSWER_MOST (256 * 1024)

/* One command ("silence", with its fields). An exit status, after saying on standard error what is
 * wrong. */
int tend_ask(const char *path, const char *command);
/* The same, all of the answer but its verdict into text (TEND_ANSWER_MOST bytes). */
int tend_hear(const char *path, const char *command, char *text);

#endif
