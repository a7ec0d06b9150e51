/* What a watch does beside watching: the record and its incidents, hooks, the metrics file, the
 * state file, the local socket. `tend` and the board of a live bus share it. Nothing waits, and no
 * file is touched here: the record and the desk have threads for that, hooks a process; duties_open
 * and duties_begin, before the watch, wait a second at most for a disk to answer. Times given as
 * `clock` are of this machine, the rules' time is the live's. */
#ifndef STOKEHOLD_SESSION_DUTIES_H
#define STOKEHOLD_SESSION_DUTIES_H

#include "hooks/door.h"
#include "session/live.h"

struct duties_options {
    const char *record;                   /* directory; NULL: none */
    uint64_t record_cap;                  /* bytes; 0: the usual */
    const char *state, *metrics, *socket; /* NULL: none */
    bool no_hooks;                        /* a mere look starts nothing */
};

/* "500M", "4G" into bytes; false where it is not such a size. */
bool duties_size(const char *value, uint64_t *bytes);

/* The configuration that was last found good is kept beside the state file. False where the name
 * is too long. */
bool duties_good_config(const char *state, char *dst, size_t cap);

struct duties;

/* Opens record and socket, forks the starter of hooks: call before any thread is begun. source is
 * what is watched, for people; copied. settings must outlive it or be replaced. NULL and e on
 * failure. */
struct duties *duties_open(const struct duties_options *o, const struct settings *settings,
                           const char *source, struct err *e);
/* Begins to serve a live that has just been opened; lists again what the state file holds, now or,
 * where the disk does not answer, when it does. False, with e, where that file is damaged: all the
 * rest goes on. */
bool duties_begin(struct duties *d, struct live *live, struct stamp clock, struct err *e);
/* Writes what is held and ends, within seconds whatever the disk does. Before live_close. NULL is
 * allowed. */
void duties_close(struct duties *d);

void duties_turn(struct duties *d, struct stamp clock);
/* Keeps a good configuration for the next start, and goes by it. */
void duties_reconfigure(struct duties *d, const struct settings *settings);
/* The same for the one that it was opened with. */
void duties_keep_config(struct duties *d);
/* What was tried in vain: for the metrics and the status. */
void duties_reload_failed(struct duties *d);
/* Sets aside an incident around now, and keeps what somebody said of a moment (wall ns, 0 for now);
 * false where nothing is recorded. */
bool duties_mark(struct duties *d, int64_t wall_ns, const char *words);
/* A condition of the watch itself. */
void duties_say(struct duties *d, uint32_t code, bool stands, const char *text);

/* Runs work(ctx) where files may be touched; false while the last one was not taken yet. */
bool duties_ask(struct duties *d, void (*work)(void *ctx), void *ctx);
/* True once when it is done. */
bool duties_done(struct duties *d);
/* The same, waiting at most patience_ms: only once the watch is over. */
bool duties_await(struct duties *d, int patience_ms);

/* Lines of hooks, and of a clock that was set. */
typedef void duties_line(void *ctx, int level, const char *text);
void duties_listen(struct duties *d, duties_line *f, void *ctx);

/* Hooks still run or wait. */
bool duties_busy(const struct duties *d);
/* Milliseconds until it wants its next turn; -1: no matter. */
int duties_wait_ms(const struct duties *d);
#define DUTIES_FDS (DOOR_CLIENTS_MAX + 3)
int duties_fds(const struct duties *d, struct pollfd *p, int max);
/* "on", "off", "halted". */
const char *duties_record_text(const struct duties *d);
const char *duties_source(const struct duties *d);

#endif
