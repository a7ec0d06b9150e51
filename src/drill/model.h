/* The physics of an invented boat: what its engines, water and air really do.
 * Owns every physical constant (struct drill_params) and the true state (struct drill_world).
 * Pure: no I/O, no clock, no randomness inside a step; the same inputs give the same states.
 * It knows nothing of sensors, messages or trips (sensors.h, frames.h, trip.h), and the rules of
 * the watch must never include it: a rule that knew these constants would prove nothing.
 *
 * Sources, by name in the comments below: [E3] propeller law P ~ n^3, 40 CFR 1042 App. II cycle
 * E3; [BAL] the heat balance worked out in docs/drill.md from textbook figures; [PUMP] raw-water
 * pump selection text, 0.87-0.94 L/min per kW; [CP] common practice, no source. docs/drill.md
 * says which figures were used and why. */
#ifndef STOKEHOLD_DRILL_MODEL_H
#define STOKEHOLD_DRILL_MODEL_H

#include "base/rng.h"

#include <stdbool.h>

#define DRILL_ENGINES 2

/* One engine. The ranges are those drill_params_random draws from. */
struct drill_engine_params {
    /* power and speed */
    double rated_kw;       /* 25..350 */
    double rated_rpm;      /* 2400..3800 */
    double idle_rpm;       /* 600..850 */
    double bsfc_g_kwh;     /* at rated power, 200..240 [CP]: 23.8-28.6 L/h per 100 kW */
    double friction_share; /* friction power over rated power at rated speed, 0.10..0.18 [CP];
                              falls with speed: Willans line */
    double speed_tau_s;    /* governor and inertia, 0.6..2 */

    /* exhaust gas [BAL] */
    double air_fuel;        /* kg air per kg fuel at rated power, 22..30 */
    double unloaded_air;    /* air per turn without boost over rated, 0.45..0.9 */
    double gas_share;       /* of the fuel's heat that the gas carries, 0.22..0.32 */
    double gas_tau_s;       /* manifold and turbine iron, 4..20 */
    double soak_w_per_k_kw; /* manifold iron to elbow, per kW rated, 0.004..0.02 */

    /* raw water [PUMP] */
    double water_lpm_per_kw; /* at rated speed, flow ~ speed; 0.6..1.2 */
    double drain_tau_s;      /* hoses and elbow running empty, 0.5..3 */
    double water_lost;       /* share that a worn pump or a scaled passage takes, 0 when new */

    /* elbow and hose [BAL] */
    double elbow_kg;            /* 6 at 100 kW, ~ power^0.7, times 0.85..1.2 */
    double elbow_m2;            /* gas side, 0.0707 at 100 kW, ~ power^0.6 */
    double elbow_h_w_m2k;       /* 85 (straight pipe) to 255 (tight elbow) at rated gas flow */
    double elbow_water_w_per_k; /* wet side at rated flow, 100..600 at 100 kW */
    double unmixed_share;       /* of the gas passing the sensor before it met water, 0..0.15 */
    double hose_tau_s;          /* wall of the hose, 50..150 */
    double place;               /* sensor: 0 in the stream, 0.5 on the elbow, 1 on the hose */
    bool dry_gas;               /* sensor before the water: 300-500 °C is normal */

    /* coolant [BAL] */
    double jacket_share;       /* of the fuel's heat into the coolant at rated power, 0.20..0.28 */
    double thermostat_c;       /* begins to open, 74..86 */
    double thermostat_span_k;  /* to fully open, 8..14 */
    double thermostat_tau_s;   /* 8..25 */
    double metal_kj_per_k_kw;  /* hot iron around the combustion, per kW, 0.2..0.4 */
    double head_kj_per_k_kw;   /* coolant and iron at the sensor, per kW, 0.8..1.4 */
    double block_kj_per_k_kw;  /* the rest, per kW, 0.6..1.2 */
    double hx_w_per_k_kw;      /* heat exchanger, per kW rated, 20..32 */
    double hx_lost;            /* share that scale takes of it, 0 when clean */
    double coolant_lpm_per_kw; /* at rated speed, 1.2..1.8 */

    /* oil and alternator [CP] */
    double oil_tau_s;        /* 150..400 */
    double oil_relief_kpa;   /* 380..520 */
    double oil_hot_idle_kpa; /* at 95 °C, 120..220 */
    double charge_v;         /* over nominal 12: 13.8..14.4 */
    double rest_v, crank_v;  /* likewise: 12.65 rested, and 10.4 while the starter turns */
};

