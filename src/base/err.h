/* How a module says that something failed: a small status and one line of text.
 * Texts are lower case, name their subject in quotes and have no full stop; where a file is the
 * cause they begin with `file:line:`. Only main exits. */
#ifndef STOKEHOLD_BASE_ERR_H
#define STOKEHOLD_BASE_ERR_H

#include <stdbool.h>

/* Exit statuses that scripts may rely on (docs/stokehold.1). A signal gives 128 + its number. */
enum exit_status {
    EXIT_DONE = 0,
    EXIT_FINDINGS = 1, /* muster, config check, --fail-on */
    EXIT_USAGE = 2,    /* usage or configuration */
    EXIT_SOURCE = 3,   /* a source or a terminal cannot be used */
};

struct err {
    char text[400];
};

/* Fills e with a formatted line and returns false, so that a function can `return err_set(...)`.
 * What cannot be printed becomes '?', whatever a name in it holds. e may be NULL. */
bool err_set(struct err *e, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
