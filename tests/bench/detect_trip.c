#include "detect_plan.h"

#include "detect_kinds.h"
#include "detect_whole.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define DT        0.25
#define LIMIT_C   93.3
#define COOLANT_C 105.0
#define OIL_C     125.0 /* common practice, no source */
/* ln(36000 samples) = 10.5: a sum of log-likelihood ratios passes h about once in e^h samples. */
#define IDEAL_SHIFT     2.0
#define IDEAL_THRESHOLD 10.5
#define AFTER_S         90.0 /* goes on this long after the fault is found */
#define GULP_LONGEST_S  5.0
#define TOLD_MOST       2
#define TOLD_WITHIN_S   900.0
#define LIFTED_S        15.0 /* after it the heat is still on its way to the probe */
#define PAST_S          30.0 /* from an alarm to its limit, or back */
#define DRY_LAG_S       80.0 /* of a sender that the coolant has left */
/* What a first trip finds normal: means by speed, of an engine that has long run evenly. */
#define LEARN_BINS    40
#define LEARN_RPM     100.0
#define LEARN_EVEN_S  180.0
#define LEARN_START_S 600.0
#define LEARN_SAMPLES 30

struct learned {
    bool has_sea; /* then all is brought to the first trip's; otherwise that one alone is taken */
    double sea_c; /* NaN: nothing was learned yet */
    struct {
        double rpm, sum, square;
        int n;
    } bin[BOAT_ENGINES][LEARN_BINS];
};

/* An even engine's exhaust is remembered. */
static void learn(struct trip *p, int i, double t, double value)
{
    const struct order *o = &p->order[i][p->at[i]];
    double started = -INFINITY;
    for (int k = 0; k <= p->at[i]; k++)
        if (p->order[i][k].run && (k == 0 || !p->order[i][k - 1].run))
            started = p->order[i][k].t;
    int at = (int)(p->rpm[i] / LEARN_RPM);
    if (p->trip > 1 && !p->has_sea)
        return;
    if (!o->run || t - o->t < LEARN_EVEN_S || t - started < LEARN_START_S || at >= LEARN_BINS)
        return;
    if (isnan(p->learned->sea_c))
        p->learned->sea_c = p->sea_now_c;
    if (p->has_sea)
        value -= p->sea_now_c - p->learned->sea_c;
    p->learned->bin[i][at].rpm += p->rpm[i];
    p->learned->bin[i][at].sum += value;
    p->learned->bin[i][at].square += value * value;
    p->learned->bin[i][at].n++;
}

static void recall(struct trip *p)
{
    for (int i = 0; i < p->plan.engines; i++)
        for (int k = 0; k < LEARN_BINS; k++) {
            int n = p->learned->bin[i][k].n;
            double mean = p->learned->bin[i][k].sum / n;
            double var = p->learned->bin[i][k].square / n - mean * mean;
            if (n >= LEARN_SAMPLES)
                cooling_normal(p->watch, i, COOLING_EXHAUST, p->learned->bin[i][k].rpm / n, mean,
                               sqrt(fmax(var, 0.0)));
        }
}

static void apply_fault(struct trip *p, double t, struct boat_inputs *in)
{
    if (t < p->fault_t)
        return;
    double x = p->fault_span > 0.0 ? fmin(1.0, (t - p->fault_t) / p->fault_span) : 1.0;
    struct boat_engine_inputs *e = &in->engine[p->fault_engine];
    if (p->stepwise)
        x = fmin(1.0, floor(1.0 + 6.0 * x) / 6.0);
    if (p->o->fault == FAULT_FIRE)
        in->fire_k_per_min = p->fault_depth;
    else if (p->o->fault == FAULT_COOLANT || p->o->fault == FAULT_LOST_COOLANT)
        e->coolant_pump = 1.0 - x;
    else if (p->o->fault != FAULT_NONE)
        e->water *= 1.0 - p->fault_depth * x;
}

/* What the sensor sends; false: nothing is sent. good is false for a not-available one. */
static bool sample(struct sensor *s, struct dice *d, double t, bool *good, double *value)
{
    s->next += s->period * dice_range(d, 0.97, 1.03);
    double y = s->lagged + s->sigma * dice_normal(d);
    y = round(y / s->step) * s->step;
    *good = true;
    if (t > s->stuck_from && t < s->stuck_to)
        y = s->held;
    else
        s->held = y;
    if (s->wild_left == 0 && dice_chance(d, s->wild_rate * s->period))
        s->wild_left = dice_chance(d, 0.4) ? 2 : 1;
    if (s->wild_left > 0) {
        s->wild_left--;
        y += dice_chance(d, 0.6) ? dice_range(d, 3.0, 150.0) : -dice_range(d, 3.0, 60.0);
        if (dice_chance(d, 0.2))
            *good = false;
    }
    if (t > s->drop_from && t < s->drop_to)
        return false;
    *value = y;
    return true;
}

