#include "drill/model.h"

#include <math.h>

#include "base/banned.h"

#define FUEL_MJ_PER_KG    42.7 /* lower heating value, diesel (ISO 3046-1 reference, from memory) */
#define FUEL_KG_PER_L     0.84 /* EN 590: 0.820..0.845 */
#define GAS_KJ_PER_KGK    1.10
#define AIR_KJ_PER_KGK    1.005
#define SEA_KJ_PER_KGK    3.99
#define SEA_KG_PER_L      1.025
#define IRON_KJ_PER_KGK   0.459
#define COOLANT_KJ_PER_LK 3.6    /* half water, half glycol */
#define STEAM_KJ_PER_KG   2257.0 /* to boil water away at 100 °C */

static double clamp(double v, double low, double high)
{
    return v < low ? low : v > high ? high : v;
}

/* First-order lag by one implicit step: stable for any dt. */
static double follow(double now, double target, double tau_s, double dt_s)
{
    return now + (target - now) * dt_s / (tau_s + dt_s);
}

/* A node with heat capacity c (kJ/K) that is pulled by conductances (sum g, kW/K, towards
 * gt/g) and heated by q kW: one implicit step. */
static double node(double now, double c, double g, double gt, double q, double dt_s)
{
    return (c * now + dt_s * (gt + q)) / (c + dt_s * g);
}

double drill_propeller_law(double share)
{
    return share * share * share;
}

/* Willans line: what the engine makes inside is what it gives plus its own friction and pumps,
 * and burns in proportion. */
double drill_fuel_kgph(const struct drill_engine_params *e, double power_kw, double rpm)
{
    double x = rpm / e->rated_rpm;
    double friction_kw = e->rated_kw * (e->friction_share * x + 0.01);
    double inside_g_kwh = e->bsfc_g_kwh / (1.01 + e->friction_share);

    return (power_kw + friction_kw) * inside_g_kwh / 1000;
}

double drill_speed_kn(const struct drill_params *p, double share)
{
    double x = clamp(share, 0, 1.2);
    /* Below the hump speed follows the revs of a hull that cannot climb its own wave; above it
     * the hull lifts and the rest comes. */
    double lift = 1 / (1 + exp(-(x - 0.72) / 0.07));
    double low = x * (1 - p->hump_share);

    return p->speed_full_kn * (low + (x - low) * lift);
}

/* --- the engine's own running ----------------------------------------------------------- */

static void step_speed(struct drill_engine *s, const struct drill_engine_params *e,
                       const struct drill_engine_inputs *in, double dt_s)
{
    if (!in->run) {
        s->cranking_s = 0;
        s->run_s = 0;
        s->rpm = s->rpm < 5 ? 0 : follow(s->rpm, -0.25 * e->idle_rpm, 1.6, dt_s);
        s->rpm = s->rpm < 0 ? 0 : s->rpm;
        return;
    }
    if (s->run_s == 0 && s->rpm < 0.3 * e->idle_rpm && s->cranking_s < 1.5) {
        s->cranking_s += dt_s;
        s->rpm = follow(s->rpm, 0.26 * e->idle_rpm, 0.2, dt_s);
        return;
    }
    s->cranking_s = 0;
    s->run_s += dt_s;
    s->rpm = follow(s->rpm, clamp(in->order_rpm, e->idle_rpm, e->rated_rpm), e->speed_tau_s, dt_s);
}

/* What the propeller asks at this speed of shaft and boat: the law, and more while the boat has
 * yet to gather way. */
static double propeller_kw(const struct drill_params *p, const struct drill_engine_params *e,
                           const struct drill_engine *s, double speed_kn)
{
    double x = s->rpm / e->rated_rpm;
    double settled = drill_speed_kn(p, x);
    double way = s->gear == DRILL_ASTERN ? -speed_kn : speed_kn;
    double slip = settled > 0.1 ? clamp(1 - way / settled, -0.3, 1.0) : 0;
    double most = e->rated_kw * clamp(1.12 * x, 0, 1);

    if (s->gear == DRILL_NEUTRAL)
        return 0;
    return clamp(e->rated_kw * drill_propeller_law(x) * (1 + p->hull) * (1 + 0.35 * slip), 0, most);
}

