#include "cooling/engine.h"

#include "base/order.h"

#include <math.h>

#include "base/banned.h"

void engine_init(struct engine_run *e, const struct boat *b)
{
    *e = (struct engine_run){
        .boat = b, .opening_s = -INFINITY, .opens_s = -INFINITY, .rest_c = -INFINITY};
    e->rpm.last_s = e->load.last_s = NAN;
    e->stand_in = FROM_NOTHING;
}

bool engine_state(struct engine_run *e, double t, bool running)
{
    if (e->known && e->running == running)
        return false;
    e->started_here = running && e->known;
    e->running = running;
    e->known = true;
    e->since_s = t;
    e->varies = false;
    e->rest_c = -INFINITY;
    e->base_rpm = e->idled_s = e->off_s = e->even_rpm = e->near_rpm = e->high_rpm = 0.0;
    return true;
}

/* Of one that may be a generator alone: the others pay nothing for it. */
static void follow_sag(struct engine_run *e, double dt, double rpm)
{
    const struct figures *k = e->boat->figures;
    e->near_rpm += (1.0 - exp(-dt / k->sag_near_s)) * (rpm - e->near_rpm);
    double faded = e->high_rpm + (1.0 - exp(-dt / k->sag_fade_s)) * (e->near_rpm - e->high_rpm);
    e->high_rpm = greater(e->near_rpm, faded);
}

/* Whether it may be a generator: from a start it goes straight to its speed, and keeps to it. */
static void follow_speed(struct engine_run *e, double t, double dt, double rpm)
{
    const struct figures *k = e->boat->figures;
    double since_s = t - e->since_s;
    if (!e->running || !(dt > 0.0))
        return;
    if (fabs(rpm - e->even_rpm) > k->constant_band * e->even_rpm) {
        e->even_rpm = rpm;
        e->even_s = t;
    }
    if (rpm < k->constant_rpm)
        e->idled_s += lesser(dt, k->rpm_held_s);
    if (since_s > k->constant_from_s && e->base_rpm <= 0.0)
        e->base_rpm = rpm;
    if (e->generator || !e->varies)
        follow_sag(e, dt, rpm);
    bool off = e->base_rpm > 0.0 && fabs(rpm - e->base_rpm) > k->constant_band * e->base_rpm;
    e->off_s = off ? e->off_s + lesser(dt, k->rpm_held_s) : 0.0;
    if (e->idled_s > k->constant_s || e->off_s > k->constant_dip_s)
        e->varies = true;
}

static void hold(struct held_value *h, double t, double held_s)
{
    double dt = t - h->last_s;
    if (!(dt > 0.0 && dt < held_s))
        return;
    h->time_s += dt;
    h->sum += h->last * dt;
    h->square_sum += h->last * h->last * dt;
}

void engine_rpm(struct engine_run *e, double t, bool good, double rpm)
{
    hold(&e->rpm, t, e->boat->figures->rpm_held_s);
    if (!good)
        return;
    follow_speed(e, t, t - e->rpm.last_s, rpm);
    e->rpm.last = rpm;
    e->rpm.last_s = t;
}

void engine_load(struct engine_run *e, enum load_from from, double t, bool good, double value)
{
    const struct figures *k = e->boat->figures;
    bool percent = from == FROM_LOAD || from == FROM_TORQUE;
    if (!good || value < 0.0 || (percent && value > k->load_most))
        good = false;
    /* A better one is taken at once; a worse one when the other is no longer told. */
    if (good && (int)from != e->stand_in && ((int)from < e->stand_in || !engine_has_load(e))) {
        e->stand_in = (int)from;
        e->most = percent ? 100.0 : 0.0;
        e->load = (struct held_value){.last_s = NAN};
    }
    if ((int)from != e->stand_in)
        return;
    hold(&e->load, t, k->load_held_s);
    if (!good)
        return;
    e->most = fmax(e->most, value);
    e->load.last = value;
    e->load.last_s = t;
}

void engine_coolant(struct engine_run *e, double t, double value_c, double rate)
{
    const struct figures *k = e->boat->figures;
    e->has_coolant = true;
    if (value_c > k->opening_c && rate > k->opening_rate) {
        e->opening_s = t;
        if (value_c > e->rest_c + k->opens_k)
            e->opens_s = t;
    } else if (t - greater(e->opening_s, e->since_s) > k->warm_s) {
        e->rest_c = greater(e->rest_c, value_c);
    }
    e->coolant_s = t;
}

bool engine_has_rpm(const struct engine_run *e)
{
    return e->boat->now_s - e->rpm.last_s < e->boat->figures->rpm_held_s;
}

bool engine_has_load(const struct engine_run *e)
{
    return e->most > 0.0 && e->boat->now_s - e->load.last_s < e->boat->figures->load_held_s;
}

/* One that has long been idling is at anchor, and drives what nobody tells of. */
static bool is_anchored(const struct engine_run *e)
{
    const struct figures *k = e->boat->figures;
    return e->running && e->rpm.last < k->constant_rpm &&
           fabs(e->rpm.last - e->even_rpm) <= k->constant_band * e->even_rpm &&
           e->boat->now_s - e->even_s > k->anchor_s;
}

bool engine_is_blind(const struct engine_run *e)
{
    const struct figures *k = e->boat->figures;
    bool constant = e->started_here && !e->varies && e->rpm.last >= k->constant_rpm;
    return (e->generator || constant || is_anchored(e)) && !engine_has_load(e);
}

bool engine_idles_blind(const struct engine_run *e)
{
    return !e->generator && is_anchored(e) && !engine_has_load(e);
}

bool engine_sags(const struct engine_run *e)
{
    return e->near_rpm < (1.0 - e->boat->figures->sag_share) * e->high_rpm;
}

bool engine_is_cool(const struct engine_run *e)
{
    return e->has_coolant && !e->hot;
}

double engine_since_start(const struct engine_run *e, double t)
{
    return e->known && e->started_here ? t - e->since_s : INFINITY;
}
