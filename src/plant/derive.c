/* Channels that no box sends: net burn of two meters, totals, tank volumes without slosh, economy,
 * range and hours to the reserve, the engine space's rise over outside air. Worked out once a
 * second from what is good now; where an input is missing the channel says not-available, as
 * missing is never zero. */
#include "plant/inside.h"

#include <math.h>

#include "base/banned.h"

#define EVERY_NS     NS_PER_S
#define TANKS_NS     (5 * NS_PER_S)  /* a level changes slowly, and its median costs a sort */
#define AVERAGE_NS   (30 * NS_PER_S) /* where the configuration gives none */
#define SPEED_MIN_KN 0.5             /* below, a burn per mile has no meaning */
#define BURN_MIN_LPH 0.2             /* below, the engines stand */

static const double nowhere = (double)NAN;

static struct channel_id whole(enum quantity q)
{
    return (struct channel_id){(uint16_t)q, 0, 0};
}

static struct channel_id at_place(enum quantity q, int place)
{
    return (struct channel_id){(uint16_t)q, (uint8_t)place, 0};
}

/* NaN where there is none, or it is not good now. */
static double good_value(const struct plant *p, struct channel_id id)
{
    const struct kept *k = find_holder(p, id);
    return k != NULL && k->c.status == READING_OK ? k->c.value : nowhere;
}

/* NaN makes a channel that exists not-available, and no channel of one that does not. */
static void publish(struct plant *p, struct channel_id id, double value)
{
    struct kept *k = find_holder(p, id);
    if (k == NULL) {
        if (!isfinite(value))
            return;
        k = admit_derived(p, id);
    }
    if (k == NULL || !k->c.derived)
        return;
    take_derived(p, k, value);
}

/* ---- burn ---- */

static double meter_temp(const struct plant *p, struct channel_id meter)
{
    return good_value(p, at_place(QTY_FUEL_TEMP, meter.place));
}

static struct fuel_meter read_meter(const struct plant *p, struct channel_id id)
{
    const struct kept *k = find_holder(p, id);
    struct fuel_meter m = {.lph = good_value(p, id), .temp_c = meter_temp(p, id)};
    m.span_low = k != NULL ? k->low : 0;
    m.span_high = k != NULL ? k->high : 0;
    m.accuracy_percent = k != NULL && k->c.setting != NULL ? k->c.setting->accuracy_percent : 1;
    return m;
}

static void derive_net_burn(struct plant *p)
{
    for (size_t i = 0; i < p->settings->channel_count; i++) {
        const struct channel_setting *s = &p->settings->channels[i];
        if (s->feed.quantity == QTY_NONE || s->returned.quantity == QTY_NONE)
            continue;
        struct fuel_meter feed = read_meter(p, s->feed), back = read_meter(p, s->returned);
        struct fuel_flow net = fuel_net(&feed, &back, p->settings->fuel.expansion_per_k);
        publish(p, s->id, isfinite(net.lph) ? fmax(0, net.lph) : nowhere);
        publish(p, at_place(QTY_BURN_ERROR, s->id.place), net.error_lph);
    }
}

/* The fuel rate of the engine in a slot: NULL where none was heard, and of a high number that never
 * told its speed, which is a meter's and no engine's. */
static const struct kept *rate_of(const struct plant *p, int slot)
{
    const struct engine_kept *e = &p->engines[slot];
    if (!e->used || (e->e.instance >= PLANT_ENGINES && !e->e.has_rpm))
        return NULL;
    return find_holder(p, at_place(QTY_FUEL_RATE, e->e.instance));
}

/* Burn of all engines; NaN as long as one that may run does not say what it burns. */
static double total_burn(const struct plant *p)
{
    double sum = 0;
    bool any = false;
    for (int i = 0; i < PLANT_ENGINES; i++) {
        const struct engine *engine = &p->engines[i].e;
        const struct kept *rate = rate_of(p, i);
        if (rate == NULL && !engine->has_rpm)
            continue;
        any = any || rate != NULL;
        if (rate != NULL && rate->c.status == READING_OK)
            sum += rate->c.value;
        else if (engine->state != ENGINE_STOPPED)
            return nowhere;
    }
    return any ? sum : nowhere;
}

static void derive_burn(struct plant *p)
{
    for (int i = 0; i < PLANT_ENGINES; i++) {
        struct fuel_trip *trip = &p->fuel.engines[i];
        const struct kept *rate = rate_of(p, i);
        if (rate != NULL && rate->c.status != READING_OK) {
            fuel_trip_pause(trip);
            if (p->engines[i].e.state == ENGINE_RUNNING)
                fuel_trip_missing(trip, when_seconds(EVERY_NS));
        }
        if (rate != NULL && trip->has_rate)
            publish(p, at_place(QTY_TRIP_BURN, p->engines[i].e.instance), trip->burnt_l);
    }
    publish(p, whole(QTY_BURN), total_burn(p));
}

/* ---- tanks ---- */

/* Litres with the slosh taken out; NaN where not known. */
static double tank_volume(struct plant *p, struct kept *k)
{
    double level;

    if (k->slosh == NULL || k->c.status != READING_OK || !(k->c.capacity_l > 0) ||
        !tank_slosh_median(k->slosh, p->now.mono_ns, &level))
        return nowhere;
    return fmax(0, level) / 100 * k->c.capacity_l;
}

struct fuel_sum {
    double aboard_l, usable_l, capacity_l;
    bool any;
};