/* The plain rules of comparison: fixed limit and 30 s rate. */
static void plain_rules(struct trip *p, struct sensor *s, double t, double y, bool failing)
{
    static const double per_min[RATES] = {8.3, 20.0, 40.0};
    s->ring_t[s->ring % RATE_WINDOW] = t;
    s->ring_c[s->ring % RATE_WINDOW] = y;
    s->ring++;
    unsigned back = 1, have = s->ring < RATE_WINDOW ? s->ring : RATE_WINDOW;
    while (back < have && t - s->ring_t[(s->ring - 1 - back) % RATE_WINDOW] < 30.0)
        back++;
    double rate = 0.0;
    if (back < have)
        rate = (y - s->ring_c[(s->ring - 1 - back) % RATE_WINDOW]) /
               (t - s->ring_t[(s->ring - 1 - back) % RATE_WINDOW]) * 60.0;
    bool faulty = failing && t >= p->fault_t;
    for (int k = 0; k < RATES; k++) {
        bool on = rate > per_min[k];
        if (faulty && on && isnan(p->r.rate_s[k]))
            p->r.rate_s[k] = t - p->fault_t;
        if (!faulty && on && !s->rate_on[k] && t < p->fault_t)
            p->r.rate_false[k]++;
        s->rate_on[k] = on;
    }
    double limit = s->kind == COOLING_COOLANT    ? COOLANT_C
                   : s->kind == COOLING_OIL_TEMP ? OIL_C
                   : s->kind == COOLING_SPACE    ? 65.0
                                                 : LIMIT_C;
    bool over = y > limit && s->kind != COOLING_EXHAUST_GAS;
    if (faulty && over && isnan(p->r.limit_s))
        p->r.limit_s = t - p->fault_t;
    if (!faulty && over && !s->limit_on && t < p->fault_t)
        p->r.limit_false++;
    s->limit_on = over;
}

/* Counts a false alarm where what the probe truly shows passes the limit about then. */
static void follow_past(struct trip *p, struct sensor *s, double t)
{
    if (s->kind == COOLING_EXHAUST && s->lagged > LIMIT_C)
        s->over_s = t;
    if (s->over_s > 0.0 && s->cried_s > 0.0 && fabs(s->over_s - s->cried_s) < PAST_S) {
        p->r.alarms_past++;
        s->cried_s = 0.0;
    }
}

/* Which channel the fault shows on first, for the reference and the plain rules. */
static bool is_failing(const struct trip *p, const struct sensor *s, int place)
{
    switch (p->o->fault) {
    case FAULT_NONE:
        return false;
    case FAULT_FIRE:
        return s->kind == COOLING_SPACE;
    case FAULT_COOLANT:
        return s->kind == COOLING_COOLANT && place == p->fault_engine;
    case FAULT_LOST_COOLANT:
        return s->kind == COOLING_OIL_TEMP && place == p->fault_engine;
    default:
        return s->kind == COOLING_EXHAUST && place == p->fault_engine;
    }
}

static bool may_speak(const struct trip *p, const struct sensor *s, int place, double t)
{
    if (p->o->fault == FAULT_NONE || t < p->fault_t)
        return false;
    if (p->o->fault == FAULT_FIRE)
        return s->kind == COOLING_SPACE;
    return s->kind != COOLING_SPACE && place == p->fault_engine;
}

/* What happened lately, s ago. */
static void print_before(const struct trip *p, int place, double t)
{
    enum { STARTED, ORDER, GULP, GULP_BEFORE, OTHERS, SEA, WHAT };
    static const char *const names[WHAT] = {"started",     "order",        "gulp",
                                            "gulp before", "other's gulp", "sea changes"};
    double at[WHAT];
    for (int k = 0; k < SEA; k++)
        at[k] = -INFINITY;
    at[SEA] = p->sea_from;
    if (place >= p->plan.engines)
        return;
    for (int k = 0; k <= p->at[place] && k < p->orders[place]; k++) {
        const struct order *o = &p->order[place][k];
        if (o->t > t)
            break;
        if (o->run && (k == 0 || !o[-1].run))
            at[STARTED] = o->t;
        at[ORDER] = o->t;
    }
    for (int i = 0; i < p->plan.engines; i++)
        for (int g = 0; g < p->gulps[i]; g++)
            if (p->gulp[i][g].from < t) {
                if (i == place)
                    at[GULP_BEFORE] = at[GULP];
                at[i == place ? GULP : OTHERS] = p->gulp[i][g].from;
            }
    for (int k = 0; k < WHAT; k++)
        if (isfinite(at[k]) && at[k] <= t)
            printf(", %s %.0f", names[k], t - at[k]);
}

