/* The fifth model of the detection bench, whose counts were looked at while figures of the watch
 * were chosen. An engine is a balance of energy: fuel, less work, less what the cylinder
 * walls take by a Nusselt law, is what its gas carries. A governor with droop turns it against a
 * propeller and a hull with a hump. Raw water comes from a pump that must first lose its air, and
 * is held in the elbow for a while; there a spray meets a part of the gas, which it saturates. The
 * rest streaks down a hose that is partly under a film of water and dries out when none comes. The
 * probe is a well in the stream or a clip on the hose. All is per kW of rated power. Nothing of it
 * is shared with the others. Figures
 * without a source are common practice. */
#include "detect_boat.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

static void fifth_step(void *boat, const struct boat_inputs *in, double dt);

#define CELLS         6
#define WARMEST_SEA_C 33.0
#define HEALTHY_MOST  88.0    /* wet exhaust at full throttle, or the boat is drawn again */
#define COOLANT_MOST  12.0    /* above the thermostat's first opening, there, or the same */
#define FUEL_KJ       42700.0 /* per kg of diesel: its lower heating value, from memory */
#define AIR_PER_FUEL  14.5    /* kg, nothing left over of either: from memory */
#define GAS_KJ        1.1     /* per kg and kelvin */
#define WATER_KJ      4.0     /* of the sea */
#define STEAM_KJ      2257.0  /* per kg: textbook */
#define PRESSURE      1040.0  /* hPa, in the elbow: a little back pressure */
#define DRAWS         60

struct fifth_params {
    double rated_rpm, idle, droop, spin_s, lever_s; /* idle and droop: of rated speed */
    double efficiency, rub, rub_speed, belts;       /* at rated; friction, of rated torque */
    double air, boost, boost_s;                     /* kg/s at rated; share more than without */
    double wall, manifold, cooled_air;              /* of the heat of rated fuel; NTU; of rated */
    double iron_s, riser_s;                         /* manifold; a dry pipe */
    double water, leak, strainer, prime_turns;      /* pump: kg/s at rated; lost; turns */
    double hold_s, spray, evaporates;               /* elbow */
    double run_s, film_kg, wetted, hose_ntu;        /* film on the hose */
    double wet_s, gas_s, sheds;                     /* hose wall; to the room, of the gas's */
    double well_wet_s, well_gas_s, well_wall_s, bit_s; /* probe */
    double contact_s, clip_loss;
    double stat_c, span_k, play_k, head_kj, rest_kj, coolant_kw_k, exchanger, skin; /* coolant */
    double oil_kj, oil_kw_k, oil_part;
    int place;
    bool clip; /* outside on the hose, or a well inside */
};
struct fifth_engine {
    double lever, n, torque, boost, gas_c, riser_c, air_in_pump, held, mix_c, film, wall[CELLS];
    double well_c, bit_c, head_c, rest_c, lift, oil_c;
};
/* What is the same all through one step. */
struct fifth_flow {
    double fuel, friction, gas, gas_of_rated, films, walls, manifold, pumped, shed;
};
struct fifth {
    int engines;
    bool dry_gas;
    struct fifth_params p[BOAT_ENGINES];
    struct fifth_engine e[BOAT_ENGINES];
    double way, hull_s, hump, hump_at, slip; /* way: of that at full throttle */
    double space_c, space_s, space_rise_k, fire_k;
};

