#include "cooling/space.h"

#include <math.h>

#include "base/banned.h"

void space_init(struct space_watch *s, struct boat *b)
{
    *s = (struct space_watch){0};
    core_init(&s->core, b, b->figures->space_limit_c, 1.0);
}

void space_gap(struct space_watch *s)
{
    trace_gap(&s->core.trace);
    cusum_reset(&s->core.cusum);
}

void space_reading(struct space_watch *s, double t, double value_c)
{
    struct core *c = &s->core;
    const struct figures *k = c->boat->figures;
    double dt = t - trace_last_time(&c->trace);
    enum trace_taken taken = trace_add(&c->trace, t, value_c);
    if (taken == TRACE_OLD)
        return;
    dt = isnan(dt) ? k->space_first_s : fmin(dt, k->space_hole_s);
    double value = trace_value(&c->trace);
    if (c->trace.count <= k->space_first) /* two wild ones in a row may pass for a slope */
        s->level_c = trace_middle(&c->trace, (unsigned)k->space_first);
    double move = (1.0 - exp(-dt / k->space_lag_s)) * (value_c - s->level_c);
    if (c->verdict.level == 0 && taken == TRACE_GOOD)
        s->level_c +=
            fmax(-k->space_fall * fmin(dt, k->space_fall_s), fmin(k->space_climb * dt, move));
    double sum = core_add(c, value_c - s->level_c - k->space_rise_k);
    core_show(c, s->level_c, k->space_rise_k, sum, k->sum_threshold);
    bool rising = sum >= k->sum_threshold && taken == TRACE_GOOD && c->cusum.run >= k->space_run &&
                  value - s->level_c > k->space_rise_k && !trace_is_stuck(&c->trace);
    s->hot_run = value_c > k->space_hot_c ? s->hot_run + 1 : 0;
    bool hot = s->hot_run >= k->space_hot_run && taken == TRACE_GOOD;
    if (c->verdict.level == 0 && !rising && !hot)
        return;
    if (value <= s->level_c + k->space_rise_k && value <= k->space_hot_c - k->space_calm_k) {
        cusum_reset(&c->cusum);
        core_withdraw(c);
        return;
    }
    if (!core_is_beyond(c)) /* it is hot by itself */
        core_show(c, k->space_hot_c - k->space_calm_k, 0.0, s->hot_run, k->space_hot_run);
    bool sure = value > k->space_hot_c || fmin(value_c, value) - s->level_c > k->space_sure_k;
    core_decide(c, sure || c->verdict.level == 3 ? 3 : 2, COOLING_RISE, CAUSE_FIRE);
}
