/* What a battery is made of. Its limits of voltage follow from it. */
#ifndef STOKEHOLD_BASE_BATTERY_H
#define STOKEHOLD_BASE_BATTERY_H

enum battery_chemistry {
    BATTERY_UNKNOWN, /* taken for lead */
    BATTERY_LEAD,    /* flooded */
    BATTERY_AGM,
    BATTERY_GEL,
    BATTERY_LITHIUM, /* iron phosphate */
    BATTERY_OTHER,   /* none of these: no limit of ours fits */
};

#endif