static void explain(const struct trip *p, const struct sensor *s, int place, double t, int level,
                    bool mine)
{
    printf("  %8.1f s (fault %+.1f) place %d sensor %d level %d", t, t - p->fault_t, place,
           (int)s->kind, level);
    if (p->whole) {
        printf(" %s", whole_words(p->whole, place, s->kind));
        print_before(p, place, t);
        puts(mine ? "" : " FALSE");
        return;
    }
    const struct cooling_verdict *v = cooling_verdict(p->watch, place, s->kind);
    printf(" kind %d cause %d value %.2f expected %.2f allowance %.2f noise %.3f statistic %.1f "
           "rate %.1f K/min",
           (int)v->kind, (int)v->cause, v->value, v->expected, v->allowance, v->noise, v->statistic,
           v->rate_per_min);
    printf(", space %.1f", p->space.lagged);
    print_before(p, place, t);
    puts(mine ? "" : " FALSE");
}

/* Whether a warning says what truly happens, and no more often than it may, twice a trip and
 * engine: air was drawn, or the probe slipped, twice within a quarter of an hour; the intake is out
 * of the water for longer than any gulp. Of dry gas that nobody called dry, one a channel. */
static bool is_told(struct trip *p, const struct sensor *s, int place, double t)
{
    if (s->kind != COOLING_EXHAUST)
        return false;
    if (p->plan.dry_gas)
        return !p->asked[place] && (p->asked[place] = true);
    enum cooling_kind kind = p->whole ? whole_kind(p->whole, place, s->kind)
                                      : cooling_verdict(p->watch, place, s->kind)->kind;
    int lately = 0;
    bool lifted = false;
    for (int g = 0; g < p->gulps[place]; g++) {
        const struct gulp *u = &p->gulp[place][g];
        lately += u->from < t && u->from > t - TOLD_WITHIN_S;
        lifted =
            lifted || (u->to - u->from > GULP_LONGEST_S && u->from < t && t < u->to + LIFTED_S);
    }
    for (int g = 0; p->loose_any && place == 0 && g < GULPS; g++)
        lately += p->loose[g].from < t && p->loose[g].from > t - TOLD_WITHIN_S;
    bool told = p->told[place] < TOLD_MOST && (lifted || (kind == COOLING_AGAIN && lately >= 2));
    p->told[place] += told;
    return told;
}

static void cried(struct trip *p, const struct sensor *s, int place)
{
    p->r.false_warnings++;
    p->r.false_limit += p->whole && whole_is_limit(p->whole, place, s->kind);
    switch (s->kind) {
    case COOLING_EXHAUST:
    case COOLING_EXHAUST_GAS:
        p->r.false_exhaust++;
        break;
    case COOLING_COOLANT:
        p->r.false_coolant++;
        break;
    case COOLING_OIL_TEMP:
        p->r.false_oil++;
        break;
    default:
        p->r.false_space++;
    }
}

static void hear(struct trip *p, struct sensor *s, int place, double t)
{
    int level = p->whole ? whole_level(p->whole, place, s->kind)
                         : cooling_verdict(p->watch, place, s->kind)->level;
    if (level == s->level)
        return;
    bool mine = may_speak(p, s, place, t);
    if (p->o->explain && level > s->level)
        explain(p, s, place, t, level, mine);
    if (level >= 2 && mine && isnan(p->r.watch_s)) {
        p->r.watch_s = t - p->fault_t;
        p->r.cause = p->whole ? 0 : (int)cooling_verdict(p->watch, place, s->kind)->cause;
    }
    if (level >= 3 && mine && isnan(p->r.alarm_s))
        p->r.alarm_s = t - p->fault_t;
    if (!mine) {
        if (level >= 2 && s->level < 2) {
            if (is_told(p, s, place, t))
                p->r.told++;
            else
                cried(p, s, place);
        }
        if (level >= 3 && s->level < 3) {
            p->r.false_alarms++;
            s->cried_s = t;
        }
    }
    p->r.cautions += level == 1 && s->level < 1;
    s->level = level;
}

