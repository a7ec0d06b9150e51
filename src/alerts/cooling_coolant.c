#include "alerts/cooling_state.h"

#include <math.h>

#include "base/banned.h"

#define PLATEAU_RATE (0.8 / 60) /* K/s: slower than this is not warming up */
#define PLATEAU_S    60.0
#define ALLOW_STEADY 2.5 /* K over the thermostat's plateau */
#define HOT_C        97.0
#define HOT_RATE     (4.0 / 60)
#define LEVEL_S      240.0
#define CALM_K       1.5

void cooling_coolant_reading(struct cooling *c, int engine, struct watch *w, double t, double y)
{
    struct engine_watch *e = &c->engine[engine];
    double dt = t - trace_last_time(&w->trace);
    if (!trace_add(&w->trace, t, y))
        return;
    dt = isnan(dt) ? 0.5 : fmin(dt, 30.0);
    double value = trace_value(&w->trace), rate = trace_rate(&w->trace, 8.0);
    bool running = e->running || !cooling_has_rpm(c, e);
    w->verdict.careful = !cooling_has_rpm(c, e);
    if (!running) {
        w->level_known = false;
        w->calm_s = NAN;
        cusum_reset(&w->cusum);
        cooling_show(w, value, 0.0, 0.0, CUSUM_THRESHOLD);
        return;
    }
    if (!w->level_known) { /* warming up: wait for the thermostat */
        if (fabs(rate) > PLATEAU_RATE || isnan(w->calm_s))
            w->calm_s = t;
        if (t - w->calm_s > PLATEAU_S) {
            w->level = value;
            w->level_known = true;
        }
    } else if (w->verdict.level == 0) {
        double move = (1.0 - exp(-dt / LEVEL_S)) * (value - w->level);
        w->level += fmax(-0.05 * dt, fmin(dt / 60.0, move));
    }
    double above = w->level_known ? y - w->level - ALLOW_STEADY : 0.0;
    double top = cusum_add(&w->cusum, above / w->trace.sigma);
    cooling_show(w, w->level_known ? w->level : value, ALLOW_STEADY, top, CUSUM_THRESHOLD);
    bool over = w->level_known && top >= CUSUM_THRESHOLD && rate > PLATEAU_RATE;
    bool hot = value > HOT_C && rate > HOT_RATE && w->trace.count > 5;
    if (w->verdict.level == 0 && !over && !hot)
        return;
    if (w->verdict.level > 0 && w->level_known && value < w->level + CALM_K) {
        cooling_decide(c, w, 0, COOLING_RISE, CAUSE_NONE);
        return;
    }
    const struct cooling_verdict *x = &e->sensor[COOLING_EXHAUST].verdict;
    enum cooling_cause cause = x->level >= 2 ? CAUSE_RAW_WATER : CAUSE_CIRCULATION;
    int level = w->verdict.level == 3 || value > w->limit_c || value > HOT_C + 3.0 ? 3 : 2;
    cooling_decide(c, w, level, COOLING_RISE, cause);
}
