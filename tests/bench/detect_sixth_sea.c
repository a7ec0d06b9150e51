#include "detect_sixth.h"

#include "base/banned.h"

#define GRAVITY 9.81
#define TURN    6.283185307179586

void sixth_sea_draw(struct sixth_sea *w, struct dice *d)
{
    *w = (struct sixth_sea){.dice = {.state = dice_next(d)}, .left_s = 1.0, .regulator = 1.0};
    /* Calm, moderate, rough; with it wind and the autopilot's work. Invented. */
    double state = dice_chance(d, 0.4) ? 0.1 : dice_chance(d, 0.65) ? 0.45 : 1.0;
    double peak = TURN / dice_range(d, 3.0, 7.5); /* of wind sea: its period in seconds */
    for (int k = 0; k < SIXTH_WAVES; k++) {
        w->rad[k] = peak * dice_range(d, 0.8, 1.35);
        w->phase[k] = dice_range(d, 0.0, TURN);
    }
    w->wave_load = state * dice_range(d, 0.02, 0.08);
    w->full_ms = dice_range(d, 3.0, 11.0); /* 6 to 21 kn */
    w->heading = dice_range(d, -1.0, 1.0);
    w->leg_s = dice_log(d, 120.0, 1500.0);
    w->heel = dice_range(d, -0.08, 0.08);
    w->roll_gain = state * dice_range(d, 0.02, 0.08);
    w->roll_rad = TURN / dice_range(d, 2.5, 6.0);
    w->gust_most = state * dice_range(d, 0.0, 0.08);
    w->gust_s = dice_log(d, 15.0, 120.0);
    w->layer_most = dice_range(d, 0.0, 0.5);
    w->layer_s = dice_log(d, 60.0, 900.0);
    w->creep_most = dice_range(d, 0.0, 0.004);
    w->pilot = state * dice_range(d, 0.0, 0.03);
    w->pilot_rad = TURN / dice_range(d, 8.0, 25.0);
    /* A kettle of 2 to 3 kW on a set of 6 to 20; a compressor; a charger: common practice. */
    w->kettle_part = dice_range(d, 0.1, 0.4);
    w->kettle_s = dice_log(d, 200.0, 3000.0);
    w->cold_part = dice_range(d, 0.05, 0.2);
    w->cold_s = dice_range(d, 60.0, 600.0);
    w->charge = dice_range(d, 0.3, 1.0);
    w->charge_part = dice_range(d, 0.05, 0.25);
    w->taper_s = dice_log(d, 900.0, 5000.0);
    w->regulator_s = 10.0;
}

/* A wandering that comes back to nothing, by the second. */
static double wander(struct dice *d, double from, double most, double tau)
{
    return from + (sqrt(2.0 * tau) * most * dice_normal(d) - from) / tau;
}

static void second(struct sixth_sea *w)
{
    struct dice *d = &w->dice;
    w->gust = wander(d, w->gust, w->gust_most, w->gust_s);
    w->layer = wander(d, w->layer, w->layer_most, w->layer_s);
    w->creep = wander(d, w->creep, w->creep_most, 300.0);
    double course = dice_range(d, -1.0, 1.0), leg = dice_log(d, 120.0, 1500.0);
    double boils = dice_range(d, 120.0, 300.0), rests = dice_log(d, 300.0, 3600.0);
    double cycle = dice_range(d, 90.0, 700.0), switching = dice_range(d, 4.0, 40.0);
    if ((w->leg_s -= 1.0) < 0.0) {
        w->heading = course;
        w->leg_s = leg;
    }
    if ((w->kettle_s -= 1.0) < 0.0) {
        w->kettle = w->kettle > 0.0 ? 0.0 : 1.0;
        w->kettle_s = w->kettle > 0.0 ? boils : rests;
    }
    if ((w->cold_s -= 1.0) < 0.0) {
        w->cold = w->cold > 0.0 ? 0.0 : 3.0; /* the surge of its start */
        w->cold_s = cycle;
    } else if (w->cold > 1.0) {
        w->cold = 1.0;
    }
    /* Full charge, then less and less; at the end the regulator goes off and on. */
    if ((w->regulator_s -= 1.0) < 0.0) {
        w->regulator = w->charge < 0.15 && w->regulator > 0.5 ? 0.0 : 1.0;
        w->regulator_s = switching;
    }
}

void sixth_sea_step(struct sixth_sea *w, double way, bool charging, double dt)
{
    if ((w->left_s -= dt) <= 0.0) {
        w->left_s += 1.0;
        second(w);
    }
    w->wave = 0.0;
    for (int k = 0; k < SIXTH_WAVES; k++) {
        /* Of encounter, in deep water. */
        double meets = w->rad[k] + w->rad[k] * w->rad[k] / GRAVITY * w->full_ms * way * w->heading;
        w->phase[k] = fmod(w->phase[k] + dt * fmin(fabs(meets), 6.0), TURN);
        w->wave += sin(w->phase[k]) / sqrt(0.5 * SIXTH_WAVES);
    }
    double pulls = w->roll_gain * w->wave - w->roll;
    w->roll_rate += dt * w->roll_rad * (w->roll_rad * pulls - 0.2 * w->roll_rate);
    w->roll += dt * w->roll_rate;
    w->pilot_phase = fmod(w->pilot_phase + dt * w->pilot_rad, TURN);
    if (charging)
        w->charge -= dt * w->charge / w->taper_s;
    else
        w->charge += dt * (1.0 - w->charge) / 40000.0;
}

double sixth_sea_load(const struct sixth_sea *w, double way)
{
    double open = fmin(1.0, way / 0.4); /* at little way she is in shelter */
    double sways = w->wave_load * w->wave + w->pilot * sin(w->pilot_phase);
    return fmax(0.5, 1.0 + open * (sways + w->gust));
}

double sixth_house_load(const struct sixth_sea *w, double ordered, bool idling)
{
    double charger = w->charge_part * fmin(1.0, 1.5 * w->charge);
    if (idling) /* no generator, but alternators at anchor */
        return ordered * (0.85 + 0.15 * w->regulator);
    double house = w->kettle * w->kettle_part + w->cold * w->cold_part + charger;
    return fmin(1.0, 0.7 * ordered + house);
}