static void hear_all(struct trip *p, double t)
{
    for (int i = 0; i < p->plan.engines; i++) {
        hear(p, &p->exhaust[i], i, t);
        hear(p, &p->coolant[i], i, t);
        hear(p, &p->oil[i], i, t);
    }
    hear(p, &p->space, 0, t);
}

static bool is_off(const struct trip *p, double t)
{
    return t > p->off_from && t < p->off_to;
}

static void tell(struct trip *p, double t, int place, enum cooling_sensor s, bool good, double y)
{
    if (is_off(p, t))
        return;
    if (s == COOLING_EXHAUST && good && p->learned && !p->second_time)
        learn(p, place, t, y);
    if (p->whole)
        whole_reading(p->whole, t, place, s, good, y, false);
    else
        cooling_reading(p->watch, (int64_t)(t * 1e9), place, s, good, y);
}

/* shadow: what it would show in health; gulped: what a gulp of air in place of the fault would. */
static void sense(struct trip *p, struct sensor *s, int place, double t, double truth,
                  double shadow, double gulped)
{
    double g = boat_lag(&s->lag, DT, s->tau);
    s->lagged = s->lag_known ? s->lagged + g * (truth - s->lagged) : truth;
    bool faulty = t >= p->fault_t;
    s->shadow = faulty ? s->shadow + g * (shadow - s->shadow) : s->lagged;
    s->gulped = faulty ? s->gulped + g * (gulped - s->gulped) : s->lagged;
    s->lag_known = true;
    follow_past(p, s, t);
    if (t < s->next)
        return;
    bool good;
    double y = NAN;
    if (!sample(s, s->kind == COOLING_OIL_TEMP ? &p->extra : &p->dice, t, &good, &y))
        return;
    bool failing = is_failing(p, s, place);
    if (good)
        plain_rules(p, s, t, y, failing);
    double half = s->step >= 0.5 ? 0.5 * s->step : 0.0;
    double clear = 5.0 * s->sigma + 0.5 + half;
    if (failing && faulty && !isnan(p->r.reference_s) && isnan(p->r.second_s) &&
        y > s->shadow + clear)
        p->r.second_s = t - p->fault_t;
    if (failing && faulty && isnan(p->r.reference_s) && y > s->shadow + clear)
        p->r.reference_s = t - p->fault_t;
    if (failing && faulty && isnan(p->r.gulp_s) && y > fmax(s->shadow, s->gulped) + clear)
        p->r.gulp_s = t - p->fault_t;
    if (failing && faulty && isnan(p->r.ideal_s)) {
        double z = (y - s->shadow) / fmax(s->sigma, 0.29 * s->step);
        s->ideal = fmax(0.0, s->ideal + IDEAL_SHIFT * (z - 0.5 * IDEAL_SHIFT));
        if (s->ideal > IDEAL_THRESHOLD)
            p->r.ideal_s = t - p->fault_t;
    }
    tell(p, t, place, s->kind, good, y);
    if (p->o->trace && p->watch) {
        const struct cooling_verdict *v = cooling_verdict(p->watch, place, s->kind);
        fprintf(p->o->trace, "%.2f,%d,%d,%.3f,%.3f,%.3f,%.3f,%.3f,%.2f,%d\n", t, place,
                (int)s->kind, y, s->lagged, s->shadow, v->expected, v->allowance, v->statistic,
                v->level);
    }
    if (p->watch)
        hear_all(p, t);
}

/* The second box under the first exhaust's instance; the watch itself knows no boxes. */
static void sense_intruder(struct trip *p, double t, double truth)
{
    struct sensor *s = &p->intruder;
    if (!(t >= p->intruder_from) || t > p->intruder_to)
        return;
    double there = isnan(p->intruder_c) ? truth : p->intruder_c;
    s->lagged =
        s->lag_known ? s->lagged + boat_lag(&s->lag, DT, s->tau) * (there - s->lagged) : there;
    s->lag_known = true;
    bool good;
    double y;
    if (t >= s->next && sample(s, &p->extra, t, &good, &y) && p->whole)
        whole_reading(p->whole, t, 0, s->kind, good, y, true);
}

