/* What brings the terminal back when nothing else will: a handler for fatal signals that only
 * writes bytes prepared beforehand and sets the saved modes, then lets the signal take its course,
 * so that the exit status stays the real one. And standard error, held back while a screen is up.
 * The state is static: a signal handler gets no argument. */
#ifndef STOKEHOLD_SCREEN_RESTORE_H
#define STOKEHOLD_SCREEN_RESTORE_H

#include <termios.h>

/* From now on a fatal signal writes the strings to tty (padding marks left out) and sets saved. */
void restore_arm(int tty, const struct termios *saved, const char *const *strings, int count);
void restore_disarm(void);

struct held_stderr;
/* From now on standard error, where it is a terminal, goes to memory. NULL where it is none. */
struct held_stderr *stderr_hold(void);
/* Back to the terminal, and what was said meanwhile is said now. NULL is allowed. */
void stderr_release(struct held_stderr *h);

#endif
