#include "plant/gauge.h"

#include <math.h>

#include "base/banned.h"

#define OPEN_OHM  300 /* common practice, no source */
#define OPEN_PART 1.25
#define SHORT_OHM 5

enum gauge_state gauge_level(double ohm, double empty_ohm, double full_ohm, double *percent)
{
    double lowest = fmin(empty_ohm, full_ohm), highest = fmax(empty_ohm, full_ohm);
    if (ohm > fmax(OPEN_OHM, OPEN_PART * highest))
        return GAUGE_OPEN;
    if (ohm < SHORT_OHM && lowest > SHORT_OHM)
        return GAUGE_SHORT;
    double part = (ohm - empty_ohm) / (full_ohm - empty_ohm);
    *percent = 100 * fmax(0, fmin(1, part));
    return GAUGE_GOOD;
}

double gauge_head_m(double head_kpa, double density)
{
    return head_kpa * 1000 / (density * GAUGE_GRAVITY);
}
