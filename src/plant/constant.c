#include "plant/constant.h"

#include "base/when.h"

#include <math.h>
#include <stddef.h>

#include "base/banned.h"

#define BAND     0.06            /* ISO 8528-1: a class G2 governor droops by at most 5 % */
#define RISE_NS  (20 * NS_PER_S) /* from standing to that speed; common practice, no source */
#define KEEP_NS  (3 * 60 * NS_PER_S)
#define LEAVE_NS (10 * NS_PER_S) /* running down takes no longer; common practice, no source */
#define OVER     1.15 /* of the synchronous speed: trips for overspeed are set there; from memory */

/* n = 120 f / p. */
static const double synchronous[] = {1500, 1800, 3000, 3600};

static double nearest(double rpm)
{
    for (size_t i = 0; i < sizeof synchronous / sizeof synchronous[0]; i++) {
        if (fabs(rpm - synchronous[i]) <= BAND * synchronous[i])
            return synchronous[i];
    }
    return 0;
}

static bool set_found(struct constant *c, bool found)
{
    bool changed = c->found != found;
    c->found = found;
    return changed;
}

bool constant_heard(struct constant *c, int64_t t_ns, double rpm, bool stands)
{
    if (stands) {
        *c = (struct constant){.found = c->found, .varies = c->varies, .stood = true};
        return false;
    }
    if (c->stood && !c->turning) {
        c->turning = true;
        c->turning_ns = t_ns;
    }
    if (!c->turning || c->varies)
        return false;
    if (c->rpm <= 0) {
        c->rpm = nearest(rpm);
        c->reached_ns = c->kept_ns = t_ns;
        if (c->rpm <= 0 && t_ns - c->turning_ns > RISE_NS) {
            c->varies = true;
            return set_found(c, false);
        }
        return false;
    }
    if (fabs(rpm - c->rpm) <= BAND * c->rpm)
        c->kept_ns = t_ns;
    if (t_ns - c->kept_ns > LEAVE_NS || rpm > OVER * c->rpm) {
        c->varies = true;
        return set_found(c, false);
    }
    return c->kept_ns == t_ns && t_ns - c->reached_ns >= KEEP_NS && set_found(c, true);
}

void constant_lost(struct constant *c)
{
    *c = (struct constant){.found = c->found, .varies = c->varies};
}
