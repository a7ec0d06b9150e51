/* Fuel over a trial: by the meters' rate, by the trip counters, by the tanks, and what each says
 * about the other. */
#include "report/trial/inside.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

#define HOLD_S  5   /* a rate counts on for so long when nothing new is heard */
#define LEVEL_S 120 /* levels are averaged over so long at either end */
#define BLOCK_S 60  /* levels against litres burnt: means of so long, longer than a wave */

/* Litres burnt by the rate, and how long the engine ran. */
static double integrate(const struct trial_series *rate)
{
    double litres = 0, last = 0;
    int held = HOLD_S;

    for (size_t i = 0; i < rate->len; i++) {
        if (!isnan(rate->mean[i])) {
            last = (double)rate->mean[i];
            held = 0;
        } else {
            held++;
        }
        if (held < HOLD_S)
            litres += last / 3600;
    }
    return litres;
}

static void add_meters(struct trial *t)
{
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        const struct trial_series *rate = trial_series_find(t, QTY_FUEL_RATE, e);
        const struct trial_series *trip = trial_series_find(t, QTY_TRIP_FUEL, e);
        struct trial_meter *m = &t->report.meter[e];

        if (rate) {
            m->heard = true;
            m->burnt_l += integrate(rate);
        }
        /* a counter that was set back within the log says nothing */
        if (trip && trip->len > 0) {
            double change = (double)trip->mean[trip->len - 1] - trip->first;

            m->has_trip = change >= 0;
            m->trip_l += change;
        }
    }
}

/* Mean and standard error of a level over the first or last seconds in which it was heard. */
static struct trial_stat level(const struct trial *t, enum quantity q, int place, bool last)
{
    const struct trial_series *s = trial_series_find(t, q, place);
    size_t from = 0, to = s ? s->len : 0;

    if (last && to > LEVEL_S)
        from = to - LEVEL_S;
    if (!last) {
        while (from < to && isnan(s->mean[from]))
            from++;
        to = from + LEVEL_S < to ? from + LEVEL_S : to;
    }
    return trial_stat_of(t, q, place, from, to);
}

/* A level is the share of the volume already: the plant knows the tank's table. */
static void add_tank(struct trial *t, enum quantity q, int place)
{
    const struct trial_series *s = trial_series_find(t, q, place);
    struct trial_tank *k = &t->report.tank[place];
    struct trial_stat first, last;
    double litres;

    if (!s || s->readings < 2)
        return;
    first = level(t, q, place, false);
    last = level(t, q, place, true);
    k->capacity_l = s->capacity_l;
    litres = k->capacity_l > 0 ? k->capacity_l / 100 : NAN;
    if (!k->heard) {
        k->first_pc = first.mean;
        k->used_l = k->used_error = 0;
        k->stuck = true;
    }
    k->heard = true;
    k->petrol = q == QTY_PETROL_TANK;
    k->last_pc = last.mean;
    k->last_l = last.mean * litres;
    k->stuck = k->stuck && s->highest <= s->lowest;
    k->used_l += (first.mean - last.mean) * litres;
    k->used_error = hypot(k->used_error, hypot(first.error, last.error) * litres);
}

/* --- a tank's level against litres burnt -------------------------------------------------- */

/* Of tank i, or of all where i is -1; false where one of them was not heard. */
static bool block_litres(const struct trial *t, int i, size_t from, size_t to, double *litres)
{
    bool any = false;

    *litres = 0;
    for (int k = i < 0 ? 0 : i; k < (i < 0 ? TRIAL_TANKS : i + 1); k++) {
        struct trial_stat s = trial_stat_of(t, QTY_FUEL_TANK, k, from, to);

        if (!t->report.tank[k].heard)
            continue;
        if (s.n == 0)
            s = trial_stat_of(t, QTY_PETROL_TANK, k, from, to);
        if (s.n == 0 || !(t->report.tank[k].capacity_l > 0))
            return false;
        *litres += s.mean / 100 * t->report.tank[k].capacity_l;
        any = true;
    }
    return any;
}

/* By engine i, or by all where i is -1. */
static double block_burnt(const struct trial *t, int i, size_t from, size_t to)
{
    double litres = 0;

    for (int e = i < 0 ? 0 : i; e < (i < 0 ? TRIAL_ENGINES : i + 1); e++)
        litres += trial_stat_of(t, QTY_FUEL_RATE, e, from, to).mean * (double)(to - from) / 3600;
    return litres;
}

/* What the tank held against what its meter has counted so far is a line; its slope, taken from
 * every minute of the trial, says far more than the two ends do. Each log begins its own line. */
static void add_slope(const struct trial *t, int i, struct trial_slope *into)
{
    double n = 0, x = 0, y = 0, xx = 0, xy = 0, yy = 0, burnt = 0;

    for (size_t from = 0; from + BLOCK_S <= t->wall_len; from += BLOCK_S) {
        double litres, within = block_burnt(t, i, from, from + BLOCK_S);
        double at = burnt + within / 2;

        burnt += within;
        if (!block_litres(t, i, from, from + BLOCK_S, &litres))
            continue;
        n++;
        x += at;
        y += litres;
        xx += at * at;
        xy += at * litres;
        yy += litres * litres;
    }
    if (n < 3)
        return;
    into->xx += xx - x * x / n;
    into->xy += xy - x * y / n;
    into->yy += yy - y * y / n;
    into->freedom += n - 1;
}

/* Litres out of the tank for each litre metered; NaN where that says nothing. */
static void slope_of(const struct trial_slope *s, double *factor, double *error)
{
    *factor = *error = NAN;
    if (s->freedom < 5 || !(s->xx > 0))
        return;
    *factor = -s->xy / s->xx;
    *error = sqrt(fmax(0, s->yy - s->xy * s->xy / s->xx) / (s->freedom - 1) / s->xx);
}