static void sense_load(struct trip *p, int i, double t, double load)
{
    if (!p->has_load || fmod(t, 0.5) > 0.1)
        return;
    double shown = round(100.0 * load + 0.5 * dice_normal(&p->extra));
    tell(p, t, i, COOLING_LOAD, true, fmin(fmax(shown, 0.0), 100.0));
}

static void sense_rpm(struct trip *p, int i, double t, double rpm)
{
    double shown = rpm > 30.0 ? rpm + 2.0 * dice_normal(&p->dice) : 0.0;
    shown = round(shown * 4.0) / 4.0;
    tell(p, t, i, COOLING_RPM, true, shown);
    if (p->o->trace && fmod(t, 2.0) < 0.1)
        fprintf(p->o->trace, "%.2f,%d,%d,%.1f,0,0,0,0,0,0\n", t, i, (int)COOLING_RPM, shown);
    bool running = p->running[i] ? shown > 150.0 : shown >= 300.0;
    p->rpm[i] = shown;
    if (p->watch && !is_off(p, t) && (running != p->running[i] || t < 0.1))
        cooling_engine(p->watch, (int64_t)(t * 1e9), i, running);
    p->running[i] = running;
    if (running)
        p->r.hours += DT / 3600.0;
}

/* What the coolant's sender stands in. */
static double sender_coolant(struct trip *p, int i, double t, double coolant_c)
{
    if (p->o->fault != FAULT_LOST_COOLANT || i != p->fault_engine ||
        t < p->fault_t + p->fault_span) {
        if (i == p->fault_engine)
            p->dry_c = coolant_c;
        return coolant_c;
    }
    double air = p->dry_share * (p->coolant[i].lagged - p->plan.air_c) + p->plan.air_c;
    p->dry_c += (1.0 - exp(-DT / DRY_LAG_S)) * (fmin(air, p->dry_c) - p->dry_c);
    return p->dry_c;
}

static double follow_path(struct trip *p, struct path *w, double y)
{
    if (!w->known)
        for (int k = 0; k < PATH_STEPS; k++)
            w->held[k] = y;
    if (!w->known)
        w->lag[0] = w->lag[1] = y;
    w->known = true;
    w->held[w->at] = y;
    y = w->held[(w->at + PATH_STEPS - p->path_delay) % PATH_STEPS];
    w->at = (w->at + 1) % PATH_STEPS;
    for (int k = 0; k < 2; k++)
        y = w->lag[k] += boat_lag(&p->path_lag, DT, p->path_lag_s) * (y - w->lag[k]);
    return y;
}

/* A start's own warmth, on what the models give; and a probe that hangs in the engine space. */
static void at_probe(struct trip *p, int i, double t, bool running, double space_c,
                     struct boat_engine_outputs *o, struct path *path)
{
    if (p->path_lag_s > 0.0)
        o->exhaust_c = follow_path(p, path, o->exhaust_c);
    if (p->gain_k > 0.0 && !p->plan.dry_gas)
        p->gain[i] += boat_lag(&p->gain_lag[i], DT, running ? p->gain_lag_s : 300.0) *
                      ((running ? p->gain_k : 0.0) - p->gain[i]);
    o->exhaust_c += p->gain[i];
    for (int k = 0; p->loose_any && k < GULPS; k++)
        if (i == 0 && t >= p->loose[k].from && t < p->loose[k].to)
            o->exhaust_c = space_c;
}

