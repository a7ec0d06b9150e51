#include "drill/run.h"

#include "drill/electric.h"

#include <math.h>
#include <stdlib.h>

#include "base/banned.h"

#define DEGREE 0.017453292519943295

/* Source addresses of the made-up boxes. */
enum {
    ADDRESS_ENGINE = 0x10,  /* + engine */
    ADDRESS_EXHAUST = 0x20, /* + engine */
    ADDRESS_SPARE = 0x2F,   /* the second box of `two-boxes` on a boat with one engine */
    ADDRESS_CLIMATE = 0x23,
    ADDRESS_TANKS = 0x24,
    ADDRESS_BATTERIES = 0x25,
    ADDRESS_POSITION = 0x26,
    ADDRESS_LOG = 0x27,
    ADDRESS_SWITCHES = 0x28,
    ADDRESS_GENERATOR = 0x29,
    ADDRESS_INVERTER = 0x2A,
    ADDRESS_BANK = 0x2B,
    ADDRESS_GENERATOR_EXHAUST = 0x2C,
};

/* Lagged readings of one world, without noise. */
struct lagged {
    double exhaust[DRILL_ENGINES], coolant[DRILL_ENGINES], oil[DRILL_ENGINES];
    double space, sea, air;
    double battery; /* lead and acid take half an hour to follow the space */
};

/* One box's message and when it is next due. */
struct due {
    enum drill_message_kind kind;
    int unit; /* engine, tank, battery, box */
    uint8_t sender;
    double period_s, next_s;
};
#define DUES 96

struct drill_run {
    struct drill_plan plan;
    struct drill_helm helm;
    struct drill_world world, shadow;
    bool has_shadow;
    struct lagged seen, healthy;
    struct drill_truth truth;
    struct rng noise, jitter;
    struct due due[DUES];
    int dues;
    double t_s;
    long steps;
    double slosh[DRILL_ENGINES + 1];
    double stuck_at[DRILL_ENGINES];
    double pump_until_s, pump_next_s;
    struct drill_electric electric; /* of a full boat */
};

/* --- setting out ------------------------------------------------------------------------ */

void drill_plan_default(struct drill_plan *plan, int engines, double minutes, uint64_t seed)
{
    *plan = (struct drill_plan){.seed = seed};
    drill_params_default(&plan->params, engines);
    drill_sensors_default(&plan->sensors);
    drill_trip_default(&plan->trip, &plan->params, minutes);
}

void drill_plan_trial(struct drill_plan *plan, int engines, uint64_t seed)
{
    drill_plan_default(plan, engines, 30, seed);
    plan->params.hump_share = 0.6;
    plan->params.speed_full_kn = 23;
    plan->params.speed_tau_s = 7;
    plan->params.fuel_capacity_l = 250;
    plan->params.fuel_level = 0.83;
    plan->params.drift_kn = 0.7;
    drill_trip_trial(&plan->trip, &plan->params);
}

void drill_plan_random(struct drill_plan *plan, int engines, uint64_t seed)
{
    struct drill_habits habits;
    struct rng r;

    *plan = (struct drill_plan){.seed = seed};
    rng_seed_stream(&r, seed, 1);
    drill_params_random(&plan->params, &r, engines);
    drill_sensors_random(&plan->sensors, &r);
    /* Every trip has a cruise long enough for the slowest fault. */
    do {
        drill_habits_random(&habits, &r);
        drill_trip_random(&plan->trip, &plan->params, &habits, &r);
    } while (plan->trip.cruise_to_s - plan->trip.cruise_from_s < 480);
}

void drill_plan_full(struct drill_plan *plan, bool random)
{
    static const uint8_t firsts[] = {0, 1, 11};
    struct rng r;

    rng_seed_stream(&r, plan->seed, 5);
    plan->full = true;
    plan->first_instance = random ? firsts[rng_below(&r, 3)] : 0;
}

