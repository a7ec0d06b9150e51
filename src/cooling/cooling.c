#include "cooling/cooling.h"
#include "cooling/state.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define RPM_HELD_S  5.0 /* a speed is good for this long */
#define LOAD_HELD_S 5.0
#define LOAD_MOST   125.0 /* %: SPN 92 of SAE J1939-71 ends there */
#define SEA_HELD_S  15.0
#define DRY_UNIT    10.0   /* K: dry gas moves with the throttle ten times as far as wet */
#define SPEED_UNIT  2500.0 /* rpm: brings speeds near 1 */

static void watch_init(struct watch *w, double limit_c, const struct predict_tuning *tuning)
{
    *w = (struct watch){.limit_c = limit_c, .unit = 1.0, .calm_s = NAN};
    trace_init(&w->trace);
    predict_init(&w->predict, tuning);
    w->verdict.value = w->verdict.expected = w->verdict.seconds_to_limit = NAN;
    w->verdict.rate_per_min = 0.0;
    w->verdict.limit_c = limit_c;
}

struct cooling *cooling_new(void)
{
    struct cooling *c = calloc(1, sizeof *c);
    if (!c)
        return NULL;
    for (int i = 0; i < COOLING_ENGINES; i++) {
        struct engine_watch *e = &c->engine[i];
        e->rpm_s = NAN;
        e->opening_s = -INFINITY;
        e->load_s = NAN;
        for (int s = 0; s < COOLING_SENSORS; s++)
            watch_init(&e->sensor[s], 0.0,
                       s == COOLING_COOLANT    ? &cooling_coolant_tuning
                       : s == COOLING_OIL_TEMP ? &cooling_oil_tuning
                                               : &cooling_exhaust_tuning);
        e->sensor[COOLING_EXHAUST_GAS].unit = DRY_UNIT;
        cooling_set_limit(c, i, COOLING_EXHAUST, 93.3);
        cooling_set_limit(c, i, COOLING_EXHAUST_GAS, 600.0);
        cooling_set_limit(c, i, COOLING_COOLANT, 100.0);
        cooling_set_limit(c, i, COOLING_OIL_TEMP, 130.0);
    }
    for (int i = 0; i < COOLING_SPACES; i++)
        watch_init(&c->space[i], 65.0, &cooling_exhaust_tuning);
    trace_init(&c->sea);
    answers_init(&c->answers);
    return c;
}

void cooling_free(struct cooling *c)
{
    free(c);
}

static struct watch *watch_of(struct cooling *c, int engine, enum cooling_sensor s)
{
    switch (s) {
    case COOLING_EXHAUST:
    case COOLING_EXHAUST_GAS:
    case COOLING_COOLANT:
    case COOLING_OIL_TEMP:
        return engine >= 0 && engine < COOLING_ENGINES ? &c->engine[engine].sensor[s] : NULL;
    case COOLING_SPACE:
        return engine >= 0 && engine < COOLING_SPACES ? &c->space[engine] : NULL;
    default:
        return NULL;
    }
}

void cooling_set_limit(struct cooling *c, int engine, enum cooling_sensor s, double limit_c)
{
    struct watch *w = watch_of(c, engine, s);
    if (w)
        w->limit_c = w->verdict.limit_c = limit_c;
}

static double advance_clock(struct cooling *c, int64_t t_ns)
{
    if (!c->begun) {
        c->begun = true;
        c->origin_ns = t_ns;
    }
    double t = (double)(t_ns - c->origin_ns) / 1e9;
    if (t > c->now_s)
        c->now_s = t;
    return t;
}

static void rpm_reading(struct engine_watch *e, double t, bool good, double rpm)
{
    double dt = t - e->rpm_s;
    if (dt > 0.0 && dt < RPM_HELD_S) {
        e->rpm_time += dt;
        e->rpm_sum += e->rpm * dt;
        e->rpm_square_sum += e->rpm * e->rpm * dt;
    }
    if (!good)
        return;
    e->rpm = rpm;
    e->rpm_s = t;
}

