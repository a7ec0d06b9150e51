/* How high the sun stands, for the themes that follow it. The low-accuracy formulas of the
 * Astronomical Almanac (good to about 0.01 degrees until 2050), from memory; checked in the tests
 * against an independent library. Pure. */
#ifndef STOKEHOLD_SCREEN_SUN_H
#define STOKEHOLD_SCREEN_SUN_H

#include <stdint.h>

/* Degrees above the horizon, without refraction; latitude north and longitude east positive. */
double sun_altitude_deg(int64_t wall_ns, double latitude, double longitude);

/* The sun's upper edge touches the horizon, refraction counted. */
#define SUN_SET_DEG   (-0.833)
#define SUN_CIVIL_DEG (-6.0) /* end of civil twilight */

#endif
