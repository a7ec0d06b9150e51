#include "screen/sun.h"

#include <math.h>

#include "base/banned.h"

#define RADIANS (3.14159265358979323846 / 180)

double sun_altitude_deg(int64_t wall_ns, double latitude, double longitude)
{
    /* Days since 2000-01-01 12:00 UTC, which was 946728000 s after the epoch. */
    double d = ((double)wall_ns / 1e9 - 946728000.0) / 86400.0;
    double mean_longitude = 280.460 + 0.9856474 * d;
    double anomaly = (357.528 + 0.9856003 * d) * RADIANS;
    double ecliptic = (mean_longitude + 1.915 * sin(anomaly) + 0.020 * sin(2 * anomaly)) * RADIANS;
    double obliquity = (23.439 - 0.0000004 * d) * RADIANS;
    double ascension = atan2(cos(obliquity) * sin(ecliptic), cos(ecliptic));
    double declination = asin(sin(obliquity) * sin(ecliptic));
    /* Greenwich mean sidereal time, in degrees. */
    double sidereal = 280.46061837 + 360.98564736629 * d;
    double hour = fmod(sidereal + longitude, 360.0) * RADIANS - ascension;
    double lat = latitude * RADIANS;
    return asin(sin(lat) * sin(declination) + cos(lat) * cos(declination) * cos(hour)) / RADIANS;
}