/* The boat. */
struct drill_params {
    int engines; /* 1 or 2 */
    struct drill_engine_params engine[DRILL_ENGINES];
    double sea_c;         /* at the start, 2..30 */
    double air_c;         /* outside, sea -3..+10, at most 36 */
    double start_c;       /* of engines and their space at the start: cold, or from yesterday */
    double speed_full_kn; /* through water at rated speed, 7..28 */
    double hump_share;    /* 0 displacement .. 0.6 semi-planing: speed that comes late */
    double speed_tau_s;   /* 5..25 */
    double hull;          /* growth: power asked beyond a clean hull's, as a share; 0..0.3 */
    double current_kn, current_deg; /* of the water over the ground, and where it sets to */
    double drift_kn;                /* by the wind, to the north, with no way on; 0: she is held */
    double space_kj_per_k; /* air and light things of the engine space, per kW total, 0.2..0.5 */
    double space_wall_kj_per_k; /* its plating, per kW, 2..5 */
    double space_loss_w_per_k;  /* engine surface to air, per kW, 0.3..0.8 */
    double space_heat_share;    /* of the fuel's heat from hot manifolds to the air, 0.006..0.015 */
    double vent_w_per_k;        /* openings to outside, per kW, 2.5..6 */
    double fuel_capacity_l;     /* each engine's tank, 100..1500 */
    double fuel_level;          /* 0..1 at the start */
    double nominal_v;           /* 12 or 24 */
};

enum drill_gear { DRILL_ASTERN = -1, DRILL_NEUTRAL = 0, DRILL_AHEAD = 1 };

/* What is asked of an engine and what is done to it. A healthy one has water and coolant_pump
 * at 1. */
struct drill_engine_inputs {
    bool run;         /* true from the moment the starter is pressed until the stop */
    double order_rpm; /* lever, never below idle */
    enum drill_gear gear;
    double water;        /* share of the raw water its pump should move, 0..1 */
    double coolant_pump; /* share of the coolant flow, 0..1 */
};

struct drill_inputs {
    struct drill_engine_inputs engine[DRILL_ENGINES];
    double sea_c;
    double air_c;
    double fire_k_per_min; /* 0: none. Climb of the engine space's air, see docs/drill.md */
};

/* True state of one engine. */
struct drill_engine {
    double rpm;
    double cranking_s; /* > 0 while the starter turns */
    double run_s;      /* this trip */
    enum drill_gear gear;
    double power_kw;  /* at the propeller */
    double load;      /* of what it could give at this speed, 0..1 */
    double torque;    /* of rated torque, 0..1 */
    double fuel_kgph; /* burnt */
    double fuel_lph;
    double fuel_used_l;
    double gas_kgps;
    double gas_c;     /* before the elbow */
    double water_lpm; /* reaching the elbow */
    double inject_c;  /* water after the heat exchanger */
    double stream_c;  /* gas and water after the elbow */
    double elbow_c;
    double hose_c;
    double exhaust_c; /* at the sensor's place, without the sensor's own lag */
    double metal_c;
    double coolant_c;
    double block_c;
    double thermostat; /* 0 shut .. 1 open */
    double oil_c;
    double oil_kpa;
    double alternator_v;
    double boost_kpa;
};

struct drill_world {
    double t_s;
    struct drill_engine engine[DRILL_ENGINES];
    double speed_kn; /* through water, astern negative */
    double space_air_c, space_wall_c, fire_k, fire_k_per_s;
    double space_c; /* what a sensor in the engine space sees: space_air_c + fire_k */
    double sea_c, air_c;
    double tank_l[DRILL_ENGINES];
    double battery_v[DRILL_ENGINES + 1], battery_a[DRILL_ENGINES + 1]; /* engines', then house */
};

/* A plain twin (or single) of 2 x 160 kW in 16 °C water: what the demo sails. */
void drill_params_default(struct drill_params *p, int engines);
/* Any boat within the ranges above, its engines near twins. The wet exhaust of each settles
 * between 25 and 85 °C, coolant below 93 °C and the engine space below 44 °C; boats outside are
 * drawn again. engines 1 or 2, 0: either. */
void drill_params_random(struct drill_params *p, struct rng *r, int engines);

/* Cold and still, at p->start_c. */
void drill_world_init(struct drill_world *w, const struct drill_params *p);
/* One step of dt_s (0.02..1 s). */
void drill_world_step(struct drill_world *w, const struct drill_params *p,
                      const struct drill_inputs *in, double dt_s);
/* Fills in with healthy, stopped engines in the boat's own sea and air. */
void drill_inputs_default(struct drill_inputs *in, const struct drill_params *p);

/* Speed through water that settles with all engines ahead at `share` of rated speed, knots. */
double drill_speed_kn(const struct drill_params *p, double share);
/* Power asked by the propeller at `share` of rated speed, over rated power. [E3] */
double drill_propeller_law(double share);
/* Fuel at a power and speed, kg/h. */
double drill_fuel_kgph(const struct drill_engine_params *e, double power_kw, double rpm);
/* Fuel of all engines together and speed through water, settled and warm, with every engine at
 * `share` of rated speed: the truth that a sea trial should find. */
void drill_economy(const struct drill_params *p, double share, double *burn_lph, double *speed_kn);
/* The share within [low, high] at which a mile costs least, no end of the range being counted;
 * NaN where the cost only falls or only climbs. */
double drill_economical_share(const struct drill_params *p, double low, double high);
/* A cold boat after 30 min with every engine ahead at `share` of rated speed. */
void drill_world_settle(struct drill_world *w, const struct drill_params *p, double share);

#endif
