/* What a watch does beside watching: the record and its incidents, hooks, the metrics file, the
 * state file, the local socket. `tend` and the board of a live bus share it. One thread, nothing
 * waits; times given as `clock` are of this machine, the rules' time is the live's. */
#ifndef STOKEHOLD_SESSION_DUTIES_H
#define STOKEHOLD_SESSION_DUTIES_H

#include "hooks/door.h"
#include "session/live.h"

struct duties_options {
    const char *record;                   /* directory; NULL: none */
    uint64_t record_cap;                  /* bytes; 0: the usual */
    const char *state, *metrics, *socket; /* NULL: none */
};

/* "500M", "4G" into bytes; false where it is no such size. */
bool duties_size(const char *value, uint64_t *bytes);

struct duties;

/* Opens record and socket. source is what is watched, for people; copied. settings must outlive
 * it or be replaced. NULL and e on failure. */
struct duties *duties_open(const struct duties_options *o, const struct settings *settings,
                           const char *source, struct err *e);
/* Begins to serve a live that has just been opened; lists again what the state file holds. False,
 * with e, where that file is damaged: all the rest goes on. */
bool duties_begin(struct duties *d, struct live *live, struct stamp clock, struct err *e);
/* Writes what is held and ends. Call before live_close. NULL is allowed. */
void duties_close(struct duties *d);

void duties_turn(struct duties *d, struct stamp clock);
void duties_reconfigure(struct duties *d, const struct settings *settings);
/* Sets aside an incident around now; false where nothing is recorded. */
bool duties_mark(struct duties *d);

/* Hooks still run or wait. */
bool duties_busy(const struct duties *d);
/* Milliseconds until it wants its next turn; -1: no matter. */
int duties_wait_ms(const struct duties *d);
int duties_fds(const struct duties *d, struct pollfd *p, int max);
/* "on", "off", "halted". */
const char *duties_record_text(const struct duties *d);
const char *duties_source(const struct duties *d);

#endif
