#include "report/trial.h"

#include "report/trial_inside.h"

#include "base/text.h"
#include "wire/catalogue.h"
#include "wire/decode.h"

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
};

static bool is_wanted(enum quantity q)
{
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++)
        if (wanted[i] == q)
            return true;
    return false;
}

/* --- series ----------------------------------------------------------------------------- */

static struct trial_series *series_of(struct trial *t, struct channel_id id)
{
    struct trial_series *s;

    for (int i = 0; i < t->series_count; i++)
        if (channel_id_same(t->series[i].id, id))
            return &t->series[i];
    if (t->series_count == TRIAL_SERIES)
        return NULL;
    s = &t->series[t->series_count++];
    *s = (struct trial_series){.id = id, .second = -1, .lowest = INFINITY, .highest = -INFINITY};
    return s;
}

static bool grow(struct trial *t, float **array, size_t *cap, size_t need)
{
    size_t more = *cap ? *cap : 1024;
    float *bigger;

    if (need <= *cap && *array)
        return true;
    while (more < need)
        more *= 2;
    bigger = realloc(*array, more * sizeof **array);
    if (!bigger) {
        t->failed = true;
        return false;
    }
    *array = bigger;
    *cap = more;
    return true;
}

/* Writes the second that is over. */
static void series_close(struct trial *t, struct trial_series *s)
{
    size_t at = (size_t)s->second, low_cap = s->cap;
    bool keeps_low = s->id.quantity == QTY_BATTERY_VOLTS;

    if (s->second < 0 || s->count == 0)
        return;
    if (keeps_low && !grow(t, &s->low, &low_cap, at + 1))
        return;
    if (!grow(t, &s->mean, &s->cap, at + 1))
        return;
    for (; s->len <= at; s->len++) {
        s->mean[s->len] = NAN;
        if (keeps_low)
            s->low[s->len] = NAN;
    }
    s->mean[at] = (float)(s->sum / s->count);
    if (keeps_low)
        s->low[at] = (float)s->least;
    s->count = 0;
}

static void series_add(struct trial *t, struct trial_series *s, int64_t second, double value)
{
    if (second < s->second)
        second = s->second; /* time never goes back in mono; a late one counts now */
    if (second != s->second) {
        series_close(t, s);
        s->second = second;
        s->sum = 0;
        s->count = 0;
        s->least = INFINITY;
    }
    s->sum += value;
    s->count++;
    s->least = fmin(s->least, value);
    if (s->readings++ == 0)
        s->first = value;
    s->lowest = fmin(s->lowest, value);
    s->highest = fmax(s->highest, value);
}

static void series_free(struct trial *t)
{
    for (int i = 0; i < t->series_count; i++) {
        free(t->series[i].mean);
        free(t->series[i].low);
    }
    t->series_count = 0;
    t->wall_len = 0;
}

const struct trial_series *trial_series_find(const struct trial *t, enum quantity q, int place)
{
    for (int i = 0; i < t->series_count; i++)
        if (t->series[i].id.quantity == q && t->series[i].id.place == place)
            return &t->series[i];
    return NULL;
}

struct trial_stat trial_stat_of(const struct trial *t, enum quantity q, int place, size_t from,
                                size_t to)
{
    const struct trial_series *s = trial_series_find(t, q, place);
    struct trial_stat r = {.low = INFINITY, .high = -INFINITY, .error = NAN};
    double sum = 0, block = 0, blocks = 0, block_sum = 0, block_squares = 0;
    int in_block = 0;

    if (!s)
        return (struct trial_stat){.error = NAN};
    for (size_t i = from; i < to && i < s->len; i++) {
        if ((i - from) % 10 == 0 && in_block > 0) {
            blocks++;
            block_sum += block / in_block;
            block_squares += block / in_block * (block / in_block);
            block = 0;
            in_block = 0;
        }
        if (isnan(s->mean[i]))
            continue;
        sum += (double)s->mean[i];
        block += (double)s->mean[i];
        in_block++;
        r.n++;
        r.low = fmin(r.low, (double)s->mean[i]);
        r.high = fmax(r.high, (double)s->mean[i]);
    }
    if (r.n == 0)
        return (struct trial_stat){.error = NAN};
    r.mean = sum / r.n;
    if (blocks >= 3) {
        double var = (block_squares - block_sum * block_sum / blocks) / (blocks - 1);

        r.error = sqrt(fmax(var, 0) / blocks);
    }
    return r;
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

            while (cap <= (size_t)s)
                cap *= 2;
            bigger = realloc(t->wall_ns, cap * sizeof *bigger);
            if (!bigger) {
                t->failed = true;
                return -1;
            }
            t->wall_ns = bigger;
            t->wall_cap = cap;
        }
        for (; t->wall_len <= (size_t)s; t->wall_len++)
            t->wall_ns[t->wall_len] = at.wall_ns;
    }
    return s;
}

static void feed_steady(struct trial *t, const struct channel *c, struct stamp at)
{
    enum quantity q = (enum quantity)c->id.quantity;
    int kind = q == QTY_EXHAUST ? 0 : q == QTY_EXHAUST_GAS ? 1 : q == QTY_COOLANT ? 2 : -1;

    if (c->id.place >= TRIAL_ENGINES)
        return;
    if (q == QTY_RPM)
        steady_rpm(t->steady, at.mono_ns, c->id.place, c->value);
    else if (kind >= 0)
        steady_temp(t->steady, at.mono_ns, kind * TRIAL_ENGINES + c->id.place, c->value);
}

