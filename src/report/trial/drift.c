#include "report/trial/drift.h"

#include "base/text.h"
#include "base/when.h"
#include "season/steps.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* What is kept, and the least difference worth a word. */
static const struct {
    double least; /* base unit; a share where `share` */
    const char *more, *less;
    enum quantity quantity;
    bool share;
} kept[] = {
    {2, "hotter", "colder", QTY_EXHAUST, false},
    {10, "hotter", "colder", QTY_EXHAUST_GAS, false},
    {2, "hotter", "colder", QTY_COOLANT, false},
    {3, "hotter", "colder", QTY_OIL_TEMP, false},
    {0.06, "higher", "lower", QTY_OIL_PRESSURE, true},
    {0.03, "more", "less", QTY_FUEL_RATE, true},
};
#define KEPT (sizeof kept / sizeof kept[0])

static const struct trial_stat *stat_of(const struct trial_engine *m, enum quantity q)
{
    switch (q) {
    case QTY_EXHAUST:
        return &m->exhaust;
    case QTY_EXHAUST_GAS:
        return &m->exhaust_gas;
    case QTY_COOLANT:
        return &m->coolant;
    case QTY_OIL_TEMP:
        return &m->oil_temp;
    case QTY_OIL_PRESSURE:
        return &m->oil_pressure;
    default:
        return &m->fuel_rate;
    }
}

static double spread_of(const struct trial_stat *s)
{
    return fmax(s->high - s->mean, s->mean - s->low);
}

/* The first step of a point, for its time, log and sea; NULL never in a finished report. */
static const struct trial_step *first_step(const struct trial_report *r, int point)
{
    for (int i = 0; i < r->steps; i++)
        if (r->step[i].point == point)
            return &r->step[i];
    return NULL;
}

/* Standing still at a speed that was also run under way. */
static bool is_repeated(const struct trial_report *r, int point)
{
    const struct trial_point *p = &r->point[point];

    for (int i = 0; i < r->points && p->how == TRIAL_NO_SPEED; i++)
        if (r->point[i].how != TRIAL_NO_SPEED && fabs(r->point[i].rpm - p->rpm) < 0.05 * p->rpm)
            return true;
    return false;
}

static double minutes_of(const struct trial_report *r, int point)
{
    double seconds = 0;

    for (int i = 0; i < r->steps; i++)
        if (r->step[i].point == point)
            seconds += r->step[i].seconds;
    return seconds / 60;
}

static const char *file_name(const char *path)
{
    const char *slash = strrchr(path, '/');

    return slash ? slash + 1 : path;
}

/* ---- a trial as trips ---- */

/* When the steps of a log began and ended; false where it has none. */
static bool span_of(const struct trial_report *r, int log, struct season_trip *t)
{
    *t = (struct season_trip){.from_ns = INT64_MAX, .to_ns = INT64_MIN};
    for (int i = 0; i < r->steps; i++) {
        const struct trial_step *s = &r->step[i];
        int64_t end_ns = s->wall_ns + (int64_t)(s->seconds * 1e9);
        if (s->log != log)
            continue;
        t->from_ns = s->wall_ns < t->from_ns ? s->wall_ns : t->from_ns;
        t->to_ns = end_ns > t->to_ns ? end_ns : t->to_ns;
    }
    text_copy(t->log, sizeof t->log, file_name(r->log_names[log]));
    return t->to_ns > t->from_ns;
}

static double mean_of(const struct trial_stat *s)
{
    return s->n > 0 ? s->mean : NAN;
}

