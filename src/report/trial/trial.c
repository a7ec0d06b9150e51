#include "report/trial/trial.h"

#include "report/trial/highs.h"
#include "report/trial/inside.h"

#include "base/text.h"
#include "wire/catalogue.h"
#include "wire/decode.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What a trial looks at; the rest of the bus passes by. */
static const enum quantity wanted[] = {
    QTY_RPM,       QTY_BOOST,       QTY_OIL_PRESSURE,  QTY_COOLANT,      QTY_OIL_TEMP,
    QTY_EXHAUST,   QTY_EXHAUST_GAS, QTY_FUEL_RATE,     QTY_TRIP_FUEL,    QTY_ALTERNATOR,
    QTY_LOAD,      QTY_TORQUE,      QTY_SEA,           QTY_OUTSIDE_AIR,  QTY_ENGINE_SPACE,
    QTY_FUEL_TANK, QTY_PETROL_TANK, QTY_BATTERY_VOLTS, QTY_SPEED_GROUND, QTY_SPEED_WATER,
    QTY_HOURS,     QTY_GEAR,        QTY_BURN_ERROR,
};

static bool is_wanted(enum quantity q)
{
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++)
        if (wanted[i] == q)
            return true;
    return false;
}

/* --- listening -------------------------------------------------------------------------- */

/* Index of the second of `at`, and the wall time it begins with. */
static int64_t second_of(struct trial *t, struct stamp at)
{
    int64_t s = at.mono_ns / NS_PER_S;

    if (t->base_s < 0)
        t->base_s = s;
    s -= t->base_s;
    if (s < 0)
        s = 0;
    if (s >= TRIAL_LONGEST_S) {
        t->report.cut = true;
        return -1;
    }
    if ((size_t)s >= t->wall_len) {
        if ((size_t)s >= t->wall_cap) {
            size_t cap = t->wall_cap ? t->wall_cap : 1024;
            int64_t *bigger;
            bool *any;

            while (cap <= (size_t)s)
                cap *= 2;
            bigger = realloc(t->wall_ns, cap * sizeof *bigger);
            t->wall_ns = bigger ? bigger : t->wall_ns;
            any = realloc(t->any, cap * sizeof *any);
            t->any = any ? any : t->any;
            if (!bigger || !any) {
                t->failed = true;
                return -1;
            }
            t->wall_cap = cap;
        }
        for (; t->wall_len <= (size_t)s; t->wall_len++) {
            t->wall_ns[t->wall_len] = at.wall_ns;
            t->any[t->wall_len] = false;
        }
    }
    return s;
}

/* The trial's own number of an engine, the same in all logs: its instance where that is free; of a
 * higher one another, once it has told its speed (what else has a high number is a meter of fuel).
 * -1: none. */
static int number_of(struct trial *t, uint8_t instance, bool has_speed)
{
    int *known = t->report.instance, open = -1;

    for (int e = TRIAL_ENGINES - 1; e >= 0; e--) {
        if (known[e] == instance)
            return e;
        if (known[e] < 0)
            open = e;
    }
    if (instance < TRIAL_ENGINES && known[instance] < 0)
        open = instance;
    else if (!has_speed)
        return -1;
    if (open >= 0)
        known[open] = instance;
    return open;
}

static void feed_steady(struct trial *t, const struct channel *c, int number, struct stamp at)
{
    enum quantity q = (enum quantity)c->id.quantity;
    int kind = q == QTY_EXHAUST ? 0 : q == QTY_EXHAUST_GAS ? 1 : q == QTY_COOLANT ? 2 : -1;

    if (c->engine >= 0 && plant_engine(keeper_plant(t->keeper), c->engine)->generator)
        return; /* a generator's speed is no part of a trial */
    if (q == QTY_RPM)
        steady_rpm(t->steady, at.mono_ns, number, c->value);
    else if (kind >= 0)
        steady_temp(t->steady, at.mono_ns, kind * TRIAL_ENGINES + number, c->value);
}