static void draw_power(struct dice *d, struct fifth_params *p)
{
    p->rated_rpm = dice_range(d, 2100.0, 4000.0);
    p->idle = dice_range(d, 600.0, 900.0) / p->rated_rpm;
    p->droop = dice_range(d, 0.02, 0.10); /* 3 to 5 % of generators, up to 10 of mechanical ones */
    p->spin_s = dice_range(d, 0.4, 1.5);
    p->lever_s = dice_range(d, 0.3, 3.0);
    p->efficiency = dice_range(d, 0.34, 0.42); /* 200 to 250 g/kWh */
    /* Friction has a part that grows with speed (Chen and Flynn 1965, from memory). With what an
     * idling engine drives besides, it burns 3 to 6 % of full fuel. */
    p->rub = dice_range(d, 0.08, 0.13);
    p->rub_speed = dice_range(d, 0.03, 0.07);
    p->belts = dice_range(d, 0.02, 0.06);
    /* Air excess at rated power: 1.3 to 1.6 breathing freely, 1.6 to 2.2 charged (from memory). */
    bool charged = dice_chance(d, 0.6);
    double excess = charged ? dice_range(d, 1.6, 2.2) : dice_range(d, 1.3, 1.6);
    p->air = excess * AIR_PER_FUEL / p->efficiency / FUEL_KJ;
    p->boost = charged ? dice_range(d, 0.6, 1.6) : 0.0;
    p->boost_s = dice_log(d, 0.8, 6.0);
    p->wall = dice_range(d, 0.14, 0.21);
    p->manifold = dice_range(d, 0.10, 0.45); /* dry but for the ports, up to cooled all along */
    p->cooled_air = charged && dice_chance(d, 0.6) ? dice_range(d, 0.04, 0.10) : 0.0;
    p->iron_s = dice_range(d, 3.0, 12.0);
    p->riser_s = dice_log(d, 4.0, 25.0);
}

static void draw_exhaust(struct dice *d, struct fifth_params *p)
{
    p->water = dice_range(d, 0.6, 1.2) / 60.0; /* L/min per kW */
    p->leak = dice_range(d, 0.02, 0.12);       /* most past a worn impeller */
    p->strainer = dice_range(d, 0.0, 0.25);    /* flow lost to suction head at rated speed */
    p->prime_turns = dice_log(d, 4.0, 60.0);
    p->hold_s = dice_log(d, 0.3, 2.5);
    p->spray = dice_range(d, 1.6, 4.0);
    p->evaporates = dice_range(d, 0.1, 0.6); /* how near to saturation the gas comes */
    p->run_s = dice_log(d, 1.0, 6.0);
    p->film_kg = dice_log(d, 0.0002, 0.0015); /* 0.2 mm on a square metre: 0.2 kg, of 200 kW */
    p->wetted = dice_range(d, 0.80, 0.99);
    p->hose_ntu = dice_range(d, 0.04, 0.14);
    p->wet_s = dice_log(d, 1.0, 8.0);
    p->gas_s = dice_log(d, 8.0, 40.0);
    p->sheds = dice_range(d, 0.02, 0.12);
    p->place = (int)dice_range(d, 0.0, CELLS);
    p->clip = dice_chance(d, 0.4);
    p->well_wet_s = dice_log(d, 0.8, 4.0);
    p->well_gas_s = dice_log(d, 5.0, 20.0);
    p->well_wall_s = dice_log(d, 15.0, 80.0);
    p->bit_s = dice_log(d, 0.5, 4.0);
    p->contact_s = dice_log(d, 3.0, 15.0);
    p->clip_loss = dice_range(d, 0.0, 0.08);
}

static void draw_coolant(struct dice *d, struct fifth_params *p)
{
    p->stat_c = dice_range(d, 70.0, 84.0);
    p->span_k = dice_range(d, 8.0, 14.0);
    p->play_k = dice_range(d, 1.0, 5.0); /* between opening and closing */
    p->head_kj = dice_range(d, 0.8, 1.8);
    p->rest_kj = dice_range(d, 1.0, 2.5);
    p->coolant_kw_k = dice_range(d, 0.06, 0.14); /* 0.9 to 2 L/min per kW */
    double heat = (p->wall + 0.15 * p->manifold) / p->efficiency + 0.1;
    p->exchanger = heat * dice_range(d, 1.4, 2.6) / (p->stat_c + p->span_k - WARMEST_SEA_C);
    p->skin = dice_range(d, 0.0003, 0.001);
    p->oil_kj = dice_range(d, 0.15, 0.4);
    p->oil_part = dice_range(d, 0.3, 0.6); /* of friction's heat */
    p->oil_kw_k = p->oil_part * (p->rub + p->rub_speed) / dice_range(d, 10.0, 25.0);
}

/* Another engine of the same make. */
static void vary(struct dice *d, struct fifth_params *p)
{
    p->water *= dice_range(d, 0.93, 1.08);
    p->spray *= dice_range(d, 0.85, 1.15);
    p->wetted = fmin(0.99, p->wetted * dice_range(d, 0.96, 1.04));
    p->gas_s *= dice_range(d, 0.85, 1.18);
    p->wall *= dice_range(d, 0.96, 1.04);
    p->stat_c += dice_range(d, -2.0, 2.0);
    p->droop *= dice_range(d, 0.8, 1.25);
}

