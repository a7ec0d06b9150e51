/* Tanks: from height to volume by shape, and the median that takes the slosh out of a level.
 * No channel, no clock. */
#ifndef STOKEHOLD_PLANT_TANK_H
#define STOKEHOLD_PLANT_TANK_H

#include "config/settings.h"

#define TANK_SAMPLES 120

/* Part of the volume (0..1) at a part of the height (held to 0..1): a box, a cylinder lying on its
 * side, a wedge with its edge down. TANK_UNKNOWN gives the height back. */
double tank_volume_part(enum tank_shape shape, double height_part);
/* Litres of a full tank with these inner measures in metres (a cylinder: length and height, which
 * is its diameter); 0 where one that is needed is not above 0, or the shape is unknown. */
double tank_capacity_l(enum tank_shape shape, double length_m, double width_m, double height_m);
/* What the configuration says a tank holds: capacity, else the end of its strapping table, else by
 * its measures; 0 where it says nothing. */
double tank_configured_l(const struct channel_setting *s);

/* The newest samples of a level, at most TANK_SAMPLES within the window. */
struct tank_slosh {
    int64_t window_ns;
    int64_t at_ns[TANK_SAMPLES];
    double level[TANK_SAMPLES];
    int count, next;
};
/* A sample that follows too soon on the last (less than window / TANK_SAMPLES) is left out, so
 * that the window stays covered. */
void tank_slosh_add(struct tank_slosh *s, int64_t t_ns, double level);
/* The median of what is not older than the window. False where there is no sample. */
bool tank_slosh_median(const struct tank_slosh *s, int64_t now_ns, double *level);

#endif
