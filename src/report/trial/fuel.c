/* Fuel over a trial: by the meters' rate, by the trip counters, by the tanks, and what each says
 * about the other. */
#include "report/trial/inside.h"

#include "base/text.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define HOLD_S       5   /* a rate counts on for so long when nothing new is heard */
#define LEVEL_S      120 /* levels are averaged over so long at either end */
#define STILL_KN     0.7 /* slower: at rest, or drifting */
#define STILL_S      60  /* at rest for less says nothing of a level */
#define STILL_MOST_S 300
#define CALM_S       20 /* the fuel comes to rest after the way is off */
#define MINUTE_S     60
#define UNMETERED_S  20  /* of a trial: a hundredth of an hour's burn and less */
#define SQUAT_PART   0.3 /* of what squat does to a factor: not known */
#define SQUAT                                                                                      \
    0.02 /* share of the tank by which a level is off under way, two standard errors:              \
            common practice, no source */
#define FLAT 0.28867513459481287 /* 1/sqrt(12): of a step (GUM 4.3.7) */

/* Litres by the rate in seconds [from, to). */
static double integrate(const struct trial_series *rate, size_t from, size_t to)
{
    double litres = 0, last = 0;
    int held = HOLD_S;

    for (size_t i = from; i < to && i < rate->len; i++) {
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
        const struct trial_series *doubt = trial_series_find(t, QTY_BURN_ERROR, e);
        struct trial_meter *m = &t->report.meter[e];

        if (rate) {
            m->heard = true;
            m->burnt_l += integrate(rate, 0, rate->len);
            if (doubt)
                m->burnt_error_l += integrate(doubt, 0, doubt->len) / 2;
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
    trial_error_alone(&first);
    trial_error_alone(&last);
    k->capacity_l = s->capacity_l;
    litres = k->capacity_l > 0 ? k->capacity_l / 100 : NAN;
    if (!k->heard) {
        k->first_pc = first.mean;
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

/* Engines that run in gear, or way on: the tank is shaken, and squats. */
static bool is_still(const struct trial *t, size_t second)
{
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        const struct trial_series *rpm = trial_series_find(t, QTY_RPM, e);
        const struct trial_series *gear = trial_series_find(t, QTY_GEAR, e);
        bool runs = rpm && second < rpm->len && (double)rpm->mean[second] >= t->options.running_rpm;

        if (runs && !(gear && second < gear->len && gear->mean[second] == 0))
            return false;
    }
    for (int i = 0; i < 2; i++) {
        const struct trial_series *s =
            trial_series_find(t, i ? QTY_SPEED_WATER : QTY_SPEED_GROUND, 0);

        if (s && second < s->len && (double)s->mean[second] > STILL_KN)
            return false;
    }
    return true;
}

/* Whether engine i, or any where i is -1, was under way and its meter not heard for more than a
 * moment: what went out of a tank then was not metered. */
static bool went_unmetered(const struct trial *t, int i)
{
    for (int e = i < 0 ? 0 : i; e < (i < 0 ? TRIAL_ENGINES : i + 1); e++) {
        const struct trial_series *rate = trial_series_find(t, QTY_FUEL_RATE, e);
        const struct trial_series *rpm = trial_series_find(t, QTY_RPM, e);
        int held = 0, missing = 0;
        bool ran = false;

        for (size_t k = 0; rate && rpm && k < t->wall_len; k++) {
            if (k < rpm->len && !isnan(rpm->mean[k]))
                ran = (double)rpm->mean[k] >= t->options.running_rpm;
            held = k < rate->len && !isnan(rate->mean[k]) ? 0 : held + 1;
            missing += ran && held >= HOLD_S && !is_still(t, k);
        }
        if (missing > UNMETERED_S)
            return true;
    }
    return false;
}

struct span {
    size_t from, to;
};

/* Where the levels are compared: the still time before the way and the one after it, settled for a
 * while; else the first and the last LEVEL_S. False where there is no log to speak of. */
static bool ends_of(const struct trial *t, struct span *first, struct span *last, bool *moving)
{
    size_t n = t->wall_len, from = 0, to = n;

    if (n < 2 * (size_t)LEVEL_S)
        return false;
    while (from < n && is_still(t, from))
        from++;
    while (to > from && is_still(t, to - 1))
        to--;
    *moving = from < STILL_S || n - to < STILL_S + CALM_S;
    if (from == n) { /* never under way: nothing to part */
        from = n / 2;
        to = n / 2;
    }
    *first = *moving && from < STILL_S
                 ? (struct span){0, LEVEL_S}
                 : (struct span){from > STILL_MOST_S ? from - STILL_MOST_S : 0, from};
    *last = n - to < STILL_S + CALM_S
                ? (struct span){n - LEVEL_S, n}
                : (struct span){to + CALM_S,
                                to + CALM_S + STILL_MOST_S < n ? to + CALM_S + STILL_MOST_S : n};
    return true;
}

/* Litres in tank i over a span, and the variance of that; false where it was not heard. */
static bool litres_at(const struct trial *t, int i, struct span at, double *litres,
                      double *variance)
{
    enum quantity q = t->report.tank[i].petrol ? QTY_PETROL_TANK : QTY_FUEL_TANK;
    const struct trial_series *series = trial_series_find(t, q, i);
    struct trial_stat s = trial_stat_of(t, q, i, at.from, at.to);
    double capacity = t->report.tank[i].capacity_l, error;

    if (s.n == 0 || !(capacity > 0))
        return false;
    trial_error_alone(&s);
    error = isfinite(s.error) ? s.error : (s.high - s.low) / 2;
    error = hypot(error, FLAT * series->step) / 100 * capacity;
    *litres = s.mean / 100 * capacity;
    *variance = error * error;
    return true;
}

/* By engine i, or by all where i is -1, between the middles of two spans. */
static double metered(const struct trial *t, int i, struct span a, struct span b)
{
    double litres = 0;

    for (int e = i < 0 ? 0 : i; e < (i < 0 ? TRIAL_ENGINES : i + 1); e++) {
        const struct trial_series *rate = trial_series_find(t, QTY_FUEL_RATE, e);

        if (rate)
            litres += integrate(rate, (a.from + a.to) / 2, (b.from + b.to) / 2);
    }
    return litres;
}

/* Tank i, or all where i is -1, over the log that is over: what went out against what was metered.
 */
static void add_drawn(const struct trial *t, int i, struct trial_drawn *into)
{
    struct span first, last;
    double tank_l = 0, variance = 0;
    bool any = false, moving;

    if (went_unmetered(t, i) || !ends_of(t, &first, &last, &moving))
        return;
    for (int k = i < 0 ? 0 : i; k < (i < 0 ? TRIAL_TANKS : i + 1); k++) {
        double a, b, va, vb, doubt = moving ? SQUAT / 2 * t->report.tank[k].capacity_l : 0;

        if (!t->report.tank[k].heard)
            continue;
        if (!litres_at(t, k, first, &a, &va) || !litres_at(t, k, last, &b, &vb))
            return;
        tank_l += a - b;
        variance += va + vb + doubt * doubt;
        any = true;
    }
    if (!any)
        return;
    into->tank_l += tank_l;
    into->variance_l2 += variance;
    into->metered_l += metered(t, i, first, last);
    into->moving |= moving;
    into->logs++;
}

/* --- every minute of it --------------------------------------------------------------------- */

struct minute {
    double metered_l, squat, tank_l;
};

/* Of tank i, or of all where i is -1; false where one of them was not heard. */
static bool minute_at(const struct trial *t, int i, size_t from, struct minute *m)
{
    size_t to = from + MINUTE_S;
    struct trial_stat way = trial_stat_of(t, QTY_SPEED_WATER, 0, from, to);
    bool any = false;

    if (way.n == 0)
        way = trial_stat_of(t, QTY_SPEED_GROUND, 0, from, to);
    m->squat = way.n > 0 ? way.mean * way.mean : 0;
    m->tank_l = 0;
    for (int k = i < 0 ? 0 : i; k < (i < 0 ? TRIAL_TANKS : i + 1); k++) {
        const struct trial_tank *tank = &t->report.tank[k];
        struct trial_stat s =
            trial_stat_of(t, tank->petrol ? QTY_PETROL_TANK : QTY_FUEL_TANK, k, from, to);

        if (!tank->heard)
            continue;
        if (s.n == 0 || !(tank->capacity_l > 0))
            return false;
        m->tank_l += s.mean / 100 * tank->capacity_l;
        any = true;
    }
    return any;
}

static void slope_sums(struct trial_slope *into, const struct minute *m, size_t n)
{
    double x = 0, s = 0, y = 0;

    for (size_t i = 0; i < n; i++) {
        x += m[i].metered_l / (double)n;
        s += m[i].squat / (double)n;
        y += m[i].tank_l / (double)n;
    }
    for (size_t i = 0; i < n; i++) {
        double dx = m[i].metered_l - x, ds = m[i].squat - s, dy = m[i].tank_l - y;

        into->xx += dx * dx;
        into->xs += dx * ds;
        into->ss += ds * ds;
        into->xy += dx * dy;
        into->sy += ds * dy;
        into->yy += dy * dy;
    }
    into->n += (double)n;
    into->logs++;
}

/* How the level hangs together: second differences hold no trend, and little squat. */
static void slope_noise(struct trial_slope *into, const struct minute *m, size_t n)
{
    for (size_t i = 1; i < n; i++) {
        into->squares += (m[i].tank_l - m[i - 1].tank_l) * (m[i].tank_l - m[i - 1].tank_l);
        into->products++;
    }
}

static void add_slope(struct trial *t, int i, struct trial_slope *into)
{
    if (went_unmetered(t, i))
        return;
    size_t most = t->wall_len / MINUTE_S, n = 0;
    struct minute *m = calloc(most + 1, sizeof *m);
    double burnt = 0;

    if (!m) {
        t->failed = true;
        return;
    }
    for (size_t k = 0; k < most; k++) {
        size_t from = k * MINUTE_S;
        double within = metered(t, i, (struct span){from, from},
                                (struct span){from + MINUTE_S, from + MINUTE_S});

        m[n].metered_l = burnt + within / 2;
        burnt += within;
        n += minute_at(t, i, from, &m[n]);
    }
    if (n >= 10) {
        slope_sums(into, m, n);
        slope_noise(into, m, n);
    }
    free(m);
}

/* Litres out for each metered from the slope of the level, squat taken as going with the square of
 * speed; SQUAT_PART of what that does to it counts as not known. */
static void slope_factor(const struct trial_slope *s, double *factor, double *error)
{
    double d = s->xx * s->ss - s->xs * s->xs, f, k, rest, plain, doubt, free_n;

    *factor = *error = NAN;
    if (s->n < 10 || !(s->xx > 0))
        return;
    plain = s->xy / s->xx;
    bool parted = d > 1e-9 * s->xx * s->ss; /* burn and squat went apart */
    f = parted ? (s->xy * s->ss - s->sy * s->xs) / d : plain;
    k = parted ? (s->sy * s->xx - s->xy * s->xs) / d : 0;
    rest = fmax(0, s->yy - f * s->xy - k * s->sy);
    free_n = fmax(s->n - s->logs - 2, 1);
    /* what is left may wander for minutes: means of a minute then count for less. The differences
     * of neighbours tell: half their mean square is the variance of noise that does not hang
     * together */
    double apart = s->squares / fmax(2 * s->products, 1), whole = rest / free_n;
    double hang = apart > 0 ? fmax(1, whole / apart) : 1;

    doubt = SQUAT_PART * (f - plain);
    *factor = -f;
    *error = sqrt(whole * fmin(hang, 10) * (parted ? s->ss / d : 1 / s->xx) + doubt * doubt);
}

/* Litres out of the tank for each litre metered; NaN where that says nothing. */
/* By the levels at rest, or by all of them where that is the surer. */
static void factor_of(const struct trial_drawn *d, const struct trial_slope *s, double *factor,
                      double *error)
{
    double other, other_error;

    *factor = *error = NAN;
    if (d->logs == 0 || !(d->metered_l > 1))
        return;
    *factor = d->tank_l / d->metered_l;
    *error = sqrt(d->variance_l2) / d->metered_l;
    slope_factor(s, &other, &other_error);
    if (other_error < *error) {
        *factor = other;
        *error = other_error;
    }
}

/* --- senders that hang ------------------------------------------------------------------ */

/* Whether each engine has a tank of its own number, and each tank an engine: then tank N feeds
 * engine N. */
static bool own_tanks(const struct trial_report *r)
{
    for (int i = 0; i < TRIAL_TANKS || i < TRIAL_ENGINES; i++)
        if ((i < TRIAL_TANKS && r->tank[i].heard) != (i < TRIAL_ENGINES && r->meter[i].heard))
            return false;
    return true;
}

static double burnt_by(const struct trial_report *r, int tank)
{
    double all = 0;
    int tanks = 0;

    for (int i = 0; i < TRIAL_TANKS; i++)
        tanks += r->tank[i].heard;
    for (int e = 0; e < TRIAL_ENGINES; e++)
        all += r->meter[e].burnt_l;
    return own_tanks(r) ? r->meter[tank].burnt_l : all / tanks;
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

/* Which tanks: "tank 1", or "its tanks" where several feed one engine. */
static void find_meter(struct trial_report *r, int e, bool own_tank)
{
    struct trial_meter *m = &r->meter[e];
    char key[CHANNEL_KEY_SIZE], text[240], off[32], error[32], factor[32], tank[24];

    if (!(fabs(m->factor - 1) > fmax(3 * m->error, 0.015)))
        return;
    text_format(tank, sizeof tank, own_tank ? "tank %d" : "its tanks", e);
    text_format(key, sizeof key, "fuel-rate.%d", e);
    text_number(off, sizeof off, fabs(1 / m->factor - 1) * 100, 1);
    text_number(error, sizeof error, 2 * m->error * 100, 1);
    text_number(factor, sizeof factor, m->factor, 3);
    text_format(text, sizeof text,
                "%s reads %s %% (±%s) too %s against %s: gain = %s would correct it", key, off,
                error, m->factor < 1 ? "much" : "little", tank, factor);
    trial_add_finding(r, "meter", key, m->factor, m->error, text);
}

static void count(const struct trial_report *r, int *tanks, int *engines, bool *whole)
{
    *tanks = *engines = 0;
    *whole = true;
    for (int i = 0; i < TRIAL_TANKS; i++) {
        *tanks += r->tank[i].heard;
        *whole = *whole && !r->tank[i].stuck;
    }
    for (int e = 0; e < TRIAL_ENGINES; e++)
        *engines += r->meter[e].heard;
}

static void total(struct trial *t, int tanks, int engines, bool whole)
{
    struct trial_report *r = &t->report;

    r->used_l = r->used_error = r->burnt_l = 0;
    r->factor = r->factor_error = NAN;
    for (int e = 0; e < TRIAL_ENGINES; e++)
        r->burnt_l += r->meter[e].burnt_l;
    if (engines == 0)
        r->burnt_l = NAN;
    if (whole)
        factor_of(&t->drawn[TRIAL_TANKS], &t->slope[TRIAL_TANKS], &r->factor, &r->factor_error);
    r->still = !t->drawn[TRIAL_TANKS].moving;
    for (int i = 0; i < TRIAL_TANKS; i++) {
        if (!r->tank[i].heard)
            continue;
        r->used_l += whole ? r->tank[i].used_l : NAN;
        r->used_error = hypot(r->used_error, r->tank[i].used_error);
    }
    if (tanks == 0)
        r->used_l = NAN;
}

static void compare_meters(struct trial *t)
{
    struct trial_report *r = &t->report;
    int tanks, engines;
    bool whole, own = own_tanks(r);

    count(r, &tanks, &engines, &whole);
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        struct trial_meter *m = &r->meter[e];
        struct trial_tank *k = &r->tank[e];

        m->factor = m->error = NAN;
        if (!m->heard)
            continue;
        /* Said in the report; one engine has all tanks, whatever their number. */
        if (engines == 1 && tanks > 0 && whole)
            factor_of(&t->drawn[TRIAL_TANKS], &t->slope[TRIAL_TANKS], &m->factor, &m->error);
        else if (own && !k->stuck)
            factor_of(&t->drawn[e], &t->slope[e], &m->factor, &m->error);
        m->error = hypot(m->error, m->burnt_error_l / fmax(m->burnt_l, 1e-9));
        if (isfinite(m->factor) && own) {
            k->used_l = m->factor * m->burnt_l;
            k->used_error = m->error * m->burnt_l;
        }
    }
    total(t, tanks, engines, whole);
    for (int e = 0; e < r->engines; e++)
        find_meter(r, e, own);
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
    for (int e = 0; e < TRIAL_ENGINES; e++)
        t->report.meter[e].partly |= went_unmetered(t, e);
    for (int i = 0; i < TRIAL_TANKS; i++) {
        add_tank(t, QTY_FUEL_TANK, i);
        if (!t->report.tank[i].heard)
            add_tank(t, QTY_PETROL_TANK, i);
    }
    for (int i = 0; i < TRIAL_TANKS; i++)
        add_drawn(t, i, &t->drawn[i]);
    add_drawn(t, -1, &t->drawn[TRIAL_TANKS]);
    for (int i = 0; i < TRIAL_TANKS; i++)
        add_slope(t, i, &t->slope[i]);
    add_slope(t, -1, &t->slope[TRIAL_TANKS]);
}

void trial_fuel_finish(struct trial *t)
{
    find_stuck_tanks(&t->report);
    compare_meters(t);
    find_usable(&t->report);
}
