/* What a tank gauge's sender measures, as the level it means. Pure arithmetic; no channel, no
 * state. Resistance spans are common practice, without a standard: 240 ohm empty to 33
 * full, and 10 empty to 180 full. A broken wire reads far above both, a chafed one near nothing. */
#ifndef STOKEHOLD_PLANT_GAUGE_H
#define STOKEHOLD_PLANT_GAUGE_H

#define GAUGE_GRAVITY 9.80665 /* m/s2, standard gravity, exact */

enum gauge_state { GAUGE_GOOD, GAUGE_OPEN, GAUGE_SHORT };

/* Per cent of height from ohm; held to 0..100, as a float that rests on its stop reads a little
 * beyond. *percent is untouched where the sender is open (above 300 ohm and a quarter above its
 * own span) or short (below 5 ohm, where its span does not reach down there). */
enum gauge_state gauge_level(double ohm, double empty_ohm, double full_ohm, double *percent);

/* Height of a liquid column in metres, from its head in kPa and its density in kg/m3. */
double gauge_head_m(double head_kpa, double density);

#endif
