#include "alerts/cooling_state.h"

#include <math.h>

#include "base/banned.h"

/* First tuning by physics, not yet by the bench. */
#define SPEED_UNIT     2500.0
#define ALLOW_STEADY   0.8         /* K: what a settled exhaust wanders by itself */
#define ALLOW_DOUBT    3.0         /* standard deviations of what is not known yet */
#define ALLOW_UNREST   6.0         /* K per unit of unrest: the model is not exact */
#define CLIMB          (4.0 / 60)  /* K/s: how fast the level may follow upwards */
#define FALL           (20.0 / 60) /* K/s */
#define LEVEL_S        45.0
#define CALM_S         10.0
#define CAREFUL_RISE_C 25.0 /* K: without engine speed a throttle-up looks the same */

static void follow_level(struct watch *w, double residual, double dt)
{
    if (!w->level_known) {
        w->level = residual;
        w->level_known = true;
        return;
    }
    double move = (1.0 - exp(-dt / LEVEL_S)) * (residual - w->level);
    w->level += fmax(-FALL * dt, fmin(CLIMB * dt, move));
}

static int level_of(const struct cooling *c, const struct watch *w, double above)
{
    const struct cooling_verdict *v = &w->verdict;
    if (v->level == 3)
        return 3;
    bool near = v->value >= w->limit_c || v->seconds_to_limit < 60.0;
    bool stands = v->level == 2 && c->now_s - w->raised_s > 15.0;
    return (near && above > 6.0) || (stands && above > 12.0) ? 3 : 2;
}

static void judge(struct cooling *c, struct watch *w, double residual, double allowance)
{
    double above = residual - w->level - allowance;
    double top = cusum_value(&w->cusum);
    cooling_show(w, w->verdict.value - (residual - w->level), allowance, top, CUSUM_THRESHOLD);
    if (w->verdict.level == 0) {
        if (top < CUSUM_THRESHOLD || w->cusum.run < 3 || above <= 0.0)
            return;
        w->raised_s = c->now_s;
        w->peak = 0.0;
        w->calm_s = NAN;
    }
    w->peak = fmax(w->peak, above);
    if (above > 0.4 * w->peak) {
        w->calm_s = NAN;
        cooling_decide(c, w, level_of(c, w, above), COOLING_RISE, CAUSE_RAW_WATER);
    } else if (isnan(w->calm_s)) {
        w->calm_s = c->now_s;
    } else if (c->now_s - w->calm_s > CALM_S && w->verdict.value < w->limit_c) {
        cusum_reset(&w->cusum);
        cooling_decide(c, w, 0, COOLING_RISE, CAUSE_NONE);
    }
}

void cooling_exhaust_reading(struct cooling *c, int engine, struct watch *w, double t, double y)
{
    struct engine_watch *e = &c->engine[engine];
    double dt = t - trace_last_time(&w->trace);
    if (!trace_add(&w->trace, t, y))
        return;
    bool has_rpm = cooling_has_rpm(c, e);
    double mean = e->rpm_time > 0.0 ? e->rpm_sum / e->rpm_time : e->rpm;
    double square = e->rpm_time > 0.0 ? e->rpm_square_sum / e->rpm_time : e->rpm * e->rpm;
    e->rpm_sum = e->rpm_square_sum = e->rpm_time = 0.0;
    dt = isnan(dt) ? 1.0 : fmin(dt, 120.0);
    predict_advance(&w->predict, dt, has_rpm && e->running, mean / SPEED_UNIT,
                    square / (SPEED_UNIT * SPEED_UNIT));
    if (!w->predict.known)
        predict_learn(&w->predict, dt, y, w->trace.sigma);
    double residual = y - predict_value(&w->predict);
    w->verdict.careful = !has_rpm;
    double allowance = ALLOW_STEADY + ALLOW_UNREST * predict_unrest(&w->predict) +
                       ALLOW_DOUBT * predict_doubt(&w->predict);
    if (!has_rpm)
        allowance = CAREFUL_RISE_C;
    if (has_rpm && !e->running) { /* heat soak is no cooling failure */
        cusum_reset(&w->cusum);
        predict_learn(&w->predict, dt, y, w->trace.sigma);
        w->level = 0.0;
        w->level_known = true;
        cooling_show(w, y - residual, allowance, 0.0, CUSUM_THRESHOLD);
        return;
    }
    follow_level(w, residual, dt);
    double z = (residual - w->level - allowance) / w->trace.sigma;
    double top = cusum_add(&w->cusum, z);
    judge(c, w, residual, allowance);
    if (top < 4.0 && w->verdict.level == 0)
        predict_learn(&w->predict, dt, y, w->trace.sigma);
}
