/* What the trade expects of a trial, with the figures of the configuration's [trial] section. */
#include "report/trial/inside.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

static struct trial_check *add(struct trial_report *r, const char *name, const char *place)
{
    /* where there are too many, the last one gives way */
    struct trial_check *c = &r->check[r->checks < TRIAL_CHECKS ? r->checks++ : TRIAL_CHECKS - 1];

    c->verdict = TRIAL_NOT_SEEN;
    text_format(c->name, sizeof c->name, "%s%s%s", name, place[0] ? ", " : "", place);
    c->text[0] = '\0';
    return c;
}

/* A base-unit value as the user reads it: "310 kPa". */
static const char *shown(const struct trial_report *r, char *dst, size_t cap, double v,
                         enum unit base, int decimals)
{
    enum unit u = settings_unit(r->settings, base);
    char number[40] = "";

    text_number(number, sizeof number, unit_from_base(u, v), decimals);
    text_format(dst, cap, "%s %s", number, unit_text(u));
    return dst;
}

static const char *shown_difference(const struct trial_report *r, char *dst, size_t cap, double k)
{
    enum unit u = settings_unit(r->settings, UNIT_C);
    char number[40] = "";

    text_number(number, sizeof number, unit_from_base_difference(u, k), 1);
    text_format(dst, cap, "%s %s", number, u == UNIT_C ? "K" : unit_text(u));
    return dst;
}

/* "SAW, at least LIMIT" and the verdict. */
static void at_least(struct trial_report *r, struct trial_check *c, double value, double limit,
                     enum unit base, int decimals)
{
    char saw[60], want[60];

    if (!isfinite(value))
        return;
    c->verdict = value >= limit ? TRIAL_PASS : TRIAL_FAIL;
    shown(r, saw, sizeof saw, value, base, decimals);
    shown(r, want, sizeof want, limit, base, decimals);
    text_format(c->text, sizeof c->text, "%s, at least %s", saw, want);
}

static void check_full(struct trial_report *r, int e)
{
    struct trial_check *c = add(r, "revs at full throttle", r->engine_names[e]);
    double most = NAN, rated = r->settings->trial.rated_rpm;

    for (int i = 0; i < r->steps; i++)
        if (r->step[i].engines & 1u << e && !(r->step[i].engine[e].rpm.mean <= most))
            most = r->step[i].engine[e].rpm.mean;
    if (rated > 0)
        at_least(r, c, most, rated * r->settings->trial.reach, UNIT_RPM, 0);
    else
        text_copy(c->text, sizeof c->text, "no rated speed in [trial]");
}

/* Nominal voltage over 12: from a voltage at rest or while charging. */
static double system_units(double volts)
{
    return volts > 40 ? 4 : volts > 30 ? 3 : volts > 18 ? 2 : 1;
}

/* The slowest step on which an engine ran and was hot. */
static const struct trial_step *hot_idle(const struct trial_report *r, int e)
{
    const struct trial_step *idle = NULL;

    for (int i = 0; i < r->steps; i++) {
        const struct trial_step *s = &r->step[i];
        const struct trial_engine *m = &s->engine[e];
        bool hot = (m->oil_temp.n > 0 && m->oil_temp.mean >= 60) ||
                   (m->oil_temp.n == 0 && m->coolant.n > 0 && m->coolant.mean >= 65);

        if (s->engines & 1u << e && hot && m->oil_pressure.n > 0 &&
            (!idle || m->rpm.mean < idle->engine[e].rpm.mean * 0.97))
            idle = s;
    }
    return idle;
}

static void check_idle(struct trial_report *r, int e)
{
    struct trial_check *c = add(r, "oil pressure hot at idle", r->engine_names[e]);
    const struct trial_step *idle = hot_idle(r, e);
    double most = 0;

    for (int i = 0; i < r->steps; i++)
        if (r->step[i].engines & 1u << e)
            most = fmax(most, r->step[i].engine[e].rpm.mean);
    if (idle && idle->engine[e].rpm.mean < 0.5 * most)
        at_least(r, c, idle->engine[e].oil_pressure.low, r->settings->trial.oil_hot_idle_kpa,
                 UNIT_KPA, 0);
    else
        text_copy(c->text, sizeof c->text, "no steady idle with warm oil");
}