static void post(struct drill_run *run, enum drill_message_kind kind, int unit, int sender,
                 double period_s)
{
    /* Boxes are switched on at their own moments: no two march in step. */
    double phase = 0.02 + 0.9 * period_s * rng_unit(&run->noise);

    if (kind == DRILL_CLAIM || kind == DRILL_PRODUCT)
        phase = (kind == DRILL_CLAIM ? 0.05 : 0.6) + 0.04 * run->dues;
    if (kind == DRILL_HEARTBEAT)
        phase = 2 + 0.11 * run->dues;
    if (run->dues < DUES)
        run->due[run->dues++] = (struct due){kind, unit, (uint8_t)sender, period_s, phase};
}

static void post_box(struct drill_run *run, int sender)
{
    post(run, DRILL_CLAIM, 0, sender, 0);
    post(run, DRILL_PRODUCT, 0, sender, 0);
    post(run, DRILL_HEARTBEAT, 0, sender, 60);
}

/* What a full boat has besides. */
static void post_electric(struct drill_run *run)
{
    static const struct {
        enum drill_message_kind kind;
        uint8_t sender;
        double period_s;
    } list[] = {
        {DRILL_RAPID, ADDRESS_GENERATOR, 0.1},
        {DRILL_DYNAMIC, ADDRESS_GENERATOR, 0.5},
        {DRILL_EXHAUST, ADDRESS_GENERATOR_EXHAUST, 2},
        {DRILL_AC_VOLTS, ADDRESS_GENERATOR, 1.5},
        {DRILL_AC_AMPS, ADDRESS_GENERATOR, 1.5},
        {DRILL_AC_IN, ADDRESS_INVERTER, 1.5},
        {DRILL_AC_OUT, ADDRESS_INVERTER, 1.5},
        {DRILL_CHARGER, ADDRESS_INVERTER, 1.5},
        {DRILL_INVERTER, ADDRESS_INVERTER, 1.5},
        {DRILL_CONVERTER, ADDRESS_INVERTER, 1.5},
        {DRILL_DC, ADDRESS_INVERTER, 1.5},
        {DRILL_CHARGE, ADDRESS_BANK, 1.5},
        {DRILL_BATTERY_SETUP, ADDRESS_BANK, 60},
    };

    for (int a = ADDRESS_GENERATOR; a <= ADDRESS_GENERATOR_EXHAUST; a++)
        post_box(run, a);
    for (size_t i = 0; i < sizeof list / sizeof list[0]; i++)
        post(run, list[i].kind, DRILL_GENSET_UNIT, list[i].sender, list[i].period_s);
}

static void post_all(struct drill_run *run)
{
    const struct drill_sensors *s = &run->plan.sensors;
    int engines = run->plan.params.engines;

    for (int i = 0; i < engines; i++) {
        post_box(run, ADDRESS_EXHAUST + i);
        post(run, DRILL_RAPID, i, ADDRESS_ENGINE + i, 0.1);
        post(run, DRILL_DYNAMIC, i, ADDRESS_ENGINE + i, 0.5);
        post(run, DRILL_TRANSMISSION, i, ADDRESS_ENGINE + i, 0.1);
        post(run, DRILL_TRIP_FUEL, i, ADDRESS_ENGINE + i, 1);
        post(run, DRILL_EXHAUST, i, ADDRESS_EXHAUST + i, s->exhaust[i].period_s);
        post(run, DRILL_TANK, i, ADDRESS_TANKS, 2.5);
    }
    if (engines == 1 && run->plan.fault.kind == DRILL_FAULT_TWO_BOXES) {
        post_box(run, ADDRESS_SPARE);
        post(run, DRILL_EXHAUST, 1, ADDRESS_SPARE, s->exhaust[0].period_s);
    }
    for (int i = 0; i <= engines; i++)
        post(run, DRILL_BATTERY, i, ADDRESS_BATTERIES, s->battery_s);
    post(run, DRILL_TANK, engines, ADDRESS_TANKS, 2.5);
    for (int a = ADDRESS_CLIMATE; a <= ADDRESS_SWITCHES; a++)
        post_box(run, a);
    post(run, DRILL_SPACE, 0, ADDRESS_CLIMATE, s->space.period_s);
    if (!s->no_sea)
        post(run, DRILL_SEA, 0, ADDRESS_CLIMATE, s->sea.period_s);
    post(run, DRILL_AIR, 0, ADDRESS_CLIMATE, s->air.period_s);
    post(run, DRILL_PRESSURE, 0, ADDRESS_CLIMATE, 2);
    post(run, DRILL_GROUND, 0, ADDRESS_POSITION, 0.25);
    post(run, DRILL_CLOCK, 0, ADDRESS_POSITION, 1);
    post(run, DRILL_WATER, 0, ADDRESS_LOG, 1);
    post(run, DRILL_SWITCHES, 0, ADDRESS_SWITCHES, 2);
}

