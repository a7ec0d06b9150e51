/* The local socket of `tend`: a board attaches to it and shows the same channels, histories and
 * alerts, acknowledges and silences; scripts acknowledge. One truth: the rules run in `tend`
 * alone. Owner and group may use it (mode 0660); never the network.
 *
 * Lines both ways (hooks/lines.h). A client says
 *   attach | acknowledge ID | silence | mark [WALL-NS WORDS] | try | status
 * and is answered `ok`, or `no` with a reason; one that finds no room is told so. `status` is
 * answered by lines (hooks/door_status.c) and then `ok`. Who does not say a whole line in time is
 * dropped, so that silent ones lock nobody out. After `attach` it is sent, whenever it changes:
 *   boat      vessel, source, trend span, length of a silence, record, clock known
 *   iface     index, name
 *   station   interface, address, NAME, messages, mono ns of the last, changes of NAME,
 *             gaps
 *   engine    index, name, state, place in the order shown, whether it is a generator, whether its
 *             cooling is watched without its speed
 *   channel   index, quantity, place, sub, engine, second, hidden, iface, source, pgn, volts,
 *             has limit, above, limit, key, label, place in words, period of its messages in ns
 *             (0: not known), priority of the limit
 *   past      index, and then start in ns, width in ns, low, high, mean, count of one bucket
 *   band      index, and then the same of one bucket of the lower edge of what was expected,
 *             and low, high, mean of the upper one
 *   expect    index, whether anything is expected now, value, allowance
 *   value     index, status, off, value, mono ns of the last good reading
 *   alert     index in the list, then all of an alert; `alerts` N M ends the list: N listed of
 *             them, M ended ones after these, newest first
 *   time      wall and mono ns, frames, lost, bad lines, errors, load, frames a second, sounding,
 *             whether the bus tells the time, and how far that is ahead in ns, how long the bus
 *             has been listened to in ns
 * A `tend` of before leaves out the last fields of a line, and whole kinds of line: what is not
 * said is not known. A client that does not read is left behind, then dropped; the watch never
 * waits for one. */
#ifndef STOKEHOLD_HOOKS_DOOR_H
#define STOKEHOLD_HOOKS_DOOR_H

#include "keeper/keeper.h"
#include "base/err.h"
#include "bus/source.h"
#include "hooks/status.h"

#include <poll.h>

#define DOOR_BOARDS_MAX  8                     /* attached at once */
#define DOOR_CLIENTS_MAX (DOOR_BOARDS_MAX + 4) /* and scripts beside them */
#define DOOR_SPEAK_NS    (3 * NS_PER_S)        /* for the first line */
#define DOOR_IDLE_NS     (60 * NS_PER_S)       /* for the next one, where none is attached */
#define DOOR_UPDATE_NS   (500 * NS_PER_MS)
#define DOOR_VERSION     1

struct door;

struct door_info {           /* what the keeper does not know */
    struct stamp now, clock; /* of the rules; of this machine */
    const struct watch_status *status;
    const char *source, *record; /* record may be NULL */
    const struct source *ifaces; /* gives their names; may be NULL */
    bool clock_known;
    double load_percent, frames_per_s; /* below 0: not known */
    uint64_t frames, lost_frames, bad_lines, error_frames;
};

/* Takes the place of a socket that nobody answers at; refuses one that is in use. NULL and e on
 * failure. */
struct door *door_open(const char *path, struct err *e);
/* Removes the socket. NULL is allowed. */
void door_close(struct door *d);

/* For poll; returns how many were filled in. */
int door_fds(const struct door *d, struct pollfd *p, int max);
/* Lets in, reads, obeys, sends what is due. Never waits. */
void door_turn(struct door *d, struct keeper *k, const struct door_info *info);
/* The alert list has changed. */
void door_alerts_changed(struct door *d);
/* Whether a client asked to set this time aside (`mark`), since the last call; and what it said of
 * it: wall ns, 0 for now, and words. words is good until the next turn. */
bool door_marked(struct door *d, int64_t *wall_ns, const char **words);
/* Whether one asked for an alarm on trial (`try`), since the last call. */
bool door_tried(struct door *d);
/* How many are attached. */
int door_attached(const struct door *d);

/* For clients: a connected socket, -1 and e on failure. */
int door_connect(const char *path, struct err *e);

#endif
