/* The third model of the detection bench: exhaust as a stream of slugs. Each step burns fuel, which
 * heats a slug of water and gas by its enthalpy; the slugs travel down a hose with a delay, and the
 * probe stands in a wall of four cells through which heat diffuses. Raw water comes from a pump
 * with slip, so that an idling engine heats it more than one under way. Nothing of it is shared
 * with the others. Figures without a source are common practice. */
#include "detect_boat.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define CELLS 4
#define DELAY 32 /* steps of a quarter of a second */

#define STAT_OPEN_K   8.0 /* from the thermostat's first opening until it is wide open */
#define WARMEST_SEA_C 33.0

struct third_params {
    double rated_kw, rated_rpm, idle_rpm, speed_tau, turbo_tau;
    double idle_fuel, gas_part, jacket_part; /* of full fuel; of the fuel's heat */
    double litres_per_kw_min, slip;          /* pump: at rated speed; lost at any speed, of rated */
    double delay_s, cell_tau, film, seep;    /* hose, wall, boiling film, gas heat the wall sees */
    double stat_c, coolant_kj_per_kw, exchange;
    double drain_s, prime_s;
    bool dry_gas;
};
struct third_engine {
    double rpm, load, boost, wet, prime_left, slug[DELAY], cell[CELLS], coolant_c, oil_c, gas_c;
    int at;
    bool ran;
    struct boat_lag speed, turbo, drain, gas, wall;
};
struct third {
    int engines;
    struct third_params p[BOAT_ENGINES];
    struct third_engine e[BOAT_ENGINES];
    double space_c, fire_k;
};

static void draw_engine(struct dice *d, struct third_params *p)
{
    p->rated_kw = dice_log(d, 10.0, 300.0);
    p->rated_rpm = dice_range(d, 2400.0, 3800.0);
    p->idle_rpm = dice_range(d, 650.0, 900.0);
    p->speed_tau = dice_range(d, 0.5, 2.5);
    p->turbo_tau = dice_log(d, 1.0, 8.0);
    p->idle_fuel = dice_range(d, 0.05, 0.10);
    p->gas_part = dice_range(d, 0.24, 0.34);
    p->jacket_part = dice_range(d, 0.20, 0.30);
    p->litres_per_kw_min = dice_range(d, 0.6, 1.1);
    p->slip = dice_range(d, 0.02, 0.14);
    p->delay_s = dice_range(d, 0.2, 3.0);
    p->cell_tau = dice_log(d, 0.8, 6.0);
    p->film = dice_range(d, 0.4, 1.6);
    p->seep = dice_range(d, 0.0, 0.04);
    p->stat_c = dice_range(d, 72.0, 84.0);
    p->coolant_kj_per_kw = dice_range(d, 1.8, 3.2);
    /* A cooler holds full throttle in the warmest sea, thermostat open, with some in hand: a boat
     * that overheats in health is not benign. */
    p->exchange =
        2.6 * p->jacket_part / (p->stat_c + STAT_OPEN_K - WARMEST_SEA_C) * dice_range(d, 1.1, 2.0);
    p->drain_s = dice_log(d, 0.4, 3.0);
    p->prime_s = dice_range(d, 0.3, 5.0);
}

static void *third_new(struct dice *d, const struct boat_plan *plan)
{
    struct third *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    s->engines = plan->engines;
    draw_engine(d, &s->p[0]);
    s->p[0].dry_gas = plan->dry_gas;
    if (plan->rated_rpm > 0.0)
        s->p[0].rated_rpm = plan->rated_rpm;
    for (int i = 1; i < 2 || i < s->engines; i++) { /* a second is drawn even where there is none */
        s->p[i] = s->p[0];
        s->p[i].slip *= dice_range(d, 0.7, 1.3);
        s->p[i].litres_per_kw_min *= dice_range(d, 0.92, 1.08);
        s->p[i].cell_tau *= dice_range(d, 0.8, 1.25);
    }
    s->space_c = plan->air_c;
    for (int i = 0; i < BOAT_ENGINES; i++) {
        struct third_engine *e = &s->e[i];
        e->coolant_c = e->oil_c = e->gas_c = plan->air_c;
        for (int k = 0; k < DELAY; k++)
            e->slug[k] = plan->air_c;
        for (int k = 0; k < CELLS; k++)
            e->cell[k] = plan->air_c;
    }
    return s;
}

/* What a slug comes to: gas_kw of heat over the water's temperature, into flow kg/s of it and
 * gas_kg_s of gas. Above boiling what is left of the heat goes into steam, then into gas alone. */
static double slug_c(double water_c, double flow, double gas_kg_s, double gas_kw)
{
    double warmed = water_c + gas_kw / (4.0 * flow + 1.1 * gas_kg_s + 1e-9);
    if (warmed <= 95.0)
        return warmed;
    double over = gas_kw - (95.0 - water_c) * (4.0 * flow + 1.1 * gas_kg_s);
    double steam = flow * 2257.0;
    return over < steam ? 95.0 + 5.0 * over / steam
                        : 100.0 + (over - steam) / (1.1 * gas_kg_s + 1e-9);
}

