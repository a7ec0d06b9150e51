/* The default boat, and any other. Ranges are those said in model.h. */
#include "drill/model.h"

#include <math.h>

#include "base/banned.h"

/* Elbows grow with engines: 6 kg and 0.0707 m² at 100 kW (docs/drill.md). */
static double elbow_kg_for(double kw)
{
    return 6 * pow(kw / 100, 0.7);
}

static double elbow_m2_for(double kw)
{
    return 0.0707 * pow(kw / 100, 0.6);
}

static void engine_default(struct drill_engine_params *e)
{
    *e = (struct drill_engine_params){
        .rated_kw = 160,
        .rated_rpm = 2800,
        .idle_rpm = 700,
        .bsfc_g_kwh = 215,
        .friction_share = 0.14,
        .speed_tau_s = 1.1,
        .air_fuel = 25,
        .unloaded_air = 0.55,
        .gas_share = 0.27,
        .gas_tau_s = 10,
        .soak_w_per_k_kw = 0.01,
        .water_lpm_per_kw = 0.9,
        .drain_tau_s = 1.2,
        .elbow_kg = elbow_kg_for(160),
        .elbow_m2 = elbow_m2_for(160),
        .elbow_h_w_m2k = 170,
        .elbow_water_w_per_k = 400,
        .unmixed_share = 0.035,
        .hose_tau_s = 80,
        .place = 0.45,
        .jacket_share = 0.24,
        .thermostat_c = 79,
        .thermostat_span_k = 10,
        .thermostat_tau_s = 14,
        .metal_kj_per_k_kw = 0.3,
        .head_kj_per_k_kw = 1.1,
        .block_kj_per_k_kw = 0.9,
        .hx_w_per_k_kw = 26,
        .coolant_lpm_per_kw = 1.5,
        .oil_tau_s = 240,
        .oil_relief_kpa = 440,
        .oil_hot_idle_kpa = 160,
        .charge_v = 14.1,
        .rest_v = 12.65,
        .crank_v = 10.4,
    };
}

void drill_params_default(struct drill_params *p, int engines)
{
    *p = (struct drill_params){
        .engines = engines,
        .sea_c = 16,
        .air_c = 19,
        .start_c = 20,
        .speed_full_kn = 19,
        .hump_share = 0.35,
        .speed_tau_s = 9,
        .current_kn = 0.4,
        .current_deg = 70,
        .space_kj_per_k = 0.3,
        .space_wall_kj_per_k = 3,
        .space_loss_w_per_k = 0.5,
        .space_heat_share = 0.011,
        .vent_w_per_k = 3,
        .fuel_capacity_l = 400,
        .fuel_level = 0.71,
        .nominal_v = 12,
    };
    for (int i = 0; i < DRILL_ENGINES; i++)
        engine_default(&p->engine[i]);
    /* No two elbows are alike. */
    p->engine[1].place = 0.5;
    p->engine[1].unmixed_share = 0.042;
    p->engine[1].water_lpm_per_kw = 0.88;
    p->engine[1].charge_v = 14.15;
}

static void engine_random(struct drill_engine_params *e, struct rng *r)
{
    double kw = rng_between_log(r, 25, 350);
    double elbow = rng_between(r, 0.85, 1.2);

    *e = (struct drill_engine_params){
        .rated_kw = kw,
        .rated_rpm = rng_between(r, 2400, 3800),
        .idle_rpm = rng_between(r, 600, 850),
        .bsfc_g_kwh = rng_between(r, 200, 240),
        .friction_share = rng_between(r, 0.10, 0.18),
        .speed_tau_s = rng_between(r, 0.6, 2),
        .air_fuel = rng_between(r, 22, 30),
        .unloaded_air = rng_between(r, 0.45, 0.9),
        .gas_share = rng_between(r, 0.22, 0.32),
        .gas_tau_s = rng_between_log(r, 4, 20),
        .soak_w_per_k_kw = rng_between(r, 0.004, 0.02),
        .water_lpm_per_kw = rng_between(r, 0.6, 1.2),
        .drain_tau_s = rng_between(r, 0.5, 3),
        .elbow_kg = elbow * elbow_kg_for(kw),
        .elbow_m2 = elbow_m2_for(kw),
        .elbow_h_w_m2k = rng_between_log(r, 85, 255),
        .elbow_water_w_per_k = rng_between_log(r, 100, 600) * kw / 100,
        .unmixed_share = rng_chance(r, 0.4) ? 0 : rng_between(r, 0, 0.15),
        .hose_tau_s = rng_between_log(r, 50, 150),
        .place = rng_unit(r),
        .jacket_share = rng_between(r, 0.20, 0.28),
        .thermostat_c = rng_between(r, 74, 86),
        .thermostat_span_k = rng_between(r, 8, 14),
        .thermostat_tau_s = rng_between_log(r, 8, 25),
        .metal_kj_per_k_kw = rng_between(r, 0.2, 0.4),
        .head_kj_per_k_kw = rng_between(r, 0.8, 1.4),
        .block_kj_per_k_kw = rng_between(r, 0.6, 1.2),
        .hx_w_per_k_kw = rng_between(r, 20, 32),
        .coolant_lpm_per_kw = rng_between(r, 1.2, 1.8),
        .oil_tau_s = rng_between_log(r, 150, 400),
        .oil_relief_kpa = rng_between(r, 380, 520),
        .oil_hot_idle_kpa = rng_between(r, 120, 220),
        .charge_v = rng_between(r, 13.8, 14.4),
        .rest_v = 12.65,
        .crank_v = 10.4,
    };
}

