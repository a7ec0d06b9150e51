/* The sixth model of the detection bench, which sails the held-out trips: unseen by whatever is
 * chosen in the watch. Engines burn by a line of Willans and shed heat by the shares of a heat
 * balance; a turbocharger is slow while little gas drives it; some governors hold their speed and
 * overshoot, others droop, and petrol is throttled. The sea is heard in waves at their period of
 * encounter, gusts, an autopilot, a hull and a way of her own. Raw water goes a way of several
 * volumes, cools some engines itself and stands in some jackets; the spray is uneven round the
 * pipe, runs to its bottom when there is little, and moves as she rolls. The probe is a short
 * pocket, a strap or sits on metal. Nothing of it is shared with the others. Figures without a
 * source are common practice. */
#include "detect_sixth.h"

#include <stdlib.h>

#include "base/banned.h"

static void sixth_step(void *boat, const struct boat_inputs *in, double dt);
static struct boat_outputs sixth_outputs(const void *boat);

#define WARMEST_SEA_C 33.0
#define HEALTHY_MOST  88.0    /* wet exhaust at full throttle, or the boat is drawn again */
#define COOLANT_MOST  98.0    /* at its sender, there, or the same */
#define SEA_RISE_K    6.0     /* what the sea may yet gain */
#define FUEL_KJ       42700.0 /* per kg of diesel: ISO 3046-1, from memory */
#define AIR_PER_FUEL  14.5    /* kg, nothing left over of either: from memory */
#define PETROL_RPM    3900.0  /* from there on rated speed is petrol's */
#define PARTS         4       /* of a step, for the governor */
#define DRAWS         80

static void draw_power(struct dice *d, struct sixth_params *p, double rated_rpm)
{
    p->rated_rpm = rated_rpm > 0.0 ? rated_rpm : dice_range(d, 2000.0, 3800.0);
    p->petrol = p->rated_rpm > PETROL_RPM;
    p->direct = dice_chance(d, p->petrol ? 0.4 : 0.15);
    p->idle = dice_range(d, 600.0, 850.0) / p->rated_rpm;
    p->steady = dice_chance(d, 0.45);
    /* A G1 set's governor droops by 8 % at most, G2's by 5 (ISO 8528-5); one that holds its speed
     * gives way by as much or more until it has come back, in 3 to 10 s (the same). */
    p->droop = p->steady ? dice_range(d, 0.06, 0.2) : dice_range(d, 0.02, 0.08);
    if (p->petrol) { /* a throttle holds the air, not the speed */
        p->steady = false;
        p->droop = dice_range(d, 0.25, 0.45);
    }
    p->reset_s = dice_range(d, 0.6, 2.0);
    p->spin_s = dice_range(d, 0.4, 1.6);
    p->lever_s = dice_range(d, 0.3, 3.0);
    p->belts = dice_range(d, 0.02, 0.06);
    p->alternator = dice_log(d, 0.005, 0.05); /* 1 to 3 kW of 20 to 300 */
    /* 200 to 248 g/kWh of diesel (EPA-420-R-10-018 has 223 and 248). */
    p->efficiency = p->petrol ? dice_range(d, 0.25, 0.31) : dice_range(d, 0.34, 0.42);
    /* Idling, an engine burns 3 to 7 % of full fuel, and its gas has 100 to 180 °C (from memory).
     */
    p->rub = dice_range(d, 0.09, 0.17);
    p->rub_speed = dice_range(d, 0.03, 0.08);
    bool charged = !p->petrol && dice_chance(d, 0.6);
    double excess = p->petrol ? dice_range(d, 0.88, 1.0)
                    : charged ? dice_range(d, 1.6, 2.2)
                              : dice_range(d, 1.35, 1.6);
    p->air = (excess * AIR_PER_FUEL + 1.0) / p->efficiency / FUEL_KJ;
    p->boost = charged ? dice_range(d, 0.5, 1.8) : 0.0;
    p->boost_s = dice_log(d, 0.6, 4.0);
    /* Of the fuel's heat, at rated: gas 22 to 35 %, coolant 16 to 35 (textbook heat balances, from
     * memory). */
    p->gas_part = dice_range(d, 0.25, 0.32);
    p->wall_part = dice_range(d, 0.17, 0.25);
    p->manifold = p->petrol ? SIXTH_BY_SEA : dice_chance(d, 0.45) ? SIXTH_BY_COOLANT : SIXTH_DRY;
    p->iron_kj = dice_range(d, 0.06, 0.16); /* 12 to 32 kg per 100 kW */
    p->iron_ntu = p->manifold == SIXTH_DRY ? dice_range(d, 0.08, 0.2) : dice_range(d, 0.15, 0.5);
    p->iron_kw_k = p->manifold == SIXTH_DRY ? 0.0 : dice_range(d, 0.002, 0.006);
    p->iron_loss = p->manifold == SIXTH_DRY ? dice_log(d, 3e-5, 2e-4) : 2e-5;
    p->cooled_air = charged && dice_chance(d, 0.6) ? dice_range(d, 0.04, 0.12) : 0.0;
}