/* The engine boxes wake with the key, just before their start. */
static double key_on_s(const struct drill_run *run, int engine)
{
    return fmax(0, run->plan.trip.start_s[engine] - 8);
}

static void truth_init(struct drill_run *run)
{
    const struct drill_fault *f = &run->plan.fault;

    run->truth = (struct drill_truth){
        .fault = f->kind,
        .engine = f->engine,
        .began_s = f->kind == DRILL_FAULT_NONE ? NAN : f->at_s,
        .quantity = DRILL_Q_EXHAUST,
        .limit_c = DRILL_LIMIT_EXHAUST_C,
        .limit_passed_s = NAN,
        .reference_s = NAN,
    };
    if (f->kind == DRILL_FAULT_COOLANT_PUMP) {
        run->truth.quantity = DRILL_Q_COOLANT;
        run->truth.limit_c = DRILL_LIMIT_COOLANT_C;
    } else if (f->kind == DRILL_FAULT_FIRE) {
        run->truth.quantity = DRILL_Q_SPACE;
        run->truth.limit_c = DRILL_LIMIT_SPACE_C;
    }
}

static void lagged_init(struct lagged *l, const struct drill_params *p)
{
    for (int i = 0; i < DRILL_ENGINES; i++)
        l->exhaust[i] = l->coolant[i] = l->oil[i] = p->start_c;
    l->space = l->battery = p->start_c;
    l->sea = p->sea_c;
    l->air = p->air_c;
}

struct drill_run *drill_run_new(const struct drill_plan *plan)
{
    struct drill_run *run = calloc(1, sizeof *run);

    if (!run)
        return NULL;
    run->plan = *plan;
    rng_seed_stream(&run->noise, plan->seed, 2);
    rng_seed_stream(&run->jitter, plan->seed, 3);
    drill_world_init(&run->world, &plan->params);
    drill_world_init(&run->shadow, &plan->params);
    run->has_shadow = drill_fault_is_physical(plan->fault.kind);
    drill_helm_init(&run->helm, &plan->params);
    lagged_init(&run->seen, &plan->params);
    lagged_init(&run->healthy, &plan->params);
    truth_init(run);
    for (int i = 0; i < DRILL_ENGINES; i++)
        run->stuck_at[i] = NAN;
    run->pump_next_s = 240;
    post_all(run);
    if (plan->full) {
        uint8_t engines = (uint8_t)plan->params.engines;
        drill_electric_init(&run->electric, &plan->trip, plan->seed,
                            (uint8_t)(plan->first_instance + engines), engines);
        post_electric(run);
    }
    return run;
}

void drill_run_free(struct drill_run *run)
{
    free(run);
}

const struct drill_truth *drill_run_truth(const struct drill_run *run)
{
    return &run->truth;
}

const struct drill_world *drill_run_world(const struct drill_run *run)
{
    return &run->world;
}

/* --- what the sensors make of it -------------------------------------------------------- */

static void lag(double *now, double target, double tau_s)
{
    *now += (target - *now) * DRILL_STEP_S / (tau_s + 0.5 * DRILL_STEP_S);
}

