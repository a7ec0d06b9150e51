/* What the trade expects of a trial, with the figures of the configuration's [trial] section. */
#include "report/trial/inside.h"

#include "base/text.h"

#include <math.h>
#include <stddef.h>

#include "base/banned.h"

/* What a live sensor shows over a trial at the least: common practice, no source. */
#define MOVED_K       1.0
#define MOVED_OIL_KPA 30.0
#define ALIKE         0.03 /* engine speeds that may be compared */
#define SAME_IDLE     0.03 /* so near the slowest step it is idle too */

static struct trial_check *add(struct trial_report *r, const char *name, const char *place)
{
    /* where there are too many, the last one gives way */
    struct trial_check *c = &r->check[r->checks < TRIAL_CHECKS ? r->checks++ : TRIAL_CHECKS - 1];

    c->verdict = TRIAL_NOT_SHOWN;
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

/* Rated speed: by the configuration, else by the engine itself (127498). */
static void check_full(struct trial_report *r, int e)
{
    struct trial_check *c = add(r, "revs at full throttle", r->engine_names[e]);
    double most = NAN, rated = r->settings->trial.rated_rpm;
    bool own = !(rated > 0) && r->rated_rpm[e] > 0;

    for (int i = 0; i < r->steps; i++)
        if (r->step[i].engines & 1u << e && !(r->step[i].engine[e].rpm.mean <= most))
            most = r->step[i].engine[e].rpm.mean;
    rated = own ? r->rated_rpm[e] : rated;
    if (rated > 0) {
        at_least(r, c, most, rated * r->settings->trial.reach, UNIT_RPM, 0);
        if (own && c->verdict != TRIAL_NOT_SHOWN)
            text_append(c->text, sizeof c->text, " (rated by its own word)");
    } else {
        text_copy(c->text, sizeof c->text, "no rated speed in [trial], nor from the engine");
    }
}

/* Nominal voltage over 12: from a voltage at rest or while charging. */
static double system_units(double volts)
{
    return volts > 40 ? 4 : volts > 30 ? 3 : volts > 18 ? 2 : 1;
}

/* Of the slowest steps on which an engine ran and was hot, the one with the lowest oil pressure:
 * the hotter the oil, the lower. */
static const struct trial_step *hot_idle(const struct trial_report *r, int e)
{
    const struct trial_step *idle = NULL;
    double slow = INFINITY;

    for (int i = 0; i < r->steps; i++) {
        const struct trial_step *s = &r->step[i];
        const struct trial_engine *m = &s->engine[e];
        bool hot = (m->oil_temp.n > 0 && m->oil_temp.mean >= 60) ||
                   (m->oil_temp.n == 0 && m->coolant.n > 0 && m->coolant.mean >= 65);

        if (!(s->engines & 1u << e) || !hot || m->oil_pressure.n == 0 ||
            m->rpm.mean > slow * (1 + SAME_IDLE))
            continue;
        if (!idle || m->rpm.mean < slow * (1 - SAME_IDLE) ||
            m->oil_pressure.low < idle->engine[e].oil_pressure.low)
            idle = s;
        slow = fmin(slow, m->rpm.mean);
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
    if (!(r->oil_moved_kpa[e] >= MOVED_OIL_KPA))
        text_copy(c->text, sizeof c->text,
                  "its pressure did not move between standing and running");
    else if (idle && idle->engine[e].rpm.mean < 0.5 * most)
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
    if (!isfinite(low)) {
        text_copy(c->text, sizeof c->text, "not heard on a steady step under way");
        return;
    }
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

static bool both_ran(const struct trial_report *r, const struct trial_point *p)
{
    unsigned both = 1u << r->twin[0] | 1u << r->twin[1];
    return (p->engines & both) == both;
}

static const char *twin_name(const struct trial_report *r, bool first)
{
    return r->engine_names[r->twin[first ? 0 : 1]];
}

/* The largest difference of the two engines over the points that both ran at one speed. */
struct twins {
    double heat_k, heat_rpm;                /* NaN: none */
    double burn_part, burn_error, burn_rpm; /* error: of the share, two standard errors */
};

static void twins_at(const struct trial_report *r, const struct trial_point *p, struct twins *t)
{
    const struct trial_engine *x = &p->engine[r->twin[0]], *y = &p->engine[r->twin[1]];
    double part, doubt = 0;

    if (!both_ran(r, p) || p->apart > ALIKE)
        return;
    if (x->exhaust.n > 0 && y->exhaust.n > 0 &&
        !(fabs(x->exhaust.mean - y->exhaust.mean) <= fabs(t->heat_k))) {
        t->heat_k = x->exhaust.mean - y->exhaust.mean;
        t->heat_rpm = p->rpm;
    }
    /* at idle a tenth of a litre is many per cent */
    if (x->fuel_rate.n == 0 || y->fuel_rate.n == 0 || !(p->burn_lph > 8))
        return;
    part = 2 * (x->fuel_rate.mean - y->fuel_rate.mean) / p->burn_lph;
    for (int i = 0; i < 2; i++) {
        int e = r->twin[i];
        double own = trial_meter_share(r, e, &p->engine[e]);

        doubt = hypot(
            doubt,
            hypot(own, isfinite(p->engine[e].fuel_rate.error) ? p->engine[e].fuel_rate.error : 0));
    }
    if (fabs(part) <= fabs(t->burn_part))
        return;
    t->burn_part = part;
    t->burn_error = 2 * 2 * doubt / p->burn_lph;
    t->burn_rpm = p->rpm;
}

static void check_twin_heat(struct trial_report *r, const struct twins *t)
{
    struct trial_check *c = add(r, "exhaust alike", "");
    char a[60], b[60], rpm[32];

    if (!isfinite(t->heat_k)) {
        text_copy(c->text, sizeof c->text, "at no speed did both engines send it");
        return;
    }
    bool moved = r->exhaust_moved_k[r->twin[0]] >= MOVED_K;
    if (!(moved && r->exhaust_moved_k[r->twin[1]] >= MOVED_K)) {
        text_format(c->text, sizeof c->text, "%s's exhaust did not move with its work",
                    twin_name(r, !moved));
        return;
    }
    c->verdict = fabs(t->heat_k) <= r->settings->trial.twin_exhaust_k ? TRIAL_PASS : TRIAL_FAIL;
    text_number(rpm, sizeof rpm, t->heat_rpm, 0);
    text_format(c->text, sizeof c->text, "%s is %s hotter at %s rpm, at most %s",
                twin_name(r, t->heat_k > 0), shown_difference(r, a, sizeof a, fabs(t->heat_k)), rpm,
                shown_difference(r, b, sizeof b, r->settings->trial.twin_exhaust_k));
}

/* A verdict only where the meters' own errors leave no doubt of it. */
static void check_twin_burn(struct trial_report *r, const struct twins *t)
{
    struct trial_check *c = add(r, "burn alike", "");
    double limit = r->settings->trial.twin_burn, off = fabs(t->burn_part);
    char a[32], b[32], error[32], rpm[32];

    if (!isfinite(t->burn_part)) {
        text_copy(c->text, sizeof c->text, "at no speed above idle did both engines send it");
        return;
    }
    if (off + t->burn_error <= limit)
        c->verdict = TRIAL_PASS;
    else if (off - t->burn_error > limit)
        c->verdict = TRIAL_FAIL;
    text_number(a, sizeof a, off * 100, 1);
    text_number(error, sizeof error, t->burn_error * 100, 1);
    text_number(b, sizeof b, limit * 100, 1);
    text_number(rpm, sizeof rpm, t->burn_rpm, 0);
    text_format(c->text, sizeof c->text, "%s burns %s %% (±%s) more at %s rpm, at most %s %%%s",
                twin_name(r, t->burn_part > 0), a, error, rpm, b,
                c->verdict == TRIAL_NOT_SHOWN ? ": the meters cannot tell" : "");
}

/* All temperatures of a cold boat agree, or one of them is off. Where several stand apart the boat
 * was not cold, and it shows nothing. */
static void check_cold(struct trial_report *r)
{
    struct trial_check *c = add(r, "temperatures alike before the start", "");
    char a[60], b[60], middle[60];

    if (r->cold_heard == 0) {
        text_copy(c->text, sizeof c->text, "fewer than four were heard before the first start");
        return;
    }
    if (r->cold_apart > 1) {
        text_format(c->text, sizeof c->text, "%d of %d stand apart: the boat was not cold",
                    r->cold_apart, r->cold_heard);
        return;
    }
    c->verdict = r->cold_apart == 0 ? TRIAL_PASS : TRIAL_FAIL;
    text_format(c->text, sizeof c->text, "%d of them, %s from the middle one of %s at most%s%s",
                r->cold_heard, shown_difference(r, a, sizeof a, fabs(r->cold_spread_k)),
                shown(r, middle, sizeof middle, r->cold_c, UNIT_C, 1),
                r->cold_apart ? ": look at " : "", r->cold_apart ? r->cold_off : "");
    text_append(c->text, sizeof c->text, ", %s allowed",
                shown_difference(r, b, sizeof b, COLD_ALIKE_K));
}

/* What twins at one speed may differ by beside exhaust and burn: common practice, no source. */
static const struct {
    const char *name;
    size_t offset;
    double limit;
    bool share;
} twin_rows[] = {
    {"coolant alike", offsetof(struct trial_engine, coolant), 5, false},
    {"oil temperature alike", offsetof(struct trial_engine, oil_temp), 8, false},
    {"oil pressure alike", offsetof(struct trial_engine, oil_pressure), 0.2, true},
};

static const struct trial_stat *twin_stat(const struct trial_engine *m, size_t row)
{
    return (const struct trial_stat *)((const char *)m + twin_rows[row].offset);
}

static void check_twin_row(struct trial_report *r, size_t row)
{
    struct trial_check *c = add(r, twin_rows[row].name, "");
    double most = NAN, at = 0;
    char a[60], b[60], rpm[32];

    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];
        const struct trial_stat *x = twin_stat(&p->engine[r->twin[0]], row),
                                *y = twin_stat(&p->engine[r->twin[1]], row);
        double off = x->mean - y->mean;

        if (!both_ran(r, p) || p->apart > ALIKE || x->n == 0 || y->n == 0)
            continue;
        if (twin_rows[row].share)
            off /= fmax((x->mean + y->mean) / 2, 1e-9);
        if (fabs(off) <= fabs(most))
            continue;
        most = off;
        at = p->rpm;
    }
    if (!isfinite(most)) {
        text_copy(c->text, sizeof c->text, "at no speed did both engines send it");
        return;
    }
    c->verdict = fabs(most) <= twin_rows[row].limit ? TRIAL_PASS : TRIAL_FAIL;
    text_number(rpm, sizeof rpm, at, 0);
    if (twin_rows[row].share) {
        text_number(a, sizeof a, fabs(most) * 100, 1);
        text_append(a, sizeof a, " %%");
        text_number(b, sizeof b, twin_rows[row].limit * 100, 0);
        text_append(b, sizeof b, " %%");
    } else {
        shown_difference(r, a, sizeof a, fabs(most));
        shown_difference(r, b, sizeof b, twin_rows[row].limit);
    }
    text_format(c->text, sizeof c->text, "%s stands %s higher at %s rpm, at most %s",
                twin_name(r, most > 0), a, rpm, b);
}

static void check_twins(struct trial_report *r)
{
    struct twins t = {.heat_k = NAN, .burn_part = NAN};

    for (int i = 0; i < r->points; i++)
        twins_at(r, &r->point[i], &t);
    check_twin_heat(r, &t);
    check_twin_burn(r, &t);
    for (size_t i = 0; i < sizeof twin_rows / sizeof twin_rows[0]; i++)
        check_twin_row(r, i);
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
    if (!isfinite(most)) {
        text_copy(c->text, sizeof c->text, "no steady step on which both were heard");
        return;
    }
    if (!(r->space_moved_k >= MOVED_K)) {
        text_format(c->text, sizeof c->text, "its sensor did not move by %s all day: is it dead?",
                    shown_difference(r, a, sizeof a, MOVED_K));
        return;
    }
    if (!(r->air_moved_k > 0)) {
        text_copy(c->text, sizeof c->text, "the outside sensor never moved at all: is it dead?");
        return;
    }
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
        channel_id_format(key, sizeof key,
                          trial_bus_id(r, (struct channel_id){QTY_FUEL_RATE, (uint8_t)e, 0}));
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

static void find_log(struct trial_report *r)
{
    char text[200], off[32], error[32], gain[32];

    if (!(fabs(r->log_factor - 1) > fmax(2.5 * r->log_error, 0.02)))
        return;
    text_number(off, sizeof off, fabs(1 / r->log_factor - 1) * 100, 1);
    text_number(error, sizeof error, 2 * r->log_error * 100, 1);
    text_number(gain, sizeof gain, r->log_factor, 3);
    text_format(text, sizeof text,
                "speed-water reads %s %% (±%s) too %s against the runs both ways: gain = %s would "
                "correct it",
                off, error, r->log_factor < 1 ? "much" : "little", gain);
    trial_add_finding(r, "log", "speed-water", r->log_factor, r->log_error, text);
}

/* Twins that no longer turn alike: most often at full throttle. */
static void find_apart(struct trial_report *r)
{
    char key[CHANNEL_KEY_SIZE], text[200], rpm[32], a[32], b[32];

    for (int i = r->points - 1; i >= 0; i--) {
        const struct trial_point *p = &r->point[i];

        const struct trial_engine *x = &p->engine[r->twin[0]], *y = &p->engine[r->twin[1]];

        if (!(p->apart > ALIKE) || x->rpm.n == 0 || y->rpm.n == 0)
            continue;
        text_number(rpm, sizeof rpm, p->rpm, 0);
        text_number(a, sizeof a, x->rpm.mean, 0);
        text_number(b, sizeof b, y->rpm.mean, 0);
        text_format(text, sizeof text, "at %s rpm the engines turned apart: %s %s, %s %s", rpm,
                    twin_name(r, true), a, twin_name(r, false), b);
        channel_id_format(key, sizeof key,
                          trial_bus_id(r, (struct channel_id){QTY_RPM, (uint8_t)r->twin[0], 0}));
        trial_add_finding(r, "apart", key, p->apart, NAN, text);
        return;
    }
}

static void find_holes(struct trial_report *r)
{
    char text[200], seconds[32], share[32];
    double all = when_seconds(r->last_ns - r->first_ns);

    if (r->holes == 0)
        return;
    text_number(seconds, sizeof seconds, r->hole_s, 0);
    text_number(share, sizeof share, all > 0 ? 100 * r->hole_s / all : 0, 1);
    text_format(text, sizeof text,
                "nothing at all was heard %d time%s of more than %d s: %s s in all, %s %% of the "
                "log, unless its clock was set forward",
                r->holes, r->holes == 1 ? "" : "s", TRIAL_HOLE_S, seconds, share);
    trial_add_finding(r, "holes", "", r->hole_s, NAN, text);
}

static void find_clock(struct trial_report *r)
{
    char text[200], at[40];

    if (r->clock_steps == 0)
        return;
    when_clock(at, sizeof at, r->clock_step_ns, true);
    text_format(text, sizeof text,
                "the clock of the log was set back %d time%s, last by %.0f s to %s UTC: times "
                "before and after do not go together",
                r->clock_steps, r->clock_steps == 1 ? "" : "s", -r->clock_step_s, at);
    trial_add_finding(r, "clock", "", r->clock_step_s, NAN, text);
}

static void check_alerts(struct trial_report *r)
{
    struct trial_check *c = add(r, "no alarm or warning during the trial", "");
    int n = r->incidents_lost;

    for (int i = 0; i < r->incidents; i++)
        n += r->incident[i].priority >= PRIORITY_WARNING;
    if (n == 0 && !(r->running_s > 0)) {
        text_copy(c->text, sizeof c->text, "no engine was heard running");
        return;
    }
    c->verdict = n == 0 ? TRIAL_PASS : TRIAL_FAIL;
    text_format(c->text, sizeof c->text, "%d", n);
}

static void find_twins(struct trial_report *r)
{
    int n = 0;

    r->twin[0] = r->twin[1] = -1;
    for (int e = 0; e < r->engines; e++)
        if (trial_drives(r, e) && n++ < 2)
            r->twin[n - 1] = e;
    if (n != 2)
        r->twin[0] = r->twin[1] = -1;
}

void trial_checks_make(struct trial *t)
{
    struct trial_report *r = &t->report;

    check_cold(r);
    find_twins(r);
    for (int e = 0; e < r->engines; e++) {
        if (!trial_drives(r, e))
            continue;
        check_full(r, e);
        check_idle(r, e);
        check_charge(r, e);
    }
    check_crank(r);
    if (r->twin[0] >= 0)
        check_twins(r);
    check_space(r);
    check_cooling(r);
    check_alerts(r);
    find_counters(r);
    find_log(r);
    if (r->twin[0] >= 0)
        find_apart(r);
    find_holes(r);
    find_clock(r);
}