static void step_burn(struct drill_engine *s, const struct drill_params *p,
                      const struct drill_engine_params *e, double speed_kn, double dt_s)
{
    double x = s->rpm / e->rated_rpm;
    bool fires = s->run_s > 0;
    double most = e->rated_kw * clamp(1.12 * x, 0.02, 1);

    s->power_kw = fires ? propeller_kw(p, e, s, speed_kn) : 0;
    s->fuel_kgph = fires ? drill_fuel_kgph(e, s->power_kw, s->rpm) : 0;
    s->fuel_lph = s->fuel_kgph / FUEL_KG_PER_L;
    s->fuel_used_l += s->fuel_lph * dt_s / 3600;
    s->load = fires ? clamp((s->power_kw + 0.02 * e->rated_kw) / most, 0, 1) : 0;
    s->torque = x > 0.05 ? clamp(s->power_kw / (e->rated_kw * x), 0, 1.2) : 0;
}

static void step_gas(struct drill_engine *s, const struct drill_engine_params *e, double air_c,
                     double dt_s)
{
    double x = s->rpm / e->rated_rpm;
    double share = s->power_kw / e->rated_kw;
    double rated_fuel_kgps = e->bsfc_g_kwh * e->rated_kw / 3.6e6;
    double boost = e->unloaded_air + (1 - e->unloaded_air) * clamp(share, 0, 1.1);
    double air_kgps = e->air_fuel * rated_fuel_kgps * x * boost;
    double heat_kw = e->gas_share * s->fuel_kgph / 3600 * FUEL_MJ_PER_KG * 1000;
    double target_c;

    s->boost_kpa = 101 + 140 * (1 - e->unloaded_air) * clamp(share, 0, 1.1);
    s->gas_kgps = air_kgps + s->fuel_kgph / 3600;
    if (s->gas_kgps < 1e-5) {
        /* No flow: the gas in the manifold takes the iron's temperature. */
        s->gas_c = follow(s->gas_c, 0.6 * s->metal_c + 0.4 * air_c, 400, dt_s);
        return;
    }
    target_c = air_c + heat_kw / (s->gas_kgps * GAS_KJ_PER_KGK);
    s->gas_c = follow(s->gas_c, target_c, e->gas_tau_s, dt_s);
}

/* --- coolant ---------------------------------------------------------------------------- */

/* Heat the exchanger passes to raw water, as conductance from coolant to sea. Mean-temperature
 * form: 1/G = 1/UA + 1/(2 Cr) + 1/(2 Cc), never more than the weaker stream can carry. */
static double exchanger_kw_per_k(const struct drill_engine_params *e, double raw_kw_per_k,
                                 double coolant_kw_per_k)
{
    double ua = e->hx_w_per_k_kw * (1 - e->hx_lost) * e->rated_kw / 1000;
    double least = raw_kw_per_k < coolant_kw_per_k ? raw_kw_per_k : coolant_kw_per_k;
    double g;

    if (least < 1e-6)
        return 0;
    g = 1 / (1 / ua + 0.5 / raw_kw_per_k + 0.5 / coolant_kw_per_k);
    return g < 0.95 * least ? g : 0.95 * least;
}

static void step_coolant(struct drill_engine *s, const struct drill_engine_params *e,
                         const struct drill_engine_inputs *in, const struct drill_world *w,
                         double loss_w_per_k, double dt_s)
{
    double kw = e->rated_kw, x = s->rpm / e->rated_rpm;
    double share = clamp(s->power_kw / kw, 0, 1);
    double heat_kw =
        e->jacket_share * (1.3 - 0.3 * share) * s->fuel_kgph / 3600 * FUEL_MJ_PER_KG * 1000;
    double pumped = x * in->coolant_pump; /* share of rated coolant flow */
    double flow_kw_per_k = e->coolant_lpm_per_kw * kw / 60 * COOLANT_KJ_PER_LK * pumped;
    double raw_kw_per_k = s->water_lpm / 60 * SEA_KG_PER_L * SEA_KJ_PER_KGK;
    /* The part that the thermostat lets through; a fifth of nothing creeps past it. */
    double through = flow_kw_per_k * (0.01 + 0.99 * s->thermostat);
    double hx = exchanger_kw_per_k(e, raw_kw_per_k, through);
    /* Iron to coolant weakens without flow; so does head to block. */
    double metal_g = kw * (0.007 + 0.006 * (pumped < 0.3 ? pumped / 0.3 : 1));
    double mix_g = kw * (0.0006 + 0.03 * pumped);
    double space_g = kw * loss_w_per_k / 1000;

    s->thermostat =
        follow(s->thermostat, clamp((s->coolant_c - e->thermostat_c) / e->thermostat_span_k, 0, 1),
               e->thermostat_tau_s, dt_s);
    s->metal_c =
        node(s->metal_c, kw * e->metal_kj_per_k_kw, metal_g, metal_g * s->coolant_c, heat_kw, dt_s);
    s->coolant_c = node(s->coolant_c, kw * e->head_kj_per_k_kw, metal_g + mix_g + hx,
                        metal_g * s->metal_c + mix_g * s->block_c + hx * w->sea_c, 0, dt_s);
    /* Boiling holds it: a pressure cap, steam over the side. */
    s->coolant_c = s->coolant_c > 128 ? 128 : s->coolant_c;
    s->block_c = node(s->block_c, kw * e->block_kj_per_k_kw, mix_g + space_g,
                      mix_g * s->coolant_c + space_g * w->space_air_c, 0, dt_s);
    s->inject_c = w->sea_c;
    if (raw_kw_per_k > 1e-6)
        s->inject_c += hx * (s->coolant_c - w->sea_c) / raw_kw_per_k;
}