static void on_reading(void *ctx, struct channel *c, struct stamp at)
{
    struct trial *t = ctx;
    struct trial_series *s;
    int64_t second;

    if (c->status != READING_OK || c->second || !is_wanted((enum quantity)c->id.quantity))
        return;
    second = second_of(t, at);
    if (second < 0)
        return;
    s = series_of(t, c->id);
    if (!s)
        return;
    series_add(t, s, second, c->value);
    if (c->capacity_l > 0)
        s->capacity_l = c->capacity_l;
    feed_steady(t, c, at);
}

static void on_engine(void *ctx, int engine, enum engine_state before, struct stamp at)
{
    struct trial *t = ctx;
    const struct engine *e = plant_engine(keeper_plant(t->keeper), engine);
    struct trial_report *r = &t->report;

    if (engine >= TRIAL_ENGINES)
        return;
    if (engine >= r->engines)
        r->engines = engine + 1;
    text_copy(r->engine_names[engine], sizeof r->engine_names[engine], e->name);
    if (e->state == ENGINE_RUNNING && before == ENGINE_STOPPED && t->starts < TRIAL_STARTS)
        t->start[t->starts++] = (struct trial_start){engine, second_of(t, at)};
}

/* Velocity over the ground as north and east parts: course is no channel. */
static void on_message(void *ctx, const struct message *m)
{
    struct trial *t = ctx;
    double course = 0, speed = 0;
    int have = 0;
    int64_t second;

    if (m->pgn != 129026 || !m->row)
        return;
    for (size_t i = 0; i < m->row->field_count; i++) {
        const struct field_info *f = &m->row->fields[i];

        if (strcmp(f->name, "course over ground") == 0)
            have += decode_field(m, f, 0, &course) == READING_OK;
        else if (f->quantity == QTY_SPEED_GROUND)
            have += decode_field(m, f, 0, &speed) == READING_OK;
    }
    second = second_of(t, m->at);
    if (have != 2 || second < 0)
        return;
    for (int i = TRIAL_NORTH; i <= TRIAL_EAST; i++) {
        struct trial_series *s =
            series_of(t, (struct channel_id){.quantity = QTY_NONE, .place = (uint8_t)i});

        if (s)
            series_add(t, s, second, speed * (i == TRIAL_NORTH ? cos(course) : sin(course)));
    }
}

static void on_alert(void *ctx, const struct alert_event *ev)
{
    struct trial *t = ctx;
    struct trial_report *r = &t->report;
    struct trial_incident *i;

    if (ev->event != EVENT_RAISED && ev->event != EVENT_ESCALATED)
        return;
    if (r->incidents == TRIAL_INCIDENTS) {
        r->incidents_lost++;
        return;
    }
    i = &r->incident[r->incidents++];
    i->wall_ns = ev->at.wall_ns;
    i->priority = ev->alert->priority;
    text_copy(i->text, sizeof i->text, ev->alert->text);
}

/* --- life ------------------------------------------------------------------------------- */

struct trial *trial_new(const struct settings *settings, const struct steady_options *steady)
{
    struct trial *t = calloc(1, sizeof *t);

    if (!t)
        return NULL;
    t->settings = settings;
    t->options = steady ? *steady : steady_defaults;
    t->report.settings = settings;
    t->report.steady = t->options;
    t->report.step = calloc(TRIAL_STEPS, sizeof *t->report.step);
    t->report.point = calloc(TRIAL_POINTS, sizeof *t->report.point);
    t->report.space_half_s[VENT_OFF] = t->report.space_half_s[VENT_ON] = NAN;
    t->report.usable_l = t->report.used_l = t->report.used_error = NAN;
    for (int i = 0; i < TRIAL_BATTERIES; i++)
        t->report.crank_volts[i] = NAN;
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
    series_free(t);
    steady_free(t->steady);
    free(t->wall_ns);
    free(t->report.step);
    free(t->report.point);
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
        struct fuel_check c = fuel_check_counter(&plant_fuel(p)->engines[e]);
        if (c.known)
            t->report.meter[e].counter = c;
    }
    for (int b = VENT_OFF; b <= VENT_ON; b++)
        if (vent_half_s(plant_space(p, 0), (enum vent_blower)b, &half_s))
            t->report.space_half_s[b] = half_s;
}

void trial_end(struct trial *t)
{
    struct trial_report *r = &t->report;

    for (int i = 0; i < t->series_count; i++)
        series_close(t, &t->series[i]);
    steady_break(t->steady, plant_now(keeper_plant(t->keeper)).mono_ns);
    if (t->wall_len > 0) {
        if (r->first_ns == 0 || t->wall_ns[0] < r->first_ns)
            r->first_ns = t->wall_ns[0];
        if (t->wall_ns[t->wall_len - 1] > r->last_ns)
            r->last_ns = t->wall_ns[t->wall_len - 1];
    }
    take_plant(t);
    trial_steps_find(t);
    trial_totals_add(t);
    series_free(t);
    steady_free(t->steady);
    t->steady = NULL;
    t->keeper = NULL;
}

const struct trial_report *trial_finish(struct trial *t)
{
    if (t->failed)
        return NULL;
    trial_totals_finish(t);
    trial_points_make(t);
    trial_checks_make(t);
    return &t->report;
}

const char *trial_how_text(enum trial_how how)
{
    switch (how) {
    case TRIAL_ONE_WAY:
        return "one way";
    case TRIAL_WATER:
        return "through water";
    case TRIAL_RECIPROCAL:
        return "both ways";
    case TRIAL_NO_SPEED:
        break;
    }
    return "no way on";
}

const char *trial_verdict_text(enum trial_verdict v)
{
    return v == TRIAL_PASS ? "pass" : v == TRIAL_FAIL ? "FAIL" : "not seen";
}
