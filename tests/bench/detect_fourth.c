/* The fourth model of the detection bench. Torque comes from a propeller that slips, so that a hull
 * slow to gather way overloads its engines; gas is what the cylinders breathe; a flexible
 * impeller's flow levels off with speed; the probe sits outside on the wall of a hose, through
 * which heat is conducted, and sees a film of water and, between, the gas; the thermostat's wax is
 * late, and hunts. Nothing of it is shared with the others. Figures without a source are common
 * practice. */
#include "detect_boat.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

static void fourth_step(void *boat, const struct boat_inputs *in, double dt);

#define NODES         5
#define WARMEST_SEA_C 33.0
#define STAT_SPAN_K   9.0
#define HEALTHY_MOST  88.0 /* wet exhaust at full throttle, or the boat is drawn again */
#define DRAWS         50

struct fourth_params {
    double rated_kw, rated_rpm, idle_rpm, speed_tau;
    double litres, breath, boost,
        boost_tau;                /* of a cylinder charge, at full boost that much more */
    double efficiency, friction;  /* friction of rated power, at rated speed */
    double gas_part, jacket_part; /* of the fuel's heat */
    double flow, flow_bend;       /* raw water kg/s at rated speed */
    double drain_s, refill_s, prime_s;
    double film_gap, wall_s, outer; /* gas the probe sees; the wall's whole time; loss outside */
    double slip;
    double stat_c, wax_s, coolant_kj, cooler_kw_k, oil_s;
};
struct fourth_engine {
    double rpm, torque, charge, water, prime_left, node[NODES], coolant_c, wax, oil_c, gas_c;
    bool ran;
    struct boat_lag rpm_lag, charge_lag, wax_lag, oil_lag, water_lag, gas_lag;
};
struct fourth {
    int engines;
    bool dry_gas;
    struct fourth_params p[BOAT_ENGINES];
    struct fourth_engine e[BOAT_ENGINES];
    double way, hull_s; /* the boat's speed, of that at full throttle */
    double space_c, space_s, space_rise_k, fire_k;
    struct boat_lag way_lag, space_lag;
};

static void draw_engine(struct dice *d, struct fourth_params *p)
{
    p->rated_kw = dice_log(d, 8.0, 250.0);
    p->rated_rpm = dice_range(d, 2200.0, 3900.0);
    p->idle_rpm = dice_range(d, 620.0, 900.0);
    p->speed_tau = dice_range(d, 0.4, 2.0);
    p->litres = p->rated_kw / dice_range(d, 18.0, 40.0);
    p->breath = dice_range(d, 0.78, 0.92);
    p->boost = dice_chance(d, 0.6) ? dice_range(d, 0.5, 1.4) : 0.0;
    p->boost_tau = dice_log(d, 1.0, 6.0);
    p->efficiency = dice_range(d, 0.34, 0.42);
    p->friction = dice_range(d, 0.15, 0.30);
    p->gas_part = dice_range(d, 0.26, 0.33);
    p->jacket_part = dice_range(d, 0.20, 0.28);
    p->flow = p->rated_kw * dice_range(d, 0.6, 1.1) / 60.0;
    p->flow_bend = dice_range(d, 0.5, 1.5);
    p->drain_s = dice_log(d, 0.5, 3.0);
    p->refill_s = dice_log(d, 0.3, 1.5);
    p->prime_s = dice_range(d, 0.3, 6.0);
    p->film_gap = dice_range(d, 0.01, 0.06);
    p->wall_s = dice_log(d, 5.0, 50.0);
    p->outer = dice_range(d, 0.0, 0.15);
    p->slip = dice_range(d, 0.2, 0.7);
    p->stat_c = dice_range(d, 72.0, 85.0);
    p->wax_s = dice_log(d, 5.0, 25.0);
    p->coolant_kj = p->rated_kw * dice_range(d, 2.0, 4.0);
    p->cooler_kw_k = p->rated_kw / p->efficiency * p->jacket_part * dice_range(d, 1.15, 2.0) /
                     (p->stat_c + STAT_SPAN_K - WARMEST_SEA_C);
    p->oil_s = dice_range(d, 150.0, 400.0);
}

static void vary(struct dice *d, struct fourth_params *p)
{
    p->flow *= dice_range(d, 0.92, 1.08);
    p->film_gap *= dice_range(d, 0.75, 1.3);
    p->wall_s *= dice_range(d, 0.85, 1.18);
    p->stat_c += dice_range(d, -2.0, 2.0);
    p->gas_part *= dice_range(d, 0.96, 1.04);
}

