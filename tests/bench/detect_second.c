/* The second model: mixing by heat content with boiling, a wall and a place in series, coolant as
 * two masses behind a linear thermostat, oil as one that friction heats and the block (or a cooler
 * in the raw water) cools, engine space as one mass. Deliberately not the drill's
 * equations: no heat-transfer coefficients, no elbow iron, other lags, other load law. */
#include "detect_boat.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

static void second_step(void *boat, const struct boat_inputs *in, double dt);

struct second_engine_params {
    double rated_kw, rated_rpm, idle_rpm, speed_tau, load_power, idle_load;
    double gas_base_c, gas_span_c, gas_tau, gas_kg_per_kw;
    double flow_kg_s, flow_power, drain_tau, prime_s;
    double wall_tau, dry_slower, wall_to_room, bare_gas;
    double jacket_share, head_kj, block_kj, stat_c, stat_span, couple_kw;
    bool dry_gas;
    double oil_kj, oil_friction, oil_couple, oil_cooler; /* per rated kW */
};
struct second_engine {
    double oil_c;
    double rpm, load, gas_c, flow, wall_c, head_c, block_c, prime_left;
    bool ran;
    struct boat_lag speed, gas, drain, wall;
};
struct second {
    int engines;
    struct second_engine_params p[BOAT_ENGINES];
    struct second_engine e[BOAT_ENGINES];
    double space_c, space_tau, space_gain, soak_gain, fire_k, air_c;
};

static void draw_engine(struct dice *d, struct second_engine_params *p, bool wide)
{
    double w = wide ? 1.5 : 1.0;
    p->rated_kw = dice_log(d, 25.0, 350.0);
    p->rated_rpm = dice_range(d, 2300.0, 4000.0);
    p->idle_rpm = dice_range(d, 600.0, 850.0);
    p->speed_tau = dice_range(d, 0.5, 2.0 * w);
    p->load_power = dice_range(d, 2.4, 3.2);
    p->idle_load = dice_range(d, 0.02, 0.07);
    p->gas_base_c = dice_range(d, 110.0, 170.0);
    p->gas_span_c = dice_range(d, 230.0, 370.0);
    p->gas_tau = dice_log(d, 3.0 / w, 18.0 * w);
    p->gas_kg_per_kw = 5.6 / 3600.0 * dice_range(d, 0.85, 1.2);
    p->flow_kg_s = p->rated_kw * dice_range(d, 0.6, 1.2) / 60.0;
    p->flow_power = dice_range(d, 0.85, 1.1);
    p->drain_tau = dice_log(d, 0.5, 3.0 * w);
    p->prime_s = dice_range(d, 0.5, 5.0 * w);
    p->wall_tau = dice_log(d, 8.0 / w, 60.0 * w);
    p->dry_slower = dice_range(d, 1.0, 3.0);
    p->wall_to_room = dice_chance(d, 0.5) ? dice_range(d, 0.0, 0.3) : 0.0;
    p->bare_gas = dice_chance(d, 0.5) ? dice_range(d, 0.0, 0.08) : 0.0;
    p->jacket_share = dice_range(d, 0.2, 0.28);
    p->head_kj = p->rated_kw * dice_range(d, 1.0, 1.8);
    p->block_kj = p->rated_kw * dice_range(d, 0.7, 1.3);
    p->stat_c = dice_range(d, 74.0, 86.0);
    p->stat_span = dice_range(d, 6.0, 14.0);
    p->couple_kw = p->rated_kw * dice_range(d, 0.06, 0.12);
    struct dice own = {.state = d->state ^ 0x011}; /* so that all else is drawn as without oil */
    p->oil_kj = dice_range(&own, 0.15, 0.35);
    p->oil_friction = dice_range(&own, 0.018, 0.03);
    p->oil_couple = dice_range(&own, 0.0009, 0.0015);
    p->oil_cooler = dice_chance(&own, 0.5) ? dice_range(&own, 0.00003, 0.00012) : 0.0;
}