static void check_charge(struct trial_report *r, int e)
{
    struct trial_check *c = add(r, "charging voltage", r->engine_names[e]);
    const struct trial_setting *set = &r->settings->trial;
    double low = INFINITY, high = -INFINITY, units;
    char a[40], b[40], want[60];

    for (int i = 0; i < r->points; i++) {
        const struct trial_stat *v = &r->point[i].engine[e].alternator;

        if (r->point[i].how == TRIAL_NO_SPEED || v->n == 0)
            continue;
        low = fmin(low, v->mean);
        high = fmax(high, v->mean);
    }
    if (!isfinite(low))
        return;
    units = system_units(high);
    c->verdict = low >= set->charge_low_volts * units && high <= set->charge_high_volts * units
                     ? TRIAL_PASS
                     : TRIAL_FAIL;
    text_number(a, sizeof a, low, 2);
    text_number(b, sizeof b, high, 2);
    shown(r, want, sizeof want, set->charge_high_volts * units, UNIT_V, 1);
    text_format(c->text, sizeof c->text, "%s to %s V under way, ", a, b);
    text_number(a, sizeof a, set->charge_low_volts * units, 1);
    text_append(c->text, sizeof c->text, "%s to %s wanted", a, want);
}

static void check_crank(struct trial_report *r)
{
    for (int b = 0; b < TRIAL_BATTERIES; b++) {
        double least = r->crank_volts[b], rest = r->crank_rest[b], units;
        char place[24];
        struct trial_check *c;

        if (!isfinite(least))
            continue;
        units = system_units(rest);
        if (rest - least < 0.5 * units)
            continue; /* no starter hangs on this one */
        text_format(place, sizeof place, "battery %d", b);
        c = add(r, "volts while cranking", place);
        at_least(r, c, least, r->settings->trial.crank_volts * units, UNIT_V, 1);
    }
}

/* Engines 0 and 1 at like speed: the largest difference over the points. */
static void check_twins(struct trial_report *r)
{
    struct trial_check *heat = add(r, "exhaust alike", "");
    struct trial_check *burn = add(r, "burn alike", "");
    double most_k = NAN, most_part = NAN, at_k = 0, at_part = 0;
    char a[60], b[60], rpm[32];

    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];
        const struct trial_engine *x = &p->engine[0], *y = &p->engine[1];

        if ((p->engines & 3) != 3)
            continue;
        if (x->exhaust.n > 0 && y->exhaust.n > 0 &&
            !(fabs(x->exhaust.mean - y->exhaust.mean) <= fabs(most_k))) {
            most_k = x->exhaust.mean - y->exhaust.mean;
            at_k = p->rpm;
        }
        /* at idle a tenth of a litre is many per cent */
        if (x->fuel_rate.n > 0 && y->fuel_rate.n > 0 && p->burn_lph > 8) {
            double part = 2 * (x->fuel_rate.mean - y->fuel_rate.mean) / p->burn_lph;

            if (!(fabs(part) <= fabs(most_part))) {
                most_part = part;
                at_part = p->rpm;
            }
        }
    }
    if (isfinite(most_k)) {
        heat->verdict = fabs(most_k) <= r->settings->trial.twin_exhaust_k ? TRIAL_PASS : TRIAL_FAIL;
        text_number(rpm, sizeof rpm, at_k, 0);
        text_format(heat->text, sizeof heat->text, "%s is %s hotter at %s rpm, at most %s",
                    r->engine_names[most_k > 0 ? 0 : 1],
                    shown_difference(r, a, sizeof a, fabs(most_k)), rpm,
                    shown_difference(r, b, sizeof b, r->settings->trial.twin_exhaust_k));
    }
    if (isfinite(most_part)) {
        burn->verdict = fabs(most_part) <= r->settings->trial.twin_burn ? TRIAL_PASS : TRIAL_FAIL;
        text_number(a, sizeof a, fabs(most_part) * 100, 1);
        text_number(b, sizeof b, r->settings->trial.twin_burn * 100, 1);
        text_number(rpm, sizeof rpm, at_part, 0);
        text_format(burn->text, sizeof burn->text, "%s burns %s %% more at %s rpm, at most %s %%",
                    r->engine_names[most_part > 0 ? 0 : 1], a, rpm, b);
    }
}

