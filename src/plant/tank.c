#include "plant/tank.h"

#include "base/order.h"

#include <math.h>

#include "base/banned.h"

#define PI 3.14159265358979323846

/* V = L [r2 acos((r - h) / r) - (r - h) sqrt(2rh - h2)], with r = 1 and a full circle of pi. */
static double circle_part(double height_part)
{
    double h = 2 * height_part;
    return (acos(1 - h) - (1 - h) * sqrt(fmax(0, 2 * h - h * h))) / PI;
}

double tank_volume_part(enum tank_shape shape, double height_part)
{
    double h = fmax(0, fmin(1, height_part));
    switch (shape) {
    case TANK_CYLINDER:
        return circle_part(h);
    case TANK_WEDGE:
        return h * h;
    default:
        return h;
    }
}

double tank_capacity_l(enum tank_shape shape, double length_m, double width_m, double height_m)
{
    if (!(length_m > 0) || !(height_m > 0))
        return 0;
    if (shape == TANK_CYLINDER)
        return 1000 * length_m * PI * height_m * height_m / 4;
    if (!(width_m > 0) || shape == TANK_UNKNOWN)
        return 0;
    return 1000 * length_m * width_m * height_m * (shape == TANK_WEDGE ? 0.5 : 1);
}

double tank_configured_l(const struct channel_setting *s)
{
    if (s == NULL)
        return 0;
    if (s->capacity_l > 0)
        return s->capacity_l;
    if (s->strapping.count > 0)
        return fmax(0, s->strapping.y[s->strapping.count - 1]);
    return tank_capacity_l(s->shape, s->length_m, s->width_m, s->height_m);
}

void tank_slosh_add(struct tank_slosh *s, int64_t t_ns, double level)
{
    int last = (s->next + TANK_SAMPLES - 1) % TANK_SAMPLES;
    if (s->count > 0 && t_ns - s->at_ns[last] < s->window_ns / TANK_SAMPLES)
        return;
    s->at_ns[s->next] = t_ns;
    s->level[s->next] = level;
    s->next = (s->next + 1) % TANK_SAMPLES;
    if (s->count < TANK_SAMPLES)
        s->count++;
}

bool tank_slosh_median(const struct tank_slosh *s, int64_t now_ns, double *level)
{
    double v[TANK_SAMPLES];
    int n = 0;
    for (int i = 0; i < s->count; i++) {
        if (now_ns - s->at_ns[i] <= s->window_ns)
            v[n++] = s->level[i];
    }
    if (n == 0)
        return false;
    *level = order_median(v, n);
    return true;
}
