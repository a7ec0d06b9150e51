/* Whether a change is wear or a probe that was exchanged or moved: wear shows little at idle and
 * nothing on a cold morning, a probe shows the same everywhere. Pure. */
#ifndef STOKEHOLD_SEASON_PROBE_H
#define STOKEHOLD_SEASON_PROBE_H

#include "season/normal.h"

/* How far a channel's reading at rest stands over its engine's other temperatures, by the rest
 * steps among these; NaN where there are none or the engine was not cold. */
double season_rest(const struct season_step *steps, int count, int trip, struct channel_id id);
/* The same, less the twin's where the normal is over the twin. */
double season_rest_over(const struct season_step *steps, int count, int trip,
                        const struct season_normal *n, struct channel_id id);
/* Whether a change by `jump` that idle and rest show as given (NaN: unknown) is a probe's that was
 * exchanged or moved, not wear. */
bool season_is_probe(int row, double jump, double idle_jump, double rest_jump, double error);
/* By how much, of what speed, idle and rest show, each for what it is worth. */
double season_probe_moved(double jump, double idle_jump, double rest_jump, double error);
/* One standard error of that. */
double season_probe_error(double idle_jump, double rest_jump, double error);

#endif