static void draw(struct second *s, struct dice *d, const struct boat_plan *plan)
{
    *s = (struct second){0};
    s->engines = plan->engines;
    draw_engine(d, &s->p[0], plan->wide);
    s->p[0].dry_gas = plan->dry_gas;
    if (plan->rated_rpm > 0.0)
        s->p[0].rated_rpm = plan->rated_rpm;
    /* Near twins, never the same; a second is drawn even where there is none. */
    for (int i = 1; i < 2 || i < s->engines; i++) {
        s->p[i] = s->p[0];
        s->p[i].flow_kg_s *= dice_range(d, 0.9, 1.1);
        s->p[i].gas_span_c *= dice_range(d, 0.95, 1.05);
        s->p[i].wall_tau *= dice_range(d, 0.85, 1.18);
        s->p[i].stat_c += dice_range(d, -2.0, 2.0);
        s->p[i].bare_gas *= dice_range(d, 0.7, 1.3);
    }
    s->air_c = plan->air_c;
    double cold = dice_chance(d, 0.7) ? plan->air_c : plan->air_c + dice_range(d, 0.0, 30.0);
    for (int i = 0; i < BOAT_ENGINES; i++) {
        struct second_engine *e = &s->e[i];
        e->wall_c = plan->air_c;
        e->gas_c = e->head_c = e->block_c = e->oil_c = fmin(cold, 70.0);
    }
    s->space_c = plan->air_c;
    s->space_tau = dice_range(d, 300.0, 1200.0);
    s->space_gain = dice_range(d, 8.0, 22.0);
    s->soak_gain = dice_range(d, 3.0, 12.0);
}

/* Exhaust after 20 min at cruise: boats outside 25..85 °C, or over 88 °C after five more minutes at
 * full throttle, are drawn again. */
static bool plausible(const struct second *s, const struct boat_plan *plan)
{
    struct second t = *s;
    struct boat_inputs in = {.sea_c = plan->sea_c, .air_c = plan->air_c};
    for (int i = 0; i < BOAT_ENGINES; i++)
        in.engine[i] = (struct boat_engine_inputs){
            .run = true, .share = 0.8, .water = 1.0, .coolant_pump = 1.0, .load_factor = 1.0};
    for (int k = 0; k < 2400; k++)
        second_step(&t, &in, 0.5);
    double c = t.e[0].wall_c;
    for (int i = 0; i < BOAT_ENGINES; i++)
        in.engine[i].share = 1.0;
    for (int k = 0; k < 600; k++)
        second_step(&t, &in, 0.5);
    return plan->dry_gas || (c > 25.0 && c < 85.0 && t.e[0].wall_c < 88.0);
}

static void *second_new(struct dice *d, const struct boat_plan *plan)
{
    struct second *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    do
        draw(s, d, plan);
    while (!plausible(s, plan));
    return s;
}

/* Temperature of gas and water let together, the water boiling where there is too little. */
static double mixed_c(double gas_kg_s, double gas_c, double flow, double water_c)
{
    double heat = gas_kg_s * 1.10 * (gas_c - 100.0); /* kW above boiling */
    double need = flow * 4.0 * (100.0 - water_c);
    if (heat <= need) {
        double cold = gas_kg_s * 1.10 + flow * 4.0;
        return (gas_kg_s * 1.10 * gas_c + flow * 4.0 * water_c) / fmax(cold, 1e-9);
    }
    double left = heat - need, steam = flow * 2257.0;
    if (left <= steam)
        return 100.0;
    return 100.0 + (left - steam) / (gas_kg_s * 1.10 + flow * 2.0);
}

