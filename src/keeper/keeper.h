/* The watchkeeper: frames in, alerts out. Owns wire, plant, rules and the alert list, and keeps
 * the order in which they see time; sift, watch and tend all stand on it. No I/O, no clock. */
#ifndef STOKEHOLD_KEEPER_H
#define STOKEHOLD_KEEPER_H

#include "alerts/alert.h"
#include "base/err.h"
#include "bus/frame.h"
#include "cooling/cooling.h"
#include "keeper/expected.h"
#include "plant/plant.h"
#include "wire/heard.h"

struct keeper;

/* What was left out, since the start: each figure is 0 on a good day, and whoever shows a watch or
 * a log says where one is not. The source's own (bad lines, frames that the kernel dropped) are not
 * known here: struct source_stats has them. */
struct losses {
    uint64_t incomplete;  /* multi-frame messages of which a part was missing */
    uint64_t gaps;        /* holes in the record, or a watch that was stopped */
    uint64_t dropped;     /* channels and values that found no room */
    uint64_t unbound;     /* rules that found no room on a channel: limits that nobody watches */
    uint64_t alerts_lost; /* alerts that gave way, or were not raised, in a full list */
};

struct keeper_options {
    bool escalate; /* time-based escalation: on for watch and tend, off for sift */
    bool expect;   /* keeps what the cooling watch expected, for a board */
    bool utc;      /* times of day in the texts of alerts */
};

/* settings must outlive the keeper. NULL when out of memory. */
struct keeper *keeper_new(const struct settings *settings, const struct keeper_options *options);
void keeper_free(struct keeper *k);
/* A new configuration; what is held stays, rules are marked and swept. */
void keeper_reconfigure(struct keeper *k, const struct settings *settings);

/* Takes n frames in order; rules see mono time go on in steps of at most 250 ms between frames. */
void keeper_frames(struct keeper *k, const struct frame *f, size_t n);
/* The same where what they say was heard already (wire/heard.h): they are those of the batch from
 * its frame `from` on. The wire that heard them is not the keeper's: of one log all frames come
 * this way or none. */
void keeper_heard(struct keeper *k, const struct frame *f, size_t n, const struct heard *h,
                  size_t from);
/* Time goes on without frames (live). */
void keeper_tick(struct keeper *k, struct stamp now);
/* A condition of the bus (interface gone, bus-off: kind `bus`) or of the watch itself (disk full,
 * a hook that fails, the clock: kind `self`, bus/condition.h): stands until cleared. code
 * tells situations apart; text is copied. */
void keeper_bus(struct keeper *k, uint32_t code, enum priority p, const char *text, bool stands,
                struct stamp at);
void keeper_name_iface(struct keeper *k, uint8_t iface, const char *name);

/* Before a picture is made of it: standing alerts give the figures that the channels have now, so
 * that one picture has one figure. True where any changed. */
bool keeper_freshen(struct keeper *k);

/* Each message of the catalogue, after the plant took it: for export and muster. */
typedef void keeper_tap(void *ctx, const struct message *m);
void keeper_tap_messages(struct keeper *k, keeper_tap *f, void *ctx);

struct plant *keeper_plant(const struct keeper *k);
struct alert_list *keeper_alerts(const struct keeper *k);
struct losses keeper_losses(const struct keeper *k);
const struct wire_stats *keeper_wire_stats(const struct keeper *k);
const struct settings *keeper_settings(const struct keeper *k);
/* How far the clock of the bus (PGN 126992) is ahead of the frames' wall clock; a label like that
 * one, no rule asks. False where none was heard in the last minute. */
bool keeper_bus_clock(const struct keeper *k, int64_t *ahead_ns);
/* The trip as the season sees it (season/watch.h), to ask for excesses and, at its end, for its
 * steps; NULL where the settings hold no season. */
struct season_watch *keeper_season(const struct keeper *k);
/* How long it has been listening since its first frame or tick, ns. */
int64_t keeper_listened_ns(const struct keeper *k);
/* True where this engine's cooling is watched without engine speed; for the board. */
bool keeper_careful(const struct keeper *k, int engine);
/* How sensitive the watch of this engine's cooling is now. */
struct cooling_sense keeper_sense(const struct keeper *k, int engine);
/* What the cooling watch expects of the i-th channel of the plant. */
struct expected keeper_expected(const struct keeper *k, size_t i);

#endif