static void step_oil(struct drill_engine *s, const struct drill_engine_params *e, double dt_s)
{
    double share = clamp(s->power_kw / e->rated_kw, 0, 1);
    /* Where the coolant stands still, the hot head heats it. */
    double iron_c = fmax(s->block_c, s->coolant_c - 12);
    double settled = iron_c + (s->run_s > 0 ? 4 + 18 * share : 0);
    /* Thinner when hot: half the pressure for every 35 K, as a rule of thumb. */
    double thin = exp2((95 - s->oil_c) / 35);
    double pumped = e->oil_hot_idle_kpa * (s->rpm / e->idle_rpm) * thin;

    s->oil_c = follow(s->oil_c, settled, e->oil_tau_s, dt_s);
    /* The relief valve bends the curve rather than cutting it. */
    s->oil_kpa = pumped <= 0 ? 0 : pumped / pow(1 + pow(pumped / e->oil_relief_kpa, 4), 0.25);
}

/* --- wet exhaust ------------------------------------------------------------------------ */

/* Gas and water mixed in full. Above 100 °C the water boils first. */
static double mixed_c(double gas_kw_per_k, double gas_c, double water_kgps, double water_c)
{
    double water_kw_per_k = water_kgps * SEA_KJ_PER_KGK;
    double t =
        (gas_kw_per_k * gas_c + water_kw_per_k * water_c) / (gas_kw_per_k + water_kw_per_k + 1e-9);
    double over_kw, boil_kw;

    if (t <= 100)
        return t;
    over_kw = (t - 100) * (gas_kw_per_k + water_kw_per_k);
    boil_kw = water_kgps * STEAM_KJ_PER_KG;
    return over_kw <= boil_kw ? 100 : 100 + (over_kw - boil_kw) / (gas_kw_per_k + 1.9 * water_kgps);
}

static void step_exhaust(struct drill_engine *s, const struct drill_engine_params *e,
                         const struct drill_engine_inputs *in, double space_c, double dt_s)
{
    double x = s->rpm / e->rated_rpm;
    double rated_lpm = e->water_lpm_per_kw * e->rated_kw;
    double rated_gas = e->bsfc_g_kwh * e->rated_kw / 3.6e6 * (1 + e->air_fuel);
    double gas_g = s->gas_kgps * GAS_KJ_PER_KGK;
    double wet = s->water_lpm / rated_lpm;
    double heat_g = e->elbow_h_w_m2k * e->elbow_m2 / 1000 * pow(s->gas_kgps / rated_gas, 0.8);
    double soak_g = e->soak_w_per_k_kw * e->rated_kw / 1000;
    double air_g = 8.0 * e->elbow_m2 / 1000; /* still air on the outside, W/m²K [CP] */
    double wet_g = wet > 0 ? e->elbow_water_w_per_k / 1000 * pow(wet, 0.6) : 0;
    double after, target;

    s->water_lpm =
        follow(s->water_lpm, rated_lpm * x * in->water * (1 - e->water_lost), e->drain_tau_s, dt_s);
    if (s->water_lpm < 0.002 * rated_lpm && in->water <= 0)
        s->water_lpm = 0; /* the last drops have boiled away */
    after = mixed_c(gas_g, s->gas_c, s->water_lpm / 60 * SEA_KG_PER_L, s->inject_c);
    after += e->unmixed_share * (s->gas_c - after);
    if (gas_g < 1e-5) {
        s->stream_c = follow(s->stream_c, s->elbow_c, 25, dt_s);
    } else {
        /* Dry gas leaves a little cooler for the iron it passed. */
        target = after - (after > s->elbow_c ? heat_g / (heat_g + gas_g) : 0) *
                             (wet > 0.02 ? 0 : after - s->elbow_c);
        s->stream_c = follow(s->stream_c, target, 0.7, dt_s);
    }
    s->elbow_c = node(
        s->elbow_c, e->elbow_kg * IRON_KJ_PER_KGK, heat_g + wet_g + soak_g + air_g,
        heat_g * s->gas_c + wet_g * s->inject_c + soak_g * s->metal_c + air_g * space_c, 0, dt_s);
    s->hose_c = follow(s->hose_c, s->stream_c, e->hose_tau_s, dt_s);
    if (e->dry_gas)
        s->exhaust_c = s->gas_c;
    else if (e->place <= 0.5)
        s->exhaust_c = s->stream_c + 2 * e->place * (s->elbow_c - s->stream_c);
    else
        s->exhaust_c = s->elbow_c + (2 * e->place - 1) * (s->hose_c - s->elbow_c);
}