static void step_engine(struct second *s, int i, const struct boat_engine_inputs *in, double sea_c,
                        double dt)
{
    const struct second_engine_params *p = &s->p[i];
    struct second_engine *e = &s->e[i];
    double order = in->run ? fmax(in->share * p->rated_rpm, p->idle_rpm) : 0.0;
    if (in->run && !e->ran)
        e->prime_left = p->prime_s;
    e->ran = in->run;
    e->rpm += boat_lag(&e->speed, dt, p->speed_tau) * (order - e->rpm);
    double share = e->rpm / p->rated_rpm;
    double load = in->run ? p->idle_load * share : 0.0;
    if (in->run && in->brake > 0.0)
        load += in->brake * share * (1.0 - p->idle_load);
    else if (in->run && !in->neutral)
        load += pow(share, p->load_power) * in->load_factor * (1.0 - p->idle_load);
    e->load = fmin(load, 1.0);
    double fuel_kw = 2.55 * p->rated_kw * (e->load + 0.06 * share);
    double gas_to = in->run ? p->gas_base_c + p->gas_span_c * pow(e->load / fmax(share, 0.2), 0.8)
                            : 0.5 * (s->space_c + e->head_c);
    e->gas_c += boat_lag(&e->gas, dt, in->run ? p->gas_tau : 120.0) * (gas_to - e->gas_c);
    double gas = p->gas_kg_per_kw * p->rated_kw * share * (0.55 + 0.45 * e->load);
    double flow_to = 0.0;
    if (in->run && e->prime_left <= 0.0)
        flow_to = p->flow_kg_s * pow(share, p->flow_power) * in->water;
    e->prime_left -= dt;
    e->flow += boat_lag(&e->drain, dt, p->drain_tau) * (flow_to - e->flow);
    /* Coolant: head and block, heat to the raw water behind the thermostat. */
    double jacket = p->jacket_share * fuel_kw;
    double open = fmin(1.0, fmax(0.0, (e->head_c - p->stat_c) / p->stat_span));
    double wet = p->flow_kg_s > 0.0 ? e->flow / p->flow_kg_s : 0.0;
    double reach = fmin(1.0, 0.25 + 1.5 * sqrt(wet)) * (wet > 0.01 ? 1.0 : 0.0);
    double shed = open * p->couple_kw * 0.22 * (e->block_c - sea_c) * reach * in->coolant_pump;
    double couple = p->couple_kw * (0.03 + share * in->coolant_pump) * (e->head_c - e->block_c);
    e->head_c += dt * (jacket - couple) / p->head_kj;
    e->block_c +=
        dt * (couple - shed - 0.0003 * p->rated_kw * (e->block_c - s->space_c)) / p->block_kj;
    /* Oil: hot heads heat it where the coolant stands. */
    double rubbed = p->oil_friction * share * share;
    double carried = p->oil_couple * (e->oil_c - fmax(e->block_c, e->head_c - 25.0));
    double cooled = p->oil_cooler * reach * (e->oil_c - sea_c);
    e->oil_c += dt * (rubbed - carried - cooled) / p->oil_kj;
    /* Exhaust. */
    double water_c =
        sea_c + (e->flow > 0.02 * p->flow_kg_s ? fmin(shed / (e->flow * 4.0), 40.0) : 20.0);
    double mix = e->gas_c;
    if (!p->dry_gas && gas > 1e-6)
        mix = mixed_c(gas, e->gas_c, e->flow, fmin(water_c, 95.0));
    if (!in->run)
        mix = s->space_c + 0.2 * (e->gas_c - s->space_c);
    double dry = 1.0 - fmin(1.0, 4.0 * wet);
    double tau = p->dry_gas ? 4.0 : p->wall_tau * (1.0 + (p->dry_slower - 1.0) * dry);
    if (!in->run)
        tau = 300.0;
    double to = mix + p->bare_gas * (e->gas_c - mix) + p->wall_to_room * (s->space_c - mix);
    e->wall_c += boat_lag(&e->wall, dt, tau) * (to - e->wall_c);
}

static void second_step(void *boat, const struct boat_inputs *in, double dt)
{
    struct second *s = boat;
    double warm = 0.0, soak = 0.0;
    for (int i = 0; i < s->engines; i++) {
        step_engine(s, i, &in->engine[i], in->sea_c, dt);
        double hot = fmax(0.0, (s->e[i].block_c - 40.0) / 45.0) / s->engines;
        if (in->engine[i].run)
            warm += hot * (0.4 + 0.6 * s->e[i].load);
        else
            soak += hot;
    }
    double to = in->air_c + s->space_gain * warm + (s->space_gain * 0.5 + s->soak_gain) * soak;
    s->space_c += dt / s->space_tau * (to - s->space_c);
    s->fire_k += dt * in->fire_k_per_min / 60.0;
}

static struct boat_outputs second_outputs(const void *boat)
{
    const struct second *s = boat;
    struct boat_outputs o = {.space_c = s->space_c + s->fire_k};
    for (int i = 0; i < BOAT_ENGINES; i++)
        o.engine[i] = (struct boat_engine_outputs){.rpm = s->e[i].rpm,
                                                   .load = s->e[i].load,
                                                   .exhaust_c = s->e[i].wall_c,
                                                   .coolant_c = s->e[i].head_c,
                                                   .oil_c = s->e[i].oil_c};
    return o;
}

const struct boat_kind boat_second = {second_new, sizeof(struct second), second_step,
                                      second_outputs};