static void draw_water(struct dice *d, struct sixth_params *p)
{
    /* 0.87 to 0.94 L/min per kW with a heat exchanger, 0.48 to 0.52 where the sea cools the block
     * (a pump maker's guide), and as much more or less as boats differ. */
    p->water = (p->direct ? dice_range(d, 0.45, 0.75) : dice_range(d, 0.6, 1.15)) / 60.0;
    p->slip = dice_range(d, 0.0, 0.35) * p->idle; /* most of the flow is there at idle too */
    p->most_flow = dice_log(d, 0.8, 2.5); /* a seacock with growth in it, up to a clean one */
    p->suction_turns = dice_log(d, 2.0, 40.0);
    p->drains_s = dice_chance(d, 0.5) ? dice_log(d, 100.0, 3000.0) : 0.0;
    p->path_kg = dice_range(d, 0.01, 0.04);
}

static void draw_coolant(struct dice *d, struct sixth_params *p)
{
    p->stat_c = p->direct ? dice_range(d, 48.0, 60.0) : dice_range(d, 70.0, 84.0);
    p->span_k = dice_range(d, 8.0, 15.0);
    p->wax_s = dice_log(d, 4.0, 25.0);
    p->head_kj = dice_range(d, 0.7, 1.6);
    p->rest_kj = dice_range(d, 1.0, 2.8);
    p->moves = dice_range(d, 0.06, 0.14); /* 0.9 to 2 L/min per kW */
    double heat = p->wall_part / p->efficiency + 0.15;
    p->exchanger = heat * dice_range(d, 1.4, 2.6) / (p->stat_c + p->span_k - WARMEST_SEA_C);
    p->skin = dice_range(d, 0.0003, 0.001);
    p->sender_k = dice_range(d, 0.0, 4.0); /* the head's hot spot over its coolant, at full load */
    p->oil_kj = dice_range(d, 0.15, 0.45);
    p->oil_kw_k = 0.5 * (p->rub + p->rub_speed) / dice_range(d, 10.0, 28.0);
}

/* Another engine of the same make. */
static void vary(struct dice *d, struct sixth_params *p)
{
    p->water *= dice_range(d, 0.93, 1.07);
    p->most_flow *= dice_range(d, 0.85, 1.15);
    for (int k = 0; k < SIXTH_SECTORS; k++)
        p->pattern[k] *= dice_range(d, 0.85, 1.15);
    p->gas_s *= dice_range(d, 0.85, 1.2);
    p->tip_gas_s *= dice_range(d, 0.85, 1.2);
    p->stat_c += dice_range(d, -2.0, 2.0);
    p->droop *= dice_range(d, 0.85, 1.2);
    p->gas_part *= dice_range(d, 0.96, 1.04);
}

