/* A configuration file as sections and entries, each with its line; no meaning yet.
 * INI: `[section name]`, `key = value`, indented or not. A comment begins with # or ; at the start
 * of a line or after a blank. Nothing is passed over quietly: a line too long, text after `]`, a
 * NUL byte, a key before the first section are messages. */
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
    uint16_t file_index;
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
/* Where it gives a key of a section, or the section's header where it does not (key may be NULL).
 * found may be NULL; it says whether the key itself is given. */
struct config_place document_place(const struct document *d, const char *title, const char *key,
                                   bool *found);

#endif
