#include "detect_sixth.h"

#include "base/banned.h"

#define PRESSURE 1050.0 /* hPa, with some back pressure */
#define STEAM_KJ 2257.0 /* per kg: textbook */
#define TURN     6.283185307179586

void sixth_elbow_draw(struct dice *d, struct sixth_params *p)
{
    bool jacket = p->petrol || dice_chance(d, 0.25);
    p->jacket_kg = jacket ? dice_range(d, 0.004, 0.012) : 0.001;
    p->jacket_ntu = jacket ? dice_range(d, 0.05, 0.2) : 0.0;
    p->stays = jacket ? dice_range(d, 0.0, 0.6) : 0.0; /* below the holes of the spray ring */
    p->hold_s = dice_log(d, 0.2, 1.0);
    p->spray = dice_range(d, 1.5, 3.5);
    p->reach = dice_range(d, 0.2, 0.8);
    double uneven = dice_range(d, 0.05, 0.3);
    for (int k = 0; k < SIXTH_SECTORS; k++)
        p->pattern[k] = fmax(0.2, 1.0 + uneven * dice_normal(d));
    p->lean = dice_range(d, 0.3, 0.9);
    p->blend = dice_range(d, 0.3, 0.9); /* by how far down the probe is */
    p->run_s = dice_log(d, 1.0, 6.0);
    p->wet_s = dice_log(d, 1.5, 6.0);
    bool metal = dice_chance(d, 0.5);
    p->gas_s = metal ? dice_log(d, 35.0, 150.0) : dice_log(d, 15.0, 60.0);
    p->around_s = metal ? dice_log(d, 15.0, 60.0) : 2000.0;
    p->sheds = dice_range(d, 0.02, 0.1);
    p->probe = dice_chance(d, 0.45) ? SIXTH_POCKET : metal ? SIXTH_METAL : SIXTH_STRAP;
    p->sector = (int)dice_range(d, 0.0, SIXTH_SECTORS);
    p->tip_wet_s = dice_log(d, 0.8, 5.0);
    p->tip_gas_s = dice_log(d, 10.0, 40.0);
    p->stem = dice_range(d, 0.02, 0.25); /* of what a short pocket sees, its wall */
    p->outer_s = p->probe == SIXTH_METAL ? dice_log(d, 1.0, 5.0) : dice_log(d, 3.0, 12.0);
}

/* Magnus, with the figures of the WMO. */
void sixth_vapour(double *vapour)
{
    for (int c = 0; c < 102; c++) {
        double e = 6.112 * exp(17.62 * c / (243.12 + c));
        vapour[c] = 0.622 * e / fmax(PRESSURE - e, 10.0);
    }
}

/* A flexible impeller's displacement, less what slips past; at speed the strainer and a seacock
 * with growth in it let only so much through. An intake out of the water fills the suction with
 * air, which has to be pumped out again. */
void sixth_pump(const struct sixth_params *p, struct sixth_engine *e, double water, bool run,
                double dt, struct sixth_flow *f)
{
    double turns = e->n * p->rated_rpm / 60.0 * dt;
    if (run)
        e->suction += (water - e->suction) * turns / (turns + p->suction_turns);
    else if (p->drains_s > 0.0) /* above the waterline */
        e->suction = sixth_lag(e->suction, 0.0, dt, p->drains_s);
    double wants = fmax(0.0, e->n * (1.0 + p->slip) - p->slip);
    double free = wants / p->most_flow;
    double full = wants / sqrt(sqrt(1.0 + free * free * free * free));
    f->pumped = run ? p->water * full * fmin(water, e->suction) : 0.0;
}

/* From cell to cell, each with its heat; what stands in the riser's jacket is lost or boils. */
void sixth_path(const struct sixth_params *p, struct sixth_engine *e, double sea_c, bool run,
                double dt, struct sixth_flow *f)
{
    double cell = p->path_kg / SIXTH_PATH * SIXTH_WATER_KJ, flow = f->pumped * SIXTH_WATER_KJ;
    double from = sea_c;
    double heat[SIXTH_PATH] = {[1] = f->charge, [2] = f->shed};
    if (p->manifold == SIXTH_BY_SEA)
        heat[3] = f->iron;
    heat[4] = f->jacket;
    for (int k = 0; k < SIXTH_PATH; k++) {
        double mass = k == 4 ? cell + e->left_kg * SIXTH_WATER_KJ : cell;
        double c = (mass * e->path_c[k] + dt * (flow * from + heat[k])) / (mass + dt * flow);
        double steam_kg = mass * fmax(0.0, c - 100.0) / STEAM_KJ;
        if (k == 3) /* of the manifold's jacket: full, to dry */
            e->stands = fmax(
                0.0, fmin(1.0, e->stands + (dt * f->pumped - steam_kg) * SIXTH_PATH / p->path_kg));
        if (k == 4)
            e->left_kg = fmax(0.0, e->left_kg - steam_kg);
        e->path_c[k] = fmin(c, 100.0);
        from = e->path_c[k];
    }
    double stands = p->stays * p->jacket_kg;
    e->left_kg = fmin(p->jacket_kg, e->left_kg + dt * f->pumped);
    if (f->pumped < 1e-5 && e->left_kg > stands)
        e->left_kg = sixth_lag(e->left_kg, stands, dt, 2.0);
    double full = e->left_kg / p->jacket_kg;
    e->sprayed = sixth_lag(e->sprayed, run ? f->pumped * full * full : 0.0, dt, p->hold_s);
}

