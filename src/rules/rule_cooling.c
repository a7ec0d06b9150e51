/* rise, departure, split: feeds the cooling watch (cooling/cooling.h) with readings and engine
 * states and turns its verdicts into claims with the cause's words. All that belongs to one
 * engine's raw water is one situation; both exhausts up together is one as well. */
#include "rules/kinds.h"

#include "base/text.h"

#include <assert.h>
#include <math.h>
#include "cooling/cooling.h"
#include "season/model.h"

#include "base/banned.h"

#define BOTH_ENGINES 255 /* id.place of the situation of sea or load */

/* Exhausts that begin to rise this close to each other have one cause. */
#define TOGETHER_NS (30 * NS_PER_S)

struct opinion {
    uint32_t claimant;
    bool claimed;
    bool asks;        /* the claim is a question, which is a situation of its own */
    bool together;    /* of an exhaust: another engine's rose with it */
    bool certain;     /* was an alarm since it was claimed */
    bool lost;        /* as said: its sensor tells nothing now */
    int64_t since_ns; /* mono, of the claim */
    int64_t said_ns;
};

struct rule_cooling {
    struct cooling *cooling;
    uint32_t version;
    int standing;   /* opinions that are claimed */
    uint32_t fleet; /* which engines there are and which are generators, as it was told */
    bool heard[COOLING_ENGINES];
    struct opinion opinions[COOLING_ENGINES][COOLING_SENSORS];
};

static struct rule_cooling *own_of(const struct rules *r)
{
    return rule_own(r, &rule_cooling_module);
}

static bool cooling_init(struct rules *r, void *own)
{
    struct rule_cooling *k = own;
    (void)r;
    return (k->cooling = cooling_new()) != NULL;
}

static void cooling_fini(void *own)
{
    struct rule_cooling *k = own;
    cooling_free(k->cooling);
}

/* enum cooling_sensor, or -1. number_of has the last word. */
static int sensor_of(const struct channel *c)
{
    switch (c->id.quantity) {
    case QTY_EXHAUST:
        return COOLING_EXHAUST;
    case QTY_EXHAUST_GAS:
        return COOLING_EXHAUST_GAS;
    case QTY_COOLANT:
        return COOLING_COOLANT;
    case QTY_OIL_TEMP:
        return COOLING_OIL_TEMP;
    case QTY_RPM:
        return COOLING_RPM;
    case QTY_LOAD:
        return COOLING_LOAD;
    case QTY_TORQUE:
        return COOLING_TORQUE;
    case QTY_FUEL_RATE:
        return COOLING_FUEL_RATE;
    case QTY_BOOST:
        return COOLING_BOOST;
    case QTY_ENGINE_SPACE:
        return COOLING_SPACE;
    case QTY_SEA:
        return COOLING_SEA;
    default:
        return -1;
    }
}

static enum quantity sensor_quantity(enum cooling_sensor s)
{
    static const enum quantity quantities[COOLING_SENSORS] = {
        [COOLING_EXHAUST] = QTY_EXHAUST, [COOLING_EXHAUST_GAS] = QTY_EXHAUST_GAS,
        [COOLING_COOLANT] = QTY_COOLANT, [COOLING_OIL_TEMP] = QTY_OIL_TEMP,
        [COOLING_RPM] = QTY_RPM,         [COOLING_LOAD] = QTY_LOAD,
        [COOLING_TORQUE] = QTY_TORQUE,   [COOLING_FUEL_RATE] = QTY_FUEL_RATE,
        [COOLING_BOOST] = QTY_BOOST,     [COOLING_SPACE] = QTY_ENGINE_SPACE,
        [COOLING_SEA] = QTY_SEA,
    };
    assert((unsigned)s < COOLING_SENSORS);
    return quantities[s];
}

/* The others only help to judge. */
static bool is_judged(enum cooling_sensor s)
{
    return s <= COOLING_OIL_TEMP || s == COOLING_SPACE;
}

/* Under which number the cooling watch knows it: the slot of its engine, whatever that engine's
 * instance, or the instance of an engine space. -1: it does not. */
static int number_of(const struct channel *c)
{
    if (quantity_info((enum quantity)c->id.quantity)->place == PLACE_ENGINE)
        return c->engine < COOLING_ENGINES ? c->engine : -1;
    if (c->id.quantity == QTY_SEA)
        return c->id.place == 0 ? 0 : -1;
    return c->id.place < COOLING_SPACES ? c->id.place : -1;
}

