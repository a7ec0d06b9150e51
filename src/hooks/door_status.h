/* The answer to `status`: how the watch is doing, for people and for scripts. A line each, fields
 * apart by tabs (hooks/lines.h):
 *   watch   started, now (wall ns), source, vessel, version, sounding, clock trusted
 *   config  loaded (wall ns), whether the last try to read it again failed
 *   counts  frames, lost, error frames, bad lines, incomplete messages, gaps, channels and values
 *           dropped, rules not bound, alerts lost
 *   bus     name, up, controller, load percent, frames, error frames, lost, last frame (wall ns)
 *   record  writing, bytes, lost frames, free bytes
 *   hook    name, failed, runs, failures, last success (wall ns), waiting
 *   cooling engine (its instance), name, running; what the cooling watch has of it: exhaust, speed,
 *           what tells its load ("" nothing), twin, sea; period of the exhaust and the delay that
 *           is expected from lost water to the warning, seconds, "-" where they cannot be told;
 *           blind
 *   alert   all of an alert
 * Within hooks/ alone. */
#ifndef STOKEHOLD_HOOKS_DOOR_STATUS_H
#define STOKEHOLD_HOOKS_DOOR_STATUS_H

#include "hooks/door_feed.h"

void door_status(struct door_feed *f, const struct keeper *k, const struct door_info *info);

#endif
