#include "cooling/boat.h"

#include <math.h>

#include "base/banned.h"

void boat_init(struct boat *b, const struct figures *figures)
{
    *b = (struct boat){.figures = figures};
    trace_init(&b->sea.trace, figures);
    for (int i = 0; i < BOAT_SPACES; i++)
        b->air[i] = (struct space_air){NAN, NAN};
    answers_init(&b->answers, figures);
}

void boat_sea_reading(struct boat *b, double t, double value_c)
{
    const struct figures *k = b->figures;
    struct sea *s = &b->sea;
    double dt = t - trace_last_time(&s->trace);
    if (trace_add(&s->trace, t, value_c) != TRACE_GOOD)
        return;
    if (s->trace.count == 1 || dt > k->sea_hole_s) {
        s->level_c = value_c;
        return;
    }
    double move = (1.0 - exp(-dt / k->sea_lag_s)) * (value_c - s->level_c);
    s->level_c += move;
    s->rate += (1.0 - exp(-dt / k->sea_rate_lag_s)) * (move / dt - s->rate);
    s->climbed = fmax(s->rate, s->climbed * exp(-dt / k->sea_climb_fade_s));
}

bool boat_sea_known(const struct boat *b)
{
    const struct trace *t = &b->sea.trace;
    return t->count > b->figures->sea_count &&
           b->now_s - trace_last_time(t) < b->figures->sea_held_s;
}

void boat_space_reading(struct boat *b, int space, double t, double value_c)
{
    b->air[space] = (struct space_air){value_c, t};
}

bool boat_is_space_air(const struct boat *b, double value_c)
{
    const struct figures *k = b->figures;
    for (int i = 0; i < BOAT_SPACES; i++)
        if (b->now_s - b->air[i].last_s < k->air_held_s &&
            fabs(value_c - b->air[i].last_c) < k->air_near_k)
            return true;
    return false;
}