static bool sail(struct trip *p, struct boat *b)
{
    struct boat *shadow = NULL, *gulped = NULL;
    for (long k = 0; (double)k * DT < p->length; k++) {
        double t = (double)k * DT;
        struct boat_inputs in = plan_inputs(p, t);
        if (t >= p->fault_t) {
            if (!shadow) {
                shadow = boat_copy(b);
                gulped = boat_copy(b);
                memcpy(p->path[1], p->path[0], sizeof p->path[0]);
                memcpy(p->path[2], p->path[0], sizeof p->path[0]);
            }
            if (!shadow || !gulped) {
                boat_free(shadow);
                boat_free(gulped);
                return false;
            }
            struct boat_inputs gulp = in;
            if (t < p->fault_t + GULP_LONGEST_S)
                apply_fault(p, t, &gulp);
            boat_step(shadow, &in, DT);
            boat_step(gulped, &gulp, DT);
        }
        apply_fault(p, t, &in);
        boat_step(b, &in, DT);
        struct boat_outputs o = boat_outputs(b), h = o, g = o;
        if (shadow) {
            h = boat_outputs(shadow);
            g = boat_outputs(gulped);
        }
        for (int i = 0; i < p->plan.engines; i++) {
            double before = p->gain[i];
            if (shadow) {
                at_probe(p, i, t, in.engine[i].run, h.space_c, &h.engine[i], &p->path[1][i]);
                p->gain[i] = before;
                at_probe(p, i, t, in.engine[i].run, g.space_c, &g.engine[i], &p->path[2][i]);
                p->gain[i] = before;
            }
            at_probe(p, i, t, in.engine[i].run, o.space_c, &o.engine[i], &p->path[0][i]);
            if (!shadow)
                h.engine[i] = g.engine[i] = o.engine[i];
            sense_rpm(p, i, t, o.engine[i].rpm);
            sense_load(p, i, t, o.engine[i].load);
            if (p->has_oil)
                sense(p, &p->oil[i], i, t, o.engine[i].oil_c, h.engine[i].oil_c, g.engine[i].oil_c);
            sense(p, &p->exhaust[i], i, t, o.engine[i].exhaust_c, h.engine[i].exhaust_c,
                  g.engine[i].exhaust_c);
            double coolant_c = sender_coolant(p, i, t, o.engine[i].coolant_c);
            sense(p, &p->coolant[i], i, t, coolant_c, h.engine[i].coolant_c, g.engine[i].coolant_c);
        }
        p->sea_now_c = in.sea_c;
        sense_intruder(p, t, o.engine[1].exhaust_c);
        sense(p, &p->space, 0, t, o.space_c, h.space_c, g.space_c);
        if (p->has_sea)
            sense(p, &p->sea, 0, t, in.sea_c, in.sea_c, in.sea_c);
        if (p->watch && p->off_to > 0.0 && t - DT < p->off_to && t >= p->off_to)
            cooling_gap(p->watch, (int64_t)(t * 1e9));
        if (p->whole && !is_off(p, t)) {
            whole_step(p->whole, t);
            hear_all(p, t);
        }
        if (t - p->fault_t > AFTER_S + p->r.watch_s && !isnan(p->r.limit_s))
            break;
        if (p->o->fault == FAULT_FIRE && t - p->fault_t > 400.0)
            break;
    }
    boat_free(shadow);
    boat_free(gulped);
    return true;
}

/* trip: its number, where one boat makes several; otherwise 0. */
static struct trip_result run_once(const struct trip_options *o, struct learned *learned,
                                   unsigned trip, bool second_time)
{
    struct trip *p = calloc(1, sizeof *p);
    struct boat *b = NULL;
    struct trip_result r = {.fault = o->fault, .engines = -1};
    if (!p)
        return r;
    p->o = o;
    p->dice.state = o->seed;
    p->learned = learned;
    p->trip = trip;
    p->second_time = second_time;
    p->r = r;
    p->r.watch_s = p->r.reference_s = p->r.limit_s = p->r.ideal_s = p->r.gulp_s = p->r.second_s =
        p->r.alarm_s = NAN;
    for (int k = 0; k < RATES; k++)
        p->r.rate_s[k] = NAN;
    if (o->kind == KIND_PLAN)
        plan_trip(p);
    else
        plan_kind(p);
    if (o->direct)
        p->watch = cooling_new_with(o->figures ? o->figures : &cooling_figures);
    else
        p->whole = whole_new(p->plan.engines, p->plan.dry_gas && o->kind == KIND_PLAN);
    if (p->watch && second_time)
        recall(p);
    b = boat_new(o->model, p->trip > 0 ? &p->boat_dice : &p->dice, &p->plan);
    if ((p->watch || p->whole) && b && sail(p, b)) {
        p->r.engines = p->plan.engines;
        p->r.conflicts = p->whole ? whole_conflicts(p->whole) : 0;
        r = p->r;
    }
    whole_free(p->whole);
    cooling_free(p->watch);
    boat_free(b);
    free(p);
    return r;
}

struct trip_result trip_run(const struct trip_options *o)
{
    bool two = o->kind == KIND_BASELINES;
    if (o->kind != KIND_BASELINE && !two)
        return run_once(o, NULL, 0, false);
    struct learned *l = calloc(1, sizeof *l);
    struct trip_result r = {.fault = o->fault, .engines = -1};
    if (!l)
        return r;
    l->sea_c = NAN;
    run_once(o, l, two ? 1 : 0, false);
    if (two)
        run_once(o, l, 2, false);
    r = run_once(o, l, two ? 2 : 0, true);
    free(l);
    return r;
}