static void lag_all(struct lagged *l, const struct drill_world *w, const struct drill_sensors *s,
                    int engines)
{
    for (int i = 0; i < engines; i++) {
        lag(&l->exhaust[i], w->engine[i].exhaust_c, s->exhaust[i].tau_s);
        lag(&l->coolant[i], w->engine[i].coolant_c, s->coolant.tau_s);
        lag(&l->oil[i], w->engine[i].oil_c, s->oil.tau_s);
    }
    lag(&l->space, w->space_c, s->space.tau_s);
    lag(&l->battery, w->space_c, 1800);
    lag(&l->sea, w->sea_c, s->sea.tau_s);
    lag(&l->air, w->air_c, s->air.tau_s);
}

static struct drill_value sense(struct drill_run *run, double lagged,
                                const struct drill_sensor_params *s)
{
    double v = lagged + s->bias + s->noise * rng_normal(&run->noise);

    if (s->step > 0)
        v = s->step * floor(v / s->step + 0.5);
    return (struct drill_value){true, v};
}

static struct drill_value value(double v)
{
    return (struct drill_value){true, v};
}

/* --- the messages ----------------------------------------------------------------------- */

/* What a fuel meter makes of the fuel that is burnt. */
static double metered(const struct drill_run *run, int engine, double amount)
{
    const struct drill_fault *f = &run->plan.fault;

    return f->kind == DRILL_FAULT_METER_HIGH && f->engine == engine ? amount * (1 + f->amount)
                                                                    : amount;
}

static void fill_dynamic(struct drill_run *run, struct drill_message *m, int i)
{
    const struct drill_engine *e = &run->world.engine[i];
    const struct drill_sensors *s = &run->plan.sensors;
    bool runs = e->run_s > 0;

    m->v[DYN_OIL_KPA] = value(e->oil_kpa * (1 + 0.004 * rng_normal(&run->noise)));
    m->v[DYN_OIL_C] = sense(run, run->seen.oil[i], &s->oil);
    m->v[DYN_COOLANT_C] = sense(run, run->seen.coolant[i], &s->coolant);
    m->v[DYN_ALTERNATOR_V] =
        (struct drill_value){runs, e->alternator_v + 0.015 * rng_normal(&run->noise)};
    m->v[DYN_FUEL_LPH] = value(metered(run, i, e->fuel_lph) * (1 + 0.01 * rng_normal(&run->noise)));
    m->v[DYN_HOURS] = value(812 + 3 * i + run->t_s / 3600); /* invented: not new, not alike */
    m->v[DYN_COOLANT_KPA] = (struct drill_value){false, 0};
    m->v[DYN_LOAD] = (struct drill_value){!s->no_load, 100 * e->load};
    m->v[DYN_TORQUE] = (struct drill_value){!s->no_load, 100 * e->torque};
}

static const struct drill_happening *
happening(const struct drill_run *run, enum drill_happening_kind kind, int engine, double within_s)
{
    const struct drill_trip *t = &run->plan.trip;

    for (int i = 0; i < t->happenings; i++) {
        const struct drill_happening *h = &t->happening[i];
        double length = within_s > 0 ? h->length_s * within_s : h->length_s;

        if (h->kind == kind && h->engine == engine && run->t_s >= h->t_s &&
            run->t_s < h->t_s + length)
            return h;
    }
    return NULL;
}

/* The harmless troubles of an exhaust sensor, laid over a good sample. */
static void trouble(struct drill_run *run, struct drill_message *m, int i)
{
    const struct drill_happening *wild =
        happening(run, DRILL_WILD, i, run->plan.sensors.exhaust[i].period_s);
    bool stuck = happening(run, DRILL_STUCK, i, 0) != NULL;

    if (happening(run, DRILL_DROPOUT, i, 0))
        m->v[0].ok = false;
    if (wild || rng_chance(&run->noise, run->plan.sensors.wild_share)) {
        m->wild = true;
        m->v[0].v += wild ? wild->amount : rng_between(&run->noise, -60, 300);
    }
    if (!stuck) {
        run->stuck_at[i] = NAN;
    } else {
        run->stuck_at[i] = isnan(run->stuck_at[i]) ? m->v[0].v : run->stuck_at[i];
        m->v[0].v = run->stuck_at[i];
        m->wild = true;
    }
}