static void check_space(struct trial_report *r)
{
    struct trial_check *c = add(r, "engine space over outside air", "");
    double most = NAN, at = 0;
    char a[60], b[60], rpm[32];

    for (int i = 0; i < r->points; i++)
        if (isfinite(r->point[i].space_rise) && !(r->point[i].space_rise <= most)) {
            most = r->point[i].space_rise;
            at = r->point[i].rpm;
        }
    if (!isfinite(most))
        return;
    c->verdict = most <= r->settings->trial.space_rise_k ? TRIAL_PASS : TRIAL_FAIL;
    text_number(rpm, sizeof rpm, at, 0);
    text_format(c->text, sizeof c->text, "%s at %s rpm, at most %s",
                shown_difference(r, a, sizeof a, most), rpm,
                shown_difference(r, b, sizeof b, r->settings->trial.space_rise_k));
}

/* Only where a cooling was seen with the blower named: [channel blower.0]. */
static void check_cooling(struct trial_report *r)
{
    double off_s = r->space_half_s[VENT_OFF], on_s = r->space_half_s[VENT_ON];
    char off[32] = "", on[32] = "";
    struct trial_check *c;

    if (!isfinite(on_s))
        return;
    c = add(r, "blower cools the engine space", "");
    text_number(on, sizeof on, on_s / 60, 0);
    text_format(c->text, sizeof c->text, "half of its rise goes in %s min with the blower", on);
    if (!isfinite(off_s))
        return;
    c->verdict = on_s < off_s ? TRIAL_PASS : TRIAL_FAIL;
    text_number(off, sizeof off, off_s / 60, 0);
    text_append(c->text, sizeof c->text, ", in %s min without", off);
}

static void find_counters(struct trial_report *r)
{
    char key[CHANNEL_KEY_SIZE], text[200], percent[32], gain[32], error[32];

    for (int e = 0; e < r->engines; e++) {
        const struct fuel_check *c = &r->meter[e].counter;
        /* a counter in whole litres and a rate read twice a second differ by a trifle */
        if (!c->known || !c->off || fabs(c->factor - 1) < 0.005)
            continue;
        channel_id_format(key, sizeof key, (struct channel_id){QTY_FUEL_RATE, (uint8_t)e, 0});
        text_number(percent, sizeof percent, fabs(1 / c->factor - 1) * 100, 1);
        text_number(gain, sizeof gain, c->factor, 3);
        text_number(error, sizeof error, c->error, 3);
        text_format(
            text, sizeof text,
            "%s reads %s %% too %s against its trip counter: gain = %s (±%s) would correct it", key,
            percent, c->factor < 1 ? "much" : "little", gain, error);
        trial_add_finding(r, "meter", key, c->factor, c->error, text);
    }
}

static void check_alerts(struct trial_report *r)
{
    struct trial_check *c = add(r, "no alarm or warning during the trial", "");
    int n = r->incidents_lost;

    for (int i = 0; i < r->incidents; i++)
        n += r->incident[i].priority >= PRIORITY_WARNING;
    c->verdict = n == 0 ? TRIAL_PASS : TRIAL_FAIL;
    text_format(c->text, sizeof c->text, "%d", n);
}

void trial_checks_make(struct trial *t)
{
    struct trial_report *r = &t->report;

    for (int e = 0; e < r->engines; e++) {
        check_full(r, e);
        check_idle(r, e);
        check_charge(r, e);
    }
    check_crank(r);
    if (r->engines > 1)
        check_twins(r);
    check_space(r);
    check_cooling(r);
    check_alerts(r);
    find_counters(r);
}