static void draw(struct fifth *s, struct dice *d, const struct boat_plan *plan)
{
    *s = (struct fifth){.engines = plan->engines, .dry_gas = plan->dry_gas};
    draw_power(d, &s->p[0]);
    if (plan->rated_rpm > 0.0) {
        s->p[0].idle *= s->p[0].rated_rpm / plan->rated_rpm;
        s->p[0].rated_rpm = plan->rated_rpm;
        s->p[0].droop = fmin(s->p[0].droop, 0.08); /* ISO 8528-5 class G1, from memory */
    }
    draw_exhaust(d, &s->p[0]);
    draw_coolant(d, &s->p[0]);
    for (int i = 1; i < s->engines; i++) {
        s->p[i] = s->p[0];
        vary(d, &s->p[i]);
    }
    s->hull_s = dice_log(d, 4.0, 30.0);
    s->hump = dice_chance(d, 0.4) ? dice_range(d, 0.1, 0.6) : 0.0; /* a hull that planes */
    s->hump_at = dice_range(d, 0.4, 0.65);
    s->slip = dice_range(d, 0.2, 0.7);
    s->space_c = plan->air_c;
    s->space_s = dice_log(d, 300.0, 1500.0);
    s->space_rise_k = dice_range(d, 8.0, 20.0);
    double cold = plan->air_c + (dice_chance(d, 0.3) ? dice_range(d, 0.0, 30.0) : 0.0);
    for (int i = 0; i < BOAT_ENGINES; i++) {
        struct fifth_engine *e = &s->e[i];
        *e = (struct fifth_engine){.air_in_pump = 1.0};
        e->head_c = e->rest_c = e->oil_c = fmin(cold, 60.0);
        e->gas_c = e->riser_c = e->mix_c = e->well_c = e->bit_c = plan->air_c;
        for (int k = 0; k < CELLS; k++)
            e->wall[k] = plan->air_c;
    }
}

static bool plausible(const struct fifth *s, const struct boat_plan *plan)
{
    struct fifth t = *s;
    struct boat_inputs in = {.sea_c = plan->sea_c, .air_c = plan->air_c};
    for (int i = 0; i < s->engines; i++)
        in.engine[i] = (struct boat_engine_inputs){
            .run = true, .share = 1.0, .water = 1.0, .coolant_pump = 1.0, .load_factor = 1.1};
    for (int k = 0; k < 3600; k++)
        fifth_step(&t, &in, 0.25);
    for (int i = 0; i < s->engines; i++)
        if ((t.e[i].bit_c > HEALTHY_MOST && !s->dry_gas) ||
            t.e[i].head_c > s->p[i].stat_c + COOLANT_MOST)
            return false;
    return true;
}

static void *fifth_new(struct dice *d, const struct boat_plan *plan)
{
    struct fifth *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    int tries = 0;
    do
        draw(s, d, plan);
    while (!plausible(s, plan) && ++tries < DRAWS);
    return s;
}

/* One step of a lag, safe whatever the step. */
static double lag(double from, double to, double dt, double tau)
{
    return from + (to - from) * dt / (tau + dt);
}

/* Governor and rack, against what the shaft takes; the governor's pull is steep, and is therefore
 * taken where the step ends. */
static void turn(const struct fifth *s, const struct fifth_params *p, struct fifth_engine *e,
                 const struct boat_engine_inputs *in, double dt)
{
    if (!in->run) {
        e->torque = e->lever = 0.0;
        e->n = lag(e->n, 0.0, dt, p->spin_s);
        return;
    }
    double order = fmax(in->share, p->idle);
    e->lever = e->lever <= 0.0 ? p->idle : lag(e->lever, order, dt, p->lever_s);
    double advance = e->n > 0.05 ? fmin(1.6, s->way / e->n) : 1.0;
    double takes = in->brake > 0.0 ? in->brake
                   : in->neutral
                       ? p->belts
                       : e->n * e->n * in->load_factor * (1.0 + s->slip * (1.0 - advance));
    bool generator = in->brake > 0.0 || (in->neutral && in->share >= 1.0); /* at half load */
    double bias = generator ? 0.5 : e->lever * e->lever;
    double most = p->boost > 0.0 ? 0.65 + 0.45 * e->boost : 1.08;
    double pull = dt / p->spin_s, wants = e->lever + p->droop * bias;
    double n = (e->n + pull * (wants / p->droop - takes)) / (1.0 + pull / p->droop);
    double rack = (wants - n) / p->droop;
    e->torque = fmin(most, fmax(0.0, rack));
    e->n = rack > most || rack < 0.0 ? fmax(0.0, e->n + pull * (e->torque - takes)) : n;
}

