#include "session/read_log.h"

#include "session/options.h"

#include <poll.h>
#include <stdio.h>

#include "base/banned.h"

enum { BATCH = 512 };

static enum source_state read_all(struct source *s, const struct log_taker *t, struct err *e)
{
    static struct frame batch[BATCH];
    int named = 0;
    for (;;) {
        size_t n = 0;
        enum source_state state = source_read(s, batch, BATCH, &n, e);
        for (; named < source_iface_count(s); named++)
            if (t->iface)
                t->iface(t->ctx, (uint8_t)named, source_iface_name(s, (uint8_t)named));
        if (state == SOURCE_WAIT) {
            struct pollfd p = {.fd = source_fd(s), .events = POLLIN};
            poll(&p, 1, -1);
        } else if (state != SOURCE_READY || !t->frames(t->ctx, batch, n)) {
            return state;
        }
    }
}

int read_log(const char *verb, const char *path, const char *zone, const struct log_taker *taker,
             struct source_stats *stats)
{
    struct err e;
    if (stats)
        *stats = (struct source_stats){0};
    struct source *s = source_open_log(path, &(struct source_options){.zone = zone}, &e);
    bool failed = !s || read_all(s, taker, &e) == SOURCE_FAILED;
    if (failed)
        fprintf(stderr, "stokehold %s: %s\n", verb, e.text);
    if (s) {
        if (stats)
            *stats = *source_stats(s);
        options_complain(verb, path, source_stats(s));
        source_close(s);
    }
    return failed ? EXIT_SOURCE : EXIT_DONE;
}
