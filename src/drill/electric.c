#include "drill/electric.h"

#include <math.h>

#include "base/banned.h"

#define EFFICIENCY 0.9 /* of charger and inverter */
#define CHARGER_A  80.0
#define VOLTS_FULL 14.2
#define TAKEN_S    15.0  /* the switch waits for a generator that has come to its speed */
#define OHMS       0.004 /* of the bank and its cables */

/* Rested volts of a 12 V lithium iron phosphate bank: flat between its ends. */
static double rested_v(double charge)
{
    return 13.1 + 0.25 * charge - 0.8 * exp(-charge / 0.04);
}

void drill_electric_init(struct drill_electric *e, const struct drill_trip *trip, uint64_t seed,
                         uint8_t generator, uint8_t bank)
{
    double away_s = trip->start_s[0], rest_s = trip->length_s - away_s;

    *e = (struct drill_electric){
        .generator = generator,
        .bank = bank,
        .shore = true,
        .shore_to_s = fmax(20, away_s - 30), /* the cable comes in before the engines start */
        .start_s = away_s + 0.25 * rest_s,
        .stop_s = away_s + 0.65 * rest_s,
        .charge = 0.93,
        .hours = 812,
        .load_w = 350,
    };
    rng_seed_stream(&e->noise, seed, 6);
    e->exhaust_c = e->coolant_c = e->oil_c = NAN;
}

static void lag(double *now, double target, double tau_s, double step_s)
{
    *now += (target - *now) * step_s / (tau_s + 0.5 * step_s);
}

static void step_generator(struct drill_electric *e, double t_s, double step_s, double sea_c,
                           double space_c)
{
    double ac_w = e->taken ? e->load_w + e->charge_w : 0;

    if (isnan(e->coolant_c))
        e->exhaust_c = e->coolant_c = e->oil_c = space_c;
    e->running = t_s >= e->start_s && t_s < e->stop_s;
    /* Cranks, then straight to its speed; the governor droops 3 % to 5 kW. */
    double wanted = e->running ? DRILL_GENSET_RPM * (1.03 - 0.03 * ac_w / 5000) : 0;
    lag(&e->rpm, wanted, e->running ? 1.2 : 1.5, step_s);
    if (!e->running && e->rpm < 20)
        e->rpm = 0;
    bool excited = e->rpm > 1200;
    e->hertz = excited ? e->rpm / 30 : 0; /* four poles */
    lag(&e->volts, excited ? DRILL_SHORE_V + 1 : 0, 0.5, step_s);
    if (e->running) {
        e->run_s += step_s;
        e->hours += step_s / 3600;
    }
    e->taken = e->running && !e->shore && e->run_s > TAKEN_S;
    lag(&e->exhaust_c, e->running ? sea_c + 22 + ac_w / 500 : space_c, e->running ? 40 : 400,
        step_s);
    lag(&e->coolant_c, e->running ? 82 : space_c, e->running ? 180 : 3600, step_s);
    lag(&e->oil_c, e->running ? 90 : space_c, e->running ? 300 : 3600, step_s);
}

static void step_bank(struct drill_electric *e, double step_s)
{
    bool mains = e->shore || e->taken;
    double house_a = e->load_w / EFFICIENCY / 13;

    if (!mains) {
        e->state = 9;
        e->bank_a = -house_a;
        e->charge_w = 0;
    } else {
        double room_a = (VOLTS_FULL - rested_v(e->charge)) / OHMS;
        e->bank_a =
            e->charge >= 0.995 ? 0.5 : fmin(CHARGER_A, fmin(room_a, 2 + 4000 * (1 - e->charge)));
        e->state = e->charge >= 0.995 ? 5 : e->bank_a < 0.9 * CHARGER_A ? 4 : 3;
        e->charge_w = e->bank_a * e->bank_v / EFFICIENCY;
    }
    e->charge = fmin(1, fmax(0.05, e->charge + e->bank_a * step_s / 3600 / DRILL_BANK_AH));
    lag(&e->bank_v, rested_v(e->charge) + e->bank_a * OHMS, 2, step_s);
}

void drill_electric_step(struct drill_electric *e, double t_s, double step_s, double sea_c,
                         double space_c)
{
    if (e->bank_v <= 0)
        e->bank_v = rested_v(e->charge);
    e->shore = t_s < e->shore_to_s;
    step_generator(e, t_s, step_s, sea_c, space_c);
    step_bank(e, step_s);
}