/* Fuel by work and friction; its heat to walls, manifold and gas. */
static void burn(const struct fifth_params *p, struct fifth_engine *e, double space_c, bool run,
                 double dt, struct fifth_flow *f)
{
    double n = e->n;
    f->friction = n * (p->rub + p->rub_speed * n);
    double indicated = e->torque * n + f->friction;
    double best = p->efficiency * (1.0 + p->rub + p->rub_speed);
    f->fuel = run ? indicated / (best * (1.0 - 0.2 * (1.0 - n) * (1.0 - n))) : 0.0;
    e->boost = lag(e->boost, fmin(1.0, f->fuel * p->efficiency), dt, p->boost_s);
    if (!run) {
        e->gas_c = lag(e->gas_c, space_c, dt, 300.0);
        e->riser_c = lag(e->riser_c, space_c, dt, 400.0);
        return;
    }
    double air = fmax(0.02, n * (1.0 + p->boost * e->boost) / (1.0 + p->boost));
    f->gas = p->air * air;
    f->gas_of_rated = air;
    f->films = pow(air, -0.2); /* NTU by flow, as Nusselt has it in a pipe */
    /* Nusselt by Reynolds to three quarters or so (Woschni 1967, from memory); the gas is hotter
     * than the wall by how rich it is. */
    double rich = fmin(1.3, f->fuel * p->efficiency / air);
    f->walls = fmin(0.45 * f->fuel, p->wall / p->efficiency * pow(air, 0.75) * rich);
    double flow = GAS_KJ * (f->gas + f->fuel / FUEL_KJ);
    double port_c = space_c + 10.0 + fmax(0.0, f->fuel - indicated - f->walls) / flow;
    double left_c = e->head_c + (port_c - e->head_c) * exp(-p->manifold * f->films);
    f->manifold = flow * fmax(0.0, port_c - left_c);
    e->gas_c = lag(e->gas_c, fmin(left_c, 700.0), dt, p->iron_s);
    e->riser_c = lag(e->riser_c, e->gas_c, dt, p->riser_s);
}

/* Raw water: the pump first throws out its air, by its turns; then it lifts what slip and the
 * strainer leave of it. */
static void pump(const struct fifth_params *p, struct fifth_engine *e, double water, bool run,
                 double dt, struct fifth_flow *f)
{
    double turns = e->n * p->rated_rpm / 60.0 * dt;
    if (!run)
        e->air_in_pump = fmin(1.0, e->air_in_pump + dt / 120.0); /* stands and drains back */
    else if (water <= 0.02)
        e->air_in_pump = fmin(1.0, e->air_in_pump + turns / 15.0);
    else
        e->air_in_pump = fmax(0.0, e->air_in_pump - turns / p->prime_turns);
    double full =
        (e->n * (1.0 - p->strainer * e->n) - p->leak * (1.0 - e->n)) / (1.0 - p->strainer);
    double lifts = water * (1.0 - e->air_in_pump * e->air_in_pump);
    f->pumped = run ? p->water * fmax(0.0, full) * lifts : 0.0;
}