static struct channel_id channel_of(const struct rules *r, int number, enum cooling_sensor s)
{
    bool boat = s == COOLING_SPACE || s == COOLING_SEA;
    uint8_t place = boat ? (uint8_t)number : plant_engine(r->plant, number)->instance;
    return (struct channel_id){(uint16_t)sensor_quantity(s), place, 0};
}

static void tell_limit(struct rules *r, const struct channel *c, enum cooling_sensor sensor)
{
    if (sensor != COOLING_EXHAUST && sensor != COOLING_COOLANT && sensor != COOLING_OIL_TEMP)
        return;
    double limit_c = rule_channel(c)->alarm_above;
    if (isfinite(limit_c))
        cooling_set_limit(own_of(r)->cooling, number_of(c), sensor, limit_c);
}

static void cooling_configure(struct rules *r, void *own)
{
    (void)own;
    size_t n = plant_count(r->plant);
    for (size_t i = 0; i < n; i++) {
        const struct channel *c = plant_channel(r->plant, i);
        int sensor = sensor_of(c);
        if (sensor >= 0 && number_of(c) >= 0 && !c->second)
            tell_limit(r, c, (enum cooling_sensor)sensor);
        if (sensor == COOLING_EXHAUST && number_of(c) >= 0 && !c->second)
            cooling_called_wet(own_of(r)->cooling, number_of(c), c->setting && c->setting->wet);
    }
}

/* What the first trips found normal, before the channel's first reading is taken. An exhaust goes
 * with the sea: figures of several trips belong together as if all had had the first one's, or,
 * where that is not known, are those of one trip alone. */
static void tell_normal(struct rules *r, const struct channel *c, enum cooling_sensor sensor)
{
    const struct season_step *steps[200];
    int count =
        r->settings->season ? season_first_steps(r->settings->season, c->id, steps, 200) : 0;
    for (int i = 0; i < count; i++) {
        const struct season_step *s = steps[i];
        double warmer = sensor == COOLING_EXHAUST ? s->sea_c - steps[0]->sea_c : 0.0;
        if (s->trip == steps[0]->trip && !isfinite(warmer))
            warmer = 0.0;
        if (isfinite(warmer))
            cooling_normal(own_of(r)->cooling, number_of(c), sensor, s->rpm, s->mean - warmer,
                           s->spread);
    }
}

/* ---- situations ---- */

static struct situation engine_cooling(int engine)
{
    struct situation s = {.group = SITUATION_COOLING, .id = {0, (uint8_t)engine, 0}};
    return s;
}

static const struct cooling_verdict *verdict(const struct rules *r, int engine,
                                             enum cooling_sensor s)
{
    return cooling_verdict(own_of(r)->cooling, engine, s);
}

static bool is_cause(const struct cooling_verdict *v, enum cooling_cause cause)
{
    return v->level > 0 && v->cause == cause;
}

static bool up_together(const struct rules *r, int engine)
{
    const struct cooling_verdict *v = verdict(r, engine, COOLING_EXHAUST);
    return v->level > 0 &&
           (v->cause == CAUSE_SEA_OR_LOAD || own_of(r)->opinions[engine][COOLING_EXHAUST].together);
}

/* Both together: the alert that stands already, whether it began with one engine or with both. */
static struct situation both_cooling(const struct rules *r)
{
    struct situation both = engine_cooling(BOTH_ENGINES);
    if (alerts_standing(r->alerts, &both))
        return both;
    for (int e = 0; e < COOLING_ENGINES; e++) {
        struct situation one = engine_cooling(e);
        if (up_together(r, e) && alerts_standing(r->alerts, &one))
            return one;
    }
    return both;
}

/* What burns heats everything in the space: one alert, the fire's. */
static bool fire_situation(const struct rules *r, const struct channel *c, struct situation *s)
{
    enum unit u = quantity_info((enum quantity)c->id.quantity)->unit;
    if ((u != UNIT_C && u != UNIT_K_DIFF) || c->id.quantity == QTY_ENGINE_SPACE)
        return false;
    for (int i = 0; i < COOLING_SPACES; i++) {
        const struct cooling_verdict *v = verdict(r, i, COOLING_SPACE);
        if (!is_cause(v, CAUSE_FIRE) || v->level < 2)
            continue;
        *s =
            (struct situation){.group = SITUATION_CHANNEL, .id = {QTY_ENGINE_SPACE, (uint8_t)i, 0}};
        return true;
    }
    return false;
}