/* --- senders that hang ------------------------------------------------------------------ */

static double burnt_by(const struct trial_report *r, int tank)
{
    double all = 0;
    int tanks = 0;

    for (int i = 0; i < TRIAL_TANKS; i++)
        tanks += r->tank[i].heard;
    for (int e = 0; e < TRIAL_ENGINES; e++)
        all += r->meter[e].burnt_l;
    return tanks == r->engines && r->meter[tank].heard ? r->meter[tank].burnt_l : all / tanks;
}

static void find_stuck_tanks(struct trial_report *r)
{
    for (int i = 0; i < TRIAL_TANKS; i++) {
        struct trial_tank *k = &r->tank[i];
        double burnt;
        char key[CHANNEL_KEY_SIZE], text[240], number[32];

        if (!k->heard)
            continue;
        burnt = burnt_by(r, i);
        /* a float moves by less than its wave; enough must have gone that it cannot hide */
        k->stuck = k->stuck && burnt > 3 && !(burnt < 0.01 * k->capacity_l);
        if (!k->stuck)
            continue;
        text_format(key, sizeof key, "%s-tank.%d", k->petrol ? "petrol" : "fuel", i);
        text_number(number, sizeof number, burnt, 0);
        text_format(text, sizeof text,
                    "%s did not move at all while about %s L were burnt: sender stuck?", key,
                    number);
        trial_add_finding(r, "stuck", key, NAN, NAN, text);
    }
}

/* --- meters against tanks --------------------------------------------------------------- */

static void find_meter(struct trial_report *r, int e)
{
    struct trial_meter *m = &r->meter[e];
    char key[CHANNEL_KEY_SIZE], text[240], off[32], error[32], factor[32];

    if (!(fabs(m->factor - 1) > fmax(2.5 * m->error, 0.015)))
        return;
    text_format(key, sizeof key, "fuel-rate.%d", e);
    text_number(off, sizeof off, fabs(1 / m->factor - 1) * 100, 1);
    text_number(error, sizeof error, 2 * m->error * 100, 1);
    text_number(factor, sizeof factor, m->factor, 3);
    text_format(text, sizeof text,
                "%s reads %s %% (±%s) too %s against tank %d: gain = %s would correct it", key, off,
                error, m->factor < 1 ? "much" : "little", e, factor);
    trial_add_finding(r, "meter", key, m->factor, m->error, text);
}

static void compare_meters(struct trial *t)
{
    struct trial_report *r = &t->report;
    int tanks = 0, engines = 0;
    bool whole = true;

    r->used_l = r->used_error = r->burnt_l = 0;
    r->factor = r->factor_error = NAN;
    for (int i = 0; i < TRIAL_TANKS; i++) {
        tanks += r->tank[i].heard;
        whole = whole && !r->tank[i].stuck;
    }
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        r->meter[e].factor = r->meter[e].error = NAN;
        engines += r->meter[e].heard;
        r->burnt_l += r->meter[e].burnt_l;
    }
    if (whole && r->burnt_l > 1)
        slope_of(&t->slope[TRIAL_TANKS], &r->factor, &r->factor_error);
    /* tank N feeds engine N where there are as many: said in the report */
    for (int e = 0; e < TRIAL_ENGINES && tanks == engines; e++) {
        struct trial_meter *m = &r->meter[e];
        struct trial_tank *k = &r->tank[e];

        if (!m->heard || !k->heard || k->stuck || !(m->burnt_l > 1))
            continue;
        slope_of(&t->slope[e], &m->factor, &m->error);
        k->used_l = m->factor * m->burnt_l;
        k->used_error = m->error * m->burnt_l;
    }
    for (int i = 0; i < TRIAL_TANKS; i++) {
        if (!r->tank[i].heard)
            continue;
        r->used_l += whole ? r->tank[i].used_l : NAN;
        r->used_error = hypot(r->used_error, r->tank[i].used_error);
    }
    if (tanks == 0)
        r->used_l = NAN;
}

static void find_usable(struct trial_report *r)
{
    const struct fuel_setting *keep = &r->settings->fuel;
    double have = 0, all = 0;

    for (int i = 0; i < TRIAL_TANKS; i++) {
        const struct trial_tank *k = &r->tank[i];

        if (!k->heard || k->stuck || !(k->capacity_l > 0))
            continue;
        const struct channel_setting *s =
            settings_channel(r->settings, (struct channel_id){QTY_FUEL_TANK, (uint8_t)i, 0});
        have += fmax(0, k->last_l - (s ? s->unusable_l : 0));
        all += k->capacity_l;
    }
    if (all > 0 && isfinite(have))
        r->usable_l = fmax(
            0, have - (keep->reserve_l > 0 ? keep->reserve_l : keep->reserve_percent / 100 * all));
}

void trial_fuel_add(struct trial *t)
{
    add_meters(t);
    for (int i = 0; i < TRIAL_TANKS; i++) {
        add_tank(t, QTY_FUEL_TANK, i);
        if (!t->report.tank[i].heard)
            add_tank(t, QTY_PETROL_TANK, i);
    }
    for (int i = 0; i < TRIAL_TANKS; i++)
        add_slope(t, i, &t->slope[i]);
    add_slope(t, -1, &t->slope[TRIAL_TANKS]);
}

void trial_fuel_finish(struct trial *t)
{
    find_stuck_tanks(&t->report);
    compare_meters(t);
    for (int e = 0; e < t->report.engines; e++)
        find_meter(&t->report, e);
    find_usable(&t->report);
}