static void burn(const struct third_params *p, struct third_engine *e,
                 const struct boat_engine_inputs *in, double dt)
{
    double order = in->run ? fmax(in->share * p->rated_rpm, p->idle_rpm) : 0.0;
    e->rpm += boat_lag(&e->speed, dt, p->speed_tau) * (order - e->rpm);
    double n = e->rpm / p->rated_rpm;
    double torque = in->brake > 0.0 ? in->brake : in->neutral ? 0.04 : n * n * in->load_factor;
    e->load = in->run ? fmin(1.0, 0.02 + torque) : 0.0;
    e->boost += boat_lag(&e->turbo, dt, p->turbo_tau) * (e->load - e->boost);
}

static void step_engine(struct third *s, int i, const struct boat_engine_inputs *in, double sea_c,
                        double dt)
{
    const struct third_params *p = &s->p[i];
    struct third_engine *e = &s->e[i];
    if (in->run && !e->ran)
        e->prime_left = p->prime_s;
    e->ran = in->run;
    e->prime_left -= dt;
    burn(p, e, in, dt);
    double n = e->rpm / p->rated_rpm;
    double fuel_kw =
        in->run ? 2.6 * p->rated_kw * n * (p->idle_fuel + (1.0 - p->idle_fuel) * e->boost) : 0.0;
    double wet = in->run && e->prime_left <= 0.0 ? in->water : 0.0;
    e->wet += boat_lag(&e->drain, dt, p->drain_s) * (wet - e->wet);
    /* A flexible impeller loses more past its vanes the slower it turns, but never all: it primes
     * itself at idling speed. */
    double flow =
        p->rated_kw * p->litres_per_kw_min / 60.0 * n * (1.0 - 2.0 * p->slip * (1.0 - n)) * e->wet;
    double gas = p->rated_kw * 0.0016 * n * (0.6 + 0.4 * e->boost);
    double gas_c = 90.0 + p->gas_part * fuel_kw / (1.1 * gas + 1e-6);
    e->gas_c += boat_lag(&e->gas, dt, in->run ? 6.0 : 200.0) *
                ((in->run ? fmin(gas_c, 650.0) : s->space_c) - e->gas_c);
    /* Coolant gives its heat to the raw water where the thermostat lets it. */
    double open = fmin(1.0, fmax(0.0, (e->coolant_c - p->stat_c) / STAT_OPEN_K));
    double shed = open * p->exchange * p->rated_kw * fmax(0.0, e->coolant_c - sea_c) *
                  in->coolant_pump * fmin(1.0, 3.0 * e->wet);
    double lost = 0.0006 * p->rated_kw * (e->coolant_c - s->space_c);
    double heats = p->jacket_part * fuel_kw * (0.35 + 0.65 * in->coolant_pump);
    e->coolant_c += dt * (heats - shed - lost) / (p->coolant_kj_per_kw * p->rated_kw);
    e->oil_c += dt / 250.0 * (e->coolant_c + (in->run ? 6.0 + 14.0 * n * n : 0.0) - e->oil_c);
    double water_c = sea_c + (flow > 1e-6 ? fmin(shed / (4.0 * flow), 45.0) : 20.0);
    double gas_kw = 1.1 * gas * fmax(0.0, e->gas_c - water_c);
    double now = in->run ? slug_c(water_c, flow, gas, gas_kw) : s->space_c;
    if (p->dry_gas)
        now = e->gas_c;
    e->slug[e->at] = now;
    int late = (int)(p->delay_s / dt);
    double comes = e->slug[(e->at + DELAY - (late < DELAY ? late : DELAY - 1)) % DELAY];
    e->at = (e->at + 1) % DELAY;
    comes += p->seep * fmax(0.0, e->gas_c - comes);
    double tau = p->cell_tau * (in->run ? 1.0 + p->film * (1.0 - fmin(1.0, 4.0 * e->wet)) : 40.0);
    for (int k = 0; k < CELLS; k++) {
        e->cell[k] += boat_lag(&e->wall, dt, tau) * (comes - e->cell[k]);
        comes = e->cell[k];
    }
}

static void third_step(void *boat, const struct boat_inputs *in, double dt)
{
    struct third *s = boat;
    double heat = 0.0;
    for (int i = 0; i < s->engines; i++) {
        step_engine(s, i, &in->engine[i], in->sea_c, dt);
        heat += fmax(0.0, s->e[i].coolant_c - 30.0) / s->engines;
    }
    s->space_c += dt / 800.0 * (in->air_c + 0.25 * heat - s->space_c);
    s->fire_k += dt * in->fire_k_per_min / 60.0;
}

static struct boat_outputs third_outputs(const void *boat)
{
    const struct third *s = boat;
    struct boat_outputs o = {.space_c = s->space_c + s->fire_k};
    for (int i = 0; i < BOAT_ENGINES; i++)
        o.engine[i] = (struct boat_engine_outputs){.rpm = s->e[i].rpm,
                                                   .load = s->e[i].load,
                                                   .exhaust_c = s->e[i].cell[CELLS - 1],
                                                   .coolant_c = s->e[i].coolant_c,
                                                   .oil_c = s->e[i].oil_c};
    return o;
}

const struct boat_kind boat_third = {third_new, sizeof(struct third), third_step, third_outputs};