void rule_cooling_situation(const struct rules *r, const struct channel *c, struct situation *s)
{
    int e = c->engine;
    bool engine_water = c->id.quantity == QTY_EXHAUST || c->id.quantity == QTY_EXHAUST_GAS ||
                        c->id.quantity == QTY_COOLANT || c->id.quantity == QTY_OIL_TEMP;
    if (!engine_water && fire_situation(r, c, s))
        return;
    if (e < 0 || e >= COOLING_ENGINES)
        return;
    const struct cooling_verdict *exhaust = verdict(r, e, COOLING_EXHAUST);
    const struct cooling_verdict *coolant = verdict(r, e, COOLING_COOLANT);
    struct situation engine = engine_cooling(e);
    switch (c->id.quantity) {
    case QTY_EXHAUST:
        *s = up_together(r, e) ? both_cooling(r) : engine;
        return;
    case QTY_EXHAUST_GAS:
        *s = engine;
        return;
    case QTY_COOLANT:
    case QTY_OIL_TEMP:
        break;
    default:
        return;
    }
    if (is_cause(exhaust, CAUSE_RAW_WATER) || is_cause(exhaust, CAUSE_SEACOCK) ||
        is_cause(coolant, CAUSE_RAW_WATER) || is_cause(coolant, CAUSE_SEACOCK) ||
        alerts_standing(r->alerts, &engine)) {
        *s = engine;
        return;
    }
    if (is_cause(exhaust, CAUSE_SEA_OR_LOAD) || is_cause(coolant, CAUSE_SEA_OR_LOAD)) {
        *s = both_cooling(r);
        return;
    }
    /* Hot oil follows hot coolant. */
    struct situation of_coolant = {.group = SITUATION_CHANNEL, .id = {QTY_COOLANT, c->id.place, 0}};
    if (is_cause(coolant, CAUSE_CIRCULATION) || is_cause(coolant, CAUSE_COOLANT) ||
        alerts_standing(r->alerts, &of_coolant))
        *s = of_coolant;
}

/* ---- words ---- */

static enum trouble trouble_of(const struct cooling_verdict *v, enum cooling_sensor s,
                               bool together)
{
    static const enum trouble troubles[CAUSE_COUNT] = {
        [CAUSE_NONE] = TROUBLE_COOLING,
        [CAUSE_RAW_WATER] = TROUBLE_RAW_WATER,
        [CAUSE_SEACOCK] = TROUBLE_SEACOCK,
        [CAUSE_CIRCULATION] = TROUBLE_CIRCULATION,
        [CAUSE_COOLANT] = TROUBLE_COOLANT_ALONE,
        [CAUSE_COOLANT_LOST] = TROUBLE_COOLANT_LOST,
        [CAUSE_OIL] = TROUBLE_OIL_HOT,
        [CAUSE_SEA_OR_LOAD] = TROUBLE_BOTH_HOT,
        [CAUSE_FIRE] = TROUBLE_FIRE,
        [CAUSE_DRY_OR_WET] = TROUBLE_OTHER, /* say() has the words */
        [CAUSE_COMES_AND_GOES] = TROUBLE_OTHER,
    };
    if (together && v->cause == CAUSE_RAW_WATER)
        return TROUBLE_BOTH_HOT;
    if (s == COOLING_SPACE && v->cause != CAUSE_FIRE)
        return TROUBLE_SPACE;
    return troubles[v->cause];
}

/* ", 12 K above normal" where there is no time to the limit to tell; what comes and goes. */
static void add_distance(struct words *w, const struct cooling_verdict *v, char *dst, size_t cap)
{
    dst[0] = '\0';
    if (v->kind == COOLING_AGAIN && v->times > 1)
        text_append(dst, cap, ", broke away %d times, every %.0f s", v->times, v->every_s);
    else if (v->kind == COOLING_AGAIN)
        text_copy(dst, cap, ", breaks away again");
    if (v->kind >= COOLING_AGAIN || v->kind == COOLING_RISE || isfinite(v->seconds_to_limit) ||
        !isfinite(v->expected) || !isfinite(v->value) || v->value > v->limit_c)
        return; /* past its limit there is nearer to say */
    double d = v->value - v->expected;
    if (!(d >= 1))
        return;
    text_copy(dst, cap, ", ");
    words_add_figure(w, dst, cap, w->quantity, d, true);
    text_append(dst, cap, " above %s", v->kind == COOLING_SPLIT ? "its twin" : "normal");
}