/* Coolant: what the head takes, a thermostat with play, an exchanger by its NTU. */
static void cool(const struct fifth *s, const struct fifth_params *p, struct fifth_engine *e,
                 double coolant_pump, double sea_c, double dt, struct fifth_flow *f)
{
    double past = ((e->rest_c + e->head_c) / 2.0 - p->stat_c) / p->span_k;
    double play = p->play_k / 2.0 / p->span_k;
    e->lift = fmin(1.0, fmax(0.0, fmin(past + play, fmax(past - play, e->lift))));
    double moves = p->coolant_kw_k * (0.05 + 0.95 * e->n * coolant_pump);
    double least = fmin(moves * e->lift, WATER_KJ * f->pumped);
    if (least > 1e-6)
        f->shed = least * (1.0 - exp(-p->exchanger / least)) * fmax(0.0, e->rest_c - sea_c);
    double boils = fmin(1.0, fmax(0.0, 1.0 - (e->head_c - 105.0) / 30.0));
    double gets = (f->walls + f->manifold) * boils + (1.0 - p->oil_part) * f->friction;
    double oil = p->oil_kw_k * (e->oil_c - e->head_c);
    double swap = moves * (e->head_c - e->rest_c);
    e->head_c += dt * (gets + oil - swap - p->skin * (e->head_c - s->space_c)) / p->head_kj;
    e->rest_c += dt * (swap - f->shed) / p->rest_kj;
    e->oil_c += dt * (p->oil_part * f->friction - oil) / p->oil_kj;
}

/* Kilograms of vapour that a kilogram of gas can hold, and their growth per kelvin (Magnus, with
 * the figures of the WMO). */
static double vapour(double c, double *slope)
{
    double e = 6.112 * exp(17.62 * c / (243.12 + c));
    double left = fmax(PRESSURE - e, 5.0);
    *slope = 0.622 * PRESSURE / (left * left) * e * 17.62 * 243.12 / ((243.12 + c) * (243.12 + c));
    return 0.622 * e / left;
}

/* What spray and the gas that meets it come to; Newton from where they were. Where there is too
 * little water it is all steam. */
static double meet(const struct fifth_params *p, double from_c, double gas, double gas_c,
                   double water, double water_c)
{
    double c = fmin(98.0, fmax(water_c, from_c)), slope;
    double dry = gas * GAS_KJ, wet = water * WATER_KJ, steam = p->evaporates * gas * STEAM_KJ;
    double before = vapour(water_c, &slope);
    for (int k = 0; k < 6; k++) {
        double holds = vapour(c, &slope) - before;
        double over = dry * (gas_c - c) - wet * (c - water_c) - steam * holds;
        double by = over / (dry + wet + steam * slope);
        c = fmin(99.0, fmax(fmin(water_c, gas_c), c + by));
        if (fabs(by) < 0.005)
            break;
    }
    double boils = water * (WATER_KJ * (100.0 - water_c) + STEAM_KJ - 190.0);
    return fmax(c, (dry * gas_c - boils) / (dry + 1.9 * water));
}

/* The elbow: what of the gas meets the spray, of 1. */
static double elbow(const struct fifth_params *p, struct fifth_engine *e, double sea_c, bool run,
                    double dt, const struct fifth_flow *f)
{
    e->held = (e->held + dt * f->pumped) / (1.0 + dt / p->hold_s);
    double out = e->held / p->hold_s, share = out / p->water, warm_c = sea_c;
    double meets = 1.0 - exp(-p->spray * sqrt(share));
    if (f->pumped > 1e-6) {
        double charge = p->cooled_air * e->boost * e->n;
        warm_c = fmin(85.0, sea_c + (f->shed + charge) / (WATER_KJ * f->pumped));
    }
    if (run && share > 1e-4)
        e->mix_c = meet(p, e->mix_c, f->gas * meets, e->gas_c, out, warm_c);
    else if (run && e->mix_c < 70.0) /* the wet bulb of hot gas, for what is left of the film */
        e->mix_c = fmin(70.0, e->mix_c + dt);
    double coats = 1.0 - exp(-8.0 * share);
    e->film = lag(e->film, coats, dt, coats > e->film ? 0.8 : p->run_s);
    return meets;
}