static void on_reading(void *ctx, struct channel *c, struct stamp at)
{
    struct trial *t = ctx;
    struct trial_series *s;
    struct channel_id id = c->id;
    bool of_engine = quantity_info((enum quantity)c->id.quantity)->place == PLACE_ENGINE;
    int number = of_engine ? number_of(t, c->id.place, c->id.quantity == QTY_RPM) : -1;
    int64_t second;

    bool of_nobody =
        of_engine && number < 0 && id.place < TRIAL_ENGINES; /* another has its number */
    if (number >= 0)
        id.place = (uint8_t)number;
    if (c->status == READING_OK && c->id.quantity == QTY_RATED_SPEED && number >= 0 && c->value > 0)
        t->report.rated_rpm[number] = c->value;
    if (c->status == READING_OK)
        trial_high_add(&t->report, c, at);
    if (c->status != READING_OK || c->second || of_nobody ||
        !is_wanted((enum quantity)c->id.quantity))
        return;
    second = second_of(t, at);
    if (second < 0)
        return;
    s = trial_series_of(t, id);
    if (!s)
        return;
    trial_series_add(t, s, second, c->value);
    if (c->capacity_l > 0)
        s->capacity_l = c->capacity_l;
    if (number >= 0)
        feed_steady(t, c, number, at);
}

static void on_engine(void *ctx, int slot, enum engine_state before, struct stamp at)
{
    struct trial *t = ctx;
    const struct engine *e = plant_engine(keeper_plant(t->keeper), slot);
    struct trial_report *r = &t->report;
    int engine = number_of(t, e->instance, true);

    if (engine < 0)
        return;
    if (engine >= r->engines)
        r->engines = engine + 1;
    text_copy(r->engine_names[engine], sizeof r->engine_names[engine], e->name);
    r->generator[engine] = e->generator;
    if (e->state == ENGINE_RUNNING && before == ENGINE_STOPPED && t->starts < TRIAL_STARTS)
        t->start[t->starts++] = (struct trial_start){engine, second_of(t, at)};
}

/* Velocity over the ground as north and east parts: course is not a channel. */
static void take_velocity(struct trial *t, const struct message *m, int64_t second)
{
    double course = 0, speed = 0;
    int have = 0;

    for (size_t i = 0; i < m->row->field_count; i++) {
        const struct field_info *f = &m->row->fields[i];

        if (strcmp(f->name, "course over ground") == 0)
            have += decode_field(m, f, 0, &course) == READING_OK;
        else if (f->quantity == QTY_SPEED_GROUND)
            have += decode_field(m, f, 0, &speed) == READING_OK;
    }
    if (have != 2)
        return;
    for (int i = TRIAL_NORTH; i <= TRIAL_EAST; i++) {
        struct trial_series *s =
            trial_series_of(t, (struct channel_id){.quantity = QTY_NONE, .place = (uint8_t)i});

        if (s)
            trial_series_add(t, s, second, speed * (i == TRIAL_NORTH ? cos(course) : sin(course)));
    }
}

/* Times in which nothing at all came: as long as the log says, though the clock of the rules goes
 * no further than TIMELINE_GAP_SHOWN there. And a log whose times go back. */
static void take_holes(struct trial *t, struct stamp at)
{
    double passed_s = when_seconds(at.mono_ns - t->heard.mono_ns);
    double told_s = when_seconds(at.wall_ns - t->heard.wall_ns);

    if (t->heard.mono_ns > 0 && passed_s > TRIAL_HOLE_S) {
        t->report.holes++;
        t->report.hole_s += told_s;
    } else if (t->heard.mono_ns > 0 && told_s < passed_s - TRIAL_CLOCK_S) {
        t->report.clock_steps++;
        t->report.clock_step_s = told_s - passed_s;
        t->report.clock_step_ns = at.wall_ns;
    }
    t->heard = at;
}

static void on_message(void *ctx, const struct message *m)
{
    struct trial *t = ctx;
    int64_t second = second_of(t, m->at);

    if (second < 0)
        return;
    t->any[second] = true;
    take_holes(t, m->at);
    trial_boxes_take(t, m);
    if (m->row && m->pgn == 129026)
        take_velocity(t, m, second);
}