static enum rule_kind kind_of(const struct cooling_verdict *v)
{
    switch (v->kind) {
    case COOLING_RISE:
        return KIND_RISE;
    case COOLING_DEPARTURE:
    case COOLING_AGAIN:
    case COOLING_ASKS:
        return KIND_DEPARTURE;
    case COOLING_SPLIT:
        break;
    }
    return KIND_SPLIT;
}

static enum priority priority_of(const struct cooling_verdict *v, const struct rule_setting *rule)
{
    enum priority p = v->level >= 3   ? PRIORITY_ALARM
                      : v->level == 2 ? PRIORITY_WARNING
                                      : PRIORITY_CAUTION;
    /* Fire is an emergency alarm (A.1021(26) 3.1), where the configuration lets it be one. */
    if (v->cause == CAUSE_FIRE && v->level >= 3)
        p = PRIORITY_EMERGENCY;
    return p < rule->priority ? p : rule->priority;
}

/* How the claim ends. Coolant still beyond its limit, whose limit the engine's alert tells of, is
 * not over with this claim. */
static enum alert_end end_of(const struct rules *r, const struct channel *c)
{
    if (!c || c->engine < 0)
        return END_BACK;
    struct situation engine = engine_cooling(c->engine);
    if ((c->id.quantity == QTY_COOLANT || c->id.quantity == QTY_OIL_TEMP) &&
        c->sane > rule_channel(c)->alarm_above && alerts_standing(r->alerts, &engine))
        return END_JOINED;
    return plant_engine(r->plant, c->engine)->state == ENGINE_STOPPED ? END_STOPPED : END_BACK;
}

static void withdraw(struct rules *r, struct opinion *o, const struct channel *c, struct stamp at)
{
    if (!o->claimed)
        return;
    o->claimed = false;
    o->together = o->certain = false;
    own_of(r)->standing--;
    alerts_end(r->alerts, o->claimant, end_of(r, c), c ? c->value : NAN, at);
}

static void find_words(const struct rules *r, const struct channel *c,
                       const struct cooling_verdict *v, struct words *w, char *more, size_t cap,
                       int64_t now_ns)
{
    rule_words(r, w, c, now_ns);
    add_distance(w, v, more, cap);
    /* The figure that stands in its row. */
    w->value = c->status == READING_OK && !c->is_wild ? c->value : v->value;
    w->limit = v->limit_c;
    /* The smoothed rate lags: what has come to rest is not said to rise. */
    if (!(fabs(w->rate_per_min) < quantity_info(w->quantity)->steady_per_min)) {
        w->rate_per_min = v->rate_per_min;
        w->seconds = v->seconds_to_limit;
    }
    if (w->value > v->limit_c) {
        w->side = WORDS_ABOVE;
        w->seconds = NAN;
    }
    w->more = more;
    if (rule_lost(c, now_ns)) {
        more[0] = '\0';
        rule_words_last(w, c, more, cap);
    }
}

static enum alert_stage stage_of(const struct cooling_verdict *v, bool beyond)
{
    if (beyond)
        return STAGE_BEYOND;
    return v->level >= 3 ? STAGE_CERTAIN : STAGE_SUSPECTED;
}

