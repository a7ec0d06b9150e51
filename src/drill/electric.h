/* What a full boat has besides: shore power at the berth, a generator that runs for a while under
 * way, an inverter with its charger, a lithium bank for the house. Invented, and simple: switches
 * that are thrown at set times, first-order lags, a bank that fills and empties. Has random numbers
 * of its own, so that the rest of the drill is not moved by it. */
#ifndef STOKEHOLD_DRILL_ELECTRIC_H
#define STOKEHOLD_DRILL_ELECTRIC_H

#include "base/rng.h"
#include "drill/sensors.h"
#include "drill/trip.h"

#include <stdbool.h>
#include <stdint.h>

#define DRILL_BANK_AH     400.0
#define DRILL_SHORE_V     230.0
#define DRILL_GENSET_RPM  1500.0
#define DRILL_GENSET_UNIT 100 /* `unit` of what is sent by these boxes */

struct drill_electric {
    struct rng noise;
    uint8_t generator; /* instance */
    uint8_t bank;      /* battery instance */
    double shore_to_s, start_s, stop_s;
    bool shore, running, taken; /* taken: its current goes to the inverter */
    double run_s, hours;
    double rpm, hertz, volts;           /* of the generator */
    double exhaust_c, coolant_c, oil_c; /* of it */
    double charge, bank_v, bank_a;      /* share; V; A into the bank */
    double load_w, charge_w;            /* of the house; of the charger */
    int state; /* of the converter: 3 bulk, 4 absorption, 5 float, 9 inverting */
};

void drill_electric_init(struct drill_electric *e, const struct drill_trip *trip, uint64_t seed,
                         uint8_t generator, uint8_t bank);
void drill_electric_step(struct drill_electric *e, double t_s, double step_s, double sea_c,
                         double space_c);
/* Fills a message of these boxes in; false where the box is silent. */
bool drill_electric_fill(struct drill_electric *e, struct drill_message *m);

#endif