static void load_reading(struct engine_watch *e, double t, bool good, double percent)
{
    double dt = t - e->load_s;
    if (dt > 0.0 && dt < LOAD_HELD_S) {
        e->load_time += dt;
        e->load_sum += e->load * dt;
    }
    if (!good || percent < 0.0 || percent > LOAD_MOST)
        return;
    e->load = percent / 100.0;
    e->load_s = t;
}

bool cooling_has_rpm(const struct cooling *c, const struct engine_watch *e)
{
    return c->now_s - e->rpm_s < RPM_HELD_S;
}

void cooling_advance(const struct cooling *c, struct engine_watch *e, struct watch *w, double dt)
{
    double time = e->rpm_time - w->rpm_time, mean = e->rpm, square = e->rpm * e->rpm;
    if (time > 0.0) {
        mean = (e->rpm_sum - w->rpm_sum) / time;
        square = (e->rpm_square_sum - w->rpm_square_sum) / time;
    }
    w->rpm_time = e->rpm_time;
    w->rpm_sum = e->rpm_sum;
    w->rpm_square_sum = e->rpm_square_sum;
    double speed = mean / SPEED_UNIT, unit2 = square / (SPEED_UNIT * SPEED_UNIT);
    if (!cooling_has_rpm(c, e))
        return;
    /* The run-up of a start is no throttle-up. */
    bool settle = !w->settled || c->now_s - e->since_s < COOLING_RUN_UP_S;
    if (settle)
        predict_settle(&w->predict, speed, unit2);
    else
        predict_advance(&w->predict, dt, speed, unit2);
    if (c->now_s - e->load_s < LOAD_HELD_S) { /* false where load was never told */
        double span = e->load_time - w->load_time;
        double load = span > 0.0 ? (e->load_sum - w->load_sum) / span : e->load;
        predict_load(&w->predict, settle ? INFINITY : dt, load);
    }
    w->load_time = e->load_time;
    w->load_sum = e->load_sum;
    w->settled = true;
}

double cooling_level(const struct watch *w)
{
    return w->level + w->shifted;
}

void cooling_learn(struct watch *w, double dt, double y)
{
    double before = predict_value(&w->predict);
    predict_learn(&w->predict, dt, y, w->trace.sigma);
    double shift = predict_value(&w->predict) - before;
    w->level -= shift;
    w->shifted += shift;
}

void cooling_normal(struct cooling *c, int engine, enum cooling_sensor s, double rpm,
                    double value_c, double spread_k)
{
    struct watch *w = watch_of(c, engine, s);
    if (!w || !isfinite(rpm) || !isfinite(value_c))
        return;
    double u = rpm / SPEED_UNIT;
    if (s == COOLING_EXHAUST || s == COOLING_EXHAUST_GAS)
        predict_recall(&w->predict, u, u * u, value_c / w->unit, fmax(spread_k, 0.0) / w->unit);
    else if (s == COOLING_COOLANT)
        w->peak = fmax(w->peak, value_c);
}

bool cooling_sea_known(const struct cooling *c)
{
    return c->sea.count > 5 && c->now_s - trace_last_time(&c->sea) < SEA_HELD_S;
}

static void sea_reading(struct cooling *c, double t, double value)
{
    double dt = t - trace_last_time(&c->sea);
    if (trace_add(&c->sea, t, value) != TRACE_GOOD)
        return;
    if (c->sea.count == 1 || dt > 60.0) {
        c->sea_level = value;
        return;
    }
    double move = (1.0 - exp(-dt / 10.0)) * (value - c->sea_level);
    c->sea_level += move;
    c->sea_rate += (1.0 - exp(-dt / 8.0)) * (move / dt - c->sea_rate);
    c->sea_climbed = fmax(c->sea_rate, c->sea_climbed * exp(-dt / 90.0));
}