static bool figure_of(const struct trial_report *r, int e, size_t k, int point, int log,
                      struct season_step *out)
{
    const struct trial_step *s = first_step(r, point);
    const struct trial_engine *m = &r->point[point].engine[e];
    const struct trial_stat *v = stat_of(m, kept[k].quantity);
    const double load[SEASON_LOADS] = {[SEASON_LOAD_NONE] = NAN,
                                       [SEASON_LOAD_PERCENT] = mean_of(&m->load),
                                       [SEASON_LOAD_TORQUE] = mean_of(&m->torque),
                                       [SEASON_LOAD_FUEL_RATE] = mean_of(&m->fuel_rate),
                                       [SEASON_LOAD_BOOST] = mean_of(&m->boost),
                                       [SEASON_LOAD_OIL_TEMP] = mean_of(&m->oil_temp)};

    if (!s || s->log != log || v->n == 0 || is_repeated(r, point))
        return false;
    struct channel_id id = {.quantity = (uint16_t)kept[k].quantity, .place = (uint8_t)e};
    *out = (struct season_step){.id = trial_bus_id(r, id),
                                .rpm = m->rpm.mean,
                                .mean = v->mean,
                                .spread = spread_of(v),
                                .minutes = minutes_of(r, point),
                                .sea_c = mean_of(&s->sea),
                                .air_c = mean_of(&s->air),
                                .wall_ns = s->wall_ns};
    out->load_kind = season_load_best(kept[k].quantity, load, &out->load);
    return true;
}

bool trial_season_make(const struct trial_report *r, struct season *s)
{
    size_t most =
        (size_t)(r->engines > 0 ? r->engines : 1) * KEPT * (size_t)(r->points > 0 ? r->points : 1);
    struct season_step *steps = malloc(most * sizeof *steps);
    struct season_trip trip;
    bool good = steps != NULL;

    for (int log = 0; good && log < r->logs; log++) {
        int count = 0;
        if (!span_of(r, log, &trip))
            continue;
        for (int i = 0; i < r->points; i++)
            for (int e = 0; e < r->engines; e++)
                for (size_t k = 0; k < KEPT; k++)
                    count += figure_of(r, e, k, i, log, &steps[count]);
        if (count > 0 && !season_put(s, &trip, steps, count, 0))
            good = season_overlap(s, trip.from_ns, trip.to_ns) >= 0;
    }
    free(steps);
    return good;
}

/* ---- a trial against earlier trips ---- */

#define FIRST_TRIPS 3
#define REACH       0.05 /* beyond the outermost figure, as a share of its speed */

/* The trips that are compared with: the first ones, this trial's own only where there is no other.
 */
struct then {
    const struct season *season;
    int trip[FIRST_TRIPS], count;
};

static void choose_trips(struct then *t, const struct trial_report *r, const struct season *s)
{
    *t = (struct then){.season = s};
    for (int own = 0; own < 2 && t->count == 0; own++)
        for (int i = 0; i < s->trip_count && t->count < FIRST_TRIPS; i++)
            if (own || s->trips[i].to_ns < r->first_ns || s->trips[i].from_ns > r->last_ns)
                t->trip[t->count++] = i;
}

static bool compares(const struct then *t, const struct season_step *s, struct channel_id id)
{
    if (!channel_id_same(s->id, id) || s->rpm <= 0)
        return false;
    for (int i = 0; i < t->count; i++)
        if (t->trip[i] == s->trip)
            return true;
    return false;
}

/* What a channel read then at an engine speed: on the straight line between the two steps around
 * it; a speed outside them by no more than REACH takes the nearest. */
static bool read_then(const struct then *t, struct channel_id id, double rpm,
                      struct season_step *out)
{
    const struct season_step *low = NULL, *high = NULL;
    double part = 0;

    for (int i = 0; i < t->season->step_count; i++) {
        const struct season_step *s = &t->season->steps[i];
        if (!compares(t, s, id))
            continue;
        if (s->rpm <= rpm && (!low || s->rpm > low->rpm))
            low = s;
        if (s->rpm >= rpm && (!high || s->rpm < high->rpm))
            high = s;
    }
    if (!low && !high)
        return false;
    if (!low || !high) {
        low = high = low ? low : high;
        if (fabs(low->rpm - rpm) > REACH * low->rpm)
            return false;
    }
    if (high->rpm > low->rpm)
        part = (rpm - low->rpm) / (high->rpm - low->rpm);
    *out = part < 0.5 ? *low : *high;
    out->mean = low->mean + part * (high->mean - low->mean);
    out->spread = low->spread + part * (high->spread - low->spread);
    return true;
}

