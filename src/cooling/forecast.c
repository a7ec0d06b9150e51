#include "cooling/forecast.h"

#include <math.h>

#include "base/banned.h"

void forecast_init(struct forecast *f, const struct figures *figures,
                   const struct predict_figures *own)
{
    *f = (struct forecast){.stand_in = FROM_NOTHING};
    predict_init(&f->predict, figures, own);
}

void forecast_advance(struct forecast *f, const struct engine_run *e, double dt)
{
    const struct figures *k = e->boat->figures;
    double time = e->rpm.time_s - f->rpm.time_s, mean = e->rpm.last,
           square = e->rpm.last * e->rpm.last;
    if (time > 0.0) {
        mean = (e->rpm.sum - f->rpm.sum) / time;
        square = (e->rpm.square_sum - f->rpm.square_sum) / time;
    }
    f->rpm = e->rpm;
    if (!engine_has_rpm(e))
        return;
    double speed = mean / k->speed_unit, unit2 = square / (k->speed_unit * k->speed_unit);
    /* The run-up of a start is not a throttle-up. */
    bool settle = !f->settled || e->boat->now_s - e->since_s < k->run_up_s;
    if (settle)
        predict_settle(&f->predict, speed, unit2);
    else
        predict_advance(&f->predict, dt, speed, unit2);
    if (engine_has_load(e)) { /* false where load was never told */
        if (f->stand_in != e->stand_in) {
            predict_forget_load(&f->predict);
            f->load = (struct held_value){0};
        } else if (e->most > f->most) {
            predict_rescale_load(&f->predict, e->most / f->most);
        }
        f->stand_in = e->stand_in;
        f->most = e->most;
        double span = e->load.time_s - f->load.time_s;
        double load = span > 0.0 ? (e->load.sum - f->load.sum) / span : e->load.last;
        predict_load(&f->predict, settle ? INFINITY : dt, load / e->most);
    }
    f->load = e->load;
    f->settled = true;
}

void forecast_learn(struct forecast *f, double dt, double value, double sigma)
{
    double before = predict_value(&f->predict);
    predict_learn(&f->predict, dt, value, sigma);
    double shift = predict_value(&f->predict) - before;
    f->level -= shift;
    f->shifted += shift;
}

double forecast_level(const struct forecast *f)
{
    return f->level + f->shifted;
}