static void draw(struct sixth *s, struct dice *d, const struct boat_plan *plan)
{
    *s = (struct sixth){.engines = plan->engines, .dry_gas = plan->dry_gas};
    draw_power(d, &s->p[0], plan->rated_rpm);
    draw_water(d, &s->p[0]);
    sixth_elbow_draw(d, &s->p[0]);
    draw_coolant(d, &s->p[0]);
    for (int i = 1; i < s->engines; i++) {
        s->p[i] = s->p[0];
        vary(d, &s->p[i]);
    }
    sixth_sea_draw(&s->sea, d);
    sixth_vapour(s->vapour);
    s->hull_s = dice_log(d, 4.0, 40.0);
    s->steep = dice_range(d, 0.0, 1.5); /* towards hull speed; 0: a hull that planes */
    s->fouled = dice_range(d, 1.0, 1.15);
    s->slips = dice_range(d, 0.2, 0.8);
    s->space_c = plan->air_c;
    s->space_s = dice_log(d, 300.0, 1800.0);
    s->space_rise_k = dice_range(d, 6.0, 20.0);
    /* Cold, or not long ago at work. */
    double warm = dice_chance(d, 0.35) ? dice_range(d, 0.0, 35.0) : 0.0;
    for (int i = 0; i < BOAT_ENGINES; i++) {
        struct sixth_engine *e = &s->e[i];
        e->suction = s->p[i].drains_s > 0.0 ? dice_range(d, 0.0, 0.7) : 1.0;
        e->head_c = e->rest_c = e->wax_c = e->oil_c = fmin(plan->air_c + warm, 60.0);
        e->gas_c = e->iron_c = e->dry_c = fmin(plan->air_c + 0.5 * warm, 60.0);
        e->tip_c = e->outer_c = plan->air_c;
        e->left_kg = s->p[i].stays * s->p[i].jacket_kg;
        e->stands = 1.0;
        for (int k = 0; k < SIXTH_PATH; k++)
            e->path_c[k] = plan->air_c;
        for (int k = 0; k < SIXTH_SECTORS; k++)
            e->wall_c[k] = plan->air_c;
    }
}

static double exhaust_c(const struct sixth *s, int i)
{
    const struct sixth_engine *e = &s->e[i];
    return s->dry_gas ? e->dry_c : s->p[i].probe == SIXTH_POCKET ? e->tip_c : e->outer_c;
}

static bool plausible(const struct sixth *s, const struct boat_plan *plan)
{
    struct sixth t = *s;
    struct boat_inputs in = {.sea_c = plan->sea_c + SEA_RISE_K, .air_c = plan->air_c};
    for (int i = 0; i < s->engines; i++)
        in.engine[i] = (struct boat_engine_inputs){
            .run = true, .share = 1.0, .water = 1.0, .coolant_pump = 1.0, .load_factor = 1.1};
    for (int k = 0; k < 3600; k++)
        sixth_step(&t, &in, 0.25);
    for (int i = 0; i < s->engines; i++)
        if ((exhaust_c(&t, i) > HEALTHY_MOST && !s->dry_gas) ||
            sixth_outputs(&t).engine[i].coolant_c > COOLANT_MOST)
            return false;
    return true;
}

static void *sixth_new(struct dice *d, const struct boat_plan *plan)
{
    struct sixth *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    int tries = 0;
    do
        draw(s, d, plan);
    while (!plausible(s, plan) && ++tries < DRAWS);
    return s;
}

/* Torque that the shaft takes, of rated. */
static double takes(const struct sixth *s, const struct sixth_params *p,
                    const struct sixth_engine *e, const struct boat_engine_inputs *in)
{
    if (in->brake > 0.0) {
        double asked = sixth_house_load(&s->sea, in->brake, in->share <= 0.0);
        if (in->share <= 0.0)
            return asked;
        double sags = fmin(1.0, e->n / 0.95); /* its volts give way with its hertz */
        return asked * sags * sags / fmax(0.3, e->n);
    }
    double amps = fmin(1.0, 1.5 * s->sea.charge) * s->sea.regulator;
    double drives = p->belts + p->alternator * amps * fmin(1.0, e->n / 0.35) / fmax(0.2, e->n);
    if (in->neutral)
        return drives;
    double behind = e->n > 0.05 ? fmax(-0.6, 1.0 - s->way / e->n) : 0.0;
    double propeller = e->n * e->n * (1.0 + s->slips * behind) * in->load_factor * s->fouled;
    return drives + propeller * sixth_sea_load(&s->sea, s->way);
}

/* A governor, with the inertia of what it turns; its pull is steep, and is therefore taken where
 * the step ends. */
