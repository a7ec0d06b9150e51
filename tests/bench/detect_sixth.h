/* The inside of the sixth model (detect_sixth.c): the sea it meets and the loads aboard
 * (detect_sixth_sea.c), and what becomes of raw water and gas (detect_sixth_elbow.c). All is per kW
 * of rated power: kW of heat, kJ, kg/s. */
#ifndef STOKEHOLD_BENCH_DETECT_SIXTH_H
#define STOKEHOLD_BENCH_DETECT_SIXTH_H

#include "detect_boat.h"

#define SIXTH_WAVES    4
#define SIXTH_SECTORS  6   /* round the pipe, from the bottom */
#define SIXTH_PATH     6   /* of the raw water's way from the pump to the spray */
#define SIXTH_GAS_KJ   1.1 /* per kg and kelvin */
#define SIXTH_WATER_KJ 4.0 /* of the sea */

/* Weather and loads that nobody orders. It draws as often whatever fails, so that a copy of a boat
 * meets the same. */
struct sixth_sea {
    struct dice dice;
    double left_s; /* to the next draw, one a second */
    double rad[SIXTH_WAVES], phase[SIXTH_WAVES], wave, wave_load, full_ms;
    double heading, leg_s; /* cosine to the seas; of this course */
    double heel, roll_gain, roll_rad, roll, roll_rate;
    double gust, gust_most, gust_s;
    double layer, layer_most, layer_s; /* K at the intake beside what the hull's sensor tells */
    double creep, creep_most;          /* a lever that does not stay */
    double pilot, pilot_rad, pilot_phase;
    double kettle, kettle_part, kettle_s, cold, cold_part, cold_s; /* of a generator's rating */
    double charge, charge_part, taper_s;                           /* batteries */
    double regulator_s, regulator; /* to its next switching; 1: charges */
};

void sixth_sea_draw(struct sixth_sea *w, struct dice *d);
/* way: the boat's, of that at full throttle. */
void sixth_sea_step(struct sixth_sea *w, double way, bool charging, double dt);
/* What a propeller takes more of, of 1; a generator's whole load of the ordered one. */
double sixth_sea_load(const struct sixth_sea *w, double way);
double sixth_house_load(const struct sixth_sea *w, double ordered, bool idling);

enum sixth_probe { SIXTH_POCKET, SIXTH_STRAP, SIXTH_METAL };
enum sixth_manifold { SIXTH_DRY, SIXTH_BY_COOLANT, SIXTH_BY_SEA };

struct sixth_params {
    bool petrol, direct, steady; /* spark; the sea cools the block; a governor without droop */
    double rated_rpm, idle, droop, reset_s, spin_s, lever_s, belts, alternator;
    double efficiency, rub, rub_speed, air, boost, boost_s, gas_part, wall_part;
    enum sixth_manifold manifold;
    double iron_kj, iron_ntu, iron_kw_k, iron_loss;
    double water, slip, most_flow, suction_turns, drains_s;           /* pump and seacock */
    double path_kg, cooled_air, jacket_kg, jacket_ntu, stays, hold_s; /* to the spray */
    double spray, reach, pattern[SIXTH_SECTORS], lean, blend;         /* elbow */
    double run_s, wet_s, gas_s, around_s, sheds;                      /* its wall */
    enum sixth_probe probe;
    int sector;
    double tip_wet_s, tip_gas_s, stem, outer_s;
    double stat_c, span_k, wax_s, head_kj, rest_kj, moves, exchanger, skin, sender_k;
    double oil_kj, oil_kw_k;
};
struct sixth_engine {
    double lever, n, sum, torque, boost, gas_c, iron_c;
    double suction, path_c[SIXTH_PATH], stands, left_kg, sprayed, film[SIXTH_SECTORS],
        wall_c[SIXTH_SECTORS], tip_c, outer_c, dry_c;
    double head_c, rest_c, wax_c, oil_c;
};
/* What is the same all through one step. */
struct sixth_flow {
    double fuel, gas, air, iron, jacket, pumped, shed, charge; /* air: gas, of rated */
};
struct sixth {
    int engines;
    bool dry_gas;
    struct sixth_params p[BOAT_ENGINES];
    struct sixth_engine e[BOAT_ENGINES];
    struct sixth_sea sea;
    double vapour[102]; /* kg that a kg of gas holds when saturated, by °C */
    double way, hull_s, steep, fouled, slips;
    double space_c, space_s, space_rise_k, fire_k;
};

/* One step of a lag, safe whatever the step. */
static inline double sixth_lag(double from, double to, double dt, double tau)
{
    return from + (to - from) * dt / (tau + dt);
}

void sixth_elbow_draw(struct dice *d, struct sixth_params *p);
void sixth_vapour(double *vapour);
/* The pump: what it lifts. Then the way to the spray, and elbow, wall and probe. */
void sixth_pump(const struct sixth_params *p, struct sixth_engine *e, double water, bool run,
                double dt, struct sixth_flow *f);
void sixth_path(const struct sixth_params *p, struct sixth_engine *e, double sea_c, bool run,
                double dt, struct sixth_flow *f);
void sixth_elbow(struct sixth *s, int i, bool run, double dt, const struct sixth_flow *f);

#endif