static void on_alert(void *ctx, const struct alert_event *ev)
{
    struct trial *t = ctx;
    struct trial_report *r = &t->report;
    struct trial_incident *i;

    for (int k = 0; k < r->incidents; k++)
        if (r->incident[k].log == r->logs && r->incident[k].alert.id == ev->alert->id)
            r->incident[k].alert = *ev->alert;
    if (ev->event != EVENT_RAISED && ev->event != EVENT_ESCALATED)
        return;
    if (r->incidents == TRIAL_INCIDENTS) {
        r->incidents_lost++;
        return;
    }
    i = &r->incident[r->incidents++];
    i->wall_ns = ev->at.wall_ns;
    i->priority = ev->alert->priority;
    i->log = r->logs;
    i->alert = *ev->alert;
    text_copy(i->text, sizeof i->text, ev->alert->text);
}

bool trial_incident_last(const struct trial_report *r, int i)
{
    const struct trial_incident *at = &r->incident[i];

    for (int k = i + 1; k < r->incidents; k++)
        if (r->incident[k].log == at->log && r->incident[k].alert.id == at->alert.id)
            return false;
    return true;
}

/* --- life ------------------------------------------------------------------------------- */

struct trial *trial_new(const struct settings *settings, const struct steady_options *steady)
{
    struct trial *t = calloc(1, sizeof *t);

    if (!t)
        return NULL;
    t->options = steady ? *steady : steady_defaults;
    t->report.settings = settings;
    t->report.steady = t->options;
    t->report.step = calloc(TRIAL_STEPS, sizeof *t->report.step);
    t->report.point = calloc(TRIAL_POINTS, sizeof *t->report.point);
    t->report.space_half_s[VENT_OFF] = t->report.space_half_s[VENT_ON] = NAN;
    t->report.usable_l = t->report.used_l = t->report.used_error = NAN;
    for (int i = 0; i < TRIAL_BATTERIES; i++)
        t->report.crank_volts[i] = NAN;
    for (int e = 0; e < TRIAL_ENGINES; e++) {
        t->report.hours_first[e] = t->report.hours_last[e] = NAN;
        t->report.instance[e] = -1;
    }
    if (!t->report.step || !t->report.point) {
        trial_free(t);
        return NULL;
    }
    return t;
}

void trial_free(struct trial *t)
{
    if (!t)
        return;
    trial_series_free(t);
    steady_free(t->steady);
    free(t->wall_ns);
    free(t->any);
    free(t->report.step);
    free(t->report.point);
    free(t->report.current);
    free(t);
}

bool trial_begin(struct trial *t, struct keeper *k, const char *name)
{
    struct trial_report *r = &t->report;
    struct plant_listener l = {.ctx = t, .reading = on_reading, .engine = on_engine};

    if (r->logs == TRIAL_LOGS)
        return false;
    t->steady = steady_new(&t->options);
    if (!t->steady || !plant_listen(keeper_plant(k), l))
        return false;
    text_clean(r->log_names[r->logs], sizeof r->log_names[r->logs], name, strlen(name));
    r->logs++;
    t->keeper = k;
    t->base_s = -1;
    t->heard = (struct stamp){0};
    t->starts = 0;
    keeper_tap_messages(k, on_message, t);
    alerts_listen(keeper_alerts(k), on_alert, t);
    return true;
}

/* What the plant itself has worked out over the log. */
static void take_plant(struct trial *t)
{
    const struct plant *p = keeper_plant(t->keeper);
    double half_s;

    for (int e = 0; e < TRIAL_ENGINES; e++) {
        int instance = t->report.instance[e],
            slot = instance >= 0 ? plant_engine_slot(p, (uint8_t)instance) : -1;
        if (slot < 0)
            continue;
        /* By their last names: which one is a generator may be found late. */
        const struct engine *last = plant_engine(p, slot);
        text_copy(t->report.engine_names[e], sizeof t->report.engine_names[e], last->name);
        t->report.generator[e] = last->generator;
        struct fuel_check c = fuel_check_counter(&plant_fuel(p)->engines[slot]);
        if (c.known)
            t->report.meter[e].counter = c;
    }
    for (int b = VENT_OFF; b <= VENT_ON; b++)
        if (vent_half_s(plant_space(p, 0), (enum vent_blower)b, &half_s))
            t->report.space_half_s[b] = half_s;
}