/* A twin of the first: same make, other wear, other hands at the sensor. */
static void engine_twin(struct drill_engine_params *e, struct rng *r)
{
    e->water_lpm_per_kw *= rng_between(r, 0.88, 1.12);
    e->elbow_h_w_m2k *= rng_between(r, 0.9, 1.1);
    e->elbow_water_w_per_k *= rng_between(r, 0.8, 1.25);
    e->unmixed_share *= rng_between(r, 0.5, 1.5);
    e->unmixed_share = e->unmixed_share > 0.15 ? 0.15 : e->unmixed_share;
    e->place = fmin(1, fmax(0, e->place + rng_between(r, -0.15, 0.15)));
    e->thermostat_c += rng_between(r, -1.5, 1.5);
    e->gas_tau_s *= rng_between(r, 0.9, 1.1);
    e->drain_tau_s *= rng_between(r, 0.8, 1.25);
    e->oil_hot_idle_kpa *= rng_between(r, 0.9, 1.1);
    e->charge_v = rng_between(r, 13.8, 14.4);
}

static void boat_random(struct drill_params *p, struct rng *r, int engines)
{
    double sea = rng_between(r, 2, 30);

    *p = (struct drill_params){
        .engines = engines > 0          ? engines
                   : rng_chance(r, 0.6) ? 2
                                        : 1,
        .sea_c = sea,
        .air_c = fmin(36, sea + rng_between(r, -3, 10)),
        .speed_full_kn = rng_between(r, 7, 28),
        .speed_tau_s = rng_between(r, 5, 25),
        .current_kn = rng_between(r, 0, 1.5),
        .current_deg = rng_between(r, 0, 360),
        .space_kj_per_k = rng_between(r, 0.2, 0.5),
        .space_wall_kj_per_k = rng_between(r, 2, 5),
        .space_loss_w_per_k = rng_between(r, 0.3, 0.8),
        .space_heat_share = rng_between(r, 0.006, 0.015),
        .vent_w_per_k = rng_between(r, 2.5, 6),
        .fuel_capacity_l = rng_between(r, 100, 1500),
        .fuel_level = rng_between(r, 0.4, 0.95),
        .nominal_v = rng_chance(r, 0.7) ? 12 : 24,
    };
    p->start_c = p->air_c + (rng_chance(r, 0.7) ? 1 : rng_between(r, 1, 25));
    p->hump_share = p->speed_full_kn > 11 ? rng_between(r, 0.2, 0.6) : 0;
    engine_random(&p->engine[0], r);
    p->engine[1] = p->engine[0];
    engine_twin(&p->engine[1], r);
}

static bool is_healthy(const struct drill_params *p)
{
    struct drill_world cruise, full;

    drill_world_settle(&cruise, p, 0.8);
    drill_world_settle(&full, p, 1.0);
    for (int i = 0; i < p->engines; i++) {
        if (cruise.engine[i].exhaust_c < 25 || full.engine[i].exhaust_c > 85 ||
            full.engine[i].coolant_c > 93)
            return false;
    }
    return full.space_c < 44;
}

void drill_params_random(struct drill_params *p, struct rng *r, int engines)
{
    do
        boat_random(p, r, engines);
    while (!is_healthy(p));
}