static void turn(const struct sixth *s, const struct sixth_params *p, struct sixth_engine *e,
                 const struct boat_engine_inputs *in, double dt)
{
    if (!in->run) {
        e->torque = e->lever = e->sum = 0.0;
        e->n = sixth_lag(e->n, 0.0, dt, 0.8);
        return;
    }
    double order = fmax(in->share * (1.0 + (in->brake > 0.0 ? 0.0 : s->sea.creep)), p->idle);
    e->lever = e->lever <= 0.0 ? p->idle : sixth_lag(e->lever, order, dt, p->lever_s);
    double usual = in->brake > 0.0 ? 0.5 : in->neutral ? 0.05 : e->lever * e->lever;
    double ref = e->lever + (p->steady ? 0.0 : p->droop * usual);
    double most = p->boost > 0.0 ? 0.6 + 0.5 * e->boost : 1.08;
    double pull = dt / p->spin_s, gain = 1.0 / p->droop;
    double load = takes(s, p, e, in);
    if (p->steady)
        e->sum = fmin(most, fmax(0.0, e->sum + gain * (ref - e->n) * dt / p->reset_s));
    double wants = gain * ref + (p->steady ? e->sum : 0.0);
    double n = (e->n + pull * (wants - load)) / (1.0 + pull * gain);
    double rack = wants - gain * n;
    e->torque = fmin(most, fmax(0.0, rack));
    if (rack > most || rack < 0.0)
        n = e->n + pull * (e->torque - load);
    e->n = fmax(0.0, n);
}

/* Fuel by what is turned and rubbed; of its heat what the gas carries and the walls take, then what
 * the manifold's iron and a jacket take of the gas. */
static void burn(const struct sixth *s, const struct sixth_params *p, struct sixth_engine *e,
                 bool run, double dt, struct sixth_flow *f, double *walls)
{
    double n = e->n, rubs = p->rub + p->rub_speed * n;
    double best = p->efficiency * (1.0 + p->rub + p->rub_speed);
    double full = 1.0 / p->efficiency;
    f->fuel = run ? n * (e->torque + rubs) / (best * (1.0 - 0.2 * (1.0 - n))) : 0.0;
    double burns = fmin(1.2, f->fuel / full);
    f->air = p->petrol ? fmax(0.02, burns)
                       : fmax(0.02, n * (1.0 + p->boost * e->boost) / (1.0 + p->boost));
    e->boost = sixth_lag(e->boost, fmin(1.0, burns), dt, p->boost_s / (0.25 + 0.75 * f->air));
    f->gas = run ? p->air * f->air : 0.0;
    *walls = p->wall_part * f->fuel * (1.35 - 0.35 * n);
    double coolest = e->head_c, loses = p->iron_loss * (e->iron_c - s->space_c);
    if (p->manifold == SIXTH_BY_SEA)
        coolest = e->path_c[3];
    f->iron =
        p->iron_kw_k * (e->iron_c - coolest) * (p->manifold == SIXTH_BY_SEA ? e->stands : 1.0);
    double gives = 0.0;
    if (run) {
        double carries = p->gas_part * f->fuel * (0.8 + 0.2 * n), flow = SIXTH_GAS_KJ * f->gas;
        double port_c = fmin(s->space_c + carries / flow, 700.0);
        double by = pow(f->air, -0.2);
        gives = flow * (1.0 - exp(-p->iron_ntu * by)) * (port_c - e->iron_c);
        double left_c = port_c - gives / flow;
        f->jacket = flow * (1.0 - exp(-p->jacket_ntu * by)) * (left_c - e->path_c[4]);
        f->jacket *= e->left_kg / p->jacket_kg; /* what stands dry takes nothing for long */
        e->gas_c = sixth_lag(e->gas_c, left_c - f->jacket / flow, dt, 0.7);
        e->dry_c = sixth_lag(e->dry_c, left_c, dt, 3.0 + 4.0 / (0.2 + f->air));
    } else {
        e->gas_c = sixth_lag(e->gas_c, s->space_c, dt, 250.0);
        e->dry_c = sixth_lag(e->dry_c, s->space_c, dt, 400.0);
    }
    e->iron_c += dt * (gives - f->iron - loses) / p->iron_kj;
    f->charge = p->cooled_air * e->boost * n;
}

/* Coolant with its wax and exchanger; or the sea itself in the block, of which the thermostat lets
 * through what it needs and the rest goes straight to the elbow. */