/* How deep each battery falls at a start: the lowest voltage, where it stood before. */
static void add_starts(struct trial *t)
{
    for (int i = 0; i < t->starts; i++) {
        for (int b = 0; b < TRIAL_BATTERIES; b++) {
            const struct trial_series *s = trial_series_find(t, QTY_BATTERY_VOLTS, b);
            size_t at = t->start[i].second > 6 ? (size_t)t->start[i].second - 6 : 0;
            struct trial_stat rest =
                trial_stat_of(t, QTY_BATTERY_VOLTS, b, at > 30 ? at - 30 : 0, at);

            for (size_t k = at; s && rest.n > 0 && k < at + 8 && k < s->len; k++) {
                if (isnan(s->low[k]) || (double)s->low[k] >= t->report.crank_volts[b])
                    continue;
                t->report.crank_volts[b] = (double)s->low[k];
                t->report.crank_rest[b] = rest.mean;
            }
        }
    }
}

static double span_of(const struct trial *t, enum quantity q, int place)
{
    const struct trial_series *s = trial_series_find(t, q, place);

    return s && s->readings > 1 ? s->highest - s->lowest : 0;
}

static void add_hours(struct trial *t)
{
    struct trial_report *r = &t->report;

    for (int e = 0; e < TRIAL_ENGINES; e++) {
        const struct trial_series *s = trial_series_find(t, QTY_HOURS, e);

        if (!s || s->readings == 0)
            continue;
        if (isnan(r->hours_first[e]))
            r->hours_first[e] = s->first;
        r->hours_last[e] = s->last;
    }
}

static void add_moved(struct trial *t)
{
    struct trial_report *r = &t->report;

    for (int e = 0; e < TRIAL_ENGINES; e++) {
        r->exhaust_moved_k[e] = fmax(r->exhaust_moved_k[e], span_of(t, QTY_EXHAUST, e));
        r->oil_moved_kpa[e] = fmax(r->oil_moved_kpa[e], span_of(t, QTY_OIL_PRESSURE, e));
    }
    r->space_moved_k = fmax(r->space_moved_k, span_of(t, QTY_ENGINE_SPACE, 0));
    r->air_moved_k = fmax(r->air_moved_k, span_of(t, QTY_OUTSIDE_AIR, 0));
}

static void add_running(struct trial *t)
{
    for (size_t i = 0; i < t->wall_len; i++) {
        for (int e = 0; e < TRIAL_ENGINES; e++) {
            const struct trial_series *rpm = trial_series_find(t, QTY_RPM, e);

            if (rpm && i < rpm->len && (double)rpm->mean[i] >= t->options.running_rpm) {
                t->report.running_s++;
                break;
            }
        }
    }
}

void trial_end(struct trial *t)
{
    struct trial_report *r = &t->report;

    for (int i = 0; i < t->series_count; i++)
        trial_series_close(t, &t->series[i]);
    steady_break(t->steady, plant_now(keeper_plant(t->keeper)).mono_ns);
    if (t->wall_len > 0) {
        if (r->first_ns == 0 || t->wall_ns[0] < r->first_ns)
            r->first_ns = t->wall_ns[0];
        if (t->wall_ns[t->wall_len - 1] > r->last_ns)
            r->last_ns = t->wall_ns[t->wall_len - 1];
    }
    alerts_finish(keeper_alerts(t->keeper), plant_now(keeper_plant(t->keeper)));
    take_plant(t);
    trial_steps_find(t);
    trial_fuel_add(t);
    add_starts(t);
    add_running(t);
    trial_highs_sort(r);
    add_moved(t);
    add_hours(t);
    trial_senders_add(t);
    trial_series_free(t);
    steady_free(t->steady);
    t->steady = NULL;
    t->keeper = NULL;
}

const struct trial_report *trial_finish(struct trial *t)
{
    assert(!t->report.current); /* once: what is found would stand twice */
    if (t->failed)
        return NULL;
    trial_errors_make(&t->report);
    trial_fuel_finish(t);
    trial_senders_finish(t);
    trial_points_make(t);
    trial_checks_make(t);
    return t->failed ? NULL : &t->report;
}