static void say(struct rules *r, struct opinion *o, const struct channel *c,
                const struct rule_setting *rule, enum cooling_sensor sensor,
                const struct cooling_verdict *v, struct stamp at)
{
    struct words w;
    char more[96], ask[128];
    find_words(r, c, v, &w, more, sizeof more, at.mono_ns);
    if (v->kind >= COOLING_AGAIN) { /* what the value does now is not what is said */
        w.rate_per_min = 0.0;
        w.seconds = NAN;
    }
    bool beyond = (isfinite(w.value) ? w.value : c->sane) > rule_channel(c)->alarm_above;
    /* What came and went may come to stay: while it is up, water is the first thing to look at. */
    bool comes = v->cause == CAUSE_COMES_AND_GOES;
    bool up = comes && (beyond || v->value > v->expected + v->allowance);
    if (comes && !beyond) {
        w.advice = up ? "check raw water, heel, probe" : "check heel, intake, loose probe";
    } else if (v->kind == COOLING_ASKS) {
        /* What was an alarm is asked about, and goes on saying what to do until it is answered. */
        text_format(ask, sizeof ask,
                    o->certain ? "check raw water, or dry gas? [channel %s] sensor = dry"
                               : "no water, or dry gas? [channel %s] sensor = wet or dry",
                    c->key);
        w.advice = ask;
    }
    struct situation s = {.group = SITUATION_CHANNEL, .id = c->id};
    if (v->kind != COOLING_ASKS) /* a question stands beside what its limit says */
        rule_cooling_situation(r, c, &s);
    double value = isfinite(w.value) ? w.value : c->sane;
    struct alert_claim claim = {
        .situation = s,
        .claimant = o->claimant,
        .kind = kind_of(v),
        .rule = rule->name,
        .priority = priority_of(v, rule),
        .channel = c->key,
        .value = value,
        .unit = UNIT_C,
        .decimals = 1,
        .words = &w,
        .trouble = up || (v->kind == COOLING_ASKS && o->certain)
                       ? TROUBLE_RAW_WATER
                       : trouble_of(v, sensor, o->together),
        .stage = stage_of(v, beyond),
        .engine = c->engine + 1,
        .beyond = beyond,
        .worse = 1,
        .dark = rule_lost(c, at.mono_ns),
        .figures = {.value = v->value,
                    .expected = v->expected,
                    .allowance = v->allowance,
                    .noise = v->noise,
                    .statistic = v->statistic,
                    .threshold = v->threshold,
                    .rate_per_min = v->rate_per_min,
                    .seconds_to_limit = v->seconds_to_limit,
                    .limit = v->limit_c},
    };
    if (!o->claimed)
        own_of(r)->standing++;
    o->claimed = true;
    o->certain |= v->level >= 3;
    o->lost = claim.dark;
    o->said_ns = at.mono_ns;
    alerts_claim(r->alerts, &claim, at);
}

/* Marks exhausts that began within TOGETHER_NS of each other. */
static void find_twin(struct rules *r, int engine)
{
    struct opinion *o = &own_of(r)->opinions[engine][COOLING_EXHAUST];
    if (plant_engine(r->plant, engine)->generator)
        return;
    for (int e = 0; e < COOLING_ENGINES; e++) {
        struct opinion *other = &own_of(r)->opinions[e][COOLING_EXHAUST];
        if (e == engine || !other->claimed || plant_engine(r->plant, e)->generator ||
            o->since_ns - other->since_ns > TOGETHER_NS)
            continue;
        o->together = other->together = true;
    }
}

static void consider(struct rules *r, int engine, enum cooling_sensor sensor, bool changed,
                     struct stamp at)
{
    struct opinion *o = &own_of(r)->opinions[engine][sensor];
    const struct cooling_verdict *v = verdict(r, engine, sensor);
    if (v->level == 0 && !o->claimed)
        return;
    if (o->claimed && v->level > 0 && !changed && at.mono_ns - o->said_ns < RULE_SAY_NS)
        return;
    const struct channel *c = plant_find(r->plant, channel_of(r, engine, sensor));
    if (c && o->claimed && v->level > 0 && !changed && c->at.mono_ns <= o->said_ns &&
        o->lost == rule_lost(c, at.mono_ns))
        return;
    const struct rule_setting *rule = c && v->level > 0 ? rule_find(r, kind_of(v), c) : NULL;
    if (!rule) {
        withdraw(r, o, c, at);
        return;
    }
    if (!o->claimant)
        o->claimant = rule_new_claimant(r);
    bool asks = v->kind == COOLING_ASKS;
    if (o->claimed && o->asks != asks) {
        o->claimed = false;
        own_of(r)->standing--;
        alerts_withdraw(r->alerts, o->claimant, at);
    }
    o->asks = asks;
    if (!o->claimed) {
        o->since_ns = at.mono_ns;
        if (sensor == COOLING_EXHAUST)
            find_twin(r, engine);
    }
    say(r, o, c, rule, sensor, v, at);
}

static void consider_all(struct rules *r, struct stamp at)
{
    struct rule_cooling *k = own_of(r);
    uint32_t version = cooling_version(k->cooling);
    bool changed = version != k->version;
    if (!changed && k->standing == 0)
        return;
    k->version = version;
    for (int e = 0; e < COOLING_ENGINES; e++)
        for (int s = 0; k->heard[e] && s < COOLING_SENSORS; s++)
            if (is_judged((enum cooling_sensor)s))
                consider(r, e, (enum cooling_sensor)s, changed, at);
}

/* ---- what it is told ---- */

static bool cooling_wants(const struct channel *c)
{
    return sensor_of(c) >= 0 && number_of(c) >= 0;
}

/* What stands in for a load. */
static bool stands_in(int sensor)
{
    return sensor == COOLING_TORQUE || sensor == COOLING_FUEL_RATE || sensor == COOLING_BOOST;
}