static struct fuel_sum sum_tanks(struct plant *p)
{
    struct fuel_sum sum = {0};
    for (size_t i = 0; i < p->count; i++) {
        struct kept *k = &p->channels[i];
        bool petrol = k->c.id.quantity == QTY_PETROL_TANK;
        if (k->c.second || (k->c.id.quantity != QTY_FUEL_TANK && !petrol))
            continue;
        double volume_l = tank_volume(p, k);
        double unusable_l = k->c.setting != NULL ? k->c.setting->unusable_l : 0;
        if (!petrol || find_holder(p, at_place(QTY_FUEL_TANK, k->c.id.place)) == NULL)
            publish(p, at_place(QTY_FUEL_VOLUME, k->c.id.place), volume_l);
        sum.any = true;
        sum.aboard_l += volume_l; /* NaN spreads: one tank unknown, all unknown */
        sum.usable_l += fmax(0, volume_l - unusable_l);
        sum.capacity_l += k->c.capacity_l;
    }
    return sum;
}

static double derive_tanks(struct plant *p)
{
    if (p->now.mono_ns < p->next_tanks_ns)
        return good_value(p, whole(QTY_FUEL_TO_RESERVE));
    struct fuel_sum sum = sum_tanks(p);
    if (!sum.any)
        return nowhere;
    p->next_tanks_ns = p->now.mono_ns + TANKS_NS;
    const struct fuel_setting *f = &p->settings->fuel;
    double reserve_l = f->reserve_l > 0 ? f->reserve_l : sum.capacity_l * f->reserve_percent / 100;
    double left_l = isfinite(sum.aboard_l) ? fmax(0, sum.usable_l - reserve_l) : nowhere;
    publish(p, whole(QTY_FUEL_ABOARD), sum.aboard_l);
    publish(p, whole(QTY_FUEL_TO_RESERVE), left_l);
    return left_l;
}

/* ---- economy and range ---- */

/* The mean over the configured time of a channel that is good now. */
static double recent_mean(const struct plant *p, struct channel_id id)
{
    const struct kept *k = find_holder(p, id);
    int64_t over_ns = p->settings->fuel.average_ns;
    struct history_bucket b;
    if (over_ns <= 0)
        over_ns = AVERAGE_NS;
    int64_t now_ns = p->now.mono_ns;
    if (k == NULL || k->c.status != READING_OK ||
        !history_span(k->c.history, now_ns - over_ns, now_ns + 1, &b))
        return nowhere;
    return (double)b.mean;
}

static void derive_range(struct plant *p, double left_l)
{
    double burn_lph = recent_mean(p, whole(QTY_BURN));
    double kn = recent_mean(p, whole(QTY_SPEED_GROUND));
    if (!isfinite(kn))
        kn = recent_mean(p, whole(QTY_SPEED_WATER));
    bool burns = burn_lph > BURN_MIN_LPH && good_value(p, whole(QTY_BURN)) > BURN_MIN_LPH;
    bool moves = kn > SPEED_MIN_KN;
    publish(p, whole(QTY_BURN_PER_MILE), burns && moves ? burn_lph / kn : nowhere);
    publish(p, whole(QTY_ECONOMY), burns && moves ? kn / burn_lph : nowhere);
    publish(p, whole(QTY_HOURS_LEFT), burns ? fuel_hours(left_l, burn_lph) : nowhere);
    publish(p, whole(QTY_RANGE), burns && moves ? fuel_range_nmi(left_l, burn_lph, kn) : nowhere);
}

/* ---- engine space ---- */

static enum vent_blower blower_of(const struct plant *p, int place)
{
    double on = good_value(p, at_place(QTY_BLOWER, place));
    if (!isfinite(on))
        on = good_value(p, at_place(QTY_BLOWER, 0));
    return !isfinite(on) ? VENT_UNKNOWN : on > 0.5 ? VENT_ON : VENT_OFF;
}

static void derive_spaces(struct plant *p)
{
    double outside_c = good_value(p, whole(QTY_OUTSIDE_AIR));
    bool stopped = plant_engine_count(p) > 0;
    for (int e = 0; e < PLANT_ENGINES; e++)
        stopped &= !p->engines[e].e.exists || p->engines[e].e.state == ENGINE_STOPPED;
    for (int n = 0; n < PLANT_SPACES; n++) {
        if (find_holder(p, at_place(QTY_ENGINE_SPACE, n)) == NULL)
            continue;
        double space_c = good_value(p, at_place(QTY_ENGINE_SPACE, n));
        publish(p, at_place(QTY_SPACE_RISE, n), space_c - outside_c);
        if (isfinite(space_c) && isfinite(outside_c))
            vent_heard(&p->spaces[n], p->now.mono_ns, space_c, outside_c, blower_of(p, n), stopped);
    }
}

void derive_tick(struct plant *p)
{
    if (p->now.mono_ns < p->next_derive_ns)
        return;
    p->next_derive_ns = p->now.mono_ns + EVERY_NS;
    derive_net_burn(p);
    derive_burn(p);
    double left_l = derive_tanks(p);
    derive_range(p, left_l);
    derive_spaces(p);
}

void derive_gap(struct plant *p)
{
    for (int e = 0; e < PLANT_ENGINES; e++)
        fuel_trip_pause(&p->fuel.engines[e]);
    for (int n = 0; n < PLANT_SPACES; n++)
        p->spaces[n].going = false;
}