/* False where the box is silent. */
static bool fill_exhaust(struct drill_run *run, struct drill_message *m, int unit)
{
    const struct drill_fault *f = &run->plan.fault;
    bool active = drill_fault_active(f, run->t_s);

    if (m->sender == ADDRESS_SPARE) {
        /* A spare left with instance 0, lying in the engine space. */
        m->place = run->plan.first_instance;
        m->engine = -1;
        m->v[0] = sense(run, run->seen.space, &run->plan.sensors.exhaust[0]);
        return active;
    }
    if (f->kind == DRILL_FAULT_SWAPPED && run->plan.params.engines > 1)
        m->place = (uint8_t)(run->plan.first_instance + 1 - unit); /* since they were fitted */
    m->v[0] = sense(run, run->seen.exhaust[unit], &run->plan.sensors.exhaust[unit]);
    trouble(run, m, unit);
    if (!active || f->engine != unit)
        return true;
    if (f->kind == DRILL_FAULT_SENSOR_OPEN)
        m->v[0].ok = false;
    if (f->kind == DRILL_FAULT_TWO_BOXES && run->plan.params.engines > 1)
        m->place = (uint8_t)(run->plan.first_instance + 1 - unit);
    return f->kind != DRILL_FAULT_SENSOR_SILENT;
}

static bool fill_engine(struct drill_run *run, struct drill_message *m, int i)
{
    const struct drill_engine *e = &run->world.engine[i];
    const struct drill_trip *t = &run->plan.trip;

    /* Key off 12 s after the stop; another start wakes the box again. */
    if (run->t_s < key_on_s(run, i) ||
        (t->stop_s[i] > 0 && run->t_s > t->stop_s[i] + 12 && e->rpm <= 0))
        return false;
    switch (m->kind) {
    case DRILL_RAPID:
        m->v[0] = value(
            e->rpm > 0 ? fmax(0, e->rpm + run->plan.sensors.rpm_noise * rng_normal(&run->noise))
                       : 0);
        m->v[1] = value(e->boost_kpa);
        return true;
    case DRILL_DYNAMIC:
        fill_dynamic(run, m, i);
        return true;
    case DRILL_TRANSMISSION:
        m->v[0] = value(e->gear);
        m->v[1] = value(e->rpm > 0 ? 600 + 0.5 * e->rpm : 0);
        m->v[2] = value(run->world.space_c + 0.5 * (e->block_c - run->world.space_c));
        return true;
    default:
        m->v[0] = value(metered(run, i, e->fuel_used_l));
        m->v[1] = (struct drill_value){
            e->run_s > 30, e->run_s > 30 ? 3600 * metered(run, i, e->fuel_used_l) / e->run_s : 0};
        m->v[2] = (struct drill_value){false, 0};
        m->v[3] = value(metered(run, i, e->fuel_lph));
        return true;
    }
}

static void fill_tank(struct drill_run *run, struct drill_message *m, int unit)
{
    const struct drill_params *p = &run->plan.params;
    bool water = unit == p->engines;
    double share = water ? 0.64 : run->world.tank_l[unit] / p->fuel_capacity_l;

    /* Slosh: the surface swings for longer than one message. */
    run->slosh[unit] =
        0.7 * run->slosh[unit] + 0.7 * run->plan.sensors.level_noise * rng_normal(&run->noise);
    m->place = water ? 0 : (uint8_t)unit;
    m->v[0] = value(fmin(1, fmax(0, share + run->slosh[unit])));
    if (run->plan.fault.kind == DRILL_FAULT_STUCK_TANK && run->plan.fault.engine == unit && !water)
        m->v[0].v = run->plan.params.fuel_level; /* the float hangs where it was at the start */
    m->v[1] = value(water ? 250 : p->fuel_capacity_l);
    m->v[2] = value(water ? 1 : 0); /* fluid type */
}