static void cool(const struct sixth *s, const struct sixth_params *p, struct sixth_engine *e,
                 const struct boat_engine_inputs *in, double walls, double dt, struct sixth_flow *f)
{
    e->wax_c = sixth_lag(e->wax_c, 0.5 * (e->head_c + e->rest_c), dt, p->wax_s);
    double opens = fmin(1.0, fmax(0.0, (e->wax_c - p->stat_c) / p->span_k));
    double moves = p->moves * (0.05 + 0.95 * e->n * in->coolant_pump);
    double raw = SIXTH_WATER_KJ * f->pumped, in_c = e->path_c[1];
    if (p->direct) {
        f->shed = raw * opens * (0.1 + 0.9 * in->coolant_pump) * fmax(0.0, e->rest_c - in_c);
    } else {
        double least = fmin(moves * opens, raw);
        if (least > 1e-7)
            f->shed = least * (1.0 - exp(-p->exchanger / least)) * fmax(0.0, e->rest_c - in_c);
    }
    double boils = fmin(1.0, fmax(0.0, 1.0 - (e->head_c - 106.0) / 25.0));
    double rubs = e->n * (p->rub + p->rub_speed * e->n);
    double iron = p->manifold == SIXTH_BY_COOLANT ? f->iron : 0.0;
    double swap = moves * (e->head_c - e->rest_c), oil = p->oil_kw_k * (e->oil_c - e->head_c);
    double skin = p->skin * (e->head_c - s->space_c);
    e->head_c += dt * ((walls + iron + 0.5 * rubs) * boils + oil - swap - skin) / p->head_kj;
    e->rest_c += dt * (swap - f->shed) / p->rest_kj;
    e->oil_c += dt * (0.5 * rubs - oil) / p->oil_kj;
}

static void step_engine(struct sixth *s, int i, const struct boat_engine_inputs *in, double sea_c,
                        double dt)
{
    const struct sixth_params *p = &s->p[i];
    struct sixth_engine *e = &s->e[i];
    struct sixth_flow f = {0};
    double walls;
    for (int k = 0; k < PARTS; k++)
        turn(s, p, e, in, dt / PARTS);
    burn(s, p, e, in->run, dt, &f, &walls);
    sixth_pump(p, e, in->water, in->run, dt, &f);
    cool(s, p, e, in, walls, dt, &f);
    sixth_path(p, e, sea_c, in->run, dt, &f);
    sixth_elbow(s, i, in->run, dt, &f);
}

static void sixth_step(void *boat, const struct boat_inputs *in, double dt)
{
    struct sixth *s = boat;
    double thrust = 0.0, warm = 0.0;
    bool any = false;
    for (int i = 0; i < s->engines; i++)
        any = any || in->engine[i].run;
    sixth_sea_step(&s->sea, s->way, any, dt);
    for (int i = 0; i < s->engines; i++) {
        const struct sixth_engine *e = &s->e[i];
        step_engine(s, i, &in->engine[i], in->sea_c + s->sea.layer, dt);
        if (in->engine[i].run && !in->engine[i].neutral && in->engine[i].brake <= 0.0)
            thrust += e->n * fmax(-0.5, e->n + s->slips * (e->n - s->way)) / s->engines;
        warm += fmax(0.0, e->head_c - 35.0) / 50.0 / s->engines;
    }
    double v = s->way, drag = v * v * (1.0 + s->steep * v * v * v * v) / (1.0 + s->steep);
    s->way = fmax(0.0, v + dt * (thrust - drag * s->fouled) / s->hull_s);
    s->space_c = sixth_lag(s->space_c, in->air_c + s->space_rise_k * warm, dt, s->space_s);
    s->fire_k += dt * in->fire_k_per_min / 60.0;
}

static struct boat_outputs sixth_outputs(const void *boat)
{
    const struct sixth *s = boat;
    struct boat_outputs o = {.space_c = s->space_c + s->fire_k};
    for (int i = 0; i < s->engines; i++) {
        const struct sixth_engine *e = &s->e[i];
        o.engine[i] = (struct boat_engine_outputs){.rpm = e->n * s->p[i].rated_rpm,
                                                   .load = fmin(1.0, e->torque),
                                                   .exhaust_c = exhaust_c(s, i),
                                                   .coolant_c = e->head_c +
                                                                s->p[i].sender_k * e->n * e->torque,
                                                   .oil_c = e->oil_c};
    }
    return o;
}

const struct boat_kind boat_sixth = {sixth_new, sizeof(struct sixth), sixth_step, sixth_outputs};
