#include "cooling/state.h"

#include <math.h>

#include "base/banned.h"

#define ALLOW_CLIMB (6.0 / 60) /* K/s: under the 8.3 K/min of heat detectors (UL 521, NFPA 72) */
#define FALL        (20.0 / 60)
#define FALL_S      5.0  /* a hole in the record does not let one wild sample pull it far */
#define ALLOW_RISE  3.5  /* K above the allowed climb */
#define STATIC_C    62.0 /* under the 65 °C of EN 54-5 class A1 */
#define HOT_RUN     5    /* samples in a row: a fire alarm is not for wild ones */
#define CALM_K      5.0
#define FIRST       8 /* samples */

void cooling_space_reading(struct cooling *c, struct watch *w, double t, double y)
{
    double dt = t - trace_last_time(&w->trace);
    enum trace_taken taken = trace_add(&w->trace, t, y);
    if (taken == TRACE_OLD)
        return;
    dt = isnan(dt) ? 1.0 : fmin(dt, 60.0);
    if (w->trace.count <= FIRST) /* some of them may be wild */
        w->level = trace_value(&w->trace);
    double move = (1.0 - exp(-dt / 20.0)) * (y - w->level);
    if (w->verdict.level == 0 && taken == TRACE_GOOD)
        w->level += fmax(-FALL * fmin(dt, FALL_S), fmin(ALLOW_CLIMB * dt, move));
    double top = cusum_add(&w->cusum, (y - w->level - ALLOW_RISE) / w->trace.sigma);
    double value = trace_value(&w->trace);
    cooling_show(w, w->level, ALLOW_RISE, top, CUSUM_THRESHOLD);
    bool rising = top >= CUSUM_THRESHOLD && taken == TRACE_GOOD && w->cusum.run >= 5 &&
                  value - w->level > ALLOW_RISE && !trace_is_stuck(&w->trace);
    w->hot_run = y > STATIC_C ? w->hot_run + 1 : 0;
    bool hot = w->hot_run >= HOT_RUN && taken == TRACE_GOOD;
    if (w->verdict.level == 0 && !rising && !hot)
        return;
    if (w->verdict.level > 0 && value < w->level + ALLOW_RISE && value < STATIC_C - CALM_K) {
        cusum_reset(&w->cusum);
        cooling_decide(c, w, 0, COOLING_RISE, CAUSE_NONE);
        return;
    }
    bool sure = value > STATIC_C || fmin(y, value) - w->level > 10.0;
    cooling_decide(c, w, sure || w->verdict.level == 3 ? 3 : 2, COOLING_RISE, CAUSE_FIRE);
}
