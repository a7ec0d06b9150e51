/* What a value does to its channel: status, history, engine, fuel account, listeners. */
#include "plant/inside.h"

#include "plant/calibrate.h"

#include <math.h>

#include "base/banned.h"

static inline void take_good(struct plant *p, struct kept *k, double value, struct stamp at)
{
    struct channel *c = &k->c;
    c->value = value;
    c->good = at;
    c->readings++;
    c->is_wild = value < k->low || value > k->high;
    if (c->is_wild)
        c->wild++;
    else
        c->sane = value, c->sane_at = at;
    /* What physics does not allow is kept from the history, where it would hide everything else. */
    if (value < k->physics_low || value > k->physics_high)
        return;
    history_add(c->history, at.mono_ns, value);
    if (!k->followed)
        return;
    if (c->id.quantity != QTY_RPM)
        volts_heard(p, k);
    else if (c->engine >= 0 && p->engines[c->engine].rpm == k)
        engines_heard(p, k, value, at);
}

/* Levels that slosh and meters that are integrated must see every reading. */
static void account(struct plant *p, struct kept *k)
{
    struct channel *c = &k->c;
    if (k->slosh != NULL && c->status == READING_OK)
        tank_slosh_add(k->slosh, p->now.mono_ns, c->value);
    if (c->second || c->engine < 0)
        return;
    struct fuel_trip *trip = &p->fuel.engines[c->engine];
    if (c->id.quantity == QTY_FUEL_RATE && c->status == READING_OK)
        fuel_trip_rate(trip, p->now.mono_ns, c->value);
    else if (c->id.quantity == QTY_FUEL_RATE)
        fuel_trip_pause(trip);
    else if (c->id.quantity == QTY_TRIP_FUEL && c->status == READING_OK)
        fuel_trip_counter(trip, c->value);
}

static inline void tell(struct plant *p, struct kept *k, enum reading_status before,
                        struct stamp at)
{
    if (k->c.status != before)
        tell_status(p, k, before, at);
    tell_reading(p, k, at);
}

void take_value(struct plant *p, struct kept *k, const struct message *m,
                const struct wire_value *v)
{
    struct channel *c = &k->c;
    enum reading_status before = c->status;
    k->heard_ns = m->at.mono_ns;
    c->at = m->at;
    c->pgn = m->pgn;
    c->decimals = v->decimals;
    c->repeats = v->repeats;
    if (v->status == READING_OK)
        c->switched_off = false;
    if (v->repeats) {
        period_heard(&k->period, m->at.mono_ns, m->pgn);
        c->period_ns = k->period.estimate_ns;
    }
    if (v->capacity_l > 0 && tank_configured_l(c->setting) <= 0)
        c->capacity_l = v->capacity_l;
    double value = 0;
    c->status = v->status != READING_OK ? v->status
                : c->setting == NULL    ? uncalibrated(v->value, &value)
                                        : calibrate(c->setting, v->value, &value);
    if (c->status == READING_OK) {
        c->at_end = v->at_end;
        c->elsewhere |= !v->at_end;
        take_good(p, k, value, m->at);
    }
    if (k->accounted)
        account(p, k);
    tell(p, k, before, m->at);
}

void take_derived(struct plant *p, struct kept *k, double value)
{
    enum reading_status before = k->c.status;
    bool good = isfinite(value);
    if (!good && before == READING_NOT_AVAILABLE)
        return;
    k->heard_ns = p->now.mono_ns;
    k->c.at = p->now;
    k->c.status = good ? READING_OK : READING_NOT_AVAILABLE;
    if (good)
        take_good(p, k, value, p->now);
    if (k->accounted)
        account(p, k);
    tell(p, k, before, p->now);
}
