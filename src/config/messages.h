/* The messages of one reading of a configuration: bounded, sorted by file and line.
 * Everything quoted from the file is cleaned before it gets here (messages_quote), so that no
 * escape code reaches a terminal. */
#ifndef STOKEHOLD_CONFIG_MESSAGES_H
#define STOKEHOLD_CONFIG_MESSAGES_H

#include "config/settings.h"

enum { MESSAGES_MAX = 100, MESSAGE_SIZE = 400 };

struct config_message_row {
    struct config_place at;
    size_t order; /* as found: keeps the sort stable */
    char text[MESSAGE_SIZE];
};

struct config_messages {
    struct config_message_row rows[MESSAGES_MAX + 1]; /* the last says how many more */
    size_t count, more;
};

/* NULL when out of memory. */
struct config_messages *messages_new(void);
/* Adds `file:line: ...`; line 0 leaves the line out. Past MESSAGES_MAX it is only counted. */
void messages_add(struct config_messages *m, struct config_place at, const char *file,
                  const char *format, ...) __attribute__((format(printf, 4, 5)));
size_t messages_total(const struct config_messages *m);
/* Sorts them and says how many were left out. */
void messages_finish(struct config_messages *m, const char *file);

/* A piece of the file, fit to be shown: printable, at most 60 bytes, cut with "...". */
struct quote {
    char text[64];
};
struct quote messages_quote(const char *s);

/* " (did you mean 'x'?)" for the nearest of count words, "" where none is near. Where none is
 * near and list is set, " (known: a, b, c)". word_at returns the i-th word. */
struct hint {
    char text[240];
};
struct hint messages_hint(const char *s, size_t count, const char *(*word_at)(void *ctx, size_t i),
                          void *ctx, bool list);

#endif
