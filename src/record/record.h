/* The rolling record: every frame of every interface, as candump logs, written by a thread of its
 * own so that a slow card never delays an alert; the alert history beside it; and incidents, the
 * pieces set aside around alarms that outlive the hours they were cut from.
 *
 *   DIR/lock                                 held while recording: one writer
 *   DIR/format                               what all this is, and its version
 *   DIR/frames-000042-20260504T14Z.log       the hour being written, the number goes up for ever
 *   DIR/frames-000041-20260504T13Z.log.zst   rotated out and compressed
 *   DIR/alerts-202605.jsonl                  one line a change of an alert
 *   DIR/marks                                words that people set while watching
 *   DIR/incidents/20260504T141207Z-NAME/     frames.log (packed when it is over), alerts.jsonl,
 * marks, stokehold.conf, incident.json
 *
 * At most half a second of frames is held in memory, and no more than ten seconds unsynced.
 * Lines are only ever appended; of a torn last line the torn part alone is cut off.
 * Room: frames hold at most the cap, incidents a quarter of it, and a part of the disk is left free
 * for others. Old hours go first, then incidents (record/shelf.h); each incident that is given up
 * is said. Whatever happens to the disk, nothing here blocks the caller, opening and closing
 * included: a condition says what is wrong and recording resumes by itself. Not thread-safe: one
 * thread calls these. */
#ifndef STOKEHOLD_RECORD_RECORD_H
#define STOKEHOLD_RECORD_RECORD_H

#include "base/err.h"
#include "bus/condition.h"
#include "bus/frame.h"

#include <stddef.h>
#include <stdint.h>

struct record;

struct record_options {
    const char *dir;    /* made where it is missing */
    uint64_t cap_bytes; /* of the frames; 0: RECORD_CAP_BYTES */
    int64_t before_ns;  /* of an incident; 0: ten minutes each */
    int64_t after_ns;
    bool no_thread; /* for tests: record_turn does the work when called */
};

#define RECORD_CAP_BYTES (UINT64_C(4) << 30)

#define RECORD_OPEN_MS  1000 /* how long record_open waits for the disk at most */
#define RECORD_CLOSE_MS 5000 /* and record_close */

#define RECORD_STUCK_NS (10 * NS_PER_S) /* at one turn, and the disk is said not to answer */

/* NULL and e when another program records there (its pid is in e). A directory that cannot be used
 * now, or a disk that does not answer, is not a failure: a condition says so and it is tried again.
 */
struct record *record_open(const struct record_options *options, struct err *e);
/* Writes what is held, syncs and ends the thread, at once where the disk allows. A disk that stands
 * still is left behind, and memory with it. False, with e (NULL is allowed), where something of
 * what was held did not come to the disk. r may be NULL. */
bool record_close(struct record *r, struct err *e);

/* What an interface is called in the log; before its first frame. */
void record_name_iface(struct record *r, uint8_t iface, const char *name);
void record_frames(struct record *r, const struct frame *f, size_t n);
/* For a source that can wait: false while n more frames, or as many alerts as they may bring, would
 * find no room and the disk is at work on those before them. True where there is nothing to wait
 * for: the disk refuses, or has not answered for RECORD_STUCK_NS; what finds no room then is lost,
 * and counted. */
bool record_has_room(struct record *r, size_t n, int64_t now_ns);
/* One JSON object with its '\n', as written beside the frames. Synced at once. */
void record_alert(struct record *r, const char *json_line, struct stamp at);
/* Words that somebody set, as a line of DIR/marks and of the incident that is under way; head is
 * the first line of such a file. Both with their '\n'. */
void record_mark(struct record *r, const char *head, const char *line, struct stamp at);
/* The effective configuration, kept with every incident from now on; copied. */
void record_set_config(struct record *r, const char *text);
/* Sets aside what was and will be recorded around `at`. Within a running incident: prolongs it.
 * name becomes part of the directory's name: letters, digits and '-' of it are used. alert is the
 * number of the alarm, 0 where a person asked. */
void record_incident(struct record *r, const char *name, uint32_t alert, struct stamp at);
/* An alarm was acknowledged: its incident is the less wanted. */
void record_acknowledged(struct record *r, uint32_t alert, struct stamp at);

bool record_condition(struct record *r, struct bus_condition *out);

struct record_stats {
    uint64_t frames, lost_frames; /* lost: the disk could not be written for too long */
    uint64_t bytes;               /* written to frames files, before compression */
    bool writing;                 /* false while the disk refuses, or has not answered yet */
    int64_t free_bytes;           /* on its disk; below 0: not known */
    int64_t stuck_ns;             /* how long the thread has been at one turn, at `now` */
};
void record_stats(const struct record *r, int64_t now_ns, struct record_stats *out);

/* One turn of the writing thread at `now`, with no_thread. */
void record_turn(struct record *r, struct stamp now);

#endif