void cooling_reading(struct cooling *c, int64_t t_ns, int engine, enum cooling_sensor s, bool good,
                     double value)
{
    double t = advance_clock(c, t_ns);
    good = good && isfinite(value);
    if (s == COOLING_RPM) {
        if (engine >= 0 && engine < COOLING_ENGINES)
            rpm_reading(&c->engine[engine], t, good, value);
        return;
    }
    if (s == COOLING_LOAD) {
        if (engine >= 0 && engine < COOLING_ENGINES)
            load_reading(&c->engine[engine], t, good, value);
        return;
    }
    if (!good)
        return;
    if (s == COOLING_SEA) {
        sea_reading(c, t, value);
        return;
    }
    struct watch *w = watch_of(c, engine, s);
    if (!w)
        return;
    if (s == COOLING_SPACE)
        cooling_space_reading(c, w, t, value);
    else if (s == COOLING_EXHAUST || s == COOLING_EXHAUST_GAS)
        cooling_exhaust_reading(c, engine, w, t, value);
    else if (s == COOLING_COOLANT || s == COOLING_OIL_TEMP)
        cooling_plateau_reading(c, engine, s, t, value);
}

void cooling_engine(struct cooling *c, int64_t t_ns, int engine, bool running)
{
    if (engine < 0 || engine >= COOLING_ENGINES)
        return;
    double t = advance_clock(c, t_ns);
    struct engine_watch *e = &c->engine[engine];
    if (e->known && e->running == running)
        return;
    bool started = running && e->known;
    e->started_here = started;
    e->running = running;
    e->known = true;
    e->since_s = t;
    for (int s = 0; s < COOLING_SENSORS; s++) {
        struct watch *w = &e->sensor[s];
        cusum_reset(&w->cusum);
        w->settled = false;
        if (!running)
            cooling_decide(c, w, 0, COOLING_RISE, CAUSE_NONE);
    }
}

void cooling_tick(struct cooling *c, int64_t t_ns)
{
    advance_clock(c, t_ns);
}

/* What was expected is of another time: begin as with an engine found running. */
static void forget_now(struct watch *w)
{
    trace_gap(&w->trace);
    cusum_reset(&w->cusum);
    w->level_known = w->settled = false;
    w->ring_count = 0;
    w->calm_s = NAN;
}

void cooling_gap(struct cooling *c, int64_t t_ns)
{
    double t = advance_clock(c, t_ns);
    for (int i = 0; i < COOLING_ENGINES; i++)
        for (int s = 0; s < COOLING_SENSORS; s++) {
            forget_now(&c->engine[i].sensor[s]);
            c->engine[i].sensor[s].quiet_s = t;
        }
    for (int i = 0; i < COOLING_SPACES; i++)
        forget_now(&c->space[i]);
    trace_gap(&c->sea);
}

const struct cooling_verdict *cooling_verdict(const struct cooling *c, int engine,
                                              enum cooling_sensor s)
{
    static const struct cooling_verdict none = {.value = NAN, .seconds_to_limit = NAN};
    const struct watch *w = watch_of((struct cooling *)c, engine, s);
    return w ? &w->verdict : &none;
}

uint32_t cooling_version(const struct cooling *c)
{
    return c->version;
}

void cooling_show(struct watch *w, double expected, double allowance, double statistic,
                  double threshold)
{
    struct cooling_verdict *v = &w->verdict;
    v->value = trace_value(&w->trace) * w->unit;
    double rate = trace_rate(&w->trace, 8.0) * w->unit;
    v->rate_per_min = rate * 60.0;
    v->limit_c = w->limit_c;
    v->seconds_to_limit = NAN;
    if (rate > 0.02 && v->value < w->limit_c)
        v->seconds_to_limit = (w->limit_c - v->value) / rate;
    v->expected = expected * w->unit;
    v->allowance = allowance * w->unit;
    v->noise = w->trace.sigma * w->unit;
    v->statistic = statistic;
    v->threshold = threshold;
}

void cooling_decide(struct cooling *c, struct watch *w, int level, enum cooling_kind kind,
                    enum cooling_cause cause)
{
    struct cooling_verdict *v = &w->verdict;
    if (level == 0)
        cause = CAUSE_NONE;
    if (v->level == level && v->kind == kind && v->cause == cause)
        return;
    v->level = level;
    v->kind = kind;
    v->cause = cause;
    c->version++;
}
