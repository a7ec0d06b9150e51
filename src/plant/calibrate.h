/* From what arrives to the value of the channel, by the channel's own section. The steps, each
 * only where it is configured:
 *   1  ohms (a level), thermistor (a temperature) or head density (a level): what the sender is
 *   2  calibration: a table of what a comparison with a better instrument gave
 *   3  gain and offset
 *   4  strapping or shape: per cent of height becomes per cent of volume (tanks)
 * A sender that is open or short gives READING_ERROR. */
#ifndef STOKEHOLD_PLANT_CALIBRATE_H
#define STOKEHOLD_PLANT_CALIBRATE_H

#include "config/settings.h"
#include "base/reading.h"

#include <math.h>

/* s NULL: nothing is configured, the value is as it arrives. Returns READING_OK with *value, or
 * READING_ERROR. */
enum reading_status calibrate(const struct channel_setting *s, double raw, double *value);

/* The same where nothing is configured, which is nearly always. */
static inline enum reading_status uncalibrated(double raw, double *value)
{
    if (!isfinite(raw))
        return READING_ERROR;
    *value = raw;
    return READING_OK;
}

#endif