static struct drill_value about(struct drill_electric *e, double v, double noise)
{
    return (struct drill_value){true, v + noise * rng_normal(&e->noise)};
}

static struct drill_value value(double v)
{
    return (struct drill_value){true, v};
}

/* One line of alternating current: volts, amps, hertz, watts. */
static void fill_line(struct drill_electric *e, struct drill_message *m, double volts, double hertz,
                      double watts)
{
    bool on = volts > 1;
    m->v[0] = on ? about(e, volts, 0.4) : value(0);
    m->v[1] = value(on ? watts / 0.97 / volts : 0);
    m->v[2] = on ? about(e, hertz, 0.01) : value(0);
    m->v[3] = value(on ? watts : 0);
}

static bool fill_generator(struct drill_electric *e, struct drill_message *m)
{
    if (!e->running && e->rpm <= 0)
        return false; /* its box is off with it */
    double ac_w = e->taken ? e->load_w + e->charge_w : 0;
    switch (m->kind) {
    case DRILL_RAPID:
        m->place = e->generator;
        m->v[0] = value(e->rpm > 0 ? fmax(0, e->rpm + 1.5 * rng_normal(&e->noise)) : 0);
        return true;
    case DRILL_DYNAMIC:
        m->place = e->generator;
        m->v[DYN_OIL_KPA] = about(e, e->rpm > 300 ? 380 : 0.3 * e->rpm, 2);
        m->v[DYN_OIL_C] = about(e, e->oil_c, 0.1);
        m->v[DYN_COOLANT_C] = about(e, e->coolant_c, 0.1);
        m->v[DYN_ALTERNATOR_V] = about(e, 13.9, 0.02);
        m->v[DYN_FUEL_LPH] = value(e->rpm > 300 ? 0.9 + ac_w / 3500 : 0);
        m->v[DYN_HOURS] = value(e->hours);
        m->v[DYN_LOAD] = value(fmin(100, 12 + ac_w / 60));
        return true;
    case DRILL_EXHAUST:
        m->place = e->generator;
        m->v[0] = about(e, e->exhaust_c, 0.15);
        return true;
    default:
        m->place = 1; /* the connection: its terminals */
        if (m->kind == DRILL_AC_VOLTS) {
            m->v[0] = e->volts > 1 ? about(e, e->volts, 0.3) : value(0);
            m->v[1] = e->hertz > 0 ? about(e, e->hertz, 0.02) : value(0);
        } else {
            m->v[0] = value(ac_w / 0.97 / 230);
            m->v[1] = value(ac_w);
        }
        return true;
    }
}

/* What comes to the inverter, by the switch that takes it from the shore or from the generator: a
 * little less than there. */
static double input_volts(const struct drill_electric *e)
{
    return e->shore ? DRILL_SHORE_V - 3 : e->taken ? e->volts - 2 : 0;
}

bool drill_electric_fill(struct drill_electric *e, struct drill_message *m)
{
    double input_v = input_volts(e), hertz = e->shore || input_v <= 0 ? 50 : e->hertz;
    bool mains = input_v > 0;

    if (m->kind <= DRILL_EXHAUST || m->kind == DRILL_AC_VOLTS || m->kind == DRILL_AC_AMPS)
        return fill_generator(e, m);
    m->place = 0;
    switch (m->kind) {
    case DRILL_AC_IN:
        fill_line(e, m, input_v, hertz, e->load_w + e->charge_w);
        return true;
    case DRILL_AC_OUT:
        fill_line(e, m, mains ? input_v : DRILL_SHORE_V, hertz, e->load_w);
        return true;
    case DRILL_CHARGER: /* the standard's charger: 1 bulk, 2 absorption, 5 float, 0 not charging */
        m->v[0] = value(e->bank);
        m->v[1] = value(!mains ? 0 : e->state == 3 ? 1 : e->state == 4 ? 2 : 5);
        return true;
    case DRILL_INVERTER:
        m->v[0] = value(mains ? 1 : 0); /* pass-through, inverting */
        return true;
    case DRILL_CONVERTER:
        m->v[0] = value(e->state);
        return true;
    case DRILL_BATTERY_SETUP:
        m->place = e->bank;
        m->v[0] = value(DRILL_BANK_AH);
        return true;
    case DRILL_DC:
        m->v[0] = about(e, e->bank_v, 0.02);
        m->v[1] = about(e, e->bank_a, 0.2);
        return true;
    default: /* DRILL_CHARGE */
        m->place = e->bank;
        m->v[0] = value(100 * e->charge);
        return true;
    }
}
