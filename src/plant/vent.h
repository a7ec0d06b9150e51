/* How an engine space loses its heat: its rise over outside air, and, with the engines stopped,
 * how long half of that rise takes to go with the blower on and with it off. Pure; no clock. */
#ifndef STOKEHOLD_PLANT_VENT_H
#define STOKEHOLD_PLANT_VENT_H

#include <stdbool.h>
#include <stdint.h>

enum vent_blower { VENT_OFF, VENT_ON, VENT_UNKNOWN };

struct vent_cooling {
    double rate_per_s; /* mean of the stretches: d ln(rise) / dt */
    int stretches;     /* of one minute, in which the space cooled */
};

struct vent_space {
    struct vent_cooling cooling[2]; /* by VENT_OFF, VENT_ON */
    bool going;                     /* a stretch is under way, */
    enum vent_blower blower;        /* all of it with the blower so, */
    int64_t from_ns;                /* since, */
    double from_rise_k;             /* from here */
};

/* About once a second, with good temperatures. Stretches in which the space still warms (heat
 * soak) or stands within 3 K of the air outside say nothing and are left out. */
void vent_heard(struct vent_space *v, int64_t t_ns, double space_c, double outside_c,
                enum vent_blower blower, bool engines_stopped);
/* Seconds in which half of the rise goes; false where less than three minutes of cooling were
 * seen. */
bool vent_half_s(const struct vent_space *v, enum vent_blower blower, double *seconds);

#endif