static void draw(struct fourth *s, struct dice *d, const struct boat_plan *plan)
{
    *s = (struct fourth){.engines = plan->engines, .dry_gas = plan->dry_gas};
    draw_engine(d, &s->p[0]);
    if (plan->rated_rpm > 0.0)
        s->p[0].rated_rpm = plan->rated_rpm;
    for (int i = 1; i < s->engines; i++) {
        s->p[i] = s->p[0];
        vary(d, &s->p[i]);
    }
    s->hull_s = dice_log(d, 5.0, 40.0);
    s->space_c = plan->air_c;
    s->space_s = dice_range(d, 400.0, 1500.0);
    s->space_rise_k = dice_range(d, 8.0, 22.0);
    for (int i = 0; i < BOAT_ENGINES; i++) {
        struct fourth_engine *e = &s->e[i];
        e->coolant_c = e->oil_c = e->gas_c = plan->air_c;
        for (int k = 0; k < NODES; k++)
            e->node[k] = plan->air_c;
    }
}

static bool plausible(const struct fourth *s, const struct boat_plan *plan)
{
    struct fourth t = *s;
    struct boat_inputs in = {.sea_c = plan->sea_c, .air_c = plan->air_c};
    for (int i = 0; i < s->engines; i++)
        in.engine[i] = (struct boat_engine_inputs){
            .run = true, .share = 1.0, .water = 1.0, .coolant_pump = 1.0, .load_factor = 1.2};
    for (int k = 0; k < 3600; k++)
        fourth_step(&t, &in, 0.25);
    for (int i = 0; i < s->engines; i++)
        if (t.e[i].node[NODES - 1] > HEALTHY_MOST && !s->dry_gas)
            return false;
    return true;
}

static void *fourth_new(struct dice *d, const struct boat_plan *plan)
{
    struct fourth *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    int tries = 0;
    do
        draw(s, d, plan);
    while (!plausible(s, plan) && ++tries < DRAWS);
    return s;
}

static double toward(struct boat_lag *lag, double from, double to, double dt, double tau)
{
    return from + boat_lag(lag, dt, tau) * (to - from);
}

/* Torque of full: what the propeller takes, more of it while the boat has less way than her
 * engines turn for; no more than there is air to burn. */
static void turn(struct fourth *s, int i, const struct boat_engine_inputs *in, double dt)
{
    const struct fourth_params *p = &s->p[i];
    struct fourth_engine *e = &s->e[i];
    double order = in->run ? fmax(in->share * p->rated_rpm, p->idle_rpm) : 0.0;
    e->rpm = toward(&e->rpm_lag, e->rpm, order, dt, p->speed_tau);
    double n = e->rpm / p->rated_rpm;
    double behind = n > 0.05 ? fmax(-0.6, (n - s->way) / n) : 0.0;
    double asked = in->brake > 0.0 ? in->brake
                   : in->neutral   ? 0.03
                                   : n * n * in->load_factor * (1.0 + p->slip * behind);
    e->charge = toward(&e->charge_lag, e->charge, fmin(1.0, asked * n), dt, p->boost_tau);
    double most = p->boost > 0.0 ? 0.6 + 0.5 * e->charge : 1.1;
    e->torque = in->run ? fmin(asked, most) : 0.0;
}

/* What water and gas come to when the gas gives its heat: warm, boiling, or gas alone. */
static double mixed_c(double water_c, double flow, double gas, double gas_c)
{
    double heat = 1.1 * gas * fmax(0.0, gas_c - water_c);
    double warms = flow * 4.0 + 1.1 * gas + 1e-9, boils = (98.0 - water_c) * warms;
    if (heat <= boils)
        return water_c + heat / warms;
    double steam = flow * 2257.0, left = heat - boils;
    return left < steam ? 98.0 + 4.0 * left / steam : 102.0 + (left - steam) / (1.1 * gas + 1e-9);
}

static void step_coolant(struct fourth *s, int i, const struct boat_engine_inputs *in,
                         double fuel_kw, double sea_c, double dt, double *shed)
{
    const struct fourth_params *p = &s->p[i];
    struct fourth_engine *e = &s->e[i];
    double opens = fmin(1.0, fmax(0.0, (e->coolant_c - p->stat_c) / STAT_SPAN_K));
    e->wax = toward(&e->wax_lag, e->wax, opens, dt, p->wax_s);
    double cooled = fmin(1.0, 2.0 * e->water) * in->coolant_pump;
    *shed = e->wax * p->cooler_kw_k * fmax(0.0, e->coolant_c - sea_c) * cooled;
    double lost = 0.0005 * p->rated_kw * (e->coolant_c - s->space_c);
    double heats = p->jacket_part * fuel_kw * (0.4 + 0.6 * in->coolant_pump);
    e->coolant_c += dt * (heats - *shed - lost) / p->coolant_kj;
    double n = e->rpm / p->rated_rpm;
    e->oil_c = toward(&e->oil_lag, e->oil_c,
                      e->coolant_c + (in->run ? 4.0 + 18.0 * n * e->torque : 0.0), dt, p->oil_s);
}

