/* Units of values and how they are converted for people.
 * Every channel is stored, exported and compared in its base unit (the one named in the
 * channel-key table); the screen and the configuration convert at the edge.
 * Factors: exact by definition (NIST SP 811: US gallon 3.785411784 L, imperial gallon 4.54609 L,
 * knot 1852/3600 m/s, psi 6.894757 kPa). */
#ifndef STOKEHOLD_BASE_UNITS_H
#define STOKEHOLD_BASE_UNITS_H

#include <stdbool.h>

enum unit {
    UNIT_NONE, /* on/off, gear */
    UNIT_RPM,
    UNIT_C,   /* base of temperature */
    UNIT_KPA, /* base of pressure */
    UNIT_LPH, /* base of flow */
    UNIT_L,   /* base of volume */
    UNIT_H,
    UNIT_V,
    UNIT_A,
    UNIT_PERCENT,
    UNIT_KN, /* base of speed */
    UNIT_NMI,
    UNIT_L_PER_NMI,
    UNIT_NMI_PER_L,
    UNIT_K_DIFF, /* a temperature difference */
    UNIT_HZ,
    UNIT_WATT,
    UNIT_AH,
    /* for people only: never stored in a channel */
    UNIT_F,
    UNIT_BAR,
    UNIT_PSI,
    UNIT_GAL_US,
    UNIT_GAL_IMP,
    UNIT_GPH_US,
    UNIT_GPH_IMP,
    UNIT_KMH,
    UNIT_MPH,
    UNIT_COUNT
};

/* "rpm", "°C", "kPa", "" for none. UTF-8. */
const char *unit_text(enum unit u);
/* The same in ASCII: "C", "F". */
const char *unit_ascii(enum unit u);
/* Reads a unit as people write it ("C", "°C", "degC", "F", "bar", "L/h", "US gal", ...). */
bool unit_parse(const char *s, enum unit *out);
/* The base unit that u converts to (itself for a base unit). */
enum unit unit_base(enum unit u);
/* From base into u, and back. u and the base must belong together (unit_base). */
double unit_from_base(enum unit u, double v);
double unit_to_base(enum unit u, double v);
/* The same for a difference or a rate: no offset. */
double unit_from_base_difference(enum unit u, double v);
/* Reads "93 C", "200 F", "1.2 bar", "90 %" or a bare number (taken to be in `base` already) into
 * the base unit. False when it is not a number, or the unit does not belong to `base`. */
bool unit_parse_value(const char *s, enum unit base, double *out);

#endif
