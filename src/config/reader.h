/* A configuration file as sections and entries, each with its line; no meaning yet.
 * Parsing is inih's, fed by our own line reader, which takes away what inih 55 would do quietly:
 * glue an indented line to the key above it, keep `# comment` behind a value, cut a section name
 * at 49 characters, split a line of 200, pass over text behind `]`, stop at a NUL byte. All of
 * these are messages here, or do no harm. A comment begins with # or ; at the start of a line or
 * behind a blank. */
#ifndef STOKEHOLD_CONFIG_READER_H
#define STOKEHOLD_CONFIG_READER_H

#include "config/messages.h"
#include "config/schema.h"

enum {
    READER_LINE_MAX = 190, /* bytes that matter: comments and blanks around do not count */
    READER_NAME_MAX = 48,  /* of what stands between [ and ] */
    READER_LINES_MAX = 65535,
};

struct reader_section {
    struct config_place at;
    const struct schema_section *schema; /* NULL: unknown, already said */
    char name[READER_NAME_MAX + 1];      /* "exhaust.0"; "" for [units] */
    char title[READER_NAME_MAX + 1];     /* "channel exhaust.0", for messages */
};

struct reader_entry {
    struct config_place at;
    size_t section;
    const struct schema_key *key; /* of that section */
    char value[READER_LINE_MAX + 1];
};

struct document {
    const char *file; /* for messages; belongs to the caller */
    struct reader_section *sections;
    size_t section_count;
    struct reader_entry *entries;
    size_t entry_count;
};

/* Reads len bytes; what is wrong goes into m with place {file_index, line}. Unknown sections and
 * keys and those given twice are messages and leave no entry. False when out of memory; pair with
 * document_fini either way. */
bool document_read(struct document *d, uint16_t file_index, const char *file, const char *data,
                   size_t len, struct config_messages *m);
void document_fini(struct document *d);

#endif
