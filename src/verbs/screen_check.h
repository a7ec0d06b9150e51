/* What of a configuration only the screen can judge: themes by name or file, keys that clash. */
#ifndef STOKEHOLD_VERBS_SCREEN_CHECK_H
#define STOKEHOLD_VERBS_SCREEN_CHECK_H

#include "base/err.h"
#include "config/settings.h"

/* False with the first thing that is wrong. */
bool screen_check(const struct settings *s, struct err *e);

#endif