/* --- the boat --------------------------------------------------------------------------- */

static void step_way(struct drill_world *w, const struct drill_params *p, double dt_s)
{
    double sum = 0, share, settled;

    for (int i = 0; i < p->engines; i++) {
        double x = w->engine[i].run_s > 0 ? w->engine[i].rpm / p->engine[i].rated_rpm : 0;

        sum += (double)w->engine[i].gear * x * x * x / p->engines;
    }
    share = cbrt(fabs(sum));
    settled = drill_speed_kn(p, share);
    w->speed_kn = follow(w->speed_kn,
                         sum < 0        ? -0.5 * settled
                         : share < 0.01 ? 0
                                        : settled,
                         p->speed_tau_s, dt_s);
}

static void step_space(struct drill_world *w, const struct drill_params *p,
                       const struct drill_inputs *in, double dt_s)
{
    double kw = 0, g = 0, gt = 0, heat_kw = 0, wall_g;

    for (int i = 0; i < p->engines; i++) {
        const struct drill_engine *s = &w->engine[i];
        double loss = p->engine[i].rated_kw * p->space_loss_w_per_k / 1000;

        kw += p->engine[i].rated_kw;
        /* Engines warm the space and draw their air through it. */
        g += loss + s->gas_kgps * AIR_KJ_PER_KGK;
        heat_kw += p->space_heat_share * s->fuel_kgph / 3600 * FUEL_MJ_PER_KG * 1000;
        gt += loss * s->block_c + s->gas_kgps * AIR_KJ_PER_KGK * w->air_c;
    }
    g += kw * p->vent_w_per_k / 1000;
    gt += kw * p->vent_w_per_k / 1000 * w->air_c;
    wall_g = kw * 0.006;
    w->space_air_c = node(w->space_air_c, kw * p->space_kj_per_k, g + wall_g,
                          gt + wall_g * w->space_wall_c, heat_kw, dt_s);
    w->space_wall_c = node(w->space_wall_c, kw * p->space_wall_kj_per_k, wall_g + kw * 0.001,
                           wall_g * w->space_air_c + kw * 0.001 * w->sea_c, 0, dt_s);
    /* A fire as heat detectors are tested with: air that climbs at a steady rate, a few seconds
     * in the growing. */
    w->fire_k_per_s = follow(w->fire_k_per_s, in->fire_k_per_min / 60, 8, dt_s);
    w->fire_k = clamp(w->fire_k + w->fire_k_per_s * dt_s, 0, 400);
    w->space_c = w->space_air_c + w->fire_k;
}

static void step_electrics(struct drill_world *w, const struct drill_params *p, double dt_s)
{
    double unit = p->nominal_v / 12, house = 0;

    for (int i = 0; i < p->engines; i++) {
        struct drill_engine *s = &w->engine[i];
        bool charges = s->run_s > 2;
        double full = p->engine[i].charge_v * unit;
        double rest = p->engine[i].rest_v * unit, dip = p->engine[i].crank_v * unit;

        w->battery_v[i] = s->cranking_s > 0 ? follow(w->battery_v[i], dip, 0.15, dt_s)
                                            : follow(w->battery_v[i], charges ? full : rest,
                                                     charges ? 6 : 3, dt_s);
        w->battery_a[i] = s->cranking_s > 0 ? -350 / unit
                          : charges         ? follow(w->battery_a[i], 4, 120, dt_s)
                                            : -0.3;
        if (charges && w->battery_a[i] < 0)
            w->battery_a[i] = 35;
        s->alternator_v = s->run_s > 0 ? w->battery_v[i] + 0.12 * unit : 0;
        house = charges && full > house ? full : house;
    }
    w->battery_v[p->engines] =
        follow(w->battery_v[p->engines], house > 0 ? house - 0.15 * unit : 12.5 * unit, 20, dt_s);
    w->battery_a[p->engines] = follow(w->battery_a[p->engines], house > 0 ? 12 : -6, 90, dt_s);
}