static void fill_switches(struct drill_run *run, struct drill_message *m)
{
    bool any = false;

    for (int i = 0; i < run->plan.params.engines; i++)
        any |= run->world.engine[i].run_s > 0;
    /* The blower runs with the engines; the bilge pump 8 s every 20 min. */
    if (run->t_s >= run->pump_next_s) {
        run->pump_until_s = run->t_s + 8;
        run->pump_next_s += 1200;
    }
    m->v[0] = value(any);
    m->v[1] = value(run->t_s < run->pump_until_s);
}

/* Way through the water and the current, added as arrows. */
static void fill_ground(struct drill_run *run, struct drill_message *m)
{
    const struct drill_params *p = &run->plan.params;
    double heading = run->helm.course_deg * DEGREE, set = p->current_deg * DEGREE;
    bool at_sea = run->t_s > run->plan.trip.under_way_s && run->t_s < run->plan.trip.stop_s[0];
    bool still = fabs(run->world.speed_kn) < 0.2;
    /* lines hold her; on trial she lies off, in neutral, and wind and current have her */
    double adrift = still && !(p->drift_kn > 0 && at_sea) ? 0 : 1;
    double wind = still ? adrift * p->drift_kn : 0;
    double north = run->world.speed_kn * cos(heading) + adrift * p->current_kn * cos(set) + wind;
    double east = run->world.speed_kn * sin(heading) + adrift * p->current_kn * sin(set);

    m->v[0] = value(hypot(north, east) + 0.03 * fabs(rng_normal(&run->noise)));
    m->v[1] = value(atan2(east, north) / DEGREE + 0.6 * rng_normal(&run->noise));
}

static void fill_boat(struct drill_run *run, struct drill_message *m, int unit)
{
    const struct drill_world *w = &run->world;
    const struct drill_sensors *s = &run->plan.sensors;
    struct rng *r = &run->noise;

    switch (m->kind) {
    case DRILL_SPACE:
        m->v[0] = sense(run, run->seen.space, &s->space);
        break;
    case DRILL_SEA:
        m->v[0] = sense(run, run->seen.sea, &s->sea);
        break;
    case DRILL_AIR:
        m->v[0] = sense(run, run->seen.air, &s->air);
        break;
    case DRILL_PRESSURE:
        m->v[0] = value(101.62 + 0.003 * rng_normal(r));
        break;
    case DRILL_TANK:
        fill_tank(run, m, unit);
        break;
    case DRILL_BATTERY:
        m->v[0] = value(w->battery_v[unit] + 0.01 * rng_normal(r));
        m->v[1] = value(w->battery_a[unit] + 0.2 * rng_normal(r));
        if (run->plan.full && unit == run->plan.params.engines) { /* the house bank is lithium */
            m->v[0].v += run->electric.bank_v - w->battery_v[unit];
            m->v[1].v += run->electric.bank_a - w->battery_a[unit];
        }
        m->v[2] = value(unit < run->plan.params.engines ? run->seen.battery : w->air_c);
        break;
    case DRILL_GROUND:
        fill_ground(run, m);
        break;
    case DRILL_WATER:
        m->v[0] = value(fabs(w->speed_kn) * (1 + 0.01 * rng_normal(r)));
        break;
    case DRILL_SWITCHES:
        fill_switches(run, m);
        break;
    default:
        break;
    }
}

/* --- the truth -------------------------------------------------------------------------- */

static void judge(struct drill_run *run, const struct drill_message *m, struct drill_value v,
                  double healthy, const struct drill_sensor_params *s)
{
    struct drill_truth *t = &run->truth;

    if (!v.ok || m->wild || run->t_s < t->began_s)
        return;
    if (isnan(t->limit_passed_s) && v.v >= t->limit_c)
        t->limit_passed_s = m->t_s;
    if (isnan(t->reference_s) && v.v > healthy + s->bias + 5 * s->noise + 0.5 + 0.5 * s->step)
        t->reference_s = m->t_s;
}

