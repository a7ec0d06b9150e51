#include "cooling/cooling.h"

#include "cooling/exhaust.h"
#include "cooling/level.h"
#include "cooling/liquids.h"
#include "cooling/space.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

/* One engine, and the watches of its temperatures. */
struct engine_watch {
    struct engine_run engine;
    struct exhaust_watch wet, gas;
    struct liquids liquids;
};

_Static_assert(COOLING_SPACES == BOAT_SPACES, "the boat keeps the air of each space");

struct cooling {
    struct figures figures;
    struct boat boat;
    bool begun;
    int64_t origin_ns;
    struct engine_watch engine[COOLING_ENGINES];
    struct space_watch space[COOLING_SPACES];
};

struct cooling *cooling_new_with(const struct figures *figures)
{
    struct cooling *c = calloc(1, sizeof *c);
    if (!c)
        return NULL;
    c->figures = *figures;
    const struct figures *k = &c->figures;
    boat_init(&c->boat, k);
    for (int i = 0; i < COOLING_ENGINES; i++) {
        struct engine_watch *w = &c->engine[i];
        engine_init(&w->engine, &c->boat);
        exhaust_init(&w->wet, &c->boat, &w->engine, k->exhaust_limit_c, 1.0);
        exhaust_init(&w->gas, &c->boat, &w->engine, k->gas_limit_c, k->dry_unit_k);
        liquids_init(&w->liquids, &c->boat, &w->engine);
    }
    for (int i = 0; i < 2; i++)
        cooling_twin(c, i, i ^ 1);
    for (int i = 0; i < COOLING_SPACES; i++)
        space_init(&c->space[i], &c->boat);
    return c;
}

struct cooling *cooling_new(void)
{
    return cooling_new_with(&cooling_figures);
}

void cooling_free(struct cooling *c)
{
    free(c);
}

/* NULL: there is no watch of this. */
static const struct core *core_of(const struct cooling *c, int engine, enum cooling_sensor s)
{
    if (engine < 0 || engine >= (s == COOLING_SPACE ? COOLING_SPACES : COOLING_ENGINES))
        return NULL;
    switch (s) {
    case COOLING_EXHAUST:
        return &c->engine[engine].wet.core;
    case COOLING_EXHAUST_GAS:
        return &c->engine[engine].gas.core;
    case COOLING_COOLANT:
        return &c->engine[engine].liquids.coolant.core;
    case COOLING_OIL_TEMP:
        return &c->engine[engine].liquids.oil.core;
    case COOLING_SPACE:
        return &c->space[engine].core;
    default:
        return NULL;
    }
}

const struct cooling_verdict *cooling_verdict(const struct cooling *c, int engine,
                                              enum cooling_sensor s)
{
    static const struct cooling_verdict none = {.value = NAN, .seconds_to_limit = NAN};
    const struct core *core = core_of(c, engine, s);
    return core ? &core->verdict : &none;
}

uint32_t cooling_version(const struct cooling *c)
{
    return c->boat.version;
}

void cooling_set_limit(struct cooling *c, int engine, enum cooling_sensor s, double limit_c)
{
    struct core *core = (struct core *)core_of(c, engine, s); /* of what is ours to change */
    if (core)
        core_set_limit(core, limit_c);
}

void cooling_normal(struct cooling *c, int engine, enum cooling_sensor s, double rpm,
                    double value_c, double spread_k)
{
    if (engine < 0 || engine >= COOLING_ENGINES || !isfinite(rpm) || !isfinite(value_c))
        return;
    struct engine_watch *w = &c->engine[engine];
    if (s == COOLING_EXHAUST)
        exhaust_recall(&w->wet, rpm, value_c, spread_k);
    else if (s == COOLING_EXHAUST_GAS)
        exhaust_recall(&w->gas, rpm, value_c, spread_k);
    else if (s == COOLING_COOLANT)
        plateau_recall(&w->liquids.coolant, value_c);
}

static double advance_clock(struct cooling *c, int64_t t_ns)
{
    if (!c->begun) {
        c->begun = true;
        c->origin_ns = t_ns;
    }
    double t = (double)(t_ns - c->origin_ns) / 1e9;
    if (t > c->boat.now_s)
        c->boat.now_s = t;
    return t;
}

static void engine_reading(struct engine_watch *w, enum cooling_sensor s, double t, double value)
{
    switch (s) {
    case COOLING_EXHAUST:
        exhaust_reading(&w->wet, t, value);
        break;
    case COOLING_EXHAUST_GAS:
        exhaust_reading(&w->gas, t, value);
        break;
    case COOLING_COOLANT:
        liquids_coolant_reading(&w->liquids, t, value, &w->wet.core);
        break;
    case COOLING_OIL_TEMP:
        liquids_oil_reading(&w->liquids, t, value);
        break;
    default:
        break;
    }
}

