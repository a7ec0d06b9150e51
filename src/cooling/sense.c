#include "base/text.h"
#include "cooling/cooling.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

const char *cooling_load_text(enum cooling_sensor s)
{
    switch (s) {
    case COOLING_LOAD:
        return "load";
    case COOLING_TORQUE:
        return "torque";
    case COOLING_FUEL_RATE:
        return "fuel rate";
    case COOLING_BOOST:
        return "boost";
    default:
        return "";
    }
}

const char *cooling_sense_words(char *dst, size_t cap, const struct cooling_sense *s,
                                const char *load, bool running)
{
    char number[24];
    if (!s->exhaust) {
        text_copy(dst, cap, "BLIND to lost water: no exhaust temperature");
        return dst;
    }
    if (!running)
        text_copy(dst, cap, "lost water is watched for once it runs");
    else if (isfinite(s->delay_s) && text_number(number, sizeof number, s->delay_s, 0))
        text_format(dst, cap, "lost water told in %s s", number);
    else if (isfinite(s->period_s) && !s->speed) /* it is careful then, not blind */
        text_copy(dst, cap, "lost water told late");
    else if (isfinite(s->period_s))
        text_copy(dst, cap, "BLIND to lost water but for its limit");
    else
        text_copy(dst, cap, "listening");
    double period_s = 0.5 * round(2.0 * s->period_s);
    text_append(dst, cap, ": exhaust");
    if (text_number(number, sizeof number, period_s, period_s < 10.0 && fmod(period_s, 1.0) > 0.0))
        text_append(dst, cap, " every %s s", number);
    text_append(dst, cap, ", %s, %s%s, %s, %s", s->speed ? "speed" : "no speed",
                load[0] ? load : "no load", load[0] && strcmp(load, "load") != 0 ? " for load" : "",
                s->twin ? "twin" : "no twin", s->sea ? "sea" : "no sea");
    return dst;
}