/* Hose and probe. By: per second. */
static void hose(const struct fifth_params *p, struct fifth_engine *e, double space_c, bool run,
                 double meets, double dt, const struct fifth_flow *f)
{
    double wets = p->wetted * fmin(1.0, 1.15 * e->film / (e->film + 0.15));
    double streak = f->gas_of_rated * (1.0 - meets), mixed = f->gas_of_rated * meets;
    double by_gas = (1.0 - wets) * pow(streak, 0.8) / p->gas_s;
    double by_mix = (1.0 - wets) * pow(mixed, 0.8) / p->gas_s + (run ? wets / p->wet_s : 0.0);
    double by_room = (run ? 1.0 : 0.15) * p->sheds / p->gas_s;
    double takes = run ? 1.0 - exp(-p->hose_ntu * f->films) : 0.0;
    double c = e->gas_c, here_c = c, dries = 0.0;
    for (int k = 0; k < CELLS; k++) {
        if (k == p->place)
            here_c = c;
        dries += takes * wets * fmax(0.0, c - e->mix_c);
        double touches = wets * e->mix_c + (1.0 - wets) * e->wall[k];
        double pulls = by_gas * c + by_mix * e->mix_c + by_room * space_c;
        e->wall[k] = (e->wall[k] + dt * pulls) / (1.0 + dt * (by_gas + by_mix + by_room));
        c -= takes * (c - touches);
    }
    dries *= streak * p->air * GAS_KJ / STEAM_KJ;
    e->film = fmax(0.0, e->film - dt * dries / p->film_kg);
    double hose_c = e->wall[p->place];
    if (p->clip) {
        double sees = hose_c + p->clip_loss * (space_c - hose_c);
        e->well_c = lag(e->well_c, sees, dt, p->contact_s);
    } else {
        double gas = pow(streak, 0.6) / p->well_gas_s, wall = 1.0 / p->well_wall_s;
        double mix = pow(mixed, 0.6) / p->well_gas_s + (run ? wets / p->well_wet_s : 0.0);
        e->well_c = (e->well_c + dt * (gas * here_c + mix * e->mix_c + wall * hose_c)) /
                    (1.0 + dt * (gas + mix + wall));
    }
    e->bit_c = lag(e->bit_c, e->well_c, dt, p->bit_s);
}

static void fifth_step(void *boat, const struct boat_inputs *in, double dt)
{
    struct fifth *s = boat;
    double thrust = 0.0, warm = 0.0, draught = 0.0;
    for (int i = 0; i < s->engines; i++) {
        const struct boat_engine_inputs *asked = &in->engine[i];
        const struct fifth_params *p = &s->p[i];
        struct fifth_engine *e = &s->e[i];
        struct fifth_flow f = {0};
        turn(s, p, e, asked, dt);
        burn(p, e, s->space_c, asked->run, dt, &f);
        pump(p, e, asked->water, asked->run, dt, &f);
        cool(s, p, e, asked->coolant_pump, in->sea_c, dt, &f);
        double meets = elbow(p, e, in->sea_c, asked->run, dt, &f);
        hose(p, e, s->space_c, asked->run, meets, dt, &f);
        if (asked->run && !asked->neutral && asked->brake <= 0.0)
            thrust += e->n * fmax(-0.5, e->n + s->slip * (e->n - s->way)) / s->engines;
        warm += fmax(0.0, e->head_c - 35.0) / 50.0 / s->engines;
        draught += e->n / s->engines;
    }
    double off = (s->way - s->hump_at) / 0.12;
    double drag = s->way * s->way * (1.0 + s->hump * exp(-off * off));
    s->way = fmax(0.0, s->way + dt * (thrust - drag) / s->hull_s);
    /* Running engines draw the room's air through; one that stops leaves its heat in it. */
    double rise = s->space_rise_k * warm / (0.65 + 0.35 * draught);
    s->space_c = lag(s->space_c, in->air_c + rise, dt, s->space_s);
    s->fire_k += dt * in->fire_k_per_min / 60.0;
}

static struct boat_outputs fifth_outputs(const void *boat)
{
    const struct fifth *s = boat;
    struct boat_outputs o = {.space_c = s->space_c + s->fire_k};
    for (int i = 0; i < s->engines; i++) {
        const struct fifth_engine *e = &s->e[i];
        o.engine[i] = (struct boat_engine_outputs){.rpm = e->n * s->p[i].rated_rpm,
                                                   .load = fmin(1.0, e->torque),
                                                   .exhaust_c = s->dry_gas ? e->riser_c : e->bit_c,
                                                   .coolant_c = e->head_c,
                                                   .oil_c = e->oil_c};
    }
    return o;
}

const struct boat_kind boat_fifth = {fifth_new, sizeof(struct fifth), fifth_step, fifth_outputs};