void cooling_reading(struct cooling *c, int64_t t_ns, int engine, enum cooling_sensor s, bool good,
                     double value)
{
    double t = advance_clock(c, t_ns);
    good = good && isfinite(value);
    if (s == COOLING_SEA) {
        if (good)
            boat_sea_reading(&c->boat, t, value);
        return;
    }
    if (engine < 0 || engine >= (s == COOLING_SPACE ? COOLING_SPACES : COOLING_ENGINES))
        return;
    struct engine_run *e = s == COOLING_SPACE ? NULL : &c->engine[engine].engine;
    if (s == COOLING_RPM)
        engine_rpm(e, t, good, value);
    else if (s == COOLING_LOAD)
        engine_load(e, FROM_LOAD, t, good, value);
    else if (s == COOLING_TORQUE)
        engine_load(e, FROM_TORQUE, t, good, value);
    else if (s == COOLING_FUEL_RATE)
        engine_load(e, FROM_FUEL, t, good, value);
    else if (s == COOLING_BOOST)
        engine_load(e, FROM_BOOST, t, good, value);
    else if (good && s == COOLING_SPACE) {
        boat_space_reading(&c->boat, engine, t, value);
        space_reading(&c->space[engine], t, value);
    } else if (good)
        engine_reading(&c->engine[engine], s, t, value);
}

void cooling_engine(struct cooling *c, int64_t t_ns, int engine, bool running)
{
    if (engine < 0 || engine >= COOLING_ENGINES)
        return;
    double t = advance_clock(c, t_ns);
    struct engine_watch *w = &c->engine[engine];
    if (!engine_state(&w->engine, t, running))
        return;
    exhaust_engine(&w->wet);
    exhaust_engine(&w->gas);
    plateau_engine(&w->liquids.coolant);
    plateau_engine(&w->liquids.oil);
}

void cooling_generator(struct cooling *c, int engine, bool generator)
{
    if (engine >= 0 && engine < COOLING_ENGINES)
        c->engine[engine].engine.generator = generator;
}

void cooling_twin(struct cooling *c, int engine, int twin)
{
    if (engine < 0 || engine >= COOLING_ENGINES)
        return;
    struct engine_watch *w = &c->engine[engine];
    const struct engine_watch *other =
        twin >= 0 && twin < COOLING_ENGINES ? &c->engine[twin] : NULL;
    exhaust_pair(&w->wet, other ? &other->engine : NULL, other ? &other->wet : NULL);
    exhaust_pair(&w->gas, other ? &other->engine : NULL, other ? &other->wet : NULL);
}

void cooling_called_wet(struct cooling *c, int engine, bool wet)
{
    if (engine >= 0 && engine < COOLING_ENGINES)
        c->engine[engine].wet.called_wet = wet;
}

/* ---- how sensitive it is ---- */

static enum cooling_sensor load_of(const struct engine_run *e)
{
    static const enum cooling_sensor sensors[] = {
        [FROM_LOAD] = COOLING_LOAD,       [FROM_TORQUE] = COOLING_TORQUE,
        [FROM_FUEL] = COOLING_FUEL_RATE,  [FROM_BOOST] = COOLING_BOOST,
        [FROM_NOTHING] = COOLING_SENSORS,
    };
    return engine_has_load(e) ? sensors[e->stand_in] : COOLING_SENSORS;
}

struct cooling_sense cooling_sense(const struct cooling *c, int engine)
{
    struct cooling_sense s = {.load = COOLING_SENSORS, .period_s = NAN, .delay_s = NAN};
    const struct figures *k = &c->figures;
    s.blind = true;
    if (engine < 0 || engine >= COOLING_ENGINES)
        return s;
    const struct engine_watch *w = &c->engine[engine];
    const struct exhaust_watch *x = w->gas.core.trace.count > 0 ? &w->gas : &w->wet;
    s.exhaust = x->core.trace.count > 0;
    s.speed = engine_has_rpm(&w->engine);
    s.load = load_of(&w->engine);
    s.sea = boat_sea_known(&c->boat);
    s.twin = level_twin(x) != NULL;
    s.generator = engine_is_blind(&w->engine);
    if (!s.exhaust || x->core.trace.count < 2)
        return s;
    s.period_s = trace_spacing(&x->core.trace);
    s.blind = !s.speed || s.period_s > k->sense_blind_s;
    if (s.blind)
        return s;
    s.delay_s = s.generator                              ? k->sense_generator_s
                : w->engine.rpm.last < k->sense_idle_rpm ? k->sense_idle_s
                                                         : k->sense_cruise_s;
    s.delay_s += k->sense_period * fmax(0.0, s.period_s - k->sense_period_s);
    return s;
}

void cooling_tick(struct cooling *c, int64_t t_ns)
{
    advance_clock(c, t_ns);
}

void cooling_gap(struct cooling *c, int64_t t_ns)
{
    double t = advance_clock(c, t_ns);
    for (int i = 0; i < COOLING_ENGINES; i++) {
        exhaust_gap(&c->engine[i].wet, t);
        exhaust_gap(&c->engine[i].gas, t);
        plateau_gap(&c->engine[i].liquids.coolant);
        plateau_gap(&c->engine[i].liquids.oil);
    }
    for (int i = 0; i < COOLING_SPACES; i++)
        space_gap(&c->space[i]);
    trace_gap(&c->boat.sea.trace);
}