/* Heat through the wall of the hose, from the wet side to the probe. */
static void conduct(struct fourth *s, int i, double inside_c, bool run, double dt)
{
    const struct fourth_params *p = &s->p[i];
    struct fourth_engine *e = &s->e[i];
    double rate = 0.5 * NODES * NODES / p->wall_s * (run ? 1.0 : 0.05);
    double before[NODES];
    for (int k = 0; k < NODES; k++)
        before[k] = e->node[k];
    for (int k = 0; k < NODES; k++) {
        double in_c = k == 0 ? inside_c : before[k - 1];
        double out =
            k == NODES - 1 ? p->outer * (s->space_c - before[k]) : before[k + 1] - before[k];
        e->node[k] += fmin(0.4, rate * dt) * (in_c - before[k] + out);
    }
}

static void step_engine(struct fourth *s, int i, const struct boat_engine_inputs *in, double sea_c,
                        double dt)
{
    const struct fourth_params *p = &s->p[i];
    struct fourth_engine *e = &s->e[i];
    if (in->run && !e->ran)
        e->prime_left = p->prime_s;
    e->ran = in->run;
    e->prime_left -= dt;
    turn(s, i, in, dt);
    double n = e->rpm / p->rated_rpm;
    double fuel_kw =
        in->run ? p->rated_kw * n * (e->torque / p->efficiency + 2.0 * p->friction) : 0.0;
    double wet = in->run && e->prime_left <= 0.0 ? in->water : 0.0;
    e->water = toward(&e->water_lag, e->water, wet, dt, wet > e->water ? p->refill_s : p->drain_s);
    double flow =
        p->flow * (1.0 - exp(-n / p->flow_bend)) / (1.0 - exp(-1.0 / p->flow_bend)) * e->water;
    double gas =
        1.18e-3 * p->litres / 2.0 * e->rpm / 60.0 * p->breath * (1.0 + p->boost * e->charge);
    double hot_c = s->space_c + p->gas_part * fuel_kw / (1.1 * gas + 1e-6);
    e->gas_c = in->run ? toward(&e->gas_lag, e->gas_c, fmin(hot_c, 680.0), dt, 5.0)
                       : toward(&e->gas_lag, e->gas_c, s->space_c, dt, 240.0);
    double shed;
    step_coolant(s, i, in, fuel_kw, sea_c, dt, &shed);
    double water_c = sea_c + (flow > 1e-6 ? fmin(40.0, shed / (4.0 * flow)) : 15.0);
    double mix = in->run ? mixed_c(fmin(water_c, 90.0), flow, gas, e->gas_c) : s->space_c;
    double inside = mix + (in->run ? p->film_gap * fmax(0.0, e->gas_c - mix) : 0.0);
    conduct(s, i, s->dry_gas ? e->gas_c : inside, in->run, dt);
}

static void fourth_step(void *boat, const struct boat_inputs *in, double dt)
{
    struct fourth *s = boat;
    double drives = 0.0, warm = 0.0;
    for (int i = 0; i < s->engines; i++) {
        step_engine(s, i, &in->engine[i], in->sea_c, dt);
        if (in->engine[i].run && !in->engine[i].neutral)
            drives += s->e[i].rpm / s->p[i].rated_rpm / s->engines;
        warm += fmax(0.0, s->e[i].coolant_c - 40.0) / 45.0 / s->engines;
    }
    s->way = toward(&s->way_lag, s->way, drives, dt, s->hull_s);
    s->space_c =
        toward(&s->space_lag, s->space_c, in->air_c + s->space_rise_k * warm, dt, s->space_s);
    s->fire_k += dt * in->fire_k_per_min / 60.0;
}

static struct boat_outputs fourth_outputs(const void *boat)
{
    const struct fourth *s = boat;
    struct boat_outputs o = {.space_c = s->space_c + s->fire_k};
    for (int i = 0; i < s->engines; i++)
        o.engine[i] = (struct boat_engine_outputs){.rpm = s->e[i].rpm,
                                                   .load = fmin(1.0, s->e[i].torque),
                                                   .exhaust_c = s->e[i].node[NODES - 1],
                                                   .coolant_c = s->e[i].coolant_c,
                                                   .oil_c = s->e[i].oil_c};
    return o;
}

const struct boat_kind boat_fourth = {fourth_new, sizeof(struct fourth), fourth_step,
                                      fourth_outputs};
