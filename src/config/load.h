/* What load.c, check.c and print.c share: a configuration while it is being read. */
#ifndef STOKEHOLD_CONFIG_LOAD_H
#define STOKEHOLD_CONFIG_LOAD_H

#include "config/config.h"
#include "config/reader.h"

enum { LOAD_CHANNELS_MAX = 512, LOAD_RULES_MAX = 1024 };

struct load {
    struct settings *s;
    struct document *d; /* the file being laid over */
    struct config_messages *m;
    uint16_t file; /* its index in settings.files */
};

/* The same as config_load_text for bytes that may hold anything, NULs included. */
struct settings *load_bytes(const char *name, const char *data, size_t len,
                            struct config_messages **messages);

/* What no single value shows: limits out of order, rules that can never fire, and the like. */
void check_settings(struct load *l);

#endif
