/* Reading a configuration: INI lines (reader.c), one schema table
 * (schema.c) behind every key, all errors of a file in one run, each as
 * `file:line: [section] key: what is wrong`, sorted by line, with a "did you mean". */
#ifndef STOKEHOLD_CONFIG_CONFIG_H
#define STOKEHOLD_CONFIG_CONFIG_H

#include "base/err.h"
#include "config/settings.h"

#include <stdio.h>

/* Messages of a reading; bounded: past 100 they are only counted. */
struct config_messages;
size_t config_message_count(const struct config_messages *m);
const char *config_message(const struct config_messages *m, size_t i);
void config_messages_free(struct config_messages *m);

/* The defaults with `path` laid over them (NULL: defaults alone). Returns NULL when anything is
 * wrong, with every message in *messages (which the caller frees, NULL is never stored). */
struct settings *config_load(const char *path, struct config_messages **messages);
/* The same, but what could be read comes back in spite of messages, so that more can be checked in
 * the same run; never to watch by. NULL where there is nothing: no such file, out of memory. */
struct settings *config_load_faulty(const char *path, struct config_messages **messages);
/* As config_load from memory, for tests and the compiled-in file; `name` stands for the file. */
struct settings *config_load_text(const char *name, const char *text,
                                  struct config_messages **messages);
void settings_free(struct settings *s);

/* `stokehold config print`: the effective values in the form of the file. */
void config_print(const struct settings *s, FILE *out);
/* `stokehold config keys`: the reference, from the schema table. */
void config_keys(FILE *out);
/* The shipped file, as compiled in. */
const char *config_builtin_text(void);

#endif