/* "exhaust.0 4.1 K hotter than on 2026-05-04 at 2184 rpm (sea 2.0 K warmer)" */
static void put_words(const struct trial_report *r, struct trial_drift *d, size_t k, int64_t when)
{
    char key[CHANNEL_KEY_SIZE], much[40] = "", rpm[24], day[40], sea[24];
    enum unit base = quantity_info(kept[k].quantity)->unit;
    enum unit u = settings_unit(r->settings, base);

    channel_id_format(key, sizeof key, d->id);
    text_number(rpm, sizeof rpm, d->rpm, 0);
    when_date(day, sizeof day, when, true);
    day[10] = '\0'; /* the date alone */
    if (kept[k].share) {
        text_number(much, sizeof much, fabs(d->difference / d->then) * 100, 1);
        text_append(much, sizeof much, " %%");
    } else {
        text_number(much, sizeof much, unit_from_base_difference(u, fabs(d->difference)), 1);
        text_append(much, sizeof much, " %s", u == UNIT_C ? "K" : unit_text(u));
    }
    text_format(d->text, sizeof d->text, "%s %s %s than on %s at %s rpm", key, much,
                d->difference > 0 ? kept[k].more : kept[k].less, day, rpm);
    if (isfinite(d->sea_k) && fabs(d->sea_k) >= 0.5) {
        text_number(sea, sizeof sea, fabs(d->sea_k), 1);
        text_append(d->text, sizeof d->text, " (sea %s K %s)", sea,
                    d->sea_k > 0 ? "warmer" : "colder");
    }
}

static void find_one(const struct trial_report *r, const struct then *t, int e, size_t k,
                     struct trial_drifts *out)
{
    struct channel_id id = {.quantity = (uint16_t)kept[k].quantity, .place = (uint8_t)e};
    struct trial_drift worst = {.id = trial_bus_id(r, id)};
    double worst_part = -1;
    int64_t worst_when = 0;

    for (int i = 0; i < r->points; i++) {
        const struct trial_stat *v = stat_of(&r->point[i].engine[e], kept[k].quantity);
        const struct trial_step *s = first_step(r, i);
        double rpm = r->point[i].engine[e].rpm.mean, least;
        struct season_step then;

        if (!s || v->n == 0 || is_repeated(r, i) || !read_then(t, worst.id, rpm, &then))
            continue;
        least = fmax(kept[k].share ? kept[k].least * fabs(then.mean) : kept[k].least,
                     fmax(then.spread, spread_of(v)));
        if (fabs(v->mean - then.mean) / least <= worst_part)
            continue;
        worst_part = fabs(v->mean - then.mean) / least;
        worst.rpm = rpm;
        worst.now = v->mean;
        worst.then = then.mean;
        worst.difference = v->mean - then.mean;
        worst.notable = worst_part > 1;
        worst.sea_k = s->sea.n > 0 ? s->sea.mean - then.sea_c : NAN;
        worst_when = then.wall_ns;
    }
    if (worst_part < 0 || out->count == TRIAL_DRIFTS)
        return;
    put_words(r, &worst, k, worst_when);
    out->drift[out->count++] = worst;
}

void trial_drift_find(const struct trial_report *r, const struct season *s,
                      struct trial_drifts *out)
{
    struct then t;

    choose_trips(&t, r, s);
    out->count = 0;
    for (int e = 0; e < r->engines; e++)
        for (size_t k = 0; k < KEPT; k++)
            find_one(r, &t, e, k, out);
}
