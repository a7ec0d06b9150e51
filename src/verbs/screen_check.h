/* What of a configuration only the screen can judge: themes by name or file, keys that clash. */
#ifndef STOKEHOLD_VERBS_SCREEN_CHECK_H
#define STOKEHOLD_VERBS_SCREEN_CHECK_H

#include "config/settings.h"

#include <stdio.h>

/* Writes a line to out for everything that is wrong, with the line of the file where it is known;
 * path: the file to name where it is not. True where all is well. */
bool screen_check(const struct settings *s, const char *path, FILE *out);

#endif
