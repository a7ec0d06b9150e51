#include "season/probe.h"

#include <math.h>

#include "base/banned.h"

#define JUMP         2.7  /* a probe's jump is at least that many errors of the trips around */
#define REST_JUMP    2.5  /* errors that a cold morning must show it by */
#define JUMP_LEAST   0.6  /* and that share of a caution */
#define REST_LEAST   0.3  /* of it at speed, where rest says the same */
#define JUMP_FITS    2.5  /* errors that what idle or rest shows may be off it */
#define REST_ERROR   0.8  /* K: sun on a hose, a hatch left open; common practice, no source */
#define COLD_K       6.0  /* a cold engine's temperatures are not further apart than that... */
#define COLD_PROBE_K 15.0 /* ...or one of them, by its probe */

double season_rest(const struct season_step *steps, int count, int trip, struct channel_id id)
{
    double own = NAN, low = INFINITY, high = -INFINITY, sum = 0;
    int others = 0;

    for (int i = 0; i < count; i++) {
        const struct season_step *s = &steps[i];
        if (s->rpm > 0 || s->trip != trip || s->id.place != id.place)
            continue;
        if (channel_id_same(s->id, id)) {
            own = s->mean;
            continue;
        }
        sum += s->mean;
        low = fmin(low, s->mean);
        high = fmax(high, s->mean);
        others++;
    }
    if (others == 0 || high - low > COLD_K || fabs(own - sum / others) > COLD_PROBE_K)
        return NAN;
    return own - sum / others;
}

bool season_is_probe(int row, double jump, double idle_jump, double rest_jump, double error)
{
    const struct season_kept *k = &season_kept[row];
    double rest_error = sqrt(error * error + REST_ERROR * REST_ERROR);

    if (!k->rests)
        return false;
    if (isfinite(rest_jump)) /* at rest wear shows nothing; and it shows a size better than speed */
        return fabs(rest_jump) > REST_JUMP * REST_ERROR && rest_jump * jump > 0 &&
               fabs(jump) > REST_LEAST * k->caution &&
               fabs(season_probe_moved(jump, idle_jump, rest_jump, error)) >
                   JUMP_LEAST * k->caution &&
               fabs(rest_jump - jump) < JUMP_FITS * rest_error;
    return isfinite(idle_jump) && fabs(jump) > JUMP * error &&
           fabs(jump) >= JUMP_LEAST * k->caution && fabs(idle_jump - jump) < JUMP_FITS * error &&
           fabs(idle_jump - jump) < fabs(idle_jump - k->idle_share * jump);
}

/* Where a twin is compared with, what its probe does counts as well. */
double season_rest_over(const struct season_step *steps, int count, int trip,
                        const struct season_normal *n, struct channel_id id)
{
    double rest = season_rest(steps, count, trip, id);

    return n->mode == SEASON_MODE_OVER_TWIN ? rest - season_rest(steps, count, trip, n->twin)
                                            : rest;
}

double season_probe_moved(double jump, double idle_jump, double rest_jump, double error)
{
    double weight = 1 / (error * error), sum = jump * weight;

    if (isfinite(rest_jump)) {
        sum += rest_jump / (REST_ERROR * REST_ERROR);
        weight += 1 / (REST_ERROR * REST_ERROR);
    } else if (isfinite(idle_jump)) {
        sum += idle_jump / (error * error);
        weight += 1 / (error * error);
    }
    return sum / weight;
}

double season_probe_error(double idle_jump, double rest_jump, double error)
{
    double weight = 1 / (error * error);

    if (isfinite(rest_jump))
        weight += 1 / (REST_ERROR * REST_ERROR);
    else if (isfinite(idle_jump))
        weight += 1 / (error * error);
    return 1 / sqrt(weight);
}