static void judge_message(struct drill_run *run, const struct drill_message *m)
{
    const struct drill_truth *t = &run->truth;
    const struct drill_sensors *s = &run->plan.sensors;
    int i = t->engine;

    if (!run->has_shadow)
        return;
    if (t->quantity == DRILL_Q_EXHAUST && m->kind == DRILL_EXHAUST && m->engine == i)
        judge(run, m, m->v[0], run->healthy.exhaust[i], &s->exhaust[i]);
    else if (t->quantity == DRILL_Q_COOLANT && m->kind == DRILL_DYNAMIC && m->engine == i)
        judge(run, m, m->v[DYN_COOLANT_C], run->healthy.coolant[i], &s->coolant);
    else if (t->quantity == DRILL_Q_SPACE && m->kind == DRILL_SPACE)
        judge(run, m, m->v[0], run->healthy.space, &s->space);
}

/* --- a step ----------------------------------------------------------------------------- */

static void send(struct drill_run *run, const struct due *d, drill_sink sink, void *ctx)
{
    /* A busy bus and busy boxes: never to the microsecond. */
    double late_s = 0.002 * rng_unit(&run->jitter);
    struct drill_message m = {.t_s = d->next_s + late_s,
                              .kind = d->kind,
                              .place = (uint8_t)d->unit,
                              .engine = -1,
                              .sender = d->sender};
    bool sends = true;

    if (d->unit == DRILL_GENSET_UNIT) {
        sends = drill_electric_fill(&run->electric, &m);
    } else if (d->kind <= DRILL_TRIP_FUEL) {
        m.place = (uint8_t)(m.place + run->plan.first_instance);
        m.engine = d->unit;
        sends = fill_engine(run, &m, d->unit);
    } else if (d->kind == DRILL_EXHAUST) {
        m.place = (uint8_t)(m.place + run->plan.first_instance);
        m.engine = d->unit;
        sends = fill_exhaust(run, &m, d->unit);
    } else if (d->kind < DRILL_CLOCK) {
        fill_boat(run, &m, d->unit);
    }
    if (!sends)
        return;
    judge_message(run, &m);
    if (sink)
        sink(ctx, &m);
}

/* Sends what is due up to now, earliest first. */
static void send_due(struct drill_run *run, drill_sink sink, void *ctx)
{
    for (;;) {
        struct due *first = NULL;

        for (int i = 0; i < run->dues; i++)
            if (run->due[i].next_s <= run->t_s && (!first || run->due[i].next_s < first->next_s))
                first = &run->due[i];
        if (!first)
            return;
        send(run, first, sink, ctx);
        first->next_s = first->period_s > 0 ? first->next_s + first->period_s : INFINITY;
    }
}

bool drill_run_step(struct drill_run *run, drill_sink sink, void *ctx)
{
    const struct drill_plan *plan = &run->plan;
    struct drill_inputs in;

    if (run->t_s >= plan->trip.length_s)
        return false;
    run->t_s = (double)++run->steps * DRILL_STEP_S;
    drill_helm_step(&run->helm, &plan->trip, &plan->params, run->t_s);
    in = run->helm.inputs;
    if (run->has_shadow) {
        drill_world_step(&run->shadow, &plan->params, &in, DRILL_STEP_S);
        lag_all(&run->healthy, &run->shadow, &plan->sensors, plan->params.engines);
    }
    drill_fault_apply(&plan->fault, run->t_s, &in);
    drill_world_step(&run->world, &plan->params, &in, DRILL_STEP_S);
    if (plan->full)
        drill_electric_step(&run->electric, run->t_s, DRILL_STEP_S, run->world.sea_c,
                            run->world.space_c);
    lag_all(&run->seen, &run->world, &plan->sensors, plan->params.engines);
    send_due(run, sink, ctx);
    return true;
}