/* Only the sea, and what stands in for a load, is a help and no more. */
static bool cooling_needs(const struct rules *r, const void *own, const struct channel *c)
{
    int sensor = sensor_of(c);
    (void)r;
    (void)own;
    return sensor >= 0 && sensor != COOLING_SEA && !stands_in(sensor);
}

static void cooling_heard(struct rules *r, void *own, const struct channel *c, struct stamp at)
{
    struct rule_cooling *k = own;
    enum cooling_sensor sensor = (enum cooling_sensor)sensor_of(c);
    int number = number_of(c);
    if (c->second || number < 0)
        return; /* a second one is never mixed into the holder's */
    if (c->readings <= 1) {
        tell_limit(r, c, sensor);
        tell_normal(r, c, sensor);
        if (sensor == COOLING_EXHAUST)
            cooling_called_wet(k->cooling, number, c->setting && c->setting->wet);
    }
    k->heard[number] = true;
    bool good = c->status == READING_OK && !c->is_wild;
    cooling_reading(k->cooling, at.mono_ns, number, sensor, good, c->value);
    if (cooling_version(k->cooling) != k->version)
        consider_all(r, at);
    else if (k->opinions[number][sensor].claimed)
        consider(r, number, sensor, false, at);
}

/* Which of them are generators and which drive the boat side by side. Both are found out in time,
 * some by an engine that appears, some by how one runs. */
static void tell_fleet(struct rules *r, struct rule_cooling *k)
{
    uint32_t fleet = 0;
    for (int e = 0; e < COOLING_ENGINES; e++) {
        const struct engine *engine = plant_engine(r->plant, e);
        fleet |= (uint32_t)engine->exists << e | (uint32_t)engine->generator << (16 + e);
    }
    if (fleet == k->fleet)
        return;
    k->fleet = fleet;
    for (int e = 0; e < COOLING_ENGINES; e++) {
        cooling_generator(k->cooling, e, plant_engine(r->plant, e)->generator);
        cooling_twin(k->cooling, e, plant_engine_twin(r->plant, e));
    }
}

static void engine_changed(struct rules *r, void *own, int engine, struct stamp at)
{
    struct rule_cooling *k = own;
    if (engine < 0 || engine >= COOLING_ENGINES)
        return;
    enum engine_state state = plant_engine(r->plant, engine)->state;
    tell_fleet(r, k);
    if (state != ENGINE_UNKNOWN)
        cooling_engine(k->cooling, at.mono_ns, engine, state == ENGINE_RUNNING);
}

static void tick(struct rules *r, void *own, struct stamp now)
{
    struct rule_cooling *k = own;
    tell_fleet(r, k);
    cooling_tick(k->cooling, now.mono_ns);
    consider_all(r, now);
}

static void gap(void *own, struct stamp now)
{
    struct rule_cooling *k = own;
    cooling_gap(k->cooling, now.mono_ns);
}

bool rule_cooling_asks(const struct rules *r, const struct channel *c)
{
    return c->id.quantity == QTY_EXHAUST && !c->second && number_of(c) >= 0 &&
           verdict(r, number_of(c), COOLING_EXHAUST)->kind == COOLING_ASKS;
}

struct cooling_sense rule_cooling_sense(const struct rules *r, int engine)
{
    return cooling_sense(own_of(r)->cooling, engine);
}

bool rule_cooling_careful(const struct rules *r, int engine)
{
    if (engine < 0 || engine >= COOLING_ENGINES)
        return false;
    return verdict(r, engine, COOLING_EXHAUST)->careful;
}

bool rule_cooling_expected(const struct rules *r, const struct channel *c, double *value,
                           double *allowance)
{
    int sensor = c->engine < 0 ? -1 : sensor_of(c);
    if (sensor != COOLING_EXHAUST && sensor != COOLING_COOLANT && sensor != COOLING_OIL_TEMP)
        return false;
    const struct cooling_verdict *v = verdict(r, c->engine, (enum cooling_sensor)sensor);
    *value = v->expected;
    *allowance = v->allowance;
    return isfinite(v->expected) && isfinite(v->allowance);
}

const struct rule_module rule_cooling_module = {
    .own_size = sizeof(struct rule_cooling),
    .init = cooling_init,
    .fini = cooling_fini,
    .configure = cooling_configure,
    .wants = cooling_wants,
    .heard = cooling_heard,
    .engine = engine_changed,
    .tick = tick,
    .gap = gap,
    .needs = cooling_needs,
};