void drill_world_step(struct drill_world *w, const struct drill_params *p,
                      const struct drill_inputs *in, double dt_s)
{
    w->sea_c = in->sea_c;
    w->air_c = in->air_c;
    for (int i = 0; i < p->engines; i++) {
        struct drill_engine *s = &w->engine[i];
        const struct drill_engine_params *e = &p->engine[i];
        double before_l = s->fuel_used_l;

        s->gear = in->engine[i].run ? in->engine[i].gear : DRILL_NEUTRAL;
        step_speed(s, e, &in->engine[i], dt_s);
        step_burn(s, p, e, w->speed_kn, dt_s);
        step_gas(s, e, w->air_c, dt_s);
        step_exhaust(s, e, &in->engine[i], w->space_c, dt_s);
        step_coolant(s, e, &in->engine[i], w, p->space_loss_w_per_k, dt_s);
        step_oil(s, e, dt_s);
        w->tank_l[i] = fmax(0, w->tank_l[i] - (s->fuel_used_l - before_l));
    }
    step_way(w, p, dt_s);
    step_space(w, p, in, dt_s);
    step_electrics(w, p, dt_s);
    w->t_s += dt_s;
}

void drill_world_init(struct drill_world *w, const struct drill_params *p)
{
    *w = (struct drill_world){0};
    w->sea_c = p->sea_c;
    w->air_c = p->air_c;
    w->space_air_c = w->space_wall_c = w->space_c = p->start_c;
    for (int i = 0; i < p->engines; i++) {
        struct drill_engine *s = &w->engine[i];

        s->gas_c = s->inject_c = s->stream_c = s->elbow_c = s->hose_c = p->start_c;
        s->exhaust_c = s->metal_c = s->coolant_c = s->block_c = s->oil_c = p->start_c;
        s->boost_kpa = 101;
        w->tank_l[i] = p->fuel_capacity_l * p->fuel_level;
        w->battery_v[i] = p->engine[i].rest_v * p->nominal_v / 12;
    }
    w->battery_v[p->engines] = 12.5 * p->nominal_v / 12;
    w->battery_a[p->engines] = -6;
}

void drill_inputs_default(struct drill_inputs *in, const struct drill_params *p)
{
    *in = (struct drill_inputs){.sea_c = p->sea_c, .air_c = p->air_c};
    for (int i = 0; i < DRILL_ENGINES; i++) {
        in->engine[i].order_rpm = p->engine[i].idle_rpm;
        in->engine[i].water = 1;
        in->engine[i].coolant_pump = 1;
    }
}

void drill_world_settle(struct drill_world *w, const struct drill_params *p, double share)
{
    struct drill_inputs in;

    drill_world_init(w, p);
    drill_inputs_default(&in, p);
    for (int i = 0; i < p->engines; i++) {
        in.engine[i].run = true;
        in.engine[i].gear = DRILL_AHEAD;
        in.engine[i].order_rpm = share * p->engine[i].rated_rpm;
    }
    for (int i = 0; i < 3600; i++)
        drill_world_step(w, p, &in, 0.5);
}

void drill_economy(const struct drill_params *p, double share, double *burn_lph, double *speed_kn)
{
    *burn_lph = 0;
    for (int i = 0; i < p->engines; i++) {
        const struct drill_engine_params *e = &p->engine[i];

        *burn_lph +=
            drill_fuel_kgph(e, e->rated_kw * drill_propeller_law(share), e->rated_rpm * share) /
            FUEL_KG_PER_L;
    }
    *speed_kn = drill_speed_kn(p, share);
}

double drill_economical_share(const struct drill_params *p, double low, double high)
{
    enum { STEPS = 4000 };
    double cost[3] = {0, 0, 0}, best = NAN, least = INFINITY;

    for (int i = 0; i <= STEPS; i++) {
        double burn, speed, share = low + (high - low) * i / STEPS;

        drill_economy(p, share, &burn, &speed);
        cost[0] = cost[1];
        cost[1] = cost[2];
        cost[2] = burn / speed;
        if (i >= 2 && cost[1] < cost[0] && cost[1] <= cost[2] && cost[1] < least) {
            least = cost[1];
            best = share - (high - low) / STEPS;
        }
    }
    return best;
}
