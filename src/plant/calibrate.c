#include "plant/calibrate.h"

#include "plant/gauge.h"
#include "plant/tank.h"

#include <math.h>

#include "base/banned.h"

/* A thermistor of any make that is beyond these is an open or a short circuit; common practice. */
#define COLDEST_C (-60)
#define HOTTEST_C 300

static bool from_sender(const struct channel_setting *s, double *v)
{
    if (s->thermistor.set) {
        *v = thermistor_celsius(&s->thermistor, *v);
        return *v > COLDEST_C && *v < HOTTEST_C; /* false for NaN */
    }
    if (s->has_ohms)
        return gauge_level(*v, s->ohms_empty, s->ohms_full, v) == GAUGE_GOOD;
    if (s->head_density > 0 && s->height_m > 0)
        *v = 100 * gauge_head_m(*v, s->head_density) / s->height_m;
    return true;
}

/* Beyond it a level is not a level: a sender that fails, or a tank that is not this one. */
#define FULLEST 110.0

static double to_volume(const struct channel_setting *s, double percent)
{
    bool tank = s->strapping.count > 0 || s->shape != TANK_UNKNOWN || s->head_density > 0;
    if (tank && percent > FULLEST)
        return NAN; /* an error, as is all that is not finite */
    if (tank)
        percent = fmin(percent, 100);
    if (s->strapping.count > 0) {
        double full = s->capacity_l > 0 ? s->capacity_l : s->strapping.y[s->strapping.count - 1];
        return full > 0 ? 100 * fmax(0, curve_at(&s->strapping, percent)) / full : 0;
    }
    if (s->shape != TANK_UNKNOWN)
        return 100 * tank_volume_part(s->shape, percent / 100);
    return percent;
}

enum reading_status calibrate(const struct channel_setting *s, double raw, double *value)
{
    double v = raw;
    if (s == NULL)
        return uncalibrated(raw, value);
    if (!from_sender(s, &v))
        return READING_ERROR;
    v = curve_at(&s->table, v) * s->gain + s->offset;
    return uncalibrated(to_volume(s, v), value);
}
