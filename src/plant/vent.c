#include "plant/vent.h"

#include "base/when.h"

#include <math.h>

#include "base/banned.h"

#define STRETCH_NS (60 * NS_PER_S)
#define RISE_MIN_K 3
#define STRETCHES  3

void vent_heard(struct vent_space *v, int64_t t_ns, double space_c, double outside_c,
                enum vent_blower blower, bool engines_stopped)
{
    double rise_k = space_c - outside_c;
    bool useful = engines_stopped && rise_k > RISE_MIN_K && blower != VENT_UNKNOWN;
    if (!useful || !v->going || v->blower != blower || t_ns - v->from_ns > 2 * STRETCH_NS) {
        v->going = useful;
        v->blower = blower;
        v->from_ns = t_ns;
        v->from_rise_k = rise_k;
        return;
    }
    if (t_ns - v->from_ns < STRETCH_NS)
        return;
    if (rise_k < v->from_rise_k) {
        struct vent_cooling *c = &v->cooling[blower];
        double rate = log(v->from_rise_k / rise_k) / when_seconds(t_ns - v->from_ns);
        c->stretches++;
        c->rate_per_s += (rate - c->rate_per_s) / c->stretches;
    }
    v->from_ns = t_ns;
    v->from_rise_k = rise_k;
}

bool vent_half_s(const struct vent_space *v, enum vent_blower blower, double *seconds)
{
    if (blower == VENT_UNKNOWN || v->cooling[blower].stretches < STRETCHES)
        return false;
    *seconds = log(2) / v->cooling[blower].rate_per_s;
    return true;
}