static double vapour_at(const struct sixth *s, double c)
{
    int k = (int)fmin(100.0, fmax(0.0, c));
    return s->vapour[k] + (c - k) * (s->vapour[k + 1] - s->vapour[k]);
}

/* What gas and water come to that meet: the water warms, and some of it becomes vapour. */
static double meet(const struct sixth *s, double reach, double gas, double gas_c, double water,
                   double water_c)
{
    double dry = gas * SIXTH_GAS_KJ, wet = water * SIXTH_WATER_KJ;
    double steam_c =
        (dry * gas_c + water * 1.9 * 100.0 - wet * (100.0 - water_c) - water * STEAM_KJ) /
        (dry + 1.9 * water + 1e-12);
    if (steam_c >= 100.0)
        return steam_c;
    double low = fmin(water_c, gas_c), high = 100.0, before = vapour_at(s, water_c);
    for (int k = 0; k < 11; k++) {
        double c = 0.5 * (low + high);
        double rises = fmin(water, fmax(0.0, gas * reach * (vapour_at(s, c) - before)));
        bool colder = dry * (gas_c - c) - wet * (c - water_c) - rises * STEAM_KJ > 0.0;
        *(colder ? &low : &high) = c;
    }
    return 0.5 * (low + high);
}

/* A probe in its pocket, or on the pipe. */
static void probe(const struct sixth_params *p, struct sixth_engine *e, bool run, double gas_c,
                  double film_c, double air, double dt)
{
    double wall = e->wall_c[p->sector], wet = run ? e->film[p->sector] : 0.0;
    double by_wet = wet / p->tip_wet_s;
    double by_gas = run ? (1.0 - 0.8 * wet) * pow(air, 0.6) / p->tip_gas_s : 0.0;
    double by_stem = p->stem * (by_wet + by_gas) + 1.0 / 200.0;
    e->tip_c = (e->tip_c + dt * (by_wet * film_c + by_gas * gas_c + by_stem * wall)) /
               (1.0 + dt * (by_wet + by_gas + by_stem));
    e->outer_c = sixth_lag(e->outer_c, wall, dt, p->outer_s);
}

/* Round the pipe: where the spray is thin, or has run to the bottom, the gas stays hot. Heel and
 * roll move the water. */
void sixth_elbow(struct sixth *s, int i, bool run, double dt, const struct sixth_flow *f)
{
    const struct sixth_params *p = &s->p[i];
    struct sixth_engine *e = &s->e[i];
    double part[SIXTH_SECTORS], sum = 0.0, share = e->sprayed / p->water;
    double leans = p->lean * fmax(0.0, 1.0 - 0.8 * share), tilt = s->sea.heel + s->sea.roll;
    for (int k = 0; k < SIXTH_SECTORS; k++) {
        part[k] = p->pattern[k] * (1.0 + leans * cos(TURN * k / SIXTH_SECTORS - 2.0 * tilt));
        sum += part[k];
    }
    double film_c[SIXTH_SECTORS], gas_c[SIXTH_SECTORS], mean = 0.0;
    double water_c = e->path_c[SIXTH_PATH - 1], gas = run ? f->gas / SIXTH_SECTORS : 0.0;
    for (int k = 0; k < SIXTH_SECTORS; k++) {
        double here = part[k] / sum, much = SIXTH_SECTORS * here * share;
        double meets = 1.0 - exp(-p->spray * sqrt(much));
        double mixed = fmin(e->gas_c, 70.0); /* what is left of the film is as warm, or so */
        if (run && much > 1e-3)
            mixed = meet(s, p->reach, gas * meets, e->gas_c, here * e->sprayed, water_c);
        double coats = 0.97 * (1.0 - exp(-8.0 * much));
        e->film[k] = sixth_lag(e->film[k], coats, dt, coats > e->film[k] ? 0.5 : p->run_s);
        film_c[k] = fmin(mixed, 99.0);
        gas_c[k] = mixed + (1.0 - meets) * (e->gas_c - mixed);
        mean += gas_c[k] / SIXTH_SECTORS;
    }
    double before[SIXTH_SECTORS];
    for (int k = 0; k < SIXTH_SECTORS; k++)
        before[k] = e->wall_c[k];
    for (int k = 0; k < SIXTH_SECTORS; k++) {
        gas_c[k] += p->blend * (mean - gas_c[k]);
        double wet = run ? e->film[k] : 0.0;
        double by_wet = wet / p->wet_s;
        double by_gas = run ? (1.0 - wet) * pow(f->air, 0.8) / p->gas_s : 0.0;
        double by_room = p->sheds / p->gas_s * (run ? 1.0 : 0.5);
        double by_side = 1.0 / p->around_s;
        double sides =
            before[(k + 1) % SIXTH_SECTORS] + before[(k + SIXTH_SECTORS - 1) % SIXTH_SECTORS];
        e->wall_c[k] = (before[k] + dt * (by_wet * film_c[k] + by_gas * gas_c[k] +
                                          by_room * s->space_c + by_side * 0.5 * sides)) /
                       (1.0 + dt * (by_wet + by_gas + by_room + by_side));
    }
    probe(p, e, run, gas_c[p->sector], film_c[p->sector], f->air, dt);
}
